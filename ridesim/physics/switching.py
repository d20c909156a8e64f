"""Figures of a chopper beyond its average: current ripple, capacitor current, losses, pre-charge, reverse at a part duty."""

from __future__ import annotations

from math import exp, log, sqrt

from ridesim.physics.compiled import compiled


@compiled
def ripple(volts: float, duty: float, frequency: float, inductance: float) -> float:
    """Peak-to-peak ripple of the motor current: V D (1 - D)/(f L). [A]

    Parameters
    ----------
    volts : float
        Pack voltage. [V]
    duty : float
        0 to 1. [-]
    frequency : float
        Of switching. [Hz]
    inductance : float
        Of the motor. [H]

    References
    ----------
    Rashid, Power Electronics, step-down chopper with constant back EMF, small ripple (from memory).
    """
    return volts * duty * (1.0 - duty) / (frequency * inductance)


@compiled
def chopped_current(
    volts: float, duty: float, emf: float, path: float, frequency: float, inductance: float
) -> tuple[float, float, float]:
    """Lowest, highest and mean motor current of a chopper at a held duty and speed, exactly, whether or not the current lapses.

    Parameters
    ----------
    volts : float
        Pack voltage. [V]
    duty : float
        Above 0 and below 1. [-]
    emf : float
        Back EMF and brush drop, 0 or more. [V]
    path : float
        Winding and switch. [ohm]
    frequency : float
        Of switching. [Hz]
    inductance : float
        Of the motor. [H]

    Returns
    -------
    tuple of float
        Lowest, highest, mean. [A] Lowest 0: the current lapses in every period (discontinuous conduction); at light load the motor
        then turns faster than the average-value model says.

    Notes
    -----
    L di/dt = V - E - R i while on, -E - R i through the diode. Continuous: i_low = (V/R)(exp(D z) - 1)/(exp(z) - 1) - E/R with
    z = R/(f L). Lapsed: from 0 in every period, out after (L/R) ln(1 + R i_high/E); the mean from the balance of the inductor's voltage.

    References
    ----------
    Rashid, Power Electronics, step-down converter with an RL load (from memory).
    """
    if emf >= volts:
        return 0.0, 0.0, 0.0
    rate = path / (frequency * inductance)
    low = volts / path * (exp(-(1.0 - duty) * rate) - exp(-rate)) / (1.0 - exp(-rate)) - emf / path
    if low > 0.0 or emf <= 0.0:
        fade = exp(-duty * rate)
        return low, (volts - emf) / path * (1.0 - fade) + low * fade, (duty * volts - emf) / path
    high = (volts - emf) / path * (1.0 - exp(-duty * rate))
    out = log(1.0 + path * high / emf) / rate
    return 0.0, high, (duty * volts - emf * (duty + out)) / path


@compiled
def ripple_rms(current: float, peak_to_peak: float) -> float:
    """Root mean square of a current with triangular ripple: √(I² + ΔI²/12). [A]"""
    return sqrt(current * current + peak_to_peak * peak_to_peak / 12.0)


@compiled
def capacitor_current(current: float, duty: float) -> float:
    """Root mean square of the input capacitor's current: I √(D (1 - D)), most at half duty. [A]"""
    return current * sqrt(duty * (1.0 - duty))


@compiled
def input_resistance(volts: float, duty: float, current: float) -> float:
    """Resistance that the chopper looks like to its supply: V/(D I). [ohm]"""
    return volts / (duty * current)


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
