"""Capacity laws: how much of its charge a pack gives at a current (Peukert, two wells, saturating, recovery)."""

from __future__ import annotations

from math import exp, log

from ridesim.physics.compiled import compiled

PEUKERT, TWO_WELL, SATURATING, RECOVERY = range(4)
"""The capacity laws."""
LAW_NAMES = ("peukert", "two-well", "saturating", "recovery")
FILTER_S = 300.0
"""Time constant of the low-pass filter of the current in the recovering part; Jackey, SAE 2007-01-0778, says minutes. [s]"""


@compiled
def peukert_factor(current: float, rated_current: float, exponent: float) -> float:
    """How much faster charge goes than plain ampere-hours: max(1, I/I_R)^(k - 1).

    MODEL.md (6.1).

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
    Peukert 1897 in the rated-capacity form t = H (C/(I H))^k. Below the rated current plain ampere-hours.
    """
    if current <= rated_current:
        return 1.0
    return exp((exponent - 1.0) * log(current / rated_current))  # faster than a general power


@compiled
def two_well_flow(available: float, bound: float, share: float, rate: float) -> float:
    """Flow from the bound to the available well: k' (h2 - h1), h1 = y1/c, h2 = y2/(1 - c).

    MODEL.md (6.2).

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
        κ (c y2 - (1 - c) y1), the same as k' (h2 - h1), in the wells' unit a unit of time.

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

    MODEL.md (6.3).

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

    MODEL.md (6.4).

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
def saturating_capacity(current: float, capacity: float, gain: float, reference: float, exponent: float) -> float:
    """Capacity at a current: K_c C_0/(1 + (K_c - 1)(I/I_0)^d).

    MODEL.md (6.5).

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
def saturating_factor(ratio: float, bend: float, exponent: float, level: float) -> float:
    """Capacity at slow rates over the capacity at a current: C_0/C(I) = max(1, 1 + b ((I/I_R)^δ - (I_L/I_R)^δ)).

    MODEL.md (6.6).

    Parameters
    ----------
    ratio : float
        I/I_R, discharge current over the rated one. [-]
    bend, exponent : float
        b and δ. [-]
    level : float
        (I_L/I_R)^δ of the current I_L up to which the capacity stays level. [-]

    Returns
    -------
    float
        1 or more. [-]

    References
    ----------
    As :func:`saturating_capacity`, of which it is the reciprocal over that at I_L. Level below: two measured sealed blocks give no more
    charge in 35 hours than in 6.5 (data/published/measured_blocks.csv).
    """
    if ratio <= 0.0 or ratio <= 1.0 <= level:  # no power is needed to tell
        return 1.0
    return max(1.0, 1.0 + bend * (exp(exponent * log(ratio)) - level))


@compiled
def charge_left(at_once: float, missing: float, factor: float, recovery: float) -> float:
    """State of charge under the recovery law: z = (1 - ρ)(1 - ∫I/C(I) dt) + ρ (1 - Q/C(I_f)).

    MODEL.md (6.7).

    Parameters
    ----------
    at_once : float
        1 - ∫I/C(I) dt: every ampere-hour counts as the current of its moment says, and nothing comes back. [-]
    missing : float
        Q/C_0, the charge taken out over the capacity at slow rates. [-]
    factor : float
        C_0/C(I_f) at the filtered current, :func:`saturating_factor`. [-]
    recovery : float
        ρ, the share that comes back at rest: 0 none (as Peukert's law), 1 all (as the saturating law). [-]

    Returns
    -------
    float
        z. [-]

    References
    ----------
    A mixture of the two published laws, made for this model. ρ = 0.45 comes from twelve intermittent discharges of 17 to 51 A and from a
    show day's current, all calculated with one porous-electrode model (Sulzer et al., J. Electrochem. Soc. 166 (2019) A2363, thin
    plates): a single source, not a measurement.
    """
    return (1.0 - recovery) * at_once + recovery * (1.0 - missing * factor)
