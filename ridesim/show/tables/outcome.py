"""The outcome of the day, one row a figure: what stands in the cells, the differences, and which value is better.

Terminal, panel, saved table and sheet all show these lines.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable
from dataclasses import dataclass
from html import escape
from typing import Literal, NamedTuple

from ridesim.choose import Candidate, Comparison
from ridesim.show.units import METRIC, System


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the table.

    Attributes
    ----------
    label : str
        In words; indented where it belongs to the row above.
    unit : str
        The metric unit, as a suffix of :data:`ridesim.words.UNITS`; empty where there is none.
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
    better: Literal["high", "low", ""] = ""
    shown: Callable[[Candidate, System], str] | None = None


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


def rows_for(comparison: Comparison) -> list[Row]:
    """The table's rows; a climb and a reverse only where the day or a candidate has one."""
    grade = comparison.day.steepest_percent
    reverses = any(math.isfinite(c.top_speed_in_reverse_kmh) for c in comparison.candidates)
    reverse = Row("top speed, reverse", "kmh", 1, lambda c: c.top_speed_in_reverse_kmh)
    climb = Row(f"top speed {grade:.1f} % up", "kmh", 1, lambda c: c.top_speed_on_grade_kmh, "high")
    return [
        Row("mass, rider aboard", "kg", 1, lambda c: c.build.total_mass_kg(), "low"),
        Row("pack", "", 0, lambda c: c.build.pack.nominal_voltage_v, shown=_pack),
        Row("pack mass", "kg", 1, lambda c: c.build.pack.mass_kg, "low"),
        Row("gear ratio", "", 2, lambda c: c.build.drive.ratio),
        Row("top speed, pack full", "kmh", 1, lambda c: c.top_speed_kmh, "high"),
        Row("top speed at reserve", "kmh", 1, lambda c: c.top_speed_at_reserve_kmh, "high"),
        *([reverse] if reverses else []),
        *([climb] if grade > 0.0 else []),
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
    if row.shown is _finished or (row.shown is not None and not row.better):
        return ""
    step = system.value(row.value(c), row.unit) - system.value(row.value(first), row.unit)
    text = f"{step:+.{row.digits}f}" if math.isfinite(step) else ""
    return "" if text.strip("+-0.") == "" else text


def best(row: Row, candidates: tuple[Candidate, ...]) -> set[int]:
    """Places of the candidates with the better value; none where all are equal at the digits shown, or where neither is better."""
    values = [round(row.value(c), row.digits) for c in candidates] if row.better else []
    if len(set(values)) < 2 or not all(math.isfinite(value) for value in values):
        return set()
    wanted = max(values) if row.better == "high" else min(values)
    return {place for place, value in enumerate(values) if value == wanted}


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


def lines_for(comparison: Comparison, system: System = METRIC) -> list[Line]:
    """The table's rows as they are read in a system of units."""
    candidates = comparison.candidates
    lines = []
    for row in rows_for(comparison):
        label = row.label.replace("kilometre", "mile") if system.label("km") == "mi" else row.label
        lines.append(
            Line(
                label=label.strip(),
                inside=label.startswith(" "),
                unit=system.label(row.unit) if row.unit else "",
                cells=tuple(cell(row, c, system) for c in candidates),
                steps=tuple(difference(row, c, candidates[0], system) for c in candidates),
                better=best(row, candidates),
            )
        )
    return lines


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
    names = [escape(c.name) for c in comparison.candidates]
    heads = "".join(
        f'<th scope="col"{f" class=ridesim-colour-{place}" if colours else ""}>{name}</th>'
        for place, name in enumerate(names, start=1)
    )
    rows = []
    for line in lines_for(comparison, system):
        indent = ' class="ridesim-in"' if line.inside else ""
        name = escape(line.label) + (f" <small>{escape(line.unit)}</small>" if line.unit else "")
        cells = "".join(_cell_html(line, place) for place in range(len(names)))
        rows.append(f'<tr><th scope="row"{indent}>{name}</th>{cells}</tr>')
    return (
        f'<table class="ridesim-table"><caption class="ridesim-unseen">Outcome of the day; signed numbers are differences from {names[0]}'
        f'</caption><thead><tr><th scope="col">✓ better</th>{heads}</tr></thead><tbody>{"".join(rows)}</tbody></table>'
    )


def _cell_html(line: Line, place: int) -> str:
    text, step = escape(line.cells[place]), line.steps[place].replace("-", "−")
    if place in line.better:
        # A tick, bold type and a word for screen readers: never by colour alone.
        text = f'<b><span aria-hidden="true">✓ </span><span class="ridesim-unseen">better: </span>{text}</b>'
    return f"<td>{text}{f' <small>{step}</small>' if step else ''}</td>"
