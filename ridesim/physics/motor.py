"""The brushed motor: torque constant, back EMF, speed at a voltage, drag. ``series`` > 0 means series-wound.

A permanent-magnet motor has one constant K; a series-wound one K(I) = k_s I/(1 + I/I_sat). Each function takes both
sets (``constant`` for the one, ``series`` and ``saturation`` for the other) and branches once.
"""

from __future__ import annotations

from math import sqrt

from ridesim.physics.compiled import compiled

COPPER_PER_K = 0.00393
"""Temperature coefficient of annealed copper at 20 °C, IEC 60028 (from memory). [1/K]"""
FERRITE_PER_K = -0.0020
"""Temperature coefficient of hard ferrite's remanence, Modelica FluxTubes.Material.HardMagnetic. [1/K]"""
NEODYMIUM_PER_K = -0.0012
"""The same of neodymium magnets, -0.0009 to -0.0012, a magnet maker's page. [1/K]"""


@compiled
def warm_resistance(resistance: float, winding: float) -> float:
    """Winding resistance at temperature: R20 (1 + 0.00393 (T_w - 20)).

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
    IEC 60028 (copper coefficient, from memory).
    """
    return resistance * (1.0 + COPPER_PER_K * (winding - 20.0))


@compiled
def warm_constant(constant: float, per_k: float, case: float) -> float:
    """Torque constant with warm magnets: K20 (1 + α (T_c - 20)).

    Parameters
    ----------
    constant : float
        At 20 °C. [N m/A]
    per_k : float
        Coefficient of the magnet material. [1/K]
    case : float
        Case temperature, taken for the magnets'. [°C]

    Returns
    -------
    float
        Torque constant. [N m/A]
    """
    return constant * (1.0 + per_k * (case - 20.0))


@compiled
def torque_constant(current: float, constant: float, series: float, saturation: float) -> float:
    """Torque a motor ampere, which is also volts a rad/s.

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
def current_for_torque(torque: float, constant: float, series: float, saturation: float) -> float:
    """Motor current for a torque before friction, K(I) I = torque.

    Parameters
    ----------
    torque : float
        Electromagnetic torque; 0 or less needs no current. [N m]
    constant, series, saturation : float
        As in :func:`torque_constant`.

    Returns
    -------
    float
        Current. [A]
    """
    if torque <= 0.0:
        return 0.0
    if series > 0.0:
        half = 0.5 * torque / (series * saturation)
        return half + sqrt(half * half + torque / series)
    return torque / constant


@compiled
def drag_torque(omega: float, friction: float, viscous: float) -> float:
    """Motor's own drag: τ_f + b ω while it turns.

    Parameters
    ----------
    omega : float
        Motor speed. [rad/s]
    friction : float
        Constant part. [N m]
    viscous : float
        Part growing with speed. [N m s/rad]

    Returns
    -------
    float
        Torque against rotation. [N m]
    """
    return friction + viscous * omega


@compiled
def nameplate_current(
    power: float, voltage: float, constant: float, series: float, saturation: float,
    resistance: float, brush: float, friction: float, viscous: float,
) -> float:  # fmt: skip
    """Smallest motor current at which the shaft gives a power from a terminal voltage.

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
        Current, NaN where the motor can never give that power from that voltage. [A]

    Notes
    -----
    V = K ω + I R + V_br and P = ω (K I - τ_f - b ω); the power rises from no load to its peak, so the first crossing is
    found by a scan and then by bisection.
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
def speed_at_voltage(
    current: float, voltage: float, constant: float, series: float, saturation: float, resistance: float, brush: float
) -> float:
    """Motor speed at a terminal voltage and current: (V - V_br - I R)/K(I). [rad/s]"""
    return (voltage - brush - current * resistance) / torque_constant(current, constant, series, saturation)


@compiled
def loaded_speed(
    voltage: float, torque: float, constant: float, resistance: float, brush: float, viscous: float
) -> float:
    """Speed of a permanent-magnet motor at a terminal voltage against a torque.

    Parameters
    ----------
    voltage : float
        At the terminals. [V]
    torque : float
        That does not change with speed: load and friction. [N m]
    constant, resistance, brush, viscous : float
        K [N m/A], winding [ohm], brush drop [V], drag growing with speed [N m s/rad], all as warm as they are.

    Returns
    -------
    float
        Negative where the motor does not turn against the torque. [rad/s]

    Notes
    -----
    V = K ω + I R + V_br and K I = τ + b ω, two linear equations.
    """
    return (voltage - brush - resistance * torque / constant) / (constant + resistance * viscous / constant)


@compiled
def _shaft_power(
    current: float, voltage: float, constant: float, series: float, saturation: float,
    resistance: float, brush: float, friction: float, viscous: float,
) -> float:  # fmt: skip
    omega = speed_at_voltage(current, voltage, constant, series, saturation, resistance, brush)
    torque = torque_constant(current, constant, series, saturation) * current - drag_torque(omega, friction, viscous)
    # A series-wound motor at no current has no speed limit: count that as no power, not as infinity.
    return omega * torque if torque > 0.0 else -1.0


@compiled
def squared_drag(omega: float, friction: float, viscous: float, omega_tested: float) -> float:
    """The drag a spin test found, its growing part taken to grow with the square of speed instead. [N m]

    Parameters
    ----------
    omega : float
        Speed. [rad/s]
    friction, viscous : float
        What the test found. [N m], [N m s/rad]
    omega_tested : float
        Fastest tested speed, where both laws agree. [rad/s]
    """
    if omega_tested <= 0.0:
        return friction
    return friction + viscous * omega * omega / omega_tested
