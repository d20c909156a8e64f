"""The pack notebook without widgets: what was typed → a wish → an answer. No pictures here."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal, cast

from ridesim import data
from ridesim.choose.findings.pack import pack_findings, strings_findings
from ridesim.choose.packs import PackOption, made_equal, pack_option
from ridesim.day import Day, load_day
from ridesim.ride.pack.charge_plan import SOCKETS, BreakCharge, ChargePlan, Charger, break_charges
from ridesim.ride.pack.data_sheet import SheetFit, fit_sheet
from ridesim.ride.pack.unlike_blocks import RealBlock, StringsOutcome, ride_on_blocks
from ridesim.show.panel.fields import Choice, Field, Number, Text, number_of
from ridesim.vehicle import Build, Pack, change_build, load_build
from ridesim.vehicle.care import worn_resistance_factor
from ridesim.words import Finding, InputProblem, shown

EQUAL = {"built": "as built", "mass": "of equal mass", "price": "of equal price"}
"""How the lithium pack is put beside the lead-acid one."""
PUBLISHED_ROWS = "20: 22; 10: 20.46; 5: 18.7; 1: 13.2"
"""The shape of a published 40 Ah sealed block's data sheet, brought to 22 Ah."""

SHEET_FIELDS: tuple[Field, ...] = (
    Text("rows", "Data sheet, hours: Ah; hours: Ah; ..."),
    Number("rated_hours", "Rated hours", "h", 5.0, 20.0, 1.0),
    Number("mass", "Block mass", "kg", 2.0, 40.0, 0.1),
    Number("price", "Block price", "", 10.0, 300.0, 1.0),
    Number("health", "State of health", "%", 40.0, 100.0, 1.0),
    Number("weakest", "Weakest block", "%", 20.0, 100.0, 1.0),
    Number("months", "Months in the shed", "", 0.0, 12.0, 0.5),
)
DAY_FIELDS: tuple[Field, ...] = (
    Text("lead", "Lead-acid build", tuple(data.names("builds"))),
    Text("lithium", "Lithium build", tuple(data.names("builds"))),
    Text("day", "Day", tuple(data.names("days"))),
    Choice("equal", "Lithium pack", tuple(EQUAL.items())),
    Number("lithium_price", "Lithium price", "", 100.0, 2000.0, 10.0),
    Number("ambient", "Air", "°C", -15.0, 40.0, 1.0),
    Number("charger", "Charger", "A", 1.0, 20.0, 0.5),
    Choice("socket", "Socket", tuple((str(i), socket.name) for i, socket in enumerate(SOCKETS))),
    Number("show_days", "Show days a year", "", 1.0, 100.0, 1.0),
)
DEFAULT_TEXTS = {
    "rows": PUBLISHED_ROWS, "rated_hours": "20", "mass": "6.6", "price": "55", "health": "100", "weakest": "45", "months": "0",
    "lead": "heron_36v", "lithium": "heron_lithium", "day": "harbour_festival", "equal": "mass", "lithium_price": "520",
    "ambient": "14", "charger": "5", "socket": "0", "show_days": "12",
}  # fmt: skip
"""Prices are invented, as are the builds."""
_NUMBERS = {field.key: field for field in (*SHEET_FIELDS, *DAY_FIELDS) if isinstance(field, Number)}


@dataclass(frozen=True)
class PackWish:
    """What is asked: the typed values, understood."""

    rows: tuple[tuple[float, float], ...]
    values: Mapping[str, float]
    lead: str
    lithium: str
    day: str
    equal: Literal["built", "mass", "price"]
    socket: int


@dataclass(frozen=True)
class PackAnswer:
    """Everything the panel shows.

    Attributes
    ----------
    day : Day
        At the air that was asked for.
    sheet : SheetFit
        The typed rows under each law.
    lead, lithium : PackOption
        The two packs on the day.
    plans : dict of str to ChargePlan
        The night's charge from each pack's end of the day, in the day's air.
    breaks : dict of str to tuple of BreakCharge
        Each pack's charges inside the day, or a default break.
    blocks : StringsOutcome
        The lead-acid string with its weakest block.
    findings : tuple of (str, Finding)
        Whose, and what.
    """

    day: Day
    sheet: SheetFit
    lead: PackOption
    lithium: PackOption
    plans: dict[str, ChargePlan]
    breaks: dict[str, tuple[BreakCharge, ...]]
    blocks: StringsOutcome
    findings: tuple[tuple[str, Finding], ...]

    @property
    def options(self) -> tuple[PackOption, PackOption]:
        """Lead-acid, then lithium."""
        return self.lead, self.lithium


def parse_rows(text: str) -> tuple[tuple[float, float], ...]:
    """Rows of a data sheet as typed: ``"20: 40; 10: 37.2; 5: 34; 1: 24"``.

    Raises
    ------
    InputProblem
        Names the row.
    """
    rows = []
    for number, piece in enumerate((each for each in re.split(r"[;\n]", text) if each.strip()), start=1):
        cells = re.split(r"[:/\s]+", piece.strip())
        try:
            hours, charge = (float(cell.replace(",", ".")) for cell in cells)
        except ValueError:
            hours = charge = math.nan
        if not (math.isfinite(hours) and math.isfinite(charge)):
            raise InputProblem(
                "the data sheet", f"row {number}", f"“{piece.strip()}”", "hours: ampere-hours, such as 20: 40; 10: 37.2"
            )
        rows.append((hours, charge))
    if not rows:
        raise InputProblem("the data sheet", "", "no rows", "three rows or more, such as 20: 40; 10: 37.2; 5: 34")
    return tuple(rows)


def wish_of(texts: Mapping[str, str]) -> PackWish:
    """What the typed texts mean.

    Raises
    ------
    InputProblem
        The first text that means nothing, or a number no pack can have.
    """
    values = {key: float(number_of(texts.get(key, ""), field, "the pack")) for key, field in _NUMBERS.items()}
    for key, low, high in (
        ("weakest", 1.0, 120.0), ("health", 1.0, 120.0), ("ambient", -20.0, 50.0), ("months", 0.0, 60.0), ("charger", 0.1, 1000.0),
        ("show_days", 0.1, 366.0), ("rated_hours", 0.1, 1000.0), ("mass", 0.01, 2000.0), ("price", 0.01, 1e6), ("lithium_price", 0.01, 1e6),
    ):  # fmt: skip
        field = _NUMBERS[key]
        if not low <= values[key] <= high:
            unit = f" {field.unit}" if field.unit else ""
            raise InputProblem(
                "the pack", field.label, f"{values[key]:g}{unit}", f"a number from {low:g} to {high:g}{unit}"
            )
    equal = texts.get("equal", "built")
    if equal not in EQUAL:
        raise InputProblem("the pack", "Lithium pack", shown(equal), "one of " + ", ".join(EQUAL))
    socket = texts.get("socket", "0")
    places = {str(place): place for place in range(len(SOCKETS))}
    if socket not in places:
        known = ", ".join(f"{place} ({each.name})" for place, each in enumerate(SOCKETS))
        raise InputProblem("the pack", "Socket", shown(socket), f"one of {known}")
    return PackWish(
        rows=parse_rows(texts.get("rows", "")),
        values=values,
        lead=texts.get("lead", "").strip(),
        lithium=texts.get("lithium", "").strip(),
        day=texts.get("day", "").strip(),
        equal=cast(Literal["built", "mass", "price"], equal),
        socket=places[socket],
    )


def answer(wish: PackWish, folder: Path | None = None) -> PackAnswer:
    """Compute everything the panel shows.

    Raises
    ------
    InputProblem
        A file that is not a good build or day, a sheet no block can have, a build whose pack is of the other kind.
    """
    values = wish.values
    day = _day(wish.day, folder).model_copy(update={"ambient_c": values["ambient"]})
    sheet = fit_sheet(wish.rows, values["rated_hours"])
    lead, lithium = lead_build(wish, folder), lithium_build(wish, folder)
    charger, socket = Charger(values["charger"]), SOCKETS[wish.socket]
    options = [pack_option(each, day, values["show_days"], charger, socket) for each in (lead, lithium)]
    plans = {each.name: each.night for each in options}
    breaks = {each.name: break_charges(each.ride, charger, socket, day) for each in options}
    blocks = ride_on_blocks(options[0].ride, _real_blocks(lead, values["weakest"] / 100.0))
    found: list[tuple[str, Finding]] = []
    for each in options:
        of_day = list(pack_findings(each.ride, day, socket))
        said = {finding.code for finding in of_day}
        found += [(each.name, finding) for finding in of_day]
        found += [(each.name, finding) for finding in each.cautions if finding.code not in said]
    found += [(lead.name, finding) for finding in strings_findings(blocks)]
    return PackAnswer(day, sheet, options[0], options[1], plans, breaks, blocks, tuple(found))


def lead_build(wish: PackWish, folder: Path | None = None) -> Build:
    """The lead-acid build with the typed sheet, mass, price, health and shed time."""
    build = _build(wish.lead, folder)
    if build.pack.kind.is_lithium:
        raise InputProblem(
            build.name, "pack.chemistry", build.pack.chemistry, "a lead-acid build", "Lithium has its own box."
        )
    values = wish.values
    rated = dict(wish.rows).get(values["rated_hours"])
    assert rated is not None  # fit_sheet has said so
    return change_build(
        build,
        {
            "pack.capacity_by_hours": [list(row) for row in wish.rows],
            "pack.rated_hours": values["rated_hours"],
            "pack.block_capacity_ah": rated,
            "pack.block_mass_kg": values["mass"],
            "pack.block_price": values["price"],
            "pack.state_of_health": values["health"] / 100.0,
            "pack.stood_months": values["months"],
            "pack.block_resistance_ohm": _resistance(build.pack, rated, values["health"] / 100.0),
        },
    )


def _resistance(pack: Pack, capacity: float, health: float) -> float:
    """Resistance of the build's block made as large and as worn as typed. [ohm]"""
    assert pack.block_resistance_ohm is not None
    worn = worn_resistance_factor(health) / worn_resistance_factor(pack.state_of_health)
    return pack.block_resistance_ohm * worn * pack.block_capacity_ah / capacity


def lithium_build(wish: PackWish, folder: Path | None = None) -> Build:
    """The lithium build, as built or made equal to the lead-acid one."""
    build = _build(wish.lithium, folder)
    if not build.pack.kind.is_lithium:
        raise InputProblem(
            build.name, "pack.chemistry", build.pack.chemistry, "a lithium build", "Lead-acid has its own box."
        )
    values = wish.values
    priced = change_build(build, {"pack.block_price": values["lithium_price"], "pack.stood_months": values["months"]})
    if wish.equal == "built":
        return priced
    return made_equal(priced, lead_build(wish, folder), wish.equal)


def _real_blocks(build: Build, weakest: float) -> list[list[RealBlock]]:
    """All blocks of the build's pack at its health, the last of the first string the weakest."""
    pack = build.pack
    strings = [
        [
            RealBlock(f"{string + 1}.{number + 1}", health=pack.state_of_health)
            for number in range(pack.blocks_in_series)
        ]
        for string in range(pack.strings_in_parallel)
    ]
    strings[0][-1] = RealBlock("the weakest", health=min(1.2, weakest * pack.state_of_health))
    return strings


def _build(reference: str, folder: Path | None) -> Build:
    if not reference:
        raise InputProblem("Build file", "", "no name", "a build file, or one of " + ", ".join(data.names("builds")))
    return _loaded(str(data.find(reference, "builds", beside=folder)), _stamp(reference, "builds", folder))


def _day(reference: str, folder: Path | None) -> Day:
    if not reference:
        raise InputProblem("Day file", "", "no name", "a day file, or one of " + ", ".join(data.names("days")))
    return _loaded_day(str(data.find(reference, "days", beside=folder)), _stamp(reference, "days", folder))


def _stamp(reference: str, kind: str, folder: Path | None) -> float:
    """When the file was last written: a changed file is read anew."""
    return data.find(reference, kind, beside=folder).stat().st_mtime


@lru_cache(maxsize=16)
def _loaded(path: str, _written: float) -> Build:
    return load_build(path)


@lru_cache(maxsize=16)
def _loaded_day(path: str, _written: float) -> Day:
    return load_day(path)
