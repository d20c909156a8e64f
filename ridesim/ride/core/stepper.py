"""The stepper: one phase of a ride, from its start to its planned end or to the first event."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from ridesim.physics.compiled import compiled, inlined
from ridesim.physics.controller import CUT_OFF
from ridesim.ride.core.rates import rates
from ridesim.ride.core.records import (
    ACCELERATION,
    ASIDE,
    BETWEEN,
    CASE,
    CHARGE,
    CHARGE_2,
    CONTROLLED,
    CRAWL_S,
    CUT,
    CUT_LEG,
    CUT_OFF_AT,
    CUT_OFF_X,
    CUT_OUTS,
    CUT_S,
    CUTS_IN_A_ROW,
    DISTANCE,
    DRAWN,
    DUTY,
    EVALUATIONS,
    FIRST_SUM,
    HIGHEST_CURRENT,
    HOT_AT,
    HOT_S,
    HOTTEST,
    LAST_SUM,
    LEG,
    LIMIT,
    LOWEST_VOLTS,
    MARGIN,
    MINUTE_CURRENT,
    MOTOR_CURRENT,
    NEXT,
    NOW,
    OUT,
    OUTPUT_SIZE,
    PACK_CURRENT,
    POLARISATION,
    POSSIBLE,
    PULL,
    RATES,
    READY_AT,
    RESERVE_AT,
    RESERVE_X,
    SECONDS_BELOW,
    SPEED,
    STALL_A,
    STALL_HEAT,
    STALL_S,
    STARTS,
    STATE_SIZE,
    STEPS,
    SWITCH,
    SWITCHED_OFF,
    TALLY,
    THROTTLE_AT,
    THROUGHPUT,
    TIME,
    VOLTS,
    WINDING,
    WORST_STALL_A,
    WORST_STALL_AT,
    WORST_STALL_HEAT,
    WORST_STALL_S,
)  # fmt: skip
from ridesim.ride.machine import DRIVE, STALL, STAND, Machine, Scene

Array = NDArray[float64]

ENDED, COMMAND, PLACE, STOOD, SHORT, RELEASED, EMPTY, HELD, LEAVES, SWITCHED = range(10)
"""Why a phase ended: its time is up; the speed met the command; the place was reached; the vehicle came to a stand; the
pull fell short of the command; it broke away; the pack is empty; it cannot break away; it has crawled for too long; the
controller cut out or came back."""

NO_COMMAND, TRACE_COMMAND, ROUTE_COMMAND = range(3)

CRAWL_MPS = 0.1
LEAVES_AFTER_S = 60.0
"""Slower than 0.1 m/s for 60 s under full command: the vehicle leaves the activity."""


MOST_CUTS_IN_A_ROW = 10
BACK_FOR_GOOD_S = 60.0
"""A controller that cuts out an eleventh time, each time within a minute of coming back: the rider gives up the activity.
Common practice, no source; it also bounds the number of events in a day."""
BEND_S = 0.01
"""With a cut-out a step in which one limit gives way to another is no longer than this: the voltage is lowest at such a bend. [s]"""


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


ROW = 14
"""Columns of a kept row: time, speed, distance, pull, pack volts, pack current, motor current, duty, z, winding, case, limit,
mode, the capacity law's second charge."""

_TOLERANCE = np.array([1e-2, 2e-5, 1e-6, 1e-6, 5e-4, 4e-4, 4e-4])
"""Largest local error of distance [m], speed [m/s], the law's charges, polarisation [V], winding and case [K] a step."""
_WARM_SHARE = 4e-5
"""The temperatures' errors may grow by this share of the winding's rise above ambient."""
_ENERGY_J, _ENERGY_SHARE = 0.01, 3e-7
"""The same of the energy drawn [J], and as a share of all energy that went through the pack."""
_KINETIC_J, _KINETIC_SHARE = 3e-5, 3e-9
"""The same of the kinetic energy: what the ledger's residual is made of."""

LONGEST_STEP_S = np.array([300.0, 60.0, 5.0, 5.0])
"""Longest step standing, driving, stalled, coasting: kept rows stay close enough to draw from."""
_AT = 1e-9
"""Nearer than this to an event is at it, in the event's own unit."""


@compiled
def commanded(time: float, distance: float, goal: Goal) -> float:
    """Commanded speed at a state: the trace's line, or the lower of limit and braking envelope √(v² + 2 b s). [m/s]"""
    if goal.command == TRACE_COMMAND:
        return goal.speed + goal.slope * (time - goal.since)
    left = max(0.0, goal.end - distance)
    return min(goal.speed, sqrt(goal.end_speed * goal.end_speed + 2.0 * goal.slope * left))


@inlined
def _beyond(event: int, w: Array, place: int, scene: Scene, goal: Goal) -> float:
    """How far a state is beyond an event, in the event's own unit; negative before it."""
    if event == COMMAND:
        return float(w[place, SPEED]) - commanded(w[place, TIME], w[place, DISTANCE], goal)
    if event == PLACE:
        return float(w[place, DISTANCE]) - goal.end
    if event == STOOD:
        return -float(w[place, SPEED])
    if event == SHORT:
        return scene.wanted - float(w[OUT, POSSIBLE])
    if event == RELEASED:
        return float(w[OUT, MARGIN])
    if event == SWITCHED:
        return float(w[OUT, SWITCH])
    return -float(w[OUT, CHARGE])


@inlined
def _crossed(w: Array, scene: Scene, goal: Goal) -> tuple[float, int]:
    """The watched event that a state is furthest beyond; at or above zero it has happened."""
    most, event = -1e300, ENDED
    if w[NEXT, SWITCHED_OFF] == 0.0:
        most, event = -float(w[OUT, CHARGE]), EMPTY
    if w[OUT, SWITCH] > most:
        most, event = float(w[OUT, SWITCH]), SWITCHED
    if scene.mode == STALL and w[OUT, MARGIN] > most:
        most, event = float(w[OUT, MARGIN]), RELEASED
    if goal.watch_short == 1 and scene.wanted - w[OUT, POSSIBLE] > most:
        most, event = scene.wanted - float(w[OUT, POSSIBLE]), SHORT
    if goal.watch_stand == 1 and -w[NEXT, SPEED] > most:
        most, event = -float(w[NEXT, SPEED]), STOOD
    if goal.watch_place == 1 and w[NEXT, DISTANCE] - goal.end > most:
        most, event = float(w[NEXT, DISTANCE]) - goal.end, PLACE
    if goal.command != NO_COMMAND:
        over = float(w[NEXT, SPEED]) - commanded(w[NEXT, TIME], w[NEXT, DISTANCE], goal)
        if over > most:
            most, event = over, COMMAND
    return most, event


@compiled
def _try_step(w: Array, h: float, m: Machine, scene: Scene) -> float:
    """One step from ``s`` into ``trial``; k[0] holds the rates at ``s``, k[3] those at the end. Returns error over tolerance.

    The sums of the ledger feed nothing back: the stages leave them alone, and they take the step's weights at its end.

    References
    ----------
    Bogacki & Shampine, Appl. Math. Lett. 2 (1989) 321: the 3(2) pair.
    """
    w[NEXT, SWITCHED_OFF] = w[NOW, SWITCHED_OFF]
    for stage in range(1, 4):
        if stage == 1:
            a, b, c, share = 0.5, 0.0, 0.0, 0.5
        elif stage == 2:
            a, b, c, share = 0.0, 0.75, 0.0, 0.75
        else:
            a, b, c, share = 2.0 / 9.0, 1.0 / 3.0, 4.0 / 9.0, 1.0
        w[NEXT, TIME] = w[NOW, TIME] + share * h
        for i in range(CONTROLLED):
            w[NEXT, i] = w[NOW, i] + h * (a * w[RATES, i] + b * w[RATES + 1, i] + c * w[RATES + 2, i])
        rates(w, NEXT, RATES + stage, m, scene)
    worst = 0.0
    for i in range(CONTROLLED):
        error = h * (
            w[RATES, i] * (-5.0 / 72.0) + w[RATES + 1, i] / 12.0 + w[RATES + 2, i] / 9.0 - w[RATES + 3, i] / 8.0
        )
        allowed = _TOLERANCE[i] + _WARM_SHARE * abs(w[NOW, WINDING] - scene.ambient) if i >= WINDING else _TOLERANCE[i]
        worst = max(worst, abs(error) / allowed)
    # The motor's current can bend inside a braking ramp while the speed runs straight: only the energy shows it.
    error = h * (
        w[RATES, DRAWN] * (-5.0 / 72.0)
        + w[RATES + 1, DRAWN] / 12.0
        + w[RATES + 2, DRAWN] / 9.0
        - w[RATES + 3, DRAWN] / 8.0
    )
    worst = max(worst, abs(error) / (_ENERGY_J + _ENERGY_SHARE * w[NOW, THROUGHPUT]))
    # Power into motion, summed like the ledger, against the kinetic energy that the step's speeds say.
    moved = 0.0
    for stage, weight in ((0, 2.0), (1, 3.0), (2, 4.0)):
        moved += weight * w[RATES + stage, DISTANCE] * w[RATES + stage, SPEED]
    gained = 0.5 * float(w[NEXT, SPEED] * w[NEXT, SPEED] - w[NOW, SPEED] * w[NOW, SPEED])
    error = scene.effective_mass * (gained - h * moved / 9.0)
    return float(max(worst, abs(error) / (_KINETIC_J + _KINETIC_SHARE * w[NOW, THROUGHPUT])))


@inlined
def _add_sums(w: Array, h: float) -> None:
    """The step's contribution to the sums, by the weights of the third-order solution."""
    for i in range(FIRST_SUM, LAST_SUM + 1):
        w[NEXT, i] = w[NOW, i] + h * (2.0 * w[RATES, i] + 3.0 * w[RATES + 1, i] + 4.0 * w[RATES + 2, i]) / 9.0


@compiled
def keep(rows: Array, used: int, w: Array, scene: Scene) -> tuple[Array, int]:
    """Add a row to the kept rows, doubling their room when full; an array of no rows keeps none."""
    if rows.shape[0] == 0:
        return rows, used
    if used == rows.shape[0]:
        larger = np.empty((2 * used, ROW))
        larger[:used] = rows
        rows = larger
    row = rows[used]
    row[0], row[1], row[2] = w[NOW, TIME], w[NOW, SPEED], w[NOW, DISTANCE]
    row[3], row[4], row[5] = w[OUT, PULL], w[OUT, VOLTS], w[OUT, PACK_CURRENT]
    row[6], row[7], row[8] = w[OUT, MOTOR_CURRENT], w[OUT, DUTY], w[OUT, CHARGE]
    row[9], row[10], row[11], row[12] = w[NOW, WINDING], w[NOW, CASE], w[OUT, LIMIT], scene.mode
    row[13] = w[NOW, CHARGE_2]
    return rows, used + 1


@inlined
def _note(w: Array, m: Machine) -> None:
    """Extremes at one moment."""
    w[TALLY, LOWEST_VOLTS] = min(w[TALLY, LOWEST_VOLTS], w[OUT, VOLTS])
    w[TALLY, HIGHEST_CURRENT] = max(w[TALLY, HIGHEST_CURRENT], w[OUT, PACK_CURRENT])
    w[TALLY, HOTTEST] = max(w[TALLY, HOTTEST], w[NOW, WINDING])
    if m.polarisation_resistance > 0.0:
        w[TALLY, MINUTE_CURRENT] = max(w[TALLY, MINUTE_CURRENT], w[NOW, POLARISATION] / m.polarisation_resistance)
    if w[OUT, LIMIT] == CUT_OFF and w[TALLY, CUT_OFF_AT] < 0.0:
        w[TALLY, CUT_OFF_AT], w[TALLY, CUT_OFF_X] = w[NOW, TIME], w[NOW, DISTANCE]


@compiled
def _peak_between(w: Array, h: float, limit: float, m: Machine, scene: Scene) -> None:
    """Extremes inside a step in which one limit of the pull gave way to another: the pack current peaks at such a bend.

    The bend is narrowed down by halving, on the speed's cubic and straight lines of the slow states through both ends.
    """
    for i in range(OUTPUT_SIZE):
        w[ASIDE, i] = w[OUT, i]
    low, high = 0.0, 1.0
    for _ in range(6):
        x = 0.5 * (low + high)
        for i in range(CONTROLLED):
            w[BETWEEN, i] = w[NOW, i] + x * (w[NEXT, i] - w[NOW, i])
        rise = w[NEXT, SPEED] - w[NOW, SPEED]
        bow = (1.0 - x) * (h * w[RATES, SPEED] - rise) - x * (h * w[RATES + 3, SPEED] - rise)
        w[BETWEEN, SPEED] += x * (1.0 - x) * bow
        w[BETWEEN, TIME] = w[NOW, TIME] + x * h
        w[BETWEEN, SWITCHED_OFF] = w[NOW, SWITCHED_OFF]
        rates(w, BETWEEN, BETWEEN, m, scene)
        w[TALLY, EVALUATIONS] += 1
        w[TALLY, LOWEST_VOLTS] = min(w[TALLY, LOWEST_VOLTS], w[OUT, VOLTS])
        w[TALLY, HIGHEST_CURRENT] = max(w[TALLY, HIGHEST_CURRENT], w[OUT, PACK_CURRENT])
        if w[OUT, LIMIT] == limit:
            low = x
        else:
            high = x
    for i in range(OUTPUT_SIZE):
        w[OUT, i] = w[ASIDE, i]


@inlined
def _note_step(w: Array, z_old: float, h: float, m: Machine, scene: Scene, goal: Goal) -> None:
    """Crossings and sums over one accepted step."""
    z_new = w[OUT, CHARGE]
    if z_old >= m.reserve > z_new and w[TALLY, RESERVE_AT] < 0.0:
        share = (z_old - m.reserve) / (z_old - z_new)
        w[TALLY, RESERVE_AT] = w[NOW, TIME] + share * h
        w[TALLY, RESERVE_X] = w[NOW, DISTANCE] + share * (w[NEXT, DISTANCE] - w[NOW, DISTANCE])
    if scene.mode == STALL or (goal.command != NO_COMMAND and w[OUT, POSSIBLE] <= scene.wanted):
        w[TALLY, SECONDS_BELOW] += h
        was, now = w[NOW, SPEED], w[NEXT, SPEED]
        slow = h * (CRAWL_MPS - now) / (was - now) if was > CRAWL_MPS else h
        w[TALLY, CRAWL_S] = w[TALLY, CRAWL_S] + slow if now < CRAWL_MPS else 0.0
    elif goal.command != NO_COMMAND:
        w[TALLY, CRAWL_S] = 0.0
    if scene.mode == STALL and w[OUT, MOTOR_CURRENT] > 0.0:
        if w[TALLY, STALL_S] <= 0.0:
            w[TALLY, STALL_A] = w[TALLY, STALL_HEAT] = 0.0
        w[TALLY, STALL_S] += h
        w[TALLY, STALL_A] = max(w[TALLY, STALL_A], w[OUT, MOTOR_CURRENT])
        w[TALLY, STALL_HEAT] += h * w[OUT, MOTOR_CURRENT] ** 2  # at the step's end: on the cautious side while it rises
        if w[TALLY, STALL_HEAT] > w[TALLY, WORST_STALL_HEAT]:
            w[TALLY, WORST_STALL_HEAT] = w[TALLY, STALL_HEAT]
            w[TALLY, WORST_STALL_S] = w[TALLY, STALL_S]
            w[TALLY, WORST_STALL_A] = w[TALLY, STALL_A]
            w[TALLY, WORST_STALL_AT] = w[NEXT, TIME] - w[TALLY, STALL_S]
    if w[TALLY, CUT] == 1.0 and scene.mode != STAND:
        w[TALLY, CUT_S] += h
    if w[NEXT, WINDING] > m.winding_limit:
        w[TALLY, HOT_S] += h
        if w[TALLY, HOT_AT] < 0.0:
            w[TALLY, HOT_AT] = w[NEXT, TIME]


@compiled
def _throttle(w: Array, m: Machine, scene: Scene) -> None:
    """Where the throttle opens, which is where a soft start begins: in full only from a stand."""
    if scene.mode == STAND:
        w[TALLY, THROTTLE_AT] = -1.0
    elif scene.mode <= STALL and w[TALLY, THROTTLE_AT] < 0.0:
        from_stand = w[NOW, SPEED] <= 0.0
        w[TALLY, THROTTLE_AT] = w[NOW, TIME] if from_stand else w[NOW, TIME] - m.ramp
        w[TALLY, STARTS] += from_stand


@compiled
def _switch(w: Array, m: Machine) -> None:
    """The controller cuts out, for its shortest time off at least, or comes back, its soft start from the beginning."""
    now = w[NOW, TIME]
    if w[TALLY, CUT] == 1.0:
        w[TALLY, CUT] = 0.0
        w[TALLY, READY_AT] = now
        w[TALLY, THROTTLE_AT] = now
        return
    near = w[TALLY, CUTS_IN_A_ROW] > 0.0 and now - w[TALLY, READY_AT] < BACK_FOR_GOOD_S
    w[TALLY, CUTS_IN_A_ROW] = w[TALLY, CUTS_IN_A_ROW] + 1.0 if near else 1.0
    w[TALLY, CUT] = 1.0
    w[TALLY, READY_AT] = now + m.restart_delay
    w[TALLY, CUT_OUTS] += 1.0
    w[TALLY, LOWEST_VOLTS] = min(w[TALLY, LOWEST_VOLTS], m.cutoff)
    if w[TALLY, CUT_OFF_AT] < 0.0:
        w[TALLY, CUT_OFF_AT], w[TALLY, CUT_OFF_X], w[TALLY, CUT_LEG] = now, w[NOW, DISTANCE], w[TALLY, LEG]


@compiled
def advance(
    w: Array, span: float, m: Machine, scene: Scene, goal: Goal, rows: Array, used: int, fineness: float
) -> tuple[int, Array, int]:
    """Advance the state in place until ``span`` is over or an event happens.

    Parameters
    ----------
    w : ndarray, shape (WORK_ROWS, WORK_COLUMNS)
        The working array; its state and tally are changed in place.
    span : float
        Time to the phase's planned end. [s]
    m, scene, goal
        The build, what surrounds it, and what to watch for.
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
    _throttle(w, m, scene)
    rates(w, NOW, RATES, m, scene)
    w[TALLY, EVALUATIONS] += 1
    if w[OUT, SWITCH] > _AT:
        _switch(w, m)
        return SWITCHED, rows, used
    if scene.mode == DRIVE:
        if w[NOW, SPEED] <= 0.0 and w[OUT, MARGIN] <= _AT:
            return HELD, rows, used
        if goal.watch_short == 1 and scene.wanted - w[OUT, POSSIBLE] > _AT:
            return SHORT, rows, used
    _note(w, m)
    rows, used = keep(rows, used, w, scene)
    end = w[NOW, TIME] + span
    longest = LONGEST_STEP_S[scene.mode] / fineness
    h = min(longest, span)
    if goal.command != NO_COMMAND:
        # With a steady acceleration the first step lands on the command.
        rising = w[OUT, ACCELERATION] - (goal.slope if goal.command == TRACE_COMMAND else 0.0)
        gap = commanded(w[NOW, TIME], w[NOW, DISTANCE], goal) - w[NOW, SPEED]
        h = min(h, gap / rising) if rising > 0.0 and gap > 0.0 else min(h, 1.0)
    z = w[OUT, CHARGE]
    limit, volts, current = w[OUT, LIMIT], w[OUT, VOLTS], w[OUT, PACK_CURRENT]
    while True:
        left = end - w[NOW, TIME]
        if left <= _AT:
            return ENDED, rows, used
        if goal.command != NO_COMMAND and w[NOW, SPEED] < CRAWL_MPS:
            h = min(h, 1.0, LEAVES_AFTER_S - w[TALLY, CRAWL_S])  # so that the seconds of a crawl are counted one by one
        last = h >= left
        step = left if last else h
        before = _beyond(COMMAND, w, NOW, scene, goal) if goal.command != NO_COMMAND else 0.0
        error = _try_step(w, step, m, scene) * fineness**3
        w[TALLY, EVALUATIONS] += 3
        if error > 1.0:
            # The usual cause is a bend between two limits, where the error is of second order.
            h = step * max(0.1, 0.9 / sqrt(error))
            continue
        if m.cuts_out == 1 and w[OUT, LIMIT] != limit and step > BEND_S:
            h = 0.5 * step
            continue
        beyond, event = _crossed(w, scene, goal)
        happened = beyond > _AT
        if happened:
            step, event = _locate(w, step, m, scene, goal)
        elif event == COMMAND and beyond >= -_AT:
            happened = before < -1e-6  # landed on it; a phase that starts on the command must have left it before
        if w[OUT, LIMIT] != limit:
            swing = abs(w[OUT, VOLTS] - volts)
            surge = abs(w[OUT, PACK_CURRENT] - current)
            lower = min(w[OUT, VOLTS], volts) - swing < w[TALLY, LOWEST_VOLTS]
            if lower or max(w[OUT, PACK_CURRENT], current) + surge > w[TALLY, HIGHEST_CURRENT]:
                _peak_between(w, step, limit, m, scene)
        _add_sums(w, step)
        _note_step(w, z, step, m, scene, goal)
        for i in range(STATE_SIZE):
            w[NOW, i] = w[NEXT, i]
            w[RATES, i] = w[RATES + 3, i]
        if w[NOW, SPEED] < 0.0:
            w[NOW, SPEED] = 0.0
        z = w[OUT, CHARGE]
        limit, volts, current = w[OUT, LIMIT], w[OUT, VOLTS], w[OUT, PACK_CURRENT]
        w[TALLY, STEPS] += 1
        _note(w, m)
        rows, used = keep(rows, used, w, scene)
        if happened:
            if event == SWITCHED:
                _switch(w, m)
            return event, rows, used
        if w[TALLY, CRAWL_S] >= LEAVES_AFTER_S - _AT:
            return LEAVES, rows, used
        if last:
            w[NOW, TIME] = end
            return ENDED, rows, used
        h = min(longest, max(step, 1e-6) * (5.0 if error < 6e-3 else 0.9 / np.cbrt(error)))


@compiled
def _locate(w: Array, step: float, m: Machine, scene: Scene, goal: Goal) -> tuple[float, int]:
    """Shorten a step, whose end ``trial`` is beyond an event, so that it ends at the first event."""
    over, event = _crossed(w, scene, goal)
    low, high = 0.0, step
    under = _start_of(event, w, goal, over)
    side = 0
    for _ in range(60):
        middle = (low * over - high * under) / (over - under)
        if not low < middle < high:
            middle = 0.5 * (low + high)
        step = middle
        _try_step(w, step, m, scene)
        w[TALLY, EVALUATIONS] += 3
        value, first = _crossed(w, scene, goal)
        if abs(value) <= _AT or high - low < 1e-10:
            return step, first
        if value > 0.0:
            if first != event:
                event = first
                under = _start_of(event, w, goal, value) if low == 0.0 else -value
            elif side == 1:
                under *= 0.5
            high, over, side = middle, value, 1
        else:
            value = _beyond(event, w, NEXT, scene, goal)
            if side == -1:
                over *= 0.5
            low, under, side = middle, value, -1
    return step, event


@inlined
def _start_of(event: int, w: Array, goal: Goal, over: float) -> float:
    """How far before an event the step's start is; only guides the first guess, so it is never zero."""
    if event == COMMAND:
        before = w[NOW, SPEED] - commanded(w[NOW, TIME], w[NOW, DISTANCE], goal)
    elif event == PLACE:
        before = w[NOW, DISTANCE] - goal.end
    elif event == STOOD:
        before = -w[NOW, SPEED]
    else:
        before = -over
    return min(float(before), -1e-6 * over)
