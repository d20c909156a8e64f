"""A ride through a whole day, and many of them: the activities by the clock, each as phases of the stepper."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ridesim.physics.compiled import compiled, inlined, internal
from ridesim.physics.controller import CUT_OFF, PACK_POWER
from ridesim.physics.drive import settling_rate
from ridesim.physics.motor import torque_constant
from ridesim.physics.road import effective_mass
from ridesim.ride.core import places as at
from ridesim.ride.core.kept import Rows
from ridesim.ride.core.phases import LEFT, Legs, follow_trace, ride_route, stand
from ridesim.ride.core.records import ROUTE, TRACE, Array, Machine, Note, Run, Setting, Task

Records = NDArray[np.void]
SAME_TIME_S = 1e-9
"""An activity that begins no later than this after the one before follows it at once. [s]"""


class Programme(NamedTuple):
    """What all rides of a day share: its activities as an array of Task, and the legs and the points of traces they point to."""

    tasks: Records
    lengths: Array  # of legs [m]
    limits: Array  # speed limits [m/s]
    grades: Array  # rise over run [-]
    surfaces: Array  # factor on the rolling coefficient [-]
    grounds: NDArray[np.int64]  # which of SURFACES
    stops: Array  # stop at the end of a leg [s]
    times: Array  # of points [s]
    speeds: Array  # [m/s], NaN: coasting
    slopes: Array  # rise over run [-]


@internal
def surround(run: Run, m: Machine, s: Setting, aboard: int) -> None:
    """What surrounds the vehicle with its rider aboard or not: lights off, no charger, controller on."""
    scene = run.scene
    scene.mass = s.mass_aboard if aboard == 1 else s.mass_alone
    scene.load_share = s.load_share_aboard if aboard == 1 else s.load_share_alone
    scene.height_share = s.height_share_aboard if aboard == 1 else s.height_share_alone
    scene.effective_mass = effective_mass(scene.mass, m.wheel_inertia, m.radius, m.rotor_inertia, m.ratio)
    constant = torque_constant(m.motor_limit, m.constant, m.series, m.saturation)
    path = m.resistance + m.on_resistance
    scene.settling = settling_rate(constant, m.ratio, m.radius, m.efficiency, path, scene.effective_mass)
    scene.density, scene.headwind, scene.ambient = s.density, s.headwind, s.ambient
    scene.controller_on = 1
    scene.charger = 0.0


@inlined
def _light(run: Run, s: Setting, share: float) -> None:
    """Lights that hang on the main pack: a share of them all the time, or all by the clock where there is none."""
    scene, by_the_clock = run.scene, share < 0.0
    scene.lights = s.lights * (1.0 if by_the_clock and s.lit_from < s.lit_to else max(0.0, share))
    scene.lit_from = s.lit_from if by_the_clock else 0.0
    scene.lit_to = s.lit_to if by_the_clock else 0.0


@inlined
def _wait_for(run: Run, m: Machine, s: Setting, tasks: Records, n: int, rows: Rows) -> Rows:
    """Stand until an activity's time has come; one that follows at once, on the move and with the same load, is ridden into."""
    now, task = run.w[at.NOW], tasks[n]
    wait = 0.0 if task.start < 0.0 else task.start - now[at.TIME]
    same_load = n == 0 or tasks[n - 1].aboard == task.aboard
    moves = task.kind == ROUTE or task.kind == TRACE
    if wait > SAME_TIME_S or not moves or not same_load:
        rows = _stop(run, m, rows)
    if wait > SAME_TIME_S:
        run.activity = -1
        surround(run, m, s, 1)
        _light(run, s, -1.0)
        run.scene.controller_on = s.on_between
        rows = stand(run, m, wait, rows)
    return rows


@inlined
def _stop(run: Run, m: Machine, rows: Rows) -> Rows:
    """The brake takes what speed is left."""
    return stand(run, m, 0.0, rows) if run.w[at.NOW, at.SPEED] > 0.0 else rows


@internal
def allowed_at_ends(limits: Array, lengths: Array, stops: Array, laps: int, braking: float) -> Array:
    """Speed that the braking envelope of all later legs allows at the end of each leg, all laps written out. [m/s]"""
    count = limits.shape[0]
    ends = np.zeros(laps * count)
    allowed = 0.0
    for i in range(laps * count - 1, -1, -1):
        leg = i % count
        ends[i] = min(0.0 if stops[leg] > 0.0 else allowed, limits[leg])
        allowed = min(limits[leg], sqrt(ends[i] ** 2 + 2.0 * braking * lengths[leg]))
    return ends


@inlined
def do(run: Run, m: Machine, s: Setting, task: Task, charger: float, day: Programme, rows: Rows) -> tuple[bool, Rows]:
    """Do an activity from the present state; says whether the vehicle left it."""
    first, last = task.first, task.last
    surround(run, m, s, task.aboard)
    _light(run, s, task.lights)
    if task.kind == ROUTE:
        lengths, limits, stops = day.lengths[first:last], day.limits[first:last], day.stops[first:last]
        ends = allowed_at_ends(limits, lengths, stops, task.times, s.braking)
        ground = day.surfaces[first:last], day.grounds[first:last]
        legs = Legs(lengths, limits, day.grades[first:last], *ground, stops, ends)
        ended, rows = ride_route(run, m, legs, s.wanted, s.braking, rows)
        return ended == LEFT, rows
    if task.kind == TRACE:
        ended, rows = follow_trace(
            run, m, day.times[first:last], day.speeds[first:last], day.slopes[first:last], task.times, s.wanted, rows
        )
        return ended == LEFT, rows
    run.scene.charger = charger
    return False, stand(run, m, task.duration, rows)


@inlined
def _note_begin(run: Run, note: Note) -> None:
    now = run.w[at.NOW]
    note.start, note.begin_charge = now[at.TIME], max(0.0, run.out.charge)
    note.distance, note.charged = now[at.DISTANCE], now[at.IN]


@inlined
def _note_end(run: Run, note: Note, left: bool) -> None:
    now, out = run.w[at.NOW], run.out
    note.end, note.end_charge = now[at.TIME], max(0.0, out.charge)
    note.distance, note.charged = now[at.DISTANCE] - note.distance, now[at.IN] - note.charged
    note.leg = run.tally.leg
    note.left = int(left)
    by_pack = now[at.SWITCHED_OFF] == 1.0 or out.limit == CUT_OFF or out.limit == PACK_POWER
    note.by_pack = int(left and by_pack)


@compiled
def ride_days(
    first: int, last: int, runs: Records, machines: Records, settings: Records, chargers: Array, day: Programme, notes: Records,
    rows: Rows,
) -> Rows:  # fmt: skip
    """Several rides, from one to before another: each does all activities of the day in order.

    Parameters
    ----------
    first, last : int
        Which of the rides.
    runs, machines, settings : array of Run, Machine, Setting, shape (n,)
        The rides at their start, the builds, and what else they are given. Arrays, because compiled functions take up an array ten times as
        fast as a record.
    chargers : ndarray, shape (n, activities)
        Current of the charger. [A]
    day : Programme
        The day.
    notes : array of Note, shape (n, activities)
        Filled: how each activity went.
    rows : ndarray of Row
        Kept rows, as in :func:`ridesim.ride.core.stepper.advance`; returned. Of one ride, or of none.
    """
    tasks = day.tasks
    for i in range(first, last):
        run, m, s = runs[i], machines[i], settings[i]
        for n in range(tasks.shape[0]):
            rows = _wait_for(run, m, s, tasks, n, rows)
            run.activity = n
            _note_begin(run, notes[i, n])
            left, rows = do(run, m, s, tasks[n], chargers[i, n], day, rows)
            _note_end(run, notes[i, n], left)
        rows = _stop(run, m, rows)
    return rows


@compiled
def ride_on(
    first: int, last: int, runs: Records, machines: Records, settings: Records, task: int, rounds: int, day: Programme, no_rows: Rows
) -> None:  # fmt: skip
    """Several rides do an activity again and again, without a pause, until the vehicle leaves it or the pack is empty."""
    for i in range(first, last):
        run, m, s = runs[i], machines[i], settings[i]
        run.ended = 0
        for _ in range(rounds):
            left, _rows = do(run, m, s, day.tasks[task], 0.0, day, no_rows)
            if left or run.w[at.NOW, at.SWITCHED_OFF] == 1.0:
                run.ended = 1
                break
