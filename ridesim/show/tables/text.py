"""Plain-text tables for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from shutil import get_terminal_size
from textwrap import wrap

from ridesim.choose import Comparison
from ridesim.day.day import clock
from ridesim.ride.result import Ride
from ridesim.show.tables.outcome import lines_for, number
from ridesim.words import Finding, in_brief

WIDEST = 108
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
    lines = []
    for finding in findings:
        mark = f"  {MARK[finding.severity]:<6}"
        lines += wrap(finding.text, width(), initial_indent=mark, subsequent_indent=" " * len(mark))
    return "\n".join(lines)


def comparison_text(comparison: Comparison) -> str:
    """The comparison for the terminal: table, then what to watch for each build."""
    day = comparison.day
    rows = [
        [f"{'  ' if line.inside else ''}{line.label}{f' [{line.unit}]' if line.unit else ''}", *line.cells]
        for line in lines_for(comparison)
    ]
    parts = [
        f"{day.name}: {clock(day.first_start_s)} to {clock(comparison.rides[0].stages[-1].end_s)}, {day.ambient_c:g} °C",
        "",
        table(["", *[each.name for each in comparison.candidates]], rows),
        "",
        wrapped(
            "Still to ride: the day's longest activity, over and over. Little to much recovery: how much of what a hard pull puts out of "
            "reach comes back at rest. Volts × amps: the plain estimate with the same reserve and the same charge on the way, without sag "
            "or loss at high rates. Speeds and slopes: blocks at 25 °C, motor and air at 20 °C; ranges and the day in the day's own air.",
            "",
        ),
    ]
    for each in comparison.candidates:
        parts += ["", f"What to watch: {each.name}", findings_text(each.findings)]
    return "\n".join(parts)


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
        f"{ride.build.name} on {ride.day.name} ({ride.battery_model} law)",
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
