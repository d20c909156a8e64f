"""The equations of a motor's bench test: readings of volts, amps, speed and torque against the motor's numbers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.estimate import FloatArray, Unknown
from ridesim.bench.motor.log import RPM, Meter, MotorLog
from ridesim.physics.motor import FERRITE_PER_K, NEODYMIUM_PER_K, warm_constant, warm_resistance
from ridesim.ride.steady.many import Motors

Flags = NDArray[np.bool_]

HAND_RPM = 200.0
"""Fastest that a hand turns a shaft: common practice, no source. [turns a minute]"""
QUANTITIES = ("voltage", "current", "speed", "torque")
"""What a row reads, in the order of :class:`Points`."""
_LEAST_SOFT = 0.1
"""Least 1 + I/I_sat while the search strays to negative 1/I_sat: keeps it away from the pole."""


class Row(NamedTuple):
    """One row of readings, SI."""

    name: str
    voltage: float
    current: float
    speed: float = 0.0
    torque: float = 0.0
    balanced: bool = False  # the torque is known: its equation holds
    opened: bool = False  # leads open, no current
    chained: bool = False  # chain and lifted wheel turn along
    winding_c: float | None = None


class Points(NamedTuple):
    """Rows side by side: readings and their standard deviations, shape (4, n), in the order of QUANTITIES."""

    names: tuple[str, ...]
    values: FloatArray
    sds: FloatArray
    balanced: Flags
    opened: Flags
    chained: Flags
    warmth: FloatArray  # winding's resistance over that at 20 °C

    @property
    def free(self) -> Flags:
        """Rows of a motor that spins freely."""
        return np.asarray(self.balanced & (self.values[3] == 0.0))

    @property
    def held(self) -> Flags:
        """Rows of a held rotor."""
        return np.asarray(self.values[2] == 0.0)

    def without(self, index: int) -> Points:
        """All rows but one."""
        keep = np.arange(len(self.names)) != index
        names = tuple(np.array(self.names)[keep])
        return Points(names, *(column[..., keep] for column in self[1:]))  # type: ignore[arg-type]


def reading_sd(value: float, percent: float, digit: float = 0.0) -> float:
    """Standard deviation of a reading: the meter's share, and the last digit as an even spread (digit/√12)."""
    return float(np.hypot(abs(value) * percent / 100.0, digit / np.sqrt(12.0)))


def volts_sd(meter: Meter, volts: float) -> float:
    """Standard deviation of a voltage reading. [V]"""
    return reading_sd(volts, meter.voltage_percent, meter.voltage_digit_v)


def amps_sd(meter: Meter, amps: float) -> float:
    """Standard deviation of a current reading. [A]"""
    return reading_sd(amps, meter.current_percent, meter.current_digit_a)


def rows_of(log: MotorLog) -> list[Row]:
    """A checked log's rows: free spins, held rotor, brakings, and open-lead turns by a drill whose speed is known.

    A shaft turned by hand tells the kind only: its speed is no steadier than the hand, whatever the meters' accuracy.
    """
    rows = [
        Row(place, row.voltage_v, row.current_a, log.motor_speed(row) or 0.0, balanced=True, chained=row.chain)
        for place, row in log.rows("free_spin")
    ]
    rows += [Row(place, row.voltage_v, row.current_a) for place, row in log.rows("held")]
    for place, row in log.rows("braked"):
        speed, known = log.motor_speed(row) or 0.0, row.torque_nm is not None
        torque = row.torque_nm or 0.0
        rows.append(Row(place, row.voltage_v, row.current_a, speed, torque, known, winding_c=row.winding_c))
    for place, row in () if log.series_wound else log.rows("turned"):
        speed = log.motor_speed(row) or 0.0
        if speed > HAND_RPM * RPM:
            rows.append(Row(place, abs(row.voltage_v), 0.0, speed, opened=True))
    return rows


def points_of(log: MotorLog, rows: Iterable[Row]) -> Points:
    """Rows side by side, with the standard deviations that the log's meters have."""
    meter, listed = log.meter, list(rows)
    digit = meter.speed_digit_rpm * log.turns_ratio * RPM

    def sds(row: Row) -> tuple[float, ...]:
        return (
            volts_sd(meter, row.voltage), amps_sd(meter, row.current) if row.current else 0.0,
            reading_sd(row.speed, meter.speed_percent, digit) if row.speed else 0.0, reading_sd(row.torque, meter.torque_percent),
        )  # fmt: skip

    balanced, opened, chained = (np.array([row[place] for row in listed], dtype=bool) for place in (5, 6, 7))
    return Points(
        names=tuple(row.name for row in listed),
        values=np.array([row[1:5] for row in listed], dtype=float).T,
        sds=np.array([sds(row) for row in listed]).T,
        balanced=balanced,
        opened=opened,
        chained=chained,
        warmth=np.array([
            warm_resistance(1.0, log.room_c if row.winding_c is None else row.winding_c) for row in listed
        ]),
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class MotorModel:
    """The equations of one log: unknowns, and residuals of its readings.

    Attributes
    ----------
    log : MotorLog
    points : Points
    unknowns : tuple of Unknown
        ln of the constant (K or k_s), ln R, brush drop, friction, viscous drag; 1/I_sat of a series-wound motor; the chain's
        drag where the log can part it; the gain error of each meter that states one. Logarithms keep a number above zero; the
        inverse of the saturation current is 0 where a motor does not saturate.
    """

    log: MotorLog
    points: Points
    unknowns: tuple[Unknown, ...]

    @cached_property
    def _place(self) -> dict[str, int]:
        return {unknown.name: place for place, unknown in enumerate(self.unknowns)}

    def _of(self, draws: FloatArray, name: str) -> FloatArray | float:
        """An unknown of each draw, shape (n, 1); 0 where the log does not ask for it."""
        return draws[:, self._place[name], None] if name in self._place else 0.0

    def motors(self, draws: FloatArray) -> Motors:
        """The motors' numbers at 20 °C."""
        constant = np.exp(self._of(draws, "constant"))[:, 0]
        none, series = np.zeros(len(draws)), self.log.series_wound
        soft = np.maximum(self._of(draws, "saturation"), 1e-9)[:, 0] if series else none + 1.0
        return Motors(
            none if series else constant, constant if series else none, 1.0 / soft, np.exp(self._of(draws, "resistance"))[:, 0],
            *(self._of(draws, name)[:, 0] for name in ("brush drop", "friction", "viscous drag")),  # type: ignore[index]
        )  # fmt: skip

    def readings(self, draws: FloatArray, points: Points) -> list[FloatArray]:
        """Volts, amps, speed, torque of each row, shape (n, rows), free of the meters' gain errors."""
        return [
            value * (1.0 + self._of(draws, f"{name} gain"))
            for name, value in zip(QUANTITIES, points.values, strict=True)
        ]

    def flux(self, draws: FloatArray, amps: FloatArray) -> tuple[FloatArray, FloatArray]:
        """K(I) at the room's temperature, and its slope dK/dI, shape (n, rows). [V s/rad], [V s/(rad A)]"""
        constant = np.exp(self._of(draws, "constant"))
        if self.log.series_wound:
            soft = np.maximum(1.0 + self._of(draws, "saturation") * amps, _LEAST_SOFT)
            return constant * amps / soft, constant / soft**2
        warm = warm_constant(1.0, magnet_coefficient(self.log.magnet), self.log.room_c)
        return constant * warm, np.zeros_like(amps)

    def misfits(self, draws: FloatArray, points: Points) -> tuple[FloatArray, ...]:
        """How far the readings miss the two equations, and the covariance of that.

        Parameters
        ----------
        draws : ndarray, shape (n, p)
            Parameter sets.
        points : Points
            Rows.

        Returns
        -------
        tuple of ndarray, each of shape (n, rows)
            g1 = V - K(I) ω - I R - V_br [V], g2 = K(I) I - τ_f - b ω - τ_chain - τ_load [N m], with
            K(I) = k_s I/(1 + I/I_sat) of a series-wound motor; variance of g1, variance of g2, covariance, from the readings'
            errors to first order.
        """
        volts, amps, speed, torque = self.readings(draws, points)
        sd_v, sd_a, sd_w, sd_t = points.sds
        constant, steeper = self.flux(draws, amps)
        resistance, viscous = np.exp(self._of(draws, "resistance")) * points.warmth, self._of(draws, "viscous drag")
        g1 = volts - constant * speed - amps * resistance - self._of(draws, "brush drop") * ~points.opened
        drag = self._of(draws, "friction") + viscous * speed + self._of(draws, "chain drag") * points.chained
        g2 = constant * amps - drag - torque
        by_amps, twist = steeper * speed + resistance, steeper * amps + constant
        s11 = sd_v**2 + (by_amps * sd_a) ** 2 + (constant * sd_w) ** 2
        s22 = sd_t**2 + (twist * sd_a) ** 2 + (viscous * sd_w) ** 2
        return g1, g2, s11, s22, constant * viscous * sd_w**2 - by_amps * twist * sd_a**2

    def residuals(self, draws: FloatArray, points: Points | None = None) -> FloatArray:
        """Residuals of every equation, each over the standard deviation that the meters explain.

        Parameters
        ----------
        draws : ndarray, shape (n, p)
            Parameter sets.
        points : Points, optional
            Other rows than the log's own.

        Returns
        -------
        ndarray, shape (n, r)
            The voltage equation of every row, then the torque equation of the rows whose torque is known.

        Notes
        -----
        Both misfits vanish for true readings. The Cholesky factor of their 2 × 2 covariance in each row makes the two residuals
        independent. With every reading in error and the weights moving along with the parameters this is total least squares
        (Deming; York 1966, from memory), free of the bias that taking current or speed as exact would bring.
        """
        rows = points or self.points
        g1, g2, s11, s22, s12 = self.misfits(draws, rows)
        root = np.sqrt(s11)
        first, shared = g1 / root, s12 / root
        second = (g2 - shared * first) / np.sqrt(s22 - shared * shared)
        return np.concatenate([first, second[:, rows.balanced]], axis=1)


def magnet_coefficient(magnet: str) -> float:
    """Temperature coefficient of a magnet material. [1/K]"""
    return FERRITE_PER_K if magnet == "ferrite" else NEODYMIUM_PER_K
