"""Many rides in one compiled call: the same as one by one, side by side, interrupted, and with one among them that gives up."""

from __future__ import annotations

import gc
from concurrent.futures import ThreadPoolExecutor
from time import monotonic, sleep
from weakref import ref

import numpy as np
import pytest

from ridesim.day import Activity, Leg, Route
from ridesim.ride import batch
from ridesim.ride.batch import packed, ride_all
from ridesim.ride.parallel import in_parallel
from ridesim.ride.simulate import simulate, simulate_many
from ridesim.vehicle import Build
from ridesim.words import InputProblem
from tests.ride.machines import day_of, make_build, trace_of

SHORT = day_of(
    Activity(name="ride", trace=trace_of((0.0, 0.0), (10.0, 12.0), (60.0, 12.0), (70.0, 0.0)), repeats=20),
    Activity(name="charge", duration_min=20.0, charge_current_a=3.0),
    Activity(name="lap", route=Route("lap", (Leg(200.0, 9.0, 4.0, "asphalt", 5.0), Leg(200.0, 12.0, -4.0, "gravel", 0.0))), laps=4),
)  # fmt: skip


def several(count: int = 10) -> list[Build]:
    return [
        make_build(name=str(i), drive__motor_teeth=9 + i % 8, pack__block_capacity_ah=8.0 + i) for i in range(count)
    ]


def same_bits(one: batch.Rides, other: batch.Rides) -> None:
    for name in ("runs", "notes"):
        assert getattr(one, name).tobytes() == getattr(other, name).tobytes()


def test_what_nobody_holds_is_given_back_at_once():
    """Rides and changed builds that hold themselves are left to the collector, which stops a panel for a second where there are many."""
    gc.collect()
    gc.disable()
    try:
        rides = simulate_many(several(3), SHORT)
        ride = rides[1]
        assert ride is rides[1]
        assert ride.stages, ride.outcome.figures
        given_back = ref(rides), ref(ride)
        del rides, ride
        assert [each() for each in given_back] == [None, None]
        gc.collect()
        for teeth in range(9, 19):
            assert make_build().changed({"drive.motor_teeth": teeth}).widths
        assert gc.collect() < 10
    finally:
        gc.enable()


def test_batch_and_single_agree_to_the_last_bit():
    builds = several()
    rides = simulate_many(builds, SHORT)
    for i, build in enumerate(builds):
        alone = simulate(build, SHORT)
        assert alone.outcome == rides[i].outcome
        assert alone.stages == rides[i].stages
        assert alone.moments == rides[i].moments
        assert alone.outcome.spare == rides[i].outcome.spare


def test_columns_are_the_outcomes():
    rides = simulate_many(several(), SHORT)
    for name, column in rides.figures.items():
        assert column.tolist() == [getattr(ride.outcome, name) for ride in rides]
    assert rides.spare["to_reserve_km"].tolist() == [ride.outcome.spare.to_reserve_km for ride in rides]


def test_however_many_threads():
    builds = several(40)
    for workers in (1, 2, 3):
        same_bits(ride_all(builds, SHORT, workers=workers), ride_all(builds, SHORT))


def test_two_batches_at_once_and_one_in_a_thread():
    builds = several(40)
    quiet = ride_all(builds, SHORT)
    with ThreadPoolExecutor(2) as pool:
        for rides in pool.map(lambda _: ride_all(builds, SHORT), range(4)):
            same_bits(rides, quiet)


def test_one_that_gives_up_leaves_the_others_alone():
    builds = several()
    rides = packed(builds, SHORT, None)
    rides.runs["most_tries"][3] = 40
    given = rides.runs, rides.machines, rides.settings, rides.chargers, rides.day, rides.notes
    in_parallel(lambda first, last: batch.journey.ride_days(first, last, *given, batch.no_rows()), rides.runs)
    whole = ride_all(builds, SHORT)
    assert rides[3].moments.given_up_s is not None
    assert not rides[3].outcome.finished
    assert rides[3].stages[0].left
    for i in (0, 1, 2, *range(4, 10)):
        assert rides[i].outcome == whole[i].outcome


def test_what_is_no_build_is_named_with_its_place():
    with pytest.raises(TypeError, match=r"builds\[2\]: expected a Build"):
        simulate_many([make_build(), 7], SHORT)
    with pytest.raises(InputProblem, match="no_such_build"):
        simulate_many([make_build(), "no_such_build"], SHORT)
    assert len(simulate_many([], SHORT)) == 0


def test_an_interrupt_takes_effect_at_once(monkeypatch):
    """What waits for a batch is interrupted after a tenth of a second, as Ctrl-C does it: not one of its rides is ended first."""
    lap = Route("lap", tuple(Leg(20.0, 6.0 + i % 5, 0.0, "paving", 1.0) for i in range(30)))
    long = day_of(*[Activity(name=f"ride {i}", route=lap, laps=100) for i in range(20)])
    caught = {}

    def interrupted(done: object, seconds: float) -> None:
        sleep(0.1)
        caught["at"] = monotonic()
        raise KeyboardInterrupt

    monkeypatch.setattr("ridesim.ride.parallel.wait", interrupted)
    simulate(make_build(), SHORT)  # compiled before the clock runs
    tireless = make_build(
        pack__block_capacity_ah=10_000.0,
        pack__block_resistance_ohm=0.004,
        pack__block_mass_kg=9.0,
        motor__resistance_ohm=0.004,
    )
    begun = monotonic()
    assert simulate(tireless, long).outcome.finished
    one_ride = monotonic() - begun
    with pytest.raises(KeyboardInterrupt):
        ride_all([tireless] * 64, long)
    assert monotonic() - caught["at"] < one_ride


def test_memory_of_a_batch_is_that_of_its_records():
    rides = ride_all(several(200), SHORT)
    assert rides.runs.nbytes / 200 < 4000
    assert all(rows.nbytes == 0 for rows in rides.rows)
    assert np.isfinite(rides.figures["distance_km"]).all()
