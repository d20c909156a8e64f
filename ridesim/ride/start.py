"""The start of a day: the pack's state of charge, what its capacity law keeps of it, and nothing noted yet."""

from __future__ import annotations

import math

from ridesim.day import Day
from ridesim.physics.capacity_laws import SATURATING, TWO_WELL
from ridesim.physics.life import charge_kept
from ridesim.ride.core.pack import FILTER_SCALE, charges_at, left_at
from ridesim.ride.core.records import PackNumbers, Tally, new
from ridesim.vehicle import Pack
from ridesim.words import InputProblem, need_number


def start_charge(pack: Pack, day: Day) -> float:
    """State of charge at the day's start: the day's own, less what went while the pack stood in the shed."""
    kept = charge_kept(pack.stood_months, pack.stood_c, pack.in_force.self_discharge_per_month)
    return day.start_state_of_charge * kept


def charges_missing(begin: float, missing_ah: float, p: PackNumbers) -> tuple[float, float, float]:
    """What is left, missing and filtered (:mod:`ridesim.ride.core.pack`) at a state of charge, of a pack that has rested otherwise.

    Raises
    ------
    InputProblem
        More or fewer missing ampere-hours of the whole pack than the law can have at this state of charge.
    """
    unit = p.capacity * p.strings / 3600.0
    need_number("the ride", "missing_ah", missing_ah, 0.0, math.inf, "Ah")
    share, (least, most) = missing_ah / unit, _possible_share(begin, p)
    near = 1e-6 * (1.0 + most)
    if begin >= 1.0 - 1e-6 and share <= least + near:  # full but for rounding
        return charges_at(begin)
    if not max(0.0, least - near) < share <= most + near:
        expected = f"ampere-hours from {least * unit:.2f} up to {most * unit:.2f} Ah at this state of charge"
        raise InputProblem("the ride", "missing_ah", f"{missing_ah:g} Ah", expected)
    share = min(max(share, least), most)
    filtered = 0.0
    if p.law == SATURATING and p.bend > 0.0:  # all that is out of reach comes back, so the filtered current must say it
        bent = max(0.0, (1.0 - begin) / share - 1.0) / p.bend
        filtered = (bent + p.level) ** (1.0 / p.exponent) / FILTER_SCALE if bent > 0.0 else 0.0
    return left_at(begin, share, filtered, p), share, filtered


def _possible_share(begin: float, p: PackNumbers) -> tuple[float, float]:
    """Least and most that can be missing at a state of charge."""
    room = 1.0 - begin
    if p.law == TWO_WELL:  # the bound well is full, or empty
        return p.well_share * room, 1.0 - p.well_share * begin
    return 0.0, room


EMPTY_TALLY = new(
    Tally, lowest_volts=math.inf, highest_current=-math.inf, hottest=-math.inf, reserve_s=-1.0, cut_off_s=-1.0,
    cut_activity=-1, cut_leg=-1, empty_s=-1.0, hot_s=-1.0, return_mps=-1.0, worst_stall_at_s=-1.0, throttle_at=-1.0, ready_at=-1.0, leg=-1,
)  # fmt: skip
"""Nothing noted yet."""
