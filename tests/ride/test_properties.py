"""What must hold for every build and day."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from ridesim.day import Activity, Leg, Route
from ridesim.physics.capacity_laws import LAW_NAMES
from ridesim.ride.simulate import simulate, simulate_many
from ridesim.ride.steady import steady_range, top_speed_kmh
from tests.long import LONG
from tests.ride.machines import builds, day_of, days, make_build, routes, trace_of

LEDGER = 1e-6
"""Largest part of the energy through the pack that the ledger may leave unexplained."""

every = settings(deadline=None, max_examples=60 if LONG else 12, suppress_health_check=[HealthCheck.too_slow])


@every
@given(builds(), days(), st.data())
def test_the_ledger_closes_and_the_outcome_is_what_the_kept_rows_say(build, day, data):
    ride = simulate(build, day, data.draw(st.sampled_from(LAW_NAMES)))
    assert abs(ride.outcome.ledger_residual) < LEDGER
    rows, frame = ride.rows, ride.frame
    assert np.isfinite(frame.select_dtypes("number").to_numpy()).all()
    # The outcome also looks at the bends inside a step, where the current peaks; the rows stand at the steps' ends.
    lowest, span = ride.outcome.lowest_pack_voltage_v, build.pack.full_voltage_v - build.cutoff_voltage_v
    assert lowest <= rows["pack_voltage_v"].min() <= lowest + 0.05 * span
    assert (
        0.0
        <= ride.outcome.highest_pack_current_a - rows["pack_current_a"].max()
        <= 0.1 * build.controller.max_battery_current_a
    )
    assert frame["winding_c"].max() == ride.outcome.hottest_winding_c
    assert frame["distance_m"].iloc[-1] == pytest.approx(1000.0 * ride.outcome.distance_km)
    assert frame["duty"].between(0.0, 1.0 + 1e-9).all()
    assert (frame["speed_mps"] >= 0.0).all()
    assert (np.diff(frame["time_s"]) > 0.0).all()
    assert frame["state_of_charge"].between(-1e-9, 1.0 + 1e-9).all()


@every
@given(builds(), routes(), st.floats(0.1, 0.6), st.floats(0.02, 0.4))
def test_more_charge_is_never_less_distance(build, route, low, more):
    rides = [simulate(build, _laps(route, charge), keep_rows=False) for charge in (low, min(1.0, low + more))]
    small, large = (ride.outcome for ride in rides)
    # A motor beyond its class weakens until it no longer starts; then heat ends the ride, not charge.
    assume(max(small.hottest_winding_c, large.hottest_winding_c) < build.motor.winding_limit_c)
    # A pack that its currents empty is at its end; one that the controller takes ever less from may creep on beyond that.
    small_crept, large_crept = (ride.moments.empty_s is None for ride in rides)
    assume(large_crept or not small_crept)
    assert large.distance_km >= small.distance_km * (1.0 - 1e-4) - 1e-6  # both carry the stepper's own error


def _laps(route: Route, charge: float):
    return day_of(Activity(name="ride", route=route, laps=150), start_state_of_charge=charge)


@every
@given(builds(), st.floats(0.0, 1.0), st.floats(-3.0, 20.0), st.floats(0.0, 10.0))
def test_steeper_is_never_faster(build, charge, grade, more):
    gentle = top_speed_kmh(build, charge, grade)
    assert top_speed_kmh(build, charge, grade + more) <= gentle + 1e-6


@every
@given(builds(), st.floats(3.0, 12.0), st.floats(10.0, 30.0))
def test_a_trace_is_followed_exactly_where_the_pull_allows(build, speed, seconds):
    trace = trace_of(
        (0.0, 0.0), (seconds, speed), (seconds + 30.0, speed), (seconds + 50.0, 0.0), (seconds + 55.0, 0.0)
    )
    ride = simulate(build, day_of(Activity(name="trace", trace=trace)))
    assume(ride.outcome.seconds_below_command == 0.0)
    frame = ride.frame
    commanded = np.interp(frame["time_s"], trace.time_s, trace.speed_kmh / 3.6)
    assert np.abs(frame["speed_mps"] - commanded).max() < 1e-9
    assert ride.outcome.distance_km == pytest.approx(trace.length_m / 1000.0, rel=1e-9)


@every
@given(builds(), days(), st.data())
def test_halving_the_step_changes_nothing(build, day, data):
    law = data.draw(st.sampled_from(LAW_NAMES))
    coarse, fine = (simulate(build, day, law, fineness=each).outcome for each in (1.0, 2.0))
    assert coarse.finished == fine.finished
    assert coarse.end_state_of_charge == pytest.approx(fine.end_state_of_charge, abs=1e-3)
    assert coarse.distance_km == pytest.approx(fine.distance_km, rel=1e-3)
    assert coarse.energy_wh == pytest.approx(fine.energy_wh, rel=1e-3, abs=1e-6)
    span = build.pack.full_voltage_v - build.cutoff_voltage_v
    assert coarse.lowest_pack_voltage_v == pytest.approx(fine.lowest_pack_voltage_v, abs=1e-3 * span)
    rise = fine.hottest_winding_c - day.ambient_c
    assert coarse.hottest_winding_c == pytest.approx(fine.hottest_winding_c, abs=1e-3 * max(5.0, rise))


@every
@given(builds(), routes(), st.integers(1, 4), st.integers(1, 4))
def test_a_day_may_be_cut_into_activities_at_a_stop(build, route, first, second):
    whole = simulate(build, day_of(Activity(name="all", route=route, laps=first + second))).outcome
    halves = [Activity(name="one", route=route, laps=first), Activity(name="two", route=route, laps=second)]
    cut = simulate(build, day_of(*halves)).outcome
    assume(whole.finished)
    _same(whole, cut)


@every
@given(builds(), st.floats(3.0, 12.0), st.floats(20.0, 80.0))
def test_a_trace_may_be_cut_while_moving(build, speed, at):
    points = [(0.0, 0.0), (15.0, speed), (90.0, 0.8 * speed), (110.0, 0.0)]
    whole = trace_of(*points)
    there = float(np.interp(at, whole.time_s, whole.speed_kmh))
    before = [p for p in points if p[0] < at] + [(at, there)]
    after = [(at, there)] + [p for p in points if p[0] > at]
    one = simulate(build, day_of(Activity(name="all", trace=whole))).outcome
    halves = [Activity(name="one", trace=trace_of(*before)), Activity(name="two", trace=trace_of(*after))]
    two = simulate(build, day_of(*halves)).outcome
    assume(one.finished)
    _same(one, two)


@every
@given(builds(), st.floats(5.0, 300.0), st.floats(0.1, 0.9), st.sampled_from([0.0, 3.0]))
def test_a_stand_may_be_cut_anywhere(build, minutes, share, charger):
    def stand(span):
        return Activity(name="stand", duration_min=span, charge_current_a=charger, lighting=1.0)

    one = simulate(build, day_of(stand(minutes), start_state_of_charge=0.5)).outcome
    two = simulate(
        build, day_of(stand(share * minutes), stand((1.0 - share) * minutes), start_state_of_charge=0.5)
    ).outcome
    _same(one, two)


def _same(one, two):
    assert two.end_state_of_charge == pytest.approx(one.end_state_of_charge, abs=1e-5)
    assert two.distance_km == pytest.approx(one.distance_km, rel=1e-6)
    assert two.energy_wh == pytest.approx(one.energy_wh, rel=3e-4, abs=3e-4)
    assert two.hottest_winding_c == pytest.approx(one.hottest_winding_c, abs=2e-2)
    assert two.lowest_pack_voltage_v == pytest.approx(one.lowest_pack_voltage_v, abs=2e-3)


def test_many_at_once_gives_what_one_by_one_gives():
    day = day_of(Activity(name="ride", trace=trace_of((0.0, 0.0), (10.0, 12.0), (60.0, 12.0), (70.0, 0.0))))
    several = [make_build(drive__motor_teeth=teeth) for teeth in (9, 11, 13, 15)]
    alone = [simulate(build, day).outcome for build in several]
    assert [ride.outcome for ride in simulate_many(several, day)] == alone


def test_a_leg_without_end_is_left_after_a_day():
    crawl = Route("long", (Leg(1000.0, 0.02, 0.0, "asphalt", 0.0),))
    ride = simulate(make_build(), day_of(Activity(name="crawl", route=crawl)), keep_rows=False)
    assert not ride.outcome.finished
    assert ride.stages[0].end_s - ride.stages[0].start_s == pytest.approx(86_400.0, abs=1.0)


def test_a_range_without_end_is_not_called_the_reserve():
    none = {"motor__friction_torque_nm": 0.0, "motor__viscous_nm_per_rad_s": 0.0, "controller__standby_current_a": 0.0}
    idle = make_build(vehicle__rolling_coefficient=0.0, vehicle__drag_area_m2=0.0, **none)
    assert steady_range(idle, 5.0).ended_by == "nothing within 116 days"
    assert steady_range(make_build(), 5.0).ended_by == "reserve"
