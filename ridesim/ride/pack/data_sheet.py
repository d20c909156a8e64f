"""A data sheet's rows of hours and ampere-hours: each capacity law fitted to them, with its misfit row by row."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.forms import validate
from ridesim.ride.pack.laws import (
    PeukertFit,
    SaturatingFit,
    TwoWellFit,
    fit_peukert,
    fit_saturating,
    fit_two_well,
    fit_two_well_to_rows,
)
from ridesim.vehicle import Pack
from ridesim.vehicle.pack_rows import check_sheet
from ridesim.words import InputProblem, is_number, shown

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class LawOfSheet:
    """One capacity law fitted to a data sheet.

    Attributes
    ----------
    law : str
        Name of the law.
    fit : PeukertFit, TwoWellFit or SaturatingFit
        Its parameters, and its capacity in given times (``fit.capacity_in``).
    capacity_ah : ndarray
        What the law gives for the rows' hours. [Ah]
    error_percent : ndarray
        Law over sheet, less one, row by row. [%]
    """

    law: str
    fit: PeukertFit | TwoWellFit | SaturatingFit
    capacity_ah: FloatArray
    error_percent: FloatArray

    @property
    def parameters(self) -> dict[str, float]:
        """Parameters by name, units in the names."""
        return {name: value for name, value in self.fit._asdict().items() if name != "misfit"}

    @property
    def misfit_percent(self) -> float:
        """Largest error of any row. [%]"""
        return float(np.max(np.abs(self.error_percent)))


@dataclass(frozen=True)
class SheetFit:
    """All laws fitted to one data sheet.

    Attributes
    ----------
    hours, charge_ah : ndarray
        The sheet's rows, shortest first.
    laws : tuple of LawOfSheet
        Peukert, two-well, saturating.
    day_two_well_misfit_percent : float
        Misfit of the two-well law as the day uses it: matched to the law in use at 20 h, 5 h and 1 h. [%]
    local_exponents : ndarray
        Peukert's k between neighbouring rows; one number means Peukert's law holds.
    """

    hours: FloatArray
    charge_ah: FloatArray
    laws: tuple[LawOfSheet, ...]
    day_two_well_misfit_percent: float
    local_exponents: FloatArray

    def __getitem__(self, law: str) -> LawOfSheet:
        return next(each for each in self.laws if each.law == law)


def fit_sheet(
    rows: Sequence[tuple[float, float]], rated_hours: float = 20.0, capacity_ah: float | None = None
) -> SheetFit:
    """Fit the three laws to a data sheet's rows.

    Parameters
    ----------
    rows : sequence of (float, float)
        Hours and ampere-hours, three rows or more in any order.
    rated_hours : float
        H of the rating. [h]
    capacity_ah : float, optional
        Rated capacity; None: the sheet's value at the rated hours, which it must then contain. [Ah]

    Returns
    -------
    SheetFit

    Raises
    ------
    InputProblem
        Rows that no block can have, or fewer than three; a rating that is no number a block can have.
    """
    if not isinstance(rows, Iterable):
        raise InputProblem("the data sheet", "capacity_by_hours", shown(rows), "rows of hours and ampere-hours")
    table = tuple(_row(number, row) for number, row in enumerate(rows, start=1))
    if len(table) < 3:
        found = f"{len(table)} row" + ("" if len(table) == 1 else "s")
        raise InputProblem("the data sheet", "capacity_by_hours", found, "three rows or more of hours and ampere-hours")
    try:
        check_sheet(table)
    except InputProblem as problem:
        raise InputProblem("the data sheet", problem.place, problem.found, problem.expected, problem.hint) from None
    if capacity_ah is None and rated_hours not in dict(table):
        found = f"{shown(rated_hours, 'h')}, which no row has"
        raise InputProblem("the data sheet", "rated_hours", found, "the hours of one of the rows")
    pack = validate(Pack, {
        "chemistry": "lead-acid-agm", "block_capacity_ah": dict(table)[rated_hours] if capacity_ah is None else capacity_ah,
        "rated_hours": rated_hours, "capacity_by_hours": table,
    }, "the data sheet")  # fmt: skip
    hours, charge = np.array(sorted(table), dtype=float).T
    fits: dict[str, PeukertFit | TwoWellFit | SaturatingFit] = {
        "peukert": fit_peukert(pack), "two-well": fit_two_well_to_rows(table), "saturating": fit_saturating(pack),
    }  # fmt: skip
    laws = []
    for law, fit in fits.items():
        got = fit.capacity_in(hours)
        laws.append(LawOfSheet(law, fit, got, 100.0 * (got / charge - 1.0)))
    in_day = 100.0 * np.abs(fit_two_well(pack).capacity_in(hours) / charge - 1.0)
    lines = np.log(charge[1:] / charge[:-1]) / np.log(hours[1:] / hours[:-1])
    return SheetFit(hours, charge, tuple(laws), float(np.max(in_day)), 1.0 / (1.0 - lines))


def _row(number: int, row: Sequence[float]) -> tuple[float, float]:
    """A row as two numbers."""
    cells = tuple(row) if isinstance(row, Iterable) and not isinstance(row, str) else (row,)
    if len(cells) != 2 or not all(is_number(each) for each in cells):
        found = f"row {number} [{', '.join(shown(each) for each in cells)}]"
        raise InputProblem("the data sheet", "capacity_by_hours", found, "two numbers: hours, ampere-hours")
    return float(cells[0]), float(cells[1])
