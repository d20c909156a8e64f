"""The pack notebook without widgets: what was typed → a wish → an answer. No pictures here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from ridesim.choose.compare import Comparison, compare
from ridesim.choose.findings.blocks import strings_findings
from ridesim.choose.findings.charging import charging_findings
from ridesim.choose.findings.storage import storage_findings
from ridesim.choose.other_pack import refitted, with_pack_of
from ridesim.choose.packs import PackAnswers, answers_of, made_equal
from ridesim.day import Day
from ridesim.ride.pack.data_sheet import SheetFit, fit_sheet
from ridesim.ride.pack.supply import SOCKETS, Charger, Socket, night_charger
from ridesim.ride.pack.unlike_blocks import RealBlock, StringsOutcome, ride_on_blocks
from ridesim.show.choose_drive.inputs import Answer, answer_of
from ridesim.show.choose_pack.own import own_texts, sheet_of
from ridesim.show.panel import files
from ridesim.show.panel.fields import Choice, Field, Number, Text, number_of
from ridesim.vehicle import Build, Pack
from ridesim.vehicle.care import worn_resistance_factor
from ridesim.words import Finding, InputProblem, need_number, shown

SHEET = "the data sheet"
EQUAL = (("built", "as built"), ("mass", "of equal mass"), ("price", "of equal price"))
"""How the lithium pack is put beside the lead-acid one."""
ROWS = tuple((f"hours_{n}", f"ah_{n}") for n in range(1, 7))
"""Both boxes of each row of the data sheet; empty ones are left out."""


def sheet_texts(rows: Sequence[Sequence[str]]) -> dict[str, str]:
    """What stands in the boxes of the data sheet for some rows of hours and ampere-hours."""
    filled = [*rows, *[("", "")] * len(ROWS)][: len(ROWS)]
    return {key: text for keys, row in zip(ROWS, filled, strict=True) for key, text in zip(keys, row, strict=True)}


FIELDS: dict[str, tuple[Field, ...]] = {
    "which": (
        Text("lead", "Lead-acid build"), Text("lithium", "Lithium build"), Text("day", "Day"), Choice("equal", "Lithium pack", EQUAL),
    ),
    "packs": (
        Number("price", "Block price", "", 10.0, 300.0, 1.0),
        Number("lithium_price", "Lithium as built", "", 100.0, 2000.0, 10.0),
        Number("show_days", "Days a year", "", 1.0, 100.0, 1.0),
        Number("ambient", "Air", "°C", -15.0, 40.0, 1.0),
        Number("months", "Shed, months", "", 0.0, 12.0, 0.5),
    ),
    "charging": (
        Number("charger", "Charger", "A", 1.0, 20.0, 0.5),
        Choice("socket", "Socket", tuple((str(i), socket.name) for i, socket in enumerate(SOCKETS))),
    ),
    "weak": (
        Number("health", "State of health", "%", 40.0, 100.0, 1.0),
        Number("weakest", "Weakest block", "%", 20.0, 100.0, 1.0),
    ),
    "sheet": (
        *(
            Text(key, f"{label}, row {n}")
            for n, row in enumerate(ROWS, start=1) for key, label in zip(row, ("Hours", "Ah"), strict=True)
        ),
        Number("rated_hours", "Rated hours", "h", 5.0, 20.0, 1.0),
        Number("mass", "Block mass", "kg", 2.0, 40.0, 0.1),
    ),
}  # fmt: skip
"""The boxes: which builds and day, and those of each tab."""
SHEET_BOXES = (*(key for row in ROWS for key in row), "rated_hours")
"""Boxes of the data sheet: what is typed in one of them makes all of them the user's."""
OF_BUILD = {
    "lead": (*SHEET_BOXES, "mass", "price", "health", "months", "charger"), "lithium": ("lithium_price",), "day": ("ambient",),
}  # fmt: skip
"""Boxes that hold what a build or the day says of itself, by the box that chooses it."""
OWN = tuple(key for keys in OF_BUILD.values() for key in keys)
"""Boxes that hold what the chosen builds and day say, until something is typed; an empty text stands for that."""
DEFAULT_TEXTS = {
    **dict.fromkeys(OWN, ""), "lead": "heron_36v", "lithium": "heron_lithium", "day": "harbour_festival",
    "equal": "mass", "socket": "0", "show_days": "12", "weakest": "100", "units": "metric",
}  # fmt: skip
NUMBERS = {field.key: field for fields in FIELDS.values() for field in fields if isinstance(field, Number)}
_LIMITS = {
    "weakest": (1.0, 120.0), "health": (1.0, 120.0), "ambient": (-20.0, 50.0), "months": (0.0, 60.0), "charger": (0.1, 1000.0),
    "show_days": (0.1, 366.0), "rated_hours": (0.1, 1000.0), "mass": (0.01, 2000.0), "price": (0.01, 1e6), "lithium_price": (0.01, 1e6),
}  # fmt: skip
"""Lowest and highest number that a pack or a day can have; a box takes them beyond its slider's reach."""


@dataclass(frozen=True)
class PackWish:
    """What is asked: the typed texts, and what the rows and numbers among them mean; what was not typed is not among them."""

    texts: Mapping[str, str]
    rows: tuple[tuple[float, float], ...]
    values: Mapping[str, float]

    @property
    def socket(self) -> Socket:
        """Where the charger is plugged in."""
        return SOCKETS[int(self.texts["socket"])]


@dataclass(frozen=True)
class PackAnswer:
    """Everything the panel shows.

    Attributes
    ----------
    day : Day
        At the air that was asked for.
    sheet : SheetFit
        The typed rows under each law.
    lead, lithium : PackAnswers
        The two packs on the day, with their charges in the breaks and overnight.
    comparison : Comparison
        Whether they do the day, as :func:`ridesim.compare` says it.
    charge : Answer
        The same for the picture of what is left.
    blocks : StringsOutcome
        The lead-acid string with its weakest block.
    weakest : float
        Health of its weakest block over that of the others; 1 asks about none.
    refitted : str
        That the lithium pack has another number of cells than in its file, and why; empty where it has not.
    found : mapping of str to tuple of (int, Finding)
        For each tab whose (its place among the options), and what.
    """

    day: Day
    sheet: SheetFit
    lead: PackAnswers
    lithium: PackAnswers
    comparison: Comparison
    charge: Answer
    blocks: StringsOutcome
    weakest: float
    refitted: str
    found: Mapping[str, tuple[tuple[int, Finding], ...]]

    @property
    def findings(self) -> tuple[tuple[int, Finding], ...]:
        """Those of all tabs, each once."""
        once = {(place, each.text): (place, each) for found in self.found.values() for place, each in found}
        return tuple(once.values())

    @property
    def options(self) -> tuple[PackAnswers, PackAnswers]:
        """Lead-acid, then lithium."""
        return self.lead, self.lithium


_TYPED = ", this block"
"""Ends the name of a lead-acid build with the typed block: it is another vehicle than the one in the file."""


def kind_of(option: PackAnswers) -> str:
    """How a pack is called beside the other one."""
    return "lithium" if option.build.pack.kind.is_lithium else "lead-acid"


def sheet_rows(texts: Mapping[str, str]) -> tuple[tuple[float, float], ...]:
    """Rows of the data sheet as typed, hours and ampere-hours.

    Raises
    ------
    InputProblem
        Names the box.
    """
    boxes = {
        field.key: Number(field.key, field.label, "", 0.1, 100.0, 0.1)
        for field in FIELDS["sheet"]
        if isinstance(field, Text)
    }
    return tuple(
        (float(number_of(texts[hours], boxes[hours], SHEET)), float(number_of(texts[charge], boxes[charge], SHEET)))
        for hours, charge in ROWS
        if (texts[hours] + texts[charge]).strip()
    )


def wish_of(texts: Mapping[str, str]) -> PackWish:
    """What the typed texts mean.

    Raises
    ------
    InputProblem
        The first text that means nothing, or a number no pack can have.
    """
    asked = {key: field for key, field in NUMBERS.items() if key not in OWN or texts[key].strip()}
    values = {key: float(number_of(texts[key], field, "the pack")) for key, field in asked.items()}
    for key in values:
        need_number("the pack", NUMBERS[key].label, values[key], *_LIMITS[key], NUMBERS[key].unit)
    for field in (field for fields in FIELDS.values() for field in fields):
        if isinstance(field, Choice) and texts[field.key] not in dict(field.options):
            known = ", ".join(f"{value} ({words})" for value, words in field.options)
            raise InputProblem("the pack", field.label, shown(texts[field.key]), f"one of {known}")
    return PackWish(texts, sheet_rows(texts), values)


def answer(wish: PackWish, folder: Path | None = None, draws: int = 0) -> PackAnswer:
    """Compute everything the panel shows; without draws the likely values alone.

    Raises
    ------
    InputProblem
        A file that is not a good build or day, a sheet no block can have, a build whose pack is of the other kind.
    """
    values, day = wish.values, day_of(wish, folder)
    own = lead_build(wish, folder)
    sheet = fit_sheet(*sheet_of(own.pack))
    charger = Charger(values["charger"]) if "charger" in values else night_charger(own)
    comparison = compare([own, lithium_build(wish, folder)], day, draws)
    lead, lithium = (answers_of(each, values["show_days"], charger, wish.socket) for each in comparison.candidates)
    blocks = ride_on_blocks(lead.ride, _real_blocks(lead.build, values["weakest"] / 100.0))
    found: dict[str, list[tuple[int, Finding]]] = {"packs": [], "charging": [], "weak": [], "sheet": []}
    for place, each in enumerate((lead, lithium)):
        charging = list(charging_findings(each.ride, wish.socket))
        found["charging"] += [(place, finding) for finding in charging]
        stops = [finding for finding in charging if finding.severity == "stop"]
        stops += [finding for finding in each.candidate.findings if finding.code == "controller-voltage"]
        said = {finding.code for finding in stops}
        rest = [finding for finding in (*storage_findings(each.ride), *each.cautions) if finding.code not in said]
        found["packs"] += [(place, finding) for finding in (*stops, *rest)]
    found["weak"] += [(0, finding) for finding in strings_findings(blocks)]
    return PackAnswer(
        day=day,
        sheet=sheet,
        lead=lead,
        lithium=lithium,
        comparison=comparison,
        charge=answer_of(comparison),
        blocks=blocks,
        weakest=values["weakest"] / 100.0,
        refitted=refitted(_file_of(wish, "lithium", folder), own),
        found={tab: tuple(each) for tab, each in found.items()},
    )


def own_of(texts: Mapping[str, str], folder: Path | None = None) -> dict[str, str]:
    """What stands in the boxes in which nothing was typed, by the chosen builds and day and by what was typed in the others.

    Raises
    ------
    InputProblem
        As :func:`answer`.
    """
    wish = wish_of(texts)
    return own_texts(lead_build(wish, folder), _file_of(wish, "lithium", folder), day_of(wish, folder))


def day_of(wish: PackWish, folder: Path | None = None) -> Day:
    """The day, in the air that was typed."""
    day = files.day_of(wish.texts["day"], folder)
    return day.changed({"ambient_c": wish.values["ambient"]}) if "ambient" in wish.values else day


def lead_build(wish: PackWish, folder: Path | None = None) -> Build:
    """The lead-acid build, with what was typed of its block: sheet, mass, price, health and shed time.

    Raises
    ------
    InputProblem
        A sheet that has no row at the rated hours, or that no block can have.
    """
    build, values = _file_of(wish, "lead", folder), wish.values
    pack = build.pack
    typed: dict[str, Any] = {_KEYS[key]: values[key] for key in _KEYS if key in values}
    if wish.rows or "rated_hours" in values:
        rows, hours = wish.rows or sheet_of(pack)[0], values.get("rated_hours", pack.rated_hours)
        fit_sheet(rows, hours)
        typed |= {
            "pack.capacity_by_hours": [list(row) for row in rows],
            "pack.rated_hours": hours,
            "pack.block_capacity_ah": dict(rows)[hours],
        }
    if "health" in values:
        health, capacity = values["health"] / 100.0, typed.get("pack.block_capacity_ah", pack.block_capacity_ah)
        typed["pack.state_of_health"] = health
        if health != pack.state_of_health:
            typed["pack.block_resistance_ohm"] = _resistance(pack, capacity, health)
    changed = build.changed(typed)
    return build if changed is build else build.changed(typed, name=build.name.removesuffix(_TYPED) + _TYPED)


_KEYS = {"mass": "pack.block_mass_kg", "price": "pack.block_price", "months": "pack.stood_months"}
"""Boxes that are a key of the build as they stand."""


def _resistance(pack: Pack, capacity: float, health: float) -> float:
    """Resistance of the build's block made as large and as worn as typed. [ohm]"""
    worn = worn_resistance_factor(health) / worn_resistance_factor(pack.state_of_health)
    return pack.in_force.block_resistance_ohm * worn * pack.block_capacity_ah / capacity


def lithium_build(wish: PackWish, folder: Path | None = None) -> Build:
    """The lead-acid build's vehicle with the lithium build's pack, as built or made equal to the lead-acid one."""
    other, values = _file_of(wish, "lithium", folder), wish.values
    keys = {"lithium_price": "pack.block_price", "months": "pack.stood_months"}
    other = other.changed({place: values[key] for key, place in keys.items() if key in values})
    carried = with_pack_of(_file_of(wish, "lead", folder), other)
    if wish.texts["equal"] == "built":
        return carried
    return made_equal(carried, lead_build(wish, folder), "mass" if wish.texts["equal"] == "mass" else "price")


def _real_blocks(build: Build, weakest: float) -> list[list[RealBlock]]:
    """All blocks of the build's pack at its health, the last of the first string the weakest."""
    pack = build.pack
    strings = [
        [RealBlock(f"{s}.{n}", health=pack.state_of_health) for n in range(1, pack.blocks_in_series + 1)]
        for s in range(1, pack.strings_in_parallel + 1)
    ]
    strings[0][-1] = RealBlock("the weakest", health=min(1.2, weakest * pack.state_of_health))
    return strings


def _file_of(wish: PackWish, which: Literal["lead", "lithium"], folder: Path | None) -> Build:
    """A chosen build as its file says it."""
    kind = "lead-acid" if which == "lead" else "lithium"
    build = files.build_of(wish.texts[which], folder)
    if build.pack.kind.is_lithium != (which == "lithium"):
        other = "Lead-acid has its own box." if which == "lithium" else "Lithium has its own box."
        raise InputProblem(build.name, "pack.chemistry", build.pack.chemistry, f"a {kind} build", other)
    return build
