"""Refuses a bench log that cannot be right: one clear message that names the row."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations
from math import hypot, sqrt
from statistics import median
from typing import Literal, Protocol

import numpy as np

from ridesim.bench.motor.log import RPM, Bench, Locked, Meter, SpinLog, Turned
from ridesim.bench.motor.model import HAND_RPM, reading_sd
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
FALL_SD = 4.0
"""How many standard deviations a reading must fall against the physics before the log is refused."""
DRIFT_SD = 3.3
_LEAST_DRIFT = 0.03
"""Rise of a held rotor's resistance, about 8 K of copper, up to which it counts as cold however good the meters."""
_MIXED_UNITS = (
    (1000.0, "milli-units among whole ones (mV or mA among V or A)"),
    (60.0, "turns a second among turns a minute"),
    (30.0 / np.pi, "rad/s among turns a minute"),
)


class TurningRow(Protocol):
    """A row of a motor that turns under power: spinning free, braked or loaded."""

    @property
    def voltage_v(self) -> float:
        """At the motor's terminals. [V]"""

    @property
    def current_a(self) -> float:
        """Into the motor. [A]"""

    @property
    def rpm(self) -> float | None:
        """Speed where it was measured. [turns a minute]"""


def check(log: SpinLog, file: str = "the bench log") -> None:
    """Refuse a log for a motor of the wrong kind, or whose points cannot be right.

    Raises
    ------
    InputProblem
        The first thing that is wrong: row, what was found, what is expected.
    """
    for look in (_kind, _standing, _mixed_units, _held_least, _like_the_spin, _falling, _drift):
        look(log, file)


def what_turned_shows(log: Bench, row: Turned) -> Literal["magnets", "none", "unknown"]:
    """What one turn of the shaft with open leads says of a motor's kind: the same for either test, so that none passes both.

    Parameters
    ----------
    log : Bench
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


def turned_words(log: Bench, row: Turned) -> str:
    """What a turn of the shaft showed: volts, and volts over speed where that is known."""
    volts, speed = abs(row.voltage_v), log.motor_speed(row)
    return f"{volts:g} V with the leads open" + (f" ({volts / speed:.2g} V s/rad)" if speed else "")


def turned_rows(log: Bench, rows: Sequence[Turned], file: str) -> None:
    """Refuse a kind test at standstill, or one that leaves the kind open for want of a speed."""
    for number, row in enumerate(rows, start=1):
        if row.rpm == 0.0:
            raise InputProblem(
                file, f"turned[{number}].speed_rpm", f"a standing shaft with {abs(row.voltage_v):g} V", "a turning shaft",
                "With the leads open a standing motor makes nothing: are the leads really off the battery?",
            )  # fmt: skip
    shown = [what_turned_shows(log, row) for row in rows]
    if "unknown" in shown and "magnets" not in shown:
        number = shown.index("unknown") + 1
        raise InputProblem(
            file, f"turned[{number}].speed_rpm", f"nothing beside {abs(rows[number - 1].voltage_v):g} V with the leads open",
            f"a speed, or turns with seconds, wherever it makes less than {OPEN_V:g} V",
            "Turned slowly, magnets make these volts; turned by a drill, the weak remanence of a series-wound motor does. Until you "
            "know, do not run it unloaded.",
        )  # fmt: skip


def _kind(log: SpinLog, file: str) -> None:
    if not log.turned:
        raise InputProblem(
            file, "turned", "no kind test",
            "first of all [[turned]]: the shaft turned with the leads open, and the volts it makes",
            "A motor that makes no volts is treated as series-wound and must never run unloaded.",
        )  # fmt: skip
    turned_rows(log, log.turned, file)
    if not any(what_turned_shows(log, row) == "magnets" for row in log.turned):
        best = max(log.turned, key=lambda row: abs(row.voltage_v) / (log.motor_speed(row) or 1.0))
        least = f"{LEAST_CONSTANT:g} V s/rad" if best.rpm else f"more than {LEAST_OPEN_V:g} V"
        _series(log, log.turned.index(best) + 1, f"{least} from a permanent-magnet motor", file)
    if not log.no_load:
        raise InputProblem(
            file, "no_load", "no row", "at least one [[no_load]] point: voltage, current, speed, first at 6 V or less"
        )


def _series(log: SpinLog, number: int, expected: str, file: str, more: str = "") -> None:
    raise InputProblem(
        file, f"turned[{number}].voltage_v", turned_words(log, log.turned[number - 1]), expected,
        "So it is treated as series-wound: without load such a motor speeds up until it flies apart. Never run it "
        "unloaded; there is no spin test for it. Give a log with kind = \"series-wound\": a held rotor and three points under load. "
        + (more or "If you turned it very slowly, turn it faster and write down the speed."),
    )  # fmt: skip


def _like_the_spin(log: SpinLog, file: str) -> None:
    """Refuse open-lead volts that do not belong to the motor of the free spins: the two constants must agree."""
    fastest = max(log.no_load, key=lambda row: row.voltage_v)
    volts = fastest.voltage_v - min(1.0, 0.2 * fastest.voltage_v)  # a usual brush drop
    constant = volts / (log.motor_speed(fastest) or 1.0)
    for number, row in enumerate(log.turned, start=1):
        open_v, speed = abs(row.voltage_v), log.motor_speed(row)
        if not speed:
            rpm = open_v / constant / RPM
            if open_v >= OPEN_V and rpm > HAND_RPM:
                raise InputProblem(
                    file, f"turned[{number}].speed_rpm", f"nothing beside {open_v:g} V with the leads open",
                    f"a speed: with the free spins' {constant:.2g} V s/rad that is {rpm:.0f} turns a minute, no hand's work",
                    "Turned by a drill, a series-wound motor makes such volts too. Until you know, do not run it unloaded.",
                )  # fmt: skip
            continue
        ratio = open_v / speed / constant
        elsewhere = "Was this speed counted where speed_measured_at says?"
        if ratio < _LIKE_THE_SPIN[0]:
            _series(log, number, f"about {constant:.2g} V s/rad, as the free spins have it", file, elsewhere)
        if ratio > _LIKE_THE_SPIN[1]:
            raise InputProblem(
                file, f"turned[{number}]", turned_words(log, row), f"about {constant:.2g} V s/rad, as the free spins have it",
                f"{elsewhere} In turns a minute?",
            )  # fmt: skip


def _standing(log: SpinLog, file: str) -> None:
    brake = "switch off, the winding heats. If it should turn: is a parking brake on? Release it as its maker meant."
    turning_rows("no_load", log.no_load, brake, file)
    turning_rows("load", log.load, brake, file)


def _held_least(log: SpinLog, file: str) -> None:
    more_than_held("no_load", log.no_load, log.locked, file)


def _mixed_units(log: SpinLog, file: str) -> None:
    spins = [(f"no_load[{n}]", row, log.motor_speed(row) or 1.0) for n, row in enumerate(log.no_load, start=1)]
    stranger(file, "volts over speed", [(place, row.voltage_v / speed) for place, row, speed in spins])
    stranger(file, "current", [(place, row.current_a) for place, row, _ in spins], milli_only=True)
    stranger(
        file, "volts over amps",
        [(f"locked[{n}]", row.voltage_v / row.current_a) for n, row in enumerate(log.locked, start=1)], milli_only=True,
    )  # fmt: skip


def stranger(
    file: str, what: str, values: list[tuple[str, float]], milli_only: bool = False, or_else: str = ""
) -> None:
    """Refuse a row that differs from the others by just the factor between two units; ``or_else``: what else it may be."""
    if len(values) < 2:
        return
    units = _MIXED_UNITS[:1] if milli_only else _MIXED_UNITS
    for index, (place, value) in enumerate(values):
        rest = median(other for at, (_, other) in enumerate(values) if at != index)
        ratio = value / rest
        for factor, meaning in units:
            width = 1.6 if factor > 100.0 else 1.3
            for apart in (ratio / factor, ratio * factor):
                if 1.0 / width < apart < width:
                    both = f"{place} and {values[1 - index][0]}" if len(values) == 2 else place
                    raise InputProblem(
                        file, both, f"{what} {max(ratio, 1.0 / ratio):.0f} times off the other row{'s' * (len(values) > 2)}",
                        "one unit in all rows", f"It looks like {meaning}{or_else}.",
                    )  # fmt: skip


def _falling(log: SpinLog, file: str) -> None:
    meter = log.meter
    spins = log.no_load

    def amps(value: float) -> float:
        return reading_sd(value, meter.current_percent, meter.current_digit_a)

    for (a, first), (b, second) in combinations(enumerate(spins, start=1), 2):
        if first.chain != second.chain:
            continue
        low, high = ((a, first), (b, second)) if first.voltage_v < second.voltage_v else ((b, second), (a, first))
        gap = hypot(
            reading_sd(low[1].voltage_v, meter.voltage_percent, meter.voltage_digit_v),
            reading_sd(high[1].voltage_v, meter.voltage_percent, meter.voltage_digit_v),
        )
        if high[1].voltage_v - low[1].voltage_v < FALL_SD * gap:
            continue
        _fell(file, "no_load", low, high, low[1].current_a, high[1].current_a, amps, "current", "A",
              "Drag does not shrink with speed: run the bearings and brushes in for some minutes and measure again.")  # fmt: skip
        _fell(
            file, "no_load", low, high, low[1].rpm or 0.0, high[1].rpm or 0.0,
            lambda value: reading_sd(value, meter.speed_percent, meter.speed_digit_rpm), "speed", "turns/min",
            "More volts turn it faster: are two rows swapped?",
        )  # fmt: skip
    for (a, one), (b, two) in combinations(enumerate(log.locked, start=1), 2):
        lower, upper = ((a, one), (b, two)) if one.voltage_v < two.voltage_v else ((b, two), (a, one))
        gap = hypot(
            reading_sd(one.voltage_v, meter.voltage_percent, meter.voltage_digit_v),
            reading_sd(two.voltage_v, meter.voltage_percent, meter.voltage_digit_v),
        )
        if upper[1].voltage_v - lower[1].voltage_v >= FALL_SD * gap:
            _fell(file, "locked", lower, upper, lower[1].current_a, upper[1].current_a, amps, "current", "A",
                  "More volts drive more amps through a held rotor: are two rows swapped, or is the winding hot?")  # fmt: skip


def _fell(
    file: str, name: str, low: tuple[int, object], high: tuple[int, object], before: float, after: float,
    sd: Callable[[float], float], what: str, unit: str, hint: str,
) -> None:  # fmt: skip
    if before - after > FALL_SD * hypot(sd(before), sd(after)):
        volts = f"{low[1].voltage_v:g} V to {after:g} {unit} at {high[1].voltage_v:g} V"  # type: ignore[attr-defined]
        raise InputProblem(
            file, f"{name}[{high[0]}] against {name}[{low[0]}]", f"{what} falling from {before:g} {unit} at {volts}",
            f"a {what} that does not fall when the voltage rises", hint,
        )  # fmt: skip


def _drift(log: SpinLog, file: str) -> None:
    locked_drift(log.locked, log.meter, file)


def again_hint(rows: str, others: str = "whether the brake dragged") -> str:
    """What to look at where rows contradict the others."""
    if "locked" in rows:
        return (
            "Measure this point again: volts measured at the motor's terminals, not at the battery or over the lamp; is the rotor really held, "
            "and the winding cold?"
        )
    return f"Measure this point again; check the unit, where the turns were counted, and {others}."


def contradicting(
    rows: Sequence[str], ease: Sequence[float], misfit: float, file: str, others: str = "whether the brake dragged"
) -> InputProblem:
    """The refusal of points that cannot be of one motor: names the row without which the rest agree best, or two.

    Parameters
    ----------
    rows : sequence of str
        Names.
    ease : sequence of float
        Misfit of the rest without each row.
    misfit : float
        Of them all.
    file : str
        What messages call the log.
    others : str
        What to check besides.
    """
    order = sorted(range(len(rows)), key=lambda place: ease[place])
    tied = len(order) > 1 and ease[order[1]] < 1.5 * ease[order[0]] + 4.0
    place = " or ".join(rows[at] for at in order[: 1 + tied])
    return InputProblem(
        file, place, f"a point that contradicts the others ({sqrt(misfit):.0f} standard deviations between them all)",
        "points of one motor within the meters' accuracy", again_hint(place, others),
    )  # fmt: skip


def turning_rows(name: str, rows: Sequence[TurningRow], hint: str, file: str) -> None:
    """Refuse a row without a speed, and one that stands with current, in a list of turning motors."""
    for number, row in enumerate(rows, start=1):
        if row.rpm is None:
            raise InputProblem(file, f"{name}[{number}].speed_rpm", "nothing", "a speed, or turns with seconds")
        if row.rpm == 0.0:
            raise InputProblem(
                file, f"{name}[{number}].speed_rpm", f"a standing shaft with {row.current_a:g} A", "a turning motor in this list",
                f"Standing with current is a [[locked]] point: {hint}",
            )  # fmt: skip


def more_than_held(name: str, rows: Sequence[TurningRow], locked: Sequence[Locked], file: str) -> None:
    """Refuse a turning motor that needs fewer volts than a held one at the same current."""
    ohms = min((row.voltage_v / row.current_a for row in locked), default=0.0)
    brush = 3.0  # V, more than any pair of brushes drops
    for number, row in enumerate(rows, start=1):
        if row.voltage_v < 0.5 * ohms * row.current_a - brush:
            raise InputProblem(
                file, f"{name}[{number}].voltage_v", f"{row.voltage_v:g} V at {row.current_a:g} A",
                f"more than the held rotor's resistance alone takes (about {ohms * row.current_a:.1f} V)",
                "Is the voltage taken at the motor's terminals, in volts and not in millivolts, and the current in amps?",
            )  # fmt: skip


def locked_drift(rows: Sequence[Locked], meter: Meter, file: str) -> None:
    """Refuse a locked test that warms the winding while it lasts: within a row, or from row to row."""
    for number, row in enumerate(rows, start=1):
        if row.end_voltage_v is None and row.end_current_a is None:
            continue
        end = (row.end_voltage_v or row.voltage_v) / (row.end_current_a or row.current_a)
        rise = end / (row.voltage_v / row.current_a) - 1.0
        if rise > max(_LEAST_DRIFT, DRIFT_SD * _rise_sd(row, meter)):
            raise InputProblem(
                file, f"locked[{number}]", f"volts over amps rising {100.0 * rise:.0f} % during the hold", "a cold winding",
                _DRIFT_HINT,
            )  # fmt: skip
    found = _warming(rows, meter)
    if found is not None:
        raise InputProblem(
            file, f"locked[{found[0]}] to locked[{found[1]}]", f"resistance rising {found[2]:.0f} % from the first to the last of "
            "these rows, more than the meter explains", "a cold winding in every row", _DRIFT_HINT,
        )  # fmt: skip


def _rise_sd(row: Locked, meter: Meter) -> float:
    """Standard deviation of the rise of volts over amps during a hold, from the readings that were taken twice."""
    volts = (row.voltage_v, row.end_voltage_v) if row.end_voltage_v is not None else ()
    amps = (row.current_a, row.end_current_a) if row.end_current_a is not None else ()
    return hypot(
        *(reading_sd(value, meter.voltage_percent, meter.voltage_digit_v) / value for value in volts),
        *(reading_sd(value, meter.current_percent, meter.current_digit_a) / value for value in amps),
    )


_DRIFT_HINT = (
    "The held motor heats: hold for 2 s at most, a few amps through the lamp, and let it cool between readings."
)


def _warming(rows: Sequence[Locked], meter: Meter) -> tuple[int, int, float] | None:
    """First and last row and the rise [%], where rows in their order show a warming winding."""
    if len(rows) < 3 and not (len(rows) == 2 and abs(rows[1].current_a / rows[0].current_a - 1.0) < 0.1):
        return None
    volts, amps = np.array([row.voltage_v for row in rows]), np.array([row.current_a for row in rows])
    order = np.arange(len(rows)) / (len(rows) - 1.0)
    ohms = float(np.median(volts / amps))
    sd = np.array([_locked_sd(meter, row, ohms) for row in rows])
    # V = I R + V_br + I R δ·order; the brush drop's usual value as one more equation where currents barely differ.
    matrix = np.vstack([np.column_stack([amps, np.ones_like(amps), amps * order]) / sd[:, None], [0.0, 1.0 / 0.6, 0.0]])
    target = np.append(volts / sd, 1.0 / 0.6)
    covariance = np.linalg.pinv(matrix.T @ matrix)
    values = covariance @ (matrix.T @ target)
    spread = float(np.sqrt(covariance[2, 2]))
    if values[2] > DRIFT_SD * spread and values[0] > 0.0 and values[2] > _LEAST_DRIFT * values[0]:
        return 1, len(rows), 100.0 * values[2] / values[0]
    return None


def _locked_sd(meter: Meter, row: Locked, ohms: float) -> float:
    return hypot(
        reading_sd(row.voltage_v, meter.voltage_percent, meter.voltage_digit_v),
        ohms * reading_sd(row.current_a, meter.current_percent, meter.current_digit_a),
    )


def first_voltage(log: SpinLog) -> float:
    """Voltage of the first spin, in the order of the log. [V]"""
    return log.no_load[0].voltage_v


def straight_across(log: SpinLog, most_a: float = 20.0) -> Iterator[tuple[int, Locked]]:
    """Locked rows with more current than a lamp in series lets through."""
    return ((number, row) for number, row in enumerate(log.locked, start=1) if row.current_a > most_a)
