"""Largest current the two wells can give or take over a time, in closed form. Outside the core's loop."""

from __future__ import annotations

from math import exp


def largest_discharge(available: float, bound: float, time: float, share: float, rate: float) -> float:
    """Current that just empties the available well at the end of a time.

    Parameters
    ----------
    available, bound : float
        y1, y2. [Ah]
    time : float
        [h]
    share, rate : float
        c [-] and κ [1/h].

    Returns
    -------
    float
        [A]

    References
    ----------
    Manwell & McGowan, Solar Energy 50 (1993) 399; κ is what Manwell writes as k:
    I = (κ y1 e + y0 κ c (1 - e))/(1 - e + c (κ t - 1 + e)), e = exp(-κ t).
    """
    decay = exp(-rate * time)
    whole = available + bound
    over = rate * available * decay + whole * rate * share * (1.0 - decay)
    return over / (1.0 - decay + share * (rate * time - 1.0 + decay))


def largest_charge(available: float, bound: float, capacity: float, time: float, share: float, rate: float) -> float:
    """Current into the wells that just fills the available one at the end of a time.

    Parameters
    ----------
    available, bound, capacity : float
        y1, y2 and the whole C. [Ah]
    time : float
        [h]
    share, rate : float
        c [-] and κ [1/h].

    Returns
    -------
    float
        Charging positive. [A]

    References
    ----------
    As :func:`largest_discharge`: I = (κ c C - κ y1 e - y0 κ c (1 - e))/(1 - e + c (κ t - 1 + e)).
    """
    decay = exp(-rate * time)
    whole = available + bound
    over = rate * share * capacity - rate * available * decay - whole * rate * share * (1.0 - decay)
    return over / (1.0 - decay + share * (rate * time - 1.0 + decay))
