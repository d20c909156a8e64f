"""How far and how long at a steady speed on the level."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from ridesim.physics.compiled import compiled
from ridesim.physics.controller import LIMIT_NAMES
from ridesim.physics.pack import REFERENCE_C
from ridesim.physics.road import air_density, air_force, rolling_force
from ridesim.ride.core.pack import charges_at, state_of_charge
from ridesim.ride.core.records import Machine
from ridesim.ride.given import AnyBuild, AnyDay, given_build, given_day
from ridesim.ride.machine import machine
from ridesim.ride.pack.block import charges_after
from ridesim.ride.steady.pull import KMH, STILL_AIR_C, currents_from, need_arguments, pull_from
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
        What volts × ampere-hours over watts promises, down to the same reserve.
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
def _drain(
    speed: float, pull: float, motor_c: float, left: float, missing: float, m: Machine
) -> tuple[float, float, int]:
    """Hours and watt-hours until the reserve or until the pull falls short, and the limit then.

    Midpoint rule: the current of a step's middle, under which the charge follows in closed form.
    """
    p = m.pack
    time, energy, filtered = 0.0, 0.0, 0.0
    z = state_of_charge(left, missing, filtered, p)
    while time < LONGEST_S:
        available, _, limit = pull_from(speed, z, missing, motor_c, motor_c, m)
        if available < pull * (1.0 - 1e-12):
            return time / 3600.0, energy / 3600.0, limit
        _, amps, _ = currents_from(pull, speed, z, missing, motor_c, m)
        dt = min(600.0, 0.001 * p.capacity * p.strings / amps)
        half = charges_after(left, missing, filtered, amps / p.strings, 0.5 * dt, p)
        middle = max(0.0, state_of_charge(half[0], half[1], half[2], p))
        _, amps, volts = currents_from(pull, speed, middle, half[1], motor_c, m)
        left, missing, filtered = charges_after(left, missing, filtered, amps / p.strings, dt, p)
        before, z = z, state_of_charge(left, missing, filtered, p)
        if z <= m.reserve:
            share = (before - m.reserve) / (before - z) if before > z else 0.0
            return (time + share * dt) / 3600.0, (energy + share * dt * amps * volts) / 3600.0, RESERVE
        time, energy = time + dt, energy + dt * amps * volts
    return time / 3600.0, energy / 3600.0, LONGEST


@compiled
def drained_km(first: int, last: int, speeds: Any, pulls: Any, air_c: Any, machines: Any, found: Any) -> None:
    """Range of each of several builds at its steady speed [m/s] against its pull [N], from full. [km]"""
    for i in range(first, last):
        if speeds[i] == 0.0:
            continue
        left, missing, _ = charges_at(1.0)
        hours, _, _ = _drain(speeds[i], pulls[i], air_c[i], left, missing, machines[i])
        found[i] = 3.6 * speeds[i] * hours


def steady_range(
    build: AnyBuild,
    speed_kmh: float,
    day: AnyDay | None = None,
    battery_model: str | None = None,
    state_of_charge: float = 1.0,
) -> SteadyRange:
    """Range and run time at a steady speed on level asphalt, down to the reserve or until the speed cannot be held.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    speed_kmh : float
        Above 0. [km/h]
    day : Day, str or Path, optional
        Whose air, altitude and headwind count, for the pack and the motor too; None: 20 °C, sea level, no wind, pack at 25 °C.
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
    24 km in 1.6 h, ended by reserve
    """
    build = given_build(build)
    need_number("the steady range", "speed_kmh", speed_kmh, 0.0, 1e3, "km/h", above=True)
    need_arguments(state_of_charge=state_of_charge)
    speed, air_c, density, headwind = speed_kmh * KMH, STILL_AIR_C, air_density(0.0, STILL_AIR_C), 0.0
    pack_c = REFERENCE_C
    if day is not None:
        day = given_day(day)
        air_c = pack_c = day.ambient_c
        density, headwind = air_density(day.altitude_m, air_c), day.headwind_mps
    m = machine(build, pack_c, battery_model)
    pull = rolling_force(build.total_mass_kg(), 0.0, m.rolling) + air_force(density, m.drag_area, speed, headwind)
    left, missing, _ = charges_at(state_of_charge)
    hours, energy, limit = _drain(speed, pull, air_c, left, missing, m)
    if hours == 0.0:
        return SteadyRange(0.0, 0.0, 0.0, "cannot hold the speed", math.nan, 0.0)
    power = energy / hours
    label_wh = build.pack.nominal_voltage_v * build.pack.capacity_ah * max(0.0, state_of_charge - build.pack.reserve)
    plain = label_wh / power if power > 0.0 else math.inf
    ends = {RESERVE: "reserve", LONGEST: f"nothing within {LONGEST_S / 86_400.0:.0f} days"}
    return SteadyRange(hours * speed_kmh, hours, energy, ends.get(limit) or LIMIT_NAMES[limit], power, plain)
