"""From a spin test to a motor: K, R at 20 °C, brush drop, friction, viscous drag, each with what is known of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.estimate import (
    BAND,
    CONTRADICTION,
    QUANTILE,
    Fit,
    Residuals,
    Usual,
    centre_and_spread,
    common_covariance,
    fit,
    loosening,
    spare,
)
from ridesim.bench.log_files import need_log
from ridesim.bench.motor.checks import check, contradicting
from ridesim.bench.motor.draws import WIDE, plausible, quantiles
from ridesim.bench.motor.limits import highest
from ridesim.bench.motor.log import SpinLog
from ridesim.bench.motor.model import (
    BRUSH,
    CHAIN,
    FRICTION,
    LOG_K,
    LOG_R,
    VISCOUS,
    Points,
    gain_sds,
    magnet_coefficient,
    points_of,
    residuals,
    scaled,
)
from ridesim.bench.motor.remarks import findings_for, separation_text
from ridesim.vehicle import Motor
from ridesim.words import Finding, Uncertain

FloatArray = NDArray[np.float64]

_USUAL_BRUSH_V, _USUAL_BRUSH_SD = 1.0, 0.6
"""Brush drop, metal-graphite 0.6 to 1.0 V, carbon up to 2 V (from memory): what is used where the data say nothing."""
_USUAL_NO_LOAD_SHARE, _USUAL_LOG_SD = 0.03, 1.0
"""No-load current over the current of the held rotor at the same voltage: 1 to 8 %; common practice, no source."""


@dataclass(frozen=True, eq=False)
class Residual:
    """One row's misfit: electrical and, where the motor turned under power, torque.

    Attributes
    ----------
    row : str
        Row of the log.
    voltage_v : float
        Measured less modelled terminal voltage. [V]
    voltage_sds, torque_sds : float
        The misfits over what the meters explain; NaN where the row has no torque equation.
    """

    row: str
    voltage_v: float
    voltage_sds: float
    torque_sds: float


@dataclass(frozen=True, eq=False)
class SpinResult:
    """What a spin test says about a motor.

    Attributes
    ----------
    log : SpinLog
    free : Fit
        Estimate and covariance of (ln K, ln R, V_br, τ_f, b[, chain drag]) without bounds: what bands are made from.
    best : ndarray
        The same with drags and brush drop held at 0 or above: what the vehicle gets.
    points : Points
    widening : float
        How many times more than the meters explain the points scatter; 1 mostly.
    loose : Points
        The points with the standard deviations that this scatter asks for (:func:`ridesim.bench.estimate.loosening`); what
        estimate and bands are made from. The usual values keep their own spread.
    shares : ndarray
        Standard deviation over that of the usual values alone: near 1, the data say nothing.
    common : ndarray
        Covariance from errors common to all readings of a meter; more readings do not lessen it.
    """

    log: SpinLog
    free: Fit
    best: FloatArray
    points: Points
    widening: float
    loose: Points
    shares: FloatArray
    common: FloatArray

    @cached_property
    def covariance(self) -> FloatArray:
        """Covariance of the parameters, common errors of the meters included."""
        return np.asarray(self.free.covariance + self.common)

    @cached_property
    def highest(self) -> FloatArray:
        """What no motor with these readings can exceed, a parameter each (:mod:`ridesim.bench.motor.limits`)."""
        return highest(self.loose, self.log, len(self.best))

    @cached_property
    def draws(self) -> FloatArray | None:
        """Equally likely motors, one a row, where the points leave the resistance wide open; None where bands are linearised."""
        if float(np.sqrt(self.covariance[LOG_R, LOG_R])) <= WIDE:
            return None
        usual = _usual(self.points, len(self.best))
        drawn = plausible(_with_usual(self.loose, self.log, usual), self.free, self.common)
        return np.asarray(np.minimum(drawn, self.highest))

    def _band(self, place: int, exponential: bool = False) -> Uncertain:
        best, centre, most = (float(each[place]) for each in (self.best, self.free.values, self.highest))
        if self.draws is not None:
            value = float(np.exp(best)) if exponential else best
            low, high = quantiles(
                self.draws, lambda draw: float(np.exp(draw[place]) if exponential else draw[place]), BAND
            )
            return Uncertain(value, min(low, value), max(high, value))
        half = QUANTILE * float(np.sqrt(self.covariance[place, place]))
        if exponential:
            best, centre = float(np.exp(best)), float(np.exp(centre))
            # Linear around the estimate where that stays above zero: the data fix a slope, not its logarithm.
            low = centre * (1.0 - half) if half < 0.7 else centre * np.exp(-half)
            high = centre * (1.0 + half) if half < 0.7 else centre * np.exp(half)
            return Uncertain(best, min(low, best), max(min(high, float(np.exp(most))), best))
        return Uncertain(best, min(max(0.0, centre - half), best), max(min(centre + half, most), best))

    @cached_property
    def torque_constant_nm_per_a(self) -> Uncertain:
        """K at 20 °C. [N m/A = V s/rad]"""
        return self._band(LOG_K, exponential=True)

    @cached_property
    def resistance_ohm(self) -> Uncertain:
        """R at 20 °C. [ohm]"""
        return self._band(LOG_R, exponential=True)

    @cached_property
    def brush_drop_v(self) -> Uncertain:
        """Both brushes. [V]"""
        return self._band(BRUSH)

    @cached_property
    def friction_torque_nm(self) -> Uncertain:
        """Constant drag at the shaft; with chain and wheel, where they turned in every row. [N m]"""
        return self._band(FRICTION)

    @cached_property
    def viscous_nm_per_rad_s(self) -> Uncertain:
        """Drag growing with speed. [N m s/rad]"""
        return self._band(VISCOUS)

    @cached_property
    def chain_torque_nm(self) -> Uncertain | None:
        """Drag of chain and lifted wheel, seen at the motor's shaft; None where it was not asked for. [N m]"""
        return self._band(CHAIN) if len(self.best) > CHAIN else None

    @cached_property
    def values(self) -> dict[str, Uncertain]:
        """The motor's five numbers by their key in a build file."""
        return {
            "torque_constant_nm_per_a": self.torque_constant_nm_per_a,
            "resistance_ohm": self.resistance_ohm,
            "brush_drop_v": self.brush_drop_v,
            "friction_torque_nm": self.friction_torque_nm,
            "viscous_nm_per_rad_s": self.viscous_nm_per_rad_s,
        }

    @cached_property
    def residuals(self) -> tuple[Residual, ...]:
        """One a row of the log."""
        return _residual_rows(self)

    @cached_property
    def not_separated(self) -> tuple[str, ...]:
        """Sentences: what the data cannot tell, and what was taken instead."""
        return separation_text(self)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What to watch about this test and this motor."""
        return tuple(findings_for(self))

    def motor_keys(self) -> dict[str, Any]:
        """Keys for the [motor] section of a build file."""
        rounded = {name: float(f"{band.value:.4g}") for name, band in self.values.items()}
        return {"kind": "permanent-magnet", **rounded, "magnet": self.log.magnet}

    def motor(self, like: Motor) -> Motor:
        """The identified motor with nameplate, mass and heat of another description.

        Parameters
        ----------
        like : Motor
            Where the numbers that a spin test does not give come from.
        """
        kept = {
            name: getattr(like, name)
            for name in type(like).model_fields
            if name in like.model_fields_set
            and name not in self.motor_keys()
            and name not in ("curve", "curve_voltage_v", "series_constant_nm_per_a2", "saturation_current_a")
        }
        measured = {name: float(f"{band.value:.6g}") for name, band in self.values.items()}
        return Motor.model_validate({**kept, **self.motor_keys(), **measured})


def identify(log: SpinLog, file: str = "the bench log") -> SpinResult:
    """The motor behind a spin test.

    Parameters
    ----------
    log : SpinLog
        Kind test, no-load points, held-rotor points, known loads, as typed.
    file : str
        What messages call the log.

    Returns
    -------
    SpinResult
        Five numbers with 95 % bands, residuals, what cannot be separated.

    Raises
    ------
    InputProblem
        No log, not a permanent-magnet motor, or points that cannot be right; names the row.

    Notes
    -----
    Total least squares (:func:`ridesim.bench.motor.model.residuals`) with the meters' accuracy as one standard deviation of
    each reading, errors of different readings independent; the factor common
    to a meter's readings, where its ``..._gain_percent`` is given, comes on top
    (:func:`ridesim.bench.estimate.common_covariance`). Weak usual values stand in where the data say nothing: brush
    drop 1.0 ± 0.6 V, resistance from a no-load current of 3 % of the held current (a factor of e either way), viscous
    share 0.3 ± 0.4 of the no-load drag. Bands are linearised, or, where the resistance is known to no better than a fifth (no
    held rotor), the middle of the motors that agree with the points (:mod:`ridesim.bench.motor.draws`). Where the points scatter
    more than the meters explain in 99 of 100 tests, all readings count as less accurate
    (:func:`ridesim.bench.estimate.loosening`). No band reaches beyond what the readings allow any motor
    (:mod:`ridesim.bench.motor.limits`).
    """
    need_log(log, SpinLog, "load_spin_log", file)
    check(log, file)
    points = points_of(log)
    return estimate(points, log, file)


def estimate(points: Points, log: SpinLog, file: str = "the bench log", strict: bool = True) -> SpinResult:
    """The fit behind :func:`identify`, from points that have been checked; ``strict`` refuses contradictions."""
    from scipy.stats import chi2

    size = 6 if _separates_chain(points) else 5
    usual = _usual(points, size)
    found = _fit(points, log, usual, size)
    equations = len(points.row) + int(points.turning.sum())
    _, prior_sd = centre_and_spread(usual)
    degrees = spare(equations, found, prior_sd)
    data_misfit = float(np.sum(_data(found.values, points, log) ** 2))
    chance = float(chi2.sf(data_misfit, degrees))
    if strict and chance < CONTRADICTION:
        _refuse(points, log, usual, size, data_misfit, file)
    widening, loose = 1.0, points
    if chance < 0.01:
        widening = float(np.sqrt(data_misfit / degrees))
        loose = points.loosened(loosening(data_misfit, degrees))
        found = _fit(loose, log, usual, size)
    common = _common(found, loose, log, usual)
    shares = np.minimum(1.0, np.sqrt(np.diag(found.covariance)) / prior_sd)
    return SpinResult(log, found, _bounded(found, loose, log, usual), points, widening, loose, shares, common)


def _common(found: Fit, points: Points, log: SpinLog, usual: Usual) -> FloatArray:
    """Covariance from the meters' common factors."""
    centre, spread = centre_and_spread(usual)

    def off(theta: FloatArray, gains: FloatArray) -> FloatArray:
        return np.concatenate([_data(theta, scaled(points, gains), log), (theta - centre) / spread])

    return common_covariance(off, found, spread, gain_sds(log.meter))


def _separates_chain(points: Points) -> bool:
    loose = points.turning & ~points.chained & (points.current > 0.0)
    return bool(points.chained.any() and loose.any())


def _usual(points: Points, size: int) -> Usual:
    """Usual value and its spread for each parameter."""
    spins = points.turning & (points.torque == 0.0)
    volts, amps, speed = points.voltage[spins], points.current[spins], points.speed[spins]
    constant = float(np.max((volts - 0.5) / speed)) if (volts > 1.0).all() else float(np.max(volts / speed))
    drag = constant * float(np.mean(amps))
    ohms = float(np.mean(_USUAL_NO_LOAD_SHARE * volts / amps))
    fastest = float(speed.max())
    usual = [
        (float(np.log(constant)), 1.0),
        (float(np.log(ohms)), _USUAL_LOG_SD),
        (_USUAL_BRUSH_V, _USUAL_BRUSH_SD),
        (0.7 * drag, 1.0 * drag),
        (0.3 * drag / fastest, 0.4 * drag / fastest),
        (0.3 * drag, drag),
    ]
    return usual[:size]


def _data(theta: FloatArray, points: Points, log: SpinLog) -> FloatArray:
    with np.errstate(all="ignore"):
        return residuals(theta, points, log.room_c, magnet_coefficient(log.magnet))


def _with_usual(points: Points, log: SpinLog, usual: Usual) -> Residuals:
    """Residuals of the points, then of the usual values."""
    centre, spread = centre_and_spread(usual)

    def everything(theta: FloatArray) -> FloatArray:
        return np.concatenate([_data(theta, points, log), (theta - centre) / spread])

    return everything


def _fit(points: Points, log: SpinLog, usual: Usual, size: int, lower: bool = False) -> Fit:
    centre, spread = centre_and_spread(usual)
    start = centre.copy()
    held = ~points.turning & ~points.opened
    if held.any():
        volts, amps = points.voltage[held], points.current[held]
        top = int(np.argmax(amps))
        start[BRUSH] = 0.5 * min(1.0, float(volts[top]))
        start[LOG_R] = float(np.log(max(volts[top] - start[BRUSH], 0.2 * volts[top]) / amps[top]))
    bounds = np.array([-np.inf, -np.inf, *[0.0] * (size - 2)]) if lower else None
    return fit(_with_usual(points, log, usual), start, spread, bounds)


def _bounded(found: Fit, points: Points, log: SpinLog, usual: Usual) -> FloatArray:
    if (found.values[BRUSH:] >= 0.0).all():
        return found.values
    return _fit(points, log, usual, len(usual), lower=True).values


def _refuse(points: Points, log: SpinLog, usual: Usual, size: int, misfit: float, file: str) -> None:
    """Name the row without which the others agree best."""
    ease = []
    for index in range(len(points.row)):
        rest = points.without(index)
        if not (rest.turning & (rest.torque == 0.0)).any():
            ease.append(np.inf)
            continue
        again = _fit(rest, log, usual, size)
        ease.append(float(np.sum(_data(again.values, rest, log) ** 2)))
    raise contradicting(points.row, ease, misfit, file)


def _residual_rows(result: SpinResult) -> tuple[Residual, ...]:
    points, log = result.points, result.log
    sds = _data(result.best, points, log)
    count = len(points.row)
    torque = np.full(count, np.nan)
    torque[points.turning] = sds[count:]
    model = _volts(result.best, points, log)
    return tuple(
        Residual(points.row[i], float(points.voltage[i] - model[i]), float(sds[i]), float(torque[i]))
        for i in range(count)
    )


def _volts(theta: FloatArray, points: Points, log: SpinLog) -> FloatArray:
    from ridesim.physics.motor import warm_constant, warm_resistance

    constant = warm_constant(float(np.exp(theta[LOG_K])), magnet_coefficient(log.magnet), log.room_c)
    resistance = warm_resistance(float(np.exp(theta[LOG_R])), log.room_c)
    return np.asarray(constant * points.speed + resistance * points.current + theta[BRUSH] * ~points.opened)
