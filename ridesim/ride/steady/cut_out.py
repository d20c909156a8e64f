"""A controller that cuts out instead of folding back, and one with a soft start: when it happens, how long it lasts."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, log

from ridesim.physics.road import grade_force, rolling_force
from ridesim.ride.core.pack import beyond_resistance, rested_source
from ridesim.ride.machine import machine
from ridesim.ride.steady.pull import KMH, STILL_AIR_C, currents_for, need_arguments, pull_at, pull_with, resistance_at
from ridesim.vehicle import Build


@dataclass(frozen=True, slots=True)
class CutOut:
    """What a cut-out does at a steady speed on a slope.

    Attributes
    ----------
    cutoff_v, restart_v : float
        [V]
    trips_below : float
        State of charge from which on it cuts out in this steady state; 0: never while the pack has charge.
    off_s : float
        Time it stays off then, until the pack has recovered to the restart voltage; infinite: for good. [s]
    """

    cutoff_v: float
    restart_v: float
    trips_below: float
    off_s: float


def cut_out(build: Build, speed_kmh: float, grade_percent: float = 0.0) -> CutOut:
    """When a cut-out controller switches off at a steady speed, and for how long.

    Parameters
    ----------
    build : Build
        With or without ``cutoff_action = "cut-out"``: the answer is the same question.
    speed_kmh, grade_percent : float
        Steady state. [km/h], [%]

    Notes
    -----
    It trips where E - (R_0 + R_1) I_b - V_a - V_d < V_cut with the current of the steady pull. Off, the voltage comes back as
    E - V_pol exp(-t/t_1) from V_pol = R_1 I_b + V_a + V_d, so it restarts after t_1 ln(V_pol/(E - V_restart)), and not before its
    shortest time off; never where E does not exceed the restart voltage. The charge that the block recovers meanwhile is not counted.
    """
    from scipy.optimize import brentq

    need_arguments(speed_kmh=speed_kmh, grade_percent=grade_percent)
    m = machine(build)
    speed, grade = speed_kmh * KMH, grade_percent / 100.0
    pull = resistance_at(speed, build.total_mass_kg(), grade, m)
    cutoff, restart = build.cutoff_voltage_v, build.restart_voltage_v

    def margin(z: float) -> float:
        return float(currents_for(pull, speed, z, m)[2]) - cutoff

    edge = 1.0
    if margin(1.0) >= 0.0:
        if margin(0.0) >= 0.0:
            return CutOut(cutoff, restart, 0.0, 0.0)
        edge = float(brentq(margin, 0.0, 1.0, xtol=1e-9))
    _, current, _ = currents_for(pull, speed, edge, m)
    p = m.pack
    volts, inner = rested_source(1.0 - edge, p)
    sagged = p.polarisation_resistance * current + beyond_resistance(edge, volts, inner, current, p)
    recovery = _recovery_s(volts - inner * m.standby - restart, sagged, p.polarisation_time)
    return CutOut(cutoff, restart, edge, max(build.restart_delay_s, recovery))


def _recovery_s(above: float, sagged: float, time_constant: float) -> float:
    """Time until a polarisation has died down to the volts between rest and restart."""
    if above <= 0.0:
        return inf
    return time_constant * max(0.0, log(sagged / above)) if sagged > 0.0 else 0.0


def soft_start_hold_s(build: Build, grade_percent: float, state_of_charge: float = 1.0) -> float:
    """Time after opening the throttle until a soft start's pull holds a slope by itself: keep the brake on so long.

    Parameters
    ----------
    build : Build
        With ``controller.ramp_s``.
    grade_percent : float
        Uphill. [%]
    state_of_charge : float
        0 to 1.

    Returns
    -------
    float
        [s]; infinite where full throttle does not start it either.

    Notes
    -----
    The current rises in a straight line to its largest within the ramp; the share that gives m g (sinθ + c_b cosθ)
    at the wheel is the share of the ramp's time.
    """
    from scipy.optimize import brentq

    need_arguments(grade_percent=grade_percent, state_of_charge=state_of_charge)
    m = machine(build)
    grade, mass = grade_percent / 100.0, build.total_mass_kg()
    needed = grade_force(mass, grade) + rolling_force(mass, grade, m.rolling * m.breakaway)
    full, current, _ = pull_at(0.0, state_of_charge, STILL_AIR_C, STILL_AIR_C, m)
    if full <= needed:
        return inf
    if needed <= 0.0:
        return 0.0
    share = brentq(lambda share: pull_with(share * current, 0.0, STILL_AIR_C, m) - needed, 0.0, 1.0)
    return build.controller.ramp_s * float(share)
