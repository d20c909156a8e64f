"""A discharge test made with a lamp and a meter: capacity, Peukert's k, resistance, polarisation, and what it cannot tell."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ridesim.bench.discharge.end import stays_low, without_dips
from ridesim.bench.discharge.log import ON_SHARE, DischargeLog, FloatArray, load_discharge, usual_load
from ridesim.bench.discharge.steps import Step, find_steps, lines_of_steps
from ridesim.physics.pack import capacity_temperature_factor, resistance_factor, resistance_temperature_factor
from ridesim.vehicle import CHEMISTRIES, Chemistry
from ridesim.words import InputProblem, Uncertain, is_number, nearest, shown

CAPACITY_ERROR = 0.03
"""Error of a capacity from a meter and a clock; common practice, no source."""
CURRENT_RATIO = 1.5
"""Two discharges closer in current than this do not tell k."""
GAP_SHARE = 0.1
"""With more of the charge than this inside gaps, the capacity is not determined."""
PAUSE_SHARE = 0.05
MOST_DOUBT = 0.75
"""A resistance in doubt by more than this share is not determined."""
MOST_CELLS = 400
MOST_HEALTH = 1.3
"""No block holds more than this share of its label."""
SLIPS = {
    1000.0: "Milliseconds in a column of seconds, or milliamps in a column of amps?",
    60.0: "Seconds in a column of minutes, or minutes in a column of hours?",
    3600.0: "Seconds in a column of hours?",
}
"""What a capacity too large by about so much comes from."""


@dataclass(frozen=True, slots=True)
class Discharge:
    """One discharge in figures.

    Attributes
    ----------
    name : str
        The log.
    charge_ah : float
        Delivered down to the end voltage, or to the last row. [Ah]
    complete : bool
        Whether the end voltage was reached and the gaps are small, so that the charge is the capacity.
    current_a, hours : float
        Mean current while the load was on, and charge over it. [A, h]
    rested_start_v, rested_end_v : float or None
        Voltages before the load and after it, where the log has them. [V]
    """

    name: str
    charge_ah: float
    complete: bool
    current_a: float
    hours: float
    rested_start_v: float | None
    rested_end_v: float | None


@dataclass(frozen=True)
class DischargeResult:
    """What one or two discharges of a block say.

    Attributes
    ----------
    discharges : tuple of Discharge
        Slowest first.
    rated_capacity_ah : Uncertain or None
        At the rated hours, full, 25 °C. [Ah]
    rated_hours : float
        [h]
    peukert_exponent : Uncertain or None
        From two discharges; None with one.
    resistance_ohm : Uncertain or None
        Full, 25 °C, from the steps of the current. [ohm]
    polarisation_resistance_ohm, polarisation_time_s : Uncertain or None
        Slow part. [ohm, s]
    state_of_health : float or None
        Rated capacity over the label's, where the label is given.
    remarks : tuple of str
        What was repaired or left out, with lines.
    undetermined : tuple of str
        What these data cannot tell, and what would.
    """

    discharges: tuple[Discharge, ...]
    rated_capacity_ah: Uncertain | None
    rated_hours: float
    peukert_exponent: Uncertain | None
    resistance_ohm: Uncertain | None
    polarisation_resistance_ohm: Uncertain | None
    polarisation_time_s: Uncertain | None
    state_of_health: float | None
    label_ah: float | None
    remarks: tuple[str, ...]
    undetermined: tuple[str, ...]

    @property
    def pack_keys(self) -> dict[str, float]:
        """Keys for the build's ``[pack]``, those that were measured."""
        keys: dict[str, float] = {}
        if self.state_of_health is not None and self.label_ah is not None:
            keys |= {"block_capacity_ah": self.label_ah, "state_of_health": round(self.state_of_health, 3)}
        elif self.rated_capacity_ah is not None:
            keys["block_capacity_ah"] = round(self.rated_capacity_ah.value, 2)
        if keys:
            keys["rated_hours"] = self.rated_hours
        for key, value, digits in (
            ("peukert_exponent", self.peukert_exponent, 3),
            ("block_resistance_ohm", self.resistance_ohm, 5),
            ("polarisation_resistance_ohm", self.polarisation_resistance_ohm, 5),
            ("polarisation_time_s", self.polarisation_time_s, 1),
        ):
            if value is not None:
                keys[key] = round(value.value, digits)
        return keys

    @property
    def toml(self) -> str:
        """The same as lines for the build file."""
        return "\n".join(f"{key} = {value:g}" for key, value in self.pack_keys.items())


def discharge_test(
    *logs: str | Path | DischargeLog,
    chemistry: str = "lead-acid-agm",
    cells: int = 6,
    end_voltage_v: float | None = None,
    label_ah: float | None = None,
    rated_hours: float = 20.0,
    temperature_c: float = 25.0,
) -> DischargeResult:
    """Turn one or two logged discharges of a block into its numbers.

    Parameters
    ----------
    *logs : path or DischargeLog
        One or two CSVs of time_s, voltage_v, current_a, each from full.
    chemistry : str
        What the cells are.
    cells : int
        In series in the block.
    end_voltage_v : float, optional
        Where the discharge counts as over; None: the chemistry's cut-off. [V]
    label_ah, rated_hours : float
        Label of the block, where it has one. [Ah, h]
    temperature_c : float
        Of the block during the test. [°C]

    Returns
    -------
    DischargeResult

    Raises
    ------
    InputProblem
        No log or more than two, an unknown chemistry, numbers of zero or less, a log that holds no discharge, or far
        more charge than the label says.

    References
    ----------
    k = 1/(1 - ln(Q1/Q2)/ln(t1/t2)), Peukert 1897; resistance from steps and an exponential tail: general practice.
    """
    kind = _checked(logs, chemistry, cells, end_voltage_v, label_ah, rated_hours, temperature_c)
    read = [log if isinstance(log, DischargeLog) else load_discharge(log) for log in logs]
    end = kind.cutoff_v_per_cell * cells if end_voltage_v is None else end_voltage_v
    remarks = [f"{log.name}: {remark}" for log in read for remark in log.remarks]
    for place, log in enumerate(read):
        read[place], dips = without_dips(log, end)
        remarks += [f"{log.name}: {remark}" for remark in dips]
    undetermined: list[str] = []
    discharges = sorted((_measure(log, end, remarks) for log in read), key=lambda each: each.current_a)
    exponent = _exponent(discharges, undetermined, remarks)
    warmth = capacity_temperature_factor(temperature_c, kind.capacity_per_k)
    rated = _rated(discharges, exponent, kind.peukert_exponent, rated_hours, label_ah, warmth, remarks, undetermined)
    if label_ah is not None:
        _believable(rated.value if rated is not None else discharges[0].charge_ah, label_ah, discharges)
    whole = rated.value * warmth if rated is not None else max(each.charge_ah for each in discharges)
    steps, contrary = _placed_steps(read, remarks)
    why = "" if steps else _why_no_step(read, contrary)
    cold = resistance_temperature_factor(temperature_c, kind.resistance_per_k)
    resistance = _resistance(steps, whole, kind, cold, why, undetermined, remarks)
    slow, constant = _slow_part(steps, why, undetermined)
    undetermined += list(_never_told(len(read)))
    return DischargeResult(
        discharges=tuple(discharges),
        rated_capacity_ah=rated,
        rated_hours=rated_hours,
        peukert_exponent=exponent,
        resistance_ohm=resistance,
        polarisation_resistance_ohm=slow,
        polarisation_time_s=constant,
        state_of_health=rated.value / label_ah if rated is not None and label_ah is not None else None,
        label_ah=label_ah,
        remarks=tuple(remarks),
        undetermined=tuple(undetermined),
    )


def _believable(capacity: float, label: float, found: list[Discharge]) -> None:
    """Refuse a capacity far above the label's: a unit has slipped, or the label is another block's."""
    health = capacity / label
    if health <= MOST_HEALTH:
        return
    given = (
        max(each.charge_ah for each in found) / label
    )  # what was carried over to the rated hours would blur the slip
    factor = min(SLIPS, key=lambda each: abs(math.log(given / each)))
    slipped = abs(math.log(given / factor)) < math.log(4.0)
    raise InputProblem(
        " and ".join(each.name for each in found),
        "label_ah",
        f"{capacity:.4g} Ah, {health:.3g} times the label's {label:g} Ah",
        f"no more than {MOST_HEALTH:g} times the label",
        SLIPS[factor] if slipped else "Is the label this block's, and is each column in the unit its name says?",
    )


def _checked(
    logs: tuple[str | Path | DischargeLog, ...],
    chemistry: str,
    cells: int,
    end_voltage: float | None,
    label: float | None,
    hours: float,
    temperature: float,
) -> Chemistry:
    if not 1 <= len(logs) <= 2:
        raise InputProblem("the discharge test", "", f"{len(logs)} logs", "one or two")
    for log in logs:
        if not isinstance(log, str | Path | DischargeLog):
            raise InputProblem("the discharge test", "", shown(log), "a discharge log, or the path of its CSV")
    if not isinstance(chemistry, str) or chemistry not in CHEMISTRIES:
        near = nearest(str(chemistry), CHEMISTRIES)
        hint = f"Nearest: {near}." if near else ""
        raise InputProblem(
            "the discharge test", "chemistry", f'"{chemistry}"', "one of " + ", ".join(CHEMISTRIES), hint
        )
    if not (is_number(cells) and 1 <= cells <= MOST_CELLS and cells == int(cells)):
        raise InputProblem("the discharge test", "cells", shown(cells), f"a whole number from 1 to {MOST_CELLS}")
    for key, value, unit, most in (
        ("end_voltage_v", end_voltage, "V", 1000.0),
        ("label_ah", label, "Ah", 10_000.0),
        ("rated_hours", hours, "h", 1000.0),
    ):
        if value is not None and not (is_number(value) and 0.0 < value <= most):
            wanted = f"a number above 0 {unit} and up to {most:g} {unit}"
            raise InputProblem("the discharge test", key, shown(value, unit), wanted)
    if not (is_number(temperature) and -20.0 <= temperature <= 50.0):
        raise InputProblem(
            "the discharge test", "temperature_c", shown(temperature, "°C"), "a temperature from -20 to 50 °C"
        )
    return CHEMISTRIES[chemistry]


def _measure(log: DischargeLog, end: float, remarks: list[str]) -> Discharge:
    """Charge to the end voltage, mean current, rested voltages."""
    time, voltage, current = log.time_s, log.voltage_v, log.current_a
    on = current > ON_SHARE * usual_load(current)
    first = int(np.argmax(on))
    low = stays_low(on, voltage, end)
    span = np.diff(time)
    charge = np.concatenate([[0.0], np.cumsum(0.5 * (current[1:] + current[:-1]) * span)]) / 3600.0
    reached = len(low) > 0
    last = int(low[0]) if reached else len(time) - 1
    if reached and last > 0 and on[last - 1] and voltage[last - 1] > end:
        share = (voltage[last - 1] - end) / (voltage[last - 1] - voltage[last])
        total = charge[last - 1] + share * (charge[last] - charge[last - 1])
    else:
        total = charge[last]
    if reached and last <= first + 1:
        raise InputProblem(
            log.name,
            f"line {log.line[last]}",
            f"{voltage[last]:g} V as soon as the load is on",
            f"a block that holds more than {end:g} V under load (end_voltage_v)",
            "Is the number of cells right?",
        )
    inside = on[:-1] & (np.arange(len(span)) < last)
    busy = float(np.sum(span[inside]))
    mean = float(np.sum(0.5 * (current[1:] + current[:-1])[inside] * span[inside]) / busy) if busy > 0.0 else 0.0
    hidden = sum(float(charge[after] - charge[before]) for before, after in log.gaps if after <= last)
    if not reached:
        remarks.append(
            f"{log.name}: the end voltage of {end:g} V is never reached ({voltage[on][-1]:.2f} V in the last row under load)."
        )
    if hidden > GAP_SHARE * total:
        remarks.append(f"{log.name}: {hidden / total:.0%} of the charge lies in gaps; its capacity is not used.")
    pause = 1.0 - busy / float(time[last] - time[first]) if time[last] > time[first] else 0.0
    if pause > PAUSE_SHARE:
        remarks.append(
            f"{log.name}: the load is off for {pause:.0%} of the time; rests give back a few per cent of charge."
        )
    rest = log.voltage_v[:first]
    tail = voltage[last:][~on[last:]] if reached else np.array([])
    return Discharge(
        name=log.name,
        charge_ah=float(total),
        complete=bool(reached and hidden <= GAP_SHARE * total),
        current_a=mean,
        hours=float(total) / mean if mean > 0.0 else 0.0,
        rested_start_v=float(rest[-1]) if len(rest) else None,
        rested_end_v=float(tail[-1]) if len(tail) else None,
    )


def _exponent(found: list[Discharge], undetermined: list[str], remarks: list[str]) -> Uncertain | None:
    """k of two discharges."""
    if len(found) < 2:
        undetermined.append(
            "Peukert's k: one discharge tells one capacity. A second at twice the current or more tells k."
        )
        return None
    slow, fast = found
    if not (slow.complete and fast.complete):
        undetermined.append("Peukert's k: both discharges must reach the end voltage, without large gaps.")
        return None
    if fast.current_a < CURRENT_RATIO * slow.current_a:
        undetermined.append(
            f"Peukert's k: {slow.current_a:.2f} A and {fast.current_a:.2f} A are too near each other; make the second at twice the first."
        )
        return None
    times = math.log(slow.hours / fast.hours)
    ratio = math.log(slow.charge_ah / fast.charge_ah)
    if ratio < 0.0:
        apart = math.log(fast.current_a / slow.current_a)
        value, spread = 1.0 + ratio / apart, math.sqrt(2.0) * CAPACITY_ERROR / apart
        more = (
            f"{fast.name}: {fast.charge_ah:.2f} Ah at {fast.current_a:.2f} A, more than the {slow.charge_ah:.2f} Ah at "
            f"{slow.current_a:.2f} A: k would be {value:.2f}, below 1."
        )
        if value + spread >= 1.0:
            remarks.append(f"{more} Within a meter's error the two are alike; k = 1 is used.")
            return Uncertain(1.0, 1.0, value + spread)
        remarks.append(f"{more} The slower test began less than full, or ran colder; k is not used.")
        undetermined.append(
            "Peukert's k: the faster discharge gave more charge than the slower one. Repeat both from full."
        )
        return None
    value = 1.0 / (1.0 - ratio / times)
    spread = value * value * math.sqrt(2.0) * CAPACITY_ERROR / times
    return Uncertain(value, max(1.0, value - spread), value + spread)


def _rated(
    found: list[Discharge],
    exponent: Uncertain | None,
    usual: float,
    hours: float,
    label: float | None,
    warmth: float,
    remarks: list[str],
    undetermined: list[str],
) -> Uncertain | None:
    """Capacity at the rated hours and 25 °C: from the slowest complete discharge, or without a k of its own from the one that
    tells of most. Never less than what came out in any of them: a block that gave it holds it."""
    whole = [each for each in found if each.complete]
    if not whole:
        most = max(each.charge_ah for each in found)
        undetermined.append(f"Capacity: no discharge reaches the end voltage; the block holds {most:.2f} Ah at least.")
        return None

    def carried(each: Discharge, k: float) -> float:
        if label is None:
            return float(each.charge_ah * max(1.0, hours / each.hours) ** ((k - 1.0) / k) / warmth)
        # as the pack's state_of_health counts: at the label's own rated current
        return float(each.charge_ah * max(1.0, each.current_a * hours / label) ** (k - 1.0) / warmth)

    used = whole[0] if exponent else max(whole, key=lambda each: carried(each, usual))
    least = max(each.charge_ah for each in found) / warmth
    exponents = (
        (exponent.value, exponent.low, exponent.high) if exponent else (usual, max(1.0, usual - 0.1), usual + 0.1)
    )
    values = [max(least, carried(used, k)) for k in exponents]
    if exponent is None:
        undetermined.append(
            f"Capacity at {hours:g} h: carried over from {used.hours:.1f} h with the usual k of {usual:g}, not with this block's own."
        )
        for other in whole:
            if carried(used, usual) > carried(other, usual) * (1.0 + CAPACITY_ERROR):
                remarks.append(
                    f"{other.name}: tells of {carried(other, usual):.2f} Ah at {hours:g} h, {used.name} of "
                    f"{carried(used, usual):.2f}: the capacity is taken from {used.name}, since a block gives no more than it holds."
                )
    low, high = (1.0 - CAPACITY_ERROR) * min(values), (1.0 + CAPACITY_ERROR) * max(values)
    return Uncertain(values[0], low, high)


@dataclass(frozen=True, slots=True)
class _Placed:
    """A step and the charge taken before it. [Ah]"""

    step: Step
    charge_ah: float


def _placed_steps(logs: list[DischargeLog], remarks: list[str]) -> tuple[list[_Placed], int]:
    """Steps to use, and how many the voltage contradicts."""
    placed, contrary = [], 0
    for log in logs:
        span = np.diff(log.time_s)
        charge = np.concatenate([[0.0], np.cumsum(0.5 * (log.current_a[1:] + log.current_a[:-1]) * span)]) / 3600.0
        for step in find_steps(log):
            if step.resistance_ohm <= 0.0:
                more, way = ("more", "rises") if step.change_a > 0.0 else ("less", "falls")
                remarks.append(
                    f"{log.name}: line {step.line}: the voltage does not follow the current ({more} current and the "
                    f"voltage {way}): a negative resistance; this step is left out."
                )
                contrary += 1
                continue
            placed.append(_Placed(step, float(np.interp(step.time_s, log.time_s, charge))))
    return placed, contrary


def _why_no_step(logs: list[DischargeLog], contrary: int) -> str:
    """What happened instead of a step of the current that could be used."""
    if contrary:
        times = "once" if contrary == 1 else f"{contrary} times"
        return f"the current steps {times} and the voltage goes the wrong way each time, so nothing is told. A loose clamp?"
    lines = [(log.name, line) for log in logs for line in lines_of_steps(log)]
    if lines:
        name, line = lines[0]
        return f"the current steps ({name}, line {line}) only beside a gap or with too few rows on one side."
    return "the current never steps."


def _resistance(
    steps: list[_Placed],
    whole: float,
    kind: Chemistry,
    cold: float,
    why: str,
    undetermined: list[str],
    remarks: list[str],
) -> Uncertain | None:
    """Resistance of the full block at 25 °C: steps weighted by their change, the growth towards empty taken off.

    Where no step tells the slow part apart, the figure holds some of it, and the band goes down by as much as that may be:
    twice the chemistry's usual share.
    """
    if not steps:
        undetermined.append(f"Resistance: {why} Switch the lamp off for ten minutes once, near the start.")
        return None
    told = [each for each in steps if each.step.slow_ohm is not None]
    used = told or steps
    charge = np.array([max(0.0, 1.0 - each.charge_ah / whole) for each in used])
    growth = np.array([resistance_factor(z, kind.resistance_rise) for z in charge]) * cold
    values = np.array([each.step.resistance_ohm for each in used]) / growth
    noises = np.array([each.step.noise_ohm for each in used]) / growth
    # Near empty the growth is least sure, and a step between rows far apart is blurred: such steps count little.
    blurs = np.array([each.step.blur_ohm for each in used])
    weight = np.array([abs(each.step.change_a) for each in used]) * np.maximum(0.05, charge)
    weight /= blurs**2 + noises**2 + (0.03 * values) ** 2
    mean = float(np.sum(weight * values) / np.sum(weight))
    spread = float(np.sqrt(np.sum(weight * (values - mean) ** 2) / np.sum(weight)))
    blur = float(np.sum(weight * blurs) / np.sum(weight))
    noise = 2.0 * float(np.sqrt(np.sum((weight * noises) ** 2)) / np.sum(weight))
    width = math.hypot(spread, blur, noise, 0.03 * mean)
    if width >= MOST_DOUBT * mean:
        undetermined.append(
            f"Resistance: the readings' scatter leaves {1000.0 * max(0.0, mean - width):.3g} to {1000.0 * (mean + width):.3g} mohm. "
            "A larger step of the current, or rows closer together, tell it."
        )
        return None
    least = mean
    if not told:
        least = mean / (1.0 + 2.0 * kind.polarisation_share)
        remarks.append(
            "Resistance with part of the slow one: the rows do not tell the two apart; the band goes down by twice the "
            f"slow part usual for this chemistry, to {1000.0 * max(0.0, least - width):.3g} mohm."
        )
    return Uncertain(mean, max(0.0, least - width), mean + width)


def _slow_part(steps: list[_Placed], why: str, undetermined: list[str]) -> tuple[Uncertain | None, Uncertain | None]:
    told = [each.step for each in steps if each.step.slow_ohm is not None and each.step.slow_ohm > 0.0]
    if not told:
        why = why or "no stretch after a step is long and close enough to tell the slow part from the resistance."
        undetermined.append(f"Polarisation: {why} Rows every few seconds for ten minutes after switching tell it.")
        return None, None
    ohm = np.array([step.slow_ohm for step in told], dtype=float)
    constant = np.array([step.slow_s for step in told], dtype=float)
    return (
        _middle(ohm, [step.slow_band_ohm for step in told]),
        _middle(constant, [step.slow_band_s for step in told]),
    )


def _middle(values: FloatArray, bands: list[tuple[float, float] | None]) -> Uncertain:
    """The middle one; what all differ by, and never less than what the steps themselves leave open."""
    middle = float(np.median(values))
    width = max(float(np.max(np.abs(values - middle))), 0.05 * middle)
    known = np.array([band for band in bands if band is not None]).reshape(-1, 2)
    low, high = np.median(known, axis=0) if len(known) else (middle, middle)
    return Uncertain(middle, max(0.0, min(middle - width, float(low))), max(middle + width, float(high)))


def _never_told(count: int) -> Iterator[str]:
    yield "Whether the block was full at the start: charge it until the current has died away, and let it rest, before each test."
    if count == 2:
        yield "How the capacity bends between and beyond these two currents: three or more rows of a data sheet tell it."
    yield "Cold, self-discharge and recovery at rest: the chemistry's usual values stay in use."
