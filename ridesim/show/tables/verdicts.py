"""What stands under a verdict, as plain sentences for terminal and sheet: what it hangs on, what to measure, what would mend it."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from ridesim.choose import Candidate, Comparison
from ridesim.choose.how_sure import cause_in_words
from ridesim.choose.remedies import in_words
from ridesim.choose.verdict import SAID, Verdict
from ridesim.choose.wishes import share_in_words
from ridesim.show.tables.html import coloured_heads, html_table
from ridesim.show.units import METRIC, System

MENDED = "What would mend it, each change alone"


def hangs_on(c: Candidate, verdict: Verdict, system: System = METRIC, most: int = SAID) -> str:
    """The causes that move the distance to empty most; empty without draws, or where it has none."""
    if c.spare_to_empty_km is None:
        return ""
    unit = system.label("km")
    return ", ".join(
        f"{cause_in_words((c.build, c.ride.asked), key)} ± {system.value(km, 'km'):.1f} {unit}"
        for key, km in verdict.decides[:most]
    )


def measure_first(verdict: Verdict) -> str:
    """What would settle an answer that is not sure yet; empty where it is, or where nothing would."""
    if verdict.level not in ("just", "doubt") or not verdict.measure_first:
        return ""
    first = verdict.measure_first[0]
    now = 100.0 * max(verdict.chance, 1.0 - verdict.chance)
    return f"{first.what}, {_for(first.minutes)}: {now:.0f} → {100.0 * first.sure:.0f} % sure of yes or no"


def _for(minutes: int) -> str:
    return f"{minutes} minutes" if minutes < 120 else f"{minutes / 60:.0f} hours"


def mend(verdict: Verdict, most: int = SAID) -> str:
    """Single changes that would do, the surest first, or that none would; empty where it does its day."""
    return "; ".join(in_words(remedy) for remedy in verdict.remedies[:most])


def mended_html(comparison: Comparison, place: int, system: System = METRIC) -> str:
    """What would mend a candidate, in a sentence; empty where it does its day."""
    text = mend(comparison.verdicts[place])
    name = escape(comparison.candidates[place].name)
    return f"<p><b>{MENDED} ({name}):</b> {escape(system.said(text))}.</p>" if text else ""


LOOKING = "…"
"""Stands for remedies that have not been ridden yet."""


def how_sure_html(
    candidates: Sequence[Candidate],
    verdicts: Sequence[Verdict],
    chosen: int,
    system: System = METRIC,
    mended: bool = True,
) -> str:
    """How sure it is: each wish of the day by candidate; what the chosen one's distance hangs on, and what to measure first.

    ``mended`` False leaves its remedies, which must be ridden, for later.
    """
    names = [each.name for each in candidates]
    wishes = list(dict.fromkeys(wish for verdict in verdicts for wish in verdict.wishes))
    rows = [
        (
            escape(wish),
            [share_in_words(verdict.wishes[wish]) if wish in verdict.wishes else "not stated" for verdict in verdicts],
        )
        for wish in wishes
    ]
    c, verdict = candidates[chosen], verdicts[chosen]
    parts = [
        (f"What the distance of {c.name} hangs on", hangs_on(c, verdict, system)),
        ("Measure first", "; ".join(f"{each.what}, {_for(each.minutes)}" for each in verdict.measure_first[:SAID])),
        (MENDED, mend(verdict) if mended else LOOKING),
    ]
    below = "".join(f"<p><b>{escape(what)}</b><br>{escape(system.said(text))}</p>" for what, text in parts if text)
    table = html_table(
        "Share of the draws that hold each wish of the day",
        ["of the vehicles that fit the file", *coloured_heads(names)],
        rows,
    )
    return f'<div class="ridesim-sure">{table}<div>{below}</div></div>'
