"""Tables and findings of the pack notebook as HTML. Everything from outside is escaped."""

from __future__ import annotations

import math
from collections.abc import Iterator
from html import escape

from ridesim.choose.packs import PackAnswers
from ridesim.day.day import clock
from ridesim.ride.pack.charge import FULL, MARKS, Charge
from ridesim.ride.pack.day_charges import BreakCharge
from ridesim.show.choose_pack.inputs import PackAnswer, kind_of
from ridesim.show.choose_pack.pictures import LAW_LINES
from ridesim.show.tables.figures import band_text, filled_text, time_text
from ridesim.show.tables.html import better, coloured_heads, findings_html, html_table
from ridesim.show.tables.outcome import csv_text
from ridesim.show.units import System
from ridesim.vehicle.care import AGE_SPREAD, CYCLE_SPREAD
from ridesim.words import Uncertain, degrees, percent

_PARAMETERS = {
    "peukert": (("k", "exponent", "", 3), ("rated", "capacity_ah", " Ah", 1)),
    "two-well": (("share c", "share", "", 3), ("rate", "rate_per_h", "/h", 3), ("whole", "whole_ah", " Ah", 2)),
    "saturating": (("gain", "gain", "", 3), ("d", "exponent", "", 3), ("C0", "capacity_ah", " Ah", 2), ("I0", "reference_a", " A", 2)),
}  # fmt: skip


NO_SHEET = (
    " The build states no data sheet: the rows are what its k of {:.2f} gives. Type your block's own over them; emptied boxes hold the build's "
    "again."
)


def sheet_html(answer: PackAnswer, _system: System) -> str:
    """Each law's parameters, its ampere-hours row by row, and its misfit."""
    sheet = answer.sheet
    stated = answer.lead.build.pack.capacity_by_hours is not None
    rows = [
        ("data sheet, Ah" if stated else "by its k, Ah", [*(f"{each:.1f}" for each in sheet.charge_ah[::-1]), "", ""])
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
    return html_table(
        "Data sheet and the three laws",
        ["law", *(f"{each:g} h" for each in sheet.hours[::-1]), "misfit", "fitted"],
        rows,
        f"Peukert's k from row to row: {local}; one number would mean that his law holds."
        + ("" if stated else NO_SHEET.format(answer.lead.build.pack.in_force.peukert_exponent)),
    )


def packs_html(answer: PackAnswer, system: System) -> str:
    """The two packs side by side."""
    rows = []
    for (label, one, figure), (_, other, other_figure) in _pairs(answer, system):
        cells = [escape(one), escape(other)]
        best = _best(figure, other_figure)
        if best is not None:
            cells[best] = better(cells[best])
        rows.append((escape(label), cells))
    return html_table(
        "The two packs on this day",
        ["✓ better", *coloured_heads(each.name for each in answer.options)],
        rows,
        f"Life by cycles is known to ±{percent(CYCLE_SPREAD)}, by age to ±{percent(AGE_SPREAD)}: show days and their price have no ✓ "
        f"where the bands of both packs overlap.{' All blocks are taken as sound here.' if answer.weakest < 1.0 else ''}",
    )


def packs_csv(answer: PackAnswer, system: System) -> str:
    """The same for a spreadsheet."""
    heads = ["", *(option.name for option in answer.options)]
    rows = ([label, one, other] for (label, one, _), (_, other, _) in _pairs(answer, system))
    return csv_text([heads, *rows])


_Figure = float | Uncertain | None
_Row = tuple[str, str, _Figure]


def _pairs(answer: PackAnswer, system: System) -> Iterator[tuple[_Row, _Row]]:
    """The rows of both packs."""
    return zip(*(_pack_rows(option, system) for option in answer.options), strict=True)  # type: ignore[return-value]


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


def _pack_rows(o: PackAnswers, system: System) -> Iterator[_Row]:
    """What is said of a pack: label, text, and the figure of which more is better; None where neither is better."""
    pack, wall, night, a_day = o.build.pack, o.charging.wall_wh, o.charging.night, o.price_per_show_day
    yield "label, Wh", f"{o.label_wh:.0f}", None
    yield "usable on this day, Wh", band_text(o.usable_wh), o.usable_wh.value
    kg = system.label("kg")
    yield f"pack mass, {kg}", f"{system.value(pack.mass_kg, 'kg'):.1f}", -pack.mass_kg
    yield f"{kg} a usable kWh", f"{system.value(o.kg_per_usable_kwh, 'kg'):.0f}", -o.kg_per_usable_kwh
    for label, price in (("price", o.price), ("price a usable kWh", o.price_per_usable_kwh)):
        yield label, "price?" if price is None else f"{price:,.0f}", _less(price)
    for label, spare, digits, factor in (
        (f"still to ride, reserve kept, {system.label('km')}", o.candidate.spare_km, 1, system.value(1.0, "km")),
        ("left at this load, %", o.candidate.left, 0, 100.0),
    ):
        yield label, "-" if spare is None else band_text(spare, digits, factor), spare and spare.value
    yield "deepest discharge, %", f"{100.0 * o.depth:.0f}", None
    yield "show days it lasts", f"{band_text(o.show_days)}, by {o.worn_by}", o.show_days
    yield "price a show day", "price?" if a_day is None else band_text(a_day, 2), _less(a_day)
    refused = system.said(f"refused at {degrees(o.ride.day.ambient_c)} °C")
    yield "from the socket a show day, kWh", band_text(wall, 2, 1e-3) if wall else refused, wall and -wall.value
    yield "charging current, A (set by)", f"{night.allowed.current_a:.1f} ({night.allowed.set_by})", None
    for mark in MARKS:
        hours, full = night.hours_to[mark], "full" if mark == FULL else f"{100 * mark:.0f} %"
        yield f"night, in the day's air: to {full}", time_text(hours), -hours


_CHARGES = ("charge", "pack", "before", "amps (set by)", "then volts", "brings it to", "socket, kWh")


def charging_html(answer: PackAnswer, system: System) -> str:
    """Break by break, then the night, pack beside pack."""
    return "<p><b>Charging: constant current, then constant voltage</b></p>" + html_table(
        "Charging in the break and overnight",
        _CHARGES,
        ((escape(head), [escape(each) for each in cells]) for head, *cells in _charges(answer)),
        system.said(
            f"All in the day's air, {degrees(answer.day.ambient_c)} °C, lights and controller off. From the socket: volts × amps "
            "added up, and as the band's other end the trade's rule, ampere-hours × label volts / (pack's × charger's efficiency). Lead-acid "
            "only in moving air, lithium only watched: the cautions stand with the two packs."
        ),
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


def pack_findings_html(answer: PackAnswer, system: System, tab: str | None = None) -> str:
    """What to watch in both packs: of one tab, whose subject it is, or all; nothing where a tab has nothing to say."""
    findings = answer.findings if tab is None else answer.found[tab]
    if tab not in (None, "packs") and not findings:
        return ""
    names = [each.name for each in answer.options]
    note = "ridesim computes; it makes nothing safe. Local codes and licensed people decide."
    return findings_html(names, findings, "What to watch, and cautions", note, colours=False, system=system)
