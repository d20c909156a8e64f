"""Roller chain: sizes, links and centre distance, sprockets, what it is rated for."""

from __future__ import annotations

from functools import lru_cache
from math import asin, cos, pi, sin, sqrt, tan
from typing import NamedTuple

from ridesim.data import find
from ridesim.forms import csv_rows, each_row
from ridesim.forms.csv_rows import CsvRow
from ridesim.words import InputProblem, nearest, need_number

FEWEST_TEETH = 7
"""A chain does not lie round fewer."""
HORSEPOWER_W = 745.7
_ROLLER_LIMIT = {"25": 29.0, "35": 29.0, "41": 3.4, "40": 17.0, "50": 17.0, "60": 17.0}
_COLUMNS = {
    "name": None, "pitch_mm": None, "inner_width_mm": None, "roller_mm": None, "strength_n": None, "kg_per_m": None, "rating": "",
}  # fmt: skip


class Chain(NamedTuple):
    """A row of ``data/parts/chains.csv``; ``rating`` is the ANSI number whose power rating stands for it, empty where none does."""

    name: str
    pitch_mm: float
    inner_width_mm: float
    roller_mm: float
    strength_n: float
    kg_per_m: float
    rating: str


@lru_cache(maxsize=1)
def chains() -> dict[str, Chain]:
    """The chain sizes that are known, by name."""
    rows = each_row(csv_rows(find("chains", "parts"), _COLUMNS), _chain)
    return {each.name: each for each in rows}


def _chain(row: CsvRow) -> Chain:
    pitch, width, roller, strength, mass = (row.number(column, above=0.0) for column in list(_COLUMNS)[1:-1])
    return Chain(row.cells["name"], pitch, width, roller, strength, mass, row.cells["rating"])


def chain_of(name: str) -> Chain:
    """A chain size by name; a suffix of one letter, such as the H of ``428H``, changes no dimension.

    Raises
    ------
    InputProblem
        An unknown chain.
    """
    known, bare = chains(), name.strip().upper()
    found = known.get(bare) or known.get(bare[:-1])
    if found is None:
        near = nearest(bare, known)
        raise InputProblem(
            "the chain", "chain", f"“{name}”", "one of " + ", ".join(known), f"Nearest: {near}." if near else ""
        )
    return found


def need_teeth(n1: float, n2: float) -> None:
    """Refuse sprockets round which no chain lies.

    Raises
    ------
    InputProblem
        Fewer than seven teeth.
    """
    for name, teeth in (("motor_teeth", n1), ("wheel_teeth", n2)):
        need_number("the chain", name, teeth, FEWEST_TEETH, 400)


def links(centre_pitches: float, n1: float, n2: float) -> float:
    """Length of a chain in links.

    Parameters
    ----------
    centre_pitches : float
        Distance of the centres over the pitch.
    n1, n2 : float
        Teeth of both sprockets.

    Returns
    -------
    float
        L = 2 C + (N1 + N2)/2 + ((N2 - N1)/2π)²/C; a chain has a whole number, an even one without an offset link.

    Raises
    ------
    InputProblem
        Sprockets that touch, or with fewer than seven teeth.

    References
    ----------
    Shigley, Mechanical Engineering Design, equation 17-34.
    """
    need_teeth(n1, n2)
    need_number("the chain", "centre_pitches", centre_pitches, touching(n1, n2), 1e5, above=True)
    return 2.0 * centre_pitches + 0.5 * (n1 + n2) + ((n2 - n1) / (2.0 * pi)) ** 2 / centre_pitches


def centre_distance(links: float, n1: float, n2: float) -> float:
    """Centre distance of a chain of so many links, by the inverse of :func:`links`. [pitches]

    Raises
    ------
    InputProblem
        A chain too short to go round.

    References
    ----------
    Shigley, Mechanical Engineering Design, equation 17-35.
    """
    need_teeth(n1, n2)
    straight = 0.25 * (links - 0.5 * (n1 + n2))
    under = straight * straight - 0.5 * ((n2 - n1) / (2.0 * pi)) ** 2
    found = straight + sqrt(under) if straight > 0.0 and under >= 0.0 else 0.0
    if found <= touching(n1, n2):
        raise InputProblem(
            "the chain", "links", f"{links:g}", f"enough to go round {n1:g} and {n2:g} teeth that do not touch"
        )
    return found


def centre_distance_exact(links: float, n1: float, n2: float) -> float:
    """Centre distance by the tangents to both pitch circles. [pitches]

    Raises
    ------
    InputProblem
        As :func:`centre_distance`.

    Notes
    -----
    Round a sprocket of N teeth lies one link for each 2π/N of its wrap; the two straight spans are tangents to the pitch circles,
    whose radius is p/(2 sin π/N).
    """
    low, high = touching(n1, n2), 0.5 * links
    if links_exact(low, n1, n2) > links:
        centre_distance(links, n1, n2)  # says that it is too short
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if links_exact(middle, n1, n2) < links else (low, middle)
    return low


def links_exact(centre: float, n1: float, n2: float) -> float:
    """Links of a chain round two pitch circles so many pitches apart: the inverse of :func:`centre_distance_exact`."""
    lean = asin(min(1.0, (pitch_radius(n2) - pitch_radius(n1)) / centre))
    span = centre * cos(lean)
    return 2.0 * span + n1 * (pi - 2.0 * lean) / (2.0 * pi) + n2 * (pi + 2.0 * lean) / (2.0 * pi)


def pitch_radius(teeth: float) -> float:
    """Of the pitch circle. [pitches]"""
    return 0.5 / sin(pi / teeth)


def touching(n1: float, n2: float) -> float:
    """Centre distance at which the tips of the teeth touch, half a pitch beyond the pitch circles about. [pitches]"""
    return pitch_radius(n1) + pitch_radius(n2) + 0.5


def pitch_diameter_mm(pitch_mm: float, teeth: float) -> float:
    """Diameter of a sprocket's pitch circle, p/sin(π/N): ISO 606, Annex A. [mm]"""
    return pitch_mm / sin(pi / teeth)


def chordal_variation(teeth: float) -> float:
    """Variation of the chain's speed over a tooth, as a share: (π/N) (1/sin(π/N) - 1/tan(π/N)). Shigley, equation 17-31."""
    angle = pi / teeth
    return angle * (1.0 / sin(angle) - 1.0 / tan(angle))


def rated_power_w(chain: str, teeth: float, rpm: float) -> float:
    """Power that a single strand is rated for.

    Parameters
    ----------
    chain : str
        Its name; the ANSI number of about its pitch and width stands for it (``data/parts/chains.csv``).
    teeth : float
        Of the small sprocket.
    rpm : float
        Its speed. [turns a minute]

    Returns
    -------
    float
        The lesser of link plates and rollers, for 15 000 hours, 100 links, good lubrication and an even load. [W]

    Raises
    ------
    InputProblem
        A chain without a rating, fewer than seven teeth, a speed that is none.

    References
    ----------
    American Chain Association: H1 = 0.004 N^1.08 n^0.9 p^(3 - 0.07 p), 0.0022 for No. 41; H2 = 1000 K N^1.5 p^0.8/n^1.5, in horsepower and inches.
    """
    number = chain_of(chain).rating
    if not number:
        raise InputProblem(
            "the chain", "chain", f"“{chain}”", "a chain with a rating; of this one the strength alone is known"
        )
    need_teeth(teeth, FEWEST_TEETH)
    need_number("the chain", "rpm", rpm, 0.0, 1e5, above=True)
    pitch = chains()[number].pitch_mm / 25.4
    plates = (0.0022 if number == "41" else 0.004) * teeth**1.08 * rpm**0.9 * pitch ** (3.0 - 0.07 * pitch)
    rollers = 1000.0 * _ROLLER_LIMIT[number] * teeth**1.5 * pitch**0.8 / rpm**1.5
    return float(HORSEPOWER_W * min(plates, rollers))


def pull_n(power_w: float, speed_mps: float) -> float:
    """Pull of a chain that carries a power at a speed. [N]

    Raises
    ------
    InputProblem
        A speed that is none.
    """
    need_number("the chain", "speed_mps", speed_mps, 0.0, 1e4, "m/s", above=True)
    return power_w / speed_mps
