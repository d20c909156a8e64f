"""Where a discharge ends: when the voltage under load stays low, not when a few rows in the middle were read too low."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.discharge.log import ON_SHARE, DischargeLog, FloatArray, line_text, usual_load

BACK_SHARE = 0.01
"""A block is back where it stands this share above the end voltage again; scatter about the end voltage is less."""
SAME_LOAD = 0.9
"""... under this share of the former current or more: under less of it a block comes back by itself."""
RECOVERED = 0.5
"""A rest gives back up to 15 % (porous-electrode runs), two wells 38 %; more than this share of the charge given before is no recovery."""
LOOKS_ON = 3
"""Loaded rows looked at after a low stretch, and before it."""


def without_dips(log: DischargeLog, end: float) -> tuple[DischargeLog, list[str]]:
    """Leave out loaded rows below the end voltage from which the block comes back under the same load: no block does, but after a
    rest, and then not for long.

    Parameters
    ----------
    log : DischargeLog
        A cleaned log.
    end : float
        End voltage under load. [V]

    Returns
    -------
    log : DischargeLog
        Without these rows.
    remarks : list of str
        Which they were.
    """
    keep = np.ones(len(log.time_s), dtype=bool)
    remarks = []
    for rows, after, after_rest in _dips(log, end):
        keep[rows] = False
        volts = log.voltage_v[rows]
        remarks.append(
            f"{line_text(log.line[rows])}: {volts.min():g} V{' and the like' if len(rows) > 1 else ''} under load, then {after:.4g} V again "
            f"under the same load{after_rest}; taken as wrong readings, not as the end, and left out."
        )
    if not remarks:
        return log, remarks
    place = np.cumsum(keep) - 1  # of each kept row, and of the last kept one before a row left out
    gaps = tuple((int(place[a]), int(place[a]) + 1) for a, b in log.gaps if place[a] >= 0 and place[b] <= place[-1])
    columns = {name: getattr(log, name)[keep] for name in ("time_s", "voltage_v", "current_a", "line")}
    return replace(log, gaps=gaps, **columns), remarks


def _dips(log: DischargeLog, end: float) -> Iterator[tuple[NDArray[np.int64], float, str]]:
    """Low stretches that are not the end: their rows, the volts afterwards, and words about a rest between."""
    voltage, current = log.voltage_v, log.current_a
    loaded = np.flatnonzero(current > ON_SHARE * usual_load(current))
    edges = np.flatnonzero(np.diff(np.concatenate([[False], voltage[loaded] <= end, [False]]).astype(int)))
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        rows, after = loaded[start:stop], loaded[stop : stop + LOOKS_ON]
        if not len(after) or any(rows[0] <= before < after[0] for before, _ in log.gaps):
            return
        rest = ""
        if after[0] - rows[0] != len(rows):
            share = _given_after(log, end, int(rows[0]), int(after[0]))
            if share <= RECOVERED:
                return
            times = f"{share:.1f} times the charge before, " if np.isfinite(share) else ""
            rest = f" after a rest, and then gave {times}more than a rest gives back"
        volts = float(np.median(voltage[after]))
        if volts <= (1.0 + BACK_SHARE) * end or float(np.median(current[after])) < SAME_LOAD * _load_before(
            current, loaded[max(0, start - LOOKS_ON) : start], rows
        ):
            if stop - start > 1:  # one low row alone is scatter about the end voltage
                return
            continue
        yield rows, volts, rest


def _given_after(log: DischargeLog, end: float, low: int, after: int) -> float:
    """Charge given above the end voltage after a rest, over the charge given before it."""
    span = np.append(np.diff(log.time_s), 0.0)
    charge = log.current_a * span
    given = float(np.sum(charge[:low]))
    return float(np.sum(charge[after:][log.voltage_v[after:] > end])) / given if given > 0.0 else np.inf


def _load_before(current: FloatArray, before: NDArray[np.int64], rows: NDArray[np.int64]) -> float:
    """The load that the block had before a stretch, or in it where it begins the log. [A]"""
    return float(np.median(current[before if len(before) else rows]))


def stays_low(on: NDArray[np.bool_], voltage: FloatArray, end: float) -> NDArray[np.int64]:
    """Loaded rows at or below the end voltage whose next loaded row is so too, or is not there."""
    loaded = np.flatnonzero(on)
    low = voltage[loaded] <= end
    return np.asarray(loaded[low & np.append(low[1:], True)])
