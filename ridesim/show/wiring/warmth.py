"""How warm a cable gets over the day: every circuit in a table, the chosen one as a small picture. Everything from outside is escaped."""

from __future__ import annotations

from html import escape
from math import ceil

import numpy as np

from ridesim.choose.wiring import Wiring
from ridesim.day.day import clock
from ridesim.show.tables.html import html_table
from ridesim.show.units import System
from ridesim.show.wiring.inputs import WiringAnswer
from ridesim.sizing.circuit import Circuit

WIDE, HIGH = 900.0, 190.0
LEFT, RIGHT, TOP, FOOT = 56.0, 16.0, 20.0, 30.0
"""Size of the picture and its margins, in its own units."""
POINTS = 500
"""Points of a line at most, the hottest one among them."""
STEP_C, HOUR_S = 20.0, 3600.0
INK, FAINT, WARN, SHADE = "var(--rs-ink, #1f2a30)", "var(--rs-faint, #56636b)", "var(--rs-warn, #9a1b30)", "var(--rs-shade, #f1f4f4)"  # fmt: skip


def warm_html(answer: WiringAnswer, system: System) -> str:
    """The picture of the chosen circuit, then the hottest of each."""
    wiring = answer.wiring
    if wiring.ride is None:
        return "<p>Without a day there is nothing to warm a cable: name one above.</p>"
    rows = [
        (
            escape(row["circuit"]),
            [
                system.text(row["hottest_c"], "c", 0),
                escape(system.said(row["where"])),
                system.text(row["insulation_c"], "c", 0),
            ],
        )
        for row in wiring.warmth.to_dict("records")
    ]
    note = (
        "Copper as warm as its air at first, heated by the day's own currents as if nothing opened; its insulation left out, so that it warms "
        "sooner than it will. Heat capacity from memory."
    )
    heads = ["circuit", "hottest", "when and where", "insulation stands"]
    return warm_svg(wiring, answer.circuit, system) + html_table("How warm each cable gets", heads, rows, note)


def warm_svg(wiring: Wiring, circuit: Circuit, system: System) -> str:
    """Temperature of one cable's copper against the clock, up to what its insulation stands."""
    ride, d = wiring.ride, circuit.demand
    assert ride is not None
    celsius, clock_s = wiring.temperatures(circuit), ride.clock_s
    low = STEP_C * (d.ambient_c // STEP_C)
    top = max(d.insulation_c, float(celsius.max())) + 4.0
    first, span = float(clock_s[0]), float(clock_s[-1] - clock_s[0]) or 1.0

    def x(moment: float) -> float:
        return LEFT + (WIDE - LEFT - RIGHT) * (moment - first) / span

    def y(temperature: float) -> float:
        return HIGH - FOOT - (HIGH - TOP - FOOT) * (temperature - low) / (top - low)

    kept = {*range(0, len(celsius), ceil(len(celsius) / POINTS)), int(celsius.argmax()), len(celsius) - 1}
    path = " ".join(f"{x(clock_s[row]):.1f},{y(celsius[row]):.1f}" for row in sorted(kept))
    shaded = "".join(
        f'<rect x="{x(each.start_s):.1f}" y="{TOP:g}" width="{x(each.end_s) - x(each.start_s):.1f}" height="{HIGH - TOP - FOOT:g}" '
        f'style="fill: {SHADE}"/>'
        for each in ride.stages
    )
    hours = ceil(span / HOUR_S / 10.0) * HOUR_S
    marks = "".join(
        _words(x(moment), HIGH - 10.0, clock(moment), "middle") for moment in np.arange(ceil(first / hours) * hours, first + span, hours)
    )  # fmt: skip
    levels = "".join(
        _level(y(each), FAINT, 0.5) + _words(LEFT - 8.0, y(each) + 4.0, system.text(each, "c", 0), "end")
        for each in np.arange(low, top, STEP_C)
    )
    limit = _level(y(d.insulation_c), WARN, 1.5) + _words(
        WIDE - RIGHT - 4.0, y(d.insulation_c) - 5.0, f"insulation stands {system.text(d.insulation_c, 'c', 0)}", "end", WARN
    )  # fmt: skip
    hot = float(celsius.max())
    said = f"{d.name}: up to {hot:.0f} °C over the day"
    title = _words(LEFT, TOP - 6.0, system.said(said), "start")
    return (
        f'<svg class="ridesim-warm" viewBox="0 0 {WIDE:g} {HIGH:g}" style="width: 100%; max-width: {WIDE:g}px" role="img" '
        f'aria-label="{escape(system.said(said))}">{shaded}{levels}{limit}{marks}{title}'
        f'<polyline points="{path}" style="fill: none; stroke: {INK}; stroke-width: 2"/></svg>'
    )


def _level(y: float, colour: str, width: float) -> str:
    return f'<line x1="{LEFT:g}" x2="{WIDE - RIGHT:g}" y1="{y:.1f}" y2="{y:.1f}" style="stroke: {colour}; stroke-width: {width:g}"/>'


def _words(x: float, y: float, text: str, anchor: str, colour: str = INK) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" style="fill: {colour}; font-size: 12px">{escape(text)}</text>'
