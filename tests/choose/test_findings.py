"""Each finding appears when its cause is there, with its numbers, and not otherwise."""

from __future__ import annotations

import math
from datetime import time

import pytest

from ridesim.choose import compare
from ridesim.day import Activity, Day, Leg, Route, load_day
from ridesim.vehicle import load_build
from ridesim.words import InputProblem
from tests.ride.machines import SERIES_WOUND, day_of, make_build, trace_of

BRAKES = [{"name": "drum", "deceleration_mps2": 3.0, "holds_percent": 30.0}]


def codes(build, day) -> dict[str, object]:
    return {finding.code: finding for finding in compare([build], day).candidates[0].findings}


def ride(speed=10.0, grade=0.0, length=300.0, laps=1, **day_fields) -> Day:
    route = Route("test", (Leg(length, speed, grade, "asphalt", 5.0),))
    return day_of(Activity(name="ride", route=route, laps=laps), **day_fields)


def braked(**changes):
    return make_build(vehicle__brakes=BRAKES, **changes)


def test_a_good_build_has_nothing_but_advice():
    found = codes(braked(), ride())
    assert {finding.severity for finding in found.values()} == {"advice"}
    assert set(found) == {"stopping-distance", "weight-not-placed"}


def test_will_not_start_names_grade_and_limit():
    found = codes(braked(), ride(grade=25.0))
    finding = found["will-not-start"]
    assert finding.severity == "stop"
    assert finding.numbers["grade_percent"] == 25.0
    assert 10.0 < finding.numbers["steepest_start_percent"] < 20.0
    assert "25.0 %" in finding.text
    assert "not-finished" in found
    assert "lap 1, leg 1 (25.0 % up)" in found["not-finished"].text
    assert found["stall"].numbers["stall_s"] == pytest.approx(60.0)


def test_a_slow_soft_start_is_told_with_the_current_that_flows_and_is_no_stop():
    """The current grows as a straight line to 80 A in 60 s.

    It breaks away where the geared torque K I - τ_f meets the slope and the raised rolling resistance.
    """
    build = braked(controller__ramp_s=60.0)
    found = codes(build, ride(grade=4.0))["stall-in-the-soft-start"]
    amps, seconds = found.numbers["stall_current_a"], found.numbers["stall_s"]
    assert amps == pytest.approx(80.0 * seconds / 60.0, rel=0.01)
    weight = build.total_mass_kg() * 9.80665
    slope = math.atan(0.04)
    holding = weight * (math.sin(slope) + 0.018 * build.vehicle.breakaway_factor * math.cos(slope))
    ratio = build.drive.ratio * build.drive.efficiency / build.vehicle.rolling_radius_m
    assert amps == pytest.approx((holding / ratio + 0.1) / 0.105, rel=0.02)
    assert found.severity == "warning"
    assert f"with up to {amps:.0f} A" in found.text
    # Where it never breaks away the whole current flows in the end.
    held = codes(build, ride(grade=25.0))["stall"]
    assert held.severity == "stop"
    assert held.numbers["stall_current_a"] > 0.9 * 80.0


@pytest.mark.parametrize(
    ("code", "changes", "day", "numbers"),
    [
        ("too-slow", {}, {"speed": 40.0}, {"asked_kmh": 40.0}),
        (
            "cut-off-reached",
            {"controller__cutoff_voltage_v": 35.0},
            {"speed": 20.0, "length": 1000.0, "laps": 5, "start_state_of_charge": 0.4},
            {"cutoff_voltage_v": 35.0},
        ),
        (
            "winding-burnt",
            {"motor__insulation_class": "A", "motor__rated_power_w": 60.0},
            {"speed": 15.0, "grade": 4.0, "length": 2000.0},
            {},
        ),
        ("controller-voltage", {"controller__max_voltage_v": 42.0}, {}, {"full_voltage_v": 43.2}),
        ("controller-voltage-unknown", {"controller__max_voltage_v": None}, {}, {}),
        ("above-60-volts", {"pack__blocks_in_series": 5}, {}, {"full_voltage_v": 72.0}),
        ("harsh-rate", {"pack__block_capacity_ah": 7.0}, {"speed": 20.0, "grade": 5.0, "length": 400.0}, {}),
        ("series-runaway", SERIES_WOUND, {}, {}),
    ],
)
def test_a_cause_brings_its_finding(code, changes, day, numbers):
    found = codes(braked(**changes), ride(**day))[code]
    for key, value in numbers.items():
        assert found.numbers[key] == pytest.approx(value), key


@pytest.mark.parametrize(
    ("code", "changes"),
    [
        ("controller-voltage", {"controller__max_voltage_v": 43.2}),
        ("above-60-volts", {"pack__blocks_in_series": 4}),
    ],
)
def test_no_finding_just_inside_the_limit(code, changes):
    assert code not in codes(braked(**changes), ride())


def climb(grade: float, surface: str = "asphalt", **activity) -> Day:
    route = Route("test", (Leg(50.0, 5.0, grade, surface, 5.0),))
    return day_of(Activity(name="ride", route=route, **activity))


def test_surface_and_rider_count_where_it_must_start():
    assert "will-not-start" not in codes(braked(), climb(12.5))
    assert "gravel" in codes(braked(), climb(12.5, "gravel"))["will-not-start"].text
    assert "will-not-start" in codes(braked(), climb(16.0))
    assert "will-not-start" not in codes(braked(), climb(16.0, aboard=False))
    level = codes(braked(controller__max_motor_current_a=1.5), ride())["will-not-start"]
    assert "does not even start on the level" in level.text


def test_reserve_and_empty_say_when_and_where():
    reserve = codes(braked(), ride(length=1000.0, laps=3, start_state_of_charge=0.25))["reserve-reached"]
    assert "13:" in reserve.text
    assert "“ride”" in reserve.text
    found = codes(braked(), ride(length=1000.0, laps=30, start_state_of_charge=0.25))
    assert found["pack-empty"].severity == "stop"
    assert "reserve-reached" not in found
    assert "stall" not in found, "an empty pack burns no commutator"


def test_brakes_that_do_not_cover_the_day():
    weak = make_build(vehicle__brakes=[{"name": "band", "deceleration_mps2": 0.5, "holds_percent": 2.0}])
    found = codes(weak, ride(grade=5.0))
    assert found["hold-not-covered"].numbers["slope_percent"] == 5.0
    assert found["stopping-not-covered"].severity == "stop"
    none = codes(make_build(), ride(grade=-5.0))
    assert "none is named that holds" in none["hold-not-stated"].text
    assert "hold-not-covered" not in codes(make_build(), ride())


def test_the_longest_way_down_warms_the_brakes():
    """By the energy of the slope, m g h less the way times rolling; a stretch of level between two slopes lets nothing add up."""
    legs = (Leg(400.0, 10.0, -10.0), Leg(200.0, 10.0, -5.0), Leg(50.0, 10.0, 0.0), Leg(420.0, 10.0, -10.0))
    build, day = braked(), day_of(Activity(name="down", route=Route("hill", legs)))
    atan, sin, cos = math.atan, math.sin, math.cos
    mass, rolling, g = build.total_mass_kg(), build.vehicle.rolling_coefficient, 9.80665
    angles = [(400.0, atan(0.10)), (200.0, atan(0.05))]
    energy = sum(mass * g * (sin(a) - rolling * cos(a)) * length for length, a in angles)
    found = codes(build, day)["brakes-warm"]
    assert found.numbers["energy_j"] == pytest.approx(energy)
    assert found.numbers["rise_k"] == pytest.approx(energy / (3.0 * 490.0))
    assert "brakes-warm" not in codes(build, ride(grade=-1.0))


def test_stopping_distance_is_reaction_and_braking():
    # 10 km/h, one second to react and 1 m/s²: 2.78 + 2.78²/2 = 6.64 m
    assert codes(braked(), ride(speed=10.0))["stopping-distance"].numbers["stopping_distance_m"] == pytest.approx(
        6.636, abs=0.001
    )


def test_lithium_is_not_charged_below_freezing():
    lithium = braked(pack__chemistry="lithium-iron-phosphate", pack__cells_in_series=12, pack__blocks_in_series=1)
    charge = Activity(name="charge", duration_min=30.0, charge_current_a=4.0)
    found = codes(lithium, day_of(charge, ambient_c=-1.0, start_state_of_charge=0.5))
    assert found["too-cold-to-charge"].severity == "stop"
    assert "too-cold-to-charge" not in codes(lithium, day_of(charge, ambient_c=0.0, start_state_of_charge=0.5))
    assert "hydrogen" in codes(braked(), day_of(charge))["charging-place"].text


def test_lateness_is_reported():
    slow = Route("slow", (Leg(1000.0, 5.0, 0.0, "asphalt", 5.0),))
    day = day_of(
        Activity(name="first", start=time(13), route=slow), Activity(name="second", start=time(13, 5), duration_min=5.0)
    )
    finding = codes(braked(), day)["late"]
    assert finding.numbers["late_s"] == pytest.approx(720.0 + 5.0 - 300.0, abs=10.0)


def test_own_battery_runs_out():
    lights = {"supply": "own-battery", "battery_capacity_ah": 7.0, "load": [{"name": "lamp", "power_w": 60.0}]}
    day = day_of(Activity(name="display", duration_min=180.0, lighting=1.0), ambient_c=25.0)
    finding = codes(braked(lighting=lights), day)["lights-out"]
    # 60 W at 12 V is 5 A: Peukert, 20 h (7/(5·20))^1.21 = 0.801 h, so 13:48
    assert "13:48" in finding.text
    assert "no-lights" in codes(braked(), day)


def test_the_trial_figures_of_the_heron():
    """An independent trial of the same equations: 13.4 % start, 15 km/h on 1:12, 33 km/h on 48 V, 24.8 and 22.7 km/h on 36 V.

    The two 36 V speeds were had without the settled polarisation, which takes 0.1 km/h.
    """
    from ridesim import steepest_start_percent, top_speed_kmh

    # The trial had neither activation nor depletion.
    plain = {"pack.activation_v_per_cell": 0.0, "pack.end_voltage_v_per_cell": [[20.0, 2.14]]}
    heron, taller = (load_build(name).changed(plain) for name in ("heron_36v", "heron_48v"))
    assert steepest_start_percent(heron) == pytest.approx(13.4, abs=0.05)
    assert top_speed_kmh(heron) == pytest.approx(24.8, abs=0.15)
    assert top_speed_kmh(heron, 0.2) == pytest.approx(22.7, abs=0.15)
    assert top_speed_kmh(heron, 1.0, 100.0 / 12.0) == pytest.approx(15.0, abs=0.1)
    assert top_speed_kmh(taller) == pytest.approx(33.0, abs=0.1)


def test_a_comparison_gives_bands_around_the_law_in_use():
    builds = [load_build(name) for name in ("heron_36v", "heron_48v")]
    comparison = compare(builds, load_day("harbour_festival"))
    for each in comparison.candidates:
        assert each.end_charge.low <= each.end_charge.value <= each.end_charge.high
        assert each.range_km.low < each.range_km.high
        assert each.plain_end_charge > each.end_charge.value, "the plain estimate is the optimist"
    table = comparison.table
    assert list(table.index) == ["Heron, 36 V", "Heron, 48 V"]
    assert table.loc["Heron, 36 V", "distance_km"] == comparison.rides[0].outcome.distance_km
    assert {name: str(kind) for name, kind in table.dtypes.items() if kind != "float64"} == {"finished": "bool"}


def test_compare_refuses_twins_and_nothing():
    build = load_build("heron_36v")
    with pytest.raises(InputProblem, match="“Heron, 36 V” twice"):
        compare([build, build], load_day("harbour_festival"))
    with pytest.raises(InputProblem, match="one at least"):
        compare([], load_day("harbour_festival"))


def test_a_trace_on_a_day_counts_what_it_plans():
    trace = trace_of((0.0, 0.0), (10.0, 9.0), (40.0, 9.0), (50.0, 0.0))
    found = compare([braked()], day_of(Activity(name="t", trace=trace, repeats=4))).rides[0].outcome
    assert found.planned_distance_km == pytest.approx(4 * 0.1)
    assert found.distance_km == pytest.approx(0.4, rel=1e-6)


def test_downhill_the_slope_adds_to_what_the_brakes_must_do():
    weak = [{"name": "band", "deceleration_mps2": 2.0, "holds_percent": 30.0}]
    finding = codes(make_build(vehicle__brakes=weak), ride(grade=-20.0))["downhill-stop-not-covered"]
    # 1.0 m/s² wanted and 9.81 × sin(atan 0.2) = 1.92 m/s² of slope
    assert finding.numbers["needed_mps2"] == pytest.approx(2.923, abs=0.001)
    assert "downhill-stop-not-covered" not in codes(make_build(vehicle__brakes=weak), ride(grade=-5.0))


def test_driven_back_downhill_names_the_speed_at_which_it_begins():
    """Down 12 % at up to 60 km/h without freewheel: more current than the blocks may be charged with."""
    fast = ride(speed=60.0, grade=-12.0, length=2000.0)
    found = codes(braked(), fast)["driven-back-downhill"]
    assert found.severity == "stop"
    assert {"speed_kmh", "current_a", "voltage_v"} < set(found.numbers)
    # The pack's voltage, brushes and diodes, over K and the gearing.
    build = braked()
    begins = found.numbers["speed_kmh"] / 3.6 * build.drive.ratio / build.vehicle.rolling_radius_m * 0.105
    assert begins == pytest.approx(38.4 + 1.8, abs=0.8)
    assert f"From {found.numbers['speed_kmh']:.0f} km/h" in found.text
    assert "driven-back-downhill" not in codes(braked(drive__freewheel=True), fast)
    assert "driven-back-downhill" not in codes(braked(), ride(speed=15.0, grade=-12.0))
