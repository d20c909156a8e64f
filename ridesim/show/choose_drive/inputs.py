"""The main panel's inputs and what is computed from them. No widgets here."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ridesim import data
from ridesim.choose.compare import Candidate, Comparison, candidate
from ridesim.choose.variants import Variant, differences, value_at, with_values
from ridesim.day import Day, load_day
from ridesim.physics.road import air_density
from ridesim.ride.machine import machine
from ridesim.ride.steady import STILL_AIR_C, pull_arrays, resistance_at
from ridesim.show.panel.fields import Number, number_of, text_of
from ridesim.show.pictures.style import MOST_CANDIDATES
from ridesim.vehicle import Build, load_build, save_build
from ridesim.words import Finding, InputProblem

FloatArray = NDArray[np.float64]

LONGEST_DAY_H = 400.0
"""Planned hours beyond which the panel does not ride a day: a slip of the pen, and it would hold the page for seconds."""

VALUES: dict[str, Number] = {
    "pack.blocks_in_series": Number("blocks", "Blocks in series", "", 1, 8, 1, whole=True),
    "pack.block_capacity_ah": Number("capacity", "Block capacity", "Ah", 5, 120, 1),
    "pack.strings_in_parallel": Number("strings", "Strings", "", 1, 4, 1, whole=True),
    "drive.motor_teeth": Number("motor_teeth", "Motor teeth", "", 8, 30, 1, whole=True),
    "drive.wheel_teeth": Number("wheel_teeth", "Wheel teeth", "", 20, 90, 1, whole=True),
    "controller.max_battery_current_a": Number("battery_a", "Battery limit", "A", 5, 150, 1),
}
"""What can be changed on a candidate: dotted key of the build, and its control."""


@dataclass(frozen=True, slots=True)
class Slot:
    """One candidate as it stands on the panel.

    Attributes
    ----------
    key : int
        Stays with the candidate while it is renamed and moved.
    origin : Build
        As loaded or last saved.
    name : str
        Its name now.
    texts : mapping of str to str
        What stands in its boxes, by the control's key.
    file : str
        Name it would be saved under.
    copied : bool
        Whether it has no file of its own yet.
    """

    key: int
    origin: Build
    name: str
    texts: Mapping[str, str]
    file: str
    copied: bool = False

    @classmethod
    def of(cls, key: int, build: Build, file: str, copied: bool = False) -> Slot:
        """A candidate as its build's file says."""
        texts = {control.key: text_of(value_at(build, place)) for place, control in VALUES.items()}
        return cls(key, build, build.name, texts, file, copied)

    def variant(self) -> Variant:
        """The build that the boxes ask for.

        Raises
        ------
        InputProblem
            The first box that is wrong.
        """
        if not self.name.strip():
            raise InputProblem(self.origin.name, "name", "nothing", "a name of its own")
        values = {place: number_of(self.texts[control.key], control, self.name) for place, control in VALUES.items()}
        return with_values(self.origin, values, name=self.name.strip())

    @property
    def mark(self) -> object:
        """What its build depends on; the same objects compare at once."""
        return self.origin, self.name, tuple(self.texts.items())

    def problems(self) -> dict[str, str]:
        """Every box that is wrong, with its message."""
        found = {}
        for place, control in VALUES.items():
            try:
                value = number_of(self.texts[control.key], control, self.name)
                with_values(self.origin, {place: value})
            except InputProblem as problem:
                found[control.key] = str(problem)
        return found

    def marks(self) -> dict[str, str]:
        """Boxes that differ from the file, with what the file says."""
        marks = {}
        for place, control in VALUES.items():
            before = text_of(value_at(self.origin, place))
            if self.texts[control.key].strip() != before:
                marks[control.key] = f"the file says {before}"
        if self.name.strip() != self.origin.name:
            marks["name"] = f"the file says {self.origin.name}"
        return marks

    @property
    def unsaved(self) -> bool:
        """Whether there is something a file does not hold yet."""
        return self.copied or bool(self.marks())


@dataclass(frozen=True, slots=True)
class Wish:
    """What the panel is asked for."""

    slots: tuple[Slot, ...]
    day: Day


@dataclass(frozen=True, slots=True)
class Series:
    """A ride over the clock, thinned to what a picture can show.

    Attributes
    ----------
    clock_h : ndarray
        Hours after midnight, evenly spaced.
    charge, winding_c : ndarray
        At those moments.
    low_v, high_v : ndarray
        Lowest and highest pack voltage around those moments.
    """

    clock_h: FloatArray
    charge: FloatArray
    winding_c: FloatArray
    low_v: FloatArray
    high_v: FloatArray


@dataclass(frozen=True, slots=True)
class Reckoned:
    """All that is shown of one candidate.

    Attributes
    ----------
    candidate : Candidate
        As in :func:`ridesim.compare`.
    banded : bool
        Whether the other capacity laws have been asked; until then the bands have no width.
    remarks : tuple of Finding
        What followed a changed value.
    speeds_kmh, pulls_n, limits : ndarray
        Pull curve, pack full, with the index of the limit that sets it.
    resistance : tuple of (float, float)
        For each grade of the answer: force at standstill [N], and what (km/h)² adds [N].
    series : Series
    """

    candidate: Candidate
    banded: bool
    remarks: tuple[Finding, ...]
    speeds_kmh: FloatArray
    pulls_n: FloatArray
    limits: NDArray[np.int64]
    resistance: tuple[tuple[float, float], ...]
    series: Series


@dataclass(frozen=True, slots=True)
class Answer:
    """What the panel shows: candidates in their order, on one day."""

    day: Day
    grades: tuple[float, ...]
    each: tuple[Reckoned, ...]

    @property
    def banded(self) -> bool:
        """Whether all bands are reckoned."""
        return all(one.banded for one in self.each)

    @property
    def comparison(self) -> Comparison:
        """The same as ``ridesim.compare`` gives."""
        return Comparison(self.day, tuple(one.candidate for one in self.each))


@dataclass
class Reckoner:
    """Computes answers; keeps what did not change since the last one."""

    kept: dict[int, tuple[object, Reckoned]] = field(default_factory=dict)
    asked: dict[int, tuple[object, Variant | InputProblem]] = field(default_factory=dict)

    def variant(self, slot: Slot) -> Variant:
        """The build that a slot's boxes ask for; a build is only made and checked when a box has changed.

        Raises
        ------
        InputProblem
            The first box that is wrong.
        """
        mark = slot.mark
        before = self.asked.get(slot.key)
        if before is None or before[0] != mark:
            found: Variant | InputProblem
            try:
                found = slot.variant()
            except InputProblem as problem:
                found = problem
            before = self.asked[slot.key] = (mark, found)
        if isinstance(before[1], InputProblem):
            raise before[1]
        return before[1]

    def answer(self, wish: Wish, quick: bool = False) -> Answer:
        """Everything the panel shows.

        Parameters
        ----------
        wish : Wish
            Candidates and day.
        quick : bool
            Leave the other capacity laws for later: everything is right but the bands, in a third of the time.

        Raises
        ------
        InputProblem
            A box that is wrong, two candidates of one name, a day without end.
        """
        check_day(wish.day)
        variants = [self.variant(slot) for slot in wish.slots]
        names = [variant.build.name for variant in variants]
        for name in names:
            if names.count(name) > 1:
                raise InputProblem("the candidates", "name", f"“{name}” twice", "a name of its own for each")
        grades = climbs(wish.day)
        fresh: dict[int, tuple[object, Reckoned]] = {}
        for slot, variant in zip(wish.slots, variants, strict=True):
            mark = (slot.mark, wish.day)
            before = self.kept.get(slot.key)
            one = before[1] if before and before[0] == mark else reckon(variant, wish.day, grades)
            fresh[slot.key] = mark, one if quick or one.banded else with_bands(one, wish.day)
        self.kept = fresh
        self.asked = {key: self.asked[key] for key in fresh}
        return Answer(wish.day, grades, tuple(fresh[slot.key][1] for slot in wish.slots))


def reckon(variant: Variant, day: Day, grades: tuple[float, ...]) -> Reckoned:
    """All that is shown of one candidate, the bands apart."""
    return pictured(candidate(variant.build, day, laws=()), grades, variant.remarks, banded=False)


def pictured(
    one: Candidate, grades: tuple[float, ...], remarks: tuple[Finding, ...] = (), banded: bool = True
) -> Reckoned:
    """A candidate with what its pictures need."""
    build = one.ride.build
    speeds, pulls, limits = pull_arrays(build, points=160)
    numbers, mass, density = machine(build), build.total_mass_kg(), air_density(0.0, STILL_AIR_C)
    resistance = []
    for grade in grades:
        # Resistance on a grade is a constant and a part that goes with the square of the speed: two points give it exactly.
        still = resistance_at(0.0, mass, grade / 100.0, density, numbers)
        moving = resistance_at(10.0, mass, grade / 100.0, density, numbers)
        resistance.append((still, (moving - still) / 36.0**2))
    return Reckoned(one, banded, remarks, speeds, pulls, limits, tuple(resistance), series_of(one))


def answer_of(comparison: Comparison) -> Answer:
    """A finished comparison with what its pictures need."""
    grades = climbs(comparison.day)
    return Answer(comparison.day, grades, tuple(pictured(one, grades) for one in comparison.candidates))


def with_bands(one: Reckoned, day: Day) -> Reckoned:
    """The same candidate after the other capacity laws have been asked."""
    ride = one.candidate.ride
    return replace(one, candidate=candidate(ride.build, day, ride=ride), banded=True)


def series_of(one: Candidate, points: int = 240) -> Series:
    """A ride thinned for pictures; the voltage keeps its lowest and highest."""
    rows, clock = one.ride.rows, one.ride.clock_s
    edges = np.linspace(clock[0], clock[-1], points)
    volts = rows["pack_voltage_v"]
    moments = np.concatenate([clock, edges])
    order = np.argsort(moments, kind="stable")
    merged = np.concatenate([volts, np.interp(edges, clock, volts)])[order]
    starts = np.flatnonzero(order >= len(clock))
    return Series(
        edges / 3600.0,
        np.interp(edges, clock, np.maximum(rows["state_of_charge"], 0.0)),
        np.interp(edges, clock, rows["winding_c"]),
        np.minimum.reduceat(merged, starts),
        np.maximum.reduceat(merged, starts),
    )


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


def file_name(name: str) -> str:
    """A file name made of a candidate's name: ``"Heron, 36 V"`` gives ``"heron_36_v.toml"``."""
    stem = re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")
    return (stem or "build") + ".toml"


def target_of(text: str, folder: Path) -> Path:
    """Where a candidate would be saved.

    Raises
    ------
    InputProblem
        No name, or a shipped file, which stays as it is.
    """
    name = text.strip()
    if not name or name.endswith(("/", "\\")):
        raise InputProblem("file", "", "no name", "a file name such as my_float.toml")
    path = Path(name).expanduser()
    path = path if path.suffix == ".toml" else path.with_name(path.name + ".toml")
    path = path if path.is_absolute() else folder / path
    if path.resolve().is_relative_to(data.shipped("data").resolve()):
        raise InputProblem(
            str(path), "", "a shipped file", "a file of your own, so that the shipped one stays as it is"
        )
    return path


def would_change(build: Build, path: Path) -> list[str]:
    """What saving would change in the file that is there, one line a key; empty where there is none or nothing differs."""
    if not path.exists():
        return []
    try:
        there = load_build(path)
    except InputProblem as problem:
        return [f"it is not a good build now ({problem})"]
    return [f"{place} {_said(before)} → {_said(after)}" for place, before, after in differences(there, build)]


def _said(value: object) -> str:
    if value is None:
        return "(left out)"
    text = f"{value:g}" if isinstance(value, int | float) and not isinstance(value, bool) else str(value)
    return text if len(text) <= 30 else text[:27] + "..."


def save(slot: Slot, path: Path) -> tuple[Slot, Path]:
    """Write a candidate's build; the slot that comes back has it as its origin.

    Raises
    ------
    InputProblem
        A box that is wrong, or a folder that cannot be written.
    """
    build = slot.variant().build
    save_build(build, path)
    return replace(Slot.of(slot.key, load_build(path), path.name), key=slot.key), path


def builds_in(folder: Path) -> tuple[str, ...]:
    """Names of build files in a folder and of the shipped ones, for suggestions."""
    own = [path.name for path in sorted(folder.glob("*.toml")) if _mentions(path, "[vehicle]")]
    return (*own, *data.names("builds"))


def days_in(folder: Path) -> tuple[str, ...]:
    """Names of day files in a folder and of the shipped ones."""
    own = [path.name for path in sorted(folder.glob("*.toml")) if _mentions(path, "[[activity]]")]
    return (*own, *data.names("days"))


def _mentions(path: Path, words: str) -> bool:
    try:
        return path.stat().st_size < 1_000_000 and words in path.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return False


def found_build(reference: str, folder: Path) -> tuple[Build, str]:
    """A build by name or path, looked for in the user's folder first, and the name of its file.

    Raises
    ------
    InputProblem
        As ``ridesim check`` says it.
    """
    file = data.find(reference, "builds", beside=folder)
    return load_build(file), file.name


def found_day(reference: str, folder: Path) -> Day:
    """A day by name or path, looked for in the user's folder first."""
    return load_day(data.find(reference, "days", beside=folder))


def free_name(name: str, taken: list[str]) -> str:
    """A name like another that nobody has: ``"Heron, 36 V, copy"``, then ``"… copy 2"``."""
    first = f"{name}, copy"
    if first not in taken:
        return first
    return next(f"{first} {n}" for n in range(2, MOST_CANDIDATES + 99) if f"{first} {n}" not in taken)
