"""How far and how long at a steady speed on the level."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ridesim.physics.compiled import compiled
from ridesim.physics.controller import LIMIT_NAMES
from ridesim.ride.core.pack import charge_rates, charges_at, state_of_charge
from ridesim.ride.core.records import Machine
from ridesim.ride.given import AnyBuild, given_build
from ridesim.ride.machine import machine
from ridesim.ride.steady.pull import KMH, STILL_AIR_C, currents_for, need_arguments, pull_at, resistance_at
from ridesim.words import need_number

RESERVE, LONGEST = -1, -2
"""In place of a limit: the reserve ended it, or nothing did within LONGEST_S."""
LONGEST_S = 1e7
"""Four months: a vehicle without any resistance would roll on for ever. [s]"""


@dataclass(frozen=True, slots=True)
class SteadyRange:
    """How far and how long at a steady speed on the level.

    Attributes
    ----------
    distance_km, hours, energy_wh : float
        Until the reserve or until the pack can no longer hold the speed.
    ended_by : str
        ``"reserve"``, the name of the limit, ``"cannot hold the speed"``, or ``"nothing within 116 days"``.
    power_w : float
        Mean power at the pack's terminals.
    plain_hours : float
        What volts × ampere-hours over watts promises.
    """

    distance_km: float
    hours: float
    energy_wh: float
    ended_by: str
    power_w: float
    plain_hours: float

    @property
    def plain_km(self) -> float:
        """Distance that the plain estimate promises. [km]"""
        return self.plain_hours * self.distance_km / self.hours if self.hours > 0.0 else 0.0

    def __float__(self) -> float:
        return self.distance_km


@compiled
def _current_at(q1: float, q2: float, speed: float, pull: float, m: Machine) -> tuple[float, float]:
    """Pack current [A] and power [W] at the law's two charges."""
    _, current, volts = currents_for(pull, speed, max(0.0, state_of_charge(q1, q2, m.pack)), m)
    return current, volts * current


@compiled
def _drain(speed: float, pull: float, q1: float, q2: float, m: Machine) -> tuple[float, float, int]:
    """Hours and watt-hours until the reserve or until the pull falls short, and the limit then.

    Fourth-order Runge-Kutta steps of the law's charges under the current that the steady pull takes.
    """
    p = m.pack
    time, energy = 0.0, 0.0
    while time < LONGEST_S:
        z = state_of_charge(q1, q2, p)
        available, _, limit = pull_at(speed, z, STILL_AIR_C, STILL_AIR_C, m)
        if available < pull * (1.0 - 1e-12):
            return time / 3600.0, energy / 3600.0, limit
        i0, power0 = _current_at(q1, q2, speed, pull, m)
        dt = min(600.0, 0.001 * p.capacity * p.strings / i0)
        a1, a2 = charge_rates(q1, q2, i0 / p.strings, p)
        i1, power1 = _current_at(q1 + 0.5 * dt * a1, q2 + 0.5 * dt * a2, speed, pull, m)
        b1, b2 = charge_rates(q1 + 0.5 * dt * a1, q2 + 0.5 * dt * a2, i1 / p.strings, p)
        c1, c2 = charge_rates(q1 + 0.5 * dt * b1, q2 + 0.5 * dt * b2, i1 / p.strings, p)
        i2, power2 = _current_at(q1 + dt * c1, q2 + dt * c2, speed, pull, m)
        e1, e2 = charge_rates(q1 + dt * c1, q2 + dt * c2, i2 / p.strings, p)
        q1 += dt * (a1 + 2.0 * b1 + 2.0 * c1 + e1) / 6.0
        q2 += dt * (a2 + 2.0 * b2 + 2.0 * c2 + e2) / 6.0
        power = (power0 + 4.0 * power1 + power2) / 6.0
        z_new = state_of_charge(q1, q2, p)
        if z_new <= m.reserve:
            share = (z - m.reserve) / (z - z_new) if z > z_new else 0.0
            return (time + share * dt) / 3600.0, (energy + share * dt * power) / 3600.0, RESERVE
        time, energy = time + dt, energy + dt * power
    return time / 3600.0, energy / 3600.0, LONGEST


def steady_range(
    build: AnyBuild, speed_kmh: float, battery_model: str | None = None, state_of_charge: float = 1.0
) -> SteadyRange:
    """Range and run time at a steady speed on level asphalt, down to the reserve or until the speed cannot be held.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    speed_kmh : float
        Above 0. [km/h]
    battery_model : str, optional
        Capacity law, as in :func:`ridesim.simulate`.
    state_of_charge : float
        At the start. [-]

    Returns
    -------
    SteadyRange
        ``float()`` of it is the distance in km.

    Raises
    ------
    InputProblem
        A speed that is not above 0, a state of charge outside 0 to 1, or as :func:`ridesim.simulate`.

    Examples
    --------
    >>> from ridesim import load_build, steady_range
    >>> far = steady_range(load_build("heron_36v"), 15.0)
    >>> print(f"{far.distance_km:.0f} km in {far.hours:.1f} h, ended by {far.ended_by}")
    23 km in 1.5 h, ended by reserve
    """
    build = given_build(build)
    need_number("the steady range", "speed_kmh", speed_kmh, 0.0, 1e3, "km/h", above=True)
    need_arguments(state_of_charge=state_of_charge)
    m = machine(build, battery_model=battery_model)
    speed = speed_kmh * KMH
    pull = resistance_at(speed, build.total_mass_kg(), 0.0, m)
    hours, energy, limit = _drain(speed, pull, *charges_at(state_of_charge, m.pack), m)
    if hours == 0.0:
        return SteadyRange(0.0, 0.0, 0.0, "cannot hold the speed", math.nan, 0.0)
    power = energy / hours
    plain = build.pack.nominal_voltage_v * build.pack.capacity_ah / power if power > 0.0 else math.inf
    ends = {RESERVE: "reserve", LONGEST: f"nothing within {LONGEST_S / 86_400.0:.0f} days"}
    return SteadyRange(hours * speed_kmh, hours, energy, ends.get(limit) or LIMIT_NAMES[limit], power, plain)
