"""Which capacity law a pack uses, and the laws' parameters fitted to it."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ridesim.physics.capacity_laws import LAW_NAMES, saturating_capacity, two_well_capacity
from ridesim.vehicle import Pack
from ridesim.words import InputProblem

FloatArray = NDArray[np.float64]

TWO_WELL_HOURS = (20.0, 5.0, 1.0)
"""Run times at which the two-well law is made to match the pack's own law."""

_SMALL_BLOCK_HOURS = ((20.0, 1.00), (10.0, 0.94), (5.0, 0.86), (1.0, 0.62), (0.5, 0.52), (0.25, 0.43))
"""Shares of the 20 h capacity of small sealed lead-acid blocks, typical of data sheets (from memory)."""


class PeukertFit(NamedTuple):
    """Peukert's law of one block at 25 °C."""

    exponent: float
    capacity_ah: float
    rated_hours: float

    def capacity_in(self, hours: FloatArray) -> FloatArray:
        """Capacity when emptied in given times: C min(1, t/H)^((k - 1)/k). [Ah]"""
        slope = (self.exponent - 1.0) / self.exponent
        return np.asarray(self.capacity_ah * np.minimum(1.0, hours / self.rated_hours) ** slope)


class TwoWellFit(NamedTuple):
    """Two-well law of one block at 25 °C, c, κ and C_∞."""

    share: float
    rate_per_h: float
    whole_ah: float

    def capacity_in(self, hours: FloatArray) -> FloatArray:
        """Capacity when emptied in given times. [Ah]"""
        return np.array([two_well_capacity(t, self.whole_ah, self.share, self.rate_per_h) for t in hours])


class SaturatingFit(NamedTuple):
    """Saturating law of one block at 25 °C, C_0, K_c, I_0 and d."""

    capacity_ah: float
    gain: float
    reference_a: float
    exponent: float

    def capacity_in(self, hours: FloatArray) -> FloatArray:
        """Capacity when emptied in given times: the charge Q with Q = C(Q/t). [Ah]"""
        from scipy.optimize import brentq

        def surplus(charge: float, time: float) -> float:
            return charge - saturating_capacity(
                charge / time, self.capacity_ah, self.gain, self.reference_a, self.exponent
            )

        most = self.gain * self.capacity_ah
        return np.array([brentq(surplus, 0.0, most, args=(float(t),), xtol=1e-12) for t in hours])


LawFit = PeukertFit | TwoWellFit | SaturatingFit
"""A law with its parameters."""


def choose_law(pack: Pack, battery_model: str | None) -> str:
    """The law in use: the one named, else saturating with a data sheet, else Peukert.

    Raises
    ------
    InputProblem
        An unknown name, or the saturating law for a pack it has no values for.
    """
    if battery_model is None:
        return "saturating" if pack.capacity_by_hours is not None else "peukert"
    known = available_laws(pack)
    if battery_model not in known:
        needs = "" if "saturating" in known else "; saturating needs capacity_by_hours in the pack for this chemistry"
        raise InputProblem("battery_model", "", repr(battery_model), "one of " + ", ".join(known) + needs)
    return battery_model


def available_laws(pack: Pack) -> list[str]:
    """Names of the laws that can be asked of this pack.

    The saturating law needs values: a data sheet, or the published ones of small blocks for AGM and gel.
    """
    saturating = pack.capacity_by_hours is not None or pack.chemistry in ("lead-acid-agm", "lead-acid-gel")
    return [name for name in LAW_NAMES if name != "saturating" or saturating]


def fit_peukert(pack: Pack) -> PeukertFit:
    """Peukert's law of a block: the pack's own k, or with a data sheet the least-squares k through the rated capacity."""
    if pack.capacity_by_hours is None:
        return PeukertFit(pack.in_force.peukert_exponent, pack.block_capacity_ah, pack.rated_hours)
    hours, charge = np.array(pack.capacity_by_hours, dtype=float).T
    x = np.log(hours / pack.rated_hours)
    y = np.log(charge / pack.block_capacity_ah)
    slope = float(np.clip((x @ y) / (x @ x), 0.0, 0.5))  # Q/C = (t/H)^((k-1)/k)
    return PeukertFit(1.0 / (1.0 - slope), pack.block_capacity_ah, pack.rated_hours)


def fit_two_well(pack: Pack) -> TwoWellFit:
    """Two-well law whose constant-current run times match the pack's own law at 20 h, 5 h and 1 h."""
    own = fit_peukert(pack) if pack.capacity_by_hours is None else fit_saturating(pack)
    hours = np.array(TWO_WELL_HOURS)
    return fit_two_well_to(hours, own.capacity_in(hours), pack.block_capacity_ah)


def fit_two_well_to(hours: FloatArray, charge: FloatArray, unit: float) -> TwoWellFit:
    """Two-well law fitted to capacities in given times, in shares of a unit: blocks of one kind and any size share one fit."""
    fit = _two_well(tuple(max(1e-9, round(float(q), 9)) for q in charge / unit), tuple(hours.tolist()))
    return fit._replace(whole_ah=fit.whole_ah * unit)


@lru_cache(maxsize=256)
def _two_well(shares: tuple[float, ...], times: tuple[float, ...]) -> TwoWellFit:
    from scipy.optimize import least_squares

    hours, wanted = np.array(times), np.array(shares)

    def law(p: FloatArray) -> TwoWellFit:
        return TwoWellFit(float(1.0 / (1.0 + np.exp(-p[0]))), float(np.exp(p[1])), float(np.exp(p[2])))

    def misfit(p: FloatArray) -> FloatArray:
        return np.asarray(law(p).capacity_in(hours) / wanted - 1.0)

    fit = least_squares(
        misfit, [0.0, 0.0, 0.05], bounds=([-6.0, -6.0, -1.0], [9.0, 4.0, 1.0]), xtol=1e-14, ftol=1e-14, gtol=1e-14,
    )  # fmt: skip
    return law(fit.x)


@lru_cache(maxsize=256)
def _saturating(rows: tuple[tuple[float, float], ...], reference: float) -> SaturatingFit:
    from scipy.optimize import least_squares

    hours, charge = np.array(rows, dtype=float).T
    ratio = charge / hours / reference

    def misfit(p: FloatArray) -> FloatArray:
        gain, exponent, capacity = 1.0 + np.exp(p[0]), np.exp(p[1]), np.exp(p[2])
        return np.asarray(gain * capacity / (1.0 + (gain - 1.0) * ratio**exponent) / charge - 1.0)

    start = [np.log(0.13), np.log(0.75), np.log(charge.max())]
    # Wider than any block; a sheet that is level and then breaks off would send the exponent beyond all numbers.
    wide = ([np.log(1e-9), np.log(0.02), start[2] - 3.0], [np.log(1e6), np.log(20.0), start[2] + 3.0])
    fit = least_squares(misfit, start, bounds=wide, xtol=1e-14, ftol=1e-14, gtol=1e-14)
    gain, exponent, capacity = 1.0 + np.exp(fit.x[0]), np.exp(fit.x[1]), np.exp(fit.x[2])
    return SaturatingFit(float(capacity), float(gain), reference, float(exponent))


def fit_saturating(pack: Pack) -> SaturatingFit:
    """Saturating law fitted to the block's data sheet, or to the published shares of small sealed blocks; I_0 = C_H/H."""
    rows = pack.capacity_by_hours
    if rows is None:
        rows = tuple((hours, share * pack.block_capacity_ah) for hours, share in _SMALL_BLOCK_HOURS)
    return _saturating(tuple(sorted(rows)), pack.block_capacity_ah / pack.rated_hours)
