"""Fuses and breakers: which rating protects a cable, when it opens under a current that changes, where it belongs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from math import inf, log
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ridesim.data import find
from ridesim.forms import csv_rows, each_row
from ridesim.forms.csv_rows import CsvRow
from ridesim.words import Finding, InputProblem, nearest, need_number

ABOVE_CONTINUOUS = 1.25
"""Rating over continuous current: NEC 210.20 and 215.3, and the 75 to 80 % of the fuse makers (from memory)."""
RATED_C = 25.0
"""Air in which a rating holds. [°C]"""
SETTLED = 0.95
"""Share of its final excess temperature at which a slow part opens, at the lowest current at which every part must open."""
BARE_M, SHEATHED_M = 0.178, 1.016
"""Longest way along the wire from its source to its protection, bare and sheathed or enclosed all the way: 33 CFR 183.455(b). [m]"""
FROM_MEMORY = (
    "opening times, breaking capacities, loss of rating in warm air, and the voltages of all but blades and strips are from memory: "
    "the part's own sheet decides"
)
_KIND_COLUMNS = dict.fromkeys(
    ("kind", "name", "rated_voltage_v", "breaking_a", "resets", "curve", "loss_per_k", "least_s", "ratings")
)
_TIME_COLUMNS = dict.fromkeys(("curve", "current_percent", "earliest_s", "latest_s", "from", "read"))


class Kind(NamedTuple):
    """A row of ``data/parts/protections.csv``."""

    kind: str
    name: str
    rated_voltage_v: float
    breaking_a: float
    resets: bool
    curve: str
    loss_per_k: float
    least_s: float
    ratings_a: tuple[float, ...]


class Edge(NamedTuple):
    """The quickest or the slowest part of a curve, as one body that warms and cools.

    Attributes
    ----------
    opens_at : float
        Excess temperature at which it opens, in units of that which its rated current holds. [-]
    log_shares, log_lags : ndarray
        Logarithms of current over rating and of its time constant there. [-], [ln s]
    """

    opens_at: float
    log_shares: NDArray[np.float64]
    log_lags: NDArray[np.float64]

    def lags(self, shares: NDArray[np.float64], least_s: float) -> NDArray[np.float64]:
        """Time constants at currents over the rating; beyond the ends those of the ends, and none with which it opens sooner than it can. [s]"""
        lags = np.exp(np.interp(np.log(np.maximum(shares, 1e-9)), self.log_shares, self.log_lags))
        squares = np.maximum(shares * shares, self.opens_at * (1.0 + 1e-9))
        return np.maximum(lags, least_s / np.log(squares / (squares - self.opens_at)))


class Protection(NamedTuple):
    """A fuse or breaker: its kind, a name of ``data/parts/protections.csv``, and its rating. [A]"""

    kind: str
    rating_a: float


class Choice(NamedTuple):
    """A rating [A], or None with the finding that says what cannot be met and what would."""

    rating_a: float | None
    finding: Finding | None = None


@lru_cache(maxsize=1)
def kinds() -> dict[str, Kind]:
    """Kinds of protection that are known, by name."""
    return {each.kind: each for each in each_row(csv_rows(find("protections", "parts"), _KIND_COLUMNS), _kind)}


def _kind(row: CsvRow) -> Kind:
    cells = row.cells
    return Kind(
        cells["kind"], cells["name"], row.number("rated_voltage_v", above=0.0), row.number("breaking_a", above=0.0), cells["resets"] == "yes",
        cells["curve"], row.number("loss_per_k", least=0.0, most=0.02), row.number("least_s", least=0.0),
        tuple(sorted(float(each) for each in cells["ratings"].split())),
    )  # fmt: skip


def kind_of(name: str) -> Kind:
    """A kind of protection by name.

    Raises
    ------
    InputProblem
        An unknown kind.
    """
    known = kinds()
    if name not in known:
        near = nearest(str(name), known)
        raise InputProblem(
            "the protection", "kind", f"“{name}”", "one of " + ", ".join(known), f"Nearest: {near}." if near else ""
        )
    return known[name]


@lru_cache(maxsize=1)
def edges() -> dict[str, tuple[Edge, Edge]]:
    """The quickest and the slowest part of each curve of ``data/parts/opening_times.csv``."""
    rows = each_row(csv_rows(find("opening_times", "parts"), _TIME_COLUMNS), _times)
    found = {}
    for curve in dict.fromkeys(name for name, *_ in rows):
        carried, *opening = sorted(row[1:] for row in rows if row[0] == curve)
        shares = [share for share, *_ in opening]
        quick = _edge(carried[0] ** 2, shares, [earliest for _, earliest, _ in opening])
        slow = _edge(SETTLED * shares[0] ** 2, shares, [latest for *_, latest in opening])
        found[curve] = (quick, slow)
    return found


def _times(row: CsvRow) -> tuple[str, float, float, float]:
    share = row.number("current_percent", above=0.0) / 100.0
    if row.cells["earliest_s"] == "":
        return row.cells["curve"], share, inf, inf
    return row.cells["curve"], share, row.number("earliest_s", above=0.0), row.number("latest_s", above=0.0)


def _edge(opens_at: float, shares: list[float], times: list[float]) -> Edge:
    """The body that opens at these times under these constant currents, cold at first."""
    lags = [time / log(share**2 / (share**2 - opens_at)) for share, time in zip(shares, times, strict=True)]
    return Edge(opens_at, np.log(shares), np.log(lags))


def _held_a(kind: Kind, rating_a: float, ambient_c: float) -> float:
    """What a rating comes to in other air than that of its sheet. [A]"""
    return float(rating_a * max(0.1, 1.0 - kind.loss_per_k * (ambient_c - RATED_C)))


def trips(
    protection: Protection,
    time_s: Sequence[float] | NDArray[np.float64],
    current_a: Sequence[float] | NDArray[np.float64],
    ambient_c: float = RATED_C,
) -> tuple[float, float]:
    """When a fuse or breaker opens under a current that changes.

    Parameters
    ----------
    protection : Protection
        Its kind and rating.
    time_s, current_a : array_like
        Moments that do not fall, and the currents at them, straight lines between; cold at the first. [s], [A]
    ambient_c : float
        Air around it. [°C]

    Returns
    -------
    tuple of float
        Moments at which the quickest and the slowest part open that its standard allows, infinite where they never do: both infinite, it
        holds; both finite, it opens; the first one alone, it may. [s]

    Raises
    ------
    InputProblem
        An unknown kind, no rating, lists of unlike length, a time that falls, a current that is no number.

    Notes
    -----
    One body a part: its excess temperature goes towards the square of current over rating, with a time constant that makes it open at
    the times of the table under constant currents; between the table's currents on straight lines in logarithms. It keeps its heat
    between pulses as long as its slowest time constant says. The times are from memory where ``data/parts/opening_times.csv`` says so.

    Examples
    --------
    >>> trips(Protection("blade", 30.0), [0.0, 3600.0], [24.0, 24.0])
    (inf, inf)
    >>> [round(each, 2) for each in trips(Protection("blade", 30.0), [0.0, 60.0], [60.0, 60.0])]
    [0.15, 5.0]
    """
    kind = kind_of(protection.kind)
    need_number("the protection", "rating_a", protection.rating_a, 0.0, 1e5, "A", above=True)
    need_number("the protection", "ambient_c", ambient_c, -60.0, 150.0, "°C")
    times, amps = np.asarray(time_s, dtype=float), np.asarray(current_a, dtype=float)
    _need_trace(times, amps)
    shares = np.abs(amps) / _held_a(kind, protection.rating_a, ambient_c)
    first, second = shares[:-1], shares[1:]
    squares = (first * first + first * second + second * second) / 3.0  # mean square of a straight line
    seconds = np.diff(times)
    earliest, latest = (_opens(edge, kind.least_s, squares, seconds, times) for edge in edges()[kind.curve])
    return min(earliest, latest), latest


def _need_trace(times: NDArray[np.float64], amps: NDArray[np.float64]) -> None:
    if times.shape != amps.shape or times.ndim != 1 or len(times) < 2:
        found = f"{times.size} moments, {amps.size} currents"
        raise InputProblem("the protection", "current_a", found, "two lists of one length, two points or more")
    if not (np.isfinite(times).all() and np.isfinite(amps).all()):
        raise InputProblem("the protection", "current_a", "a value that is no number", "finite numbers")
    if (np.diff(times) < 0.0).any():
        raise InputProblem("the protection", "time_s", "a time before the one in front of it", "times in order")


def _opens(
    edge: Edge, least_s: float, squares: NDArray[np.float64], seconds: NDArray[np.float64], times: NDArray[np.float64]
) -> float:
    """When a body opens; infinite where it never does. [s]"""
    lags = edge.lags(np.sqrt(squares), least_s)
    kept = np.exp(-seconds / lags)
    excess = 0.0
    for step, (towards, left) in enumerate(zip(squares.tolist(), kept.tolist(), strict=True)):
        after = towards + (excess - towards) * left
        if after >= edge.opens_at and seconds[step] > 0.0:
            return float(times[step] + lags[step] * log((towards - excess) / (towards - edge.opens_at)))
        excess = after
    return inf


def opening_s(protection: Protection, current_a: float, ambient_c: float = RATED_C) -> tuple[float, float]:
    """Earliest and latest time in which it opens a constant current, cold at first; infinite where it does not. [s]

    Raises
    ------
    InputProblem
        As :func:`trips`.
    """
    kind = kind_of(protection.kind)
    need_number("the protection", "current_a", current_a, 0.0, 1e6, "A")
    share = current_a / _held_a(kind, protection.rating_a, ambient_c)
    quick, slow = (_constant_s(edge, share, kind.least_s) for edge in edges()[kind.curve])
    return quick, slow


def _constant_s(edge: Edge, share: float, least_s: float) -> float:
    if share * share <= edge.opens_at:
        return inf
    return float(edge.lags(np.array([share]), least_s)[0] * log(share**2 / (share**2 - edge.opens_at)))


def choose(continuous_a: float, ampacity_a: float, volts: float, short_circuit_a: float, kind: str) -> Choice:
    """The smallest standard rating that carries a current and protects its cable.

    Parameters
    ----------
    continuous_a : float
        Current that flows for minutes on end. [A]
    ampacity_a : float
        What the cable carries where it lies. [A]
    volts : float
        Highest d.c. voltage: of the pack on its charger, not its name. [V]
    short_circuit_a : float
        Most that a dead short can draw through it. [A]
    kind : str
        A kind of ``data/parts/protections.csv``, such as ``"blade"``, ``"breaker"``, ``"class-t"``.

    Returns
    -------
    Choice
        The rating, at least 1.25 times the continuous current and at most the ampacity; or None with the finding that says why not.

    Raises
    ------
    InputProblem
        An unknown kind, a value that is no number.

    Examples
    --------
    >>> choose(40.0, 108.0, 43.2, 1400.0, "breaker").rating_a
    50.0
    >>> choose(4.0, 20.0, 43.2, 900.0, "blade").finding.code
    'protection-voltage'
    """
    part = kind_of(kind)
    for name, value, unit in (("continuous_a", continuous_a, "A"), ("ampacity_a", ampacity_a, "A")):
        need_number("the protection", name, value, 0.0, 1e5, unit)
    need_number("the protection", "volts", volts, 0.0, 1500.0, "V", above=True)
    need_number("the protection", "short_circuit_a", short_circuit_a, 0.0, 1e6, "A")
    least = ABOVE_CONTINUOUS * continuous_a
    rating = next((each for each in part.ratings_a if each >= least * (1.0 - 1e-9)), None)
    refused = next(too_weak(kind, volts, short_circuit_a), None) or _no_rating(part, rating, least, ampacity_a)
    return Choice(None, refused) if refused else Choice(rating)


def too_weak(kind: str, volts: float, short_circuit_a: float) -> Iterator[Finding]:
    """A voltage or a short circuit that a kind does not open.

    Raises
    ------
    InputProblem
        An unknown kind.
    """
    part = kind_of(kind)
    others = ", ".join(
        each.kind for each in kinds().values() if each.rated_voltage_v >= volts and each.breaking_a >= short_circuit_a
    )
    instead = (
        f" What would: {others}."
        if others
        else " No kind known here would; several strings, each with its own fuse, draw less each."
    )
    if part.rated_voltage_v < volts:
        text = (
            f"A {part.name} is rated for {part.rated_voltage_v:g} V d.c.; on its charger this circuit stands at {volts:.1f} V, and a fuse that is "
            f"asked to open more than its rating goes on burning as an arc.{instead}"
        )
        numbers = {"rated_voltage_v": part.rated_voltage_v, "full_voltage_v": volts}
        yield Finding("protection-voltage", "stop", text, numbers)
    if part.breaking_a < short_circuit_a:
        text = (
            f"A dead short can draw {short_circuit_a:.0f} A here; a {part.name} breaks {part.breaking_a:.0f} A (from memory) and may burst or weld "
            f"with more.{instead}"
        )
        numbers = {"breaking_a": part.breaking_a, "short_circuit_a": short_circuit_a}
        yield Finding("protection-breaking", "stop", text, numbers)


def _no_rating(part: Kind, rating: float | None, least: float, ampacity_a: float) -> Finding | None:
    """No rating between the current and the cable."""
    if rating is None:
        most = part.ratings_a[-1]
        text = (
            f"It takes {least:.0f} A or more ({ABOVE_CONTINUOUS:g} times the continuous current); the largest {part.name} is {most:g} A. "
            "Another kind, or a lower limit at the controller."
        )
        return Finding("protection-rating", "stop", text, {"least_a": least, "largest_a": most})
    if rating > ampacity_a * (1.0 + 1e-9):
        text = (
            f"The smallest {part.name} that holds is {rating:g} A ({ABOVE_CONTINUOUS:g} times the continuous current is {least:.1f} A); the cable "
            f"carries {ampacity_a:.0f} A. A thicker cable, one of better insulation or out of its bundle, or less current. (33 CFR 183.455 lets a "
            "fuse below 50 V have 1.5 times the ampacity; here it may not.)"
        )
        return Finding("protection-above-cable", "stop", text, {"rating_a": rating, "ampacity_a": ampacity_a})
    return None


def in_warm_air(protection: Protection, continuous_a: float, ambient_c: float) -> Iterator[Finding]:
    """A rating that does not hold the current of every day in the air that is round it.

    Raises
    ------
    InputProblem
        An unknown kind.
    """
    part, held = kind_of(protection.kind), _held_a(kind_of(protection.kind), protection.rating_a, ambient_c)
    if held < continuous_a * (1.0 - 1e-9):
        text = (
            f"A {part.name} of {protection.rating_a:g} A holds {held:.0f} A in air of {ambient_c:.0f} °C (from memory); {continuous_a:.0f} A flow "
            "for minutes on end. A magnetic breaker, a larger rating with the cable for it, or a cooler place."
        )
        yield Finding("protection-in-warm-air", "warning", text, {"held_a": held, "continuous_a": continuous_a})


def position(name: str, distance_m: float, sheathed: bool) -> Iterator[Finding]:
    """Where the protection of a circuit sits along its wire, measured from the source: by the distances of 33 CFR 183.455.

    Raises
    ------
    InputProblem
        A distance that is none.
    """
    most, how = (SHEATHED_M, "sheathed") if sheathed else (BARE_M, "bare")
    need_number("the protection", "protection_distance_m", distance_m, 0.0, 1000.0, "m")
    if distance_m > most:
        text = (
            f"The protection of “{name}” sits {1000 * distance_m:.0f} mm from its source: up to there nothing opens a short. {how.capitalize()} "
            f"wire: {1000 * most:.0f} mm at most (33 CFR 183.455). Move it to the source."
        )
        yield Finding("protection-position", "warning", text, {"distance_m": distance_m, "most_m": most})


def as_a_switch(name: str, kind: str) -> Iterator[Finding]:
    """A breaker that is reset may not be the switch of every day."""
    if kind_of(kind).resets:
        text = (
            f"The breaker of “{name}” is no switch: it is made to open a fault, and its contacts wear each time they part. Switch by the key "
            "and isolate by the isolator, both without current; test the breaker now and then, replace it after it has opened a short circuit."
        )
        yield Finding("breaker-as-a-switch", "advice", text)
