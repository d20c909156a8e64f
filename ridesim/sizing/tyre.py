"""Wheels: what another tyre means for a speedometer that counts the wheel's turns."""

from __future__ import annotations

from ridesim.vehicle.tyre import diameter_mm as diameter_mm
from ridesim.vehicle.tyre import rolling_radius_m as rolling_radius_m


def speedometer_error_percent(donor_size: str, size: str) -> float:
    """How much a speedometer that is driven by the wheel reads too high with another tyre; less than 0: too low. [%]

    Raises
    ------
    InputProblem
        As :func:`diameter_mm`.
    """
    return 100.0 * (diameter_mm(donor_size) / diameter_mm(size) - 1.0)
