"""One candidate's answers: with the likely values, and with what the draws make of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from ridesim.choose.candidate import Candidate
from ridesim.choose.findings import RANK, findings_for
from ridesim.choose.findings.widths import width_findings
from ridesim.choose.how_sure import DRAWS, Drawn, drawn_rides
from ridesim.day import Day
from ridesim.ride.result import Ride
from ridesim.ride.steady import SteadyRange, steady_range, steepest_start_percent, top_speed_kmh
from ridesim.ride.steady.motor import can_reverse, reverse_top_speed_kmh
from ridesim.words import Uncertain, band


def usual_speed_kmh(day: Day) -> float:
    """Mean of the commanded speeds, weighted by distance; 0 for a day that covers none. [km/h]"""
    ridden = [(each.planned_m, each.path.mean_kmh) for each in day.activity if each.path is not None]
    metres = sum(length for length, _ in ridden)
    return sum(length * speed for length, speed in ridden) / metres if metres > 0.0 else 0.0


def without_bands(ride: Ride) -> Candidate:
    """Everything that a comparison says about one ride, whose rows were kept, with the likely values alone."""
    found = without_findings(ride)
    return replace(found, findings=findings_for(found))


def without_findings(ride: Ride) -> Candidate:
    """The figures of one ride."""
    build, day = ride.build, ride.asked
    top = top_speed_kmh(build)
    speed = min(usual_speed_kmh(day) or 10.0, 0.9 * top)
    steady = SteadyRange(0.0, 0.0, 0.0, "cannot move", math.nan, 0.0)
    if speed > 0.0:
        steady = steady_range(build, speed, day)
    return Candidate(
        ride=ride,
        end_charge=Uncertain.over([ride.outcome.end_state_of_charge]),
        left=band([ride.outcome.left_at_this_load]),
        spare_km=band([ride.outcome.spare_km]),
        spare_to_empty_km=band([ride.outcome.spare_to_empty_km]),
        steady=steady,
        steady_speed_kmh=speed,
        range_km=Uncertain.over([steady.distance_km]),
        top_speed_kmh=top,
        top_speed_at_reserve_kmh=top_speed_kmh(build, build.pack.reserve),
        top_speed_on_grade_kmh=top_speed_kmh(build, grade_percent=day.steepest_percent),
        top_speed_in_reverse_kmh=reverse_top_speed_kmh(build) if can_reverse(build) else math.nan,
        steepest_start_percent=steepest_start_percent(build),
    )


def with_bands(candidates: Sequence[Candidate], day: Day, draws: int = DRAWS) -> tuple[Candidate, ...]:
    """The same candidates with what the draws make of them: bands, and how many hold the day's wishes.

    One whose own ride was given up stays as it is: its draws would be given up too, each after as many steps.
    """
    able = [c for c in candidates if c.ride.moments.given_up_s is None]
    drawn = drawn_rides([c.build for c in able], day, draws, [c.steady_speed_kmh for c in able]) if able else []
    widened = iter([_widened(c, each) for c, each in zip(able, drawn, strict=True)])
    return tuple(next(widened) if c.ride.moments.given_up_s is None else c for c in candidates)


def _widened(c: Candidate, drawn: Drawn) -> Candidate:
    def widened(figure: str, value: Uncertain | None) -> Uncertain | None:
        return None if value is None else drawn.band(figure, value.value)

    said = (*c.findings, *width_findings(c, drawn))
    return replace(
        c,
        findings=tuple(sorted(said, key=lambda finding: RANK[finding.severity])),
        end_charge=drawn.band("end_state_of_charge", c.end_charge.value),
        left=widened("left_at_this_load", c.left),
        spare_km=widened("to_reserve_km", c.spare_km),
        spare_to_empty_km=widened("to_empty_km", c.spare_to_empty_km),
        range_km=drawn.band("steady_range_km", c.range_km.value),
        drawn=drawn,
    )
