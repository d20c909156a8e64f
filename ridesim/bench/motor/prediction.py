"""What a tested motor will do on the vehicle at several pack voltages, with bands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from ridesim.bench.estimate import FloatArray
from ridesim.bench.motor.identify import MotorResult
from ridesim.bench.motor.log import RPM
from ridesim.physics.motor import squared_drag
from ridesim.ride.steady.many import MotorCarrier, Motors
from ridesim.ride.steady.motor import at_voltage
from ridesim.vehicle import Build
from ridesim.words import Uncertain, need_number

LEAST_V, MOST_V = 6.0, 120.0
"""Pack voltages that a prediction is made for: one small block, and the most that a bench log takes. [V]"""


@dataclass(frozen=True, slots=True)
class Prediction:
    """One pack voltage.

    Attributes
    ----------
    voltage_v : float
        Nominal, of a whole number of the build's blocks. [V]
    pull_n, top_speed_kmh : Uncertain
        On the vehicle, pack full, controller's limits in force. [N, km/h]
    unloaded_rpm : Uncertain
        The free shaft at just this terminal voltage; a series-wound motor must never reach it. [turns a minute]
    wheel_rpm : Uncertain
        The lifted wheel at just this terminal voltage, with the chain's drag where the log tells it. [turns a minute]
    current_a, shaft_rpm : float
        Of the motor at the top speed. [A, turns a minute]
    starting_a : float
        Motor current at the standing pull. [A]
    """

    voltage_v: float
    pull_n: Uncertain
    top_speed_kmh: Uncertain
    unloaded_rpm: Uncertain
    wheel_rpm: Uncertain
    current_a: float
    shaft_rpm: float
    starting_a: float


def predict(
    result: MotorResult, build: Build, voltages: Sequence[float] = (24.0, 36.0, 48.0)
) -> tuple[Prediction, ...]:
    """The tested motor on the vehicle at several pack voltages.

    Parameters
    ----------
    result : MotorResult
        What the bench log says.
    build : Build
        Vehicle, drive, controller, pack; its motor's own numbers are replaced by the tested ones.
    voltages : sequence of float
        Nominal pack voltages, 6 to 120 V. Whole blocks make the nearest; what comes to the same pack is told once. [V]

    Returns
    -------
    tuple of Prediction
        Bands hold what is not known of the motor; rolling, wind and the pack's age come on top.

    Raises
    ------
    InputProblem
        A voltage outside that.
    """
    for voltage in voltages:
        need_number("the prediction", "voltages", voltage, LEAST_V, MOST_V, "V")
    made = dict.fromkeys(at_voltage(build, voltage).pack.nominal_voltage_v for voltage in voltages)
    return tuple(_prediction(result, build, voltage) for voltage in made)


def carrier_at(build: Build, voltage: float) -> MotorCarrier:
    """The vehicle on a pack of another voltage, into which motors can be put."""
    return MotorCarrier.of(at_voltage(build, voltage))


def _prediction(result: MotorResult, build: Build, voltage: float) -> Prediction:
    vehicle, motors, band = carrier_at(build, voltage), result.model.motors, result.estimate.band
    top = band(lambda draws: vehicle.top_speed_kmh(motors(draws)))
    if result.drag_may_be_nothing:
        nothing = np.zeros(1)
        free = motors(result.estimate.best[None, :])._replace(friction=nothing, viscous=nothing)
        top = Uncertain(top.value, top.low, max(top.high, float(vehicle.top_speed_kmh(free)[0])))
    return Prediction(
        voltage_v=voltage,
        pull_n=band(lambda draws: vehicle.standing_pull_n(motors(draws))),
        top_speed_kmh=top,
        unloaded_rpm=result.unloaded_rpm(voltage),
        wheel_rpm=wheel_rpm(result, build, voltage),
        current_a=vehicle.motor_current_a(result.best, top.value),
        shaft_rpm=top.value / 3.6 * build.drive.ratio / build.vehicle.rolling_radius_m / RPM,
        starting_a=vehicle.motor_current_a(result.best, 0.0),
    )


def wheel_rpm(result: MotorResult, build: Build, voltage: float) -> Uncertain:
    """Speed of the lifted wheel at a terminal voltage, with the chain's drag where the log tells it. [turns a minute]"""
    chain = result.estimate.place.get("chain drag")

    def turns(draws: FloatArray) -> FloatArray:
        motors = result.model.motors(draws)
        if chain is not None:
            motors = motors._replace(friction=motors.friction + draws[:, chain])
        return np.asarray(motors.unloaded_speed(voltage) / RPM / build.drive.ratio)

    return result.estimate.band(turns)


def shaft(motors: Motors, voltage: float, amps: FloatArray, warmth: float = 1.0) -> tuple[FloatArray, FloatArray]:
    """Speed [rad/s] and torque [N m] of each motor's shaft at a terminal voltage and each current, shape (n, k).

    Parameters
    ----------
    motors : Motors
        At 20 °C.
    voltage : float
        At the terminals. [V]
    amps : ndarray, shape (k,)
        Motor current. [A]
    warmth : float
        Winding's resistance over that at 20 °C.

    Notes
    -----
    V = K(I) ω + I R + V_br and τ = K(I) I - τ_f - b ω.
    """
    each = Motors(*(column[:, None] for column in motors))
    constant = each.constant_at(amps)
    omega = np.maximum(0.0, voltage - each.brush - amps * each.resistance * warmth) / constant
    return np.asarray(omega), np.asarray(constant * amps - each.friction - each.viscous * omega)


def plain_sentence(result: MotorResult, build: Build, there: Prediction) -> str:
    """What the motor does on the stand or brake, and what to expect on the vehicle at one voltage."""
    if result.log.series_wound:
        return _braked_sentence(result, build, there)
    stand_v = 12.0
    stand = wheel_rpm(result, build, stand_v)
    return (
        f"{stand_v:g} V on the stand turns the wheel at {stand.value:.0f} turns a minute; at {there.voltage_v:g} V expect "
        f"{plus_minus(there.wheel_rpm, 0)}. On the road with a full {there.voltage_v:g} V pack expect "
        f"{plus_minus(there.top_speed_kmh, 1)} km/h at most on the level."
    )


def _braked_sentence(result: MotorResult, build: Build, there: Prediction) -> str:
    volts, (light, heavy) = usual_voltage(result), result.log.currents_braked
    middle = sqrt(light * heavy)
    amps = np.array([float(f"{middle:.1g}") if heavy / light > 2.0 else round(middle)])
    turns, torque = (
        result.estimate.band(lambda draws, place=place: shaft(result.model.motors(draws), volts, amps)[place][:, 0])  # type: ignore[misc]
        for place in (0, 1)
    )
    rpm = Uncertain(*(each / RPM for each in (turns.value, turns.low, turns.high)))
    return (
        f"Braked to {amps[0]:g} A on {volts:.0f} V it turns {plus_minus(rpm, 0)} a minute with {plus_minus(torque, 2)} N·m. "
        f"On {build.name} with a full {there.voltage_v:g} V pack expect {plus_minus(there.top_speed_kmh, 1)} km/h at most on the level. "
        "Never run it unloaded."
    )


def plus_minus(band: Uncertain, digits: int) -> str:
    """A value with half its band's width."""
    return f"{band.value:.{digits}f} ± {0.5 * (band.high - band.low):.{digits}f}"


def usual_voltage(result: MotorResult) -> float:
    """The usual voltage of the braked rows. [V]"""
    return float(np.median([row.voltage_v for row in result.log.braked]))


def fan_drag_slowdown(result: MotorResult, voltage: float) -> float:
    """How much slower the free shaft would be at a voltage if its drag grew with the square of speed beyond the test.

    Parameters
    ----------
    result : MotorResult
        Of a permanent-magnet motor.
    voltage : float
        At the terminals. [V]

    Returns
    -------
    float
        Share of the predicted speed, 0 or more. It comes on top of the band: the rows cannot tell the two laws apart.

    Notes
    -----
    V = K ω + I R + V_br with K I = :func:`ridesim.physics.motor.squared_drag`.
    """
    from scipy.optimize import brentq

    constant, resistance, brush, friction, viscous = (
        result.number(name) for name in ("constant", "resistance", "brush", "friction", "viscous")
    )
    tested = float(result.points.values[2, result.points.balanced].max())
    linear = float(result.best.unloaded_speed(voltage)[0])
    if linear <= tested:
        return 0.0

    def excess(omega: float) -> float:
        drag = squared_drag(omega, friction, viscous, tested)
        return constant * omega + resistance * drag / constant + brush - voltage

    return 1.0 - float(brentq(excess, 0.0, linear)) / linear
