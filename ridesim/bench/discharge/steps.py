"""Resistance and polarisation from the moments in a discharge where the current steps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.discharge.log import DischargeLog, usual_load

FloatArray = NDArray[np.float64]

STEP_SHARE = 0.2
"""A change of current above this share of the usual load counts as a step."""
WINDOW_S = 600.0
"""Longest stretch after a step that is fitted; the open voltage moves in a straight line within it. [s]"""
FEWEST_ROWS = 12
ROWS_IN_A_TIME = 4.0
"""With fewer rows than this within one time constant, the slow part is not told from the resistance."""
_TIMES = 60


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the current.

    Attributes
    ----------
    line : int
        Line of the first row after it.
    time_s : float
        Where it is taken to be: midway between its rows. [s]
    change_a : float
        Current after less current before. [A]
    resistance_ohm : float
        Voltage that moved at once, over the change. [ohm]
    slow_ohm, slow_s : float or None
        Polarisation's resistance and time constant, None where the stretch does not tell. [ohm, s]
    blur_ohm : float
        How far the resistance may be off because the step's moment is known to half an interval only. [ohm]
    noise_ohm : float
        Standard error of the resistance from the readings' scatter. [ohm]
    slow_band_ohm, slow_band_s : tuple of float, or None
        What the slow part may be, from the fits that lie within the scatter of the best. [ohm, s]
    """

    line: int
    time_s: float
    change_a: float
    resistance_ohm: float
    slow_ohm: float | None
    slow_s: float | None
    blur_ohm: float
    noise_ohm: float
    slow_band_ohm: tuple[float, float] | None = None
    slow_band_s: tuple[float, float] | None = None


def _large(log: DischargeLog) -> NDArray[np.bool_]:
    """Between which rows the current changes enough to count as a step."""
    return np.asarray(np.abs(np.diff(log.current_a)) > STEP_SHARE * usual_load(log.current_a))


def lines_of_steps(log: DischargeLog) -> list[int]:
    """Lines after every step of the current, those that no fit can use included."""
    return [int(log.line[index + 1]) for index in np.flatnonzero(_large(log))]


def find_steps(log: DischargeLog) -> list[Step]:
    """Steps of the current that can be used, each with its fit: not across a gap, rows enough on both sides."""
    current = log.current_a
    large = _large(log)
    for before, _ in log.gaps:
        large[before] = False
    at = np.flatnonzero(large)
    edges = [0, *(int(i) + 1 for i in at), *(after for _, after in log.gaps), len(current)]
    edges = sorted(set(edges))
    found = []
    for index in at:
        first = int(index) + 1
        start = max(edge for edge in edges if edge <= index)
        stop = min(edge for edge in edges if edge > first)
        step = _fit(log, start, first, stop)
        if step is not None:
            found.append(step)
    return found


def _fit(log: DischargeLog, start: int, first: int, stop: int) -> Step | None:
    time, voltage, current = log.time_s, log.voltage_v, log.current_a
    moment = 0.5 * (time[first - 1] + time[first])
    stop = min(stop, int(np.searchsorted(time, moment + WINDOW_S)))
    before = slice(max(start, first - 10), first)
    after = slice(first, stop)
    if stop - first < 2 or first - before.start < 1:
        return None
    change = float(np.mean(current[after]) - np.mean(current[before]))
    if change == 0.0:
        return None
    old = _at(time[before], voltage[before], moment)
    since = time[after] - moment
    early = slice(first, min(stop, first + 4))
    noise = float(np.hypot(
        _intercept_error(time[before], voltage[before], moment), _intercept_error(time[early], voltage[early], moment)
    )) * _scatter(voltage[start:stop], first - start) / abs(change)  # fmt: skip
    fit = _slow(since, voltage[after])
    if fit is None:
        new = _at(time[after][:4], voltage[after][:4], moment)
        # Without a fit the slow part hides in the first interval: the blur is what the voltage moved there.
        blur = abs(float(voltage[first + 1] - voltage[first])) / abs(change)
        return Step(int(log.line[first]), float(moment), change, -(new - old) / change, None, None, blur, noise)
    constant, slow, new, times, heights = fit
    settled = 1.0 - np.exp(-(time[first - 1] - time[start]) / constant) if first - 1 > start else 1.0
    # A rest before the first load counts as settled: nobody starts the clock before the block was left alone.
    if start == 0:
        settled = 1.0
    blur = abs(slow) / constant * 0.5 * float(time[first] - time[first - 1]) / abs(change)
    resistance = -(new - old) / change
    share = change * max(0.1, settled)
    ohms = sorted(height / share for height in heights)
    return Step(
        int(log.line[first]), float(moment), change, float(resistance), float(slow / share), float(constant), float(blur),
        noise, (ohms[0], ohms[-1]), times,
    )  # fmt: skip


def _scatter(voltage: FloatArray, first: int) -> float:
    """Standard deviation of single readings: second differences, which no line moves, the step's own left out. [V]"""
    parts = [np.diff(part, 2) for part in (voltage[:first], voltage[first + 1 :]) if len(part) > 2]
    seconds = np.concatenate(parts) if parts else np.zeros(0)
    return 1.4826 * float(np.median(np.abs(seconds))) / np.sqrt(6.0) if len(seconds) else 0.0


def _intercept_error(time: FloatArray, value: FloatArray, moment: float) -> float:
    """Standard error of :func:`_at` over that of a single reading."""
    if len(time) < 3:
        return 1.0
    shape = np.column_stack([time - moment, np.ones_like(value)])
    return float(np.sqrt(np.linalg.inv(shape.T @ shape)[1, 1]))


def _at(time: FloatArray, value: FloatArray, moment: float) -> float:
    """A straight line through some rows, at a moment."""
    if len(time) < 3:
        return float(value[-1] if time[-1] < moment else value[0])
    return float(np.polyfit(time - moment, value, 1)[1])


_Slow = tuple[float, float, float, tuple[float, float], tuple[float, float, float]]


def _slow(since: FloatArray, voltage: FloatArray) -> _Slow | None:
    """Fit V = a + b t + A exp(-t/τ): τ, A and the voltage just after the step; None where the rows do not tell.

    Returns
    -------
    tuple of float or None
        τ [s], A [V] (positive where the voltage falls to its line), V(0+) [V]; the band of τ whose fits lie within two
        standard errors of the best [s], and A at τ and at both ends of it [V].
    """
    if len(since) < FEWEST_ROWS:
        return None
    interval, length = float(np.median(np.diff(since))), float(since[-1])
    shortest, longest = interval, length / 2.5
    if longest <= 2.0 * shortest:
        return None
    candidates = np.geomspace(shortest, longest, _TIMES)
    errors = np.array([_residual(since, voltage, constant)[0] for constant in candidates])
    best = int(np.argmin(errors))
    if best in (0, _TIMES - 1):
        return None
    from scipy.optimize import minimize_scalar

    found = minimize_scalar(
        lambda logarithm: _residual(since, voltage, float(np.exp(logarithm)))[0],
        bounds=(np.log(candidates[best - 1]), np.log(candidates[best + 1])), method="bounded",
    )  # fmt: skip
    constant = float(np.exp(found.x))
    error, (level, _, height) = _residual(since, voltage, constant)
    noise = np.sqrt(error / max(1, len(since) - 4))
    if abs(height) < 4.0 * noise / np.sqrt(min(len(since), constant / interval + 1.0)):
        return None
    # Two standard errors of a fit with four unknowns: what lies within cannot be told from the best.
    alike = candidates[errors <= error * (1.0 + 4.0 / max(1, len(since) - 4))]
    times = (min(constant, float(alike[0])), max(constant, float(alike[-1]))) if len(alike) else (constant, constant)
    if times[0] < ROWS_IN_A_TIME * interval:
        return None
    heights = [float(_residual(since, voltage, each)[1][2]) for each in (constant, *times)]
    return constant, float(height), float(level + height), times, (heights[0], heights[1], heights[2])


def _residual(since: FloatArray, voltage: FloatArray, constant: float) -> tuple[float, FloatArray]:
    shape = np.column_stack([np.ones_like(since), since, np.exp(-since / constant)])
    solution, *_ = np.linalg.lstsq(shape, voltage, rcond=None)
    return float(np.sum((shape @ solution - voltage) ** 2)), solution
