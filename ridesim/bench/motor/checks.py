"""Refuses a motor's bench log that cannot be right: a clear message a fault, which names the row, all at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import hypot, pi, sqrt
from statistics import median
from typing import Any

from ridesim.bench.faults import refuse
from ridesim.bench.motor.kind import kind_faults, unlike_the_spin
from ridesim.bench.motor.log import NEVER_UNLOADED, MotorLog
from ridesim.bench.motor.model import amps_sd, reading_sd, volts_sd
from ridesim.words import InputProblem

NEEDED: dict[str, tuple[tuple[str, int, str, str], ...]] = {
    "permanent-magnet": (
        ("free_spin", 1, "at least one free spin: voltage, current, speed, first at 6 V or less", ""),
    ),
    "series-wound": (
        ("held", 1, "at least one held row: a few amps through the held motor, lamp in series", ""),
        ("braked", 3, "at least 3 braked rows at different currents", NEVER_UNLOADED),
    ),
}
"""Rows that each kind of motor needs, how many, what is expected, a hint. A series-wound motor's flux has two unknowns, and one
braked row should be spare."""
SPREAD = 1.3
"""Largest over smallest current below which braked rows say next to nothing of the flux: common practice, no source."""
_SURE_SD = 4.0
"""How many standard deviations a reading must lie against the physics before the log is refused."""
_DRIFT_SD = 3.3
"""The same for a held rotor's resistance that rises while it is held."""
_LEAST_DRIFT = 0.03
"""Rise of a held rotor's resistance, about 8 K of copper, up to which it counts as cold however good the meters."""
_MOST_BRUSH_V = 3.0
"""More than any pair of brushes drops."""
_MILLI = (1000.0, "milli-units among whole ones (mV or mA among V or A)")
_SPEEDS = ((60.0, "turns a second among turns a minute"), (30.0 / pi, "rad/s among turns a minute"))


def check(log: MotorLog, file: str = "the bench log") -> None:
    """Refuse a log for a motor of the other kind, of too few rows, or whose rows cannot be right.

    Raises
    ------
    InputProblem
        All that is wrong, the kind first: row, what was found, what is expected.
    """
    refuse(_alone(log, file))
    refuse(_side_by_side(log, file))


def _alone(log: MotorLog, file: str) -> Iterator[InputProblem]:
    """What a row, or the rows of one list, cannot be by themselves."""
    yield from kind_faults(log, file)
    yield from _enough(log, file)
    yield from _turning(log, file)
    yield from _units(log, file)
    yield from _more_power_in_than_out(log, file)
    yield from _cold(log, file)


def _side_by_side(log: MotorLog, file: str) -> Iterator[InputProblem]:
    """What rows that are good by themselves cannot be of one motor; beside a wrong one, good rows would be blamed."""
    yield from _more_than_held(log, file)
    if not log.series_wound:
        yield from unlike_the_spin(log, file)
        yield from _rising(log, file)


def _enough(log: MotorLog, file: str) -> Iterator[InputProblem]:
    for kind, least, expected, hint in NEEDED[log.kind]:
        count = len(getattr(log, kind))
        if count < least:
            yield InputProblem(file, kind, f"{count or 'no'} rows", expected, hint)
    if log.series_wound and log.braked and log.currents_braked[1] < SPREAD * log.currents_braked[0]:
        yield InputProblem(
            file, "braked", "currents from {:g} to {:g} A".format(*log.currents_braked),
            f"currents further apart, the largest at least {SPREAD:g} times the smallest",
            "Brake harder for some of them; never less than now for others.",
        )  # fmt: skip


def _turning(log: MotorLog, file: str) -> Iterator[InputProblem]:
    """Every row of a motor that turns under power has a speed, and one above 0."""
    for place, row in log.rows("free_spin", "braked"):
        if row.rpm is None:
            yield InputProblem(file, f"{place}.speed_rpm", "nothing", "a speed, or turns with seconds")
        if row.rpm == 0.0:
            yield InputProblem(
                file, f"{place}.speed_rpm", f"a standing shaft with {row.current_a:g} A", "a turning motor in this list",
                "Standing with current is a held row: switch off, the winding heats. If it should turn: is a parking brake on? "
                "Release it as its maker meant.",
            )  # fmt: skip


def _units(log: MotorLog, file: str) -> Iterator[InputProblem]:
    """One unit in all rows of a list."""
    free, braked = log.rows("free_spin"), log.rows("braked") if log.series_wound else []
    speeds = [(place, row.voltage_v / speed) for place, row in free if (speed := log.motor_speed(row))]
    yield from _one_unit(file, "volts over speed", speeds, _MILLI, *_SPEEDS)
    for rows in (free, braked):
        yield from _one_unit(file, "current", [(place, row.current_a) for place, row in rows], _MILLI)
    yield from _one_unit(file, "voltage", [(place, row.voltage_v) for place, row in braked], _MILLI)
    ohms = [(place, row.voltage_v / row.current_a) for place, row in log.rows("held")]
    yield from _one_unit(file, "volts over amps", ohms, _MILLI)


def _one_unit(
    file: str, what: str, values: Sequence[tuple[str, float]], *units: tuple[float, str]
) -> Iterator[InputProblem]:
    """Refuse a row that differs from the others by just the factor between two units."""
    for index, (place, value) in enumerate(values if len(values) > 1 else ()):
        others = [other for at, (_, other) in enumerate(values) if at != index]
        usual = median(others)
        if 2 * sum(0.1 < other / usual < 10.0 for other in others) <= len(others):
            continue  # they do not agree themselves: another row is to blame
        ratio = value / usual
        for factor, meaning in units:
            width = 4.0 if factor > 100.0 else 1.3  # brushes make volts over amps of small currents larger
            if any(1.0 / width < apart < width for apart in (ratio / factor, ratio * factor)):
                both = f"{place} and {values[1 - index][0]}" if len(values) == 2 else place
                yield InputProblem(
                    file, both, f"{what} {max(ratio, 1.0 / ratio):.0f} times off the other row{'s' * (len(values) > 2)}",
                    "one unit in all rows", f"It looks like {meaning}.",
                )  # fmt: skip


def _more_than_held(log: MotorLog, file: str) -> Iterator[InputProblem]:
    """A turning motor needs more volts than a held one at the same current."""
    ohms = min((row.voltage_v / row.current_a for row in log.held), default=0.0)
    for place, row in log.rows("free_spin", "braked"):
        if row.voltage_v < 0.5 * ohms * row.current_a - _MOST_BRUSH_V:
            yield InputProblem(
                file, f"{place}.voltage_v", f"{row.voltage_v:g} V at {row.current_a:g} A",
                f"more than the held rotor's resistance alone takes (about {ohms * row.current_a:.1f} V)",
                "Is the voltage taken at the motor's terminals, in volts and not in millivolts, and the current in amps?",
            )  # fmt: skip


def _more_power_in_than_out(log: MotorLog, file: str) -> Iterator[InputProblem]:
    """No motor gives off more than it takes."""
    meter = log.meter
    share = 0.01 * hypot(meter.voltage_percent, meter.current_percent, meter.speed_percent, meter.torque_percent)
    for place, row in log.rows("braked"):
        out, taken = (row.torque_nm or 0.0) * (log.motor_speed(row) or 0.0), row.voltage_v * row.current_a
        if out > taken * (1.0 + _SURE_SD * share):
            yield InputProblem(
                file, place, f"{out:.0f} W at the shaft from {taken:.0f} W at the terminals", "more power in than out",
                "Is its current right, the torque in N m at the motor's shaft, and the speed in turns a minute?",
            )  # fmt: skip


def _rising(log: MotorLog, file: str) -> Iterator[InputProblem]:
    """More volts never mean less current or less speed."""
    for chain in (False, True):
        spins = [(place, row) for place, row in log.rows("free_spin") if row.chain == chain]
        drag = "Drag does not shrink with speed: run the bearings and brushes in for some minutes and measure again."
        yield from _no_fall(log, file, spins, "current", "A", drag)
        yield from _no_fall(log, file, spins, "speed", "turns/min", "More volts turn it faster: are two rows swapped?")
    hot = "More volts drive more amps through a held rotor: are two rows swapped, or is the winding hot?"
    yield from _no_fall(log, file, log.rows("held"), "current", "A", hot)


def _no_fall(
    log: MotorLog, file: str, rows: Sequence[tuple[str, Any]], what: str, unit: str, hint: str
) -> Iterator[InputProblem]:
    """Refuse a reading that falls, beyond the meters' errors, from one row to another of clearly more volts."""
    meter = log.meter

    def read(row: Any) -> tuple[float, float]:
        if what == "current":
            return row.current_a, amps_sd(meter, row.current_a)
        return row.rpm, reading_sd(row.rpm, meter.speed_percent, meter.speed_digit_rpm)

    for (low, one), (high, other) in combinations(sorted(rows, key=lambda each: each[1].voltage_v), 2):
        less, more, (before, sd), (after, sd_after) = one.voltage_v, other.voltage_v, read(one), read(other)
        apart = more - less >= _SURE_SD * hypot(volts_sd(meter, less), volts_sd(meter, more))
        if apart and before - after > _SURE_SD * hypot(sd, sd_after):
            yield InputProblem(
                file, f"{high} against {low}", f"{what} falling from {before:g} {unit} at {less:g} V to {after:g} {unit} at {more:g} V",
                f"a {what} that does not fall when the voltage rises", hint,
            )  # fmt: skip


def _cold(log: MotorLog, file: str) -> Iterator[InputProblem]:
    """A held rotor that warms while it is held tells no resistance."""
    for place, row in log.rows("held"):
        # Only a reading that was taken twice adds an error to the rise.
        volts = [row.voltage_v, row.end_voltage_v] if row.end_voltage_v else []
        amps = [row.current_a, row.end_current_a] if row.end_current_a else []
        sd = hypot(*(volts_sd(log.meter, v) / v for v in volts), *(amps_sd(log.meter, i) / i for i in amps))
        end = (row.end_voltage_v or row.voltage_v) / (row.end_current_a or row.current_a)
        rise = end / (row.voltage_v / row.current_a) - 1.0
        if rise > max(_LEAST_DRIFT, _DRIFT_SD * sd):
            yield InputProblem(
                file, place, f"volts over amps rising {100.0 * rise:.0f} % during the hold", "a cold winding",
                "The held motor heats: hold for 2 s at most, a few amps through the lamp, and let it cool between readings.",
            )  # fmt: skip


def contradicting(rows: Sequence[str], misfit: float, series_wound: bool, file: str) -> InputProblem:
    """The refusal of rows that cannot be of one motor.

    Parameters
    ----------
    rows : sequence of str
        Those that contradict the others.
    misfit : float
        Sum of squared residuals of all rows.
    series_wound : bool
        Which motor.
    file : str
        What messages call the log.
    """
    place = " or ".join(rows)
    if "held" in place:
        hint = (
            "Measure this point again: volts measured at the motor's terminals, not at the battery or over the lamp; is the rotor "
            "really held, and the winding cold?"
        )
    else:
        others = "whether the winding had warmed" if series_wound else "whether the brake dragged"
        hint = f"Measure this point again; check current and unit, where the turns were counted, and {others}."
    return InputProblem(
        file, place, f"a point that contradicts the others ({sqrt(misfit):.0f} standard deviations between them all)",
        "points of one motor within the meters' accuracy", hint,
    )  # fmt: skip
