"""Run time by Peukert's law, from the factor that rides use."""

from __future__ import annotations

from ridesim.physics.capacity_laws import peukert_factor


def peukert_hours(current: float, capacity: float, rated_hours: float, exponent: float) -> float:
    """Hours at a constant current at or above the rated one: C/(I (I/I_R)^(k - 1))."""
    return capacity / (current * peukert_factor(current, capacity / rated_hours, exponent))
