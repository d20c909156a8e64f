"""What a spin test finds, says and refuses."""

from __future__ import annotations

import numpy as np
import pytest

from ridesim.bench.logs import load_log, read_log
from ridesim.bench.motor.checks import _cold
from ridesim.bench.motor.identify import identify_motor
from ridesim.bench.motor.log import RPM, Meter, MotorLog
from ridesim.bench.motor.next_reading import next_readings
from ridesim.bench.motor.prediction import carrier_at, predict, wheel_rpm
from ridesim.ride.steady import top_speed_kmh
from ridesim.vehicle import load_build
from ridesim.words import InputProblem
from tests.bench.benches import (
    NAMES,
    Plan,
    motor_of,
    random_motor,
    random_series_motor,
    simulate_bench,
    spun_free,
    table_of,
)

FINE = Meter(voltage_percent=0.01, current_percent=0.01, speed_percent=0.01, torque_percent=0.01)


def found(**changes):
    return identify_motor(read_log(MotorLog, table_of(**changes)))


def refused(**changes) -> InputProblem:
    with pytest.raises(InputProblem) as caught:
        found(**changes)
    return caught.value


@pytest.mark.parametrize(("seed", "room_c"), [(0, 20.0), (1, 20.0), (2, 2.0)])
def test_good_meters_find_the_motor_s_numbers_at_20_degrees(seed, room_c):
    motor = random_motor(np.random.default_rng(seed))
    result = identify_motor(simulate_bench(motor, Plan(room_c=room_c), FINE))
    for name in NAMES:
        assert result.values[name].value == pytest.approx(getattr(motor, name), rel=2e-3), name
    assert result.estimate.scatter == 1.0


def test_chain_and_wheel_drag_are_told_apart_where_asked():
    plan = Plan(chain_v=(12.5,), chain_torque_nm=0.045)
    result = identify_motor(simulate_bench(motor_of(), plan, FINE))
    assert result.chain_torque_nm is not None
    assert result.chain_torque_nm.value == pytest.approx(0.045, rel=0.02)
    assert result.values["friction_torque_nm"].value == pytest.approx(0.10, rel=0.01)


def test_chain_on_in_every_row_is_said_to_be_in_the_friction():
    result = identify_motor(
        simulate_bench(motor_of(), Plan(free_v=(), chain_v=(6.0, 9.0, 12.5), chain_torque_nm=0.045), FINE)
    )
    assert result.chain_torque_nm is None
    assert result.values["friction_torque_nm"].value == pytest.approx(0.145, rel=0.01)
    assert any("chain" in sentence for sentence in result.not_told)


@pytest.mark.parametrize(("measured_at", "ratio"), [("sprocket", 3.0), ("wheel", 15.0)])
def test_speeds_in_other_units_from_sprocket_or_wheel(measured_at, ratio):
    table = table_of(
        speed_measured_at=measured_at, gearing={"gearbox_ratio": 3.0, "motor_teeth": 11, "wheel_teeth": 55}
    )
    table["turned"][0]["speed_rad_per_s"] = table["turned"][0].pop("speed_rpm") * RPM / ratio
    for row in table["free_spin"]:
        row["turns"], row["seconds"] = row.pop("speed_rpm") / 6.0 / ratio, 10.0
        row["current_ma"] = 1000.0 * row.pop("current_a")
    constant = identify_motor(read_log(MotorLog, table)).values["torque_constant_nm_per_a"]
    assert constant.value == pytest.approx(0.105, rel=0.005)


def test_a_brake_point_and_a_drill_narrow_the_bands():
    plain, braked, drilled = (
        result.values["torque_constant_nm_per_a"]
        for result in (
            found(),
            identify_motor(simulate_bench(motor_of(), Plan(braked=((12.5, 2.0),)))),
            found(turned=[{"voltage_v": 16.49, "speed_rpm": 1500.0}]),
        )
    )
    assert braked.high - braked.low < 0.9 * (plain.high - plain.low)
    assert drilled.value == pytest.approx(0.105, rel=0.003)
    assert drilled.high < plain.high


def test_scattered_points_widen_the_bands_and_are_said():
    calm, scattered = found(), found(free_spin__1__speed_rpm=719.1 * 1.08)
    assert calm.estimate.scatter == 1.0
    assert scattered.estimate.scatter > 1.0
    assert {finding.code for finding in scattered.findings} >= {"points-scatter"}


def test_a_resistance_from_free_spins_alone_is_wide_and_said():
    """The shipped log's spins with chain on, taken by themselves, seem to tell 0.9 ohm; the Heron's motor has 0.085."""
    result = identify_motor(load_log("heron_motor_bench").model_copy(update={"held": ()}))
    assert any(sentence.startswith("Resistance: no held rotor") for sentence in result.not_told)
    band = result.values["resistance_ohm"]
    assert band.high > 5.0 * band.low


def test_held_points_at_like_currents_tie_resistance_to_brush_drop():
    near = found(held=[{"voltage_v": 1.34, "current_a": 4.0}, {"voltage_v": 1.3825, "current_a": 4.5}])
    far = found(held=[{"voltage_v": 1.17, "current_a": 2.0}, {"voltage_v": 1.765, "current_a": 9.0}])
    assert any(sentence.startswith("Resistance and brush drop") for sentence in near.not_told)
    assert far.not_told == ()


def test_the_suggested_reading_narrows_as_much_as_promised():
    """Take a suggestion on the pretended bench and compare."""
    vehicle, motor = carrier_at(load_build("heron_36v"), 36.0), motor_of()
    before = identify_motor(simulate_bench(motor))
    ranked = next_readings(before, vehicle.top_speed_kmh)
    assert [each.narrows for each in ranked] == sorted((each.narrows for each in ranked), reverse=True)
    assert all(-1e-9 <= each.narrows < 1.0 for each in ranked)
    braked = next(each for each in ranked if each.what.startswith("brake"))
    after = identify_motor(simulate_bench(motor, Plan(braked=((12.5, braked.row.torque),))))

    def width(result):
        return np.std(vehicle.top_speed_kmh(result.model.motors(result.estimate.draws)))

    assert 1.0 - width(after) / width(before) == pytest.approx(braked.narrows, abs=0.1)  # two samples of 400


def test_predictions_are_those_of_the_build_with_this_motor():
    build = load_build("heron_36v")
    result = found()
    built = build.changed({"motor": result.motor(like=build.motor)})
    at_36 = predict(result, build, (36.0,))[0]
    assert at_36.top_speed_kmh.value == pytest.approx(top_speed_kmh(built), rel=1e-5)
    assert at_36.wheel_rpm.value == pytest.approx(at_36.unloaded_rpm.value / build.drive.ratio)
    assert at_36.unloaded_rpm.value == pytest.approx(result.best.unloaded_speed(36.0)[0] / RPM)


def test_more_volts_are_never_slower_and_half_the_volts_never_faster():
    build = load_build("heron_36v")
    for seed in range(5):
        result = identify_motor(simulate_bench(random_motor(np.random.default_rng(seed))))
        speeds = [each.top_speed_kmh.value for each in predict(result, build, (24.0, 36.0, 48.0))]
        assert speeds == sorted(speeds)
        for volts in (12.0, 24.0, 48.0):
            assert result.best.unloaded_speed(0.5 * volts)[0] <= 0.5 * result.best.unloaded_speed(volts)[0]


def test_the_lifted_wheel_carries_its_chain_where_the_test_told_it():
    """12.5 V, K 0.105, R 0.085 ohm, 1 V, 0.1 + 0.045 N m, 0.2 mN m s/rad, geared 15: (11.5 - 0.085 · 0.145/0.105)/0.105162/15, by hand."""
    build = load_build("heron_36v")
    plan = Plan(chain_v=(6.0, 12.5), chain_torque_nm=0.045)
    result = identify_motor(simulate_bench(motor_of(), plan, FINE))
    assert build.drive.ratio == pytest.approx(15.0)
    assert wheel_rpm(result, build, 12.5).value == pytest.approx(68.907, rel=3e-4)
    assert result.unloaded_rpm(12.5).value / 15.0 > 69.1  # the bare shaft is faster


@pytest.mark.parametrize("voltage", [5.0, 121.0, float("nan")])
def test_a_voltage_that_no_pack_has_is_refused(voltage):
    build = load_build("heron_36v")
    with pytest.raises(InputProblem, match="6 to 120 V"):
        predict(found(), build, (36.0, voltage))


@pytest.mark.parametrize("turned", [{"voltage_v": 0.0}, {"voltage_v": 0.08, "speed_rpm": 600.0}])
def test_a_motor_that_makes_no_volts_is_series_wound_and_never_spun(turned):
    problem = refused(turned=[turned])
    assert problem.place == "turned[1].voltage_v"
    assert "Never run it unloaded" in str(problem)


@pytest.mark.parametrize(
    ("turned", "place", "said"),
    [
        ({"voltage_v": 0.3}, "turned[1].speed_rpm", "do not run it unloaded"),
        ({"voltage_v": 1.9}, "turned[1].speed_rpm", "a speed, or turns with seconds"),
        ({"voltage_v": 2.5}, "turned[1].speed_rpm", "no hand's work"),  # 0.105 V s/rad: 227 turns a minute
        ({"voltage_v": 0.9, "speed_rpm": 0.0}, "turned[1].speed_rpm", "a standing shaft with 0.9 V"),
        (
            {"voltage_v": 0.3, "speed_rpm": 1500.0},
            "turned[1].voltage_v",
            "(0.0019 V s/rad); expected 0.01 V s/rad from",
        ),
        ({"voltage_v": 4.0, "speed_rpm": 1500.0}, "turned[1].voltage_v", "flies apart"),
        ({"voltage_v": 0.9, "speed_rpm": 8.6}, "turned[1]", "In turns a minute?"),
    ],
)
def test_a_kind_test_that_leaves_the_kind_open(turned, place, said):
    problem = refused(turned=[turned])
    assert problem.place == place
    assert said in str(problem)


@pytest.mark.parametrize("turned", [{"voltage_v": 0.3}, {"voltage_v": 2.5}, "drill"])
def test_series_wound_motors_spun_free_are_refused(turned):
    """Remanence of 2 to 8 % of the flux at 50 A, a drill at 1500 turns a minute; common practice, no source."""
    generator = np.random.default_rng(4)
    passed = 0
    for _ in range(200):
        motor = random_series_motor(generator)
        row = turned
        if turned == "drill":
            flux = motor.series_constant_nm_per_a2 * 50.0 / (1.0 + 50.0 / motor.saturation_current_a)
            row = {"voltage_v": flux * generator.uniform(0.02, 0.08) * 157.0, "speed_rpm": 1500.0}
        try:
            result = identify_motor(
                read_log(MotorLog, {"turned": [row], "free_spin": spun_free(motor), "held": table_of()["held"]})
            )
            passed += "constant-unusual" not in {finding.code for finding in result.findings}
        except InputProblem:
            pass
    assert passed == 0


def test_two_volts_by_hand_need_no_speed():
    assert found(turned=[{"voltage_v": 2.1}]).findings == ()


def test_a_low_constant_is_warned_of():
    motor = motor_of(constant=0.015, friction=0.014, viscous=2e-6)
    assert "series-wound" in " ".join(finding.text for finding in identify_motor(simulate_bench(motor)).findings)


@pytest.mark.parametrize(("rows", "key", "factor"), [("free_spin", "current_a", 800.0), ("held", "voltage_v", 80.0)])
def test_a_whole_list_in_other_units_is_told_by_the_held_rotor(rows, key, factor):
    """Free currents in mA, or held volts in mV, in every row: the free motor would need fewer volts than the held one."""
    table = table_of()
    for row in table[rows]:
        row[key] *= factor
    with pytest.raises(InputProblem) as caught:
        identify_motor(read_log(MotorLog, table))
    assert caught.value.place == "free_spin[1].voltage_v"
    assert "millivolts" in caught.value.hint


@pytest.mark.parametrize(
    ("change", "row", "said"),
    [
        ({"turned": []}, "turned", "leads open"),
        ({"free_spin__0__speed_rpm": 0.0}, "free_spin[1].speed_rpm", "parking brake"),
        ({"free_spin__2__current_a": 0.80}, "free_spin[3] against", "current falling"),
        ({"free_spin__2__speed_rpm": 600.0}, "free_spin[3] against", "speed falling"),
        ({"held__1__current_a": 2.2}, "held[2] against held[1]", "current falling"),
        ({"free_spin__1__speed_rpm": 719.1 * 1.15}, "free_spin[2]", "contradicts"),
        ({"held": [{"voltage_v": 12.0, "current_a": 4.38}]}, "held", "measured at the motor's terminals"),
        ({"free_spin__1__speed_rpm": 719.1 * np.pi / 30.0}, "free_spin[2]", "rad/s"),
        ({"free_spin__0__speed_rpm": 446.7 / 60.0}, "free_spin[1]", "turns a second"),
        ({"free_spin__2__current_a": 0.0011592}, "free_spin[3]", "mV or mA"),
        ({"held__0__voltage_v": 0.001255}, "held[1]", "mV or mA"),
    ],
)
def test_a_row_that_cannot_be_is_named(change, row, said):
    problem = refused(**change)
    assert row in problem.place
    assert said in str(problem)


def test_all_that_is_wrong_is_told_at_once_and_each_slip_once():
    """Milliamps among amps, a standing shaft, a rotor that heats: three lines. The milliamps alone break two rules, and are one line."""
    slips = {"free_spin__2__current_a": 0.0011592, "free_spin__0__speed_rpm": 0.0, "held__1__end_voltage_v": 1.5}
    lines = str(refused(**slips)).split("\n")
    assert [line.split(": found")[0].split(", ")[1] for line in lines] == [
        "free_spin[1].speed_rpm",
        "free_spin[3]",
        "held[2]",
    ]
    assert "\n" not in str(refused(free_spin__2__current_a=0.0011592))
    swapped = str(refused(held__1__current_a=2.2, free_spin__2__speed_rpm=600.0)).split("\n")
    assert ["speed falling" in swapped[0], "current falling" in swapped[1]] == [True, True]


BRAKED = {"voltage_v": 12.5, "current_a": 20.2, "speed_rpm": 894.0, "torque_nm": 2.0}


@pytest.mark.parametrize(
    ("change", "place", "said"),
    [
        ({}, "", ""),
        ({"speed_rpm": 0.0}, "braked[1].speed_rpm", "a standing shaft with 20.2 A"),
        ({"speed_rpm": 894.0 * np.pi / 30.0}, "braked[1]", "check current and unit"),
        ({"torque_nm": 2.0 / 9.80665}, "braked[1]", "check current and unit"),
        ({"current_a": 0.0202}, "braked[1]", "Is its current right"),
    ],
    ids=["good", "standing", "rad/s", "kgf m", "kA"],
)
def test_a_wrong_brake_point_is_named(change, place, said):
    if not change:
        assert found(braked=[BRAKED]).estimate.scatter == 1.0
        return
    problem = refused(braked=[{**BRAKED, **change}])
    assert place in problem.place
    assert said in str(problem)
    assert "\n" not in str(problem)


def test_a_held_rotor_that_heats():
    problem = refused(held__0__end_voltage_v=1.32)
    assert problem.place == "held[1]"
    assert "heats" in problem.hint


def test_honest_end_readings_of_a_cold_rotor_are_not_taken_for_heat():
    """Start and end read with the log's own 1 % and 2 %: two rows a log, a true rise of 0."""
    generator, refusals = np.random.default_rng(11), 0
    for _ in range(300):
        log = simulate_bench(motor_of(), generator=generator)
        again = simulate_bench(motor_of(), generator=generator).held
        held = [
            row.model_copy(update={"end_voltage_v": end.voltage_v, "end_current_a": end.current_a})
            for row, end in zip(log.held, again, strict=True)
        ]
        refusals += bool(list(_cold(log.model_copy(update={"held": tuple(held)}), "a log")))
    assert refusals <= 3  # 600 rows at 3.3 standard deviations: 0.3 expected


def test_a_first_spin_above_6_v_and_a_rotor_straight_across_are_warned_of():
    rows = list(reversed(table_of()["free_spin"]))
    codes = {finding.code for finding in found(free_spin=rows).findings}
    assert "first-spin-high" in codes
    strong = [*table_of()["held"], {"voltage_v": 3.55, "current_a": 30.0}]
    assert "held-current-high" in {finding.code for finding in found(held=strong).findings}


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"free_spin__0__voltage_v": -6.0}, "free_spin[1].voltage_v"),
        ({"free_spin__0__speed_rpm": None}, "free_spin[1].speed_rpm"),
        ({"held__0__current_a": 4000.0}, "held[1].current_a"),
        ({"speed_measured_at": "wheel"}, "gearing"),
        ({"free_spin__0__turns": 30.0}, "free_spin[1].turns"),
        ({"free_spin": []}, "free_spin"),
    ],
)
def test_wrong_entries_are_named(change, place):
    assert refused(**change).place == place


def test_the_shipped_log_is_good_and_says_that_it_is_invented():
    log = load_log("heron_motor_bench")
    assert "invented" in log.note
    result = identify_motor(log)
    truth = load_build("heron_36v").motor
    for name in ("torque_constant_nm_per_a", "resistance_ohm"):
        assert result.values[name].value == pytest.approx(getattr(truth, name), rel=0.05)
    assert result.findings == ()
    with pytest.raises(InputProblem, match="heron_motor_bench"):
        load_log("heron_motor_bnch")


def test_a_prediction_names_the_voltage_that_is_ridden():
    """One block of 38.4 V makes no 24 V pack; 12.8 V blocks make 25.6."""
    lithium = load_build("heron_lithium")
    (only,) = predict(found(), lithium)
    assert only.voltage_v == lithium.pack.nominal_voltage_v == pytest.approx(38.4)
    small = lithium.changed({"pack.cells_in_series": 4, "pack.block_voltage_v": 12.8, "pack.blocks_in_series": 3})
    assert [each.voltage_v for each in predict(found(), small)] == pytest.approx([25.6, 38.4, 51.2])
    top = predict(found(), small, [26.0])[0].top_speed_kmh
    assert top == predict(found(), small)[0].top_speed_kmh


def test_a_tested_motor_says_how_its_numbers_hang_together_and_keeps_what_its_label_says_it_bears():
    """Held readings fix V_br + R I, free spins the drag at one speed: the parts of each sum go against each other."""
    build = load_build("heron_36v").changed({"motor.rated_current_a": 16.0})
    tested = build.changed({"motor": found().motor(like=build.motor)})
    tied = {frozenset(row[:2]): row[2] for row in tested.motor.correlations}
    assert tied[frozenset({"resistance_ohm", "brush_drop_v"})] < -0.5
    assert tied[frozenset({"friction_torque_nm", "viscous_nm_per_rad_s"})] < -0.5
    for key, band in found().values.items():
        width = tested.widths[f"motor.{key}"]
        assert (width.low, width.value, width.high) == pytest.approx(
            (band.low, band.value, band.high), rel=1e-3, abs=1e-12
        )
    assert tested.motor.rated_current_a == 16.0
