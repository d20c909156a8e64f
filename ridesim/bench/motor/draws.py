"""Motors that agree with a spin test, drawn evenly: the bands of a log that leaves the resistance wide open."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.estimate import Fit, Residuals, jacobian
from ridesim.bench.motor.model import BRUSH, LOG_R

FloatArray = NDArray[np.float64]

WIDE = 0.2
"""Standard deviation of ln R above which a straight line through the estimate no longer bounds what hangs on R."""
COUNT = 512
"""Motors drawn: a power of two, for Sobol's points."""
_STEPS_A_SD = 2.0
"""Steps in ln R to one of its standard deviations."""
_FAR, _MOST_STEPS = 16.0, 60
"""The walk goes on until the misfit has risen by that, and no further than so many steps to a side."""


def plausible(residuals: Residuals, found: Fit, common: FloatArray) -> FloatArray:
    """Motors in proportion to how well they agree with points and usual values.

    Parameters
    ----------
    residuals : callable
        From parameters to residuals in standard deviations, usual values included.
    found : Fit
        The best fit.
    common : ndarray, shape (p, p)
        Covariance from the meters' common factors, drawn on top.

    Returns
    -------
    ndarray, shape (COUNT, p)
        Equally likely; the same for the same log. Drags and brush drop 0 or above.

    Notes
    -----
    Free spins bend the misfit strongly with ln R, but at a given R the rest is nearly a straight-line fit. So ln R is walked
    through; at each step the others are fitted, and its weight is exp(-χ²/2) times the root of the determinant of their
    covariance (Laplace's approximation of the integral over them; Rue, Martino & Chopin 2009, from memory). Each drawn ln R brings
    the others from the bell curve at the nearest steps. Sobol's points fill the space more evenly than random ones.
    """
    from scipy.special import ndtri
    from scipy.stats import qmc

    steps, centres, roots, weights = _walk(residuals, found)
    size = len(found.values)
    points = qmc.Sobol(2 * size, scramble=True, seed=1).random(COUNT)
    edge = np.concatenate([[0.0], np.cumsum(0.5 * (weights[1:] + weights[:-1]) * np.diff(steps))])
    log_r = np.interp(points[:, LOG_R], edge / edge[-1], steps)
    nearest = np.abs(log_r[:, None] - steps).argmin(axis=1)
    rest = [place for place in range(size) if place != LOG_R]
    draws = np.empty((COUNT, size))
    draws[:, LOG_R] = log_r
    normal = ndtri(points)
    for place, column in enumerate(rest):
        draws[:, column] = np.interp(log_r, steps, centres[:, column])
        draws[:, column] += np.einsum("ij,ij->i", roots[nearest][:, place, :], normal[:, rest])
    values, vectors = np.linalg.eigh(common)
    draws += (normal[:, size:] * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    draws[:, BRUSH:] = np.maximum(draws[:, BRUSH:], 0.0)
    return draws


def _walk(residuals: Residuals, found: Fit) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Values of ln R, the best fit at each, the root of the others' covariance, and the weight."""
    stride = float(np.sqrt(found.covariance[LOG_R, LOG_R])) / _STEPS_A_SD
    rows = [_others(residuals, found.values, found)]
    for direction in (-1.0, 1.0):
        row = rows[0]
        for _ in range(_MOST_STEPS):
            theta = row[0].copy()
            theta[LOG_R] += direction * stride
            if not np.isfinite(residuals(theta)).all():
                break
            row = _others(residuals, theta, found)
            rows.append(row)
            if row[2] - found.misfit > _FAR:
                break
    rows.sort(key=lambda each: float(each[0][LOG_R]))
    thetas = np.array([row[0] for row in rows])
    height = np.array([row[3] - 0.5 * row[2] for row in rows])
    return thetas[:, LOG_R], thetas, np.array([row[1] for row in rows]), np.exp(height - height.max())


def _others(residuals: Residuals, theta: FloatArray, found: Fit) -> tuple[FloatArray, FloatArray, float, float]:
    """Fit of all but ln R by Gauss-Newton: parameters, root of their covariance, misfit, logarithm of that root's determinant."""
    rest = [place for place in range(len(theta)) if place != LOG_R]
    scale = np.sqrt(np.diag(found.covariance))
    now = residuals(theta)
    for _ in range(6):
        slope = jacobian(residuals, theta, scale)[:, rest] * scale[rest]
        move = np.asarray(np.linalg.lstsq(slope, -now, rcond=None)[0], dtype=np.float64)
        theta, now, moved = _downhill(residuals, theta, now, rest, np.asarray(move * scale[rest], dtype=np.float64))
        if not moved or np.abs(move).max() < 1e-3:
            break
    covariance = np.linalg.inv(slope.T @ slope) * np.outer(scale[rest], scale[rest])
    root = np.linalg.cholesky(covariance)
    return theta, root, float(np.sum(now**2)), float(np.log(np.diag(root)).sum())


def _downhill(
    residuals: Residuals, theta: FloatArray, now: FloatArray, rest: list[int], move: FloatArray
) -> tuple[FloatArray, FloatArray, bool]:
    """The step, halved until the misfit falls; with poor meters a whole one may leap to where nothing can be reckoned."""
    for share in (1.0, 0.5, 0.25, 0.125):
        there = theta.copy()
        there[rest] += share * move
        after = residuals(there)
        if np.isfinite(after).all() and np.sum(after**2) <= np.sum(now**2):
            return there, after, True
    return theta, now, False


def quantiles(draws: FloatArray, quantity: Callable[[FloatArray], float], share: float) -> tuple[float, float]:
    """The middle share of a quantity over the drawn motors: its low and high end."""
    values = np.array([quantity(draw) for draw in draws])
    low, high = np.quantile(values, [0.5 - 0.5 * share, 0.5 + 0.5 * share])
    return float(low), float(high)
