"""One block under a constant current: its numbers, the three capacity laws in closed form, run time, charge it gives.

The same small interface as the ride's: two charges of the law (:func:`ridesim.ride.core.pack.charges_at`,
:func:`ridesim.ride.core.pack.state_of_charge`), and here :func:`charges_after` in place of their rates.
"""

from __future__ import annotations

from math import exp

from ridesim.physics.capacity_laws import FILTER_S, PEUKERT, TWO_WELL, peukert_factor, two_well_after
from ridesim.physics.compiled import compiled
from ridesim.physics.pack import REFERENCE_C
from ridesim.ride.core.pack import FILTER_SCALE, NEARLY_NOTHING, charges_at, state_of_charge
from ridesim.ride.core.records import PackNumbers
from ridesim.ride.machine import pack_numbers
from ridesim.vehicle import Pack

BlockNumbers = PackNumbers
"""A block's numbers are a pack's record, for one block."""


def block_numbers(
    pack: Pack, temperature: float = REFERENCE_C, battery_model: str | None = None, health: float | None = None
) -> PackNumbers:
    """Numbers of one block of a pack, as :func:`ridesim.ride.machine.pack_numbers`."""
    return pack_numbers(pack, temperature, battery_model, one_block=True, health=health)


def whole_charge(b: BlockNumbers) -> float:
    """All the charge between a rested full block and an empty one, under its law. [A s]"""
    if b.law == PEUKERT:
        return b.capacity
    return b.well_whole if b.law == TWO_WELL else b.law_gain * b.law_capacity


@compiled
def charges_after(
    q1: float, q2: float, current: float, time: float, b: BlockNumbers, health: float = 1.0
) -> tuple[float, float]:
    """The law's two charges after a constant current, in closed form.

    Parameters
    ----------
    q1, q2 : float
        The law's charges at the start, as in :func:`ridesim.ride.core.pack.charge_rates`.
    current : float
        Discharge positive. [A]
    time : float
        [s]
    b : BlockNumbers
        The block.
    health : float
        Its capacity over that of ``b``; the currents at which the law bends stay the label's, as in a ride. [-]

    Returns
    -------
    tuple of float
        The charges at the end.
    """
    counted = (current if current >= 0.0 else b.coulombic * current) / health
    if b.law == PEUKERT:
        share = counted / b.capacity * time
        if current > 0.0:
            return q1 - share * peukert_factor(current, b.rated_current, b.exponent), q2 + share
        # Up to full along the straight line through (z, q2) and (1, 0), beyond it one for one.
        up = min(-share, q2) if q2 > NEARLY_NOTHING else 0.0
        gain = up * (1.0 - q1) / q2 if up > 0.0 else 0.0
        return q1 + gain - share - up, q2 + share
    if b.law == TWO_WELL:
        return two_well_after(q1, q2, counted / b.well_whole, time, b.well_share, b.well_rate)
    settled = max(0.0, current) / (FILTER_SCALE * b.law_reference)
    return q1 + counted / b.law_capacity * time, settled + (q2 - settled) * exp(-time / FILTER_S)


def charge_at(current: float, seconds: float, b: BlockNumbers, start: float = 1.0) -> float:
    """State of charge after a constant current from rest."""
    q1, q2 = charges_at(start, b)
    q1, q2 = charges_after(q1, q2, current, seconds, b)
    return float(state_of_charge(q1, q2, b))


def run_seconds(current: float, b: BlockNumbers, floor: float = 0.0, start: float = 1.0) -> float:
    """Run time at constant current from a rested state of charge down to another.

    Parameters
    ----------
    current : float
        Above 0. [A]
    b : BlockNumbers
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
    pieces: list[tuple[float, float]], b: BlockNumbers, start: float = 1.0, repeat: bool = False
) -> float:
    """When a block is empty under pieces of constant current, in closed form inside each piece.

    Parameters
    ----------
    pieces : list of (float, float)
        Duration [s] and current [A, discharge positive], in order.
    b : BlockNumbers
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
