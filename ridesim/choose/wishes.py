"""The wishes of a day, which a build must hold to do it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ridesim.words import Finding

if TYPE_CHECKING:
    from ridesim.choose.candidate import Candidate

STARTS = "starts on every slope"
FINISHES = "finishes"
RESERVE = "keeps the reserve"
SPEED = "keeps the asked speed"
WINDING = "winding stays below its class"
BRAKES = "brakes hold and stop it"
RATINGS = "nothing beyond its rating"

SPEED_SHARE = 0.95
"""A speed within a twentieth of the asked one is kept, for nobody who watches sees the difference: common practice, no source."""

_OF_ITS_OWN = {
    "will-not-start": STARTS, "not-finished": FINISHES, "blocks-run-down": FINISHES, "cut-out-ends-the-ride": FINISHES,
    "pack-empty": RESERVE, "winding-burnt": WINDING, "stall": WINDING, "hold-not-covered": BRAKES, "stopping-not-covered": BRAKES,
    "downhill-stop-not-covered": BRAKES,
}  # fmt: skip
"""Findings that say STOP, by the wish they are about; all others are about ratings."""


def stops_in(findings: Sequence[Finding]) -> dict[str, list[Finding]]:
    """Findings that say STOP, by wish."""
    found: dict[str, list[Finding]] = {wish: [] for wish in (*_OF_ITS_OWN.values(), RATINGS)}
    for each in findings:
        if each.severity == "stop":
            found[_OF_ITS_OWN.get(each.code, RATINGS)].append(each)
    return found


def likely_wishes(c: Candidate) -> dict[str, bool]:
    """Which wishes of the day hold with the likely values, what decides first standing first."""
    outcome, spare = c.ride.outcome, c.spare_km
    stops = stops_in(c.findings)
    return {
        STARTS: not stops[STARTS],
        FINISHES: outcome.finished,
        WINDING: outcome.hottest_winding_c <= c.build.motor.winding_limit_c and not stops[WINDING],
        RESERVE: outcome.finished and (spare is None or spare.value > 0.0),
        SPEED: c.top_speed_at_reserve_kmh >= SPEED_SHARE * c.ride.day.fastest_kmh,
        BRAKES: not stops[BRAKES],
        RATINGS: not stops[RATINGS],
    }


def share_in_words(share: float) -> str:
    """A share for people who buy and weld: out of ten."""
    if share > 0.95:
        return "more than 9 of 10"
    if share < 0.05:
        return "fewer than 1 of 10"
    return f"about {max(1, min(9, round(10.0 * share)))} of 10"
