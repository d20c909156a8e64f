"""Where a discharge ends: when the voltage under load stays low.

A dip from which the voltage recovers by 1 % at the same load is not the end of the discharge; those rows are dropped and reported.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.discharge.log import BACK_SHARE, SAME_LOAD, DischargeLog, line_text, refusal

MOST_AFTER = 0.5
"""A rest gives back up to 15 % (porous-electrode runs), two wells 38 %; more than this share of the charge is a second discharge."""
LOOKS_ON = 3
"""Loaded rows looked at after a low stretch."""


def find_end(log: DischargeLog, end: float) -> tuple[DischargeLog, int | None]:
    """The log without its dips, and the row in which it first stays at or below the end voltage.

    Parameters
    ----------
    log : DischargeLog
        As read.
    end : float
        End voltage under load. [V]

    Returns
    -------
    log : DischargeLog
        Without the rows of dips, which its remarks name.
    row : int or None
        None where the end voltage is not reached. One low row by itself is scatter, and does not count.

    Raises
    ------
    InputProblem
        The block gives more than half of the charge again after its end: two discharges, or wrong readings.
    """
    loaded = np.flatnonzero(log.on)
    low = np.concatenate([[False], log.voltage_v[loaded] <= end, [False]])
    edges = np.flatnonzero(np.diff(low.astype(int)))
    keep = np.ones(len(log.time_s), dtype=bool)
    said, ends = [], None
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        rows, after = loaded[start:stop], loaded[stop : stop + LOOKS_ON]
        if _recovers(log, rows, after, end):
            keep[rows] = False
            said.append(
                f"{line_text(log.line[rows])}: {log.voltage_v[rows].min():g} V under load, then "
                f"{np.median(log.voltage_v[after]):.4g} V again under the same load: a dip, not the end; left out."
            )
        elif len(rows) > 1 or stop == len(loaded):
            ends = int(rows[0])
            _refuse_second(log, ends, end)
            break
    return log.kept(keep, *said), None if ends is None else int(np.count_nonzero(keep[:ends]))


def _recovers(log: DischargeLog, rows: NDArray[np.int64], after: NDArray[np.int64], end: float) -> bool:
    """Whether the rows that follow at once stand 1 % above the end voltage under the same load."""
    if not len(after) or after[0] != rows[-1] + 1 or rows[-1] in log.gaps:
        return False
    volts, amps = float(np.median(log.voltage_v[after])), float(np.median(log.current_a[after]))
    return volts > (1.0 + BACK_SHARE) * end and amps > SAME_LOAD * float(np.median(log.current_a[rows]))


def _refuse_second(log: DischargeLog, ends: int, end: float) -> None:
    """After its end a block gives back a little when it has rested, no more."""
    charge = np.diff(log.charge_ah)
    given, again = charge[:ends].sum(), charge[ends:][log.voltage_v[ends:-1] > end].sum()
    if again > MOST_AFTER * given:
        found = f"{log.voltage_v[ends]:g} V under load, the end, and {again:.3g} Ah more after it"
        raise refusal(log, ends, found, "one discharge a file", "Two discharges, or a wrong reading here?")
