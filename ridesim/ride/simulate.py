"""Moves a build through its day."""

from __future__ import annotations

import math
import os
from collections import deque
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ridesim.day import Activity, Day, Route
from ridesim.physics.capacity_laws import LAW_NAMES, PEUKERT, SATURATING, TWO_WELL, peukert_factor
from ridesim.physics.life import charge_kept
from ridesim.ride.core import phases
from ridesim.ride.core.rates import FILTER_SCALE, charges_at
from ridesim.ride.core.records import (
    CASE,
    CHARGE,
    CHARGE_1,
    CHARGE_2,
    CHARGE_OUT,
    CURRENT_SQUARED,
    CUT,
    CUT_LEG,
    CUT_OFF_AT,
    CUT_OUTS,
    CUT_S,
    DISTANCE,
    DRAWN,
    EMPTY_AT,
    ENERGY,
    EVALUATIONS,
    FROM_CHARGER,
    HIGHEST_CURRENT,
    HOT_AT,
    HOT_S,
    HOTTEST,
    LOSS_BRUSHES,
    LOSS_CHAIN,
    LOSS_CONTROLLER,
    LOSS_COPPER,
    LOSS_FRICTION,
    LOSS_PACK,
    LOSS_POLARISATION,
    LOWEST_VOLTS,
    MINUTE_CURRENT,
    NOT_STORED,
    NOW,
    OUT,
    RESERVE_AT,
    SECONDS_BELOW,
    SPEED,
    STARTS,
    STEPS,
    TALLY,
    THROUGHPUT,
    TIME,
    USE_AIR,
    USE_BRAKE,
    USE_LIGHTS,
    USE_POTENTIAL,
    USE_ROLLING,
    USE_STANDBY,
    WINDING,
    WORK_COLUMNS,
    WORK_ROWS,
    WORST_STALL_A,
    WORST_STALL_AT,
    WORST_STALL_HEAT,
    WORST_STALL_S,
)  # fmt: skip
from ridesim.ride.core.stepper import ROW
from ridesim.ride.given import AnyBuild, AnyDay, given_build, given_builds, given_day
from ridesim.ride.machine import STAND, Machine, Scene, activity_scene, machine, packed, with_law
from ridesim.ride.pack.laws import available_laws
from ridesim.ride.result import Moments, Outcome, Ride, Stage
from ridesim.vehicle import Build, Lighting, Pack
from ridesim.words import InputProblem, is_number, shown

FloatArray = NDArray[np.float64]

_WORK = np.dtype([("w", np.float64, (WORK_ROWS, WORK_COLUMNS))])

LEDGER = {
    "pack resistance": LOSS_PACK, "polarisation": LOSS_POLARISATION, "standby": USE_STANDBY, "lights": USE_LIGHTS,
    "controller": LOSS_CONTROLLER, "motor copper": LOSS_COPPER, "brushes": LOSS_BRUSHES, "motor friction": LOSS_FRICTION,
    "chain": LOSS_CHAIN, "rolling": USE_ROLLING, "air": USE_AIR, "brake": USE_BRAKE, "height": USE_POTENTIAL,
    "charger": FROM_CHARGER, "charge not stored": NOT_STORED,
}  # fmt: skip
"""Destinations of the energy ledger; "speed" (kinetic energy left at the end) is added from the state."""


def simulate(
    build: AnyBuild,
    day: AnyDay,
    battery_model: str | None = None,
    *,
    keep_rows: bool = True,
    fineness: float = 1.0,
    missing_ah: float | None = None,
) -> Ride:
    """Move a build through its day.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    day : Day, str or Path
        A day, or the name or path of its file.
    battery_model : {"peukert", "saturating", "two-well"}, optional
        Capacity law; None: saturating where the build has ``capacity_by_hours``, else Peukert.
    keep_rows : bool
        Whether the ride keeps its steps (:attr:`Ride.frame`).
    fineness : float
        1 for production; 2 halves the integrator's steps.
    missing_ah : float, optional
        Ampere-hours that a meter counts as missing at the start, which with the state of charge is the full state of every law: what
        a high rate put out of reach under Peukert's, what is left in the bound well, how far a filtered current has recovered.
        None: as many as the state of charge says of a rested pack. [Ah]

    Returns
    -------
    Ride

    Raises
    ------
    InputProblem
        A file that is not good, missing ampere-hours that are no amount, an unknown capacity law, or a motor that contradicts its
        nameplate.
    TypeError
        Something else than a build and a day.

    Examples
    --------
    >>> import ridesim
    >>> ride = ridesim.simulate("heron_36v", "harbour_festival")
    >>> ride.outcome.finished, round(ride.outcome.distance_km, 1)
    (True, 17.0)
    """
    build, day = given_build(build), given_day(day)
    numbers = machine(build, day.ambient_c, battery_model)
    return _Journey(build, day, numbers, keep_rows, fineness, missing_ah).run()


def simulate_laws(
    build: Build, day: Day, laws: Sequence[str] | None = None, *, keep_rows: bool = True
) -> dict[str, Ride]:
    """Move a build through its day under several capacity laws: prepared once, ridden side by side where cores are free.

    Parameters
    ----------
    build : Build
        A validated build.
    day : Day
        A validated day.
    laws : sequence of str, optional
        Names of the laws; None: all that this pack has values for.
    keep_rows : bool
        As in :func:`simulate`.

    Returns
    -------
    dict of str to Ride
        In the order of the laws.

    Raises
    ------
    InputProblem
        As :func:`simulate`.
    """
    names = available_laws(build.pack) if laws is None else laws
    journeys: dict[str, _Journey] = {}
    for law in names:
        first = next(iter(journeys.values()), None)
        numbers = with_law(first.numbers, build.pack, law) if first else machine(build, day.ambient_c, law)
        journeys[law] = _Journey(build, day, numbers, keep_rows, 1.0)
        if first:
            journeys[law].scenes = first.scenes
    return _side_by_side(journeys)


def _side_by_side(journeys: dict[str, _Journey]) -> dict[str, Ride]:
    """Run journeys on this thread and on others that help: each takes the next one waiting, so a helper that never gets a core is
    not waited for."""
    waiting = deque(journeys.items())
    rides: dict[str, Ride] = {}

    def take() -> None:
        while True:
            try:
                law, journey = waiting.popleft()
            except IndexError:  # another thread took the last one
                return
            rides[law] = journey.run()

    helpers = [_helpers().submit(take) for _ in range(min(len(journeys), _cores()) - 1)]
    take()
    for helper in helpers:
        if not helper.cancel():
            helper.result()
    return {law: rides[law] for law in journeys}


def _cores() -> int:
    """Cores this process may run on: threads beyond them only take turns."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@lru_cache(maxsize=1)
def _helpers() -> ThreadPoolExecutor:
    """Threads kept for the next call: starting them costs as much as a tenth of a ride. The core runs without the interpreter's lock."""
    return ThreadPoolExecutor(max(1, _cores() - 1), thread_name_prefix="ridesim-law")


def simulate_many(
    builds: AnyBuild | Iterable[AnyBuild],
    day: AnyDay,
    battery_model: str | None = None,
    *,
    keep_rows: bool = False,
    workers: int | None = None,
) -> list[Ride]:
    """Move many builds through one day on all cores; rows are not kept unless asked for.

    Parameters
    ----------
    builds : Build, str or Path, or several of them
        Builds, or names or paths of their files.
    day : Day, str or Path
        A day, or the name or path of its file.
    battery_model : str, optional
        As in :func:`simulate`.
    keep_rows : bool
        Whether the rides keep their steps, for :attr:`Ride.frame`.
    workers : int, optional
        Threads; None: as many as there are cores.

    Returns
    -------
    list of Ride
        In the order of the builds.

    Raises
    ------
    InputProblem, TypeError
        As :func:`simulate`.

    Examples
    --------
    >>> import ridesim
    >>> rides = ridesim.simulate_many(["heron_36v", "heron_48v"], "harbour_festival")
    >>> [ride.outcome.finished for ride in rides]
    [True, True]
    """
    builds, day = given_builds(builds), given_day(day)
    with ThreadPoolExecutor(workers or _cores()) as pool:
        return list(pool.map(lambda build: simulate(build, day, battery_model, keep_rows=keep_rows), builds))


def start_charge(pack: Pack, day: Day) -> float:
    """State of charge at the day's start: the day's own, less what went while the pack stood in the shed."""
    kept = charge_kept(pack.stood_months, pack.stood_c, pack.in_force.self_discharge_per_month)
    return day.start_state_of_charge * kept


def charges_missing(begin: float, missing_ah: float, numbers: Machine) -> tuple[float, float]:
    """The law's two charges from a state of charge and the ampere-hours missing from the whole pack.

    Raises
    ------
    InputProblem
        More or fewer than the law can have missing at this state of charge.
    """
    if not is_number(missing_ah):
        raise InputProblem("the ride", "missing_ah", shown(missing_ah, "Ah"), "ampere-hours above 0")
    unit = numbers.capacity * numbers.strings / 3600.0
    share, room = missing_ah / unit, 1.0 - begin
    wells, whole, most = numbers.well_share, numbers.well_whole / numbers.capacity, room
    least = 0.0
    if numbers.law == TWO_WELL:  # the bound well is full, or empty
        least, most = wells * room * whole, (1.0 - wells * begin) * whole
    elif numbers.law == SATURATING:
        most = room * numbers.law_gain * numbers.law_capacity / numbers.capacity
    if room <= 1e-6 and 0.0 <= share <= least + 1e-6:  # full but for rounding
        return charges_at(begin, numbers)
    near = 1e-6 * (1.0 + most)
    if not (share > 0.0 and least - near <= share <= most + near):
        least_said = f"from {least * unit:.2f}" if least > 0.0 else "above 0 and"
        expected = f"ampere-hours {least_said} up to {most * unit:.2f} Ah at this state of charge"
        raise InputProblem("the ride", "missing_ah", f"{missing_ah:g} Ah", expected)
    share = min(max(share, least), most)
    if numbers.law == PEUKERT:
        return begin, share
    if numbers.law == TWO_WELL:
        return wells * begin, 1.0 - wells * begin - share / whole
    taken = share * numbers.capacity / numbers.law_capacity
    bent = max(0.0, (room / taken * numbers.law_gain - 1.0) / (numbers.law_gain - 1.0))
    return taken, bent ** (1.0 / numbers.law_exponent) / FILTER_SCALE


@lru_cache(maxsize=64)
def _legs(route: Route, laps: int, braking: float) -> tuple[FloatArray, ...]:
    """All laps' legs as arrays, with the speed the braking envelope of the later ones allows at each leg's end."""
    lengths = np.array([leg.length_m for leg in route.legs] * laps, dtype=float)
    limits = np.array([leg.speed_kmh for leg in route.legs] * laps) / 3.6
    grades = np.array([leg.grade_percent for leg in route.legs] * laps) / 100.0
    factors = np.array([leg.surface_factor for leg in route.legs] * laps)
    stops = np.array([leg.stop_s for leg in route.legs] * laps, dtype=float)
    ends = np.zeros_like(lengths)
    allowed = 0.0
    for i in range(len(lengths) - 1, -1, -1):
        ends[i] = 0.0 if stops[i] > 0.0 else allowed
        ends[i] = min(ends[i], limits[i])
        allowed = min(limits[i], math.sqrt(ends[i] ** 2 + 2.0 * braking * lengths[i]))
    for array in (lengths, limits, grades, factors, stops, ends):
        array.flags.writeable = False
    return lengths, limits, grades, factors, stops, ends


class _Journey:
    """One build on its way through one day: the core's arrays, and the activities in order."""

    def __init__(
        self,
        build: Build,
        day: Day,
        numbers: Machine,
        keep_rows: bool,
        fineness: float,
        missing_ah: float | None = None,
    ) -> None:
        self.build, self.day, self.numbers, self.fineness = build, day, numbers, fineness
        begin = start_charge(build.pack, day)
        self.core = packed(numbers)
        self.record = np.zeros(1, dtype=_WORK)[0]
        self.work = self.record["w"]
        self.state, self.tally = self.work[NOW], self.work[TALLY]
        self.state[CHARGE_1], self.state[CHARGE_2] = charges_at(begin, self.core)
        if missing_ah is not None:
            self.state[CHARGE_1], self.state[CHARGE_2] = charges_missing(begin, missing_ah, numbers)
        self.work[OUT, CHARGE] = begin
        self.state[WINDING] = self.state[CASE] = day.ambient_c
        self.state[TIME] = day.first_start_s
        self.tally[:] = -1.0
        self.tally[[LOWEST_VOLTS, HOTTEST, HIGHEST_CURRENT]] = math.inf, day.ambient_c, -math.inf
        self.tally[
            [SECONDS_BELOW, HOT_S, WORST_STALL_S, WORST_STALL_A, WORST_STALL_HEAT, MINUTE_CURRENT, STEPS, EVALUATIONS]
        ] = 0.0
        self.tally[[CUT, CUT_OUTS, CUT_S, STARTS]] = 0.0
        self.rows = np.empty((1024 if keep_rows else 0, ROW))
        self.used = 0
        self.stages: list[Stage] = []
        self.row_marks: list[tuple[int, int]] = []
        self.lights_charge = 1.0
        self.cut_out_place = ""
        self.scenes: dict[bool, Scene] = {}

    def run(self) -> Ride:
        for index, activity in enumerate(self.day.activity):
            self._wait_for(activity)
            self._do(index, activity)
        self._stop()
        return self._ride()

    def _wait_for(self, activity: Activity) -> None:
        start = activity.start_s
        wait = 0.0 if start is None else start - self.state[TIME]
        moves_on = wait <= 1e-9 and activity.path is not None and self._same_load(activity)
        if not moves_on:
            self._stop()
        if wait > 1e-9:
            scene = self._scene(True)
            self._stand(wait, scene._replace(controller_on=int(self.day.controller_on)))
        self._mark(-1)

    def _same_load(self, activity: Activity) -> bool:
        before = self.day.activity[len(self.stages) - 1] if self.stages else activity
        return before.aboard == activity.aboard

    def _stop(self) -> None:
        """The brake takes what speed is left."""
        if self.state[SPEED] > 0.0:
            aboard = self.day.activity[len(self.stages) - 1].aboard
            phases.brake(self.record, 0.0, self._scene(aboard).effective_mass)

    def _scene(self, aboard: bool) -> Scene:
        """Standing on level asphalt in the day's air; made once with and once without the rider."""
        if aboard not in self.scenes:
            self.scenes[aboard] = activity_scene(self.build, self.day, self.numbers, aboard, STAND)
        return self.scenes[aboard]

    def _do(self, index: int, activity: Activity) -> None:
        state = self.state
        start, place, out = float(state[TIME]), float(state[DISTANCE]), float(state[CHARGE_OUT])
        charge = self._charge()
        scene = self._scene(activity.aboard)
        lighting = self.build.lighting
        if lighting is not None and lighting.supply == "main-pack":
            scene = scene._replace(light_power=activity.lighting * lighting.power_w)
        cut_before = self.tally[CUT_OFF_AT] >= 0.0
        left, where = self._move(activity, scene)
        if self.tally[CUT_OUTS] > 0.0 and not cut_before:
            self.cut_out_place = self._place(activity, int(self.tally[CUT_LEG]), float(self.tally[CUT_OFF_AT]) - start)
        planned = activity.start_s if activity.start_s is not None else start
        ran_out = self._drain_lights(lighting, activity.lighting, start)
        self._mark(index)
        self.stages.append(
            Stage(
                name=activity.name,
                start_s=start,
                end_s=float(state[TIME]),
                planned_start_s=planned,
                start_charge=charge,
                end_charge=self._charge(),
                distance_m=float(state[DISTANCE]) - place,
                planned_m=activity.planned_m,
                left=left,
                place=where,
                charge_out_ah=(float(state[CHARGE_OUT]) - out) / 3600.0,
                lights_ran_out_s=ran_out,
            )
        )

    def _move(self, activity: Activity, scene: Scene) -> tuple[bool, str]:
        """Do the activity; says whether and where the vehicle left it."""
        day = self.day
        if activity.route is not None:
            lengths, limits, grades, factors, stops, ends = _legs(activity.route, activity.laps, day.braking_mps2)
            ended, leg, self.rows, self.used = phases.ride_route(
                self.record, lengths, limits, grades, factors, stops, ends, day.rider_acceleration_mps2, day.braking_mps2, self.core, scene,
                self.rows, self.used, self.fineness,
            )  # fmt: skip
            return ended == phases.LEFT, self._place(activity, int(leg), 0.0)
        if activity.trace is not None:
            trace = activity.trace
            begun = float(self.state[TIME])
            ended, self.rows, self.used = phases.follow_trace(
                self.record, trace.time_s, trace.speed_kmh / 3.6, trace.grade_percent / 100.0, activity.repeats,
                day.rider_acceleration_mps2, self.core, scene, self.rows, self.used, self.fineness,
            )  # fmt: skip
            return ended == phases.LEFT, self._place(activity, -1, float(self.state[TIME]) - begun)
        assert activity.duration_s is not None
        self._stand(activity.duration_s, scene._replace(charger=activity.charge_current_a))
        return False, ""

    @staticmethod
    def _place(activity: Activity, leg: int, seconds: float) -> str:
        """Where in an activity: the lap and leg of a route, or the seconds into a trace."""
        if activity.route is None:
            return f"{seconds:.0f} s into the trace"
        lap, number = divmod(leg, len(activity.route.legs))
        grade = activity.route.legs[number].grade_percent
        slope = f" ({abs(grade):.1f} % {'up' if grade > 0 else 'down'})" if grade else ""
        return f"lap {lap + 1}, leg {number + 1}{slope}"

    def _stand(self, span: float, scene: Scene) -> None:
        self.rows, self.used = phases.stand(self.record, span, self.core, scene, self.rows, self.used, self.fineness)

    def _drain_lights(self, lighting: Lighting | None, share: float, start: float) -> float | None:
        """Charge taken from the lights' own battery; when it ran out, if it did in this activity."""
        if lighting is None or lighting.supply != "own-battery" or share == 0.0:
            return None
        current = share * lighting.power_w / lighting.battery_voltage_v
        rated = lighting.battery_capacity_ah / 20.0
        rate = (
            current / lighting.battery_capacity_ah / 3600.0 * peukert_factor(current, rated, lighting.peukert_exponent)
        )
        before = self.lights_charge
        self.lights_charge = max(0.0, before - rate * (float(self.state[TIME]) - start))
        if before > 0.0 and self.lights_charge == 0.0:
            return start + before / rate
        return None

    def _charge(self) -> float:
        return max(0.0, float(self.work[OUT, CHARGE]))

    def _mark(self, index: int) -> None:
        self.row_marks.append((self.used, index))

    def _ride(self) -> Ride:
        state, tally, day = self.state, self.tally, self.day
        ledger = {name: float(state[place]) for name, place in LEDGER.items()}
        ledger["speed"] = 0.0  # every day ends standing
        through = float(state[THROUGHPUT])
        residual = (float(state[DRAWN]) - sum(ledger.values())) / through if through > 0.0 else 0.0
        elapsed = float(state[TIME]) - day.first_start_s
        metres = float(state[DISTANCE])
        planned = sum(activity.planned_m for activity in day.activity)
        energy = float(state[ENERGY]) / 3600.0
        outcome = Outcome(
            end_state_of_charge=self._charge(),
            lowest_pack_voltage_v=float(tally[LOWEST_VOLTS]),
            highest_pack_current_a=float(tally[HIGHEST_CURRENT]),
            rms_motor_current_a=math.sqrt(float(state[CURRENT_SQUARED]) / elapsed) if elapsed > 0.0 else 0.0,
            hottest_winding_c=float(tally[HOTTEST]),
            distance_km=metres / 1000.0,
            planned_distance_km=planned / 1000.0,
            finished=not any(stage.left for stage in self.stages),
            seconds_below_command=float(tally[SECONDS_BELOW]),
            energy_wh=energy,
            energy_wh_per_km=energy / metres * 1000.0 if metres > 0.0 else math.nan,
            ledger_residual=residual,
        )
        lighting = self.build.lighting
        own = lighting is not None and lighting.supply == "own-battery"
        moments = Moments(
            reserve_s=_first(tally[RESERVE_AT]),
            cut_off_s=_first(tally[CUT_OFF_AT]),
            empty_s=_first(tally[EMPTY_AT]),
            hot_s=_first(tally[HOT_AT]),
            seconds_hot=float(tally[HOT_S]),
            worst_stall_s=float(tally[WORST_STALL_S]),
            worst_stall_at_s=float(tally[WORST_STALL_AT]),
            worst_stall_a=float(tally[WORST_STALL_A]),
            worst_stall_a2s=float(tally[WORST_STALL_HEAT]),
            sustained_current_a=float(tally[MINUTE_CURRENT]),
            lights_end_charge=self.lights_charge if own else None,
            cut_outs=int(tally[CUT_OUTS]),
            seconds_cut_out=float(tally[CUT_S]),
            cut_out_place=self.cut_out_place,
            starts=int(tally[STARTS]),
        )
        activity = np.empty(self.used, dtype=np.int64)
        start = 0
        for stop, index in self.row_marks:
            activity[start:stop] = index
            start = stop
        return Ride(
            build=self.build,
            day=day,
            battery_model=LAW_NAMES[self.numbers.law],
            outcome=outcome,
            stages=tuple(self.stages),
            moments=moments,
            ledger_wh={name: joules / 3600.0 for name, joules in ledger.items()},
            rows=self.rows[: self.used],
            row_activity=activity,
            steps=int(tally[STEPS]),
            evaluations=int(tally[EVALUATIONS]),
        )


def _first(moment: float) -> float | None:
    return float(moment) if moment >= 0.0 else None
