"""The outcome of the day, one row a figure: what stands in the cells, the differences, and which value is better.

Terminal, panel, saved table and sheet all show these lines.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Sequence
from html import escape
from typing import Literal, NamedTuple

from ridesim.choose import Candidate, Comparison
from ridesim.show.tables.html import better, coloured_heads, html_table
from ridesim.show.units import METRIC, System


class _Row(NamedTuple):
    """A row of the table: label (indented where it belongs to the row above), metric unit, digits, value, better end, shown text.

    ``shown`` gives the text of a cell that is not a number alone. Such a row has no differences where neither end is better.
    """

    label: str
    unit: str
    digits: int
    value: Callable[[Candidate], float]
    better: Literal["high", "low", ""] = ""
    shown: Callable[[Candidate, System], str] | None = None


class Line(NamedTuple):
    """A row as it is read: what, whether it belongs to the row above, unit, one cell a candidate.

    ``steps`` are the differences from the first candidate, ``better`` the places of the better values.
    """

    label: str
    inside: bool
    unit: str
    cells: tuple[str, ...]
    steps: tuple[str, ...]
    better: set[int]


def _pack(c: Candidate, system: System) -> str:
    return f"{c.build.pack.nominal_voltage_v:g} V {c.build.pack.capacity_ah:g} Ah"


def _distance(c: Candidate, system: System) -> str:
    done, planned = c.ride.outcome.distance_km, c.ride.outcome.planned_distance_km
    return f"{system.value(done, 'km'):.1f} of {system.value(planned, 'km'):.1f}"


def _winding(c: Candidate, system: System) -> str:
    hot, limit = c.ride.outcome.hottest_winding_c, c.build.motor.winding_limit_c
    return f"{system.value(hot, 'c'):.0f} ({system.value(limit, 'c'):.0f})"


def _finished(c: Candidate, system: System) -> str:
    return "yes" if c.ride.outcome.finished else "NO"


def _range_band(c: Candidate, system: System) -> str:
    low, high = (system.value(km, "km") for km in (c.range_km.low, c.range_km.high))
    return f"{low:.1f} to {high:.1f}" if c.banded else "…"


def _end_band(c: Candidate, system: System) -> str:
    return f"{100.0 * c.end_charge.low:.0f} to {100.0 * c.end_charge.high:.0f}" if c.banded else "…"


def _rows(comparison: Comparison) -> list[_Row]:
    """The table's rows; a climb and a reverse only where the day or a candidate has one."""
    grade = comparison.day.steepest_percent
    reverses = any(math.isfinite(c.top_speed_in_reverse_kmh) for c in comparison.candidates)
    reverse = _Row("top speed, reverse", "kmh", 1, lambda c: c.top_speed_in_reverse_kmh)
    climb = _Row(f"top speed {grade:.1f} % up", "kmh", 1, lambda c: c.top_speed_on_grade_kmh, "high")
    return [
        _Row("mass, rider aboard", "kg", 1, lambda c: c.build.total_mass_kg(), "low"),
        _Row("pack", "", 0, lambda c: c.build.pack.nominal_voltage_v, shown=_pack),
        _Row("pack mass", "kg", 1, lambda c: c.build.pack.mass_kg, "low"),
        _Row("gear ratio", "", 2, lambda c: c.build.drive.ratio),
        _Row("top speed, pack full", "kmh", 1, lambda c: c.top_speed_kmh, "high"),
        _Row("top speed at reserve", "kmh", 1, lambda c: c.top_speed_at_reserve_kmh, "high"),
        *([reverse] if reverses else []),
        *([climb] if grade > 0.0 else []),
        _Row("steepest start", "percent", 1, lambda c: c.steepest_start_percent, "high"),
        _Row("steady speed", "kmh", 1, lambda c: c.steady_speed_kmh),
        _Row("  range to the reserve", "km", 1, lambda c: c.range_km.value, "high"),
        _Row("  over all laws", "km", 1, lambda c: c.range_km.low, shown=_range_band),
        _Row("  volts × amps says", "km", 1, lambda c: c.steady.plain_km),
        _Row("the day: finished", "", 0, lambda c: float(c.ride.outcome.finished), "high", shown=_finished),
        _Row("  distance", "km", 1, lambda c: round(c.ride.outcome.distance_km, 3), "high", shown=_distance),
        _Row("  charge at the end", "percent", 0, lambda c: 100.0 * c.end_charge.value, "high"),
        _Row("  over all laws", "percent", 0, lambda c: c.end_charge.low, shown=_end_band),
        _Row("  volts × amps says", "percent", 0, lambda c: 100.0 * max(c.plain_end_charge, 0.0)),
        _Row("  lowest pack voltage", "v", 1, lambda c: c.ride.outcome.lowest_pack_voltage_v),
        _Row("  highest pack current", "a", 1, lambda c: c.ride.outcome.highest_pack_current_a, "low"),
        _Row("  hottest winding (limit)", "c", 0, lambda c: c.ride.outcome.hottest_winding_c, "low", shown=_winding),
        _Row("  energy from the pack", "wh", 0, lambda c: c.ride.outcome.energy_wh, "low"),
        _Row("  per kilometre", "wh_per_km", 1, lambda c: c.ride.outcome.energy_wh_per_km, "low"),
    ]


def number(value: float, digits: int) -> str:
    """A number for a cell; a dash where there is none."""
    return f"{value:.{digits}f}" if math.isfinite(value) else "-"


def lines_for(comparison: Comparison, system: System = METRIC) -> list[Line]:
    """The table's rows as they are read in a system of units."""
    return [_line(row, comparison.candidates, system) for row in _rows(comparison)]


def _line(row: _Row, candidates: Sequence[Candidate], system: System) -> Line:
    values = [row.value(c) for c in candidates]
    shown = [system.value(value, row.unit) for value in values]
    compared = row.shown is None or (row.better and row.unit)
    return Line(
        label=row.label.strip().replace("kilometre", "mile" if system.label("km") == "mi" else "kilometre"),
        inside=row.label.startswith(" "),
        unit=system.label(row.unit) if row.unit else "",
        cells=tuple(row.shown(c, system) if row.shown else number(v, row.digits) for c, v in zip(candidates, shown, strict=True)),
        steps=tuple(_step(value - shown[0], row.digits) if compared else "" for value in shown),
        better=_better([round(value, row.digits) for value in values], row.better),
    )  # fmt: skip


def _step(step: float, digits: int) -> str:
    """A difference from the first candidate; empty where there is none at the digits shown."""
    text = f"{step:+.{digits}f}" if math.isfinite(step) else ""
    return "" if text.strip("+-0.") == "" else text


def _better(values: list[float], end: Literal["high", "low", ""]) -> set[int]:
    """Places of the better value; none where all are equal or one is missing, or where neither is better."""
    if not end or len(set(values)) < 2 or not all(map(math.isfinite, values)):
        return set()
    wanted = max(values) if end == "high" else min(values)
    return {place for place, value in enumerate(values) if value == wanted}


def table_csv(comparison: Comparison, system: System = METRIC) -> str:
    """The outcome table as CSV: figure, unit, one column a candidate, differences from the first."""
    names = [c.name for c in comparison.candidates]
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(["figure", "unit", *names, *(f"{name} differs by" for name in names[1:])])
    writer.writerows([line.label, line.unit, *line.cells, *line.steps[1:]] for line in lines_for(comparison, system))
    return stream.getvalue()


def table_html(comparison: Comparison, system: System = METRIC, colours: bool = True) -> str:
    """The outcome table as HTML: values, the difference from the first candidate, a tick and bold type on the better value."""
    names = [c.name for c in comparison.candidates]
    heads = coloured_heads(names) if colours else [escape(name) for name in names]
    rows = []
    for line in lines_for(comparison, system):
        inside = ' class="ridesim-in"' if line.inside else ""
        unit = f" <small>{escape(line.unit)}</small>" if line.unit else ""
        head = f'<th scope="row"{inside}>{escape(line.label)}{unit}</th>'
        rows.append((head, [_cell_html(line, place) for place in range(len(names))]))
    caption = f"Outcome of the day; signed numbers are differences from {escape(names[0])}"
    return html_table(caption, ["✓ better", *heads], rows)


def _cell_html(line: Line, place: int) -> str:
    text, step = escape(line.cells[place]), line.steps[place].replace("-", "−")
    return (better(text) if place in line.better else text) + (f" <small>{step}</small>" if step else "")
