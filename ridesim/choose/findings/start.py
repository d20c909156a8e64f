"""Starting: the slope it cannot start on, and what a soft start costs."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache, partial
from math import isfinite
from typing import NamedTuple

from ridesim.choose.candidate import Candidate
from ridesim.choose.findings.places import slopes
from ridesim.day import Day
from ridesim.ride.grip import steepest_grip_percent
from ridesim.ride.steady import steepest_start_percent, time_to_speed
from ridesim.ride.steady.cut_out import soft_start_hold_s
from ridesim.vehicle import Build
from ridesim.words import Finding


def will_not_start(c: Candidate) -> Iterator[Finding]:
    """The place of the day whose slope is furthest beyond what it starts on."""
    grade, limit, place, slips = worst_start(c)
    if grade < limit:
        return
    able = f"it starts on {limit:.1f} % there at most" if limit > 0.0 else "it does not even start on the level there"
    helps = (
        " A larger wheel sprocket, a smaller motor sprocket or higher current limits would help." if limit > 0.0 else ""
    )
    if slips:
        able += ", where the driven wheel slips"
        helps = " More weight on the driven axle would help, or a tyre with more grip."
    text = f"Will not start on the {grade:.1f} % of {place}: {able}.{helps}"
    yield Finding("will-not-start", "stop", text, {"grade_percent": grade, "steepest_start_percent": limit})


class Start(NamedTuple):
    """A place where it has to start: its slope, the steepest there on which it starts [%], where it is, whether its grip sets that."""

    grade: float
    limit: float
    place: str
    slips: bool


def worst_start(c: Candidate) -> Start:
    """The day's place whose slope is furthest beyond, or nearest to, what the build starts on."""
    limit_on = cache(partial(steepest_start_percent, c.build))
    places = [
        Start(
            grade,
            limit := limit_on(aboard=activity.aboard, surface=surface),
            place,
            limit == steepest_grip_percent(c.build, surface, activity.aboard),
        )
        for activity in c.ride.day.activity
        for grade, surface, place in slopes(activity)
    ]
    return max(places, key=lambda each: each.grade - each.limit, default=Start(0.0, 1.0, "", False))


def soft_start(build: Build, day: Day) -> Iterator[Finding]:
    """How much longer a launch takes with the soft start; on the day's steepest climb, how long the brake must hold."""
    ramp, grade = build.controller.ramp_s, day.steepest_percent
    if ramp <= 0.0:
        return
    speed = min(6.0, day.fastest_kmh)
    if speed > 0.0:
        softly = time_to_speed(build, speed).time_s
        at_once = time_to_speed(build.changed({"controller.ramp_s": 0.0}), speed).time_s
        if isfinite(softly):
            text = (
                f"The {ramp:g} s soft start takes {softly:.1f} s to {speed:g} km/h on the level at full throttle instead of "
                f"{at_once:.1f} s."
            )
            yield Finding("soft-start", "advice", text, {"ramp_s": ramp, "soft_start_s": softly, "without_s": at_once})
    hold = soft_start_hold_s(build, grade) if grade > 0.0 else 0.0
    if grade > 0.0 and isfinite(hold):
        text = (
            f"Starting on {grade:.1f} %: with the {ramp:g} s soft start the motor holds the vehicle only {hold:.1f} s after the throttle "
            "opens. Keep the brake on until it pulls, or it rolls back."
        )
        yield Finding("soft-start-hold", "advice", text, {"hold_s": hold, "grade_percent": grade})
