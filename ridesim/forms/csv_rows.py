"""CSV files of the user: a first line of column names, units as suffixes, remarks behind #; one message where a cell does not fit."""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from ridesim.forms.files import read_text
from ridesim.forms.validation import own_name
from ridesim.words import MEASURABLE, InputProblem, convert, in_brief, split_unit, symbol, unmeasurable

Parsed = TypeVar("Parsed")


@dataclass(frozen=True, slots=True)
class CsvRow:
    """One line of a CSV.

    Attributes
    ----------
    file : str
        For messages.
    line : int
        From 1.
    cells : mapping of str to str
        Column, in its own unit's name, to the text as it stands.
    written : mapping of str to str
        Column to its name in the file, which may have another unit.
    fault : InputProblem or None
        What is wrong with the line as a whole.
    """

    file: str
    line: int
    cells: Mapping[str, str]
    written: Mapping[str, str]
    fault: InputProblem | None = None

    def problem(self, column: str, found: str, expected: str, hint: str = "") -> InputProblem:
        """What is wrong in a cell, to be raised."""
        return InputProblem(self.file, f"line {self.line}, {self.written.get(column, column)}", found, expected, hint)

    def number(
        self, column: str, *, above: float | None = None, least: float | None = None, most: float = math.inf
    ) -> float:
        """A cell as a number in the column's own unit.

        Parameters
        ----------
        column : str
            In its own unit's name.
        above, least, most : float, optional
            Limits, in the column's own unit.

        Raises
        ------
        InputProblem
            No finite number, or outside the limits.
        """
        cell, own = self.cells[column], split_unit(column)[1]
        try:
            value = math.nan if "_" in cell else float(cell)  # Python reads 1_0 as 10, nobody else does
            value = float(convert(value, split_unit(self.written.get(column, column))[1] or own, own))
        except ValueError:
            value = math.nan
        low = -math.inf if least is None else least
        if (
            math.isfinite(value)
            and low <= value <= most
            and (above is None or value > above)
            and not unmeasurable(value)
        ):
            return value
        limit = f" above {above:g}" if above is not None else f" of at least {least:g}" if least is not None else ""
        limit += f" and of at most {most:g}" if most < math.inf else ""
        expected = f"number{limit} {symbol(own)}".rstrip() if limit else "number"
        text = in_brief(cell)
        if math.isinf(value) or cell.lower().lstrip("+-") == "nan":
            raise self.problem(column, text, f"a finite {expected}")
        if math.isnan(value):
            raise self.problem(column, f'"{text}"' if cell else "an empty cell", f"a {expected}")
        if unmeasurable(value):
            raise self.problem(column, text, MEASURABLE)
        raise self.problem(column, text, f"a {expected}")


def csv_rows(
    path: Path, columns: Mapping[str, str | None], shown: str = "", *, others: bool = False
) -> Iterator[CsvRow]:
    """The lines of a CSV below its column names; one with more or fewer cells than there are names says so in its ``fault``.

    Parameters
    ----------
    path : Path
        A text file.
    columns : mapping of str to str or None
        Known columns; the text that stands for one that is left out, None where it is needed.
    shown : str, optional
        The file's name in messages; else its path.
    others : bool
        Other columns may stand in the file; they are passed over.

    Raises
    ------
    InputProblem
        Not a text file or not CSV; an unknown, doubled or missing column.
    """
    file = shown or str(path)
    reader = csv.reader(read_text(path).splitlines())
    written: dict[str, str] = {}
    left_out = {name: text for name, text in columns.items() if text is not None}
    try:
        for raw in reader:
            cells = [cell.strip() for cell in raw]
            if not any(cells) or cells[0].startswith("#"):
                continue
            if not written:
                written = _names(file, reader.line_num, cells, columns, others)
                continue
            if len(cells) != len(written):
                found = f"{len(cells)} cell{'s' if len(cells) != 1 else ''}"
                wanted = f"{len(written)} cells, one for each column name"
                fault = InputProblem(file, f"line {reader.line_num}", found, wanted)
                yield CsvRow(file, reader.line_num, {}, written, fault)
                continue
            yield CsvRow(file, reader.line_num, left_out | dict(zip(written, cells, strict=True)), written)
    except csv.Error as problem:
        found = f"text that is not CSV ({problem})"
        raise InputProblem(file, f"line {reader.line_num}", found, "cells with commas between") from None
    if not written:
        raise InputProblem(file, "", "no column names", "a first line " + ",".join(columns))


def each_row(rows: Iterable[CsvRow], parse: Callable[[CsvRow], Parsed]) -> list[Parsed]:
    """All rows parsed.

    Raises
    ------
    InputProblem
        All rows that could not be, a line each.
    """
    parsed: list[Parsed] = []
    problems: list[InputProblem] = []
    for row in rows:
        try:
            if row.fault is not None:
                raise row.fault
            parsed.append(parse(row))
        except InputProblem as problem:
            problems.append(problem)
    if problems:
        raise InputProblem.all_of(problems)
    return parsed


def _names(file: str, line: int, cells: list[str], columns: Mapping[str, str | None], others: bool) -> dict[str, str]:
    """Known name → name in the file, in the file's order."""
    written: dict[str, str] = {}
    if len(cells) == 1 and ";" in cells[0]:
        raise InputProblem(file, f"line {line}", "columns parted by semicolons", "columns parted by commas")
    stems = {split_unit(name)[0] for name in columns}
    for cell in cells:
        passed_over = others and split_unit(cell)[0] not in stems
        name = cell if passed_over else own_name(cell, columns, file, f"line {line}, {cell}", "column")
        if name in written:
            raise InputProblem(file, f"line {line}", f"a second column for {name}", "one of the two")
        written[name] = cell
    for name, text in columns.items():
        if text is None and name not in written:
            raise InputProblem(file, f"line {line}", "columns " + ", ".join(cells), f"a column {name}")
    return written
