"""Cost of unlike blocks, as a ratio within one run.

python -m pytest tests/benchmarks/test_laws.py --benchmark-only -s
"""

from __future__ import annotations

from timeit import repeat

import pytest

from ridesim.day import load_day
from ridesim.ride.pack.unlike_blocks import RealBlock, ride_on_blocks
from ridesim.ride.simulate import simulate


@pytest.fixture(scope="module")
def seven_hours():
    """The festival from 14:00: the seven hours and more between the rehearsal and the truck."""
    day = load_day("harbour_festival")
    activities = day.activity[2:]
    return day.changed({"activity": activities})


def test_unlike_blocks_cost_less_than_the_ride(benchmark, heron, seven_hours):
    ride = simulate(heron, seven_hours)
    blocks = [[RealBlock("A"), RealBlock("B", health=0.6), RealBlock("C")]]
    benchmark.pedantic(ride_on_blocks, (ride, blocks), rounds=30, warmup_rounds=3)
    alone = min(repeat(lambda: simulate(heron, seven_hours, keep_rows=False), repeat=20, number=1))
    benchmark.extra_info.update(blocks_over_ride=benchmark.stats.stats.min / alone)
    print(f"\nunlike blocks over the ride: {benchmark.stats.stats.min / alone:.2f}")
    assert benchmark.stats.stats.min < 3.0 * alone
