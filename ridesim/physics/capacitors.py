"""The controller's input capacitors: ripple current, and filling them before the contactor closes."""

from __future__ import annotations

from math import exp, log, sqrt

from ridesim.physics.compiled import compiled


@compiled
def capacitor_current(current: float, duty: float) -> float:
    """Root mean square of the input capacitors' current: I √(D (1 - D)), most at half duty.

    MODEL.md (4.10).

    Parameters
    ----------
    current : float
        Motor current, taken as free of ripple. [A]
    duty : float
        D, 0 to 1. [-]

    Returns
    -------
    float
        Ripple current. [A]

    References
    ----------
    A square wave between 0 and I at duty D, less its mean D I: any textbook of power electronics.
    """
    return current * sqrt(duty * (1.0 - duty))


@compiled
def precharge_voltage(time: float, volts: float, ohms: float, farads: float) -> float:
    """Voltage of the controller's capacitors while they fill through a resistor: V (1 - exp(-t/(R C))).

    MODEL.md (4.11).

    Parameters
    ----------
    time : float
        Since the resistor was connected. [s]
    volts : float
        Pack. [V]
    ohms, farads : float
        Resistor [ohm] and capacitors [F].

    Returns
    -------
    float
        Voltage. [V]

    References
    ----------
    First-order charging of a capacitor, any textbook of circuits.
    """
    return volts * (1.0 - exp(-time / (ohms * farads)))


@compiled
def precharge_time(share: float, ohms: float, farads: float) -> float:
    """Time until the capacitors hold a share of the pack's voltage: -R C ln(1 - share).

    MODEL.md (4.12).

    Parameters
    ----------
    share : float
        0 to below 1. [-]
    ohms, farads : float
        Resistor [ohm] and capacitors [F].

    Returns
    -------
    float
        Time. [s]

    References
    ----------
    The inverse of :func:`precharge_voltage`.
    """
    return -ohms * farads * log(1.0 - share)


@compiled
def precharge_energy(volts: float, farads: float) -> float:
    """Heat left in the resistor by one pre-charge, whatever its resistance: C V²/2.

    MODEL.md (4.13).

    Parameters
    ----------
    volts : float
        Pack. [V]
    farads : float
        Capacitors. [F]

    Returns
    -------
    float
        Heat. [J]

    References
    ----------
    The source gives C V², the capacitors keep half of it; any textbook of circuits.
    """
    return 0.5 * farads * volts * volts
