"""Reading the bench's logs: by path or bare shipped name, and from a table such as a notebook's entry fields."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from ridesim.data import find
from ridesim.forms import Part, PartType, read_table, validate
from ridesim.words import InputProblem


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
    if not isinstance(path, str | Path):
        raise InputProblem("the bench log", "path", _kind_of(path), "a path, or the name of a shipped bench log")
    file = find(path, "logs")
    return read(read_table(file)[0], str(path), file.stem)


def read_log(kind: type[PartType], table: dict[str, Any], file: str, stem: str = "") -> PartType:
    """A log from a table; one without a name takes the file's."""
    need_table(table, file)
    return validate(kind, table if "name" in table or not stem else {"name": stem, **table}, file)


def need_table(table: object, file: str) -> None:
    """Refuse what is no table."""
    if not isinstance(table, dict):
        raise InputProblem(file, "table", _kind_of(table), "a dict of the log's keys, as in its TOML file")


def need_log(log: object, kind: type[Part], load: str, file: str) -> None:
    """Refuse what is no log of a kind, such as its name or its table; ``load`` names the function that reads one."""
    if not isinstance(log, kind):
        raise InputProblem(file, "log", _kind_of(log), f"a {kind.__name__}, as {load} reads it from a file")


def _kind_of(value: object) -> str:
    """What was given in a log's place: a name as it is, anything else by its type."""
    if value is None or isinstance(value, str):
        return f"“{value}”"
    return f"something of the kind {type(value).__name__}"
