"""The controller: an average-value step-down chopper between pack and motor, with its limits, capacitors and reverse."""

from __future__ import annotations

from math import exp, log, sqrt

from ridesim.physics.compiled import compiled
from ridesim.physics.motor import torque_constant

NOTHING, MOTOR_CURRENT, BATTERY_CURRENT, CUT_OFF, PACK_POWER, FULL_DUTY, SOFT_START = range(7)
"""Which limit sets the largest motor current."""
LIMIT_NAMES = (
    "no current",
    "motor current",
    "battery current",
    "cut-off",
    "pack's maximum power",
    "full duty",
    "soft start",
)


@compiled
def full_duty_current(
    volts: float, omega: float, constant: float, series: float, saturation: float, brush: float, path: float
) -> float:
    """Motor current with the switch closed all the time.

    Parameters
    ----------
    volts : float
        Source voltage behind the path's resistance, E'. [V]
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

    Notes
    -----
    E' = K(I) ω + V_br sign(I) + I R: the brushes' drop is against the current whichever way it flows, so that none flows while
    Kω and E' differ by less (Modelica Machines.Losses). Series-wound: multiplied by (1 + I/I_sat) this is a quadratic with one positive root.
    """
    if series > 0.0:
        free = volts - brush
        if free <= 0.0:
            return 0.0
        a = path / saturation
        b = series * omega + path - free / saturation
        # Written with the root that does not cancel.
        root = sqrt(b * b + 4.0 * a * free)
        return 2.0 * free / (b + root) if b >= 0.0 else (root - b) / (2.0 * a)
    driving = volts - constant * omega
    return max(0.0, driving - brush) / path if driving >= 0.0 else min(0.0, driving + brush) / path


@compiled
def motor_power(
    current: float, omega: float, constant: float, series: float, saturation: float, brush: float, path: float
) -> float:
    """Power into motor and switch: I (K ω + V_br + I (R + R_on)). [W]

    Parameters
    ----------
    current : float
        Motor current. [A]
    omega : float
        Motor speed. [rad/s]
    constant, series, saturation, brush : float
        As in :func:`full_duty_current`.
    path : float
        Winding and switch resistance. [ohm]

    References
    ----------
    Rashid, Power Electronics, step-down chopper: power in equals power out plus conduction losses.
    """
    return current * (torque_constant(current, constant, series, saturation) * omega + brush + current * path)


@compiled
def current_for_power(
    power: float, omega: float, constant: float, series: float, saturation: float, brush: float, path: float
) -> float:
    """Motor current that takes a power; the inverse of :func:`motor_power`.

    Parameters
    ----------
    power : float
        Power from the pack into the controller, 0 or more. [W]
    omega, constant, series, saturation, brush, path : float
        As in :func:`motor_power`.

    Returns
    -------
    float
        Current. [A]
    """
    if series == 0.0:
        emf = constant * omega + brush
        return 2.0 * power / (emf + sqrt(emf * emf + 4.0 * path * power)) if power > 0.0 else 0.0
    if power <= 0.0:
        return 0.0
    # Newton from above on a convex rising function: K(0) = 0 gives the upper start.
    current = 2.0 * power / (brush + sqrt(brush * brush + 4.0 * path * power))
    for _ in range(50):
        flux = torque_constant(current, constant, series, saturation)
        slope = omega * flux * (1.0 + 1.0 / (1.0 + current / saturation)) + brush + 2.0 * current * path
        step = (current * (flux * omega + brush + current * path) - power) / slope
        current -= step
        if abs(step) <= 1e-13 * current:
            break
    return current


@compiled
def largest_current(
    volts: float,
    omega: float,
    constant: float,
    series: float,
    saturation: float,
    brush: float,
    path: float,
    pack: float,
    battery_limit: float,
    motor_limit: float,
    cutoff: float,
) -> tuple[float, int]:
    """Largest motor current at a speed, and which limit sets it.

    Parameters
    ----------
    volts : float
        Pack voltage before the controller's own current: E' = E - V_pol - R_0 (I_standby + I_other). [V]
    omega : float
        Motor speed. [rad/s]
    constant, series, saturation, brush : float
        As in :func:`full_duty_current`.
    path : float
        Winding and switch resistance, R + R_on. [ohm]
    pack : float
        Pack resistance R_0, above 0. [ohm]
    battery_limit, motor_limit : float
        Controller's two limits. [A]
    cutoff : float
        Cut-off voltage. [V]

    Returns
    -------
    tuple of float and int
        Current [A], 0 or more, and the limit (an index of :data:`LIMIT_NAMES`).

    References
    ----------
    Power balance of the average-value step-down chopper (Rashid, Power Electronics), with the pack's sag; see
    ``DEVELOPERS.md``, "The model".
    """
    allowed, limit = battery_limit, BATTERY_CURRENT
    above_cutoff = (volts - cutoff) / pack
    if above_cutoff < allowed:
        allowed, limit = above_cutoff, CUT_OFF
    most_power = volts / (2.0 * pack)
    if most_power < allowed:
        allowed, limit = most_power, PACK_POWER
    allowed = max(0.0, allowed)
    closed = full_duty_current(volts, omega, constant, series, saturation, brush, path + pack)
    if closed <= allowed:
        current, limit = closed, FULL_DUTY
    else:
        power = allowed * (volts - pack * allowed)
        current = current_for_power(power, omega, constant, series, saturation, brush, path)
    if motor_limit <= current:
        current, limit = motor_limit, MOTOR_CURRENT
    return max(0.0, current), limit


@compiled
def soft_start_share(seconds: float, ramp: float) -> float:
    """Share of its largest current that a soft start lets into the motor: a straight line from 0 to 1.

    Parameters
    ----------
    seconds : float
        Since the throttle opened. [s]
    ramp : float
        The whole ramp; 0: none. [s]

    Returns
    -------
    float
        0 to 1.

    Notes
    -----
    Common practice, no source: controllers ramp the current's or the duty's set value; a current ramp is taken.
    """
    if seconds >= ramp:
        return 1.0
    return max(0.0, seconds / ramp)


@compiled
def pack_current_for_power(power: float, volts: float, pack: float) -> float:
    """Controller's pack current for a power behind a sagging pack: P = I (E' - R_0 I), the smaller root.

    Parameters
    ----------
    power : float
        Power wanted by motor and switch. [W]
    volts : float
        E' as in :func:`largest_current`. [V]
    pack : float
        R_0. [ohm]

    Returns
    -------
    float
        Current. [A]
    """
    if power <= 0.0:
        return 0.0
    return 2.0 * power / (volts + sqrt(max(0.0, volts * volts - 4.0 * pack * power)))


@compiled
def capacitor_current(current: float, duty: float) -> float:
    """Root mean square of the input capacitor's current: I √(D (1 - D)), most at half duty. [A]"""
    return current * sqrt(duty * (1.0 - duty))


@compiled
def precharge_voltage(time: float, volts: float, ohms: float, farads: float) -> float:
    """Voltage of the controller's capacitors while they fill through a resistor: V (1 - exp(-t/RC)). [V]"""
    return volts * (1.0 - exp(-time / (ohms * farads)))


@compiled
def precharge_time(share: float, ohms: float, farads: float) -> float:
    """Time until the capacitors hold a share of the pack's voltage: -RC ln(1 - share). [s]"""
    return -ohms * farads * log(1.0 - share)


@compiled
def precharge_energy(volts: float, farads: float) -> float:
    """Heat left in the resistor by one pre-charge, whatever its value: C V²/2. [J]"""
    return 0.5 * farads * volts * volts


@compiled
def current_at_duty(
    duty: float, volts: float, omega: float, constant: float, brush: float, path: float, pack: float
) -> float:
    """Motor current of a permanent-magnet motor at a held duty, the pack sagging under duty times that current.

    Parameters
    ----------
    duty : float
        0 to 1. [-]
    volts : float
        E' behind the pack's resistance. [V]
    omega : float
        Motor speed. [rad/s]
    constant, brush : float
        K [N m/A], brush drop [V].
    path, pack : float
        Winding with switch, and pack resistance. [ohm]

    Returns
    -------
    float
        (D E' - K ω - V_br)/(R + R_on + D² R_0); at D = 1 the closed switch's current. Negative: it brakes, brushes' drop against
        that current too. [A]

    Notes
    -----
    Motor side D V_b = K ω + V_br + I (R + R_on), battery side V_b = E' - R_0 D I.
    """
    driving, whole = duty * volts - constant * omega, path + duty * duty * pack
    return max(0.0, driving - brush) / whole if driving >= 0.0 else min(0.0, driving + brush) / whole


@compiled
def reversal_current(volts: float, emf: float, path: float) -> float:
    """Current when supply and back EMF drive the same way, as when reversed at speed: (V + E)/R. [A]

    Nearly twice the stall current at full speed: commutator flash-over, magnets weakened, chain shock.
    """
    return (volts + emf) / path
