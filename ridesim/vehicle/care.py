"""How a pack wears: growth of its resistance, and how wide the lives that makers print are in practice."""

CYCLE_SPREAD = 0.3
"""Cycle lives differ by about this share in practice (from memory)."""
AGE_SPREAD = 0.3
"""Calendar lives do so too: the printed years are for float use, and their rows are hard to read (common practice, no source)."""
LONGEST_AGE = 8.0 / 6.0
"""Calendar life at 20 °C over that at 25 °C: the coldest row of the marine book's table, which nothing is carried beyond."""


def worn_resistance_factor(health: float) -> float:
    """Growth of resistance with the capacity lost: 1 + 2.5 (1 - health), none above full health.

    Parameters
    ----------
    health : float
        Present over rated capacity, above 0. [-]

    Returns
    -------
    float
        Resistance over that of a new block: 1.5 at 80 %, the end of life. [-]

    References
    ----------
    1.3 to 2 times at the end of life, alarm at 30 to 50 % more: IEEE 1188 practice (from memory). Straight line through new and
    the middle of that; below 80 % it is carried on, common practice, no source.
    """
    return 1.0 + 2.5 * max(0.0, 1.0 - health)
