"""Reading the bench's logs: by path or bare shipped name, and from a table such as a notebook's entry fields."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from ridesim.data import shipped
from ridesim.forms import PartType, read_table, validate
from ridesim.words import InputProblem, nearest


def load_log(path: str | Path, read: Callable[[dict[str, Any], str, str], PartType]) -> PartType:
    """Read a bench log of any kind.

    Parameters
    ----------
    path : str or Path
        A TOML file, or the bare name of a shipped log such as ``"heron_motor_bench"``.
    read : callable
        From the table, what messages call the file, and the file's stem to the log.

    Returns
    -------
    Part
        As typed; its identification checks it against itself.

    Raises
    ------
    InputProblem
        File, key path, what was found and what is expected.
    """
    file = find_log(path)
    return read(read_table(file)[0], str(path), file.stem)


def read_log(kind: type[PartType], table: dict[str, Any], file: str, stem: str = "") -> PartType:
    """A log from a table; one without a name takes the file's."""
    return validate(kind, table if "name" in table or not stem else {"name": stem, **table}, file)


def find_log(reference: str | Path) -> Path:
    """A bench log by path or by its bare shipped name.

    Raises
    ------
    InputProblem
        Nothing is there.
    """
    path, folder = Path(reference), shipped("data") / "logs"
    for candidate in (path, folder / (path.name if path.suffix == ".toml" else path.name + ".toml")):
        if candidate.is_file() and (candidate == path or len(path.parts) == 1):
            return candidate
    known = sorted(each.stem for each in folder.glob("*.toml"))
    near = nearest(path.stem, known)
    hint = f"Nearest shipped name: {near}." if near else f"Shipped logs: {', '.join(known)}."
    raise InputProblem(str(reference), "", "no such file", "a path, or the name of a shipped bench log", hint)
