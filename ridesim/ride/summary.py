"""From the core's records of a ride to what is given back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields
from functools import partial
from typing import TYPE_CHECKING

from ridesim.day import Activity, Day
from ridesim.physics.capacity_laws import LAW_NAMES
from ridesim.ride.core import places as at
from ridesim.ride.core.pack import rested_source
from ridesim.ride.core.records import Run
from ridesim.ride.result import Moments, Outcome, Ride, Stage
from ridesim.ride.spare import ride_on

if TYPE_CHECKING:
    from ridesim.ride.journey import Journey

LEDGER = {
    "pack resistance": at.LOSS_PACK, "polarisation": at.LOSS_POLARISATION, "standby": at.USE_STANDBY, "lights": at.USE_LIGHTS,
    "controller": at.LOSS_CONTROLLER, "motor copper": at.LOSS_COPPER, "brushes": at.LOSS_BRUSHES,
    "motor friction": at.LOSS_FRICTION, "chain": at.LOSS_CHAIN, "rolling": at.USE_ROLLING, "air": at.USE_AIR,
    "brake": at.USE_BRAKE, "height": at.USE_POTENTIAL, "charger": at.FROM_CHARGER, "charge not stored": at.NOT_STORED,
}  # fmt: skip
"""Destinations of the energy ledger. Every day ends standing, so none is left in the speed."""
FIRSTS = ("reserve_s", "cut_off_s", "empty_s", "hot_s", "return_mps")
"""Moments that may never come."""


def summed_up(journey: Journey) -> Ride:
    """The ride, from a journey after its last activity."""
    day, numbers, run, stages = journey.day, journey.numbers, journey.run, journey.stages
    ledger = {name: float(run.w[at.NOW, place]) for name, place in LEDGER.items()}
    ledger["speed"] = 0.0
    return Ride(
        build=journey.build,
        asked=journey.asked,
        day=day,
        battery_model=LAW_NAMES[numbers.pack.law],
        outcome=_outcome(journey, sum(ledger.values())),
        stages=tuple(stages),
        moments=_moments(day, run, stages),
        ledger_wh={name: joules / 3600.0 for name, joules in ledger.items()},
        rows=journey.rows[: run.used],
    )


def _outcome(journey: Journey, explained: float) -> Outcome:
    day, stages, state, tally = journey.day, journey.stages, journey.now, journey.run.tally
    pack, blocks = journey.numbers.pack, journey.build.pack.blocks_in_series
    elapsed = float(state[at.TIME]) - day.first_start_s
    km = float(state[at.DISTANCE]) / 1000.0
    energy = float(state[at.ENERGY]) / 3600.0
    through = float(state[at.THROUGHPUT])
    out, into = float(state[at.OUT]), float(state[at.IN])
    missing = journey.missing_at_start * float(pack.capacity * pack.strings) + out - into
    return Outcome(
        end_state_of_charge=max(0.0, float(journey.run.out.charge)),
        lowest_pack_voltage_v=float(tally.lowest_volts),
        highest_pack_current_a=float(tally.highest_current),
        rms_motor_current_a=math.sqrt(float(state[at.CURRENT_SQUARED]) / elapsed) if elapsed > 0.0 else 0.0,
        hottest_winding_c=float(tally.hottest),
        distance_km=km,
        planned_distance_km=sum(activity.planned_m for activity in day.activity) / 1000.0,
        finished=not any(stage.left for stage in stages),
        seconds_below_command=float(tally.seconds_below),
        energy_wh=energy,
        energy_wh_per_km=energy / km if km > 0.0 else math.nan,
        ledger_residual=(float(state[at.DRAWN]) - explained) / through if through > 0.0 else 0.0,
        out_ah=out / 3600.0,
        charged_ah=into / 3600.0,
        missing_ah=missing / 3600.0,
        rested_block_v=float(rested_source(float(state[at.MISSING]), pack)[0]) / blocks,
        lights=journey.lights,
        lost_by_pack=all(stage.by_pack for stage in stages if stage.left),
        ride_on=partial(ride_on, journey),
    )


def _moments(day: Day, run: Run, stages: Sequence[Stage]) -> Moments:
    """What the tally notes under the names of the moments, and the rest."""
    tally, first = run.tally, int(run.tally.cut_activity)
    noted = {each.name: getattr(tally, each.name).item() for each in fields(Moments) if hasattr(tally, each.name)}
    noted.update({name: None for name in FIRSTS if noted[name] < 0.0})
    place = ""
    if first >= 0:
        place = place_in(day.activity[first], int(tally.cut_leg), noted["cut_off_s"] - stages[first].start_s)
    given_up = float(run.w[at.NOW, at.TIME]) if run.tries >= run.most_tries else None
    return Moments(**noted, cut_out_place=place, given_up_s=given_up)


def place_in(activity: Activity, leg: int, seconds: float) -> str:
    """Where in an activity: the lap and leg of a route, or the seconds into a trace."""
    if activity.trace is not None:
        return f"{seconds:.0f} s into the trace"
    if activity.route is None:
        return ""
    lap, number = divmod(leg, len(activity.route.legs))
    grade = activity.route.legs[number].grade_percent
    slope = f" ({abs(grade):.1f} % {'up' if grade > 0 else 'down'})" if grade else ""
    return f"lap {lap + 1}, leg {number + 1}{slope}"
