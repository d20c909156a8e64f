"""The bench panels' words: cautions, result tables, what to measure next. HTML, everything from outside escaped."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from math import isfinite, isnan

from ridesim.bench.motor.log import NEVER_UNLOADED
from ridesim.bench.motor.model import QUANTITIES
from ridesim.bench.motor.prediction import fan_drag_slowdown
from ridesim.show.bench_motor.inputs import Answer
from ridesim.show.bench_motor.pictures import fastest_rpm
from ridesim.show.style import MARK
from ridesim.show.units import System
from ridesim.words import Finding, Uncertain

CAUTIONS = (
    "Kind first. Leads open, turn the shaft and count its turns: a permanent-magnet motor makes volts. One that makes none is "
    "treated as series-wound: never run it without load, it speeds up until it flies apart. No free spin for it.",
    "Clamp the motor to something heavy. Chain guarded or off; wheel off the ground and clear of sleeves, hair and children.",
    "A fuse at the battery, in every test. Start at 6 V or less (one 6 V block), then 12 V. Bolted or "
    "plugged leads, no clips on a live block.",
    "Held rotor: a 12 V 55 W lamp in series lets about 4 A through; straight across a 12 V block over "
    "100 A can flow. Hold for 2 s, let it "
    "cool, never hold it by hand: the shaft jumps.",
    "A spring-set parking brake on a mobility motor is released as its maker meant (its own lever, or "
    "its own supply), never wedged or cut: "
    "it must hold again afterwards.",
    "Windings and brushes get hot without showing it. Never swap the leads over while it turns: nearly twice the held current flows.",
)
SERIES_CAUTIONS = (
    NEVER_UNLOADED + " Brake on before you switch on, off only after it stands; if the brake slips, switch off.",
    "Kind first. Leads open, turn the shaft and write down volts and turns: this motor makes next to none. One that makes volts has "
    "magnets and belongs in the panel above.",
    "A cut-out switch within reach, a second person at it, and a fuse at the battery, in every test. Bolted or plugged leads, no clips on "
    "a live block.",
    "Clamp the motor to something heavy, guard shaft and drum; nobody in line with them. A rope brake goes once round the drum at most, "
    "held so that it cannot slip off, and gets hot enough to burn.",
    "Held rotor: a 12 V 55 W lamp in series lets about 4 A through; straight across a 12 V block 200 A and more can flow. "
    "2 s, held by a bar against a stop, never by hand.",
    "3 s a point, then let it cool: windings, brushes and leads get hot without showing it. Smell or smoke: stop. "
    "Swapping the leads does not reverse it. Local rules and trained people come first.",
)
"""Common practice in our own words; local rules and trained people come first."""
ROWS = {
    "torque_constant_nm_per_a": ("torque constant K, 20 °C", "N·m/A", 1.0, 4),
    "series_constant_nm_per_a2": ("series constant k_s, 20 °C", "mN·m/A²", 1000.0, 3),
    "saturation_current_a": ("saturation current", "A", 1.0, 0),
    "resistance_ohm": ("resistance, 20 °C", "mΩ", 1000.0, 1),
    "brush_drop_v": ("brush drop", "V", 1.0, 2),
    "friction_torque_nm": ("friction", "N·m", 1.0, 3),
    "viscous_nm_per_rad_s": ("viscous drag", "mN·m·s/rad", 1000.0, 3),
}
"""The motor's numbers by key: words, unit, factor into that unit, decimals."""
_BEYOND = 1.1
"""Ratio to the tested currents and speeds from which a prediction is said to lie outside them: common practice, no source."""


def cautions_html(cautions: Iterable[str]) -> str:
    """The cautions before the first wire."""
    lines = "".join(f"<li>{escape(each)}</li>" for each in cautions)
    # In two columns without the page's usual space between lines: the panel stands below on the first screen.
    style = "columns:2 420px;column-gap:28px;margin:2px 0 4px;padding-left:18px;font-size:12px;line-height:1.3"
    return f'<h4 style="margin:0;font-size:13px">Before the first wire</h4><ul style="{style}">{lines}</ul>'


def span(each: Uncertain, digits: int, factor: float = 1.0) -> str:
    """A band's two ends."""
    return f"{factor * each.low:.{digits}f} to {factor * each.high:.{digits}f}"


def html_table(name: str, header: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    """A table with its heading."""
    head = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in header)
    body = "".join(
        "<tr>"
        + "".join(f'<th scope="row">{escape(c)}</th>' if i == 0 else f"<td>{escape(c)}</td>" for i, c in enumerate(row))
        + "</tr>"
        for row in rows
    )
    return f"<h4>{escape(name)}</h4><table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def motor_html(answer: Answer, _system: System) -> str:
    """The motor's numbers with their bands, and what they make together."""
    result = answer.result

    def row(words: str, band: Uncertain, unit: str, factor: float, digits: int) -> tuple[str, ...]:
        return words, f"{factor * band.value:.{digits}f}", span(band, digits, factor), unit

    rows = [row(ROWS[key][0], band, *ROWS[key][1:]) for key, band in result.values.items()]
    if result.chain_torque_nm is not None:
        rows.append(row("chain and lifted wheel", result.chain_torque_nm, "N·m at the motor", 1.0, 3))
    for amps in answer.log.currents_braked if answer.log.series_wound else ():
        rows.append(row(f"torque at {amps:.0f} A, before friction", result.torque_at(amps), "N·m", 1.0, 2))
    finite = [[cell.replace("inf", "∞") for cell in each] for each in rows]
    return html_table("The motor", ("", "value", "90 % band", "unit"), finite)


def predictions_html(answer: Answer, system: System) -> str:
    """24, 36, 48 V on this vehicle."""
    series, newton, kmh = answer.log.series_wound, system.value(1.0, "n"), system.value(1.0, "kmh")
    header = (
        ("motor there, A", "shaft there, turns/min", "unloaded, turns/min: NEVER")
        if series
        else ("wheel lifted, turns/min",)
    )
    rows = [
        (
            f"{each.voltage_v:g} V", f"{newton * each.pull_n.value:.0f} ({span(each.pull_n, 0, newton)}) at {each.starting_a:.0f} A",
            f"{kmh * each.top_speed_kmh.value:.1f} ({span(each.top_speed_kmh, 1, kmh)})",
            *((f"{each.current_a:.0f}", f"{each.shaft_rpm:.0f}", _runaway(each.unloaded_rpm)) if series else
              (f"{each.wheel_rpm.value:.0f} ({span(each.wheel_rpm, 0)})",)),
        )
        for each in answer.predictions
    ]  # fmt: skip
    table = html_table(
        f"On {answer.build.name}, pack full",
        ("pack", f"standing pull, {system.label('n')}", f"top speed, {system.label('kmh')}", *header),
        rows,
    )
    return (
        table
        + (_never(answer) if series else "")
        + f"<p>Bands: what the test leaves open about the motor{_gain_errors(answer)} Rolling, wind, the pack's age and the winding's "
        f"warmth come on top.{'' if series else _fan(answer)}</p>"
    )


def _never(answer: Answer) -> str:
    outside = "".join(f"<li>{escape(each)}</li>" for each in _outside(answer))
    return f"<p><b>{escape(NEVER_UNLOADED)}</b></p>" + (f"<ul>{outside}</ul>" if outside else "")


def _fan(answer: Answer) -> str:
    slower = 100.0 * fan_drag_slowdown(answer.result, 36.0)
    return (
        " If the motor's drag grew with the square of speed beyond your fastest row, the free shaft would be "
        f"{slower:.1f} % slower at 36 V."
    )


def _gain_errors(answer: Answer) -> str:
    """Whether the bands hold a gain error common to all readings of a meter."""
    if any(getattr(answer.log.meter, f"{name}_gain_percent") for name in QUANTITIES):
        return ", the gain error common to all readings of a meter included, as the log states it."
    return (
        ", each reading's error being its own. A meter that is always off by the same share comes on top, unless the log's [meter] "
        "states it (voltage_gain_percent, current_gain_percent, speed_gain_percent)."
    )


def _runaway(rpm: Uncertain) -> str:
    if not isfinite(rpm.value):
        return "without limit"
    top = f"{_two(rpm.high)}" if isfinite(rpm.high) else "no limit"
    return f"{_two(rpm.value)} ({_two(rpm.low)} to {top})"


def _two(value: float) -> str:
    return f"{float(f'{value:.2g}'):.0f}"


def _outside(answer: Answer) -> list[str]:
    """Where a prediction lies outside what was tested."""
    light, heavy = answer.log.currents_braked
    fastest = fastest_rpm(answer)
    said = []
    if (least := min(each.current_a for each in answer.predictions)) < light / _BEYOND:
        said.append(
            f"At top speed the motor draws {least:.0f} A, less than your lightest row ({light:.0f} A): that speed rests on the curve, not on "
            "a row."
        )
    if (most := max(each.starting_a for each in answer.predictions)) > heavy * _BEYOND:
        said.append(
            f"The controller lets {most:.0f} A through at a stand, more than your heaviest row ({heavy:.0f} A): that pull rests on the curve, "
            "not on a row."
        )
    quick = [each for each in answer.predictions if each.shaft_rpm > fastest * _BEYOND]
    if quick:
        said.append(
            f"Your fastest row turned {fastest:.0f} a minute. "
            + ", ".join(f"{each.voltage_v:g} V asks {each.shaft_rpm:.0f}" for each in quick)
            + ": whether windings and commutator stand that, no test here tells. Stay below the speed on the nameplate; without one, gear it "
            "so that the shaft turns no faster than tested."
        )
    return said


def residuals_html(answer: Answer, _system: System) -> str:
    """How far the rows lie off: volts, and volts and torque in standard deviations of the meters."""

    def sds(value: float) -> str:
        return "" if isnan(value) else f"{value:+.1f}"

    rows = [
        (each.row, f"{1000 * each.voltage_v:+.0f} mV", sds(each.voltage_sds), sds(each.torque_sds))
        for each in answer.result.residuals
    ]
    return html_table("Residuals", ("row", "volts off", "in meter errors", "torque, in meter errors"), rows)


def advice_html(answer: Answer, system: System) -> str:
    """What cannot be told, and what to watch."""
    parts = ["<h4>What the points do not tell</h4>"]
    told = answer.result.not_told or ("Nothing is left open: each number comes from your rows.",)
    parts.append("<ul>" + "".join(f"<li>{escape(each)}</li>" for each in told) + "</ul>")
    return "".join(parts) + findings_list(answer.result.findings, system)


def next_html(answer: Answer) -> str:
    """What to measure next, beside the boxes."""
    best, second = answer.further[:2]
    return (
        f"<p><b>Measure next:</b> {escape(best.what)}. It would make the band of the 36 V top speed {100 * best.narrows:.0f} % narrower "
        f"(second best: {escape(second.what)}, {100 * second.narrows:.0f} %).</p>"
    )


def findings_list(findings: Iterable[Finding], system: System) -> str:
    """Findings as a list, or nothing."""
    lines = "".join(
        f'<li class="ridesim-{each.severity}"><b>{MARK[each.severity]}</b> {escape(system.said(each.text, each.numbers.values()))}</li>'
        for each in findings
    )
    return f'<div class="ridesim-findings"><h4>What to watch</h4><ul>{lines}</ul></div>' if lines else ""


TABLES = (
    ("The motor", motor_html),
    ("On the vehicle", predictions_html),
    ("Advice", advice_html),
    ("Residuals", residuals_html),
)
