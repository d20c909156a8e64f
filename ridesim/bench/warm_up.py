"""From a measured warm-up to a motor's heat: the winding's own resistance is the thermometer."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt
from math import log as log_of
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, model_validator

from ridesim.bench.estimate import Fit, Residuals, fit
from ridesim.bench.log_files import load_log, need_log, read_log
from ridesim.bench.motor.log import RPM
from ridesim.bench.warm_up_limits import (
    heat_scale,
    heat_sensible,
    resistances_possible,
    specific_heat,
    specific_heat_possible,
)
from ridesim.forms import Part, quantity
from ridesim.physics.motor import COPPER_PER_K, drag_torque, warm_resistance
from ridesim.physics.motor_heat import HeatBalance, cooling_from_mass, heat_balance, temperatures_after
from ridesim.words import Finding, InputProblem, Uncertain, need_number

FloatArray = NDArray[np.float64]
_DRAWS = 2000
_SILENT = 0.7
"""Own spread over the usual values' spread above which the readings have said next to nothing."""
CONTRADICTION = 1e-6
"""Chance below which readings that disagree as much as these, among themselves and with any usual motor, are refused."""
HOTTEST_C = 250.0
"""Winding temperature that no enamel stands: the highest lettered insulation class, C, begins above 180 °C; common practice, no source."""
_RISE_SD = 4.0
"""How many standard deviations a resistance must rise after switching off, or lie below the cold one, to be refused."""
_ENERGY_MISFIT = 5.0
"""How many times the run's energy may differ from the heat that the readings show, with usual heat capacities."""
_SLOW_S = 120.0
"""First reading after switching off later than this: the winding has cooled a good part (time constant 30 s to 3 min)."""


class _Resistance(Part):
    """A winding's resistance: typed, or from volts and amps with the rotor held."""

    resistance_ohm: float | None = quantity("of the winding, brushes' drop apart", None, gt=0.0, le=100.0)
    voltage_v: float | None = quantity("at the terminals, rotor held", None, gt=0.0, le=120.0)
    current_a: float | None = quantity("through the held motor", None, gt=0.0, le=1000.0)

    @model_validator(mode="after")
    def _one_way(self) -> _Resistance:
        pair = self.voltage_v is not None and self.current_a is not None
        if (self.resistance_ohm is None) == (not pair):
            raise InputProblem(
                "", "resistance_ohm", "nothing or too much", "resistance_ohm, or voltage_v with current_a"
            )
        return self

    def ohms(self, brush_drop_v: float) -> float:
        """[ohm]"""
        if self.resistance_ohm is not None:
            return self.resistance_ohm
        assert self.voltage_v is not None
        assert self.current_a is not None
        return (self.voltage_v - brush_drop_v) / self.current_a


class Cold(_Resistance):
    """Before the run, motor at the air's temperature for hours."""


class After(_Resistance):
    """After switching off, motor standing."""

    seconds: float = quantity("since switching off", gt=0.0, le=36_000.0)


class Case(Part):
    """A reading of the case's temperature."""

    minutes: float = quantity("since the run began; may be after it ended", ge=0.0, le=10_000.0)
    celsius: float = quantity("of the case", ge=-40.0, le=300.0)


class Run(Part):
    """The warm-up itself: one current, one speed."""

    current_a: float = quantity("motor current, held steady", gt=0.0, le=5000.0)
    minutes: float = quantity("how long", gt=0.0, le=1440.0)
    speed_rpm: float = quantity("of the motor's shaft; 0 for a held rotor", 0.0, source="held", ge=0.0, le=100_000.0)


class WarmUpLog(Part):
    """A warm-up's log."""

    name: str = quantity("what was tested", "unnamed motor", source="the file's name")
    note: str = quantity("where the numbers come from", "")
    ambient_c: float = quantity("air, and motor at the start", ge=-20.0, le=50.0)
    mass_kg: float = quantity("of the motor: for the usual heat of its copper and iron", gt=0.0, le=500.0)
    brush_drop_v: float = quantity("from the spin test", 1.0, source="usual; from memory", ge=0.0, le=5.0)
    friction_torque_nm: float = quantity("from the spin test", 0.0, source="none stated", ge=0.0, le=100.0)
    viscous_nm_per_rad_s: float = quantity("from the spin test", 0.0, source="none stated", ge=0.0, le=1.0)
    resistance_percent: float = quantity(
        "one standard deviation of a resistance reading", 1.0, source="cheap meter; common practice", gt=0.0, le=50.0
    )
    case_sd_k: float = quantity(
        "one standard deviation of a case reading", 2.0, source="taped-on probe; common practice", gt=0.0, le=50.0
    )
    cold: Cold = Field(description="before the run")
    run: Run = Field(description="the warm-up")
    after: tuple[After, ...] = Field(description="resistance after switching off", strict=False, min_length=1)
    case: tuple[Case, ...] = Field(default=(), description="case temperatures", strict=False)

    @property
    def omega(self) -> float:
        """[rad/s]"""
        return self.run.speed_rpm * RPM


@dataclass(frozen=True, eq=False)
class WarmUpResult:
    """A motor's heat from a warm-up.

    Attributes
    ----------
    log : WarmUpLog
    winding_c : Uncertain
        Winding at the moment of switching off, carried back from the readings after it. [°C]
    values : dict of str to Uncertain
        Heat capacities [J/K] and thermal resistances [K/W] by their key in a build file.
    not_told : tuple of str
        Sentences: what rests on usual values because the readings do not tell.
    misfit : float
        Root mean square of the residuals in standard deviations.
    findings : tuple of Finding
        What is possible but unlikely, such as another current than the motor's.
    """

    log: WarmUpLog
    winding_c: Uncertain
    values: dict[str, Uncertain]
    not_told: tuple[str, ...]
    misfit: float
    findings: tuple[Finding, ...] = ()

    def motor_keys(self) -> dict[str, float]:
        """Keys for the [motor] section of a build file; they replace the nameplate rule."""
        return {name: float(f"{band.value:.4g}") for name, band in self.values.items()}


KEYS = ("winding_heat_j_per_k", "case_heat_j_per_k", "winding_to_case_k_per_w", "case_to_air_k_per_w")


def load_warm_up(path: str | Path) -> WarmUpLog:
    """A warm-up's log, by path or bare shipped name; :func:`ridesim.bench.log_files.load_log`."""
    return load_log(path, read_warm_up)


def read_warm_up(table: dict[str, Any], file: str = "the warm-up log", stem: str = "") -> WarmUpLog:
    """A warm-up's log from a table."""
    return read_log(WarmUpLog, table, file, stem)


def winding_temperature(cold_ohm: float, cold_c: float, warm_ohm: float) -> float:
    """Temperature of a copper winding from its resistance.

    Parameters
    ----------
    cold_ohm, cold_c : float
        Resistance at a known temperature. [ohm], [°C]
    warm_ohm : float
        Resistance now. [ohm]

    Returns
    -------
    float
        [°C]

    Raises
    ------
    InputProblem
        A resistance that is no number or not above 0; a temperature outside -60 to 300 °C.

    Notes
    -----
    R = R20 (1 + 0.00393 (T - 20)), the same law as everywhere here; IEC 60034-1 writes it (235 + T2)/(235 + T1), which
    differs by 0.1 % (from memory).
    """
    for name, ohms in (("cold_ohm", cold_ohm), ("warm_ohm", warm_ohm)):
        need_number("the winding's temperature", name, ohms, 0.0, 1e6, "ohm", above=True)
    need_number("the winding's temperature", "cold_c", cold_c, -60.0, 300.0, "°C")
    at_20 = cold_ohm / (1.0 + COPPER_PER_K * (cold_c - 20.0))
    return 20.0 + (warm_ohm / at_20 - 1.0) / COPPER_PER_K


def identify(log: WarmUpLog, file: str = "the warm-up log") -> WarmUpResult:
    """Heat capacities and thermal resistances from a warm-up.

    Parameters
    ----------
    log : WarmUpLog
        Cold resistance, run, resistances after it, case temperatures.
    file : str
        What messages call the log.

    Returns
    -------
    WarmUpResult
        Four values with 95 % bands; where the readings do not tell, usual values show through and are named.

    Raises
    ------
    InputProblem
        No log, no warming, a first reading too late to say anything of the winding, or readings that cannot be right; names the row.

    Notes
    -----
    Weighted least squares on the exact two-node solution (:mod:`ridesim.physics.motor_heat`), logarithms of the four values and
    of R20 as unknowns. Usual values: C_w = 0.10 m 390 and C_c = 0.90 m 460 J/K within a factor of 1.5 and 1.3; R_wc and R_ca
    by the mass (:func:`ridesim.physics.motor.cooling_from_mass`, 0.55 and 1.0 K/W at 6.5 kg) within a factor of 2. Readings
    whose misfit, usual values included, has a chance below 1e-6 (χ² with as many degrees as readings) are refused, and so is
    an answer that no motor can be (:mod:`ridesim.bench.warm_up_limits`): a current off by 2 changes no misfit, only heat
    capacities and resistances.
    """
    need_log(log, WarmUpLog, "load_warm_up", file)
    cold = log.cold.ohms(log.brush_drop_v)
    _check(log, cold, file)
    _energy(log, cold, file)
    centre = np.append(np.log(_usual(log)), np.log(cold / warm_resistance(1.0, log.ambient_c)))
    # R20 has no usual value: the cold reading, one of the data, says it.
    spread = np.array([*np.log([1.5, 1.3, 2.0, 2.0]), 1.0])

    def residuals(theta: FloatArray) -> FloatArray:
        return np.concatenate([_data(theta, log), (theta - centre) / spread])

    found = _fit(log, centre, spread, file)
    _agreeing(found, log, centre, spread, file)
    draws, weights = _posterior(found, residuals)
    values = {key: _quantiles(np.exp(draws[:, i]), weights) for i, key in enumerate(KEYS)}
    names = ("heat of the winding", "heat of the case", "winding to case", "case to air")
    sd = np.sqrt(np.average((draws - np.average(draws, axis=0, weights=weights)) ** 2, axis=0, weights=weights))
    told = tuple(
        f"{names[i].capitalize()}: the readings say next to nothing; a usual value stands in."
        for i in range(4)
        if sd[i] > _SILENT * spread[i]
    )
    end = 60.0 * log.run.minutes
    hot = np.array([_temperatures(draw, log, [end])[0][0] for draw in draws])
    rms = float(np.sqrt(np.mean(_data(found.values, log) ** 2)))
    return WarmUpResult(
        log, _quantiles(hot, weights), values, told, rms, _can_be(log, cold, centre, spread, values, file)
    )


def _can_be(
    log: WarmUpLog, cold: float, centre: FloatArray, spread: FloatArray, values: dict[str, Uncertain], file: str
) -> tuple[Finding, ...]:
    """What is unlikely about the answer; refuses what no motor is."""

    def data(theta: FloatArray) -> FloatArray:
        return _data(theta, log)

    amps = log.run.current_a
    if log.case:  # without one the readings do not tell the heat of the case
        specific_heat_possible(specific_heat(data, centre, spread, log.mass_kg), log.mass_kg, amps, file)
    scale, sd = heat_scale(data, centre, spread)
    found = heat_sensible(scale, sd, (amps, _current_for_heat(log, cold, exp(scale))), file)
    usual = dict(zip(KEYS, _usual(log), strict=True))
    return (*found, *resistances_possible(values, log.mass_kg, usual, file))


def _current_for_heat(log: WarmUpLog, cold: float, factor: float) -> float:
    """Current that heats so many times as much as the stated one, winding as warm as just after the run. [A]"""
    amps, drop = log.run.current_a, log.brush_drop_v
    ohms = 0.5 * (cold + log.after[0].ohms(drop))
    heat = factor * (amps**2 * ohms + amps * drop + _friction_heat(log))
    rest = max(0.0, heat - _friction_heat(log))
    return (-drop + sqrt(drop * drop + 4.0 * ohms * rest)) / (2.0 * ohms)


def _friction_heat(log: WarmUpLog) -> float:
    """[W]"""
    return float(log.omega * drag_torque(log.omega, log.friction_torque_nm, log.viscous_nm_per_rad_s))


def _usual(log: WarmUpLog) -> FloatArray:
    """Usual heat capacities [J/K] and thermal resistances [K/W], in the order of KEYS."""
    return np.array([0.10 * log.mass_kg * 390.0, 0.90 * log.mass_kg * 460.0, *cooling_from_mass(log.mass_kg)])


def _fit(log: WarmUpLog, centre: FloatArray, spread: FloatArray, file: str) -> Fit:
    """The estimate; a log so far from any motor that nothing can be reckoned is refused."""

    def residuals(theta: FloatArray) -> FloatArray:
        return np.concatenate([_data(theta, log), (theta - centre) / spread])

    try:
        return fit(residuals, centre, spread)
    except (ValueError, OverflowError, np.linalg.LinAlgError):
        raise InputProblem(
            file, "run", f"{log.run.current_a:g} A for {log.run.minutes:g} min, from which nothing can be reckoned for a motor of "
            f"{log.mass_kg:g} kg", "a run that a motor stands, with readings as good as resistance_percent and case_sd_k say",
            "Check current_a, minutes, mass_kg and these two.",
        ) from None  # fmt: skip


def _agreeing(found: Fit, log: WarmUpLog, centre: FloatArray, spread: FloatArray, file: str) -> None:
    """Refuse readings that contradict each other; names the one without which the rest agrees best."""
    from scipy.stats import chi2

    rows = [
        "cold",
        *(f"after[{n}]" for n in range(1, len(log.after) + 1)),
        *(f"case[{n}]" for n in range(1, len(log.case) + 1)),
    ]
    if float(chi2.sf(found.misfit, len(rows))) >= CONTRADICTION:
        return
    ease = [_fit_without(row, log, centre, spread) for row in rows]
    best = int(np.argmin(ease))
    if float(chi2.sf(ease[best], len(rows) - 1)) < CONTRADICTION:
        raise InputProblem(
            file, "run", f"readings that contradict each other ({sqrt(found.misfit):.0f} standard deviations between them all), "
            f"{rows[best]} the most", "readings of one warm-up",
            "Check current_a, minutes and mass_kg, when the readings were taken, and the cold resistance.",
        )  # fmt: skip
    raise InputProblem(
        file, rows[best], f"a reading that contradicts the others ({sqrt(found.misfit):.0f} standard deviations between them all)",
        "readings of one warm-up within the meters' accuracy", "Check the unit and the time; else leave this row out.",
    )  # fmt: skip


def _fit_without(row: str, log: WarmUpLog, centre: FloatArray, spread: FloatArray) -> float:
    """Misfit of the log without one row; the cold reading is let go by its equation, since the form demands it."""
    kept = {
        kind: tuple(each for n, each in enumerate(getattr(log, kind), 1) if row != f"{kind}[{n}]")
        for kind in ("after", "case")
    }
    rest = log.model_copy(update=kept)
    first = 1 if row == "cold" else 0

    def residuals(theta: FloatArray) -> FloatArray:
        return np.concatenate([_data(theta, rest)[first:], (theta - centre) / spread])

    try:
        return fit(residuals, centre, spread).misfit
    except (ValueError, OverflowError, np.linalg.LinAlgError):
        return float("inf")


def _energy(log: WarmUpLog, cold: float, file: str) -> None:
    """Refuse a run whose energy lies far off the heat that the readings show: mostly a wrong current, time or mass."""
    hot_ohm = log.after[0].ohms(log.brush_drop_v)
    winding_k = winding_temperature(cold, log.ambient_c, hot_ohm) - log.ambient_c
    seconds, amps = 60.0 * log.run.minutes, log.run.current_a
    put_in = (amps**2 * 0.5 * (cold + hot_ohm) + amps * log.brush_drop_v + _friction_heat(log)) * seconds
    winding_heat, case_heat, _, to_air = _usual(log)
    # The case, warming in about a straight line, is as warm as its hottest reading says; without one, anything up to the winding.
    hottest = max((reading.celsius for reading in log.case), default=None)
    least, most = (0.0, winding_k) if hottest is None else (hottest - log.ambient_c,) * 2
    low, high = (
        winding_heat * winding_k + max(0.0, case_k) * (case_heat + 0.5 * seconds / to_air) for case_k in (least, most)
    )
    if not low / _ENERGY_MISFIT <= put_in <= high * _ENERGY_MISFIT:
        shown, heat = (f"{float(f'{0.001 * each:.2g}'):g} kJ" for each in (high if put_in > high else low, put_in))
        raise InputProblem(
            file, "run", f"{amps:g} A for {log.run.minutes:g} min, which put in about {heat}",
            f"about the {shown} that the readings show for a motor of {log.mass_kg:g} kg",
            "Check current_a, minutes, mass_kg and brush_drop_v, and the unit of the resistances.",
        )  # fmt: skip


def _posterior(found: Fit, residuals: Residuals) -> tuple[FloatArray, FloatArray]:
    """Draws of the unknowns with weights: a short run leaves lopsided bands that no bell curve shows.

    Importance sampling from Student's t (4 degrees) around the best fit, fixed seed; Bishop, Pattern Recognition and Machine
    Learning, section 11.1.4 (from memory).
    """
    generator = np.random.default_rng(1)
    size, degrees = len(found.values), 4.0
    root = np.linalg.cholesky(1.5 * found.covariance)
    normal = generator.standard_normal((_DRAWS, size))
    stretch = np.sqrt(degrees / generator.chisquare(degrees, _DRAWS))
    draws = found.values + (normal * stretch[:, None]) @ root.T
    distance = np.sum((normal * stretch[:, None]) ** 2, axis=1)
    proposed = -0.5 * (degrees + size) * np.log1p(distance / degrees)
    wanted = np.array([_likelihood(residuals, draw) for draw in draws])
    weights = np.exp(wanted - proposed - np.max(wanted - proposed))
    kept = weights > 0.0  # a draw that no motor could be has no weight, and nothing can be reckoned from it
    return draws[kept], weights[kept] / weights.sum()


def _likelihood(residuals: Residuals, draw: FloatArray) -> float:
    """Logarithm of a draw's likelihood; none where its temperatures run away beyond all numbers."""
    try:
        with np.errstate(all="ignore"):
            value = -0.5 * float(np.sum(residuals(draw) ** 2))
    except (ValueError, OverflowError):
        return -float("inf")
    return value if value == value else -float("inf")


def _quantiles(values: FloatArray, weights: FloatArray) -> Uncertain:
    """Median and the middle 95 %."""
    order = np.argsort(values)
    share = np.cumsum(weights[order]) - 0.5 * weights[order]
    low, middle, high = (float(np.interp(level, share, values[order])) for level in (0.025, 0.5, 0.975))
    return Uncertain(middle, low, high)


def _check(log: WarmUpLog, cold: float, file: str) -> None:
    if cold <= 0.0:
        raise InputProblem(
            file, "cold", f"{cold:.3g} ohm after the brush drop", "a resistance above 0", "Is brush_drop_v right?"
        )
    seconds = [row.seconds for row in log.after]
    for number, row in enumerate(log.after, start=1):
        if number > 1 and row.seconds <= seconds[number - 2]:
            raise InputProblem(
                file,
                f"after[{number}].seconds",
                f"{row.seconds:g} after {seconds[number - 2]:g}",
                "times that rise from row to row",
            )
    first = log.after[0].ohms(log.brush_drop_v)
    if first < cold * (1.0 + 3.0 * log.resistance_percent / 100.0):
        raise InputProblem(
            file, "after[1]", f"{first:.4g} ohm, hardly more than the cold {cold:.4g}", "a clearly warmer winding",
            "Run it longer or at more current, and read within a minute of switching off.",
        )  # fmt: skip
    if seconds[0] > _SLOW_S:
        raise InputProblem(
            file, "after[1].seconds", f"{seconds[0]:g} s", f"a first reading within {_SLOW_S:g} s of switching off",
            "The winding cools into the case in a minute or two.",
        )  # fmt: skip
    _plausible(log, cold, file)
    for number, reading in enumerate(log.case, start=1):
        if reading.celsius < log.ambient_c - 3.0 * log.case_sd_k:
            raise InputProblem(
                file,
                f"case[{number}].celsius",
                f"{reading.celsius:g} °C",
                f"no less than the air's {log.ambient_c:g} °C",
            )


def _plausible(log: WarmUpLog, cold: float, file: str) -> None:
    """Refuse a winding that no insulation stands, one colder than before, and one that warms after switching off."""
    ohms = [row.ohms(log.brush_drop_v) for row in log.after]
    share = _RISE_SD * log.resistance_percent / 100.0
    for number, each in enumerate(ohms, start=1):
        if each < cold * (1.0 - share * sqrt(2.0)):
            raise InputProblem(
                file, f"after[{number}]", f"{each:.4g} ohm, less than the cold {cold:.4g}", "a winding no colder than before the run",
                "Is brush_drop_v right, and the unit?",
            )  # fmt: skip
        celsius = winding_temperature(cold, log.ambient_c, each)
        if celsius > HOTTEST_C:
            raise InputProblem(
                file, f"after[{number}]", f"{each:.4g} ohm, which is a winding at {celsius:.0f} °C (cold {cold:.4g} ohm)",
                f"at most {HOTTEST_C:g} °C: its insulation would be gone",
                "Check the unit, the cold resistance and the brush drop. If it smelled burnt, the motor is not safe to use.",
            )  # fmt: skip
    for number in range(1, len(ohms)):
        lowest = min(range(number), key=lambda place: ohms[place])
        if ohms[number] > ohms[lowest] * (1.0 + share * sqrt(2.0)):
            raise InputProblem(
                file, f"after[{number + 1}] against after[{lowest + 1}]",
                f"resistance rising from {ohms[lowest]:.4g} to {ohms[number]:.4g} ohm after switching off", "a winding that cools",
                "Are two rows swapped, or was the motor switched on again?",
            )  # fmt: skip


def _balance(theta: FloatArray, log: WarmUpLog, current: float, omega: float) -> HeatBalance:
    friction = omega * drag_torque(omega, log.friction_torque_nm, log.viscous_nm_per_rad_s) if omega > 0.0 else 0.0
    winding_heat, case_heat, to_case, to_air = (exp(value) for value in theta[:4])
    return heat_balance(
        current, exp(theta[4]), log.brush_drop_v, friction, log.ambient_c, winding_heat, case_heat, to_case, to_air
    )


def _temperatures(theta: FloatArray, log: WarmUpLog, moments: list[float]) -> list[tuple[float, float]]:
    """Winding and case at times since the run began. [°C]"""
    end = 60.0 * log.run.minutes
    run = _balance(theta, log, log.run.current_a, log.omega)
    rest = _balance(theta, log, 0.0, 0.0)
    stopped = temperatures_after(end, log.ambient_c, log.ambient_c, run)
    return [
        temperatures_after(seconds, log.ambient_c, log.ambient_c, run)
        if seconds <= end
        else temperatures_after(seconds - end, *stopped, rest)
        for seconds in moments
    ]


def _data(theta: FloatArray, log: WarmUpLog) -> FloatArray:
    end, at_20, drop = 60.0 * log.run.minutes, exp(theta[4]), log.brush_drop_v
    share = log.resistance_percent / 100.0
    moments = [end + row.seconds for row in log.after] + [60.0 * reading.minutes for reading in log.case]
    reached = _temperatures(theta, log, moments)
    values = [_log_ratio(log.cold.ohms(drop), warm_resistance(at_20, log.ambient_c)) / share]
    for row, (winding, _) in zip(log.after, reached, strict=False):
        values.append(_log_ratio(row.ohms(drop), warm_resistance(at_20, winding)) / share)
    for reading, (_, case) in zip(log.case, reached[len(log.after) :], strict=True):
        values.append((reading.celsius - case) / log.case_sd_k)
    return np.array(values)


def _log_ratio(one: float, other: float) -> float:
    """ln(one/other), with a winding colder than any model's kept finite."""
    return log_of(one / max(other, 1e-12))
