"""The three kinds of activity as phases of the stepper: standing, following a trace, riding a route."""

from __future__ import annotations

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from ridesim.physics.battery import SATURATING
from ridesim.physics.compiled import compiled
from ridesim.ride.numbers import COAST, DRIVE, STALL, STAND, Machine, Scene
from ridesim.ride.rates import charges_at, rates
from ridesim.ride.state import (
    CHARGE_1,
    CRAWL_S,
    DISTANCE,
    LAST_STEP,
    LONGEST_STALL_AT,
    LONGEST_STALL_S,
    MARGIN,
    MOTOR_CURRENT,
    OUTPUT_SIZE,
    POSSIBLE,
    SECONDS_BELOW,
    SPEED,
    STALL_S,
    STATE_SIZE,
    SWITCHED_OFF,
    TIME,
    USE_BRAKE,
)  # fmt: skip
from ridesim.ride.stepping import (
    COMMAND,
    EMPTY,
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

Array = NDArray[float64]

ON_COMMAND_MPS = 1e-8
"""Closer than this to the command counts as on it. [m/s]"""
CRAWL_MPS = 0.1
LEAVES_AFTER_S = 60.0
"""Slower than 0.1 m/s for 60 s under full command: the vehicle leaves the activity."""
LONGEST_LEG_S = 86_400.0
"""A leg that takes more than a day is left: nobody waits for it."""
_SHORT_MPS2 = 1e-9

DONE, LEFT = 0, 1
"""How an activity ended."""

_QUIET = Goal(NO_COMMAND, 0.0, 0.0, 0.0, 0.0, 0.0, 0, 0, 0, 0)


@compiled
def _scene(
    base: Scene, mode: int, wanted: float, grade: float, grade_rate: float, since: float, factor: float
) -> Scene:
    return Scene(
        mode, wanted, base.mass, base.effective_mass, base.density, base.headwind, grade, grade_rate, since,
        base.rolling * factor, base.controller_on, base.light_power, base.charger, base.ambient,
    )  # fmt: skip


@compiled
def brake_to(s: Array, speed: float, effective_mass: float) -> None:
    """Let the brake take the speed above a command at once; its energy goes into the ledger."""
    s[USE_BRAKE] += 0.5 * effective_mass * (s[SPEED] * s[SPEED] - speed * speed)
    s[SPEED] = speed


@compiled
def stand(
    s: Array, span: float, m: Machine, base: Scene, tally: Array, rows: Array, used: int, fineness: float
) -> tuple[Array, int]:
    """Stand for a time, lights and charger as the scene says. Energy left at the start of the stand is the brake's."""
    if s[SPEED] > 0.0:
        brake_to(s, 0.0, base.effective_mass)
    if base.charger > 0.0:
        s[SWITCHED_OFF] = 0.0
    scene = _scene(base, STAND, 0.0, 0.0, 0.0, 0.0, 1.0)
    end = s[TIME] + span
    while s[TIME] < end - 1e-9:
        event, rows, used = advance(s, end - s[TIME], m, scene, _QUIET, tally, rows, used, fineness)
        if event == EMPTY:
            empty(s, m)
    return rows, used


@compiled
def empty(s: Array, m: Machine) -> None:
    """The pack is empty: it stays switched off until a charger is connected, however the laws let it recover."""
    s[SWITCHED_OFF] = 1.0
    if m.law != SATURATING:
        s[CHARGE_1], _ = charges_at(0.0, m)


@compiled
def _forces_at(s: Array, m: Machine, scene: Scene) -> tuple[float, float, float]:
    """Largest acceleration, pull beyond what breaking away needs, and motor current at the present state."""
    d = np.empty(STATE_SIZE)
    out = np.empty(OUTPUT_SIZE)
    rates(s, m, scene, d, out)
    return out[POSSIBLE], out[MARGIN], out[MOTOR_CURRENT]


@compiled
def _stalled(s: Array, tally: Array, span: float) -> None:
    tally[STALL_S] += span
    if tally[STALL_S] > tally[LONGEST_STALL_S]:
        tally[LONGEST_STALL_S] = tally[STALL_S]
        tally[LONGEST_STALL_AT] = s[TIME] - tally[STALL_S]


@compiled
def _below(
    s: Array,
    span: float,
    wanted: float,
    m: Machine,
    scene: Scene,
    goal: Goal,
    tally: Array,
    rows: Array,
    used: int,
    fineness: float,
) -> tuple[int, Array, int, bool]:
    """Below the command: accelerate as rider and pull allow, or stand stalled. Returns event, rows, used, has left."""
    start = s[TIME]
    if s[SPEED] <= 0.0:
        s[SPEED] = 0.0
        stalled = _scene(scene, STALL, wanted, scene.grade, scene.grade_rate, scene.since, 1.0)
        _, margin, current = _forces_at(s, m, stalled)
        if margin <= 1e-9:
            span = min(span, LEAVES_AFTER_S - tally[CRAWL_S])
            hold = Goal(NO_COMMAND, 0.0, 0.0, 0.0, 0.0, 0.0, 0, 0, 0, 1)
            event, rows, used = advance(s, span, m, stalled, hold, tally, rows, used, fineness)
            if event == EMPTY:
                empty(s, m)
            tally[CRAWL_S] += s[TIME] - start
            tally[SECONDS_BELOW] += s[TIME] - start
            if current > 0.0:
                _stalled(s, tally, s[TIME] - start)
            return event, rows, used, tally[CRAWL_S] >= LEAVES_AFTER_S - 1e-9
    moving = _scene(scene, DRIVE, wanted, scene.grade, scene.grade_rate, scene.since, 1.0)
    slow = s[SPEED] < CRAWL_MPS
    if slow:
        # Short pieces while crawling, so that the 60 s are counted to within one of them.
        span = min(span, 1.0)
    possible, _, _ = _forces_at(s, m, moving)
    full = possible < wanted
    watch = Goal(goal.command, goal.speed, goal.slope, goal.since, goal.end_speed, goal.end, goal.watch_place, 1, 0, 0)
    tally[LAST_STEP] = 0.25
    event, rows, used = advance(s, span, m, moving, watch, tally, rows, used, fineness)
    gone = s[TIME] - start
    if event == EMPTY:
        empty(s, m)
    if event == STOOD:
        s[SPEED] = 0.0
    if full:
        tally[SECONDS_BELOW] += gone
    if slow and s[SPEED] < CRAWL_MPS and full:
        tally[CRAWL_S] += gone
    else:
        tally[CRAWL_S] = 0.0
    if s[SPEED] > 0.0:
        tally[STALL_S] = 0.0
    return event, rows, used, tally[CRAWL_S] >= LEAVES_AFTER_S - 1e-9


@compiled
def follow_trace(
    s: Array,
    times: Array,
    speeds: Array,
    grades: Array,
    repeats: int,
    acceleration: float,
    m: Machine,
    base: Scene,
    tally: Array,
    rows: Array,
    used: int,
    fineness: float,
) -> tuple[int, Array, int]:
    """Follow a speed trace.

    Parameters
    ----------
    s : ndarray, shape (STATE_SIZE,)
        State, changed in place.
    times, speeds, grades : ndarray, shape (n,)
        Points: rising times [s], speeds [m/s] with NaN for coasting, rise over run [-].
    repeats : int
        How often.
    acceleration : float
        What the rider asks for below the trace. [m/s²]
    m, base, tally, rows, used, fineness
        As in :func:`ridesim.ride.stepping.advance`.

    Returns
    -------
    tuple
        DONE or LEFT, rows, used.
    """
    begin = s[TIME]
    length = times[-1] - times[0]
    tally[CRAWL_S] = 0.0
    tally[STALL_S] = 0.0
    for repeat in range(repeats):
        for i in range(times.shape[0] - 1):
            start = begin + repeat * length + times[i] - times[0]
            end = begin + repeat * length + times[i + 1] - times[0]
            span = end - start
            rate = (grades[i + 1] - grades[i]) / span
            if np.isnan(speeds[i]) or np.isnan(speeds[i + 1]):
                rows, used = _coast(s, end, grades[i], rate, start, m, base, tally, rows, used, fineness)
                continue
            slope = (speeds[i + 1] - speeds[i]) / span
            left, rows, used = _follow_line(
                s, end, speeds[i], slope, start, grades[i], rate, acceleration, m, base, tally, rows, used, fineness
            )
            if left:
                return LEFT, rows, used
    return DONE, rows, used


@compiled
def _follow_line(
    s: Array,
    end: float,
    speed: float,
    slope: float,
    start: float,
    grade: float,
    grade_rate: float,
    acceleration: float,
    m: Machine,
    base: Scene,
    tally: Array,
    rows: Array,
    used: int,
    fineness: float,
) -> tuple[bool, Array, int]:
    """One straight piece of a trace."""
    goal = Goal(TRACE_COMMAND, speed, slope, start, 0.0, 0.0, 0, 0, 0, 0)
    fell = False
    while s[TIME] < end - 1e-9:
        want = max(0.0, commanded(s, goal))
        if s[SPEED] > want + ON_COMMAND_MPS:
            brake_to(s, want, base.effective_mass)
        scene = _scene(base, DRIVE, slope, grade, grade_rate, start, 1.0)
        on = s[SPEED] >= want - ON_COMMAND_MPS and not fell
        if on and want <= ON_COMMAND_MPS and slope <= 0.0:
            s[SPEED] = 0.0
            tally[CRAWL_S] = 0.0
            tally[STALL_S] = 0.0
            resting = _scene(base, STAND, 0.0, grade, grade_rate, start, 1.0)
            event, rows, used = advance(s, end - s[TIME], m, resting, _QUIET, tally, rows, used, fineness)
            if event == EMPTY:
                empty(s, m)
            continue
        if on:
            possible, margin, _ = _forces_at(s, m, scene)
            on = possible >= slope - _SHORT_MPS2 and (s[SPEED] > ON_COMMAND_MPS or margin > 1e-9)
        if on:
            tally[CRAWL_S] = 0.0
            tally[STALL_S] = 0.0
            watch = Goal(NO_COMMAND, 0.0, 0.0, 0.0, 0.0, 0.0, 0, 0, 1, 0)
            event, rows, used = advance(s, end - s[TIME], m, scene, watch, tally, rows, used, fineness)
            if event == EMPTY:
                empty(s, m)
            s[SPEED] = max(0.0, commanded(s, goal))
            fell = event == SHORT
            continue
        before = s[TIME]
        event, rows, used, left = _below(s, end - s[TIME], acceleration, m, scene, goal, tally, rows, used, fineness)
        if left:
            return True, rows, used
        # A fall and a catch at one instant would never end: after no progress, ride on below the command for a moment.
        fell = event != COMMAND and s[TIME] - before < 1e-7
    return False, rows, used


@compiled
def _coast(
    s: Array,
    end: float,
    grade: float,
    grade_rate: float,
    since: float,
    m: Machine,
    base: Scene,
    tally: Array,
    rows: Array,
    used: int,
    fineness: float,
) -> tuple[Array, int]:
    """No motor and no brake until a time; from a stand it rolls only where the slope breaks it away."""
    scene = _scene(base, COAST, 0.0, grade, grade_rate, since, 1.0)
    resting = _scene(base, STAND, 0.0, grade, grade_rate, since, 1.0)
    while s[TIME] < end - 1e-9:
        if s[SPEED] <= 0.0:
            _, margin, _ = _forces_at(s, m, scene)
            if margin <= 1e-9:
                event, rows, used = advance(
                    s,
                    min(end - s[TIME], 1.0 if grade_rate != 0.0 else end - s[TIME]),
                    m,
                    resting,
                    _QUIET,
                    tally,
                    rows,
                    used,
                    fineness,
                )
                if event == EMPTY:
                    empty(s, m)
                continue
        watch = Goal(NO_COMMAND, 0.0, 0.0, 0.0, 0.0, 0.0, 0, 1, 0, 0)
        event, rows, used = advance(s, end - s[TIME], m, scene, watch, tally, rows, used, fineness)
        if event == EMPTY:
            empty(s, m)
        if event == STOOD:
            s[SPEED] = 0.0
    return rows, used


@compiled
def ride_route(
    s: Array,
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
    tally: Array,
    rows: Array,
    used: int,
    fineness: float,
) -> tuple[int, int, Array, int]:
    """Ride legs one after the other, all laps written out.

    Parameters
    ----------
    s : ndarray, shape (STATE_SIZE,)
        State, changed in place.
    lengths, limits, grades, factors, stops, end_speeds : ndarray, shape (n,)
        Length [m], speed limit [m/s], rise over run [-], surface factor [-], stop at the end [s], and the speed that the
        braking envelope of all later legs allows at the end [m/s].
    acceleration, braking : float
        What the rider asks for. [m/s²]
    m, base, tally, rows, used, fineness
        As in :func:`ridesim.ride.stepping.advance`.

    Returns
    -------
    tuple
        DONE or LEFT, the leg it ended on, rows, used.
    """
    tally[CRAWL_S] = 0.0
    tally[STALL_S] = 0.0
    for leg in range(lengths.shape[0]):
        end = s[DISTANCE] + lengths[leg]
        left, rows, used = _ride_leg(
            s,
            end,
            limits[leg],
            end_speeds[leg],
            grades[leg],
            factors[leg],
            acceleration,
            braking,
            m,
            base,
            tally,
            rows,
            used,
            fineness,
        )
        if left:
            return LEFT, leg, rows, used
        if stops[leg] > 0.0:
            rows, used = stand(s, stops[leg], m, base, tally, rows, used, fineness)
    return DONE, lengths.shape[0] - 1, rows, used


@compiled
def _ride_leg(
    s: Array,
    end: float,
    limit: float,
    end_speed: float,
    grade: float,
    factor: float,
    acceleration: float,
    braking: float,
    m: Machine,
    base: Scene,
    tally: Array,
    rows: Array,
    used: int,
    fineness: float,
) -> tuple[bool, Array, int]:
    """One leg: below the command, along the limit, down the braking envelope, until its end is reached."""
    goal = Goal(ROUTE_COMMAND, limit, braking, 0.0, end_speed, end, 1, 0, 0, 0)
    fell = False
    latest = s[TIME] + LONGEST_LEG_S
    while s[DISTANCE] < end - 1e-9:
        if s[TIME] >= latest - 1e-6:
            return True, rows, used
        left = end - s[DISTANCE]
        envelope = np.sqrt(end_speed * end_speed + 2.0 * braking * left)
        want = min(limit, envelope)
        if s[SPEED] > want + ON_COMMAND_MPS:
            brake_to(s, want, base.effective_mass)
        ramp = envelope <= limit + ON_COMMAND_MPS
        wanted = -braking if ramp else 0.0
        scene = _scene(base, DRIVE, wanted, grade, 0.0, 0.0, factor)
        on = s[SPEED] >= want - ON_COMMAND_MPS and not fell
        if on:
            possible, _, _ = _forces_at(s, m, scene)
            on = possible >= wanted - _SHORT_MPS2
        if on:
            tally[CRAWL_S] = 0.0
            if ramp:
                span = (s[SPEED] - end_speed) / braking
            else:
                span = (left - max(0.0, (limit * limit - end_speed * end_speed) / (2.0 * braking))) / limit
            if span <= 1e-9:
                if ramp or left < 1e-6:
                    s[DISTANCE], s[SPEED] = end, end_speed
                    break
                span = 1e-9
            watch = Goal(NO_COMMAND, 0.0, 0.0, 0.0, 0.0, 0.0, 0, 0, 1, 0)
            whole = span <= latest - s[TIME]
            event, rows, used = advance(s, min(span, latest - s[TIME]), m, scene, watch, tally, rows, used, fineness)
            if event == EMPTY:
                empty(s, m)
            elif event != SHORT and whole:
                if ramp:
                    s[DISTANCE], s[SPEED] = end, end_speed
                elif end_speed >= limit:
                    s[DISTANCE] = end
            fell = event == SHORT
            continue
        before = s[TIME]
        event, rows, used, leaves = _below(
            s, latest - s[TIME], acceleration, m, scene, goal, tally, rows, used, fineness
        )
        if leaves:
            return True, rows, used
        if event == PLACE:
            s[DISTANCE] = end
        fell = event != COMMAND and s[TIME] - before < 1e-7
    return False, rows, used
