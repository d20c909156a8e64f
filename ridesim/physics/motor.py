"""The brushed motor: torque constant, back EMF, resistance, drag, speed and current, magnets at risk.

A permanent-magnet motor has one constant K; a series-wound one K(I) = k_s I/(1 + I/I_sat). Functions that serve both
take ``constant`` for the one, ``series`` and ``saturation`` for the other: ``series`` above 0 means series-wound.
"""

from __future__ import annotations

from math import sqrt

from ridesim.physics.compiled import compiled

MOTOR_REFERENCE_C = 20.0
"""Temperature at which a motor's values are given. [°C]"""
COPPER_PER_K = 0.00393
"""Resistance of annealed copper, IEC 60028 (from memory). [1/K]"""
FERRITE_PER_K = -0.0020
"""Remanence of hard ferrite, Modelica FluxTubes.Material.HardMagnetic. [1/K]"""
NEODYMIUM_PER_K = -0.0012
"""Remanence of neodymium magnets, -0.0009 to -0.0012, a magnet maker's page. [1/K]"""
FERRITE_COERCIVITY_PER_K = 0.003
"""Coercivity of ferrite, about +0.3 % a kelvin: it is in danger when cold (from memory). [1/K]"""
NEODYMIUM_COERCIVITY_PER_K = -0.005
"""Coercivity of neodymium magnets, -0.4 to -0.6 % a kelvin: in danger when hot (a magnet maker's page). [1/K]"""


@compiled
def torque_constant(current: float, constant: float, series: float, saturation: float) -> float:
    """Torque a motor ampere, which is also volts a rad/s.

    MODEL.md (3.1).

    Parameters
    ----------
    current : float
        Motor current, 0 or more. [A]
    constant : float
        Permanent-magnet constant, used where ``series`` is 0. [N m/A]
    series : float
        k_s of a series-wound motor, 0 for permanent magnet. [N m/A²]
    saturation : float
        Current at which saturation has halved k_s. [A]

    Returns
    -------
    float
        K, or K(I) = k_s I/(1 + I/I_sat). [N m/A]

    References
    ----------
    Fitzgerald, Electric Machinery, series motor (unsaturated: torque as the square of current; from memory).
    """
    if series > 0.0:
        return series * current / (1.0 + current / saturation)
    return constant


@compiled
def back_emf(current: float, omega: float, constant: float, series: float, saturation: float) -> float:
    """Voltage that the turning armature induces against the supply: E = K(I) ω.

    MODEL.md (3.2).

    Parameters
    ----------
    current : float
        Motor current, 0 or more; a permanent-magnet motor's back EMF does not depend on it. [A]
    omega : float
        Motor speed. [rad/s]
    constant, series, saturation : float
        As in :func:`torque_constant`.

    Returns
    -------
    float
        Back EMF. [V]

    References
    ----------
    Fitzgerald, Electric Machinery, dc machines: one constant for torque and voltage (from memory).
    """
    return torque_constant(current, constant, series, saturation) * omega


@compiled
def warm_resistance(resistance: float, winding: float) -> float:
    """Winding resistance at a temperature: R_20 (1 + 0.00393 (T_w - 20)).

    MODEL.md (3.3).

    Parameters
    ----------
    resistance : float
        At 20 °C. [ohm]
    winding : float
        Winding temperature. [°C]

    Returns
    -------
    float
        Resistance. [ohm]

    References
    ----------
    IEC 60028 (coefficient of copper, from memory).
    """
    return resistance * (1.0 + COPPER_PER_K * (winding - MOTOR_REFERENCE_C))


@compiled
def warm_constant(constant: float, per_k: float, case: float) -> float:
    """Torque constant of a permanent-magnet motor at a temperature: K_20 (1 + α (T_c - 20)).

    MODEL.md (3.4).

    Parameters
    ----------
    constant : float
        At 20 °C. [N m/A]
    per_k : float
        α, the remanence's temperature coefficient: :data:`FERRITE_PER_K` or :data:`NEODYMIUM_PER_K`. [1/K]
    case : float
        Case temperature, taken for the magnets'. [°C]

    Returns
    -------
    float
        Torque constant. [N m/A]

    References
    ----------
    The flux goes with the magnets' remanence; the coefficients' sources stand beside them.
    """
    return constant * (1.0 + per_k * (case - MOTOR_REFERENCE_C))


@compiled
def drag_torque(omega: float, friction: float, viscous: float) -> float:
    """The motor's own drag while it turns: τ_f + b ω.

    MODEL.md (3.5).

    Parameters
    ----------
    omega : float
        Motor speed. [rad/s]
    friction : float
        τ_f, the constant part: brushes, bearings. [N m]
    viscous : float
        b, the part that grows with speed. [N m s/rad]

    Returns
    -------
    float
        Torque against rotation. [N m]

    References
    ----------
    The usual two-term fit of no-load losses, common practice, no source.
    """
    return friction + viscous * omega


@compiled
def current_for_torque(torque: float, constant: float, series: float, saturation: float) -> float:
    """Motor current for a torque before friction: the I of K(I) I = τ.

    MODEL.md (3.6).

    Parameters
    ----------
    torque : float
        Electromagnetic torque; 0 or less needs no current. [N m]
    constant, series, saturation : float
        As in :func:`torque_constant`.

    Returns
    -------
    float
        τ/K; series-wound, with h = τ/(2 k_s I_sat), h + √(h² + τ/k_s). [A]

    References
    ----------
    Algebra: the inverse of K(I) I from :func:`torque_constant`.
    """
    if torque <= 0.0:
        return 0.0
    if series > 0.0:
        half = 0.5 * torque / (series * saturation)
        return half + sqrt(half * half + torque / series)
    return torque / constant


@compiled
def speed_at_voltage(
    current: float, voltage: float, constant: float, series: float, saturation: float, resistance: float, brush: float
) -> float:
    """Motor speed at a terminal voltage and current: ω = (V - V_br - I R)/K(I).

    MODEL.md (3.7).

    Parameters
    ----------
    current : float
        Motor current, 0 or more. [A]
    voltage : float
        At the terminals. [V]
    constant, series, saturation : float
        As in :func:`torque_constant`.
    resistance : float
        Winding; a series-wound motor's field included. [ohm]
    brush : float
        Voltage drop of both brushes. [V]

    Returns
    -------
    float
        Speed; infinite for a series-wound motor without current. [rad/s]

    References
    ----------
    Voltage balance of the armature circuit, V = K(I) ω + I R + V_br: Fitzgerald, Electric Machinery (from memory).
    """
    return (voltage - brush - current * resistance) / torque_constant(current, constant, series, saturation)


@compiled
def loaded_speed(
    voltage: float, torque: float, constant: float, resistance: float, brush: float, viscous: float
) -> float:
    """Speed of a permanent-magnet motor at a terminal voltage against a torque.

    MODEL.md (3.8).

    Parameters
    ----------
    voltage : float
        At the terminals. [V]
    torque : float
        That does not change with speed: load and friction. [N m]
    constant, resistance, brush, viscous : float
        K [N m/A], winding [ohm], brush drop [V], drag growing with speed [N m s/rad], at their present temperatures.

    Returns
    -------
    float
        (V - V_br - R τ/K)/(K + R b/K); negative where the motor does not turn against the torque. [rad/s]

    References
    ----------
    V = K ω + I R + V_br and K I = τ + b ω, two linear equations.
    """
    return (voltage - brush - resistance * torque / constant) / (constant + resistance * viscous / constant)


@compiled
def nameplate_current(
    power: float, voltage: float, constant: float, series: float, saturation: float,
    resistance: float, brush: float, friction: float, viscous: float,
) -> float:  # fmt: skip
    """Smallest motor current at which the shaft gives a power from a terminal voltage.

    MODEL.md (3.9).

    Parameters
    ----------
    power : float
        Shaft power. [W]
    voltage : float
        Terminal voltage. [V]
    constant, series, saturation : float
        As in :func:`torque_constant`.
    resistance, brush, friction, viscous : float
        Winding [ohm], brush drop [V], friction [N m], viscous drag [N m s/rad].

    Returns
    -------
    float
        Current; NaN where the motor can never give that power from that voltage. [A]

    References
    ----------
    V = K(I) ω + I R + V_br and P = ω (K(I) I - τ_f - b ω). The power rises with current up to its peak, so the smallest
    current is found by a scan from no current to the stall and then by bisection.
    """
    stall = (voltage - brush) / resistance
    below, above = 0.0, -1.0
    steps = 400
    for step in range(1, steps):
        current = stall * step / steps
        if _shaft_power(current, voltage, constant, series, saturation, resistance, brush, friction, viscous) >= power:
            above = current
            break
        below = current
    if above < 0.0:
        return float("nan")
    for _ in range(60):
        middle = 0.5 * (below + above)
        if _shaft_power(middle, voltage, constant, series, saturation, resistance, brush, friction, viscous) >= power:
            above = middle
        else:
            below = middle
    return above


@compiled
def _shaft_power(
    current: float, voltage: float, constant: float, series: float, saturation: float,
    resistance: float, brush: float, friction: float, viscous: float,
) -> float:  # fmt: skip
    omega = speed_at_voltage(current, voltage, constant, series, saturation, resistance, brush)
    torque = torque_constant(current, constant, series, saturation) * current - drag_torque(omega, friction, viscous)
    # A series-wound motor without current has no speed limit: that counts as no power, not as infinite power.
    return omega * torque if torque > 0.0 else -1.0


@compiled
def squared_drag(omega: float, friction: float, viscous: float, omega_tested: float) -> float:
    """The drag found by a bench test, with its growing part taken to grow with the square of speed instead.

    MODEL.md (3.10).

    Parameters
    ----------
    omega : float
        Speed. [rad/s]
    friction : float
        τ_f from the test. [N m]
    viscous : float
        b from the test. [N m s/rad]
    omega_tested : float
        Fastest tested speed ω_t, where both laws agree. [rad/s]

    Returns
    -------
    float
        τ_f + b ω²/ω_t, the torque against rotation. [N m]

    References
    ----------
    Common practice, no source: a fan's torque grows with the square of speed. The other law beside
    :func:`drag_torque`, used to show what an extrapolation beyond the tested speed depends on.
    """
    if omega_tested <= 0.0:
        return friction
    return friction + viscous * omega * omega / omega_tested


@compiled
def demagnetising_current(at_20: float, per_k: float, celsius: float) -> float:
    """Current from which the armature's field may weaken the magnets for good: I_20 (1 + β (T - 20)).

    MODEL.md (3.11).

    Parameters
    ----------
    at_20 : float
        At 20 °C. [A]
    per_k : float
        β, the coercivity's temperature coefficient: :data:`FERRITE_COERCIVITY_PER_K` or
        :data:`NEODYMIUM_COERCIVITY_PER_K`. [1/K]
    celsius : float
        Temperature of the magnets. [°C]

    Returns
    -------
    float
        0 or more. [A]

    References
    ----------
    The field that a magnet withstands goes with its coercivity; the coefficients' sources stand beside them.
    """
    return max(0.0, at_20 * (1.0 + per_k * (celsius - MOTOR_REFERENCE_C)))
