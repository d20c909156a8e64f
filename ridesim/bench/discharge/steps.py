"""The moments in a discharge where the current steps: what the voltage does just before and after each.

All is computed for the readings as they are, and again with their scatter drawn anew and with the moment of the switch drawn between
its two rows. Arrays hold the readings first, then the draws.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np

from ridesim.bench.discharge.log import DischargeLog, FloatArray
from ridesim.bench.estimate import DRAWS

STEP_SHARE = 0.2
"""A change of current above this share of the usual load counts as a step."""
WINDOW_S = 600.0
"""Longest stretch after a step that is fitted; the open voltage moves in a straight line within it. [s]"""
ROWS_BEFORE = 10
"""Rows before a step that give the voltage in the moment of the switch."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the current.

    Attributes
    ----------
    line : int
        Line of the first row after it.
    charge_ah : float
        Charge taken before it. [Ah]
    change_a : ndarray
        Current after less current before, in the meter's draws. [A]
    lasted_s : float
        How long the current before it was on; infinite at the start of a log, which begins with a rested block. [s]
    sigma_v : float
        Standard deviation of single readings. [V]
    shift_s : ndarray
        Moment of the switch, from the middle between its two rows. [s]
    before_v : ndarray
        Voltage just before the switch. [V]
    since_s : ndarray, shape (n,)
        Times of the rows after it, from the middle between its two rows. [s]
    after_v : ndarray, shape (n, draws)
        Their voltages. [V]
    """

    line: int
    charge_ah: float
    change_a: FloatArray
    lasted_s: float
    sigma_v: float
    shift_s: FloatArray
    before_v: FloatArray
    since_s: FloatArray
    after_v: FloatArray

    @property
    def interval_s(self) -> float:
        """Usual time between the rows after it. [s]"""
        return float(np.median(np.diff(self.since_s)))

    @property
    def resistance_ohm(self) -> FloatArray:
        """From straight lines on both sides: with part of the slow one. [ohm]"""
        return np.asarray((self.before_v - self._at_the_switch(self.after_v)) / self.change_a)

    def seen_of_slow(self, time: FloatArray) -> FloatArray:
        """Share of the slow part that this resistance holds, for its time constant in each draw. [s → –]"""
        since = self.since_s[:, None] - self.shift_s
        return self._at_the_switch(1.0 - np.exp(-since / time)) * (1.0 - np.exp(-self.lasted_s / time))

    def _at_the_switch(self, after: FloatArray) -> FloatArray:
        return _at(self.since_s[:4], after[:4], self.shift_s)

    def fits(self, times: FloatArray) -> tuple[FloatArray, FloatArray]:
        """V = a + b t + A exp(-t/τ) for each τ: sums of squared residuals, and a, b, A; shapes (τ, draws) and (τ, 3, draws)."""
        level = self.after_v.mean(axis=0)
        volts = self.after_v - level
        errors, solved = [], []
        for time in times:
            q, r = np.linalg.qr(
                np.column_stack([np.ones_like(self.since_s), self.since_s, np.exp(-self.since_s / time)])
            )
            part = q.T @ volts
            errors.append(np.sum(volts * volts, axis=0) - np.sum(part * part, axis=0))
            solved.append(np.linalg.solve(r, part))
        coefficients = np.array(solved)
        coefficients[:, 0] += level
        return np.array(errors), coefficients


def find_steps(log: DischargeLog, gain: FloatArray, rng: np.random.Generator) -> list[Step]:
    """Steps of the current that can be used: not across a gap, two rows or more on both sides."""
    starts = np.flatnonzero(np.abs(np.diff(log.current_a)) > STEP_SHARE * log.load_a) + 1
    # One draw for all steps of a log: a switch that starts the meter's clock is in step with it every time.
    moment = np.append(0.0, rng.uniform(-0.5, 0.5, DRAWS))
    edges = np.unique([0, *starts, *(log.gaps + 1), len(log.time_s)])
    sides = [(int(edges[edges < first][-1]), int(first), int(edges[edges > first][0])) for first in starts]
    return [
        _step(log, start, first, stop, gain, moment, rng)
        for start, first, stop in sides
        if first - 1 not in log.gaps and min(first - start, stop - first) >= 2
    ]


def _step(
    log: DischargeLog, start: int, first: int, stop: int, gain: FloatArray, moment: FloatArray, rng: np.random.Generator
) -> Step:
    time, volts, current, charge = log.time_s, log.voltage_v, log.current_a, log.charge_ah
    interval = time[first] - time[first - 1]
    middle = time[first] - 0.5 * interval
    stop = min(stop, max(first + 2, int(np.searchsorted(time, middle + WINDOW_S))))
    before, after = slice(max(start, first - ROWS_BEFORE), first), slice(first, stop)
    sigma = _scatter(volts[start:stop], first - start)
    shift = interval * moment
    return Step(
        line=int(log.line[first]),
        charge_ah=0.5 * float(charge[first - 1] + charge[first]),
        change_a=gain * float(np.mean(current[after]) - np.mean(current[before])),
        lasted_s=inf if start == 0 else float(time[first - 1] - time[start]),
        sigma_v=sigma,
        shift_s=shift,
        before_v=_at(time[before] - middle, _noisy(volts[before], sigma, rng), shift),
        since_s=time[after] - middle,
        after_v=_noisy(volts[after], sigma, rng),
    )


def _noisy(volts: FloatArray, sigma: float, rng: np.random.Generator) -> FloatArray:
    """Readings in the first column, and with their scatter drawn anew in the others."""
    return volts[:, None] + np.column_stack([np.zeros(len(volts)), sigma * rng.standard_normal((len(volts), DRAWS))])


def _scatter(volts: FloatArray, first: int) -> float:
    """Standard deviation of single readings: second differences, which no line moves, the step's own left out. [V]"""
    parts = [np.diff(part, 2) for part in (volts[:first], volts[first + 1 :]) if len(part) > 2]
    seconds = np.concatenate(parts) if parts else np.zeros(1)
    return float(1.4826 * np.median(np.abs(seconds)) / np.sqrt(6.0))


def _at(since: FloatArray, volts: FloatArray, shift: FloatArray) -> FloatArray:
    """Straight lines through columns of readings, each at its own moment; the nearest row where there are fewer than three."""
    if len(since) < 3:
        return np.asarray(volts[-1] if since[-1] < 0.0 else volts[0])
    slope, level = np.polyfit(since, volts, 1)
    return np.asarray(level + slope * shift)
