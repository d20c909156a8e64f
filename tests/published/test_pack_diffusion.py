"""Our wells beside a diffusion-type battery model: the order of the load matters, and rests give charge back.

Rakhmatov, Vrudhula, Wallach, ISLPED 2002, doi 10.1109/LPE.2002.146729. Load tables and lifetimes of the slow cell
(α = 40375 mA min, β = 0.273 min^-1/2, from memory, reproduced) as read in the example test of a network-simulation
library. The models differ, so only what both must say alike is compared.
"""

from __future__ import annotations

import pytest

from ridesim.physics.capacity_laws import PEUKERT
from tests.published.shared import wells
from tests.ride.block_runs import lifetime_seconds

# Milliamperes from the minute given, then the printed lifetime.
ROWS = {
    "C1": ([(628, 0), (0, 19.5), (628, 26)], 36.2),
    "C6": ([(628, 0), (0, 19.5), (628, 29.9)], 41.0),
    "C7": ([(628, 0), (0, 19.5), (628, 22.1)], 30.8),
    "C10": (
        [(300, 0), (628, 0.5), (494.7, 5.5), (252.3, 10.5), (234.1, 35.5), (137.9, 60.5), (113.9, 85.5), (265.6, 110.5)],
        132.6,
    ),
    "C11": (
        [(300, 0), (113.9, 0.5), (137.9, 25.5), (234.1, 50.5), (252.3, 75.5), (494.7, 100.5), (628, 105.5), (265.6, 110.5)],
        107.4,
    ),
}  # fmt: skip
SLOW = wells(40375.0, 0.35, 0.02)


def _lifetime(name: str, block) -> float:
    load = ROWS[name][0]
    ends = [start for _, start in load[1:]] + [1e5]
    return lifetime_seconds([(end - start, current) for (current, start), end in zip(load, ends, strict=True)], block)


def test_two_wells_agree_on_the_order_of_the_load():
    """C10 (heavy first) and C11 (heavy last) carry the same charge: printed 132.6 against 107.4 min.

    Two wells must order them likewise; per-instant Peukert cannot tell them apart before the last piece.
    """
    assert ROWS["C11"][1] < ROWS["C10"][1]
    assert _lifetime("C11", SLOW) < _lifetime("C10", SLOW)
    peukert = wells(40375.0, 0.5, 1.0, PEUKERT, rated_current=100.0)
    assert _lifetime("C11", peukert) == pytest.approx(_lifetime("C10", peukert), rel=1e-9)


@pytest.mark.parametrize(("long", "short"), [("C6", "C1"), ("C1", "C7")])
def test_two_wells_agree_that_a_longer_rest_gives_more(long, short):
    """A longer pause in the same load gives more time under load (lifetime less the pause), in both models."""
    pause = {"C1": 6.5, "C6": 10.4, "C7": 2.6}
    assert ROWS[long][1] - pause[long] > ROWS[short][1] - pause[short]
    assert _lifetime(long, SLOW) - pause[long] > _lifetime(short, SLOW) - pause[short]
