"""Where a mass is: keys of everything that weighs."""

from __future__ import annotations

from typing import Any

from ridesim.forms import quantity

FORWARD: Any = quantity("its centre, forward of the rear axle", None, ge=-20.0, le=20.0)
ABOVE: Any = quantity("its centre, above ground", None, ge=0.0, le=20.0)
