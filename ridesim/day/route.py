"""A route: legs of length, speed limit, grade, surface and a stop at the leg's end."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from ridesim.words import InputProblem, nearest

SURFACES = {"asphalt": 1.0, "concrete": 1.1, "wood": 1.2, "paving": 1.4, "gravel": 2.0, "grass": 3.0}
"""Factor on the build's rolling coefficient. Common practice, no source; the ratios of new asphalt to rolled and loose
gravel in Carvill, Mechanical Engineer's Data Handbook, run from 1 to 4."""


def need_surface(file: str, surface: str) -> None:
    """Refuse what is no key of :data:`SURFACES`, naming the nearest.

    Raises
    ------
    InputProblem
        An unknown surface.
    """
    if surface not in SURFACES:
        near = nearest(surface, SURFACES)
        hint = f"Nearest: {near}." if near else ""
        raise InputProblem(file, "surface", f"“{surface}”", "one of " + ", ".join(SURFACES), hint)


@dataclass(frozen=True)
class Leg:
    """One leg of a route.

    Attributes
    ----------
    length_m : float
        Length along the ground. [m]
    speed_kmh : float
        Speed limit. [km/h]
    grade_percent : float
        Rise over run, downhill negative. [%]
    surface : str
        A key of :data:`SURFACES`.
    stop_s : float
        Time standing at the end of the leg; 0 means it rolls on. [s]
    """

    length_m: float
    speed_kmh: float
    grade_percent: float = 0.0
    surface: str = "asphalt"
    stop_s: float = 0.0

    @property
    def surface_factor(self) -> float:
        """Factor on the rolling coefficient."""
        return SURFACES[self.surface]


@dataclass(frozen=True)
class Route:
    """Legs in the order they are ridden; a lap is all of them once."""

    name: str
    legs: tuple[Leg, ...]

    @cached_property
    def length_m(self) -> float:
        """Length of a lap. [m]"""
        return sum(leg.length_m for leg in self.legs)

    @cached_property
    def mean_kmh(self) -> float:
        """Mean of the speed limits, weighted by length. [km/h]"""
        return sum(leg.length_m * leg.speed_kmh for leg in self.legs) / self.length_m

    @property
    def least_s(self) -> float:
        """A lap at the speed limits, with its stops: no vehicle is quicker. [s]"""
        return sum(leg.length_m / (leg.speed_kmh / 3.6) + leg.stop_s for leg in self.legs)

    @property
    def steepest_percent(self) -> float:
        """Steepest climb. [%]"""
        return max(0.0, max(leg.grade_percent for leg in self.legs))

    @property
    def steepest_either_way_percent(self) -> float:
        """Steepest slope, up or down, which the brakes must hold. [%]"""
        return max(abs(leg.grade_percent) for leg in self.legs)

    @property
    def fastest_kmh(self) -> float:
        """Highest speed limit. [km/h]"""
        return max(leg.speed_kmh for leg in self.legs)
