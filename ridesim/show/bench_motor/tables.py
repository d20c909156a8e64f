"""The bench panel's words: cautions, result tables, what to measure next. HTML, everything from outside escaped."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from html import escape

import numpy as np

from ridesim.bench.motor.model import gain_sds
from ridesim.bench.motor.prediction import fan_drag_slowdown
from ridesim.show.bench_motor.inputs import BenchAnswer
from ridesim.show.bench_motor.series_inputs import SeriesAnswer
from ridesim.show.pictures.style import MARK
from ridesim.words import Finding, Uncertain

CAUTIONS = (
    "Kind first. Leads open, turn the shaft and count its turns: a permanent-magnet motor makes volts. One that makes none is "
    "treated as series-wound: never run it without load, it speeds up until it flies apart. No spin test for it.",
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
"""Common practice in our own words; local rules and trained people come first."""
ROWS = (
    ("torque_constant_nm_per_a", "torque constant K, 20 °C", "N·m/A", 1.0, 4),
    ("resistance_ohm", "resistance, 20 °C", "mΩ", 1000.0, 1),
    ("brush_drop_v", "brush drop", "V", 1.0, 2),
    ("friction_torque_nm", "friction", "N·m", 1.0, 3),
    ("viscous_nm_per_rad_s", "viscous drag", "mN·m·s/rad", 1000.0, 3),
)


def cautions_html(cautions: Iterable[str] = CAUTIONS) -> str:
    """The cautions before the first wire."""
    lines = "".join(f"<li>{escape(each)}</li>" for each in cautions)
    # In two columns without the page's usual space between lines: the panel stands below on the first screen.
    style = "columns:2 420px;column-gap:28px;margin:2px 0 4px;padding-left:18px;font-size:12px;line-height:1.3"
    return f'<h4 style="margin:0;font-size:13px">Before the first wire</h4><ul style="{style}">{lines}</ul>'


def span(each: Uncertain, digits: int, factor: float = 1.0) -> str:
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


def motor_rows(
    values: Mapping[str, Uncertain], rows: Iterable[tuple[str, str, str, float, int]]
) -> list[tuple[str, ...]]:
    """Numbers with their bands: words, value, band, unit."""
    return [
        (words, f"{factor * values[key].value:.{digits}f}", span(values[key], digits, factor), unit)
        for key, words, unit, factor, digits in rows
    ]


def motor_table(rows: Iterable[Iterable[str]]) -> str:
    """The table of the motor's numbers."""
    return html_table("The motor", ("", "value", "95 % band", "unit"), rows)


def motor_html(answer: BenchAnswer) -> str:
    """The five numbers with their bands."""
    rows = motor_rows(answer.result.values, ROWS)
    chain = answer.result.chain_torque_nm
    if chain is not None:
        rows.append(("chain and lifted wheel", f"{chain.value:.3f}", span(chain, 3), "N·m at the motor"))
    return motor_table(rows)


def predictions_html(answer: BenchAnswer) -> str:
    """24, 36, 48 V on this vehicle."""
    slower = fan_drag_slowdown(answer.result, 36.0)
    rows = [
        (
            f"{each.voltage_v:g} V", f"{each.wheel_rpm.value:.0f} ({span(each.wheel_rpm, 0)})",
            f"{each.pull_n.value:.0f} ({span(each.pull_n, 0)})", f"{each.top_speed_kmh.value:.1f} ({span(each.top_speed_kmh, 1)})",
        )
        for each in answer.predictions
    ]  # fmt: skip
    return html_table(
        f"On {answer.build.name}, pack full",
        ("pack", "wheel lifted, turns/min", "standing pull, N", "top speed, km/h"),
        rows,
    ) + (
        f"<p>Bands: what the test leaves open about the motor{common_factors(answer)} Rolling, "
        "wind and the pack's age come on top. If the motor's drag grew with the "
        f"square of speed beyond your fastest point, the free shaft would be {100 * slower:.1f} % slower at 36 V.</p>"
    )


def common_factors(answer: BenchAnswer | SeriesAnswer) -> str:
    """Whether the bands hold a factor common to all readings of a meter."""
    if gain_sds(answer.log.meter).any():
        return ", the factor common to all readings of a meter included, as the log states it."
    return (
        ", each reading's error being its own. A meter that is always off by the same share comes on top, unless the log's [meter] "
        "states it (voltage_gain_percent, current_gain_percent, speed_gain_percent)."
    )


def residuals_table(rows: Iterable[tuple[str, float, float, float]]) -> str:
    """Row by row, how far the points lie off: row, volts, volts and torque in meter errors (NaN: none)."""

    def sds(value: float) -> str:
        return "" if np.isnan(value) else f"{value:+.1f}"

    shown = [(row, f"{1000 * volts:+.0f} mV", sds(one), sds(other)) for row, volts, one, other in rows]
    return html_table("Residuals", ("row", "volts off", "in meter errors", "torque, in meter errors"), shown)


def residuals_html(answer: BenchAnswer) -> str:
    """How far the points lie off."""
    return residuals_table(
        (each.row, each.voltage_v, each.voltage_sds, each.torque_sds) for each in answer.result.residuals
    )


def advice_html(answer: BenchAnswer | SeriesAnswer) -> str:
    """What cannot be told, what to watch, what to measure next."""
    parts = ["<h4>What the points do not tell</h4>"]
    told = answer.result.not_separated or ("Nothing is left open: each number comes from your points.",)
    parts.append("<ul>" + "".join(f"<li>{escape(each)}</li>" for each in told) + "</ul>")
    best = answer.further[0]
    parts.append(
        f"<p><b>Measure next:</b> {escape(best.what)}. It would make the band of the 36 V top speed {100 * best.narrows:.0f} % narrower "
        f"(second best: {escape(answer.further[1].what)}, {100 * answer.further[1].narrows:.0f} %).</p>"
    )
    return "".join(parts) + findings_list(answer.result.findings)


def findings_list(findings: Iterable[Finding]) -> str:
    """Findings as a list, or nothing."""
    lines = "".join(
        f'<li class="ridesim-{each.severity}"><b>{MARK[each.severity]}</b> {escape(each.text)}</li>'
        for each in findings
    )
    return f'<div class="ridesim-findings"><h4>What to watch</h4><ul>{lines}</ul></div>' if lines else ""


TABLES = (
    ("The motor", motor_html),
    ("On the vehicle", predictions_html),
    ("Advice", advice_html),
    ("Residuals", residuals_html),
)
