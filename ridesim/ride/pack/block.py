"""One block of a pack: the capacity laws in closed form under a constant current.

Each law carries two charges, as in a ride (:func:`ridesim.ride.core.pack.charges_at`). A ride integrates their rates;
:func:`charges_after` gives the same result in closed form.
"""

from __future__ import annotations

from math import exp

from ridesim.physics.capacity_laws import FILTER_S, PEUKERT, TWO_WELL, peukert_factor, two_well_after
from ridesim.physics.compiled import compiled
from ridesim.physics.pack import REFERENCE_C
from ridesim.ride.core.pack import FILTER_SCALE, NEARLY_NOTHING
from ridesim.ride.core.records import PackNumbers
from ridesim.ride.machine import pack_numbers
from ridesim.vehicle import Pack


def block_numbers(
    pack: Pack, temperature: float = REFERENCE_C, battery_model: str | None = None, health: float | None = None
) -> PackNumbers:
    """Numbers of one block of a pack, as :func:`ridesim.ride.machine.pack_numbers`."""
    return pack_numbers(pack, temperature, battery_model, one_block=True, health=health)


def whole_charge(b: PackNumbers) -> float:
    """All the charge between a rested full block and an empty one, under its law. [A s]"""
    if b.law == PEUKERT:
        return b.capacity
    return b.well_whole if b.law == TWO_WELL else b.law_gain * b.law_capacity


@compiled
def charges_after(
    q1: float, q2: float, current: float, time: float, b: PackNumbers, health: float = 1.0
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
    b : PackNumbers
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
        # z rises in proportion to the charge put back, so that q2 is 0 when z is 1; beyond full, ampere-hour for ampere-hour.
        up = min(-share, q2) if q2 > NEARLY_NOTHING else 0.0
        gain = up * (1.0 - q1) / q2 if up > 0.0 else 0.0
        return q1 + gain - share - up, q2 + share
    if b.law == TWO_WELL:
        return two_well_after(q1, q2, counted / b.well_whole, time, b.well_share, b.well_rate)
    settled = max(0.0, current) / (FILTER_SCALE * b.law_reference)
    return q1 + counted / b.law_capacity * time, settled + (q2 - settled) * exp(-time / FILTER_S)
