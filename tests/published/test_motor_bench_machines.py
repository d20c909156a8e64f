"""Brushed machines against printed numbers."""

from __future__ import annotations

from itertools import pairwise
from math import pi

import numpy as np
import pytest
from scipy.optimize import fsolve

from ridesim.physics.motor import (
    FERRITE_PER_K,
    NEODYMIUM_PER_K,
    drag_torque,
    speed_at_voltage,
    torque_constant,
    warm_constant,
    warm_resistance,
)
from ridesim.vehicle import INSULATION_LIMITS_C, Motor
from tests.bench.benches import working_point

RPM = pi / 30.0


def motor_of(**changes) -> Motor:
    keys = {
        "kind": "permanent-magnet", "torque_constant_nm_per_a": 0.1, "resistance_ohm": 0.1, "brush_drop_v": 0.0,
        "friction_torque_nm": 0.0, "viscous_nm_per_rad_s": 0.0, "mass_kg": 5.0, "winding_to_case_k_per_w": 0.4,
        "case_to_air_k_per_w": 0.8,
    }  # fmt: skip
    return Motor.model_validate({**keys, **changes})


def test_modelica_machine_with_copper_loss_only():
    """Modelica.Electrical.Machines.Examples.DCMachines.DCPM_withLosses, machine 1 (read): 100 V, 100 A, 0.05 ohm, 1425 rpm."""
    constant = 95.0 / (1425.0 * RPM)
    speed = speed_at_voltage(100.0, 100.0, constant, 0.0, 1.0, 0.05, 0.0)
    assert speed / RPM == pytest.approx(1425.0, abs=0.5)
    torque = torque_constant(100.0, constant, 0.0, 1.0) * 100.0
    assert torque == pytest.approx(63.66, abs=0.005)
    assert torque * speed == pytest.approx(9500.0, abs=0.5)


# DCPM_withLosses, machine 2 (read; Haumer et al., 7th Modelica Conference 2009)
R20, COPPER, HOT_C, BRUSH = 0.03864, 0.00392, 95.0, 0.5
CORE_W, STRAY_W, FRICTION_W, RATED_RPM, RATED_A, RATED_E = 200.0, 50.0, 100.0, 1417.5, 100.0, 94.5
RATED = RATED_RPM * RPM


def full_losses(voltage: float, load) -> tuple[float, float, float]:
    """Speed [rpm], current [A] and efficiency of machine 2 at a voltage under a load torque of speed."""
    constant = RATED_E / RATED
    resistance = R20 * (1.0 + COPPER * (HOT_C - 20.0))
    conductance = CORE_W / RATED_E**2

    def unbalanced(unknown):
        omega, current = unknown[0] * RATED, unknown[1] * RATED_A
        induced = constant * omega
        shaft = constant * (current - conductance * induced)
        shaft -= FRICTION_W / RATED * (omega / RATED) ** 2
        shaft -= STRAY_W / RATED * (current / RATED_A) ** 2 * (omega / RATED)
        return [(induced + current * resistance + BRUSH - voltage) / voltage, (shaft - load(omega)) / 61.30]

    speed, current = fsolve(unbalanced, [voltage / 100.0, (voltage / 100.0) ** 2], xtol=1e-12)
    omega = speed * RATED
    return omega / RPM, current * RATED_A, load(omega) * omega / (voltage * current * RATED_A)


def test_modelica_machine_with_all_losses():
    speed, current, _ = full_losses(100.0, lambda omega: 61.30)
    assert pytest.approx(0.0500, abs=5e-5) == R20 * (1.0 + COPPER * (HOT_C - 20.0))
    assert speed == pytest.approx(1417.5, rel=1e-3)
    assert current == pytest.approx(100.0, rel=1e-3)
    assert 61.30 * speed * RPM == pytest.approx(9100.0, rel=1e-3)
    assert 100.0 * 100.0 - 9100.0 == 500.0 + 200.0 + 50.0 + 100.0 + 50.0


def test_the_same_machine_in_our_five_numbers_at_its_rated_point():
    """Core, stray and friction as the model's constant friction: 350 W of drag at 1417.5 rpm."""
    machine = motor_of(
        torque_constant_nm_per_a=RATED_E / RATED, resistance_ohm=R20 * (1.0 + COPPER * 75.0), brush_drop_v=BRUSH,
        friction_torque_nm=(CORE_W + STRAY_W + FRICTION_W) / RATED,
    )  # fmt: skip
    current, speed = working_point(machine, 100.0, 61.30)
    assert speed / RPM == pytest.approx(1417.5, rel=1e-3)
    assert current == pytest.approx(100.0, rel=1e-3)


@pytest.mark.parametrize(
    ("voltage", "rpm", "current", "efficiency"),
    [
        (25, 362.32, 6.902, 0.8807),
        (50, 722.70, 26.402, 0.9135),
        (75, 1074.26, 57.649, 0.9161),
        (100, 1417.50, 99.994, 0.9100),
    ],
)
def test_four_voltages_under_a_quadratic_load(voltage, rpm, current, efficiency):
    """Machine 2 under 61.30 N m (ω/ω_N)²: an independent solution of the published equations (reckoned, not read)."""
    found = full_losses(float(voltage), lambda omega: 61.30 * (omega / RATED) ** 2)
    assert found == pytest.approx((rpm, current, efficiency), rel=1e-3)


def test_torque_speed_line():
    """lancet.mit.edu/motor/motors4.html (MIT 2.007, read): 600 rpm no load, 0.325 N m stall, 5.11 W at 300 rpm."""
    constant = 12.0 / (600.0 * RPM)
    machine = motor_of(torque_constant_nm_per_a=constant, resistance_ohm=constant * 12.0 / 0.325)
    _, speed = working_point(machine, 12.0, 0.5 * 0.325)
    assert speed / RPM == pytest.approx(300.0, abs=0.5)
    assert 0.5 * 0.325 * speed == pytest.approx(5.11, abs=0.005)
    powers = [torque * working_point(machine, 12.0, torque)[1] for torque in np.linspace(0.01, 0.32, 32)]
    assert max(powers) <= 0.5 * 0.325 * speed + 1e-9


def test_48_v_electronically_commutated_motor():
    """Scilab textbook companion 1892, ex. 4.4 (inputs read): 48 V, 0.12 V s/rad, 2 × 0.15 ohm, 2 V in the devices.

    Its no-load speed leaves the device drop out, its stall does not: each is checked with the drop it uses.
    """
    bare = motor_of(
        kind="electronically-commutated", torque_constant_nm_per_a=0.12, resistance_ohm=0.30, brush_drop_v=0.0
    )
    assert working_point(bare, 48.0, 0.0)[1] == pytest.approx(400.0, rel=1e-3)
    assert working_point(bare, 48.0, 0.0)[1] / RPM == pytest.approx(3819.7, rel=1e-3)
    stall = (48.0 - 2.0) / 0.30
    assert stall == pytest.approx(153.3, rel=1e-3)
    assert torque_constant(stall, 0.12, 0.0, 1.0) * stall == pytest.approx(18.4, rel=1e-3)
    dropped = motor_of(
        kind="electronically-commutated", torque_constant_nm_per_a=0.12, resistance_ohm=0.30, brush_drop_v=2.0
    )
    assert 0.0 < working_point(dropped, 48.0, 18.39)[1] < 1.0
    with pytest.raises(ValueError, match="does not turn"):
        working_point(dropped, 48.0, 18.41)


def test_half_voltage():
    """Scilab textbook companion 1892, ex. 4.5 (inputs read): 6000 rpm free at 120 V; 60 V and 0.5 N m."""
    machine = motor_of(torque_constant_nm_per_a=120.0 / (6000.0 * RPM), resistance_ohm=2.5)
    assert machine.torque_constant_nm_per_a == pytest.approx(0.19099, rel=1e-3)
    current, speed = working_point(machine, 60.0, 0.5)
    assert current == pytest.approx(2.618, rel=1e-3)
    assert 60.0 - 2.5 * current == pytest.approx(53.455, rel=1e-3)
    assert speed / RPM == pytest.approx(2672.8, rel=1e-3)


def test_shunt_motor_with_rotational_loss():
    """Scilab textbook companion 1445, ex. 8.16 (inputs read): 250 V, 0.25 ohm, field 125 ohm, 14 A, 741 rpm, 300 W."""
    armature = 14.0 - 250.0 / 125.0
    constant = 247.0 / (741.0 * RPM)
    speed = speed_at_voltage(armature, 250.0, constant, 0.0, 1.0, 0.25, 0.0)
    torque = constant * armature
    assert (speed / RPM, torque * speed, torque) == pytest.approx((741.0, 2964.0, 38.20), rel=1e-3)
    shaft = torque - drag_torque(speed, 300.0 / speed, 0.0)
    assert (shaft * speed, shaft, 100.0 * shaft * speed / (250.0 * 14.0)) == pytest.approx(
        (2664.0, 34.33, 76.11), rel=1e-3
    )


def test_temperature_ratios():
    """20 to 100 °C: copper 1.314 (IEC 60028, from memory); flux 0.84 ferrite, 0.904 neodymium (Modelica, magnet maker)."""
    assert warm_resistance(1.0, 100.0) == pytest.approx(1.314, abs=5e-4)
    assert warm_constant(1.0, FERRITE_PER_K, 100.0) == pytest.approx(0.84, abs=5e-4)
    assert warm_constant(1.0, NEODYMIUM_PER_K, 100.0) == pytest.approx(0.904, abs=5e-4)


def test_best_efficiency():
    """Textbook formula (read): no-load 2 A, stall 100 A: 0.7372 at 14.14 A = √(2 · 100)."""
    machine = motor_of(torque_constant_nm_per_a=0.1, resistance_ohm=0.24, friction_torque_nm=0.2)
    torques = np.linspace(0.01, 9.0, 20_000)
    points = [working_point(machine, 24.0, torque) for torque in torques]
    efficiency = np.array([t * w / (24.0 * i) for t, (i, w) in zip(torques, points, strict=True)])
    best = int(efficiency.argmax())
    assert efficiency[best] == pytest.approx(0.7372, abs=5e-5)
    assert points[best][0] == pytest.approx(14.14, abs=0.01)


def test_independent_library_s_permanent_magnet_motor():
    """gym-electric-motor's default motor at 60 V, 300 rad/s: 656.25 A, 108.281 N m (run once, 1e-6)."""
    from ridesim.physics.controller import full_duty_current

    current = full_duty_current(60.0, 300.0, 0.165, 0.0, 1.0, 0.0, 0.016)
    assert current == pytest.approx(656.25, rel=1e-6)
    assert torque_constant(current, 0.165, 0.0, 1.0) * current == pytest.approx(108.281, abs=5e-4)


@pytest.mark.parametrize(("letter", "celsius"), [("B", 120.0), ("F", 145.0), ("H", 165.0)])
def test_insulation_classes(letter, celsius):
    """Operating temperature at 40 °C plus the rise allowed (80, 105, 125 K): a motor manual quoting IEC 60034-1 (read)."""
    assert INSULATION_LIMITS_C[letter] == celsius


def test_series_speed_rises_without_bound_and_permanent_magnet_speed_does_not():
    """Modelica DC_CompareCharacteristics (read, as a property): the series machine's example refuses zero load."""
    speeds = [speed_at_voltage(i, 24.0, 0.0, 0.004, 120.0, 0.05, 0.0) for i in (40.0, 4.0, 0.4, 0.04)]
    assert all(later > 5.0 * earlier for earlier, later in pairwise(speeds))
    steady = [working_point(motor_of(), 24.0, torque)[1] for torque in (4.0, 0.4, 0.04, 0.004)]
    assert steady[-1] < 1.3 * steady[0]
