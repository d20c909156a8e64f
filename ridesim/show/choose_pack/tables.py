"""Tables and findings of the pack notebook as HTML. Everything from outside is escaped."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from html import escape

from ridesim.choose.packs import PackAnswers
from ridesim.day.day import clock
from ridesim.ride.pack.charge import FULL, MARKS, Charge
from ridesim.ride.pack.day_charges import BreakCharge
from ridesim.show.choose_pack.inputs import PackAnswer, kind_of
from ridesim.show.choose_pack.pictures import LAW_LINES
from ridesim.show.pictures.style import MARK
from ridesim.show.tables.figures import band_text, filled_text, time_text
from ridesim.vehicle.care import AGE_SPREAD, CYCLE_SPREAD
from ridesim.words import Uncertain, degrees

_RANK = {"stop": 0, "warning": 1, "advice": 2}
_PARAMETERS = {
    "peukert": (("k", "exponent", "", 3), ("rated", "capacity_ah", " Ah", 1)),
    "two-well": (("share c", "share", "", 3), ("rate", "rate_per_h", "/h", 3), ("whole", "whole_ah", " Ah", 2)),
    "saturating": (("gain", "gain", "", 3), ("d", "exponent", "", 3), ("C0", "capacity_ah", " Ah", 2), ("I0", "reference_a", " A", 2)),
}  # fmt: skip


def _table(caption: str, heads: Iterable[str], rows: Iterable[tuple[str, Iterable[str]]], note: str) -> str:
    """A table of ready HTML cells: heads; rows, each with its head; a note below."""
    cells = "".join(each if each.startswith("<th") else f'<th scope="col">{each}</th>' for each in heads)
    lines = "".join(
        f'<tr><th scope="row">{head}</th>{"".join(f"<td>{each}</td>" for each in row)}</tr>' for head, row in rows
    )
    return (
        f'<table class="ridesim-table"><caption class="ridesim-unseen">{caption}</caption>'
        f"<thead><tr>{cells}</tr></thead><tbody>{lines}</tbody></table><p><small>{note}</small></p>"
    )


def sheet_html(answer: PackAnswer) -> str:
    """Each law's parameters, its ampere-hours row by row, and its misfit."""
    sheet = answer.sheet
    rows: list[tuple[str, list[str]]] = [
        ("data sheet, Ah", [*(f"{each:.1f}" for each in sheet.charge_ah[::-1]), "", ""])
    ]
    for law in LAW_LINES:
        fitted = sheet[law]
        cells = [
            f"{charge:.1f} <small>{error:+.1f} %</small>"
            for charge, error in zip(fitted.capacity_ah[::-1], fitted.error_percent[::-1], strict=True)
        ]
        used = ", ".join(
            f"{name} {getattr(fitted.fit, key):.{digits}f}{unit}" for name, key, unit, digits in _PARAMETERS[law]
        )
        rows.append((law, [*cells, f"<b>{fitted.misfit_percent:.1f} %</b>", escape(used)]))
    local = ", ".join(f"{each:.2f}" for each in sheet.local_exponents[::-1])
    return _table(
        "Data sheet and the three laws",
        ["law", *(f"{each:g} h" for each in sheet.hours[::-1]), "misfit", "fitted"],
        rows,
        f"Peukert's k from row to row: {local}; one number would mean that his law holds. "
        f"The day's two-well law is matched to the law in use at 20, 5 and 1 h: {sheet.day_two_well_misfit_percent:.1f} % off this "
        "sheet at most.",
    )


def packs_html(answer: PackAnswer) -> str:
    """The two packs side by side."""
    heads = (
        f'<th scope="col" class="ridesim-colour-{place}">{escape(each.name)}</th>'
        for place, each in enumerate(answer.options, start=1)
    )
    rows = []
    for label, cell, better in _ROWS:
        cells = [escape(cell(each)) for each in answer.options]
        best = _best(*(better(each) for each in answer.options)) if better else None
        if best is not None:
            mark = '<span aria-hidden="true">✓ </span><span class="ridesim-unseen">better: </span>'
            cells[best] = f"<b>{mark}{cells[best]}</b>"
        rows.append((escape(label), cells))
    return _table(
        "The two packs on this day",
        ["✓ better", *heads],
        rows,
        f"Life by cycles is known to ±{CYCLE_SPREAD:.0%}, by age to ±{AGE_SPREAD:.0%}: show days and their price have no ✓ "
        "where the bands of both packs overlap.",
    )


_Figure = float | Uncertain | None


def _best(one: _Figure, other: _Figure) -> int | None:
    """Place of the larger figure; None where one is missing, where both are alike, or where their bands overlap."""
    if isinstance(one, Uncertain) and isinstance(other, Uncertain):
        if one.low <= other.high and other.low <= one.high:
            return None
        one, other = one.value, other.value
    if not isinstance(one, float) or not isinstance(other, float) or not math.isfinite(one + other):
        return None
    return None if math.isclose(one, other, rel_tol=1e-3) else int(other > one)


def _less(figure: _Figure) -> _Figure:
    """A figure of which less is better."""
    if isinstance(figure, Uncertain):
        return Uncertain(-figure.value, -figure.high, -figure.low)
    return None if figure is None else -figure


def _money(value: float | None) -> str:
    return "price?" if value is None else f"{value:,.0f}"


def _per_day(option: PackAnswers) -> str:
    return "price?" if option.price_per_show_day is None else band_text(option.price_per_show_day, 2)


def _wall(option: PackAnswers) -> str:
    wall = option.charging.wall_wh
    return f"refused at {degrees(option.ride.day.ambient_c)} °C" if wall is None else band_text(wall, 2, 1e-3)


def _amps(option: PackAnswers) -> str:
    allowed = option.charging.night.allowed
    return f"{allowed.current_a:.1f} ({allowed.set_by})"


def _hours_to(option: PackAnswers, mark: float) -> float:
    return option.charging.night.hours_to[mark]


_Row = tuple[str, Callable[[PackAnswers], str], Callable[[PackAnswers], _Figure] | None]
_ROWS: tuple[_Row, ...] = (
    ("label, Wh", lambda o: f"{o.label_wh:.0f}", None),
    ("usable on this day, Wh", lambda o: band_text(o.usable_wh), lambda o: o.usable_wh.value),
    ("pack mass, kg", lambda o: f"{o.build.pack.mass_kg:.1f}", lambda o: -o.build.pack.mass_kg),
    ("kg a usable kWh", lambda o: f"{o.kg_per_usable_kwh:.0f}", lambda o: -o.kg_per_usable_kwh),
    ("price", lambda o: _money(o.price), lambda o: _less(o.price)),
    ("price a usable kWh", lambda o: _money(o.price_per_usable_kwh), lambda o: _less(o.price_per_usable_kwh)),
    ("charge at the end, %", lambda o: band_text(o.end_charge, 0, 100.0), lambda o: o.end_charge.value),
    ("deepest discharge, %", lambda o: f"{100.0 * o.depth:.0f}", None),
    ("show days it lasts", lambda o: f"{band_text(o.show_days)}, by {o.worn_by}", lambda o: o.show_days),
    ("price a show day", _per_day, lambda o: _less(o.price_per_show_day)),
    (
        "from the socket a show day, kWh",
        _wall,
        lambda o: -o.charging.wall_wh.value if o.charging.wall_wh else None,
    ),
    ("charging current, A (set by)", _amps, None),
    *(
        (
            f"night, in the day's air: to {'full' if mark == FULL else f'{100 * mark:.0f} %'}",
            lambda o, mark=mark: time_text(_hours_to(o, mark)),
            lambda o, mark=mark: -_hours_to(o, mark),
        )
        for mark in MARKS
    ),
)


_CHARGES = ("charge", "pack", "before", "amps (set by)", "then volts", "brings it to", "socket, kWh")


def charging_html(answer: PackAnswer) -> str:
    """Break by break, then the night, pack beside pack."""
    return "<p><b>Charging: constant current, then constant voltage</b></p>" + _table(
        "Charging in the break and overnight",
        _CHARGES,
        ((escape(head), [escape(each) for each in cells]) for head, *cells in _charges(answer)),
        f"All in the day's air, {degrees(answer.day.ambient_c)} °C, lights and controller off. From the socket: volts × amps "
        "added up, and as the band's other end the trade's rule, ampere-hours × label volts / (pack's × charger's efficiency). Lead-acid "
        "only in moving air, lithium only watched; the cautions stand below.",
    )


def _charges(answer: PackAnswer) -> Iterator[tuple[str, ...]]:
    for pair in zip(*(each.charging.breaks for each in answer.options), strict=True):
        for option, each in zip(answer.options, pair, strict=True):
            name = f"{each.name}, {clock(each.at_s)}" if each.name else f"a break, were there one at {clock(each.at_s)}"
            yield f"{name}, {each.minutes:g} min", kind_of(option), *_charge_cells(each.charge, each)
    for option in answer.options:
        yield "night", kind_of(option), *_charge_cells(option.charging.night)


def _charge_cells(charge: Charge, inside: BreakCharge | None = None) -> tuple[str, ...]:
    """Before, amps, volts, after, socket; of a break's minutes, or until full."""
    before = f"{100 * float(charge.state_of_charge[0]):.0f} %"
    if charge.refused:
        return before, "refused", "", "-", "-"
    amps = f"{charge.allowed.current_a:.1f} A ({charge.allowed.set_by})"
    hours, reached = charge.constant_current_until
    if inside is None:
        volts = f"{charge.voltage_v:.1f} V from {time_text(hours)}, {100 * reached:.0f} %"
        return before, amps, volts, filled_text(charge), band_text(charge.wall_band, 2, 1e-3)
    volts = f"{charge.voltage_v:.1f} V from {60.0 * hours:.0f} min" if hours < inside.minutes / 60.0 else "not reached"
    return before, amps, volts, f"{100 * inside.end_charge:.0f} %", band_text(inside.wall_wh, 2, 1e-3)


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
