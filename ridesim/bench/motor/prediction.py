"""What the tested motor will do at other voltages and on the vehicle, with bands; and what to measure next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.bands import Further, half_width, ranked, slope
from ridesim.bench.estimate import BAND, QUANTILE, Residuals
from ridesim.bench.motor.draws import quantiles
from ridesim.bench.motor.log import RPM
from ridesim.bench.motor.model import (
    BRUSH,
    FRICTION,
    LOG_K,
    LOG_R,
    VISCOUS,
    Row,
    assemble,
    magnet_coefficient,
    residuals,
)
from ridesim.bench.motor.permanent_magnet import SpinResult
from ridesim.physics.motor import loaded_speed, squared_drag, warm_constant, warm_resistance
from ridesim.ride.steady.motor import MotorCarrier, MotorNumbers, at_voltage, no_load_speed
from ridesim.vehicle import Build
from ridesim.words import InputProblem, Uncertain, is_number, shown

FloatArray = NDArray[np.float64]
LEAST_V, MOST_V = 6.0, 120.0
"""Pack voltages that a prediction is made for: one small block, and the most that a bench log takes. [V]"""
Quantity = Callable[[MotorNumbers], float]


def numbers_of(theta: FloatArray) -> MotorNumbers:
    """Motor numbers of a parameter vector."""
    return MotorNumbers(
        float(np.exp(theta[LOG_K])), float(np.exp(theta[LOG_R])), float(theta[BRUSH]), float(theta[FRICTION]),
        float(theta[VISCOUS]),
    )  # fmt: skip


def held_torque(motor: MotorNumbers, voltage: float) -> float:
    """Torque at the shaft, held still across a voltage, cold, without a controller. [N m]"""
    return motor.constant * (voltage - motor.brush) / motor.resistance - motor.friction


def lifted_wheel_rpm(motor: MotorNumbers, result: SpinResult, build: Build, voltage: float) -> float:
    """Speed of the wheel off the ground at a terminal voltage, with the chain's drag where the test parted it. [turns a minute]"""
    chain = result.chain_torque_nm
    turned = motor if chain is None else replace(motor, friction=motor.friction + chain.value)
    return no_load_speed(turned, voltage) / RPM / build.drive.ratio


def gradient(result: SpinResult, quantity: Quantity) -> FloatArray:
    """Change of a quantity with each parameter, at the free estimate."""
    values = slope(lambda theta: np.array([quantity(numbers_of(theta))]), result.free.values, result.covariance)
    return np.asarray(values[0])


def band(result: SpinResult, quantity: Quantity) -> Uncertain:
    """Any quantity of the motor with its 95 % band.

    Parameters
    ----------
    result : SpinResult
        A spin test's result.
    quantity : callable
        From the motor's numbers to a number.

    Notes
    -----
    Linearised: gᵀ C g with the gradient g by central differences; :func:`bootstrap` checks it by repetition. Where the resistance is
    wide open, the middle of the quantity over the motors that agree with the points (:mod:`ridesim.bench.motor.draws`).
    """
    if result.draws is not None:
        value = quantity(numbers_of(result.best))
        low, high = quantiles(result.draws, lambda draw: quantity(numbers_of(draw)), BAND)
        return Uncertain(value, min(low, value), max(high, value))
    half = float(half_width(gradient(result, quantity), result.covariance, QUANTILE))
    centre, value = quantity(numbers_of(result.free.values)), quantity(numbers_of(result.best))
    return Uncertain(value, min(value, max(0.0, centre - half)), max(value, centre + half))


@dataclass(frozen=True, slots=True)
class Prediction:
    """One pack voltage.

    Attributes
    ----------
    voltage_v : float
        Nominal. [V]
    no_load_rpm : Uncertain
        Free shaft at just this terminal voltage. [turns a minute]
    wheel_rpm : Uncertain
        The lifted wheel with its chain; their drag where the log tells it, else the motor's own only. [turns a minute]
    stall_torque_nm : Uncertain
        At the shaft, held still across that voltage, no controller: what a direct switch-on would give. [N m]
    pull_n, top_speed_kmh : Uncertain
        On the vehicle, pack full, controller's limits in force. [N, km/h]
    """

    voltage_v: float
    no_load_rpm: Uncertain
    wheel_rpm: Uncertain
    stall_torque_nm: Uncertain
    pull_n: Uncertain
    top_speed_kmh: Uncertain


def predict(result: SpinResult, build: Build, voltages: Sequence[float] = (24.0, 36.0, 48.0)) -> tuple[Prediction, ...]:
    """The tested motor on the vehicle at several pack voltages.

    Parameters
    ----------
    result : SpinResult
        A spin test's result.
    build : Build
        Vehicle, drive, controller, pack; its motor's five numbers are replaced by the tested ones.
    voltages : sequence of float
        Nominal pack voltages, 6 to 120 V. [V]

    Raises
    ------
    InputProblem
        A voltage outside that.

    Returns
    -------
    tuple of Prediction
        Bands hold what is not known of the motor; rolling, wind and the pack's age come on top.
    """
    return tuple(_prediction(result, build, sensible_voltage(voltage)) for voltage in voltages)


def sensible_voltage(voltage: float) -> float:
    """The voltage, where a pack can have it."""
    if not (is_number(voltage) and LEAST_V <= voltage <= MOST_V):
        raise InputProblem(
            "the prediction", "voltages", shown(voltage, "V"), f"pack voltages from {LEAST_V:g} to {MOST_V:g} V"
        )
    return voltage


def _prediction(result: SpinResult, build: Build, voltage: float) -> Prediction:
    vehicle = MotorCarrier.of(at_voltage(build, voltage))

    def free(motor: MotorNumbers) -> float:
        return no_load_speed(motor, voltage) / RPM

    return Prediction(
        voltage_v=voltage,
        no_load_rpm=band(result, free),
        wheel_rpm=band(result, lambda motor: lifted_wheel_rpm(motor, result, build, voltage)),
        stall_torque_nm=band(result, lambda motor: held_torque(motor, voltage)),
        pull_n=band(result, vehicle.standing_pull_n),
        top_speed_kmh=band(result, vehicle.top_speed_kmh),
    )


def plain_sentence(result: SpinResult, build: Build, voltage: float = 36.0, stand_v: float = 12.0) -> str:
    """``12 V on the stand turns the wheel at X; at 36 V expect Y ± Z``, and what it means on the road."""
    sensible_voltage(voltage), sensible_voltage(stand_v)
    stand, there = (
        band(result, lambda motor, volts=volts: lifted_wheel_rpm(motor, result, build, volts))  # type: ignore[misc]
        for volts in (stand_v, voltage)
    )
    road = band(result, MotorCarrier.of(at_voltage(build, voltage)).top_speed_kmh)
    return (
        f"{stand_v:g} V on the stand turns the wheel at {stand.value:.0f} turns a minute; at {voltage:g} V expect "
        f"{there.value:.0f} ± {0.5 * (there.high - there.low):.0f}. On the road with a full {voltage:g} V pack expect "
        f"{road.value:.1f} ± {0.5 * (road.high - road.low):.1f} km/h at most on the level."
    )


def next_measurements(result: SpinResult, quantity: Quantity) -> tuple[Further, ...]:
    """Which single further measurement would narrow a quantity's band most, best first.

    Parameters
    ----------
    result : SpinResult
        A spin test's result.
    quantity : callable
        From the motor's numbers to the number that matters, such as the 36 V top speed.

    Notes
    -----
    :func:`ridesim.bench.bands.ranked`.
    """
    per_k = magnet_coefficient(result.log.magnet)

    def equations(row: Row) -> Residuals:
        points = assemble([row], result.log.meter, result.log.turns_ratio)
        return lambda theta: residuals(theta, points, result.log.room_c, per_k)

    return ranked(
        gradient(result, quantity), result.covariance, result.common, result.best,
        [(what, equations(row)) for what, row in _candidates(result)],
    )  # fmt: skip


def measure_next(result: SpinResult, voltage: float = 36.0) -> str:
    """The best further measurement where no vehicle is known, in words: for the free shaft's speed and the held torque at a voltage."""

    def speed(motor: MotorNumbers) -> float:
        return no_load_speed(motor, voltage)

    def torque(motor: MotorNumbers) -> float:
        return held_torque(motor, voltage)

    fast, strong = (next_measurements(result, quantity)[0] for quantity in (speed, torque))
    return (
        f"{fast.what}. It makes the band of the free speed at {voltage:g} V {100.0 * fast.narrows:.0f} % narrower. For the held torque: "
        f"{strong.what}, {100.0 * strong.narrows:.0f} %."
    )


def _candidates(result: SpinResult) -> list[tuple[str, Row]]:
    """Measurements within a maker's reach, each at the values this motor would show."""
    motor = numbers_of(result.best)

    def spun(voltage: float, torque: float = 0.0) -> Row:
        speed = loaded_speed(
            voltage, motor.friction + torque, motor.constant, motor.resistance, motor.brush, motor.viscous
        )
        current = (motor.friction + torque + motor.viscous * speed) / motor.constant
        return "", voltage, current, speed, torque, True, False, False

    def held(current: float) -> Row:
        return "", motor.brush + current * motor.resistance, current, 0.0, 0.0, False, False, False

    free = [
        ("spin it free once more at 6 V", spun(6.0)),
        ("spin it free once more at 12.5 V", spun(12.5)),
        ("spin it free at 24 V (two blocks in series, fused; wheel clear, guards on)", spun(24.0)),
        ("hold the rotor at 2 A (12 V 21 W lamp in series)", held(2.0)),
        ("hold the rotor at 4.5 A (12 V 55 W lamp in series)", held(4.5)),
        ("hold the rotor at 9 A (two such lamps side by side, 2 s at most)", held(9.0)),
        ("turn the shaft with a drill, leads open: volts and speed at about 1500 turns a minute",
         ("", motor.constant * 157.0, 0.0, 157.0, 0.0, False, True, False)),
    ]  # fmt: skip
    torque = 0.15 * motor.constant * (12.5 - motor.brush) / motor.resistance
    if torque > 0.0:
        free.append(
            (f"brake it with {torque:.2g} N m at 12.5 V (arm and spring scale), a few seconds", spun(12.5, torque))
        )
    return [(what, row) for what, row in free if row[3] > 0.0 or not row[5]]


def bootstrap(result: SpinResult, quantity: Quantity, repeats: int = 200, seed: int = 1) -> FloatArray:
    """The quantity from pretended repetitions of the same test on the motor found: a check of the linearised band.

    Parameters
    ----------
    result : SpinResult
        A spin test's result.
    quantity : callable
        From the motor's numbers to a number.
    repeats : int
        Number of pretended tests.
    seed : int
        Of the errors.

    Returns
    -------
    ndarray, shape (repeats,)
        Sorted.

    References
    ----------
    Efron & Tibshirani, An Introduction to the Bootstrap, the parametric bootstrap (from memory).
    """
    from ridesim.bench.motor.permanent_magnet import estimate

    generator = np.random.default_rng(seed)
    truth = _exact_points(result)
    found = np.empty(repeats)
    for index in range(repeats):
        noisy = truth._replace(**{
            name: getattr(truth, name) + result.widening * getattr(truth, name + "_sd") * generator.standard_normal(len(truth.row))
            for name in ("voltage", "current", "speed", "torque")
        })  # fmt: skip
        found[index] = quantity(numbers_of(estimate(noisy, result.log, "a pretended log", strict=False).best))
    return np.sort(found)


def _exact_points(result: SpinResult):  # type: ignore[no-untyped-def]
    """The log's points as the found motor would have shown them to meters without error."""
    points, log, theta = result.points, result.log, result.best
    motor = numbers_of(theta)
    constant = warm_constant(motor.constant, magnet_coefficient(log.magnet), log.room_c)
    resistance = warm_resistance(motor.resistance, log.room_c)
    chain = theta[5] if len(theta) > 5 else 0.0
    still = motor.friction + points.torque + chain * points.chained
    speed = np.array([
        loaded_speed(volts, torque, constant, resistance, motor.brush, motor.viscous)
        for volts, torque in zip(points.voltage, still, strict=True)
    ])  # fmt: skip
    current = (still + motor.viscous * speed) / constant
    turning = points.turning
    held = ~turning & ~points.opened
    return points._replace(
        speed=np.where(turning, speed, points.speed),
        current=np.where(turning, current, points.current),
        voltage=np.where(held, motor.brush + points.current * resistance, np.where(points.opened, constant * points.speed, points.voltage)),
    )  # fmt: skip


def fan_drag_slowdown(result: SpinResult, voltage: float) -> float:
    """How much slower the free shaft would be at a voltage if its drag grew with the square of speed beyond the test.

    Parameters
    ----------
    result : SpinResult
        A spin test's result.
    voltage : float
        At the terminals. [V]

    Returns
    -------
    float
        Share of the predicted speed, 0 or more. It comes on top of the band: the points cannot tell the two laws apart.

    Notes
    -----
    V = K ω + I R + V_br with K I = :func:`ridesim.physics.motor_losses.squared_drag`.
    """
    from scipy.optimize import brentq

    motor, points = numbers_of(result.best), result.points
    tested = float(points.speed[points.turning].max())
    linear = no_load_speed(motor, voltage)
    if linear <= tested:
        return 0.0

    def excess(omega: float) -> float:
        drag = squared_drag(omega, motor.friction, motor.viscous, tested)
        return motor.constant * omega + motor.resistance * drag / motor.constant + motor.brush - voltage

    return 1.0 - float(brentq(excess, 0.0, linear)) / linear
