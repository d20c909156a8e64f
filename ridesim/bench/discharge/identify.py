"""Numbers of a block from one or two discharges with a lamp and a meter: capacity, Peukert's k, resistance, activation.

All bands are of one kind: everything is computed for the readings as they are, and again for a few hundred draws of the readings'
scatter and of the meter's error; a band goes from the 5 % to the 95 % quantile of the draws.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ridesim.bench.discharge.end import find_end
from ridesim.bench.discharge.log import DischargeLog, FloatArray, load_discharge, refusal
from ridesim.bench.discharge.measured import Discharge, Told, band_of
from ridesim.bench.discharge.resistance import resistances
from ridesim.bench.estimate import DRAWS, LEVEL, NORMAL
from ridesim.physics.charging import compensated_voltage
from ridesim.physics.pack import capacity_temperature_factor, resistance_temperature_factor
from ridesim.ride.pack.laws import loss_at
from ridesim.vehicle import CHEMISTRIES, Chemistry
from ridesim.words import InputProblem, Uncertain, nearest, need_number, percent, shown

SEED = 20
METER_ERROR = 0.03
"""In nine of ten tests the charge, from a meter and a clock, is off by less than this share; common practice, no source."""
USUAL_K_ERROR = 0.1
"""In nine of ten blocks k differs by less than this from the one usual for their chemistry; common practice, no source."""
CURRENT_RATIO = 1.5
"""Two discharges closer in current than this do not tell k."""
PAUSE_SHARE = 0.05
LARGEST_K = 2.0
"""No block has more; where k is sought ends here."""
MOST_HEALTH = 1.3
"""No block holds more than this share of its label."""
OVER_FULL = 1.02
"""A block just off the charger may stand this share above the charger's highest voltage, meter included."""


NEVER_TOLD = (
    "Whether the block was full at the start: charge it until the current has died away, and let it rest, before each test.",
    "Cold, self-discharge and recovery at rest: the chemistry's usual values stay in use.",
    "How the capacity bends between and beyond these two currents: three or more rows of a data sheet tell it.",
)
"""What no discharge tells; the last is said of two discharges only."""
_LIMITS = {
    "cells": ("", 1.0, 400.0), "end_voltage_v": ("V", 0.0, 1000.0), "label_ah": ("Ah", 0.0, 10_000.0),
    "rated_hours": ("h", 0.0, 1000.0), "temperature_c": ("°C", -20.0, 50.0),
}  # fmt: skip
"""Unit, lowest and highest of what is asked for; a lowest of 0 itself is not allowed."""


@dataclass(frozen=True)
class DischargeResult:
    """What one or two discharges of a block say; every band holds 90 % of the draws.

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
    activation_v_per_cell, polarisation_time_s : Uncertain or None
        Slow part of the sag. [V, s]
    label_ah : float or None
        As given. [Ah]
    remarks : tuple of str
        What was put right or left out, with lines.
    undetermined : tuple of str
        What these data cannot tell, and what would.
    """

    discharges: tuple[Discharge, ...]
    rated_capacity_ah: Uncertain | None
    rated_hours: float
    peukert_exponent: Uncertain | None
    resistance_ohm: Uncertain | None
    activation_v_per_cell: Uncertain | None
    polarisation_time_s: Uncertain | None
    label_ah: float | None
    remarks: tuple[str, ...]
    undetermined: tuple[str, ...]

    @property
    def state_of_health(self) -> float | None:
        """Rated capacity over the label's, where both are known."""
        rated, label = self.rated_capacity_ah, self.label_ah
        return rated.value / label if rated is not None and label is not None else None

    @property
    def pack_keys(self) -> dict[str, float]:
        """Keys for the build's ``[pack]``, those that were measured."""
        keys: dict[str, float] = {}
        if self.rated_capacity_ah is not None:
            keys["block_capacity_ah"] = self.label_ah or round(self.rated_capacity_ah.value, 2)
            if self.state_of_health is not None:
                keys["state_of_health"] = round(self.state_of_health, 3)
            keys["rated_hours"] = self.rated_hours
        for key, value, digits in (
            ("peukert_exponent", self.peukert_exponent, 3),
            ("block_resistance_ohm", self.resistance_ohm, 5),
            ("activation_v_per_cell", self.activation_v_per_cell, 5),
            ("polarisation_time_s", self.polarisation_time_s, 1),
        ):
            if value is not None:
                keys[key] = round(value.value, digits)
        return keys

    @property
    def toml(self) -> str:
        """The same as lines for the build."""
        return "\n".join(f"{key} = {value:g}" for key, value in self.pack_keys.items())


def identify_block(
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
    *logs : path, name of a shipped log, or DischargeLog
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
        No log or more than two, an unknown chemistry, numbers of zero or less, a log that holds no single discharge (named with
        its line), or far more charge than the label says.

    References
    ----------
    k: the capacity law of MODEL.md (6.6) through both discharges; resistance from steps and an exponential tail: general practice.

    Examples
    --------
    >>> block = identify_block("heron_block_slow", "heron_block_fast", label_ah=22.0)
    >>> print(f"k {block.peukert_exponent.value:.2f}, {block.state_of_health:.0%} of the label")
    k 1.23, 86% of the label
    """
    kind = _checked(
        logs, chemistry, cells=cells, end_voltage_v=end_voltage_v, label_ah=label_ah, rated_hours=rated_hours, temperature_c=temperature_c
    )  # fmt: skip
    end = kind.cutoff_v_per_cell * cells if end_voltage_v is None else end_voltage_v
    most = OVER_FULL * cells * compensated_voltage(
        CHEMISTRIES[chemistry].highest_charge_v_per_cell, 1, CHEMISTRIES[chemistry].compensation_v_per_cell_per_k, temperature_c
    )  # fmt: skip
    rng = np.random.default_rng(SEED)
    tests = sorted((_read(log, end, most, rng) for log in logs), key=lambda test: test.current_a)
    told = Told([f"{test.name}: {remark}" for test in tests for remark in test.log.remarks], [])
    exponent = _exponent(tests, rated_hours, label_ah, told)
    warmth = capacity_temperature_factor(temperature_c, kind.capacity_per_k)
    whole = _rated(tests, exponent, kind.peukert_exponent, rated_hours, label_ah, told, rng)
    rated = None if whole is None else whole / warmth
    most_given = max(test.charge_ah for test in tests)
    if label_ah is not None:
        _believable(rated[0] if rated is not None else most_given, label_ah, tests)
    cold = resistance_temperature_factor(temperature_c, kind.resistance_per_k)
    held = most_given if whole is None else float(whole[0])
    resistance, slow, constant = resistances(tests, held, kind, cold, cells, label_ah or held, told, rng)
    told.undetermined += NEVER_TOLD[: 1 + len(tests)]
    return DischargeResult(
        discharges=tuple(tests),
        rated_capacity_ah=None if rated is None else band_of(rated),
        rated_hours=rated_hours,
        peukert_exponent=None if exponent is None else band_of(exponent),
        resistance_ohm=resistance,
        activation_v_per_cell=slow,
        polarisation_time_s=constant,
        label_ah=label_ah,
        remarks=tuple(told.remarks),
        undetermined=tuple(told.undetermined),
    )


def _checked(logs: tuple[object, ...], chemistry: str, **numbers: float | None) -> Chemistry:
    """The chemistry, when all that was asked for can be."""
    what = "the discharge test"
    if not 1 <= len(logs) <= 2:
        raise InputProblem(what, "", f"{len(logs)} logs", "one or two")
    if chemistry not in CHEMISTRIES:
        near = nearest(str(chemistry), CHEMISTRIES)
        hint = f"Nearest: {near}." if near else ""
        raise InputProblem(what, "chemistry", f'"{chemistry}"', "one of " + ", ".join(CHEMISTRIES), hint)
    for key, value in numbers.items():
        unit, least, most = _LIMITS[key]
        if value is not None:
            need_number(what, key, value, least, most, unit, above=least == 0.0)
    if numbers["cells"] % 1:  # type: ignore[operator]
        raise InputProblem(what, "cells", shown(numbers["cells"]), "a whole number")
    return CHEMISTRIES[chemistry]


def _read(given: str | Path | DischargeLog, end: float, most: float, rng: np.random.Generator) -> Discharge:
    """A log down to its end voltage: charge and mean current."""
    log = given if isinstance(given, DischargeLog) else load_discharge(given)
    high = np.flatnonzero(log.voltage_v > most)
    if len(high):
        wanted = f"at most {most:.1f} V, what these cells stand from a charger (chemistry, cells)"
        raise refusal(log, high[0], f"{log.voltage_v[high[0]]:g} V", wanted, "Is the number of cells right?")
    log, row = find_end(log, end)
    time, voltage, charge, on = log.time_s, log.voltage_v, log.charge_ah, log.on
    first, last = int(np.argmax(on)), len(time) - 1 if row is None else row
    total, said = float(charge[last]), []
    if row is None:
        said.append(
            f"the end voltage of {end:g} V is never reached ({voltage[on][-1]:.2f} V in the last row under load)."
        )
    elif row <= first + 1:
        held = f"a block that holds more than {end:g} V under load (end_voltage_v)"
        given_v = f"{voltage[row]:g} V as soon as the load is on"
        raise refusal(log, row, given_v, held, "Is the number of cells right?")
    elif on[row - 1] and voltage[row - 1] > end:
        share = (voltage[row - 1] - end) / (voltage[row - 1] - voltage[row])
        total = float(charge[row - 1] + share * (charge[row] - charge[row - 1]))
    under = on[:-1] & (np.arange(len(time) - 1) < last)
    span = np.diff(time)
    busy = float(np.sum(span[under]))
    mean = 3600.0 * float(np.sum(np.diff(charge)[under])) / busy
    pause = 1.0 - busy / float(time[last] - time[first])
    if pause > PAUSE_SHARE:
        said.append(f"the load is off for {percent(pause)} of the time; rests give back a few per cent of charge.")
    # A meter of its own for each test: with one meter they differ less, but a block may also begin less than full.
    gain = 1.0 + METER_ERROR / NORMAL * np.append(0.0, rng.standard_normal(DRAWS))
    log = replace(log, remarks=(*log.remarks, *said))
    return Discharge(log.name, total, row is not None, mean, total / mean, log, gain)


def _exponent(tests: list[Discharge], hours: float, label: float | None, told: Told) -> FloatArray | None:
    """k of two discharges, 1 or more: for the readings, then for the draws."""
    slow, fast = tests[0], tests[-1]
    if len(tests) < 2:
        why = "one discharge tells one capacity. A second at twice the current or more tells k."
    elif not (slow.complete and fast.complete):
        why = "both discharges must reach the end voltage."
    elif fast.current_a < CURRENT_RATIO * slow.current_a:
        why = f"{slow.current_a:.2f} A and {fast.current_a:.2f} A are too near each other; make the second at twice the first."
    else:
        plain = 1.0 / (1.0 - np.log(slow.drawn_ah / fast.drawn_ah) / math.log(slow.hours / fast.hours))
        more = f"{fast.charge_ah:.2f} Ah at {fast.current_a:.2f} A, more than the {slow.charge_ah:.2f} Ah at {slow.current_a:.2f} A"
        if np.quantile(plain, 0.5 + 0.5 * LEVEL) >= 1.0:
            if plain[0] < 1.0:
                told.remarks.append(f"{fast.name}: {more}. Within a meter's error the two are alike; k = 1 is used.")
            return _bent(slow, fast, hours, label)
        why = f"{fast.name} gave {more}: k would be below 1. The slower test began less than full, or ran colder; repeat both from full."
    told.undetermined.append(f"Peukert's k: {why}")
    return None


def _bent(slow: Discharge, fast: Discharge, hours: float, label: float | None) -> FloatArray:
    """k with which the capacity law in use gives both discharges, by bisection for all draws at once."""
    low, high = np.ones_like(slow.gain), np.full_like(slow.gain, LARGEST_K)
    for _ in range(40):
        k = 0.5 * (low + high)
        whole = _carried(slow, k, hours, label)
        less = _carried(fast, k, hours, label) > whole
        low, high = np.where(less, low, k), np.where(less, k, high)
    return np.asarray(np.where(low > 1.0, 0.5 * (low + high), 1.0))


def _carried(test: Discharge, k: FloatArray | float, hours: float, label: float | None) -> FloatArray:
    """A discharge's charge carried over to the rated hours by the capacity law in use (ridesim/physics/MODEL.md, 6.6).

    The law counts from the label's rated current, as the pack's ``state_of_health`` does; without a label, from the block's own.
    """
    charge, amps = test.drawn_ah, test.drawn_ah / test.hours
    whole = charge if label is None else np.full_like(charge, label)
    for _ in range(60 if label is None else 1):
        carried = charge * loss_at(amps * hours / whole, k)
        whole = 0.5 * (whole + carried)
    return np.asarray(carried)


def _rated(
    tests: list[Discharge],
    exponent: FloatArray | None,
    usual: float,
    hours: float,
    label: float | None,
    told: Told,
    rng: np.random.Generator,
) -> FloatArray | None:
    """Capacity at the rated hours and the test's temperature, for the readings and for the draws.

    With a k of the block's own: from the slowest complete discharge. Without: from the discharge that leads to the largest capacity. Never
    less than the charge of any discharge, since the block gave that much.
    """
    whole = [test for test in tests if test.complete]
    least = np.max([test.drawn_ah for test in tests], axis=0)
    if not whole:
        told.undetermined.append(
            f"Capacity: no discharge reaches the end voltage; the block holds {least[0]:.2f} Ah at least."
        )
        return None

    if exponent is not None:
        return np.asarray(np.maximum(least, _carried(whole[0], exponent, hours, label)))
    best = max(whole, key=lambda test: float(_carried(test, usual, hours, label)[0]))
    told.undetermined.append(
        f"Capacity at {hours:g} h: carried over from the {best.hours:.1f} h of {best.name} with the usual k of {usual:g}, not with "
        "this block's own."
    )
    k = usual + USUAL_K_ERROR / NORMAL * np.concatenate([[0.0], rng.standard_normal(DRAWS)])
    return np.asarray(np.maximum(least, _carried(best, np.maximum(1.0, k), hours, label)))


def _believable(capacity: float, label: float, tests: list[Discharge]) -> None:
    """Refuse a capacity far above the label's: a unit has slipped, or the label is another block's."""
    if capacity > MOST_HEALTH * label:
        raise InputProblem(
            " and ".join(test.name for test in tests),
            "label_ah",
            f"{capacity:.4g} Ah, {capacity / label:.3g} times the label's {label:g} Ah",
            f"no more than {MOST_HEALTH:g} times the label",
            "Is the label this block's, and is each column in the unit its name says (s or min, A or mA)?",
        )
