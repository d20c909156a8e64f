"""Bench logs of every kind, told apart by their keys."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from ridesim.bench.discharge.log import DischargeLog, load_discharge
from ridesim.bench.motor.log import MotorLog, load_motor_log
from ridesim.bench.warm_up_log import WarmUpLog, load_warm_up
from ridesim.data import find
from ridesim.forms import Part, read_table

LOADERS: dict[type[Part], Callable[[str | Path], MotorLog | WarmUpLog]] = {
    MotorLog: load_motor_log,
    WarmUpLog: load_warm_up,
}


def load_log(path: str | Path) -> MotorLog | WarmUpLog | DischargeLog:
    """Read a bench log of any kind.

    Parameters
    ----------
    path : str or Path
        A path, or the bare name of a shipped log: a TOML file of a motor's bench test or warm-up, a CSV file of a block's discharge.

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
    if file.suffix == ".csv":
        return load_discharge(path)
    return LOADERS[likeliest(read_table(file)[0], LOADERS)](path)


def likeliest(table: Mapping[str, object], kinds: Iterable[type[Part]]) -> type[Part]:
    """The kind of file that knows most of a table's keys; one misspelt section must not make a day look like a build."""
    return max(kinds, key=lambda kind: len(table.keys() & {*kind.model_fields, *kind.former_keys}))
