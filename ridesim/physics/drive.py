"""The drive: between motor shaft and wheel."""

from __future__ import annotations

from ridesim.physics.compiled import compiled


@compiled
def wheel_force(shaft_torque: float, ratio: float, radius: float, efficiency: float) -> float:
    """Force at the wheel from the torque at the motor shaft.

    MODEL.md (2.2).

    Parameters
    ----------
    shaft_torque : float
        Positive driving, negative dragging. [N m]
    ratio : float
        Motor turns a wheel turn, G. [-]
    radius : float
        Rolling radius of the driven wheel, r. [m]
    efficiency : float
        Gearbox and chain, η, 0 to 1. [-]

    Returns
    -------
    float
        τ G/r·η when driving; τ G/(r η) when power flows back through the chain. [N]

    References
    ----------
    Ehsani et al., Modern Electric, Hybrid Electric and Fuel Cell Vehicles, tractive effort (from memory); the losses
    always take from the side that gives.
    """
    force = shaft_torque * ratio / radius
    return force * efficiency if shaft_torque >= 0.0 else force / efficiency


@compiled
def shaft_torque(force: float, ratio: float, radius: float, efficiency: float) -> float:
    """Torque at the motor shaft for a wanted force at the wheel; the inverse of :func:`wheel_force`.

    MODEL.md (2.3).

    Parameters
    ----------
    force : float
        At the wheel, negative when the wheel drives the motor. [N]
    ratio, radius, efficiency : float
        As in :func:`wheel_force`.

    Returns
    -------
    float
        F r/(G η) when driving, F r/G·η when the wheel drives the motor. [N m]

    References
    ----------
    As :func:`wheel_force`.
    """
    torque = force * radius / ratio
    return torque / efficiency if force >= 0.0 else torque * efficiency


@compiled
def chain_loss(force: float, speed: float, efficiency: float) -> float:
    """Power lost in gearbox and chain.

    MODEL.md (2.4).

    Parameters
    ----------
    force : float
        Force that the drive puts on the wheel. [N]
    speed : float
        Road speed. [m/s]
    efficiency : float
        Gearbox and chain, η, 0 to 1. [-]

    Returns
    -------
    float
        F v (1/η - 1) when driving, |F v| (1 - η) when the wheel drives the motor. [W]

    References
    ----------
    As :func:`wheel_force`.
    """
    power = force * speed
    return power * (1.0 / efficiency - 1.0) if power >= 0.0 else -power * (1.0 - efficiency)


@compiled
def settling_rate(
    constant: float, ratio: float, radius: float, efficiency: float, path: float, effective_mass: float
) -> float:
    """Rate at which the speed settles under full throttle, as the back EMF holds the current.

    MODEL.md (2.5).

    Parameters
    ----------
    constant : float
        Torque a motor ampere, K. [N m/A]
    ratio, radius, efficiency : float
        As in :func:`wheel_force`.
    path : float
        Winding and switch resistance, R + R_on. [ohm]
    effective_mass : float
        Mass with what turns, m*. [kg]

    Returns
    -------
    float
        (K G/r)² η/((R + R_on) m*). [1/s]

    References
    ----------
    The reciprocal of a dc motor's mechanical time constant, J R/K² (any textbook of drives), with the vehicle for J.
    """
    back = constant * ratio / radius
    return back * back * efficiency / (path * effective_mass)
