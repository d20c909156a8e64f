"""The verdict: whether a build does its day, what decides it, and how sure that is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np

from ridesim.choose.findings.places import where
from ridesim.choose.findings.start import worst_start
from ridesim.choose.measure import Measurement
from ridesim.choose.remedies import Remedy
from ridesim.choose.wishes import (
    BRAKES,
    FINISHES,
    RATINGS,
    RESERVE,
    SPEED,
    STARTS,
    WINDING,
    likely_wishes,
    share_in_words,
    stops_in,
)
from ridesim.day.day import clock
from ridesim.physics.controller import GRIP
from ridesim.ride.spare import activity_to_ride_on
from ridesim.vehicle.doubtful import doubtful_values
from ridesim.words import InShort, Rows, Uncertain, ends, first_sentence, percent

if TYPE_CHECKING:
    from ridesim.choose.candidate import Candidate

Level = Literal["yes", "just", "doubt", "no"]

LEVELS: tuple[tuple[Level, float, str], ...] = (
    ("yes", 0.90, "Does it"),
    ("just", 0.75, "Just does it"),
    ("doubt", 0.25, "In doubt"),
    ("no", 0.0, "Does not do it"),
)
"""Level, the least share of draws that hold every wish, and its words."""
SURE = 0.98
"""A wish that holds in so many draws decides nothing."""
SAID = 3
"""So many causes are named."""


@dataclass(frozen=True, repr=False)
class Verdict(InShort):
    """Whether a build does its day.

    Attributes
    ----------
    level : {"yes", "just", "doubt", "no"}
        By the share of draws that hold every wish: 0.90, 0.75, 0.25 at least, or less.
    sentence : str
        The verdict in one sentence, with the figure that decides.
    words, why : str
        Its two halves: the level in words, and the figure that decides, without a band.
    chance : float
        That share; without draws 1 or 0, of the likely values alone.
    wishes : mapping of str to float
        The share of each wish.
    spare_km, spare_to_empty_km : Uncertain or None
        Still ridden after the day down to the reserve, and to empty; where the pack ends the day, what is missing, negative. None for a
        day that rides nowhere, or one that something else than the pack ends. [km]
    spare_laps : Uncertain or None
        The first of them in laps, or repeats, of the activity that is ridden on.
    decides : tuple of (str, float)
        What the distance to empty hangs on most: the key, and by how much the distance moves when it alone is at the end of its
        width. [km]
    unstated : str
        What the file does not say of the brakes, so that nobody has judged it; empty where it says all.
    """

    name: str
    level: Level
    sentence: str
    words: str
    why: str
    chance: float
    wishes: Mapping[str, float]
    spare_km: Uncertain | None
    spare_to_empty_km: Uncertain | None
    spare_laps: Uncertain | None
    decides: tuple[tuple[str, float], ...]
    unstated: str
    _candidate: Candidate = field(repr=False, compare=False)

    @property
    def measure_first(self) -> tuple[Measurement, ...]:
        """What would make the answer surer, the most helpful first; empty without draws, or where they all agree."""
        return self._candidate.measure_first

    @property
    def remedies(self) -> tuple[Remedy, ...]:
        """Single changes that would make it do its day, the surest first; empty where it does, and without draws."""
        return () if self.level == "yes" else self._candidate.remedies

    def _short(self) -> tuple[str, Rows]:
        shares = [(wish, f"{percent(share)} of the draws") for wish, share in self.wishes.items()]
        return f"{self.name}: {self.sentence}", shares


def judge(c: Candidate) -> Verdict:
    """The verdict on a candidate.

    Parameters
    ----------
    c : Candidate
        With its findings; without draws its likely values decide alone.
    """
    drawn, likely = c.drawn, likely_wishes(c)
    shares = {wish: float(holds) for wish, holds in likely.items()}
    chance = float(all(likely.values()))
    unstated = _unstated(c)
    if unstated:
        del shares[BRAKES]
    if drawn is not None:
        shares |= {wish: float(holds.mean()) for wish, holds in drawn.wishes.items()}
        # What does not follow from the draws stops all of them.
        stopped = not (likely[BRAKES] and likely[RATINGS]) or any(each.code == "stall" for each in c.findings)
        chance = 0.0 if stopped else float(drawn.all_hold.mean())
    level, _, words = next(each for each in LEVELS if chance >= each[1])
    failing = [wish for wish, holds in likely.items() if not holds]
    weakest = min(shares, key=lambda wish: shares[wish])
    decides = _first_to_fail(c, failing) if failing else weakest if shares[weakest] < SURE else None
    how_many = f"; {share_in_words(chance)} vehicles that fit this file do the whole day" if drawn is not None else ""
    spare, laps = c.spare_km, lap_km(c)
    return Verdict(
        name=c.name,
        level=level,
        sentence=f"{words}: {_why(c, decides, bool(failing))}{how_many}.",
        words=words,
        why=_why(c, decides, bool(failing), banded=False),
        chance=chance,
        wishes=shares,
        spare_km=spare,
        spare_to_empty_km=c.spare_to_empty_km,
        spare_laps=None if spare is None or not laps else Uncertain(*(km / laps for km in ends(spare))),
        decides=() if drawn is None else tuple(drawn.hangs_on.items())[:SAID],
        unstated=unstated,
        _candidate=c,
    )


def _first_to_fail(c: Candidate, failing: list[str]) -> str:
    """A motor that burns before it would stop somewhere decides; else what stands first."""
    hot_s, left_s = c.ride.moments.hot_s, [stage.end_s for stage in c.ride.stages if stage.left]
    first = _burns(c) and hot_s is not None and bool(left_s) and hot_s < left_s[0]
    return WINDING if failing[0] == FINISHES and first else failing[0]


def _burns(c: Candidate) -> bool:
    return any(each.code == "winding-burnt" for each in c.findings)


def _unstated(c: Candidate) -> str:
    """What the file does not say of the brakes."""
    open_ = {each.code: each.numbers for each in c.findings}
    said = []
    if "hold-not-stated" in open_:
        said.append(f"hold the {open_['hold-not-stated']['slope_percent']:.1f} % of the day's steepest slope")
    if "stopping-not-stated" in open_:
        said.append(f"slow it down by the {c.ride.day.braking_mps2:.1f} m/s² of the day's stops")
    return f"No brake is named that would {' or '.join(said)}: try them, and write them in" if said else ""


def lap_km(c: Candidate) -> float:
    """Length of a lap, or of a trace once, of the activity that is ridden on; 0 for a day that rides nowhere. [km]"""
    activity = activity_to_ride_on(c.ride.day)
    return 0.0 if activity is None or activity.path is None else activity.path.length_m / 1000.0


def _why(c: Candidate, wish: str | None, fails: bool, banded: bool = True) -> str:
    """The figure that decides, where and when; what is to spare with its band."""
    if c.top_speed_kmh <= 0.0:
        doubts = [each.text.split(": ")[0] for each in doubtful_values(c.build)]
        return f"it will not move: {doubts[0][0].lower()}{doubts[0][1:]}" if doubts else "it will not move"
    outcome, motor, day = c.ride.outcome, c.build.motor, c.ride.day
    may = "" if fails else "may "
    if wish == STARTS:
        grade, limit, place, slips = worst_start(c)
        able = "its driven wheel grips" if slips else "it starts"
        return f"{may or 'will '}not start on the {grade:.1f} % of {place}; there {able} on {max(limit, 0.0):.1f} % at most"
    if wish == FINISHES and fails:
        return _where_it_ends(c)
    if wish == SPEED:
        return f"{c.top_speed_at_reserve_kmh:.1f} km/h at the reserve, and the day asks for {day.fastest_kmh:.1f} km/h"
    hot_s = c.ride.moments.hot_s
    if wish == WINDING and hot_s is not None:
        if _burns(c):
            return f"the motor burns: its winding passes the {motor.winding_limit_c:.0f} °C of its class at {where(c.ride, hot_s)}"
        return (
            f"the winding reaches {outcome.hottest_winding_c:.0f} °C, its class ends at {motor.winding_limit_c:.0f} °C"
        )
    if wish == WINDING and not fails:
        return f"the winding may pass the {motor.winding_limit_c:.0f} °C of its class"
    if wish in (WINDING, BRAKES, RATINGS):
        return first_sentence(stops_in(c.findings)[wish][0].text)
    if wish == RESERVE and fails:
        return f"it finishes, but below the {percent(c.build.pack.reserve)} that is to be kept"
    spare = c.spare_km
    if spare is None:
        return "nothing is ridden" if outcome.finished else _where_it_ends(c)
    between = f" ({spare.low:.1f} to {spare.high:.1f} km)" if banded and spare.low < spare.high else ""
    return f"{spare.value:.1f} km{between} to spare above the reserve"


def _where_it_ends(c: Candidate) -> str:
    """When and where it gives up, and how much of the day is missing."""
    first = next(stage for stage in c.ride.stages if stage.left)
    outcome = c.ride.outcome
    missing = outcome.planned_distance_km - outcome.distance_km
    last = c.ride.rows["limit"][max(0, int(np.searchsorted(c.ride.clock_s, first.end_s)) - 1)]
    slips = "its driven wheel slips" if last == GRIP else "it cannot move on"
    why = "the pack stops it" if first.by_pack else slips
    return f"{why} at {clock(first.end_s)} in “{first.name}”, {first.place}, {missing:.1f} km early"
