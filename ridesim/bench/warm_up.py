"""From a measured warm-up to a motor's heat: the winding's own resistance is the thermometer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, sqrt

import numpy as np

from ridesim.bench.estimate import CONTRADICTION, Estimate, FloatArray, Unknown, estimate, most_likely
from ridesim.bench.faults import refuse
from ridesim.bench.warm_up_log import WarmUpLog
from ridesim.physics.compiled import compiled
from ridesim.physics.motor import COPPER_PER_K, drag_torque, warm_resistance
from ridesim.physics.motor_heat import cooling_from_mass, heat_balance, temperatures_after
from ridesim.words import Finding, InputProblem, Uncertain, need_number

KEYS = {
    "winding_heat_j_per_k": "heat of the winding", "case_heat_j_per_k": "heat of the case",
    "winding_to_case_k_per_w": "winding to case", "case_to_air_k_per_w": "case to air",
}  # fmt: skip
"""Keys of a build's [motor], and their names."""
_FACTORS = (1.5, 1.3, 2.0, 2.0)
"""Within what factor the usual values of these hold: common practice, no source."""
HOTTEST_C = 250.0
"""Winding temperature that no enamel stands: the highest lettered insulation class, C, begins above 180 °C; common practice, no source."""
_SURE_SD = 4.0
"""How many standard deviations a reading must lie against the physics before the log is refused."""
_SLOW_S = 120.0
"""First reading after switching off later than this: the winding has cooled a good part (time constant 30 s to 3 min)."""
UNLIKELY_SD = 2.0
"""Standard deviations between the heat put in and the heat that a usual motor of the mass shows, from which it is warned of: 1 in 22."""
_WIDE = 3.0
"""Spread of ln of the heat factor where no usual value shall help: a factor of 20 either way."""


@dataclass(frozen=True, eq=False)
class WarmUpResult:
    """A motor's heat from a warm-up.

    Attributes
    ----------
    log : WarmUpLog
    estimate : Estimate
        Most likely unknowns, and draws.
    winding_c : Uncertain
        Winding at the moment of switching off, carried back from the readings after it. [°C]
    values : dict of str to Uncertain
        Heat capacities [J/K] and thermal resistances [K/W] by their key in a build, with 90 % bands.
    not_told : tuple of str
        Sentences: what rests on usual values because the readings do not tell.
    findings : tuple of Finding
        A current that contradicts the motor's mass.
    """

    log: WarmUpLog
    estimate: Estimate
    winding_c: Uncertain
    values: dict[str, Uncertain]
    not_told: tuple[str, ...]
    findings: tuple[Finding, ...]

    def motor_keys(self) -> dict[str, float]:
        """Keys for the [motor] section of a build; they replace the nameplate rule."""
        return {name: float(f"{band.value:.4g}") for name, band in self.values.items()}


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


def identify_warm_up(log: WarmUpLog, file: str = "the warm-up log") -> WarmUpResult:
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
        Four values with 90 % bands; where the readings do not tell, usual values show through and are named.

    Raises
    ------
    InputProblem
        No warming, a first reading too late to say anything of the winding, or readings that cannot be right; names the row.
    TypeError
        No log.

    Notes
    -----
    The estimator of the bench on the exact two-node solution (:mod:`ridesim.physics.motor_heat`), logarithms of the four values and
    of R20 as unknowns. Usual values: C_w = 0.10 m 390 and C_c = 0.90 m 460 J/K within a factor of 1.5 and 1.3; R_wc and R_ca
    by the mass (:func:`ridesim.physics.motor_heat.cooling_from_mass`) within a factor of 2. Readings that disagree so much that the
    chance is below 1e-6 are refused.

    Examples
    --------
    >>> import ridesim
    >>> warmed = ridesim.identify_warm_up(ridesim.load_log("heron_motor_warm_up"))
    >>> "case_to_air_k_per_w" in warmed.values
    True
    """
    if not isinstance(log, WarmUpLog):
        raise TypeError(f"a WarmUpLog is expected, as load_log reads it, not {log!r}")
    refuse(_faults(log, file))
    unknowns = _unknowns(log)
    try:
        found = estimate(lambda draws: _residuals(draws, log), unknowns)
        scale = _heat_factor(log, unknowns)
    except (ValueError, np.linalg.LinAlgError):
        raise InputProblem(
            file, "run", f"{log.run.current_a:g} A for {log.run.minutes:g} min, from which nothing can be computed for a motor of "
            f"{log.mass_kg:g} kg", "a run that a motor stands, with readings as good as resistance_percent and case_sd_k say",
            "Check current_a, minutes, mass_kg and these two.",
        ) from None  # fmt: skip
    if found.fit.chance < CONTRADICTION:
        raise _contradiction(log, unknowns, found.fit.misfit, file)
    ends = zip(KEYS, *found.bands(lambda draws: np.exp(draws[:, : len(KEYS)])), strict=True)
    values = {key: Uncertain(float(value), float(low), float(high)) for key, value, low, high in ends}
    end = np.array([60.0 * log.run.minutes])
    hot = found.band(lambda draws: _temperatures(draws, log, end)[:, 0, 0])
    told = tuple(
        f"{name.capitalize()}: the readings say next to nothing; a usual value stands in."
        for name in KEYS.values()
        if found.silent(name)
    )
    return WarmUpResult(log, found, hot, values, told, _findings(log, scale))


def _unknowns(log: WarmUpLog) -> list[Unknown]:
    """Logarithms of the four values, usual for the mass, and of R20, which the cold reading says."""
    usual = (0.10 * log.mass_kg * 390.0, 0.90 * log.mass_kg * 460.0, *cooling_from_mass(log.mass_kg))
    heat = [
        Unknown(name, float(np.log(value)), float(np.log(factor)))
        for name, value, factor in zip(KEYS.values(), usual, _FACTORS, strict=True)
    ]
    cold = log.cold.ohms(log.brush_drop_v)
    return [*heat, Unknown("resistance", float(np.log(cold / warm_resistance(1.0, log.ambient_c))), 1.0)]


def _residuals(draws: FloatArray, log: WarmUpLog) -> FloatArray:
    """Cold resistance, resistances after the run, case temperatures, each over its standard deviation; shape (n, r)."""
    drop, share, at_20 = log.brush_drop_v, log.resistance_percent / 100.0, draws[:, 4, None]
    after, case = np.array([row.seconds for row in log.after]), np.array([60.0 * row.minutes for row in log.case])
    reached = _temperatures(draws, log, np.append(60.0 * log.run.minutes + after, case))
    winding = np.column_stack([np.full(len(draws), log.ambient_c), reached[:, : len(after), 0]])
    ohms = np.array([row.ohms(drop) for row in (log.cold, *log.after)])
    warm = np.maximum(1.0 + COPPER_PER_K * (winding - 20.0), 1e-12)  # a search may stray below absolute zero
    celsius = np.array([row.celsius for row in log.case])
    case_off = (celsius - reached[:, len(after) :, 1]) / log.case_sd_k
    return np.column_stack([(np.log(ohms) - at_20 - np.log(warm)) / share, case_off])


def _temperatures(draws: FloatArray, log: WarmUpLog, moments: FloatArray) -> FloatArray:
    """Winding and case at times since the run began, shape (n, k, 2). [°C]"""
    run = (log.run.current_a, log.brush_drop_v, _friction_heat(log), log.ambient_c, 60.0 * log.run.minutes)
    return _after_run(np.exp(draws), moments, *run)


@compiled
def _after_run(
    values: FloatArray, moments: FloatArray, current: float, brush: float, friction: float, ambient: float, end: float
) -> FloatArray:
    """The two-node solution: a run at one current from the air's temperature, then rest. [°C]"""
    found = np.empty((len(values), len(moments), 2))
    for i in range(len(values)):
        cw, cc, to_case, to_air, at_20 = values[i, 0], values[i, 1], values[i, 2], values[i, 3], values[i, 4]
        run = heat_balance(current, at_20, brush, friction, ambient, cw, cc, to_case, to_air)
        rest = heat_balance(0.0, at_20, brush, 0.0, ambient, cw, cc, to_case, to_air)
        winding, case = temperatures_after(end, ambient, ambient, run)
        for j in range(len(moments)):
            if moments[j] <= end:
                found[i, j, :] = temperatures_after(moments[j], ambient, ambient, run)
            else:
                found[i, j, :] = temperatures_after(moments[j] - end, winding, case, rest)
    return found


def _friction_heat(log: WarmUpLog) -> float:
    """[W]"""
    return float(log.omega * drag_torque(log.omega, log.friction_torque_nm, log.viscous_nm_per_rad_s))


def _heat_factor(log: WarmUpLog, unknowns: Sequence[Unknown]) -> tuple[float, float]:
    """By what factor the heat put in misses the heat with which a usual motor of this mass warms so: ln of it, standard deviation.

    Multiplying every heat flow, heat capacity and conductance by one factor leaves all temperatures unchanged, so the readings alone
    cannot fix the scale. Fitted as one more unknown, its logarithm is 0 within its deviation if the stated current is the true one.
    """
    turn = np.array([-1.0, -1.0, 1.0, 1.0, 0.0])
    wide = [*unknowns, Unknown("heat factor", 0.0, _WIDE)]
    fit = most_likely(lambda draws: _residuals(draws[:, :5] + draws[:, 5:] * turn, log), wide)
    return float(fit.best[5]), float(np.sqrt(fit.covariance[5, 5]))


def _findings(log: WarmUpLog, scale: tuple[float, float]) -> tuple[Finding, ...]:
    """Heat put in that no usual motor of this mass takes."""
    ln_factor, sd = scale
    if abs(ln_factor) <= UNLIKELY_SD * sd:
        return ()
    amps, agreeing = log.run.current_a, _current_for_heat(log, exp(ln_factor))
    return (
        Finding(
            "heat-unlikely", "warning",
            f"The run put in {exp(abs(ln_factor)):.1f} times {'less' if ln_factor > 0.0 else 'more'} heat than a usual motor of this mass "
            f"takes to warm like this; about {agreeing:.0f} A would agree, not {amps:g} A. If the current is wrong, so are all four numbers, "
            "by that factor. Is it the motor's current, not the battery's (a controller makes more amps of fewer)? Is the meter's range "
            "right, the mass that of the motor alone, and did the case readings sit on bare metal?",
            {"heat_factor": exp(-ln_factor), "agreeing_current_a": agreeing},
        ),
    )  # fmt: skip


def _current_for_heat(log: WarmUpLog, factor: float) -> float:
    """Current that heats so many times as much as the stated one, winding half as warm as just after the run. [A]"""
    amps, drop = log.run.current_a, log.brush_drop_v
    ohms = 0.5 * (log.cold.ohms(drop) + log.after[0].ohms(drop))
    rest = max(0.0, factor * (amps**2 * ohms + amps * drop) + (factor - 1.0) * _friction_heat(log))
    return (-drop + sqrt(drop * drop + 4.0 * ohms * rest)) / (2.0 * ohms)


def _contradiction(log: WarmUpLog, unknowns: Sequence[Unknown], misfit: float, file: str) -> InputProblem:
    """The refusal of readings that contradict each other; names the one without which the rest agrees best."""
    rows = ["cold"]
    rows += [f"{kind}[{n + 1}]" for kind in ("after", "case") for n in range(len(getattr(log, kind)))]
    chances = [
        most_likely(lambda draws, place=place: np.delete(_residuals(draws, log), place, axis=1), unknowns).chance  # type: ignore[misc]
        for place in range(len(rows))
    ]
    apart = f"({sqrt(misfit):.0f} standard deviations between them all)"
    if max(chances) < CONTRADICTION:
        return InputProblem(
            file, "run", f"readings that contradict each other {apart}", "readings of one warm-up",
            "Check current_a, minutes and mass_kg, when the readings were taken, and the cold resistance.",
        )  # fmt: skip
    return InputProblem(
        file, rows[int(np.argmax(chances))], f"a reading that contradicts the others {apart}",
        "readings of one warm-up within the meters' accuracy", "Check the unit and the time; else leave this row out.",
    )  # fmt: skip


def _faults(log: WarmUpLog, file: str) -> Iterator[InputProblem]:
    """A run that did not warm the winding, and readings that cannot be."""
    cold = log.cold.ohms(log.brush_drop_v)
    if cold <= 0.0:
        yield InputProblem(
            file, "cold", f"{cold:.3g} ohm after the brush drop", "a resistance above 0", "Is brush_drop_v right?"
        )
        return
    seconds, ohms = [row.seconds for row in log.after], [row.ohms(log.brush_drop_v) for row in log.after]
    for number, (before, after) in enumerate(pairwise(seconds), start=2):
        if after <= before:
            place = f"after[{number}].seconds"
            yield InputProblem(file, place, f"{after:g} after {before:g}", "times that rise from row to row")
    if ohms[0] < cold * (1.0 + 3.0 * log.resistance_percent / 100.0):
        yield InputProblem(
            file, "after[1]", f"{ohms[0]:.4g} ohm, hardly more than the cold {cold:.4g}", "a clearly warmer winding",
            "Run it longer or at more current, and read within a minute of switching off.",
        )  # fmt: skip
    if seconds[0] > _SLOW_S:
        yield InputProblem(
            file, "after[1].seconds", f"{seconds[0]:g} s", f"a first reading within {_SLOW_S:g} s of switching off",
            "The winding cools into the case in a minute or two.",
        )  # fmt: skip
    yield from _not_cooling(log, cold, ohms, file)
    for number, reading in enumerate(log.case, start=1):
        if reading.celsius < log.ambient_c - 3.0 * log.case_sd_k:
            expected = f"no less than the air's {log.ambient_c:g} °C"
            yield InputProblem(file, f"case[{number}].celsius", f"{reading.celsius:g} °C", expected)


def _not_cooling(log: WarmUpLog, cold: float, ohms: Sequence[float], file: str) -> Iterator[InputProblem]:
    """A winding that no insulation stands, one colder than before, and one that warms after switching off."""
    apart = _SURE_SD * sqrt(2.0) * log.resistance_percent / 100.0
    for number, each in enumerate(ohms, start=1):
        if each < cold * (1.0 - apart):
            yield InputProblem(
                file, f"after[{number}]", f"{each:.4g} ohm, less than the cold {cold:.4g}", "a winding no colder than before the run",
                "Is brush_drop_v right, and the unit?",
            )  # fmt: skip
            continue
        celsius = winding_temperature(cold, log.ambient_c, each)
        if celsius > HOTTEST_C:
            yield InputProblem(
                file, f"after[{number}]", f"{each:.4g} ohm, which is a winding at {celsius:.0f} °C (cold {cold:.4g} ohm)",
                f"at most {HOTTEST_C:g} °C: its insulation would be gone",
                "Check the unit, the cold resistance and the brush drop. If it smelled burnt, the motor is not safe to use.",
            )  # fmt: skip
        lowest = min(range(number), key=lambda place: ohms[place])
        if each > ohms[lowest] * (1.0 + apart):
            yield InputProblem(
                file, f"after[{number}] against after[{lowest + 1}]",
                f"resistance rising from {ohms[lowest]:.4g} to {each:.4g} ohm after switching off", "a winding that cools",
                "Are two rows swapped, or was the motor switched on again?",
            )  # fmt: skip
