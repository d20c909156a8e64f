"""The step-down chopper and its capacitors against printed numbers."""

from __future__ import annotations

from math import pi

import pytest

from ridesim.physics.capacitors import capacitor_current, precharge_energy, precharge_time, precharge_voltage
from ridesim.physics.controller import (
    BATTERY_CURRENT,
    CUT_OFF,
    FULL_DUTY,
    MOTOR_CURRENT,
    current_at_duty,
    current_for_power,
    freewheel_loss,
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
    assert omega * 30.0 / pi == pytest.approx(869.3, abs=0.05)
    assert constant * armature == pytest.approx(954.38, abs=0.005)
    power = motor_power(armature, omega, constant, *PM, 0.0, 0.05)
    assert power == pytest.approx(90e3, rel=1e-3)
    taken = pack_current_for_power(power, 600.0, STIFF)
    assert taken / armature == pytest.approx(duty, abs=5e-5)
    assert 600.0 / taken == pytest.approx(4.0, abs=0.005)
    assert current_for_power(power, omega, constant, *PM, 0.0, 0.05) == pytest.approx(armature, rel=1e-9)
    assert current_at_duty(duty, 600.0, omega, constant, 0.0, 0.05, 0.0) == pytest.approx(armature, rel=1e-9)
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


def test_precharge():
    """48 V, 2000 µF, 100 ohm: 0.48 A, 99.3 % after 1 s, 2.30 J (reckoned from the equations)."""
    assert pytest.approx(0.48) == 48.0 / 100.0
    assert precharge_voltage(1.0, 48.0, 100.0, 0.002) / 48.0 == pytest.approx(0.993, abs=5e-4)
    assert precharge_time(0.993262, 100.0, 0.002) == pytest.approx(1.0, rel=1e-4)
    assert precharge_energy(48.0, 0.002) == pytest.approx(2.30, abs=5e-3)


@pytest.mark.parametrize(("constants", "percent"), [(1, 63.2), (2, 86.5), (3, 95.0), (4, 98.2), (5, 99.3)])
def test_precharge_by_time_constants(constants, percent):
    """Textbook exponential, as printed: 63.2, 86.5, 95.0, 98.2, 99.3 %."""
    assert 100.0 * precharge_voltage(float(constants), 1.0, 1.0, 1.0) == pytest.approx(percent, abs=0.05)


@pytest.mark.parametrize(("volts", "ohms", "watts"), [(28.8, 220.0, 3.8), (43.6, 220.0, 8.7), (58.2, 470.0, 7.2)])
def test_precharge_resistor_survives(volts, ohms, watts):
    """A controller maker's wiring page (read): 24 V 220 ohm 5-10 W, 36 V 220 ohm 10 W, 48 V 470 ohm 10 W."""
    assert volts * volts / ohms == pytest.approx(watts, abs=0.1)


def test_the_capacitor_carries_most_at_half_duty():
    """Rashid (from memory): I √(D (1 - D)), half the motor's current at half duty."""
    assert capacitor_current(60.0, 0.5) == 30.0


@pytest.mark.parametrize(("omega", "least", "most"), [(60.0, 0.04, 0.10), (150.0, 0.01, 0.04), (330.0, 0.0, 0.005)])
def test_the_freewheeling_diode_takes_its_share_at_part_duty(omega, least, most):
    """Rashid's mean voltage, D V - (1 - D) V_f = K ω + V_br + I R, solved for D; 4 to 10 % at part duty (from memory), nothing at full.

    Through the code's own way: an ideal chopper between voltages that are both V_f higher.
    """
    volts, drop, constant, brush, path, current = 36.0, 0.8, 0.1, 1.0, 0.1, 20.0
    duty = min(1.0, (constant * omega + brush + current * path + drop) / (volts + drop))
    power = motor_power(current, omega, constant, *PM, brush + drop, path)
    taken = pack_current_for_power(power, volts + drop, STIFF)
    assert taken == pytest.approx(duty * current, rel=1e-4)
    loss = freewheel_loss(current, taken, drop)
    assert loss == pytest.approx(drop * (1.0 - duty) * current, rel=1e-3, abs=1e-3)
    assert least <= loss / (volts * taken) <= most
    balance = taken * volts - loss - current * (constant * omega + brush + current * path)
    assert balance == pytest.approx(0.0, abs=1e-3)
