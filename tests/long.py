"""How much of the tests is asked for: CI=true runs the thorough ones too, RIDESIM_LONG=1 every statistical study whole."""

from __future__ import annotations

import os

LONG = os.environ.get("RIDESIM_LONG") == "1"
THOROUGH = LONG or os.environ.get("CI") == "true"
