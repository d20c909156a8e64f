"""A discharge written down: CSV rows of time, voltage and current.

Three things are put right, and each is told in a remark: rows out of order are sorted, a meter that counts discharge as negative is
turned round, a second row for the same moment is dropped. Anything odder is refused with its line, since only the person who was
there knows what happened.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.estimate import FloatArray
from ridesim.data import find
from ridesim.forms import CsvRow, csv_rows, each_row
from ridesim.words import InputProblem, percent

COLUMNS = ("time_s", "voltage_v", "current_a")
LARGEST = 1e11
"""No time, voltage or current of a log is larger, either way; seconds since 1970 are allowed."""
FEWEST, FEWEST_LOADED = 10, 3
"""Fewer rows than this, and fewer under load, are no discharge."""
GAP_INTERVALS, GAP_S = 6.0, 10.0
"""A time without rows counts as a gap when it is longer than six usual intervals and ten seconds."""
GAP_SHARE = 0.05
"""With more of the charge than this inside gaps, the capacity is not known as well as a meter tells it."""
ON_SHARE = 0.1
"""Current above this share of the usual load counts as load."""
MOST_LOADS = 10.0
"""A current of more than so many usual loads is a wrong reading; a cold lamp's inrush is over before a meter shows it."""
BACK_SHARE = 0.01
"""A voltage that is back by this share under the same load has recovered; scatter is less. Common practice, no source."""
SAME_LOAD = 0.9
"""Loads within this share of each other are the same load."""


@dataclass(frozen=True)
class DischargeLog:
    """One discharge, rows in order.

    Attributes
    ----------
    name : str
        The file, or what stands for it.
    time_s, voltage_v, current_a : ndarray
        Rising time [s], volts of the block, amps with discharge positive.
    line : ndarray of int
        Line of the file of each row.
    remarks : tuple of str
        What was put right, with lines.
    """

    name: str
    time_s: FloatArray
    voltage_v: FloatArray
    current_a: FloatArray
    line: NDArray[np.int64]
    remarks: tuple[str, ...]

    @property
    def load_a(self) -> float:
        """The usual load: half of the charge flows at or below it, so no single row moves it. [A]"""
        amps = np.sort(np.abs(self.current_a))
        sums = np.cumsum(amps)
        return float(amps[int(np.searchsorted(sums, 0.5 * sums[-1]))])

    @property
    def on(self) -> NDArray[np.bool_]:
        """Rows under load."""
        return np.asarray(self.current_a > ON_SHARE * self.load_a)

    @property
    def charge_ah(self) -> FloatArray:
        """Charge delivered up to each row, the current in straight lines between rows. [Ah]"""
        steps = 0.5 * (self.current_a[1:] + self.current_a[:-1]) * np.diff(self.time_s)
        return np.concatenate([[0.0], np.cumsum(steps)]) / 3600.0

    @property
    def gaps(self) -> NDArray[np.int64]:
        """Rows before a gap."""
        step = np.diff(self.time_s)
        return np.flatnonzero(step > max(GAP_INTERVALS * float(np.median(step)), GAP_S))

    def kept(self, keep: NDArray[np.bool_], *remarks: str) -> DischargeLog:
        """Some of the rows, and what is said about the others."""
        columns = {name: getattr(self, name)[keep] for name in (*COLUMNS, "line")}
        return replace(self, remarks=(*self.remarks, *remarks), **columns)


def load_discharge(path: str | Path) -> DischargeLog:
    """Read a discharge CSV: time_s, voltage_v, current_a; another unit of the same kind is welcome, other columns are passed over.

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
    name = str(path)
    rows = each_row(csv_rows(find(path, "logs"), dict.fromkeys(COLUMNS), name, others=True), _numbers)
    lines, time, voltage, current = np.array(rows).reshape(-1, 1 + len(COLUMNS)).T
    return discharge_log(time, voltage, current, lines.astype(int).tolist(), name)


def _numbers(row: CsvRow) -> list[float]:
    """Line, and what stands in its columns."""
    return [float(row.line), *(row.number(column, least=-LARGEST, most=LARGEST) for column in COLUMNS)]


def discharge_log(
    time_s: Sequence[float] | FloatArray,
    voltage_v: Sequence[float] | FloatArray,
    current_a: Sequence[float] | FloatArray,
    line: Sequence[int] | None = None,
    name: str = "the discharge",
) -> DischargeLog:
    """A discharge from columns: sorted by time, discharge positive, one row a moment; refused where it is no single discharge.

    Parameters
    ----------
    time_s, voltage_v, current_a : sequence of float
        [s], [V], [A]
    line : sequence of int, optional
        Line of each row; None: counted from 1.
    name : str
        For messages.

    Returns
    -------
    DischargeLog

    Raises
    ------
    InputProblem
        Columns that are not numbers of one length, fewer than ten rows, no current or no load, a voltage of zero or less, a current
        many times the load, a clock set back, a charge, a rest without rows, too much charge inside gaps.
    """
    try:
        columns = np.array([time_s, voltage_v, current_a], dtype=float)
        good = columns.ndim == 2 and bool(np.isfinite(columns).all())
    except (TypeError, ValueError):
        good = False
    if not good:
        raise InputProblem(
            name, "", "columns that are not of one length, or hold no numbers", "one number a row in each"
        )
    if columns.shape[1] < FEWEST:
        raise InputProblem(name, "", f"{columns.shape[1]} rows", f"{FEWEST} or more rows of time, voltage and current")
    lines = np.arange(1, columns.shape[1] + 1) if line is None else np.asarray(line)
    log = _in_order(DischargeLog(name, columns[0], columns[1], columns[2], lines, ()))
    _refuse_impossible(log)
    log = _discharge_positive(log)
    _refuse_charge(log)
    return _gaps_told(log)


def line_text(numbers: Sequence[int] | NDArray[np.int64]) -> str:
    """Lines of a file in words."""
    if len(numbers) == 1:
        return f"line {numbers[0]}"
    if len(numbers) > 4:
        return f"lines {numbers[0]}, {numbers[1]} and {len(numbers) - 2} more"
    return "lines " + ", ".join(str(number) for number in numbers)


def refusal(log: DischargeLog, row: int | np.integer[Any], found: str, expected: str, hint: str = "") -> InputProblem:
    """What is wrong at a row of a log."""
    return InputProblem(log.name, f"line {log.line[row]}", found, expected, hint)


def _in_order(log: DischargeLog) -> DischargeLog:
    """Sorted by time, one row a moment. A clock that was set back into the time of earlier rows is refused."""
    time = log.time_s
    back = np.flatnonzero(np.diff(time) < 0.0) + 1
    far = max(GAP_INTERVALS * float(np.median(np.abs(np.diff(time)))), GAP_S)
    for row in back:
        step = time[row - 1] - time[row]
        if step > far and time[row:].max() >= time[:row].min():
            hint = "Was the clock set, or are there two discharges in one file?"
            raise refusal(
                log, row, f"a time {step:g} s before the row above", "times of one discharge, which rise", hint
            )
    order = np.argsort(time, kind="stable")
    log = replace(log, **{name: getattr(log, name)[order] for name in (*COLUMNS, "line")})
    again = np.concatenate([[False], np.diff(log.time_s) == 0.0])
    said = []
    if len(back):
        said.append(f"{line_text(log.line[np.isin(order, back)])}: before the row above; the rows were sorted by time.")
    if again.any():
        said.append(f"{line_text(log.line[again])}: a second row for the same moment; left out.")
    return log.kept(~again, *said)


def _refuse_impossible(log: DischargeLog) -> None:
    """Readings that no discharge has."""
    load = log.load_a
    if load == 0.0:
        raise InputProblem(log.name, "current_a", "no current in any row", "a discharge: amps out of the block")
    faults = [
        refusal(log, row, f"{log.voltage_v[row]:g} V", "volts at the block's terminals, above 0")
        for row in np.flatnonzero(log.voltage_v <= 0.0)
    ]
    for row in np.flatnonzero(np.abs(log.current_a) > MOST_LOADS * load):
        found = f"{log.current_a[row]:g} A beside a load of {load:.3g} A"
        faults.append(refusal(log, row, found, f"no more than {MOST_LOADS:g} times the load", "A wrong reading?"))
    if faults:
        raise InputProblem.all_of(faults)


def _discharge_positive(log: DischargeLog) -> DischargeLog:
    """A meter that counts discharge as negative is turned round, for the whole log."""
    if log.charge_ah[-1] >= 0.0:
        return log
    said = "the current is negative: the meter was turned round; taken as discharge."
    return replace(log, current_a=-log.current_a, remarks=(*log.remarks, said))


def _refuse_charge(log: DischargeLog) -> None:
    """Current the other way, or a voltage that rises under load: not a discharge from full to the end, and nothing else."""
    other = np.flatnonzero(log.current_a < -ON_SHARE * log.load_a)
    wanted = "one discharge a file, the current always the same way"
    if len(other):
        raise refusal(log, other[0], f"{log.current_a[other[0]]:g} A against the other rows", wanted, "A charge?")
    loaded = np.flatnonzero(log.on)
    if len(loaded) < FEWEST_LOADED:
        raise InputProblem(
            log.name, "current_a", f"a load in {len(loaded)} rows", f"a load in {FEWEST_LOADED} rows or more"
        )
    tenth = max(1, len(loaded) // 10)
    first, last = (float(np.median(log.voltage_v[rows])) for rows in (loaded[:tenth], loaded[-tenth:]))
    if last > first:
        found = f"{first:.4g} V under load at first and {last:.4g} V at last"
        raise refusal(log, loaded[-1], found, "a voltage that falls under load", "A charge?")


def _gaps_told(log: DischargeLog) -> DischargeLog:
    """Each gap is told; one in which the load was off, or in which too much of the charge lies, is refused."""
    said, charge = [], log.charge_ah
    for before in log.gaps:
        after, span = before + 1, log.time_s[before + 1] - log.time_s[before]
        sides = slice(max(0, before - 2), after), slice(after, after + 3)
        volts, amps = ([float(np.median(column[s])) for s in sides] for column in (log.voltage_v, log.current_a))
        if log.on[before] and amps[1] > SAME_LOAD * amps[0] and volts[1] > (1.0 + BACK_SHARE) * volts[0]:
            found = f"no rows for {span:g} s, and {volts[1]:.4g} V after {volts[0]:.4g} V under the same load"
            hint = "The load was off meanwhile, and for how long is not written; or these are two discharges."
            raise refusal(log, after, found, "rows of one discharge, its rests too", hint)
        said.append(
            f"line {log.line[after]}: no rows for {span:g} s; charge and voltage in the gap are taken as straight lines "
            "between its ends."
        )
    hidden = charge[log.gaps + 1] - charge[log.gaps]
    if hidden.sum() > GAP_SHARE * charge[-1]:
        row = log.gaps[np.argmax(hidden)] + 1
        found = f"a gap, and {percent(hidden.sum() / charge[-1])} of the charge in gaps"
        raise refusal(
            log, row, found, f"{percent(GAP_SHARE)} of the charge in gaps at most", "Was the clock set ahead?"
        )
    return replace(log, remarks=(*log.remarks, *said))
