"""The main panel's files: which builds and days there are, where a candidate is saved, and what that would change."""

from __future__ import annotations

import re
from contextlib import suppress
from itertools import count
from pathlib import Path
from typing import Any

from ridesim import data
from ridesim.day import Day, load_day
from ridesim.forms import differences, is_width
from ridesim.show.choose_drive.inputs import Slot
from ridesim.vehicle import Build, load_build, save_build
from ridesim.words import InputProblem


def file_name(name: str) -> str:
    """A file name made of a candidate's name: ``"Heron, 36 V"`` gives ``"heron_36_v.toml"``."""
    stem = re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")
    return (stem or "build") + ".toml"


def target_of(text: str, folder: Path) -> Path:
    """Where a candidate would be saved.

    Raises
    ------
    InputProblem
        No name, or a shipped file, which stays as it is.
    """
    name = text.strip()
    if not name or name.endswith(("/", "\\")):
        raise InputProblem("file", "", "no name", "a file name such as my_float.toml")
    path = Path(name).expanduser()
    path = path if path.suffix == ".toml" else path.with_name(path.name + ".toml")
    path = path if path.is_absolute() else folder / path
    if path.resolve().is_relative_to(data.shipped("data").resolve()):
        expected = "a file of your own, so that the shipped one stays as it is"
        raise InputProblem(str(path), "", "a shipped file", expected)
    return path


def would_change(build: Build, path: Path) -> list[str]:
    """What saving would change in the file that is there, one line a key; empty where there is none or nothing differs."""
    if not path.exists():
        return []
    try:
        there = load_build(path)
    except InputProblem as problem:
        return [f"it is not a good build now ({problem})"]
    return [f"{place} {_said(before)} → {_said(after)}" for place, before, after in differences(there, build)]


def _said(value: Any) -> str:
    if value is None:
        return "(left out)"
    if is_width(value):
        numbers = [f"{end:g}" for end in value.values()]
        value = f"{numbers[1]} ({numbers[0]} to {numbers[2]})" if len(numbers) == 3 else f"exactly {numbers[0]}"
    text = f"{value:g}" if isinstance(value, int | float) and not isinstance(value, bool) else str(value)
    return text if len(text) <= 30 else text[:27] + "..."


def save(slot: Slot, path: Path) -> Slot:
    """Write a candidate's build; the slot that comes back has it as its origin.

    Raises
    ------
    InputProblem
        A box that is wrong, or a folder that cannot be written.
    """
    save_build(slot.build, path)
    return Slot.of(slot.key, load_build(path), path.name, str(path))


def builds_in(folder: Path) -> tuple[str, ...]:
    """Names of builds in a folder and of the shipped ones, for suggestions."""
    return (*own_builds(folder), *data.names("builds"))


def own_builds(folder: Path) -> list[str]:
    """Names of the files in a folder that are builds."""
    return _own(folder, "[vehicle]")


def days_in(folder: Path) -> tuple[str, ...]:
    """Names of days in a folder and of the shipped ones."""
    return (*_own(folder, "[[activity]]"), *data.names("days"))


def _own(folder: Path, section: str) -> list[str]:
    """Names of the TOML files in a folder that have a section; huge and unreadable ones are left out."""
    found = []
    for path in sorted(folder.glob("*.toml")):
        with suppress(OSError):
            if path.stat().st_size < 1_000_000 and section in path.read_text(encoding="utf-8", errors="replace"):
                found.append(path.name)
    return found


def found_build(reference: str, folder: Path) -> tuple[Build, str, str]:
    """A build by name or path, looked for in the user's folder first, the name of its file, and how it was asked for.

    Raises
    ------
    InputProblem
        As ``ridesim check`` says it.
    """
    file = data.find(reference, "builds", beside=folder)
    return load_build(file), file.name, reference


def found_day(reference: str, folder: Path) -> Day:
    """A day by name or path, looked for in the user's folder first."""
    return load_day(data.find(reference, "days", beside=folder))


def free_name(name: str, taken: list[str]) -> str:
    """A name like another that nobody has: ``"Heron, 36 V, copy"``, then ``"… copy 2"``."""
    names = (f"{name}, copy" + (f" {number}" if number > 1 else "") for number in count(1))
    return next(each for each in names if each not in taken)
