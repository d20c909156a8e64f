"""What a series-wound motor's points under load find, say and refuse."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import replace

import numpy as np
import pytest

from ridesim.bench.logs import load_log, read_log
from ridesim.bench.motor.identify import identify_motor
from ridesim.bench.motor.log import Meter, MotorLog
from ridesim.bench.motor.next_reading import next_readings
from ridesim.bench.motor.prediction import carrier_at, predict
from ridesim.physics.motor import current_for_torque
from ridesim.ride.steady import top_speed_kmh
from ridesim.vehicle import load_build
from ridesim.words import InputProblem
from tests.bench.benches import SERIES_NAMES, random_series_motor, series_motor_of, simulate_series_bench, table_of

FINE = Meter(voltage_percent=0.01, current_percent=0.01, speed_percent=0.01, torque_percent=0.01)


def table(**changes) -> dict:
    """A good log as a maker would type it."""
    log = simulate_series_bench(series_motor_of())
    rows = [row.model_dump(exclude_none=True) for row in log.braked]
    made = {
        "kind": "series-wound", "turned": [{"voltage_v": 0.1}], "braked": rows,
        "held": [row.model_dump(exclude_none=True) for row in log.held],
    }  # fmt: skip
    for path, value in changes.items():
        place = made
        *way, last = path.split("__")
        for step in way:
            place = place[int(step)] if step.isdigit() else place[step]
        place[last] = value
    return made


def refused(**changes) -> InputProblem:
    with pytest.raises(InputProblem) as caught:
        identify_motor(read_log(MotorLog, table(**changes)))
    return caught.value


@pytest.mark.parametrize(("seed", "winding_c"), [(0, 20.0), (1, 20.0), (2, 90.0)])
def test_good_meters_find_the_motor_also_a_warm_one(seed, winding_c):
    motor = random_series_motor(np.random.default_rng(seed))
    result = identify_motor(simulate_series_bench(motor, (15.0, 30.0, 55.0, 90.0), meter=FINE, winding_c=winding_c))
    for name in SERIES_NAMES[:4]:
        assert result.values[name].value == pytest.approx(getattr(motor, name), rel=0.02), name
    assert result.estimate.scatter == 1.0


def test_more_load_points_narrow_the_bands_but_not_below_the_common_factor():
    motor = series_motor_of()
    own, gain = Meter(), Meter(voltage_gain_percent=2.0)

    def width(meter, repeats):
        band = identify_motor(
            simulate_series_bench(motor, (20.0, 40.0, 80.0) * repeats, meter=meter, torque_known=False)
        ).torque_at(40.0)
        return (band.high - band.low) / (2.0 * 1.645 * band.value)

    assert width(own, 9) < 0.7 * width(own, 1)
    # K is volts over speed: off by 2 % as the voltmeter is, however many points there are.
    assert width(gain, 9) ** 2 == pytest.approx(width(own, 9) ** 2 + 0.02**2, rel=0.3)


def test_what_the_points_cannot_tell_is_said():
    motor = series_motor_of()
    silent = identify_motor(simulate_series_bench(motor, torque_known=False))
    assert any("no torque was measured" in sentence for sentence in silent.not_told)
    assert np.isinf(silent.unloaded_rpm(24.0).high), "nothing bounds how fast it runs away"
    coarse = Meter(voltage_percent=4.0, current_percent=8.0, speed_percent=5.0, torque_percent=10.0)
    near = identify_motor(simulate_series_bench(motor, (18.0, 21.0, 24.0), meter=coarse)).not_told
    assert any(sentence.startswith("Saturation") for sentence in near)
    with pytest.raises(InputProblem, match="further apart"):
        identify_motor(simulate_series_bench(motor, (40.0, 41.0, 42.0)))


def test_the_caution_stands_beside_the_numbers():
    motor = series_motor_of()
    result = identify_motor(simulate_series_bench(motor, meter=FINE))
    caution = next(finding for finding in result.findings if finding.code == "runs-away-unloaded")
    assert "never run it" in caution.text
    # V = K ω + I R + V_br and K I = τ_f + b ω hold at the speed that is named.
    omega = caution.numbers["unloaded_rpm"] * np.pi / 30.0
    amps = current_for_torque(0.1 + 0.0004 * omega, 0.0, 0.002, 90.0)
    back = 0.002 * amps / (1.0 + amps / 90.0) * omega
    assert back + amps * 0.06 + 1.0 == pytest.approx(12.0, rel=0.02)
    assert caution.numbers["unloaded_rpm"] > 1.3 * max(row.speed_rpm for row in result.log.braked)
    light = identify_motor(simulate_series_bench(motor, (15.0, 40.0, 80.0)))
    assert "nearly-unloaded" in {finding.code for finding in light.findings}


@pytest.mark.parametrize(
    ("change", "place", "word"),
    [
        ({"turned": []}, "turned", "flies apart"),
        ({"turned": [{"voltage_v": 9.0, "speed_rpm": 900.0}]}, "turned[1].voltage_v", "as a permanent-magnet motor"),
        ({"turned": [{"voltage_v": 0.5}]}, "turned[1].speed_rpm", "a speed"),
        ({"turned": [{"voltage_v": 2.0}]}, "turned[1].voltage_v", "magnets"),
        ({"turned": [{"voltage_v": 0.02, "speed_rpm": 0.0}]}, "turned[1].speed_rpm", "a standing shaft"),
        ({"free_spin": [{"voltage_v": 6.0, "current_a": 3.0, "speed_rpm": 900.0}]}, "free_spin", "never run it"),
        ({"held": []}, "held", "lamp in series"),
        ({"braked": []}, "braked", "at least 3"),
        ({"braked__1__speed_rpm": 0.0}, "braked[2].speed_rpm", "held"),
        ({"braked__1__current_a": 0.04}, "braked[2]", "mV or mA"),
        ({"braked__0__speed_rpm": 1e-3}, "braked[1]", "contradicts"),
        ({"braked__2__speed_rpm": 70.0}, "braked[3]", "unit"),
        ({"held__0__end_voltage_v": 1.4}, "held[1]", "heats"),
        ({"braked__1__torque_nm": 1.0}, "braked[2]", "contradicts"),
        ({"braked__1__torque_nm": 9.0}, "braked[2]", "more power in than out"),
    ],
)
def test_wrong_logs_are_named(change, place, word):
    problem = refused(**change)
    assert place in problem.place
    assert word in str(problem)
    assert "\n" not in str(problem)


def test_a_wrong_current_is_not_taken_for_a_wrong_unit_of_speed():
    """Shipped log, 84.8 A typed as 10 A: 7.55 N m at 664 turns a minute are 525 W, 12.08 V times 10 A are 121 W."""
    log = load_log("winch_motor_loads")
    wrong = [*log.braked[:3], log.braked[3].model_copy(update={"current_a": 10.0})]
    with pytest.raises(InputProblem, match=r"braked\[4\]: found 525 W at the shaft from 121 W.*Is its current right"):
        identify_motor(log.model_copy(update={"braked": tuple(wrong)}))
    untold = [row.model_copy(update={"torque_nm": None}) for row in wrong]
    with pytest.raises(InputProblem, match=r"braked\[4\].*contradicts.*check current and unit"):
        identify_motor(log.model_copy(update={"braked": tuple(untold)}))


@pytest.mark.parametrize("volts", [0.0, 0.1, 0.11, 0.5, 1.9, 2.0])
@pytest.mark.parametrize("rpm", [None, 60.0, 1500.0])
def test_no_kind_test_passes_both_tests(volts, rpm):
    row = {"voltage_v": volts, **({"speed_rpm": rpm} if rpm else {})}
    passed = []
    for look in (
        lambda: identify_motor(read_log(MotorLog, table(turned=[row]))),
        lambda: identify_motor(read_log(MotorLog, table_of(turned=[row]))),
    ):
        with suppress(InputProblem):
            look()
            passed.append(row)
    assert len(passed) <= 1


def test_the_shipped_log_is_good_and_says_that_it_is_invented():
    log = load_log("winch_motor_loads")
    assert "invented" in log.note
    result = identify_motor(log)
    assert result.estimate.scatter == 1.0
    assert {finding.code for finding in result.findings} == {"runs-away-unloaded"}


def test_a_motor_that_does_not_saturate_still_has_a_band():
    result = identify_motor(simulate_series_bench(series_motor_of(saturation=1e4)))
    (shown,) = predict(result, load_build("heron_36v"), (36.0,))
    assert shown.pull_n.high > 1.01 * shown.pull_n.value
    assert result.values["saturation_current_a"].value > 100.0


def test_the_prediction_is_that_of_the_build_with_this_motor():
    build = load_build("heron_36v")
    result = identify_motor(simulate_series_bench(series_motor_of()))
    built = build.changed({"motor": result.motor(like=build.motor)})
    (shown,) = predict(result, build, (36.0,))
    assert shown.top_speed_kmh.value == pytest.approx(top_speed_kmh(built), rel=1e-5)
    with pytest.raises(InputProblem, match="voltages"):
        predict(result, build, (400.0,))


def test_the_next_reading_narrows_by_what_is_said():
    """The recommended row made and added: the band narrows as promised, and no advice is to load less than before."""
    motor, vehicle = series_motor_of(), carrier_at(load_build("heron_36v"), 36.0)
    log = simulate_series_bench(motor, torque_known=False)
    result = identify_motor(log)
    ranked = next_readings(result, vehicle.top_speed_kmh)
    best = ranked[0]
    assert "torque" in best.what
    assert min(each.row.current for each in ranked if each.row.speed > 0.0) >= log.currents_braked[0] - 1e-9
    made = simulate_series_bench(motor, (best.row.current,)).braked[0]
    after = identify_motor(log.model_copy(update={"braked": (*log.braked, made)}))

    def width(each) -> float:
        return np.std(vehicle.top_speed_kmh(each.model.motors(each.estimate.draws)))

    assert width(after) / width(result) == pytest.approx(1.0 - best.narrows, abs=0.12)


@pytest.mark.parametrize("heavy", [None, 33.3, 190.0])
def test_a_harder_braking_is_no_more_than_half_as_hard_again_and_has_its_caution_beside_it(heavy):
    """A rope brake and a lead that stood 85 A need not stand what comes next."""
    log = load_log("winch_motor_loads")
    result = identify_motor(log)
    if heavy is not None:
        share = heavy / log.currents_braked[1]
        rows = tuple(
            row.model_copy(update={"current_a": row.current_a * share, "torque_nm": None}) for row in log.braked
        )
        result = replace(result, log=log.model_copy(update={"braked": rows}))
    most = result.log.currents_braked[1]
    rows = [(each.what, each.row.current) for each in next_readings(result, lambda motors: motors.resistance)]
    harder = [(what, amps) for what, amps in rows if "brake" in what and amps > most]
    assert harder
    assert max(amps for _, amps in rows) <= 1.5 * max(most, *(row.current_a for row in result.log.held))
    for what, amps in harder:
        said = float(re.search(r"to about ([\d.]+) A", what).group(1))
        assert most < said == amps <= 1.5 * most
        for word in ("leads", "fuse", "brake", "seconds", "hot"):
            assert word in what.split("(only if")[1]
    assert not any("only if leads" in what for what, amps in rows if amps <= most)
