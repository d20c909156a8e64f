"""Which capacity law a pack uses, and the laws' parameters fitted to it."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple, Protocol

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
    """Peukert's exponent and its largest misfit in capacity (share)."""

    exponent: float
    misfit: float


class TwoWellFit(NamedTuple):
    """Two-well parameters of one block and the largest misfit in run time (share)."""

    share: float
    rate_per_h: float
    whole_ah: float
    misfit: float


class SaturatingFit(NamedTuple):
    """Saturating law's parameters of one block and the largest misfit in capacity (share)."""

    capacity_ah: float
    gain: float
    reference_a: float
    exponent: float
    misfit: float


class LawNumbers(Protocol):
    """The numbers that the three capacity laws need; a ride's machine and a single block both have them (SI)."""

    @property
    def capacity(self) -> float: ...
    @property
    def rated_current(self) -> float: ...
    @property
    def exponent(self) -> float: ...
    @property
    def law(self) -> int: ...
    @property
    def well_share(self) -> float: ...
    @property
    def well_rate(self) -> float: ...
    @property
    def well_whole(self) -> float: ...
    @property
    def law_capacity(self) -> float: ...
    @property
    def law_gain(self) -> float: ...
    @property
    def law_reference(self) -> float: ...
    @property
    def law_exponent(self) -> float: ...
    @property
    def coulombic(self) -> float: ...


def choose_law(pack: Pack, battery_model: str | None) -> str:
    """The law in use: the one named, else saturating with a data sheet, else Peukert.

    Raises
    ------
    InputProblem
        An unknown name, or the saturating law for a pack it has no values for.
    """
    if battery_model is None:
        return "saturating" if pack.capacity_by_hours is not None else "peukert"
    if battery_model not in LAW_NAMES:
        raise InputProblem("battery_model", "", repr(battery_model), "one of " + ", ".join(LAW_NAMES))
    if battery_model == "saturating" and not has_saturating(pack):
        raise InputProblem(
            "battery_model",
            "",
            "saturating",
            "capacity_by_hours in the pack, which this chemistry needs for the saturating law",
        )
    return battery_model


def has_saturating(pack: Pack) -> bool:
    """Whether the saturating law has values: a data sheet, or the published small-block ones for AGM and gel."""
    return pack.capacity_by_hours is not None or pack.chemistry in ("lead-acid-agm", "lead-acid-gel")


def available_laws(pack: Pack) -> list[str]:
    """Names of the laws that can be asked of this pack."""
    return [name for name in LAW_NAMES if name != "saturating" or has_saturating(pack)]


def fit_peukert(pack: Pack) -> PeukertFit:
    """Least-squares k of a data sheet, anchored at the rated capacity; misfit in capacity."""
    if pack.capacity_by_hours is None:
        assert pack.peukert_exponent is not None
        return PeukertFit(pack.peukert_exponent, 0.0)
    hours, charge = np.array(pack.capacity_by_hours, dtype=float).T
    x = np.log(hours / pack.rated_hours)
    y = np.log(charge / pack.block_capacity_ah)
    slope = float(np.clip((x @ y) / (x @ x), 0.0, 0.5))  # Q/C = (t/H)^((k-1)/k)
    exponent = 1.0 / (1.0 - slope)
    misfit = float(np.max(np.abs(np.exp(slope * x - y) - 1.0)))
    return PeukertFit(exponent, misfit)


def saturating_in(hours: float, fit: SaturatingFit) -> float:
    """Capacity when emptied in a time: the charge Q with Q = C(Q/t). [Ah]"""
    from scipy.optimize import brentq

    def surplus(charge: float) -> float:
        return charge - saturating_capacity(charge / hours, fit.capacity_ah, fit.gain, fit.reference_a, fit.exponent)

    return float(brentq(surplus, 0.0, fit.gain * fit.capacity_ah, xtol=1e-12))


def capacity_of_hours(pack: Pack, hours: FloatArray) -> FloatArray:
    """A block's capacity when emptied in given times, by the pack's own law. [Ah]"""
    if pack.capacity_by_hours is not None:
        fit = fit_saturating(pack)
        return np.array([saturating_in(float(t), fit) for t in hours])
    assert pack.peukert_exponent is not None
    exponent = (pack.peukert_exponent - 1.0) / pack.peukert_exponent
    return np.asarray(pack.block_capacity_ah * np.minimum(1.0, hours / pack.rated_hours) ** exponent)


@lru_cache(maxsize=256)
def _two_well(shares: tuple[float, ...], times: tuple[float, ...] = TWO_WELL_HOURS) -> TwoWellFit:
    from scipy.optimize import least_squares

    hours = np.array(times)
    wanted = np.array(shares)

    def misfit(p: FloatArray) -> FloatArray:
        share, rate, whole = 1.0 / (1.0 + np.exp(-p[0])), np.exp(p[1]), np.exp(p[2])
        model = np.array([two_well_capacity(t, whole, share, rate) for t in hours])
        return np.asarray(model / wanted - 1.0)

    fit = least_squares(
        misfit, [0.0, 0.0, 0.05], bounds=([-6.0, -6.0, -1.0], [9.0, 4.0, 1.0]), xtol=1e-14, ftol=1e-14, gtol=1e-14
    )
    share, rate, whole = 1.0 / (1.0 + np.exp(-fit.x[0])), np.exp(fit.x[1]), np.exp(fit.x[2])
    return TwoWellFit(float(share), float(rate), float(whole), float(np.max(np.abs(fit.fun))))


def fit_two_well(pack: Pack) -> TwoWellFit:
    """Two-well parameters whose constant-current run times match the pack's own law at 20 h, 5 h and 1 h.

    Returns
    -------
    TwoWellFit
        c, κ [1/h], C_∞ [Ah] of one block at 25 °C, and the misfit.
    """
    charge = capacity_of_hours(pack, np.array(TWO_WELL_HOURS)) / pack.block_capacity_ah
    fit = _two_well(tuple(max(1e-9, round(float(q), 9)) for q in charge))
    return fit._replace(whole_ah=fit.whole_ah * pack.block_capacity_ah)


def fit_two_well_to_rows(rows: tuple[tuple[float, float], ...]) -> TwoWellFit:
    """Two-well parameters fitted to a data sheet's own rows of [hours, ampere-hours].

    Returns
    -------
    TwoWellFit
        c, κ [1/h], C_∞ [Ah], and the largest misfit.
    """
    hours, charge = np.array(sorted(rows), dtype=float).T
    top = float(charge.max())
    fit = _two_well(tuple(max(1e-9, round(float(q), 9)) for q in charge / top), tuple(float(t) for t in hours))
    return fit._replace(whole_ah=fit.whole_ah * top)


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
    return SaturatingFit(float(capacity), float(gain), reference, float(exponent), float(np.max(np.abs(fit.fun))))


def fit_saturating(pack: Pack) -> SaturatingFit:
    """Saturating law fitted to the block's data sheet, or to the published shares of small sealed blocks.

    Returns
    -------
    SaturatingFit
        C_0 [Ah], K_c, I_0 = C_H/H [A] and d of one block at 25 °C, and the misfit.
    """
    rows = pack.capacity_by_hours
    if rows is None:
        rows = tuple((hours, share * pack.block_capacity_ah) for hours, share in _SMALL_BLOCK_HOURS)
    return _saturating(tuple(sorted(rows)), pack.block_capacity_ah / pack.rated_hours)
