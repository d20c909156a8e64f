"""Lights: their own battery, or none at all."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.day.day import clock
from ridesim.ride.result import Ride
from ridesim.words import Finding


def lights(ride: Ride) -> Iterator[Finding]:
    """Lights that run out, and lights that are not there."""
    for stage in ride.stages:
        if stage.lights_ran_out_s is not None:
            text = f"The lights' own battery is empty at {clock(stage.lights_ran_out_s)} in “{stage.name}”."
            yield Finding("lights-out", "warning", text, {"clock_s": stage.lights_ran_out_s})
    if ride.build.lighting is None and any(activity.lighting > 0.0 for activity in ride.day.activity):
        yield Finding("no-lights", "advice", "The day wants lights and the build names none.")
