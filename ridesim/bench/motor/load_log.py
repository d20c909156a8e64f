"""A bench log of a series-wound motor: points under load only, as read from a TOML file. Nothing is reckoned here."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Literal

from pydantic import Field

from ridesim.bench.log_files import load_log, need_table, read_log
from ridesim.bench.motor.log import Bench, Locked, Turned, Turning
from ridesim.forms import quantity
from ridesim.words import InputProblem

NEVER_UNLOADED = (
    "A series-wound motor without load speeds up until it flies apart: never run it with the chain off, the wheel off the "
    "ground or the brake let go."
)


class LoadPoint(Turning):
    """Under load and settled: voltage at the motor's terminals, current, speed; the brake's torque where it is known."""

    voltage_v: float = quantity("at the motor's terminals", gt=0.0, le=120.0)
    current_a: float = quantity("into the motor", gt=0.0, le=2000.0)
    torque_nm: float | None = quantity("of the brake or weight at the motor's shaft, where known", None, gt=0.0, le=1e4)
    winding_c: float | None = quantity(
        "temperature of the winding then; else as cold as the room", None, ge=-20.0, le=200.0
    )


class LoadLog(Bench):
    """A series-wound motor's bench log: the kind test first, a held rotor, then points under load."""

    kind: Literal["series-wound"] = quantity('which motor: "series-wound"')
    load: tuple[LoadPoint, ...] = Field(default=(), description="points under load", strict=False)
    turned: tuple[Turned, ...] = Field(default=(), description="the kind test", strict=False)
    locked: tuple[Locked, ...] = Field(default=(), description="rotor held", strict=False)


def load_load_log(path: str | Path) -> LoadLog:
    """A series-wound motor's bench log, by path or bare shipped name; :func:`ridesim.bench.log_files.load_log`."""
    return load_log(path, read_load_log)


def read_load_log(table: dict[str, Any], file: str = "the bench log", stem: str = "") -> LoadLog:
    """A series-wound motor's log from a table, such as a notebook's entry fields."""
    need_table(table, file)
    if "no_load" in table:
        raise InputProblem(
            file, "no_load", "a free spin of a series-wound motor", "[[load]] points only, brake or vehicle holding it",
            NEVER_UNLOADED,
        )  # fmt: skip
    return read_log(LoadLog, table, file, stem)
