"""Worked examples of drag, rolling and grade force, each with its own constants.

Sources: NPTEL (IIT) course on electric vehicles, "Week 2 - Assignment Solutions", question 2.1 (READ), two- and four-wheeler;
NPTEL Electric Vehicles Part 1 (IIT Delhi), week-4 answer key (READ, reprint). The three-wheeler of the same sheets is known to us
by its coefficients only, no printed force was seen, so it has no test.

Traps: the sheets use g = 9.81 or 9.8 (the project 9.80665), air of 1.2 kg/m³, and one row leaves cosθ out of the rolling force.
Where the printed digits can tell, the force is scaled to the sheet's own g.
"""

from __future__ import annotations

from math import pi, radians, tan

import pytest

from ridesim.physics.drive import wheel_force
from ridesim.physics.road import GRAVITY, air_force, effective_mass, grade_force, rolling_force

KMH = 1.0 / 3.6
SHEET_AIR = 1.2
EIGHT_DEGREES = tan(radians(8.0))


def _with_g(force: float, gravity: float) -> float:
    return force * gravity / GRAVITY


TWO_WHEELER, FOUR_WHEELER = 0.9 * 0.6, 0.3 * 2.5
"""Drag areas of the sheets. [m²]"""


@pytest.mark.parametrize(
    ("area", "speed_kmh", "printed_n", "half_digit"),
    [
        (TWO_WHEELER, 30.0, 22.5, 0.05),
        (TWO_WHEELER, 80.0, 160.0, 0.5),
        (FOUR_WHEELER, 30.0, 31.25, 0.005),
        (FOUR_WHEELER, 80.0, 222.22, 0.005),
    ],
)
def test_nptel_drag(area, speed_kmh, printed_n, half_digit):
    assert air_force(SHEET_AIR, area, speed_kmh * KMH, 0.0) == pytest.approx(printed_n, abs=half_digit)


@pytest.mark.parametrize(
    ("force", "printed_n", "half_digit"),
    [
        (rolling_force(200.0, 0.0, 0.015), 29.4, 0.05),  # two-wheeler: the sheet leaves cosθ out
        (rolling_force(200.0, EIGHT_DEGREES, 0.015), 29.1, 0.05),  # with it
        (rolling_force(1500.0, EIGHT_DEGREES, 0.015), 218.57, 0.01),  # 218.577, cut and not rounded
        (grade_force(200.0, EIGHT_DEGREES), 273.0, 0.5),
        (grade_force(1500.0, EIGHT_DEGREES), 2047.93, 0.005),
    ],
)
def test_nptel_rolling_and_grade_force_at_8_degrees(force, printed_n, half_digit):
    assert _with_g(force, 9.81) == pytest.approx(printed_n, abs=half_digit)


def test_nptel_traction_force_and_mass_on_a_quarter_grade():
    """3000 N from 200 N m at 15 motor radians a metre moves 1262 kg up 25 % (g = 9.8), rolling left out of the sum.

    Trap: with the sheet's own μ = 0.01 it would be 1213.6 kg.
    """
    force = wheel_force(200.0, 15.0, 1.0, 1.0)
    assert force == pytest.approx(3000.0, abs=0.5)
    assert force / _with_g(grade_force(1.0, 0.25), 9.8) == pytest.approx(1262.0, abs=0.5)
    with_rolling = _with_g(grade_force(1.0, 0.25) + rolling_force(1.0, 0.25, 0.01), 9.8)
    assert force / with_rolling == pytest.approx(1213.6, abs=0.05)


def test_nptel_traction_acceleration():
    """2.2 m/s² on the level with 5 % for what turns (as a moment of inertia on a wheel of 1 m radius, motor at 15)."""
    mass = 1262.0
    effective = effective_mass(mass, 0.05 * mass, 1.0, 0.0, 15.0)
    surplus = wheel_force(200.0, 15.0, 1.0, 1.0) - _with_g(rolling_force(mass, 0.0, 0.01), 9.8)
    assert surplus / effective == pytest.approx(2.2, abs=0.05)


def test_nptel_traction_power():
    """118.1 kW: 3000 N at the road speed of 5639 rpm over 15 motor radians a metre."""
    speed = 5639.0 * 2.0 * pi / 60.0 / 15.0
    assert wheel_force(200.0, 15.0, 1.0, 1.0) * speed == pytest.approx(118.1e3, abs=50.0)
