"""Bands of what follows from an estimate, and what one more measurement would do to them: linearised, for any bench test."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.estimate import Residuals, jacobian

FloatArray = NDArray[np.float64]


def slope(quantity: Residuals, at: FloatArray, covariance: FloatArray) -> FloatArray:
    """Change of a quantity, one number or several, with each parameter; steps fit the parameters' spread."""
    return jacobian(quantity, at, 1e5 * np.minimum(np.sqrt(np.diag(covariance)), 1e-2))


def half_width(slopes: FloatArray, covariance: FloatArray, quantile: float) -> FloatArray:
    """Half a band's width: the quantile times the square root of gᵀ C g, for each row g of slopes."""
    return np.asarray(quantile * np.sqrt(np.einsum("...i,ij,...j->...", slopes, covariance, slopes)))


@dataclass(frozen=True, eq=False)
class Curve:
    """A quantity along another, with its band.

    Attributes
    ----------
    label : str
    along, value, low, high : ndarray, shape (n,)
    """

    label: str
    along: FloatArray
    value: FloatArray
    low: FloatArray
    high: FloatArray


@dataclass(frozen=True, slots=True)
class Further:
    """One more measurement that could be made.

    Attributes
    ----------
    what : str
        The measurement, as an instruction.
    narrows : float
        How much narrower it makes the band of the quantity asked for, 0 to 1.
    """

    what: str
    narrows: float


def ranked(
    along: FloatArray,
    covariance: FloatArray,
    common: FloatArray,
    at: FloatArray,
    candidates: Iterable[tuple[str, Residuals]],
) -> tuple[Further, ...]:
    """Which single further measurement would narrow a quantity's band most, best first.

    Parameters
    ----------
    along : ndarray, shape (p,)
        Change of the quantity with each parameter.
    covariance, common : ndarray, shape (p, p)
        Whole covariance, and the part of it that comes from the meters' common factors.
    at : ndarray, shape (p,)
        Present estimate.
    candidates : iterable of (str, callable)
        What to do, and the whitened equations of the point it would give.

    Notes
    -----
    Each candidate adds JᵀJ of its own whitened equations at the present estimate to the information C⁻¹; the new variance
    of the quantity is gᵀ(C⁻¹ + JᵀJ)⁻¹ g. No reading has to be made up for that: a linear model's variance does not depend
    on what is read. Design of experiments, "c-optimality" (Pukelsheim, from memory).
    """
    before = float(along @ covariance @ along)
    information = np.linalg.inv(covariance - common)
    kept = float(along @ common @ along)  # the same meters again: that stays
    scale = np.sqrt(np.diag(covariance))
    found = []
    for what, equations in candidates:
        matrix = jacobian(equations, at, scale)
        after = float(along @ np.linalg.solve(information + matrix.T @ matrix, along)) + kept
        found.append(Further(what, 1.0 - float(np.sqrt(after / before))))
    return tuple(sorted(found, key=lambda each: -each.narrows))
