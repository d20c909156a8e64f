"""When and where, for a sentence: clock time, activity, distance, slope."""

from __future__ import annotations

import numpy as np

from ridesim.day import Activity
from ridesim.day.day import clock
from ridesim.ride.outcome import Stage
from ridesim.ride.result import Ride


def stage_at(ride: Ride, moment: float) -> Stage | None:
    """The activity that goes on at a moment [s after midnight]; None between activities."""
    return next((stage for stage in ride.stages if stage.start_s <= moment <= stage.end_s), None)


def where(ride: Ride, moment: float) -> str:
    """Clock time, activity and distance of a moment: ``17:05 in “First parade”, after 8.4 km``."""
    stage = stage_at(ride, moment)
    text = clock(moment) + (f" in “{stage.name}”" if stage else "")
    index = min(len(ride.rows) - 1, int(np.searchsorted(ride.clock_s, moment)))
    return f"{text}, after {ride.rows['distance_m'][index] / 1000.0:.1f} km"


def slopes(activity: Activity) -> list[tuple[float, str, str]]:
    """Grade [%], surface and name of every place where an activity may have to start."""
    if activity.route is not None:
        return [
            (leg.grade_percent, leg.surface, f"leg {number} of “{activity.name}” ({leg.surface})")
            for number, leg in enumerate(activity.route.legs, start=1)
        ]
    return [(activity.trace.steepest_percent, "asphalt", f"“{activity.name}”")] if activity.trace is not None else []
