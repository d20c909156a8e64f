"""The real test of a spin test: pretended benches of known motors, whose stated bands must hold the truth.

The long form: RIDESIM_LONG=1 python -m pytest tests/bench/test_spin_bands.py
"""

from __future__ import annotations

import os

import numpy as np
import pytest
from scipy.stats import binom

from ridesim.bench.motor.permanent_magnet import identify
from ridesim.bench.motor.prediction import band, bootstrap, held_torque
from ridesim.bench.motor.simulated import Plan, simulate_bench
from ridesim.ride.steady.motor import MotorCarrier, MotorNumbers, no_load_speed
from ridesim.vehicle import load_build
from tests.bench.benches import NAMES, motor_of, random_motor

LONG = os.environ.get("RIDESIM_LONG") == "1"
MOTORS = 3000 if LONG else 300

in_the_long_form = pytest.mark.skipif(not LONG, reason="RIDESIM_LONG=1")


def fewest(trials: int, share: float) -> int:
    """Count below which a true share would fall once in 10 000 runs: what a fixed seed may be judged by."""
    return int(binom.ppf(1e-4, trials, share))


def test_bar_top_speed_at_36_v():
    """Three no-load points, two held-rotor points, 1 % volts, 2 % amps, 1 % speed: 1,000 trials, fixed seed."""
    build = load_build("heron_36v")
    vehicle = MotorCarrier.of(build)
    truth = vehicle.top_speed_kmh(MotorNumbers.of(build.motor))
    generator = np.random.default_rng(36)
    held, off = 0, []
    for _ in range(1000):
        result = identify(simulate_bench(build.motor, Plan((6.0, 9.0, 12.5), (3.0, 4.5)), generator=generator))
        predicted = band(result, vehicle.top_speed_kmh)
        held += predicted.low <= truth <= predicted.high
        off.append(predicted.value / truth - 1.0)
    assert held >= 930
    # An honest 95 % band is not a wide one either: this one misses now and then.
    assert held <= 985
    within = np.mean(np.abs(off) <= 0.03)
    assert within >= 0.97
    assert abs(np.mean(off)) < 0.003
    assert np.std(off) < 0.0125


@pytest.mark.parametrize(
    "plan",
    [
        Plan((6.0, 9.0, 12.5), (3.0, 4.5)),
        Plan((6.0, 12.5), (4.5,)),
        Plan((5.0, 8.0, 12.5), (2.0, 4.0, 4.5), room_c=5.0),
        Plan((6.0, 9.0, 12.5), (3.0, 4.5), chain_v=(12.5,), chain_torque_nm=0.03),
    ],
    ids=["usual", "fewest points", "cold room", "chain on once"],
)
def test_bands_hold_random_motors(plan):
    generator = np.random.default_rng(95)
    held = dict.fromkeys(NAMES, 0)
    speed = 0
    for _ in range(MOTORS):
        motor = random_motor(generator)
        result = identify(simulate_bench(motor, plan, generator=generator))
        for name in NAMES:
            found = getattr(result, name)
            held[name] += found.low <= getattr(motor, name) <= found.high
        there = band(result, lambda numbers: no_load_speed(numbers, 36.0))
        speed += there.low <= no_load_speed(MotorNumbers.of(motor), 36.0) <= there.high
    for name, count in {**held, "no-load speed": speed}.items():
        assert count >= fewest(MOTORS, 0.95), (name, count / MOTORS)


@pytest.mark.parametrize(
    "plan",
    [
        Plan((6.0, 6.0, 9.0, 9.0, 12.5, 12.5, 24.0, 24.0), ()),
        Plan((6.0, 9.0, 12.5), (), chain_v=(12.5,), chain_torque_nm=0.03),
        pytest.param(Plan((6.0, 9.0, 12.5), ()), marks=in_the_long_form),
        pytest.param(Plan((6.0,), ()), marks=in_the_long_form),
        pytest.param(Plan((6.0, 12.5), (4.5,)), marks=in_the_long_form),
        pytest.param(Plan((6.0, 12.5), (), loads=((12.5, 0.3),)), marks=in_the_long_form),
    ],
    ids=["many spins", "chain on once", "three spins", "one spin", "one held point", "weak brake"],
)
def test_bands_hold_without_a_held_rotor(plan):
    """Resistance and held torque too, which free spins hardly tell: a straight line's band holds that torque in 82 to 88 of 100."""
    generator = np.random.default_rng(95)
    trials = 500 if LONG else 150
    held = dict.fromkeys((*NAMES, "no-load speed", "held torque"), 0)
    for _ in range(trials):
        motor = random_motor(generator)
        result = identify(simulate_bench(motor, plan, generator=generator))
        for name in NAMES:
            found = getattr(result, name)
            held[name] += found.low <= getattr(motor, name) <= found.high
        numbers = MotorNumbers.of(motor)
        for name, quantity in (
            ("no-load speed", lambda each: no_load_speed(each, 36.0)),
            ("held torque", lambda each: held_torque(each, 36.0)),
        ):
            there = band(result, quantity)
            held[name] += there.low <= quantity(numbers) <= there.high
    for name, count in held.items():
        assert count >= fewest(trials, 0.95), (name, count / trials)


def test_bands_hold_with_worse_and_coarser_meters():
    from ridesim.bench.motor.log import Meter

    meter = Meter(
        voltage_percent=2.0, current_percent=4.0, speed_percent=2.0, voltage_digit_v=0.01, current_digit_a=0.1
    )
    generator = np.random.default_rng(5)
    held = dict.fromkeys(NAMES, 0)
    for _ in range(MOTORS):
        motor = random_motor(generator)
        result = identify(simulate_bench(motor, Plan(), meter, generator))
        for name in NAMES:
            found = getattr(result, name)
            held[name] += found.low <= getattr(motor, name) <= found.high
    for name, count in held.items():
        assert count >= fewest(MOTORS, 0.94), (name, count / MOTORS)


def test_bands_hold_with_a_factor_common_to_all_readings_of_a_meter():
    from ridesim.bench.motor.log import Meter

    meter = Meter(voltage_gain_percent=2.0, current_gain_percent=3.0, speed_gain_percent=1.0)
    generator = np.random.default_rng(17)
    held, blind = dict.fromkeys((*NAMES, "no-load speed"), 0), 0
    for _ in range(MOTORS):
        motor = random_motor(generator)
        log = simulate_bench(motor, Plan(), meter, generator)
        result = identify(log)
        for name in NAMES:
            found = getattr(result, name)
            held[name] += found.low <= getattr(motor, name) <= found.high
        truth = no_load_speed(MotorNumbers.of(motor), 36.0)
        there = band(result, lambda numbers: no_load_speed(numbers, 36.0))
        held["no-load speed"] += there.low <= truth <= there.high
        taken_as_own = identify(log.model_copy(update={"meter": Meter()}))
        there = band(taken_as_own, lambda numbers: no_load_speed(numbers, 36.0))
        blind += there.low <= truth <= there.high
    for name, count in held.items():
        assert count >= fewest(MOTORS, 0.94), (name, count / MOTORS)
    assert blind < fewest(MOTORS, 0.9)  # without the keys the band would be too narrow: the test can fail


def test_linearised_band_agrees_with_the_bootstrap():
    build = load_build("heron_36v")
    vehicle = MotorCarrier.of(build)
    result = identify(simulate_bench(motor_of(), generator=np.random.default_rng(8)))
    repeated = bootstrap(result, vehicle.top_speed_kmh, 400, seed=2)
    low, high = np.quantile(repeated, [0.025, 0.975])
    linear = band(result, vehicle.top_speed_kmh)
    assert linear.high - linear.low == pytest.approx(high - low, rel=0.15)
    assert np.median(repeated) == pytest.approx(linear.value, rel=0.004)


def test_poor_meters_leave_wide_bands_and_no_raw_error():
    """Volts 5 %, a whole amp a digit, one held point: a step of the walk once leapt to where nothing can be reckoned."""
    from ridesim.bench.motor.log import Meter

    meter = Meter(voltage_percent=5.0, speed_percent=5.0, current_percent=20.0, current_digit_a=1.0)
    generator = np.random.default_rng(1)
    with np.errstate(all="raise"):
        for _ in range(20):
            result = identify(simulate_bench(random_motor(generator), Plan((6.0, 6.0, 3.5), (3.0,)), meter, generator))
            assert all(np.isfinite([each.low, each.high]).all() for each in result.values.values())
