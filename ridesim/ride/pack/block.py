"""One block of a pack: the capacity laws in closed form under a constant current.

A ride integrates the rates of :func:`ridesim.ride.core.pack.charge_rates`; :func:`charges_after` gives the same result in closed form.
"""

from __future__ import annotations

from math import exp

from ridesim.physics.capacity_laws import FILTER_S, TWO_WELL, two_well_after
from ridesim.physics.compiled import compiled
from ridesim.physics.pack import REFERENCE_C
from ridesim.ride.core.pack import FILTER_SCALE, NEARLY_NOTHING, loss_factor
from ridesim.ride.core.records import PackNumbers
from ridesim.ride.machine import pack_numbers
from ridesim.vehicle import Pack


def block_numbers(
    pack: Pack, temperature: float = REFERENCE_C, battery_model: str | None = None, health: float | None = None
) -> PackNumbers:
    """Numbers of one block of a pack, as :func:`ridesim.ride.machine.pack_numbers`."""
    return pack_numbers(pack, temperature, battery_model, one_block=True, health=health)


@compiled
def charges_after(
    left: float, missing: float, filtered: float, current: float, time: float, b: PackNumbers, health: float = 1.0
) -> tuple[float, float, float]:
    """What is left, missing and filtered after a constant current, in closed form.

    Parameters
    ----------
    left, missing, filtered : float
        At the start, as in :func:`ridesim.ride.core.pack.charge_rates`.
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
        The three at the end.
    """
    rate = (current if current >= 0.0 else b.coulombic * current) / (health * b.capacity)
    share = rate * time
    settled = max(0.0, current) / (FILTER_SCALE * b.rated_current)
    smoothed = settled + (filtered - settled) * exp(-time / FILTER_S)
    if b.law == TWO_WELL:
        available = b.well_share * left
        y1, y2 = two_well_after(available, 1.0 - missing - available, rate, time, b.well_share, b.well_rate)
        return y1 / b.well_share, 1.0 - y1 - y2, smoothed
    if current > 0.0:
        return left - share * loss_factor(current, b), missing + share, smoothed
    # What is left rises in proportion to the charge put back, so that nothing misses when it is 1; beyond full, ampere-hour for ampere-hour.
    up = min(-share, missing) if missing > NEARLY_NOTHING else 0.0
    gain = up * (1.0 - left) / missing if up > 0.0 else 0.0
    return left + gain - share - up, missing + share, smoothed
