"""The three kinds of activity as phases of the stepper: standing, following a trace, riding a route."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from ridesim.physics.capacity_laws import SATURATING
from ridesim.physics.compiled import compiled
from ridesim.ride.core.rates import charges_at, rates
from ridesim.ride.core.records import (
    CHARGE_1,
    CRAWL_S,
    CUTS_IN_A_ROW,
    DISTANCE,
    EMPTY_AT,
    EMPTY_X,
    LEG,
    MARGIN,
    NOW,
    OUT,
    RATES,
    SPEED,
    STALL_S,
    SWITCHED_OFF,
    TALLY,
    THROTTLE_AT,
    TIME,
    USE_BRAKE,
)  # fmt: skip
from ridesim.ride.core.stepper import (
    COMMAND,
    EMPTY,
    ENDED,
    HELD,
    LEAVES_AFTER_S,
    MOST_CUTS_IN_A_ROW,
    NO_COMMAND,
    PLACE,
    ROUTE_COMMAND,
    SHORT,
    STOOD,
    TRACE_COMMAND,
    Goal,
    advance,
    commanded,
)  # fmt: skip
from ridesim.ride.machine import COAST, DRIVE, STALL, STAND, Machine, Scene

Array = NDArray[float64]
Work = Any
"""A record that holds the working array: what lies in a record is passed on without counting references."""

ON_COMMAND_MPS = 1e-8
"""Closer than this to the command counts as on it. [m/s]"""
LONGEST_LEG_S = 86_400.0
"""A leg that takes more than a day is left: nobody waits for it."""

DONE, LEFT = 0, 1
"""How an activity ended."""

_QUIET = Goal(NO_COMMAND, 0.0, 0.0, 0.0, 0.0, 0.0, 0, 0, 0)
_HOLD_COMMAND = Goal(NO_COMMAND, 0.0, 0.0, 0.0, 0.0, 0.0, 0, 0, 1)
_ROLL = Goal(NO_COMMAND, 0.0, 0.0, 0.0, 0.0, 0.0, 0, 1, 0)


@compiled
def _scene(
    base: Scene, mode: int, wanted: float, grade: float, grade_rate: float, since: float, factor: float
) -> Scene:
    return Scene(
        mode, wanted, base.mass, base.effective_mass, base.density, base.headwind, grade, grade_rate, since,
        base.rolling * factor, base.controller_on, base.light_power, base.charger, base.ambient,
    )  # fmt: skip


@compiled
def brake_to(w: Array, speed: float, effective_mass: float) -> None:
    """Let the brake take the speed above a command at once; its energy goes into the ledger."""
    w[NOW, USE_BRAKE] += 0.5 * effective_mass * (w[NOW, SPEED] * w[NOW, SPEED] - speed * speed)
    w[NOW, SPEED] = speed


@compiled
def _stand(
    w: Array, span: float, m: Machine, base: Scene, rows: Array, used: int, fineness: float
) -> tuple[Array, int]:
    """Stand for a time, lights and charger as the scene says. Energy left at the start of the stand is the brake's."""
    if w[NOW, SPEED] > 0.0:
        brake_to(w, 0.0, base.effective_mass)
    if base.charger > 0.0:
        w[NOW, SWITCHED_OFF] = 0.0
    scene = _scene(base, STAND, 0.0, 0.0, 0.0, 0.0, 1.0)
    end = w[NOW, TIME] + span
    while w[NOW, TIME] < end - 1e-9:
        event, rows, used = advance(w, end - w[NOW, TIME], m, scene, _QUIET, rows, used, fineness)
        if event == EMPTY:
            empty(w, m)
    return rows, used


@compiled
def stand(
    work: Work, span: float, m: Machine, base: Scene, rows: Array, used: int, fineness: float
) -> tuple[Array, int]:
    """Stand for a time, as :func:`_stand`, from outside the core."""
    return _stand(work["w"], span, m, base, rows, used, fineness)


@compiled
def brake(work: Work, speed: float, effective_mass: float) -> None:
    """Let the brake take the speed above another, as :func:`brake_to`, from outside the core."""
    brake_to(work["w"], speed, effective_mass)


@compiled
def empty(w: Array, m: Machine) -> None:
    """The pack is empty: it stays switched off until a charger is connected, however the laws let it recover."""
    w[NOW, SWITCHED_OFF] = 1.0
    if w[TALLY, EMPTY_AT] < 0.0:
        w[TALLY, EMPTY_AT], w[TALLY, EMPTY_X] = w[NOW, TIME], w[NOW, DISTANCE]
    if m.law != SATURATING:
        w[NOW, CHARGE_1], _ = charges_at(0.0, m)


@compiled
def _margin(w: Array, m: Machine, scene: Scene) -> float:
    """Pull beyond what breaking away needs, at the present state. [N]"""
    rates(w, NOW, RATES, m, scene)
    return float(w[OUT, MARGIN])


@compiled
def _below(
    w: Array,
    span: float,
    wanted: float,
    m: Machine,
    scene: Scene,
    goal: Goal,
    rows: Array,
    used: int,
    fineness: float,
) -> tuple[int, Array, int, bool]:
    """Below the command: accelerate as rider and pull allow, or stand stalled. Returns event, rows, used, has left."""
    moving = _scene(scene, DRIVE, wanted, scene.grade, scene.grade_rate, scene.since, 1.0)
    watch = Goal(goal.command, goal.speed, goal.slope, goal.since, goal.end_speed, goal.end, goal.watch_place, 1, 0)
    event, rows, used = advance(w, span, m, moving, watch, rows, used, fineness)
    if event == HELD:
        stalled = _scene(scene, STALL, wanted, scene.grade, scene.grade_rate, scene.since, 1.0)
        span = min(span, LEAVES_AFTER_S - w[TALLY, CRAWL_S])
        event, rows, used = advance(w, span, m, stalled, _QUIET, rows, used, fineness)
    if event == EMPTY:
        empty(w, m)
    if event == STOOD:
        w[NOW, SPEED] = 0.0
    if w[NOW, SPEED] > 0.0:
        w[TALLY, STALL_S] = 0.0
    gives_up = w[TALLY, CRAWL_S] >= LEAVES_AFTER_S - 1e-9 or w[TALLY, CUTS_IN_A_ROW] > MOST_CUTS_IN_A_ROW
    return event, rows, used, gives_up


@compiled
def _begin(w: Array) -> None:
    """An activity that moves begins: nothing is counted against it yet, and from a stand the throttle is closed."""
    w[TALLY, CRAWL_S] = 0.0
    w[TALLY, STALL_S] = 0.0
    w[TALLY, CUTS_IN_A_ROW] = 0.0
    w[TALLY, LEG] = -1.0
    if w[NOW, SPEED] <= 0.0:
        w[TALLY, THROTTLE_AT] = -1.0


@compiled
def follow_trace(
    work: Work,
    times: Array,
    speeds: Array,
    grades: Array,
    repeats: int,
    acceleration: float,
    m: Machine,
    base: Scene,
    rows: Array,
    used: int,
    fineness: float,
) -> tuple[int, Array, int]:
    """Follow a speed trace.

    Parameters
    ----------
    work : record
        Holds the working array "w"; its state and tally are changed in place.
    times, speeds, grades : ndarray, shape (n,)
        Points: rising times [s], speeds [m/s] with NaN for coasting, rise over run [-].
    repeats : int
        How often.
    acceleration : float
        What the rider asks for below the trace. [m/s²]
    m, base, rows, used, fineness
        As in :func:`ridesim.ride.core.stepper.advance`.

    Returns
    -------
    tuple
        DONE or LEFT, rows, used.
    """
    w = work["w"]
    begin = w[NOW, TIME]
    length = times[-1] - times[0]
    _begin(w)
    for repeat in range(repeats):
        for i in range(times.shape[0] - 1):
            start = begin + repeat * length + times[i] - times[0]
            end = begin + repeat * length + times[i + 1] - times[0]
            span = end - start
            rate = (grades[i + 1] - grades[i]) / span
            if np.isnan(speeds[i]) or np.isnan(speeds[i + 1]):
                rows, used = _coast(w, end, grades[i], rate, start, m, base, rows, used, fineness)
                continue
            slope = (speeds[i + 1] - speeds[i]) / span
            left, rows, used = _follow_line(
                w, end, speeds[i], slope, start, grades[i], rate, acceleration, m, base, rows, used, fineness
            )
            if left:
                return LEFT, rows, used
    return DONE, rows, used


@compiled
def _follow_line(
    w: Array,
    end: float,
    speed: float,
    slope: float,
    start: float,
    grade: float,
    grade_rate: float,
    acceleration: float,
    m: Machine,
    base: Scene,
    rows: Array,
    used: int,
    fineness: float,
) -> tuple[bool, Array, int]:
    """One straight piece of a trace."""
    goal = Goal(TRACE_COMMAND, speed, slope, start, 0.0, 0.0, 0, 0, 0)
    fell = False
    if w[NOW, SPEED] <= 0.0 and speed <= 0.0:
        w[TALLY, THROTTLE_AT] = -1.0
    while w[NOW, TIME] < end - 1e-9:
        want = max(0.0, commanded(w[NOW, TIME], w[NOW, DISTANCE], goal))
        if w[NOW, SPEED] > want + ON_COMMAND_MPS:
            brake_to(w, want, base.effective_mass)
        scene = _scene(base, DRIVE, slope, grade, grade_rate, start, 1.0)
        on = w[NOW, SPEED] >= want - ON_COMMAND_MPS and not fell
        if on and want <= ON_COMMAND_MPS and slope <= 0.0:
            w[NOW, SPEED] = 0.0
            w[TALLY, CRAWL_S] = 0.0
            w[TALLY, STALL_S] = 0.0
            resting = _scene(base, STAND, 0.0, grade, grade_rate, start, 1.0)
            event, rows, used = advance(w, end - w[NOW, TIME], m, resting, _QUIET, rows, used, fineness)
            if event == EMPTY:
                empty(w, m)
            continue
        if on:
            event, rows, used = advance(w, end - w[NOW, TIME], m, scene, _HOLD_COMMAND, rows, used, fineness)
            fell = event in (SHORT, HELD)
            if not fell:
                w[TALLY, CRAWL_S] = 0.0
                w[TALLY, STALL_S] = 0.0
            if event == EMPTY:
                empty(w, m)
            w[NOW, SPEED] = max(0.0, commanded(w[NOW, TIME], w[NOW, DISTANCE], goal))
            continue
        before = w[NOW, TIME]
        event, rows, used, left = _below(w, end - w[NOW, TIME], acceleration, m, scene, goal, rows, used, fineness)
        if left:
            return True, rows, used
        # A fall and a catch at one instant would never end: after no progress, ride on below the command for a moment.
        fell = event != COMMAND and w[NOW, TIME] - before < 1e-7
    return False, rows, used


@compiled
def _coast(
    w: Array,
    end: float,
    grade: float,
    grade_rate: float,
    since: float,
    m: Machine,
    base: Scene,
    rows: Array,
    used: int,
    fineness: float,
) -> tuple[Array, int]:
    """No motor and no brake until a time; from a stand it rolls only where the slope breaks it away."""
    scene = _scene(base, COAST, 0.0, grade, grade_rate, since, 1.0)
    resting = _scene(base, STAND, 0.0, grade, grade_rate, since, 1.0)
    while w[NOW, TIME] < end - 1e-9:
        if w[NOW, SPEED] <= 0.0 and _margin(w, m, scene) <= 1e-9:
            span = min(end - w[NOW, TIME], 1.0 if grade_rate != 0.0 else math.inf)
            event, rows, used = advance(w, span, m, resting, _QUIET, rows, used, fineness)
            if event == EMPTY:
                empty(w, m)
            continue
        event, rows, used = advance(w, end - w[NOW, TIME], m, scene, _ROLL, rows, used, fineness)
        if event == EMPTY:
            empty(w, m)
        if event == STOOD:
            w[NOW, SPEED] = 0.0
    return rows, used


@compiled
def ride_route(
    work: Work,
    lengths: Array,
    limits: Array,
    grades: Array,
    factors: Array,
    stops: Array,
    end_speeds: Array,
    acceleration: float,
    braking: float,
    m: Machine,
    base: Scene,
    rows: Array,
    used: int,
    fineness: float,
) -> tuple[int, int, Array, int]:
    """Ride legs one after the other, all laps written out.

    Parameters
    ----------
    work : record
        Holds the working array "w"; its state and tally are changed in place.
    lengths, limits, grades, factors, stops, end_speeds : ndarray, shape (n,)
        Length [m], speed limit [m/s], rise over run [-], surface factor [-], stop at the end [s], and the speed that the
        braking envelope of all later legs allows at the end [m/s].
    acceleration, braking : float
        What the rider asks for. [m/s²]
    m, base, rows, used, fineness
        As in :func:`ridesim.ride.core.stepper.advance`.

    Returns
    -------
    tuple
        DONE or LEFT, the leg it ended on, rows, used.
    """
    w = work["w"]
    _begin(w)
    for leg in range(lengths.shape[0]):
        end = w[NOW, DISTANCE] + lengths[leg]
        w[TALLY, LEG] = leg
        left, rows, used = _ride_leg(
            w,
            end,
            limits[leg],
            end_speeds[leg],
            grades[leg],
            factors[leg],
            acceleration,
            braking,
            m,
            base,
            rows,
            used,
            fineness,
        )
        if left:
            return LEFT, leg, rows, used
        if stops[leg] > 0.0:
            rows, used = _stand(w, stops[leg], m, base, rows, used, fineness)
    return DONE, lengths.shape[0] - 1, rows, used


@compiled
def _ride_leg(
    w: Array,
    end: float,
    limit: float,
    end_speed: float,
    grade: float,
    factor: float,
    acceleration: float,
    braking: float,
    m: Machine,
    base: Scene,
    rows: Array,
    used: int,
    fineness: float,
) -> tuple[bool, Array, int]:
    """One leg: below the command, along the limit, down the braking envelope, until its end is reached."""
    goal = Goal(ROUTE_COMMAND, limit, braking, 0.0, end_speed, end, 1, 0, 0)
    fell = False
    latest = w[NOW, TIME] + LONGEST_LEG_S
    while w[NOW, DISTANCE] < end - 1e-9:
        if w[NOW, TIME] >= latest - 1e-6:
            return True, rows, used
        left = end - w[NOW, DISTANCE]
        envelope = np.sqrt(end_speed * end_speed + 2.0 * braking * left)
        want = min(limit, envelope)
        if w[NOW, SPEED] > want + ON_COMMAND_MPS:
            brake_to(w, want, base.effective_mass)
        ramp = envelope <= limit + ON_COMMAND_MPS
        wanted = -braking if ramp else 0.0
        scene = _scene(base, DRIVE, wanted, grade, 0.0, 0.0, factor)
        on = w[NOW, SPEED] >= want - ON_COMMAND_MPS and not fell
        if on:
            if ramp:
                span = (w[NOW, SPEED] - end_speed) / braking
            else:
                span = (left - max(0.0, (limit * limit - end_speed * end_speed) / (2.0 * braking))) / limit
            if span <= 1e-9:
                if ramp or left < 1e-6:
                    w[NOW, DISTANCE], w[NOW, SPEED] = end, end_speed
                    break
                span = 1e-9
            whole = span <= latest - w[NOW, TIME]
            span = min(span, latest - w[NOW, TIME])
            event, rows, used = advance(w, span, m, scene, _HOLD_COMMAND, rows, used, fineness)
            fell = event in (SHORT, HELD)
            if not fell:
                w[TALLY, CRAWL_S] = 0.0
            if event == EMPTY:
                empty(w, m)
            elif event == ENDED and whole:
                if ramp:
                    w[NOW, DISTANCE], w[NOW, SPEED] = end, end_speed
                elif end_speed >= limit:
                    w[NOW, DISTANCE] = end
            continue
        before = w[NOW, TIME]
        event, rows, used, leaves = _below(w, latest - w[NOW, TIME], acceleration, m, scene, goal, rows, used, fineness)
        if leaves:
            return True, rows, used
        if event == PLACE:
            w[NOW, DISTANCE] = end
        fell = event != COMMAND and w[NOW, TIME] - before < 1e-7
    return False, rows, used
