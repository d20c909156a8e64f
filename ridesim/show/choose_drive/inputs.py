"""The main panel's inputs and what is computed from them. No widgets here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ridesim.choose.candidate import Candidate
from ridesim.choose.compare import Comparison, need_own_names
from ridesim.choose.how_sure import BAND, DRAWS
from ridesim.choose.likely import with_bands, without_bands
from ridesim.choose.remedies import AMPS, BLOCK_AH
from ridesim.day import Day
from ridesim.forms import value_at
from ridesim.ride.machine import machine
from ridesim.ride.simulate import simulate
from ridesim.ride.steady import pull_arrays, resistance_at
from ridesim.show.panel.fields import Number, number_of, text_of, texts_shown, texts_typed
from ridesim.show.units import System
from ridesim.vehicle import Build
from ridesim.words import Finding, InputProblem

FloatArray = NDArray[np.float64]

DRAWN_OVER_THE_DAY = 64
"""So many draws give the band over the clock."""
LONGEST_DAY_H = 400.0
"""Planned hours beyond which the panel does not ride a day: a slip of the pen, and it would hold the page for seconds."""

FIRST: dict[str, Number] = {
    "pack.blocks_in_series": Number("blocks", "Blocks in series", "", 1, 8, 1, whole=True, stops=tuple(range(1, 9))),
    "pack.block_capacity_ah": Number("capacity", "Capacity", "Ah", 5, 120, 1, stops=BLOCK_AH),
    "controller.max_battery_current_a": Number("battery_a", "Battery limit", "A", 5, 150, 1, stops=AMPS),
    "drive.motor_teeth": Number("motor_teeth", "Motor teeth", "", 8, 30, 1, whole=True, stops=tuple(range(8, 31))),
    "drive.wheel_teeth": Number("wheel_teeth", "Wheel teeth", "", 20, 90, 1, whole=True, stops=tuple(range(20, 91))),
}
MORE: dict[str, Number] = {
    "pack.strings_in_parallel": Number("strings", "Strings", "", 1, 4, 1, whole=True, stops=(1, 2, 3, 4)),
    "controller.max_motor_current_a": Number("motor_a", "Motor limit", "A", 5, 200, 1, stops=AMPS),
    "drive.gearbox_ratio": Number("gearbox", "Gearbox ratio", "", 1, 20, 0.5),
    "vehicle.rolling_coefficient": Number("rolling", "Rolling coefficient", "", 0.01, 0.05, 0.001),
    "rider.mass_kg": Number("rider", "Rider", "kg", 30, 120, 1),
}
VALUES: dict[str, Number] = {**FIRST, **MORE}
"""What can be changed on a candidate: dotted key of the build, and its control."""
_CONTROLS = {control.key: control for control in VALUES.values()}


@dataclass(frozen=True)
class Slot:
    """One candidate as it stands on the panel.

    Attributes
    ----------
    key : int
        Stays with the candidate while it is renamed and moved.
    origin : Build
        As loaded or last saved.
    texts : mapping of str to str
        What stands in its boxes, by the control's key; among them its ``name`` and the ``file`` that it would be saved in.
    reference : str
        How its build is asked for: a path, or a shipped name.
    copied : bool
        Whether it has no file of its own yet.
    """

    key: int
    origin: Build
    texts: Mapping[str, str]
    reference: str = ""
    copied: bool = False

    @classmethod
    def of(cls, key: int, build: Build, file: str, reference: str = "") -> Slot:
        """A candidate as its build's file says."""
        return cls(key, build, {"name": build.name, "file": file, **_texts_of(build)}, reference)

    @property
    def name(self) -> str:
        """Its name now."""
        return self.texts["name"].strip()

    def with_texts(self, **texts: str) -> Slot:
        """The candidate with other texts in some boxes."""
        return replace(self, texts={**self.texts, **texts})

    @cached_property
    def build(self) -> Build:
        """The build that the boxes ask for; made and checked once.

        Raises
        ------
        InputProblem
            The first box that is wrong.
        """
        if not self.name:
            raise InputProblem(self.origin.name, "name", "nothing", "a name of its own")
        before = self.in_file
        values = {
            place: number_of(self.texts[control.key], control, self.name)
            for place, control in VALUES.items()
            if self.texts[control.key].strip() != before[control.key]
        }
        return self.origin.changed(values, name=self.name)

    def problems(self) -> dict[str, str]:
        """Every box that is wrong, with its message."""
        with suppress(InputProblem):
            _ = self.build
            return {}
        found = {}
        for place, control in VALUES.items():
            try:
                self.origin.changed({place: number_of(self.texts[control.key], control, self.name)})
            except InputProblem as problem:
                found[control.key] = str(problem)
        return found

    def marks(self) -> dict[str, str]:
        """Boxes that differ from the file, with what the file says."""
        return {
            key: f"the file says {text} {_CONTROLS[key].unit if key in _CONTROLS else ''}".rstrip()
            for key, text in self.in_file.items()
            if self.texts[key].strip() != text
        }

    def shown(self, system: System) -> dict[str, str]:
        """What stands in its boxes in a system of units."""
        return texts_shown(self.texts, _CONTROLS, system)

    def with_shown(self, texts: Mapping[str, str], system: System) -> Slot:
        """The candidate after other texts were typed in a system of units; what was left alone stays to the last digit."""
        return self.with_texts(**texts_typed(texts, self.texts, _CONTROLS, system))

    @cached_property
    def in_file(self) -> dict[str, str]:
        """What its boxes would hold as its file is."""
        return {"name": self.origin.name, **_texts_of(self.origin)}

    @property
    def unsaved(self) -> bool:
        """Whether there is something a file does not hold yet."""
        return self.copied or bool(self.marks())


def _texts_of(build: Build) -> dict[str, str]:
    return {control.key: text_of(value_at(build, place)) for place, control in VALUES.items()}


@dataclass(frozen=True, slots=True)
class Wish:
    """What the panel is asked for.

    Attributes
    ----------
    slots : tuple of Slot
    day : Day
    chosen : int
        Place of the candidate that is worked on.
    former : Reckoned or None
        That candidate before the change at hand.
    """

    slots: tuple[Slot, ...]
    day: Day
    chosen: int = 0
    former: Reckoned | None = None


@dataclass(frozen=True, slots=True)
class Series:
    """A ride over the clock, thinned to what a picture can show.

    Attributes
    ----------
    clock_h : ndarray
        Hours after midnight, evenly spaced.
    charge, winding_c, amps : ndarray
        At those moments; the pack's current.
    low_v, high_v : ndarray
        Lowest and highest pack voltage around those moments.
    """

    clock_h: FloatArray
    charge: FloatArray
    winding_c: FloatArray
    amps: FloatArray
    low_v: FloatArray
    high_v: FloatArray


@dataclass(frozen=True, slots=True)
class Reckoned:
    """All that is shown of one candidate.

    Attributes
    ----------
    candidate : Candidate
        As in :func:`ridesim.compare`.
    speeds_kmh, pulls_n, limits : ndarray
        Pull curve, pack full, with the index of the limit that sets it.
    resistance : tuple of (float, float)
        For each grade of the answer: force at standstill [N], and what (km/h)² adds [N].
    series : Series
    reach : ndarray or None, shape (3, n)
        Hours, and between which states of charge nine in ten draws are then; None until they are ridden.
    """

    candidate: Candidate
    speeds_kmh: FloatArray
    pulls_n: FloatArray
    limits: NDArray[np.int64]
    resistance: tuple[tuple[float, float], ...]
    series: Series
    reach: FloatArray | None = None


@dataclass(frozen=True)
class Answer:
    """What the panel shows: candidates in their order, on one day; the chosen one, and how that was before the change at hand."""

    day: Day
    grades: tuple[float, ...]
    each: tuple[Reckoned, ...]
    chosen: int = 0
    former: Reckoned | None = None

    @property
    def names(self) -> list[str]:
        """Names of the candidates."""
        return [one.candidate.name for one in self.each]

    @property
    def findings(self) -> list[tuple[int, Finding]]:
        """Place of a candidate, and what there is to say of it."""
        candidates = [one.candidate for one in self.each]
        return [(place, found) for place, c in enumerate(candidates) for found in (*c.findings, *c.build.notes)]

    @property
    def one(self) -> Reckoned:
        """The chosen candidate."""
        return self.each[self.chosen]

    @cached_property
    def comparison(self) -> Comparison:
        """The same as ``ridesim.compare`` gives."""
        return Comparison(self.day, tuple(one.candidate for one in self.each))


KEPT = 6
"""So many candidates are kept: four, and two steps back. Each holds its draws, some megabytes."""


class Reckoner:
    """Computes answers; keeps the latest candidates, so that what did not change, or comes back, is there at once."""

    def __init__(self) -> None:
        self._lately: dict[tuple[Build, Day], Reckoned] = {}

    def answer(self, wish: Wish) -> Answer:
        """Everything the panel shows but the bands and levels of candidates whose draws have not been ridden yet: see :meth:`completed`.

        Raises
        ------
        InputProblem
            A box that is wrong, two candidates of one name, a day without end.
        """
        check_day(wish.day)
        builds = [slot.build for slot in wish.slots]
        need_own_names(builds)
        grades = climbs(wish.day)
        each = [self._lately.get((build, wish.day)) or reckon(build, wish.day, grades) for build in builds]
        for build, one in zip(builds, each, strict=True):
            self._keep(build, wish.day, one)
        return Answer(wish.day, grades, tuple(each), wish.chosen, wish.former)

    def _keep(self, build: Build, day: Day, one: Reckoned) -> None:
        self._lately.pop((build, day), None)
        self._lately[build, day] = one
        while len(self._lately) > KEPT:
            del self._lately[next(iter(self._lately))]

    def completed(self, wish: Wish, answer: Answer) -> Iterator[Answer]:
        """The answer with the draws of one candidate more each time, the chosen one first."""
        each = list(answer.each)
        for place in sorted(range(len(each)), key=lambda place: place != answer.chosen):
            if each[place].candidate.banded:
                continue
            banded = with_bands([each[place].candidate], wish.day, DRAWS)[0]
            each[place] = replace(each[place], candidate=banded, reach=reach_of(banded))
            self._keep(wish.slots[place].build, wish.day, each[place])
            yield replace(answer, each=tuple(each))


def reckon(build: Build, day: Day, grades: tuple[float, ...]) -> Reckoned:
    """All that is shown of one candidate, the bands apart."""
    return pictured(without_bands(simulate(build, day)), grades)


def pictured(one: Candidate, grades: tuple[float, ...]) -> Reckoned:
    """A candidate with what its pictures need."""
    build = one.build
    numbers, mass = machine(build), build.total_mass_kg()
    resistance = []
    for grade in grades:
        # Resistance on a grade is a constant and a part that goes with the square of the speed: two points give it exactly.
        still, moving = (resistance_at(speed, mass, grade / 100.0, numbers) for speed in (0.0, 10.0))
        resistance.append((still, (moving - still) / 36.0**2))
    return Reckoned(one, *pull_arrays(build, points=160), tuple(resistance), series_of(one))


def answer_of(comparison: Comparison) -> Answer:
    """A finished comparison with what its pictures need."""
    grades = climbs(comparison.day)
    return Answer(
        comparison.day,
        grades,
        tuple(replace(pictured(one, grades), reach=reach_of(one)) for one in comparison.candidates),
    )


POINTS = 240
"""Points of a ride in a picture."""


def series_of(one: Candidate) -> Series:
    """A ride thinned for pictures; the voltage keeps its lowest and highest, the winding its hottest."""
    rows, clock = one.ride.rows, one.ride.clock_s
    edges = np.linspace(clock[0], clock[-1], POINTS)
    order = np.argsort(np.concatenate([clock, edges]), kind="stable")
    starts = np.flatnonzero(order >= len(clock))

    def merged(name: str) -> FloatArray:
        return np.concatenate([rows[name], np.interp(edges, clock, rows[name])])[order]

    volts = merged("pack_voltage_v")
    return Series(
        edges / 3600.0,
        np.interp(edges, clock, np.maximum(rows["state_of_charge"], 0.0)),
        np.maximum.reduceat(merged("winding_c"), starts),
        np.interp(edges, clock, rows["pack_current_a"]),
        np.minimum.reduceat(volts, starts),
        np.maximum.reduceat(volts, starts),
    )


def reach_of(one: Candidate) -> FloatArray | None:
    """Between which states of charge nine in ten draws are at the start and at the end of every activity.

    Returns
    -------
    ndarray, shape (3, n), or None
        Hours of the likely ride, low, high; None without draws.
    """
    if one.drawn is None:
        return None
    likely = one.ride.stages
    ends = np.array([[stage.end_charge for stage in ride.stages] for ride in one.drawn.ridden(DRAWN_OVER_THE_DAY)])
    low, high = np.quantile(ends, [0.5 - BAND / 2.0, 0.5 + BAND / 2.0], axis=0)
    hours, lows, highs = [], [], []
    start = one.ride.day.start_state_of_charge
    before = min(low[0], start), max(high[0], start)
    for place, stage in enumerate(likely):
        hours += [stage.start_s / 3600.0, stage.end_s / 3600.0]
        lows += [before[0], min(low[place], stage.end_charge)]
        highs += [before[1], max(high[place], stage.end_charge)]
        before = lows[-1], highs[-1]
    return np.array([hours, lows, highs])


def climbs(day: Day) -> tuple[float, ...]:
    """Level ground and the day's climbs, gentle to steep, six at most. [%]"""
    found = {0.0}
    for activity in day.activity:
        if activity.route is not None:
            found |= {round(leg.grade_percent, 1) for leg in activity.route.legs if leg.grade_percent > 0.0}
        elif activity.trace is not None:
            found |= {round(float(g), 1) for g in np.unique(activity.trace.grade_percent) if g > 0.0}
    steps = sorted(found)
    if len(steps) > 6:
        steps = [steps[round(i * (len(steps) - 1) / 5)] for i in range(6)]
    return tuple(steps)


def planned_hours(day: Day) -> float:
    """Hours that a day takes at the speeds it asks for, stops included. [h]"""
    seconds = 0.0
    for activity in day.activity:
        if activity.route is not None:
            lap = sum(leg.length_m / (leg.speed_kmh / 3.6) + leg.stop_s for leg in activity.route.legs)
            seconds += lap * activity.laps
        else:
            seconds += activity.known_duration_s or 0.0
    return seconds / 3600.0


def check_day(day: Day) -> None:
    """Refuse a day that hardly ends.

    Raises
    ------
    InputProblem
        Planned for longer than :data:`LONGEST_DAY_H`.
    """
    hours = planned_hours(day)
    if hours > LONGEST_DAY_H:
        raise InputProblem(
            day.name, "", f"{hours:,.0f} hours of riding and standing", f"a day that ends, {LONGEST_DAY_H:.0f} hours at most",
            "Fewer laps or repeats, or a higher speed.",
        )  # fmt: skip
