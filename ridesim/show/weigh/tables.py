"""Tables of the weigh-in notebook as HTML. Everything from outside is escaped."""

from __future__ import annotations

from html import escape
from math import isfinite

import numpy as np

from ridesim.choose.findings.balance import weighing_findings
from ridesim.show.tables.html import findings_html, html_table
from ridesim.show.units import System
from ridesim.show.weigh.inputs import LEAN_DEGREES, WeighAnswer
from ridesim.sizing import fastening
from ridesim.sizing.balance import Balance, compare_places
from ridesim.sizing.fastening import ON_THE_TRUCK, plate_hold, restraint_n, strap_n
from ridesim.sizing.moving import CAUTION, FARTHEST_M, RAMPS, crest_percent, lifters, push, ramp_length_m
from ridesim.sizing.tray import TERMINAL_ROOM_MM, Arrangement
from ridesim.words import InputProblem, Uncertain

STEPS_M = (-0.2, 0.0, 0.2), (0.1, 0.0, -0.1)
"""Places of the pack that are compared with where it is: forward, and up."""
BEDS_M = (0.5, 0.8)
"""Heights of a trailer's and a truck's bed: common practice, no source."""


def balance_html(answer: WeighAnswer, system: System) -> str:
    """Mass, axle loads and centre of gravity, before and after; what that allows; other places of the pack."""
    if answer.shown is None:
        return f"<p>{escape(answer.sentence)}</p>"
    return _before_after(answer, system) + _allowed(answer, system) + _places(answer, system)


def _before_after(answer: WeighAnswer, system: System) -> str:
    columns = {"the donor": answer.donor, "now": answer.alone, "with its rider": answer.aboard}
    if not any(item.removed for item in answer.build.vehicle.mass):
        del columns["the donor"]
    shown = [each for each in columns.values() if each is not None]

    def said(value: Uncertain, digits: int, unit: str) -> str:
        low, high = (f"{system.value(end, unit):.{digits}f}" for end in (value.low, value.high))
        between = f" <small>{low} to {high}</small>" if low != high else ""
        return system.text(value.value, unit, digits) + between

    def share(found: Balance) -> str:
        return f"{100.0 * found.front_kg.value / found.mass_kg.value:.0f} %"

    rows = [
        ("mass", [said(each.mass_kg, 0, "kg") for each in shown]),
        ("on the front axle", [said(each.front_kg, 0, "kg") for each in shown]),
        ("on the rear axle", [said(each.rear_kg, 0, "kg") for each in shown]),
        ("in front, of all", [share(each) for each in shown]),
        ("centre, forward of the rear axle", [said(each.x_m, 2, "m") for each in shown]),
        ("centre, above ground", [said(each.z_m, 2, "m") for each in shown]),
    ]
    heads = ["", *(name for name, each in columns.items() if each is not None)]
    note = "Small: between what the widths of the masses leave open, nine in ten."
    return html_table("Mass and its place, before and after", heads, rows, note)


def _allowed(answer: WeighAnswer, system: System) -> str:
    allowed = answer.allowed
    assert allowed is not None
    rows = [
        ("tips over backwards, standing on", f"{allowed.flips_percent:.0f} %"),
        ("front wheel lifts, on the level from", f"{allowed.wheelie_mps2:.1f} m/s²"),
        ("rear wheel lifts when it brakes with", f"{allowed.stoppie_mps2:.1f} m/s²"),
        *((f"grips on {name} up to", f"{_percent(each)}") for name, each in allowed.grip_percent.items()),
    ]
    if allowed.tips_percent is not None:
        rows.append(("tips sideways on a cross slope of", f"{allowed.tips_percent:.0f} %"))
        rows.append(("and in a turn from", f"{allowed.turn_mps2:.1f} m/s²"))
    if answer.bar_n is not None:
        rows.append((f"held at the bar at {LEAN_DEGREES:g}° of lean with", f"{answer.bar_n:.0f} N"))
    if allowed.lost_degrees is not None:
        rows.append(("cannot be held at the bar beyond", f"{allowed.lost_degrees:.0f}°"))
    if allowed.stand_percent is not None:
        over, away = allowed.stand_percent
        rows.append(("falls over its side stand on", f"{over:.0f} %, away from it on {away:.0f} %"))
    note = "Grip is from memory unless the file states it; a person holds about 250 N for a moment (common practice, no source)."
    return html_table("What the balance allows", ["what it allows", ""], [(k, [system.said(v)]) for k, v in rows], note)


def _percent(each: Uncertain) -> str:
    if not isfinite(each.value):
        return "any slope"
    return (
        f"{each.value:.0f} % <small>{each.low:.0f} to {each.high:.0f}</small>"
        if isfinite(each.high)
        else f"{each.value:.0f} %"
    )


def _places(answer: WeighAnswer, system: System) -> str:
    """Other places of the pack beside the present one."""
    pack = [each for each in answer.items if each.where.startswith("pack")]
    x, z = (
        float(np.mean([value or 0.0 for value in each])) for each in zip(*((p.x_m, p.z_m) for p in pack), strict=True)
    )
    xs, zs = [x + step for step in STEPS_M[0]], [max(0.05, z + step) for step in STEPS_M[1]]
    found = compare_places(answer.build, xs, zs, LEAN_DEGREES)

    def cell(row: object) -> str:
        bar = "" if np.isnan(row.bar_n) else f", {system.text(row.bar_n, 'n', 0)}"  # type: ignore[attr-defined]
        return f"{row.front_percent:.0f} %{bar}"  # type: ignore[attr-defined]

    cells = [cell(row) for row in found.itertuples()]
    rows = [(f"{system.text(height, 'm', 2)} up", cells[3 * place : 3 * place + 3]) for place, height in enumerate(zs)]
    heads = ["the pack at", *(f"{system.text(each, 'm', 2)} forward" for each in xs)]
    bar = "" if answer.bar_n is None else f", and force at the bar at {LEAN_DEGREES:g}°"
    return html_table("Places of the pack compared", heads, rows, f"Share on the front axle with the rider{bar}.")


def moving_html(answer: WeighAnswer, system: System) -> str:
    """Pushing it dead, lifting its blocks, ramps."""
    build = answer.build
    ways = {
        "level, asphalt": (0.0, "asphalt"),
        "level, gravel": (0.0, "gravel"),
        **{n: (p, "asphalt") for n, p in RAMPS.items()},
    }
    rows = []
    for name, (slope, surface) in ways.items():
        turning, off = (push(build, slope, surface, motor_turning=each) for each in (True, False))
        rows.append((name, [
            system.text(turning.start_n, "n", 0), system.text(turning.keep_n, "n", 0), people(turning.men, turning.women),
            system.text(off.keep_n, "n", 0), people(off.men, off.women),
        ]))  # fmt: skip
    heads = ["", "to start", "to keep moving", "people", "chain off, to keep moving", "people"]
    men, women = lifters(build.pack.mass_kg / build.pack.blocks)
    kg = system.text(build.pack.mass_kg / build.pack.blocks, "kg", 1)
    lines = [
        f"A winch that pulls it up 1 in 4 needs {system.text(push(build, 25.0).start_n, 'n', 0)} on the rope; take one rated for twice that.",
        f"A block weighs {kg}: {people(men, women)} to lift it close to the body (HSE L23, from memory).",
        *(
            f"Up to a bed of {system.text(bed, 'm', 1)} a ramp of 1 in 4 is {system.text(ramp_length_m(bed, 25.0), 'm', 1)} long, of 1 in 8 "
            f"{system.text(ramp_length_m(bed, 12.5), 'm', 1)}."
            for bed in BEDS_M
        ),
    ]  # fmt: skip
    crest = crest_percent(build)
    if crest is not None:
        lines.append(f"It clears the crest of a ramp of {crest:.0f} % at most.")
    listed = "".join(f"<li>{escape(line)}</li>" for line in lines)
    note = f"By the guideline of HSE L23, over {FARTHEST_M:g} m at most. {CAUTION}"
    return html_table("Pushing it dead", heads, rows, escape(note)) + f"<ul>{listed}</ul>"


def people(men: int, women: int) -> str:
    """How many people it takes; men and women apart where their numbers differ."""
    return f"{men}" if men == women else f"{men} {'man' if men == 1 else 'men'} or {women} women"


def tray_html(answer: WeighAnswer, system: System) -> str:
    """How the blocks stand in their tray, or what is missing."""
    pack = answer.build.pack
    if pack.tray_mm is None or pack.block_size_mm is None:
        missing = [key for key in ("tray_mm", "block_size_mm") if getattr(pack, key) is None]
        return f"<p>State pack.{' and pack.'.join(missing)} in the build to see whether the blocks fit.</p>"
    if answer.unfit:
        return "".join(f"<p>{escape(each.text)}</p>" for each in answer.unfit)
    best, grow = answer.tray[0], 100.0 * (answer.grow - 1.0)
    lying = "upright alone" if pack.upright == "upright" else "on any side, never upside down"
    rows = [
        (f"{place}" if place > 1 else "1, as drawn", [
            f"{each.centre_mm:.0f} mm", f"{max(b.z + b.height for b in each.blocks):g} mm", f"{len({b.z for b in each.blocks})}",
            _facing(each), f"{each.terminal_room_mm:g} mm",
        ])
        for place, each in enumerate(answer.tray[:6], start=1)
    ]  # fmt: skip
    note = (
        f"{len(best.blocks)} blocks{' and the lights’ battery' if best.odd else ''}, {lying}; the lowest first. Blocks {grow:.0f} % larger on "
        "every side would still fit. Terminals want about "
        f"{TERMINAL_ROOM_MM:g} mm before them for lugs, covers and the cables' bend (common practice, no source), unless the tray is open there; "
        "then a strap, and nothing metal over them."
    )
    heads = ["way", "centre above the floor", "highest", "layers", "terminals point", "room before them"]
    return html_table("How the blocks stand", heads, rows, note)


def _facing(one: Arrangement) -> str:
    """To which sides the terminals point, where the cables come out."""
    return ", ".join(dict.fromkeys(each.side for each in one.terminals))


def bolts_html(answer: WeighAnswer, system: System) -> str:
    """What must be bolted and strapped, and how strongly."""
    build = answer.build
    loads = {"all blocks together": build.pack.mass_kg, "the vehicle on the truck": build.total_mass_kg(aboard=False)}
    rows = [
        (f"{what}, {system.text(mass, 'kg', 0)}", [system.text(force, "n", 0) for force in restraint_n(mass).values()])
        for what, mass in loads.items()
    ]
    pull = strap_n(build)
    note = (
        f"0.8 of its weight forward, 0.5 backward and sideways (EN 12195-1, from memory), friction left out. Two straps that hold the vehicle "
        f"forward, each at 45° to the floor and to its length: {system.text(pull, 'n', 0)} in each, {pull / 10.0:.0f} daN on its label at least; "
        "two as strong behind."
    )
    try:
        plate = system.said(plate_hold(build).sentence)
    except InputProblem as problem:
        plate = f"The motor's plate is not judged: {problem}"
    table = html_table("Straps and hold-downs", ["held against", *ON_THE_TRUCK], rows, escape(note))
    return f"<p>{escape(plate)}</p>{table}<p>{escape(fastening.CAUTION)}</p>"


def scales_html(answer: WeighAnswer, system: System) -> str:
    """What the scales say beside the ledger."""
    if answer.shown is None:
        return f"<p>{escape(answer.sentence)}</p>"
    if answer.weighed is None:
        return (
            "<p>Weigh each axle on level ground and type both readings; then raise the rear wheel by a tenth of the wheelbase or more, strapped so "
            "that it cannot fall, and type the front reading again. The bathroom scale counts as good to half a kilogram.</p>"
        )
    found, ledger = answer.weighed, answer.weighed.ledger

    def both(scale: Uncertain | None, own: Uncertain, digits: int, unit: str) -> list[str]:
        texts = ["" if each is None else system.text(each.value, unit, digits) for each in (scale, own)]
        between = (
            ""
            if scale is None
            else f"{system.value(scale.low, unit):.{digits}f} to {system.text(scale.high, unit, digits)}"
        )
        return [f"{texts[0]} <small>{between}</small>", texts[1]]

    rows = [
        ("mass", both(found.mass_kg, ledger.mass_kg, 1, "kg")),
        ("centre, forward of the rear axle", both(found.x_m, ledger.x_m, 3, "m")),
        ("centre, above ground", both(found.z_m, ledger.z_m, 2, "m")),
    ]
    said = f"<p><b>{escape(system.said(found.sentence))}</b></p>"
    exact = (
        ""
        if found.z_m is None
        else "Height by the exact form: the usual shortcut L²·ΔW/(H·W) reads 1 to 2 % high at usual lifts."
    )
    return said + html_table("The scales and the ledger", ["", "the scales", "the ledger"], rows, exact)


def watch_html(answer: WeighAnswer, system: System) -> str:
    """What to watch of weight and fit."""
    found = [(0, each) for each in weighing_findings(answer.build)]
    return findings_html([answer.build.name], found, colours=False, system=system) if found else ""
