"""Which further reading would narrow a number's band most."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from ridesim.bench.estimate import FloatArray
from ridesim.bench.motor.identify import MotorResult
from ridesim.bench.motor.model import Row, points_of
from ridesim.bench.motor.prediction import shaft, usual_voltage
from ridesim.physics.motor import loaded_speed
from ridesim.ride.steady.many import Motors

_HARDER = 1.5
_MOST_A = 200.0
"""Largest current that a further row is proposed at, over the heaviest so far and at all: common practice, no source."""
_HARDER_CAUTION = (
    " (only if leads, fuse, clamps and brake are made for that current and the torque that comes with it; seconds only, hands clear, then "
    "let all cool: brake and brushes get hot enough to burn)"
)


@dataclass(frozen=True, slots=True)
class Further:
    """One more reading that could be made.

    Attributes
    ----------
    what : str
        The reading, as an instruction.
    narrows : float
        How much narrower it makes the band of the number asked for, 0 to 1.
    row : Row
        What it would read if the motor is the most likely one.
    """

    what: str
    narrows: float
    row: Row


def next_readings(result: MotorResult, number: Callable[[Motors], FloatArray]) -> tuple[Further, ...]:
    """Which single further reading would narrow a number's band most, best first.

    Parameters
    ----------
    result : MotorResult
        What the bench log says.
    number : callable
        From motors to the number that matters, such as the 36 V top speed.
    """
    model = result.model

    def narrowing(row: Row) -> float:
        points = points_of(result.log, [row])
        return result.estimate.narrowing(
            lambda draws: number(model.motors(draws)), lambda draws: model.residuals(draws, points)
        )

    candidates = _braked_candidates(result) if result.log.series_wound else _magnet_candidates(result)
    return tuple(
        sorted((Further(what, narrowing(row), row) for what, row in candidates), key=lambda each: -each.narrows)
    )


def measure_next(result: MotorResult, voltage: float = 36.0) -> str:
    """The best further readings where no vehicle is known, in words: for the free shaft's speed and the held torque at a voltage.

    Parameters
    ----------
    result : MotorResult
        Of a permanent-magnet motor.
    voltage : float
        At the terminals. [V]
    """

    fast = next_readings(result, lambda motors: motors.unloaded_speed(voltage))[0]
    strong = next_readings(result, lambda motors: held_torque(motors, voltage))[0]
    return (
        f"{fast.what}. It makes the band of the free speed at {voltage:g} V {100.0 * fast.narrows:.0f} % narrower. For the held torque: "
        f"{strong.what}, {100.0 * strong.narrows:.0f} %."
    )


def held_torque(motors: Motors, voltage: float) -> FloatArray:
    """Torque at the shaft of permanent-magnet motors held still across a voltage, cold, without a controller. [N m]"""
    return np.asarray(motors.constant * (voltage - motors.brush) / motors.resistance - motors.friction)


def _held(result: MotorResult, amps: float) -> Row:
    return Row("", result.number("brush") + amps * result.number("resistance"), amps)


def _magnet_candidates(result: MotorResult) -> Iterator[tuple[str, Row]]:
    """Readings of a permanent-magnet motor within a maker's reach, each as the most likely motor would show it."""
    constant, resistance, brush, friction, viscous = (
        result.number(name) for name in ("constant", "resistance", "brush", "friction", "viscous")
    )

    def spun(volts: float, torque: float = 0.0) -> Row:
        speed = loaded_speed(volts, friction + torque, constant, resistance, brush, viscous)
        return Row("", volts, (friction + torque + viscous * speed) / constant, speed, torque, balanced=True)

    spins = [
        ("spin it free once more at 6 V", spun(6.0)),
        ("spin it free once more at 12.5 V", spun(12.5)),
        ("spin it free at 24 V (two blocks in series, fused; wheel clear, guards on)", spun(24.0)),
    ]
    torque = 0.15 * constant * (12.5 - brush) / resistance
    if torque > 0.0:
        words = f"brake it with {torque:.2g} N m at 12.5 V (arm and spring scale), a few seconds"
        spins.append((words, spun(12.5, torque)))
    yield from ((what, row) for what, row in spins if row.speed > 0.0)
    yield "hold the rotor at 2 A (12 V 21 W lamp in series)", _held(result, 2.0)
    yield "hold the rotor at 4.5 A (12 V 55 W lamp in series)", _held(result, 4.5)
    yield "hold the rotor at 9 A (two such lamps side by side, 2 s at most)", _held(result, 9.0)
    yield (
        "turn the shaft with a drill, leads open: volts and speed at about 1500 turns a minute",
        Row("", constant * 157.0, 0.0, 157.0, opened=True),
    )


def _braked_candidates(result: MotorResult) -> Iterator[tuple[str, Row]]:
    """Readings of a series-wound motor within a maker's reach, none with less load than the log's own."""
    volts, (light, heavy) = usual_voltage(result), result.log.currents_braked
    tested = max(heavy, *(row.current_a for row in result.log.held))
    for what, amps in (
        ("hold the rotor at 4.5 A (12 V 55 W lamp in series, 2 s)", 4.5),
        ("hold the rotor at 9 A (two such lamps side by side, 2 s at most)", 9.0),
    ):
        if amps <= _HARDER * tested:
            yield what, _held(result, amps)
    braked = [
        (f"brake it to about {light:.0f} A, no less,", light, ""),
        (f"brake it to about {np.sqrt(light * heavy):.0f} A", float(np.sqrt(light * heavy)), ""),
        (f"brake it to about {heavy:.0f} A", heavy, ""),
    ]
    harder = _rounded_down(min(_HARDER * heavy, _MOST_A))
    if harder > heavy:
        braked.append((f"brake it harder, to about {harder:g} A,", harder, _HARDER_CAUTION))
    for words, amps, caution in braked:
        omega, torque = (float(each[0, 0]) for each in shaft(result.best, volts, np.array([amps])))
        if omega > 0.0 and torque > 0.0:
            what = f"on {volts:.0f} V {words} for 3 s: volts, amps, turns"
            yield (
                f"{what} and the torque (arm and spring scale){caution}",
                Row("", volts, amps, omega, torque, balanced=True),
            )
            yield what + caution, Row("", volts, amps, omega, torque)


def _rounded_down(amps: float) -> float:
    """A current with two digits, never more than it was: what is said is no higher than what is meant. [A]"""
    step = 10.0 ** (np.floor(np.log10(amps)) - 1.0)
    return float(f"{np.floor(amps / step + 1e-9) * step:.2g}")
