"""Rolling coefficient and drag area from timed runs in which the vehicle rolls freely: ``coast_down`` of a build's file."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from math import exp, log, sqrt
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc

from ridesim.forms import END_SCORE, limits_of, usual_width
from ridesim.physics.road import air_density, coast_time, effective_mass
from ridesim.vehicle.widths import WIDTHS
from ridesim.words import InputProblem, Uncertain

if TYPE_CHECKING:
    from ridesim.vehicle.build import Build
    from ridesim.vehicle.chassis import Vehicle

FloatArray = NDArray[np.float64]

FITTED = ("rolling_coefficient", "drag_area_m2")
SLOPE, WIND_MPS = 0.003, 0.7
"""How far from level a yard is that looks level, rise over run, and how much wind a calm day has: one standard deviation. Common
practice, no source."""
CLOCK_S, SPEED_KMH = 0.3, 0.3
"""How far off each time and each speed is read: one standard deviation. Common practice, no source."""
UNLIKELY = 1e-4
"""Chance of so large a disagreement, below which the runs contradict each other or the file."""
LONGEST_S = 1e4
"""Stands for a run that would never end. [s]"""
AIR_C = 15.0
"""Of that day, near enough for the density of its air. [°C]"""


class Run(NamedTuple):
    """A timed run: speeds [km/h], seconds, and which way: 1 there, -1 back, 0 for the mean of both."""

    fast: float
    slow: float
    seconds: float
    way: float


class Fit(NamedTuple):
    """What the runs and the file together say.

    Attributes
    ----------
    widths : dict of str to Uncertain
        Of each key in :data:`FITTED` that is not exact.
    tied : float
        Correlation of the two.
    """

    widths: dict[str, Uncertain]
    tied: float


def fit_coast_down(build: Build) -> Fit:
    """Fit rolling coefficient and drag area to the runs of a build.

    Parameters
    ----------
    build : Build
        With runs. What its file says of the two, or their usual values, counts with its width.

    Returns
    -------
    Fit

    Raises
    ------
    InputProblem
        A run that does not slow down, or one that contradicts the others or the file; names it.

    Notes
    -----
    Least squares for the logarithms of both, for slope and for wind, with what is known of each beforehand as further residuals. Runs
    go there and back in turn, so that slope and wind change their sign from row to row; a single row is the mean of both ways.
    MODEL.md (1.9); Bevington & Robinson, Data Reduction and Error Analysis, for the covariance (JᵀJ)⁻¹ (from memory).
    """
    rows = build.vehicle.coast_down or ()
    for number, (fast, slow, seconds) in enumerate(rows, start=1):
        if not fast > slow >= 0.0 or seconds <= 0.0:
            found = f"[{fast:g}, {slow:g}, {seconds:g}]"
            raise InputProblem(
                "", f"vehicle.coast_down[{number}]", found, "[from km/h, to a lower km/h, seconds above 0]"
            )
    search = _Search(build)
    runs = [Run(*row, 0.0 if len(rows) == 1 else (-1.0) ** n) for n, row in enumerate(rows)]
    point, covariance, misfit = search.best(runs)
    if chdtrc(len(runs), misfit) < UNLIKELY:
        raise _contradiction(search, runs)
    spread = np.sqrt(np.diag(covariance))
    widths = {}
    for place, key in enumerate(search.open):
        middle, reach = point[place], END_SCORE * spread[place]
        widths[key] = Uncertain(*(float(f"{exp(each):.4g}") for each in (middle, middle - reach, middle + reach)))
    both = len(search.open) == len(FITTED)
    return Fit(widths, float(covariance[0, 1] / (spread[0] * spread[1])) if both else 0.0)


class _Search:
    """Residuals of the runs, for the unknowns: logarithms of what is open, slope, wind."""

    def __init__(self, build: Build) -> None:
        vehicle = build.vehicle
        self.mass = vehicle.coast_down_mass_kg or build.total_mass_kg()
        inertia = vehicle.wheels_inertia_kgm2
        self.rotating = effective_mass(self.mass, inertia, vehicle.rolling_radius_m, 0.0, 0.0) - self.mass
        before = {key: _before(vehicle, key) for key in FITTED}
        self.held = {key: width.value for key, width in before.items()}
        self.open = [key for key, width in before.items() if 0.0 < width.low < width.high]
        known = [before[key] for key in self.open]
        self.usual = np.array([*(log(each.value) for each in known), 0.0, 0.0])
        self.spread = np.array([*(log(each.high / each.low) / (2.0 * END_SCORE) for each in known), SLOPE, WIND_MPS])

    def seconds(self, run: Run, point: FloatArray) -> float:
        """Time of a run. [s]"""
        said = self.held | {key: exp(value) for key, value in zip(self.open, point[:-2], strict=True)}
        slope, wind = run.way * point[-2:]
        rolling, area = (said[key] for key in FITTED)
        density = air_density(0.0, AIR_C)
        return coast_time(run.fast / 3.6, run.slow / 3.6, self.mass, self.rotating, rolling, area, density, slope, wind)

    def residuals(self, runs: Sequence[Run], point: FloatArray) -> FloatArray:
        """How far off the runs, and then what was known beforehand, each over its standard deviation."""
        off = [(min(self.seconds(run, point), LONGEST_S) - run.seconds) / _read_within(run) for run in runs]
        return np.array([*off, *((point - self.usual) / self.spread)])

    def best(self, runs: Sequence[Run]) -> tuple[FloatArray, FloatArray, float]:
        """The most likely unknowns, their covariance, and what is left of the squares."""
        from scipy.optimize import least_squares

        found = least_squares(partial(self.residuals, runs), self.usual, x_scale=self.spread, method="lm")
        slope = np.asarray(found.jac)
        return found.x, np.linalg.inv(slope.T @ slope), 2.0 * float(found.cost)


def _read_within(run: Run) -> float:
    """Standard deviation of a run's time, with that of its two speeds. [s]"""
    one = sqrt(CLOCK_S**2 + 2.0 * (SPEED_KMH * run.seconds / (run.fast - run.slow)) ** 2)
    return one if run.way else one / sqrt(2.0)


def _before(vehicle: Vehicle, key: str) -> Uncertain:
    """What is known of a key without the runs: the file's word, else the default, with its width."""
    said, field = vehicle.said().get(key), type(vehicle).model_fields[key]
    if isinstance(said, Uncertain):
        return said
    usual, value = WIDTHS[f"vehicle.{key}"], field.default if said is None else said
    width = usual_width(usual.default if said is None else usual.stated, value, limits_of(field))
    return width or Uncertain.over([value])


def _contradiction(search: _Search, runs: Sequence[Run]) -> InputProblem:
    """The run without which the rest agrees best, and the time that the rest asks for."""
    fits = [search.best([*runs[:n], *runs[n + 1 :]]) for n in range(len(runs))]
    worst = min(range(len(runs)), key=lambda n: fits[n][2])
    run, other = runs[worst], search.seconds(runs[worst], fits[worst][0])
    rolling, area = (search.held[key] for key in FITTED)
    beside = "the other runs and " if len(runs) > 1 else ""
    return InputProblem(
        "", f"vehicle.coast_down[{worst + 1}]", f"{run.seconds:g} s from {run.fast:g} to {run.slow:g} km/h",
        f"about {other:.2g} s, as {beside}rolling_coefficient {rolling:g} with drag_area_m2 {area:g} say",
        f"Is it the time and mass ({search.mass:.0f} kg) of that run, chain off? Else mend the row, or take out what the file says.",
    )  # fmt: skip
