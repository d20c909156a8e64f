"""What a series-wound motor from points under load is said to do on the vehicle: bands, run-away speed, the next measurement."""

from __future__ import annotations

import os
import re
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from ridesim.bench.motor.load_log import load_load_log
from ridesim.bench.motor.log import Meter
from ridesim.bench.motor.series_prediction import (
    _candidates,
    currents_tested,
    next_measurements,
    numbers_of,
    predict,
    pull_bands,
    runaway_band,
)
from ridesim.bench.motor.series_wound import identify_series, volts_off
from ridesim.physics.motor import current_for_torque, torque_constant
from ridesim.ride.steady import top_speed_kmh
from ridesim.ride.steady.motor import MotorCarrier, SeriesNumbers, at_voltage
from ridesim.vehicle import load_build
from ridesim.words import InputProblem
from tests.bench.benches import random_series_motor, series_motor_of, simulate_load_bench
from tests.bench.test_spin_bands import fewest

MOTORS = 2000 if os.environ.get("RIDESIM_LONG") == "1" else 80
FINE = Meter(voltage_percent=0.01, current_percent=0.01, speed_percent=0.01, torque_percent=0.01)


def numbers(motor) -> SeriesNumbers:
    return SeriesNumbers(
        motor.series_constant_nm_per_a2, 1.0 / motor.saturation_current_a, motor.resistance_ohm, motor.brush_drop_v,
        motor.friction_torque_nm, motor.viscous_nm_per_rad_s,
    )  # fmt: skip


def with_motor(build, motor):
    return build.model_copy(update={"motor": motor})


def test_the_motor_s_numbers_give_what_a_build_with_it_gives():
    build = load_build("heron_36v")
    motor = series_motor_of().model_copy(update={"mass_kg": build.motor.mass_kg})
    for volts in (24.0, 36.0, 48.0):
        there = at_voltage(build, volts)
        shown = MotorCarrier.of(there).top_speed_kmh(numbers(motor))
        assert shown == pytest.approx(top_speed_kmh(with_motor(there, motor)), rel=1e-6)


@pytest.mark.parametrize("braked", [True, False], ids=["brake of known torque", "torque unknown"])
def test_bands_of_top_speed_and_pull_hold_random_motors(braked):
    generator, build = np.random.default_rng(36), load_build("heron_36v")
    vehicle = MotorCarrier.of(at_voltage(build, 36.0))
    held = dict.fromkeys(("top speed", "pull"), 0)
    for _ in range(MOTORS):
        motor = random_series_motor(generator)
        result = identify_series(simulate_load_bench(motor, meter=Meter(), generator=generator, braked=braked))
        shown, truth = predict(result, build, (36.0,))[0], numbers(motor)
        held["top speed"] += shown.top_speed_kmh.low <= vehicle.top_speed_kmh(truth) <= shown.top_speed_kmh.high
        held["pull"] += shown.pull_n.low <= vehicle.standing_pull_n(truth) <= shown.pull_n.high
    for name, count in held.items():
        assert count >= fewest(MOTORS, 0.95), (name, count / MOTORS)


def test_a_motor_that_does_not_saturate_still_has_a_band():
    result = identify_series(simulate_load_bench(series_motor_of(saturation=1e4)))
    shown = predict(result, load_build("heron_36v"), (36.0,))[0]
    assert shown.pull_n.high > 1.02 * shown.pull_n.value
    assert numbers_of(result.best).saturation > 100.0


def test_the_unloaded_speed_meets_the_motor_s_two_equations():
    motor = series_motor_of()
    result = identify_series(simulate_load_bench(motor, (15.0, 30.0, 55.0, 90.0), meter=FINE))

    def spare(omega: float) -> float:
        drag = motor.friction_torque_nm + motor.viscous_nm_per_rad_s * omega
        amps = current_for_torque(drag, 0.0, motor.series_constant_nm_per_a2, motor.saturation_current_a)
        back = torque_constant(amps, 0.0, motor.series_constant_nm_per_a2, motor.saturation_current_a) * omega
        return 24.0 - motor.brush_drop_v - amps * motor.resistance_ohm - back

    truth = brentq(spare, 1.0, 1e5) * 30.0 / np.pi
    assert result.runaway_rpm(24.0) == pytest.approx(truth, rel=0.02)
    band = runaway_band(result, 24.0)
    assert band.low <= truth <= band.high


def test_where_no_torque_was_measured_the_unloaded_speed_has_no_upper_end():
    band = runaway_band(identify_series(simulate_load_bench(series_motor_of(), braked=False)), 24.0)
    assert np.isinf(band.high)
    assert np.isfinite(band.low)


def test_pull_falls_with_speed_inside_its_band():
    result = identify_series(simulate_load_bench(series_motor_of()))
    value, low, high = pull_bands(result, load_build("heron_36v"), 36.0, np.linspace(0.0, 40.0, 30))
    assert (np.diff(value) <= 1e-9).all()
    assert ((low <= value) & (value <= high)).all()


def test_the_next_measurement_narrows_by_what_is_said():
    """The recommended point made and added: the band narrows as promised, and no advice is to load less than before."""
    motor, build = series_motor_of(), load_build("heron_36v")
    vehicle = MotorCarrier.of(at_voltage(build, 36.0))
    log = simulate_load_bench(motor, braked=False)
    result = identify_series(log)
    best = next_measurements(result, vehicle.top_speed_kmh)[0]
    assert "torque" in best.what
    row = dict(_candidates(result))[best.what]
    assert row[2] >= currents_tested(result)[0] - 1e-9
    made = simulate_load_bench(motor, (row[2],)).load[0]
    after = identify_series(log.model_copy(update={"load": (*log.load, made)}))

    def width(each) -> float:
        top = predict(each, build, (36.0,))[0].top_speed_kmh
        return top.high - top.low

    assert width(after) / width(result) == pytest.approx(1.0 - best.narrows, abs=0.1)


def test_no_further_point_is_lighter_than_the_lightest():
    result = identify_series(simulate_load_bench(series_motor_of()))
    loaded = [row for _, row in _candidates(result) if row[3] > 0.0]
    assert min(row[2] for row in loaded) >= currents_tested(result)[0]


def test_a_voltage_that_no_pack_has_is_refused():
    result = identify_series(simulate_load_bench(series_motor_of()))
    with pytest.raises(InputProblem, match="voltages"):
        predict(result, load_build("heron_36v"), (400.0,))


def test_volts_off_are_measured_less_fitted():
    log = simulate_load_bench(series_motor_of(), (15.0, 30.0, 55.0, 90.0), meter=FINE)
    assert max(abs(volts) for volts in volts_off(identify_series(log)).values()) < 0.005
    rows = list(log.load)
    rows[1] = rows[1].model_copy(update={"voltage_v": rows[1].voltage_v * 1.02})
    off = volts_off(identify_series(log.model_copy(update={"load": tuple(rows), "meter": Meter()})))
    assert max(off, key=lambda row: off[row]) == "load[2]"


@pytest.mark.parametrize("heavy", [None, 33.3, 190.0])
def test_a_harder_braking_is_no_more_than_half_as_hard_again_and_has_its_caution_beside_it(heavy):
    """A rope brake and a lead that stood 85 A need not stand what comes next."""
    log = load_load_log("winch_motor_loads")
    if heavy is not None:
        share = heavy / max(row.current_a for row in log.load)
        rows = tuple(row.model_copy(update={"current_a": row.current_a * share, "torque_nm": None}) for row in log.load)
        result = replace(identify_series(log), log=log.model_copy(update={"load": rows}))
    else:
        result = identify_series(log)
    most = currents_tested(result)[1]
    harder = [(what, row) for what, row in _candidates(result) if "brake" in what and row[2] > most]
    assert harder
    tested = max(most, *(row.current_a for row in result.log.locked))
    assert max(row[2] for _, row in _candidates(result)) <= 1.5 * tested
    for what, row in harder:
        said = float(re.search(r"to about ([\d.]+) A", what).group(1))
        assert most < said == row[2] <= 1.5 * most
        for word in ("leads", "fuse", "brake", "seconds", "hot"):
            assert word in what.split("(only if")[1]
    assert not any("only if leads" in what for what, row in _candidates(result) if row[2] <= most)
