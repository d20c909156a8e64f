"""The outcome of the day, one row a figure: what stands in the cells, the differences, and which value is better.

Terminal, panel, saved table and sheet all show these lines.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable
from html import escape
from typing import TYPE_CHECKING, Literal, NamedTuple

from ridesim.choose import Candidate, Comparison
from ridesim.choose.wishes import FINISHES, RESERVE, SPEED, STARTS, WINDING, likely_wishes
from ridesim.show.tables.html import better, coloured_heads, html_table
from ridesim.show.units import METRIC, System
from ridesim.words import ends

if TYPE_CHECKING:
    import pandas as pd


NINE_IN_TEN = "nine in ten lie within"


_NUMBERS = re.compile(r"[+-]?[\d.]+(e[+-]?\d+)?( to -?[\d.]+)?")


class _Figure(NamedTuple):
    """One figure of a candidate.

    ``label`` is indented where it belongs to the row above; ``unit`` is metric, a suffix of :data:`ridesim.words.UNITS`; ``better`` says
    which value is better; ``shown`` is the text of a cell that is not the number alone.
    """

    label: str
    unit: str
    digits: int
    value: float
    better: Literal["high", "low", ""] = ""
    shown: str = ""


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


def _figures(
    c: Candidate, system: System, grade: float, reverses: bool, charges: bool, own_lights: bool
) -> list[_Figure]:
    """A candidate's figures; a climb, a reverse, a charge and the lights' own battery only where the day or a candidate has one."""
    pack, outcome = c.build.pack, c.ride.outcome
    low_km, high_km, done, planned = (
        f"{system.value(km, 'km'):.1f}"
        for km in (c.range_km.low, c.range_km.high, outcome.distance_km, outcome.planned_distance_km)
    )
    hot, limit = (
        f"{system.value(each, 'c'):.0f}" for each in (outcome.hottest_winding_c, c.build.motor.winding_limit_c)
    )
    spare, least, most = ends(c.spare_km)
    to_empty = outcome.spare_to_empty_km
    low, high = (f"{system.value(km, 'km'):.1f}" for km in (least, most))
    spread = f"{low} to {high}" if math.isfinite(least) else "-"
    brought = (
        _Figure("  charged on the way", "ah", 1, outcome.charged_ah),
        _Figure("  which rides", "km", 1, math.nan if outcome.charged_km is None else outcome.charged_km),
    )
    lit = math.nan if outcome.lights_left is None else 100.0 * outcome.lights_left
    lights = _Figure("  lights' battery left", "percent", 0, lit, "high")
    label = f"{pack.nominal_voltage_v:g} V {pack.capacity_ah:g} Ah"
    reverse = _Figure("top speed, reverse", "kmh", 1, c.top_speed_in_reverse_kmh)
    climb = _Figure(f"top speed {grade:.1f} % up", "kmh", 1, c.top_speed_on_grade_kmh, "high")
    stays = "will not move" if c.top_speed_kmh <= 0.0 else ""
    none = "-" if stays else ""
    return [
        _Figure("mass, rider aboard", "kg", 1, c.build.total_mass_kg(), "low"),
        _Figure("pack", "", 0, pack.nominal_voltage_v, shown=label),
        _Figure("pack mass", "kg", 1, pack.mass_kg, "low"),
        _Figure("gear ratio (teeth)", "", 2, c.build.drive.ratio, shown=c.build.drive.in_words),
        _Figure("top speed, pack full", "kmh", 1, c.top_speed_kmh, "high", stays),
        _Figure("top speed at reserve", "kmh", 1, c.top_speed_at_reserve_kmh, "high", none),
        *([reverse] if reverses else []),
        *([climb] if grade > 0.0 else []),
        _Figure("steepest start", "percent", 1, max(0.0, c.steepest_start_percent), "high"),
        _Figure("steady speed", "kmh", 1, c.steady_speed_kmh, shown=none),
        _Figure("  range to the reserve", "km", 1, c.range_km.value, "high", none),
        _Figure(f"  {NINE_IN_TEN}", "km", 1, c.range_km.low, shown=f"{low_km} to {high_km}" if c.banded else "…"),
        _Figure("  volts × amps says", "km", 1, c.steady.plain_km),
        _Figure("the day: finished", "", 0, float(outcome.finished), "high", "yes" if outcome.finished else "NO"),
        _Figure("  distance", "km", 1, round(outcome.distance_km, 3), "high", f"{done} of {planned}"),
        _Figure("  still to ride, reserve kept", "km", 1, spare, "high"),
        _Figure(f"  {NINE_IN_TEN}", "km", 1, least, shown=spread if c.banded else "…"),
        _Figure("  and to empty", "km", 1, math.nan if to_empty is None else to_empty, "high"),
        _Figure("  left at this load", "percent", 0, 100.0 * ends(c.left)[0], "high"),
        _Figure("  volts × amps says", "percent", 0, 100.0 * max(c.plain_end_charge, 0.0)),
        *(brought if charges else ()),
        *([lights] if own_lights else []),
        _Figure("  lowest pack voltage", "v", 1, outcome.lowest_pack_voltage_v),
        _Figure("  highest pack current", "a", 1, outcome.highest_pack_current_a, "low"),
        _Figure("  hottest winding (limit)", "c", 0, outcome.hottest_winding_c, "low", f"{hot} ({limit})"),
        _Figure("  energy from the pack", "wh", 0, outcome.energy_wh, "low"),
        _Figure("  per kilometre", "wh_per_km", 1, outcome.energy_wh_per_km, "low", none),
    ]


IN_SHORT = (
    "pack", "gear ratio (teeth)", "top speed, pack full", "steepest start", "range to the reserve",
    "still to ride, reserve kept", NINE_IN_TEN, "and to empty", "hottest winding (limit)",
)  # fmt: skip
"""Rows of the short table."""


def number(value: float, digits: int) -> str:
    """A number for a cell; a dash where there is none."""
    return f"{value:.{digits}f}" if math.isfinite(value) else "-"


def lines_for(comparison: Comparison, system: System = METRIC) -> list[Line]:
    """The table's rows as they are read in a system of units."""
    grade = comparison.day.steepest_percent
    reverses = any(math.isfinite(c.top_speed_in_reverse_kmh) for c in comparison.candidates)
    charges = any(c.ride.outcome.charged_ah >= 0.05 for c in comparison.candidates)
    own_lights = any(c.ride.outcome.lights_left is not None for c in comparison.candidates)
    fails = {place for place, each in enumerate(comparison.verdicts) if each.level == "no"}
    rows = zip(*(_figures(c, system, grade, reverses, charges, own_lights) for c in comparison.candidates), strict=True)
    return [_line(row, system, fails) for row in rows]


def _line(row: tuple[_Figure, ...], system: System, fails: set[int]) -> Line:
    first, digits = row[0], row[0].digits
    numbers = [system.value(each.value, each.unit) for each in row]
    # What is shown in words has differences only where it is a number as well.
    compared = not first.shown or (first.better and first.unit)
    return Line(
        label=first.label.strip().replace("kilometre", "mile" if system.label("km") == "mi" else "kilometre"),
        inside=first.label.startswith(" "),
        unit=system.label(first.unit) if first.unit else "",
        cells=tuple(each.shown or number(value, digits) for each, value in zip(row, numbers, strict=True)),
        steps=tuple(_step(value - numbers[0], digits) if compared else "" for value in numbers),
        better=_better([round(each.value, digits) for each in row], first.better) - fails,
    )


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
    rows = [["figure", "unit", *names, *(f"{name} differs by" for name in names[1:])]]
    rows += [[line.label, line.unit, *line.cells, *line.steps[1:]] for line in lines_for(comparison, system)]
    return csv_text(rows)


def csv_text(rows: Iterable[Iterable[str]]) -> str:
    """Rows of texts as CSV that no spreadsheet takes for formulas."""
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerows([harmless(cell) for cell in row] for row in rows)
    return stream.getvalue()


def frame_csv(frame: pd.DataFrame, texts: Iterable[str]) -> str:
    """A frame as CSV that no spreadsheet takes for formulas; ``texts`` are its columns that hold text."""
    return frame.assign(**{name: frame[name].map(harmless) for name in texts}).to_csv(index=False)


def harmless(cell: str) -> str:
    """A cell of text that no spreadsheet takes for a formula: one that begins like one gets an apostrophe, numbers and a dash stay."""
    if not cell.startswith(("=", "+", "-", "@", "\t", "\r")) or cell == "-":
        return cell
    return cell if _NUMBERS.fullmatch(cell) else "'" + cell


GROUPS = {
    "pack": "build", "gear ratio (teeth)": "build", "top speed, pack full": "moving", "steepest start": "moving",
    "range to the reserve": "distance", "still to ride, reserve kept": "the day", "and to empty": "the day",
    "hottest winding (limit)": "heat",
}  # fmt: skip
"""Rows of the short table under their headings; others go with the row above."""
FAILS = {STARTS: "steepest start", SPEED: "top speed, pack full", FINISHES: "still to ride, reserve kept", RESERVE: "still to ride, reserve kept",
         WINDING: "hottest winding (limit)"}  # fmt: skip
"""The row that shows a wish of the day."""


def table_html(comparison: Comparison, system: System = METRIC, colours: bool = True, everything: bool = True) -> str:
    """The outcome table as HTML: values, the difference from the first candidate, a tick and bold type on the better value.

    Parameters
    ----------
    comparison : Comparison
        Whose outcome it is.
    system : System
        Units of the figures.
    colours : bool
        Whether names stand in their candidates' colours.
    everything : bool
        All rows; else those that decide, in groups, a figure that fails in red and in words.
    """
    names = [c.name for c in comparison.candidates]
    heads = coloured_heads(names) if colours else [escape(name) for name in names]
    fails = [] if everything else [_failing(c) for c in comparison.candidates]
    rows, group = [], ""
    for line in lines_for(comparison, system) if everything else short_lines(comparison, system):
        heading = GROUPS.get(line.label, group)
        if not everything and heading != group:
            group = heading
            rows.append((f'<th scope="row" class="ridesim-group">{group}</th>', ["" for _ in names]))
        inside = ' class="ridesim-in"' if line.inside or not everything else ""
        unit = f" <small>{escape(line.unit)}</small>" if line.unit else ""
        head = f'<th scope="row"{inside}>{escape(line.label)}{unit}</th>'
        cells = [_cell_html(line, place) for place in range(len(names))]
        rows.append(
            (
                head,
                [
                    f"<em>fails</em> {cell}" if fails and line.label in fails[n] else cell
                    for n, cell in enumerate(cells)
                ],
            )
        )
    caption = f"Outcome of the day; signed numbers are differences from {escape(names[0])}"
    return html_table(caption, ["✓ better" if len(names) > 1 else "", *heads], rows)


def short_lines(comparison: Comparison, system: System = METRIC) -> list[Line]:
    """The rows that decide, whether they differ or not."""
    return [line for line in lines_for(comparison, system) if line.label in IN_SHORT or line.label.endswith("% up")]


def _failing(c: Candidate) -> set[str]:
    """Labels of the rows that show a wish which does not hold."""
    return {FAILS[wish] for wish, holds in likely_wishes(c).items() if not holds and wish in FAILS}


def _cell_html(line: Line, place: int) -> str:
    text, step = escape(line.cells[place]), line.steps[place]
    return (better(text) if place in line.better else text) + (f" <small>{step}</small>" if step else "")
