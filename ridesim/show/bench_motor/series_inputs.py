"""What the series-wound motor's panel computes: boxes → points under load → motor → predictions. No widgets, no pictures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.bands import Curve, Further
from ridesim.bench.motor.load_log import LoadLog, read_load_log
from ridesim.bench.motor.log import RPM
from ridesim.bench.motor.model import Points
from ridesim.bench.motor.series_prediction import (
    LoadPrediction,
    bands,
    currents_tested,
    next_measurements,
    numbers_of,
    plain_sentence,
    predict,
    pull_bands,
    shaft,
)
from ridesim.bench.motor.series_wound import LoadResult, identify_series
from ridesim.physics.motor import warm_resistance
from ridesim.ride.steady.motor import MotorCarrier, SeriesNumbers, at_voltage
from ridesim.show.bench_motor.boxes import Boxes
from ridesim.show.bench_motor.inputs import VOLTAGES
from ridesim.vehicle import Build

FloatArray = NDArray[np.float64]
MIDDLE = 1
"""Place of the voltage that the sentence and the advice are about."""
BOXES = Boxes(
    read_load_log,
    "Bench log of a series-wound motor, points under load only, written by ridesim. Never run it unloaded.",
    {
        "turned": ("voltage_v", "speed_rpm"),
        "locked": ("voltage_v", "current_a"),
        "load": ("voltage_v", "current_a", "speed_rpm", "torque_nm", "winding_c"),
    },
    ("room_c", "speed_measured_at"),
    ("voltage_percent", "current_percent", "speed_percent", "torque_percent"),
    {"kind": "series-wound"},
)
_ALIKE = 1.1
"""Voltages of points within this ratio share one line of the picture."""


@dataclass(frozen=True)
class SeriesAnswer:
    """Everything the series-wound motor's panel shows.

    Attributes
    ----------
    log : LoadLog
    build : Build
    result : LoadResult
    torque : Curve
        Torque before friction against current. [N m, A]
    speeds : tuple of Curve
        Shaft speed against current at the voltages of the points. [turns a minute, A]
    pulls : tuple of Curve
        Pull at the wheel against road speed at 24, 36, 48 V. [N, km/h]
    predictions : tuple of LoadPrediction
        At 24, 36, 48 V.
    further : tuple of Further
        What to measure next, best first, for the top speed at 36 V.
    sentence : str
        "Braked to 40 A on 12 V it turns ..."
    """

    log: LoadLog
    build: Build
    result: LoadResult
    torque: Curve
    speeds: tuple[Curve, ...]
    pulls: tuple[Curve, ...]
    predictions: tuple[LoadPrediction, ...]
    further: tuple[Further, ...]
    sentence: str

    @property
    def motor(self) -> SeriesNumbers:
        """The motor found."""
        return numbers_of(self.result.best)

    @property
    def points(self) -> Points:
        """The measured points, SI."""
        return self.result.data.points


def answer(log: LoadLog, build: Build, file: str = "the bench log") -> SeriesAnswer:
    """Identify the motor and predict.

    Parameters
    ----------
    log : LoadLog
        As typed.
    build : Build
        The vehicle it is meant for.
    file : str
        What messages call the log.

    Raises
    ------
    InputProblem
        As :func:`ridesim.bench.motor.series_wound.identify_series`.
    """
    result = identify_series(log, file)
    target = MotorCarrier.of(at_voltage(build, VOLTAGES[MIDDLE]))
    predictions = predict(result, build, VOLTAGES)
    fastest = 1.1 * max(each.top_speed_kmh.high for each in predictions)
    road = np.linspace(0.0, fastest, 60)
    return SeriesAnswer(
        log=log,
        build=build,
        result=result,
        torque=_torque(result),
        speeds=_speeds(result),
        pulls=tuple(Curve(f"{volts:g} V", road, *pull_bands(result, build, volts, road)) for volts in VOLTAGES),
        predictions=predictions,
        further=next_measurements(result, target.top_speed_kmh),
        sentence=plain_sentence(result, build, predictions[MIDDLE]),
    )


def _torque(result: LoadResult) -> Curve:
    """Torque before friction from 0 to a little above the heaviest point."""
    amps = np.linspace(0.0, 1.25 * currents_tested(result)[1], 60)
    found = [result.torque_at(float(each)) for each in amps]
    return Curve(
        "torque", amps, *(np.array([getattr(each, end) for each in found]) for end in ("value", "low", "high"))
    )


def _speeds(result: LoadResult) -> tuple[Curve, ...]:
    """Speed against current at each voltage of the points, from a little below the lightest to a little above the heaviest."""
    light, heavy = currents_tested(result)
    amps = np.linspace(0.75 * light, 1.15 * heavy, 60)

    factor = warm_resistance(1.0, result.log.room_c)

    def curve(volts: float) -> Curve:
        return Curve(f"{volts:.3g} V", amps, *bands(result, lambda motor: shaft(motor, volts, amps, factor)[0] / RPM))

    return tuple(curve(float(np.mean(group))) for group in _alike([row.voltage_v for row in result.log.load]))


def _alike(volts: list[float]) -> list[list[float]]:
    """Voltages in groups of near ones."""
    groups: list[list[float]] = []
    for each in sorted(volts):
        if groups and each <= _ALIKE * groups[-1][0]:
            groups[-1].append(each)
        else:
            groups.append([each])
    return groups
