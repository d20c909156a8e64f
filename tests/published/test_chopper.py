"""The step-down chopper: worked examples through the controller's equations."""

from __future__ import annotations

import pytest

from ridesim.physics.controller import (
    BATTERY_CURRENT,
    CUT_OFF,
    FULL_DUTY,
    MOTOR_CURRENT,
    current_for_power,
    largest_current,
    motor_power,
    pack_current_for_power,
)

PM = (0.0, 1.0)
STIFF = 1e-9
"""Resistance of a source that does not sag. [ohm]"""


def test_rashid_example_14_8():
    """600 V, 0.05 ohm, 1.527 V/A rad/s × 2.5 A of field, 250 A at duty 0.6: 90 kW in, 360 V out, 347.5 V inside, 91.03 rad/s, 954.38 N m,
    equivalent resistance 4 ohm. Rashid, Power Electronics, 4th edition, example 14.8 (READ in Scilab companion 3941)."""
    constant, armature, duty = 1.527 * 2.5, 250.0, 0.6
    inside = duty * 600.0 - armature * 0.05
    assert inside == pytest.approx(347.5, abs=0.05)
    omega = inside / constant
    assert omega == pytest.approx(91.03, abs=0.005)
    assert constant * armature == pytest.approx(954.38, abs=0.005)
    power = motor_power(armature, omega, constant, *PM, 0.0, 0.05)
    assert power == pytest.approx(90e3, rel=1e-3)
    taken = pack_current_for_power(power, 600.0, STIFF)
    assert taken / armature == pytest.approx(duty, abs=5e-5)
    assert 600.0 / taken == pytest.approx(4.0, abs=0.005)
    assert current_for_power(power, omega, constant, *PM, 0.0, 0.05) == pytest.approx(armature, rel=1e-9)
    current, limit = largest_current(600.0, omega, constant, *PM, 0.0, 0.05, STIFF, taken, 1e4, 0.0)
    assert (current, limit) == (pytest.approx(armature, rel=1e-6), BATTERY_CURRENT)


def test_low_voltage_chopper():
    """36 V, 10 V inside, 0.05 ohm, 60 A: 13 V, duty 0.3611, 21.67 A, 780 W (arithmetic of the equations, no source needed)."""
    constant, omega = 0.1, 100.0
    power = motor_power(60.0, omega, constant, *PM, 0.0, 0.05)
    assert power == pytest.approx(780.0, abs=0.5)
    taken = pack_current_for_power(power, 36.0, STIFF)
    assert taken == pytest.approx(21.67, abs=0.005)
    assert taken / 60.0 == pytest.approx(0.3611, abs=5e-5)
    assert taken / 60.0 * 36.0 == pytest.approx(13.0, abs=0.05)


@pytest.mark.parametrize("series", [0.0, 0.002])
@pytest.mark.parametrize("omega", [0.0, 20.0, 100.0, 250.0])
@pytest.mark.parametrize("wanted", [1.0, 20.0, 75.0])
def test_power_in_is_power_out(series, omega, wanted):
    """Pack power equals motor and switch power at every duty; and the pack's current never exceeds the motor's (Modelica
    ChopperStepDown examples, READ: V_out = D V_in)."""
    constants = (0.0, series, 60.0) if series else (0.1, *PM)
    power = motor_power(wanted, omega, *constants, 1.0, 0.06)
    assert current_for_power(power, omega, *constants, 1.0, 0.06) == pytest.approx(wanted, rel=1e-9)
    taken = pack_current_for_power(power, 36.0, 0.04)
    if taken <= wanted:  # the duty this motor would need exists
        assert taken * (36.0 - 0.04 * taken) == pytest.approx(power, rel=1e-12)


def test_stalled_motor_takes_little_from_the_pack():
    """At a stand the pack's current is I² R/V, small, while the motor takes its limit (property of the equations above)."""
    current, limit = largest_current(36.0, 0.0, 0.1, *PM, 0.0, 0.06, STIFF, 40.0, 80.0, 31.5)
    assert (current, limit) == (80.0, MOTOR_CURRENT)
    power = motor_power(current, 0.0, 0.1, *PM, 0.0, 0.06)
    assert pack_current_for_power(power, 36.0, STIFF) == pytest.approx(80.0**2 * 0.06 / 36.0, rel=1e-6)


@pytest.mark.parametrize(
    ("omega", "battery_a", "cutoff_v", "expected"),
    [(200.0, 40.0, 31.5, BATTERY_CURRENT), (340.0, 40.0, 31.5, FULL_DUTY), (200.0, 40.0, 35.5, CUT_OFF)],
)
def test_each_limit_has_its_place(omega, battery_a, cutoff_v, expected):
    """Battery current, full duty and cut-off each hold exactly what they limit (model page, section 4)."""
    volts, inner, path = 36.0, 0.03, 0.06
    current, limit = largest_current(volts, omega, 0.1, *PM, 1.0, path, inner, battery_a, 1e4, cutoff_v)
    assert limit == expected
    taken = pack_current_for_power(motor_power(current, omega, 0.1, *PM, 1.0, path), volts, inner)
    held = {
        BATTERY_CURRENT: (taken, battery_a),
        CUT_OFF: (volts - inner * taken, cutoff_v),
        FULL_DUTY: (taken, current),
    }
    assert held[limit][0] == pytest.approx(held[limit][1], rel=1e-9)
