"""When and where on a ride, in words."""

from __future__ import annotations

import numpy as np

from ridesim.day.day import clock
from ridesim.ride.result import Ride


def where(ride: Ride, moment: float) -> str:
    """Clock time, activity and distance of a moment: ``“17:05 in “First parade”, after 8.4 km”``."""
    stage = next((s for s in ride.stages if s.start_s <= moment <= s.end_s), None)
    place = f" in “{stage.name}”" if stage else ""
    if not len(ride.rows):
        return f"{clock(moment)}{place}"
    index = min(len(ride.rows) - 1, int(np.searchsorted(ride.clock_s, moment)))
    return f"{clock(moment)}{place}, after {ride.rows[index, 2] / 1000.0:.1f} km"
