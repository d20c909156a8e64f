"""A sheet to find out which lead of an unmarked controller is which: printed, filled in by hand, kept with the build sheet."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from pathlib import Path

from ridesim.forms import write_beside_then_replace
from ridesim.ride.machine import highest_charger_v
from ridesim.vehicle import Build

TITLE = "Which lead is which: a controller without marks"

STOP = (
    "Pack disconnected and its isolator off until a step says otherwise. One person works, another stands at the isolator.",
    "Driven wheel off the ground, chain off or guarded. The isolator, not the throttle, is the stop: a "
    "failed power stage gives full power.",
    "Three thick leads of one colour group to the motor mean an electronically commutated motor: this sheet is not for it.",
    "Nothing here is certain for every make: what the maker's own drawing says comes first. In doubt, stop and ask somebody trained.",
)
"""Common practice, no source; in our own words."""

STEPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "1. Look, and write down",
        (
            "Every word and number on the case. One current only? Find out whether it is the battery's or the motor's.",
            "Rated voltage and, if given, the highest. It must stand the pack on its charger, not the pack's name.",
            "Number every lead with tape. Write colour, thickness and which plug it sits in. Colours prove nothing.",
        ),
    ),
    (
        "2. Thick pairs first (nothing connected, meter on resistance)",
        (
            "There are usually four thick leads: two to the pack, two to the motor.",
            "The pack pair has the capacitors across it: the reading starts low and climbs for seconds. Swap the "
            "probes: it drops and climbs again.",
            "One motor lead is often joined straight to pack plus (near 0 ohm). The other shows a diode towards "
            "the pack leads (diode range: "
            "about 0.4 to 0.7 V one way, nothing the other way).",
            "Near 0 ohm that stays, both ways, between the pack pair: a failed power stage. Do not connect it.",
        ),
    ),
    (
        "3. Thin leads (nothing connected)",
        (
            "Sort by plugs. Three leads in one plug: most likely the throttle. Two leads: on/off, brake switch, "
            "lights. Five thin leads: position "
            "sensors of an electronically commutated motor.",
            "Write each thin lead's resistance to pack minus and to pack plus. Several that read near 0 to pack "
            "minus are its common return.",
        ),
    ),
    (
        "4. First volts, through a lamp or resistor, motor not connected",
        (
            "In the pack's plus lead: a fuse of 3 A at the pack, then a wire-wound resistor or a lamp that lets less than 1 A through if "
            "everything is short-circuited. Polarity checked twice with the meter: reversed, it is destroyed at once and may burst.",
            "The capacitors fill through it. The voltage at the controller climbs to the pack's within seconds. "
            "If it stays low: stop, something is short-circuited.",
            "On/off pair: one of the two shows pack voltage against pack minus, the other nothing. Join them "
            "through a switch and a 1 A fuse. "
            "Joining two leads that are not that pair can destroy it: join through a 1000 ohm 10 W resistor "
            "first and watch whether it wakes.",
        ),
    ),
    (
        "5. The throttle's three leads (switched on, motor not connected)",
        (
            "Against pack minus: one near 0 V (return), one steady near 5 V (supply), one near 0 V that may drift (signal).",
            "A twist grip with a magnet inside gives about 0.8 to 1.2 V at rest and 3.5 to 4.3 V full. A plain "
            "knob is a different kind: see the label.",
            "Never let the supply lead touch pack plus.",
            "Plug out: it must stop. Return lead broken: some grips then give full signal. Try it now, with no "
            "motor, by reading the signal.",
        ),
    ),
    (
        "6. First turn of the motor",
        (
            "Motor connected, wheel off the ground and clear, lamp or resistor still in the pack lead. A breath of throttle.",
            "Wrong way round: switch off, wait until the capacitors are empty (meter), then change the motor's "
            "two leads over. Never while it turns.",
            "Only then without the lamp: fuse of the build, isolator in reach, pre-charge before the contactor.",
            "Controller switched on with the throttle open must not start. If it does, it needs an interlock before anybody rides.",
        ),
    ),
)
"""Common practice, no source; in our own words."""

COLUMNS = (
    "no.", "colour, thickness", "plug", "ohm to pack −", "ohm to pack +", "V to pack −, off", "V to pack "
    "−, on", "it is the", "seen twice by",
)  # fmt: skip
STYLE = """
.leads{font:11pt/1.35 sans-serif;max-width:190mm}.leads table{border-collapse:collapse;width:100%}
.leads td,.leads th{border:1px solid #444;padding:1mm;font-size:9pt;height:6.5mm;vertical-align:top}
.leads .stop{border:2px solid #9c1c1c;padding:2mm 4mm}.leads li::marker{content:"☐ "}.leads h3{margin:4mm 0 1mm;break-after:avoid}
.leads ul{margin:1mm 0}.leads tr{break-inside:avoid}
@page{size:A4;margin:12mm}
"""


class LeadSheet:
    """The sheet; shows itself in a notebook.

    Attributes
    ----------
    html : str
        A section without page around it, to stand in the printed build sheet.
    """

    def __init__(self, html: str) -> None:
        self.html = html

    def _repr_html_(self) -> str:
        return self.html

    @property
    def page(self) -> str:
        """The section as a page of its own."""
        return (
            f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(TITLE)}</title></head>'
            f"<body>{self.html}</body></html>\n"
        )

    def save(self, path: str | Path) -> Path:
        """Write the page, for printing.

        Raises
        ------
        InputProblem
            The folder cannot be written.
        """
        write_beside_then_replace(Path(path), self.page)
        return Path(path)


def lead_sheet(build: Build | Sequence[Build] | None = None, leads: int = 14, ambient_c: float = 25.0) -> LeadSheet:
    """The identification sheet for a controller with unmarked leads.

    Parameters
    ----------
    build : Build or sequence of Build, optional
        Puts the pack's voltages on the sheet.
    leads : int
        Empty lines of the table, 1 to 60.
    ambient_c : float
        Air in which it is charged: a compensated charger gives more in the cold. [°C]

    Raises
    ------
    ValueError
        Too few or too many lines.
    """
    if not 1 <= leads <= 60:
        raise ValueError(f"leads must be from 1 to 60, got {leads}")
    parts = [f'<section class="leads"><style>{STYLE}</style><h2>{escape(TITLE)}</h2>']
    parts.append(f'<div class="stop"><b>Read first</b>{_listed(STOP)}</div>')
    builds = [build] if isinstance(build, Build) else build or ()
    parts += [_voltages(each, ambient_c) for each in builds]
    for heading, lines in STEPS:
        parts.append(f"<h3>{escape(heading)}</h3>{_listed(lines)}")
    parts.append(_table(leads))
    parts.append(
        "<p>Date, names: ______________________________ &nbsp; Nothing on this sheet replaces the maker's drawing.</p></section>"
    )
    return LeadSheet("".join(parts))


def _listed(lines: Sequence[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(line)}</li>" for line in lines) + "</ul>"


def _voltages(build: Build, ambient_c: float) -> str:
    pack, rating, charged = build.pack, build.controller.max_voltage_v, highest_charger_v(build.pack, ambient_c)
    least = build.cutoff_voltage_v
    stands = f"{rating:g} V by its label" if rating is not None else "____ V (not in the build file)"
    verdict = ""
    if rating is not None:
        verdict = (
            " It stands the pack on its charger."
            if rating >= charged
            else " IT DOES NOT STAND THIS PACK ON ITS CHARGER."
        )
    return (
        f"<p>{escape(build.name)}: pack {pack.nominal_voltage_v:g} V by name, {least:.1f} V at the cut-off, "
        f"{charged:.1f} V on its "
        f"charger. The controller must stand the last: {escape(stands)}.{verdict}</p>"
    )


def _table(leads: int) -> str:
    head = "".join(f'<th scope="col">{escape(column)}</th>' for column in COLUMNS)
    rows = "".join(f"<tr><td>{number}</td>{'<td></td>' * (len(COLUMNS) - 1)}</tr>" for number in range(1, leads + 1))
    return f"<h3>Leads</h3><table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
