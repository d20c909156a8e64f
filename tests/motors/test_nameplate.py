"""A nameplate against the motor's own values and its mass: the hotter of two estimates."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridesim.choose.findings.heat import doubtful_nameplate
from ridesim.physics.motor_heat import cooling_from_mass, steady_temperatures
from ridesim.ride.steady.duty import balance_at, continuous_current_a
from ridesim.vehicle.motor_heat import INEFFICIENT, OUT_OF_REACH, TOO_COOL, TOO_HOT, cooling, most_power_w
from tests.ride.machines import make_build


def with_plate(**keys):
    return make_build(**{f"motor__{key}": value for key, value in keys.items()})


WEAK = {
    "resistance_ohm": 0.25,
    "rated_voltage_v": 24.0,
    "brush_drop_v": 0.0,
    "friction_torque_nm": 0.0,
    "viscous_nm_per_rad_s": 0.0,
}


def test_the_most_power_is_a_quarter_of_the_short_circuit_s():
    """V²/(4 R) at the matched load, any textbook; R is the winding's at its limit, 0.393 %/K of copper (IEC 60028) above 20 °C."""
    motor = with_plate(**WEAK).motor
    hot = 0.25 * (1.0 + 0.00393 * (motor.winding_limit_c - 20.0))
    assert most_power_w(motor) == pytest.approx(24.0**2 / (4.0 * hot), rel=2e-3)


def test_a_plate_out_of_reach_is_a_warning_with_what_would_fit():
    build = with_plate(**WEAK)
    assert cooling(build.motor) == (*cooling_from_mass(6.5), OUT_OF_REACH)
    (finding,) = doubtful_nameplate(build)
    most = finding.numbers["most_power_w"]
    assert (finding.severity, finding.code) == ("warning", "nameplate-doubtful")
    assert f"{most:.0f} W would fit" in finding.text
    fits = build.changed({"motor.rated_power_w": 0.98 * most})
    assert cooling(fits.motor).doubt != OUT_OF_REACH
    ohms = float(finding.text.split("or about ")[1].split(" Ω")[0])
    assert cooling(build.changed({"motor.resistance_ohm": 0.95 * ohms}).motor).doubt != OUT_OF_REACH


def test_a_plate_that_wastes_a_third_and_one_that_no_such_mass_sheds():
    wasteful = with_plate(resistance_ohm=0.18, rated_voltage_v=24.0)
    assert cooling(wasteful.motor).doubt == INEFFICIENT
    (finding,) = doubtful_nameplate(wasteful)
    assert finding.numbers["efficiency"] < 0.65
    light = with_plate(mass_kg=1.2)
    assert cooling(light.motor).doubt == TOO_COOL
    (finding,) = doubtful_nameplate(light)
    assert "1.2 kg usually do" in finding.text
    heavy = with_plate(mass_kg=40.0)
    assert cooling(heavy.motor).doubt == TOO_HOT
    (finding,) = doubtful_nameplate(heavy)
    assert "40 kg usually do" in finding.text
    assert not list(doubtful_nameplate(make_build()))
    measured = with_plate(mass_kg=1.2, winding_to_case_k_per_w=0.4, case_to_air_k_per_w=0.9)
    assert not list(doubtful_nameplate(measured))


def at(low: float, high: float):
    return st.floats(low, high)


MOTORS = st.fixed_dictionaries(
    {
        "resistance_ohm": at(0.02, 0.5), "brush_drop_v": at(0.0, 1.5), "friction_torque_nm": at(0.0, 0.3),
        "viscous_nm_per_rad_s": at(0.0, 1e-3), "torque_constant_nm_per_a": at(0.04, 0.2), "mass_kg": at(1.0, 15.0),
        "rated_power_w": at(80.0, 900.0), "rated_voltage_v": st.sampled_from((12.0, 24.0, 36.0)),
        "insulation_class": st.sampled_from("ABFH"), "rated_current_a": st.none() | at(5.0, 60.0),
    }
)  # fmt: skip
WORSE = {
    "resistance_ohm": 1.0, "brush_drop_v": 1.0, "friction_torque_nm": 1.0, "viscous_nm_per_rad_s": 1.0, "mass_kg": -1.0
}  # fmt: skip
"""Which way of each number is the worse one."""


@settings(max_examples=300, deadline=None)
@given(MOTORS, st.sampled_from(sorted(WORSE)), at(1.0, 3.0), at(0.0, 60.0), at(0.0, 400.0))
def test_a_worse_motor_is_never_cooler(keys, key, times, amps, omega):
    """With more resistance, brush drop or drag, or of less mass: no cooler in the end at any current and speed, across every change of rule."""
    factor = times ** WORSE[key]
    worse = {**keys, key: keys[key] * factor + 0.01 * (times - 1.0) * (factor > 1.0)}
    cool, hot = (
        steady_temperatures(balance_at(with_plate(**each).motor, amps, omega, 40.0))[0] for each in (keys, worse)
    )
    assert hot >= cool - 1e-9 * abs(cool) or cool == hot


def test_more_resistance_bears_less():
    bears = [continuous_current_a(with_plate(resistance_ohm=ohms).motor) for ohms in (0.05, 0.10, 0.20, 0.40)]
    assert bears == sorted(bears, reverse=True)
    assert bears[-1] < 0.6 * bears[0]
