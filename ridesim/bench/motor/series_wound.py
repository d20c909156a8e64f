"""From points under load to a series-wound motor: k_s, saturation, R at 20 °C, brush drop, friction, viscous drag.

A series-wound motor is never run unloaded, so there is no spin test for it: a held rotor gives the winding, and points
under a brake or a load give the flux.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.estimate import (
    CONTRADICTION,
    QUANTILE,
    Fit,
    Usual,
    centre_and_spread,
    common_covariance,
    fit,
    loosening,
    spare,
    whitened,
)
from ridesim.bench.log_files import need_log
from ridesim.bench.motor.checks import contradicting
from ridesim.bench.motor.load_checks import check
from ridesim.bench.motor.load_log import NEVER_UNLOADED, LoadLog
from ridesim.bench.motor.log import RPM
from ridesim.bench.motor.model import Points, Row, assemble, gain_sds, scaled
from ridesim.bench.motor.remarks import BRUSH_NOT_TOLD, scattering
from ridesim.bench.motor.remarks import SILENT as _SILENT
from ridesim.physics.motor import COPPER_PER_K
from ridesim.vehicle import Motor
from ridesim.words import Finding, Uncertain, need_number

FloatArray = NDArray[np.float64]

BENT, CURVED = 1.12, 1.1
"""By how much a meter's common factor, and saturation however measured, go further than their linear parts say: with 1 for both, the
95 % bands of series constant and saturation current held 93.0 % of 1,200 random motors whose torque was not read."""

LOG_KS, PER_SATURATION, LOG_R, BRUSH, FRICTION, VISCOUS = range(6)
"""Places in the parameter vector: ln k_s, 1/I_sat, ln R20, V_br, τ_f, b. One over the saturation current, because a motor that
does not saturate in the test is at 0 there, not at infinity."""
_KEYS = ("series_constant_nm_per_a2", "saturation_current_a", "resistance_ohm", "brush_drop_v", "friction_torque_nm",
         "viscous_nm_per_rad_s")  # fmt: skip
_NEARLY_FREE = 0.2
"""Share of the heaviest point's current below which a point is nearly unloaded: common practice, no source."""


_LEAST_SOFT = 0.1
"""Least 1 + I/I_sat of a free fit, whose 1/I_sat may scatter below 0: keeps it away from the pole."""
_FASTEST = 1e5
"""Where the search for a run-away speed ends. [rad/s]"""
_USUAL_SHARE = 0.8
_STARTS = (0.2, 0.8, 2.5)
"""First guesses of 1/I_sat, over one over the largest current: the misfit has more than one valley."""


class LoadPoints(NamedTuple):
    """Points as in the spin test, held rotor first in no order of its own, and the winding's temperature in each. [°C]"""

    points: Points
    winding: FloatArray

    def without(self, index: int) -> LoadPoints:
        """All points but one."""
        return LoadPoints(self.points.without(index), np.delete(self.winding, index))


def points_of(log: LoadLog) -> LoadPoints:
    """A checked log's points; the torque equation holds where a torque is given."""
    rows: list[Row] = []
    winding = []
    for number, held in enumerate(log.locked, start=1):
        rows.append((f"locked[{number}]", held.voltage_v, held.current_a, 0.0, 0.0, False, False, False))
        winding.append(log.room_c)
    for number, row in enumerate(log.load, start=1):
        speed = log.motor_speed(row)
        assert speed is not None
        torque = row.torque_nm or 0.0
        rows.append((f"load[{number}]", row.voltage_v, row.current_a, speed, torque, torque > 0.0, False, False))
        winding.append(log.room_c if row.winding_c is None else row.winding_c)
    return LoadPoints(assemble(rows, log.meter, log.turns_ratio), np.array(winding))


def residuals(theta: FloatArray, data: LoadPoints) -> FloatArray:
    """Misfit of every equation in standard deviations of what the meters explain.

    Parameters
    ----------
    theta : ndarray, shape (6,)
        ln k_s, 1/I_sat [1/A], ln R20, V_br [V], τ_f [N m], b [N m s/rad].
    data : LoadPoints
        The measurements.

    Returns
    -------
    ndarray
        One an electrical equation, then one a torque equation.

    Notes
    -----
    g1 = V - K(I) ω - I R - V_br and g2 = K(I) I - τ_f - b ω - τ_load with K(I) = k_s I/(1 + I/I_sat), the model's section 3.
    Their covariance follows from the readings' to first order (K' = k_s/(1 + I/I_sat)²), and whitens them: total least
    squares as in :func:`ridesim.bench.motor.model.residuals`.
    """
    points = data.points
    soft = np.maximum(1.0 + theta[PER_SATURATION] * points.current, _LEAST_SOFT)
    with_amps = float(np.exp(theta[LOG_KS]))
    constant, steeper = with_amps * points.current / soft, with_amps / soft**2
    resistance = _resistance(theta, data)
    by_amps = steeper * points.speed + resistance
    g1 = _volts_off(theta, data)
    s11 = points.voltage_sd**2 + (by_amps * points.current_sd) ** 2 + (constant * points.speed_sd) ** 2
    on = points.turning
    current, speed = points.current[on], points.speed[on]
    g2 = constant[on] * current - theta[FRICTION] - theta[VISCOUS] * speed - points.torque[on]
    twist = steeper[on] * current + constant[on]
    amps2, turns2 = points.current_sd[on] ** 2, points.speed_sd[on] ** 2
    s22 = twist**2 * amps2 + theta[VISCOUS] ** 2 * turns2 + points.torque_sd[on] ** 2
    s12 = -by_amps[on] * twist * amps2 + constant[on] * theta[VISCOUS] * turns2
    return whitened(g1, g2, on, (s11, s22, s12))


def volts_off(result: LoadResult) -> dict[str, float]:
    """Measured voltage less the fit's at each row's current and speed. [V]"""
    return dict(zip(result.data.points.row, _volts_off(result.best, result.data).tolist(), strict=True))


def _resistance(theta: FloatArray, data: LoadPoints) -> FloatArray:
    """Of the winding at each row's temperature. [ohm]"""
    return np.asarray(float(np.exp(theta[LOG_R])) * (1.0 + COPPER_PER_K * (data.winding - 20.0)))


def _volts_off(theta: FloatArray, data: LoadPoints) -> FloatArray:
    """V - K(I) ω - I R - V_br of every row. [V]"""
    points = data.points
    soft = np.maximum(1.0 + theta[PER_SATURATION] * points.current, _LEAST_SOFT)
    back = float(np.exp(theta[LOG_KS])) * points.current / soft * points.speed
    return np.asarray(points.voltage - back - points.current * _resistance(theta, data) - theta[BRUSH])


@dataclass(frozen=True, eq=False)
class LoadResult:
    """What points under load say about a series-wound motor.

    Attributes
    ----------
    log : LoadLog
    free : Fit
        Estimate and covariance without bounds: what bands are made from.
    best : ndarray
        The same with saturation, drags and brush drop held at 0 or above.
    data : LoadPoints
    covariance, common : ndarray
        The meters' common factors included; and these alone.
    widening : float
        As in :class:`ridesim.bench.motor.permanent_magnet.SpinResult`.
    shares : ndarray
        Standard deviation over that of the usual values alone: near 1, the data say nothing.
    """

    log: LoadLog
    free: Fit
    best: FloatArray
    data: LoadPoints
    covariance: FloatArray
    common: FloatArray
    widening: float
    shares: FloatArray

    @cached_property
    def values(self) -> dict[str, Uncertain]:
        """The motor's six numbers by their key in a build file; a saturation current may be infinite at its upper end."""
        return {key: self._band(place) for place, key in enumerate(_KEYS)}

    def _band(self, place: int) -> Uncertain:
        curved = CURVED if place == PER_SATURATION else 1.0
        half = curved * QUANTILE * float(np.sqrt(self.covariance[place, place]))
        best, centre = float(self.best[place]), float(self.free.values[place])
        if place in (LOG_KS, LOG_R):
            return Uncertain(
                float(np.exp(best)), float(np.exp(min(centre - half, best))), float(np.exp(max(centre + half, best)))
            )
        low, high = min(max(0.0, centre - half), best), max(centre + half, best)
        if place != PER_SATURATION:
            return Uncertain(best, low, high)
        ends = [1.0 / end if end > 0.0 else float("inf") for end in (best, high, low)]
        return Uncertain(*ends)

    def torque_at(self, current_a: float) -> Uncertain:
        """Torque before friction at a current, with its band: far better known than k_s and saturation apart. [N m]

        Raises
        ------
        InputProblem
            No number, below 0 or above 10 000 A.
        """
        need_number("the torque", "current_a", current_a, 0.0, 1e4, "A")
        place = slice(LOG_KS, PER_SATURATION + 1)
        soft = 1.0 + self.best[PER_SATURATION] * current_a
        value = float(np.exp(self.best[LOG_KS])) * current_a**2 / soft
        slope = np.array([value, -value * current_a / soft])
        half = QUANTILE * float(np.sqrt(slope @ self.covariance[place, place] @ slope))
        return Uncertain(value, max(0.0, value - half), value + half)

    def runaway_rpm(self, voltage_v: float) -> float:
        """Speed that the motor would reach unloaded at a voltage, held back by its own drag alone. [turns a minute]

        Infinite where the points show no drag; :func:`runaway`.

        Raises
        ------
        InputProblem
            No number, 0 or below, or above 500 V.
        """
        need_number("the run-away speed", "voltage_v", voltage_v, 0.0, 500.0, "V", above=True)
        return float(runaway(self.best[None, :], voltage_v)[0]) / RPM

    @cached_property
    def residuals(self) -> dict[str, tuple[float, float]]:
        """Misfit of each row in standard deviations: electrical, and torque (NaN where none was given)."""
        sds = residuals(self.best, self.data)
        points = self.data.points
        torque = np.full(len(points.row), np.nan)
        torque[points.turning] = sds[len(points.row) :]
        return {row: (float(sds[i]), float(torque[i])) for i, row in enumerate(points.row)}

    @cached_property
    def not_separated(self) -> tuple[str, ...]:
        """Sentences: what the data cannot tell, and what was taken instead."""
        return tuple(_not_told(self))

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What to watch about this motor and this test."""
        return tuple(_findings(self))

    def motor_keys(self) -> dict[str, Any]:
        """Keys for the [motor] section of a build file."""
        most = 10_000.0  # A, far above any current: no saturation seen
        keys = {key: float(f"{min(band.value, most):.4g}") for key, band in self.values.items()}
        return {"kind": "series-wound", **keys}

    def motor(self, like: Motor) -> Motor:
        """The identified motor with nameplate, mass and heat of another description."""
        others = {"kind", "curve", "curve_voltage_v", "torque_constant_nm_per_a", "magnet", *_KEYS}
        kept = {name: getattr(like, name) for name in like.model_fields_set if name not in others}
        return Motor.model_validate({**kept, **self.motor_keys()})


def runaway(thetas: FloatArray, voltage_v: float) -> FloatArray:
    """Speed of the unloaded shaft, held back by its own drag alone.

    Parameters
    ----------
    thetas : ndarray, shape (n, 6)
        Parameter vectors; saturation and drags count as 0 where they are below.
    voltage_v : float
        At the terminals. [V]

    Returns
    -------
    ndarray, shape (n,)
        [rad/s]; infinite above 1e5, which no shaft reaches.

    Notes
    -----
    V = K(I) ω + I R + V_br with K(I) I = τ_f + b ω, by bisection: both terms grow with ω.
    """
    steep = np.exp(thetas[:, LOG_KS])
    soft, friction, viscous = (np.maximum(thetas[:, place], 0.0) for place in (PER_SATURATION, FRICTION, VISCOUS))
    resistance, volts = np.exp(thetas[:, LOG_R]), voltage_v - thetas[:, BRUSH]

    def spare(omega: FloatArray) -> FloatArray:
        drag = friction + viscous * omega
        # k_s I²/(1 + I/I_sat) = drag, solved for the current.
        amps = 0.5 * (drag * soft + np.sqrt((drag * soft) ** 2 + 4.0 * steep * drag)) / steep
        return np.asarray(volts - amps * resistance - steep * amps / (1.0 + soft * amps) * omega)

    low, high = np.zeros(len(thetas)), np.full(len(thetas), _FASTEST)
    endless = spare(high) > 0.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        more = spare(middle) > 0.0
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    return np.where(endless, np.inf, 0.5 * (low + high))


def identify_series(log: LoadLog, file: str = "the bench log") -> LoadResult:
    """The series-wound motor behind points under load.

    Parameters
    ----------
    log : LoadLog
        Kind test, held rotor, at least three points under load.
    file : str
        What messages call the log.

    Returns
    -------
    LoadResult
        Six numbers with 95 % bands, residuals, what cannot be separated.

    Raises
    ------
    InputProblem
        No log, a motor with magnets, too few points, or points that cannot be right; names the row.

    Notes
    -----
    Total least squares with the meters' accuracy (:func:`residuals`). Weak usual values stand in where the data say nothing: one over
    the saturation current 0.8 ± 0.8 over the largest current, brush drop 1.0 ± 0.6 V, drag 5 ± 5 % of the median torque, of which
    30 ± 40 % grow with speed; common practice, no source.
    """
    from scipy.stats import chi2

    need_log(log, LoadLog, "load_load_log", file)
    check(log, file)
    data = points_of(log)
    usual = _usual(data)
    found = _fit(data, usual)
    points = data.points
    _, spread = centre_and_spread(usual)
    degrees = spare(len(points.row) + int(points.turning.sum()), found, spread)
    misfit = float(np.sum(residuals(found.values, data) ** 2))
    chance = float(chi2.sf(misfit, degrees))
    if chance < CONTRADICTION:
        _refuse(data, usual, misfit, file)
    widening, loose = 1.0, data
    if chance < 0.01:
        widening = float(np.sqrt(misfit / degrees))
        loose = data._replace(points=points.loosened(loosening(misfit, degrees)))
        found = _fit(loose, usual)

    def off(theta: FloatArray, gains: FloatArray) -> FloatArray:
        return _everything(theta, loose._replace(points=scaled(loose.points, gains)), usual)

    common = BENT**2 * common_covariance(off, found, spread, gain_sds(log.meter))
    shares = np.minimum(1.0, np.sqrt(np.diag(found.covariance)) / spread)
    best = found.values
    if (best[[PER_SATURATION, BRUSH, FRICTION, VISCOUS]] < 0.0).any():
        best = _fit(loose, usual, np.array([-np.inf, 0.0, -np.inf, 0.0, 0.0, 0.0])).values
    return LoadResult(log, found, best, data, found.covariance + common, common, widening, shares)


def _usual(data: LoadPoints) -> Usual:
    """Usual value and its spread for each parameter."""
    points = data.points
    loaded = points.speed > 0.0
    volts, amps, speed = points.voltage[loaded], points.current[loaded], points.speed[loaded]
    top = int(np.argmax(points.current * ~loaded))
    ohms = max(points.voltage[top] - 1.0, 0.4 * points.voltage[top]) / points.current[top]
    constant = np.maximum(volts - 1.0 - amps * ohms, 0.2 * volts) / speed
    most = float(amps.max())
    per_a = _USUAL_SHARE / most
    drag = 0.05 * float(np.median(constant * amps))
    fastest = float(speed.max())
    return [
        (float(np.log(np.median(constant / amps * (1.0 + per_a * amps)))), 1.5),
        (per_a, 1.0 / most),
        (float(np.log(ohms)), 1.5),
        (1.0, 0.6),
        (0.7 * drag, drag),
        (0.3 * drag / fastest, 0.4 * drag / fastest),
    ]


def _everything(theta: FloatArray, data: LoadPoints, usual: Usual) -> FloatArray:
    centre, spread = centre_and_spread(usual)
    with np.errstate(all="ignore"):
        return np.concatenate([residuals(theta, data), (theta - centre) / spread])


def _fit(data: LoadPoints, usual: Usual, lower: FloatArray | None = None) -> Fit:
    start, spread = centre_and_spread(usual)
    found = []
    for share in _STARTS:
        begin = start.copy()
        begin[PER_SATURATION] *= share / _USUAL_SHARE
        begin[LOG_KS] += np.log((1.0 + share) / (1.0 + _USUAL_SHARE))
        found.append(fit(lambda theta: _everything(theta, data, usual), begin, spread, lower))
    return min(found, key=lambda each: each.misfit)


def _refuse(data: LoadPoints, usual: Usual, misfit: float, file: str) -> None:
    """Name the row without which the others agree best."""
    ease = []
    for index in range(len(data.points.row)):
        rest = data.without(index)
        ease.append(float(np.sum(residuals(_fit(rest, usual).values, rest) ** 2)))
    raise contradicting(data.points.row, ease, misfit, file, "whether the winding had warmed")


def _not_told(result: LoadResult) -> Iterator[str]:
    points, shares = result.data.points, result.shares
    if not points.turning.any():
        yield (
            "Friction and viscous drag: no torque was measured, so your points say nothing about them; 5 % of the torque is taken. "
            "One point with a brake of known torque settles their sum."
        )
    elif shares[FRICTION] > _SILENT:
        yield "Friction: hidden under the brake's own error; 5 % of the torque is the usual value and is used."
    if points.turning.any() and shares[VISCOUS] > _SILENT:
        yield "Friction and viscous drag: not told apart by your points; 30 % of the drag is taken as growing with speed."
    if shares[PER_SATURATION] > _SILENT:
        yield (
            "Saturation: your currents lie too close together or too low to show it. The torque between them is known, beyond them it "
            "is a guess: take a point at a higher current."
        )
    if shares[BRUSH] > _SILENT:
        yield BRUSH_NOT_TOLD
    spread = np.sqrt(np.diag(result.covariance))
    tied = result.covariance[LOG_KS, PER_SATURATION] / (spread[LOG_KS] * spread[PER_SATURATION])
    if abs(tied) > 0.95:
        yield (
            "Series constant and saturation: partly told apart only; their torque at the measured currents is well known, either number "
            "alone is not."
        )


def _findings(result: LoadResult) -> Iterator[Finding]:
    log, points = result.log, result.data.points
    volts = max(row.voltage_v for row in log.load)
    runaway = result.runaway_rpm(volts)
    turns = f"about {runaway:.0f} turns a minute" if np.isfinite(runaway) else "a speed without limit"
    yield Finding(
        "runs-away-unloaded", "warning",
        f"Unloaded at {volts:.0f} V this motor would reach {turns}. {NEVER_UNLOADED} A chain that breaks unloads it too: fit a cut-out switch "
        "within reach and a guard around motor and chain.",
        {"voltage_v": volts, "runaway_rpm": runaway},
    )  # fmt: skip
    heaviest = float(points.current.max())
    for number, row in enumerate(log.load, start=1):
        if row.current_a < _NEARLY_FREE * heaviest:
            yield Finding(
                "nearly-unloaded", "warning",
                f"load[{number}] drew only {row.current_a:g} A: nearly unloaded, close to running away. Do not go lower.",
                {"current_a": row.current_a},
            )  # fmt: skip
    if result.widening > 1.0:
        worst = max(result.residuals.items(), key=lambda each: float(np.nanmax(np.abs(each[1]))))[0]
        yield scattering(
            result.widening,
            worst,
            "A winding that warmed from point to point does this: write down winding_c, or let it cool.",
        )
