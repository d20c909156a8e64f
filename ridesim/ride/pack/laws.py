"""Which capacity law a pack uses, and the laws' parameters fitted to it."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ridesim.physics.capacity_laws import LAW_NAMES, two_well_capacity
from ridesim.physics.compiled import compiled
from ridesim.vehicle import Pack
from ridesim.words import InputProblem

FloatArray = NDArray[np.float64]

TWO_WELL_HOURS = (20.0, 5.0, 1.0)
"""Run times at which the two-well law is made to match the pack's own law."""

SHEET_EXPONENT = 0.78
"""δ where only k is known: what the rows of a 12 V 40 Ah block's data sheet give (vinachem.com.vn; k from its ends 1.206)."""


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
    """Saturating law of one block at 25 °C, C_0, K_c, I_0 and d; below ``level_a`` the capacity grows no more."""

    capacity_ah: float
    gain: float
    reference_a: float
    exponent: float
    level_a: float

    def capacity_in(self, hours: FloatArray) -> FloatArray:
        """Capacity when emptied in given times: the charge Q with Q = C(Q/t). [Ah]"""
        return np.array([charge_in(float(time), *self) for time in hours])


@compiled
def charge_in(
    hours: float, capacity_ah: float, gain: float, reference_a: float, exponent: float, level_a: float
) -> float:
    """What a block of :class:`SaturatingFit` gives in a time. [Ah]

    Newton's method on the current, I (1 + (K_c - 1) (I/I_0)^d) = K_c C_0/t, from above: the left side is convex.
    """
    most = gain * capacity_ah
    current = most / hours
    for _ in range(60):
        bent = (gain - 1.0) * (current / reference_a) ** exponent
        step = (current * (1.0 + bent) - most / hours) / (1.0 + (1.0 + exponent) * bent)
        current -= step
        if abs(step) <= 1e-15 * current:
            break
    if current <= level_a:
        return float(most / (1.0 + (gain - 1.0) * (level_a / reference_a) ** exponent))
    return float(current * hours)


RECOVERY_BAND = (0.2, 0.7)
"""Between these shares the twelve calculated intermittent discharges of data/published/lead_acid_electrochemical.csv all lie."""


LawFit = PeukertFit | TwoWellFit | SaturatingFit
"""A law with its parameters."""


def choose_law(battery_model: str | None) -> str:
    """The law in use: the one named, else the recovery law.

    Raises
    ------
    InputProblem
        An unknown name.
    """
    if battery_model is None:
        return "recovery"
    if battery_model not in LAW_NAMES:
        raise InputProblem("battery_model", "", repr(battery_model), "one of " + ", ".join(LAW_NAMES))
    return battery_model


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
    return SaturatingFit(float(capacity), float(gain), reference, float(exponent), reference * float(ratio.min()))


def fit_saturating(pack: Pack) -> SaturatingFit:
    """Saturating law fitted to the block's data sheet, or to what its k says; I_0 = C_H/H."""
    rated = pack.block_capacity_ah / pack.rated_hours
    if pack.capacity_by_hours is not None:
        return _saturating(tuple(sorted(pack.capacity_by_hours)), rated)
    bend, exponent = bend_of(pack.in_force.peukert_exponent)
    return SaturatingFit(pack.block_capacity_ah, 1.0 + float(bend), rated, float(exponent), rated)


def loss_at(ratio: FloatArray, peukert_exponent: FloatArray | float) -> FloatArray:
    """Capacity at the rated current over that at a multiple of it, for a k or several (MODEL.md, 6.6)."""
    bend, exponent = bend_of(peukert_exponent)
    return np.asarray(np.maximum(1.0, (1.0 + bend * ratio**exponent) / (1.0 + bend)))


def bend_of(peukert_exponent: Any) -> tuple[Any, Any]:
    """b and δ of the saturating law that gives what k, one or several, says at the rated hours and at a twentieth of them.

    Peukert's law promises ever more charge at ever slower rates; measured blocks are level there (data/published/measured_blocks.csv).
    With Q the share that k gives in a twentieth of the rated hours, the current is 20 Q I_R, and (1 + b)/(1 + b (20 Q)^δ) = Q.
    """
    k = peukert_exponent
    share = 20.0 ** (-(k - 1.0) / k)
    exponent = np.maximum(SHEET_EXPONENT, k - 0.75)  # at most so slow a bend can give so large a k
    return (1.0 - share) / (share * (20.0 * share) ** exponent - 1.0), exponent
