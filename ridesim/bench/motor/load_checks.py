"""Refuses a series-wound motor's log that cannot be right: one clear message that names the row."""

from __future__ import annotations

from math import hypot

from ridesim.bench.motor.checks import (
    FALL_SD,
    locked_drift,
    more_than_held,
    stranger,
    turned_rows,
    turned_words,
    turning_rows,
    what_turned_shows,
)
from ridesim.bench.motor.load_log import NEVER_UNLOADED, LoadLog
from ridesim.words import InputProblem

FEWEST_LOADS = 3
SPREAD = 1.3
"""Largest over smallest current below which points under load say next to nothing of the flux: common practice, no source."""


def check(log: LoadLog, file: str = "the bench log") -> None:
    """Refuse a log of a motor with magnets, of too few points, or whose points cannot be right.

    Raises
    ------
    InputProblem
        The first thing that is wrong: row, what was found, what is expected.
    """
    _kind(log, file)
    _enough(log, file)
    _turning(log, file)
    speeds = [(f"load[{n}]", row, log.motor_speed(row) or 1.0) for n, row in enumerate(log.load, start=1)]
    stranger(
        file, "current", [(f"load[{n}]", row.current_a) for n, row in enumerate(log.load, start=1)], milli_only=True
    )
    stranger(
        file, "voltage", [(f"load[{n}]", row.voltage_v) for n, row in enumerate(log.load, start=1)], milli_only=True
    )
    stranger(
        file, "volts over amps", [(f"locked[{n}]", row.voltage_v / row.current_a) for n, row in enumerate(log.locked, start=1)],
        milli_only=True,
    )  # fmt: skip
    _more_power_in_than_out(log, file)
    stranger(
        file,
        "volts over amps and speed",
        [(place, row.voltage_v / row.current_a / speed) for place, row, speed in speeds],
        or_else=", or the current is wrong",
    )
    locked_drift(log.locked, log.meter, file)
    _more_than_held(log, file)


def _kind(log: LoadLog, file: str) -> None:
    if not log.turned:
        raise InputProblem(
            file, "turned", "no kind test",
            "first of all [[turned]]: the shaft turned with the leads open, and the volts it makes", NEVER_UNLOADED,
        )  # fmt: skip
    turned_rows(log, log.turned, file)
    for number, row in enumerate(log.turned, start=1):
        if what_turned_shows(log, row) != "none":
            raise InputProblem(
                file, f"turned[{number}].voltage_v", turned_words(log, row), "next to none from a series-wound motor",
                "It has magnets, or a field of its own: use the spin test, but look first that magnets, not coils of thick wire, sit in "
                "the housing; until then never run it unloaded.",
            )  # fmt: skip


def _enough(log: LoadLog, file: str) -> None:
    if not log.locked:
        raise InputProblem(
            file, "locked", "no row", "at least one [[locked]] point: a few amps through the held motor, lamp in series"
        )
    if len(log.load) < FEWEST_LOADS:
        raise InputProblem(
            file,
            "load",
            f"{len(log.load)} rows",
            f"at least {FEWEST_LOADS} [[load]] points at different currents",
            NEVER_UNLOADED,
        )
    amps = [row.current_a for row in log.load]
    if max(amps) < SPREAD * min(amps):
        raise InputProblem(
            file, "load", f"currents from {min(amps):g} to {max(amps):g} A", "currents further apart, the largest at least "
            f"{SPREAD:g} times the smallest", "Brake harder for some of them; never less than now for others.",
        )  # fmt: skip


def _turning(log: LoadLog, file: str) -> None:
    turning_rows("load", log.load, "2 s at most, the winding heats.", file)


def _more_power_in_than_out(log: LoadLog, file: str) -> None:
    """No motor gives off more than it takes, whatever its flux."""
    meter = log.meter
    share = 0.01 * hypot(meter.voltage_percent, meter.current_percent, meter.speed_percent, meter.torque_percent)
    for number, row in enumerate(log.load, start=1):
        out, taken = (row.torque_nm or 0.0) * (log.motor_speed(row) or 0.0), row.voltage_v * row.current_a
        if out > taken * (1.0 + FALL_SD * share):
            raise InputProblem(
                file, f"load[{number}]", f"{out:.0f} W at the shaft from {taken:.0f} W at the terminals", "more power in than out",
                "Is its current right, the torque in N m at the motor's shaft, and the speed in turns a minute?",
            )  # fmt: skip


def _more_than_held(log: LoadLog, file: str) -> None:
    more_than_held("load", log.load, log.locked, file)
