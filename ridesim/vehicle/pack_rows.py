"""Rows of a block's data sheet that no block can have are refused: hours, temperatures, cycle life, and the label beside them."""

from __future__ import annotations

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


def check_sheet(rows: tuple[tuple[float, float], ...]) -> None:
    """Refuse a data sheet's rows of [hours, ampere-hours] that no block can have.

    Raises
    ------
    InputProblem
        Names the row as it stands in the file.
    """
    key, expected = "capacity_by_hours", "both columns rising: the slower a block is emptied, the more it gives"
    numbered = [(hours, charge, number) for number, (hours, charge) in enumerate(rows, start=1)]
    for hours, charge, number in numbered:
        if not all(SHEET_LEAST <= each <= SHEET_MOST for each in (hours, charge)):
            wanted = f"hours and ampere-hours from {SHEET_LEAST:g} to {SHEET_MOST:,.0f}"
            raise InputProblem("", key, f"row {number} [{hours:g}, {charge:g}]", wanted)
    for before, after in pairwise(sorted(numbered)):
        if after[0] <= before[0] * (1.0 + SHEET_SAME):
            first, second = sorted((before[2], after[2]))
            raise InputProblem("", key, f"rows {first} and {second}, both for {after[0]:g} h", expected)
        if after[1] < before[1]:
            slow, fast = (
                f"row {after[2]} [{after[0]:g}, {after[1]:g}]",
                f"row {before[2]} [{before[0]:g}, {before[1]:g}]",
            )
            raise InputProblem("", key, f"{fast} with more ampere-hours than the slower {slow}", expected)
        if after[1] / after[0] >= before[1] / before[0]:
            raise InputProblem(
                "",
                key,
                f"row {after[2]} [{after[0]:g}, {after[1]:g}] with no less current than row {before[2]}",
                "longer hours at less current: ampere-hours over hours falls from row to row",
                "Are hours and ampere-hours in the right columns?",
            )


LABEL_ERROR = 0.05
"""A label rounds; further apart than this, label and data sheet speak of different blocks."""


def check_label(rows: tuple[tuple[float, float], ...], rated_hours: float, capacity_ah: float) -> None:
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
    raise InputProblem(
        "",
        "capacity_by_hours",
        f"rows that give {span} at {rated_hours:g} h beside block_capacity_ah = {capacity_ah:g} at that time (rated_hours)",
        f"the same block on label and data sheet, within {100.0 * LABEL_ERROR:g} %",
    )


def check_warmth(rows: tuple[tuple[float, float], ...]) -> None:
    """Refuse rows of [°C, share of the capacity at 25 °C] that no block can have; any order will do.

    Raises
    ------
    InputProblem
        Names the row as it stands in the file.
    """
    key = "capacity_by_temperature"
    for number, (degrees, share) in enumerate(rows, start=1):
        if not (COLDEST_ROW_C <= degrees <= HOTTEST_ROW_C and LEAST_SHARE <= share <= MOST_SHARE):
            wanted = (
                f"°C from {COLDEST_ROW_C:g} to {HOTTEST_ROW_C:g} and a share of the capacity from {LEAST_SHARE:g} "
                f"to {MOST_SHARE:g}"
            )
            raise InputProblem("", key, f"row {number} [{degrees:g}, {share:g}]", wanted)
    numbered = sorted((degrees, share, number) for number, (degrees, share) in enumerate(rows, start=1))
    for before, after in pairwise(numbered):
        if after[0] == before[0] or after[1] < before[1]:
            found = f"row {after[2]} [{after[0]:g}, {after[1]:g}] beside row {before[2]} [{before[0]:g}, {before[1]:g}]"
            raise InputProblem("", key, found, "one row a temperature, and no less capacity where it is warmer")


def check_cycle_life(rows: tuple[tuple[float, float], ...]) -> None:
    """Refuse rows of [depth, cycles] outside 0 to 1, or with more cycles at more depth.

    Raises
    ------
    InputProblem
        Names the row as it stands in the file.
    """
    key = "cycle_life"
    for number, (depth, cycles) in enumerate(rows, start=1):
        if not 0.0 < depth <= 1.0 or cycles <= 0.0:
            found = f"row {number} [{depth:g}, {cycles:g}]"
            raise InputProblem("", key, found, "a depth above 0 and up to 1, and cycles above 0")
    numbered = sorted((depth, cycles, number) for number, (depth, cycles) in enumerate(rows, start=1))
    for before, after in pairwise(numbered):
        if after[0] == before[0] or after[1] > before[1]:
            found = f"row {after[2]} [{after[0]:g}, {after[1]:g}] beside row {before[2]} [{before[0]:g}, {before[1]:g}]"
            raise InputProblem("", key, found, "fewer cycles the deeper each goes")
