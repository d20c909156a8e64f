"""Plain-text tables for the terminal."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from shutil import get_terminal_size
from textwrap import wrap

from ridesim.choose import Candidate, Comparison
from ridesim.choose.verdict import SAID, Verdict
from ridesim.choose.wishes import share_in_words
from ridesim.day.day import clock
from ridesim.ride.result import Ride
from ridesim.show.invented import invented
from ridesim.show.tables.html import LIKEWISE, alike
from ridesim.show.tables.outcome import lines_for, number, short_lines
from ridesim.show.tables.verdicts import MENDED, hangs_on, measure_first, mend
from ridesim.words import Finding, in_brief

WIDEST = 100
"""Columns of text at most: longer lines are hard to read."""
MARK = {"stop": "STOP", "warning": "watch", "advice": "note"}


def width() -> int:
    """Columns that the terminal has, and no more than are easily read."""
    return min(WIDEST, get_terminal_size((WIDEST, 24)).columns)


def wrapped(text: str, indent: str = "      ") -> str:
    """A line broken where the terminal ends."""
    return "\n".join(wrap(text, width(), subsequent_indent=indent, break_on_hyphens=False))


def table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Columns aligned, the first to the left, the others to the right; below each other where the terminal is too narrow for all."""
    lines = [list(header), *[list(row) for row in rows]]
    lines = [[in_brief(cell, width() // 2 - 2) for cell in line] for line in lines]
    first, *others = [max(len(line[i]) for line in lines) for i in range(len(header))]
    blocks: list[list[int]] = [[]]
    for place, wide in enumerate(others, start=1):
        if blocks[-1] and first + sum(2 + others[i - 1] for i in blocks[-1]) + 2 + wide > width():
            blocks.append([])
        blocks[-1].append(place)
    return "\n\n".join(_aligned([[line[0], *(line[i] for i in block)] for line in lines]) for block in blocks)


def _aligned(lines: list[list[str]]) -> str:
    widths = [max(len(line[i]) for line in lines) for i in range(len(lines[0]))]
    shown = [
        "  ".join(
            cell.ljust(width) if i == 0 else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(line, widths, strict=True))
        )
        for line in lines
    ]
    return "\n".join([shown[0], "-" * len(shown[0]), *shown[1:]])


def findings_text(findings: Sequence[Finding]) -> str:
    """Findings as wrapped paragraphs, each with its mark."""
    if not findings:
        return "  nothing to watch"
    return "\n".join(_marked(finding, finding.text) for finding in findings)


def _marked(finding: Finding, text: str) -> str:
    """A paragraph behind a finding's mark."""
    mark = f"  {MARK[finding.severity]:<6}"
    return "\n".join(wrap(text, width(), initial_indent=mark, subsequent_indent=" " * len(mark)))


def comparison_parts(comparison: Comparison, everything: bool = False) -> Iterator[str]:
    """The comparison for the terminal, part by part: the answer does not wait for the remedies, which are ridden when their turn comes.

    Parameters
    ----------
    comparison : Comparison
        From :func:`ridesim.compare`.
    everything : bool
        All rows and all findings; else the rows that decide, and nothing that is only worth knowing.
    """
    day, candidates = comparison.day, comparison.candidates
    lines = lines_for(comparison) if everything else short_lines(comparison)
    rows = [
        [f"{'  ' if line.inside else ''}{line.label}{f' [{line.unit}]' if line.unit else ''}", *line.cells]
        for line in lines
    ]
    verdicts = comparison.verdicts
    most = SAID if len(candidates) < 3 else SAID - 1
    causes = [hangs_on(each, verdict, most=most) for each, verdict in zip(candidates, verdicts, strict=True)]
    yield "\n".join([
        *(line for each in verdicts for line in verdict_lines(each)),
        *_further(comparison),
        "",
        wrapped(
            f"{day.name}: {clock(day.first_start_s)} to {clock(comparison.rides[0].stages[-1].end_s)}, {day.ambient_c:g} °C"
            f"{_draws(candidates)}{invented(day, *(each.build for each in candidates))}",
            "  ",
        ),
        table(["", *_short_names([each.name for each in candidates])], rows),
        *_below("What the distance to empty hangs on", comparison, causes),
        *_below("Measure first", comparison, [measure_first(each) for each in verdicts]),
    ])  # fmt: skip
    yield from _below(MENDED, comparison, [mend(each) for each in verdicts])
    explained = [wrapped(EXPLAINED, "")] if everything else []
    yield "\n".join(["", *explained, "What to watch", *_watched(candidates, everything)])


def verdict_lines(verdict: Verdict) -> list[str]:
    """The verdict, and on a line below what the file leaves open."""
    said = [wrapped(f"{verdict.name}. {verdict.sentence}", "  ")]
    return [*said, wrapped(f"  {verdict.unstated}.", "  ")] if verdict.unstated else said


EXPLAINED = (
    "Still to ride: the day's longest activity, over and over. Nine in ten: of the vehicles and days that are drawn from what is unsure "
    "about the files. Volts × amps: the plain estimate with the same reserve and the same charge on the way, without sag or loss at high "
    "rates. Speeds and slopes: blocks at 25 °C, motor and air at 20 °C; ranges and the day in the day's own air."
)


def _short_names(names: Sequence[str]) -> list[str]:
    """Names without the beginning that all share, where that ends at a comma or space."""
    if len(names) < 2:
        return list(names)
    shared = os.path.commonprefix(list(names))  # noqa: RUF071 - words, not paths
    shared = shared[: shared.rfind(" ") + 1]
    return [name[len(shared) :] for name in names] if shared else list(names)


def _draws(candidates: Sequence[Candidate]) -> str:
    """How many draws there are, and what a share of them may be off by."""
    drawn = [each.drawn for each in candidates if each.drawn is not None]
    if not drawn:
        return "; likely values alone"
    error = max(each.share_error for each in drawn)
    return f"; {len(drawn[0].scores)} draws, shares good to ± {100.0 * error:.0f} in a hundred"


def _further(comparison: Comparison) -> list[str]:
    """Of the two candidates with most to spare: in how many draws the one goes further than the other."""
    likely = {
        place: each.spare_to_empty_km.value
        for place, each in enumerate(comparison.candidates)
        if each.drawn is not None and each.spare_to_empty_km is not None
    }
    if len(likely) < 2:
        return []
    first, second = sorted(likely, key=lambda place: -likely[place])[:2]
    further = comparison.goes_further(first, second)
    if not further and not comparison.goes_further(second, first):
        return []  # the same vehicle twice
    share = share_in_words(further)
    names = [comparison.candidates[place].name for place in (first, second)]
    return [wrapped(f"In {share} draws {names[0]} goes further than {names[1]}.", "  ")]


def _below(heading: str, comparison: Comparison, texts: Sequence[str]) -> list[str]:
    """A heading, and one line a candidate that has a text; nothing where none has."""
    named = zip(comparison.candidates, texts, strict=True)
    found = [wrapped(f"  {each.name}: {text}", "    ") for each, text in named if text]
    return ["", heading, *found] if found else []


def _watched(candidates: Sequence[Candidate], everything: bool) -> list[str]:
    """What to watch, worst first; what several candidates share is said once, of the first of them."""
    told = [
        (place, finding)
        for place, each in enumerate(candidates)
        for finding in each.findings
        if everything or finding.severity != "advice"
    ]
    shared = [(finding, [place]) for place, finding in told] if everything else alike(told)
    lines = []
    for finding, (first, *others) in shared:
        whose = "" if len(candidates) == 1 else f"{candidates[first].name}: "
        text = finding.text.removesuffix(f" {LIKEWISE}")
        also = f" Likewise: {', '.join(candidates[place].name for place in others)}." if others else ""
        lines.append(_marked(finding, f"{whose}{text}{also}"))
    notes = 0 if everything else sum(f.severity == "advice" for each in candidates for f in each.findings)
    more = [f"  And {notes} notes, with all figures: --all."] if notes else []
    return [*(lines or ["  nothing"]), *more]


def _controller(ride: Ride) -> list[str]:
    """What a soft start and a cut-out did in the day; nothing where the controller has neither."""
    control, moments = ride.build.controller, ride.moments
    said = []
    if control.ramp_s > 0.0:
        said.append(f"{moments.starts} starts from a stand, each with the {control.ramp_s:g} s soft start.")
    if control.cutoff_action == "cut-out":
        said.append(f"{moments.cut_outs} cut-outs, {moments.seconds_cut_out:.0f} s without drive in all.")
    return said


def ride_text(ride: Ride, findings: Sequence[Finding]) -> str:
    """One ride for the terminal: activities, ledger, what to watch."""
    stages = [
        [
            stage.name,
            clock(stage.start_s),
            clock(stage.end_s),
            f"{stage.distance_m / 1000.0:.2f}",
            f"{100.0 * stage.end_charge:.0f}",
            f"{stage.charged_ah:.1f}" if stage.charged_ah >= 0.05 else "",
            "left early" if stage.left else "",
        ]
        for stage in ride.stages
    ]
    ledger = [[name, f"{wh:.1f}"] for name, wh in ride.ledger_wh.items()]
    outcome = ride.outcome
    return "\n".join([
        f"{ride.build.name} on {ride.day.name}, by the likely values ({ride.battery_model} law)",
        "",
        table(["activity", "from", "to", "km", "charge %", "Ah in", ""], stages),
        "",
        table(["energy ledger", "Wh"], ledger),
        f"residual {outcome.ledger_residual:.1e} of the energy through the pack",
        "",
        wrapped(
        f"{outcome.distance_km:.2f} of {outcome.planned_distance_km:.2f} km, {outcome.energy_wh:.0f} Wh "
        f"({number(outcome.energy_wh_per_km, 1)} Wh/km), pack {outcome.lowest_pack_voltage_v:.1f} V at the lowest and "
        f"{outcome.highest_pack_current_a:.1f} A at the most, "
        f"motor current {outcome.rms_motor_current_a:.1f} A rms, winding {outcome.hottest_winding_c:.0f} °C at the hottest, "
        f"{outcome.seconds_below_command:.0f} s below the commanded speed.", ""),
        *_controller(ride),
        "",
        "What to watch",
        findings_text(findings),
    ])  # fmt: skip
