"""Kept rows of a ride: state and outputs at the start of a phase and after every step."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridesim.physics.compiled import inlined, internal
from ridesim.ride.core import events
from ridesim.ride.core import places as at
from ridesim.ride.core.records import Row, Run, structure

Rows = NDArray[np.void]

MOST_ROWS = 2**17
"""Kept rows at most: every second one is dropped when there are more, and from then on half as many are kept."""
_ROW = structure(Row)


def no_rows() -> Rows:
    """For rides that keep none; each thread needs its own, or the threads wait for each other as they count who holds it."""
    return np.empty(0, _ROW)


@internal
def keep(run: Run, rows: Rows, event: int) -> Rows:
    """Add a row to the kept rows; an array of no rows keeps none."""
    if rows.shape[0] == 0:
        return rows
    if event == events.ENDED:
        run.passed += 1
        if run.passed < run.every:
            return rows
    run.passed = 0
    if run.used == rows.shape[0]:
        rows = _with_room(run, rows)
    used = run.used
    w, out, row = run.w, run.out, rows[used]
    row.time_s = w[at.NOW, at.TIME]
    row.speed_mps = w[at.NOW, at.SPEED]
    row.distance_m = w[at.NOW, at.DISTANCE]
    row.pull_n = out.pull
    row.pack_voltage_v = out.volts
    row.pack_current_a = out.pack_current
    row.motor_current_a = out.motor_current
    row.duty = out.controller_current / out.motor_current if out.motor_current != 0.0 else 0.0
    row.state_of_charge = out.charge
    row.winding_c = w[at.NOW, at.WINDING]
    row.case_c = w[at.NOW, at.CASE]
    row.missing = w[at.NOW, at.MISSING]
    row.filtered = w[at.NOW, at.FILTERED]
    row.limit = out.limit
    row.event = event
    row.activity = run.activity
    run.used = used + 1
    return rows


@inlined
def _with_room(run: Run, rows: Rows) -> Rows:
    """Room for more rows: twice as many, or where that is too much, every second one dropped."""
    used = run.used
    if used < MOST_ROWS:
        larger = np.empty(2 * used, _ROW)
        larger[:used] = rows
        return larger
    run.used = used // 2
    run.every *= 2
    for i in range(run.used):
        rows[i] = rows[2 * i]
    return rows
