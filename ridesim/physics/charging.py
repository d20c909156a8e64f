"""Charging: current and overvoltage at the charger, temperature compensation, energy from the socket, gas and air."""

from __future__ import annotations

from math import exp

from ridesim.physics.compiled import compiled
from ridesim.physics.pack import REFERENCE_C

FASTER_BY_V = 0.112
"""x_s: so much more voltage a cell makes the charging tail a factor e faster. [V]"""
AIR_PER_GAS_M3 = 0.05
"""Air for each ampere-hour of gassing: 24 volumes of air for one of hydrogen (4 % limit) × 0.42e-3 m³ of hydrogen × safety factor 5. [m³/(A h)]"""
VENT_CM2_PER_M3_H = 28.0
"""Opening for natural ventilation, inlet and outlet each, air at 0.1 m/s. [cm² h/m³]"""
ROOM_PER_M3_H = 2.5
"""Free volume of the room over the air flow. [h]"""


def compensated_voltage(voltage: float, cells: int, per_k: float, temperature: float) -> float:
    """Charger's voltage at a temperature: V = V_25 + n a (T - 25).

    MODEL.md (7.1).

    Parameters
    ----------
    voltage : float
        At 25 °C. [V]
    cells : int
        n, cells in series. [-]
    per_k : float
        a, -0.005 for lead-acid in cyclic use, 0 for none. [V/K a cell]
    temperature : float
        Air, and pack. [°C]

    Returns
    -------
    float
        Voltage. [V]

    References
    ----------
    Makers' charging characteristics: -30 mV/K on 12 V (cycle), -18 mV/K (float).
    """
    return voltage + cells * per_k * (temperature - REFERENCE_C)


def acceptance_conductance(capacity: float, overvoltage: float, tail: float, excess: float) -> float:
    """Charging current a volt of overvoltage, with the whole capacity missing: G_a = C/(ΔV τ_a) exp(max(0, x)/x_s).

    MODEL.md (7.2).

    Parameters
    ----------
    capacity : float
        C. [A s]
    overvoltage : float
        ΔV, the absorption voltage wanted at the pack's temperature less the rested voltage where the tail ends; above 0. [V]
    tail : float
        τ_a, time constant of the tail at that voltage. [s]
    excess : float
        x, how far the charger's voltage is above the one wanted, a cell. [V]

    Returns
    -------
    float
        Conductance; where only a share of the capacity is missing, that share of it. [S]

    References
    ----------
    From I = Q_missing/τ_a at ΔV, the exponential tail of makers' charging characteristics. τ_a of lead-acid and x_s fitted to the charges
    of two measured sealed blocks, at 2.40 and 2.49 V a cell (data/published/measured_blocks.csv).
    """
    return capacity / (overvoltage * tail) * exp(max(0.0, excess) / FASTER_BY_V)


@compiled
def charge_current(
    setting: float,
    missing: float,
    acceptance: float,
    voltage: float,
    rested: float,
    polarisation: float,
    resistance: float,
    slow: float,
) -> tuple[float, float]:
    """Current that a charger drives into the pack, and the overvoltage of acceptance.

    MODEL.md (7.3).

    Parameters
    ----------
    setting : float
        What the charger would give into the pack. [A]
    missing : float
        Ampere-hours that the cells miss, over C. [-]
    acceptance : float
        C/(ΔV τ_a) from :func:`acceptance_conductance`. [S]
    voltage : float
        Charger's voltage at its temperature. [V]
    rested, polarisation : float
        E(z) and V_pol, which is negative on charge. [V]
    resistance, slow : float
        R_0 and R_1. [ohm]

    Returns
    -------
    current : float
        min(setting, (V - E + V_pol)/(R_0 + R_c)), 0 or more. [A]
    overvoltage : float
        I R_c. The terminals stand at E - V_pol + I (R_0 + R_c): below the charger's voltage at constant current, at it
        in the tail and at full. [V]

    References
    ----------
    Constant current, then the tail I = I_c exp(-t/τ) of makers' charging characteristics. The resistance of acceptance
    R_c = ΔV τ_a/Q_missing - R_0 - R_1, 0 or more, gives that tail near full. It is computed as a conductance, which
    is 0 at full where R_c is infinite.
    """
    left = voltage - rested + polarisation
    if left <= 0.0:
        return 0.0, 0.0
    conductance = max(0.0, missing) * acceptance
    inner = (resistance + slow) * conductance
    if inner >= 1.0:  # the pack's own resistance is all there is
        return (min(setting, left / resistance) if resistance > 0.0 else setting), 0.0
    # R_0 + R_c = (1 - R_1 g)/g and R_c = (1 - (R_0 + R_1) g)/g with the conductance g.
    most = conductance * left / (1.0 - slow * conductance)
    if setting >= most:
        return most, left * (1.0 - inner) / (1.0 - slow * conductance)
    return setting, setting * (1.0 - inner) / conductance


def wall_energy(charge: float, nominal: float, battery: float, charger: float) -> float:
    """The trade's rule for the energy from the socket: E = Ah_out V_nom/(η_battery η_charger).

    MODEL.md (7.4).

    Parameters
    ----------
    charge : float
        Charge taken out, to be put back. [Ah]
    nominal : float
        Label voltage. [V]
    battery, charger : float
        Watt-hours out over watt-hours in of the pack; watt-hours into the pack over watt-hours from the socket. [-]

    Returns
    -------
    float
        Energy. [Wh]

    References
    ----------
    Common practice; 0.70 to 0.85 for lead-acid, 0.92 to 0.97 for lithium, 0.82 to 0.92 for chargers (from memory).
    """
    return charge * nominal / (battery * charger)


def hydrogen_air_flow(cells: int, gas_a_per_100ah: float, capacity: float) -> float:
    """Air that keeps the hydrogen of charging harmless: Q = 0.05 n I_gas C/100.

    MODEL.md (7.5).

    Parameters
    ----------
    cells : int
        Cells, all strings together. [-]
    gas_a_per_100ah : float
        I_gas; 1 valve-regulated, 2 vented, charger with limited voltage. [A/100 Ah]
    capacity : float
        Of one string. [Ah]

    Returns
    -------
    float
        Air flow. [m³/h]

    References
    ----------
    IEC 62485-3 (formerly EN 50272-3), as quoted by an airflow calculation page; 0.05 = 24 × 0.42e-3 × 5.
    """
    return AIR_PER_GAS_M3 * cells * gas_a_per_100ah * capacity / 100.0


def vent_area(flow: float) -> float:
    """Opening for natural ventilation, inlet and outlet each: A = 28 Q.

    MODEL.md (7.6).

    Parameters
    ----------
    flow : float
        Air flow. [m³/h]

    Returns
    -------
    float
        Free opening. [cm²]

    References
    ----------
    As :func:`hydrogen_air_flow`.
    """
    return VENT_CM2_PER_M3_H * flow
