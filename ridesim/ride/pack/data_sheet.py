"""A data sheet's rows of hours and ampere-hours: each capacity law fitted to them, with its misfit row by row."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.forms import validate
from ridesim.physics.capacity_laws import two_well_capacity
from ridesim.ride.pack.laws import (
    SaturatingFit,
    TwoWellFit,
    fit_peukert,
    fit_saturating,
    fit_two_well,
    fit_two_well_to_rows,
    saturating_in,
)
from ridesim.vehicle import Pack
from ridesim.vehicle.pack import check_sheet
from ridesim.words import InputProblem, is_number, shown

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class LawOfSheet:
    """One capacity law fitted to a data sheet.

    Attributes
    ----------
    law : str
        Name of the law.
    parameters : dict of str to float
        By name, units in the names.
    capacity_ah : ndarray
        What the law gives for the rows' hours. [Ah]
    error_percent : ndarray
        Law over sheet, less one, row by row. [%]
    """

    law: str
    parameters: dict[str, float]
    capacity_ah: FloatArray
    error_percent: FloatArray

    @property
    def misfit_percent(self) -> float:
        """Largest error of any row. [%]"""
        return float(np.max(np.abs(self.error_percent)))

    def capacity_at(self, hours: FloatArray) -> FloatArray:
        """Capacity when emptied in given times. [Ah]"""
        return _capacity(self.law, self.parameters, hours)


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
    if not is_number(rated_hours):
        raise InputProblem("the data sheet", "rated_hours", shown(rated_hours, "h"), "a number of hours")
    if capacity_ah is None:
        known = dict(table)
        if rated_hours not in known:
            raise InputProblem(
                "the data sheet", "rated_hours", f"{rated_hours:g} h, which no row has", "the hours of one of the rows"
            )
        capacity_ah = known[rated_hours]
    pack = validate(Pack, {
        "chemistry": "lead-acid-agm", "block_capacity_ah": capacity_ah, "rated_hours": float(rated_hours),
        "capacity_by_hours": table,
    }, "the data sheet")  # fmt: skip
    hours, charge = np.array(sorted(table), dtype=float).T
    peukert, saturating, wells = fit_peukert(pack), fit_saturating(pack), fit_two_well_to_rows(table)
    parameters: dict[str, dict[str, float]] = {
        "peukert": {"exponent": peukert.exponent, "capacity_ah": capacity_ah, "rated_hours": rated_hours},
        "two-well": _wells(wells),
        "saturating": _saturating(saturating),
    }
    laws = []
    for law, values in parameters.items():
        got = _capacity(law, values, hours)
        laws.append(LawOfSheet(law, values, got, 100.0 * (got / charge - 1.0)))
    in_day = _capacity("two-well", _wells(fit_two_well(pack)), hours)
    lines = np.log(charge[1:] / charge[:-1]) / np.log(hours[1:] / hours[:-1])
    return SheetFit(
        hours, charge, tuple(laws), float(np.max(np.abs(100.0 * (in_day / charge - 1.0)))), 1.0 / (1.0 - lines)
    )


def _row(number: int, row: Sequence[float]) -> tuple[float, float]:
    """A row as two numbers."""
    cells = tuple(row) if isinstance(row, Iterable) and not isinstance(row, str) else (row,)
    if len(cells) != 2 or not all(is_number(each) for each in cells):
        found = f"row {number} [{', '.join(shown(each) for each in cells)}]"
        raise InputProblem("the data sheet", "capacity_by_hours", found, "two numbers: hours, ampere-hours")
    return float(cells[0]), float(cells[1])


def _wells(fit: TwoWellFit) -> dict[str, float]:
    return {"share": fit.share, "rate_per_h": fit.rate_per_h, "whole_ah": fit.whole_ah}


def _saturating(fit: SaturatingFit) -> dict[str, float]:
    return {
        "capacity_ah": fit.capacity_ah, "gain": fit.gain, "reference_a": fit.reference_a, "exponent": fit.exponent,
    }  # fmt: skip


def _capacity(law: str, p: dict[str, float], hours: FloatArray) -> FloatArray:
    """A law's capacity when emptied in given times. [Ah]"""
    if law == "peukert":
        slope = (p["exponent"] - 1.0) / p["exponent"]
        return np.asarray(p["capacity_ah"] * np.minimum(1.0, hours / p["rated_hours"]) ** slope)
    if law == "two-well":
        return np.array([two_well_capacity(t, p["whole_ah"], p["share"], p["rate_per_h"]) for t in hours])
    curve = SaturatingFit(p["capacity_ah"], p["gain"], p["reference_a"], p["exponent"], 0.0)
    return np.array([saturating_in(float(t), curve) for t in hours])
