"""Plain-text tables for the terminal."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from textwrap import wrap

from ridesim.choose import Candidate, Comparison
from ridesim.day.day import clock
from ridesim.ride.motor_answers import can_reverse, reverse_top_speed_kmh
from ridesim.ride.result import Ride
from ridesim.words import Finding, Uncertain

WIDTH = 108
MARK = {"stop": "STOP", "warning": "watch", "advice": "note"}


def number(value: float, digits: int = 1) -> str:
    """A number for a table cell; a dash where there is none."""
    return f"{value:.{digits}f}" if math.isfinite(value) else "-"


def band(value: Uncertain, digits: int = 1, factor: float = 1.0) -> str:
    """A value with its band: ``"43.1 (38.0 to 44.2)"``; the value alone where the band has no width."""
    shown = [f"{factor * each:.{digits}f}" for each in (value.value, value.low, value.high)]
    return shown[0] if shown[1] == shown[2] else f"{shown[0]} ({shown[1]} to {shown[2]})"


def outcome_rows(comparison: Comparison) -> list[tuple[str, str, list[str]]]:
    """Rows of the outcome table: what, unit, one cell a candidate."""

    def row(label: str, unit: str, cell: object) -> tuple[str, str, list[str]]:
        assert callable(cell)
        return label, unit, [cell(each) for each in comparison.candidates]

    day = comparison.day
    rows = [
        row("mass, rider aboard", "kg", lambda c: number(c.ride.build.total_mass_kg())),
        row("pack: label, mass", "", lambda c: _pack(c)),
        row("gear ratio, motor to wheel", "", lambda c: number(c.ride.build.drive.ratio, 2)),
        row("top speed, full", "km/h", lambda c: number(c.top_speed_kmh)),
        row("top speed, at the reserve", "km/h", lambda c: number(c.top_speed_at_reserve_kmh)),
        row("steepest start, asphalt", "%", lambda c: number(c.steepest_start_percent)),
        row("range at a steady speed of", "km/h", lambda c: number(c.steady_speed_kmh)),
        row("  down to the reserve", "km", lambda c: band(c.range_km)),
        row("  watts = volts x amps promises", "km", lambda c: number(c.steady.plain_km)),
        row("the day: finished", "", lambda c: "yes" if c.ride.outcome.finished else "NO"),
        row(
            "  distance",
            "km",
            lambda c: f"{c.ride.outcome.distance_km:.1f} of {c.ride.outcome.planned_distance_km:.1f}",
        ),
        row("  charge at the end", "%", lambda c: band(c.end_charge, 0, 100.0)),
        row("  watts = volts x amps promises", "%", lambda c: number(100.0 * max(0.0, c.plain_end_charge), 0)),
        row("  lowest pack voltage", "V", lambda c: number(c.ride.outcome.lowest_pack_voltage_v)),
        row("  highest pack current", "A", lambda c: number(c.ride.outcome.highest_pack_current_a)),
        row("  hottest winding (class limit)", "°C", lambda c: _winding(c)),
        row("  energy from the pack", "Wh", lambda c: number(c.ride.outcome.energy_wh, 0)),
        row("  per kilometre", "Wh/km", lambda c: number(c.ride.outcome.energy_wh_per_km)),
    ]
    if day.steepest_percent > 0.0:
        rows.insert(
            5, row(f"top speed, {day.steepest_percent:.1f} % up", "km/h", lambda c: number(c.top_speed_on_grade_kmh))
        )
    if any(can_reverse(each.ride.build) for each in comparison.candidates):
        rows.insert(5, row("top speed, reverse", "km/h", _reverse))
    return rows


def _reverse(each: Candidate) -> str:
    build = each.ride.build
    return number(reverse_top_speed_kmh(build)) if can_reverse(build) else "-"


def _pack(each: Candidate) -> str:
    pack = each.ride.build.pack
    return f"{pack.nominal_voltage_v:g} V {pack.capacity_ah:g} Ah, {pack.mass_kg:.1f} kg"


def _winding(each: Candidate) -> str:
    return f"{each.ride.outcome.hottest_winding_c:.0f} ({each.ride.build.motor.winding_limit_c:.0f})"


def table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Columns aligned: the first to the left, the others to the right."""
    lines = [list(header), *[list(row) for row in rows]]
    widths = [max(len(line[i]) for line in lines) for i in range(len(header))]
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
        lines += wrap(finding.text, WIDTH, initial_indent=mark, subsequent_indent=" " * len(mark))
    return "\n".join(lines)


def comparison_text(comparison: Comparison) -> str:
    """The comparison for the terminal: table, then what to watch for each build."""
    day = comparison.day
    rows = [[f"{label}{f' [{unit}]' if unit else ''}", *cells] for label, unit, cells in outcome_rows(comparison)]
    parts = [
        f"{day.name}: {clock(day.first_start_s)} to {clock(comparison.rides[0].stages[-1].end_s)}, {day.ambient_c:g} °C",
        "",
        table(["", *[each.name for each in comparison.candidates]], rows),
        "",
        'In brackets: lowest and highest of the capacity laws. Rows with "promises" show the plain estimate, which',
        "knows no Peukert, no sag, no reserve.",
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
            "left early" if stage.left else "",
        ]
        for stage in ride.stages
    ]
    ledger = [[name, f"{wh:.1f}"] for name, wh in ride.ledger_wh.items()]
    outcome = ride.outcome
    return "\n".join([
        f"{ride.build.name} on {ride.day.name} ({ride.battery_model} law)",
        "",
        table(["activity", "from", "to", "km", "charge %", ""], stages),
        "",
        table(["energy ledger", "Wh"], ledger),
        f"residual {outcome.ledger_residual:.1e} of the energy through the pack",
        "",
        f"{outcome.distance_km:.2f} of {outcome.planned_distance_km:.2f} km, {outcome.energy_wh:.0f} Wh "
        f"({number(outcome.energy_wh_per_km)} Wh/km), pack {outcome.lowest_pack_voltage_v:.1f} V at the lowest and "
        f"{outcome.highest_pack_current_a:.1f} A at the most,",
        f"motor current {outcome.rms_motor_current_a:.1f} A rms, winding {outcome.hottest_winding_c:.0f} °C at the hottest, "
        f"{outcome.seconds_below_command:.0f} s below the commanded speed.",
        *_controller(ride),
        "",
        "What to watch",
        findings_text(findings),
    ])  # fmt: skip
