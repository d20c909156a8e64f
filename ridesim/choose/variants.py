"""The same build with other values: what a slider, a search or a what-if asks for. No widgets, no physics."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ridesim.forms import Part, validate
from ridesim.vehicle import Build
from ridesim.vehicle.files import stated_table
from ridesim.words import Finding, InputProblem, nearest

SCALED_WITH_SIZE = {
    "block_resistance_ohm": -1.0, "label_resistance_ohm": -1.0, "polarisation_resistance_ohm": -1.0, "block_mass_kg": 1.0,
}  # fmt: skip
"""Exponent on the capacity's ratio for what a file states of a block of another size. Bigger plates in parallel: resistance falls
and mass grows in proportion; common practice, no source."""

_WORDS = {
    "block_resistance_ohm": "block resistance", "label_resistance_ohm": "label resistance",
    "polarisation_resistance_ohm": "slow resistance", "block_mass_kg": "block mass",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Variant:
    """A build with other values, and what had to follow them.

    Attributes
    ----------
    build : Build
        Validated like a file; keeps the text of its file, so that saving keeps the user's comments.
    remarks : tuple of Finding
        What was carried along (a block's resistance and mass, the cut-off), with the numbers.
    """

    build: Build
    remarks: tuple[Finding, ...] = ()


def value_at(build: Build, place: str) -> Any:
    """The value of a dotted key such as ``"pack.blocks_in_series"``.

    Raises
    ------
    InputProblem
        No such key; names the nearest.
    """
    holder: Any = build
    for step in place.split("."):
        fields = type(holder).model_fields if isinstance(holder, Part) else {}
        if step not in fields:
            near = nearest(step, fields)
            raise InputProblem(
                build.name, place, "an unknown key", "a known one", f"Nearest known key: {near}." if near else ""
            )
        holder = getattr(holder, step)
    return holder


def with_values(build: Build, values: Mapping[str, Any], *, name: str | None = None) -> Variant:
    """The same build with other values, checked as a file is checked.

    Parameters
    ----------
    build : Build
        Where the other values come from.
    values : mapping of str to value
        Dotted key to value, in the key's own unit: ``{"drive.motor_teeth": 12}``. A value equal to the build's changes nothing.
    name : str, optional
        Another name for the result.

    Returns
    -------
    Variant
        ``build`` itself where nothing changes.

    Raises
    ------
    InputProblem
        Unknown key, or a value that a file could not have either.

    Notes
    -----
    A stated block resistance goes as 1/Ah and a stated block mass as Ah when the capacity changes; a data sheet's ampere-hours go with
    the capacity; a stated block size is dropped. A stated cut-off keeps its volts a block. All this is said in ``remarks``.
    """
    changed = {place: value for place, value in values.items() if value_at(build, place) != value}
    renamed = name is not None and name != build.name
    if not changed and not renamed:
        return Variant(build)
    table = stated_table(build)
    remarks: list[Finding] = []
    if "pack.block_capacity_ah" in changed:
        remarks += _follow_capacity(table["pack"], changed["pack.block_capacity_ah"])
    if "pack.blocks_in_series" in changed and "controller.cutoff_voltage_v" not in changed:
        remarks += _follow_blocks(table, build, changed["pack.blocks_in_series"])
    for place, value in changed.items():
        _put(table, place, value)
    if renamed:
        table["name"] = name
    variant = validate(Build, table, name or build.name)
    variant._text = build._text
    return Variant(variant, tuple(remarks))


def _put(table: dict[str, Any], place: str, value: Any) -> None:
    *path, last = place.split(".")
    for step in path:
        table = table.setdefault(step, {})
    table[last] = value


def _number(value: Any) -> bool:
    """Whether a rule of proportion can take it; anything else is left for the validation to name."""
    return isinstance(value, int | float) and not isinstance(value, bool) and 0.0 < value < 1e9


def _follow_capacity(pack: dict[str, Any], capacity: Any) -> list[Finding]:
    before = pack.get("block_capacity_ah")
    if not _number(before) or not _number(capacity):
        return []
    ratio = capacity / before
    said, numbers = [], {"ratio": ratio}
    for key, power in SCALED_WITH_SIZE.items():
        if key in pack:
            old, pack[key] = pack[key], float(f"{pack[key] * ratio**power:.6g}")
            said.append(f"{_WORDS[key]} {_amount(key, old)} to {_amount(key, pack[key])}")
            numbers[key] = pack[key]
    if "capacity_by_hours" in pack:
        pack["capacity_by_hours"] = [
            [hours, float(f"{charge * ratio:.6g}")] for hours, charge in pack["capacity_by_hours"]
        ]
        said.append("the data sheet's ampere-hours in proportion")
    if pack.pop("block_size_mm", None) is not None:
        said.append("block size left out")
    if not said:
        return []
    text = (
        f"Block of {capacity:g} Ah instead of {before:g}: "
        + ", ".join(said)
        + ", a rule of proportion. Put in the new block's own figures "
        "when you have them."
    )
    return [Finding("block-scaled", "advice", text, numbers)]


def _amount(key: str, value: float) -> str:
    return f"{1000.0 * value:.3g} mΩ" if key.endswith("_ohm") else f"{value:.3g} kg"


def _follow_blocks(table: dict[str, Any], build: Build, blocks: Any) -> list[Finding]:
    controller = table["controller"]
    if not _number(blocks) or blocks > 100:
        return []
    moved, numbers = [], {}
    for key, words in (("cutoff_voltage_v", "cut-off"), ("restart_voltage_v", "restart")):
        volts = controller.get(key)
        if volts is not None:
            numbers[key] = controller[key] = float(f"{volts * blocks / build.pack.blocks_in_series:.6g}")
            moved.append(f"{words} {volts:g} V moved to {numbers[key]:g} V")
    if not moved:
        return []
    text = (
        f"{blocks:g} blocks instead of {build.pack.blocks_in_series}: {', '.join(moved)}, the same a block. "
        "Set the controller so, or it drains the pack too far or stops too early."
    )
    return [Finding("cut-off-scaled", "advice", text, numbers)]


def differences(before: Build, after: Build) -> list[tuple[str, Any, Any]]:
    """Dotted keys in which two builds differ, with both values; None where one does not have it.

    Returns
    -------
    list of tuple
        Key, value before, value after, in the order of the build's sections.
    """
    return list(_unlike("", stated_table(before), stated_table(after)))


def _unlike(place: str, before: Any, after: Any) -> list[tuple[str, Any, Any]]:
    if isinstance(before, dict) and isinstance(after, dict):
        keys = [*before, *(key for key in after if key not in before)]
        inner = [_unlike(f"{place}.{key}" if place else key, before.get(key), after.get(key)) for key in keys]
        return [each for found in inner for each in found]
    if isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        inner = [_unlike(f"{place}[{i}]", b, a) for i, (b, a) in enumerate(zip(before, after, strict=True), start=1)]
        return [each for found in inner for each in found]
    return [] if before == after else [(place, before, after)]
