"""The stepped day with a controller that cuts out and one with a soft start: closed forms, the reference, what must always hold."""

from __future__ import annotations

import math
from datetime import time
from itertools import product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ridesim.choose.compare import compare
from ridesim.choose.findings import controller, start
from ridesim.day import Activity, Leg, Route, load_day, load_trace
from ridesim.day.day import clock
from ridesim.ride.core.phases import MOST_CUTS_IN_A_ROW
from ridesim.ride.simulate import simulate
from ridesim.ride.steady import time_to_speed
from ridesim.show.tables.text import ride_text
from tests.long import LONG
from tests.reference.plain_solution import reference_ride
from tests.ride.machines import builds, day_of, days, make_build, trace_of
from tests.ride.test_against_reference import Resolved, assert_alike

every = settings(deadline=None, max_examples=60 if LONG else 12, suppress_health_check=[HealthCheck.too_slow])

FLAT = {
    "pack__open_circuit_v_per_cell": [[0.0, 2.1], [1.0, 2.1]],
    "pack__resistance_rise": 0.0,
    "pack__activation_v_per_cell": 0.0,
    "pack__end_voltage_v_per_cell": [[20.0, 2.1]],
    "pack__resistance_per_k": 0.0,
    "pack__block_resistance_ohm": 0.02,
    "controller__standby_current_a": 0.0,
    "controller__freewheel_drop_v": 0.0,
}
"""A pack whose voltage hangs on current and time alone: 3 blocks of 12.6 V and 0.02 ohm."""
SPEED_MPS, SAG_V = 2e-5, 5e-4
"""The stepper's own errors a step, of speed and of the polarisation's voltage."""
WALL = Route("wall", (Leg(50.0, 6.0, 60.0, "asphalt", 0.0),))
"""A slope on which nothing starts: the motor is held."""
HILL = Route(
    "hill",
    (
        Leg(300.0, 12.0, 0.0, "asphalt", 0.0),
        Leg(120.0, 8.0, 6.0, "asphalt", 10.0),
        Leg(120.0, 12.0, -6.0, "asphalt", 0.0),
    ),
)


def frictionless(**changes):
    """Nothing but inertia against the motor's pull, and a motor that does not warm."""
    return make_build(
        vehicle__rolling_coefficient=0.0, vehicle__drag_area_m2=0.0, motor__friction_torque_nm=0.0,
        motor__viscous_nm_per_rad_s=0.0, motor__winding_heat_j_per_k=1e9, motor__case_heat_j_per_k=1e9,
        motor__winding_to_case_k_per_w=0.4, motor__case_to_air_k_per_w=0.9, controller__max_battery_current_a=1000.0,
        **changes,
    )  # fmt: skip


@pytest.mark.parametrize("ramp", [0.5, 2.0])
def test_a_launch_with_a_soft_start_is_the_integral_of_its_ramp(ramp):
    # I = I_max t/T, so a = c t/T with c = K I_max G η/(r m_e): v(T) = c T/2, x(T) = c T²/6.
    build = frictionless(controller__ramp_s=ramp)
    gear = build.drive.ratio / 0.3
    heavy = build.total_mass_kg() + 0.6 / 0.09 + 0.0012 * gear * gear
    full = 0.105 * 80.0 * gear * 0.88 / heavy
    launch = trace_of((0.0, 0.0), (0.01, 40.0), (60.0, 40.0))
    ride = simulate(build, day_of(Activity(name="launch", trace=launch), rider_acceleration_mps2=5.0))
    frame = ride.frame
    at = np.searchsorted(frame["time_s"], ramp)
    near = frame.iloc[at]
    late = near["time_s"] - ramp  # on the plateau by now: the ramp's end lies inside a step
    assert late < 0.1
    assert near["speed_mps"] == pytest.approx(full * ramp / 2.0 + full * late, abs=SPEED_MPS)
    moved = full * ramp * ramp / 6.0 + full * ramp / 2.0 * late + full * late * late / 2.0
    assert near["distance_m"] == pytest.approx(moved, rel=1e-4)
    assert time_to_speed(build, 3.6 * full * ramp / 2.0).time_s == pytest.approx(ramp, rel=1e-5)


def cuts(cutoff: float, restart: float) -> dict[str, object]:
    return {
        "controller__cutoff_action": "cut-out",
        "controller__cutoff_voltage_v": cutoff,
        "controller__restart_voltage_v": restart,
    }


def held(cutoff, restart, **changes):
    """The motor held on a slope, limited by the battery current of 30 A: the pack gives exactly that."""
    return make_build(
        **{**FLAT, "pack__polarisation_resistance_ohm": 0.0, **cuts(cutoff, restart), **changes}, controller__max_battery_current_a=30.0,
        controller__max_motor_current_a=1000.0, motor__resistance_ohm=0.2, motor__winding_heat_j_per_k=1e9,
        motor__case_heat_j_per_k=1e9, motor__winding_to_case_k_per_w=0.4, motor__case_to_air_k_per_w=0.9,
    )  # fmt: skip


def test_a_constant_load_cuts_out_and_comes_back_at_known_times():
    # V = E - R_0 I - V_pol, V_pol = R_1 I (1 - exp(-t/t_1)) on load, exp(-t/t_1) off load; E = 37.8 V, R_0 = R_1 = 0.06 ohm, I = 30 A.
    slow = {"pack__polarisation_resistance_ohm": 0.02, "pack__polarisation_time_s": 20.0}
    build = held(35.0, 37.0, **slow, controller__restart_delay_s=0.2)
    sagged = 37.8 - 1.8 - 35.0
    first = -20.0 * math.log(1.0 - sagged / 1.8)
    off = 20.0 * math.log(sagged / (37.8 - 37.0))
    again = -20.0 * math.log((1.8 - sagged) / (1.8 - 0.8))  # from V_pol = 0.8 V
    ride = simulate(build, day_of(Activity(name="held", route=WALL)))
    slope = (1.8 - sagged) / 20.0
    assert ride.moments.cut_off_s - 13 * 3600.0 == pytest.approx(first, abs=SAG_V / slope)
    assert ride.moments.cut_outs == 1 + math.floor((60.0 - first) / (off + again))
    frame = ride.frame
    runs = np.flatnonzero(np.diff((frame["motor_current_a"] > 0.0).astype(int)) == 1)
    back = frame["time_s"].to_numpy()[runs[0] + 1]
    assert back - ride.moments.cut_off_s + 13 * 3600.0 == pytest.approx(off, abs=SAG_V / (0.8 / 20.0))
    assert ride.outcome.lowest_pack_voltage_v == pytest.approx(35.0, abs=1e-6)
    assert ride.outcome.highest_pack_current_a == pytest.approx(30.0)


def test_a_rising_load_cuts_out_where_its_current_meets_the_cut_off():
    # At the cut-off the pack gives I_b = (E - V_cut)/R_0; the held motor takes I_b V_cut = I² (R + R_on) + V_br I.
    build = held(36.9, 37.5, controller__restart_delay_s=1.5, controller__ramp_s=8.0)
    path = 0.2 + 0.006

    def motor_current(watts):
        return (-1.0 + math.sqrt(1.0 + 4.0 * path * watts)) / (2.0 * path)

    at_cut_off = motor_current((37.8 - 36.9) / 0.06 * 36.9)
    full = motor_current(30.0 * (37.8 - 0.06 * 30.0))
    first = 8.0 * at_cut_off / full
    ride = simulate(build, day_of(Activity(name="held", route=WALL)))
    assert ride.moments.cut_off_s - 13 * 3600.0 == pytest.approx(first, abs=1e-3)
    # It comes back as soon as it may, and cuts out as before, until the 60 s of a stand are over.
    assert ride.moments.cut_outs == 1 + math.floor((60.0 - first) / (first + 1.5))
    last = min(1.5, (60.0 - first) % (first + 1.5))
    assert ride.moments.seconds_cut_out == pytest.approx(1.5 * (ride.moments.cut_outs - 1) + last, abs=0.01)


def test_endless_restarts_are_given_up():
    build = held(37.0, 37.1, controller__restart_delay_s=0.2)
    ride = simulate(build, day_of(Activity(name="held", route=WALL), Activity(name="rest", duration_min=5.0)))
    assert ride.moments.cut_outs == MOST_CUTS_IN_A_ROW + 1
    assert ride.stages[0].left
    assert ride.stages[0].end_s - ride.stages[0].start_s == pytest.approx(0.2 * MOST_CUTS_IN_A_ROW, abs=1e-6)
    assert ride.stages[1].end_s - ride.stages[1].start_s == pytest.approx(300.0)


def test_lights_and_standby_go_on_after_a_cut_out():
    lamps = {"supply": "main-pack", "load": [{"name": "lamps", "power_w": 36.0}]}
    build = held(37.0, 37.78, controller__standby_current_a=0.1, lighting=lamps)
    day = day_of(
        Activity(name="held", route=WALL, lighting=1.0), Activity(name="rest", duration_min=30.0, lighting=1.0)
    )
    ride = simulate(build, day)
    # The pack under the lights stays below the restart voltage: it never comes back, and the stand goes on in the light.
    assert ride.moments.cut_outs == 1
    amps = 36.0 / 0.9 / 37.8
    seconds = ride.stages[-1].end_s - ride.stages[0].start_s
    assert seconds == pytest.approx(60.0 + 1800.0, abs=1e-6)
    assert ride.frame["pack_current_a"].iloc[-1] == pytest.approx(amps + 0.1)
    assert ride.ledger_wh["lights"] == pytest.approx(amps * (37.8 - 0.06 * (amps + 0.1)) * seconds / 3600.0, rel=1e-6)
    assert ride.frame["motor_current_a"].max() == 0.0  # at once beyond the cut-off: no time under load


def test_a_charger_brings_it_back():
    build = held(37.0, 37.9)
    for charger, times in ((0.0, 1), (4.0, 2)):
        charge = Activity(name="charge", duration_min=5.0, charge_current_a=charger)
        day = day_of(
            Activity(name="one", route=WALL), charge, Activity(name="two", route=WALL), start_state_of_charge=0.5
        )
        assert simulate(build, day).moments.cut_outs == times


SWITCHED = {
    "soft start": {"controller__ramp_s": 2.0},
    "cut-out": cuts(34.0, 35.0),
    "cut-out, slow to come back": cuts(35.4, 37.2),
    "both": {**cuts(34.0, 35.0), "controller__ramp_s": 2.0},
}
ROUNDS = {
    "hill": lambda: day_of(Activity(name="hill", route=HILL, laps=30)),
    "cycle": lambda: day_of(Activity(name="cycle", trace=load_trace("idc_two_three_wheeler"), repeats=24)),
    "festival": lambda: load_day("harbour_festival"),
}


EVERY_ROUND = list(product(SWITCHED, ROUNDS, ["peukert", "two-well"]))
ONE_OF_EACH = [("soft start", "hill", "two-well"), ("cut-out", "cycle", "peukert"), ("both", "hill", "peukert")]


@pytest.mark.parametrize(("kind", "rounds", "law"), EVERY_ROUND if LONG else ONE_OF_EACH)
@pytest.mark.thorough
def test_the_reference_cuts_out_as_often_and_rides_as_far(kind, rounds, law):
    build, day = make_build(**SWITCHED[kind]), ROUNDS[rounds]()
    ride = simulate(build, day, law)
    truth = reference_ride(Resolved(build), day, law, compiled_rhs=True)
    found_, moments = ride.outcome, ride.moments
    assert moments.cut_outs == truth.cut_outs
    if truth.first_cut_out_s is not None:
        # On a long pull the voltage falls by some millivolts a second: half a second is a ten-thousandth of the pack's volts.
        assert moments.cut_off_s == pytest.approx(truth.first_cut_out_s, abs=0.5)
    assert [stage.name for stage in ride.stages if stage.left] == list(truth.left_activities)
    assert_alike(found_, truth, build, day)


@st.composite
def switched(draw):
    """A random build whose controller has a soft start, cuts out, or both; nothing on its main pack but the motor."""
    build = draw(builds())
    cutoff = draw(st.floats(0.80, 0.97)) * build.pack.nominal_voltage_v
    keys = {
        "ramp_s": draw(st.sampled_from([0.0, 0.3, 2.0, 10.0])),
        "cutoff_voltage_v": cutoff,
        "cutoff_action": draw(st.sampled_from(["fold-back", "cut-out"])),
    }
    if keys["cutoff_action"] == "cut-out":
        keys["restart_voltage_v"] = cutoff * draw(st.floats(1.005, 1.1))
        keys["restart_delay_s"] = draw(st.sampled_from([0.2, 2.0, 20.0]))
    table = {**build.controller.model_dump(exclude_none=True), **keys}
    return build.changed({"controller": type(build.controller).model_validate(table)})


@every
@given(switched(), days())
def test_ledger_bounds_and_currents_hold_with_any_controller(build, day):
    ride = simulate(build, day)
    frame, control = ride.frame, build.controller
    assert abs(ride.outcome.ledger_residual) < 1e-6
    driving = frame["motor_current_a"] > 0.0
    # The chopper steps down: what the pack gives beyond standby is never more than the motor gets.
    assert (frame["pack_current_a"] <= frame["motor_current_a"] + control.standby_current_a + 1e-9).all()
    assert frame["duty"].between(0.0, 1.0 + 1e-9).all()
    assert (frame["motor_current_a"] <= control.max_motor_current_a + 1e-9).all()
    if control.cutoff_action == "cut-out":
        assert (frame.loc[driving, "pack_voltage_v"] >= build.cutoff_voltage_v - 1e-6).all()
        minutes = (ride.stages[-1].end_s - ride.stages[0].start_s) / 60.0
        assert ride.moments.cut_outs <= (MOST_CUTS_IN_A_ROW + 1) * len(ride.stages) + minutes


def test_a_soft_start_begins_at_every_start_and_only_there():
    stop_and_go = trace_of(
        (0.0, 0.0), (5.0, 8.0), (20.0, 8.0), (25.0, 0.0), (30.0, 0.0), (35.0, 8.0), (40.0, 0.0), (45.0, 8.0), (60.0, 3.0), (65.0, 8.0)
    )  # fmt: skip
    ride = simulate(make_build(controller__ramp_s=1.0), day_of(Activity(name="go", trace=stop_and_go, repeats=2)))
    assert ride.moments.starts == 5  # the repeat begins rolling: its command is 0 there, so it stops and starts anew
    plain = simulate(make_build(), day_of(Activity(name="go", trace=stop_and_go, repeats=2)))
    assert plain.outcome.seconds_below_command < ride.outcome.seconds_below_command


def test_the_finding_names_leg_and_clock():
    build = make_build(**SWITCHED["cut-out"])
    day = day_of(Activity(name="Up and down", route=HILL, laps=30).model_copy(update={"start": time(15, 0)}))
    (one,) = compare([build], day).candidates
    ride, found = one.ride, {finding.code: finding for finding in one.findings}
    finding = found["cut-out-ends-the-ride"]
    assert finding.severity == "stop"
    assert f"{ride.moments.cut_outs} times" in finding.text
    assert ride.moments.cut_out_place in finding.text
    assert ride.moments.cut_out_place.endswith("leg 2 (6.0 % up)")
    assert clock(ride.moments.cut_off_s) in finding.text
    moments = ride.moments
    said = f"{moments.cut_outs} cut-outs, {moments.seconds_cut_out:.0f} s without drive in all."
    assert said in ride_text(ride, ())
    assert "cut-off-reached" not in found
    assert list(controller.cut_outs(simulate(make_build(), day))) == []
    softly = {f.code: f for f in start.soft_start(make_build(controller__ramp_s=2.0), day)}["soft-start"]
    assert softly.numbers["soft_start_s"] > softly.numbers["without_s"] + 0.5


def test_whole_numbers_in_a_leg_are_numbers_like_others():
    legs = [(300, 12, 0, "asphalt", 0), (120, 8, 0, "asphalt", 0)]
    whole = Route("whole", tuple(Leg(*leg) for leg in legs))
    real = Route("real", tuple(Leg(float(a), float(b), float(c), d, float(e)) for a, b, c, d, e in legs))
    one, two = (simulate(make_build(), day_of(Activity(name="ride", route=route))) for route in (whole, real))
    assert one.outcome == two.outcome
