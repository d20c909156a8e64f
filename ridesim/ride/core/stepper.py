"""The stepper: one phase of a ride, from its start to its planned end or to the first event.

Third-order Runge-Kutta steps with error control; events by the Illinois variant of regula falsi on the cubic through a step's ends,
with a bisection where one end stays put. A vehicle
geared so low that its speed settles within milliseconds takes second-order exponential steps, in which the speed settles exactly.

References
----------
Bogacki & Shampine, Appl. Math. Lett. 2 (1989) 321: the 3(2) pair.
Cox & Matthews, J. Comput. Phys. 176 (2002) 430: the second-order exponential Runge-Kutta step.
"""

from __future__ import annotations

import math
from math import expm1, sqrt

import numpy as np

from ridesim.physics.compiled import inlined, internal
from ridesim.ride.core import events
from ridesim.ride.core import places as at
from ridesim.ride.core.kept import Rows, keep
from ridesim.ride.core.notes import CRAWL_MPS, cubic, note, note_step, opened_throttle, peak_between, switched
from ridesim.ride.core.rates import rates
from ridesim.ride.core.records import COAST, DRIVE, STALL, TRACE_SPEED, Goal, Machine, Run

LEAVES_AFTER_S = 60.0
"""Slower than CRAWL_MPS under full command for this time: the vehicle leaves the activity."""
BEND_S = 0.01
"""With a cut-out a step in which one limit gives way to another is no longer than this: the voltage is lowest at such a bend. [s]"""

_SOLUTION = (2.0 / 9.0, 1.0 / 3.0, 4.0 / 9.0)
"""Weights of the first three stages' rates in the step's result."""
_STAGES = ((0.5, 0.0, 0.0, 0.5), (0.0, 0.75, 0.0, 0.75), (*_SOLUTION, 1.0))
"""Weights of the rates so far, and the share of the step, of each further stage."""
_TOLERANCE = np.array([1e-2, 1.6e-4, 1.2e-5, 1.2e-5, 2e-5, 5e-4, 1.5e-3, 1.5e-3])
"""Largest local error a step of distance [m], speed [m/s], the three charges, polarisation [V], winding and case [K].

An error of the filtered current, the polarisation or a temperature dies away within minutes; those of the others add up.
"""
_WARM_SHARE = 3e-4
"""The temperatures' errors may grow by this share of the winding's rise above ambient."""
NEARLY_ALL = 0.999
"""A bend beyond this share of a refused step is not what it was refused for."""
AT_AN_END = 0.01
"""A bend nearer to an end of a step than this share of it need not be looked for."""
_ENERGY_J, _ENERGY_SHARE = 0.05, 3e-6
"""Largest local error of the energy drawn [J], and as a share of all energy that went through the pack."""
BRAKE_SHARE = 0.3
"""An error of the brake's energy counts less: what the brake takes too much the air takes too little, and the ledger stays balanced."""
_KINETIC_J, _KINETIC_SHARE = 6e-5, 4e-9
"""The same of the kinetic energy: what the ledger's residual is made of."""

LONGEST_STEP_S = np.array([300.0, 60.0, 4.0, 5.0])
"""Longest step standing, driving, stalled, coasting: kept rows stay close enough to draw from."""
STIFF = 5.0
"""A vehicle whose speed settles faster than this may need exponential steps. [1/s]"""
BREAK_AWAY_N = 0.01
"""A vehicle held at a stand is released when the pull is this much beyond what breaking away needs, and held again when nothing is.
Without a band between the two, rounding decides, and it may be released and held for ever."""
SAFETY = 0.87
"""The next step is as long as the last one's error allows, times this."""
BEYOND = 1.3
"""A step towards the command under a falling acceleration: this much longer than the present acceleration would need."""
_AT = 1e-9
"""Nearer than this to an event is at it, in the event's own unit."""
_NEAR_S = 1e-10
"""The moment of an event is known to this. [s]"""
TRIES_AT_AN_EVENT = 200
"""A quarter of them halves the time, which is enough for the longest step."""


@internal
def commanded(time: float, distance: float, goal: Goal) -> float:
    """Commanded speed at a state: the trace's line, or the lower of limit and braking envelope √(v² + 2 b s). [m/s]"""
    if goal.command == TRACE_SPEED:
        return goal.speed + goal.slope * (time - goal.since)
    left = max(0.0, goal.end - distance)
    return min(goal.speed, sqrt(goal.end_speed * goal.end_speed + 2.0 * goal.slope * left))


@inlined
def _beyond(event: int, run: Run, place: int) -> float:
    """How far a state is beyond an event, in the event's own unit; negative before it.

    From events.SHORT on the answer holds for the state whose rates were asked for last.
    """
    w, out, goal = run.w, run.out, run.goal
    if event == events.COMMAND:
        return float(w[place, at.SPEED]) - commanded(w[place, at.TIME], w[place, at.DISTANCE], goal)
    if event == events.PLACE:
        return float(w[place, at.DISTANCE]) - goal.end
    if event == events.STOOD:
        return -float(w[place, at.SPEED])
    if event == events.SHORT:
        return goal.wanted - out.possible
    if event == events.RELEASED:
        return out.margin - BREAK_AWAY_N
    if event == events.SWITCHED:
        return out.switch
    return -out.charge if w[place, at.SWITCHED_OFF] == 0.0 else -1.0


@inlined
def _crossed(run: Run) -> tuple[float, int]:
    """The watched event that the step's end is furthest beyond; at or above zero it has happened."""
    most, event = -1e300, events.ENDED
    for each in range(events.SWITCHED, events.ENDED, -1):
        if run.goal.watch[each] == 1.0:
            beyond = _beyond(each, run, at.NEXT)
            if beyond > most:
                most, event = beyond, each
    return most, event


@inlined
def spent(run: Run) -> bool:
    """Whether the ride has taken all the steps it may."""
    return bool(run.tries >= run.most_tries)


@inlined
def _try_step(run: Run, m: Machine, h: float, settling: float) -> float:
    """One step from NOW to NEXT, of the kind that suits how fast the speed settles. Returns error over tolerance."""
    run.tries += 1
    run.settled = int(settling * h > 1.0)
    if run.settled == 1:
        return _exponential_step(run, m, h, settling)
    return _runge_kutta_step(run, m, h)


@internal
def _runge_kutta_step(run: Run, m: Machine, h: float) -> float:
    """One step from NOW to NEXT; the first row of rates holds those at NOW, the fourth gets those at NEXT. Returns error over tolerance.

    No equation depends on the sums of the ledger, so the stages leave them alone: see :func:`_add_sums`.
    """
    w = run.w
    w[at.NEXT, at.SWITCHED_OFF] = w[at.NOW, at.SWITCHED_OFF]
    for stage in range(1, 4):
        a, b, c, share = _STAGES[stage - 1]
        w[at.NEXT, at.TIME] = w[at.NOW, at.TIME] + share * h
        for i in range(at.CONTROLLED):
            k0, k1, k2 = w[at.RATES, i], w[at.RATES + 1, i], w[at.RATES + 2, i]
            w[at.NEXT, i] = w[at.NOW, i] + h * (a * k0 + b * k1 + c * k2)
        rates(run, m, at.NEXT, at.RATES + stage)
    return _error(run, h)


@internal
def _settling(run: Run, m: Machine) -> float:
    """Rate at which the speed settles at the present state, from the accelerations here and a little slower. [1/s]"""
    w, slower = run.w, 1e-7
    for i in range(at.SIZE):
        w[at.BETWEEN, i] = w[at.NOW, i]
    w[at.BETWEEN, at.SPEED] -= slower
    rates(run, m, at.BETWEEN, at.SPARE)
    return max(0.0, float(w[at.SPARE, at.SPEED] - w[at.RATES, at.SPEED]) / slower)


@internal
def _exponential_step(run: Run, m: Machine, h: float, settling: float) -> float:
    """As :func:`_runge_kutta_step`, of second order, with the part of the acceleration that settles the speed integrated exactly."""
    w = run.w
    decay = settling * h
    first = -expm1(-decay) / decay
    second = (1.0 - first) / decay
    w[at.NEXT, at.SWITCHED_OFF] = w[at.NOW, at.SWITCHED_OFF]
    w[at.NEXT, at.TIME] = w[at.NOW, at.TIME] + h
    for i in range(at.CONTROLLED):
        w[at.NEXT, i] = w[at.NOW, i] + h * w[at.RATES, i] * (first if i == at.SPEED else 1.0)
    rates(run, m, at.NEXT, at.RATES + 1)
    worst = 0.0
    for i in range(at.CONTROLLED):
        share, change = 0.5, w[at.RATES + 1, i] - w[at.RATES, i]
        if i == at.SPEED:
            share, change = second, change + settling * (w[at.NEXT, i] - w[at.NOW, i])
        worst = max(worst, abs(h * share * change) / _allowed(run, i))
        w[at.NEXT, i] += h * share * change
    rates(run, m, at.NEXT, at.RATES + 3)
    drawn = 0.5 * h * (w[at.RATES + 3, at.DRAWN] - w[at.RATES, at.DRAWN])
    power = w[at.RATES, at.DISTANCE] * w[at.RATES, at.SPEED] + w[at.RATES + 3, at.DISTANCE] * w[at.RATES + 3, at.SPEED]
    return _energy_error(run, worst, drawn, 0.5 * h * power, 0.03)


@inlined
def _allowed(run: Run, i: int) -> float:
    """Largest local error of a place."""
    if i < at.WINDING:
        return float(_TOLERANCE[i])
    return float(_TOLERANCE[i] + _WARM_SHARE * abs(run.w[at.NOW, at.WINDING] - run.scene.ambient))


@inlined
def _difference(run: Run, h: float, i: int) -> float:
    """Third-order less second-order solution of one place."""
    w = run.w
    return float(
        h * (w[at.RATES, i] * (-5.0 / 72.0) + w[at.RATES + 1, i] / 12.0 + w[at.RATES + 2, i] / 9.0 - w[at.RATES + 3, i] / 8.0)
    )  # fmt: skip


@inlined
def _error(run: Run, h: float) -> float:
    """Largest local error of a step over its tolerance."""
    w = run.w
    worst = 0.0
    for i in range(at.CONTROLLED):
        worst = max(worst, abs(_difference(run, h, i)) / _allowed(run, i))
    moved = 0.0
    for stage, weight in ((0, 2.0), (1, 3.0), (2, 4.0)):
        moved += weight * w[at.RATES + stage, at.DISTANCE] * w[at.RATES + stage, at.SPEED]
    # The air's power bends most while the brake holds the speed on a straight line: there nothing else shows the step's error.
    energy = max(abs(_difference(run, h, at.DRAWN)), BRAKE_SHARE * abs(_difference(run, h, at.USE_BRAKE)))
    return _energy_error(run, worst, energy, h * moved / 9.0, 1.0)


@inlined
def _energy_error(run: Run, worst: float, drawn: float, moved: float, share: float) -> float:
    """The larger of an error over tolerance and those of the energy drawn [J] and of the power into motion summed like the ledger [J/kg]."""
    w = run.w
    # The motor's current can bend inside a braking ramp while the speed runs straight: only the energy shows it.
    through = w[at.NOW, at.THROUGHPUT]
    worst = max(worst, abs(drawn) / (_ENERGY_J + _ENERGY_SHARE * through))
    # The power into motion against the kinetic energy that the step's speeds say.
    gained = 0.5 * float(w[at.NEXT, at.SPEED] * w[at.NEXT, at.SPEED] - w[at.NOW, at.SPEED] * w[at.NOW, at.SPEED])
    error = run.scene.effective_mass * (gained - moved)
    return float(max(worst, abs(error) / (share * (_KINETIC_J + _KINETIC_SHARE * through))))


@inlined
def _add_sums(run: Run, h: float) -> None:
    """A step's contribution to the sums, by the weights of its solution."""
    w = run.w
    a, b, c, d = (0.5, 0.0, 0.0, 0.5) if run.settled == 1 else (*_SOLUTION, 0.0)
    for i in range(at.FIRST_SUM, at.LAST_SUM + 1):
        k0, k1, k2, k3 = w[at.RATES, i], w[at.RATES + 1, i], w[at.RATES + 2, i], w[at.RATES + 3, i]
        w[at.NEXT, i] = w[at.NOW, i] + h * (a * k0 + b * k1 + c * k2 + d * k3)


@inlined
def _add_part(run: Run, h: float, share: float) -> None:
    """A share of a step's contribution to the sums, by the cubic through its ends."""
    w = run.w
    _add_sums(run, h)
    for i in range(at.FIRST_SUM, at.LAST_SUM + 1):
        change = w[at.NEXT, i] - w[at.NOW, i]
        w[at.NEXT, i] = w[at.NOW, i] + cubic(change, h * w[at.RATES, i], h * w[at.RATES + 3, i], share)


@inlined
def _event_at_start(run: Run, m: Machine) -> int:
    """The event with which a phase ends before its first step, if any."""
    out, goal = run.out, run.goal
    if out.switch > _AT:
        switched(run, m)
        return events.SWITCHED
    if goal.mode == DRIVE:
        if run.w[at.NOW, at.SPEED] <= 0.0 and out.margin <= 0.0:
            return events.HELD
        if goal.watch[events.SHORT] == 1.0 and goal.wanted - out.possible > _AT:
            return events.SHORT
    return events.ENDED


@inlined
def _to_command(run: Run) -> float:
    """Longest step that is of use below the command: a steady acceleration lands on it, one that falls goes a little beyond. [s]

    The seconds of a crawl are counted one by one.
    """
    longest = math.inf
    if run.w[at.NOW, at.SPEED] < CRAWL_MPS:
        longest = min(1.0, LEAVES_AFTER_S - run.tally.crawl_s)
    rising = run.out.acceleration - (run.goal.slope if run.goal.command == TRACE_SPEED else 0.0)
    gap = -_beyond(events.COMMAND, run, at.NOW)
    if rising <= 0.0 or gap <= 0.0:
        return longest
    return min(longest, (1.0 if run.out.limit == 0 else BEYOND) * gap / rising)


@inlined
def _accept(run: Run, m: Machine, h: float, charge: float, current: float, room: float, event: int) -> int:
    """The step counts: its notes are made, and its end becomes the present state. Returns the event, or events.LEAVES."""
    w = run.w
    note_step(run, m, h, charge, current, room)
    for i in range(at.SIZE):
        w[at.NOW, i] = w[at.NEXT, i]
        w[at.RATES, i] = w[at.RATES + 3, i]
    if w[at.NOW, at.SPEED] < 0.0:
        w[at.NOW, at.SPEED] = 0.0
    note(run, m)
    if event == events.SWITCHED:
        switched(run, m)
    elif event == events.ENDED and run.tally.crawl_s >= LEAVES_AFTER_S - _AT:
        event = events.LEAVES
    return event


@internal
def advance(run: Run, m: Machine, span: float, rows: Rows) -> tuple[int, Rows]:
    """Advance the state in place, as the run's goal says, until ``span`` is over or an event happens.

    Parameters
    ----------
    run : Run
        The ride; its state, outputs and tally are changed in place.
    m : Machine
        The build's numbers.
    span : float
        Time to the phase's planned end. [s]
    rows : ndarray of Row
        Kept rows; returned, as a full array is exchanged for a larger one. No rows are kept in an array of none.

    Returns
    -------
    event : int
        Why the phase ended.
    rows : ndarray of Row
        Kept rows.
    """
    w, out, goal = run.w, run.out, run.goal
    run.tries += 1
    opened_throttle(run, m)
    rates(run, m, at.NOW, at.RATES)
    event = _event_at_start(run, m)
    if event != events.ENDED:
        return event, rows
    note(run, m)
    rows = keep(run, rows, events.HELD if goal.mode == STALL else events.ENDED)
    end = w[at.NOW, at.TIME] + span
    longest = LONGEST_STEP_S[goal.mode] / run.fineness
    h = min(longest, span)
    if goal.watch[events.COMMAND] == 1.0:
        h = min(h, 1.0)  # how the pull will change is not known yet
    charge, limit, volts, current, room = out.charge, out.limit, out.volts, out.pack_current, out.possible - goal.wanted
    may_settle = run.scene.settling > STIFF and (goal.mode == DRIVE or goal.mode == COAST)
    settling = _settling(run, m) if may_settle else 0.0
    while True:
        left = end - w[at.NOW, at.TIME]
        if left <= _AT:
            return events.ENDED, rows
        if spent(run):
            return events.SPENT, rows
        if goal.watch[events.COMMAND] == 1.0:
            h = min(h, _to_command(run))
        last = h >= left
        step = left if last else h
        error = _try_step(run, m, step, settling) * run.fineness**3
        if error > 1.0:
            share = (
                SAFETY / sqrt(error)
                if run.settled == 1
                else _to_bend(out.limit, limit, room, goal.wanted - out.possible, error)
            )
            h = step * max(0.1, share)
            continue
        if m.cuts_out == 1 and out.limit != limit and step > BEND_S:
            h = 0.5 * step
            continue
        step, event = _end_of(run, m, step, settling)
        if out.limit != limit and not (limit == 0 and _at_an_end(room, goal.wanted - out.possible)):
            peak_between(run, m, step, limit, volts, current)
        event = _accept(run, m, step, charge, current, room, event)
        rows = keep(run, rows, event)
        if event != events.ENDED:
            return event, rows
        if last:
            w[at.NOW, at.TIME] = end
            return events.ENDED, rows
        h = min(longest, max(step, 1e-6) * (5.0 if error < 6e-3 else SAFETY / np.cbrt(error)))
        charge, limit, volts, current, room = (
            out.charge,
            out.limit,
            out.volts,
            out.pack_current,
            out.possible - goal.wanted,
        )
        if may_settle:
            settling = _settling(run, m)


@inlined
def _at_an_end(room: float, short: float) -> bool:
    """Whether the pull falls short of what is wanted only at the very begin or end of a step, whose own extremes are noted anyway."""
    return bool(min(abs(room), abs(short)) < AT_AN_END * max(abs(room), abs(short)))


@inlined
def _to_bend(limit: int, before: int, room: float, short: float, error: float) -> float:
    """Share of a refused step to try next: up to the bend where the pull falls short of what is wanted, by a straight line through both ends."""
    if limit == before:
        return float(SAFETY / np.cbrt(error))
    if before == 0 and room > 0.0 and short > 0.0 and room < NEARLY_ALL * (room + short):
        return room / (room + short)
    return SAFETY / sqrt(error)  # at a bend the error is of second order


@inlined
def _end_of(run: Run, m: Machine, step: float, settling: float) -> tuple[float, int]:
    """Length of a step whose error is small enough, shortened to the first event in it, and that event."""
    beyond, event = _crossed(run)
    if beyond > _AT:
        return _locate(run, m, step, settling, beyond, event)
    _add_sums(run, step)
    # Landed on the command; a phase that starts on it must have left it before.
    if event == events.COMMAND and beyond >= -_AT and _beyond(events.COMMAND, run, at.NOW) < -1e-6:
        return step, events.COMMAND
    return step, events.ENDED


@internal
def _locate(run: Run, m: Machine, whole: float, settling: float, over: float, event: int) -> tuple[float, int]:
    """Shorten a step, whose end is beyond an event, so that it ends at the first event.

    Between the ends the state is on the cubic through them. Where the speed settles, and for an event beyond which the equations have
    a bend, as at a stand, a shorter step is made instead.
    """
    w = run.w
    for i in range(at.SIZE):
        w[at.BETWEEN, i] = w[at.NEXT, i]
    low, high, step, anew = 0.0, whole, whole, run.settled == 1
    under = _start_of(event, run, over)
    side, again = 0, 0
    for tried in range(TRIES_AT_AN_EVENT):
        # Aimed half the tolerance beyond the event: what falls short of it has to be tried again.
        middle = low + (high - low) * (0.5 * _AT - under) / (over - under)
        # Halved now and then in any case: the aim may creep from both sides in turn.
        if again > 1 or tried % 4 == 3 or not low < middle < high:
            middle = 0.5 * (low + high)
        middle = min(max(middle, low + 0.5 * _NEAR_S), high - 0.5 * _NEAR_S)
        step = middle
        anew = anew or event == events.STOOD or event == events.SHORT
        if anew:
            _try_step(run, m, step, settling)
            value, first = _crossed(run)
        else:
            _go_part(run, whole, step)
            value, first = _beyond(event, run, at.NEXT), event
            if event > events.STOOD or 0.0 <= value <= _AT or high - low < _NEAR_S:
                rates(run, m, at.NEXT, at.SPARE)
                value, first = _crossed(run)
                if first != event and event <= events.STOOD:
                    low = 0.0  # nobody looked for this one on the way here
        # Not from below: a phase may begin at the event, leave it, and come to it only later.
        if 0.0 <= value <= _AT or high - low < _NEAR_S:
            event = first
            break
        if value > 0.0:
            if first != event:
                event = first
                under = _start_of(event, run, value) if low == 0.0 else -value
            again = again + 1 if side == 1 else 0
            if again > 0:
                under *= 0.5
            high, over, side = middle, value, 1
        else:
            value = _beyond(event, run, at.NEXT)
            again = again + 1 if side == -1 else 0
            if again > 0:
                over *= 0.5
            low, under, side = middle, value, -1
    else:
        run.tally.unconverged += 1
    if anew:
        _add_sums(run, step)
        return step, event
    _add_part(run, whole, step / whole)
    for i in range(at.SIZE):
        w[at.RATES + 3, i] = w[at.SPARE, i]
    return step, event


@inlined
def _go_part(run: Run, whole: float, step: float) -> None:
    """The state at some time inside a step: on the cubic through both ends, of which BETWEEN holds the last."""
    w, share = run.w, step / whole
    for i in range(at.CONTROLLED):
        change = w[at.BETWEEN, i] - w[at.NOW, i]
        w[at.NEXT, i] = w[at.NOW, i] + cubic(change, whole * w[at.RATES, i], whole * w[at.RATES + 3, i], share)
    w[at.NEXT, at.TIME] = w[at.NOW, at.TIME] + step


@inlined
def _start_of(event: int, run: Run, over: float) -> float:
    """How far before an event the step's start is; only guides the first guess, so it is never zero."""
    before = _beyond(event, run, at.NOW) if event <= events.STOOD else -over
    return min(float(before), -1e-6 * over)
