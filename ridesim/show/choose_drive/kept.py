"""What is set on the main panel, as plain data for its file, and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from zlib import crc32

from ridesim.show.choose_drive.inputs import Slot
from ridesim.show.panel import files
from ridesim.words import InputProblem


@dataclass(frozen=True)
class Setting:
    """All that is set on the panel.

    Attributes
    ----------
    slots : tuple of Slot
        The candidates.
    chosen : int
        Key of the one that is worked on.
    day, units : str
        As the panel's boxes have them.
    """

    slots: tuple[Slot, ...]
    chosen: int
    day: str
    units: str


def as_table(setting: Setting) -> dict[str, Any]:
    """A setting for the file."""
    return {
        "day": setting.day,
        "units": setting.units,
        "chosen": [slot.key for slot in setting.slots].index(setting.chosen) + 1,
        "candidate": [_candidate(slot) for slot in setting.slots],
    }


def _candidate(slot: Slot) -> dict[str, Any]:
    values = {
        key: text
        for key, text in slot.texts.items()
        if key not in ("name", "file") and text.strip() != slot.in_file[key]
    }
    return {
        "name": slot.texts["name"], "build": slot.reference, "as_it_was": _print_of(slot), "save_as": slot.texts["file"], "copied": slot.copied,
        "values": values,
    }  # fmt: skip


def _print_of(slot: Slot) -> int:
    """A number that changes with the build's file."""
    return crc32(slot.origin._text.encode())


def restored(table: dict[str, Any], folder: Path, keys: Sequence[int]) -> tuple[Setting, list[str]]:
    """A setting from the file, and what could not be restored of it, in words.

    Raises
    ------
    InputProblem
        Nothing that can be restored.
    """
    slots, lost = [], []
    for key, each in zip(keys, table.get("candidate", ()), strict=False):
        try:
            slot = Slot.of(key, *files.found_build(str(each["build"]), folder))
            if each["as_it_was"] != _print_of(slot):
                lost.append(f"{slot.texts['file']} was changed since, and counts as it is now")
            else:
                texts = {name: str(text) for name, text in each["values"].items() if name in slot.texts}
                slot = replace(
                    slot.with_texts(name=str(each["name"]), file=str(each["save_as"]), **texts),
                    copied=bool(each["copied"]),
                )
            slots.append(slot)
        except InputProblem as problem:
            lost.append(str(problem))
    if not slots:
        raise InputProblem("what was kept", "", "no candidate that can be loaded", "one at least")
    place = min(max(int(table.get("chosen", 1)), 1), len(slots)) - 1
    return Setting(tuple(slots), slots[place].key, str(table["day"]), str(table["units"])), lost
