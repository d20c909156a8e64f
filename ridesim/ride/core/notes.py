"""What is noted on the way: extremes, firsts, stalls, and the controller's cut-outs."""

from __future__ import annotations

from ridesim.physics.compiled import inlined, internal
from ridesim.physics.controller import CUT_OFF
from ridesim.physics.pack import smoothed
from ridesim.ride.core import events
from ridesim.ride.core import places as at
from ridesim.ride.core.rates import rates
from ridesim.ride.core.records import STALL, STAND, Machine, Run

CRAWL_MPS = 0.1
"""Slower than this under full command is a crawl. [m/s]"""
BACK_FOR_GOOD_S = 60.0
"""A controller that cuts out again sooner than this after coming back has cut out once more in a row. Common practice, no source."""

SUSTAINED_S = 60.0
"""A current that lasts: the pack's, smoothed over this time. [s]"""


@inlined
def note(run: Run, m: Machine) -> None:
    """Extremes at one moment."""
    w, out, tally = run.w, run.out, run.tally
    _note_peaks(run)
    tally.hottest = max(tally.hottest, w[at.NOW, at.WINDING])
    if out.motor_current < 0.0:
        if tally.return_mps < 0.0:
            tally.return_mps = out.returns_from
        tally.return_a = max(tally.return_a, -out.pack_current)
        tally.return_v = max(tally.return_v, out.volts)
    if out.limit == CUT_OFF and tally.cut_off_s < 0.0:
        tally.cut_off_s = w[at.NOW, at.TIME]


@inlined
def _note_peaks(run: Run) -> None:
    run.tally.lowest_volts = min(run.tally.lowest_volts, run.out.volts)
    run.tally.highest_current = max(run.tally.highest_current, run.out.pack_current)


@inlined
def cubic(change: float, first: float, last: float, share: float) -> float:
    """How far a value has come at a share of a step: the cubic with its change and its rates, times the step, at both ends.

    Hermite's interpolation, any textbook of numerical analysis.
    """
    rest = 1.0 - share
    return share * change + share * rest * (rest * (first - change) - share * (last - change))


@internal
def peak_between(run: Run, m: Machine, h: float, limit: int, volts: float, current: float) -> None:
    """Extremes inside a step in which one limit of the pull gave way to another: the pack current peaks at such a bend.

    Looked for only where both ends, drawn on by as much as they differ, would make a new extreme. The bend is narrowed down by
    halving, on the speed's cubic and straight lines of the slow states through both ends.
    """
    w, out, tally = run.w, run.out, run.tally
    swing, surge = abs(out.volts - volts), abs(out.pack_current - current)
    lower = min(out.volts, volts) - swing < tally.lowest_volts
    if not lower and max(out.pack_current, current) + surge <= tally.highest_current:
        return
    low, high = 0.0, 1.0
    rise = w[at.NEXT, at.SPEED] - w[at.NOW, at.SPEED]
    for _ in range(6):
        x = 0.5 * (low + high)
        for i in range(at.CONTROLLED):
            w[at.BETWEEN, i] = w[at.NOW, i] + x * (w[at.NEXT, i] - w[at.NOW, i])
        bent = cubic(rise, h * w[at.RATES, at.SPEED], h * w[at.RATES + 3, at.SPEED], x)
        w[at.BETWEEN, at.SPEED] = w[at.NOW, at.SPEED] + bent
        w[at.BETWEEN, at.TIME] = w[at.NOW, at.TIME] + x * h
        w[at.BETWEEN, at.SWITCHED_OFF] = w[at.NOW, at.SWITCHED_OFF]
        rates(run, m, at.BETWEEN, at.SPARE)
        _note_peaks(run)
        if out.limit == limit:
            low = x
        else:
            high = x
    rates(run, m, at.NEXT, at.SPARE)  # the outputs of the step's end again


@inlined
def note_step(run: Run, m: Machine, h: float, charge: float, current: float, room: float) -> None:
    """Crossings and sums over one accepted step from NOW to NEXT.

    It began at a state of charge, a pack current, and with so much more acceleration possible than wanted.
    """
    w, out, tally, mode = run.w, run.out, run.tally, run.goal.mode
    if charge >= m.reserve > out.charge and tally.reserve_s < 0.0:
        share = (charge - m.reserve) / (charge - out.charge)
        tally.reserve_s = w[at.NOW, at.TIME] + share * h
        tally.reserve_m = w[at.NOW, at.DISTANCE] + share * (w[at.NEXT, at.DISTANCE] - w[at.NOW, at.DISTANCE])
    tally.smoothed_a = smoothed(tally.smoothed_a, current, out.pack_current, h, SUSTAINED_S)
    tally.sustained_current_a = max(tally.sustained_current_a, tally.smoothed_a)
    _note_crawl(run, h, room)
    if mode == STALL and out.motor_current > 0.0:
        _note_stall(run, h)
    if tally.cut == 1 and mode != STAND:
        tally.seconds_cut_out += h
    if w[at.NEXT, at.WINDING] > m.winding_limit:
        tally.seconds_hot += h
        if tally.hot_s < 0.0:
            tally.hot_s = w[at.NEXT, at.TIME]


@inlined
def _note_crawl(run: Run, h: float, room: float) -> None:
    """Time below the command at the largest pull, and of it the time at a crawl up to now."""
    w, goal, tally = run.w, run.goal, run.tally
    if goal.mode != STALL and goal.watch[events.COMMAND] == 0.0:
        return
    short = 1.0 if goal.mode == STALL else _share_below(room, run.out.possible - goal.wanted)
    tally.seconds_below += short * h
    was, now = w[at.NOW, at.SPEED], w[at.NEXT, at.SPEED]
    slow = h * (CRAWL_MPS - now) / (was - now) if was > CRAWL_MPS else h
    crawls = now < CRAWL_MPS and (goal.mode == STALL or run.out.possible <= goal.wanted)
    tally.crawl_s = tally.crawl_s + slow if crawls else 0.0


@inlined
def _share_below(first: float, last: float) -> float:
    """Share of a step in which a value is 0 or less: by a straight line through its ends."""
    if first * last < 0.0:
        return abs(min(first, last) / (first - last))
    return 1.0 if last <= 0.0 else 0.0


@inlined
def _note_stall(run: Run, h: float) -> None:
    """The present stall, and whether it is the worst. The current at the step's end counts for the step: on the safe side."""
    tally, current = run.tally, run.out.motor_current
    if tally.stall_s <= 0.0:
        tally.stall_a = tally.stall_a2s = 0.0
    tally.stall_s += h
    tally.stall_a = max(tally.stall_a, current)
    tally.stall_a2s += h * current**2
    if tally.stall_a2s > tally.worst_stall_a2s:
        tally.worst_stall_a2s = tally.stall_a2s
        tally.worst_stall_s = tally.stall_s
        tally.worst_stall_a = tally.stall_a
        tally.worst_stall_at_s = run.w[at.NEXT, at.TIME] - tally.stall_s


@inlined
def opened_throttle(run: Run, m: Machine) -> None:
    """When the throttle opens a soft start begins: in full only from a stand."""
    tally, now = run.tally, run.w[at.NOW, at.TIME]
    if run.goal.mode == STAND:
        tally.throttle_at = -1.0
    elif run.goal.mode <= STALL and tally.throttle_at < 0.0:
        from_stand = run.w[at.NOW, at.SPEED] <= 0.0
        tally.throttle_at = now if from_stand else now - m.ramp
        tally.starts += 1 if from_stand else 0


@internal
def switched(run: Run, m: Machine) -> None:
    """The controller cuts out, for its shortest time off at least, or comes back, its soft start from the beginning."""
    tally, now = run.tally, run.w[at.NOW, at.TIME]
    if tally.cut == 1:
        tally.cut = 0
        tally.ready_at = now
        tally.throttle_at = now
        return
    near = tally.cuts_in_a_row > 0 and now - tally.ready_at < BACK_FOR_GOOD_S
    tally.cuts_in_a_row = tally.cuts_in_a_row + 1 if near else 1
    tally.cut = 1
    tally.ready_at = now + m.restart_delay
    tally.cut_outs += 1
    tally.lowest_volts = min(tally.lowest_volts, m.cutoff)
    if tally.cut_off_s < 0.0:
        tally.cut_off_s, tally.cut_activity, tally.cut_leg = now, run.activity, tally.leg
