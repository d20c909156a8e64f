"""The bench's one estimator: residuals and priors in, equally likely parameter sets (draws) out; a band is a quantile over draws."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc

from ridesim.words import Uncertain

FloatArray = NDArray[np.float64]
Function = Callable[[FloatArray], FloatArray]
"""From parameter sets, shape (n, p), to something of each, shape (n,) or (n, k)."""

LEVEL = 0.90
"""Share of cases in which a stated band holds the truth: one level for every test of the bench."""
NORMAL = 1.645
"""Half the width of such a band of a normal distribution, in standard deviations."""
CONTRADICTION = 1e-6
"""Chance of a misfit below which a log is refused: its readings contradict each other."""
_SCATTER = 0.01
"""Chance of a misfit below which the readings count as less accurate than stated."""
_STATED_DEGREES = 4.0
"""Degrees of freedom that the stated accuracy of the meters counts for; common practice, no source."""
SILENT = 0.5
"""Told share below which the readings have said next to nothing of a parameter."""
DRAWS = 400
"""Draws of an estimate."""
_PROPOSED, _ROUNDS = 20, (3, 8)
"""Proposals a draw in each round of the sampling; fewest and most rounds."""
_HEAVY, _WIDER = 4.0, 1.5
"""The proposals' density is heavier in its tails (degrees of freedom) and wider (factor on the covariance) than what it looks for."""


@dataclass(frozen=True, slots=True)
class Unknown:
    """A parameter and its prior: a normal distribution, cut off below ``least``.

    A gain error common to all readings of a meter is an unknown too (usual value 0, spread as the meter's maker states it).

    Attributes
    ----------
    name : str
    usual, spread : float
        Mean and standard deviation of the prior.
    least : float
        Lowest possible value.
    """

    name: str
    usual: float
    spread: float
    least: float = float("-inf")


@dataclass(frozen=True, eq=False)
class Fit:
    """The most likely parameters.

    Attributes
    ----------
    best : ndarray, shape (p,)
    covariance : ndarray, shape (p, p)
        Inverse of JᵀJ there, priors included.
    told : ndarray, shape (p,)
        1 less the variance over the prior's: near 0 where the readings say nothing of a parameter, near 1 where they say all.
    misfit : float
        Sum of the squared residuals of the readings alone.
    chance : float
        Chance of a larger misfit if the meters are as accurate as stated.
    degrees : float
        Degrees of freedom: readings less estimated parameters, one at least.
    """

    best: FloatArray
    covariance: FloatArray
    told: FloatArray
    misfit: float
    chance: float
    degrees: float


@dataclass(frozen=True, eq=False)
class Estimate:
    """What readings and priors say about some parameters.

    Attributes
    ----------
    unknowns : tuple of Unknown
    fit : Fit
    scatter : float
        How many times as much as the meters' stated accuracy explains the readings scatter; 1 where they do not.
    draws : ndarray, shape (n, p)
        Equally likely parameter sets; the same for the same readings.
    """

    unknowns: tuple[Unknown, ...]
    fit: Fit
    scatter: float
    draws: FloatArray

    @property
    def best(self) -> FloatArray:
        """The most likely parameters, shape (p,)."""
        return self.fit.best

    @cached_property
    def place(self) -> dict[str, int]:
        """Column of each unknown, by name."""
        return {unknown.name: place for place, unknown in enumerate(self.unknowns)}

    def silent(self, name: str) -> bool:
        """Whether the readings say next to nothing of an unknown, so that its value is the prior's."""
        return bool(self.fit.told[self.place[name]] < SILENT)

    def bands(self, function: Function) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Value, lowest and highest of what follows from the parameters.

        Parameters
        ----------
        function : callable
            From parameter sets, shape (n, p), to shape (n,) or (n, k).

        Returns
        -------
        tuple of ndarray
            Of the most likely parameters, and the quantiles over the draws that leave out (1 - LEVEL)/2 at either end; a band
            always holds its value.
        """
        value = function(self.best[None, :])[0]
        return value, *band_about(value, function(self.draws))

    def band(self, function: Function) -> Uncertain:
        """One number that follows from the parameters; as :meth:`bands`."""
        return Uncertain(*(float(end) for end in self.bands(function)))

    def band_of(self, name: str) -> Uncertain:
        """An unknown itself; its band reaches the lowest possible value where that lies within the linearised band.

        Otherwise a number that is truly near its limit, such as no viscous drag at all, would lie outside nearly always.
        """
        place = self.place[name]
        found, least = self.band(lambda draws: draws[:, place]), self.unknowns[place].least
        reach = float(NORMAL * np.sqrt(self.fit.covariance[place, place]))
        return Uncertain(found.value, least, found.high) if found.value - reach < least else found

    def narrowing(self, function: Function, reading: Function) -> float:
        """How much narrower one more reading would make the band of a number, 0 to 1.

        Parameters
        ----------
        function : callable
            The number, of each parameter set.
        reading : callable
            Residuals of the further reading, shape (n, k), each over its standard deviation.

        Notes
        -----
        The number regressed on the residuals over the draws: a reading with errors of variance 1 leaves the variance
        C_qq - C_qr (C_rr + 1)⁻¹ C_rq (the Kalman filter's update; e.g. Evensen, Data Assimilation, from memory).
        """
        both = np.cov(np.column_stack([function(self.draws), reading(self.draws)]), rowvar=False)
        before, shared = both[0, 0], both[0, 1:]
        after = before - shared @ np.linalg.solve(both[1:, 1:] + np.eye(len(shared)), shared)
        return float(1.0 - np.sqrt(after / before)) if before > 0.0 else 0.0


def band_about(value: FloatArray | float, draws: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest of a value: the quantiles over its draws (first axis) that leave out (1 - LEVEL)/2 at either end."""
    low, high = np.quantile(draws, [0.5 - 0.5 * LEVEL, 0.5 + 0.5 * LEVEL], axis=0, method="nearest")
    return np.minimum(low, value), np.maximum(high, value)


def most_likely(
    residuals: Function, unknowns: Sequence[Unknown], starts: Sequence[FloatArray] = (), scatter: float = 1.0
) -> Fit:
    """Minimise the squares of residuals and of distances from the priors.

    Parameters
    ----------
    residuals : callable
        From parameter sets, shape (n, p), to residuals of the readings, shape (n, r), each over its standard deviation.
    unknowns : sequence of Unknown
        The p parameters.
    starts : sequence of ndarray
        Where the search begins; the best end counts. Left out: the usual values.
    scatter : float
        Factor on the standard deviations of the readings, not on the priors'.

    Raises
    ------
    ValueError
        Nothing can be computed from such readings, or they do not determine the parameters.

    References
    ----------
    Levenberg-Marquardt as in MINPACK (scipy); covariance (JᵀJ)⁻¹, e.g. Bevington & Robinson, Data Reduction and Error Analysis;
    parameters that the readings determine, p - Σ C_ii/s_i², Bishop, Pattern Recognition and Machine Learning, section 3.5.3
    (all from memory).
    """
    usual, spread, least = _columns(unknowns)

    def scaled(point: FloatArray) -> FloatArray:
        with np.errstate(all="ignore"):
            return np.concatenate([residuals((point * spread)[None, :])[0] / scatter, point - usual / spread])

    def slope(point: FloatArray) -> FloatArray:
        steps = 1e-6 * np.eye(len(usual))
        with np.errstate(all="ignore"):
            moved = residuals(np.concatenate([point + steps, point - steps]) * spread)
            change = (moved[: len(usual)] - moved[len(usual) :]) / (2e-6 * scatter)
        return np.concatenate([change.T, np.eye(len(usual))])

    found = [_descended(scaled, slope, start / spread, least / spread) for start in starts or [usual]]
    point = min(found, key=lambda each: each.cost).x
    steep = slope(point)
    if not np.isfinite(steep).all():
        raise ValueError("nothing can be computed from these readings")
    _, size, turn = np.linalg.svd(steep, full_matrices=False)
    covariance = (turn.T / size**2) @ turn  # the inverse of JᵀJ, never below 0 though a reading says all of a parameter
    count = len(steep) - len(usual)
    misfit = float(np.sum((scatter * scaled(point)[:count]) ** 2))
    told = 1.0 - np.diag(covariance)
    degrees = max(1.0, count - float(told.sum()))
    return Fit(
        np.maximum(point * spread, least), covariance * np.outer(spread, spread), told, misfit,
        float(chdtrc(degrees, misfit)), degrees,
    )  # fmt: skip


def _descended(scaled: Function, slope: Function, start: FloatArray, least: FloatArray) -> Any:
    """Where a search for the least sum of squares ends: without limits, and within them only where that leaves them."""
    from scipy.optimize import least_squares

    end = least_squares(scaled, start, jac=slope, method="lm", xtol=1e-10, ftol=1e-12, gtol=1e-12)
    if (end.x >= least).all():
        return end
    begin = np.maximum(start, least + 1e-6)
    return least_squares(scaled, begin, jac=slope, bounds=(least, np.inf), xtol=1e-12, ftol=1e-14, gtol=1e-12)


def estimate(residuals: Function, unknowns: Sequence[Unknown], starts: Sequence[FloatArray] = ()) -> Estimate:
    """What readings and priors say about some parameters.

    Parameters
    ----------
    residuals, unknowns, starts
        As in :func:`most_likely`.

    Raises
    ------
    ValueError
        As :func:`most_likely`.

    Notes
    -----
    If residuals scatter more than the stated meter accuracy (chance below 1 %), measurement errors are inflated; priors are not.
    The stated accuracy counts as four degrees of freedom, so that the scale is √((4 + misfit)/(4 + degrees)); Gelman et al.,
    Bayesian Data Analysis, section 2.6 (from memory).
    """
    fit, scatter = most_likely(residuals, unknowns, starts), 1.0
    if fit.chance < _SCATTER:
        scatter = float(np.sqrt((_STATED_DEGREES + fit.misfit) / (_STATED_DEGREES + fit.degrees)))
        fit = most_likely(residuals, unknowns, starts, scatter)
    usual, spread, least = _columns(unknowns)

    def log_chance(draws: FloatArray) -> FloatArray:
        with np.errstate(all="ignore"):
            data = np.sum((residuals(draws) / scatter) ** 2, axis=1)
        prior = np.sum(((draws - usual) / spread) ** 2, axis=1)
        possible = np.isfinite(data) & (draws >= least).all(axis=1)
        return np.where(possible, -0.5 * (np.where(possible, data, 0.0) + prior), -np.inf)

    return Estimate(tuple(unknowns), fit, scatter, _sampled(log_chance, fit))


def _sampled(log_chance: Function, fit: Fit) -> FloatArray:
    """Equally likely draws from a probability density, fixed seed, by importance sampling that learns from itself.

    Parameter sets are proposed from Student's t and weighted with the density over the proposal's. The first proposal has the fit's
    centre and covariance, each later one those of the weighted sets before, so that it grows along a valley that the fit's covariance
    does not show; until the effective number of sets, (Σw)²/Σw², is that of the draws. In the end each set is kept as often as its
    weight says. Bishop, Pattern Recognition and Machine Learning, section 11.1.4; repeated: Cappé et al., Population Monte Carlo, 2004
    (both from memory).
    """
    generator = np.random.default_rng(1)
    size, many, (fewest, most) = len(fit.best), _PROPOSED * DRAWS, _ROUNDS
    centre, covariance = fit.best, fit.covariance
    for made in range(1, most + 1):
        stretch = np.sqrt(_HEAVY / generator.chisquare(_HEAVY, many))[:, None]
        apart = generator.standard_normal((many, size)) * stretch
        proposed = centre + apart @ np.linalg.cholesky(_WIDER * covariance).T
        log_weight = log_chance(proposed) + 0.5 * (_HEAVY + size) * np.log1p(np.sum(apart**2, axis=1) / _HEAVY)
        weight = np.exp(log_weight - log_weight.max())
        if made >= fewest and weight.sum() ** 2 >= DRAWS * np.sum(weight**2):
            break
        centre, covariance = (
            np.average(proposed, axis=0, weights=weight),
            np.cov(proposed, rowvar=False, aweights=weight),
        )
    ends = np.cumsum(weight)
    kept = np.searchsorted(ends, (np.arange(DRAWS) + 0.5) / DRAWS * ends[-1])
    return np.asarray(proposed[kept])


def _columns(unknowns: Sequence[Unknown]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Usual values, spreads and lowest values."""
    usual, spread, least = np.array([(each.usual, each.spread, each.least) for each in unknowns]).T
    return usual, spread, least


def least_agreeing(ease: Sequence[float]) -> list[int]:
    """Which reading contradicts the others: that without which the rest agrees best, or two where that is not clear.

    Parameters
    ----------
    ease : sequence of float
        Misfit of the rest without each reading.
    """
    order = sorted(range(len(ease)), key=lambda place: ease[place])
    tied = len(order) > 1 and ease[order[1]] < 1.5 * ease[order[0]] + 4.0
    return order[: 1 + tied]
