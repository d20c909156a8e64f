"""The charges of the day and of the night, as a table of the pack notebook. Everything from outside is escaped."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from ridesim.choose.packs import PackOption
from ridesim.day.day import clock
from ridesim.ride.pack.charge_plan import BreakCharge, ChargePlan
from ridesim.show.choose_pack.inputs import PackAnswer
from ridesim.show.tables.figures import band_text, filled_text, time_text
from ridesim.words import degrees

_HEADS = ("charge", "pack", "before", "amps (set by)", "then volts", "brings it to", "socket, kWh")


def charging_html(answer: PackAnswer) -> str:
    """Break by break, then the night, pack beside pack."""
    heads = "".join(f'<th scope="col">{each}</th>' for each in _HEADS)
    lines = []
    for row in (*_breaks(answer), *_nights(answer)):
        cells = "".join(f"<td>{escape(each)}</td>" for each in row[1:])
        lines.append(f'<tr><th scope="row">{escape(row[0])}</th>{cells}</tr>')
    return (
        '<p><b>Charging: constant current, then constant voltage</b></p><table class="ridesim-table">'
        '<caption class="ridesim-unseen">Charging in the break and overnight</caption>'
        f"<thead><tr>{heads}</tr></thead><tbody>{''.join(lines)}</tbody></table>"
        f"<p><small>All in the day's air, {degrees(answer.day.ambient_c)} °C, lights and controller off. From the socket: volts × amps "
        "added up, and as the band's other end the trade's rule, ampere-hours × label volts / (pack's × charger's efficiency). Lead-acid "
        "only in moving air, lithium only watched; the cautions stand below.</small></p>"
    )


def _breaks(answer: PackAnswer) -> Iterator[tuple[str, ...]]:
    pairs = zip(*(answer.breaks[each.name] for each in answer.options), strict=True)
    for pair in pairs:
        for option, each in zip(answer.options, pair, strict=True):
            plan = each.plan
            name = f"{each.name}, {clock(each.at_s)}" if each.name else f"a break, were there one at {clock(each.at_s)}"
            yield (
                f"{name}, {each.minutes:g} min",
                _kind(option),
                f"{100 * each.start_charge:.0f} %",
                *(("refused", "", "-", "-") if plan.refused else _break_cells(each)),
            )


def _break_cells(each: BreakCharge) -> tuple[str, ...]:
    hours, _ = each.plan.constant_current_until
    inside = hours < each.minutes / 60.0
    return (
        _current(each.plan),
        f"{each.plan.voltage_v:.1f} V from {60.0 * hours:.0f} min" if inside else "not reached",
        f"{100 * each.end_charge:.0f} %",
        band_text(each.wall_wh, 2, 1e-3),
    )


def _nights(answer: PackAnswer) -> Iterator[tuple[str, ...]]:
    for option in answer.options:
        plan = answer.plans[option.name]
        before = f"{100 * float(plan.state_of_charge[0]):.0f} %"
        if plan.refused:
            yield "night", _kind(option), before, "refused", "", "-", "-"
            continue
        hours, charge = plan.constant_current_until
        yield (
            "night",
            _kind(option),
            before,
            _current(plan),
            f"{plan.voltage_v:.1f} V from {time_text(hours)}, {100 * charge:.0f} %",
            filled_text(plan),
            band_text(plan.wall_band, 2, 1e-3),
        )


def _current(plan: ChargePlan) -> str:
    return f"{plan.allowed.current_a:.1f} A ({plan.allowed.set_by})"


def _kind(option: PackOption) -> str:
    return "lithium" if option.build.pack.kind.is_lithium else "lead-acid"
