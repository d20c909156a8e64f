"""Motor kinds: from a curve, electronically commutated, series-wound; at another voltage by physics."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ridesim.choose.findings.motor import coarse_curve
from ridesim.forms import validate
from ridesim.physics.controller import current_at_duty, motor_power, pack_current_for_power
from ridesim.ride.steady import top_speed_kmh
from ridesim.vehicle import Motor, load_build, save_build
from ridesim.words import InputProblem
from tests.bench.benches import motor_of, working_point
from tests.ride.machines import make_build

RPM = math.pi / 30.0
TORQUES = (0.0, 0.5, 1.0, 2.0, 4.0)


def curve_of(motor: Motor, voltage: float) -> list[list[float]]:
    rows = []
    for torque in TORQUES:
        current, speed = working_point(motor, voltage, torque)
        rows.append([speed / RPM, torque, current])
    return rows


def curved(rows, **changes) -> Motor:
    keys = {
        "kind": "curve",
        "curve": rows,
        "curve_voltage_v": 36.0,
        "mass_kg": 6.5,
        "rated_power_w": 450.0,
        "rated_voltage_v": 36.0,
    }
    return validate(Motor, {**keys, **changes}, "the test's motor")


def test_a_curve_gives_its_motor_back():
    truth = motor_of()
    exact = curved(curve_of(truth, 36.0), brush_drop_v=1.0, viscous_nm_per_rad_s=0.0002)
    assert exact.torque_constant_nm_per_a == pytest.approx(0.105, rel=1e-5)
    assert exact.resistance_ohm == pytest.approx(0.085, rel=1e-5)
    assert exact.friction_torque_nm == pytest.approx(0.10, rel=1e-5)
    assert exact.curve_fit is not None
    assert exact.curve_fit.misfit_share < 1e-6
    free = curved(curve_of(truth, 36.0))
    assert free.torque_constant_nm_per_a == pytest.approx(0.105, rel=0.01)
    assert free.resistance_ohm == pytest.approx(0.085, rel=0.01)


def test_a_curve_goes_to_another_voltage_by_physics():
    """A curve at 24 V and the motor itself: the same top speed on 36 V within 1 %."""
    truth = motor_of()
    built = load_build("heron_36v")
    from_curve = curved(curve_of(truth, 24.0), curve_voltage_v=24.0)
    assert top_speed_kmh(built.changed({"motor": from_curve})) == pytest.approx(top_speed_kmh(built), rel=0.01)


def test_a_noisy_curve_shows_its_misfit():
    rows = curve_of(motor_of(), 36.0)
    rows[2][1] *= 1.08
    found = curved(rows)
    assert found.curve_fit is not None
    assert found.curve_fit.worst_row == 3


def test_a_curve_survives_saving(tmp_path):
    built = make_build().changed({"motor": curved(curve_of(motor_of(), 36.0))})
    path = save_build(built, tmp_path / "curve.toml")
    assert "torque_constant_nm_per_a" not in path.read_text(encoding="utf-8")
    assert load_build(path).motor == built.motor


HOLDING = {"winding_to_case_k_per_w": 0.4, "case_to_air_k_per_w": 0.9, "rated_power_w": 120.0, "curve_voltage_v": 24.0}


@pytest.mark.parametrize(
    ("rows", "place", "said"),
    [
        ([[3200, 0, 1.7], [2900, 2, 1.0]], "curve[2]", ""),
        ([[3000, 0, 1.7], [3100, 2, 20]], "curve[2]", ""),
        ([[3000, 0, 1.7]], "curve", ""),
        ([[3000, 0, 1.7], [2900, -2, 20]], "curve", ""),
        ([[3000, 0], [2900, 2, 20]], "curve[1]", ""),
        ([[2500, 0, 2], [2200, 100, 13], [1900, 200, 25]], "curve[2]", "N cm"),  # more watts out than in
        ([[0, 1200, 100], [2500, 0, 2]], "curve[1]", "N m"),  # held still no power tells, the misfit does
        ([[262, 0, 2], [230, 1, 13], [199, 2, 25]], "curve[1]", "rad/s"),
        ([[2500, 0, 2], [math.nan, 1, 13], [1900, 2, 25]], "curve[2]", "finite"),
    ],
)
def test_bad_curves_are_refused_with_their_row(rows, place, said, recwarn, capfd):
    with pytest.raises(InputProblem) as caught:
        curved([[float(cell) for cell in row] for row in rows], **HOLDING)
    assert caught.value.place.startswith(place)
    assert said in str(caught.value)
    assert not recwarn.list
    assert capfd.readouterr() == ("", "")


def test_a_mildly_coarse_curve_is_told_and_a_good_one_not():
    rows = curve_of(motor_of(), 36.0)
    smooth = make_build().changed({"motor": curved(rows)})
    assert not list(coarse_curve(smooth))
    rows[3][1] *= 0.7
    (finding,) = coarse_curve(smooth.changed({"motor": curved(rows)}))
    assert finding.numbers["curve_row"] == 4.0
    assert 0.05 < finding.numbers["misfit_share"] < 0.2


def test_fitted_values_are_called_fitted():
    build = load_build("heron_36v").changed({"motor": curved(curve_of(motor_of(), 36.0))})
    listed = {each.place: each.source for each in build.in_play() if not each.given}
    for key in ("brush_drop_v", "resistance_ohm", "torque_constant_nm_per_a", "friction_torque_nm"):
        assert listed[f"motor.{key}"] == "fitted from the curve"
        assert f"motor.{key}" in build.widths
    held = build.changed({"motor": curved(curve_of(motor_of(), 36.0), brush_drop_v=1.0)})
    assert "motor.brush_drop_v" not in {each.place for each in held.in_play() if not each.given}


def test_keys_that_contradict_the_kind():
    with pytest.raises(InputProblem, match="torque_constant_nm_per_a"):
        curved(curve_of(motor_of(), 36.0), torque_constant_nm_per_a=0.1)
    with pytest.raises(InputProblem, match="curve"):
        validate(Motor, {"kind": "permanent-magnet", "torque_constant_nm_per_a": 0.1, "resistance_ohm": 0.1, "mass_kg": 5.0,
                         "curve": curve_of(motor_of(), 36.0), "rated_power_w": 200.0, "rated_voltage_v": 24.0}, "motor")  # fmt: skip


def test_an_electronically_commutated_motor_has_no_brush_drop_and_is_otherwise_the_same():
    own = {"motor__kind": "electronically-commutated", "motor__brush_drop_v": None}
    bare, brushed = make_build(**own), make_build(motor__brush_drop_v=0.0)
    assert bare.motor.brush_drop_v == 0.0
    assert top_speed_kmh(bare) == pytest.approx(top_speed_kmh(brushed), rel=1e-12)


@settings(max_examples=200, deadline=None)
@given(
    st.floats(0.02, 1.0), st.floats(10.0, 60.0), st.floats(0.0, 400.0), st.floats(0.03, 0.3), st.floats(0.0, 2.0),
    st.floats(0.01, 0.5), st.floats(0.001, 0.1),
)  # fmt: skip
def test_power_balance_and_battery_current_at_every_duty(duty, volts, omega, constant, brush, path, pack):
    current = current_at_duty(duty, volts, omega, constant, brush, path, pack)
    assume(current > 1e-6)
    battery = duty * current
    at_controller = volts - pack * battery
    taken = motor_power(current, omega, constant, 0.0, 1.0, brush, path)
    assert battery <= current * (1.0 + 1e-12)
    assert at_controller * battery == pytest.approx(taken, rel=1e-9)
    assert pack_current_for_power(taken, volts, pack) == pytest.approx(battery, rel=1e-6) or battery > volts / (
        2.0 * pack
    )
