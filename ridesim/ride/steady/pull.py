"""The pull at a steady moment, what it must overcome, and the currents it takes.

Polarisation is settled, the air is at 20 °C, and so is the motor where no temperature is given.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ridesim.physics.compiled import compiled
from ridesim.physics.controller import LIMIT_NAMES
from ridesim.physics.drive import shaft_torque, wheel_force
from ridesim.physics.motor import current_for_torque
from ridesim.physics.road import air_density, air_force, grade_force, rolling_force
from ridesim.ride.core.pack import beyond_resistance, rested_source
from ridesim.ride.core.rates import most_current, motor_at, shaft_torque_of, taken_for
from ridesim.ride.core.records import Machine
from ridesim.ride.given import AnyBuild, given_build
from ridesim.ride.machine import machine
from ridesim.vehicle import Build
from ridesim.words import need_number

if TYPE_CHECKING:
    import pandas as pd

FloatArray = NDArray[np.float64]

STILL_AIR_C = 20.0
KMH = 1.0 / 3.6
FASTEST_MPS = 100.0
"""Where the search for a top speed gives up; a series-wound motor without load has none. [m/s]"""
MOST_ROUNDS, SAME_A = 60, 1e-7
"""Rounds in which current and voltage of the pack are made to agree, and how nearly. [A]"""


@compiled
def settled_source(z: float, missing: float, current: float, m: Machine) -> tuple[float, float]:
    """The pack under a current that has lasted: E - V_a - V_d [V], which hang on that current, and R_0 + R_1 [ohm]."""
    rested, inner = rested_source(missing, m.pack)
    return rested - beyond_resistance(z, rested, inner, current, m.pack), inner + m.pack.polarisation_resistance


@compiled
def pull_at(speed: float, z: float, winding: float, case: float, m: Machine) -> tuple[float, float, int]:
    """Largest pull at the wheel at a steady moment, of a pack that had rested before.

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
    return pull_from(speed, z, 1.0 - z, winding, case, m)


@compiled
def pull_from(
    speed: float, z: float, missing: float, winding: float, case: float, m: Machine
) -> tuple[float, float, int]:
    """As :func:`pull_at`, of a pack from which a share of its charge is missing."""
    motor = motor_at(speed, winding, case, m)
    pack, current, limit = 0.0, 0.0, 0
    for _ in range(MOST_ROUNDS):
        volts, inner = settled_source(z, missing, pack, m)
        before, volts = pack, volts - inner * m.standby
        current, limit = most_current(volts, inner, motor, m.cutoff, m)
        pack = m.standby + taken_for(current, volts, inner, motor, m)
        if abs(pack - before) < SAME_A:
            break
    torque = shaft_torque_of(current, motor, m)
    if torque < 0.0 and m.freewheel == 1:
        current, torque = 0.0, 0.0
    return wheel_force(torque, m.ratio, m.radius, m.efficiency), current, limit


@compiled
def pull_with(current: float, speed: float, case: float, m: Machine) -> float:
    """Pull at the wheel with a motor current; behind a freewheel the motor cannot drag. [N]"""
    torque = shaft_torque_of(current, motor_at(speed, STILL_AIR_C, case, m), m)
    if torque < 0.0 and m.freewheel == 1:
        torque = 0.0
    return wheel_force(torque, m.ratio, m.radius, m.efficiency)


@compiled
def resistance_at(speed: float, mass: float, grade: float, m: Machine) -> float:
    """Rolling, grade and air resistance on asphalt in still air at sea level. [N]"""
    air = air_force(air_density(0.0, STILL_AIR_C), m.drag_area, speed, 0.0)
    return rolling_force(mass, grade, m.rolling) + grade_force(mass, grade) + air


@compiled
def resistances(speeds: FloatArray, mass: float, grade: float, m: Machine) -> FloatArray:
    """:func:`resistance_at` at each of several speeds. [N]"""
    return np.array([resistance_at(speed, mass, grade, m) for speed in speeds])


@compiled
def top_speed_of(m: Machine, mass: float, z: float, grade: float) -> float:
    """Speed at which the largest pull meets the resistance, by bisection; 0 where it does not start. [m/s]"""
    low, high = 0.0, FASTEST_MPS
    for _ in range(60):
        middle = 0.5 * (low + high)
        if pull_at(middle, z, STILL_AIR_C, STILL_AIR_C, m)[0] > resistance_at(middle, mass, grade, m):
            low = middle
        else:
            high = middle
    return low


@compiled
def currents_for(pull: float, speed: float, z: float, m: Machine) -> tuple[float, float, float]:
    """Motor current, pack current and pack voltage for a pull at a steady speed, motor at 20 °C, pack rested before. [A, A, V]"""
    return currents_from(pull, speed, z, 1.0 - z, STILL_AIR_C, m)


@compiled
def currents_from(
    pull: float, speed: float, z: float, missing: float, motor_c: float, m: Machine
) -> tuple[float, float, float]:
    """As :func:`currents_for`, motor at a temperature, of a pack from which a share of its charge is missing."""
    motor = motor_at(speed, motor_c, motor_c, m)
    torque = shaft_torque(pull, m.ratio, m.radius, m.efficiency) + motor.drag
    if pull < 0.0 and m.freewheel == 1:
        torque = 0.0
    current = current_for_torque(torque, motor.constant, m.series, m.saturation)
    pack, volts, inner = 0.0, 0.0, 0.0
    for _ in range(MOST_ROUNDS):
        volts, inner = settled_source(z, missing, pack, m)
        before, pack = pack, m.standby + taken_for(current, volts - inner * m.standby, inner, motor, m)
        if abs(pack - before) < SAME_A:
            break
    return current, pack, volts - inner * pack


@compiled
def pulls_of(machines: Any, speeds: FloatArray, z: float) -> tuple[FloatArray, NDArray[np.int64]]:
    """Largest pull [N] of each of several vehicles at each speed, and its limit; shape (n, k)."""
    pulls = np.empty((len(machines), len(speeds)))
    limits = np.empty(pulls.shape, dtype=np.int64)
    for i in range(len(machines)):
        for j in range(len(speeds)):
            pulls[i, j], _, limits[i, j] = pull_at(speeds[j], z, STILL_AIR_C, STILL_AIR_C, machines[i])
    return pulls, limits


def pull_curve(build: AnyBuild, state_of_charge: float = 1.0, points: int = 200) -> pd.DataFrame:
    """Largest pull at the wheel against speed, with the limit that sets it.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    state_of_charge : float
        0 to 1.
    points : int
        Rows, evenly spaced from standstill to the speed at which the pull ends.

    Returns
    -------
    DataFrame
        ``speed_kmh``, ``pull_n``, ``limit`` (name of the limit).

    Raises
    ------
    InputProblem
        A state of charge outside 0 to 1.

    Examples
    --------
    >>> from ridesim import load_build, pull_curve
    >>> pull_curve(load_build("heron_36v"), points=3).head(2).round()
       speed_kmh  pull_n            limit
    0        0.0   359.0    motor current
    1       13.0   255.0  battery current
    """
    build = given_build(build)
    import pandas as pd

    speeds, pulls, limits = pull_arrays(build, state_of_charge, points)
    return pd.DataFrame({"speed_kmh": speeds, "pull_n": pulls, "limit": [LIMIT_NAMES[i] for i in limits]})


def pull_arrays(
    build: Build, state_of_charge: float = 1.0, points: int = 200
) -> tuple[FloatArray, FloatArray, NDArray[np.int64]]:
    """As :func:`pull_curve`, as arrays: km/h, N, index of the limit."""
    need_arguments(state_of_charge=state_of_charge)
    need_number("the pull curve", "points", points, 2, 100_000)
    m = machine(build)
    end = falling_root(lambda speed: pull_at(speed, state_of_charge, STILL_AIR_C, STILL_AIR_C, m)[0])
    speeds = np.linspace(0.0, end, points)
    pulls, limits = pulls_of(np.array([m]), speeds, state_of_charge)
    return speeds * 3.6, pulls[0], limits[0]


def falling_root(function: Callable[[float], float]) -> float:
    """Speed at which a falling function is zero [m/s]; 0 where it starts below zero, FASTEST_MPS where it never ends."""
    from scipy.optimize import brentq

    if function(0.0) <= 0.0:
        return 0.0
    above = 5.0
    while function(above) > 0.0:
        above *= 2.0
        if above > FASTEST_MPS:
            return FASTEST_MPS
    return float(brentq(function, 0.0, above, xtol=1e-9))


_ARGUMENTS = {
    "speed_kmh": (0.0, FASTEST_MPS / KMH, "km/h"),
    "grade_percent": (-100.0, 100.0, "%"),
    "state_of_charge": (0.0, 1.0, ""),
}


def need_arguments(**given: float) -> None:
    """Refuse a speed, a slope, a state of charge or a surface that no vehicle meets."""
    for name, value in given.items():
        need_number("the steady answer", name, value, *_ARGUMENTS[name])
