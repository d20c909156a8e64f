"""Whether the long form of the tests was asked for: RIDESIM_LONG=1 runs every statistical study whole."""

from __future__ import annotations

import os

LONG = os.environ.get("RIDESIM_LONG") == "1"
