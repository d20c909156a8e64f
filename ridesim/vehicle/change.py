"""What follows when a build is changed: a block of another size, more or fewer blocks in series. Works on tables of stated keys."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from ridesim.forms import as_table, likely_of, opened, scaled
from ridesim.vehicle.coast_down import FITTED
from ridesim.words import Finding, is_number

if TYPE_CHECKING:
    from ridesim.vehicle.build import Build

CAPACITY, BLOCKS = "pack.block_capacity_ah", "pack.blocks_in_series"

_WITH_CAPACITY = {
    "block_resistance_ohm": (-1, "block resistance", 1000.0, "mΩ"),
    "label_resistance_ohm": (-1, "label resistance", 1000.0, "mΩ"),
    "polarisation_resistance_ohm": (-1, "slow resistance", 1000.0, "mΩ"),
    "block_mass_kg": (1, "block mass", 1.0, "kg"),
    "block_price": (1, "block price", 1.0, ""),
    "max_charge_current_a": (1, "charging limit", 1.0, "A"),
}
"""Stated values of a block that go with its capacity: exponent, words, factor and unit for the note. Bigger plates in parallel:
resistance falls, mass, price and charging current grow in proportion; common practice, no source."""


def follow(table: dict[str, Any], before: Build, named: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Let stated values follow a change, in place, and say so.

    Parameters
    ----------
    table : dict
        The changed build's stated keys.
    before : Build
        What it was made from.
    named : mapping of str to object
        Dotted keys that the user gives a value; what they name is the user's word and follows nothing.

    Returns
    -------
    tuple of Finding
        What followed, with the numbers.
    """
    notes = []
    capacity, blocks = before.pack.block_capacity_ah, before.pack.blocks_in_series
    if _another(likely_of(named.get(CAPACITY)), capacity):
        notes += _capacity(opened(table, "pack"), capacity, named)
    if _another(named.get(BLOCKS), blocks):
        notes += _blocks(opened(table, "controller"), blocks, named)
    if "pack" in named:
        notes += _another_pack(opened(table, "controller"), before, named)
    if {BLOCKS, "pack.strings_in_parallel"} & set(named) and "pack.place" not in named:
        notes += _places(opened(table, "pack"), before)
    if before.vehicle.coast_down and "vehicle.coast_down" not in named:
        notes += _runs(opened(table, "vehicle"), before, named)
    return tuple(notes)


def _another_pack(controller: dict[str, Any], before: Build, named: Mapping[str, Any]) -> list[Finding]:
    """A cut-off and a restart voltage that were set for cells of another kind no longer hold."""
    if (named["pack"] or {}).get("chemistry") == before.pack.chemistry:
        return []
    stated = {"cutoff_voltage_v": "cut-off", "restart_voltage_v": "restart"}
    left_out = [key for key in stated if key in controller and f"controller.{key}" not in named]
    if not left_out:
        return []
    volts = " and ".join(f"{stated[key]} {likely_of(controller.pop(key)):g} V" for key in left_out)
    text = f"Cells of another kind: {volts} left out, so that these cells' own counts. Set the controller so."
    return [Finding("cut-off-dropped", "advice", text)]


def _runs(vehicle: dict[str, Any], before: Build, named: Mapping[str, Any]) -> list[Finding]:
    """The runs were timed with the mass of then; a value that is set by hand takes their place."""
    vehicle.setdefault("coast_down_mass_kg", round(before.total_mass_kg(), 2))
    by_hand = [key for key in FITTED if f"vehicle.{key}" in named]
    if not by_hand:
        return []
    for key in set(FITTED) - set(by_hand):
        vehicle[key] = as_table(before.vehicle.stated_widths[key])
    del vehicle["coast_down"], vehicle["coast_down_mass_kg"]
    text = f"{' and '.join(by_hand)} set by hand: the runs in coast_down no longer count."
    return [Finding("coast-down-dropped", "advice", text)]


def _places(pack: dict[str, Any], before: Build) -> list[Finding]:
    """More or fewer blocks stand where they stood on the whole."""
    blocks = pack.get("blocks_in_series", 1) * pack.get("strings_in_parallel", 1)
    if not before.pack.place or blocks == before.pack.blocks or not is_number(blocks):
        return []
    places = pack.pop("place")
    for key in ("x_m", "z_m"):
        pack[key] = round(sum(likely_of(each[key]) for each in places) / len(places), 4)
    text = f"{blocks:g} blocks instead of {before.pack.blocks}: they count as one load where the former ones stood on the whole."
    return [Finding("places-dropped", "advice", text)]


def _another(new: Any, old: float) -> bool:
    """Whether there is a new number to which others can be in proportion; what is no number the validation names."""
    return is_number(new) and new > 0 and new != old


def _capacity(pack: dict[str, Any], old: float, named: Mapping[str, Any]) -> list[Finding]:
    new = likely_of(named[CAPACITY])
    ratio = new / old
    said, numbers = [], {"ratio": ratio}
    for key, (power, words, factor, unit) in _WITH_CAPACITY.items():
        if key in pack and f"pack.{key}" not in named:
            former, pack[key] = likely_of(pack[key]), scaled(pack[key], ratio**power)
            numbers[key] = likely_of(pack[key])
            said.append(
                f"{words} {factor * former:.3g} {unit}".rstrip() + f" to {factor * numbers[key]:.3g} {unit}".rstrip()
            )
    if "capacity_by_hours" in pack and "pack.capacity_by_hours" not in named:
        rows = pack["capacity_by_hours"]
        pack["capacity_by_hours"] = [[hours, float(f"{charge * ratio:.12g}")] for hours, charge in rows]
        said.append("the data sheet's ampere-hours in proportion")
    if "pack.block_size_mm" not in named and pack.pop("block_size_mm", None) is not None:
        said.append("block size left out")
    if not said:
        return []
    text = (
        f"Block of {new:g} Ah instead of {old:g}: {', '.join(said)}, a rule of proportion. Put in the new block's own figures "
        "when you have them."
    )
    return [Finding("block-scaled", "advice", text, numbers)]


def _blocks(controller: dict[str, Any], old: int, named: Mapping[str, Any]) -> list[Finding]:
    new = named[BLOCKS]
    moved, numbers = [], {}
    for key, words in (("cutoff_voltage_v", "cut-off"), ("restart_voltage_v", "restart")):
        volts = controller.get(key)
        if volts is not None and f"controller.{key}" not in named:
            controller[key] = scaled(volts, new / old)
            volts, numbers[key] = likely_of(volts), likely_of(controller[key])
            moved.append(f"{words} {volts:g} V moved to {numbers[key]:g} V")
    if not moved:
        return []
    text = (
        f"{new:g} blocks instead of {old:g}: {', '.join(moved)}, the same a block. Set the controller so, or it drains the pack "
        "too far or stops too early."
    )
    return [Finding("cut-off-scaled", "advice", text, numbers)]
