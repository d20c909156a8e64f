"""Ramps: what share of the weight a slope takes, and published hand forces."""

from __future__ import annotations

from math import asin, atan, degrees

import pytest

from ridesim.physics.road import GRAVITY, grade_force, rolling_force, slope_cosine, slope_sine


def test_hse_400_kg_up_1_in_12():
    """ "Over 30 kg" to push 400 kg up 1 in 12 without friction: HSE short guide on manual handling (INDG143 text) (READ, reprint)."""
    kilograms = grade_force(400.0, 1.0 / 12.0) / GRAVITY
    assert 30.0 < kilograms < 35.0  # "over 30" would not be said of 35 and more


@pytest.mark.parametrize(("run", "printed_kg"), [(50, 8), (40, 10), (30, 13), (20, 20), (14, 29)])
def test_hse_l23_table(run, printed_kg):
    """400 kg on 1 in 50 to 1 in 14: HSE L23 (memory). Whole kilograms; the table takes rise over run for the sine (400/14 =
    28.57, printed 29; the sine gives 28.50), which is 0.26 % at most on top of the half kilogram."""
    assert grade_force(400.0, 1.0 / run) / GRAVITY == pytest.approx(printed_kg, abs=0.5 + 0.0026 * printed_kg)


@pytest.mark.parametrize(("load_kg", "printed_kg"), [(200.0, 4.0), (400.0, 8.0)])
def test_hse_two_percent_of_a_load_on_castors(load_kg, printed_kg):
    """At least 2 % of the load on a hard flat floor: HSE push-and-pull page (READ)."""
    assert rolling_force(load_kg, 0.0, 0.02) / GRAVITY == pytest.approx(printed_kg, abs=0.05)


def test_ada_ramp_of_1_in_12():
    """1:12 is 8.33 % and 4.76°: 1991 ADA Standards 4.8.2 and 2010 section 405.2 (READ)."""
    assert 100.0 / 12.0 == pytest.approx(8.33, abs=0.005)
    assert degrees(asin(slope_sine(1.0 / 12.0))) == pytest.approx(4.76, abs=0.005)


@pytest.mark.parametrize("grade", [1 / 3, 1 / 4, 1 / 6, 1 / 8, 1 / 12, 1 / 20, -0.25, 0.0])
def test_slope_by_its_angle(grade):
    """sin and cos of atan(grade): geometry, no source needed; the core writes them without an angle."""
    assert degrees(asin(slope_sine(grade))) == pytest.approx(degrees(atan(grade)), abs=1e-9)
    assert slope_sine(grade) ** 2 + slope_cosine(grade) ** 2 == pytest.approx(1.0, abs=1e-12)
