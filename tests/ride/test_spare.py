"""What could still be ridden after a day, against days that ride it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ridesim.day import Activity, Leg, Route
from ridesim.physics.capacity_laws import LAW_NAMES
from ridesim.ride.simulate import simulate
from ridesim.ride.steady import steady_range
from ridesim.vehicle import load_build
from tests.ride.machines import day_of, make_build, trace_of

LOOP = trace_of((0.0, 0.0), (15.0, 18.0), (200.0, 18.0), (215.0, 0.0))
"""A kilometre in 215 seconds, from stand to stand."""


def loop(repeats: int, **keys):
    return Activity(name="loop", trace=LOOP, repeats=repeats, **keys)


@pytest.mark.parametrize("law", LAW_NAMES)
def test_spare_is_what_a_longer_day_rides(law):
    """Six rounds, and what is to spare after them, are what the same build rides when it is asked for far more."""
    build = make_build()
    short, long = (simulate(build, day_of(loop(n), ambient_c=20.0), law) for n in (6, 200))
    assert short.outcome.finished
    assert not long.outcome.finished
    assert long.outcome.lost_by_pack
    rows = long.rows
    empty = float(rows["distance_m"][int((rows["state_of_charge"] <= 0.0).argmax())]) / 1000.0
    reached = short.outcome.distance_km + short.outcome.spare_to_empty_km
    assert reached == pytest.approx(min(empty or math.inf, long.outcome.distance_km), rel=0.01)
    first = int((rows["state_of_charge"] < build.pack.reserve).argmax())
    around = rows[[first, first - 1]]
    reserve = float(np.interp(build.pack.reserve, around["state_of_charge"], around["distance_m"])) / 1000.0
    assert short.outcome.distance_km + short.outcome.spare_km == pytest.approx(reserve, rel=0.01)


@pytest.mark.parametrize("law", LAW_NAMES)
def test_left_at_this_load_is_a_share_of_what_a_full_pack_gives(law):
    build = make_build(controller__cutoff_voltage_v=10.0)
    full = simulate(build, day_of(loop(200)), law)
    emptied = full.outcome.missing_ah
    after = simulate(build, day_of(loop(6)), law).outcome
    assert after.spare.full_ah == pytest.approx(emptied, rel=0.03)
    assert after.left_at_this_load == pytest.approx(1.0 - after.missing_ah / emptied, abs=0.03)


def test_more_capacity_always_spares_more(festival):
    build = load_build("heron_36v")
    shares = (0.9, 1.0, 1.1, 1.2, 1.4)
    spared = [
        simulate(build.changed({"pack.block_capacity_ah": 22.0 * share}), festival).outcome.spare_km for share in shares
    ]
    assert spared == sorted(spared)
    assert spared[-1] > spared[0] + 3.0


def test_a_day_that_the_pack_loses_is_short_by_what_is_not_ridden():
    outcome = simulate(make_build(), day_of(loop(60))).outcome
    assert not outcome.finished
    assert outcome.lost_by_pack
    assert outcome.spare_km == outcome.spare_to_empty_km == outcome.distance_km - outcome.planned_distance_km
    assert outcome.spare_km < -10.0


def test_a_hill_that_stops_it_says_nothing_of_the_pack():
    wall = Route("wall", (Leg(length_m=50.0, speed_kmh=6.0, grade_percent=60.0),))
    outcome = simulate(make_build(), day_of(Activity(name="wall", route=wall))).outcome
    assert not outcome.finished
    assert outcome.spare_km is None
    assert outcome.spare_to_empty_km is None


def test_a_day_that_rides_nowhere_spares_nothing():
    outcome = simulate(make_build(), day_of(Activity(name="stand", duration_min=30.0))).outcome
    assert (outcome.spare, outcome.spare_km, outcome.left_at_this_load) == (None, None, None)


def test_the_longest_with_a_rider_is_ridden_on_unless_the_day_names_another():
    day = day_of(
        loop(3), Activity(name="short", trace=LOOP), Activity(name="pushed", trace=LOOP, repeats=9, aboard=False)
    )
    assert simulate(make_build(), day).outcome.spare.activity == "loop"
    named = day.changed({"spare_activity": "pushed"})
    assert simulate(make_build(), named).outcome.spare.activity == "pushed"


def test_a_large_pack_s_spare_goes_on_in_a_straight_line():
    """Not ridden to its end, which would take days: eight times the pack spares about eight times as much."""
    small, large = (
        simulate(make_build(pack__block_capacity_ah=ah, pack__block_mass_kg=7.0), day_of(loop(1))).outcome
        for ah in (200.0, 1600.0)
    )
    assert large.spare_to_empty_km == pytest.approx(8.0 * small.spare_to_empty_km, rel=0.1)
    assert large.spare_km == pytest.approx(0.8 * large.spare_to_empty_km, rel=0.05)


@pytest.mark.parametrize("air_c", [5.0, 14.0, 30.0])
def test_a_range_at_a_steady_speed_in_the_day_s_air_is_what_a_level_ride_rides(air_c):
    """Within 3 %: the ride gets up to speed first, and its motor warms."""
    build = make_build()
    day = day_of(Activity(name="level", trace=trace_of((0.0, 0.0), (15.0, 15.0), (20_000.0, 15.0))), ambient_c=air_c)
    rows = simulate(build, day).rows
    first = int((rows["state_of_charge"] < build.pack.reserve).argmax())
    around = rows[[first, first - 1]]
    ridden_km = float(np.interp(build.pack.reserve, around["state_of_charge"], around["distance_m"])) / 1000.0
    assert steady_range(build, 15.0, day).distance_km == pytest.approx(ridden_km, rel=0.03)


def test_what_a_meter_counts_and_a_voltmeter_shows():
    """Out less in; the rested volts follow out less what was stored of in."""
    build = make_build(pack__coulombic_efficiency=0.9, pack__open_circuit_v_per_cell=[[0.0, 1.9], [1.0, 2.1]])
    stand = Activity(name="charge", duration_min=60.0, charge_current_a=4.0, aboard=False)
    outcome = simulate(build, day_of(loop(8), stand, ambient_c=25.0)).outcome
    into = outcome.out_ah - outcome.missing_ah
    assert 1.0 < into <= 4.0
    stored = 1.0 - (outcome.out_ah - 0.9 * into) / 22.0
    assert outcome.rested_block_v == pytest.approx(6.0 * (1.9 + 0.2 * stored), abs=1e-3)
