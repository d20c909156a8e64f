"""From the core's records of rides to what is given back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ridesim.day import Activity, Day
from ridesim.ride.core import places as at
from ridesim.ride.core.journey import Records
from ridesim.ride.core.records import Array, Run
from ridesim.ride.lights import LightsBattery
from ridesim.ride.outcome import Moments, Stage
from ridesim.vehicle import Build

if TYPE_CHECKING:
    from ridesim.ride.batch import Rides

LEDGER = {
    "pack resistance": at.LOSS_PACK, "polarisation": at.LOSS_POLARISATION, "standby": at.USE_STANDBY, "lights": at.USE_LIGHTS,
    "controller": at.LOSS_CONTROLLER, "motor copper": at.LOSS_COPPER, "brushes": at.LOSS_BRUSHES,
    "motor friction": at.LOSS_FRICTION, "chain": at.LOSS_CHAIN, "rolling": at.USE_ROLLING, "air": at.USE_AIR,
    "brake": at.USE_BRAKE, "height": at.USE_POTENTIAL, "charger": at.FROM_CHARGER, "charge not stored": at.NOT_STORED,
}  # fmt: skip
"""Destinations of the energy ledger. Every day ends standing, so none is left in the speed."""
FIRSTS = ("reserve_s", "cut_off_s", "empty_s", "hot_s", "return_mps")
"""Moments that may never come."""
MOMENTS = tuple(each.name for each in fields(Moments))


def figures(rides: Rides) -> dict[str, NDArray[Any]]:
    """Figures of the outcomes as columns, one value a ride, under the names of :class:`ridesim.ride.result.Outcome`."""
    state, tally, out = rides.runs["w"][:, at.NOW], rides.runs["tally"], rides.runs["out"]
    pack, notes = rides.machines["pack"], rides.notes
    elapsed, metres = state[:, at.TIME] - rides.given.first_start_s, state[:, at.DISTANCE]
    through, energy = state[:, at.THROUGHPUT], state[:, at.ENERGY] / 3600.0
    explained = sum(state[:, place] for place in LEDGER.values())
    missing = rides.missing_at_start * pack["capacity"] * pack["strings"] + state[:, at.OUT] - state[:, at.IN]
    left = notes["left"] == 1
    return {
        "end_state_of_charge": np.maximum(0.0, out["charge"]),
        "lowest_pack_voltage_v": tally["lowest_volts"],
        "highest_pack_current_a": tally["highest_current"],
        "rms_motor_current_a": np.sqrt(np.maximum(0.0, _over(state[:, at.CURRENT_SQUARED], elapsed, 0.0))),
        "hottest_winding_c": tally["hottest"],
        "distance_km": metres / 1000.0,
        "planned_distance_km": np.full(len(rides), sum(each.planned_m for each in rides.given.activity) / 1000.0),
        "finished": ~left.any(axis=1),
        "seconds_below_command": tally["seconds_below"],
        "energy_wh": energy,
        "energy_wh_per_km": _over(energy, metres / 1000.0, np.nan),
        "ledger_residual": _over(state[:, at.DRAWN] - explained, through, 0.0),
        "out_ah": state[:, at.OUT] / 3600.0,
        "charged_ah": state[:, at.IN] / 3600.0,
        "missing_ah": missing / 3600.0,
        "rested_block_v": out["rested"] / [build.pack.blocks_in_series for build in rides.builds],
        "lost_by_pack": np.where(left, notes["by_pack"] == 1, True).all(axis=1),
    }


def _over(above: Array, below: Array, otherwise: float) -> Array:
    """A quotient; something else where the divisor is 0."""
    return np.asarray(np.divide(above, below, out=np.full(len(above), otherwise), where=below > 0.0))


def ledger_of(run: Run) -> dict[str, float]:
    """Energy by destination. [Wh]"""
    joules = run.w[at.NOW, list(LEDGER.values())] / 3600.0
    return {**dict(zip(LEDGER, joules.tolist(), strict=True)), "speed": 0.0}


def lights_and_stages(build: Build, day: Day, notes: Records) -> tuple[LightsBattery | None, tuple[Stage, ...]]:
    """The lights' own battery after the day, None where they have none, and how the activities went, as the core noted it."""
    lighting = build.lighting
    lights = LightsBattery(lighting, day) if lighting and lighting.supply == "own-battery" else None
    stages, before = [], day.first_start_s
    for activity, note in zip(day.activity, notes.tolist(), strict=True):
        start, end, begin_charge, end_charge, distance, charged, left, by_pack, leg = note
        ran_out = None
        for share, since, until in ((None, before, start), (activity.lighting, start, end)):
            emptied = None if lights is None else lights.drain(share, since, until)
            ran_out = ran_out if emptied is None else emptied
        before = end
        stages.append(
            Stage(
                name=activity.name,
                start_s=start,
                end_s=end,
                planned_start_s=start if activity.start is None else activity.start_s or 0.0,
                start_charge=begin_charge,
                end_charge=end_charge,
                distance_m=distance,
                left=bool(left),
                by_pack=bool(by_pack),
                charged_ah=charged / 3600.0,
                place=place_in(activity, leg, end - start),
                lights_ran_out_s=ran_out,
            )
        )
    return lights, tuple(stages)


def moments_of(day: Day, run: Run, stages: Sequence[Stage]) -> Moments:
    """What the tally notes under the names of the moments, and the rest."""
    tally: Any = run.tally
    noted = dict(zip(tally.dtype.names, tally.tolist(), strict=True))
    first, leg = noted["cut_activity"], noted["cut_leg"]
    noted = {name: noted[name] for name in MOMENTS if name in noted}
    noted.update({name: None for name in FIRSTS if noted[name] < 0.0})
    place = ""
    if first >= 0:
        place = place_in(day.activity[first], leg, noted["cut_off_s"] - stages[first].start_s)
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
