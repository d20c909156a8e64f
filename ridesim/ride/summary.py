"""From the core's records of rides to what is given back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ridesim.day import Activity, Day
from ridesim.physics.capacity_laws import LAW_NAMES
from ridesim.ride.core import places as at
from ridesim.ride.core.journey import Records
from ridesim.ride.core.records import Array, Run
from ridesim.ride.lights import LightsBattery
from ridesim.ride.result import Moments, Outcome, Ride, Stage
from ridesim.ride.spare import spare_of

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


def figures(rides: Rides) -> dict[str, NDArray[Any]]:
    """Figures of the outcomes as columns, one value a ride, under the names of :class:`ridesim.ride.result.Outcome`."""
    state, tally, out = rides.runs["w"][:, at.NOW], rides.runs["tally"], rides.runs["out"]
    pack, notes = rides.machines["pack"], rides.notes
    elapsed, metres = state[:, at.TIME] - rides.asked.first_start_s, state[:, at.DISTANCE]
    through, energy = state[:, at.THROUGHPUT], state[:, at.ENERGY] / 3600.0
    explained = state[:, list(LEDGER.values())].sum(axis=1)
    missing = rides.missing_at_start * pack["capacity"] * pack["strings"] + state[:, at.OUT] - state[:, at.IN]
    left = notes["left"] == 1
    return {
        "end_state_of_charge": np.maximum(0.0, out["charge"]),
        "lowest_pack_voltage_v": tally["lowest_volts"],
        "highest_pack_current_a": tally["highest_current"],
        "rms_motor_current_a": np.sqrt(_over(state[:, at.CURRENT_SQUARED], elapsed, 0.0)),
        "hottest_winding_c": tally["hottest"],
        "distance_km": metres / 1000.0,
        "planned_distance_km": np.full(len(rides), sum(each.planned_m for each in rides.asked.activity) / 1000.0),
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


def summed_up(rides: Rides, i: int) -> Ride:
    """One of the rides, after its last activity."""
    build, day, run = rides.builds[i], rides.days[i], rides.runs[i]
    ledger = {name: float(run["w"][at.NOW, place]) for name, place in LEDGER.items()}
    ledger["speed"] = 0.0
    own_battery = build.lighting is not None and build.lighting.supply == "own-battery"
    lights = LightsBattery(build.lighting, day) if build.lighting is not None and own_battery else None
    stages = stages_of(day, rides.notes[i], lights)
    return Ride(
        build=build,
        asked=rides.asked,
        day=day,
        battery_model=LAW_NAMES[rides.machines[i]["pack"]["law"]],
        outcome=Outcome(
            **{name: column[i].item() for name, column in rides.figures.items()},
            lights=lights,
            ride_on=partial(spare_of, rides, i),
        ),
        stages=stages,
        moments=_moments(day, run, stages),
        ledger_wh={name: joules / 3600.0 for name, joules in ledger.items()},
        rows=rides.rows[i],
    )


def stages_of(day: Day, notes: Records, lights: LightsBattery | None) -> tuple[Stage, ...]:
    """How the activities went, as the core noted it; the lights' own battery is drained on the way."""
    stages, before = [], day.first_start_s
    for activity, note in zip(day.activity, notes, strict=True):
        start, end, left = float(note["start"]), float(note["end"]), bool(note["left"])
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
                planned_start_s=activity.start_s if activity.start_s is not None else start,
                start_charge=float(note["begin_charge"]),
                end_charge=float(note["end_charge"]),
                distance_m=float(note["distance"]),
                left=left,
                by_pack=bool(note["by_pack"]),
                charged_ah=float(note["charged"]) / 3600.0,
                place=place_in(activity, int(note["leg"]), end - start),
                lights_ran_out_s=ran_out,
            )
        )
    return tuple(stages)


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
