"""How sure an answer is: draws of everything that is unsure about builds and day, ridden as one batch."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any
from zlib import crc32

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from ridesim.choose.findings.places import slopes
from ridesim.choose.wishes import FINISHES, RESERVE, SPEED, SPEED_SHARE, STARTS, WINDING
from ridesim.day import Day
from ridesim.forms import END_SCORE, Unsure, correlation_matrix, places_of, value_at, value_at_score, with_row
from ridesim.physics.road import air_force, rolling_force
from ridesim.ride.batch import Rides, ride_all
from ridesim.ride.parallel import go_on, in_parallel
from ridesim.ride.result import Ride
from ridesim.ride.steady.many import Steady
from ridesim.ride.steady.pull import KMH
from ridesim.ride.steady.range import drained_km
from ridesim.vehicle import Build
from ridesim.words import InputProblem, Uncertain, need_number

FloatArray = NDArray[np.float64]
Shares = Mapping[str, NDArray[np.bool_]]

DRAWS = 256
LEAST_DRAWS, MOST_DRAWS = 32, 4096
BAND = 0.90
"""Bands hold this share of the draws."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """What the draws make of one candidate; every array has one value a draw.

    Attributes
    ----------
    figures : dict of str to ndarray
        The outcome's figures, and those of a steady ride.
    wishes : dict of str to ndarray of bool
        Whether each wish of the day holds, by its name.
    scores : ndarray, shape (n, k)
        Standard normal scores of what is unsure about the candidate and its day.
    causes : tuple of str, length k
        Their dotted keys.
    rides : Rides
        All rides of the batch.
    first : int
        Place of this candidate's first ride in it.
    left_out : int
        Draws whose values exclude each other, so that they were not ridden.
    """

    figures: dict[str, FloatArray]
    wishes: Shares
    scores: FloatArray
    causes: tuple[str, ...]
    rides: Rides | None = None
    first: int = 0
    left_out: int = 0

    def ridden(self, count: int) -> list[Ride]:
        """The rides of the first draws."""
        return [] if self.rides is None else self.rides[self.first : self.first + min(count, len(self.scores))]

    @cached_property
    def all_hold(self) -> NDArray[np.bool_]:
        """Whether every wish holds."""
        return np.asarray(np.all(list(self.wishes.values()), axis=0))

    @property
    def share_error(self) -> float:
        """Two standard errors of the share of draws that hold every wish, as of independent draws: what more draws could change it by."""
        share, count = float(self.all_hold.mean()), len(self.scores)
        return 2.0 * float(np.sqrt(max(share * (1.0 - share), 1.0 / count) / count))

    def band(self, figure: str, value: float) -> Uncertain:
        """A likely value between the ends of the draws that have the figure."""
        return band_about(value, self.figures[figure])

    @cached_property
    def hangs_on(self) -> dict[str, float]:
        """How far the distance to empty moves when one cause alone is at the end of its width: by dotted key, largest first. [km]"""
        moves = END_SCORE * np.abs(self.slopes(self.figures["to_empty_km"]))
        return {self.causes[place]: float(moves[place]) for place in np.argsort(-moves)}

    def slopes(self, figure: FloatArray) -> FloatArray:
        """How much a figure grows with each score, shape (k,): linear regression.

        With a trace of ridge, so that few draws do not make large numbers of small causes.
        """
        z = self.scores
        return np.asarray(np.linalg.solve(z.T @ z + np.eye(z.shape[1]), z.T @ (figure - figure.mean())))


def cause_in_words(parts: Sequence[Unsure], key: str) -> str:
    """What a key of a build or a day means, in few words; of a thing in a list, with its name."""
    part, meaning = next((part, each.meaning) for part in parts for each in part.in_play() if each.place == key)
    words = re.split("[:,;(]", meaning)[0].strip()
    place, in_list, _ = key.rpartition("].")
    thing = value_at(part, f"{place}]") if in_list else None
    name = getattr(thing, "item", None) or getattr(thing, "name", None)
    return f"{words} (“{name}”)" if name else words


def band_about(value: float, numbers: FloatArray) -> Uncertain:
    """A likely value between the ends of what is drawn; numbers that are not finite do not count."""
    numbers = numbers[np.isfinite(numbers)]
    if not len(numbers):
        return Uncertain.over([value])
    low, high = np.quantile(numbers, [0.5 - BAND / 2.0, 0.5 + BAND / 2.0])
    return Uncertain(value, min(value, float(low)), max(value, float(high)))


def drawn_rides(builds: Sequence[Build], day: Day, count: int, speeds_kmh: Sequence[float]) -> list[Drawn]:
    """Ride every candidate with the same draws.

    Parameters
    ----------
    builds : sequence of Build
        The candidates.
    day : Day
        What they all do.
    count : int
        Draws, 32 to 4096.
    speeds_kmh : sequence of float
        Speed of each candidate's steady ride. [km/h]

    Returns
    -------
    list of Drawn
        One a candidate.

    Raises
    ------
    InputProblem
        Another number of draws; fewer than half of the draws that can be built.
    """
    need_number("the comparison", "draws (or 0)", count, LEAST_DRAWS, MOST_DRAWS)
    if count != int(count):
        raise InputProblem("the comparison", "draws", f"{count:g}", "a whole number")
    own_scores = [_scores(part.widths, count) for part in (day, *builds)]
    days, *sets = (_drawn(part, _values(part, z), count) for part, z in zip((day, *builds), own_scores, strict=True))
    good = [i for i in range(count) if days[i] is not None and all(each[i] is not None for each in sets)]
    if len(good) < count / 2:
        raise InputProblem(
            "the comparison",
            "widths",
            f"{count - len(good)} of {count} draws that contradict themselves",
            "narrower widths",
        )
    ridden = [each[i] for each in sets for i in good]
    rides = ride_all(ridden, [days[i] for _ in sets for i in good])
    steady = Steady.of(ridden)
    figures = _figures(rides, steady, np.repeat(speeds_kmh, len(good)))
    wishes = _wishes(rides, figures)
    found = []
    for place, build in enumerate(builds):
        own = slice(place * len(good), (place + 1) * len(good))
        found.append(
            Drawn(
                {name: column[own] for name, column in figures.items()},
                {name: column[own] for name, column in wishes.items()},
                np.hstack([own_scores[0], own_scores[1 + place]])[good],
                (*day.widths, *build.widths),
                rides,
                own.start,
                count - len(good),
            )
        )
    return found


def likely_holds(builds: Sequence[Build], day: Day) -> Shares:
    """Which wishes of a day each of many builds holds, by their likely values: by the wish's name, one value a build."""
    return held(ride_all(builds, day), Steady.of(builds))[1]


def held(rides: Rides, steady: Steady) -> tuple[dict[str, FloatArray], Shares]:
    """Figures of rides that are done, and which wishes of the day each holds."""
    figures = _figures(rides, steady, np.zeros(len(rides)))
    return figures, _wishes(rides, figures)


def _scores(widths: Mapping[str, Uncertain], count: int) -> FloatArray:
    """Standard normal scores, one column a key: evenly spread, in an order that follows from key and width alone.

    So candidates share what they have in common, and the band of a build does not depend on what it is compared with.
    """
    columns = []
    for key, width in widths.items():
        random = np.random.default_rng(crc32(f"{key} {width!r}".encode()))
        # One in each of equally likely strata: a Latin hypercube's column. scipy.stats has them too, and takes half a second to load.
        columns.append((random.permutation(count) + random.random(count)) / count)
    return np.asarray(ndtri(np.reshape(columns, (len(columns), count)).T))


def _values(part: Unsure, scores: FloatArray) -> dict[str, FloatArray]:
    """Drawn values of a part by dotted key; those that hang together are drawn together."""
    keys = list(part.widths)
    own = scores
    if isinstance(part, Build) and part.correlations:
        size, along = np.linalg.eigh(correlation_matrix(keys, part.correlations))
        own = scores @ (along * np.sqrt(np.maximum(size, 0.0))) @ along.T
    return {key: value_at_score(part.widths[key], own[:, n]) for n, key in enumerate(keys)}


def _drawn(part: Unsure, values: Mapping[str, FloatArray], count: int) -> list[Any]:
    """The part once a draw; None where the values exclude each other."""
    puts, limits = places_of(part, list(values))
    columns = [np.clip(v, *ends) for v, ends in zip(values.values(), limits, strict=True)]
    found: list[Any] = []
    for row in np.reshape(columns, (len(columns), count)).T.tolist():
        go_on()
        try:
            found.append(with_row(part, puts, row))
        except ValueError:
            found.append(None)
    return found


def _figures(rides: Rides, steady: Steady, speeds_kmh: FloatArray) -> dict[str, FloatArray]:
    """Figures of the day, of what is to spare, and of a steady ride."""
    figures: dict[str, FloatArray] = dict(rides.figures)
    missing = figures["distance_km"] - figures["planned_distance_km"]
    spare = rides.spare
    for name in ("to_reserve_km", "to_empty_km"):
        figures[name] = np.zeros(len(rides)) if spare is None else np.where(figures["finished"], spare[name], missing)
    figures["left_at_this_load"] = np.ones(len(rides)) if spare is None else spare["given_ah"] / spare["full_ah"]
    reserve, grade = rides.machines["reserve"], rides.given.steepest_percent
    figures["top_speed_kmh"] = steady.top_speeds_kmh()
    figures["top_speed_at_reserve_kmh"] = steady.top_speeds_kmh(reserve)
    figures["top_speed_on_steepest_kmh"] = steady.top_speeds_kmh(1.0, grade)
    figures["pull_to_start"] = hardest_start(steady, rides.given)
    figures["steady_range_km"] = _ranges(rides, speeds_kmh)
    return figures


def hardest_start(steady: Steady, day: Day) -> FloatArray:
    """Pull at standstill over what the day's hardest place to start on takes, of each build."""
    places = {(grade, activity.aboard, surface) for activity in day.activity for grade, surface, _ in slopes(activity)}
    pulls = [steady.pull_to_start(*place) for place in places]
    return np.asarray(np.min(pulls or [np.full(len(steady.machines), np.inf)], axis=0))


def _ranges(rides: Rides, speeds_kmh: FloatArray) -> FloatArray:
    """Range at a steady speed on the level in each draw's own air. [km]"""
    s, m = rides.settings, rides.machines
    speeds = speeds_kmh * KMH
    level = [rolling_force(mass, 0.0, rolling) for mass, rolling in zip(s["mass_aboard"], m["rolling"], strict=True)]
    pulls = np.array(level) + np.array(
        [air_force(*row) for row in zip(s["density"], m["drag_area"], speeds, s["headwind"], strict=True)]
    )
    found = np.zeros(len(rides))
    in_parallel(lambda a, b: drained_km(a, b, speeds, pulls, s["ambient"], m, found), rides.runs)
    return found


def _wishes(rides: Rides, figures: Mapping[str, FloatArray]) -> Shares:
    """Which wishes of the day each draw holds."""
    limits = np.array([build.motor.winding_limit_c for build in rides.builds])
    finished = figures["finished"] == 1
    return {
        STARTS: figures["pull_to_start"] > 1.0,
        FINISHES: finished,
        RESERVE: finished & (figures["to_reserve_km"] > 0.0) if rides.spare is not None else finished,
        SPEED: figures["top_speed_at_reserve_kmh"] >= SPEED_SHARE * rides.given.fastest_kmh,
        WINDING: figures["hottest_winding_c"] <= limits,
    }
