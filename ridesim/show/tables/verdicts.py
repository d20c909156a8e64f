"""What stands under a verdict, as plain sentences for terminal and sheet: what it hangs on, what to measure, what would mend it."""

from __future__ import annotations

from ridesim.choose import Candidate
from ridesim.choose.how_sure import cause_in_words
from ridesim.choose.remedies import in_words
from ridesim.choose.verdict import SAID, Verdict
from ridesim.show.units import METRIC, System


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
    return f"{first.what}, {first.minutes} minutes: {now:.0f} → {100.0 * first.sure:.0f} % sure"


def mend(verdict: Verdict, most: int = SAID) -> str:
    """Single changes that would do, the surest first; empty where it does its day."""
    return "; ".join(in_words(remedy) for remedy in verdict.remedies[:most])
