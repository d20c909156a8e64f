"""The equations of a spin test: measured points against a motor's five numbers, with errors in every reading."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.estimate import whitened
from ridesim.bench.motor.log import RPM, Meter, SpinLog
from ridesim.physics.motor import FERRITE_PER_K, NEODYMIUM_PER_K, warm_constant, warm_resistance

FloatArray = NDArray[np.float64]

NAMES = ("torque constant", "resistance", "brush drop", "friction", "viscous drag", "chain and wheel drag")
HAND_RPM = 200.0
"""Fastest that a hand turns a shaft: common practice, no source. [turns a minute]"""
LOG_K, LOG_R, BRUSH, FRICTION, VISCOUS, CHAIN = range(6)
"""Places in the parameter vector; constant and resistance as natural logarithms, so that they stay above zero."""


Row = tuple[str, float, float, float, float, bool, bool, bool]
"""Name in the log, V, A, rad/s, N m, turning, opened, chained."""


class Points(NamedTuple):
    """Measured points side by side, SI, with the standard deviation of each reading.

    ``locked`` rows have no torque equation, ``opened`` rows no current; ``row`` names each in the log.
    """

    row: tuple[str, ...]
    voltage: FloatArray
    current: FloatArray
    speed: FloatArray
    torque: FloatArray
    voltage_sd: FloatArray
    current_sd: FloatArray
    speed_sd: FloatArray
    torque_sd: FloatArray
    turning: NDArray[np.bool_]  # the torque equation holds
    opened: NDArray[np.bool_]  # leads open, no current
    chained: NDArray[np.bool_]

    def without(self, index: int) -> Points:
        """All points but one."""
        keep = [place for place in range(len(self.row)) if place != index]
        names = tuple(self.row[place] for place in keep)
        return Points(names, *(np.asarray(column)[keep] for column in self[1:]))  # type: ignore[arg-type]

    def loosened(self, factor: float) -> Points:
        """The points with the standard deviation of every reading so many times as large."""
        names = ("voltage_sd", "current_sd", "speed_sd", "torque_sd")
        return self._replace(**{name: getattr(self, name) * factor for name in names})


def reading_sd(value: float, percent: float, digit: float) -> float:
    """Standard deviation of a reading: the meter's share, and the last digit as an even spread (digit/√12)."""
    return float(np.hypot(abs(value) * percent / 100.0, digit / np.sqrt(12.0)))


def points_of(log: SpinLog) -> Points:
    """A checked log's points: no-load, locked, known load, and open-lead turns by a drill whose speed is known.

    A shaft turned by hand tells the kind only: its speed is no steadier than the hand, whatever the meters' accuracy.
    """
    rows: list[Row] = []
    for number, spin in enumerate(log.no_load, start=1):
        speed = log.motor_speed(spin)
        assert speed is not None
        rows.append((f"no_load[{number}]", spin.voltage_v, spin.current_a, speed, 0.0, True, False, spin.chain))
    for number, held in enumerate(log.locked, start=1):
        rows.append((f"locked[{number}]", held.voltage_v, held.current_a, 0.0, 0.0, False, False, False))
    for number, braked in enumerate(log.load, start=1):
        speed = log.motor_speed(braked)
        assert speed is not None
        rows.append(
            (f"load[{number}]", braked.voltage_v, braked.current_a, speed, braked.torque_nm, True, False, False)
        )
    for number, turned in enumerate(log.turned, start=1):
        speed = log.motor_speed(turned)
        if speed and speed > HAND_RPM * RPM:
            rows.append((f"turned[{number}]", abs(turned.voltage_v), 0.0, speed, 0.0, False, True, False))
    return assemble(rows, log.meter, log.turns_ratio)


def assemble(rows: list[Row], meter: Meter, ratio: float = 1.0) -> Points:
    """Points from rows of (name, V, A, rad/s, N m, turning, opened, chained) and the meter's accuracy."""
    names = tuple(row[0] for row in rows)
    volts, amps, speed, torque = (np.array([row[place] for row in rows], dtype=float) for place in range(1, 5))
    turning, opened, chained = (np.array([row[place] for row in rows], dtype=bool) for place in range(5, 8))
    digit = meter.speed_digit_rpm * ratio * RPM
    return Points(
        names, volts, amps, speed, torque,
        np.array([reading_sd(v, meter.voltage_percent, meter.voltage_digit_v) for v in volts]),
        np.array([reading_sd(a, meter.current_percent, meter.current_digit_a) if a else 0.0 for a in amps]),
        np.array([reading_sd(w, meter.speed_percent, digit) if w else 0.0 for w in speed]),
        np.array([reading_sd(t, meter.torque_percent, 0.0) for t in torque]),
        turning, opened, chained,
    )  # fmt: skip


def scaled(points: Points, gains: FloatArray) -> Points:
    """The points with all volts, amps, speeds and torques off by common shares."""
    volts, amps, speed, torque = 1.0 + gains
    return points._replace(
        voltage=points.voltage * volts,
        current=points.current * amps,
        speed=points.speed * speed,
        torque=points.torque * torque,
    )


def gain_sds(meter: Meter) -> FloatArray:
    """Standard deviations of the meters' common factors: volts, amps, speed, torque."""
    return 0.01 * np.array([
        meter.voltage_gain_percent, meter.current_gain_percent, meter.speed_gain_percent, meter.torque_gain_percent,
    ])  # fmt: skip


def residuals(theta: FloatArray, points: Points, room_c: float, magnet_per_k: float) -> FloatArray:
    """Misfit of every equation in standard deviations of what the meters explain.

    Parameters
    ----------
    theta : ndarray, shape (5,) or (6,)
        ln K20, ln R20, V_br [V], τ_f [N m], b [N m s/rad] and, where chain-on points exist, the chain's drag [N m].
    points : Points
        The measurements.
    room_c : float
        Temperature of winding and magnets during the test. [°C]
    magnet_per_k : float
        The magnets' temperature coefficient. [1/K]

    Returns
    -------
    ndarray
        One an electrical equation, then one a torque equation.

    Notes
    -----
    g1 = V - K ω - I R - V_br and g2 = K I - τ_f - b ω - τ_load vanish for true values. Both are linear in the readings,
    so their covariance follows exactly from the readings' (V, I, ω, τ each with an error): whitening with it, the
    weights moving along with θ, is total least squares (Deming; York 1966, from memory), free of the bias that taking
    current or speed as exact would bring.
    """
    constant = warm_constant(float(np.exp(theta[LOG_K])), magnet_per_k, room_c)
    resistance = warm_resistance(float(np.exp(theta[LOG_R])), room_c)
    viscous = theta[VISCOUS]
    chain = theta[CHAIN] if len(theta) > CHAIN else 0.0
    closed = ~points.opened
    g1 = points.voltage - constant * points.speed - points.current * resistance - theta[BRUSH] * closed
    s11 = points.voltage_sd**2 + (resistance * points.current_sd) ** 2 + (constant * points.speed_sd) ** 2
    turning = points.turning
    current, speed = points.current[turning], points.speed[turning]
    current_sd, speed_sd = points.current_sd[turning], points.speed_sd[turning]
    g2 = (
        constant * current
        - theta[FRICTION]
        - viscous * speed
        - points.torque[turning]
        - chain * points.chained[turning]
    )
    s22 = (constant * current_sd) ** 2 + (viscous * speed_sd) ** 2 + points.torque_sd[turning] ** 2
    s12 = -resistance * constant * current_sd**2 + constant * viscous * speed_sd**2
    return whitened(g1, g2, turning, (s11, s22, s12))


def magnet_coefficient(magnet: str) -> float:
    """Temperature coefficient of a magnet material. [1/K]"""
    return FERRITE_PER_K if magnet == "ferrite" else NEODYMIUM_PER_K
