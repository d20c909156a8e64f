"""Sizes of cable that are sold and their resistance: class 5 copper by section, and American gauges."""

from __future__ import annotations

from bisect import bisect_right
from functools import lru_cache
from math import pi
from typing import NamedTuple

from ridesim.data import find
from ridesim.forms import csv_rows, each_row
from ridesim.forms.csv_rows import CsvRow
from ridesim.physics.cable import COPPER_OHM_MM2_PER_M, warm_conductor, wire_diameter
from ridesim.words import InputProblem, need_number

FLEXIBLE = 1.13
"""Resistance of flexible copper over that of its nominal section where the size is in no table; class 5 is within 2.4 % of it."""
SAME_SIZE = 1.005
"""Sections within this factor count as one size: gauges are printed with four digits at most."""
INSULATIONS_C = (60.0, 70.0, 75.0, 80.0, 90.0, 105.0, 125.0, 200.0)
"""Temperatures of insulation that have a table of ampacities. [°C]"""
LEAST_MM2 = (0.82, 1.5)
"""Where the tables of ampacities begin: by gauge, and by section for 70 °C. [mm²]"""
LARGEST_GAUGE, SMALLEST_GAUGE = -3, 40
_COLUMNS = {"section_mm2": None, "ohm_per_km": None, "ampacity_a": ""}


class CableSize(NamedTuple):
    """A row of ``data/parts/cables.csv``: section [mm²], resistance of class 5 at 20 °C [ohm/km], ampacity of 70 °C insulation [A], or None."""

    section_mm2: float
    ohm_per_km: float
    ampacity_a: float | None


@lru_cache(maxsize=1)
def cable_sizes() -> tuple[CableSize, ...]:
    """Metric sizes that are sold, the smallest first."""
    return tuple(sorted(each_row(csv_rows(find("cables", "parts"), _COLUMNS), _size)))


def _size(row: CsvRow) -> CableSize:
    stated = row.cells["ampacity_a"] != ""
    return CableSize(
        row.number("section_mm2", above=0.0),
        row.number("ohm_per_km", above=0.0),
        row.number("ampacity_a", above=0.0) if stated else None,
    )


def need_section(section_mm2: float) -> None:
    """Refuse a section that is none.

    Raises
    ------
    InputProblem
        Not above 0, or beyond 1000 mm².
    """
    need_number("the cable", "section_mm2", section_mm2, 0.0, 1000.0, "mm²", above=True)


def ohm_per_m(section_mm2: float, temperature_c: float) -> float:
    """Resistance of a flexible copper conductor.

    Parameters
    ----------
    section_mm2 : float
        [mm²]
    temperature_c : float
        Of the conductor. [°C]

    Returns
    -------
    float
        The most that IEC 60228 allows class 5 of this size; of other sizes 1.13 times that of solid copper. [ohm/m]
    """
    need_section(section_mm2)
    sizes = [each for each in cable_sizes() if 1.0 / SAME_SIZE <= each.section_mm2 / section_mm2 <= SAME_SIZE]
    cold = sizes[0].ohm_per_km / 1000.0 if sizes else FLEXIBLE * COPPER_OHM_MM2_PER_M / section_mm2
    return float(warm_conductor(cold, temperature_c))


def gauge_name(gauge: int) -> str:
    """How an American gauge is written: 0 and below as 1/0 to 4/0."""
    return str(gauge) if gauge > 0 else f"{1 - gauge}/0"


GAUGES = {gauge_name(gauge): gauge for gauge in range(LARGEST_GAUGE, SMALLEST_GAUGE + 1)}


def awg_mm2(awg: str | int) -> float:
    """Section of an American wire gauge.

    Parameters
    ----------
    awg : str or int
        ``6``, ``"6"``, ``"2/0"``; also ``0``, ``"00"``, as they are written too.

    Returns
    -------
    float
        Of solid wire, and of a strand of the same gauge. [mm²]

    Raises
    ------
    InputProblem
        No gauge from 4/0 to 40.

    Notes
    -----
    Automotive wire sold by an SAE gauge has 4 to 12 % less copper than the same number here.

    Examples
    --------
    >>> round(awg_mm2(10), 2), round(awg_mm2("2/0"), 1)
    (5.26, 67.4)
    """
    text = str(awg).strip()
    name = f"{len(text)}/0" if text and not text.strip("0") else text
    if isinstance(awg, bool) or name not in GAUGES:
        raise InputProblem("the cable", "awg", f"“{awg}”", "a gauge from 4/0 to 40, such as 6 or 2/0")
    return float(pi / 4.0 * wire_diameter(GAUGES[name]) ** 2)


USUAL_GAUGES = ("18", "16", "14", "12", "10", "8", "6", "4", "2", "1", "1/0", "2/0", "3/0", "4/0")
"""Gauges that cable is sold in."""


def next_gauge(section_mm2: float) -> str:
    """The thinnest usual gauge that has at least a section; empty beyond 4/0."""
    return next((each for each in USUAL_GAUGES if awg_mm2(each) * SAME_SIZE >= section_mm2), "")


def next_smaller(section_mm2: float, sections: list[float]) -> int:
    """Which of some sections, the smallest first, is the largest that is not above one; -1 where none is."""
    return bisect_right(sections, section_mm2 * SAME_SIZE) - 1
