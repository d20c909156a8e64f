"""What could still be ridden after a day: its longest activity, over and over, until the pack ends it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridesim.day import Activity, Day
from ridesim.physics.capacity_laws import TWO_WELL, two_well_capacity
from ridesim.ride.core import journey
from ridesim.ride.core import places as at
from ridesim.ride.core.journey import Records
from ridesim.ride.core.kept import no_rows
from ridesim.ride.core.records import Array, PackNumbers
from ridesim.ride.parallel import in_parallel
from ridesim.ride.start import EMPTY_TALLY

if TYPE_CHECKING:
    from ridesim.ride.batch import Rides

MOST_ROUNDS = 40
"""A pack that lasts for more than so many times the activity is not ridden to its end; the rest goes on at the same rate."""


@dataclass(frozen=True, slots=True)
class Spare:
    """What the pack still gives after a day.

    Attributes
    ----------
    activity : str
        The activity that is ridden on.
    to_empty_km, to_reserve_km : float
        Until the pack is empty or the controller can no longer move the vehicle; down to the reserve.
    given_ah : float
        Ampere-hours of the whole pack on the way to empty.
    full_ah : float
        What a full pack would give at the same currents.
    """

    activity: str
    to_empty_km: float
    to_reserve_km: float
    given_ah: float
    full_ah: float


def activity_to_ride_on(day: Day) -> Activity | None:
    """The one the day names, else the longest with a rider, else the longest; None where nothing is ridden."""
    ridden = [each for each in day.activity if each.path is not None]
    if day.spare_activity is not None:
        return next(each for each in ridden if each.name == day.spare_activity)
    return max(ridden, key=lambda each: (each.aboard, each.planned_m), default=None)


def ride_on(rides: Rides) -> dict[str, Array] | None:
    """Ride an activity of the day on, without a pause, from the state in which each ride ended; None for a day that rides nowhere.

    Heat does not end it, and no charger is connected. Columns, one value a ride, under the names of :class:`Spare`.
    """
    activity = activity_to_ride_on(rides.given)
    if activity is None:
        return None
    task = rides.given.activity.index(activity)
    onward = _fresh(rides)
    before, charge = onward["w"][:, at.NOW].copy(), rides.runs["out"]["charge"]
    in_parallel(
        lambda first, last: journey.ride_on(
            first, last, onward, rides.machines, rides.settings, task, MOST_ROUNDS, rides.day, no_rows()
        ),
        onward,
        rides.workers,
    )
    now, tally, pack = onward["w"][:, at.NOW], onward["tally"], rides.machines["pack"]
    left, reserve = onward["out"]["charge"], rides.machines["reserve"]
    end = np.where(tally["empty_s"] >= 0.0, tally["empty_m"], now[:, at.DISTANCE])
    metres, missing = end - before[:, at.DISTANCE], now[:, at.MISSING] - before[:, at.MISSING]
    reached = tally["reserve_s"] >= 0.0
    reserved = np.where(reached, tally["reserve_m"] - before[:, at.DISTANCE], metres)
    lasts = (onward["ended"] == 0) & (left < charge)
    fallen = np.where(lasts, charge - left, 1.0)
    reserved = np.where(lasts & ~reached, metres * (charge - reserve) / fallen, reserved)
    growth = np.where(lasts, charge / fallen, 1.0)
    whole = pack["capacity"] * pack["strings"] / 3600.0
    return {
        "to_empty_km": np.maximum(0.0, metres * growth) / 1000.0,
        "to_reserve_km": np.where(charge > reserve, np.maximum(0.0, reserved) / 1000.0, 0.0),
        "given_ah": whole * np.maximum(0.0, missing * growth),
        "full_ah": whole * [_full_share(*each) for each in zip(before, now, pack, strict=True)],
    }


def spare_of(rides: Rides, i: int) -> Spare | None:
    """What one pack still gives; all rides are ridden on together."""
    activity, columns = activity_to_ride_on(rides.given), rides.spare
    if activity is None or columns is None:
        return None
    return Spare(activity.name, **{name: float(column[i]) for name, column in columns.items()})


def _fresh(rides: Rides) -> Records:
    """The rides as they ended, which may go on by themselves: nothing noted."""
    onward = rides.runs.copy()
    onward["tally"] = EMPTY_TALLY
    onward["tries"] = onward["used"] = 0
    return onward


def _full_share(before: Array, after: Array, p: PackNumbers) -> float:
    """What a full pack gives at the currents between two states, over its capacity at slow rates.

    Under the recovery law a full pack is empty when (1 - ρ) U + ρ Q s = 1, with U and Q growing in the proportion in which they did
    between the states. s, at the filtered current of that moment, is known where the second state is empty; else it is taken to be U/Q.
    """
    missing = float(after[at.MISSING] - before[at.MISSING])
    if not missing > 0.0:
        return 1.0
    if p.law == TWO_WELL:
        return _two_well_share(missing / float(after[at.TIME] - before[at.TIME]), p)
    at_once = float(before[at.LEFT] - after[at.LEFT]) / missing
    recovery, at_rest = float(p.recovery), at_once
    if recovery > 0.0 and after[at.SWITCHED_OFF] == 1.0:
        at_rest = (1.0 + (1.0 - recovery) / recovery * float(after[at.LEFT])) / float(after[at.MISSING])
    return 1.0 / ((1.0 - recovery) * at_once + recovery * at_rest)


def _two_well_share(rate: float, p: PackNumbers) -> float:
    """Share of its whole charge that a pack of two wells gives at a steady rate. [1/s → -]"""
    from scipy.optimize import brentq

    def surplus(share: float) -> float:
        return share - float(two_well_capacity(share / rate, 1.0, p.well_share, p.well_rate))

    return float(brentq(surplus, 0.5 * p.well_share, 1.0))
