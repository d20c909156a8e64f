"""The mass ledger against moments taken apart, the lifted axle against a drawn body, limits against equilibrium."""

from __future__ import annotations

from math import asin, atan, cos, inf, isinf, nan, radians, sin, tan

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import ridesim
from ridesim.day import SURFACES, Leg, Route
from ridesim.physics.balance import (
    bar_force,
    crest_slope,
    grip_force,
    lean_until_lost,
    steepest_by_grip,
    stoppie_deceleration,
    tip_slope,
    wheelie_acceleration,
)
from ridesim.physics.controller import LIMIT_NAMES
from ridesim.ride.steady import steepest_start_percent
from ridesim.sizing.balance import balance, bar_force_n, handling, lifted
from ridesim.sizing.moving import crest_percent, lifters, push, push_force, ramp_length_m, steepest_push_percent
from ridesim.sizing.weighing import weighed
from ridesim.vehicle.ledger import ledger, unplaced
from ridesim.words import InputProblem

HERON = ridesim.load_build("heron_36v").changed(
    {f"vehicle.{key}": None for key in ("clearance_mm", "stand_offset_m", "handlebar_width_m")}
)
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
        ({"front_lifted_kg": 196.0, "lift_m": 0.05}, "a centre of gravity .* up; expected one at most 3 wheelbases up"),
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
    share, height = (rest / wheelbase, h / wheelbase) if rear else (b / wheelbase, -h / wheelbase)
    slope = steepest_by_grip(friction, share, height, rolling)
    if not isinf(slope):
        loads, angle = axle_loads(b, h, wheelbase, slope, 0.0), atan(slope)
        needed = G * (sin(angle) + rolling * cos(angle))
        assert friction * loads[int(rear)] == pytest.approx(needed, abs=1e-9)
        assert grip_force(friction, share, height, G * cos(angle), rolling * G * cos(angle)) == pytest.approx(
            max(0.0, needed), abs=1e-9
        )
    fastest = G * steepest_by_grip(friction, share, height, 0.0)
    if not isinf(fastest):
        assert friction * axle_loads(b, h, wheelbase, 0.0, fastest)[int(rear)] == pytest.approx(fastest, abs=1e-9)


def test_leaning_and_tipping():
    force = bar_force(150.0, 0.7, radians(10.0), 1.0)
    assert force == pytest.approx(150.0 * G * 0.7 * sin(radians(10.0)))
    assert lean_until_lost(force, 150.0, 0.7, 1.0) == pytest.approx(radians(10.0))
    assert lean_until_lost(1e5, 150.0, 0.7, 1.0) == pytest.approx(radians(90.0))
    assert tip_slope(0.4, 0.8) == pytest.approx(0.5)
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
        ({"pack.x_m": -1.5, "rider.x_m": -0.6}, "tips-backwards", "stop"),
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


def test_people_who_hold_it_back_down_a_ramp():
    """Down 1 in 4 the slope pulls with its part of the weight less rolling and drag; 100 N keep one man's share."""
    down, weight = push(HERON, -25.0), HERON.total_mass_kg(aboard=False) * G
    turning = push_force(HERON, 0.0) - push_force(HERON, 0.0, motor_turning=False)
    held = weight * (sin(atan(0.25)) - 0.018 * cos(atan(0.25))) - turning
    assert down.keep_n == pytest.approx(-held)
    assert down.men == 4 == -(-held // 100.0)
    assert f"to hold it back, {held:.0f} N" in repr(down)
    assert push(HERON, -2.0).men == 1


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


def test_a_ride_pulls_no_harder_than_its_tyre_grips(make_day):
    """On grass a strong drive is held at the pull of moments and friction, and stops where the slope takes more."""
    grips = {f"vehicle.grip.{ground}": 0.3 for ground in ("asphalt", "grass")}
    strong = HERON.changed(
        {**grips, "controller.max_motor_current_a": 200.0, "controller.max_battery_current_a": 200.0}
    )
    found, slope = balance(strong), 0.05

    def ride(percent):
        legs = (Leg(60.0, 15.0, percent, "grass"),)
        return ridesim.simulate(strong, make_day({"route": Route("a meadow", legs)}, rider_acceleration_mps2=5.0))

    rides = ride(100.0 * slope)
    angle = atan(slope)
    rolling = found.mass_kg.value * G * cos(angle) * strong.vehicle.rolling_coefficient * SURFACES["grass"]
    height, wheelbase = found.z_m.value, found.wheelbase_m
    pull = rides.rows["pull_n"].max()
    rear = (
        found.mass_kg.value * G * cos(angle) * (1.0 - found.x_m.value / wheelbase)
        + (pull - rolling) * height / wheelbase
    )
    assert pull == pytest.approx(0.3 * rear, rel=1e-9)
    assert LIMIT_NAMES[rides.rows["limit"][rides.rows["pull_n"].argmax()]] == "the tyre's grip"
    assert rides.outcome.finished

    steep = ridesim.compare(strong, ride(20.0).day, draws=0)
    assert steep.verdicts[0].level == "no"
    assert "there its driven wheel grips on" in steep.verdicts[0].sentence
    (said,) = [each for each in steep.findings[strong.name] if each.code == "will-not-start"]
    assert "where the driven wheel slips. More weight on the driven axle" in said.text
    unknown = strong.changed({"pack.x_m": None})
    assert steepest_start_percent(unknown, surface="grass") > steepest_start_percent(strong, surface="grass")


def test_blocks_are_placed_one_by_one_or_as_a_tray():
    places = [{"x_m": x, "z_m": 0.4} for x in (0.3, 0.5, 0.7)]
    one_by_one = HERON.changed({"pack.x_m": None, "pack.z_m": None, "pack.place": places})
    tray = HERON.changed({"pack.x_m": 0.5, "pack.z_m": 0.4})
    for rider in (True, False):
        assert balance(one_by_one, rider).x_m.value == pytest.approx(balance(tray, rider).x_m.value)
    assert [load.item for load in ledger(one_by_one)][-5:] == [
        "block 1",
        "block 2",
        "block 3",
        "lighting battery",
        "rider",
    ]
    fewer = one_by_one.changed({"pack.blocks_in_series": 2})
    assert (fewer.pack.place, fewer.pack.x_m, fewer.pack.z_m) == ((), 0.5, 0.4)
    assert "places-dropped" in [note.code for note in fewer.notes]
    with pytest.raises(InputProblem, match=r"pack\.place: found 3 places; expected one for each of the 4 blocks"):
        HERON.changed({"pack.x_m": None, "pack.z_m": None, "pack.place": places, "pack.blocks_in_series": 4})
    with pytest.raises(InputProblem, match="either the blocks' places or the pack's"):
        HERON.changed({"pack.place": places})


def test_what_stands_off_the_middle_tips_earlier():
    cart = HERON.changed({"vehicle.wheels": 4, "vehicle.track_m": 0.8})
    off = cart.changed({"vehicle.mass[2].y_m": 0.3})
    aside = balance(off).y_m.value
    assert aside == pytest.approx(0.3 * HERON.vehicle.mass[1].mass_kg / HERON.total_mass_kg())
    assert handling(off).tips_percent == pytest.approx(100.0 * (0.4 - aside) / balance(off).z_m.value)


def test_the_far_grip_is_a_longer_lever():
    wide = HERON.changed({"vehicle.handlebar_width_m": 0.8})
    assert bar_force_n(wide, 10.0) == pytest.approx(bar_force_n(HERON, 10.0) * 1.02 / np.hypot(1.02, 0.4))


def test_a_side_stand_holds_by_its_foot():
    """Moments about the foot and about the tyres, the vehicle drawn at its lean."""
    assert handling(HERON).stand_percent is None
    wide, near = (HERON.changed({"vehicle.stand_offset_m": offset}) for offset in (0.40, 0.20))
    height = balance(wide, rider=False).z_m.value
    over, away = handling(wide).stand_percent
    lean = radians(15.0)
    ground = atan(over / 100.0)
    # Turned with the ground, the centre of gravity stands straight above the foot.
    assert height * sin(lean) * cos(ground) + height * cos(lean) * sin(ground) == pytest.approx(0.40 * cos(ground))
    assert away == pytest.approx(17.6, abs=0.05)
    codes = [{f.code for f in ridesim.compare(b, "harbour_festival", draws=0).findings[b.name]} for b in (wide, near)]
    assert ["stand-falls" in each for each in codes] == [False, True]


@given(mass=span(1.0, 60.0), x=span(-0.5, 1.5), z=span(0.1, 1.5))
@example(mass=3.3499999999999996, x=0.0, z=1.0)
@settings(max_examples=30)
def test_scales_find_what_the_ledger_leaves_out(mass, x, z):
    """A vehicle with one item more than its file, weighed level and with its rear raised: mass and place come back."""
    whole = HERON.changed(
        {
            "vehicle.mass": [
                *(i.model_dump() for i in HERON.vehicle.mass),
                {"item": "forgotten", "mass_kg": mass, "x_m": x, "z_m": z},
            ]
        }
    )
    found, lift = balance(whole, rider=False), 0.35
    angle = asin(lift / found.wheelbase_m)
    ahead = found.x_m.value * cos(angle) + (found.z_m.value - 0.305) * sin(angle)
    raised = found.mass_kg.value * ahead / (found.wheelbase_m * cos(angle))
    readings = found.front_kg.value, found.rear_kg.value, raised, lift
    exactly = weighed(ridesim.exact(HERON), *readings, scale_kg=0.0)
    assert exactly.z_m.value == pytest.approx(found.z_m.value)
    assert exactly.missing_kg.value == pytest.approx(mass)
    assert (exactly.missing_x_m.value, exactly.missing_z_m.value) == pytest.approx((x, z), abs=1e-6)
    said = weighed(HERON, *readings)
    if said.missing_x_m is None:
        assert mass <= said.missing_kg.high
        assert "agrees" in said.sentence
    else:
        assert said.missing_x_m.low <= x <= said.missing_x_m.high
        assert said.missing_z_m.low <= z <= said.missing_z_m.high
        assert said.missing_kg.value == pytest.approx(mass)
        assert f"leaves out {said.missing_kg.value:.1f} kg" in said.sentence


def test_half_a_kilogram_is_thirteen_millimetres():
    """Ours, by dh = L cot θ δW/W: 0.5 kg on 200 kg, 1.4 m, raised by 15°: 13 mm."""
    build = HERON.changed({"vehicle.wheelbase_m": 1.4})
    said = weighed(build, 90.0, 110.0, 104.0, 1.4 * sin(radians(15.0)))
    shares = np.hypot.reduce([1.0, 1.0, 0.0])  # both front readings are off; the rear's is only in the whole
    assert said.z_m.high - said.z_m.value == pytest.approx(0.013 * shares, rel=0.1)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [({"front_kg": -1.0}, "front_kg"), ({"lift_m": 0.3}, "both, or neither"), ({"scale_kg": nan}, "scale_kg")],
)
def test_a_weighing_that_says_too_little(wrong, words):
    with pytest.raises(InputProblem, match=words):
        weighed(HERON, **{"front_kg": 60.0, "rear_kg": 95.0, **wrong})


@pytest.mark.parametrize(("x", "words"), [(-3.0, "tips over its rear axle"), (5.0, "tips over its front axle")])
def test_a_weight_beyond_an_axle_does_not_stand(x, words):
    build = HERON.changed({"vehicle.mass[1].x_m": x})
    found = ridesim.compare(build, "harbour_festival", draws=0).findings[build.name]
    falls = [each for each in found if each.code == "does-not-stand"]
    place = balance(build).x_m.value
    assert words in falls[0].text
    assert falls[0].severity == "stop"
    assert falls[0].numbers["beyond_m"] == pytest.approx(max(-place, place - 1.38))
    assert "tips-backwards" not in {each.code for each in found}


def test_ramps_crests_and_lifting():
    assert crest_percent(HERON) is None
    low = HERON.changed({"vehicle.clearance_mm": 90.0})
    beta = atan(crest_percent(low) / 100.0)
    # The line from a contact to the point at the crest rises by half the angle over half the wheelbase.
    assert 0.69 * tan(beta / 2.0) == pytest.approx(0.090)
    assert crest_slope(0.7, 1.38) == inf
    codes = {
        f.code
        for f in ridesim.compare(low.changed({"vehicle.clearance_mm": 60.0}), "harbour_festival", draws=0).findings[
            low.name
        ]
    }
    assert "grounds-at-crest" in codes
    assert ramp_length_m(0.8, 25.0) == pytest.approx(np.hypot(0.8, 3.2))
    assert lifters(16.0) == (1, 1)
    assert lifters(26.0) == (2, 2)
    assert lifters(49.0) == (2, 4)


def test_a_heavy_build_is_flagged_until_it_was_weighed():
    heavy = HERON.changed({"vehicle.mass[1].mass_kg": 230.0})
    codes = [{f.code for f in ridesim.compare(b, "harbour_festival", draws=0).findings[b.name]} for b in (
        HERON, heavy, heavy.changed({"vehicle.parts_weighed": True}))]  # fmt: skip
    assert ["heavy-build" in each for each in codes] == [False, True, False]
