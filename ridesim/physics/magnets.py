"""When magnets may be weakened for good: the current that does it moves with the magnets' temperature."""

from __future__ import annotations

from ridesim.physics.compiled import compiled

FERRITE_COERCIVITY_PER_K = 0.003
"""Ferrite's coercivity rises by about 0.3 % a kelvin: the danger is cold and over-current (from memory). [1/K]"""
NEODYMIUM_COERCIVITY_PER_K = -0.005
"""Neodymium's falls by 0.4 to 0.6 % a kelvin: the danger is heat (a magnet maker's page). [1/K]"""


@compiled
def demagnetising_current(at_20: float, per_k: float, celsius: float) -> float:
    """Current from which the armature's field may weaken the magnets: I20 (1 + β (T - 20)). [A]

    Parameters
    ----------
    at_20 : float
        At 20 °C. [A]
    per_k : float
        Temperature coefficient of the coercivity. [1/K]
    celsius : float
        Magnets. [°C]

    Returns
    -------
    float
        0 or more. [A]
    """
    return max(0.0, at_20 * (1.0 + per_k * (celsius - 20.0)))
