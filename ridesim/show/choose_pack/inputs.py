"""The pack notebook without widgets: what was typed → a wish → an answer. No pictures here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ridesim.choose.compare import Comparison, compare
from ridesim.choose.findings.blocks import strings_findings
from ridesim.choose.findings.charging import charging_findings
from ridesim.choose.findings.storage import storage_findings
from ridesim.choose.packs import PackAnswers, answers_of, made_equal
from ridesim.day import Day
from ridesim.ride.pack.data_sheet import SheetFit, fit_sheet
from ridesim.ride.pack.supply import SOCKETS, Charger, Socket
from ridesim.ride.pack.unlike_blocks import RealBlock, StringsOutcome, ride_on_blocks
from ridesim.show.choose_drive.inputs import Answer, answer_of
from ridesim.show.panel.fields import Choice, Field, Number, Text, number_of
from ridesim.show.panel.files import build_of, day_of
from ridesim.vehicle import Build, Pack
from ridesim.vehicle.care import worn_resistance_factor
from ridesim.words import Finding, InputProblem, need_number, shown

SHEET = "the data sheet"
EQUAL = (("built", "as built"), ("mass", "of equal mass"), ("price", "of equal price"))
"""How the lithium pack is put beside the lead-acid one."""
PUBLISHED_ROWS = (("20", "22"), ("10", "20.46"), ("5", "18.7"), ("1", "13.2"))
"""The shape of a published 40 Ah sealed block's data sheet, brought to 22 Ah: hours, ampere-hours."""
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
DEFAULT_TEXTS = {
    **sheet_texts(PUBLISHED_ROWS), "rated_hours": "20", "mass": "6.6", "price": "55", "health": "100", "weakest": "100", "months": "0",
    "lead": "heron_36v", "lithium": "heron_lithium", "day": "harbour_festival", "equal": "mass", "lithium_price": "520",
    "ambient": "14", "charger": "2.2", "socket": "0", "show_days": "12", "units": "metric",
}  # fmt: skip
"""Prices are invented, as are the builds; the charger is the slow one that their build sheet takes."""
NUMBERS = {field.key: field for fields in FIELDS.values() for field in fields if isinstance(field, Number)}
_LIMITS = {
    "weakest": (1.0, 120.0), "health": (1.0, 120.0), "ambient": (-20.0, 50.0), "months": (0.0, 60.0), "charger": (0.1, 1000.0),
    "show_days": (0.1, 366.0), "rated_hours": (0.1, 1000.0), "mass": (0.01, 2000.0), "price": (0.01, 1e6), "lithium_price": (0.01, 1e6),
}  # fmt: skip
"""Lowest and highest number that a pack or a day can have; a box takes them beyond its slider's reach."""


@dataclass(frozen=True)
class PackWish:
    """What is asked: the typed texts, and what the rows and numbers among them mean."""

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
    findings : tuple of (int, Finding)
        Whose (its place among the options), and what.
    """

    day: Day
    sheet: SheetFit
    lead: PackAnswers
    lithium: PackAnswers
    comparison: Comparison
    charge: Answer
    blocks: StringsOutcome
    findings: tuple[tuple[int, Finding], ...]

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
    values = {key: float(number_of(texts[key], field, "the pack")) for key, field in NUMBERS.items()}
    for key, (low, high) in _LIMITS.items():
        need_number("the pack", NUMBERS[key].label, values[key], low, high, NUMBERS[key].unit)
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
    values = wish.values
    day = day_of(wish.texts["day"], folder).changed({"ambient_c": values["ambient"]})
    sheet = fit_sheet(wish.rows, values["rated_hours"])
    charger = Charger(values["charger"])
    comparison = compare([lead_build(wish, folder), lithium_build(wish, folder)], day, draws)
    lead, lithium = (answers_of(each, values["show_days"], charger, wish.socket) for each in comparison.candidates)
    blocks = ride_on_blocks(lead.ride, _real_blocks(lead.build, values["weakest"] / 100.0))
    found: list[tuple[int, Finding]] = []
    for place, each in enumerate((lead, lithium)):
        of_day = [*storage_findings(each.ride), *charging_findings(each.ride, wish.socket)]
        said = {finding.code for finding in of_day}
        more = [finding for finding in each.cautions if finding.code not in said]
        found += [(place, finding) for finding in (*of_day, *more)]
    found += [(0, finding) for finding in strings_findings(blocks)]
    return PackAnswer(day, sheet, lead, lithium, comparison, answer_of(comparison), blocks, tuple(found))


def lead_build(wish: PackWish, folder: Path | None = None) -> Build:
    """The lead-acid build with the typed sheet, mass, price, health and shed time."""
    build, values = _build(wish.texts["lead"], folder, "lead-acid"), wish.values
    rated = dict(wish.rows)[values["rated_hours"]]
    typed = {
        "pack.capacity_by_hours": [list(row) for row in wish.rows],
        "pack.rated_hours": values["rated_hours"],
        "pack.block_capacity_ah": rated,
        "pack.block_mass_kg": values["mass"],
        "pack.block_price": values["price"],
        "pack.state_of_health": values["health"] / 100.0,
        "pack.stood_months": values["months"],
        "pack.block_resistance_ohm": _resistance(build.pack, rated, values["health"] / 100.0),
    }
    return build.changed(typed, name=build.name.removesuffix(_TYPED) + _TYPED)


def _resistance(pack: Pack, capacity: float, health: float) -> float:
    """Resistance of the build's block made as large and as worn as typed. [ohm]"""
    worn = worn_resistance_factor(health) / worn_resistance_factor(pack.state_of_health)
    return pack.in_force.block_resistance_ohm * worn * pack.block_capacity_ah / capacity


def lithium_build(wish: PackWish, folder: Path | None = None) -> Build:
    """The lithium build, as built or made equal to the lead-acid one."""
    build, values = _build(wish.texts["lithium"], folder, "lithium"), wish.values
    priced = build.changed({"pack.block_price": values["lithium_price"], "pack.stood_months": values["months"]})
    if wish.texts["equal"] == "built":
        return priced
    return made_equal(priced, lead_build(wish, folder), "mass" if wish.texts["equal"] == "mass" else "price")


def _real_blocks(build: Build, weakest: float) -> list[list[RealBlock]]:
    """All blocks of the build's pack at its health, the last of the first string the weakest."""
    pack = build.pack
    strings = [
        [RealBlock(f"{s}.{n}", health=pack.state_of_health) for n in range(1, pack.blocks_in_series + 1)]
        for s in range(1, pack.strings_in_parallel + 1)
    ]
    strings[0][-1] = RealBlock("the weakest", health=min(1.2, weakest * pack.state_of_health))
    return strings


def _build(reference: str, folder: Path | None, kind: str) -> Build:
    build = build_of(reference, folder)
    if build.pack.kind.is_lithium != (kind == "lithium"):
        other = "Lead-acid has its own box." if kind == "lithium" else "Lithium has its own box."
        raise InputProblem(build.name, "pack.chemistry", build.pack.chemistry, f"a {kind} build", other)
    return build
