"""The controller: an average-value step-down chopper between pack and motor, with its limits, capacitors and reverse.

Resistance of a path: what lies in series with the motor's current (winding and switch), or with the pack's (R_0).
"""

from __future__ import annotations

from math import sqrt

from ridesim.physics.compiled import compiled
from ridesim.physics.motor import back_emf

NOTHING, MOTOR_CURRENT, BATTERY_CURRENT, CUT_OFF, PACK_POWER, FULL_DUTY, SOFT_START, GRIP = range(8)
"""Which limit sets the largest motor current."""
LIMIT_NAMES = (
    "no current",
    "motor current",
    "battery current",
    "cut-off",
    "pack's maximum power",
    "full duty",
    "soft start",
    "the tyre's grip",
)

DIODE_V = 0.8
"""Voltage drop of the diodes across the controller's switches; common practice, no source. [V]"""


@compiled
def current_at_duty(
    duty: float, volts: float, omega: float, constant: float, brush: float, path: float, pack: float
) -> float:
    """Current of a permanent-magnet motor at a held duty, the pack sagging under duty times that current.

    MODEL.md (4.1).

    Parameters
    ----------
    duty : float
        D, 0 to 1. [-]
    volts : float
        E', the pack's voltage before the controller's own current. [V]
    omega : float
        Motor speed. [rad/s]
    constant, brush : float
        K [N m/A], brush drop [V].
    path, pack : float
        Winding with switch, R + R_on, and pack, R_0. [ohm]

    Returns
    -------
    float
        (D E' - K ω ∓ V_br)/(R + R_on + D² R_0). Negative: it brakes, the brush drop against that current too; none flows
        while K ω and D E' differ by less than the brush drop. [A]

    References
    ----------
    Motor side D V_b = K ω + V_br + I (R + R_on), battery side V_b = E' - R_0 D I: step-down chopper, Rashid, Power
    Electronics. Brush drop with the current's sign: Modelica Machines.Losses.
    """
    driving = duty * volts - back_emf(0.0, omega, constant, 0.0, 1.0)
    whole = path + duty * duty * pack
    return max(0.0, driving - brush) / whole if driving >= 0.0 else min(0.0, driving + brush) / whole


@compiled
def full_duty_current(
    volts: float, omega: float, constant: float, series: float, saturation: float, brush: float, path: float
) -> float:
    """Motor current with the switch closed all the time.

    MODEL.md (4.2).

    Parameters
    ----------
    volts : float
        E', the source's voltage behind the path's resistance. [V]
    omega : float
        Motor speed. [rad/s]
    constant, series, saturation : float
        As in :func:`ridesim.physics.motor.torque_constant`.
    brush : float
        Brush drop. [V]
    path : float
        Winding, switch and pack resistance together. [ohm]

    Returns
    -------
    float
        Current; negative where a permanent-magnet motor drives the source, or brakes into a resistor (E' = 0). [A]

    References
    ----------
    Permanent magnet: :func:`current_at_duty` at duty 1. Series-wound: E' = K(I) ω + V_br + I R, which multiplied by
    1 + I/I_sat is the quadratic a I² + b I = E' - V_br with one positive root, a = R/I_sat,
    b = k_s ω + R - (E' - V_br)/I_sat.
    """
    if series == 0.0:
        return current_at_duty(1.0, volts, omega, constant, brush, path, 0.0)
    free = volts - brush
    if free <= 0.0:
        return 0.0
    a = path / saturation
    b = series * omega + path - free / saturation
    root = sqrt(b * b + 4.0 * a * free)
    # Of the two ways to write the root, the one in which nothing cancels.
    return 2.0 * free / (b + root) if b >= 0.0 else (root - b) / (2.0 * a)


@compiled
def motor_power(
    current: float, omega: float, constant: float, series: float, saturation: float, brush: float, path: float
) -> float:
    """Power into motor and switch: P = I (K(I) ω + V_br + I (R + R_on)).

    MODEL.md (4.3).

    Parameters
    ----------
    current : float
        Motor current, 0 or more. [A]
    omega : float
        Motor speed. [rad/s]
    constant, series, saturation, brush : float
        As in :func:`full_duty_current`.
    path : float
        Winding and switch resistance, R + R_on. [ohm]

    Returns
    -------
    float
        Power. [W]

    References
    ----------
    Rashid, Power Electronics, step-down chopper: power in equals power out plus conduction losses.
    """
    return current * (back_emf(current, omega, constant, series, saturation) + brush + current * path)


@compiled
def current_for_power(
    power: float, omega: float, constant: float, series: float, saturation: float, brush: float, path: float
) -> float:
    """Motor current that takes a power; the inverse of :func:`motor_power`.

    MODEL.md (4.4).

    Parameters
    ----------
    power : float
        Power from the pack into the controller; 0 or less takes no current. [W]
    omega, constant, series, saturation, brush, path : float
        As in :func:`motor_power`.

    Returns
    -------
    float
        Current. [A]

    Notes
    -----
    Permanent magnet: the quadratic's positive root, with e = K ω + V_br, written as 2 P/(e + √(e² + 4 (R + R_on) P)) so
    that nothing cancels. Series-wound: a cubic, solved by Newton's method. P(I) rises and is convex, and the same motor
    without back EMF (the quadratic's root with e = V_br) needs more current, so that from this start every step falls
    towards the root and none overshoots it. P'(I) = K(I) ω (1 + 1/(1 + I/I_sat)) + V_br + 2 I (R + R_on).

    References
    ----------
    As :func:`motor_power`.
    """
    if power <= 0.0:
        return 0.0
    if series == 0.0:
        opposing = back_emf(0.0, omega, constant, series, saturation) + brush
        return 2.0 * power / (opposing + sqrt(opposing * opposing + 4.0 * path * power))
    current = 2.0 * power / (brush + sqrt(brush * brush + 4.0 * path * power))
    for _ in range(50):
        emf = back_emf(current, omega, constant, series, saturation)
        slope = emf * (1.0 + 1.0 / (1.0 + current / saturation)) + brush + 2.0 * current * path
        step = (current * (emf + brush + current * path) - power) / slope
        current -= step
        if abs(step) <= 1e-13 * current:
            break
    return current


@compiled
def largest_pack_current(volts: float, pack: float, battery_limit: float, cutoff: float) -> tuple[float, int]:
    """Largest pack current that the controller may take, and which limit sets it.

    MODEL.md (4.5).

    Parameters
    ----------
    volts : float
        E', the pack's voltage before the controller's own current. [V]
    pack : float
        Pack resistance R_0, above 0. [ohm]
    battery_limit : float
        The controller's limit of its pack current. [A]
    cutoff : float
        Cut-off voltage at which the controller folds back. [V]

    Returns
    -------
    tuple of float and int
        max(0, min(I_limit, (E' - V_cut)/R_0, E'/(2 R_0))) [A], and the limit (an index of :data:`LIMIT_NAMES`).

    References
    ----------
    Ohm's law for the cut-off; E'/(2 R_0) is where a source gives its greatest power.
    """
    allowed, limit = battery_limit, BATTERY_CURRENT
    if volts - cutoff < pack * allowed:
        allowed, limit = (volts - cutoff) / pack, CUT_OFF
    if volts < 2.0 * pack * allowed:
        allowed, limit = volts / (2.0 * pack), PACK_POWER
    return max(0.0, allowed), limit


@compiled
def largest_current(
    volts: float, omega: float, constant: float, series: float, saturation: float, brush: float, path: float,
    pack: float, battery_limit: float, motor_limit: float, cutoff: float, drop: float = 0.0,
) -> tuple[float, int]:  # fmt: skip
    """Largest motor current at a speed, and which limit sets it.

    MODEL.md (4.6).

    Parameters
    ----------
    volts : float
        E', the pack's voltage before the controller's own current. [V]
    omega : float
        Motor speed. [rad/s]
    constant, series, saturation, brush : float
        As in :func:`full_duty_current`.
    path : float
        Winding and switch resistance, R + R_on. [ohm]
    pack, battery_limit, cutoff : float
        As in :func:`largest_pack_current`. [ohm], [A], [V]
    motor_limit : float
        The controller's limit of the motor current. [A]
    drop : float
        V_f of :func:`freewheel_loss`. [V]

    Returns
    -------
    tuple of float and int
        Current [A], 0 or more, and the limit (an index of :data:`LIMIT_NAMES`).

    References
    ----------
    Power balance of the average-value step-down chopper (Rashid, Power Electronics), with the pack's sag.
    """
    allowed, limit = largest_pack_current(volts, pack, battery_limit, cutoff)
    closed = full_duty_current(volts, omega, constant, series, saturation, brush, path + pack)
    if closed <= allowed:
        current, limit = closed, FULL_DUTY
    else:
        power = allowed * (volts + drop - pack * allowed)
        current = current_for_power(power, omega, constant, series, saturation, brush + drop, path)
    if motor_limit <= current:
        current, limit = motor_limit, MOTOR_CURRENT
    return max(0.0, current), limit


@compiled
def pack_current_for_power(power: float, volts: float, pack: float) -> float:
    """The controller's pack current for a power behind a sagging pack: the smaller root of P = I (E' - R_0 I).

    MODEL.md (4.7).

    Parameters
    ----------
    power : float
        Power that motor and switch take, up to the pack's greatest, E'²/(4 R_0); 0 or less takes no current. [W]
    volts : float
        E' as in :func:`largest_current`. [V]
    pack : float
        Pack resistance R_0. [ohm]

    Returns
    -------
    float
        2 P/(E' + √(E'² - 4 R_0 P)). [A]

    References
    ----------
    Power balance at the pack's terminals, as :func:`motor_power`.
    """
    if power <= 0.0:
        return 0.0
    return 2.0 * power / (volts + sqrt(max(0.0, volts * volts - 4.0 * pack * power)))


@compiled
def freewheel_loss(current: float, taken: float, drop: float) -> float:
    """Loss in the diode that carries the motor's current while the switch is open: P = V_f (I_m - I_b) = V_f I_m (1 - D).

    MODEL.md (4.16).

    Parameters
    ----------
    current, taken : float
        Motor current I_m and the controller's pack current I_b = D I_m. [A]
    drop : float
        V_f, voltage drop of that diode; 0 for a second switch in its place. [V]

    Returns
    -------
    float
        Loss. [W]

    References
    ----------
    Mean of the motor's voltage over a cycle, D V_b - (1 - D) V_f: step-down chopper, Rashid, Power Electronics. Multiplied by I_m it is
    I_b (V_b + V_f) = I_m (K ω + V_br + V_f + I_m (R + R_on)): the power balance of an ideal chopper between E' + V_f and V_br + V_f.
    """
    return drop * max(0.0, current - taken)


@compiled
def returned_current(volts: float, omega: float, constant: float, brush: float, path: float, pack: float) -> float:
    """Current that a permanent-magnet motor, turned by the wheel, drives through the controller's diodes into the pack.

    MODEL.md (4.14).

    Parameters
    ----------
    volts : float
        E', the pack's voltage before the controller's own current. [V]
    omega : float
        Motor speed. [rad/s]
    constant, brush : float
        K [N m/A], brush drop [V].
    path, pack : float
        Winding with switch, R + R_on, and pack, R_0. [ohm]

    Returns
    -------
    float
        (K ω - V_br - V_d - E')/(R + R_on + R_0), 0 or more. [A]

    References
    ----------
    Kirchhoff's voltage law around pack, diode and motor; a chopper's switch has a diode across it: Rashid, Power Electronics.
    """
    beyond = constant * omega - brush - DIODE_V - volts
    return beyond / (path + pack) if beyond > 0.0 else 0.0


@compiled
def returning_speed(volts: float, constant: float, brush: float) -> float:
    """Motor speed from which :func:`returned_current` flows: ω = (E' + V_br + V_d)/K.

    MODEL.md (4.15).

    Parameters
    ----------
    volts : float
        E'. [V]
    constant, brush : float
        K [N m/A], brush drop [V].

    Returns
    -------
    float
        Speed. [rad/s]

    References
    ----------
    As :func:`returned_current`.
    """
    return (volts + brush + DIODE_V) / constant


@compiled
def soft_start_share(seconds: float, ramp: float) -> float:
    """Share of its largest current that a soft start lets into the motor: a straight line from 0 to 1.

    MODEL.md (4.8).

    Parameters
    ----------
    seconds : float
        Since the throttle opened. [s]
    ramp : float
        Length of the ramp; 0: none. [s]

    Returns
    -------
    float
        t/t_ramp, 0 to 1. [-]

    References
    ----------
    Common practice, no source: controllers ramp the set value of the current or of the duty; a current ramp is taken.
    """
    if seconds >= ramp:
        return 1.0
    return max(0.0, seconds / ramp)


@compiled
def reversal_current(volts: float, emf: float, path: float) -> float:
    """Current when supply and back EMF drive the same way, as when reversed at speed: I = (V + E)/R.

    MODEL.md (4.9).

    Nearly twice the stall current at full speed: commutator flash-over, magnets weakened, chain shock.

    Parameters
    ----------
    volts : float
        Supply. [V]
    emf : float
        Back EMF. [V]
    path : float
        All resistance in the circuit. [ohm]

    Returns
    -------
    float
        Current. [A]

    References
    ----------
    Kirchhoff's voltage law around the circuit ("plugging" in textbooks of dc machines).
    """
    return (volts + emf) / path
