"""How long may the motor do this: time to its winding's limit at any current, duties S1, S2, S3, seconds at a stall."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, isfinite

from ridesim.physics.motor import drag_torque
from ridesim.physics.motor_heat import (
    S2_MINUTES,
    S3_PERIOD_S,
    S3_SHARES,
    HeatBalance,
    cycled_peak,
    heat_balance,
    steady_temperatures,
    temperatures_after,
    time_to_temperature,
)
from ridesim.ride.machine import machine
from ridesim.ride.steady.pull import KMH, pull_with
from ridesim.vehicle import Build, Motor
from ridesim.vehicle.motor_read_off import RATING_AMBIENT_C, rated_case_c
from ridesim.words import need_number

_MOST_A = 1e6
"""Where the search for a largest current ends: no motor takes it. [A]"""


def balance_at(motor: Motor, current_a: float, omega: float, ambient_c: float) -> HeatBalance:
    """The linear heat balances of a motor at a constant current and speed; see :mod:`ridesim.physics.motor_heat`."""
    friction = omega * drag_torque(omega, motor.friction_torque_nm, motor.viscous_nm_per_rad_s) if omega > 0.0 else 0.0
    return heat_balance(current_a, motor.resistance_ohm, motor.brush_drop_v, friction, ambient_c, *motor.heat)


def time_to_limit_s(
    motor: Motor, current_a: float, omega: float = 0.0, ambient_c: float = 20.0,
    winding_c: float | None = None, case_c: float | None = None,
) -> float:  # fmt: skip
    """Time at a constant motor current until the winding is at its class limit.

    Parameters
    ----------
    motor : Motor
        A validated motor.
    current_a : float
        Motor current, 0 or more. [A]
    omega : float
        Speed of the shaft, for the heat of its own drag; 0: held still. [rad/s]
    ambient_c : float
        Air. [°C]
    winding_c, case_c : float, optional
        At the start; None: as the air. [°C]

    Returns
    -------
    float
        [s]; infinite where it may go on for ever.
    """
    start = ambient_c if winding_c is None else winding_c
    case = ambient_c if case_c is None else case_c
    return time_to_temperature(motor.winding_limit_c, start, case, balance_at(motor, current_a, omega, ambient_c))


def stall_seconds(motor: Motor, current_a: float, ambient_c: float = 20.0, winding_c: float | None = None) -> float:
    """Seconds a held rotor may take a current before the winding reaches its limit; the commutator is burnt sooner.

    Notes
    -----
    The winding's mean temperature only. Under a standing brush a few bars carry all of it: seconds, whatever this says.
    """
    return time_to_limit_s(motor, current_a, 0.0, ambient_c, winding_c)


def continuous_current_a(motor: Motor, omega: float = 0.0, ambient_c: float = RATING_AMBIENT_C) -> float:
    """Duty S1: largest current for ever. [A]"""
    return _largest(
        lambda amps: steady_temperatures(balance_at(motor, amps, omega, ambient_c))[0], motor.winding_limit_c
    )


def short_time_current_a(
    motor: Motor, minutes: float, omega: float = 0.0, ambient_c: float = RATING_AMBIENT_C
) -> float:
    """Duty S2: largest current for a time, from cold, then rest until cold again. [A]"""

    def end(amps: float) -> float:
        numbers = balance_at(motor, amps, omega, ambient_c)
        return temperatures_after(60.0 * minutes, ambient_c, ambient_c, numbers)[0]

    return _largest(end, motor.winding_limit_c)


def intermittent_current_a(
    motor: Motor, share: float, omega: float = 0.0, ambient_c: float = RATING_AMBIENT_C,
    period_s: float = S3_PERIOD_S,
) -> float:  # fmt: skip
    """Duty S3: largest current for a share of every period, standing for the rest, for ever. [A]"""
    off = balance_at(motor, 0.0, 0.0, ambient_c)

    def peak(amps: float) -> float:
        return cycled_peak(share * period_s, period_s, ambient_c, balance_at(motor, amps, omega, ambient_c), off)

    return _largest(peak, motor.winding_limit_c)


def _largest(temperature: Callable[[float], float], limit: float) -> float:
    """Largest current whose temperature stays within the limit; 0 where even none is too much."""
    from scipy.optimize import brentq

    def excess(amps: float) -> float:
        value = temperature(amps) - limit
        return value if isfinite(value) else 1e9

    if excess(0.0) >= 0.0:
        return 0.0
    above = 1.0
    while excess(above) < 0.0:
        above *= 2.0
        if above > _MOST_A:
            return inf
    return float(brentq(excess, 0.0, above, xtol=1e-9))


@dataclass(frozen=True, slots=True)
class Duty:
    """One line of "how long may it do this".

    Attributes
    ----------
    code : str
        ``"S1"``, ``"S2 30 min"``, ``"S3 25 %"``.
    words : str
        The same in plain words.
    current_a : float
        Largest motor current. [A]
    pull_n : float
        Pull at the wheel that it gives, motor warm. [N]
    """

    code: str
    words: str
    current_a: float
    pull_n: float


def duties(build: Build, speed_kmh: float = 10.0, ambient_c: float = RATING_AMBIENT_C) -> tuple[Duty, ...]:
    """Duties S1, S2 and S3 of IEC 60034-1 for a motor in its vehicle at a road speed.

    Parameters
    ----------
    build : Build
        A validated build.
    speed_kmh : float
        Road speed; sets the heat of the motor's own drag. [km/h]
    ambient_c : float
        Air; ratings are for 40. [°C]

    Returns
    -------
    tuple of Duty
        Currents before the controller's limit; :func:`time_to_limit_s` answers for any other current.

    Raises
    ------
    InputProblem
        A speed or temperature that is no number or that no vehicle has.
    """
    need_number("the duties", "speed_kmh", speed_kmh, 0.0, 300.0, "km/h")
    need_number("the duties", "ambient_c", ambient_c, -60.0, 1000.0, "°C")
    motor = build.motor
    omega = speed_kmh * KMH * build.drive.ratio / build.vehicle.rolling_radius_m
    lines = [("S1", "for hours", continuous_current_a(motor, omega, ambient_c))]
    for minutes in S2_MINUTES:
        amps = short_time_current_a(motor, minutes, omega, ambient_c)
        lines.append((f"S2 {minutes:g} min", f"{minutes:g} min from cold, then rest until cold", amps))
    for share in S3_SHARES:
        amps = intermittent_current_a(motor, share, omega, ambient_c)
        on = share * S3_PERIOD_S / 60.0
        lines.append((f"S3 {100 * share:g} %", f"{on:g} min in every {S3_PERIOD_S / 60:g}, all day", amps))
    m, case = machine(build), rated_case_c(motor.winding_limit_c)
    return tuple(Duty(code, words, amps, pull_with(amps, speed_kmh * KMH, case, m)) for code, words, amps in lines)
