"""Loading of days, route CSVs and trace CSVs."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import numpy as np

from ridesim.data import find
from ridesim.day.day import Day
from ridesim.day.route import SURFACES, Leg, Route
from ridesim.day.trace import Trace
from ridesim.forms import CsvRow, csv_rows, read_table, read_text, validate
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
    activities = table.get("activity")
    if isinstance(activities, list):
        table["activity"] = [
            _with_paths(item, file, str(path), f"activity[{number}]") if isinstance(item, dict) else item
            for number, item in enumerate(activities, start=1)
        ]
    return validate(Day, table, str(path), stem=file.stem)


def _with_paths(item: dict[str, Any], file: Path, shown: str, place: str) -> dict[str, Any]:
    loaded = dict(item)
    for key, kind, load in (("route", "routes", load_route), ("trace", "traces", load_trace)):
        reference = item.get(key)
        if reference is None:
            continue
        if not isinstance(reference, str):
            raise InputProblem(shown, f"{place}.{key}", repr(reference), f"the name or path of a {key} CSV in quotes")
        try:
            target = find(reference, kind, beside=file.parent)
        except InputProblem as problem:
            raise InputProblem(
                shown, f"{place}.{key}", f'"{reference}", which is no file', problem.expected, problem.hint
            ) from None
        loaded[key] = load(target)
    return loaded


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
    legs = tuple(_leg(row) for row in csv_rows(file, _ROUTE_COLUMNS))
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
    times: list[float] = []
    speeds: list[float] = []
    grades: list[float] = []
    for row in csv_rows(file, _TRACE_COLUMNS):
        time = row.number("time_s", least=-FARTHEST_S, most=FARTHEST_S)
        if times and time <= times[-1]:
            raise row.problem("time_s", f"{time:g} after {times[-1]:g}", "times that rise from row to row")
        times.append(time)
        coasts = row.cells["speed_kmh"] == ""
        speeds.append(math.nan if coasts else row.number("speed_kmh", least=0.0, most=FASTEST_KMH))
        grades.append(_grade(row))
    if len(times) < 2:
        found = f"{len(times)} row{'s' if len(times) != 1 else ''}"
        raise InputProblem(str(file), "", found, "at least two rows below the column names")
    if times[-1] - times[0] > LONGEST_S:
        raise InputProblem(str(file), "time_s", f"{times[-1] - times[0]:g} s from first to last", "a week at most")
    return Trace(file.stem, np.array(times), np.array(speeds), np.array(grades))


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
