"""Steady answers for many motors in one vehicle: what draws of a tested motor's numbers mean on the road."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ridesim.physics.compiled import compiled
from ridesim.physics.road import air_density
from ridesim.ride.core.records import Machine, changed
from ridesim.ride.machine import machine
from ridesim.ride.steady import FASTEST_MPS, KMH, STILL_AIR_C, pull_at, resistance_at
from ridesim.vehicle import Build, Motor

FloatArray = NDArray[np.float64]
_NO_DRAG_RAD_S = 1e5
"""Where the search for an unloaded speed ends: no shaft reaches it. [rad/s]"""


class Motors(NamedTuple):
    """Numbers of n brushed motors at 20 °C in SI, each of shape (n,), under the names that the core's record has.

    A permanent-magnet motor has ``series`` 0, a series-wound one ``constant`` 0.
    """

    constant: FloatArray
    series: FloatArray
    saturation: FloatArray
    resistance: FloatArray
    brush: FloatArray
    friction: FloatArray
    viscous: FloatArray

    @classmethod
    def of(cls, motor: Motor) -> Motors:
        """One motor's description."""
        series = motor.kind == "series-wound"
        numbers = (
            0.0 if series else motor.torque_constant_nm_per_a, motor.series_constant_nm_per_a2 if series else 0.0,
            motor.saturation_current_a if series else 1.0, motor.resistance_ohm, motor.brush_drop_v, motor.friction_torque_nm,
            motor.viscous_nm_per_rad_s,
        )  # fmt: skip
        return cls(*(np.array([number], dtype=float) for number in numbers))

    def constant_at(self, amps: FloatArray | float) -> FloatArray:
        """K(I) of each, :func:`ridesim.physics.motor.torque_constant` for arrays. [N m/A]"""
        return np.asarray(self.constant + self.series * amps / (1.0 + amps / self.saturation))

    def unloaded_speed(self, voltage: float) -> FloatArray:
        """Speed of the free shaft, held back by the motor's own drag alone.

        Parameters
        ----------
        voltage : float
            At the terminals. [V]

        Returns
        -------
        ndarray, shape (n,)
            0 where it does not turn, infinite above 1e5, which no shaft reaches. [rad/s]

        Notes
        -----
        V = K(I) ω + I R + V_br with K(I) I = τ_f + b ω: linear for a permanent-magnet motor, else by bisection, since both terms grow
        with ω.
        """
        if not self.series.any():
            by_drag = self.resistance / self.constant
            speed = (voltage - self.brush - by_drag * self.friction) / (self.constant + by_drag * self.viscous)
            return np.asarray(np.maximum(0.0, speed))

        def spare(omega: FloatArray) -> FloatArray:
            drag = self.friction + self.viscous * omega
            half = 0.5 * drag / (self.series * self.saturation)
            amps = half + np.sqrt(half * half + drag / self.series)  # K(I) I = drag
            return np.asarray(voltage - self.brush - amps * self.resistance - self.constant_at(amps) * omega)

        low, high = np.zeros_like(self.brush), np.full_like(self.brush, _NO_DRAG_RAD_S)
        endless = spare(high) > 0.0
        for _ in range(50):
            middle = 0.5 * (low + high)
            more = spare(middle) > 0.0
            low, high = np.where(more, middle, low), np.where(more, high, middle)
        return np.where(endless, np.inf, np.where(low > 0.0, 0.5 * (low + high), 0.0))


@dataclass(frozen=True, slots=True)
class MotorCarrier:
    """A build's numbers, into which other motors are put; rider aboard, sea level, 20 °C, level asphalt, pack full.

    Attributes
    ----------
    numbers : Machine
    mass, density : float
        Of the vehicle with its rider [kg]; of the air [kg/m³].
    """

    numbers: Machine
    mass: float
    density: float

    @classmethod
    def of(cls, build: Build) -> MotorCarrier:
        """Of a validated build."""
        return cls(machine(build), build.total_mass_kg(), air_density(0.0, STILL_AIR_C))

    def with_motor(self, motor: Motors) -> Machine:
        """The core's numbers with one other motor."""
        numbers: dict[str, Any] = {name: float(column[0]) for name, column in motor._asdict().items()}
        return changed(self.numbers, **numbers)

    def top_speed_kmh(self, motors: Motors) -> FloatArray:
        """Top speed with each of the motors, as :func:`ridesim.top_speed_kmh`; shape (n,). [km/h]"""
        return np.asarray(_top_speeds(self._records(motors), self.mass, self.density) / KMH)

    def pull_n(self, motors: Motors, speeds_kmh: FloatArray) -> FloatArray:
        """Largest pull at the wheel with each of the motors at each road speed, 0 or more; shape (n, k). [N]"""
        return np.asarray(_pulls(self._records(motors), KMH * speeds_kmh))

    def standing_pull_n(self, motors: Motors) -> FloatArray:
        """Largest pull at the wheel at standstill with each of the motors; shape (n,). [N]"""
        return np.asarray(self.pull_n(motors, np.zeros(1))[:, 0])

    def motor_current_a(self, motor: Motors, speed_kmh: float) -> float:
        """Current of one motor at its largest pull at a road speed. [A]"""
        return float(pull_at(KMH * speed_kmh, 1.0, STILL_AIR_C, STILL_AIR_C, self.with_motor(motor))[1])

    def level_resistance_n(self, speeds_kmh: FloatArray) -> FloatArray:
        """What level asphalt takes at each road speed. [N]"""
        return np.array(
            [resistance_at(KMH * speed, self.mass, 0.0, self.density, self.numbers) for speed in speeds_kmh]
        )

    def _records(self, motors: Motors) -> Any:
        """The core's record once for each motor; plain objects where the compiler is off."""
        rows = [dict(zip(motors._fields, row, strict=True)) for row in zip(*motors, strict=True)]
        if not isinstance(self.numbers, np.void):
            return [changed(self.numbers, **row) for row in rows]
        records = np.repeat(np.array([self.numbers]), len(rows))
        for name, column in motors._asdict().items():
            records[name] = column
        return records


@compiled
def _top_speeds(machines: Any, mass: float, density: float) -> FloatArray:
    """Speed at which the pull of each meets its resistance, by bisection; 0 where it does not start. [m/s]"""
    found = np.empty(len(machines))
    for i in range(len(machines)):
        m = machines[i]
        low, high = 0.0, FASTEST_MPS
        for _ in range(60):
            middle = 0.5 * (low + high)
            pull = pull_at(middle, 1.0, STILL_AIR_C, STILL_AIR_C, m)[0]
            if pull > resistance_at(middle, mass, 0.0, density, m):
                low = middle
            else:
                high = middle
        found[i] = low
    return found


@compiled
def _pulls(machines: Any, speeds: FloatArray) -> FloatArray:
    """Largest pull of each at each speed. [N]"""
    found = np.empty((len(machines), len(speeds)))
    for i in range(len(machines)):
        for j in range(len(speeds)):
            found[i, j] = max(0.0, pull_at(speeds[j], 1.0, STILL_AIR_C, STILL_AIR_C, machines[i])[0])
    return found
