"""What a bench panel computes: boxes → bench log → motor → predictions. No widgets, no pictures."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ridesim.bench.estimate import FloatArray, Function
from ridesim.bench.motor.identify import MotorResult, identify_motor
from ridesim.bench.motor.log import RPM, MotorLog
from ridesim.bench.motor.model import magnet_coefficient
from ridesim.bench.motor.next_reading import Further, next_readings
from ridesim.bench.motor.prediction import Prediction, carrier_at, plain_sentence, predict, shaft
from ridesim.physics.motor import warm_constant, warm_resistance
from ridesim.show.bench_motor.boxes import Boxes
from ridesim.show.units import System
from ridesim.vehicle import Build

VOLTAGES = (24.0, 36.0, 48.0)
"""Pack voltages wished for; the build's blocks make the nearest. Sentence and advice are about the middle one. [V]"""
MOST_V = 50.0
MAGNET_BOXES = Boxes(
    "Bench log of a permanent-magnet motor, written by ridesim.",
    {
        "turned": ("voltage_v", "speed_rpm"),
        "free_spin": ("voltage_v", "current_a", "speed_rpm", "chain"),
        "held": ("voltage_v", "current_a"),
        "braked": ("voltage_v", "current_a", "speed_rpm", "torque_nm"),
    },
    ("room_c", "magnet", "speed_measured_at"),
    ("voltage_percent", "current_percent", "speed_percent"),
    "permanent-magnet",
)
SERIES_BOXES = Boxes(
    "Bench log of a series-wound motor, held and braked rows only, written by ridesim. Never run it unloaded.",
    {
        "turned": ("voltage_v", "speed_rpm"),
        "held": ("voltage_v", "current_a"),
        "braked": ("voltage_v", "current_a", "speed_rpm", "torque_nm", "winding_c"),
    },
    ("room_c", "speed_measured_at"),
    ("voltage_percent", "current_percent", "speed_percent", "torque_percent"),
    "series-wound",
)
_ALIKE = 1.1
"""Voltages of rows within this ratio share one line of the picture."""


@dataclass(frozen=True, eq=False)
class Curve:
    """A quantity along another, with its band.

    Attributes
    ----------
    label : str
    along, value, low, high : ndarray, shape (n,)
    """

    label: str
    along: FloatArray
    value: FloatArray
    low: FloatArray
    high: FloatArray


@dataclass(frozen=True)
class Answer:
    """Everything a bench panel shows.

    Attributes
    ----------
    log : MotorLog
    build : Build
    result : MotorResult
    speeds : tuple of Curve
        Shaft speed [turns a minute]: of a permanent-magnet motor spinning freely against its terminal voltage [V], one curve; of a
        series-wound motor against its current [A], a curve for each voltage of the rows.
    torques : tuple of Curve
        Torque before friction against current: one curve of a series-wound motor. [N m, A]
    pulls : tuple of Curve
        Pull at the wheel against road speed at the voltages of the predictions. [N, km/h]
    level_n : ndarray
        Resistance on the level at those speeds, on the middle voltage. [N]
    predictions : tuple of Prediction
        At about 24, 36, 48 V, as the blocks make it.
    further : tuple of Further
        What to measure next, best first, for the top speed on the middle voltage.
    sentence : str
        The answer in a line.
    """

    log: MotorLog
    build: Build
    result: MotorResult
    speeds: tuple[Curve, ...]
    torques: tuple[Curve, ...]
    pulls: tuple[Curve, ...]
    level_n: FloatArray
    predictions: tuple[Prediction, ...]
    further: tuple[Further, ...]
    sentence: str

    def said(self, system: System) -> str:
        """The sentence in a system of units."""
        return system.said(self.sentence, [self.middle.top_speed_kmh.value])

    @property
    def middle(self) -> Prediction:
        """The voltage that the sentence and the advice are about."""
        return self.predictions[len(self.predictions) // 2]


@lru_cache(maxsize=8)
def answer(log: MotorLog, build: Build, file: str = "the bench log") -> Answer:
    """Identify the motor and predict; the last few answers are kept, for other units and for a step back.

    Parameters
    ----------
    log : MotorLog
        As typed.
    build : Build
        The vehicle it is meant for.
    file : str
        What messages call the log.

    Raises
    ------
    InputProblem
        As :func:`ridesim.bench.motor.identify.identify_motor`.
    """
    result = identify_motor(log, file)
    predictions = predict(result, build, VOLTAGES)
    road = np.linspace(0.0, 1.1 * max(each.top_speed_kmh.high for each in predictions), 60)
    middle = predictions[len(predictions) // 2]
    vehicle = carrier_at(build, middle.voltage_v)
    return Answer(
        log=log,
        build=build,
        result=result,
        speeds=_braked_speeds(result) if log.series_wound else (_free_speed(result),),
        torques=(_torque(result),) if log.series_wound else (),
        pulls=tuple(_pull(result, build, each.voltage_v, road) for each in predictions),
        level_n=vehicle.level_resistance_n(road),
        predictions=predictions,
        further=next_readings(result, vehicle.top_speed_kmh),
        sentence=plain_sentence(result, build, middle),
    )


def _curve(result: MotorResult, label: str, along: FloatArray, function: Function) -> Curve:
    return Curve(label, along, *result.estimate.bands(function))


def _pull(result: MotorResult, build: Build, volts: float, road: FloatArray) -> Curve:
    vehicle = carrier_at(build, volts)
    return _curve(result, f"{volts:g} V", road, lambda draws: vehicle.pull_n(result.model.motors(draws), road))


def _free_speed(result: MotorResult) -> Curve:
    """Speed spinning freely, from next to no voltage to a little above 48 V, at the room's temperature."""
    volts, room = np.linspace(2.0, MOST_V, 25), result.log.room_c
    magnets, copper = warm_constant(1.0, magnet_coefficient(result.log.magnet), room), warm_resistance(1.0, room)

    def rpm(draws: FloatArray) -> FloatArray:
        motors = result.model.motors(draws)
        motors = motors._replace(constant=motors.constant * magnets, resistance=motors.resistance * copper)
        return np.column_stack([motors.unloaded_speed(float(each)) / RPM for each in volts])

    return _curve(result, "free spin", volts, rpm)


def _torque(result: MotorResult) -> Curve:
    """Torque before friction from 0 to a little above the heaviest row."""
    amps = np.linspace(0.0, 1.25 * result.log.currents_braked[1], 60)

    def torque(draws: FloatArray) -> FloatArray:
        motors = result.model.motors(draws)
        return np.column_stack([motors.constant_at(each) * each for each in amps])

    return _curve(result, "torque", amps, torque)


def _braked_speeds(result: MotorResult) -> tuple[Curve, ...]:
    """Speed against current at each voltage of the rows, from a little below the lightest to a little above the heaviest."""
    light, heavy = result.log.currents_braked
    amps, warmth = np.linspace(0.75 * light, 1.15 * heavy, 60), warm_resistance(1.0, result.log.room_c)

    def curve(volts: float) -> Curve:
        return _curve(
            result,
            f"{volts:.3g} V",
            amps,
            lambda draws: shaft(result.model.motors(draws), volts, amps, warmth)[0] / RPM,
        )

    return tuple(curve(float(np.mean(group))) for group in _alike([row.voltage_v for row in result.log.braked]))


def _alike(volts: list[float]) -> list[list[float]]:
    """Voltages in groups of near ones."""
    groups: list[list[float]] = []
    for each in sorted(volts):
        if groups and each <= _ALIKE * groups[-1][0]:
            groups[-1].append(each)
        else:
            groups.append([each])
    return groups
