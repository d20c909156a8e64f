"""Top speed, steepest start, steepest steady climb, and time to a speed, at sea level with the lights off."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ridesim.day import SURFACES, need_surface
from ridesim.physics.compiled import compiled
from ridesim.physics.controller import soft_start_share
from ridesim.physics.motor import drag_torque, warm_resistance
from ridesim.physics.road import (
    GRAVITY,
    air_density,
    air_force,
    effective_mass,
    grade_force,
    rolling_force,
)
from ridesim.ride.core.records import Machine
from ridesim.ride.given import AnyBuild, given_build
from ridesim.ride.grip import steepest_grip_percent
from ridesim.ride.machine import machine
from ridesim.ride.steady.pull import (
    KMH,
    STILL_AIR_C,
    need_arguments,
    pull_at,
    pull_with,
    pulls_of,
    resistance_at,
    resistances,
    top_speed_of,
)

POINTS = 2001
"""Speeds at which the pull is looked up for the time to a speed."""
RAMP_STEPS = 1000
"""Steps of a soft start's ramp."""


def top_speed_kmh(
    build: AnyBuild, state_of_charge: float = 1.0, grade_percent: float = 0.0, aboard: bool = True
) -> float:
    """Speed at which the largest pull meets the resistance.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
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

    Raises
    ------
    InputProblem
        An argument that no vehicle meets.

    Examples
    --------
    >>> from ridesim import load_build, top_speed_kmh
    >>> round(top_speed_kmh(load_build("heron_36v")), 1)
    24.2
    """
    build = given_build(build)
    need_arguments(state_of_charge=state_of_charge, grade_percent=grade_percent)
    return top_speed_of(machine(build), build.total_mass_kg(aboard), state_of_charge, grade_percent / 100.0) / KMH


def steepest_start_percent(
    build: AnyBuild, state_of_charge: float = 1.0, aboard: bool = True, surface: str = "asphalt"
) -> float:
    """Steepest slope on which it starts: pull at standstill, or grip, against grade and breakaway rolling resistance.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    state_of_charge : float
        0 to 1.
    aboard : bool
        Whether the rider is aboard.
    surface : str
        As in a route.

    Returns
    -------
    float
        Slope [%]; negative where it does not even start on level ground.

    Raises
    ------
    InputProblem
        An argument that no vehicle meets.

    Notes
    -----
    F = m g (sinθ + c cosθ) with c the breakaway rolling coefficient. Grip counts where the axle loads are known; tipping is another limit.

    Examples
    --------
    >>> from ridesim import load_build, steepest_start_percent
    >>> round(steepest_start_percent(load_build("heron_36v")), 1)
    13.4
    """
    build = given_build(build)
    need_arguments(state_of_charge=state_of_charge)
    need_surface("the start", surface)
    m = machine(build)
    pull = pull_at(0.0, state_of_charge, STILL_AIR_C, STILL_AIR_C, m)[0]
    rolling = m.rolling * m.breakaway * SURFACES[surface]
    by_pull = _slope_for(pull / (build.total_mass_kg(aboard) * GRAVITY), rolling)
    return min(by_pull, steepest_grip_percent(build, surface, aboard))


def _slope_for(pull_over_weight: float, coefficient: float) -> float:
    """Slope [%] on which sinθ + c cosθ equals a pull over weight; up to 1000 %, nearly vertical."""
    ratio = pull_over_weight / math.hypot(1.0, coefficient)
    angle = math.asin(min(1.0, max(-1.0, ratio))) - math.atan(coefficient)
    return 100.0 * math.tan(min(angle, math.atan(10.0)))


def steepest_steady_percent(build: AnyBuild, speed_kmh: float = 6.0, aboard: bool = True) -> float:
    """Steepest slope it can climb for hours at a speed with the winding within its class, air at 20 °C.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    speed_kmh : float
        Road speed. [km/h]
    aboard : bool
        Whether the rider is aboard.

    Returns
    -------
    float
        Slope. [%]

    Raises
    ------
    InputProblem
        An argument that no vehicle meets.

    Notes
    -----
    At equilibrium T_w = T_amb + R_ca (P_cu + P_fr) + R_wc P_cu; the copper loss that brings the winding to its limit
    gives the current, the current the pull, unless the controller gives less.

    Examples
    --------
    >>> from ridesim import load_build, steepest_steady_percent
    >>> round(steepest_steady_percent(load_build("heron_36v")), 1)
    2.3
    """
    build = given_build(build)
    need_arguments(speed_kmh=speed_kmh)
    m = machine(build)
    speed = speed_kmh * KMH
    omega = speed * m.ratio / m.radius
    friction = omega * drag_torque(omega, m.friction, m.viscous)
    copper = (m.winding_limit - STILL_AIR_C - m.case_to_air * friction) / (m.case_to_air + m.winding_to_case)
    case = m.winding_limit - m.winding_to_case * copper
    hot = warm_resistance(m.resistance, m.winding_limit)
    current = max(0.0, (-m.brush + math.sqrt(max(0.0, m.brush**2 + 4.0 * hot * copper))) / (2.0 * hot))
    available, most, _ = pull_at(speed, 1.0, m.winding_limit, case, m)
    pull = min(available, pull_with(current, speed, case, m)) if current < most else available
    pull -= air_force(air_density(0.0, STILL_AIR_C), m.drag_area, speed, 0.0)
    return _slope_for(pull / (build.total_mass_kg(aboard) * GRAVITY), m.rolling)


@dataclass(frozen=True, slots=True)
class Start:
    """Time [s] and distance [m] to a speed; infinite where it is never reached."""

    time_s: float
    distance_m: float


def time_to_speed(build: AnyBuild, speed_kmh: float, grade_percent: float = 0.0, state_of_charge: float = 1.0) -> Start:
    """Time and distance from standstill to a speed at the largest pull, the rider's gentleness left out.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    speed_kmh : float
        [km/h]
    grade_percent : float
        Slope, uphill positive. [%]
    state_of_charge : float
        0 to 1.

    Returns
    -------
    Start
        Time and distance.

    Raises
    ------
    InputProblem
        An argument that no vehicle meets.

    Notes
    -----
    t = ∫ m_e/(F - R) dv and x = ∫ v m_e/(F - R) dv, Simpson's rule on 2000 intervals. With a soft start the pull hangs on
    the time too: m_e dv/dt = F(v, t) - R while the ramp lasts, in steps of a thousandth of it, then as before.

    Examples
    --------
    >>> from ridesim import load_build, time_to_speed
    >>> start = time_to_speed(load_build("heron_36v"), 15.0)
    >>> print(f"{start.time_s:.1f} s, {start.distance_m:.0f} m")
    3.8 s, 9 m
    """
    build = given_build(build)
    from scipy.integrate import simpson

    need_arguments(speed_kmh=speed_kmh, grade_percent=grade_percent, state_of_charge=state_of_charge)
    m, wanted = machine(build), speed_kmh * KMH
    mass, grade = build.total_mass_kg(), grade_percent / 100.0
    heavy = effective_mass(mass, m.wheel_inertia, m.radius, m.rotor_inertia, m.ratio)
    breakaway = rolling_force(mass, grade, m.rolling * m.breakaway) + grade_force(mass, grade)
    speeds = np.linspace(0.0, wanted, POINTS)
    pulls = pulls_of(np.array([m]), speeds, state_of_charge)[0][0]
    surplus = pulls - resistances(speeds, mass, grade, m)
    if pulls[0] <= breakaway or surplus.min() <= 0.0:
        return Start(math.inf, math.inf)
    speed, time, distance = _soft_start(wanted, state_of_charge, mass, heavy, grade, m)
    if speed >= wanted:
        return Start(time, distance)
    if speed > 0.0:
        later = np.linspace(speed, wanted, POINTS)
        speeds, surplus = later, np.interp(later, speeds, surplus)
    inverse = heavy / surplus
    return Start(time + float(simpson(inverse, x=speeds)), distance + float(simpson(inverse * speeds, x=speeds)))


@compiled
def _soft_start(
    wanted: float, z: float, mass: float, heavy: float, grade: float, m: Machine
) -> tuple[float, float, float]:
    """Speed [m/s], time [s] and distance [m] at the end of a soft start's ramp, or where the wanted speed comes first.

    Midpoint rule; the brake holds until the vehicle pulls away. Without a ramp nothing of it happens.
    """
    h, speed, distance = m.ramp / RAMP_STEPS, 0.0, 0.0
    if h == 0.0:
        return 0.0, 0.0, 0.0
    for i in range(RAMP_STEPS):
        first = _ramped(i * h, speed, z, mass, heavy, grade, m)
        gained = h * _ramped((i + 0.5) * h, speed + 0.5 * h * first, z, mass, heavy, grade, m)
        if speed + gained >= wanted:
            share = (wanted - speed) / gained
            return wanted, (i + share) * h, distance + share * h * 0.5 * (speed + wanted)
        distance += h * (speed + 0.5 * gained)
        speed += gained
    return speed, m.ramp, distance


@compiled
def _ramped(time: float, speed: float, z: float, mass: float, heavy: float, grade: float, m: Machine) -> float:
    """Acceleration during a soft start. [m/s²]"""
    most = pull_at(speed, z, STILL_AIR_C, STILL_AIR_C, m)[1]
    pull = pull_with(soft_start_share(time, m.ramp) * most, speed, STILL_AIR_C, m)
    resisting = resistance_at(speed, mass, grade, m)
    if speed <= 0.0:
        resisting += rolling_force(mass, grade, m.rolling * (m.breakaway - 1.0))
    return max(0.0, pull - resisting) / heavy
