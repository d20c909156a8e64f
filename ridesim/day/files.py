"""Loading of days, route CSVs and trace CSVs."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from ridesim.data import find
from ridesim.day.day import Day
from ridesim.day.route import SURFACES, Leg, Route
from ridesim.day.trace import Trace
from ridesim.forms import CsvRow, csv_rows, each_row, read_table, read_text, validate
from ridesim.words import InputProblem, nearest

FASTEST_KMH, LONGEST_LEG_M, LONGEST_S, FARTHEST_S = 300.0, 1e5, 604_800.0, 1e11
"""Beyond these a number was written in the wrong unit or column: 300 km/h, 100 km, a week."""
STEEPEST_PERCENT = 60.0

_ROUTE_COLUMNS = {"length_m": None, "speed_kmh": None, "grade_percent": "0", "surface": "asphalt", "stop_s": "0"}
_TRACE_COLUMNS = {"time_s": None, "speed_kmh": None, "grade_percent": "0"}


def load_day(path: str | Path) -> Day:
    """Read a day with its routes and traces.

    Parameters
    ----------
    path : str or Path
        A path, or the bare name of a shipped day. Routes and traces are looked for beside the day's file, then among
        the shipped ones.

    Returns
    -------
    Day

    Raises
    ------
    InputProblem
        File, key path or line, what was found and what is expected.

    Examples
    --------
    >>> import ridesim
    >>> ridesim.load_day("harbour_festival").activity[3].name
    'First parade'
    """
    file = find(path, "days")
    table, _ = read_table(file)
    if "vehicle" in table and "activity" not in table:
        raise InputProblem(str(path), "", "a build", "a day, with one [[activity]] for each thing that happens")
    activities, problems = table.get("activity"), list[InputProblem]()
    for number, item in enumerate(activities if isinstance(activities, list) else (), start=1):
        if isinstance(item, dict):
            problems += _load_paths(item, file, str(path), f"activity[{number}]")
    return validate(Day, table, str(path), file.stem, problems)


def _load_paths(item: dict[str, Any], file: Path, shown: str, place: str) -> Iterator[InputProblem]:
    """Put the route or trace in place of its name; where it is not good, leave it out and say why."""
    for key, kind, load in (("route", "routes", load_route), ("trace", "traces", load_trace)):
        if key not in item:
            continue
        reference = item.pop(key)
        if not isinstance(reference, str):
            yield InputProblem(shown, f"{place}.{key}", repr(reference), f"the name or path of a {key} CSV in quotes")
            continue
        try:
            target = find(reference, kind, beside=file.parent)
        except InputProblem as problem:
            found = f'"{reference}", which is no file'
            yield InputProblem(shown, f"{place}.{key}", found, problem.expected, problem.hint)
            continue
        try:
            item[key] = load(target)
        except InputProblem as problem:
            yield problem


def is_trace(path: str | Path) -> bool:
    """Whether a CSV is meant as a trace: its column names speak of time, a route's of length.

    Raises
    ------
    InputProblem
        Not a text file.
    """
    lines = read_text(Path(path)).splitlines()
    names = next((line for line in lines if line.strip() and not line.lstrip().startswith("#")), "")
    return "time" in names and "length" not in names


def load_route(path: str | Path) -> Route:
    """Read a route CSV: length_m, speed_kmh, grade_percent, surface, stop_s; the last three may be left out.

    Raises
    ------
    InputProblem
        File and line, what was found and what is expected.
    """
    file = find(path, "routes")
    legs = tuple(each_row(csv_rows(file, _ROUTE_COLUMNS), _leg))
    if not legs:
        raise InputProblem(str(file), "", "no legs", "at least one row below the column names")
    return Route(file.stem, legs)


def _leg(row: CsvRow) -> Leg:
    surface = row.cells["surface"] or "asphalt"
    if surface not in SURFACES:
        near = nearest(surface, SURFACES)
        hint = f"Nearest: {near}." if near else ""
        raise row.problem("surface", f'"{surface}"', "one of " + ", ".join(SURFACES), hint)
    return Leg(
        length_m=row.number("length_m", above=0.0, most=LONGEST_LEG_M),
        speed_kmh=row.number("speed_kmh", above=0.0, most=FASTEST_KMH),
        grade_percent=_grade(row),
        surface=surface,
        stop_s=row.number("stop_s", least=0.0, most=LONGEST_S),
    )


def load_trace(path: str | Path) -> Trace:
    """Read a trace CSV: time_s, speed_kmh and, if wanted, grade_percent; an empty speed means coasting.

    Raises
    ------
    InputProblem
        File and line, what was found and what is expected.
    """
    file = find(path, "traces")
    rising = [-math.inf]

    def point(row: CsvRow) -> tuple[float, float, float]:
        time = row.number("time_s", least=-FARTHEST_S, most=FARTHEST_S)
        if time <= rising[-1]:
            raise row.problem("time_s", f"{time:g} after {rising[-1]:g}", "times that rise from row to row")
        rising.append(time)
        coasts = row.cells["speed_kmh"] == ""
        return time, math.nan if coasts else row.number("speed_kmh", least=0.0, most=FASTEST_KMH), _grade(row)

    points = each_row(csv_rows(file, _TRACE_COLUMNS), point)
    if len(points) < 2:
        found = f"{len(points)} row{'s' if len(points) != 1 else ''}"
        raise InputProblem(str(file), "", found, "at least two rows below the column names")
    times, speeds, grades = np.array(points).T
    if times[-1] - times[0] > LONGEST_S:
        raise InputProblem(str(file), "time_s", f"{times[-1] - times[0]:g} s from first to last", "a week at most")
    return Trace(file.stem, times, speeds, grades)


_ONE_IN = re.compile(r"(-?) ?1 ?: ?([1-9]\d{0,3}(?:\.\d{1,4})?)")
"""One in so many, as slopes are read off: ``1:8`` is 12.5 %, ``-1:8`` as much downhill."""


def _grade(row: CsvRow) -> float:
    if slope := _ONE_IN.fullmatch(row.cells["grade_percent"]):
        grade = (-100.0 if slope[1] else 100.0) / float(slope[2])
    else:
        grade = row.number("grade_percent")
    if abs(grade) > STEEPEST_PERCENT:
        raise row.problem("grade_percent", f"{grade:g}", "a slope between -60 and 60 %")
    return grade
