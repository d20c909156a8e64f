"""The pack at the start of a day: its state of charge, and the capacity law's two charges."""

from __future__ import annotations

import math

from ridesim.day import Day
from ridesim.physics.capacity_laws import PEUKERT, SATURATING, TWO_WELL
from ridesim.physics.life import charge_kept
from ridesim.ride.core.pack import FILTER_SCALE, charges_at
from ridesim.ride.core.records import PackNumbers
from ridesim.vehicle import Pack
from ridesim.words import InputProblem, need_number


def start_charge(pack: Pack, day: Day) -> float:
    """State of charge at the day's start: the day's own, less what went while the pack stood in the shed."""
    kept = charge_kept(pack.stood_months, pack.stood_c, pack.in_force.self_discharge_per_month)
    return day.start_state_of_charge * kept


def charges_missing(begin: float, missing_ah: float, p: PackNumbers) -> tuple[float, float]:
    """The law's two charges from a state of charge and the ampere-hours missing from the whole pack.

    Raises
    ------
    InputProblem
        More or fewer than the law can have missing at this state of charge.
    """
    unit = p.capacity * p.strings / 3600.0
    need_number("the ride", "missing_ah", missing_ah, 0.0, math.inf, "Ah")
    share, (least, most) = missing_ah / unit, _possible_share(begin, p)
    near = 1e-6 * (1.0 + most)
    if begin >= 1.0 - 1e-6 and share <= least + near:  # full but for rounding
        return charges_at(begin, p)
    if not max(0.0, least - near) < share <= most + near:
        expected = f"ampere-hours from {least * unit:.2f} up to {most * unit:.2f} Ah at this state of charge"
        raise InputProblem("the ride", "missing_ah", f"{missing_ah:g} Ah", expected)
    share = min(max(share, least), most)
    if p.law == PEUKERT:
        return begin, share
    if p.law == TWO_WELL:
        return p.well_share * begin, 1.0 - p.well_share * begin - share / (p.well_whole / p.capacity)
    taken = share * p.capacity / p.law_capacity
    bent = max(0.0, ((1.0 - begin) / taken * p.law_gain - 1.0) / (p.law_gain - 1.0))
    return taken, bent ** (1.0 / p.law_exponent) / FILTER_SCALE


def _possible_share(begin: float, p: PackNumbers) -> tuple[float, float]:
    """Least and most that can be missing at a state of charge, over C."""
    room = 1.0 - begin
    if p.law == TWO_WELL:  # the bound well is full, or empty
        whole = p.well_whole / p.capacity
        return p.well_share * room * whole, (1.0 - p.well_share * begin) * whole
    if p.law == SATURATING:
        return 0.0, room * p.law_gain * p.law_capacity / p.capacity
    return 0.0, room
