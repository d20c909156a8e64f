"""Whether the day is done as asked: speed, distance, time, lights."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.choose.candidate import Candidate
from ridesim.day.day import clock
from ridesim.ride.result import Ride
from ridesim.words import Finding

QUICK_S = 0.1
"""No pack's polarisation, winding or case settles sooner than this. [s]"""
LATE_S = 60.0
"""A later start than this is worth saying. [s]"""


def too_slow(c: Candidate) -> Iterator[Finding]:
    """A top speed at the reserve below what the day asks for."""
    top, at_reserve, asked = c.top_speed_kmh, c.top_speed_at_reserve_kmh, c.ride.day.fastest_kmh
    if asked > at_reserve:
        text = f"Top speed {top:.1f} km/h full and {at_reserve:.1f} km/h at the reserve; the day asks for {asked:.1f} km/h."
        numbers = {"top_speed_kmh": top, "top_speed_at_reserve_kmh": at_reserve, "asked_kmh": asked}
        yield Finding("too-slow", "warning", text, numbers)


def not_finished(ride: Ride) -> Iterator[Finding]:
    """Where the vehicle gives up first."""
    left = [place for place, stage in enumerate(ride.stages) if stage.left]
    if not left:
        return
    first, outcome = ride.stages[left[0]], ride.outcome
    km = sum(stage.distance_m for stage in ride.stages[: left[0] + 1]) / 1000.0
    more = f" ({len(left)} activities not ended)" if len(left) > 1 else ""
    text = (
        f"The day is not finished: it gives up in “{first.name}” at {clock(first.end_s)}, {first.place}, after "
        f"{km:.1f} km{more}; {outcome.distance_km:.1f} of {outcome.planned_distance_km:.1f} km are covered."
    )
    numbers = {"distance_km": outcome.distance_km, "planned_distance_km": outcome.planned_distance_km}
    yield Finding("not-finished", "stop", text, numbers)


def not_computed(ride: Ride) -> Iterator[Finding]:
    """The calculation was given up; with the value of the build that asks for the shortest steps."""
    if ride.moments.given_up_s is None:
        return
    motor, pack = ride.build.motor.heat, ride.build.pack.in_force
    settling = {
        "pack.polarisation_time_s": pack.polarisation_time_s,
        "motor.winding_to_case_k_per_w": motor.winding_heat * motor.winding_to_case,
        "motor.case_to_air_k_per_w": motor.case_heat * motor.case_to_air,
    }
    key = min(settling, key=settling.__getitem__)
    text = f"This day cannot be computed: the calculation was given up at {clock(ride.moments.given_up_s)}, and its figures are of no use. "
    if settling[key] < QUICK_S:
        text += f"{key} makes something settle within {settling[key]:.2g} s: check its decimal point."
    else:
        text += "No value of the build stands out; please send us the build and the day."
    yield Finding("not-computed", "stop", text, {"clock_s": ride.moments.given_up_s, key: settling[key]})


def late(ride: Ride) -> Iterator[Finding]:
    """The activity that starts latest against its plan."""
    stage = max(ride.stages, key=lambda each: each.start_s - each.planned_start_s)
    seconds = stage.start_s - stage.planned_start_s
    if seconds > LATE_S:
        text = f"“{stage.name}” starts {seconds / 60.0:.0f} min late, at {clock(stage.start_s)} instead of {clock(stage.planned_start_s)}."
        yield Finding("late", "warning", text, {"late_s": seconds})


def lights(ride: Ride) -> Iterator[Finding]:
    """Lights that run out, and lights that are not there."""
    for stage in ride.stages:
        if stage.lights_ran_out_s is not None:
            when = "in" if stage.lights_ran_out_s >= stage.start_s else "before"
            enough = ride.outcome.lights_enough_ah or 0.0
            text = (
                f"The lights' own battery is empty at {clock(stage.lights_ran_out_s)} {when} “{stage.name}”. In this air, and as old, one "
                f"of {enough:.0f} Ah would do, with a fifth of it left."
            )
            yield Finding("lights-out", "warning", text, {"clock_s": stage.lights_ran_out_s, "enough_ah": enough})
    if ride.build.lighting is None and (ride.day.lights_on or any(activity.lighting for activity in ride.day.activity)):
        yield Finding("no-lights", "advice", "The day wants lights and the build names none.")
