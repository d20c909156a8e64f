"""How long one block lasts under constant currents, in closed form: what handbooks and papers print."""

from __future__ import annotations

from ridesim.ride.core.pack import charges_at, state_of_charge
from ridesim.ride.core.records import PackNumbers
from ridesim.ride.pack.block import charges_after


def charge_at(current: float, seconds: float, b: PackNumbers, start: float = 1.0) -> float:
    """State of charge after a constant current from rest."""
    q1, q2 = charges_at(start, b)
    q1, q2 = charges_after(q1, q2, current, seconds, b)
    return float(state_of_charge(q1, q2, b))


def run_seconds(current: float, b: PackNumbers, floor: float = 0.0, start: float = 1.0) -> float:
    """Run time at constant current from a rested state of charge down to another.

    Parameters
    ----------
    current : float
        Above 0. [A]
    b : PackNumbers
        The block.
    floor, start : float
        States of charge.

    Returns
    -------
    float
        [s]; 0 where ``start`` is not above ``floor``.
    """
    from scipy.optimize import brentq

    if start <= floor:
        return 0.0
    longest = b.capacity / current * 2.0
    while charge_at(current, longest, b, start) > floor:
        longest *= 2.0
    return float(brentq(lambda t: charge_at(current, t, b, start) - floor, 0.0, longest, xtol=1e-9, rtol=1e-14))


def lifetime_seconds(
    pieces: list[tuple[float, float]], b: PackNumbers, start: float = 1.0, repeat: bool = False
) -> float:
    """When a block is empty under pieces of constant current, in closed form inside each piece.

    Parameters
    ----------
    pieces : list of (float, float)
        Duration [s] and current [A, discharge positive], in order.
    b : PackNumbers
        The block.
    start : float
        State of charge, rested.
    repeat : bool
        Whether the pieces begin anew until the block is empty.

    Returns
    -------
    float
        [s]; infinite where it outlasts the pieces.
    """
    from scipy.optimize import brentq

    q1, q2 = charges_at(start, b)
    time = 0.0
    while True:
        for duration, current in pieces:
            n1, n2 = charges_after(q1, q2, current, duration, b)
            if state_of_charge(n1, n2, b) <= 0.0:

                def left(t: float, q1: float = q1, q2: float = q2, current: float = current) -> float:
                    a1, a2 = charges_after(q1, q2, current, t, b)
                    return float(state_of_charge(a1, a2, b))

                return time + (float(brentq(left, 0.0, duration, xtol=1e-9)) if left(0.0) > 0.0 else 0.0)
            q1, q2, time = n1, n2, time + duration
        if not repeat or not any(current > 0.0 and duration > 0.0 for duration, current in pieces):
            return float("inf")
