"""The outcome table in numbers: rows, differences, and which value is better. The one source of panel, saved copy and terminal."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from html import escape
from typing import Literal

from ridesim.choose import Candidate, Comparison
from ridesim.ride.steady.motor import can_reverse, reverse_top_speed_kmh
from ridesim.show.units import METRIC, System

Better = Literal["high", "low", ""]


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the table.

    Attributes
    ----------
    label, unit : str
        In words; the unit in metric, as a suffix of :data:`ridesim.words.UNITS`.
    digits : int
        After the point.
    value : callable
        Candidate to number.
    better : {"high", "low", ""}
        Which value is better.
    shown : callable or None
        Candidate to text, where it is not a number alone.
    """

    label: str
    unit: str
    digits: int
    value: Callable[[Candidate], float]
    better: Better = ""
    shown: Callable[[Candidate, System], str] | None = None


def _pack(c: Candidate, system: System) -> str:
    pack = c.ride.build.pack
    return f"{pack.nominal_voltage_v:g} V {pack.capacity_ah:g} Ah"


def _distance(c: Candidate, system: System) -> str:
    done, planned = c.ride.outcome.distance_km, c.ride.outcome.planned_distance_km
    return f"{system.value(done, 'km'):.1f} of {system.value(planned, 'km'):.1f}"


def _winding(c: Candidate, system: System) -> str:
    hot, limit = c.ride.outcome.hottest_winding_c, c.ride.build.motor.winding_limit_c
    return f"{system.value(hot, 'c'):.0f} ({system.value(limit, 'c'):.0f})"


def rows_for(comparison: Comparison) -> list[Row]:
    """The table's rows; a climb and a reverse only where the day or a candidate has one."""
    grade = comparison.day.steepest_percent
    rows = [
        Row("mass, rider aboard", "kg", 1, lambda c: c.ride.build.total_mass_kg(), "low"),
        Row("pack", "", 0, lambda c: c.ride.build.pack.nominal_voltage_v, shown=_pack),
        Row("pack mass", "kg", 1, lambda c: c.ride.build.pack.mass_kg, "low"),
        Row("gear ratio", "", 2, lambda c: c.ride.build.drive.ratio),
        Row("top speed, pack full", "kmh", 1, lambda c: c.top_speed_kmh, "high"),
        Row("top speed at reserve", "kmh", 1, lambda c: c.top_speed_at_reserve_kmh, "high"),
        Row("steepest start", "percent", 1, lambda c: c.steepest_start_percent, "high"),
        Row("steady speed", "kmh", 1, lambda c: c.steady_speed_kmh),
        Row("  range to the reserve", "km", 1, lambda c: c.range_km.value, "high"),
        Row("  over all laws", "km", 1, lambda c: c.range_km.low, shown=_range_band),
        Row("  volts × amps says", "km", 1, lambda c: c.steady.plain_km),
        Row("the day: finished", "", 0, lambda c: float(c.ride.outcome.finished), "high", shown=_finished),
        Row("  distance", "km", 1, lambda c: round(c.ride.outcome.distance_km, 3), "high", shown=_distance),
        Row("  charge at the end", "percent", 0, lambda c: 100.0 * c.end_charge.value, "high"),
        Row("  over all laws", "percent", 0, lambda c: c.end_charge.low, shown=_end_band),
        Row("  volts × amps says", "percent", 0, lambda c: 100.0 * max(c.plain_end_charge, 0.0)),
        Row("  lowest pack voltage", "v", 1, lambda c: c.ride.outcome.lowest_pack_voltage_v),
        Row("  highest pack current", "a", 1, lambda c: c.ride.outcome.highest_pack_current_a, "low"),
        Row("  hottest winding (limit)", "c", 0, lambda c: c.ride.outcome.hottest_winding_c, "low", shown=_winding),
        Row("  energy from the pack", "wh", 0, lambda c: c.ride.outcome.energy_wh, "low"),
        Row("  per kilometre", "wh_per_km", 1, lambda c: c.ride.outcome.energy_wh_per_km, "low"),
    ]
    if grade > 0.0:
        rows.insert(6, Row(f"top speed {grade:.1f} % up", "kmh", 1, lambda c: c.top_speed_on_grade_kmh, "high"))
    if any(can_reverse(c.ride.build) for c in comparison.candidates):
        rows.insert(6, Row("top speed, reverse", "kmh", 1, _reverse))
    return rows


def _reverse(c: Candidate) -> float:
    return reverse_top_speed_kmh(c.ride.build) if can_reverse(c.ride.build) else math.nan


def _finished(c: Candidate, system: System) -> str:
    return "yes" if c.ride.outcome.finished else "NO"


def _range_band(c: Candidate, system: System) -> str:
    return f"{system.value(c.range_km.low, 'km'):.1f} to {system.value(c.range_km.high, 'km'):.1f}"


def _end_band(c: Candidate, system: System) -> str:
    return f"{100.0 * c.end_charge.low:.0f} to {100.0 * c.end_charge.high:.0f}"


def number(value: float, digits: int) -> str:
    """A number for a cell; a dash where there is none."""
    return f"{value:.{digits}f}" if math.isfinite(value) else "-"


def cell(row: Row, c: Candidate, system: System = METRIC) -> str:
    """What stands in a cell."""
    if row.shown is not None:
        return row.shown(c, system)
    return number(system.value(row.value(c), row.unit), row.digits)


def difference(row: Row, c: Candidate, first: Candidate, system: System = METRIC) -> str:
    """By how much a candidate differs from the first one; empty where it does not at the digits shown."""
    if row.shown is not None and not row.better:
        return ""
    if row.shown is _finished:
        return ""
    step = system.value(row.value(c), row.unit) - system.value(row.value(first), row.unit)
    text = f"{step:+.{row.digits}f}" if math.isfinite(step) else ""
    return "" if text.strip("+-0.") == "" else text.replace("-", "−")


def best(row: Row, candidates: tuple[Candidate, ...]) -> set[int]:
    """Places of the candidates with the better value; none where all are equal at the digits shown, or where neither is better."""
    if not row.better or len(candidates) < 2:
        return set()
    values = [round(row.value(c), row.digits) for c in candidates]
    if any(not math.isfinite(v) for v in values) or len(set(values)) == 1:
        return set()
    top = max(values) if row.better == "high" else min(values)
    return {place for place, value in enumerate(values) if value == top}


def table_html(comparison: Comparison, system: System = METRIC, colours: bool = True, banded: bool = True) -> str:
    """The outcome table as HTML: values, the difference from the first candidate, a tick and bold type on the better value."""
    candidates = comparison.candidates
    heads = "".join(
        f'<th scope="col"{f" class=ridesim-colour-{place + 1}" if colours else ""}>{escape(c.name)}</th>'
        for place, c in enumerate(candidates)
    )
    lines = []
    for row in rows_for(comparison):
        winners = best(row, candidates)
        cells = "".join(
            "<td>…</td>"
            if row.shown in (_range_band, _end_band) and not banded
            else _cell_html(row, candidates, place, place in winners, system)
            for place in range(len(candidates))
        )
        unit = system.label(row.unit) if row.unit else ""
        label = row.label.replace("per kilometre", "per mile") if system.label("km") == "mi" else row.label
        indent = ' class="ridesim-in"' if label.startswith(" ") else ""
        name = escape(label.strip()) + (f" <small>{escape(unit)}</small>" if unit else "")
        lines.append(f'<tr><th scope="row"{indent}>{name}</th>{cells}</tr>')
    first = escape(candidates[0].name)
    return (
        f'<table class="ridesim-table"><caption class="ridesim-unseen">Outcome of the day; signed numbers are differences from {first}</caption>'
        f'<thead><tr><th scope="col">✓ better</th>{heads}</tr></thead><tbody>{"".join(lines)}</tbody></table>'
    )


def _cell_html(row: Row, candidates: tuple[Candidate, ...], place: int, wins: bool, system: System) -> str:
    text = escape(cell(row, candidates[place], system))
    if wins:
        # A tick, bold type and a word for screen readers: never by colour alone.
        text = f'<b><span aria-hidden="true">✓ </span><span class="ridesim-unseen">better: </span>{text}</b>'
    step = difference(row, candidates[place], candidates[0], system) if place else ""
    return f"<td>{text}{f' <small>{step}</small>' if step else ''}</td>"
