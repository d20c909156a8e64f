"""The pack as a source: rested voltage, resistance, capacity and resistance against temperature, short circuit."""

from __future__ import annotations

from math import exp

from numpy import float64
from numpy.typing import NDArray

from ridesim.physics.compiled import compiled

LOWEST_C, HIGHEST_C, REFERENCE_C = -20.0, 50.0, 25.0
"""Range and reference of the temperature factors. [°C]"""


@compiled
def open_circuit(charge: float, table_z: NDArray[float64], table_v: NDArray[float64]) -> float:
    """Rested voltage, linear between the table's points, constant beyond its ends.

    Parameters
    ----------
    charge : float
        State of charge, 0 to 1. [-]
    table_z, table_v : ndarray, shape (n,)
        Rising states of charge [-] and voltages [V].

    Returns
    -------
    float
        Voltage. [V]
    """
    last = table_z.shape[0] - 1
    if charge <= table_z[0]:
        return float(table_v[0])
    if charge >= table_z[last]:
        return float(table_v[last])
    low = 0
    while table_z[low + 1] < charge:
        low += 1
    share = (charge - table_z[low]) / (table_z[low + 1] - table_z[low])
    return float(table_v[low] + share * (table_v[low + 1] - table_v[low]))


@compiled
def resistance_factor(charge: float, rise: float) -> float:
    """Growth of resistance towards empty: f_z = 1 + a (1 - z)³.

    Parameters
    ----------
    charge : float
        State of charge, 0 to 1. [-]
    rise : float
        a; handbooks give a factor of 1.5 to 2.5 near empty (from memory). [-]

    Returns
    -------
    float
        Factor on the full pack's resistance. [-]
    """
    empty = 1.0 - charge
    return 1.0 + rise * empty * empty * empty


@compiled
def resistance_temperature_factor(temperature: float, per_k: float) -> float:
    """Resistance against 25 °C: f_T = exp(per_k (T - 25)), for -20 to 50 °C.

    Parameters
    ----------
    temperature : float
        Pack temperature. [°C]
    per_k : float
        -0.013 lead-acid (1.8 times at -20 °C, 1.4 at 0 °C), -0.03 lithium (from memory). [1/K]

    Returns
    -------
    float
        Factor. [-]
    """
    return exp(per_k * (temperature - REFERENCE_C))


@compiled
def capacity_temperature_factor(temperature: float, per_k: float) -> float:
    """Capacity against 25 °C: f_cap = 1 + per_k (T - 25).

    Parameters
    ----------
    temperature : float
        Pack temperature. [°C]
    per_k : float
        0.006 to 0.010. [1/K]

    Returns
    -------
    float
        Factor. [-]

    References
    ----------
    IEC 60896-11, correction of test capacity (from memory).
    """
    return 1.0 + per_k * (temperature - REFERENCE_C)


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
