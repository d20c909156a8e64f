"""Figures as they are written in tables and sentences: a value with its band, hours."""

from __future__ import annotations

import math

from ridesim.ride.pack.charge import FULL, Charge
from ridesim.words import Uncertain


def band_text(value: Uncertain, digits: int = 0, factor: float = 1.0, unit: str = "") -> str:
    """A value with its unit, and its band in brackets where the band's ends differ as printed."""
    numbers = [f"{factor * each:.{digits}f}" for each in (value.value, value.low, value.high)]
    value_text = numbers[0] + unit
    return value_text if numbers[1] == numbers[2] else f"{value_text} ({numbers[1]} to {numbers[2]})"


def time_text(hours: float) -> str:
    """Hours, or a dash for never."""
    return f"{hours:.1f} h" if math.isfinite(hours) else "-"


def filled_text(plan: Charge) -> str:
    """When a charge is full; how far it comes where the charger's voltage does not fill the pack."""
    if math.isfinite(plan.hours_to[FULL]):
        return f"full in {time_text(plan.hours_to[FULL])}"
    return f"{100 * float(plan.state_of_charge.max()):.0f} %, no further at {plan.voltage_v:.1f} V"
