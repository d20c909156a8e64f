"""Centre of gravity, ramps and pushing against printed values; each source stands beside its check."""

from __future__ import annotations

from math import asin, radians, sin, tan

import pytest

from ridesim.physics.balance import height_by_lifting, steepest_by_grip, stoppie_deceleration, wheelie_acceleration
from ridesim.sizing.moving import KEEP_N, START_N, push_force
from ridesim.vehicle import load_build
from tests.ride.machines import make_build

G = 9.80665


def rolling_mass(kg: float, rolling: float = 0.0):
    """A vehicle of a mass that rolls with no more than that resistance."""
    build = make_build(vehicle__rolling_coefficient=rolling)
    rest = build.total_mass_kg(aboard=False) - sum(item.mass_kg for item in build.vehicle.mass)
    items = build.vehicle.mass
    return build.changed(
        {
            "vehicle.mass[1].mass_kg": kg - rest - sum(item.mass_kg for item in items[1:]),
            "vehicle.rolling_coefficient": rolling,
        }
    )


@pytest.mark.parametrize("lift", [0.14, 0.29, 0.45])
def test_height_by_lifting_is_the_guidelines_form_for_wheels_of_one_size(lift):
    """VW Crafter body-builder guidelines, section 3.5, and the same on physicsforums.com, showthread p=4077342: z = L ΔW/(W tan θ)."""
    wheelbase, radius, whole, level, lifted = 1.4, 0.3, 200.0, 96.0, 103.0
    above = wheelbase * (lifted - level) / (whole * tan(asin(lift / wheelbase)))
    assert height_by_lifting(level, lifted, whole, wheelbase, radius, radius, lift) == pytest.approx(
        radius + above, rel=1e-12
    )


def test_the_shortcut_reads_high_by_what_is_printed():
    """R. Gray 1997: z ≈ L² ΔW/(H W) is 2.4 % of z high at H/L = 0.21, read to that precision."""
    wheelbase, lift = 1.0, 0.21
    exact = height_by_lifting(50.0, 52.0, 100.0, wheelbase, 0.0, 0.0, lift)
    shortcut = wheelbase**2 * 2.0 / (lift * 100.0)
    assert 100.0 * (shortcut / exact - 1.0) == pytest.approx(2.4, abs=0.15)


@pytest.mark.parametrize(("front", "rear"), [(0.30, 0.34), (0.34, 0.28)])
def test_unequal_wheels_add_their_axles_height(front, rear):
    """Milliken-type formula, formuladen.com 32033: add r_f b/L + r_r a/L; equal to first order in the tilt of the axles' line."""
    wheelbase, whole, level, lifted, lift = 1.4, 200.0, 96.0, 103.0, 0.3
    b, theta = wheelbase * level / whole, asin(lift / wheelbase)
    printed = (
        wheelbase * (lifted - level) / (whole * tan(theta)) + front * b / wheelbase + rear * (wheelbase - b) / wheelbase
    )
    assert height_by_lifting(level, lifted, whole, wheelbase, front, rear, lift) == pytest.approx(printed, abs=0.006)


def test_the_unequal_wheels_example_that_is_printed():
    """formuladen.com 32033, worked example, 37.6153671776983 m: wheels of 11 and 15 in, centre 30 in ahead of the rear axle and 27 in behind the
    front one on 2.7 m (which do not add up), 150 kg on the front axle of 55 kg at 10°. The wheels' share as printed, the lifted one ours."""
    inch, wheelbase, whole = 0.0254, 2.7, 55.0
    wheels = (11.0 * 30.0 + 15.0 * 27.0) * inch**2 / wheelbase
    level, lift = whole * 30.0 * inch / wheelbase, wheelbase * sin(radians(10.0))
    above = height_by_lifting(level, 150.0, whole, wheelbase, 0.0, 0.0, lift)
    assert wheels + above == pytest.approx(37.6153671776983, abs=1e-10)


def test_the_demo_donor_is_as_tall_as_motorcycles_are():
    """Height of the centre over the wheelbase, 39 motorcycles: mean 0.342, standard deviation 0.067 (Rose, nathanarose.com, 2018); frame and
    engine of the invented donor, without what the show put on it."""
    vehicle = load_build("heron_36v").vehicle
    bare = [item for item in vehicle.mass if item.item.startswith(("frame", "petrol"))]
    height = sum(item.mass_kg * item.z_m for item in bare) / sum(item.mass_kg for item in bare)
    assert len(bare) == 2
    assert height / vehicle.wheelbase_m == pytest.approx(0.342, abs=0.067)


def test_lifting_and_grip_limits_of_the_bike_that_is_printed():
    """Wheelie 12.13, stoppie 12.84, grip 7.02 m/s² at μ = 0.9 fix b/h = 1.2369 and (L - b)/h = 1.3093: the three must agree."""
    b_over_h, rest_over_h = 12.13 / G, 12.84 / G
    wheelbase = b_over_h + rest_over_h
    assert wheelie_acceleration(b_over_h, 1.0, 0.0) == pytest.approx(12.13, abs=5e-3)
    assert stoppie_deceleration(wheelbase - b_over_h, 1.0, 0.0) == pytest.approx(12.84, abs=5e-3)
    share = (wheelbase - b_over_h) / wheelbase
    assert G * steepest_by_grip(0.9, share, 1.0 / wheelbase, 0.0) == pytest.approx(7.02, abs=5e-3)


def test_four_hundred_kilograms_up_one_in_twelve():
    """HSE short guide (INDG143): over 30 kg for 400 kg up 1 in 12, ideal wheels."""
    force = push_force(rolling_mass(400.0), 100.0 / 12.0, motor_turning=False) / G
    assert force > 30.0
    assert force == pytest.approx(33.2, abs=0.05)


@pytest.mark.parametrize(("run", "kgf"), [(50, 8), (40, 10), (30, 13), (20, 20), (14, 29)])
def test_the_slope_table_for_four_hundred_kilograms(run, kgf):
    """HSE L23, from memory, whole kilograms-force, the slope's part alone."""
    assert push_force(rolling_mass(400.0), 100.0 / run, motor_turning=False) / G == pytest.approx(kgf, abs=0.55)


def test_a_rolling_load_on_the_level_takes_two_percent():
    """HSE push and pull: 2 % of the weight on the flat with good wheels; 200 kg 4 kgf, 400 kg 8 kgf."""
    for kg, kgf in ((200.0, 4.0), (400.0, 8.0)):
        assert push_force(rolling_mass(kg, 0.02), 0.0, motor_turning=False) / G == pytest.approx(kgf, abs=1e-6)


def test_the_guideline_for_one_person():
    """HSE L23 and RR228: start or stop 20 and 15 kgf, keep moving 10 and 7 kgf, taken as 200, 150, 100 and 70 N."""
    assert (START_N, KEEP_N) == ((200.0, 150.0), (100.0, 70.0))
