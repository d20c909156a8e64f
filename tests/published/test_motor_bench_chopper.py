"""The chopper and its capacitors against printed numbers."""

from __future__ import annotations

from math import pi

import pytest

from ridesim.physics.capacitors import capacitor_current, precharge_energy, precharge_time, precharge_voltage
from ridesim.physics.controller import (
    LIMIT_NAMES,
    current_at_duty,
    largest_current,
    motor_power,
    pack_current_for_power,
)


def test_chopper_drive():
    """Rashid, Power Electronics, 4th ed., ex. 14.8 (read in Scilab textbook companion 3941): six numbers."""
    supply, armature, per_field, field, current, duty = 600.0, 0.05, 1.527, 2.5, 250.0, 0.6
    constant = per_field * field
    at_motor = duty * supply
    emf = at_motor - current * armature
    omega = emf / constant
    power = motor_power(current, omega, constant, 0.0, 1.0, 0.0, armature)
    assert power / 1000.0 == pytest.approx(90.0, rel=1e-3)
    assert at_motor == pytest.approx(360.0, rel=1e-3)
    assert emf == pytest.approx(347.5, rel=1e-3)
    assert omega == pytest.approx(91.03, rel=1e-3)
    assert omega * 30.0 / pi == pytest.approx(869.3, rel=1e-3)
    assert constant * current == pytest.approx(954.38, rel=1e-3)
    # Back from the speed: the held duty gives that current, and the pack gives duty times it.
    assert current_at_duty(duty, supply, omega, constant, 0.0, armature, 0.0) == pytest.approx(250.0, rel=1e-9)
    assert pack_current_for_power(power, supply, 1e-12) == pytest.approx(150.0, rel=1e-3)


def test_low_voltage_case():
    """36 V, back EMF 10 V, 0.05 ohm, 60 A: 13 V, duty 0.3611, 21.67 A, 780 W (reckoned from the equations)."""
    power = motor_power(60.0, 100.0, 0.1, 0.0, 1.0, 0.0, 0.05)
    pack = pack_current_for_power(power, 36.0, 1e-12)
    assert (power / 60.0, pack / 60.0, pack, power) == pytest.approx((13.0, 0.3611, 21.67, 780.0), rel=2e-4)


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


def test_stall_takes_little_from_the_pack():
    """At E = 0 the pack gives I² R/V (published/limit logic): 80 A into 0.05 ohm from 36 V is 8.9 A."""
    current, limit = largest_current(36.0, 0.0, 0.1, 0.0, 1.0, 0.0, 0.05, 1e-9, 40.0, 80.0, 0.0)
    assert (current, LIMIT_NAMES[limit]) == (80.0, "motor current")
    power = motor_power(current, 0.0, 0.1, 0.0, 1.0, 0.0, 0.05)
    assert pack_current_for_power(power, 36.0, 1e-9) == pytest.approx(80.0**2 * 0.05 / 36.0, rel=1e-6)
