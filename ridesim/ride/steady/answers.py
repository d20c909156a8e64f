"""Steady answers without a day: pull curve, top speed, steepest start, steady climb, time to a speed, steady range.

Motor and air at 20 °C, pack at 25 °C, sea level, lights off, polarisation settled (V_pol = R_1 I_b).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ridesim.physics.compiled import compiled
from ridesim.physics.controller import (
    LIMIT_NAMES,
    largest_current,
    motor_power,
    pack_current_for_power,
    soft_start_share,
)
from ridesim.physics.drive import shaft_torque, wheel_force
from ridesim.physics.motor import current_for_torque, drag_torque, torque_constant, warm_constant, warm_resistance
from ridesim.physics.pack import open_circuit, resistance_factor
from ridesim.physics.road import (
    GRAVITY,
    air_density,
    air_force,
    effective_mass,
    grade_force,
    rolling_force,
    slope_cosine,
    slope_sine,
)
from ridesim.ride.core.pack import charge_rates, charges_at, state_of_charge
from ridesim.ride.core.records import Machine
from ridesim.ride.machine import machine
from ridesim.vehicle import Build

if TYPE_CHECKING:
    import pandas as pd

FloatArray = NDArray[np.float64]

STILL_AIR_C = 20.0
KMH = 1.0 / 3.6
FASTEST_MPS = 100.0
"""Where the search for a top speed gives up; a series-wound motor without load has none. [m/s]"""


@compiled
def _inner(z: float, m: Machine) -> float:
    """Settled resistance of the pack: ohmic part at this state of charge and the slow part. [ohm]"""
    return m.pack.resistance * resistance_factor(z, m.pack.resistance_rise) + m.pack.polarisation_resistance


@compiled
def pull_at(speed: float, z: float, winding: float, case: float, m: Machine) -> tuple[float, float, int]:
    """Largest pull at the wheel at a steady state.

    Parameters
    ----------
    speed : float
        Road speed. [m/s]
    z : float
        State of charge.
    winding, case : float
        Motor temperatures. [°C]
    m : Machine
        The build's numbers.

    Returns
    -------
    tuple
        Pull [N], motor current [A], and the limit that sets it (index of ``LIMIT_NAMES``).
    """
    omega = speed * m.ratio / m.radius
    inner = _inner(z, m)
    volts = open_circuit(z, m.pack.table_z, m.pack.table_v) - inner * m.standby
    constant = warm_constant(m.constant, m.magnet_per_k, case)
    path = warm_resistance(m.resistance, winding) + m.on_resistance
    current, limit = largest_current(
        volts, omega, constant, m.series, m.saturation, m.brush, path, inner, m.battery_limit, m.motor_limit, m.cutoff
    )
    torque = torque_constant(current, constant, m.series, m.saturation) * current - drag_torque(
        omega, m.friction, m.viscous
    )
    if torque < 0.0 and m.freewheel == 1:
        current, torque = 0.0, 0.0
    return wheel_force(torque, m.ratio, m.radius, m.efficiency), current, limit


@compiled
def resistance_at(speed: float, mass: float, grade: float, density: float, m: Machine) -> float:
    """Rolling, grade and air resistance on asphalt in still air. [N]"""
    return (
        rolling_force(mass, grade, m.rolling) + grade_force(mass, grade) + air_force(density, m.drag_area, speed, 0.0)
    )


@compiled
def currents_for(pull: float, speed: float, z: float, m: Machine) -> tuple[float, float, float]:
    """Motor current, pack current and pack voltage for a pull at a steady speed, motor at 20 °C. [A, A, V]"""
    omega = speed * m.ratio / m.radius
    inner = _inner(z, m)
    rested = open_circuit(z, m.pack.table_z, m.pack.table_v)
    torque = shaft_torque(pull, m.ratio, m.radius, m.efficiency) + drag_torque(omega, m.friction, m.viscous)
    if pull < 0.0 and m.freewheel == 1:
        torque = 0.0
    current = current_for_torque(torque, m.constant, m.series, m.saturation)
    power = motor_power(current, omega, m.constant, m.series, m.saturation, m.brush, m.resistance + m.on_resistance)
    pack = pack_current_for_power(power, rested - inner * m.standby, inner) + m.standby
    return current, pack, rested - inner * pack


@compiled
def _drain(speed: float, pull: float, m: Machine, charge_q: FloatArray, horizon: float) -> tuple[float, float, int]:
    """Hours and watt-hours until the reserve or until the pull falls short, and the limit then (-1: reserve).

    Fourth-order steps of the law's charges under the current that the steady pull takes.
    """
    p = m.pack
    q1, q2 = charge_q[0], charge_q[1]
    time, energy = 0.0, 0.0
    while time < horizon:
        z = state_of_charge(q1, q2, p)
        available, _, limit = pull_at(speed, z, STILL_AIR_C, STILL_AIR_C, m)
        if available < pull * (1.0 - 1e-12):
            return time / 3600.0, energy / 3600.0, limit
        _, i0, v0 = currents_for(pull, speed, z, m)
        dt = min(600.0, 0.001 * p.capacity * p.strings / i0)
        a1, a2 = charge_rates(q1, q2, i0 / p.strings, p)
        zb = state_of_charge(q1 + 0.5 * dt * a1, q2 + 0.5 * dt * a2, p)
        _, i1, v1 = currents_for(pull, speed, max(0.0, zb), m)
        b1, b2 = charge_rates(q1 + 0.5 * dt * a1, q2 + 0.5 * dt * a2, i1 / p.strings, p)
        c1, c2 = charge_rates(q1 + 0.5 * dt * b1, q2 + 0.5 * dt * b2, i1 / p.strings, p)
        ze = state_of_charge(q1 + dt * c1, q2 + dt * c2, p)
        _, i2, v2 = currents_for(pull, speed, max(0.0, ze), m)
        e1, e2 = charge_rates(q1 + dt * c1, q2 + dt * c2, i2 / p.strings, p)
        n1 = q1 + dt * (a1 + 2.0 * b1 + 2.0 * c1 + e1) / 6.0
        n2 = q2 + dt * (a2 + 2.0 * b2 + 2.0 * c2 + e2) / 6.0
        z_new = state_of_charge(n1, n2, p)
        power = (v0 * i0 + 4.0 * v1 * i1 + v2 * i2) / 6.0
        if z_new <= m.reserve:
            share = (z - m.reserve) / (z - z_new) if z > z_new else 0.0
            return (time + share * dt) / 3600.0, (energy + share * dt * power) / 3600.0, -1
        q1, q2, time, energy = n1, n2, time + dt, energy + dt * power
    return time / 3600.0, energy / 3600.0, -2


def pull_curve(build: Build, state_of_charge: float = 1.0, points: int = 200) -> pd.DataFrame:
    """Largest pull at the wheel against speed, with the limit that sets it.

    Parameters
    ----------
    build : Build
        A validated build.
    state_of_charge : float
        0 to 1.
    points : int
        Rows, evenly spaced from standstill to a little beyond the speed at which the pull ends.

    Returns
    -------
    DataFrame
        ``speed_kmh``, ``pull_n``, ``limit`` (name of the limit).
    """
    import pandas as pd

    speeds, pulls, limits = pull_arrays(build, state_of_charge, points)
    return pd.DataFrame({"speed_kmh": speeds, "pull_n": pulls, "limit": [LIMIT_NAMES[i] for i in limits]})


def pull_arrays(
    build: Build, state_of_charge: float = 1.0, points: int = 200
) -> tuple[FloatArray, FloatArray, NDArray[np.int64]]:
    """As :func:`pull_curve`, as arrays: km/h, N, index of the limit."""
    numbers = machine(build)
    _check_charge(state_of_charge)
    end = _speed_without_pull(numbers, state_of_charge)
    return sample_pull(numbers, state_of_charge, end, points)


@compiled
def sample_pull(m: Machine, z: float, end: float, points: int) -> tuple[FloatArray, FloatArray, NDArray[np.int64]]:
    """Pull and limit at evenly spaced speeds up to ``end`` [m/s]; speeds returned in km/h."""
    speeds = np.linspace(0.0, end, points)
    pulls = np.empty(points)
    limits = np.empty(points, dtype=np.int64)
    for i in range(points):
        pulls[i], _, limits[i] = pull_at(speeds[i], z, STILL_AIR_C, STILL_AIR_C, m)
    return speeds * 3.6, pulls, limits


def _speed_without_pull(numbers: Machine, z: float) -> float:
    """Speed at which the pull has fallen to nothing; capped where it never does. [m/s]"""

    def pull(speed: float) -> float:
        return pull_at(speed, z, STILL_AIR_C, STILL_AIR_C, numbers)[0]

    return falling_root(pull)


def falling_root(function: object) -> float:
    """Root of a falling function of speed; 0 where it starts below zero, the cap where it never ends."""
    from scipy.optimize import brentq

    assert callable(function)
    if function(0.0) <= 0.0:
        return 0.0
    above = 5.0
    while function(above) > 0.0:
        above *= 2.0
        if above > FASTEST_MPS:
            return FASTEST_MPS
    return float(brentq(function, 0.0, above, xtol=1e-9))


def _check_charge(z: float) -> None:
    if not 0.0 <= z <= 1.0:
        raise ValueError(f"state_of_charge must be from 0 to 1, got {z}")


def top_speed_kmh(build: Build, state_of_charge: float = 1.0, grade_percent: float = 0.0, aboard: bool = True) -> float:
    """Speed at which the largest pull meets the resistance.

    Parameters
    ----------
    build : Build
        A validated build.
    state_of_charge : float
        0 to 1.
    grade_percent : float
        Slope, uphill positive. [%]
    aboard : bool
        Whether the rider is aboard.

    Returns
    -------
    float
        km/h; 0 where it cannot move; 360 where no load ever holds it back.
    """
    numbers = machine(build)
    _check_charge(state_of_charge)
    mass, grade, density = build.total_mass_kg(aboard), grade_percent / 100.0, air_density(0.0, STILL_AIR_C)

    def surplus(speed: float) -> float:
        pull = pull_at(speed, state_of_charge, STILL_AIR_C, STILL_AIR_C, numbers)[0]
        return pull - resistance_at(speed, mass, grade, density, numbers)

    return falling_root(surplus) / KMH


def steepest_start_percent(
    build: Build, state_of_charge: float = 1.0, aboard: bool = True, surface_factor: float = 1.0
) -> float:
    """Steepest slope on which it starts: pull at standstill against grade and breakaway rolling resistance.

    ``surface_factor`` multiplies the rolling coefficient; 1 is asphalt.

    Returns
    -------
    float
        Slope [%]; negative where it does not even start on level ground.

    Notes
    -----
    F = m g (sinθ + c cosθ) with c the breakaway rolling coefficient; grip and tipping are other limits.
    """
    numbers = machine(build)
    _check_charge(state_of_charge)
    pull = pull_at(0.0, state_of_charge, STILL_AIR_C, STILL_AIR_C, numbers)[0]
    return _slope_for(
        pull / (build.total_mass_kg(aboard) * GRAVITY), numbers.rolling * numbers.breakaway * surface_factor
    )


def _slope_for(pull_over_weight: float, coefficient: float) -> float:
    """Slope [%] on which sinθ + c cosθ equals a pull over weight; up to 1000 %, nearly vertical."""
    ratio = pull_over_weight / math.hypot(1.0, coefficient)
    angle = math.asin(min(1.0, max(-1.0, ratio))) - math.atan(coefficient)
    return 100.0 * math.tan(min(angle, math.atan(10.0)))


def steepest_steady_percent(build: Build, speed_kmh: float = 6.0, aboard: bool = True) -> float:
    """Steepest slope it can climb for hours at a speed with the winding within its class, air at 20 °C.

    Notes
    -----
    At equilibrium T_w = T_amb + R_ca (P_cu + P_fr) + R_wc P_cu; the copper loss that brings the winding to its limit
    gives the current, the current the pull, unless the controller gives less.
    """
    m = machine(build)
    speed = speed_kmh * KMH
    omega = speed * m.ratio / m.radius
    drag = drag_torque(omega, m.friction, m.viscous)
    copper = (m.winding_limit - STILL_AIR_C - m.case_to_air * drag * omega) / (m.case_to_air + m.winding_to_case)
    case = m.winding_limit - m.winding_to_case * copper
    hot = warm_resistance(m.resistance, m.winding_limit)
    current = max(0.0, (-m.brush + math.sqrt(max(0.0, m.brush**2 + 4.0 * hot * copper))) / (2.0 * hot))
    constant = warm_constant(m.constant, m.magnet_per_k, case)
    torque = torque_constant(current, constant, m.series, m.saturation) * current - drag
    available, most, _ = pull_at(speed, 1.0, m.winding_limit, case, m)
    pull = min(available, wheel_force(torque, m.ratio, m.radius, m.efficiency)) if current < most else available
    mass = build.total_mass_kg(aboard)
    pull -= air_force(air_density(0.0, STILL_AIR_C), m.drag_area, speed, 0.0)
    return _slope_for(pull / (mass * GRAVITY), m.rolling)


@dataclass(frozen=True, slots=True)
class Start:
    """Time [s] and distance [m] to a speed; infinite where it is never reached."""

    time_s: float
    distance_m: float


def time_to_speed(build: Build, speed_kmh: float, grade_percent: float = 0.0, state_of_charge: float = 1.0) -> Start:
    """Time and distance from standstill to a speed at the largest pull, the rider's gentleness left out.

    Notes
    -----
    t = ∫ m_e/(F - R) dv and x = ∫ v m_e/(F - R) dv, Simpson's rule on 2000 intervals. With a soft start the pull hangs on
    the time too: m_e dv/dt = F(v, t) - R while the ramp lasts, in steps of a thousandth of it, then as before.
    """
    from scipy.integrate import simpson

    numbers = machine(build)
    m = numbers
    mass, grade, density = build.total_mass_kg(), grade_percent / 100.0, air_density(0.0, STILL_AIR_C)
    start = numbers.breakaway * numbers.rolling * slope_cosine(grade) + slope_sine(grade)
    if pull_at(0.0, state_of_charge, STILL_AIR_C, STILL_AIR_C, m)[0] <= mass * GRAVITY * start:
        return Start(math.inf, math.inf)
    speeds = np.linspace(0.0, speed_kmh * KMH, 2001)
    surplus = np.array([
        pull_at(v, state_of_charge, STILL_AIR_C, STILL_AIR_C, m)[0] - resistance_at(v, mass, grade, density, m) for v in speeds
    ])  # fmt: skip
    if surplus.min() <= 0.0:
        return Start(math.inf, math.inf)
    turning = (numbers.wheel_inertia, numbers.radius, numbers.rotor_inertia, numbers.ratio)
    heavy = effective_mass(mass, *turning)
    begun = Start(0.0, 0.0)
    if numbers.ramp > 0.0:
        speed, begun = _soft_start(float(speeds[-1]), state_of_charge, mass, heavy, grade, density, numbers)
        if speed >= speeds[-1]:
            return begun
        speeds, surplus = _from(speed, speeds, surplus)
    inverse = heavy / surplus
    return Start(
        begun.time_s + float(simpson(inverse, x=speeds)), begun.distance_m + float(simpson(inverse * speeds, x=speeds))
    )


def _from(speed: float, speeds: FloatArray, surplus: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The same table from a speed on."""
    later = np.linspace(speed, speeds[-1], len(speeds))
    return later, np.interp(later, speeds, surplus)


def _soft_start(
    wanted: float, z: float, mass: float, heavy: float, grade: float, density: float, m: Machine
) -> tuple[float, Start]:
    """Speed, time and distance at the end of a soft start, or where the wanted speed comes first; the brake holds till it pulls."""

    core = m

    def rate(time: float, speed: float) -> float:
        share = soft_start_share(time, m.ramp)
        omega = speed * m.ratio / m.radius
        current = share * pull_at(speed, z, STILL_AIR_C, STILL_AIR_C, core)[1]
        torque = torque_constant(current, m.constant, m.series, m.saturation) * current
        torque -= drag_torque(omega, m.friction, m.viscous)
        pull = wheel_force(torque, m.ratio, m.radius, m.efficiency) if torque > 0.0 or m.freewheel == 0 else 0.0
        raised = m.rolling * m.breakaway if speed <= 0.0 else m.rolling
        against = rolling_force(mass, grade, raised) + grade_force(mass, grade)
        return max(0.0, pull - against - air_force(density, m.drag_area, speed, 0.0)) / heavy

    steps = 1000
    h, speed, distance = m.ramp / steps, 0.0, 0.0
    for i in range(steps):
        first = rate(i * h, speed)
        middle = rate((i + 0.5) * h, speed + 0.5 * h * first)
        gained = h * middle
        if speed + gained >= wanted:
            share = (wanted - speed) / gained
            return wanted, Start((i + share) * h, distance + share * h * 0.5 * (speed + wanted))
        distance += h * (speed + 0.5 * gained)
        speed += gained
    return speed, Start(m.ramp, distance)


@dataclass(frozen=True, slots=True)
class SteadyRange:
    """How far and how long at a steady speed on the level.

    Attributes
    ----------
    distance_km, hours, energy_wh : float
        Until the reserve or until the pack can no longer hold the speed.
    ended_by : str
        ``"reserve"``, the name of the limit, or ``"cannot hold the speed"``.
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


def steady_range(
    build: Build, speed_kmh: float, battery_model: str | None = None, state_of_charge: float = 1.0
) -> SteadyRange:
    """Range and run time at a steady speed on level asphalt, from full to the reserve or the cut-off.

    Parameters
    ----------
    build : Build
        A validated build.
    speed_kmh : float
        Above 0. [km/h]
    battery_model : str, optional
        Capacity law, as in :func:`ridesim.simulate`.
    state_of_charge : float
        At the start.
    """
    if not speed_kmh > 0.0:
        raise ValueError(f"speed_kmh must be above 0, got {speed_kmh}")
    _check_charge(state_of_charge)
    m = machine(build, battery_model=battery_model)
    speed = speed_kmh * KMH
    pull = resistance_at(speed, build.total_mass_kg(), 0.0, air_density(0.0, STILL_AIR_C), m)
    hours, energy, limit = _drain(speed, pull, m, np.array(charges_at(state_of_charge, m.pack)), 1e7)
    ended = "cannot hold the speed" if hours == 0.0 else "reserve" if limit < 0 else LIMIT_NAMES[limit]
    power = energy / hours if hours > 0.0 else math.nan
    plain = build.pack.nominal_voltage_v * build.pack.capacity_ah / power if hours > 0.0 else 0.0
    return SteadyRange(hours * speed_kmh, hours, energy, ended, power, plain)
