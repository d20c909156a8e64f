"""Loading of day files, route CSVs and trace CSVs."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from ridesim.data import find
from ridesim.day.day import Day
from ridesim.day.route import SURFACES, Leg, Route
from ridesim.day.trace import Trace
from ridesim.forms import Written, canonical, read_table, read_text, validate
from ridesim.words import UNITS, InputProblem, convert, nearest, split_unit, symbol, units_of_kind

FASTEST_KMH, LONGEST_LEG_M, LONGEST_S = 300.0, 1e5, 604_800.0
"""Beyond these a number was written in the wrong unit or column: 300 km/h, 100 km, a week."""

_ROUTE_COLUMNS = {"length_m": None, "speed_kmh": None, "grade_percent": 0.0, "surface": "asphalt", "stop_s": 0.0}
_TRACE_COLUMNS = {"time_s": None, "speed_kmh": None, "grade_percent": 0.0}


def load_day(path: str | Path) -> Day:
    """Read a day file with its routes and traces.

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
        raise InputProblem(
            str(path), "", "a build file", "a day file, with one [[activity]] for each thing that happens"
        )
    written: Written = {}
    table = canonical(Day, table, str(path), written=written)
    activities = table.get("activity")
    if isinstance(activities, list):
        table["activity"] = [
            _with_paths(item, file, str(path), f"activity[{number}]") if isinstance(item, dict) else item
            for number, item in enumerate(activities, start=1)
        ]
    return validate(Day, table, str(path), written=written, stem=file.stem)


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
    legs = []
    for line, row in _rows(file, _ROUTE_COLUMNS):
        length = _number(file, line, "length_m", row, above=0.0, most=LONGEST_LEG_M)
        speed = _number(file, line, "speed_kmh", row, above=0.0, most=FASTEST_KMH)
        grade = _number(file, line, "grade_percent", row)
        stop = _number(file, line, "stop_s", row, least=0.0, most=LONGEST_S)
        surface = row["surface"] or "asphalt"
        if surface not in SURFACES:
            near = nearest(surface, SURFACES)
            raise InputProblem(
                str(file),
                f"line {line}, surface",
                f'"{surface}"',
                "one of " + ", ".join(SURFACES),
                f"Nearest: {near}." if near else "",
            )
        _check_grade(file, line, grade)
        legs.append(Leg(length, speed, grade, surface, stop))
    if not legs:
        raise InputProblem(str(file), "", "no legs", "at least one row below the column names")
    return Route(file.stem, tuple(legs))


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
    for line, row in _rows(file, _TRACE_COLUMNS):
        time = _number(file, line, "time_s", row)
        if times and time <= times[-1]:
            raise InputProblem(
                str(file), f"line {line}, time_s", f"{time:g} after {times[-1]:g}", "times that rise from row to row"
            )
        empty = row["speed_kmh"] == ""
        times.append(time)
        speeds.append(math.nan if empty else _number(file, line, "speed_kmh", row, least=0.0, most=FASTEST_KMH))
        grades.append(_number(file, line, "grade_percent", row))
        _check_grade(file, line, grades[-1])
    if len(times) < 2:
        raise InputProblem(
            str(file),
            "",
            f"{len(times)} row{'s' if len(times) != 1 else ''}",
            "at least two rows below the column names",
        )
    if times[-1] - times[0] > LONGEST_S:
        raise InputProblem(str(file), "time_s", f"{times[-1] - times[0]:g} s from first to last", "a week at most")
    return Trace(file.stem, np.array(times), np.array(speeds), np.array(grades))


def _rows(file: Path, columns: dict[str, Any]) -> Iterator[tuple[int, dict[str, Any]]]:
    """Line number and canonical row of each data line; lines that start with # are remarks."""
    reader = csv.reader(read_text(file).splitlines())
    header: list[str] | None = None
    units: dict[str, str] = {}
    while True:
        try:
            cells = [cell.strip() for cell in next(reader)]
        except StopIteration:
            break
        except csv.Error as problem:
            raise InputProblem(
                str(file), f"line {reader.line_num}", f"text that is not CSV ({problem})", "cells with commas between"
            ) from None
        if not any(cells) or cells[0].startswith("#"):
            continue
        if header is None:
            header, units = _header(file, reader.line_num, cells, columns)
            continue
        if len(cells) != len(header):
            raise InputProblem(
                str(file),
                f"line {reader.line_num}",
                f"{len(cells)} cell{'s' if len(cells) != 1 else ''}",
                f"{len(header)} cells, one for each column name",
            )
        row: dict[str, Any] = dict(columns)
        for name, cell in zip(header, cells, strict=True):
            row[name] = cell
            row["written:" + name] = units.get(name, "")
        yield reader.line_num, row
    if header is None:
        raise InputProblem(str(file), "", "no column names", "a first line " + ",".join(columns))


def _header(file: Path, line: int, cells: list[str], columns: dict[str, Any]) -> tuple[list[str], dict[str, str]]:
    names, units = [], {}
    for cell in cells:
        name = _column(file, line, cell, columns)
        if name in names:
            raise InputProblem(str(file), f"line {line}", f"a second column for {name}", "one of the two")
        names.append(name)
        units[name] = split_unit(cell)[1]
    for name, default in columns.items():
        if default is None and name not in names:
            raise InputProblem(str(file), f"line {line}", "columns " + ", ".join(cells), f"a column {name}")
    return names, units


def _column(file: Path, line: int, cell: str, columns: dict[str, Any]) -> str:
    if cell in columns:
        return cell
    stem, unit = split_unit(cell)
    for name in columns:
        field_stem, field_unit = split_unit(name)
        if unit and field_unit and stem == field_stem:
            wanted = UNITS[field_unit].kind
            if UNITS[unit].kind == wanted:
                return name
            raise InputProblem(
                str(file), f"line {line}, {cell}", f"the unit {unit} ({UNITS[unit].kind})",
                f"a unit of {wanted}: {', '.join(units_of_kind(wanted))}",
            )  # fmt: skip
    near = nearest(cell, columns)
    hint = f"Nearest known column: {near}." if near else ""
    raise InputProblem(str(file), f"line {line}", f'an unknown column "{cell}"', "columns " + ", ".join(columns), hint)


def _number(
    file: Path,
    line: int,
    name: str,
    row: dict[str, Any],
    above: float | None = None,
    least: float | None = None,
    most: float = math.inf,
) -> float:
    """A cell as a number in the column's own unit, inside its limits (which are in that unit too)."""
    cell = row[name]
    if isinstance(cell, float):
        return cell
    own = split_unit(name)[1]
    unit = row.get("written:" + name) or own
    place = f"line {line}, {name.removesuffix(own)}{unit}"
    limit = f" above {above:g}" if above is not None else f" of at least {least:g}" if least is not None else ""
    limit += f" and of at most {most:g}" if most < math.inf else ""
    expected = f"number{limit} {symbol(own)}".rstrip() if limit else "number"
    try:
        value = math.nan if "_" in cell else float(cell)  # Python reads 1_0 as 10, nobody else does
    except ValueError:
        value = math.nan
    if cell.lower().lstrip("+-") in ("nan", "inf", "infinity"):
        raise InputProblem(str(file), place, cell, f"a finite {expected}")
    if math.isnan(value):
        found = f'"{cell}"' if cell else "an empty cell"
        raise InputProblem(str(file), place, found, f"a {expected}")
    converted = float(convert(value, unit, own))
    if (above is not None and converted <= above) or (least is not None and converted < least) or converted > most:
        raise InputProblem(str(file), place, cell, f"a {expected}")
    return converted


def _check_grade(file: Path, line: int, grade: float) -> None:
    if abs(grade) > 60.0:
        raise InputProblem(str(file), f"line {line}, grade_percent", f"{grade:g}", "a slope between -60 and 60 %")
