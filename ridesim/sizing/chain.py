"""Roller chain: links and centre distance, does it fit with its adjuster, does it hold the pull, what it is rated for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import asin, ceil, cos, inf, pi, sin, sqrt, tan
from typing import NamedTuple

from ridesim.data import find
from ridesim.forms import csv_rows, each_row
from ridesim.forms.csv_rows import CsvRow
from ridesim.ride.given import AnyBuild, given_build
from ridesim.ride.steady.pull import pull_arrays
from ridesim.words import InputProblem, InShort, Rows, nearest, need_number

FEWEST_TEETH = 7
"""A chain does not lie round fewer."""
WEAR = 0.02
"""A chain longer than new by so much is replaced: a motorcycle's manual; industrial drives go to 0.03 (handbooks, from memory)."""
SAG = (0.02, 0.04)
"""Sag of the lower span over its length at the tightest spot: chain makers' manuals (from memory)."""
LEAST_WRAP_DEGREES = 120.0
SAFE = 8.0
"""Least tensile strength over the largest pull, slow drives: handbooks, from memory."""
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
    need_number("the chain", "centre_pitches", centre_pitches, _touching(n1, n2), 1e5, above=True)
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
    if found <= _touching(n1, n2):
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
    low, high = _touching(n1, n2), 0.5 * links
    if _links_exact(low, n1, n2) > links:
        centre_distance(links, n1, n2)  # says that it is too short
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _links_exact(middle, n1, n2) < links else (low, middle)
    return low


def _links_exact(centre: float, n1: float, n2: float) -> float:
    lean = asin(min(1.0, (_radius(n2) - _radius(n1)) / centre))
    span = centre * cos(lean)
    return 2.0 * span + n1 * (pi - 2.0 * lean) / (2.0 * pi) + n2 * (pi + 2.0 * lean) / (2.0 * pi)


def _radius(teeth: float) -> float:
    """Of the pitch circle. [pitches]"""
    return 0.5 / sin(pi / teeth)


def _touching(n1: float, n2: float) -> float:
    """Centre distance at which the tips of the teeth touch, half a pitch beyond the pitch circles about. [pitches]"""
    return _radius(n1) + _radius(n2) + 0.5


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


@dataclass(frozen=True, repr=False)
class ChainFit(InShort):
    """A chain between two sprockets, with what its adjuster allows.

    Attributes
    ----------
    chain : Chain
    motor_teeth, wheel_teeth : int
    links : int
        The least even number that goes round at the stated distance.
    centre_mm : float
        Distance at which it is tight.
    move_mm : float
        By how much the wheel moves back from the stated distance for that.
    travel_mm : float or None
        What the adjuster has.
    wear_mm : float
        Travel that wear to the motorcycle's limit takes.
    wrap_degrees : float
        Round the small sprocket.
    sag_mm : tuple of float
        Least and most sag of the lower span at the tightest spot.
    stall_pull_n : float
        Largest pull of the chain, at a stand and full throttle.
    safety : float
        Least tensile strength over that.
    """

    chain: Chain
    motor_teeth: int
    wheel_teeth: int
    links: int
    centre_mm: float
    move_mm: float
    travel_mm: float | None
    wear_mm: float
    wrap_degrees: float
    sag_mm: tuple[float, float]
    stall_pull_n: float
    safety: float

    @property
    def fits(self) -> bool | None:
        """Whether the adjuster reaches that distance; None without its travel."""
        return None if self.travel_mm is None else self.move_mm <= self.travel_mm

    @property
    def sentence(self) -> str:
        """Whether it fits, in one sentence."""
        how = f"{self.links} links of {self.chain.name} go round at {self.centre_mm:.1f} mm, {self.move_mm:.1f} mm further back than stated"
        if self.travel_mm is None:
            return f"{how}; state drive.adjuster_travel_mm to see whether the adjuster reaches that."
        if not self.fits:
            short = self.move_mm - self.travel_mm
            return (
                f"No even number of links fits: {how}, {short:.1f} mm beyond the adjuster's {self.travel_mm:g} mm. An idler, another tooth, or the "
                "motor moved by as much."
            )
        left = self.travel_mm - self.move_mm
        enough = (
            ""
            if left >= self.wear_mm
            else f", less than the {self.wear_mm:.1f} that wear to 2 % takes: replace it earlier"
        )
        return f"It fits: {how}; {left:.1f} mm of travel are left{enough}."

    def _short(self) -> tuple[str, Rows]:
        low, high = self.sag_mm
        return f"Chain {self.chain.name}, {self.motor_teeth} to {self.wheel_teeth} teeth", [
            ("fit", self.sentence),
            ("wrap", f"{self.wrap_degrees:.0f}° round the small sprocket, {LEAST_WRAP_DEGREES:g}° at least"),
            (
                "runs unevenly by",
                f"{100.0 * chordal_variation(self.motor_teeth):.1f} % of its speed at each tooth of {self.motor_teeth}",
            ),
            ("sag", f"{low:.0f} to {high:.0f} mm in the middle of the lower span, at the tightest spot"),
            (
                "largest pull",
                f"{self.stall_pull_n:.0f} N, the strength is {self.safety:.1f} times that ({SAFE:g} at least, from memory)",
            ),
            (
                "caution",
                "guard it; clothing, hair and fingers away; clip's closed end forward; no welding beside it or the batteries",
            ),
        ]


def chain_fit(build: AnyBuild) -> ChainFit:
    """Whether a build's chain fits, and whether it holds.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file; ``centre_distance_mm`` is the shortest that the adjuster gives.

    Returns
    -------
    ChainFit

    Raises
    ------
    InputProblem
        No chain or no centre distance stated, an unknown chain, sprockets that touch.

    Examples
    --------
    >>> print(chain_fit("heron_36v").sentence)
    It fits: 110 links of 08B go round at 480.7 mm, 0.7 mm further back than stated; 24.3 mm of travel are left.
    """
    build = given_build(build)
    drive = build.drive
    for key in ("chain", "centre_distance_mm"):
        if getattr(drive, key) is None:
            raise InputProblem(
                build.name, f"drive.{key}", "nothing", "the chain's size and the distance between the centres"
            )
    chain, stated = chain_of(str(drive.chain)), float(drive.centre_distance_mm or 0.0)
    n1, n2, pitch = drive.motor_teeth, drive.wheel_teeth, chain.pitch_mm
    need_teeth(n1, n2)
    if stated / pitch <= _touching(n1, n2):
        expected = f"more than {_touching(n1, n2) * pitch:.0f} mm, or the sprockets of {n1} and {n2} teeth touch"
        raise InputProblem(build.name, "drive.centre_distance_mm", f"{stated:g} mm", expected)
    even = 2 * ceil(0.5 * _links_exact(stated / pitch, n1, n2) - 1e-9)
    centre = pitch * centre_distance_exact(even, n1, n2)
    lean = asin((_radius(n2) - _radius(n1)) * pitch / centre)
    span = centre * cos(lean)
    pull = stall_pull_n(build, pitch)
    return ChainFit(
        chain=chain,
        motor_teeth=n1,
        wheel_teeth=n2,
        links=even,
        centre_mm=centre,
        move_mm=centre - stated,
        travel_mm=drive.adjuster_travel_mm,
        wear_mm=0.5 * WEAR * even * pitch,
        wrap_degrees=180.0 - 2.0 * abs(lean) * 180.0 / pi,
        sag_mm=(SAG[0] * span, SAG[1] * span),
        stall_pull_n=pull,
        safety=chain.strength_n / pull if pull > 0.0 else inf,
    )


def stall_pull_n(build: AnyBuild, pitch_mm: float) -> float:
    """Pull of the last stage's chain at a stand and full throttle: the pull at the rim, times the wheel's radius over the sprocket's. [N]"""
    build = given_build(build)
    at_rim = float(pull_arrays(build, points=2)[1][0])
    sprocket = 0.5 * pitch_diameter_mm(pitch_mm, build.drive.wheel_teeth) / 1000.0
    return at_rim * build.vehicle.rolling_radius_m / sprocket
