"""Steady answers for many motors in one vehicle: what draws of a tested motor's numbers mean on the road."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ridesim.day import SURFACES
from ridesim.physics.balance import grip_force
from ridesim.physics.compiled import compiled
from ridesim.physics.road import GRAVITY, grade_force, rolling_force
from ridesim.ride.core.records import Machine
from ridesim.ride.grip import Axles, axle_shares
from ridesim.ride.machine import machine, machines_of
from ridesim.ride.steady.pull import KMH, STILL_AIR_C, pull_at, pulls_of, resistances, top_speed_of
from ridesim.vehicle import Build, Motor
from ridesim.vehicle.motor_heat import motor_numbers

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
        numbers = motor_numbers(motor)
        return cls(*(np.array([numbers[name]]) for name in cls._fields))

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
    mass : float
        Of the vehicle with its rider. [kg]
    """

    numbers: Machine
    mass: float

    @classmethod
    def of(cls, build: Build) -> MotorCarrier:
        """Of a validated build."""
        return cls(machine(build), build.total_mass_kg())

    def top_speed_kmh(self, motors: Motors) -> FloatArray:
        """Top speed with each of the motors, as :func:`ridesim.top_speed_kmh`; shape (n,). [km/h]"""
        records = self._records(motors)
        return np.asarray(_top_speeds(records, np.full(len(records), self.mass), np.ones(len(records)), 0.0) / KMH)

    def pull_n(self, motors: Motors, speeds_kmh: FloatArray) -> FloatArray:
        """Largest pull at the wheel with each of the motors at each road speed, 0 or more; shape (n, k). [N]"""
        return np.maximum(0.0, pulls_of(self._records(motors), KMH * speeds_kmh, 1.0)[0])

    def standing_pull_n(self, motors: Motors) -> FloatArray:
        """Largest pull at the wheel at standstill with each of the motors; shape (n,). [N]"""
        return np.asarray(self.pull_n(motors, np.zeros(1))[:, 0])

    def motor_current_a(self, motor: Motors, speed_kmh: float) -> float:
        """Current of one motor at its largest pull at a road speed. [A]"""
        return float(pull_at(KMH * speed_kmh, 1.0, STILL_AIR_C, STILL_AIR_C, self._records(motor)[0])[1])

    def level_resistance_n(self, speeds_kmh: FloatArray) -> FloatArray:
        """What level asphalt takes at each road speed. [N]"""
        return resistances(KMH * speeds_kmh, self.mass, 0.0, self.numbers)

    def _records(self, motors: Motors) -> Any:
        """The core's record once for each motor."""
        records = np.repeat(np.array([self.numbers]), len(motors.brush))
        for name, column in motors._asdict().items():
            records[name] = column
        return records


@dataclass(frozen=True, eq=False)
class Steady:
    """Several builds' steady answers: blocks at 25 °C, motor and air at 20 °C, rider aboard or not; one value a build."""

    machines: Any
    aboard_kg: FloatArray
    alone_kg: FloatArray
    axles: tuple[list[Axles], list[Axles]]  # rider aboard, and not

    @classmethod
    def of(cls, builds: Sequence[Build]) -> Steady:
        """Of validated builds."""
        with_rider, without = (np.array([each.total_mass_kg(aboard) for each in builds]) for aboard in (True, False))
        axles = [axle_shares(each) for each in builds], [axle_shares(each, False) for each in builds]
        return cls(machines_of(builds), with_rider, without, axles)

    def geared(self, ratios: FloatArray) -> Steady:
        """One build with each of several ratios in the place of its own."""
        machines = np.repeat(self.machines[:1], len(ratios))
        machines["ratio"] = ratios
        with_rider, without = (np.repeat(mass[:1], len(ratios)) for mass in (self.aboard_kg, self.alone_kg))
        aboard, alone = (axles[:1] * len(ratios) for axles in self.axles)
        return Steady(machines, with_rider, without, (aboard, alone))

    def top_speeds_kmh(self, charge: FloatArray | float = 1.0, grade_percent: float = 0.0) -> FloatArray:
        """As :func:`ridesim.top_speed_kmh`."""
        charges = np.broadcast_to(charge, len(self.machines))
        return np.asarray(_top_speeds(self.machines, self.aboard_kg, charges, grade_percent / 100.0) / KMH)

    def pull_to_start(self, grade_percent: float, aboard: bool = True, surface: str = "asphalt") -> FloatArray:
        """Pull at standstill over what a slope takes, 1 where it just starts; as :func:`ridesim.steepest_start_percent`."""
        m, mass = self.machines, self.aboard_kg if aboard else self.alone_kg
        grade, breakaway = grade_percent / 100.0, m["rolling"] * m["breakaway"] * SURFACES[surface]
        rolling = np.array([rolling_force(kg, grade, c) for kg, c in zip(mass, breakaway, strict=True)])
        needed = np.array([grade_force(kg, grade) for kg in mass]) + rolling
        friction, axles = m["grip"][:, list(SURFACES).index(surface)], self.axles[0 if aboard else 1]
        load = mass * GRAVITY / math.hypot(1.0, grade)
        held = [grip_force(mu, *axle, *on) for mu, axle, *on in zip(friction, axles, load, rolling, strict=True)]
        pulls = np.minimum(pulls_of(m, np.zeros(1), 1.0)[0][:, 0], held)
        return np.where(needed > 0.0, pulls / np.where(needed > 0.0, needed, 1.0), np.inf)


@compiled
def _top_speeds(machines: Any, masses: FloatArray, charges: FloatArray, grade: float) -> FloatArray:
    """Top speed of each at its state of charge on a slope. [m/s]"""
    return np.array([top_speed_of(machines[i], masses[i], charges[i], grade) for i in range(len(machines))])
