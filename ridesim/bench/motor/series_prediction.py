"""What a series-wound motor from points under load will do on the vehicle, with bands; and what to measure next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.bands import Further, half_width, ranked, slope
from ridesim.bench.estimate import QUANTILE, Residuals
from ridesim.bench.motor.log import RPM
from ridesim.bench.motor.model import Row, assemble
from ridesim.bench.motor.prediction import sensible_voltage
from ridesim.bench.motor.series_wound import (
    BRUSH,
    FRICTION,
    LOG_KS,
    LOG_R,
    PER_SATURATION,
    VISCOUS,
    LoadPoints,
    LoadResult,
    residuals,
    runaway,
)
from ridesim.ride.steady import KMH, STILL_AIR_C, pull_at
from ridesim.ride.steady.motor import MotorCarrier, SeriesNumbers, at_voltage
from ridesim.vehicle import Build
from ridesim.words import Uncertain

FloatArray = NDArray[np.float64]
_DRAWS = 400
_HARDER = 1.5
_MOST_A = 200.0
"""Largest current that a further point is proposed at, over the heaviest so far and at all: common practice, no source."""
_HARDER_CAUTION = (
    "only if leads, fuse, clamps and brake are made for that current and the torque that comes with it; seconds only, hands clear, then "
    "let all cool: brake and brushes get hot enough to burn"
)
Quantity = Callable[[SeriesNumbers], FloatArray]


def numbers_of(theta: FloatArray) -> SeriesNumbers:
    """Motor numbers of a parameter vector."""
    return SeriesNumbers(
        float(np.exp(theta[LOG_KS])), max(0.0, float(theta[PER_SATURATION])), float(np.exp(theta[LOG_R])),
        float(theta[BRUSH]), float(theta[FRICTION]), float(theta[VISCOUS]),
    )  # fmt: skip


def _middle(result: LoadResult) -> FloatArray:
    """The free estimate, moved where saturation would be less than none to either side of it."""
    values = result.free.values.copy()
    values[PER_SATURATION] = max(
        values[PER_SATURATION], 0.2 * float(np.sqrt(result.covariance[PER_SATURATION, PER_SATURATION]))
    )
    return values


def bands(result: LoadResult, quantity: Quantity) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Quantities of the motor with their 95 % bands: value, lowest, highest.

    Parameters
    ----------
    result : LoadResult
        What points under load say.
    quantity : callable
        From the motor's numbers to an array of numbers, none below 0.

    Notes
    -----
    Linearised: gᵀ C g with the gradient g by central differences.
    """
    middle = _middle(result)

    def of(theta: FloatArray) -> FloatArray:
        return quantity(numbers_of(theta))

    half = half_width(slope(of, middle, result.covariance), result.covariance, QUANTILE)
    centre, value = of(middle), of(result.best)
    return value, np.minimum(value, np.maximum(0.0, centre - half)), np.maximum(value, centre + half)


def band(result: LoadResult, quantity: Callable[[SeriesNumbers], float]) -> Uncertain:
    """One quantity of the motor with its 95 % band."""
    return Uncertain(*(float(end[0]) for end in bands(result, lambda motor: np.array([quantity(motor)]))))


def runaway_band(result: LoadResult, voltage: float) -> Uncertain:
    """Speed of the unloaded shaft with its 95 % band; the upper end may be infinite. [turns a minute]

    Notes
    -----
    From 400 draws of the estimate, fixed seed: the drag may lie anywhere down to 0, where the speed has no end, which no
    straight line shows.
    """
    value = result.runaway_rpm(voltage)
    generator = np.random.default_rng(1)
    draws = generator.multivariate_normal(result.free.values, result.covariance, _DRAWS)
    rpm = np.sort(runaway(draws, voltage) / RPM)
    low, high = float(rpm[int(0.025 * _DRAWS)]), float(rpm[int(0.975 * _DRAWS)])
    return Uncertain(value, min(value, low), max(value, high))


@dataclass(frozen=True, slots=True)
class LoadPrediction:
    """One pack voltage.

    Attributes
    ----------
    voltage_v : float
        Nominal. [V]
    pull_n, top_speed_kmh : Uncertain
        On the vehicle, pack full, controller's limits in force. [N, km/h]
    current_a, shaft_rpm : float
        Of the motor at that top speed. [A, turns a minute]
    starting_a : float
        Motor current at that pull. [A]
    runaway_rpm : Uncertain
        The shaft at just this terminal voltage if its load goes. [turns a minute]
    """

    voltage_v: float
    pull_n: Uncertain
    top_speed_kmh: Uncertain
    current_a: float
    shaft_rpm: float
    starting_a: float
    runaway_rpm: Uncertain


def predict(
    result: LoadResult, build: Build, voltages: Sequence[float] = (24.0, 36.0, 48.0)
) -> tuple[LoadPrediction, ...]:
    """The tested motor on the vehicle at several pack voltages.

    Parameters
    ----------
    result : LoadResult
        What points under load say.
    build : Build
        Vehicle, drive, controller, pack; its motor's own numbers are replaced by the tested ones.
    voltages : sequence of float
        Nominal pack voltages, 6 to 120 V. [V]

    Raises
    ------
    InputProblem
        A voltage outside that.

    Returns
    -------
    tuple of LoadPrediction
        Bands hold what is not known of the motor; rolling, wind and the pack's age come on top.
    """
    return tuple(_prediction(result, build, voltage) for voltage in voltages)


def _prediction(result: LoadResult, build: Build, voltage: float) -> LoadPrediction:
    vehicle = MotorCarrier.of(at_voltage(build, sensible_voltage(voltage)))
    top = band(result, vehicle.top_speed_kmh)
    numbers = vehicle.with_motor(numbers_of(result.best))
    speed = top.value * KMH
    return LoadPrediction(
        voltage_v=voltage,
        pull_n=band(result, vehicle.standing_pull_n),
        top_speed_kmh=top,
        current_a=float(pull_at(speed, 1.0, STILL_AIR_C, STILL_AIR_C, numbers)[1]),
        shaft_rpm=speed * numbers.ratio / numbers.radius / RPM,
        starting_a=float(pull_at(0.0, 1.0, STILL_AIR_C, STILL_AIR_C, numbers)[1]),
        runaway_rpm=runaway_band(result, voltage),
    )


def pull_bands(
    result: LoadResult, build: Build, voltage: float, speeds_kmh: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Pull at the wheel along road speeds, with its band: value, lowest, highest. [N]"""
    vehicle = MotorCarrier.of(at_voltage(build, voltage))

    def pulls(motor: SeriesNumbers) -> FloatArray:
        numbers = vehicle.with_motor(motor)
        found = [pull_at(v * KMH, 1.0, STILL_AIR_C, STILL_AIR_C, numbers)[0] for v in speeds_kmh]
        return np.asarray(np.maximum(np.array(found), 0.0))

    return bands(result, pulls)


def shaft(motor: SeriesNumbers, voltage: float, amps: FloatArray, factor: float = 1.0) -> tuple[FloatArray, FloatArray]:
    """Speed [rad/s] and torque [N m] of the shaft at a terminal voltage and currents.

    Parameters
    ----------
    motor : SeriesNumbers
        At 20 °C.
    voltage : float
        At the terminals. [V]
    amps : ndarray
        Motor current. [A]
    factor : float
        Winding's resistance over that at 20 °C.

    Notes
    -----
    V = K(I) ω + I R + V_br and τ = K(I) I - τ_f - b ω.
    """
    constant = motor.constant * amps / (1.0 + amps * motor.per_saturation)
    omega = np.maximum(0.0, voltage - motor.brush - amps * motor.resistance * factor) / constant
    return np.asarray(omega), np.asarray(constant * amps - motor.friction - motor.viscous * omega)


def usual_voltage(result: LoadResult) -> float:
    """The usual voltage of the points under load. [V]"""
    return float(np.median([row.voltage_v for row in result.log.load]))


def currents_tested(result: LoadResult) -> tuple[float, float]:
    """Lightest and heaviest current of the points under load. [A]"""
    amps = [row.current_a for row in result.log.load]
    return min(amps), max(amps)


def next_measurements(result: LoadResult, quantity: Callable[[SeriesNumbers], float]) -> tuple[Further, ...]:
    """Which single further measurement would narrow a quantity's band most, best first.

    Parameters
    ----------
    result : LoadResult
        What points under load say.
    quantity : callable
        From the motor's numbers to the number that matters, such as the 36 V top speed.

    Notes
    -----
    :func:`ridesim.bench.bands.ranked`. None has less load than the log's own points.
    """
    log = result.log

    def equations(row: Row) -> Residuals:
        points = assemble([row], log.meter, log.turns_ratio)
        return lambda theta: residuals(theta, LoadPoints(points, np.array([log.room_c])))

    along = slope(lambda theta: np.array([quantity(numbers_of(theta))]), _middle(result), result.covariance)[0]
    return ranked(
        along, result.covariance, result.common, result.best,
        [(what, equations(row)) for what, row in _candidates(result)],
    )  # fmt: skip


def _candidates(result: LoadResult) -> list[tuple[str, Row]]:
    """Measurements within a maker's reach, each at the values this motor would show."""
    motor, volts = numbers_of(result.best), usual_voltage(result)
    light, heavy = currents_tested(result)
    tested = max(heavy, *(row.current_a for row in result.log.locked), 0.0)
    found: list[tuple[str, Row]] = [
        (what, ("", motor.brush + amps * motor.resistance, amps, 0.0, 0.0, False, False, False))
        for what, amps in (
            ("hold the rotor at 4.5 A (12 V 55 W lamp in series, 2 s)", 4.5),
            ("hold the rotor at 9 A (two such lamps side by side, 2 s at most)", 9.0),
        )
        if amps <= _HARDER * tested
    ]
    harder = _rounded_down(min(_HARDER * heavy, _MOST_A))
    for words, amps in (
        ("brake it to about {:.0f} A, no less,", light),
        ("brake it to about {:.0f} A", float(np.sqrt(light * heavy))),
        ("brake it to about {:.0f} A", heavy),
        ("brake it harder, to about {:g} A,", harder),
    ):
        if words.startswith("brake it harder") and amps <= heavy:
            continue
        omega, torque = (float(each) for each in shaft(motor, volts, np.array(amps)))
        if omega <= 0.0 or torque <= 0.0:
            continue
        what = f"on {volts:.0f} V {words.format(amps)} for 3 s: volts, amps, turns"
        beside = f" ({_HARDER_CAUTION})" if amps > heavy else ""
        found.append(
            (
                f"{what} and the torque (arm and spring scale){beside}",
                ("", volts, amps, omega, torque, True, False, False),
            )
        )
        found.append((what + beside, ("", volts, amps, omega, torque, False, False, False)))
    return found


def _rounded_down(amps: float) -> float:
    """A current with two digits, never more than it was: what is said is no higher than what is meant. [A]"""
    step = 10.0 ** (np.floor(np.log10(amps)) - 1.0)
    return float(f"{np.floor(amps / step + 1e-9) * step:.2g}")


def plain_sentence(result: LoadResult, build: Build, there: LoadPrediction) -> str:
    """What it does on the brake, and what to expect on the vehicle at one voltage."""
    volts, (light, heavy) = usual_voltage(result), currents_tested(result)
    amps = float(f"{np.sqrt(light * heavy):.1g}") if heavy / light > 2.0 else round(float(np.sqrt(light * heavy)))
    turns = band(result, lambda motor: float(shaft(motor, volts, np.array(amps))[0]) / RPM)
    torque = band(result, lambda motor: float(shaft(motor, volts, np.array(amps))[1]))
    return (
        f"Braked to {amps:g} A on {volts:.0f} V it turns {turns.value:.0f} ± {0.5 * (turns.high - turns.low):.0f} a minute with "
        f"{torque.value:.2f} ± {0.5 * (torque.high - torque.low):.2f} N·m. On {build.name} with a full {there.voltage_v:g} V pack expect "
        f"{there.top_speed_kmh.value:.1f} ± {0.5 * (there.top_speed_kmh.high - there.top_speed_kmh.low):.1f} km/h at most on the level. "
        "Never run it unloaded."
    )
