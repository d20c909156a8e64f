"""The wiring notebook without widgets: a build, a day, what was changed of its circuits and switches → an answer. No pictures here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ridesim.choose.findings.wiring import SWITCHES
from ridesim.choose.wiring import Wiring, wiring
from ridesim.show.panel.fields import Choice, Field, Number, Text, number_of
from ridesim.show.panel.files import build_of, day_of
from ridesim.show.units import UNITS
from ridesim.sizing.circuit import THINNEST_MM2, Circuit
from ridesim.sizing.protection import kind_of, kinds
from ridesim.vehicle import Build
from ridesim.vehicle.cable import INSULATIONS_C, LEAST_MM2, cable_sizes
from ridesim.vehicle.wiring import Wiring as Described

WHICH: tuple[Text | Choice, ...] = (
    Text("build", "Build"), Text("day", "Day"),
    Choice("duty_known", "Size by", (("no", "the controller’s limit"), ("yes", "this day’s own currents"))),
    Choice("units", "Units", UNITS),
)  # fmt: skip
FIRST_TEXTS = {"build": "heron_36v", "day": "harbour_festival", "units": "metric"}
LENGTH = Number("length_m", "Length, one way", "m", 0.1, 6.0, 0.1)
SECTION = Number("section_mm2", "Cable", "mm²", 1.0, 120.0, 1.0)
BUNDLED = Number("bundled", "Conductors together", "", 1, 12, 1, whole=True)
AMBIENT = Number("ambient_c", "Air around it", "°C", -10.0, 80.0, 1.0)
RATING = Number("rating_a", "Rating", "A", 1.0, 300.0, 1.0)
NUMBERS = {each.key: each for each in (LENGTH, SECTION, BUNDLED, AMBIENT, RATING)}
PROPOSED = ("section_mm2", "protection", "rating_a")
"""What is proposed where it is left open."""
OPEN = ""
"""Of a value that is left open, so that it is proposed."""
NONE = "none"
"""Of a protection: the circuit has none of its own."""
SWITCH_ANSWERS = (("unsaid", "not said yet"), ("yes", "has it"), ("no", "done without, on purpose"))
_MEANT = {"unsaid": None, "yes": True, "no": False}


@dataclass(frozen=True)
class WiringWish:
    """What is asked: the typed texts, what was changed of each circuit by its name, and of the switches.

    A circuit's values are those of ``[[wiring.circuit]]``, :data:`OPEN` where it is to be proposed. ``chosen`` is the one that is
    worked on; empty for the first.
    """

    texts: Mapping[str, str]
    circuits: Mapping[str, Mapping[str, Any]]
    switches: Mapping[str, str]
    chosen: str = ""


@dataclass(frozen=True)
class WiringAnswer:
    """Everything the panel shows.

    Attributes
    ----------
    wiring : Wiring
        With what was changed.
    before : Wiring
        As the file has it, what it leaves open proposed.
    chosen : str
        Name of the circuit that is worked on.
    """

    wiring: Wiring
    before: Wiring
    chosen: str

    @property
    def build(self) -> Build:
        """The build with what was changed."""
        return self.wiring.build

    @property
    def described(self) -> Described:
        """What is described, and the switches."""
        return self.wiring.needs.wiring

    @property
    def circuit(self) -> Circuit:
        """What is worked on."""
        return self.named(self.chosen)

    def named(self, name: str) -> Circuit:
        """A circuit by its name; the first one where there is none of that name."""
        return next((each for each in self.wiring.sized if each.demand.name == name), self.wiring.sized[0])


def answer(wish: WiringWish, folder: Path) -> WiringAnswer:
    """Compute everything the panel shows.

    Raises
    ------
    InputProblem
        A file that is not a good build or day, a circuit that cannot be.
    """
    file = build_of(wish.texts["build"], folder)
    day = day_of(wish.texts["day"], folder) if wish.texts["day"].strip() else None
    before = wiring(file, day)
    build = changed_build(before, wish)
    return WiringAnswer(before if build == file else wiring(build, day), before, wish.chosen)


def changed_build(before: Wiring, wish: WiringWish) -> Build:
    """The build with what was changed; a circuit that it does not describe is described as far as it was changed.

    Raises
    ------
    InputProblem
        A circuit that cannot be.
    """
    values: dict[str, Any] = {f"wiring.{key}": _MEANT[said] for key, said in wish.switches.items()}
    stated = {each.name: each.said() for each in before.needs.wiring.circuit}
    fed = {each.demand.load for each in before.sized}

    def table(each: Circuit) -> dict[str, Any]:
        d = each.demand
        return _table(each, stated.get(d.name), wish.circuits.get(d.name, {}), d.source in fed)

    known = [each for each in before.sized if each.demand.name in {*stated, *wish.circuits}]
    if any(each.demand.name in wish.circuits for each in known):
        values["wiring.circuit"] = [table(each) for each in known]
    return before.build.changed(values) if values else before.build


def _table(
    circuit: Circuit, stated: Mapping[str, Any] | None, changed: Mapping[str, Any], behind: bool
) -> dict[str, Any]:
    """A circuit as the build describes it with some of its values changed."""
    d = circuit.demand
    kind = None if circuit.protection is None else circuit.protection.kind
    if stated is None:
        stated = {
            "name": d.name, "role": d.role, "source": d.source, "load": d.load, "length_m": d.length_m, "insulation_c": d.insulation_c,
        }  # fmt: skip
        if behind:  # described without a protection it would count as having none of its own
            stated["protection"] = kind
    table = {**stated, **changed}
    if "section_mm2" in changed:
        table.pop("awg", None)
    if table.get("rating_a") and not table.get("protection"):
        table["protection"] = kind  # a rating is that of the kind which was proposed
    return {key: value for key, value in table.items() if value not in (OPEN, None)}


def circuit_fields(circuit: Circuit) -> list[Field]:
    """The boxes of a circuit: sliders stop at what is sold."""
    d, part = circuit.demand, circuit.protection
    least = max(THINNEST_MM2, LEAST_MM2[d.insulation_c == 70.0])
    sizes = tuple(each.section_mm2 for each in cable_sizes() if each.section_mm2 >= least)
    fields: list[Field] = [
        LENGTH, _stops(SECTION, sizes),
        Choice("insulation_c", "Insulation", tuple((f"{each:g}", f"{each:g} °C") for each in INSULATIONS_C)),
        AMBIENT,
    ]  # fmt: skip
    if d.role != "motor" or part is not None:
        none = () if part is not None else ((NONE, "none of its own"),)
        sold = tuple((each.kind, f"{each.name}, {each.rated_voltage_v:g} V") for each in kinds().values())
        fields.append(Choice("protection", "Protection", none + sold))
    if part is not None:
        fields.append(_stops(RATING, kind_of(part.kind).ratings_a))
    return [*fields, BUNDLED]


def _stops(field: Number, stops: tuple[float, ...]) -> Number:
    return Number(field.key, field.label, field.unit, stops[0], stops[-1], field.step, stops=stops)


def circuit_values(circuit: Circuit) -> dict[str, Any]:
    """What counts for a circuit now, by the keys of its boxes."""
    d, part = circuit.demand, circuit.protection
    return {
        "length_m": d.length_m, "section_mm2": round(circuit.section_mm2, 2), "insulation_c": d.insulation_c, "bundled": d.bundled,
        "ambient_c": d.ambient_c, "protection": NONE if part is None else part.kind, "rating_a": OPEN if part is None else part.rating_a,
    }  # fmt: skip


def typed_value(key: str, text: str, name: str) -> Any:
    """What a box of a circuit means; empty where its value is to be proposed.

    Raises
    ------
    InputProblem
        Text that means nothing.
    """
    if not text.strip() and key in PROPOSED:
        return OPEN
    if key == "protection":
        return OPEN if text == NONE else text
    return float(text) if key == "insulation_c" else number_of(text, NUMBERS[key], name)


def switch_fields() -> list[Choice]:
    """The switches as a list, in the order of the build's file."""
    meanings = {key: field.description or "" for key, field in Described.model_fields.items() if key in SWITCHES}
    words = {key: meaning.partition(";")[0] for key, meaning in meanings.items()}
    return [Choice(key, said[:1].upper() + said[1:], SWITCH_ANSWERS) for key, said in words.items()]


def switch_text(value: bool | None) -> str:
    """What stands in a switch's box."""
    return next(text for text, meant in _MEANT.items() if meant is value)
