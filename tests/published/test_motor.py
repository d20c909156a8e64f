"""Brushed motors: worked examples through the project's motor and chopper equations.

"READ, inputs" marks an example whose inputs were read and whose answer was calculated by another hand.
"""

from __future__ import annotations

import itertools
from math import pi, sqrt

import numpy as np
import pytest

from ridesim.physics.controller import full_duty_current, motor_power
from ridesim.physics.motor import current_for_torque, drag_torque, speed_at_voltage, torque_constant, warm_resistance

RPM = 2.0 * pi / 60.0
PM = (0.0, 1.0)
"""Series constant and saturation of a permanent-magnet motor: none."""


def test_modelica_copper_loss_only():
    """100 V, 100 A, 0.05 ohm at 1425 rpm: 95.0 V inside, 63.66 N m, 9500 W. Modelica Standard Library, Machines, DCPM_withLosses,
    machine 1 (READ)."""
    omega = 1425.0 * RPM
    constant = 95.0 / omega
    current = full_duty_current(100.0, omega, constant, *PM, 0.0, 0.05)
    assert current == pytest.approx(100.0, rel=1e-4)
    assert torque_constant(current, constant, *PM) * current == pytest.approx(63.66, abs=0.005)
    assert constant * omega * current == pytest.approx(9500.0, abs=0.5)
    assert motor_power(current, omega, constant, *PM, 0.0, 0.05) == pytest.approx(100.0 * 100.0, rel=1e-4)


def test_modelica_full_losses():
    """100 V, 100 A at 1417.5 rpm, 0.03864 ohm at 20 °C, winding 95 °C, brushes 0.5 V, core 200, stray 50, friction 100 W: 0.0500 ohm,
    94.5 V, 61.30 N m, 9100 W. The same, machine 2 (READ; Haumer et al., 7th Modelica Conference 2009).

    The project has one drag torque for core, stray and friction: at this speed 350 W together. Modelica's copper coefficient is 0.00392,
    the project's 0.00393: 0.06 % of the resistance.
    """
    omega = 1417.5 * RPM
    constant = 94.5 / omega
    resistance = warm_resistance(0.03864, 95.0)
    assert resistance == pytest.approx(0.0500, abs=5e-5)
    current = full_duty_current(100.0, omega, constant, *PM, 0.5, resistance)
    assert current == pytest.approx(100.0, rel=6e-4)
    shaft = torque_constant(100.0, constant, *PM) * 100.0 - drag_torque(omega, 350.0 / omega, 0.0)
    assert shaft == pytest.approx(61.30, abs=0.005)
    assert shaft * omega == pytest.approx(9100.0, abs=0.5)
    assert drag_torque(omega, 200.0 / omega, 150.0 / omega**2) == pytest.approx(350.0 / omega, rel=1e-12)


def test_mit_torque_speed_line():
    """600 rpm without load, 0.325 N m stalled: most power at 300 rpm, 0.163 N m, 5.11 W. lancet.mit.edu/motor/motors4.html (MIT 2.007, READ)."""
    volts, no_load, stall_torque = 12.0, 600.0 * RPM, 0.325
    constant = volts / no_load
    resistance = constant * volts / stall_torque
    omegas = np.linspace(0.0, no_load, 6001)
    torques = np.array([constant * full_duty_current(volts, w, constant, *PM, 0.0, resistance) for w in omegas])
    best = int(np.argmax(torques * omegas))
    assert omegas[best] / RPM == pytest.approx(300.0, abs=0.5)
    assert torques[best] == pytest.approx(0.163, abs=5e-4 + 1e-9)
    assert torques[best] * omegas[best] == pytest.approx(5.11, abs=0.0051)


def test_48_volt_motor_with_a_voltage_drop():
    """0.12 V s/rad, 2 × 0.15 ohm, 2 V drop at 48 V: 400 rad/s without load and drop, 153.3 A and 18.4 N m stalled. Scilab textbook
    companion 1892, example 4.4 (READ, inputs; the file itself notes that the book's answer is wrong)."""
    assert full_duty_current(48.0, 400.0, 0.12, *PM, 0.0, 0.30) == pytest.approx(0.0, abs=1e-9)
    assert 400.0 / RPM == pytest.approx(3819.7, abs=0.05)
    stalled = full_duty_current(48.0, 0.0, 0.12, *PM, 2.0, 0.30)
    assert stalled == pytest.approx(153.3, abs=0.05)
    assert torque_constant(stalled, 0.12, *PM) * stalled == pytest.approx(18.4, abs=0.05)


def test_motor_at_half_voltage():
    """120 V and 6000 rpm without load: 0.19099 V s/rad; 2.5 ohm, 60 V, 0.5 N m: 2.618 A, 53.455 V inside, 2672.8 rpm. The same companion,
    example 4.5 (READ, inputs)."""
    constant = 120.0 / (6000.0 * RPM)
    assert constant == pytest.approx(0.19099, abs=5e-6)
    current = current_for_torque(0.5, constant, *PM)
    assert current == pytest.approx(2.618, abs=5e-4)
    omega = speed_at_voltage(current, 60.0, constant, *PM, 2.5, 0.0)
    assert constant * omega == pytest.approx(53.455, abs=5e-4)
    assert omega / RPM == pytest.approx(2672.8, abs=0.05)


def test_shunt_motor_with_rotational_loss():
    """250 V, 0.25 ohm, 12 A in the armature, 4 poles, 500 conductors, 0.02 Wb, 2 paths, 300 W lost: 247 V, 741 rpm, 38.20 N m; shaft
    34.33 N m, 2664 W. Scilab textbook companion 1445, example 8.16 (READ, inputs). Constant flux: a permanent-magnet motor's equations."""
    armature = 14.0 - 250.0 / 125.0
    constant = 4 * 500 * 0.02 / (2.0 * pi * 2)
    omega = speed_at_voltage(armature, 250.0, constant, *PM, 0.25, 0.0)
    assert constant * omega == pytest.approx(247.0, abs=0.5)
    assert omega / RPM == pytest.approx(741.0, abs=0.5)
    torque = torque_constant(armature, constant, *PM) * armature
    assert torque == pytest.approx(38.20, abs=0.005)
    assert torque * omega == pytest.approx(2964.0, abs=0.5)
    shaft = torque - drag_torque(omega, 300.0 / omega, 0.0)
    assert shaft == pytest.approx(34.33, abs=0.005)
    assert shaft * omega == pytest.approx(2664.0, abs=0.5)
    assert 100.0 * shaft * omega / (250.0 * 14.0) == pytest.approx(76.11, abs=0.02)


def test_independent_library_s_motor():
    """16 milliohm, 0.165 V s/rad, 60 V at 300 rad/s: 656.25 A, 108.281 N m. gym-electric-motor 3.0.3, default permanent-magnet d.c. motor,
    run by another hand."""
    current = full_duty_current(60.0, 300.0, 0.165, *PM, 0.0, 0.016)
    assert current == pytest.approx(656.25, rel=1e-6)
    assert torque_constant(current, 0.165, *PM) * current == pytest.approx(108.281, abs=5e-4)


def test_best_efficiency_formula():
    """No load 2 A, stall 100 A: best efficiency (1 - √(I0/Is))² = 0.7372 at √(I0 Is) = 14.14 A, constant friction, no brush drop (READ)."""
    volts, constant, resistance = 12.0, 0.05, 0.12  # 100 A stalled
    friction = 2.0 * constant
    currents = np.linspace(2.0, 99.0, 97_001)
    omegas = np.array([speed_at_voltage(i, volts, constant, *PM, resistance, 0.0) for i in currents])
    shaft = (constant * currents - drag_torque(1.0, friction, 0.0)) * omegas
    efficiency = shaft / (volts * currents)
    assert efficiency.max() == pytest.approx((1.0 - sqrt(0.02)) ** 2, abs=5e-5)
    assert efficiency.max() == pytest.approx(0.7372, abs=5e-5)
    assert currents[efficiency.argmax()] == pytest.approx(14.14, abs=0.005)


def test_series_motor_races_where_a_permanent_magnet_motor_settles():
    """Modelica Standard Library, DC_CompareCharacteristics (READ): as the load goes, PM → constant speed, series rises without bound."""
    loads = [10.0**-i for i in range(6)]
    series, steady = [], []
    for torque in loads:
        current = current_for_torque(torque, 0.0, 0.002, 60.0)
        assert torque_constant(current, 0.0, 0.002, 60.0) * current == pytest.approx(torque, rel=1e-12)
        series.append(speed_at_voltage(current, 36.0, 0.0, 0.002, 60.0, 0.05, 0.0))
        steady.append(speed_at_voltage(current_for_torque(torque, 0.1, *PM), 36.0, 0.1, *PM, 0.05, 0.0))
    assert all(after > 2.5 * before for before, after in itertools.pairwise(series))
    assert steady[-1] == pytest.approx(360.0, rel=1e-3)
