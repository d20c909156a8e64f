"""Tables of the wiring notebook as HTML. Everything from outside is escaped."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from math import isnan
from typing import Any

from ridesim.choose.opening import RAMP, STALLED, THE_DAY
from ridesim.show.tables.html import findings_html, html_table
from ridesim.show.tables.wiring_text import says
from ridesim.show.units import System
from ridesim.show.wiring.inputs import WiringAnswer, switch_fields
from ridesim.sizing.circuit import Circuit
from ridesim.sizing.lighting import STRIPS_W_PER_M, supplies
from ridesim.sizing.protection import FROM_MEMORY, kind_of
from ridesim.words import Finding

CASES = {
    THE_DAY: "over the day", RAMP: "start on a ramp", STALLED: "10 s stall", "weakest dead short": "weakest short",
    "strongest dead short": "strongest short",
}  # fmt: skip
"""Cases of :attr:`ridesim.choose.wiring.Wiring.opens`, and how their columns are called."""


def chosen_html(circuit: Circuit, system: System) -> str:
    """What the circuit that is worked on carries, and what set its cable and its protection."""
    d = circuit.demand
    flows = f"{d.continuous_a:.1f} A for minutes on end"
    if d.peak_a > 1.02 * d.continuous_a:
        flows += f", {d.peak_a:.1f} A for a second"
    return (
        f"<p><b>{escape(d.name)}</b>, {escape(d.source)} to {escape(d.load)}: {flows}; {circuit.section_mm2:.3g} mm² carries "
        f"{circuit.limits.ampacity_a:.0f} A here and drops {circuit.limits.drop_v:.2f} V, {circuit.drop_percent:.1f} % "
        f"{_way(circuit)}(at most {100.0 * d.drop_limit:g} %). Why so: {escape(circuit.reason)}.</p>"
    )


def _way(circuit: Circuit) -> str:
    """How much of its drop lies before a circuit begins."""
    d = circuit.demand
    return f"from the source on, {d.feeder_drop_v:.2f} V of it before {escape(d.source)} " if d.feeder_drop_v else ""


def schedule_html(answer: WiringAnswer, system: System) -> str:
    """What to wire from: a row a circuit."""
    wiring = answer.wiring
    rows = [
        (escape(row["circuit"]), [
            f"{escape(row['from'])} – {escape(row['to'])}", system.text(row["length_m"], "m", 1), f"{row['section_mm2']:.3g}", row["awg"],
            escape(row["colour"]), escape(row["fuse"]) or "–", f"{row['drop_v']:.2f} V, {row['drop_percent']:.1f} %", escape(row["reason"]),
        ])
        for row in wiring.schedule.to_dict("records")
    ]  # fmt: skip
    heads = ["circuit", "from – to", "one way", "mm²", "AWG", "colour", "fuse or breaker", "drop", "why so"]
    note = (
        "Drop: from the source on, all cables on the way together. "
        "AWG: the thinnest usual gauge of at least that section. Wire sold by an SAE gauge has 4 to 12 % less copper: look for the mm² on it. "
        "Sources disagree about colours: label both ends."
    )
    return html_table("Wiring schedule", heads, rows, note)


def opens_html(answer: WiringAnswer, system: System) -> str:
    """What each protection does over the day and in faults."""
    wiring, rows = answer.wiring, []
    cases = {(row["circuit"], row["case"]): row for row in wiring.opens.to_dict("records")}
    for each in wiring.sized:
        name, part = each.demand.name, each.opens
        if part is not None:
            by = "" if each.protection is not None else "by the "
            what = f"{escape(name)} <small>{by}{part.rating_a:g} A {escape(kind_of(part.kind).name)}</small>"
            rows.append((what, [_case(cases.get((name, case)), system) for case in CASES]))
    note = (
        f"From the quickest part to the slowest that its standard lets pass: {FROM_MEMORY}. A short circuit is weakest from a cold, tired pack at "
        f"the reserve, at the far end of the cable, and strongest from a full one at its beginning. Start and stall: {wiring.stall_a:.0f} A out of "
        "the pack when the motor is held at its limit, and its leads carry that limit."
    )
    return html_table("What opens when", ["", *CASES.values()], rows, note)


def _case(row: Mapping[Any, Any] | None, system: System) -> str:
    """A cell: when it opens, how warm the cable gets, whether it lives."""
    if row is None:
        return "–"
    warm = "" if isnan(row["cable_c"]) else f"<br><small>cable {system.text(row['cable_c'], 'c', 0)}</small>"
    cable = "" if row["outlives"] else "<br><em>the cable burns first</em>"
    bad = row["case"] in (THE_DAY, RAMP) and row["says"] != "never"
    said = escape(system.said(says(row)))
    return (f"<em>{said}</em>" if bad else said) + warm + cable


def lights_html(answer: WiringAnswer, system: System) -> str:
    """Each light with its circuit, and an own block against a converter."""
    build, wiring = answer.build, answer.wiring
    if build.lighting is None:
        return "<p>This build has no lights; state [lighting] in its file.</p>"
    circuits = {each.demand.load: each for each in wiring.sized if each.demand.role == "lighting"}
    rows = []
    for light in build.lighting.load:
        found = circuits.get(light.name)
        rows.append((escape(light.name), [f"{light.power_w:g} W", *_light(found)]))
    both = None if wiring.ride is None else supplies(build, wiring.ride.asked)
    said = "" if both is None else f"{both.power_w:g} W for {both.burning_h:.1f} h full on. {both.sentence}"
    strips = ", ".join(f"{name} {watts:g}" for name, watts in STRIPS_W_PER_M.items())
    note = f"LED strips of 12 V, watts a metre: {strips} (a maker’s figures); others lie between 5 and 24. Watts times metres is the light’s power_w."
    heads = ["light", "power", "current", "fed from", "cable", "fuse", "drop"]
    return f"<p>{escape(system.said(said))}</p>" + html_table("Lights", heads, rows, escape(note))


def _light(circuit: Circuit | None) -> list[str]:
    if circuit is None:
        return ["", "on a circuit with others", "", "", ""]
    d, part = circuit.demand, circuit.protection
    return [
        f"{d.continuous_a:.2f} A", f"{escape(d.source)}, {d.volts:g} V", f"{circuit.section_mm2:.3g} mm²",
        "–" if part is None else f"{part.rating_a:g} A",
        f"{circuit.limits.drop_v:.2f} V, {circuit.drop_percent:.1f} %",
    ]  # fmt: skip


def parts_html(answer: WiringAnswer, system: System) -> str:
    """What to buy."""

    def amount(count: float, unit: str) -> str:
        return system.text(count, "m", 1) if unit == "m" else f"{count:g}"

    rows = [
        (amount(count, unit), [escape(system.said(part)), escape(where)])
        for part, count, unit, where in answer.wiring.parts.to_numpy().tolist()
    ]
    note = "Cable out and back, with a tenth for cutting off. Lugs, crimps, boots and labels come on top: a lug is pressed, never only soldered."
    return html_table("What to buy", ["how much", "what", "where it goes"], rows, note)


def cautions_html(answer: WiringAnswer, system: System) -> str:
    """What stands beside the sizes, whatever they are."""
    return findings_html(
        [], [(0, each) for each in answer.wiring.cautions], "Before you wire", colours=False, system=system
    )


def watch_html(answer: WiringAnswer, system: System) -> str:
    """What to watch, worst first; switches about which nothing is said are named together."""
    found = answer.wiring.to_watch
    if silent := answer.wiring.silent:
        names = {field.key: field.label for field in switch_fields()}
        listed = "; ".join(names[key][:1].lower() + names[key][1:] for key in silent)
        text = f"Not said yet whether it has {listed}. Answer under “switches”."
        found.append(Finding("switches", "warning", text))
    return findings_html([], [(0, each) for each in found], colours=False, system=system)
