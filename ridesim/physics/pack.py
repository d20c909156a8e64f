"""The pack as a source: rested voltage, resistance, capacity and resistance against temperature, short circuit."""

from __future__ import annotations

from math import exp, log, sqrt

from numpy import float64
from numpy.typing import NDArray

from ridesim.physics.compiled import compiled

REFERENCE_C = 25.0
"""Temperature at which a pack's values are given. [°C]"""
DEPLETED_SHARE = 0.08
"""The terminal voltage bends down within this much charge of empty: fitted to the discharges of two sealed blocks
(data/published/measured_blocks.csv). [-]"""
BARELY_LOADED = 0.05
"""Below this share of the rated current the voltage of an emptied pack comes back to the rested one. Common practice, no source."""


@compiled
def open_circuit(charge: float, table_z: NDArray[float64], table_v: NDArray[float64]) -> float:
    """Rested (open-circuit) voltage E(z), linear between the table's points, constant beyond its ends.

    MODEL.md (5.1).

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

    References
    ----------
    Linear interpolation; each chemistry's table and its source stand in :mod:`ridesim.vehicle.chemistry`.
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

    MODEL.md (5.2).

    Parameters
    ----------
    charge : float
        State of charge, 0 to 1. [-]
    rise : float
        a. [-]

    Returns
    -------
    float
        Resistance over that of the full pack. [-]

    References
    ----------
    Handbooks give a factor of 1.5 to 2.5 near empty (from memory); the cube is common practice, no source.
    """
    empty = 1.0 - charge
    return 1.0 + rise * empty * empty * empty


@compiled
def resistance_temperature_factor(temperature: float, per_k: float) -> float:
    """Resistance against 25 °C: f_T = exp(per_k (T - 25)).

    MODEL.md (5.3).

    Parameters
    ----------
    temperature : float
        Pack temperature, -20 to 50. [°C]
    per_k : float
        -0.013 lead-acid, -0.03 lithium. [1/K]

    Returns
    -------
    float
        Resistance over that at 25 °C. [-]

    References
    ----------
    From memory: lead-acid 1.8 times at -20 °C and 1.4 times at 0 °C.
    """
    return exp(per_k * (temperature - REFERENCE_C))


@compiled
def capacity_temperature_factor(temperature: float, per_k: float) -> float:
    """Capacity against 25 °C: f_cap = 1 + per_k (T - 25).

    MODEL.md (5.4).

    Parameters
    ----------
    temperature : float
        Pack temperature, -20 to 50. [°C]
    per_k : float
        0.006 to 0.010. [1/K]

    Returns
    -------
    float
        Capacity over that at 25 °C. [-]

    References
    ----------
    IEC 60896-11, correction of test capacity (from memory).
    """
    return 1.0 + per_k * (temperature - REFERENCE_C)


@compiled
def activation_voltage(current: float, scale: float, reference: float) -> float:
    """Voltage that even a small discharge current costs: V_a = a asinh(I/I_a).

    MODEL.md (5.11).

    Parameters
    ----------
    current : float
        Discharge current, 0 or more. [A]
    scale : float
        a. [V]
    reference : float
        I_a, a thousandth of the rated ampere-hours. [A]

    Returns
    -------
    float
        Steep at small currents, nearly level above. [V]

    References
    ----------
    The form of the Butler-Volmer equation for equal transfer coefficients; a fitted to the volts under load of two measured sealed
    blocks (data/published/measured_blocks.csv).
    """
    ratio = current / reference
    return scale * log(ratio + sqrt(ratio * ratio + 1.0))  # asinh, in half the time


@compiled
def depletion_voltage(charge: float, loaded: float, ratio: float, end: float, fall: float) -> float:
    """What brings the voltage at empty down to the rate's rated end: V_d = exp(-z/z_d) (V - V_end), V_end = V_R - f ln(I/I_R).

    MODEL.md (5.12).

    Parameters
    ----------
    charge : float
        z, what the capacity law has left. [-]
    loaded : float
        V, the terminal voltage without this part. [V]
    ratio : float
        I/I_R, discharge current over the rated one. [-]
    end, fall : float
        V_R, the end voltage at the rated current, and f, how much lower it is for each factor e of the current. [V]

    Returns
    -------
    float
        0 or more, and nothing without a current. [V]

    References
    ----------
    End voltages by rate: a 12 V 40 Ah block's data sheet (vinachem.com.vn), 1.80 V a cell at 20 h to 1.60 V at 1 h. The
    exponential: fitted, see DEPLETED_SHARE.
    """
    if ratio <= 0.0:
        return 0.0
    rated_end = end - fall * log(max(1.0, ratio))
    return exp(-max(0.0, charge) / DEPLETED_SHARE) * max(0.0, loaded - rated_end) * min(1.0, ratio / BARELY_LOADED)


def short_circuit_current(rested: float, resistance: float) -> float:
    """Current through a dropped spanner: I = E/R_0; cables and the fault itself make it less.

    MODEL.md (5.5).

    Parameters
    ----------
    rested : float
        Rested voltage E. [V]
    resistance : float
        Pack resistance R_0. [ohm]

    Returns
    -------
    float
        Current, an upper bound. [A]

    References
    ----------
    Ohm's law.
    """
    return rested / resistance


@compiled
def smoothed(before: float, first: float, last: float, span: float, time: float) -> float:
    """A current smoothed over a time, after a span in which it ran straight from one value to another.

    MODEL.md (5.10).

    Parameters
    ----------
    before : float
        The smoothed current at the span's start. [A]
    first, last : float
        The current at the span's start and end. [A]
    span : float
        Length of the span, above 0. [s]
    time : float
        Time constant t_f. [s]

    Returns
    -------
    float
        I_f at the span's end. [A]

    References
    ----------
    The solution of dI_f/dt = (I - I_f)/t_f, a first-order low-pass filter, for I on a straight line.
    """
    lag = (last - first) / span * time
    return last - lag + (before - first + lag) * exp(-span / time)
