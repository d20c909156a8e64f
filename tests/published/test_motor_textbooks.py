"""D.c. machines as textbooks ask them, through the public equations. "From memory": the printed numbers were recalled, not read.

"By hand": no printed source; the expected number is worked out beside the check from the textbook formula.
"""

from __future__ import annotations

from math import exp, log, pi, sqrt

import pytest

from ridesim.bench.warm_up import winding_temperature
from ridesim.physics.controller import current_at_duty, full_duty_current, reversal_current
from ridesim.physics.motor import current_for_torque, speed_at_voltage, torque_constant, warm_resistance
from ridesim.physics.motor_heat import cycled_peak, heat_balance, temperatures_after
from ridesim.ride.steady.duty import continuous_current_a, intermittent_current_a, stall_seconds
from tests.bench.benches import motor_of

RPM = pi / 30.0
PM = (0.0, 1.0)
NONE = 1e12
"""A saturation current far above all others. [A]"""


@pytest.mark.parametrize(
    ("line_a", "rpm", "torque"), [(100.0, 1173.0, 190.0), (200.0, 1144.0, 388.0), (300.0, 1115.0, 587.0)]
)
def test_shunt_motor_without_armature_reaction(line_a, rpm, torque):
    """Chapman, Electric Machinery Fundamentals, ex. 9-1 (from memory): 250 V, 0.06 ohm, field 50 ohm, 1200 rpm without load.

    Its 190 N m is rounded up from 189.0.
    """
    constant, armature = 250.0 / (1200.0 * RPM), line_a - 250.0 / 50.0
    assert speed_at_voltage(armature, 250.0, constant, *PM, 0.06, 0.0) / RPM == pytest.approx(rpm, abs=0.5)
    assert constant * armature == pytest.approx(torque, abs=1.01)


def test_armature_voltage_lowered_at_constant_torque():
    """Chapman, ex. 9-4 (from memory): 120 A in 0.03 ohm, 1103 rpm at 250 V; at 200 V 879 rpm."""
    constant = (250.0 - 120.0 * 0.03) / (1103.0 * RPM)
    assert speed_at_voltage(120.0, 200.0, constant, *PM, 0.03, 0.0) / RPM == pytest.approx(879.0, abs=0.5)


def test_series_motor_from_its_magnetisation_curve():
    """Chapman, ex. 9-5 (from memory): 250 V, 0.08 ohm with the field, 50 A where the curve gives 80 V at 1200 rpm: 3690 rpm, 31.8 N m."""
    series = 80.0 / (1200.0 * RPM) / 50.0
    omega = speed_at_voltage(50.0, 250.0, 0.0, series, NONE, 0.08, 0.0)
    assert omega / RPM == pytest.approx(3690.0, abs=0.5)
    # 12 300 W over the speed in rad/s; the book prints 31.8.
    assert torque_constant(50.0, 0.0, series, NONE) * 50.0 == pytest.approx(31.8, abs=0.05)
    assert full_duty_current(250.0, omega, 0.0, series, NONE, 0.0, 0.08) == pytest.approx(50.0, rel=1e-6)


def test_unsaturated_series_motor_at_two_loads():
    """By hand: 220 V, 0.3 ohm, 1000 rpm at 40 A. A quarter of the torque takes half the current (T ~ I²): the flux is halved, so
    1000 (220 - 6)/(220 - 12) 40/20 = 2057.7 rpm."""
    series = (220.0 - 12.0) / (1000.0 * RPM) / 40.0
    full = torque_constant(40.0, 0.0, series, NONE) * 40.0
    current = current_for_torque(0.25 * full, 0.0, series, NONE)
    assert current == pytest.approx(20.0, rel=1e-6)
    assert speed_at_voltage(current, 220.0, 0.0, series, NONE, 0.3, 0.0) / RPM == pytest.approx(2057.7, abs=0.05)


def test_saturated_series_motor_at_two_loads():
    """By hand: k_s 2 mN m/A², halved at 60 A. At 60 A the torque is 3.6 N m, at 30 A 2 · 30²/1.5 mN m = 1.2 N m (unsaturated: a quarter,
    here a third); 24 V, 0.1 ohm: 18/0.06 = 300 and 21/0.04 = 525 rad/s."""
    machine = (0.0, 0.002, 60.0)
    assert torque_constant(60.0, *machine) * 60.0 == pytest.approx(3.6, rel=1e-12)
    assert current_for_torque(1.2, *machine) == pytest.approx(30.0, rel=1e-12)
    speeds = [speed_at_voltage(amps, 24.0, *machine, 0.1, 0.0) for amps in (60.0, 30.0)]
    assert speeds == pytest.approx([300.0, 525.0], rel=1e-12)


def test_starting_resistance_in_steps():
    """Chapman, section 9 on starters (from memory): 250 V, 0.05 ohm, 350 A rated, twice that at most, cut out at rated current.

    Total 0.357 ohm; sections 0.1786, 0.0893, 0.0393 ohm (the last takes what is left): three stages, log(0.05/0.357)/log(350/700) = 2.84.
    """
    constant, most, least, armature = 2.0, 700.0, 350.0, 0.05
    total = 250.0 / most
    assert total == pytest.approx(0.357, abs=5e-4)
    assert log(armature / total) / log(least / most) == pytest.approx(2.84, abs=0.005)
    path, sections = total, []
    while path > armature:
        omega = speed_at_voltage(
            least, 250.0, constant, *PM, path, 0.0
        )  # it has sped up until the current fell to this
        fewer = max(armature, path * least / most)
        sections.append(path - fewer)
        peak = full_duty_current(250.0, omega, constant, *PM, 0.0, fewer)
        assert peak <= most * (1.0 + 1e-9)
        path = fewer
    assert sections == pytest.approx([0.1786, 0.0893, 0.0393], abs=5e-5)


def test_plugging_and_dynamic_braking():
    """By hand: 36 V motor, 0.105 V s/rad, 0.085 ohm, 34 V inside at 323.8 rad/s. Plugged (36 + 34)/0.085 = 823.5 A; to keep 80 A needs
    70/80 - 0.085 = 0.79 ohm more. Braked into 0.34 ohm: 34/(0.34 + 0.085) = 80 A; with 1 V of brushes (34 - 1)/0.425 = 77.6 A."""
    omega = 34.0 / 0.105
    assert reversal_current(36.0, 34.0, 0.085) == pytest.approx(823.5, abs=0.05)
    assert reversal_current(36.0, 34.0, 0.085 + 0.79) == pytest.approx(80.0, rel=1e-9)
    assert full_duty_current(0.0, omega, 0.105, *PM, 0.0, 0.425) == pytest.approx(-80.0, rel=1e-9)
    assert full_duty_current(0.0, omega, 0.105, *PM, 1.0, 0.425) == pytest.approx(-77.647, abs=5e-4)


@pytest.mark.parametrize(("emf", "current"), [(30.0, 50.0), (35.5, 0.0), (36.5, 0.0), (38.0, -10.0)])
def test_brushes_drop_against_the_current_whichever_way_it_flows(emf, current):
    """Modelica Machines.Losses (read): the brushes' voltage has the current's sign. 36 V, 1 V of brushes, 0.1 ohm, by hand."""
    assert full_duty_current(36.0, emf / 0.1, 0.1, *PM, 1.0, 0.1) == pytest.approx(current, abs=1e-9)
    assert current_at_duty(1.0, 36.0, emf / 0.1, 0.1, 1.0, 0.1, 0.0) == pytest.approx(current, abs=1e-9)


def test_resistance_rule_of_234_5():
    """(234.5 + T2)/(234.5 + T1), copper (from memory): 0.25 ohm at 20 °C is 0.3238 ohm at 95.1 °C and back, within 0.1 %."""
    hot = 0.25 * (234.5 + 95.1) / (234.5 + 20.0)
    assert hot == pytest.approx(0.3238, abs=5e-5)
    assert warm_resistance(0.25, 95.1) == pytest.approx(hot, rel=1e-3)
    assert winding_temperature(0.25, 20.0, hot) == pytest.approx(95.1, abs=0.1)


def heating_node(heat: float, capacity: float, to_air: float, ambient: float = 40.0) -> tuple[float, ...]:
    """One node as textbooks have it: a loss that does not grow with temperature (1 A through a drop), the case tied to the winding."""
    return heat_balance(1.0, 0.0, heat, 0.0, ambient, 0.5 * capacity, 0.5 * capacity, 1e-4 * to_air, to_air)


def test_heating_curve_and_short_time_rating():
    """By hand, the one-node rule θ = θ_max (1 - exp(-t/τ)): after one τ 63.2 %; a motor of τ = 90 min may lose 1/(1 - exp(-30/90)) =
    3.528 times its continuous heat for half an hour, √3.528 = 1.878 times the current."""
    numbers = heating_node(80.0, 5400.0, 1.0)
    assert temperatures_after(5400.0, 40.0, 40.0, numbers)[0] - 40.0 == pytest.approx(
        80.0 * (1.0 - exp(-1.0)), rel=1e-3
    )
    more = 1.0 / (1.0 - exp(-1.0 / 3.0))
    assert (more, sqrt(more)) == pytest.approx((3.528, 1.878), abs=5e-4)
    after = temperatures_after(1800.0, 40.0, 40.0, heating_node(80.0 * more, 5400.0, 1.0))[0]
    assert after == pytest.approx(120.0, abs=0.1)


def test_repeated_cycles_end_in_the_textbook_s_saw_tooth():
    """By hand: on 4 of 10 min, τ = 30 min, heated and cooled alike. The peak is θ_max (1 - exp(-4/30))/(1 - exp(-10/30)) = 0.4404 θ_max."""
    on, off = heating_node(100.0, 1800.0, 1.0), heating_node(0.0, 1800.0, 1.0)
    wanted = (1.0 - exp(-4.0 / 30.0)) / (1.0 - exp(-10.0 / 30.0))
    assert wanted == pytest.approx(0.4404, abs=5e-5)
    assert cycled_peak(240.0, 600.0, 40.0, on, off) - 40.0 == pytest.approx(100.0 * wanted, rel=2e-3)


@pytest.mark.parametrize("share", [0.15, 0.25, 0.4, 0.6])
def test_short_periods_go_by_the_root_mean_square(share):
    """The textbook's equivalent current: √(share) I; holds where the period is far shorter than the winding's time constant."""
    motor = motor_of(brush=0.0, friction=0.0, viscous=0.0)
    short = intermittent_current_a(motor, share, period_s=0.5)
    assert sqrt(share) * short == pytest.approx(continuous_current_a(motor), rel=3e-3)


def test_a_stall_is_heat_over_heat_capacity():
    """By hand: too short to lose heat, t = C ln((1 + α ΔT_hot)/(1 + α ΔT_cold))/(α I² R20): 500 A in 0.085 ohm, 253.5 J/K, 20 to 145 °C."""
    motor = motor_of(brush=0.0)
    heat, alpha = 0.10 * 6.5 * 390.0, 0.00393
    wanted = heat * log(1.0 + alpha * 125.0) / (alpha * 500.0**2 * 0.085)
    assert stall_seconds(motor, 500.0) == pytest.approx(wanted, rel=0.02)
