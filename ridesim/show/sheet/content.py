"""What stands on the build sheet, as plain rows of text: no page, no style."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any, NamedTuple

from ridesim.choose import Candidate, Comparison
from ridesim.choose.compare import figures
from ridesim.choose.readings import Reading, readings
from ridesim.choose.verdict import judge
from ridesim.forms import InPlay
from ridesim.ride.pack.day_charges import night_charge
from ridesim.ride.pack.supply import SLOW_CHARGE, SOCKETS, blocks_stand_a, night_charger
from ridesim.ride.steady.duty import duties
from ridesim.show.invented import invented
from ridesim.show.sheet.chain import chain_part
from ridesim.show.sheet.weight import allowed_lines, moved_lines, weighed_lines
from ridesim.show.sheet.wiring import wiring_part
from ridesim.show.style import MARK
from ridesim.show.tables.figures import band_text, filled_text
from ridesim.show.tables.outcome import lines_for, number
from ridesim.show.tables.verdicts import MENDED, hangs_on, measure_first, mend
from ridesim.show.units import System, with_minus
from ridesim.sizing import fastening, moving
from ridesim.vehicle import Build
from ridesim.words import degrees, percent, split_unit, symbol

CAUTIONS = {
    "at rest": "Isolator off, rings and watches off, tools wrapped. A block makes thousands of amperes through a spanner.",
    "wheel up": "Wheel clear of the ground and everybody clear of wheel and chain, guard on, one hand at the isolator. Never change the "
    "motor's leads over while it turns.",
    "on the road": "On a closed, level yard first; brakes tried by hand before power is on. A controller that fails gives full power: the "
    "brakes alone must hold the loaded vehicle on the steepest slope.",
    "after the day": "Motor, brake drums and cable lugs stay hot longer than they look.",
}
"""Common practice in our own words."""

CHARGE_CAUTION = (
    "Charge in moving air, away from flame and straw, with a charger made for these cells and a fuse at the pack; lithium never below freezing "
    "and never unwatched. Local codes and licensed people come first."
)

STALL_CAUTIONS = (
    "Held still under power, brushes and commutator burn in seconds, long before the winding is hot.",
    "Held still under power, two windings and their switches overheat in seconds, long before the motor as a whole is hot.",
)
"""Common practice in our own words: with brushes, without."""

NONE = "-"
"""A figure that there is not; such a row is left out."""
DUTIES = ("S1", "S2 10 min")
"""Of the motor's duties, those that a maker can use."""
SECTIONS = ("vehicle", "rider", "motor", "drive", "controller", "pack", "charger", "lighting")
"""Sections of a build."""


class Line(NamedTuple):
    """A row: what, the figure, a remark, whether it belongs to the row above."""

    what: str
    figure: str
    remark: str = ""
    inside: bool = False


def build_part(each: Candidate, system: System) -> dict[str, Any]:
    """Everything that the sheet says about one build, by the names that the template has for it.

    ``own`` values are given by the file; ``guessed`` are those that are not, by section.
    """
    build, found = each.build, judge(each)
    values = [v for v in build.in_play() if _section(v) in SECTIONS and not _stands_elsewhere(v)]
    outcome = lines_for(Comparison(each.ride.day, (each,)), system)
    return {
        "name": each.name,
        "note": build.note,
        "foot": each.name + invented(build),
        "verdict": system.said(found.sentence, [float(number) for number in figures(each).values()]),
        "below": [
            (what, system.said(text))
            for what, text in (
                ("Not stated", found.unstated),
                ("Hangs on", hangs_on(each, found, system)),
                ("Measure first", measure_first(found)),
                (MENDED, mend(found)),
            )
            if text
        ],
        "fails": found.level == "no",
        "outcome": _halves(
            [
                Line(row.label, with_minus(f"{row.cells[0]} {row.unit}".strip()), inside=row.inside)
                for row in outcome
                if row.cells[0] != NONE
            ]
        ),
        "findings": [
            (finding.severity, MARK[finding.severity], system.said(finding.text, finding.numbers.values()))
            for finding in each.findings
        ],
        "moments": [
            {"heading": moment.capitalize(), "caution": CAUTIONS[moment], "lines": [_reading(r, system) for r in group]}
            for moment, group in groupby(readings(each), key=lambda reading: reading.moment)
        ],
        "wiring": wiring_part(each, system),
        "duty": _duty(build),
        "chain": chain_part(build, system),
        "night": list(_night(each, system)),
        "night_note": _which_charger(each),
        "charge_caution": CHARGE_CAUTION,
        "stall_caution": STALL_CAUTIONS[build.motor.kind == "electronically-commutated"],
        "weighed": list(weighed_lines(build, system)),
        "allowed": [Line(*line) for line in allowed_lines(build, system)],
        "moved": [Line(*line) for line in moved_lines(build, system)],
        "moving_caution": f"{moving.CAUTION} {fastening.CAUTION}",
        "guessed": [
            (section, [_guess(value) for value in group])
            for section, group in groupby(
                sorted(filter(_is_guess, values), key=lambda v: SECTIONS.index(_section(v))), key=_section
            )
        ],
        "own": sum(value.given for value in values),
    }


def _stands_elsewhere(value: InPlay) -> bool:
    """Whether a value stands in the weigh-in or with the chain already, or is a usual grip, which is told where it decides."""
    place = value.place
    weighed = place.startswith(
        ("vehicle.mass", "vehicle.parts_weighed", "pack.place", "drive.shaft_x_m", "drive.shaft_z_m")
    ) or place.endswith((".x_m", ".z_m"))
    return weighed or (place.startswith("vehicle.grip") and not value.given)


def _halves(lines: list[Line]) -> tuple[list[Line], list[Line]]:
    """The rows in two columns; those inside a row stay with it."""
    half = next(n for n, line in enumerate(lines) if not line.inside and n >= len(lines) // 2 - 2)
    return lines[:half], lines[half:]


def _reading(each: Reading, system: System) -> tuple[str, str, str, int]:
    """What, the figure, between which limits it is as expected, how many times to read it."""
    what = each.what
    if each.at_kmh is not None:
        what = what.format(speed=f"{system.value(each.at_kmh, 'kmh'):.1f} {system.label('kmh')}")
    low, value, high = (
        number(system.value(figure, each.unit), each.digits)
        for figure in (each.between[0], each.value, each.between[1])
    )
    return what, f"{value} {system.label(each.unit)}", f"{low} to {high}", each.places


def _night(each: Candidate, system: System) -> Iterator[Line]:
    """From the day's end to full, at the build's own charger, else a slow one."""
    day = each.ride.day
    plan = night_charge(each.ride, night_charger(each.build), SOCKETS[0])
    if plan.refused:
        yield Line(system.said(f"Not charged: {plan.refused}"), "-")
        return
    yield Line(f"charger's current, set by the {plan.allowed.set_by}", f"{plan.allowed.current_a:.1f} A")
    yield Line(
        system.said(f"charger's voltage in {degrees(day.ambient_c)}\N{NO-BREAK SPACE}°C, then held"),
        f"{plan.voltage_v:.1f} V",
    )
    yield Line(f"from {100.0 * plan.state_of_charge[0]:.0f} %", filled_text(plan))
    yield Line("from the socket (and by the trade's rule), kWh", band_text(plan.wall_band, 2, 1e-3))


def _section(value: InPlay) -> str:
    return value.place.split(".")[0].split("[")[0]


class Guess(NamedTuple):
    """A value that the file does not state: what it means, the usual value with its width, its key."""

    meaning: str
    figure: str
    key: str


def _is_guess(each: InPlay) -> bool:
    """Whether a value is left to its default and is something: not a table by chemistry, and neither nothing nor no."""
    return not each.given and not isinstance(each.value, tuple) and bool(each.value)


def _guess(each: InPlay) -> Guess:
    key, unit = split_unit(each.place.split(".", 1)[1])
    shown = f"{each.value:.4g}" if isinstance(each.value, float) else each.shown
    said = f"{shown} {symbol(unit)}".rstrip()
    if each.width is not None and each.unsure:
        low, high = (float(f"{end:.3g}") for end in (each.width.low, each.width.high))
        said += f" ({low:g} to {high:g})"
    return Guess(each.meaning.partition(";")[0] or key.replace("_", " "), said, each.place.split(".", 1)[1])


def _duty(build: Build) -> str:
    """What the motor bears for hours and for ten minutes, in a line."""
    for_hours, for_ten = (next(d for d in duties(build) if d.code == code) for code in DUTIES)
    return f"for hours {for_hours.current_a:.0f} A, for ten minutes from cold {for_ten.current_a:.0f} A"


def _which_charger(each: Candidate) -> str:
    """Why the night, the day and the charger's cable have currents of their own."""
    build, asked = each.build, {a.charge_current_a for a in each.ride.asked.activity if a.charge_current_a > 0.0}
    most = blocks_stand_a(build.pack)
    said = [
        "At night the build’s own charger"
        if build.charger
        else f"The build names no charger: reckoned overnight with a slow one, {percent(SLOW_CHARGE)} of the ampere-hours"
    ]
    if asked:
        said.append(f"in the day with the {' and '.join(f'{amps:g}' for amps in sorted(asked))} A of the day’s file")
    if build.charger is None:
        said.append(
            f"the charger’s cable and fuse are for {max(most, *asked, 0.0):.1f} A, the most that the blocks stand or the day asks for"
        )
    return "; ".join(said) + "."
