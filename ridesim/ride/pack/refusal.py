"""When a pack must not be charged, why, and the day that is ridden then."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from ridesim.day import Day
from ridesim.physics.charging import compensated_voltage
from ridesim.physics.pack import REFERENCE_C
from ridesim.ride.machine import absorption_at
from ridesim.vehicle import Pack
from ridesim.words import degrees


@lru_cache(maxsize=64)
def plugged_in(day: Day, amps: float) -> Day:
    """The day with the vehicle's own charger at its current wherever there is a socket and no other current is said."""
    own = [each.socket and each.charge_current_a == 0.0 for each in day.activity]
    return _charging(day, [amps if at else each.charge_current_a for at, each in zip(own, day.activity, strict=True)])


def uncharged(day: Day) -> Day:
    """The same day with no charger."""
    return _charging(day, [0.0] * len(day.activity))


def _charging(day: Day, amps: Sequence[float]) -> Day:
    """The day with these charging currents, one an activity."""
    pairs = list(zip(day.activity, amps, strict=True))
    if all(each.charge_current_a == current for each, current in pairs):
        return day
    activity = tuple(each.model_copy(update={"charge_current_a": current}) for each, current in pairs)
    return day.model_copy(update={"activity": activity})


def ridden_day(pack: Pack, day: Day) -> Day:
    """The day as this pack can do it: without its charges where the air or the charger's voltage refuses them."""
    return uncharged(day) if why_refused(pack, day.ambient_c) else day


def why_refused(pack: Pack, ambient_c: float) -> str:
    """Why a pack must not be charged in this air, or by this charger at all; empty where it may be."""
    coldest, hottest = pack.kind.coldest_charge_c, pack.kind.hottest_charge_c
    if coldest <= ambient_c <= hottest:
        return why_too_high(pack, ambient_c)
    air = degrees(ambient_c)
    if ambient_c < coldest:
        why = (
            "metal plates out inside the cells, which may burn later"
            if pack.kind.is_lithium
            else "they take little charge and may freeze"
        )
        return f"{air} °C is too cold to charge {pack.chemistry} ({degrees(coldest)} °C at least): {why}."
    return f"{air} °C is too hot to charge {pack.chemistry} ({degrees(hottest)} °C at most): they overheat and gas."


def why_too_high(pack: Pack, ambient_c: float = REFERENCE_C) -> str:
    """Why the charger's voltage must not be put on these cells; empty where it may."""
    given, most = absorption_at(pack, ambient_c) / pack.cells, highest_charge_voltage(pack, ambient_c)
    if given <= most * (1.0 + 1e-9):
        return ""
    danger = (
        "overcharged, they swell, vent and may burn, hours later too"
        if pack.kind.is_lithium
        else "they boil off hydrogen and acid mist, dry out and may run hotter and hotter until they burst or burn"
    )
    return (
        f"The charger's {given:.2f} V a cell is more than {pack.chemistry} stands at {degrees(ambient_c)} °C ({most:.2f} V at most): {danger}. "
        "Do not connect it: only a charger made for this chemistry and number of cells; its maker, a licensed person and local rules decide."
    )


def highest_charge_voltage(pack: Pack, ambient_c: float = REFERENCE_C) -> float:
    """Most that the chemistry stands from a charger at a temperature. [V a cell]"""
    kind = pack.kind
    return compensated_voltage(kind.highest_charge_v_per_cell, 1, kind.compensation_v_per_cell_per_k, ambient_c)


def fills_to(pack: Pack, ambient_c: float) -> float:
    """State of charge whose rested voltage is the charger's: it brings the pack no further; 1 where it stands above E(1)."""
    z, volts = np.array(pack.in_force.open_circuit_v_per_cell, dtype=float).T
    return float(np.interp(absorption_at(pack, ambient_c) / pack.cells, volts, z))
