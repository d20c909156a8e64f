"""Standing and wearing: self-discharge, cycle life against depth of discharge, calendar life."""

from __future__ import annotations

from math import exp, log

SELF_DISCHARGE_REFERENCE_C = 20.0
"""Temperature of the stated monthly loss. [°C]"""
SELF_DISCHARGE_HALVING_K = 10.0
"""Cooling that halves self-discharge: four types of lead-acid at 20 and 10 °C in a marine battery book. [K]"""


def charge_kept(months: float, temperature: float, per_month: float) -> float:
    """Share of the charge left after standing: (1 - s)^(months 2^((T - 20)/10)).

    MODEL.md (9.1).

    Parameters
    ----------
    months : float
        Since the last full charge.
    temperature : float
        Where it stood. [°C]
    per_month : float
        s, share lost in the first month at 20 °C. [-]

    Returns
    -------
    float
        0 to 1. [-]

    References
    ----------
    Monthly losses at 20 and 10 °C: a marine battery book, section 2.5.10; the form of the law is common practice.
    """
    warmth = (temperature - SELF_DISCHARGE_REFERENCE_C) / SELF_DISCHARGE_HALVING_K
    return float((1.0 - per_month) ** (months * 2.0**warmth))


def cycles_at(depth: float, rows: tuple[tuple[float, float], ...]) -> float:
    """Cycles to the end of life at a depth: straight lines in the logarithms, the nearest line beyond the table's ends.

    MODEL.md (9.2).

    Parameters
    ----------
    depth : float
        Depth of discharge, above 0. [-]
    rows : tuple of (float, float)
        Depths and cycles; a single row means the same charge through the cells at every depth, N ∝ 1/depth.

    Returns
    -------
    float
        Cycles. [-]

    References
    ----------
    A power law N = N_1 d^-b between points fits published tables (a 40 Ah block's sheet: b about 1.6).
    """
    points = sorted(rows)
    if len(points) == 1:
        return points[0][1] * points[0][0] / depth
    index = sum(1 for known, _ in points[1:-1] if known <= depth)
    (d1, n1), (d2, n2) = points[index], points[index + 1]
    share = log(depth / d1) / log(d2 / d1)
    return exp(log(n1) + share * log(n2 / n1))


def ageing_factor(temperature: float) -> float:
    """Calendar life against 25 °C: halves for every 10 K warmer.

    MODEL.md (9.3).

    Parameters
    ----------
    temperature : float
        Mean over the year. [°C]

    Returns
    -------
    float
        2^((25 - T)/10). [-]

    References
    ----------
    8, 6, 4 years at 20, 25, 30 °C for sealed lead-acid (a marine battery book): about half for 10 K.
    """
    return float(2.0 ** ((25.0 - temperature) / 10.0))
