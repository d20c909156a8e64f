"""The stepper: one phase of a ride, from its start to its planned end or to the first event."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from ridesim.physics.chopper import CUT_OFF
from ridesim.physics.compiled import compiled
from ridesim.ride.numbers import Machine, Scene
from ridesim.ride.rates import rates
from ridesim.ride.state import (
    CASE,
    CHARGE,
    CONTROLLED,
    CUT_OFF_AT,
    CUT_OFF_X,
    DISTANCE,
    DUTY,
    EMPTY_AT,
    EMPTY_X,
    EVALUATIONS,
    HIGHEST_CURRENT,
    HOT_AT,
    HOT_S,
    HOTTEST,
    LAST_STEP,
    LIMIT,
    LOWEST_VOLTS,
    MARGIN,
    MINUTE_CURRENT,
    MOTOR_CURRENT,
    OUTPUT_SIZE,
    PACK_CURRENT,
    POLARISATION,
    POSSIBLE,
    PULL,
    RESERVE_AT,
    RESERVE_X,
    SPEED,
    STATE_SIZE,
    STEPS,
    SWITCHED_OFF,
    TIME,
    VOLTS,
    WINDING,
)  # fmt: skip

Array = NDArray[float64]

ENDED, COMMAND, PLACE, STOOD, SHORT, RELEASED, EMPTY = range(7)
"""Why a phase ended: its time is up; the speed met the command; the place was reached; the vehicle came to a stand; the
pull fell short of the command; it broke away; the pack is empty."""

NO_COMMAND, TRACE_COMMAND, ROUTE_COMMAND = range(3)


class Goal(NamedTuple):
    """What a phase watches for."""

    command: int  # NO_COMMAND, TRACE_COMMAND or ROUTE_COMMAND
    speed: float  # commanded speed at ``since`` (trace), or the leg's limit (route) [m/s]
    slope: float  # change of a trace's speed [m/s²], or the braking deceleration (route) [m/s²]
    since: float  # time of the trace's point [s]
    end_speed: float  # speed allowed at the end of the leg [m/s]
    end: float  # place of the end of the leg [m]
    watch_place: int
    watch_stand: int
    watch_short: int
    watch_release: int


ROW = 13
"""Columns of a kept row: time, speed, distance, pull, pack volts, pack current, motor current, duty, z, winding, case, limit,
commanded speed's mode."""

_C = np.array([0.0, 1 / 5, 3 / 10, 4 / 5, 8 / 9, 1.0, 1.0])
_A = np.array([
    [0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    [1 / 5, 0.0, 0.0, 0.0, 0.0, 0.0],
    [3 / 40, 9 / 40, 0.0, 0.0, 0.0, 0.0],
    [44 / 45, -56 / 15, 32 / 9, 0.0, 0.0, 0.0],
    [19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729, 0.0, 0.0],
    [9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656, 0.0],
    [35 / 384, 0.0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84],
])  # fmt: skip
_E = np.array([71 / 57600, 0.0, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40])
"""Dormand & Prince, J. Comput. Appl. Math. 6 (1980) 19: the 5(4) pair, and its error weights."""

_TOLERANCE = np.array([1e-3, 2e-7, 2e-8, 2e-8, 1e-4, 1e-3, 1e-3])
"""Largest local error of distance [m], speed [m/s], the law's charges, polarisation [V], winding and case [°C] a step."""

LONGEST_STEP_S = (300.0, 5.0, 5.0, 5.0)
"""Longest step standing, driving, stalled, coasting: kept rows stay close enough to draw from."""
_FIRST_STEP_S = 0.25


@compiled
def commanded(s: Array, goal: Goal) -> float:
    """Commanded speed at a state: the trace's line, or the lower of limit and braking envelope √(v² + 2 b s). [m/s]"""
    if goal.command == TRACE_COMMAND:
        return goal.speed + goal.slope * float(s[TIME] - goal.since)
    left = max(0.0, goal.end - float(s[DISTANCE]))
    return min(goal.speed, sqrt(goal.end_speed * goal.end_speed + 2.0 * goal.slope * left))


@compiled
def _crossed(s: Array, out: Array, scene: Scene, goal: Goal) -> tuple[float, int]:
    """Largest of the watched quantities; above zero means that event has happened."""
    most, event = -1.0, ENDED
    if goal.command != NO_COMMAND:
        over = s[SPEED] - commanded(s, goal)
        if over > most:
            most, event = over, COMMAND
    if goal.watch_place == 1:
        over = s[DISTANCE] - goal.end
        if over > most:
            most, event = over, PLACE
    if goal.watch_stand == 1 and -s[SPEED] > most:
        most, event = -s[SPEED], STOOD
    if goal.watch_short == 1:
        over = scene.wanted - out[POSSIBLE]
        if over > most:
            most, event = over, SHORT
    if goal.watch_release == 1 and out[MARGIN] > most:
        most, event = out[MARGIN], RELEASED
    if s[SWITCHED_OFF] == 0.0 and -out[CHARGE] > most:
        most, event = -out[CHARGE], EMPTY
    return most, event


@compiled
def _try_step(s: Array, h: float, m: Machine, scene: Scene, k: Array, trial: Array, out: Array) -> float:
    """One Dormand-Prince step from ``s`` into ``trial``; k[0] holds the rates at ``s``. Returns the error over tolerance."""
    for stage in range(1, 7):
        for i in range(STATE_SIZE):
            total = 0.0
            for j in range(stage):
                total += _A[stage, j] * k[j, i]
            trial[i] = s[i] + h * total
        rates(trial, m, scene, k[stage], out)
    worst = 0.0
    for i in range(CONTROLLED):
        error = 0.0
        for j in range(7):
            error += _E[j] * k[j, i]
        worst = max(worst, abs(h * error) / _TOLERANCE[i])
    return worst


@compiled
def keep(rows: Array, used: int, s: Array, out: Array, scene: Scene) -> tuple[Array, int]:
    """Add a row to the kept rows, doubling their room when full; an array of no rows keeps none."""
    if rows.shape[0] == 0:
        return rows, used
    if used == rows.shape[0]:
        larger = np.empty((2 * used, ROW))
        larger[:used] = rows
        rows = larger
    row = rows[used]
    row[0], row[1], row[2] = s[TIME], s[SPEED], s[DISTANCE]
    row[3], row[4], row[5] = out[PULL], out[VOLTS], out[PACK_CURRENT]
    row[6], row[7], row[8] = out[MOTOR_CURRENT], out[DUTY], out[CHARGE]
    row[9], row[10], row[11], row[12] = s[WINDING], s[CASE], out[LIMIT], scene.mode
    return rows, used + 1


@compiled
def _note(tally: Array, s: Array, out: Array, m: Machine, scene: Scene) -> None:
    """Extremes at one moment."""
    tally[LOWEST_VOLTS] = min(tally[LOWEST_VOLTS], out[VOLTS])
    tally[HIGHEST_CURRENT] = max(tally[HIGHEST_CURRENT], out[PACK_CURRENT])
    tally[HOTTEST] = max(tally[HOTTEST], s[WINDING])
    if m.polarisation_resistance > 0.0:
        tally[MINUTE_CURRENT] = max(tally[MINUTE_CURRENT], s[POLARISATION] / m.polarisation_resistance)
    if out[LIMIT] == CUT_OFF and tally[CUT_OFF_AT] < 0.0:
        tally[CUT_OFF_AT], tally[CUT_OFF_X] = s[TIME], s[DISTANCE]
    if out[CHARGE] <= 0.0 and tally[EMPTY_AT] < 0.0:
        tally[EMPTY_AT], tally[EMPTY_X] = s[TIME], s[DISTANCE]


@compiled
def _note_step(tally: Array, old: Array, new: Array, z_old: float, out: Array, h: float, m: Machine) -> None:
    """Crossings and sums over one accepted step."""
    z_new = out[CHARGE]
    if z_old >= m.reserve > z_new and tally[RESERVE_AT] < 0.0:
        share = (z_old - m.reserve) / (z_old - z_new)
        tally[RESERVE_AT] = old[TIME] + share * h
        tally[RESERVE_X] = old[DISTANCE] + share * (new[DISTANCE] - old[DISTANCE])
    if new[WINDING] > m.winding_limit:
        tally[HOT_S] += h
        if tally[HOT_AT] < 0.0:
            tally[HOT_AT] = new[TIME]


@compiled
def advance(
    s: Array, span: float, m: Machine, scene: Scene, goal: Goal, tally: Array, rows: Array, used: int, fineness: float
) -> tuple[int, Array, int]:
    """Advance the state in place until ``span`` is over or an event happens.

    Parameters
    ----------
    s : ndarray, shape (STATE_SIZE,)
        State, changed in place.
    span : float
        Time to the phase's planned end. [s]
    m, scene, goal
        The build, what surrounds it, and what to watch for.
    tally : ndarray, shape (TALLY_SIZE,)
        Extremes and firsts, changed in place.
    rows : ndarray, shape (n, ROW)
        Kept rows; returned, as it may grow. No rows are kept in an array of none.
    used : int
        Rows in use.
    fineness : float
        1 for production; 2 halves the longest step and tightens the tolerance, for checks.

    Returns
    -------
    event : int
        Why the phase ended.
    rows, used
        Kept rows.

    References
    ----------
    Dormand & Prince 1980 with step control; events by the Illinois variant of regula falsi on the step's length.
    """
    k = np.empty((7, STATE_SIZE))
    out = np.empty(OUTPUT_SIZE)
    trial = np.empty(STATE_SIZE)
    end = s[TIME] + span
    longest = LONGEST_STEP_S[scene.mode] / fineness
    h = min(longest, max(_FIRST_STEP_S, tally[LAST_STEP]))
    rates(s, m, scene, k[0], out)
    tally[EVALUATIONS] += 1
    _note(tally, s, out, m, scene)
    rows, used = keep(rows, used, s, out, scene)
    z = out[CHARGE]
    while True:
        left = end - s[TIME]
        if left <= 1e-9:
            return ENDED, rows, used
        last = h >= left
        step = left if last else h
        error = _try_step(s, step, m, scene, k, trial, out)
        tally[EVALUATIONS] += 6
        if fineness > 1.0:
            error *= fineness**5
        if error > 1.0:
            h = step * max(0.2, 0.9 * error**-0.2)
            continue
        over, event = _crossed(trial, out, scene, goal)
        happened = over > 1e-9
        if happened:
            step, event = _locate(s, step, over, m, scene, goal, k, trial, out, tally)
        _note_step(tally, s, trial, z, out, step, m)
        for i in range(STATE_SIZE):
            s[i] = trial[i]
            k[0, i] = k[6, i]
        if s[SPEED] < 0.0:
            s[SPEED] = 0.0
        z = out[CHARGE]
        tally[STEPS] += 1
        _note(tally, s, out, m, scene)
        rows, used = keep(rows, used, s, out, scene)
        growth = 5.0 if error < 1e-4 else min(5.0, 0.9 * error**-0.2)
        if not last:
            tally[LAST_STEP] = step
        h = min(longest, max(step, 1e-6) * growth)
        if happened:
            return event, rows, used
        if last:
            s[TIME] = end
            return ENDED, rows, used


@compiled
def _locate(
    s: Array,
    step: float,
    over: float,
    m: Machine,
    scene: Scene,
    goal: Goal,
    k: Array,
    trial: Array,
    out: Array,
    tally: Array,
) -> tuple[float, int]:
    """Shorten a step so that it ends at the first event."""
    low, high = 0.0, step
    under = -1e-3
    event = ENDED
    side = 0
    # The start is on the quiet side; its own value only guides the first guess.
    for _ in range(60):
        middle = (low * over - high * under) / (over - under)
        if not low < middle < high:
            middle = 0.5 * (low + high)
        _try_step(s, middle, m, scene, k, trial, out)
        tally[EVALUATIONS] += 6
        value, event = _crossed(trial, out, scene, goal)
        step = middle
        if abs(value) <= 1e-9 or high - low < 1e-10:
            break
        if value > 0.0:
            high, over = middle, value
            if side == 1:
                under *= 0.5
            side = 1
        else:
            low, under = middle, value
            if side == -1:
                over *= 0.5
            side = -1
    return step, event
