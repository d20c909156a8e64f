"""What a series-wound motor's points under load find, say and refuse."""

from __future__ import annotations

import os
from contextlib import suppress

import numpy as np
import pytest

from ridesim.bench.motor.load_log import load_load_log, read_load_log
from ridesim.bench.motor.log import Meter, read_spin_log
from ridesim.bench.motor.permanent_magnet import identify as identify_spin
from ridesim.bench.motor.series_wound import identify_series
from ridesim.physics.motor import current_for_torque
from ridesim.vehicle import load_build
from ridesim.words import InputProblem
from tests.bench.benches import SERIES_NAMES, random_series_motor, series_motor_of, simulate_load_bench, table_of
from tests.bench.test_spin_bands import fewest

MOTORS = 3000 if os.environ.get("RIDESIM_LONG") == "1" else 150
FINE = Meter(voltage_percent=0.01, current_percent=0.01, speed_percent=0.01, torque_percent=0.01)


def table(**changes) -> dict:
    """A good log as a maker would type it."""
    log = simulate_load_bench(series_motor_of())
    rows = [row.model_dump(exclude_none=True) for row in log.load]
    made = {
        "kind": "series-wound", "turned": [{"voltage_v": 0.1}], "load": rows,
        "locked": [row.model_dump(exclude_none=True) for row in log.locked],
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
        identify_series(read_load_log(table(**changes)))
    return caught.value


@pytest.mark.parametrize("seed", range(5))
def test_good_meters_find_the_motor(seed):
    motor = random_series_motor(np.random.default_rng(seed))
    result = identify_series(simulate_load_bench(motor, (15.0, 30.0, 55.0, 90.0), meter=FINE))
    for name in SERIES_NAMES[:4]:
        assert result.values[name].value == pytest.approx(getattr(motor, name), rel=0.02), name
    assert result.widening == 1.0


@pytest.mark.parametrize("braked", [True, False], ids=["brake of known torque", "torque unknown"])
@pytest.mark.parametrize(
    "meter",
    [
        Meter(),
        Meter(voltage_gain_percent=1.0, current_gain_percent=2.0, speed_gain_percent=0.5, torque_gain_percent=3.0),
    ],
    ids=["each reading its own", "common factors"],
)
def test_bands_hold_random_motors(meter, braked):
    generator = np.random.default_rng(95)
    held = dict.fromkeys((*SERIES_NAMES, "torque at 50 A"), 0)
    for _ in range(MOTORS):
        motor = random_series_motor(generator)
        result = identify_series(simulate_load_bench(motor, meter=meter, generator=generator, braked=braked))
        for name in SERIES_NAMES:
            held[name] += result.values[name].low <= getattr(motor, name) <= result.values[name].high
        torque = result.torque_at(50.0)
        truth = motor.series_constant_nm_per_a2 * 2500.0 / (1.0 + 50.0 / motor.saturation_current_a)
        held["torque at 50 A"] += torque.low <= truth <= torque.high
    for name, count in held.items():
        assert count >= fewest(MOTORS, 0.95), (name, count / MOTORS)


def test_the_torque_is_better_known_than_its_two_numbers():
    result = identify_series(simulate_load_bench(series_motor_of()))

    def width(band):
        return (band.high - band.low) / band.value

    assert width(result.torque_at(40.0)) < 0.5 * width(result.values["series_constant_nm_per_a2"])


def test_more_load_points_narrow_the_bands_but_not_below_the_common_factor():
    motor = series_motor_of()
    own, gain = Meter(), Meter(voltage_gain_percent=2.0)

    def width(meter, repeats):
        band = identify_series(
            simulate_load_bench(motor, (20.0, 40.0, 80.0) * repeats, meter=meter, braked=False)
        ).torque_at(40.0)
        return (band.high - band.low) / (2.0 * 1.96 * band.value)

    assert width(own, 9) < 0.7 * width(own, 1)
    # K is volts over speed: off by 2 % as the voltmeter is, however many points there are.
    assert width(gain, 9) ** 2 == pytest.approx(width(own, 9) ** 2 + 0.02**2, rel=0.15)


def test_a_warm_winding_is_allowed_for():
    motor = series_motor_of()
    warm = identify_series(simulate_load_bench(motor, meter=FINE, winding_c=90.0))
    assert warm.values["resistance_ohm"].value == pytest.approx(0.06, rel=0.005)
    assert warm.values["series_constant_nm_per_a2"].value == pytest.approx(0.002, rel=0.02)


def test_what_the_points_cannot_tell_is_said():
    motor = series_motor_of()
    silent = identify_series(simulate_load_bench(motor, braked=False)).not_separated
    assert any("no torque was measured" in sentence for sentence in silent)
    coarse = Meter(voltage_percent=4.0, current_percent=8.0, speed_percent=5.0, torque_percent=10.0)
    near = identify_series(simulate_load_bench(motor, (18.0, 21.0, 24.0), meter=coarse)).not_separated
    assert any(sentence.startswith("Saturation") for sentence in near)


def test_the_caution_stands_beside_the_numbers():
    motor = series_motor_of()
    result = identify_series(simulate_load_bench(motor, meter=FINE))
    caution = next(finding for finding in result.findings if finding.code == "runs-away-unloaded")
    assert "never run it" in caution.text
    # V = K ω + I R + V_br and K I = τ_f + b ω hold at the speed that is named.
    omega = caution.numbers["runaway_rpm"] * np.pi / 30.0
    amps = current_for_torque(0.1 + 0.0004 * omega, 0.0, 0.002, 90.0)
    back = 0.002 * amps / (1.0 + amps / 90.0) * omega
    assert back + amps * 0.06 + 1.0 == pytest.approx(12.0, rel=0.02)
    assert caution.numbers["runaway_rpm"] > 1.3 * max(row.speed_rpm for row in result.log.load)
    light = identify_series(simulate_load_bench(motor, (15.0, 40.0, 80.0)))
    assert "nearly-unloaded" in {finding.code for finding in light.findings}


def test_the_motor_goes_into_a_build():
    like = load_build("heron_36v").motor
    made = identify_series(simulate_load_bench(series_motor_of(), meter=FINE)).motor(like)
    assert made.kind == "series-wound"
    assert made.mass_kg == like.mass_kg
    assert made.saturation_current_a == pytest.approx(90.0, rel=0.05)


@pytest.mark.parametrize(
    ("change", "place", "word"),
    [
        ({"turned": []}, "turned", "flies apart"),
        ({"turned": [{"voltage_v": 9.0, "speed_rpm": 900.0}]}, "turned[1].voltage_v", "spin test"),
        ({"turned": [{"voltage_v": 0.5}]}, "turned[1].speed_rpm", "a speed"),
        ({"turned": [{"voltage_v": 2.0}]}, "turned[1].voltage_v", "magnets"),
        ({"turned": [{"voltage_v": 0.02, "speed_rpm": 0.0}]}, "turned[1].speed_rpm", "a standing shaft"),
        ({"no_load": [{"voltage_v": 6.0, "current_a": 3.0, "speed_rpm": 900.0}]}, "no_load", "never run it"),
        ({"locked": []}, "locked", "lamp in series"),
        ({"load": []}, "load", "at least 3"),
        ({"load__1__speed_rpm": 0.0}, "load[2].speed_rpm", "locked"),
        ({"load__1__current_a": 0.04}, "load[2]", "mV or mA"),
        ({"load__0__speed_rpm": 1e-3}, "load[1]", "contradicts"),
        ({"load__2__speed_rpm": 70.0}, "load[3]", "unit"),
        ({"locked__0__end_voltage_v": 1.4}, "locked[1]", "heats"),
        ({"load__1__torque_nm": 1.0}, "load[2]", "contradicts"),
        ({"load__1__torque_nm": 9.0}, "load[2]", "more power in than out"),
    ],
)
def test_wrong_logs_are_named(change, place, word):
    problem = refused(**change)
    assert place in problem.place
    assert word in str(problem)
    assert "\n" not in str(problem)


def test_a_wrong_current_is_not_taken_for_a_wrong_unit_of_speed():
    """Shipped log, 84.8 A typed as 10 A: 7.55 N m at 664 turns a minute are 525 W, 12.08 V times 10 A are 121 W."""
    log = load_load_log("winch_motor_loads")
    wrong = [*log.load[:3], log.load[3].model_copy(update={"current_a": 10.0})]
    with pytest.raises(InputProblem, match=r"load\[4\]: found 525 W at the shaft from 121 W.*Is its current right"):
        identify_series(log.model_copy(update={"load": tuple(wrong)}))
    untold = [row.model_copy(update={"torque_nm": None}) for row in wrong]
    with pytest.raises(InputProblem, match="rad/s among turns a minute, or the current is wrong"):
        identify_series(log.model_copy(update={"load": tuple(untold)}))


@pytest.mark.parametrize("volts", [0.0, 0.05, 0.1, 0.11, 0.5, 1.9, 2.0, 5.0])
@pytest.mark.parametrize("rpm", [None, 30.0, 60.0, 200.0, 1500.0])
def test_no_kind_test_passes_both_tests(volts, rpm):
    row = {"voltage_v": volts, **({"speed_rpm": rpm} if rpm else {})}
    passed = []
    for look in (
        lambda: identify_series(read_load_log(table(turned=[row]))),
        lambda: identify_spin(read_spin_log(table_of(turned=[row]))),
    ):
        with suppress(InputProblem):
            look()
            passed.append(row)
    assert len(passed) <= 1


def test_currents_all_alike_say_nothing_of_the_flux():
    log = simulate_load_bench(series_motor_of(), (40.0, 41.0, 42.0))
    with pytest.raises(InputProblem, match="further apart"):
        identify_series(log)


def test_the_shipped_log_is_good_and_says_that_it_is_invented():
    log = load_load_log("winch_motor_loads")
    assert "invented" in log.note
    result = identify_series(log)
    assert result.widening == 1.0
    assert {finding.code for finding in result.findings} == {"runs-away-unloaded"}
