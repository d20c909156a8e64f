"""The series-wound motor panel's words: cautions, result tables, what to measure next. HTML, everything from outside escaped."""

from __future__ import annotations

import math
from html import escape

from ridesim.bench.motor.load_log import NEVER_UNLOADED
from ridesim.bench.motor.log import RPM
from ridesim.bench.motor.series_prediction import currents_tested
from ridesim.bench.motor.series_wound import volts_off
from ridesim.show.bench_motor.series_inputs import SeriesAnswer
from ridesim.show.bench_motor.tables import (
    advice_html,
    common_factors,
    html_table,
    motor_rows,
    motor_table,
    residuals_table,
    span,
)
from ridesim.words import Uncertain

CAUTIONS = (
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
"""Common practice in our own words."""
ROWS = (
    ("series_constant_nm_per_a2", "series constant k_s, 20 °C", "mN·m/A²", 1000.0, 3),
    ("saturation_current_a", "saturation current", "A", 1.0, 0),
    ("resistance_ohm", "resistance, 20 °C", "mΩ", 1000.0, 1),
    ("brush_drop_v", "brush drop", "V", 1.0, 2),
    ("friction_torque_nm", "friction", "N·m", 1.0, 3),
    ("viscous_nm_per_rad_s", "viscous drag", "mN·m·s/rad", 1000.0, 3),
)
_BEYOND = 1.1
"""Ratio to the tested currents and speeds from which a prediction is said to lie outside them: common practice, no source."""


def motor_html(answer: SeriesAnswer) -> str:
    """The six numbers with their bands, and the torque that they make together."""
    rows = motor_rows(answer.result.values, ROWS)
    for amps in currents_tested(answer.result):
        torque = answer.result.torque_at(amps)
        rows.append((f"torque at {amps:.0f} A, before friction", f"{torque.value:.2f}", span(torque, 2), "N·m"))
    return motor_table([[cell.replace("inf", "∞") for cell in row] for row in rows])


def predictions_html(answer: SeriesAnswer) -> str:
    """24, 36, 48 V on this vehicle."""
    rows = [
        (
            f"{each.voltage_v:g} V", f"{each.pull_n.value:.0f} ({span(each.pull_n, 0)}) at {each.starting_a:.0f} A",
            f"{each.top_speed_kmh.value:.1f} ({span(each.top_speed_kmh, 1)})", f"{each.current_a:.0f}", f"{each.shaft_rpm:.0f}",
            _runaway(each.runaway_rpm),
        )
        for each in answer.predictions
    ]  # fmt: skip
    table = html_table(
        f"On {answer.build.name}, pack full",
        (
            "pack",
            "standing pull, N",
            "top speed, km/h",
            "motor there, A",
            "shaft there, turns/min",
            "unloaded, turns/min: NEVER",
        ),
        rows,
    )
    outside = "".join(f"<li>{escape(each)}</li>" for each in _outside(answer))
    return (
        table
        + f"<p><b>{escape(NEVER_UNLOADED)}</b></p>"
        + (f"<ul>{outside}</ul>" if outside else "")
        + f"<p>Bands: what the points leave open about the motor{common_factors(answer)} Rolling, wind, the pack's age and the "
        "winding's warmth come on top.</p>"
    )


def _runaway(rpm: Uncertain) -> str:
    if not math.isfinite(rpm.value):
        return "without limit"
    top = f"{_two(rpm.high)}" if math.isfinite(rpm.high) else "no limit"
    return f"{_two(rpm.value)} ({_two(rpm.low)} to {top})"


def _two(value: float) -> str:
    return f"{float(f'{value:.2g}'):.0f}"


def _outside(answer: SeriesAnswer) -> list[str]:
    """Where a prediction lies outside what was tested."""
    light, heavy = currents_tested(answer.result)
    fastest = float(answer.points.speed.max()) / RPM
    said = []
    if (least := min(each.current_a for each in answer.predictions)) < light / _BEYOND:
        said.append(
            f"At top speed the motor draws {least:.0f} A, less than your lightest point ({light:.0f} A): that speed rests on the curve, not on "
            "a point."
        )
    if (most := max(each.starting_a for each in answer.predictions)) > heavy * _BEYOND:
        said.append(
            f"The controller lets {most:.0f} A through at a stand, more than your heaviest point ({heavy:.0f} A): that pull rests on the curve, "
            "not on a point."
        )
    quick = [each for each in answer.predictions if each.shaft_rpm > fastest * _BEYOND]
    if quick:
        said.append(
            f"Your fastest point turned {fastest:.0f} a minute. "
            + ", ".join(f"{each.voltage_v:g} V asks {each.shaft_rpm:.0f}" for each in quick)
            + ": whether windings and commutator stand that, no test here tells. Stay below the speed on the nameplate; without one, gear it "
            "so that the shaft turns no faster than tested."
        )
    return said


def residuals_html(answer: SeriesAnswer) -> str:
    """How far the points lie off."""
    off = volts_off(answer.result)
    return residuals_table((row, off[row], *both) for row, both in answer.result.residuals.items())


TABLES = (
    ("The motor", motor_html),
    ("On the vehicle", predictions_html),
    ("Advice", advice_html),
    ("Residuals", residuals_html),
)
