"""Constants from what a label or a free run says: against the motor's own equations, and what contradicts itself."""

from __future__ import annotations

import math

import pytest

from ridesim.forms import validate
from ridesim.ride.steady.many import Motors
from ridesim.vehicle import Motor
from ridesim.vehicle.motor_heat import rated_point
from ridesim.words import InputProblem

RPM = 60.0 / (2.0 * math.pi)
KNOWN = {
    "kind": "permanent-magnet", "torque_constant_nm_per_a": 0.105, "resistance_ohm": 0.085, "brush_drop_v": 1.0,
    "friction_torque_nm": 0.10, "viscous_nm_per_rad_s": 0.0002, "insulation_class": "F", "rated_power_w": 450.0,
    "rated_voltage_v": 36.0, "mass_kg": 6.5,
}  # fmt: skip


def motor(**changes) -> Motor:
    table = {key: value for key, value in {**KNOWN, **changes}.items() if value is not None}
    return validate(Motor, table, "motor.toml")


def free_run(volts: float) -> dict[str, float]:
    """What tachometer and meter would show of the known motor."""
    speed = float(Motors.of(motor()).unloaded_speed(volts)[0])
    amps = (0.10 + 0.0002 * speed) / 0.105
    return {"no_load_speed_rpm": speed * RPM, "no_load_current_a": amps, "no_load_voltage_v": volts}


@pytest.mark.parametrize("volts", [12.0, 36.0])
def test_a_free_run_gives_constant_and_friction(volts):
    found = motor(torque_constant_nm_per_a=None, friction_torque_nm=None, **free_run(volts))
    assert found.torque_constant_nm_per_a == pytest.approx(0.105, rel=1e-9)
    assert found.friction_torque_nm == pytest.approx(0.10, rel=1e-9)
    assert found.source_of("torque_constant_nm_per_a") == "from the free run"


def test_a_label_s_speed_and_current_give_the_constant():
    point = rated_point(motor())
    said = {"rated_speed_rpm": point.omega * RPM, "rated_current_a": point.current_a}
    found = motor(torque_constant_nm_per_a=None, **said)
    assert found.torque_constant_nm_per_a == pytest.approx(0.105, rel=1e-9)


def test_four_numbers_of_a_label_give_constant_and_resistance():
    """A label as it would be if it were exact; what is rounded on a real one is half to twice as much in the resistance."""
    point = rated_point(motor())
    label = {"rated_speed_rpm": point.omega * RPM, "rated_current_a": point.current_a}
    found = motor(torque_constant_nm_per_a=None, resistance_ohm=None, **label)
    assert found.torque_constant_nm_per_a == pytest.approx(0.105, rel=1e-9)
    assert found.resistance_ohm == pytest.approx(0.085, rel=1e-9)
    assert "from the label" in found.source_of("resistance_ohm")


def test_a_reading_through_the_brushes_is_a_little_high():
    found = motor(resistance_ohm=None, resistance_through_brushes_ohm=0.11)
    assert found.resistance_ohm == pytest.approx(0.10)
    assert "through the brushes" in found.source_of("resistance_ohm")


@pytest.mark.parametrize(
    ("changes", "place", "words"),
    [
        (free_run(12.0), "torque_constant_nm_per_a", "no such key beside no_load_speed_rpm"),
        (
            {**free_run(36.0), "torque_constant_nm_per_a": None, "rated_speed_rpm": 900.0, "rated_current_a": 16.0},
            "rated_speed_rpm",
            "that the free run gives",
        ),
        ({"torque_constant_nm_per_a": None, "no_load_speed_rpm": 1000.0, "no_load_voltage_v": 0.5}, "no_load_speed_rpm", "these volts"),
        (
            {"torque_constant_nm_per_a": None, "no_load_speed_rpm": 1000.0, "rated_voltage_v": None, "rated_power_w": None},
            "no_load_voltage_v",
            "volts of the free run",
        ),
        ({"no_load_current_a": "two"}, "no_load_current_a", "number"),
        (
            {"torque_constant_nm_per_a": None, "resistance_ohm": None, "rated_speed_rpm": 3000.0, "rated_current_a": 12.5},
            "rated_power_w",
            "450 W of the 450 W that 36 V and 12.5 A are",
        ),
        (
            {"torque_constant_nm_per_a": None, "resistance_ohm": None, "rated_speed_rpm": 0.0, "rated_current_a": 16.0},
            "resistance_ohm",
            "all four of the label",
        ),
        ({**free_run(12.0), "torque_constant_nm_per_a": None, "brush_drop_v": "one"}, "brush_drop_v", "number"),
        ({"torque_constant_nm_per_a": None, "no_load_current_a": 2.0}, "torque_constant_nm_per_a", "which a permanent-magnet motor needs"),
    ],
)  # fmt: skip
def test_what_contradicts_itself_is_told(changes, place, words):
    with pytest.raises(InputProblem) as problem:
        motor(**changes)
    assert problem.value.place == place
    assert words in str(problem.value)
