"""The pack: rested voltage, resistance, three capacity laws, charging."""

from __future__ import annotations

from math import exp, log

from numpy import float64
from numpy.typing import NDArray

from ridesim.physics.compiled import compiled

PEUKERT, TWO_WELL, SATURATING = range(3)
"""The capacity laws."""
LAW_NAMES = ("peukert", "two-well", "saturating")
LOWEST_C, HIGHEST_C, REFERENCE_C = -20.0, 50.0, 25.0
"""Range and reference of the temperature factors. [°C]"""
FILTER_S = 300.0
"""Time constant of the current's low-pass filter in the saturating law; Jackey, SAE 2007-01-0778, says minutes. [s]"""


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


@compiled
def peukert_factor(current: float, rated_current: float, exponent: float) -> float:
    """How much faster charge goes than plain ampere-hours: max(1, I/I_R)^(k - 1).

    Parameters
    ----------
    current : float
        Discharge current of one string. [A]
    rated_current : float
        C_H/H, the current of the capacity's rating. [A]
    exponent : float
        Peukert's k. [-]

    Returns
    -------
    float
        1 or more; dz/dt = -(I/C) × this. [-]

    References
    ----------
    Peukert 1897 in the rated-capacity form t = H (C/(I H))^k; no gain below the rated current.
    """
    if current <= rated_current:
        return 1.0
    return exp((exponent - 1.0) * log(current / rated_current))  # half the time of a general power


@compiled
def peukert_hours(current: float, capacity: float, rated_hours: float, exponent: float) -> float:
    """Run time at constant current: H (C/(I H))^k.

    Parameters
    ----------
    current : float
        At or above the rated current. [A]
    capacity : float
        At the rated hours. [Ah]
    rated_hours : float
        H. [h]
    exponent : float
        k. [-]

    Returns
    -------
    float
        Hours. [h]

    References
    ----------
    Peukert 1897, rated-capacity form.
    """
    return float(rated_hours * (capacity / (current * rated_hours)) ** exponent)


@compiled
def saturating_capacity(current: float, capacity: float, gain: float, reference: float, exponent: float) -> float:
    """Capacity at a current: K_c C_0/(1 + (K_c - 1)(I/I_0)^d).

    Parameters
    ----------
    current : float
        Filtered discharge current. [A]
    capacity : float
        C_0, the capacity at ``reference``. [Ah]
    gain : float
        K_c, capacity at no current over C_0. [-]
    reference : float
        I_0. [A]
    exponent : float
        d. [-]

    Returns
    -------
    float
        Capacity, same unit as ``capacity``.

    References
    ----------
    Ceraolo, IEEE Trans. Power Systems 15 (2000) 1184; Jackey, SAE 2007-01-0778.
    """
    if current <= 0.0:
        return gain * capacity
    return float(gain * capacity / (1.0 + (gain - 1.0) * (current / reference) ** exponent))


@compiled
def saturating_share(ratio: float, gain: float, exponent: float) -> float:
    """Capacity C_0 over the capacity at a current: (1 + (K_c - 1)(I/I_0)^d)/K_c.

    Parameters
    ----------
    ratio : float
        I/I_0, the filtered discharge current over the reference. [-]
    gain, exponent : float
        K_c, d. [-]

    Returns
    -------
    float
        The reciprocal of :func:`saturating_capacity` over C_0. [-]

    References
    ----------
    As :func:`saturating_capacity`.
    """
    if ratio <= 0.0:
        return 1.0 / gain
    return (1.0 + (gain - 1.0) * exp(exponent * log(ratio))) / gain


@compiled
def two_well_flow(available: float, bound: float, share: float, rate: float) -> float:
    """Flow from the bound to the available well: k' (h2 - h1), h1 = y1/c, h2 = y2/(1 - c).

    Parameters
    ----------
    available, bound : float
        y1, y2. [Ah, or shares of the whole]
    share : float
        c, the available well's share. [-]
    rate : float
        κ = k'/(c (1 - c)). [1/s or 1/h]

    Returns
    -------
    float
        Flow in the unit of the wells a unit of time.

    References
    ----------
    Manwell & McGowan, Solar Energy 50 (1993) 399.
    """
    return rate * (share * bound - (1.0 - share) * available)


@compiled
def two_well_after(
    available: float, bound: float, current: float, time: float, share: float, rate: float
) -> tuple[float, float]:
    """Both wells after a constant current, in closed form.

    Parameters
    ----------
    available, bound : float
        y1, y2 at the start. [Ah]
    current : float
        Discharge positive. [A]
    time : float
        Duration. [h]
    share, rate : float
        c [-] and κ [1/h].

    Returns
    -------
    tuple of float
        y1, y2 at the end. [Ah]

    References
    ----------
    Manwell & McGowan, Solar Energy 50 (1993) 399; κ is what Manwell writes as k.
    """
    decay = exp(-rate * time)
    whole = available + bound
    lag = rate * time - 1.0 + decay
    y1 = available * decay + (whole * rate * share - current) * (1.0 - decay) / rate - current * share * lag / rate
    return y1, whole - current * time - y1


@compiled
def two_well_capacity(hours: float, whole: float, share: float, rate: float) -> float:
    """Charge delivered when a constant current empties the pack in a time.

    Parameters
    ----------
    hours : float
        Time to empty, above 0. [h]
    whole : float
        C_∞. [Ah]
    share, rate : float
        c [-] and κ [1/h].

    Returns
    -------
    float
        Charge: c C_∞ for a very short time, C_∞ for a very long one. [Ah]

    References
    ----------
    Manwell & McGowan, Solar Energy 50 (1993) 399.
    """
    product = rate * hours
    decay = exp(-product)
    return whole * product * share / (1.0 - decay + share * (product - 1.0 + decay))


@compiled
def charge_current(
    setting: float,
    room: float,
    acceptance: float,
    voltage: float,
    rested: float,
    polarisation: float,
    resistance: float,
    slow: float,
) -> tuple[float, float]:
    """Current into the pack, and the overvoltage of charging: min(setting, (V - E + V_pol)/(R_0 + R_c)), 0 or more.

    R_c = ΔV τ_a/Q_missing - R_0 - R_1, 0 or more, is the resistance of acceptance: the fuller the cells, the less of the
    charger's voltage they turn into current. The published tail is that of the terminals: the ohmic and the polarisation's
    share are part of it, not added to it. It is reckoned by conductances, which fall to nothing at full.

    Parameters
    ----------
    setting : float
        What the charger would give into the pack. [A]
    room : float
        Ampere-hours that the cells miss over C. [-]
    acceptance : float
        C/(ΔV τ_a), the conductance of acceptance where C is missing, see :func:`acceptance`. [S]
    voltage : float
        Charger's voltage at its temperature. [V]
    rested, polarisation : float
        E(z) and V_pol. [V]
    resistance, slow : float
        R_0 and R_1. [ohm]

    Returns
    -------
    current : float
        Charging current, positive. [A]
    overvoltage : float
        I R_c. The terminals stand at E - V_pol + I R_0 + I R_c: below the charger's voltage at constant current, at it
        in the tail and at full. [V]

    References
    ----------
    Constant current, then the tail I = I_c exp(-t/τ) of makers' charging characteristics, which this is near full at
    the voltage wanted.
    """
    left = voltage - rested + polarisation
    if left <= 0.0:
        return 0.0, 0.0
    conductance = max(0.0, room) * acceptance
    inner = (resistance + slow) * conductance
    if inner >= 1.0:  # the pack's own resistance is all there is
        return (min(setting, left / resistance) if resistance > 0.0 else setting), 0.0
    # R_0 + R_c = (1 - R_1 g)/g and R_c = (1 - (R_0 + R_1) g)/g with the conductance g.
    most = conductance * left / (1.0 - slow * conductance)
    if setting >= most:
        return most, left * (1.0 - inner) / (1.0 - slow * conductance)
    return setting, setting * (1.0 - inner) / conductance


def acceptance(capacity: float, overvoltage: float, tail: float) -> float:
    """Conductance with which a pack accepts charge that misses its whole capacity: C/(ΔV τ_a); else its share of C times this.

    Parameters
    ----------
    capacity : float
        C. [A s]
    overvoltage : float
        ΔV, what the absorption voltage wanted at the pack's temperature leaves above the rested voltage where the tail ends;
        above 0. [V]
    tail : float
        τ_a, time constant of the tail at that voltage. [s]

    Returns
    -------
    float
        [S]

    References
    ----------
    From I = Q_missing/τ_a at ΔV, the exponential tail of makers' charging characteristics; τ_a from memory.
    """
    return capacity / (overvoltage * tail)
