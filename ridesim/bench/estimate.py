"""Weighted nonlinear least squares with its covariance: the one estimator of the bench."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Residuals = Callable[[FloatArray], FloatArray]
Usual = list[tuple[float, float]]
"""Usual value and its spread for each parameter."""

BAND = 0.95
"""Share of cases in which a stated band holds the truth."""
CONTRADICTION = 1e-6
"""Chance below which points that disagree as much as these are refused; below 1 % the bands are widened instead."""


@dataclass(frozen=True, eq=False)
class Fit:
    """An estimate with its linearised covariance.

    Attributes
    ----------
    values : ndarray, shape (p,)
        Estimate.
    covariance : ndarray, shape (p, p)
        Inverse of JᵀJ at the estimate, residuals in standard deviations.
    misfit : float
        Sum of the squared residuals, priors included.
    """

    values: FloatArray
    covariance: FloatArray
    misfit: float


def jacobian(function: Residuals, at: FloatArray, scale: FloatArray) -> FloatArray:
    """Central differences, a millionth of each scale to either side."""
    columns = []
    for index, step in enumerate(1e-6 * scale):
        above, below = at.copy(), at.copy()
        above[index] += step
        below[index] -= step
        columns.append((function(above) - function(below)) / (2.0 * step))
    return np.stack(columns, axis=-1)


def fit(residuals: Residuals, start: FloatArray, scale: FloatArray, lower: FloatArray | None = None) -> Fit:
    """Minimise the sum of squares of residuals given in standard deviations.

    Parameters
    ----------
    residuals : callable
        From parameters to residuals, each over its own standard deviation (priors are residuals too).
    start, scale : ndarray, shape (p,)
        First guess, and the size of a sensible change of each parameter (never 0).
    lower : ndarray, optional
        Lowest allowed values; without it the search is free.

    Returns
    -------
    Fit
        Estimate, covariance, misfit.

    Raises
    ------
    ValueError
        The residuals do not determine the parameters.

    References
    ----------
    Levenberg-Marquardt as in MINPACK (scipy); covariance (JᵀJ)⁻¹, e.g. Bevington & Robinson, Data Reduction and Error
    Analysis (from memory).
    """
    from scipy.optimize import least_squares

    def scaled(point: FloatArray) -> FloatArray:
        return residuals(point * scale)

    if lower is None:
        found = least_squares(scaled, start / scale, method="lm", xtol=1e-10, ftol=1e-12, gtol=1e-12)
    else:
        begin = np.maximum(start / scale, lower / scale + 1e-6)
        found = least_squares(scaled, begin, bounds=(lower / scale, np.inf), xtol=1e-12, ftol=1e-14, gtol=1e-12)
    values = found.x * scale
    slope = jacobian(residuals, values, scale) * scale
    information = slope.T @ slope
    if np.linalg.cond(information) > 1e15:
        raise ValueError("the measurements do not determine the parameters")
    covariance = np.linalg.inv(information) * np.outer(scale, scale)
    return Fit(values, covariance, float(2.0 * found.cost))


def centre_and_spread(usual: Usual) -> tuple[FloatArray, FloatArray]:
    """Usual values and their spreads as arrays."""
    return np.array([value for value, _ in usual]), np.array([spread for _, spread in usual])


QUANTILE = 1.959964
"""Half width of a 95 % band in standard deviations, a bell curve's."""
_METERS_WORD = 4.0
"""How many spare readings the meters' stated accuracy counts for beside the points' own scatter; common practice, no source."""


def spare(equations: int, found: Fit, spread: FloatArray) -> float:
    """Degrees of freedom: equations less the parameters that the data, not the usual values, tell; 1 at least.

    Parameters
    ----------
    equations : int
        Of the data alone.
    found : Fit
        The estimate, usual values included.
    spread : ndarray, shape (p,)
        Spreads of the usual values.

    Notes
    -----
    The well-determined parameters, p - Σ C_ii/s_i²; Bishop, Pattern Recognition and Machine Learning, section 3.5.3 (from
    memory). A parameter that only its usual value holds takes no reading away from the others.
    """
    told = float(np.sum(1.0 - np.diag(found.covariance) / spread**2))
    return max(1.0, equations - told)


def loosening(misfit: float, degrees: float) -> float:
    """Factor on the meters' standard deviations that stands for scatter beyond them, in a band as well.

    Parameters
    ----------
    misfit : float
        Sum of squares of the data alone.
    degrees : float
        :func:`spare`.

    Notes
    -----
    The scale of the errors has a scaled inverse χ² law of four degrees around the meters' word, so that the scale beside n spare
    readings is √((4 + χ²)/(4 + n)) and the band's quantile Student's t of 4 + n (Gelman et al., Bayesian Data Analysis, section
    2.6, from memory). The scatter of one spare reading alone, with t of 1 degree, would make any band thirteen times as wide.
    """
    from scipy.stats import t

    degrees += _METERS_WORD
    scale = float(np.sqrt((_METERS_WORD + misfit) / degrees))
    return max(1.0, scale * float(t.ppf(0.5 + 0.5 * BAND, degrees)) / QUANTILE)


def whitened(
    electrical: FloatArray,
    torque: FloatArray,
    on: NDArray[np.bool_],
    variances: tuple[FloatArray, FloatArray, FloatArray],
) -> FloatArray:
    """Misfits of two equations with errors in common, in independent standard deviations.

    Parameters
    ----------
    electrical : ndarray, shape (n,)
        Misfit of the voltage equation. [V]
    torque : ndarray, shape (m,)
        Misfit of the torque equation, in the rows that are ``on``. [N m]
    on : ndarray of bool, shape (n,)
        Rows that have a torque equation.
    variances : tuple of ndarray
        Of the first (n), of the second (m), and their covariance (m).

    Returns
    -------
    ndarray, shape (n + m,)

    Notes
    -----
    Cholesky's factor of each row's 2 × 2 covariance, inverted.
    """
    first, second, both = variances
    root = np.sqrt(first)
    alone = electrical / root
    shared = both / root[on]
    return np.concatenate([alone, (torque - shared * alone[on]) / np.sqrt(second - shared**2)])


def common_covariance(
    residuals: Callable[[FloatArray, FloatArray], FloatArray], at: Fit, scale: FloatArray, sds: FloatArray
) -> FloatArray:
    """Covariance that errors common to many readings bring, beside that of each reading's own.

    Parameters
    ----------
    residuals : callable
        From parameters and the common errors (all 0: none) to residuals, priors included.
    at : Fit
        The estimate, made as if there were no common error.
    scale : ndarray, shape (p,)
        Size of a sensible change of each parameter.
    sds : ndarray, shape (q,)
        Standard deviations of the common errors.

    Returns
    -------
    ndarray, shape (p, p)

    Notes
    -----
    A common error g moves the estimate by -C Jᵀ (∂r/∂g) g, with C = (JᵀJ)⁻¹; the moves of independent errors add squared.
    """
    total = np.zeros_like(at.covariance)
    if not sds.any():
        return total
    none = np.zeros(len(sds))
    slope = jacobian(lambda values: residuals(values, none), at.values, scale)
    for place in np.flatnonzero(sds):
        step = none.copy()
        step[place] = 1e-5
        change = (residuals(at.values, step) - residuals(at.values, -step)) / 2e-5
        moved = -at.covariance @ (slope.T @ change) * sds[place]
        total += np.outer(moved, moved)
    return total
