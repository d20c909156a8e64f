"""A discharge written down: CSV rows of time, voltage and current, and what is wrong with them.

What can still be used is used; every repair is said, with its line.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ridesim.data import find
from ridesim.forms import read_text
from ridesim.words import UNITS, InputProblem, convert, nearest, split_unit, units_of_kind

FloatArray = NDArray[np.float64]

COLUMNS = ("time_s", "voltage_v", "current_a")
FEWEST = 10
"""Fewer rows than this are no discharge."""
GAP_INTERVALS, GAP_S = 6.0, 10.0
"""A pause in the rows counts as a gap when it is longer than six usual intervals and ten seconds."""
ON_SHARE = 0.1
"""Current above this share of the usual load counts as load."""
LONE_VOLTS, LONE_AMPS = 0.02, 0.3
"""A row apart from its neighbours by this share, while they agree among themselves, is a reading gone wrong."""
LONE_SPANS = 5.0
"""... and by this many times what its neighbours differ among themselves."""
MOST_LONE = 0.01
"""With more lone rows than this share (and than five), they belong to the load, and stay."""


@dataclass(frozen=True)
class DischargeLog:
    """One discharge, cleaned.

    Attributes
    ----------
    name : str
        The file, or what stands for it.
    time_s, voltage_v, current_a : ndarray
        Rising time [s], volts of the block, amps with discharge positive.
    line : ndarray of int
        Line of the file of each row.
    gaps : tuple of (int, int)
        Index before and after each gap that remains.
    remarks : tuple of str
        What was found and how it was used.
    """

    name: str
    time_s: FloatArray
    voltage_v: FloatArray
    current_a: FloatArray
    line: NDArray[np.int64]
    gaps: tuple[tuple[int, int], ...]
    remarks: tuple[str, ...]

    @property
    def interval_s(self) -> float:
        """Usual time between rows. [s]"""
        return float(np.median(np.diff(self.time_s)))


def usual_load(current: FloatArray) -> float:
    """The load that half of the charge flows at or below, either way round: no single row moves it. [A]"""
    amps = np.sort(np.abs(current))
    sums = np.cumsum(amps)
    return float(amps[int(np.searchsorted(sums, 0.5 * sums[-1]))])


def load_discharge(path: str | Path) -> DischargeLog:
    """Read and clean a discharge CSV: time_s, voltage_v, current_a (another unit of the same kind is welcome).

    Parameters
    ----------
    path : str or Path
        A path, or the bare name of a shipped log.

    Returns
    -------
    DischargeLog

    Raises
    ------
    InputProblem
        File and line, what was found and what is expected.
    """
    file = find(path, "logs")
    return clean(*_read(file, str(path)), name=str(path))


def _read(file: Path, shown: str) -> tuple[FloatArray, FloatArray, FloatArray, NDArray[np.int64], list[str]]:
    lines = read_text(file).splitlines()
    numbered = [
        (n, text) for n, text in enumerate(lines, start=1) if text.strip() and not text.lstrip().startswith("#")
    ]
    if not numbered:
        raise InputProblem(shown, "", "only remarks", "the columns time_s, voltage_v, current_a and their rows")
    if ";" in numbered[0][1] and "," not in numbered[0][1]:
        raise InputProblem(shown, f"line {numbered[0][0]}", "columns parted by semicolons", "columns parted by commas")
    header = [cell.strip() for cell in next(csv.reader([numbered[0][1]]))]
    places = [_column(name, header, shown, numbered[0][0]) for name in COLUMNS]
    values: list[list[float]] = []
    kept: list[int] = []
    remarks: list[str] = []
    holes: list[int] = []
    for number, text in numbered[1:]:
        cells = [cell.strip() for cell in next(csv.reader([text]))]
        if len(cells) < len(header) or any(cells[place] == "" for place in places):
            holes.append(number)
            continue
        row = []
        for name, place in zip(COLUMNS, places, strict=True):
            row.append(_number(cells[place], header[place], name, shown, number))
        values.append(row)
        kept.append(number)
    if holes:
        remarks.append(f"{line_text(holes)}: a cell is missing; left out.")
    if len(values) < FEWEST:
        raise InputProblem(
            shown, "", f"{len(values)} whole rows", f"{FEWEST} or more rows of time, voltage and current"
        )
    table = np.array(values)
    return table[:, 0], table[:, 1], table[:, 2], np.array(kept, dtype=np.int64), remarks


def _column(name: str, header: Sequence[str], shown: str, line: int) -> int:
    stem, unit = split_unit(name)
    for place, written in enumerate(header):
        written_stem, written_unit = split_unit(written)
        if written_stem != stem:
            continue
        if written_unit and UNITS[written_unit].kind == UNITS[unit].kind:
            return place
        units = ", ".join(units_of_kind(UNITS[unit].kind))
        raise InputProblem(shown, f"line {line}", f'the column "{written}"', f"{stem} with a unit: {units}")
    near = nearest(name, header)
    hint = f'Is "{near}" meant?' if near else ""
    raise InputProblem(shown, f"line {line}", "columns " + ", ".join(header), f"a column {name}", hint)


def _number(cell: str, written: str, name: str, shown: str, line: int) -> float:
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputProblem(shown, f"line {line}, {written}", f'"{cell}"', "a number")
    return float(convert(value, split_unit(written)[1], split_unit(name)[1]))


def line_text(numbers: Sequence[int] | NDArray[np.int64]) -> str:
    """Lines of a file in words."""
    if len(numbers) == 1:
        return f"line {numbers[0]}"
    if len(numbers) > 4:
        return f"lines {numbers[0]}, {numbers[1]} and {len(numbers) - 2} more"
    return "lines " + ", ".join(str(number) for number in numbers)


def clean(
    time: FloatArray,
    voltage: FloatArray,
    current: FloatArray,
    line: NDArray[np.int64] | None = None,
    remarks: Sequence[str] = (),
    name: str = "the discharge",
) -> DischargeLog:
    """Repair what a logger or a hand gets wrong: double rows, a clock set back or ahead, gaps, a turned-round meter.

    Parameters
    ----------
    time, voltage, current : ndarray
        [s], [V], [A]
    line : ndarray of int, optional
        Line of each row; None: counted from 1.
    remarks : sequence of str
        Said already.
    name : str
        For messages.

    Raises
    ------
    InputProblem
        Columns that are not of one length or hold something else than numbers; no current at all, a voltage of zero or less
        throughout, or too few rows.
    """
    said = list(remarks)
    time, voltage, current, line = _columns(time, voltage, current, line, name)
    if len(time) < FEWEST:
        raise InputProblem(name, "", f"{len(time)} rows", f"{FEWEST} or more rows of time, voltage and current")
    time, keep = _clock_back(time, line, said)
    time, voltage, current, line = time[keep], voltage[keep], current[keep], line[keep]
    lone = _lone_rows(voltage, current, line, said)
    time, voltage, current, line = time[~lone], voltage[~lone], current[~lone], line[~lone]
    _enough(time, name)
    if float(np.max(np.abs(current))) == 0.0:
        raise InputProblem(name, "current_a", "no current in any row", "a discharge: amps out of the block")
    if float(np.max(voltage)) <= 0.0:
        raise InputProblem(name, "voltage_v", "no voltage above zero", "volts at the block's terminals")
    begin = _after_first_charge(time, voltage, current, line, said)
    time, voltage, current, line = time[begin:], voltage[begin:], current[begin:], line[begin:]
    _enough(time, name)
    current = _right_way_round(time, voltage, current, line, said)
    stop = _until_charged(current, line, said)
    time, voltage, current, line = time[:stop], voltage[:stop], current[:stop], line[:stop]
    _enough(time, name)
    time, gaps = _gaps(time, voltage, current, line, said)
    return DischargeLog(name, time, voltage, current, line, gaps, tuple(said))


def _enough(time: FloatArray, name: str) -> None:
    if len(time) < FEWEST:
        raise InputProblem(name, "", f"{len(time)} usable rows", f"{FEWEST} or more rows of discharge")


def _columns(
    time: FloatArray, voltage: FloatArray, current: FloatArray, line: NDArray[np.int64] | None, name: str
) -> tuple[FloatArray, FloatArray, FloatArray, NDArray[np.int64]]:
    """The columns as arrays of one length, every number a number."""
    found = []
    for column, values in zip(COLUMNS, (time, voltage, current), strict=True):
        try:
            found.append(np.array(values, dtype=float))
        except (TypeError, ValueError):
            raise InputProblem(name, column, "something that is not a column of numbers", "numbers") from None
    rows = found[0].shape[:1]
    if not rows or any(column.shape != rows for column in found) or (line is not None and np.shape(line) != rows):
        shapes = ", ".join(" × ".join(map(str, column.shape)) or "no" for column in found)
        raise InputProblem(name, "", f"columns of {shapes} rows", "time, voltage and current of one length")
    lines = np.arange(1, len(found[0]) + 1) if line is None else np.asarray(line)
    for column, values in zip(COLUMNS, found, strict=True):
        bad = np.flatnonzero(~np.isfinite(values))
        if len(bad):
            raise InputProblem(name, f"line {lines[bad[0]]}, {column}", f"{values[bad[0]]:g}", "a number")
    return found[0], found[1], found[2], lines


def _clock_back(time: FloatArray, line: NDArray[np.int64], said: list[str]) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Straighten a clock that was set back; drop rows of a moment that already has one."""
    step = np.diff(time)
    usual = float(np.median(step[step > 0.0])) if (step > 0.0).any() else 1.0
    for index in np.flatnonzero(step < 0.0):
        said.append(
            f"line {line[index + 1]}: the clock goes back by {-step[index]:g} s; the rows from there on are taken to follow at the "
            f"usual {usual:g} s."
        )
    straight = time[0] + np.concatenate([[0.0], np.cumsum(np.where(step < 0.0, usual, step))])
    keep = np.concatenate([[True], step != 0.0])
    if not keep.all():
        said.append(f"{line_text(line[~keep])}: a second row for the same moment; left out.")
    return straight, keep


def _lone_rows(voltage: FloatArray, current: FloatArray, line: NDArray[np.int64], said: list[str]) -> NDArray[np.bool_]:
    """Rows that stand apart from the two before and the two after, which agree: readings gone wrong."""
    lone = np.zeros(len(voltage), dtype=bool)
    load = usual_load(np.abs(current)) if np.any(current) else 0.0
    wrong = []
    for values, least, unit in (
        (voltage, LONE_VOLTS * float(np.median(np.abs(voltage))), "V"),
        (current, LONE_AMPS * load, "A"),
    ):
        near = np.column_stack([values[:-4], values[1:-3], values[3:-1], values[4:]])
        middle, span = np.median(near, axis=1), np.ptp(near, axis=1)
        apart = np.abs(values[2:-2] - middle)
        at = np.flatnonzero(apart > np.maximum(least, LONE_SPANS * span)) + 2
        if len(at) > max(5, MOST_LONE * len(values)):
            continue
        wrong += [(int(i), f"{values[i]:g} {unit} among {middle[i - 2]:.3g} {unit}") for i in at]
    for index, what in sorted(wrong):
        lone[index] = True
        said.append(f"line {line[index]}: {what}, one row alone; taken as a wrong reading and left out.")
    return lone


def _after_first_charge(
    time: FloatArray, voltage: FloatArray, current: FloatArray, line: NDArray[np.int64], said: list[str]
) -> int:
    """Where the discharge begins in a log that starts with a charge: negative current under a rising voltage."""
    most = usual_load(current)
    loaded = np.abs(current) > ON_SHARE * most
    first = int(np.argmax(loaded))
    if current[first] > 0.0:
        return 0
    other = np.flatnonzero(current[first:] > -ON_SHARE * most)
    stop = first + int(other[0]) if len(other) else len(current)
    if stop - first < 3 or np.polyfit(time[first:stop], voltage[first:stop], 1)[0] <= 0.0:
        return 0
    said.append(f"lines {line[first]} to {line[stop - 1]}: a charge; not used.")
    return stop


def _right_way_round(
    time: FloatArray, voltage: FloatArray, current: FloatArray, line: NDArray[np.int64], said: list[str]
) -> FloatArray:
    """Turn round a meter that shows discharge as negative, in the whole log or in a stretch of it."""
    most = usual_load(current)
    if current[np.argmax(np.abs(current) > ON_SHARE * most)] < 0.0:
        said.append("the current is negative: the meter was turned round; taken as discharge.")
        current = -current
    backwards = current < -ON_SHARE * most
    edges = np.flatnonzero(np.diff(np.concatenate([[False], backwards, [False]]).astype(int)))
    current = current.copy()
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        if not _still_falls(time, voltage, current, int(start), int(stop)):
            continue
        said.append(
            f"lines {line[start]} to {line[stop - 1]}: the current changes sign and the voltage goes on as before; taken as discharge "
            "with the meter turned round."
        )
        current[start:stop] *= -1.0
    return current


def _still_falls(time: FloatArray, voltage: FloatArray, current: FloatArray, start: int, stop: int) -> bool:
    """Whether the voltage shows that a stretch of negative current was discharge: no jump up where the sign changed."""
    if start == 0:
        return bool(stop - start > 2 and voltage[stop - 1] < voltage[start])
    # A true change from +I to -I lifts the voltage by 2 I R; a turned meter lifts nothing.
    jump = voltage[start] - voltage[start - 1]
    before = voltage[max(0, start - 10) : start]
    noise = float(np.median(np.abs(np.diff(before)))) if len(before) > 2 else 0.0
    if current[start - 1] > 0.0:
        return bool(jump <= 5.0 * noise + 0.002 * abs(voltage[start - 1]))
    return bool(jump < 0.0)


def _until_charged(current: FloatArray, line: NDArray[np.int64], said: list[str]) -> int:
    """Where a charge begins; nothing after it is used."""
    charging = np.flatnonzero(current < -ON_SHARE * usual_load(current))
    if not len(charging):
        return len(current)
    said.append(f"line {line[charging[0]]}: a charge begins; the rows from there on are not used.")
    return int(charging[0])


def _gaps(
    time: FloatArray, voltage: FloatArray, current: FloatArray, line: NDArray[np.int64], said: list[str]
) -> tuple[FloatArray, tuple[tuple[int, int], ...]]:
    """Gaps in the rows; one across which the voltage did not move as it did before and after was the clock set ahead."""
    step = np.diff(time)
    usual = float(np.median(step))
    gaps = []
    for index in np.flatnonzero(step > max(GAP_INTERVALS * usual, GAP_S)):
        if _set_ahead(time, voltage, current, int(index)):
            said.append(
                f"line {line[index + 1]}: the clock jumps ahead by {step[index]:g} s and the voltage does not; taken as the clock, "
                f"the rows follow at the usual {usual:g} s."
            )
            step[index] = usual
        else:
            gaps.append((int(index), int(index) + 1))
            said.append(
                f"line {line[index + 1]}: no rows for {step[index]:g} s; charge and voltage in the gap are taken as straight lines "
                "between its ends."
            )
    return time[0] + np.concatenate([[0.0], np.cumsum(step)]), tuple(gaps)


def _set_ahead(time: FloatArray, voltage: FloatArray, current: FloatArray, index: int) -> bool:
    """Whether a pause was the clock's: the voltage's slope around it foretells a fall that did not come."""
    before, after = slice(max(0, index - 19), index + 1), slice(index + 1, index + 21)
    most = usual_load(current)
    same = abs(current[index + 1] - current[index]) < 0.05 * most
    if not same or current[index] < ON_SHARE * most or index < 5 or len(time) - index < 7:
        return False
    slopes, noise = [], []
    for part in (before, after):
        fit = np.polyfit(time[part] - time[index], voltage[part], 1)
        slopes.append(float(fit[0]))
        noise.append(float(np.std(voltage[part] - np.polyval(fit, time[part] - time[index]))))
    foretold = abs(0.5 * (slopes[0] + slopes[1])) * float(time[index + 1] - time[index])
    moved = abs(float(np.mean(voltage[after][:3]) - np.mean(voltage[before][-3:])))
    return foretold > 6.0 * max(noise) + 1e-4 and moved < 0.3 * foretold
