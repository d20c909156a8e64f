"""Published loss laws of a brushed machine beyond the two-term drag: friction by a power of speed, core, stray load.

The vehicle's model keeps friction and viscous drag (a spin test finds no more). These laws say how much that leaves out.
"""

from __future__ import annotations

from ridesim.physics.compiled import compiled


@compiled
def friction_torque(omega: float, power: float, rated_omega: float, exponent: float) -> float:
    """Friction and fan torque growing with a power of speed: (P_f/ω_r) (|ω|/ω_r)^p, against the motion. [N m]

    Parameters
    ----------
    omega : float
        Speed. [rad/s]
    power, rated_omega : float
        Loss at a speed. [W], [rad/s]
    exponent : float
        2 usual, 1.5 axial fan, 2 radial fan. [-]

    References
    ----------
    Haumer, Kral, Kapeller, Bäuml, Gragger, The AdvancedMachines library: loss models for electric machines, 7th Modelica
    Conference 2009; Modelica.Electrical.Machines.Losses.Friction.
    """
    size = float(power / rated_omega * (abs(omega) / rated_omega) ** exponent)
    return size if omega >= 0.0 else -size


@compiled
def core_conductance(power: float, induced: float) -> float:
    """Conductance beside the induced voltage that takes the core loss: P_c/E². [A/V]

    Parameters
    ----------
    power, induced : float
        Core loss at an induced voltage. [W], [V]

    References
    ----------
    As :func:`friction_torque`; Modelica.Electrical.Machines.Losses.DCMachines.Core.
    """
    return power / (induced * induced)


@compiled
def stray_torque(current: float, omega: float, power: float, rated_current: float, rated_omega: float) -> float:
    """Stray-load torque: (P_s/ω_r) (I/I_r)² (ω/ω_r). [N m]

    Parameters
    ----------
    current, omega : float
        Motor current [A], speed [rad/s].
    power, rated_current, rated_omega : float
        Loss at a current and speed. [W], [A], [rad/s]

    References
    ----------
    As :func:`friction_torque`; Modelica.Electrical.Machines.Losses.DCMachines.StrayLoad.
    """
    return power / rated_omega * (current / rated_current) ** 2 * (omega / rated_omega)


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
    return friction + friction_torque(omega, viscous * omega_tested * omega_tested, omega_tested, 2.0)
