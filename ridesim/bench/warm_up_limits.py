"""Whether a warm-up's answer can be a motor at all: heat a kilogram, heat leaving through its surface, heat put in."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from math import exp, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.estimate import fit
from ridesim.words import Finding, InputProblem, Uncertain

FloatArray = NDArray[np.float64]

LEAST_J_PER_KG_K, MOST_J_PER_KG_K = 257.0, 900.0
"""Two thirds of copper's specific heat, because the whole mass does not warm evenly (the share: common practice, no source), and
aluminium's; a motor of copper (385), iron (449), ferrite (about 750) and aluminium (897) lies between, usually at 450. CRC Handbook of
Chemistry and Physics (from memory). [J/(kg K)]"""
LEAST_W_PER_M2_K, MOST_W_PER_M2_K = 2.0, 250.0
"""Heat from a surface to air: free convection 2 to 25, a fan's 25 to 250. Incropera & DeWitt, Fundamentals of Heat and Mass Transfer,
table 1.1 (from memory). [W/(m² K)]"""
MOST_SLOT_W_PER_M2_K = 600.0
"""Through 0.3 mm of slot insulation of 0.2 W/(m K) (from memory): the most that leaves a winding, copper lying in iron."""
_DENSITY = 6000.0
"""Of a motor with its hollows: common practice, no source. [kg/m³]"""
UNLIKELY_FACTOR = 4.0
"""How far all of a thermal resistance's band may lie from the usual value without a word: common practice, no source."""
UNLIKELY_SDS = 2.0
"""Standard deviations between the heat put in and the heat that a usual motor shows, from which it is warned of: 1 in 22."""
ALIEN_SDS = 4.0
"""The same from which a log is refused: 1 in 16 000."""
_SURE_SDS = 2.6
"""Standard deviations beyond a limit from which a number counts as outside: 1 in 200."""
_WIDE_LOG_SD = 2.0
"""Spread of ln of a heat capacity where no usual value shall help: a factor of 7 either way."""


def surface_m2(mass_kg: float) -> float:
    """Surface of a motor of a mass: a drum as long as wide, π D³/4 of 6000 kg/m³. [m²]"""
    across = (4.0 * mass_kg / (_DENSITY * pi)) ** (1.0 / 3.0)
    return float(1.5 * pi * across**2)


def resistance_limits(mass_kg: float) -> dict[str, tuple[float, float]]:
    """Lowest and highest thermal resistance that a motor of a mass can have, by key. [K/W]"""
    area = surface_m2(mass_kg)
    most = 1.0 / (LEAST_W_PER_M2_K * area)
    return {
        "winding_to_case_k_per_w": (1.0 / (MOST_SLOT_W_PER_M2_K * area), most),
        "case_to_air_k_per_w": (1.0 / (MOST_W_PER_M2_K * area), most),
    }


def heat_scale(data: Callable[[FloatArray], FloatArray], centre: FloatArray, spread: FloatArray) -> tuple[float, float]:
    """By what factor the stated heat misses the heat that would agree with a usual motor.

    Parameters
    ----------
    data : callable
        From (ln of two heat capacities, two thermal resistances, ...) to residuals of the readings.
    centre, spread : ndarray
        Usual values of those and their spread.

    Returns
    -------
    tuple of float
        ln of the factor, and its standard deviation.

    Notes
    -----
    Temperatures are the same for all heats, capacities and conductances multiplied by one factor: readings never tell
    it, only usual values do. Fitted as one more unknown, it is 0 within its deviation if the stated current is the true one.
    """
    turn = np.zeros(len(centre))
    turn[:4] = -1.0, -1.0, 1.0, 1.0

    def residuals(theta: FloatArray) -> FloatArray:
        return np.concatenate([data(theta[:-1] + theta[-1] * turn), (theta[:-1] - centre) / spread, [theta[-1] / 3.0]])

    found = fit(residuals, np.append(centre, 0.0), np.append(spread, 1.0))
    return float(found.values[-1]), float(sqrt(found.covariance[-1, -1]))


def specific_heat(
    data: Callable[[FloatArray], FloatArray], centre: FloatArray, spread: FloatArray, mass_kg: float
) -> Uncertain:
    """Heat a kilogram and kelvin that the readings alone show, sure limits around it. [J/(kg K)]"""
    wide = spread.copy()
    wide[:2] = _WIDE_LOG_SD

    def residuals(theta: FloatArray) -> FloatArray:
        return np.concatenate([data(theta), (theta - centre) / wide])

    found = fit(residuals, centre, spread)
    heats = np.exp(found.values[:2])
    share = heats / heats.sum()
    sd = float(sqrt(share @ found.covariance[:2, :2] @ share))
    value = float(heats.sum() / mass_kg)
    return Uncertain(value, value * exp(-_SURE_SDS * sd), value * exp(_SURE_SDS * sd))


def specific_heat_possible(found: Uncertain, mass_kg: float, amps: float, file: str) -> None:
    """Refuse a motor whose kilogram stores less than copper's or more than aluminium's.

    Raises
    ------
    InputProblem
        Names the run.
    """
    if found.low <= MOST_J_PER_KG_K and found.high >= LEAST_J_PER_KG_K:
        return
    raise InputProblem(
        file, "run", f"{amps:g} A, with which this motor of {mass_kg:g} kg would store {found.value:.0f} J/(kg K) ({found.low:.0f} to "
        f"{found.high:.0f})", f"{LEAST_J_PER_KG_K:g} (two thirds of copper) to {MOST_J_PER_KG_K:g} J/(kg K) (aluminium), usually 450", WHICH_CURRENT,
    )  # fmt: skip


WHICH_CURRENT = (
    "Is it the motor's current, not the battery's (a controller makes more amps of fewer)? Is the meter's range and zero right, the mass "
    "that of the motor alone, and did the case readings sit on bare metal?"
)


def heat_sensible(ln_factor: float, sd: float, run: tuple[float, float], file: str) -> tuple[Finding, ...]:
    """Warn of heat put in that no usual motor of this mass takes, refuse it where it is beyond doubt.

    Parameters
    ----------
    ln_factor, sd : float
        From :func:`heat_scale`.
    run : tuple of float
        The stated current [A], and the one that would agree with a usual motor [A].
    file : str
        What messages call the log.

    Raises
    ------
    InputProblem
        More than ALIEN_SDS off.
    """
    stated, agreeing = run
    off = abs(ln_factor) / sd
    more = exp(abs(ln_factor))
    way = "less" if ln_factor > 0.0 else "more"
    if off > ALIEN_SDS:
        raise InputProblem(
            file, "run", f"{stated:g} A, {more:.1f} times {way} heat than a motor of this mass takes to warm like this",
            f"about {agreeing:.0f} A", WHICH_CURRENT,
        )  # fmt: skip
    if off <= UNLIKELY_SDS:
        return ()
    return (
        Finding(
            "heat-unlikely", "warning",
            f"The run put in {more:.1f} times {way} heat than a usual motor of this mass takes to warm like this; about {agreeing:.0f} A would "
            f"agree, not {stated:g} A. If the current is wrong, so are all four numbers, by that factor. {WHICH_CURRENT}",
            {"heat_factor": exp(-ln_factor), "agreeing_current_a": agreeing},
        ),
    )  # fmt: skip


def resistances_possible(
    values: Mapping[str, Uncertain], mass_kg: float, usual: Mapping[str, float], file: str
) -> Iterator[Finding]:
    """Refuse thermal resistances that a motor's surface cannot have, warn of those far from usual.

    Raises
    ------
    InputProblem
        The whole band of one lies outside.
    """
    for key, (least, most) in resistance_limits(mass_kg).items():
        found = values[key]
        if found.high < least or found.low > most:
            raise InputProblem(
                file, "run", f"readings from which {key} = {found.value:.3g} ({found.low:.3g} to {found.high:.3g})",
                f"{least:.2g} to {most:.2g} K/W for a motor of {mass_kg:g} kg: what its surface and slots can pass",
                "Check the current, the mass, and when the readings after switching off were taken.",
            )  # fmt: skip
        if found.high < usual[key] / UNLIKELY_FACTOR or found.low > usual[key] * UNLIKELY_FACTOR:
            yield Finding(
                "cooling-unlikely", "warning",
                f"{key} = {found.value:.3g} is far from the {usual[key]:.2g} usual for a motor of {mass_kg:g} kg. A fan or a bolted frame "
                "cools more, a closed box less; was it so in the test, and is it so on the vehicle?",
                {key: found.value},
            )  # fmt: skip
