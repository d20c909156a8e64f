"""A nameplate against the motor's own values and its mass: the hotter of two estimates."""

from __future__ import annotations

import numpy as np
import pytest

from ridesim.choose.findings.heat import doubtful_nameplate
from ridesim.physics.motor_heat import cooling_from_mass
from ridesim.ride.steady.duty import continuous_current_a
from ridesim.vehicle.motor_heat import INEFFICIENT, OUT_OF_REACH, TOO_COOL, cooling, most_power_w
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
    assert not list(doubtful_nameplate(make_build()))
    measured = with_plate(mass_kg=1.2, winding_to_case_k_per_w=0.4, case_to_air_k_per_w=0.9)
    assert not list(doubtful_nameplate(measured))


@pytest.mark.parametrize("volts", [24.0, 36.0])
@pytest.mark.parametrize("mass", [2.0, 6.5, 15.0])
def test_a_worse_motor_is_never_cooler(volts, mass):
    """More resistance never bears more current for hours, across every change of rule."""
    bears = [
        continuous_current_a(with_plate(resistance_ohm=float(ohms), rated_voltage_v=volts, mass_kg=mass).motor)
        for ohms in np.linspace(0.03, 0.40, 75)
    ]
    assert max(bears / np.minimum.accumulate(bears)) < 1.0 + 1e-9
    assert bears[-1] < 0.6 * bears[0]
