"""The pack at the start of a day: its state of charge, and the capacity law's two charges."""

from __future__ import annotations

from ridesim.day import Day
from ridesim.physics.capacity_laws import PEUKERT, SATURATING, TWO_WELL
from ridesim.physics.life import charge_kept
from ridesim.ride.core.pack import FILTER_SCALE, charges_at
from ridesim.ride.core.records import PackNumbers
from ridesim.vehicle import Pack
from ridesim.words import InputProblem, is_number, shown


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
    if not is_number(missing_ah):
        raise InputProblem("the ride", "missing_ah", shown(missing_ah, "Ah"), "ampere-hours above 0")
    unit = p.capacity * p.strings / 3600.0
    share, room = missing_ah / unit, 1.0 - begin
    least, most = _possible_share(begin, p)
    if room <= 1e-6 and 0.0 <= share <= least + 1e-6:  # full but for rounding
        return charges_at(begin, p)
    near = 1e-6 * (1.0 + most)
    if not (share > 0.0 and least - near <= share <= most + near):
        least_said = f"from {least * unit:.2f}" if least > 0.0 else "above 0 and"
        expected = f"ampere-hours {least_said} up to {most * unit:.2f} Ah at this state of charge"
        raise InputProblem("the ride", "missing_ah", f"{missing_ah:g} Ah", expected)
    share = min(max(share, least), most)
    if p.law == PEUKERT:
        return begin, share
    if p.law == TWO_WELL:
        return p.well_share * begin, 1.0 - p.well_share * begin - share / (p.well_whole / p.capacity)
    taken = share * p.capacity / p.law_capacity
    bent = max(0.0, (room / taken * p.law_gain - 1.0) / (p.law_gain - 1.0))
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
