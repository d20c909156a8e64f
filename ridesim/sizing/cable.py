"""Cable: what it carries, what it drops, what a short circuit leaves of it, how warm it gets over a day."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ridesim.data import find
from ridesim.forms import csv_rows, each_row
from ridesim.forms.csv_rows import CsvRow
from ridesim.physics.cable import (
    adiabatic_constant,
    ambient_share,
    conductor_after,
    conductor_time,
    voltage_drop,
    withstand_time,
)
from ridesim.vehicle.cable import INSULATIONS_C, awg_mm2, cable_sizes, next_smaller, ohm_per_m
from ridesim.words import InputProblem, is_number, need_number, shown

BASE_C = 30.0
"""Air of both ampacity tables. [°C]"""
BUNDLED = ((25, 0.40), (7, 0.50), (4, 0.60), (3, 0.70))
"""Loaded conductors from which on a share of the ampacity is left: US Coast Guard guideline, asked for from 50 V on, here at any voltage."""
ADIABATIC_S = 5.0
"""Short circuits up to this long are over before heat leaves the copper: IEC 60364-4-43, from memory. [s]"""
_METRIC_C = 70.0
"""Insulation whose table goes by metric sections. [°C]"""
_GAUGE_C = tuple(int(each) for each in INSULATIONS_C if each != _METRIC_C)
_FINAL_C = {105.0: 160.0, 125.0: 250.0, 200.0: 350.0}
"""Insulation up to this temperature and what it stands for seconds: thermoplastic, cross-linked, silicone, IEC 60364-5-54 as quoted. [°C]"""


class Ampacities(NamedTuple):
    """Ampacity of one insulation [A] by section [mm²], the smallest first."""

    sections_mm2: list[float]
    amps: list[float]


@lru_cache(maxsize=1)
def ampacities() -> dict[float, Ampacities]:
    """The tables, by the insulation's temperature: 33 CFR 183.425 by gauge, IEC 60364-5-52 by section for 70 °C."""
    columns = ["awg", *(f"at_{each}_a" for each in _GAUGE_C)]
    rows = each_row(csv_rows(find("ampacities", "parts"), dict.fromkeys(columns)), _gauge_row)
    found = {
        float(insulation): Ampacities([section for section, _ in rows], [amps[place] for _, amps in rows])
        for place, insulation in enumerate(_GAUGE_C)
    }
    metric = [(each.section_mm2, each.ampacity_a) for each in cable_sizes() if each.ampacity_a is not None]
    found[_METRIC_C] = Ampacities([section for section, _ in metric], [amps for _, amps in metric])
    return dict(sorted(found.items()))


def _gauge_row(row: CsvRow) -> tuple[float, list[float]]:
    return awg_mm2(row.cells["awg"]), [row.number(f"at_{each}_a", above=0.0) for each in _GAUGE_C]


def ambient_factor(insulation_c: float, base_c: float, ambient_c: float) -> float:
    """What air of another temperature leaves of a cable's ampacity.

    Parameters
    ----------
    insulation_c : float
        Highest temperature of its insulation. [°C]
    base_c, ambient_c : float
        Air of the table, and the air around it. [°C]

    Returns
    -------
    float
        √((T_c - T_a)/(T_c - T_0)): above 1 where it is cooler than in the table. [-]

    Raises
    ------
    InputProblem
        Air that is as hot as the insulation stands, or hotter.

    Examples
    --------
    >>> round(ambient_factor(105, 30, 50), 2)
    0.86
    """
    need_number("the cable", "insulation_c", insulation_c, -40.0, 400.0, "°C")
    for name, value in (("base_c", base_c), ("ambient_c", ambient_c)):
        need_number("the cable", name, value, -60.0, 400.0, "°C")
        if value >= insulation_c:
            expected = f"air cooler than the {insulation_c:g} °C that the insulation stands"
            raise InputProblem("the cable", name, f"{value:g} °C", expected)
    return float(ambient_share(insulation_c, base_c, ambient_c))


def bundle_factor(bundled: int) -> float:
    """What a bundle of so many loaded conductors leaves of each one's ampacity.

    Raises
    ------
    InputProblem
        Not a number from 1 on.
    """
    need_number("the cable", "bundled", bundled, 1, 1000)
    return next((share for least, share in BUNDLED if bundled >= least), 1.0)


def ampacity_a(section_mm2: float, insulation_c: float, ambient_c: float, bundled: int) -> float:
    """Current that a cable carries for hours.

    Parameters
    ----------
    section_mm2 : float
        Copper; between two sizes of the table the smaller one counts. [mm²]
    insulation_c : float
        Temperature that its insulation stands, printed on it: 60, 70, 75, 80, 90, 105, 125 or 200. [°C]
    ambient_c : float
        Air around it. [°C]
    bundled : int
        Loaded conductors that lie together; out and back are two.

    Returns
    -------
    float
        [A]

    Raises
    ------
    InputProblem
        Insulation without a table, a section below the table's, air hotter than the insulation stands.

    References
    ----------
    33 CFR 183.425, Table 5; for 70 °C IEC 60364-5-52, method G: single cores in air of 30 °C. In a closed duct it carries less.

    Examples
    --------
    >>> round(ampacity_a(awg_mm2(6), 105, 50, 2), 1)
    102.8
    """
    table = ampacities().get(insulation_c) if is_number(insulation_c) else None
    if table is None:
        expected = "one of " + ", ".join(f"{each:g}" for each in ampacities()) + " °C, as printed on the cable"
        raise InputProblem("the cable", "insulation_c", shown(insulation_c, "°C"), expected)
    need_number("the cable", "section_mm2", section_mm2, 0.0, 1000.0, "mm²", above=True)
    place = next_smaller(section_mm2, table.sections_mm2)
    if place < 0:
        expected = f"{table.sections_mm2[0]:.2g} mm² or more, where the table of {insulation_c:g} °C begins"
        raise InputProblem("the cable", "section_mm2", f"{section_mm2:g} mm²", expected)
    return table.amps[place] * ambient_factor(insulation_c, BASE_C, ambient_c) * bundle_factor(bundled)


def resistance_ohm(section_mm2: float, length_m: float, temperature_c: float) -> float:
    """Resistance of one flexible copper conductor.

    Parameters
    ----------
    section_mm2 : float
        [mm²]
    length_m : float
        Of this conductor; out and back are twice the distance. [m]
    temperature_c : float
        Of the conductor. [°C]

    Returns
    -------
    float
        The most that IEC 60228 allows class 5 of this size. [ohm]

    Raises
    ------
    InputProblem
        No length, no section.

    Examples
    --------
    >>> round(resistance_ohm(16, 1000, 20), 3)
    1.21
    """
    need_number("the cable", "length_m", length_m, 0.0, 10_000.0, "m", above=True)
    need_number("the cable", "temperature_c", temperature_c, -100.0, 500.0, "°C")
    return length_m * ohm_per_m(section_mm2, temperature_c)


def drop_v(section_mm2: float, length_m: float, current_a: float, temperature_c: float) -> float:
    """Volts that a cable takes, out and back; ``length_m`` is one way. [V]

    Raises
    ------
    InputProblem
        As :func:`resistance_ohm`.
    """
    resistance_ohm(section_mm2, length_m, temperature_c)
    return float(voltage_drop(current_a, length_m, ohm_per_m(section_mm2, temperature_c)))


def withstand_s(section_mm2: float, insulation_c: float, current_a: float) -> float:
    """How long a cable, as warm as its insulation stands for hours, outlives a short circuit.

    Parameters
    ----------
    section_mm2 : float
        [mm²]
    insulation_c : float
        [°C]
    current_a : float
        [A]

    Returns
    -------
    float
        (k S/I)²; beyond 5 s it stands longer than this. [s]

    Raises
    ------
    InputProblem
        No current, no section, insulation beyond 200 °C.
    """
    need_number("the cable", "section_mm2", section_mm2, 0.0, 1000.0, "mm²", above=True)
    need_number("the cable", "current_a", current_a, 0.0, 1e6, "A", above=True)
    need_number("the cable", "insulation_c", insulation_c, 0.0, max(_FINAL_C), "°C")
    final = next(end for most, end in _FINAL_C.items() if insulation_c <= most)
    return float(withstand_time(section_mm2, current_a, adiabatic_constant(insulation_c, final)))


def temperatures_c(
    section_mm2: float,
    insulation_c: float,
    ambient_c: float,
    bundled: int,
    time_s: Sequence[float] | NDArray[np.float64],
    current_a: Sequence[float] | NDArray[np.float64],
) -> NDArray[np.float64]:
    """How warm a cable gets under a current that changes, cold at the beginning.

    Parameters
    ----------
    section_mm2, insulation_c, ambient_c, bundled
        As of :func:`ampacity_a`.
    time_s, current_a : array_like
        Moments, and the currents at them, straight lines between. [s], [A]

    Returns
    -------
    ndarray
        Conductor at each moment. [°C]

    Raises
    ------
    InputProblem
        As :func:`ampacity_a`.
    """
    ampacity = ampacity_a(section_mm2, insulation_c, ambient_c, bundled)
    at_limit = ohm_per_m(section_mm2, insulation_c)
    lag = conductor_time(section_mm2, at_limit, ampacity, insulation_c - ambient_c)
    warm = [float(ambient_c)]
    loads = np.asarray(current_a, dtype=float) / ampacity
    first, last = loads[:-1], loads[1:]
    steady = np.sqrt((first * first + first * last + last * last) / 3.0)  # what heats as much as the straight line
    for seconds, load in zip(np.diff(time_s).tolist(), steady.tolist(), strict=True):
        warm.append(conductor_after(warm[-1], seconds, load, float(ambient_c), float(insulation_c), lag))
    return np.array(warm)
