"""Tables and findings of the pack notebook as HTML. Everything from outside is escaped."""

from __future__ import annotations

import math
from collections.abc import Callable
from html import escape

from ridesim.choose.packs import PackOption
from ridesim.ride.pack.charge_plan import FULL, MARKS
from ridesim.show.choose_pack.inputs import PackAnswer
from ridesim.show.choose_pack.pictures import LAW_LINES
from ridesim.show.pictures.style import MARK
from ridesim.show.tables.figures import band_text, time_text
from ridesim.vehicle.care import AGE_SPREAD, CYCLE_SPREAD
from ridesim.words import Uncertain, degrees

_RANK = {"stop": 0, "warning": 1, "advice": 2}
_PARAMETERS = {
    "peukert": (("k", "exponent", "", 3), ("rated", "capacity_ah", " Ah", 1)),
    "two-well": (("share c", "share", "", 3), ("rate", "rate_per_h", "/h", 3), ("whole", "whole_ah", " Ah", 2)),
    "saturating": (("gain", "gain", "", 3), ("d", "exponent", "", 3), ("C0", "capacity_ah", " Ah", 2), ("I0", "reference_a", " A", 2)),
}  # fmt: skip


def sheet_html(answer: PackAnswer) -> str:
    """Each law's parameters, its ampere-hours row by row, and its misfit."""
    sheet = answer.sheet
    hours = "".join(f'<th scope="col">{each:g} h</th>' for each in sheet.hours[::-1])
    printed = "".join(f"<td>{each:.1f}</td>" for each in sheet.charge_ah[::-1])
    lines = [f'<tr><th scope="row">data sheet, Ah</th>{printed}<td></td><td></td></tr>']
    for law in LAW_LINES:
        fitted = sheet[law]
        cells = "".join(
            f"<td>{charge:.1f} <small>{error:+.1f} %</small></td>"
            for charge, error in zip(fitted.capacity_ah[::-1], fitted.error_percent[::-1], strict=True)
        )
        used = ", ".join(
            f"{name} {fitted.parameters[key]:.{digits}f}{unit}" for name, key, unit, digits in _PARAMETERS[law]
        )
        lines.append(
            f'<tr><th scope="row">{law}</th>{cells}<td><b>{fitted.misfit_percent:.1f} %</b></td><td>{escape(used)}</td></tr>'
        )
    local = ", ".join(f"{each:.2f}" for each in sheet.local_exponents[::-1])
    return (
        '<table class="ridesim-table"><caption class="ridesim-unseen">Data sheet and the three laws</caption>'
        f'<thead><tr><th scope="col">law</th>{hours}<th scope="col">misfit</th><th scope="col">fitted</th></tr></thead>'
        f"<tbody>{''.join(lines)}</tbody></table><p><small>Peukert's k from row to row: {local}; one number would mean that his law holds. "
        f"The day's two-well law is matched to the law in use at 20, 5 and 1 h: {sheet.day_two_well_misfit_percent:.1f} % off this "
        "sheet at most.</small></p>"
    )


def packs_html(answer: PackAnswer) -> str:
    """The two packs side by side."""
    heads = "".join(
        f'<th scope="col" class="ridesim-colour-{place}">{escape(each.name)}</th>'
        for place, each in enumerate(answer.options, start=1)
    )
    lines = []
    for label, cell, better in _ROWS:
        cells = [cell(answer, each) for each in answer.options]
        best = _best([better(answer, each) for each in answer.options]) if better else None
        shown = "".join(
            f'<td><b><span aria-hidden="true">✓ </span><span class="ridesim-unseen">better: </span>{escape(text)}</b></td>'
            if place == best
            else f"<td>{escape(text)}</td>"
            for place, text in enumerate(cells)
        )
        lines.append(f'<tr><th scope="row">{escape(label)}</th>{shown}</tr>')
    return (
        '<table class="ridesim-table"><caption class="ridesim-unseen">The two packs on this day</caption>'
        f'<thead><tr><th scope="col">✓ better</th>{heads}</tr></thead><tbody>{"".join(lines)}</tbody></table>'
        f"<p><small>Life by cycles is known to ±{CYCLE_SPREAD:.0%}, by age to ±{AGE_SPREAD:.0%}: show days and their price have no ✓ "
        "where the bands of both packs overlap.</small></p>"
    )


def _best(values: list[float]) -> int | None:
    """Place of the largest value; None where they are alike."""
    if not all(math.isfinite(each) for each in values) or math.isclose(values[0], values[1], rel_tol=1e-3):
        return None
    return max(range(len(values)), key=lambda place: values[place])


def _money(value: float | None, digits: int = 0) -> str:
    return "price?" if value is None else f"{value:,.{digits}f}"


def _money_band(value: Uncertain | None) -> str:
    return "price?" if value is None else band_text(value, 2)


def _apart(answer: PackAnswer, option: PackOption, figure: Callable[[PackOption], Uncertain | None]) -> float:
    """A figure to choose by; not a number where the two packs' bands overlap, so that neither is called better."""
    one, two = (figure(each) for each in answer.options)
    own = figure(option)
    if one is None or two is None or own is None or (one.low <= two.high and two.low <= one.high):
        return math.nan
    return own.value


def _hours_to(answer: PackAnswer, option: PackOption, mark: float) -> float:
    return answer.plans[option.name].hours_to[mark]


def _wall(answer: PackAnswer, option: PackOption) -> str:
    if option.wall_wh is None:
        return f"refused at {degrees(answer.day.ambient_c)} °C"
    return band_text(option.wall_wh, 2, 1e-3)


_Row = tuple[str, Callable[[PackAnswer, PackOption], str], Callable[[PackAnswer, PackOption], float] | None]
_ROWS: tuple[_Row, ...] = (
    ("label, Wh", lambda a, o: f"{o.label_wh:.0f}", None),
    ("usable on this day, Wh", lambda a, o: band_text(o.usable_wh), lambda a, o: o.usable_wh.value),
    ("pack mass, kg", lambda a, o: f"{o.build.pack.mass_kg:.1f}", lambda a, o: -o.build.pack.mass_kg),
    ("kg a usable kWh", lambda a, o: f"{o.kg_per_usable_kwh:.0f}", lambda a, o: -o.kg_per_usable_kwh),
    ("price", lambda a, o: _money(o.price), lambda a, o: -(o.price or math.nan)),
    (
        "price a usable kWh",
        lambda a, o: _money(o.price_per_usable_kwh),
        lambda a, o: -(o.price_per_usable_kwh or math.nan),
    ),
    ("charge at the end, %", lambda a, o: band_text(o.end_charge, 0, 100.0), lambda a, o: o.end_charge.value),
    ("deepest discharge, %", lambda a, o: f"{100.0 * o.depth:.0f}", None),
    (
        "show days it lasts",
        lambda a, o: f"{band_text(o.show_days)}, by {o.worn_by}",
        lambda a, o: _apart(a, o, lambda each: each.show_days),
    ),
    (
        "price a show day",
        lambda a, o: _money_band(o.price_per_show_day_band),
        lambda a, o: -_apart(a, o, lambda each: each.price_per_show_day_band),
    ),
    (
        "from the socket a show day, kWh",
        lambda a, o: _wall(a, o),
        lambda a, o: -o.wall_wh.value if o.wall_wh else math.nan,
    ),
    (
        "charging current, A (set by)",
        lambda a, o: f"{a.plans[o.name].allowed.current_a:.1f} ({a.plans[o.name].allowed.set_by})",
        None,
    ),
    *(
        (
            f"night, in the day's air: to {'full' if mark == FULL else f'{100 * mark:.0f} %'}",
            lambda a, o, mark=mark: time_text(_hours_to(a, o, mark)),
            lambda a, o, mark=mark: -_hours_to(a, o, mark),
        )
        for mark in MARKS
    ),
)


def pack_findings_html(answer: PackAnswer) -> str:
    """What to watch, worst first; one that both share is said once."""
    said: dict[tuple[str, str], tuple[str, list[str]]] = {}
    for name, finding in answer.findings:
        said.setdefault((finding.code, finding.text), (finding.severity, []))[1].append(name)
    names = [each.name for each in answer.options]
    lines = []
    for (_, text), (severity, whose) in sorted(said.items(), key=lambda item: _RANK[item[1][0]]):
        who = "Both" if len(set(whose)) == len(names) else whose[0]
        lines.append(
            f'<li class="ridesim-{severity}"><b>{MARK[severity]}</b><strong>{escape(who)}:</strong> {escape(text)}</li>'
        )
    return (
        f'<div class="ridesim-findings"><h4>What to watch, and cautions</h4><ul>{"".join(lines)}</ul>'
        "<p><small>ridesim computes; it makes nothing safe. Local codes and licensed people decide.</small></p></div>"
    )
