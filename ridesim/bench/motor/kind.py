"""The kind test: what the volts at the open leads say of a motor's kind, before it may be run at all."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from ridesim.bench.motor.log import NEVER_UNLOADED, RPM, MotorLog, Turned
from ridesim.bench.motor.model import HAND_RPM
from ridesim.words import InputProblem

LEAST_OPEN_V = 0.1
"""Volts at the open leads up to which a shaft turned at an unknown speed counts as making none: common practice, no source."""
OPEN_V = 2.0
"""The same from which it counts as making volts; between the two only a speed tells: common practice, no source."""
LEAST_CONSTANT = 0.01
"""V s/rad below which open-lead volts are a series-wound motor's remanence: common practice, no source."""
_LIKE_THE_SPIN = (0.5, 1.5)
"""Open-lead volts a turn over those that the free spins need: magnets give 0.7 to 1.2 (brushes drop 0 to 2 V), the rest is a
hand's unsteady turning. A series-wound motor's remanence gives far less."""


def kind_faults(log: MotorLog, file: str) -> Iterator[InputProblem]:
    """A log without a kind test, with one that leaves the kind open, or with one that shows the other kind."""
    if not log.turned:
        yield InputProblem(
            file, "turned", "no kind test", "first of all a turned row: the shaft turned with the leads open, and the volts it makes",
            NEVER_UNLOADED if log.series_wound else
            "A motor that makes no volts is treated as series-wound and must never run unloaded.",
        )  # fmt: skip
        return
    shown = {place: what_turned_shows(log, row) for place, row in log.rows("turned")}
    for place, row in log.rows("turned"):
        if row.rpm == 0.0:
            yield InputProblem(
                file, f"{place}.speed_rpm", f"a standing shaft with {abs(row.voltage_v):g} V", "a turning shaft",
                "With the leads open a standing motor makes nothing: are the leads really off the battery?",
            )  # fmt: skip
    for place, row in log.rows("turned"):
        if shown[place] == "unknown" and "magnets" not in shown.values():
            yield InputProblem(
                file, f"{place}.speed_rpm", f"nothing beside {abs(row.voltage_v):g} V with the leads open",
                f"a speed, or turns with seconds, wherever it makes less than {OPEN_V:g} V",
                "Turned slowly, magnets make these volts; turned by a drill, the weak remanence of a series-wound motor does. Until you "
                "know, do not run it unloaded.",
            )  # fmt: skip
        if shown[place] != "none" and log.series_wound:
            yield InputProblem(
                file, f"{place}.voltage_v", _said(log, row), "next to none from a series-wound motor",
                "It has magnets, or a field of its own: test it as a permanent-magnet motor, but look first that magnets, not coils of "
                "thick wire, sit in the housing; until then never run it unloaded.",
            )  # fmt: skip
    if not log.series_wound and "magnets" not in shown.values():
        place, best = max(
            log.rows("turned"), key=lambda each: abs(each[1].voltage_v) / (log.motor_speed(each[1]) or 1.0)
        )
        least = f"{LEAST_CONSTANT:g} V s/rad" if best.rpm else f"more than {LEAST_OPEN_V:g} V"
        yield _series(
            log, place, best, f"{least} from a permanent-magnet motor", file,
            "If you turned it very slowly, turn it faster and write down the speed.",
        )  # fmt: skip


def what_turned_shows(log: MotorLog, row: Turned) -> Literal["magnets", "none", "unknown"]:
    """What one turn of the shaft with open leads says of a motor's kind, whatever kind the log states.

    Parameters
    ----------
    log : MotorLog
        For the gearing.
    row : Turned
        Volts, and the speed where it was written down.

    Returns
    -------
    str
        ``"none"``: no more than a series-wound motor's remanence; ``"unknown"``: a speed is needed to tell.
    """
    volts, speed = abs(row.voltage_v), log.motor_speed(row)
    if speed:
        return "magnets" if volts / speed >= LEAST_CONSTANT else "none"
    if volts <= LEAST_OPEN_V:
        return "none"
    return "magnets" if volts >= OPEN_V else "unknown"


def unlike_the_spin(log: MotorLog, file: str) -> Iterator[InputProblem]:
    """Open-lead volts that do not belong to the motor of the free spins: the two constants must agree."""
    fastest = max(log.free_spin, key=lambda row: row.voltage_v)
    volts = fastest.voltage_v - min(1.0, 0.2 * fastest.voltage_v)  # a usual brush drop
    constant = volts / (log.motor_speed(fastest) or 1.0)
    expected = f"about {constant:.2g} V s/rad, as the free spins have it"
    hint = "Was this speed counted where the log says?"
    for place, row in log.rows("turned"):
        open_v, speed = abs(row.voltage_v), log.motor_speed(row)
        by_hand = open_v / constant / RPM
        if not speed and open_v >= OPEN_V and by_hand > HAND_RPM:
            yield InputProblem(
                file, f"{place}.speed_rpm", f"nothing beside {open_v:g} V with the leads open",
                f"a speed: with the free spins' {constant:.2g} V s/rad that is {by_hand:.0f} turns a minute, no hand's work",
                "Turned by a drill, a series-wound motor makes such volts too. Until you know, do not run it unloaded.",
            )  # fmt: skip
        if speed and open_v / speed < _LIKE_THE_SPIN[0] * constant:
            yield _series(log, place, row, expected, file, hint)
        if speed and open_v / speed > _LIKE_THE_SPIN[1] * constant:
            yield InputProblem(file, place, _said(log, row), expected, f"{hint} In turns a minute?")


def _series(log: MotorLog, place: str, row: Turned, expected: str, file: str, hint: str) -> InputProblem:
    return InputProblem(
        file, f"{place}.voltage_v", _said(log, row), expected,
        "So it is treated as series-wound: without load such a motor speeds up until it flies apart. Never run it "
        "unloaded, no free spin. Test it as a series-wound motor (the log's kind, on the page the other panel): a held rotor and "
        "three braked points. " + hint,
    )  # fmt: skip


def _said(log: MotorLog, row: Turned) -> str:
    """Volts, and volts over speed where that is known."""
    volts, speed = abs(row.voltage_v), log.motor_speed(row)
    return f"{volts:g} V with the leads open" + (f" ({volts / speed:.2g} V s/rad)" if speed else "")
