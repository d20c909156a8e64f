"""Copper cable: gauge, warm resistance, voltage drop, what ambient air and a short circuit leave of it, how it warms."""

from __future__ import annotations

from math import exp, log, sqrt

from ridesim.physics.compiled import compiled

COPPER_PER_K = 0.004
"""Growth of copper's resistance a kelvin from 20 °C on, as IEC 60228 reckons it; 0.00393 of pure copper is within 0.4 %. [1/K]"""
COPPER_OHM_MM2_PER_M = 0.017241
"""Resistivity of annealed copper at 20 °C: International Annealed Copper Standard. [ohm mm²/m]"""
COPPER_J_PER_MM2_M_K = 3.45
"""Heat capacity of copper: IEC 60949, from memory. [J/(mm² m K)]"""


@compiled
def wire_diameter(gauge: float) -> float:
    """Diameter of a solid wire of an American wire gauge.

    MODEL.md (15.1).

    Parameters
    ----------
    gauge : float
        Its number; 1/0 is 0, 4/0 is -3. [-]

    Returns
    -------
    float
        0.127 · 92^((36 - n)/39). [mm]

    References
    ----------
    ASTM B258 (from memory); within 0.02 % of a printed table of 17 sizes.
    """
    return float(0.127 * 92.0 ** ((36.0 - gauge) / 39.0))


@compiled
def warm_conductor(ohm: float, temperature: float) -> float:
    """Resistance of a copper conductor that is not at 20 °C.

    MODEL.md (15.2).

    Parameters
    ----------
    ohm : float
        At 20 °C. [ohm]
    temperature : float
        Of the conductor. [°C]

    Returns
    -------
    float
        R (1 + 0.004 (T - 20)). [ohm]

    References
    ----------
    IEC 60228, table of factors from 5 to 100 °C.
    """
    return ohm * (1.0 + COPPER_PER_K * (temperature - 20.0))


@compiled
def voltage_drop(current: float, length: float, ohm_per_m: float) -> float:
    """Volts that a pair of conductors takes, out and back.

    MODEL.md (15.3).

    Parameters
    ----------
    current : float
        [A]
    length : float
        One way. [m]
    ohm_per_m : float
        Of one conductor, as warm as it is. [ohm/m]

    Returns
    -------
    float
        2 l r I. [V]

    References
    ----------
    Ohm's law; the small-craft form with K = 10.75 ohm circular mils a foot (ABYC E-11, as quoted) is the same for copper at 29 °C.
    """
    return 2.0 * length * ohm_per_m * current


@compiled
def ambient_share(insulation: float, base: float, ambient: float) -> float:
    """What air of another temperature than the table's leaves of a cable's ampacity.

    MODEL.md (15.4).

    Parameters
    ----------
    insulation : float
        Highest temperature of the insulation. [°C]
    base, ambient : float
        Air of the table, and the air that there is, both below the insulation's. [°C]

    Returns
    -------
    float
        √((T_c - T_a)/(T_c - T_0)). [-]

    References
    ----------
    Steady heat flow in proportion to the excess temperature; within 1 % of the factors of 33 CFR 183.425 and the NEC's tables.
    """
    return sqrt((insulation - ambient) / (insulation - base))


@compiled
def adiabatic_constant(start: float, end: float) -> float:
    """k of a short circuit that is over before heat leaves the copper.

    MODEL.md (15.5).

    Parameters
    ----------
    start, end : float
        Conductor before and after. [°C]

    Returns
    -------
    float
        226 √(ln((234.5 + T_f)/(234.5 + T_i))). [A √s/mm²]

    References
    ----------
    IEC 60949, as quoted; the k of IEC 60364-5-54 and BS 7671 within 0.4 %.
    """
    return 226.0 * sqrt(log((234.5 + end) / (234.5 + start)))


@compiled
def withstand_time(section: float, current: float, k: float) -> float:
    """How long a conductor stands a short circuit: I² t = k² S².

    MODEL.md (15.6).

    Parameters
    ----------
    section : float
        [mm²]
    current : float
        [A]
    k : float
        From :func:`adiabatic_constant`. [A √s/mm²]

    Returns
    -------
    float
        [s]

    References
    ----------
    IEC 60364-4-43 (from memory), good to 5 s; beyond that heat leaves the copper and it stands longer.
    """
    return (k * section / current) ** 2


@compiled
def conductor_time(section: float, ohm_per_m: float, ampacity: float, excess: float) -> float:
    """Time constant with which a cable warms.

    MODEL.md (15.7).

    Parameters
    ----------
    section : float
        [mm²]
    ohm_per_m : float
        Of the conductor at its highest temperature. [ohm/m]
    ampacity : float
        Current that holds it there. [A]
    excess : float
        Highest temperature less ambient. [K]

    Returns
    -------
    float
        c S ΔT/(I_z² r). [s]

    References
    ----------
    Heat stored over heat given off at the ampacity. Insulation left out, so that it warms sooner than it will.
    """
    return COPPER_J_PER_MM2_M_K * section * excess / (ampacity * ampacity * ohm_per_m)


@compiled
def conductor_after(
    temperature: float, seconds: float, load: float, ambient: float, insulation: float, time_constant: float
) -> float:
    """Temperature of a conductor after a current has flowed for a time.

    MODEL.md (15.8).

    Parameters
    ----------
    temperature : float
        At the beginning. [°C]
    seconds : float
        For how long. [s]
    load : float
        Current over ampacity in this air. [-]
    ambient, insulation : float
        Air, and highest temperature of the insulation. [°C]
    time_constant : float
        From :func:`conductor_time`. [s]

    Returns
    -------
    float
        [°C]

    References
    ----------
    One body with heat in proportion to I² r(T) and losses in proportion to its excess temperature; at its ampacity it comes to the
    insulation's limit, by definition.
    """
    heating = load * load * (insulation - ambient) / (1.0 + COPPER_PER_K * (insulation - 20.0))
    back = 1.0 - COPPER_PER_K * heating  # 0 or less: the warmer it gets, the faster it warms
    towards = ambient + heating * (1.0 - 20.0 * COPPER_PER_K)
    passed = seconds / time_constant
    if abs(back) < 1e-9:
        return temperature + towards * passed - back * temperature * passed
    left = exp(-min(back * passed, 700.0)) if back * passed > -700.0 else exp(700.0)
    return temperature * left + towards / back * (1.0 - left)
