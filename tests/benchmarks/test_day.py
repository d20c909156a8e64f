"""Speed of a day's simulation, as ratios within one run.

    python -m pytest tests/benchmarks/test_day.py --benchmark-only -s

The opponent is ``tests/reference`` as an engineer would write it: LSODA at rtol 1e-6, phase by phase, plain Python.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from time import perf_counter

import numba

from ridesim.choose.gearing import gearing
from ridesim.day import Activity
from ridesim.ride.batch import packed, ride_all
from ridesim.ride.simulate import simulate, simulate_many
from tests.reference.plain_solution import reference_ride
from tests.ride.machines import make_build
from tests.ride.test_against_reference import Resolved

FASTER_THAN_PLAIN = 300.0
FASTER_IN_A_BATCH, OF_THE_CORES, ROUNDS = 800.0, 0.9, 3
"""Two cores should give a batch this share of what they give a plain loop, which a busy machine keeps below two."""
LOOP = 200_000_000
MAP_SHARE = 0.5
"""A map of sprockets may take this share of as many single days."""
STANDING_SHARE = 0.15
"""Ten hours more of standing may cost this share of the day. Its steps are a few times as long as the polarisation takes."""


def best_of(times: int, job) -> float:
    """Shortest of several runs. [s]"""
    spans = []
    for _ in range(times):
        start = perf_counter()
        job()
        spans.append(perf_counter() - start)
    return min(spans)


@numba.njit(nogil=True)
def counted(times: int) -> float:
    """A loop that touches nothing but its own registers."""
    total = 0.0
    for i in range(times):
        total += 1.0 / (1.0 + i)
    return total


def side_by_side(job) -> None:
    """The same job on two threads at once."""
    with ThreadPoolExecutor(2) as pool:
        for done in [pool.submit(job), pool.submit(job)]:
            done.result()


def test_whole_day_against_lsoda(benchmark, heron, festival):
    benchmark.pedantic(simulate, (heron, festival), rounds=50, warmup_rounds=3)
    ours = benchmark.stats.stats.min
    resolved = Resolved(heron)
    plain = best_of(2, lambda: reference_ride(resolved, festival, rtol=1e-6))
    reference_ride(resolved, festival, rtol=1e-6, compiled_rhs=True)
    compiled = best_of(3, lambda: reference_ride(resolved, festival, rtol=1e-6, compiled_rhs=True))
    benchmark.extra_info.update(times_faster_than_plain=plain / ours, times_faster_than_compiled=compiled / ours)
    print(f"\nfestival day: ours {1e3 * ours:.2f} ms; LSODA plain {plain:.2f} s, {plain / ours:.0f} times; "
          f"LSODA with a compiled right-hand side {compiled:.2f} s, {compiled / ours:.0f} times")  # fmt: skip
    assert plain / ours >= FASTER_THAN_PLAIN


def test_standing_costs_nothing(benchmark, heron, festival):
    longer = festival.changed(
        {"activity": (*festival.activity, Activity(name="night on the stand", duration_min=600.0, lighting=0.1))}
    )
    benchmark.pedantic(simulate, (heron, longer), rounds=3, warmup_rounds=3)
    rounds = [
        (best_of(1, lambda: simulate(heron, longer)), best_of(1, lambda: simulate(heron, festival))) for _ in range(100)
    ]
    with_night, without = (min(spans) for spans in zip(*rounds, strict=True))
    share = with_night / without - 1.0
    benchmark.extra_info.update(cost_of_ten_hours=share)
    print(f"\nten hours of standing cost {100.0 * share:.1f} % of the day")
    assert share < STANDING_SHARE


def test_a_thousand_builds_in_one_call(benchmark, heron, festival):
    several = [
        make_build(
            name=f"{i}",
            drive__motor_teeth=9 + i % 8,
            drive__wheel_teeth=40 + i % 37,
            pack__block_capacity_ah=12.0 + i % 29,
            pack__blocks_in_series=2 + i % 4,
        )
        for i in range(1000)
    ]
    ride_all(several, festival)
    counted(1)
    spans: dict[str, list[float]] = {"one": [], "two": [], "loop": [], "two loops": []}
    for _ in range(ROUNDS):  # in turns, so that a busy moment of the machine falls on all
        spans["one"].append(best_of(1, lambda: ride_all(several, festival, workers=1)))
        spans["two"].append(best_of(1, lambda: ride_all(several, festival, workers=2)))
        spans["loop"].append(best_of(1, lambda: counted(LOOP)))
        spans["two loops"].append(best_of(1, lambda: side_by_side(lambda: counted(LOOP))))
    benchmark.pedantic(simulate_many, (several, festival), rounds=1)
    one, two, loop, loops = (min(taken) for taken in spans.values())
    gain, cores = one / two, 2.0 * loop / loops
    packing = best_of(3, lambda: packed(several, festival, None))
    resolved = Resolved(heron)
    plain = best_of(2, lambda: reference_ride(resolved, festival, rtol=1e-6))
    benchmark.extra_info.update(
        days_per_second=1000.0 / two, gain_of_cores=gain, gain_of_a_loop=cores, times_lsoda=1000.0 * plain / two
    )
    print(f"\n{1000.0 / two:.0f} days a second for 1,000 builds, {1000.0 * plain / two:.0f} times LSODA for one each; "
          f"{gain:.2f} times one core, where a loop gets {cores:.2f}; {1e3 * packing:.0f} µs of Python a build")  # fmt: skip
    assert 1000.0 * plain / two >= FASTER_IN_A_BATCH
    assert gain >= OF_THE_CORES * cores


def test_a_map_of_sprockets_costs_less_than_its_pairs_one_by_one(benchmark, heron, festival):
    """40 × 40 pairs at three voltages over the whole day; start and speed are seen without a ride, one ratio is ridden once."""
    options = {"motor_teeth": list(range(8, 48)), "wheel_teeth": list(range(20, 100, 2)), "blocks_in_series": [2, 3, 4]}
    gearing(heron, festival, {"motor_teeth": [11], "wheel_teeth": [55]})
    found = benchmark.pedantic(gearing, (heron, festival, options), rounds=1)
    span, alone = benchmark.stats.stats.min, best_of(20, lambda: simulate(heron, festival))
    benchmark.extra_info.update(
        days=len(found), ridden=int(found["ridden"].sum()), of_single_days=span / (len(found) * alone)
    )
    print(
        f"\n{len(found)} pairs in {span:.1f} s, {found['ridden'].sum()} of them ridden; {span / (len(found) * alone):.2f} of as many single days"
    )
    assert span < MAP_SHARE * len(found) * alone
