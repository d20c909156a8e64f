"""A build on its way through a day: the activities by the clock, each handed to the compiled core."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import numpy as np

from ridesim.day import Activity, Day, Route
from ridesim.physics.controller import CUT_OFF, PACK_POWER
from ridesim.ride.core import phases
from ridesim.ride.core import places as at
from ridesim.ride.core.pack import charges_at
from ridesim.ride.core.records import Machine, Row, Run, new, structure
from ridesim.ride.lights import LightsBattery
from ridesim.ride.machine import activity_scene
from ridesim.ride.pack.refusal import plugged_in, ridden_day
from ridesim.ride.result import Ride, Stage
from ridesim.ride.start import charges_missing, empty_tally, start_charge
from ridesim.ride.summary import place_in, summed_up
from ridesim.vehicle import Build

FIRST_ROWS = 1024
"""Room for kept rows at the start; the core doubles it when full."""

TRIES, TRIES_A_PIECE, TRIES_A_SECOND = 500_000, 300, 30.0
"""Steps that a ride may take: in any case, for each leg of a lap or piece of a trace, and for each second of the day."""


class Journey:
    """One ride through the day: the core's record of it, its kept rows, and how the activities so far went."""

    def __init__(
        self,
        build: Build,
        day: Day,
        numbers: Machine,
        keep_rows: bool = True,
        fineness: float = 1.0,
        missing_ah: float | None = None,
    ) -> None:
        day = day if build.charger is None else plugged_in(day, build.charger.current_a)
        self.build, self.asked, self.numbers = build, day, numbers
        self.day = day = ridden_day(build.pack, day)
        self.runs: Any = np.array([_run_at_start(build, day, numbers, fineness, missing_ah)])
        self.machines: Any = np.array([numbers])
        self.run: Run = self.runs[0]
        self.now = self.run.w[at.NOW]
        self.missing_at_start = float(self.now[at.MISSING])
        self.rows = np.empty(FIRST_ROWS if keep_rows else 0, structure(Row))
        self.scenes = {aboard: activity_scene(build, day, numbers, aboard) for aboard in (True, False)}
        self.stages: list[Stage] = []
        lighting = build.lighting
        self.lights = LightsBattery(lighting, day) if lighting and lighting.supply == "own-battery" else None
        self.lights_ran_out_s: float | None = None

    def ride(self) -> Ride:
        """Do all activities in order."""
        for index, activity in enumerate(self.day.activity):
            self._wait_for(index, activity)
            self.run.activity = index
            self.stages.append(self._stage(activity))
        self._stop()
        return summed_up(self)

    def move_again(self, activity: Activity) -> bool:
        """Do an activity once more, from where the last one ended; says whether the vehicle left it."""
        self.run.scene = self.scenes[activity.aboard]
        self._light(activity.lighting)
        return self._move(activity)

    def _wait_for(self, index: int, activity: Activity) -> None:
        """Stand until an activity's time has come; one that follows at once, on the move and with the same load, is ridden into."""
        wait = 0.0 if activity.start_s is None else activity.start_s - self.now[at.TIME]
        same_load = index == 0 or self.day.activity[index - 1].aboard == activity.aboard
        if wait > 1e-9 or activity.path is None or not same_load:
            self._stop()
        if wait > 1e-9:
            self.run.activity = -1
            self.run.scene = self.scenes[True]
            self._light(None)
            self._drain_lights(None, float(self.now[at.TIME]), float(self.now[at.TIME]) + wait)
            self.run.scene.controller_on = int(self.day.controller_on)
            self.rows = phases.stand(self.runs, self.machines, wait, self.rows)

    def _stop(self) -> None:
        """The brake takes what speed is left."""
        if self.now[at.SPEED] > 0.0:
            self.rows = phases.stand(self.runs, self.machines, 0.0, self.rows)

    def _stage(self, activity: Activity) -> Stage:
        """Do one activity and say how it went."""
        now = self.now
        start, distance = float(now[at.TIME]), float(now[at.DISTANCE])
        charge, into = max(0.0, float(self.run.out.charge)), float(now[at.IN])
        self.run.scene = self.scenes[activity.aboard]
        self._light(activity.lighting)
        left = self._move(activity)
        end = float(now[at.TIME])
        self._drain_lights(activity.lighting, start, end)
        ran_out, self.lights_ran_out_s = self.lights_ran_out_s, None
        return Stage(
            name=activity.name,
            start_s=start,
            end_s=end,
            planned_start_s=activity.start_s if activity.start_s is not None else start,
            start_charge=charge,
            end_charge=max(0.0, float(self.run.out.charge)),
            distance_m=float(now[at.DISTANCE]) - distance,
            left=left,
            by_pack=left and (self.now[at.SWITCHED_OFF] == 1.0 or self.run.out.limit in (CUT_OFF, PACK_POWER)),
            charged_ah=(float(now[at.IN]) - into) / 3600.0,
            place=place_in(activity, int(self.run.tally.leg), end - start),
            lights_ran_out_s=ran_out,
        )

    def _move(self, activity: Activity) -> bool:
        """Do the activity; says whether the vehicle left it."""
        run, day, ended = self.run, self.day, phases.DONE
        wanted = day.rider_acceleration_mps2
        if activity.route is not None:
            legs = legs_of(activity.route, activity.laps, day.braking_mps2)
            ended, self.rows = phases.ride_route(self.runs, self.machines, legs, wanted, day.braking_mps2, self.rows)
        elif activity.trace is not None:
            trace = activity.trace
            ended, self.rows = phases.follow_trace(
                self.runs, self.machines, trace.time_s, trace.speed_kmh / 3.6, trace.grade_percent / 100.0, activity.repeats, wanted,
                self.rows,
            )  # fmt: skip
        elif activity.duration_s is not None:
            run.scene.charger = activity.charge_current_a
            self.rows = phases.stand(self.runs, self.machines, activity.duration_s, self.rows)
        return ended == phases.LEFT

    def _light(self, share: float | None) -> None:
        """Lights that hang on the main pack: a share of them all the time, or all by the clock."""
        lighting, scene = self.build.lighting, self.run.scene
        if lighting is None or self.lights is not None:
            return
        by_the_clock = share is None and self.day.lights_on is not None
        scene.lights = lighting.power_w / lighting.converter_efficiency * (1.0 if by_the_clock else share or 0.0)
        scene.lit_from, scene.lit_to = self.day.lit_s if by_the_clock else (0.0, 0.0)

    def _drain_lights(self, share: float | None, start: float, end: float) -> None:
        """Take charge from the lights' own battery, and note when it ran out."""
        ran_out = None if self.lights is None else self.lights.drain(share, start, end)
        self.lights_ran_out_s = self.lights_ran_out_s if ran_out is None else ran_out


def _run_at_start(build: Build, day: Day, numbers: Machine, fineness: float, missing_ah: float | None) -> Run:
    """The core's record of a ride that has not begun: rested, all at the air's temperature, nothing noted."""
    begin = start_charge(build.pack, day)
    run = new(Run, tally=empty_tally(day), fineness=fineness, activity=-1, every=1, most_tries=most_tries(day))
    run.out.charge = begin
    now = run.w[at.NOW]
    pack = numbers.pack
    now[[at.LEFT, at.MISSING, at.FILTERED]] = (
        charges_at(begin) if missing_ah is None else charges_missing(begin, missing_ah, pack)
    )
    now[[at.WINDING, at.CASE]] = day.ambient_c
    now[at.TIME] = day.first_start_s
    return run


def most_tries(day: Day) -> int:
    """Steps that a ride may take before its calculation is given up: many times what any sensible build needs."""
    pieces, end = 0, day.first_start_s
    for activity in day.activity:
        if activity.route is not None:
            pieces += len(activity.route.legs) * activity.laps
        elif activity.trace is not None:
            pieces += len(activity.trace.time_s) * activity.repeats
        end = (end if activity.start_s is None else activity.start_s) + (activity.known_duration_s or 0.0)
    return TRIES + TRIES_A_PIECE * pieces + int(TRIES_A_SECOND * (end - day.first_start_s))


@lru_cache(maxsize=64)
def legs_of(route: Route, laps: int, braking: float) -> phases.Legs:
    """All laps' legs for the core, with the speed that the braking envelope of the later legs allows at each leg's end."""
    legs = route.legs * laps
    limits = np.array([leg.speed_kmh for leg in legs]) / 3.6
    ends = np.zeros(len(legs))
    allowed = 0.0
    for i in range(len(legs) - 1, -1, -1):
        ends[i] = min(0.0 if legs[i].stop_s > 0.0 else allowed, limits[i])
        allowed = min(limits[i], math.sqrt(ends[i] ** 2 + 2.0 * braking * legs[i].length_m))
    return phases.Legs(
        lengths=np.array([leg.length_m for leg in legs], dtype=float),
        limits=limits,
        grades=np.array([leg.grade_percent for leg in legs]) / 100.0,
        surfaces=np.array([leg.surface_factor for leg in legs]),
        stops=np.array([leg.stop_s for leg in legs], dtype=float),
        end_speeds=ends,
    )
