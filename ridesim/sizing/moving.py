"""Moving it dead: how hard it is to push on the level and up a ramp, and how many people that takes."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from ridesim.day import SURFACES
from ridesim.physics.road import grade_force, rolling_force
from ridesim.ride.given import AnyBuild, given_build
from ridesim.ride.machine import machine
from ridesim.vehicle import Build
from ridesim.words import InputProblem, InShort, Rows, nearest, need_number

START_N, KEEP_N = (200.0, 150.0), (100.0, 70.0)
"""What one person pushes at most to start or stop, and to keep it moving for 20 m at most, a man and a woman: HSE L23."""
FARTHEST_M = 20.0
STEEPEST_PERCENT = 100.0
CAUTION = (
    "Nobody below it on a ramp; a second person counts whole only with a grip of their own; blocks out first where that can be done; a strap or "
    "a chock that holds it if they let go. Local rules come first."
)


@dataclass(frozen=True, repr=False)
class Push(InShort):
    """Pushing a vehicle without its rider.

    Attributes
    ----------
    start_n, keep_n : float
        To set it moving, and to keep it moving at a walk. [N]
    men, women : int
        People that this takes by the guideline, the harder of both counting.
    """

    start_n: float
    keep_n: float
    men: int
    women: int

    def _short(self) -> tuple[str, Rows]:
        return "Pushing it dead", [
            ("to start", f"{self.start_n:.0f} N"),
            ("to keep moving", f"{self.keep_n:.0f} N"),
            ("people", f"men {self.men}, or women {self.women}, over {FARTHEST_M:g} m at most"),
            ("caution", CAUTION),
        ]


def push_force(build: AnyBuild, slope_percent: float, surface: str = "asphalt", motor_turning: bool = True) -> float:
    """Force that keeps a vehicle moving at a walk, without its rider.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    slope_percent : float
        Rise over run; 1 in 12 is 8.33. [%]
    surface : str
        As in a route.
    motor_turning : bool
        The chain is on and turns the motor, leads open; else it is off.

    Returns
    -------
    float
        Grade, rolling, and the drag of motor and chain: friction and iron of the motor through the gears, whose losses come on top. [N]

    Raises
    ------
    InputProblem
        A slope beyond 100 %, an unknown surface.
    """
    return _forces(build, slope_percent, surface, motor_turning)[1]


def push(build: AnyBuild, slope_percent: float, surface: str = "asphalt", motor_turning: bool = True) -> Push:
    """How hard it is to push, and how many people that takes; parameters as in :func:`push_force`.

    Raises
    ------
    InputProblem
        As :func:`push_force`.
    """
    start, keep = _forces(build, slope_percent, surface, motor_turning)
    men, women = (max(ceil(start / most), ceil(keep / on), 1) for most, on in zip(START_N, KEEP_N, strict=True))
    return Push(start, keep, men, women)


def steepest_push_percent(
    build: AnyBuild, people: int = 2, surface: str = "asphalt", motor_turning: bool = True
) -> float:
    """Steepest slope up which so many men push it by the guideline; 0 where they cannot on the level. [%]

    Raises
    ------
    InputProblem
        As :func:`push_force`; no people.
    """
    need_number("the pushing", "people", people, 1, 50)
    low, high = 0.0, STEEPEST_PERCENT
    if push(build, low, surface, motor_turning).men > people:
        return 0.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if push(build, middle, surface, motor_turning).men <= people else (low, middle)
    return low


def _forces(build: AnyBuild, slope_percent: float, surface: str, motor_turning: bool) -> tuple[float, float]:
    """To start, and to keep moving. [N, N]"""
    build = given_build(build)
    need_number("the pushing", "slope_percent", slope_percent, -STEEPEST_PERCENT, STEEPEST_PERCENT, "%")
    if surface not in SURFACES:
        near = nearest(surface, SURFACES)
        raise InputProblem(
            "the pushing",
            "surface",
            f"“{surface}”",
            "one of " + ", ".join(SURFACES),
            f"Nearest: {near}." if near else "",
        )
    mass, grade, vehicle = build.total_mass_kg(aboard=False), slope_percent / 100.0, build.vehicle
    rolling = rolling_force(mass, grade, vehicle.rolling_coefficient * SURFACES[surface])
    rest = grade_force(mass, grade) + (_drag(build) if motor_turning else 0.0)
    return float(rolling * vehicle.breakaway_factor + rest), float(rolling + rest)


def _drag(build: Build) -> float:
    """Drag of motor and chain at the wheel's rim, pushed slowly. [N]"""
    m = machine(build)
    if build.drive.freewheel:
        return 0.0
    torque = (m.friction + m.gear_drag) * m.ratio / m.efficiency
    return float(torque) / build.vehicle.rolling_radius_m
