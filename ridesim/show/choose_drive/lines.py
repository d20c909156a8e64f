"""The verdict lines of the panel, as plain data: words, and a bar of distance to spare on one zero line for all."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ridesim.choose import Candidate, Comparison
from ridesim.choose.compare import figures
from ridesim.choose.verdict import Verdict
from ridesim.choose.wishes import share_in_words
from ridesim.show.pictures.scales import round_top
from ridesim.show.units import System

RECKONING = "reckoning…"


def verdict_lines(comparison: Comparison, system: System) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """What the verdict lines show, and the scale of their bars.

    Parameters
    ----------
    comparison : Comparison
        A candidate whose draws are not ridden yet has no level.
    system : System
        Units of the figures.

    Returns
    -------
    lines : list of dict
        One a candidate: name, level, words, why, share; ``bar`` as low, value, high, or ``instead`` in words.
    scale : dict
        Low and high end of the bars, and ticks with their words.
    """
    bars = [_bar(each, system) for each in comparison.candidates]
    each_line = zip(comparison.candidates, comparison.verdicts, bars, strict=True)
    lines = [_line(c, verdict, bar, system) for c, verdict, bar in each_line]
    return lines, _scale([bar for bar in bars if bar], system)


def unjudged(comparison: Comparison) -> str:
    """Whose brakes nobody has judged, in one sentence for all candidates; a line has no room for it. What to watch says it in full."""
    names = [verdict.name for verdict in comparison.verdicts if verdict.unstated]
    whose = "; ".join(names)
    return f"Brakes not judged, for not all are stated: {whose}. Try them, and write them in." if names else ""


def _bar(c: Candidate, system: System) -> list[float]:
    """Distance to spare, missing distance negative; empty for a day lost to something else than charge."""
    if c.spare_km is None or c.top_speed_kmh <= 0.0:
        return []
    low, value, high = c.spare_km.low, c.spare_km.value, c.spare_km.high
    return [round(system.value(each, "km"), 3) for each in (low, value, high)]


def _line(c: Candidate, verdict: Verdict, bar: list[float], system: System) -> dict[str, Any]:
    known = c.banded or c.ride.moments.given_up_s is not None
    return {
        "name": c.name,
        "level": verdict.level if known else "",
        "words": verdict.words if known else RECKONING,
        "why": system.said(verdict.why, _numbers(c)),
        "share": share_in_words(verdict.chance) if c.banded else "",
        "bar": bar,
        "instead": "" if bar else "no distance to spare",
    }


def _numbers(c: Candidate) -> list[float]:
    return [float(each) for each in figures(c).values()]


def _scale(bars: Sequence[Sequence[float]], system: System) -> dict[str, Any]:
    """Round ends that stand still while a slider moves a little."""
    if not bars:
        return {"low": 0.0, "high": 1.0, "ticks": []}
    high = round_top(max(max(each) for each in bars), 1.02)
    least = min(min(each) for each in bars)
    low = -round_top(-least, 1.02) if least < 0.0 else 0.0
    high = max(high, 0.05 * -low)
    ticks = [[0.0, "reserve"], [high, f"{high:g} {system.label('km')}"]]
    if low < -0.35 * high:  # words nearer than that would touch
        ticks.append([low, f"{low:g}".replace("-", "−")])
    return {"low": low, "high": high, "ticks": ticks}
