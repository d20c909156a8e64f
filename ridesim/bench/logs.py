"""Bench logs of every kind: read from a file, or from a table such as a notebook's entry fields."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from ridesim.bench.discharge.log import load_discharge
from ridesim.bench.motor.log import MotorLog
from ridesim.bench.warm_up_log import WarmUpLog
from ridesim.data import find
from ridesim.forms import Part, PartType, read_table, validate

KINDS: tuple[type[Part], ...] = (MotorLog, WarmUpLog)
"""Logs that are TOML files, told apart by their keys."""


def load_log(path: str | Path, kind: type[Part] | None = None) -> Any:
    """Read a bench log of any kind.

    Parameters
    ----------
    path : str or Path
        A path, or the bare name of a shipped log: a TOML file of a motor's bench test or warm-up, a CSV file of a block's discharge.
    kind : type, optional
        ``MotorLog`` or ``WarmUpLog``, where only that will do; else the file's keys tell.

    Returns
    -------
    MotorLog, WarmUpLog or DischargeLog
        For ``identify_motor``, ``identify_warm_up`` or ``identify_block``.

    Raises
    ------
    InputProblem
        File, key path or line, what was found and what is expected.
    TypeError
        Neither a name nor a path.

    Examples
    --------
    >>> import ridesim
    >>> type(ridesim.load_log("heron_motor_bench")).__name__
    'MotorLog'
    >>> type(ridesim.load_log("heron_block_slow")).__name__
    'DischargeLog'
    """
    file = find(path, "logs")
    if kind is None and file.suffix == ".csv":
        return load_discharge(path)
    table = read_table(file)[0]
    return read_log(kind or likeliest(table, KINDS), {"name": file.stem, **table}, str(path))


def read_log(kind: type[PartType], table: dict[str, Any], file: str = "the bench log") -> PartType:
    """A log from a table; ``file`` is what messages call it."""
    return validate(kind, table, file)


def likeliest(table: Mapping[str, object], kinds: Iterable[type[Part]]) -> type[Part]:
    """The kind of file that knows most of a table's keys; one misspelt section must not make a day look like a build."""
    return max(kinds, key=lambda kind: len(table.keys() & {*kind.model_fields, *kind.former_keys}))
