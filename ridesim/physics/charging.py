"""Charging: voltage against temperature, the two phases in closed form, gas and air, short circuit. Outside the core's loop."""

from __future__ import annotations

from math import exp, log

REFERENCE_C = 25.0
AIR_PER_GAS_M3 = 0.05
"""q in Q = q n I_gas C: 24 (air for one part of hydrogen below 1 % at a safety factor 5 included) × 0.42e-3 × 5. [m³/(A h)]"""
VENT_CM2_PER_M3_H = 28.0
"""Opening for natural ventilation, inlet and outlet each, air at 0.1 m/s. [cm² h/m³]"""
ROOM_PER_M3_H = 2.5
"""Free volume of the room over the air flow. [h]"""


def compensated_voltage(voltage: float, cells: int, per_k: float, temperature: float) -> float:
    """Charger's voltage at a temperature: V = V_25 + n a (T - 25).

    Parameters
    ----------
    voltage : float
        At 25 °C. [V]
    cells : int
        n, cells in series. [-]
    per_k : float
        a, -0.005 for lead-acid in cyclic use, 0 for none. [V/K a cell]
    temperature : float
        [°C]

    Returns
    -------
    float
        Voltage. [V]

    References
    ----------
    Makers' charging characteristics: -30 mV/K on 12 V (cycle), -18 mV/K (float).
    """
    return voltage + cells * per_k * (temperature - REFERENCE_C)


def constant_current_hours(charge: float, current: float) -> float:
    """Time to bring in a charge at constant current: t = Q/I.

    Parameters
    ----------
    charge : float
        [Ah]
    current : float
        Above 0. [A]

    Returns
    -------
    float
        [h]
    """
    return charge / current


def tail_current(current: float, time: float, constant: float) -> float:
    """Current in the constant-voltage tail: I = I_c exp(-t/τ).

    Parameters
    ----------
    current : float
        I_c at the tail's start. [A]
    time, constant : float
        Since its start, and τ. [same unit]

    Returns
    -------
    float
        [A]
    """
    return current * exp(-time / constant)


def tail_hours(current: float, end: float, constant: float) -> float:
    """Time until the tail has fallen to a current: t = τ ln(I_c/I_end).

    Parameters
    ----------
    current, end : float
        I_c, I_end. [A]
    constant : float
        τ. [h]

    Returns
    -------
    float
        [h]; 0 where the tail starts below ``end``.
    """
    return max(0.0, constant * log(current / end))


def wall_energy(charge: float, nominal: float, battery: float, charger: float) -> float:
    """The trade's rule for the energy from the socket: E = Ah_out V_nom/(η_battery η_charger).

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
        [Wh]

    References
    ----------
    Common practice; 0.70 to 0.85 for lead-acid, 0.92 to 0.97 for lithium, 0.82 to 0.92 for chargers (from memory).
    """
    return charge * nominal / (battery * charger)


def hydrogen_air_flow(cells: int, gas_a_per_100ah: float, capacity: float) -> float:
    """Air that keeps the hydrogen of charging harmless: Q = 0.05 n I_gas C/100.

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
        [m³/h]

    References
    ----------
    IEC 62485-3 (formerly EN 50272-3), as quoted by an airflow calculation page; 0.05 = 24 × 0.42e-3 × 5.
    """
    return AIR_PER_GAS_M3 * cells * gas_a_per_100ah * capacity / 100.0


def vent_area(flow: float) -> float:
    """Opening for natural ventilation, inlet and outlet each: A = 28 Q.

    Parameters
    ----------
    flow : float
        [m³/h]

    Returns
    -------
    float
        [cm²]

    References
    ----------
    As :func:`hydrogen_air_flow`.
    """
    return VENT_CM2_PER_M3_H * flow


def short_circuit_current(rested: float, resistance: float) -> float:
    """Current through a dropped spanner: I = E/R_0; cables and the fault itself make it less.

    Parameters
    ----------
    rested : float
        E. [V]
    resistance : float
        R_0. [ohm]

    Returns
    -------
    float
        [A]
    """
    return rested / resistance
