"""What the build sheet says of the wiring: what belongs in before power is on, the schedule, the diagram."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from ridesim.choose import Candidate
from ridesim.choose.findings.wiring import SHORT, STOPS_IT, usual_precharge
from ridesim.choose.schedule import fuse_in_words, isolator_in_words
from ridesim.choose.wiring import Wiring, wired
from ridesim.show.style import MARK
from ridesim.show.tables.html import svg_address
from ridesim.show.units import System
from ridesim.show.wiring_diagram import wiring_diagram
from ridesim.sizing.protection import BARE_M
from ridesim.vehicle.cable import next_gauge

BEFORE_POWER = (
    "brakes hold on the steepest slope, tried by", "chain or belt guard fitted, seen by", "blocks strapped, terminals covered, seen by",
    "checked by, date",
)  # fmt: skip
"""What nothing is computed for."""


def wiring_part(each: Candidate, system: System) -> dict[str, Any]:
    """The wiring of one build, by the names that the template has for it."""
    wiring = wired(each.build, each.ride)
    colours = wiring.needs.wiring
    described = [each.name for each in colours.circuit]
    return {
        "verdict": system.said(wiring.verdict),
        "before_power": [*_before_power(wiring), *((what, "") for what in BEFORE_POWER)],
        "schedule": _schedule(wiring, described, system),
        "colours": f"{colours.positive_colour} +, {colours.negative_colour} −",
        "unmet": [(found.severity, MARK[found.severity], system.said(found.text)) for found in wiring.unmet],
        "caution": " ".join(
            found.text
            for found in wiring.cautions
            if found.severity == "warning" or found.code.startswith(("protection-from-memory", "precharge"))
        ),
        "guessed": len(described) < len(wiring.sized),
        "diagram": svg_address(wiring_diagram(wiring, system)),
        "alt": f"One-line diagram of the wiring. {wiring.verdict}",
    }


def _before_power(wiring: Wiring) -> list[tuple[str, str]]:
    """What is fitted before power is on, and what it was computed to be."""
    main = next(each for each in wiring.sized if each.demand.role == "main")
    thick = max(wiring.sized, key=lambda each: each.section_mm2)
    fuse = "none fits, see Wiring"
    if main.protection is not None:
        fuse = f"{fuse_in_words(main)}, within {1000.0 * BARE_M:.0f} mm of the pack (33 CFR 183.455)"
    gauge = next_gauge(thick.section_mm2)
    cable = (
        f"{thick.section_mm2:.3g} mm²{f' (AWG {gauge})' if gauge else ''}, carries {thick.limits.ampacity_a:.0f} A here"
    )
    isolator = isolator_in_words(wiring.needs.pack.full_volts, wiring.sized)
    if wiring.needs.wiring.isolator is False:
        isolator = "done without, on purpose"
    return [
        ("fuse at the pack, A, and where it sits", fuse),
        ("thickest cable, mm², its makers’ rating, A", cable),
        ("isolator: where, within whose reach", isolator),
        *_switches(wiring),
        ("pre-charge resistor across the contactor", _precharge(wiring)),
    ]


def _switches(wiring: Wiring) -> Iterator[tuple[str, str]]:
    """The other switches that stop it, and what the build says of each: a line to fill in whatever it says."""
    said = {True: "in the build", False: "done without, on purpose", None: "not in the build yet"}
    for key in STOPS_IT:
        if key not in ("isolator", "breaker"):
            yield f"{SHORT[key]}, tried by", said[getattr(wiring.needs.wiring, key)]


def _precharge(wiring: Wiring) -> str:
    """The resistor that the build names, else a usual one."""
    stated = wiring.build.controller.precharge_ohm
    if stated is not None:
        return f"{stated:g} ohm, as the build says"
    ohm, watts = usual_precharge(wiring.build.pack.nominal_voltage_v)
    return "" if ohm is None else f"{ohm:g} ohm of {watts:g} W (a maker’s practice)"


def _schedule(wiring: Wiring, described: Sequence[str], system: System) -> list[tuple[str, ...]]:
    """A row a circuit: its name, ends, length (with a * where it is guessed), cable, fuse and drop."""
    return [
        (
            row["circuit"], f"{row['from']} – {row['to']}", system.text(row["length_m"], "m", 1) + ("" if row["circuit"] in described else "*"),
            f"{row['section_mm2']:.3g}", row["awg"],
            row["fuse"] or "–", f"{row['drop_v']:.2f} V, {row['drop_percent']:.1f} %",
        )
        for row in wiring.schedule.to_dict("records")
    ]  # fmt: skip
