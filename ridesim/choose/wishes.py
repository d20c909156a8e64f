"""The wishes of a day, which a build must hold to do it."""

from __future__ import annotations

from collections.abc import Sequence

from ridesim.words import Finding

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
    "will-not-start": STARTS, "hold-not-covered": BRAKES, "stopping-not-covered": BRAKES, "downhill-stop-not-covered": BRAKES,
    "not-finished": FINISHES, "pack-empty": RESERVE, "winding-burnt": WINDING,
}  # fmt: skip
"""Findings that say STOP, by the wish they are about; all others are about ratings."""


def stops_in(findings: Sequence[Finding]) -> dict[str, list[Finding]]:
    """Findings that say STOP, by wish."""
    found: dict[str, list[Finding]] = {wish: [] for wish in (*_OF_ITS_OWN.values(), RATINGS)}
    for each in findings:
        if each.severity == "stop":
            found[_OF_ITS_OWN.get(each.code, RATINGS)].append(each)
    return found
