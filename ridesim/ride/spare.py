"""What could still be ridden after a day: its longest activity, over and over, until the pack ends it."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridesim.day import Activity, Day
from ridesim.physics.capacity_laws import TWO_WELL, two_well_capacity
from ridesim.ride.core import places as at
from ridesim.ride.core.records import Array, PackNumbers, Row, structure
from ridesim.ride.start import empty_tally

if TYPE_CHECKING:
    from ridesim.ride.journey import Journey

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


def ride_on(journey: Journey) -> Spare | None:
    """Ride an activity of the day on, without a pause, from the state in which a journey ended; None for a day that rides nowhere.

    Heat does not end it, and no charger is connected.
    """
    activity = activity_to_ride_on(journey.day)
    if activity is None:
        return None
    onward = _copy_of(journey)
    run, now, pack, reserve = onward.run, onward.now, onward.numbers.pack, float(onward.numbers.reserve)
    before, charge = now.copy(), float(run.out.charge)
    ended = False
    for _ in range(MOST_ROUNDS):
        ended = bool(onward.move_again(activity) or now[at.SWITCHED_OFF] == 1.0)
        if ended:
            break
    metres = float(run.tally.empty_m if run.tally.empty_s >= 0.0 else now[at.DISTANCE]) - float(before[at.DISTANCE])
    missing = float(now[at.MISSING] - before[at.MISSING])
    reserved = float(run.tally.reserve_m - before[at.DISTANCE]) if run.tally.reserve_s >= 0.0 else metres
    left = float(run.out.charge)
    if not ended and left < charge:
        growth = charge / (charge - left)
        if run.tally.reserve_s < 0.0:
            reserved = metres * (charge - reserve) / (charge - left)
        metres, missing = metres * growth, missing * growth
    whole = float(pack.capacity * pack.strings) / 3600.0
    return Spare(
        activity=activity.name,
        to_empty_km=max(0.0, metres) / 1000.0,
        to_reserve_km=max(0.0, reserved) / 1000.0 if charge > reserve else 0.0,
        given_ah=whole * max(0.0, missing),
        full_ah=whole * _full_share(before, now, pack),
    )


def _copy_of(journey: Journey) -> Journey:
    """A journey that may go on by itself: nothing noted, no rows kept."""
    onward = copy(journey)
    onward.runs = journey.runs.copy()
    onward.run = onward.runs[0]
    onward.now = onward.run.w[at.NOW]
    onward.run.tally = empty_tally(journey.day)
    onward.run.tries = onward.run.used = 0
    onward.rows = np.empty(0, structure(Row))
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
