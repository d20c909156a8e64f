"""Rows of a block's data sheet that no block can have are refused: hours, temperatures, cycle life, and the label beside them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise
from math import exp, log

from ridesim.words import InputProblem

COLDEST_ROW_C, HOTTEST_ROW_C = -60.0, 100.0
LEAST_SHARE, MOST_SHARE = 0.05, 1.5
"""No block gives less or more of its capacity at 25 °C than this, at any temperature a sheet names."""
SHEET_LEAST, SHEET_MOST = 0.001, 100_000.0
"""No data sheet has shorter or longer hours, or less or more ampere-hours, than this."""
SHEET_SAME = 1e-6
"""Hours no further apart than this share are the same hours."""
MEASURED_OFF = 0.08
"""Measured rows scatter, and a block ages between two tests: so much less charge at a slower rate is no fault (two measured blocks,
data/published/measured_blocks.csv)."""
LABEL_ERROR = 0.05
"""A label rounds; further apart than this, label and data sheet speak of different blocks."""
REST_OFF = 0.2
"""Rested volts a cell further than this share outside the chemistry's own table belong to another chemistry."""

Rows = tuple[tuple[float, float], ...]
Numbered = tuple[float, float, int]


def _shown(row: Numbered) -> str:
    return f"row {row[2]} [{row[0]:g}, {row[1]:g}]"


def _numbered(rows: Rows) -> list[Numbered]:
    """Rows with their numbers in the file, which the messages name."""
    return [(*row, number) for number, row in enumerate(rows, start=1)]


def _sorted_pairs(rows: Rows) -> Iterator[tuple[Numbered, Numbered]]:
    """Neighbours by the first column; a file may have its rows in any order."""
    return pairwise(sorted(_numbered(rows)))


def _need(key: str, rows: Rows, good: Callable[[float, float], bool], expected: str) -> None:
    """Refuse the first row that is not good by itself."""
    for row in _numbered(rows):
        if not good(row[0], row[1]):
            raise InputProblem("", key, _shown(row), expected)


def check_rested(rows: Rows, chemistry: str, usual: Rows) -> None:
    """Refuse rested volts that do not rise with the charge from 0 to 1, or are far from the chemistry's usual ones.

    Raises
    ------
    InputProblem
        Names the row as it stands in the file.
    """
    key = "open_circuit_v_per_cell"
    for before, after in pairwise(_numbered(rows)):
        if after[0] <= before[0] or after[1] < before[1]:
            found = f"{_shown(after)} after [{before[0]:g}, {before[1]:g}]"
            raise InputProblem("", key, found, "both columns rising")
    if rows[0][0] != 0.0 or rows[-1][0] != 1.0:
        raise InputProblem("", key, f"rows from {rows[0][0]:g} to {rows[-1][0]:g}", "rows from 0 to 1")
    low, high = (1.0 - REST_OFF) * usual[0][1], (1.0 + REST_OFF) * usual[-1][1]
    wanted = f"{low:.2f} to {high:.2f} V a cell, rested, for {chemistry}"
    _need(key, rows, lambda _, volts: low <= volts <= high, wanted)


def check_sheet(rows: Rows) -> None:
    """Refuse a data sheet's rows of [hours, ampere-hours] that no block can have.

    Raises
    ------
    InputProblem
        Names the row as it stands in the file.
    """
    key, expected = "capacity_by_hours", "both columns rising: the slower a block is emptied, the more it gives"
    wanted = f"hours and ampere-hours from {SHEET_LEAST:g} to {SHEET_MOST:,.0f}"
    _need(key, rows, lambda *row: SHEET_LEAST <= min(row) and max(row) <= SHEET_MOST, wanted)
    for before, after in _sorted_pairs(rows):
        if after[0] <= before[0] * (1.0 + SHEET_SAME):
            first, second = sorted((before[2], after[2]))
            raise InputProblem("", key, f"rows {first} and {second}, both for {after[0]:g} h", expected)
        if after[1] < before[1] * (1.0 - MEASURED_OFF):
            found = f"{_shown(before)} with far more ampere-hours than the slower {_shown(after)}"
            raise InputProblem("", key, found, expected)
        if after[1] / after[0] >= before[1] / before[0]:
            found = f"{_shown(after)} with no less current than row {before[2]}"
            falls = "longer hours at less current: ampere-hours over hours falls from row to row"
            raise InputProblem("", key, found, falls, "Are hours and ampere-hours in the right columns?")


def check_end_voltage(rows: Rows, full_v: float) -> None:
    """Refuse end voltages that no cell has: below a third of a rested full one's, above it, or lower for a slower discharge.

    Raises
    ------
    InputProblem
        Names the row as it stands in the file.
    """
    key = "end_voltage_v_per_cell"
    least = full_v / 3.0
    wanted = f"hours from {SHEET_LEAST:g} to {SHEET_MOST:,.0f} and {least:.2f} to {full_v:.2f} V a cell"
    _need(key, rows, lambda hours, volts: SHEET_LEAST <= hours <= SHEET_MOST and least <= volts <= full_v, wanted)
    for before, after in _sorted_pairs(rows):
        if after[1] < before[1]:
            found = f"{_shown(after)} below the faster {_shown(before)}"
            raise InputProblem("", key, found, "the slower a block is emptied, the higher its end voltage")


def check_label(rows: Rows, rated_hours: float, capacity_ah: float) -> None:
    """Refuse a label that the block's own data sheet contradicts: the laws would stand on different capacities.

    Raises
    ------
    InputProblem
        Names both numbers.

    Notes
    -----
    Between rows the sheet is read along a straight line in the logarithms of time and charge. Beyond its ends it bounds
    the charge: a line through the last two rows is the most (the curve bends), the last row's charge, or in a shorter
    time its current, the least.
    """
    table = sorted((log(hours), log(charge)) for hours, charge in rows)
    at = log(rated_hours)
    (h0, q0), (h1, q1) = next((pair for pair in pairwise(table) if at <= pair[1][0]), (table[-2], table[-1]))
    most = least = q0 + (q1 - q0) * (at - h0) / (h1 - h0)
    if at > h1:
        least = q1
    elif at < h0:
        least = q0 + at - h0
    low, high = exp(least), exp(most)
    if low * (1.0 - LABEL_ERROR) <= capacity_ah <= high * (1.0 + LABEL_ERROR):
        return
    span = f"{high:.3g} Ah" if high < 1.001 * low else f"{low:.3g} to {high:.3g} Ah"
    found = f"rows that give {span} at {rated_hours:g} h beside block_capacity_ah = {capacity_ah:g} at that time (rated_hours)"
    wanted = f"the same block on label and data sheet, within {100.0 * LABEL_ERROR:g} %"
    raise InputProblem("", "capacity_by_hours", found, wanted)


def check_warmth(rows: Rows) -> None:
    """Refuse rows of [°C, share of the capacity at 25 °C] that no block can have; any order will do.

    Raises
    ------
    InputProblem
        Names the row as it stands in the file.
    """
    key = "capacity_by_temperature"
    wanted = f"°C from {COLDEST_ROW_C:g} to {HOTTEST_ROW_C:g} and a share of the capacity from {LEAST_SHARE:g} to {MOST_SHARE:g}"
    _need(
        key, rows, lambda c, share: COLDEST_ROW_C <= c <= HOTTEST_ROW_C and LEAST_SHARE <= share <= MOST_SHARE, wanted
    )
    for before, after in _sorted_pairs(rows):
        if after[0] == before[0] or after[1] < before[1]:
            expected = "one row a temperature, and no less capacity where it is warmer"
            raise InputProblem("", key, f"{_shown(after)} beside {_shown(before)}", expected)


def check_cycle_life(rows: Rows) -> None:
    """Refuse rows of [depth, cycles] outside 0 to 1, or with more cycles at more depth.

    Raises
    ------
    InputProblem
        Names the row as it stands in the file.
    """
    key, wanted = "cycle_life", "a depth above 0 and up to 1, and cycles above 0"
    _need(key, rows, lambda depth, cycles: 0.0 < depth <= 1.0 and cycles > 0.0, wanted)
    for before, after in _sorted_pairs(rows):
        if after[0] == before[0] or after[1] > before[1]:
            found = f"{_shown(after)} beside {_shown(before)}"
            raise InputProblem("", key, found, "fewer cycles the deeper each goes")
