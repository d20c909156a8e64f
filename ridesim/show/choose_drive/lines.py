"""The verdict lines of the panel, as plain data: words, and a bar of distance to spare on one zero line for all."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ridesim.choose import Candidate
from ridesim.choose.verdict import Verdict, judge
from ridesim.choose.wishes import share_in_words
from ridesim.show.pictures.scales import round_top
from ridesim.show.tables.verdicts import said_in
from ridesim.show.units import System

RECKONING = "reckoning…"


def verdict_lines(candidates: Sequence[Candidate], system: System) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """What the verdict lines show, and the scale of their bars.

    Parameters
    ----------
    candidates : sequence of Candidate
        One whose draws are not ridden yet has no level.
    system : System
        Units of the figures.

    Returns
    -------
    lines : list of dict
        One a candidate: name, level, words, why, share; ``bar`` as low, value, high, or ``instead`` in words.
    scale : dict
        Low and high end of the bars, and ticks with their words.
    """
    bars = [_bar(each, system) for each in candidates]
    lines = [_line(each, judge(each, said_in(system)), bar) for each, bar in zip(candidates, bars, strict=True)]
    return lines, _scale([bar for bar in bars if bar], system)


def _bar(c: Candidate, system: System) -> list[float]:
    """Distance to spare, missing distance negative; empty for a day lost to something else than charge."""
    if c.spare_km is None or c.top_speed_kmh <= 0.0:
        return []
    low, value, high = c.spare_km.low, c.spare_km.value, c.spare_km.high
    return [round(system.value(each, "km"), 3) for each in (low, value, high)]


def _line(c: Candidate, verdict: Verdict, bar: list[float]) -> dict[str, Any]:
    known = c.banded or c.ride.moments.given_up_s is not None
    return {
        "name": c.name,
        "level": verdict.level if known else "",
        "words": verdict.words if known else RECKONING,
        "why": verdict.why + (f". {verdict.unstated}" if verdict.unstated else ""),
        "share": share_in_words(verdict.chance) if c.banded else "",
        "bar": bar,
        "instead": "" if bar else "no distance to spare",
    }


def _scale(bars: Sequence[Sequence[float]], system: System) -> dict[str, Any]:
    """Round ends that stand still while a slider moves a little."""
    if not bars:
        return {"low": 0.0, "high": 1.0, "ticks": []}
    high = round_top(max(max(each) for each in bars), 1.02)
    least = min(min(each) for each in bars)
    low = -round_top(-least, 1.02) if least < 0.0 else 0.0
    high = max(high, 0.05 * -low)
    ticks = [[0.0, "home"], [high, f"{high:g} {system.label('km')}"]]
    if low < -0.25 * high:
        ticks.append([low, f"{low:g}".replace("-", "−")])
    return {"low": low, "high": high, "ticks": ticks}
