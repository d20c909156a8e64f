"""The three kinds of activity as phases of the stepper: standing, following a trace, riding a route."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ridesim.physics.balance import grip_force
from ridesim.physics.capacity_laws import PEUKERT, TWO_WELL
from ridesim.physics.compiled import inlined, internal
from ridesim.physics.road import GRAVITY, grade_force, rolling_force
from ridesim.ride.core import events
from ridesim.ride.core import places as at
from ridesim.ride.core.kept import Rows
from ridesim.ride.core.rates import rates
from ridesim.ride.core.records import COAST, DRIVE, ROUTE_SPEED, STALL, STAND, TRACE_SPEED, Array, Goal, Machine, Run
from ridesim.ride.core.stepper import LEAVES_AFTER_S, advance, commanded, spent

ON_COMMAND_MPS = 1e-8
"""Closer than this to the command counts as on it. [m/s]"""
NO_PROGRESS_S = 1e-7
"""A phase that ends sooner than this after its start has got nowhere. [s]"""
DAY_S = 86_400.0
LONGEST_LEG_S = DAY_S
"""A leg that takes more than a day is left: nobody waits for it."""
_AT_THE_SWITCH_S = 1e-6
"""Nearer than this to the moment at which the lights are switched is at it. [s]"""
MOST_CUTS_IN_A_ROW = 10
"""A controller that cuts out once more than this, each time within a minute of coming back: the rider gives up the activity.
Common practice, no source; it also bounds the number of events in a day."""

ASPHALT = 0
"""A trace says nothing of its ground."""

DONE, LEFT = 0, 1
"""How an activity ended."""


class Legs(NamedTuple):
    """Legs of a lap; each an array of one number a leg. The last one has one for each leg of each lap."""

    lengths: Array  # [m]
    limits: Array  # speed limit [m/s]
    grades: Array  # rise over run [-]
    surfaces: Array  # factor on the rolling coefficient [-]
    grounds: NDArray[np.int64]  # which of SURFACES
    stops: Array  # stop at the end [s]
    end_speeds: Array  # that the braking envelope of all later legs allows at the end [m/s]


@internal
def aim(goal: Goal, mode: int, wanted: float = 0.0, below: bool = False) -> None:
    """How the vehicle moves in the next phase, and what ends it: below the command, reaching it; else falling short of it."""
    goal.mode, goal.wanted = mode, wanted
    goal.watch[events.COMMAND] = below
    goal.watch[events.PLACE] = below and goal.command == ROUTE_SPEED
    goal.watch[events.STOOD] = below or mode == COAST
    goal.watch[events.SHORT] = mode == DRIVE and not below
    goal.watch[events.RELEASED] = mode == STALL
    goal.watch[events.EMPTY] = goal.watch[events.SWITCHED] = 1.0


@inlined
def stand_on(run: Run, m: Machine, surface: float, ground: int) -> None:
    """The ground of what comes next, on the grade that is set: its resistances, and the pull that the tyre passes on to it.

    Between the points of a trace the grade changes; its cosine, which the grip hangs on, hardly does.
    """
    goal, scene = run.goal, run.scene
    goal.surface = surface
    load = scene.mass * GRAVITY / math.sqrt(1.0 + goal.grade * goal.grade)
    goal.rolling = rolling_force(scene.mass, goal.grade, m.rolling * surface)
    goal.climbing = grade_force(scene.mass, goal.grade)
    goal.grip = grip_force(m.grip[ground], scene.load_share, scene.height_share, load, goal.rolling)


@internal
def phase(run: Run, m: Machine, span: float, rows: Rows) -> tuple[int, Rows]:
    """Advance by one phase, in pieces between which the lights are switched, and put the state exactly where its event says."""
    event = events.ENDED
    while event == events.ENDED and span > 0.0:
        piece = _switch_lights(run, span)
        event, rows = advance(run, m, piece, rows)
        span -= piece
    if event == events.EMPTY:
        _switch_off(run, m)
    elif event == events.STOOD:
        run.w[at.NOW, at.SPEED] = 0.0
    return event, rows


@inlined
def _switch_lights(run: Run, span: float) -> float:
    """Switch the lights on or off as the clock says. Returns the time until they are switched again, a span at most. [s]"""
    scene = run.scene
    if scene.lit_from == scene.lit_to:
        scene.light_power = scene.lights
        return span
    since, lasts = (run.w[at.NOW, at.TIME] - scene.lit_from + _AT_THE_SWITCH_S) % DAY_S, scene.lit_to - scene.lit_from
    scene.light_power = scene.lights if since < lasts else 0.0
    return float(min(span, (lasts if since < lasts else DAY_S) - since + _AT_THE_SWITCH_S))


@inlined
def _switch_off(run: Run, m: Machine) -> None:
    """The pack is empty: it stays switched off until a charger is connected, however the laws let it recover."""
    now, tally = run.w[at.NOW], run.tally
    now[at.SWITCHED_OFF] = 1.0
    if tally.empty_s < 0.0:
        tally.empty_s, tally.empty_m = now[at.TIME], now[at.DISTANCE]
    if m.pack.law == PEUKERT or m.pack.law == TWO_WELL:
        now[at.LEFT] = 0.0


@internal
def brake(run: Run, speed: float) -> None:
    """Let the brake take the speed above another at once; its energy goes into the ledger."""
    now = run.w[at.NOW]
    now[at.USE_BRAKE] += 0.5 * run.scene.effective_mass * (now[at.SPEED] * now[at.SPEED] - speed * speed)
    now[at.SPEED] = speed


@internal
def stand(run: Run, m: Machine, span: float, rows: Rows) -> Rows:
    """Stand for a time, lights and charger as the scene says. Energy left at the start of the stand is the brake's."""
    now = run.w[at.NOW]
    if now[at.SPEED] > 0.0:
        brake(run, 0.0)
    if run.scene.charger > 0.0:
        now[at.SWITCHED_OFF] = 0.0
    aim(run.goal, STAND)
    end = now[at.TIME] + span
    while now[at.TIME] < end - 1e-9 and not spent(run):
        _, rows = phase(run, m, end - now[at.TIME], rows)
    return rows


@inlined
def _begin(run: Run) -> None:
    """An activity that moves begins: nothing is counted against it yet, and from a stand the throttle is closed."""
    tally = run.tally
    tally.crawl_s = tally.stall_s = 0.0
    tally.cuts_in_a_row = 0
    tally.leg = -1
    if run.w[at.NOW, at.SPEED] <= 0.0:
        tally.throttle_at = -1.0


@internal
def _below(run: Run, m: Machine, span: float, wanted: float, rows: Rows) -> tuple[int, Rows, bool]:
    """Below the command: accelerate as rider and pull allow, or stand stalled. Returns the event, the rows, and whether it gives up."""
    goal, tally = run.goal, run.tally
    aim(goal, DRIVE, wanted, below=True)
    event, rows = phase(run, m, span, rows)
    if event == events.HELD:
        aim(goal, STALL, wanted)
        event, rows = phase(run, m, min(span, LEAVES_AFTER_S - tally.crawl_s), rows)
    if run.w[at.NOW, at.SPEED] > 0.0:
        tally.stall_s = 0.0
    gives_up = tally.crawl_s >= LEAVES_AFTER_S - 1e-9 or tally.cuts_in_a_row > MOST_CUTS_IN_A_ROW
    return event, rows, gives_up


@internal
def follow_trace(
    run: Run,
    m: Machine,
    times: Array,
    speeds: Array,
    grades: Array,
    repeats: int,
    wanted: float,
    rows: Rows,
) -> tuple[int, Rows]:
    """Follow a speed trace.

    Parameters
    ----------
    run : Run
        The ride.
    m : Machine
        The build's numbers.
    rows : ndarray of Row
        As in :func:`ridesim.ride.core.stepper.advance`.
    times, speeds, grades : ndarray, shape (n,)
        Points: rising times [s], speeds [m/s] with NaN for coasting, rise over run [-].
    repeats : int
        How often.
    wanted : float
        What the rider asks for below the trace. [m/s²]

    Returns
    -------
    int
        DONE or LEFT.
    rows : ndarray of Row
        Kept rows.
    """
    goal = run.goal
    begin = run.w[at.NOW, at.TIME]
    length = times[-1] - times[0]
    _begin(run)
    goal.command = TRACE_SPEED
    for repeat in range(repeats):
        for i in range(times.shape[0] - 1):
            start = begin + repeat * length + times[i] - times[0]
            end = begin + repeat * length + times[i + 1] - times[0]
            span = end - start
            goal.grade, goal.grade_rate = grades[i], (grades[i + 1] - grades[i]) / span
            goal.since = start
            stand_on(run, m, 1.0, ASPHALT)
            if np.isnan(speeds[i]) or np.isnan(speeds[i + 1]):
                left, rows = _coast(run, m, end, rows)
            else:
                goal.speed, goal.slope = speeds[i], (speeds[i + 1] - speeds[i]) / span
                left, rows = _follow_line(run, m, end, wanted, rows)
            if left:
                return LEFT, rows
    return DONE, rows


@inlined
def _follow_line(run: Run, m: Machine, end: float, wanted: float, rows: Rows) -> tuple[bool, Rows]:
    """One straight piece of a trace. Says whether the vehicle gives up."""
    now, goal, tally = run.w[at.NOW], run.goal, run.tally
    if now[at.SPEED] <= 0.0 and goal.speed <= 0.0:
        tally.throttle_at = -1.0
    fell = False
    while now[at.TIME] < end - 1e-9 and not spent(run):
        want = max(0.0, commanded(now[at.TIME], now[at.DISTANCE], goal))
        if now[at.SPEED] > want:
            brake(run, want)
        span = end - now[at.TIME]
        if fell or now[at.SPEED] < want - ON_COMMAND_MPS:
            before = now[at.TIME]
            event, rows, left = _below(run, m, span, wanted, rows)
            if left:
                return True, rows
            # To fall short and to be back at one instant would never end: after no progress, ride on below the command for a moment.
            fell = event != events.COMMAND and now[at.TIME] - before < NO_PROGRESS_S
        elif want <= ON_COMMAND_MPS and goal.slope <= 0.0:
            now[at.SPEED] = 0.0
            tally.crawl_s = tally.stall_s = 0.0
            aim(goal, STAND)
            _, rows = phase(run, m, span, rows)
        else:
            aim(goal, DRIVE, goal.slope)
            event, rows = phase(run, m, span, rows)
            fell = event in (events.SHORT, events.HELD)
            if not fell:
                tally.crawl_s = tally.stall_s = 0.0
            now[at.SPEED] = max(0.0, commanded(now[at.TIME], now[at.DISTANCE], goal))
    return spent(run), rows


@inlined
def _coast(run: Run, m: Machine, end: float, rows: Rows) -> tuple[bool, Rows]:
    """No motor and no brake until a time; from a stand it rolls only where the slope breaks it away. Says whether it is given up."""
    now, goal = run.w[at.NOW], run.goal
    while now[at.TIME] < end - 1e-9 and not spent(run):
        span = end - now[at.TIME]
        aim(goal, COAST)
        if now[at.SPEED] <= 0.0:
            rates(run, m, at.NOW, at.RATES)
            if run.out.margin <= 1e-9:
                aim(goal, STAND)
                span = min(span, 1.0 if goal.grade_rate != 0.0 else math.inf)
        _, rows = phase(run, m, span, rows)
    return spent(run), rows


@internal
def ride_route(run: Run, m: Machine, legs: Legs, wanted: float, braking: float, rows: Rows) -> tuple[int, Rows]:
    """Ride legs one after the other.

    Parameters
    ----------
    run, m, rows
        As in :func:`follow_trace`.
    legs : Legs
        The legs of one lap, and the laps.
    wanted, braking : float
        Acceleration and deceleration that the rider asks for. [m/s²]

    Returns
    -------
    int
        DONE or LEFT; the tally says on which leg.
    rows : ndarray of Row
        Kept rows.
    """
    goal, count = run.goal, legs.lengths.shape[0]
    _begin(run)
    goal.command, goal.slope = ROUTE_SPEED, braking
    for number in range(legs.end_speeds.shape[0]):
        leg = number % count
        run.tally.leg = number
        goal.grade, goal.grade_rate = legs.grades[leg], 0.0
        stand_on(run, m, legs.surfaces[leg], legs.grounds[leg])
        goal.speed, goal.end_speed = legs.limits[leg], legs.end_speeds[number]
        goal.end = run.w[at.NOW, at.DISTANCE] + legs.lengths[leg]
        left, rows = _ride_leg(run, m, wanted, rows)
        if left:
            return LEFT, rows
        if legs.stops[leg] > 0.0:
            rows = stand(run, m, legs.stops[leg], rows)
    return DONE, rows


@inlined
def _ride_leg(run: Run, m: Machine, wanted: float, rows: Rows) -> tuple[bool, Rows]:
    """One leg: below the command, along the limit, down the braking envelope, until its end. Says whether the vehicle gives up."""
    now, goal = run.w[at.NOW], run.goal
    limit, end = goal.speed, goal.end
    fell = False
    latest = now[at.TIME] + LONGEST_LEG_S
    while now[at.DISTANCE] < end - 1e-9 and not spent(run):
        if now[at.TIME] >= latest - 1e-6:
            return True, rows
        envelope = np.sqrt(goal.end_speed * goal.end_speed + 2.0 * goal.slope * (end - now[at.DISTANCE]))
        want = min(limit, envelope)
        if now[at.SPEED] > want:
            brake(run, want)
        if not fell and now[at.SPEED] >= want - ON_COMMAND_MPS:
            fell, rows = _on_command(run, m, envelope <= limit + ON_COMMAND_MPS, latest, rows)
            continue
        before = now[at.TIME]
        event, rows, leaves = _below(run, m, latest - before, wanted, rows)
        if leaves:
            return True, rows
        if event == events.PLACE:
            now[at.DISTANCE] = end
        fell = event != events.COMMAND and now[at.TIME] - before < NO_PROGRESS_S
    return spent(run), rows


@inlined
def _on_command(run: Run, m: Machine, braking: bool, latest: float, rows: Rows) -> tuple[bool, Rows]:
    """Along the limit to where the braking begins, or braking to the end of the leg. Says whether the pull fell short."""
    now, goal = run.w[at.NOW], run.goal
    limit, end_speed = goal.speed, goal.end_speed
    left = goal.end - now[at.DISTANCE]
    if braking:
        span = (now[at.SPEED] - end_speed) / goal.slope
    else:
        span = (left - max(0.0, (limit * limit - end_speed * end_speed) / (2.0 * goal.slope))) / limit
    if span <= 1e-9:
        if braking or left < 1e-6:
            now[at.DISTANCE], now[at.SPEED] = goal.end, end_speed
            return False, rows
        span = 1e-9
    whole = span <= latest - now[at.TIME]
    aim(goal, DRIVE, -goal.slope if braking else 0.0)
    event, rows = phase(run, m, min(span, latest - now[at.TIME]), rows)
    fell = event in (events.SHORT, events.HELD)
    if not fell:
        run.tally.crawl_s = 0.0
    if event == events.ENDED and whole:
        if braking:
            now[at.DISTANCE], now[at.SPEED] = goal.end, end_speed
        elif end_speed >= limit:
            now[at.DISTANCE] = goal.end
    return fell, rows
