"""The user's files in panels: which builds and days there are, where a build is saved, and what that would change."""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from itertools import count
from pathlib import Path
from typing import Any

from ridesim import data
from ridesim.day import Day, load_day
from ridesim.forms import differences, is_width
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
    if data.is_shipped(path):
        expected = "a file of your own, so that the shipped one stays as it is"
        raise InputProblem(str(path), "", "a shipped file", expected)
    return path


def folder_of(builds: Sequence[str | Path]) -> Path:
    """The folder of the first build that is a file of the user's own, else the current one."""
    own = (path for path in map(Path, builds) if path.is_file() and not data.is_shipped(path))
    return next((path.resolve().parent for path in own), Path.cwd())


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


class Saver:
    """Saves over a file that holds something else only when asked for it twice."""

    def __init__(self) -> None:
        self._asked: tuple[Path, object] | None = None

    def first_asks(self, path: Path, what: object, changes: list[str], button: str) -> str:
        """What to say instead of saving; empty where nothing is lost, or where the same was asked for just before.

        Parameters
        ----------
        path : Path
            The file.
        what : object
            What would be saved.
        changes : list of str
            What that would change.
        button : str
            The button that saves.
        """
        if not changes or self._asked == (path, what):
            self._asked = None
            return ""
        self._asked = path, what
        return (
            f"{path.name} is there already and would change: {'; '.join(changes)}. Press “{button}” again to write over it, or give "
            "another file name."
        )

    def save(self, build: Build, path: Path, button: str) -> str:
        """Write a build; what comes back is to be said instead where it was not written.

        Raises
        ------
        InputProblem
            A folder that cannot be written.
        """
        said = self.first_asks(path, build, would_change(build, path), button)
        if not said:
            save_build(build, path)
        return said


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


def build_of(reference: str, folder: Path | None) -> Build:
    """The build that a box names, looked for in the user's folder first.

    Raises
    ------
    InputProblem
        No name, no such file, or not a good build.
    """
    return load_build(_named(reference, "builds", folder))


def day_of(reference: str, folder: Path | None) -> Day:
    """The day that a box names; as :func:`build_of`."""
    return load_day(_named(reference, "days", folder))


def _named(reference: str, kind: str, folder: Path | None) -> Path:
    if not reference.strip():
        one, known = kind[:-1], ", ".join(data.names(kind))
        raise InputProblem(f"{one.capitalize()} file", "", "no name", f"a {one} file, or one of {known}")
    return data.find(reference.strip(), kind, beside=folder)


def free_name(name: str, taken: list[str]) -> str:
    """A name like another that nobody has: ``"Heron, 36 V, copy"``, then ``"… copy 2"``."""
    names = (f"{name}, copy" + (f" {number}" if number > 1 else "") for number in count(1))
    return next(each for each in names if each not in taken)
