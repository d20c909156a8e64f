"""The motor's heat: two nodes, winding and case; their temperatures over time in closed form, cooling from the mass."""

from __future__ import annotations

from math import exp, log, sqrt
from typing import NamedTuple

from ridesim.physics.compiled import compiled
from ridesim.physics.motor import COPPER_PER_K, MOTOR_REFERENCE_C

COOLING_MASS_KG = 6.5
"""Mass of the reference motor of :func:`cooling_from_mass`: usual for 450 W; common practice, no source. [kg]"""
WINDING_TO_CASE_K_PER_W = 0.55
"""Its thermal resistance from winding to case: geometric mean of 0.3 to 1 K/W, enclosed motors without a fan, 200 to
1000 W (from memory). [K/W]"""
CASE_TO_AIR_K_PER_W = 1.0
"""The same from case to air: geometric mean of 0.5 to 2 K/W (from memory). [K/W]"""
COOLING_BAND = 2.0
"""The resistances from a mass may be this many times larger or smaller: about the width of those ranges (from memory)."""
S2_MINUTES = (10.0, 30.0, 60.0, 90.0)
"""Preferred times of short-time duty S2, IEC 60034-1 (from memory). [min]"""
S3_SHARES = (0.15, 0.25, 0.40, 0.60)
"""Preferred shares of the period of intermittent duty S3, IEC 60034-1 (from memory)."""
S3_PERIOD_S = 600.0
"""Period of duty S3, IEC 60034-1 (from memory). [s]"""


class HeatBalance(NamedTuple):
    """Both heat balances at a constant current: T_w' = p0 + p1 T_w + p2 T_c, T_c' = q0 + q1 T_w + q2 T_c.

    Attributes
    ----------
    p0, q0 : float
        [K/s]
    p1, p2, q1, q2 : float
        [1/s]
    """

    p0: float
    p1: float
    p2: float
    q0: float
    q1: float
    q2: float


@compiled
def winding_heating(
    current: float,
    resistance: float,
    brush: float,
    winding: float,
    case: float,
    winding_heat: float,
    winding_to_case: float,
) -> float:
    """Rate of the winding's temperature: (I² R + V_br I - (T_w - T_c)/R_wc)/C_w.

    MODEL.md (8.1).

    Parameters
    ----------
    current : float
        Motor current. [A]
    resistance : float
        Winding at its present temperature. [ohm]
    brush : float
        Brush drop. [V]
    winding, case : float
        Temperatures. [°C]
    winding_heat : float
        Heat capacity, C_w. [J/K]
    winding_to_case : float
        Thermal resistance, R_wc. [K/W]

    Returns
    -------
    float
        dT_w/dt. [K/s]

    References
    ----------
    Two-node lumped heat balance, any textbook of machine design.
    """
    heat = current * current * resistance + brush * current
    return (heat - (winding - case) / winding_to_case) / winding_heat


@compiled
def case_heating(
    friction_heat: float,
    winding: float,
    case: float,
    ambient: float,
    case_heat: float,
    winding_to_case: float,
    case_to_air: float,
) -> float:
    """Rate of the case's temperature: (τ_f ω + b ω² + (T_w - T_c)/R_wc - (T_c - T_amb)/R_ca)/C_c.

    MODEL.md (8.2).

    Parameters
    ----------
    friction_heat : float
        Power of the motor's own drag, τ_f ω + b ω². [W]
    winding, case, ambient : float
        Temperatures. [°C]
    case_heat : float
        Heat capacity, C_c. [J/K]
    winding_to_case, case_to_air : float
        Thermal resistances R_wc, R_ca. [K/W]

    Returns
    -------
    float
        dT_c/dt. [K/s]

    References
    ----------
    Two-node lumped heat balance, any textbook of machine design.
    """
    return (friction_heat + (winding - case) / winding_to_case - (case - ambient) / case_to_air) / case_heat


@compiled
def heat_balance(
    current: float, resistance: float, brush: float, friction_heat: float, ambient: float,
    winding_heat: float, case_heat: float, winding_to_case: float, case_to_air: float,
) -> HeatBalance:  # fmt: skip
    """The heat balances of winding and case at a constant current, where both are linear in the temperatures.

    MODEL.md (8.3).

    Parameters
    ----------
    current : float
        Motor current. [A]
    resistance, brush : float
        Winding at 20 °C [ohm]; brush drop [V].
    friction_heat : float
        Power of the motor's own drag, which heats the case. [W]
    ambient : float
        Air. [°C]
    winding_heat, case_heat : float
        Heat capacities C_w, C_c. [J/K]
    winding_to_case, case_to_air : float
        Thermal resistances R_wc, R_ca. [K/W]

    Returns
    -------
    HeatBalance
        Its six coefficients.

    References
    ----------
    :func:`winding_heating`, the resistance growing with the winding's temperature, and :func:`case_heating`.
    """
    copper = current * current * resistance
    p0 = (copper * (1.0 - MOTOR_REFERENCE_C * COPPER_PER_K) + brush * current) / winding_heat
    p1 = (copper * COPPER_PER_K - 1.0 / winding_to_case) / winding_heat
    p2 = 1.0 / (winding_to_case * winding_heat)
    q0 = (friction_heat + ambient / case_to_air) / case_heat
    q1 = 1.0 / (winding_to_case * case_heat)
    q2 = -(1.0 / winding_to_case + 1.0 / case_to_air) / case_heat
    return HeatBalance(p0, p1, p2, q0, q1, q2)


@compiled
def temperatures_after(time: float, winding: float, case: float, balance: HeatBalance) -> tuple[float, float]:
    """Temperatures of winding and case after a time at constant current, in closed form.

    MODEL.md (8.4).

    Parameters
    ----------
    time : float
        0 or more. [s]
    winding, case : float
        At the start. [°C]
    balance : HeatBalance
        From :func:`heat_balance`.

    Returns
    -------
    tuple of float
        Winding, case. [°C]

    References
    ----------
    x' = A x + c with A = [[p1, p2], [q1, q2]]; both eigenvalues λ1 > λ2 are real because p2 q1 > 0. Sylvester's formula:
    exp(A t) = (exp(λ1 t) (A - λ2) - exp(λ2 t) (A - λ1))/(λ1 - λ2), and its integral the same with (exp(λ t) - 1)/λ in place
    of exp(λ t), whose limit t is taken where an eigenvalue is 0 (the edge of thermal runaway).
    """
    p0, p1, p2, q0, q1, q2 = balance
    half, spread = 0.5 * (p1 + q2), sqrt(0.25 * (p1 - q2) ** 2 + p2 * q1)
    fast, slow = half - spread, half + spread
    e1, e2 = exp(slow * time), exp(fast * time)
    i1 = (e1 - 1.0) / slow if abs(slow * time) > 1e-9 else time
    i2 = (e2 - 1.0) / fast if abs(fast * time) > 1e-9 else time
    # x(t) = x(0) + ∫exp(A s) ds · x'(0), with x'(0) = (u, v) and ∫exp(A s) ds = a·1 + b·A.
    u, v = p0 + p1 * winding + p2 * case, q0 + q1 * winding + q2 * case
    gap = 2.0 * spread
    b = (i1 - i2) / gap
    a = (slow * i2 - fast * i1) / gap
    return winding + a * u + b * (p1 * u + p2 * v), case + a * v + b * (q1 * u + q2 * v)


@compiled
def steady_temperatures(balance: HeatBalance) -> tuple[float, float]:
    """Temperatures of winding and case after a long time at constant current.

    MODEL.md (8.5).

    Parameters
    ----------
    balance : HeatBalance
        From :func:`heat_balance`.

    Returns
    -------
    tuple of float
        Winding, case; infinite where copper heats faster than it can cool (thermal runaway). [°C]

    References
    ----------
    Both heat balances at zero rate, Cramer's rule; stable only with a positive determinant and a negative trace.
    """
    p0, p1, p2, q0, q1, q2 = balance
    determinant = p1 * q2 - p2 * q1
    if determinant <= 0.0 or p1 + q2 >= 0.0:
        return float("inf"), float("inf")
    return (p2 * q0 - p0 * q2) / determinant, (p0 * q1 - p1 * q0) / determinant


@compiled
def time_to_temperature(limit: float, winding: float, case: float, balance: HeatBalance) -> float:
    """Time at constant current until the winding reaches a temperature.

    MODEL.md (8.6).

    Parameters
    ----------
    limit : float
        The temperature. [°C]
    winding, case : float
        At the start. [°C]
    balance : HeatBalance
        From :func:`heat_balance`.

    Returns
    -------
    float
        Time, 0 where it starts there or above, infinite where it never gets there. [s]

    References
    ----------
    Bisection on :func:`temperatures_after`. A sum of two exponentials turns at most once: a winding beside a hotter case
    may pass the limit on the way to a peak and end below it, so the peak is tried first as the upper end of the
    bracket; without a peak, the end is found by doubling.
    """
    if winding >= limit:
        return 0.0
    below, above = 0.0, _peak_time(winding, case, balance)
    if temperatures_after(above, winding, case, balance)[0] < limit:
        if above > 0.0 or steady_temperatures(balance)[0] <= limit:
            return float("inf")
        above = 1.0
        while temperatures_after(above, winding, case, balance)[0] < limit:
            below = above
            above *= 2.0
            if above > 1e9:
                return float("inf")
    for _ in range(80):
        middle = 0.5 * (below + above)
        if temperatures_after(middle, winding, case, balance)[0] < limit:
            below = middle
        else:
            above = middle
    return above


@compiled
def _peak_time(winding: float, case: float, balance: HeatBalance) -> float:
    """Time at which a winding that warms first is hottest, before it cools; 0 where it has no such peak. [s]

    x'(t) = exp(A t) x'(0), as in :func:`temperatures_after`: the winding's rate is 0 where
    exp((λ1 - λ2) t) = (w - λ1 u)/(w - λ2 u), u being its first and w its second derivative at the start.
    """
    p0, p1, p2, q0, q1, q2 = balance
    half, spread = 0.5 * (p1 + q2), sqrt(0.25 * (p1 - q2) ** 2 + p2 * q1)
    u, v = p0 + p1 * winding + p2 * case, q0 + q1 * winding + q2 * case
    w = p1 * u + p2 * v
    above, below = w - (half + spread) * u, w - (half - spread) * u
    if u <= 0.0 or below >= 0.0 or above >= below:
        return 0.0
    return log(above / below) / (2.0 * spread)


@compiled
def cycled_peak(on_s: float, period_s: float, ambient: float, on: HeatBalance, off: HeatBalance) -> float:
    """Hottest winding in a long-repeated cycle of current, then rest: duty S3.

    MODEL.md (8.7).

    Parameters
    ----------
    on_s, period_s : float
        Time under current, and of the whole period. [s]
    ambient : float
        A temperature to compute from; the result does not depend on it. [°C]
    on, off : HeatBalance
        From :func:`heat_balance`, with and without current.

    Returns
    -------
    float
        Winding at the end of the time under current; infinite where the cycle runs away. [°C]

    References
    ----------
    IEC 60034-1, duty S3 (starting heat neglected). One period maps the temperatures linearly, x → M x + d; the map's
    fixed point is the start of a period in the repeated cycle.
    """
    d0, d1 = _period(ambient, ambient, on_s, period_s, on, off)
    a0, a1 = _period(ambient + 1.0, ambient, on_s, period_s, on, off)
    b0, b1 = _period(ambient, ambient + 1.0, on_s, period_s, on, off)
    m00, m10, m01, m11 = a0 - d0, a1 - d1, b0 - d0, b1 - d1
    determinant = (1.0 - m00) * (1.0 - m11) - m01 * m10
    if determinant <= 0.0 or m00 + m11 >= 2.0:
        return float("inf")
    u, v = d0 - ambient, d1 - ambient
    winding = ambient + ((1.0 - m11) * u + m01 * v) / determinant
    case = ambient + (m10 * u + (1.0 - m00) * v) / determinant
    peak, _ = temperatures_after(on_s, winding, case, on)
    return peak


@compiled
def _period(
    winding: float, case: float, on_s: float, period_s: float, on: HeatBalance, off: HeatBalance
) -> tuple[float, float]:
    """Winding and case after one period of current, then rest. [°C]"""
    w, c = temperatures_after(on_s, winding, case, on)
    return temperatures_after(period_s - on_s, w, c, off)


def cooling_from_mass(mass: float) -> tuple[float, float]:
    """Thermal resistances of a motor of which only the mass is known.

    MODEL.md (8.8).

    Parameters
    ----------
    mass : float
        Above 0. [kg]

    Returns
    -------
    tuple of float
        Winding to case, case to air; good within :data:`COOLING_BAND` either way. [K/W]

    References
    ----------
    R = R_a (m/m_a)^(-2/3): motors of one build scale in all lengths, heat leaves through surfaces, and surfaces grow as
    mass^(2/3). The reference motor (index a) is from memory, see the constants.
    """
    smaller = (mass / COOLING_MASS_KG) ** (-2.0 / 3.0)
    return WINDING_TO_CASE_K_PER_W * smaller, CASE_TO_AIR_K_PER_W * smaller
