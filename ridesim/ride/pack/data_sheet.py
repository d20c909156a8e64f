"""A data sheet's rows of hours and ampere-hours: each capacity law fitted to them, with its misfit row by row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ridesim.forms import validate
from ridesim.ride.pack.laws import FloatArray, LawFit, fit_peukert, fit_saturating, fit_two_well_to
from ridesim.vehicle import Pack
from ridesim.words import InputProblem, shown


@dataclass(frozen=True)
class LawOfSheet:
    """One capacity law fitted to a data sheet.

    Attributes
    ----------
    fit : PeukertFit, TwoWellFit or SaturatingFit
        Its parameters, and its capacity in given times (``fit.capacity_in``).
    capacity_ah : ndarray
        What the law gives for the rows' hours. [Ah]
    error_percent : ndarray
        Law over sheet, less one, row by row. [%]
    """

    fit: LawFit
    capacity_ah: FloatArray
    error_percent: FloatArray

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
    laws : mapping of str to LawOfSheet
        Peukert, two-well, saturating.
    local_exponents : ndarray
        Peukert's k between neighbouring rows; one number means Peukert's law holds.
    """

    hours: FloatArray
    charge_ah: FloatArray
    laws: Mapping[str, LawOfSheet]
    local_exponents: FloatArray

    def __getitem__(self, law: str) -> LawOfSheet:
        return self.laws[law]


def fit_sheet(rows: Sequence[tuple[float, float]], rated_hours: float = 20.0) -> SheetFit:
    """Fit the three laws to a data sheet's rows.

    Parameters
    ----------
    rows : sequence of (float, float)
        Hours and ampere-hours, three rows or more in any order.
    rated_hours : float
        H of the rating: the hours of one of the rows, whose ampere-hours are the rated capacity. [h]

    Returns
    -------
    SheetFit

    Raises
    ------
    InputProblem
        Rows that no block can have, or fewer than three; a rating that is no number a block can have.
    """
    rated_ah = next((row[1] for row in rows if row[0] == rated_hours), None)
    if rated_ah is None:
        found = f"{shown(rated_hours, 'h')}, which no row has"
        raise InputProblem("the data sheet", "rated_hours", found, "the hours of one of the rows")
    pack = validate(Pack, {
        "chemistry": "lead-acid-agm", "block_capacity_ah": rated_ah, "rated_hours": rated_hours, "capacity_by_hours": rows,
    }, "the data sheet")  # fmt: skip
    hours, charge = np.array(sorted(rows), dtype=float).T
    fits: dict[str, LawFit] = {
        "peukert": fit_peukert(pack),
        "two-well": fit_two_well_to(hours, charge, float(charge.max())),
        "saturating": fit_saturating(pack),
    }
    laws = {}
    for law, fit in fits.items():
        got = fit.capacity_in(hours)
        laws[law] = LawOfSheet(fit, got, 100.0 * (got / charge - 1.0))
    lines = np.log(charge[1:] / charge[:-1]) / np.log(hours[1:] / hours[:-1])
    return SheetFit(hours, charge, laws, 1.0 / (1.0 - lines))
