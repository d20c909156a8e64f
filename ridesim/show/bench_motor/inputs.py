"""What the spin test's panel computes: boxes → bench log → motor → predictions. No widgets, no pictures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridesim.bench.bands import Curve, Further
from ridesim.bench.motor.log import RPM, SpinLog, read_spin_log
from ridesim.bench.motor.model import Points, magnet_coefficient
from ridesim.bench.motor.permanent_magnet import SpinResult, identify
from ridesim.bench.motor.prediction import Prediction, band, next_measurements, numbers_of, plain_sentence, predict
from ridesim.ride.steady.motor import MotorCarrier, MotorNumbers, at_voltage, no_load_speed
from ridesim.show.bench_motor.boxes import Boxes
from ridesim.vehicle import Build
from ridesim.words import Uncertain

VOLTAGES = (24.0, 36.0, 48.0)
MOST_V = 50.0
BOXES = Boxes(
    read_spin_log,
    "Bench log of a spin test, written by ridesim.",
    {
        "turned": ("voltage_v", "speed_rpm"),
        "no_load": ("voltage_v", "current_a", "speed_rpm", "chain"),
        "locked": ("voltage_v", "current_a"),
        "load": ("voltage_v", "current_a", "speed_rpm", "torque_nm"),
    },
    ("room_c", "magnet", "speed_measured_at"),
    ("voltage_percent", "current_percent", "speed_percent"),
)


@dataclass(frozen=True)
class BenchAnswer:
    """Everything the bench panel shows.

    Attributes
    ----------
    log : SpinLog
    build : Build
    result : SpinResult
    speeds : Curve
        No-load speed of the motor's shaft against its terminal voltage. [turns a minute]
    predictions : tuple of Prediction
        At 24, 36, 48 V.
    further : tuple of Further
        What to measure next, best first, for the top speed at 36 V.
    sentence : str
        "12 V on the stand turns the wheel at ..."
    """

    log: SpinLog
    build: Build
    result: SpinResult
    speeds: Curve
    predictions: tuple[Prediction, ...]
    further: tuple[Further, ...]
    sentence: str

    @property
    def motor(self) -> MotorNumbers:
        """The motor found."""
        return numbers_of(self.result.best)

    @property
    def points(self) -> Points:
        """The measured points, SI."""
        return self.result.points


def answer(log: SpinLog, build: Build, file: str = "the bench log") -> BenchAnswer:
    """Identify the motor and predict.

    Parameters
    ----------
    log : SpinLog
        As typed.
    build : Build
        The vehicle it is meant for.
    file : str
        What messages call the log.

    Raises
    ------
    InputProblem
        As :func:`ridesim.bench.motor.permanent_magnet.identify`.
    """
    result = identify(log, file)
    target = MotorCarrier.of(at_voltage(build, 36.0))
    return BenchAnswer(
        log=log,
        build=build,
        result=result,
        speeds=_speeds(result),
        predictions=predict(result, build, VOLTAGES),
        further=next_measurements(result, target.top_speed_kmh),
        sentence=plain_sentence(result, build),
    )


def _speeds(result: SpinResult) -> Curve:
    """Band of the no-load speed from 0 to a little above 48 V, at the room's temperature."""
    volts = np.linspace(2.0, MOST_V, 25)
    per_k = magnet_coefficient(result.log.magnet)

    def at(voltage: float) -> Uncertain:
        def speed(motor: MotorNumbers) -> float:
            return no_load_speed(motor, voltage, result.log.room_c, per_k) / RPM

        return band(result, speed)

    bands = [at(float(voltage)) for voltage in volts]
    value, low, high = (np.array([getattr(each, name) for each in bands]) for name in ("value", "low", "high"))
    return Curve("no load", volts, value, low, high)
