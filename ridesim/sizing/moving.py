"""Moving it dead: how hard it is to push on the level and up a ramp, and how many people that takes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, hypot

from ridesim.day import SURFACES, need_surface
from ridesim.physics.balance import crest_slope
from ridesim.physics.road import grade_force, rolling_force
from ridesim.ride.given import AnyBuild, given_build
from ridesim.ride.machine import machine
from ridesim.vehicle import Build
from ridesim.words import InShort, Rows, need_number

START_N, KEEP_N = (200.0, 150.0), (100.0, 70.0)
"""What one person pushes at most to start or stop, and to keep it moving for 20 m at most, a man and a woman: HSE L23."""
LIFT_KG = (25.0, 16.0)
"""What one person lifts at most close to the body at knuckle height, a man and a woman: HSE L23 (from memory)."""
FARTHEST_M = 20.0
STEEPEST_PERCENT = 100.0
RAMPS = {"1 in 12": 100.0 / 12.0, "1 in 8": 12.5, "1 in 6": 100.0 / 6.0, "1 in 4": 25.0}
"""Usual ramps, gentlest first. [%]"""
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
        To set it moving, and to keep it moving at a walk; less than 0 where the slope takes it along and it must be held back. [N]
    men, women : int
        People that this takes by the guideline, to push or to hold it back, the harder of both counting.
    """

    start_n: float
    keep_n: float
    men: int
    women: int

    def _short(self) -> tuple[str, Rows]:
        if self.keep_n < 0.0:
            forces = [("to hold it back", f"{-self.keep_n:.0f} N")]
        else:
            forces = [("to start", f"{self.start_n:.0f} N"), ("to keep moving", f"{self.keep_n:.0f} N")]
        return "Pushing it dead", [
            *forces,
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
        Grade, rolling, and the drag of motor and chain: friction and iron of the motor through the gears, whose losses come on top;
        less than 0 where it must be held back down a slope. [N]

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
    # Downhill it is the pull to hold back that counts: once it rolls, no more stiction helps.
    most_n = max(abs(start), abs(keep))
    men, women = (max(ceil(most_n / most), ceil(abs(keep) / on), 1) for most, on in zip(START_N, KEEP_N, strict=True))
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
    start, keep = people * START_N[0], people * KEEP_N[0]
    forces = _resisting(given_build(build), surface, motor_turning)
    low, high = 0.0, STEEPEST_PERCENT

    def holds(slope_percent: float) -> bool:
        needed = forces(slope_percent)
        return needed[0] <= start and needed[1] <= keep

    if not holds(low):
        return 0.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def lifters(mass_kg: float) -> tuple[int, int]:
    """How many men, or women, lift a load by the guideline, each with a grip of their own and the load shared.

    Raises
    ------
    InputProblem
        A mass that is no mass.
    """
    need_number("the lifting", "mass_kg", mass_kg, 0.0, 1e5, "kg", above=True)
    return max(1, ceil(mass_kg / LIFT_KG[0])), max(1, ceil(mass_kg / LIFT_KG[1]))


def ramp_length_m(bed_height_m: float, slope_percent: float) -> float:
    """Length of a ramp up to a bed. [m]

    Raises
    ------
    InputProblem
        A height or a slope that is none.
    """
    need_number("the ramp", "bed_height_m", bed_height_m, 0.0, 10.0, "m", above=True)
    need_number("the ramp", "slope_percent", slope_percent, 0.0, STEEPEST_PERCENT, "%", above=True)
    return bed_height_m * hypot(1.0, 100.0 / slope_percent)


def crest_percent(build: AnyBuild) -> float | None:
    """Slope of a ramp at whose crest it grounds; None without wheelbase and clearance. [%]"""
    vehicle = given_build(build).vehicle
    if vehicle.wheelbase_m is None or vehicle.clearance_mm is None:
        return None
    return 100.0 * float(crest_slope(vehicle.clearance_mm / 1000.0, vehicle.wheelbase_m))


def _forces(build: AnyBuild, slope_percent: float, surface: str, motor_turning: bool) -> tuple[float, float]:
    """To start, and to keep moving. [N, N]"""
    need_number("the pushing", "slope_percent", slope_percent, -STEEPEST_PERCENT, STEEPEST_PERCENT, "%")
    return _resisting(given_build(build), surface, motor_turning)(slope_percent)


def _resisting(build: Build, surface: str, motor_turning: bool) -> Callable[[float], tuple[float, float]]:
    """What resists on a slope [%], to start and to keep moving. [N, N]"""
    need_surface("the pushing", surface)
    mass, drag = build.total_mass_kg(aboard=False), _drag(build) if motor_turning else 0.0
    coefficient, breakaway = build.vehicle.rolling_coefficient * SURFACES[surface], build.vehicle.breakaway_factor

    def forces(slope_percent: float) -> tuple[float, float]:
        rolling = rolling_force(mass, slope_percent / 100.0, coefficient)
        rest = grade_force(mass, slope_percent / 100.0) + drag
        return float(rolling * breakaway + rest), float(rolling + rest)

    return forces


def _drag(build: Build) -> float:
    """Drag of motor and chain at the wheel's rim, pushed slowly. [N]"""
    m = machine(build)
    if build.drive.freewheel:
        return 0.0
    torque = (m.friction + m.gear_drag) * m.ratio / m.efficiency
    return float(torque) / build.vehicle.rolling_radius_m
