"""The mass ledger against moments taken apart, the lifted axle against a drawn body, limits against equilibrium."""

from __future__ import annotations

from math import asin, atan, cos, isinf, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import ridesim
from ridesim.physics.balance import (
    bar_force,
    lean_until_lost,
    steepest_by_grip,
    stoppie_deceleration,
    tip_slope,
    wheelie_acceleration,
)
from ridesim.sizing.balance import balance, bar_force_n, handling, ledger, lifted, unplaced
from ridesim.sizing.moving import push, push_force, steepest_push_percent
from ridesim.words import InputProblem

HERON = ridesim.load_build("heron_36v")
G = 9.80665


def span(low, high):
    return st.floats(low, high, allow_nan=False)


@given(
    places=st.lists(st.tuples(span(-0.5, 2.0), span(0.0, 2.0), span(0.1, 150.0)), min_size=1, max_size=6),
    pack=st.tuples(span(-0.5, 2.0), span(0.0, 2.0)), wheelbase=span(0.6, 3.0), rider=st.booleans(),
)  # fmt: skip
def test_balance_is_that_of_moments_taken_apart(places, pack, wheelbase, rider):
    items = [{"item": f"part {n}", "x_m": x, "z_m": z, "mass_kg": kg} for n, (x, z, kg) in enumerate(places)]
    build = HERON.changed(
        {"vehicle.mass": items, "vehicle.wheelbase_m": wheelbase, "pack.x_m": pack[0], "pack.z_m": pack[1]}
    )
    found = balance(build, rider)
    rest = [
        (build.motor.mass_kg, build.motor.x_m, build.motor.z_m), (build.controller.mass_kg, build.controller.x_m, build.controller.z_m),
        (3 * 6.6, *pack), (2.5, build.lighting.x_m, build.lighting.z_m),
    ]  # fmt: skip
    rest += [(75.0, 0.45, 0.95)] if rider else []
    mass, x, z = np.array([*((kg, x, z) for x, z, kg in places), *rest]).T
    assert found.mass_kg.value == pytest.approx(mass.sum())
    assert found.x_m.value == pytest.approx((mass @ x) / mass.sum(), abs=1e-9)
    assert found.z_m.value == pytest.approx((mass @ z) / mass.sum(), abs=1e-9)
    # The front axle's load from moments about the rear contact, the rear's about the front.
    assert found.front_kg.value * wheelbase == pytest.approx(mass @ x, abs=1e-6)
    assert found.rear_kg.value * wheelbase == pytest.approx(mass @ (wheelbase - x), abs=1e-6)


def test_bands_are_the_scales_and_what_is_removed_weighs_nothing():
    found = balance(HERON)
    sides = [width.high - width.value for width in (load.mass_kg for load in ledger(HERON))]
    assert found.mass_kg.high - found.mass_kg.value == pytest.approx(np.hypot.reduce(sides))
    for band in (found.x_m, found.z_m, found.front_kg, found.rear_kg):
        assert band.low < band.value < band.high
    assert balance(ridesim.exact(HERON)).mass_kg.low == pytest.approx(HERON.total_mass_kg())
    stripped = HERON.changed({"vehicle.mass[3].removed": True})
    assert stripped.total_mass_kg() == pytest.approx(HERON.total_mass_kg() - HERON.vehicle.mass[2].mass_kg)
    assert balance(stripped).mass_kg.value == pytest.approx(stripped.total_mass_kg())


def test_what_has_no_place_is_named():
    bare = HERON.changed({"pack.x_m": None, "motor.z_m": None})
    assert unplaced(bare) == ["motor", "pack"]
    with pytest.raises(InputProblem, match=r"x_m, z_m: found nothing there for motor, pack"):
        balance(bare)
    with pytest.raises(InputProblem, match=r"vehicle\.wheelbase_m"):
        balance(HERON.changed({"vehicle.wheelbase_m": None}))
    with pytest.raises(InputProblem, match="z_m"):
        HERON.changed({"pack.z_m": -0.1})
    (said,) = [
        f
        for f in ridesim.compare(bare, "harbour_festival", draws=0).findings[bare.name]
        if f.code == "weight-not-placed"
    ]
    assert said.severity == "advice"
    assert "motor.x_m and z_m, pack.x_m and z_m are not stated" in said.text


@given(
    u=span(0.1, 0.9), height=span(0.2, 1.2), wheelbase=span(0.8, 2.5), front=span(0.1, 0.4), rear=span(0.1, 0.4), lift=span(0.08, 0.5),
)  # fmt: skip
def test_a_lifted_axle_gives_back_the_height_of_a_drawn_body(u, height, wheelbase, front, rear, lift):
    """A body turned as a whole: readings from where its centre stands over the two contacts."""
    lift *= wheelbase
    level, raised = asin((rear - front) / wheelbase), 0.0
    if not 0.0 < rear + lift - front < 0.95 * wheelbase:
        return
    raised = asin((rear + lift - front) / wheelbase)
    behind, above = u * wheelbase, height  # in the body's own axes, from the front axle
    readings = []
    for angle in (level, raised):
        back = behind * cos(angle) - above * sin(angle)
        readings.append(200.0 * (1.0 - back / (wheelbase * cos(angle))))
    ground = front + behind * sin(level) + above * cos(level)
    if min(readings) <= 1.0 or max(readings) >= 199.0 or readings[1] <= readings[0] or ground <= 0.01:
        return
    assert lifted(readings[0], readings[1], 200.0, wheelbase, front, rear, lift) == pytest.approx(ground, rel=1e-6)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"lift_m": 1.5}, "lift_m: found 1.5 m; expected a number above 0, at most 1.4 m"),
        ({"lift_m": 0.0}, "lift_m"),
        ({"front_level_kg": 230.0}, "front_level_kg: found 230 kg; expected a number above 0, at most 200 kg"),
        ({"front_lifted_kg": 20.0}, "Are the two readings swapped"),
        ({"total_kg": float("nan")}, "total_kg"),
        ({"rear_radius_m": 0.9, "lift_m": 0.9}, "lift and wheels"),
    ],
)
def test_a_weighing_that_cannot_be(change, words):
    good = {"front_level_kg": 96.0, "front_lifted_kg": 104.0, "total_kg": 200.0, "wheelbase_m": 1.4, "front_radius_m": 0.3, "rear_radius_m": 0.3,
            "lift_m": 0.35}  # fmt: skip
    with pytest.raises(InputProblem, match=words):
        lifted(**{**good, **change})


def axle_loads(b, h, wheelbase, slope, acceleration):
    """Loads across the slope on the front and the rear axle, over the mass: moments about both contacts. [m/s²]"""
    angle = atan(slope)
    along = acceleration + G * sin(angle)
    return (G * cos(angle) * b - along * h) / wheelbase, (G * cos(angle) * (wheelbase - b) + along * h) / wheelbase


@given(b=span(0.2, 1.0), rest=span(0.2, 1.0), h=span(0.3, 1.2), slope=span(-0.3, 0.3))
def test_wheels_lift_where_their_load_is_gone(b, rest, h, slope):
    front, _ = axle_loads(b, h, b + rest, slope, wheelie_acceleration(b, h, slope))
    _, rear = axle_loads(b, h, b + rest, slope, -stoppie_deceleration(rest, h, slope))
    assert front == pytest.approx(0.0, abs=1e-9)
    assert rear == pytest.approx(0.0, abs=1e-9)


@given(
    b=span(0.2, 1.0),
    rest=span(0.2, 1.0),
    h=span(0.3, 1.0),
    friction=span(0.05, 1.0),
    rolling=span(0.0, 0.04),
    rear=st.booleans(),
)
def test_grip_holds_to_the_slope_at_which_pull_and_load_agree(b, rest, h, friction, rolling, rear):
    wheelbase = b + rest
    slope = steepest_by_grip(friction, wheelbase, b, h, rolling, rear)
    if not isinf(slope):
        loads, angle = axle_loads(b, h, wheelbase, slope, 0.0), atan(slope)
        assert friction * loads[int(rear)] == pytest.approx(G * (sin(angle) + rolling * cos(angle)), abs=1e-9)
    fastest = G * steepest_by_grip(friction, wheelbase, b, h, 0.0, rear)
    if not isinf(fastest):
        assert friction * axle_loads(b, h, wheelbase, 0.0, fastest)[int(rear)] == pytest.approx(fastest, abs=1e-9)


def test_leaning_and_tipping():
    force = bar_force(150.0, 0.7, radians(10.0), 1.0)
    assert force == pytest.approx(150.0 * G * 0.7 * sin(radians(10.0)))
    assert lean_until_lost(force, 150.0, 0.7, 1.0) == pytest.approx(radians(10.0))
    assert lean_until_lost(1e5, 150.0, 0.7, 1.0) == pytest.approx(radians(90.0))
    assert tip_slope(0.4, 0.8, 1.0) == pytest.approx(0.5)
    # Three wheels: with its weight over the single one nothing holds it.
    assert tip_slope(0.4, 0.8, 0.0) == 0.0
    three = HERON.changed({"vehicle.wheels": 3, "vehicle.track_m": 0.8})
    found = balance(three)
    along = found.wheelbase_m - found.x_m.value
    assert handling(three).tips_percent == pytest.approx(100.0 * 0.4 * along / found.wheelbase_m / found.z_m.value)
    assert handling(three).lost_degrees is None
    assert handling(HERON).tips_percent is None
    assert bar_force_n(HERON, handling(HERON).lost_degrees) == pytest.approx(250.0)


def test_a_lower_tray_takes_weight_off_the_bar():
    low, high = (HERON.changed({"pack.z_m": z}) for z in (0.3, 0.9))
    assert bar_force_n(low, 10.0) < bar_force_n(high, 10.0)


@pytest.mark.parametrize(
    ("change", "code", "severity"),
    [
        ({"pack.x_m": -3.0, "rider.x_m": -0.6}, "tips-backwards", "stop"),
        ({"pack.x_m": -0.7}, "slips-when-wet", None),
        ({"vehicle.driven_axle": "front"}, "slips-when-wet", "warning"),
        (
            {
                "controller.max_motor_current_a": 400.0,
                "controller.max_battery_current_a": 400.0,
                "drive.wheel_teeth": 90,
                "drive.motor_teeth": 8,
            },
            "front-lifts",
            "warning",
        ),
    ],
)
def test_findings_come_where_the_day_s_slope_is_too_much_for_the_weight(change, code, severity):
    build = HERON.changed(change)
    findings = ridesim.compare(build, "harbour_festival", draws=0).findings[build.name]
    found = [each.severity for each in findings if each.code == code]
    assert found == ([] if severity is None else [severity])


def test_pushing_is_grade_rolling_and_drag():
    light = HERON.changed({"drive.freewheel": True})
    mass = HERON.total_mass_kg(aboard=False)
    for slope in (0.0, 0.0833, 0.25):
        angle = atan(slope)
        bare = mass * G * (sin(angle) + 0.018 * cos(angle))
        assert push_force(HERON, 100.0 * slope, motor_turning=False) == pytest.approx(bare)
        assert push_force(light, 100.0 * slope) == pytest.approx(bare), "a freewheel lets the motor stand"
        drag = (
            HERON.motor.friction_torque_nm * HERON.drive.ratio / HERON.drive.efficiency / HERON.vehicle.rolling_radius_m
        )
        assert push_force(HERON, 100.0 * slope) == pytest.approx(bare + drag)
    assert push_force(HERON, 0.0, "grass", motor_turning=False) == pytest.approx(3.0 * mass * G * 0.018)
    assert push(HERON, 0.0).start_n > push(HERON, 0.0).keep_n


def test_people_by_the_guideline():
    two = steepest_push_percent(HERON, 2)
    assert push(HERON, two).men == 2
    assert push(HERON, two + 0.01).men == 3
    assert push(HERON, 8.33).women >= push(HERON, 8.33).men
    assert steepest_push_percent(HERON.changed({"vehicle.rolling_coefficient": 0.4}), 1) == 0.0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((150.0,), "slope_percent"),
        ((0.0, "lava"), "“lava”; expected one of asphalt"),
        ((float("nan"),), "slope_percent"),
    ],
)
def test_pushing_that_cannot_be(arguments, words):
    with pytest.raises(InputProblem, match=words):
        push_force(HERON, *arguments)
