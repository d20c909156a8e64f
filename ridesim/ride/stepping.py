"""The stepper: one phase of a ride, from its start to its planned end or to the first event."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from ridesim.physics.chopper import CUT_OFF
from ridesim.physics.compiled import compiled
from ridesim.ride.numbers import DRIVE, STALL, Machine, Scene
from ridesim.ride.rates import rates
from ridesim.ride.state import (
    ACCELERATION,
    CASE,
    CHARGE,
    CONTROLLED,
    CRAWL_S,
    CUT_OFF_AT,
    CUT_OFF_X,
    DISTANCE,
    DUTY,
    EMPTY_AT,
    EMPTY_X,
    EVALUATIONS,
    FIRST_SUM,
    HIGHEST_CURRENT,
    HOT_AT,
    HOT_S,
    HOTTEST,
    LAST_SUM,
    LIMIT,
    LONGEST_STALL_AT,
    LONGEST_STALL_S,
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
    SECONDS_BELOW,
    SPEED,
    STALL_S,
    STATE_SIZE,
    STEPS,
    SWITCHED_OFF,
    TIME,
    VOLTS,
    WINDING,
)  # fmt: skip

Array = NDArray[float64]

ENDED, COMMAND, PLACE, STOOD, SHORT, RELEASED, EMPTY, HELD, LEAVES = range(9)
"""Why a phase ended: its time is up; the speed met the command; the place was reached; the vehicle came to a stand; the
pull fell short of the command; it broke away; the pack is empty; it cannot break away; it has crawled for too long."""

NO_COMMAND, TRACE_COMMAND, ROUTE_COMMAND = range(3)

CRAWL_MPS = 0.1
LEAVES_AFTER_S = 60.0
"""Slower than 0.1 m/s for 60 s under full command: the vehicle leaves the activity."""


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


ROW = 13
"""Columns of a kept row: time, speed, distance, pull, pack volts, pack current, motor current, duty, z, winding, case, limit,
mode."""

_TOLERANCE = np.array([1e-2, 1e-5, 1e-6, 1e-6, 2e-3, 2e-2, 2e-2])
"""Largest local error of distance [m], speed [m/s], the law's charges, polarisation [V], winding and case [°C] a step."""

LONGEST_STEP_S = np.array([300.0, 60.0, 5.0, 5.0])
"""Longest step standing, driving, stalled, coasting: kept rows stay close enough to draw from."""
_AT = 1e-9
"""Nearer than this to an event is at it, in the event's own unit."""


@compiled
def commanded(s: Array, goal: Goal) -> float:
    """Commanded speed at a state: the trace's line, or the lower of limit and braking envelope √(v² + 2 b s). [m/s]"""
    if goal.command == TRACE_COMMAND:
        return goal.speed + goal.slope * float(s[TIME] - goal.since)
    left = max(0.0, goal.end - float(s[DISTANCE]))
    return min(goal.speed, sqrt(goal.end_speed * goal.end_speed + 2.0 * goal.slope * left))


@compiled
def _beyond(event: int, s: Array, out: Array, scene: Scene, goal: Goal) -> float:
    """How far a state is beyond an event, in the event's own unit; negative before it."""
    if event == COMMAND:
        return float(s[SPEED]) - commanded(s, goal)
    if event == PLACE:
        return float(s[DISTANCE]) - goal.end
    if event == STOOD:
        return -float(s[SPEED])
    if event == SHORT:
        return scene.wanted - float(out[POSSIBLE])
    if event == RELEASED:
        return float(out[MARGIN])
    return -float(out[CHARGE])


@compiled
def _crossed(s: Array, out: Array, scene: Scene, goal: Goal) -> tuple[float, int]:
    """The watched event that a state is furthest beyond; at or above zero it has happened."""
    most, event = -1e300, ENDED
    if s[SWITCHED_OFF] == 0.0:
        most, event = -float(out[CHARGE]), EMPTY
    if scene.mode == STALL and out[MARGIN] > most:
        most, event = float(out[MARGIN]), RELEASED
    if goal.watch_short == 1 and scene.wanted - out[POSSIBLE] > most:
        most, event = scene.wanted - float(out[POSSIBLE]), SHORT
    if goal.watch_stand == 1 and -s[SPEED] > most:
        most, event = -float(s[SPEED]), STOOD
    if goal.watch_place == 1 and s[DISTANCE] - goal.end > most:
        most, event = float(s[DISTANCE]) - goal.end, PLACE
    if goal.command != NO_COMMAND:
        over = float(s[SPEED]) - commanded(s, goal)
        if over > most:
            most, event = over, COMMAND
    return most, event


@compiled
def _try_step(s: Array, h: float, m: Machine, scene: Scene, k: Array, trial: Array, out: Array) -> float:
    """One step from ``s`` into ``trial``; k[0] holds the rates at ``s``, k[3] those at the end. Returns error over tolerance.

    The sums of the ledger feed nothing back: the stages leave them alone, and they take the step's weights at its end.

    References
    ----------
    Bogacki & Shampine, Appl. Math. Lett. 2 (1989) 321: the 3(2) pair.
    """
    trial[SWITCHED_OFF] = s[SWITCHED_OFF]
    for stage in range(1, 4):
        if stage == 1:
            a, b, c, share = 0.5, 0.0, 0.0, 0.5
        elif stage == 2:
            a, b, c, share = 0.0, 0.75, 0.0, 0.75
        else:
            a, b, c, share = 2.0 / 9.0, 1.0 / 3.0, 4.0 / 9.0, 1.0
        trial[TIME] = s[TIME] + share * h
        for i in range(CONTROLLED):
            trial[i] = s[i] + h * (a * k[0, i] + b * k[1, i] + c * k[2, i])
        rates(trial, m, scene, k[stage], out)
    worst = 0.0
    for i in range(CONTROLLED):
        error = h * (k[0, i] * (-5.0 / 72.0) + k[1, i] / 12.0 + k[2, i] / 9.0 - k[3, i] / 8.0)
        worst = max(worst, abs(error) / _TOLERANCE[i])
    return worst


@compiled
def _add_sums(s: Array, h: float, k: Array, trial: Array) -> None:
    """The step's contribution to the sums, by the weights of the third-order solution."""
    for i in range(FIRST_SUM, LAST_SUM + 1):
        trial[i] = s[i] + h * (2.0 * k[0, i] + 3.0 * k[1, i] + 4.0 * k[2, i]) / 9.0


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
def _note_step(
    tally: Array, old: Array, new: Array, z_old: float, out: Array, h: float, m: Machine, scene: Scene, goal: Goal
) -> None:
    """Crossings and sums over one accepted step."""
    z_new = out[CHARGE]
    if z_old >= m.reserve > z_new and tally[RESERVE_AT] < 0.0:
        share = (z_old - m.reserve) / (z_old - z_new)
        tally[RESERVE_AT] = old[TIME] + share * h
        tally[RESERVE_X] = old[DISTANCE] + share * (new[DISTANCE] - old[DISTANCE])
    if scene.mode == STALL or (goal.command != NO_COMMAND and out[POSSIBLE] <= scene.wanted):
        tally[SECONDS_BELOW] += h
        tally[CRAWL_S] = tally[CRAWL_S] + h if new[SPEED] < CRAWL_MPS else 0.0
    elif goal.command != NO_COMMAND:
        tally[CRAWL_S] = 0.0
    if scene.mode == STALL and out[MOTOR_CURRENT] > 0.0:
        tally[STALL_S] += h
        if tally[STALL_S] > tally[LONGEST_STALL_S]:
            tally[LONGEST_STALL_S] = tally[STALL_S]
            tally[LONGEST_STALL_AT] = new[TIME] - tally[STALL_S]
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
    Bogacki & Shampine 1989 with step control; events by the Illinois variant of regula falsi on the step's length.
    """
    k = np.empty((4, STATE_SIZE))
    out = np.empty(OUTPUT_SIZE)
    trial = np.empty(STATE_SIZE)
    rates(s, m, scene, k[0], out)
    tally[EVALUATIONS] += 1
    if scene.mode == DRIVE:
        if s[SPEED] <= 0.0 and out[MARGIN] <= _AT:
            return HELD, rows, used
        if goal.watch_short == 1 and scene.wanted - out[POSSIBLE] > _AT:
            return SHORT, rows, used
    _note(tally, s, out, m, scene)
    rows, used = keep(rows, used, s, out, scene)
    end = s[TIME] + span
    longest = LONGEST_STEP_S[scene.mode] / fineness
    h = min(longest, span)
    if goal.command != NO_COMMAND:
        # With a steady acceleration the first step lands on the command.
        rising = out[ACCELERATION] - (goal.slope if goal.command == TRACE_COMMAND else 0.0)
        gap = commanded(s, goal) - s[SPEED]
        h = min(h, gap / rising) if rising > 0.0 and gap > 0.0 else min(h, 1.0)
    z = out[CHARGE]
    while True:
        left = end - s[TIME]
        if left <= _AT:
            return ENDED, rows, used
        if goal.command != NO_COMMAND and s[SPEED] < CRAWL_MPS:
            h = min(h, 1.0)  # so that the seconds of a crawl are counted one by one
        last = h >= left
        step = left if last else h
        before = _beyond(COMMAND, s, out, scene, goal) if goal.command != NO_COMMAND else 0.0
        error = _try_step(s, step, m, scene, k, trial, out) * fineness**3
        tally[EVALUATIONS] += 3
        if error > 1.0:
            # The usual cause is a bend between two limits, where the error is of second order.
            h = step * max(0.1, 0.9 * error**-0.5)
            continue
        beyond, event = _crossed(trial, out, scene, goal)
        happened = beyond > _AT
        if happened:
            step, event = _locate(s, step, m, scene, goal, k, trial, out, tally)
        elif event == COMMAND and beyond >= -_AT:
            happened = before < -1e-6  # landed on it; a phase that starts on the command must have left it before
        _add_sums(s, step, k, trial)
        _note_step(tally, s, trial, z, out, step, m, scene, goal)
        for i in range(STATE_SIZE):
            s[i] = trial[i]
            k[0, i] = k[3, i]
        if s[SPEED] < 0.0:
            s[SPEED] = 0.0
        z = out[CHARGE]
        tally[STEPS] += 1
        _note(tally, s, out, m, scene)
        rows, used = keep(rows, used, s, out, scene)
        if happened:
            return event, rows, used
        if tally[CRAWL_S] >= LEAVES_AFTER_S - _AT:
            return LEAVES, rows, used
        if last:
            s[TIME] = end
            return ENDED, rows, used
        h = min(longest, max(step, 1e-6) * (5.0 if error < 6e-3 else 0.9 * error ** (-1.0 / 3.0)))


@compiled
def _locate(
    s: Array, step: float, m: Machine, scene: Scene, goal: Goal, k: Array, trial: Array, out: Array, tally: Array
) -> tuple[float, int]:
    """Shorten a step, whose end ``trial`` is beyond an event, so that it ends at the first event."""
    over, event = _crossed(trial, out, scene, goal)
    low, high = 0.0, step
    under = _start_of(event, s, m, scene, goal, over)
    side = 0
    for _ in range(60):
        middle = (low * over - high * under) / (over - under)
        if not low < middle < high:
            middle = 0.5 * (low + high)
        step = middle
        _try_step(s, step, m, scene, k, trial, out)
        tally[EVALUATIONS] += 3
        value, first = _crossed(trial, out, scene, goal)
        if abs(value) <= _AT or high - low < 1e-10:
            return step, first
        if value > 0.0:
            if first != event:
                event = first
                under = _start_of(event, s, m, scene, goal, value) if low == 0.0 else -value
            elif side == 1:
                under *= 0.5
            high, over, side = middle, value, 1
        else:
            value = _beyond(event, trial, out, scene, goal)
            if side == -1:
                over *= 0.5
            low, under, side = middle, value, -1
    return step, event


@compiled
def _start_of(event: int, s: Array, m: Machine, scene: Scene, goal: Goal, over: float) -> float:
    """How far before an event the step's start is; only guides the first guess, so it is never zero."""
    if event == COMMAND:
        before = s[SPEED] - commanded(s, goal)
    elif event == PLACE:
        before = s[DISTANCE] - goal.end
    elif event == STOOD:
        before = -s[SPEED]
    else:
        before = -over
    return min(before, -1e-6 * over)
