"""A pretended bench: what a motor's meters would show, with their errors. For trying a test before doing it, and for checks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridesim.bench.spin_log import RPM, Load, Locked, Meter, NoLoad, SpinLog, Turned
from ridesim.bench.spin_model import magnet_coefficient, reading_sd
from ridesim.build import Motor
from ridesim.physics.motor import warm_constant, warm_resistance


@dataclass(frozen=True, slots=True)
class Plan:
    """Which points to take.

    Attributes
    ----------
    no_load_v : sequence of float
        Terminal voltages of the free spins. [V]
    locked_a : sequence of float
        Currents of the held-rotor points. [A]
    loads : sequence of tuple of float
        (voltage [V], brake torque [N m]) of known loads.
    chain_v : sequence of float
        Voltages of free spins with chain and wheel turning along. [V]
    chain_torque_nm : float
        Their drag at the motor's shaft. [N m]
    room_c : float
        [°C]
    """

    no_load_v: Sequence[float] = (6.0, 9.0, 12.5)
    locked_a: Sequence[float] = (3.0, 4.5)
    loads: Sequence[tuple[float, float]] = ()
    chain_v: Sequence[float] = ()
    chain_torque_nm: float = 0.0
    room_c: float = 20.0


def working_point(motor: Motor, voltage: float, torque: float, room_c: float = 20.0) -> tuple[float, float]:
    """Current [A] and speed [rad/s] of a permanent-magnet motor at a terminal voltage and shaft torque, cold.

    Parameters
    ----------
    motor : Motor
        Permanent magnet.
    voltage, torque : float
        At the terminals [V]; of the load [N m].
    room_c : float
        Temperature of winding and magnets. [°C]

    Notes
    -----
    V = K ω + I R + V_br and K I = τ_f + b ω + τ, two linear equations.
    """
    constant = warm_constant(float(motor.torque_constant_nm_per_a or 0.0), magnet_coefficient(motor.magnet), room_c)
    resistance = warm_resistance(float(motor.resistance_ohm or 0.0), room_c)
    viscous = motor.viscous_nm_per_rad_s
    still = motor.friction_torque_nm + torque
    speed = (voltage - motor.brush_drop_v - resistance * still / constant) / (
        constant + resistance * viscous / constant
    )
    if speed <= 0.0:
        raise ValueError(f"at {voltage:g} V this motor does not turn against {torque:g} N m")
    return (still + viscous * speed) / constant, speed


_USUAL_PLAN, _USUAL_METER = Plan(), Meter()


def simulate_bench(
    motor: Motor,
    plan: Plan = _USUAL_PLAN,
    meter: Meter = _USUAL_METER,
    generator: np.random.Generator | None = None,
) -> SpinLog:
    """A bench log of a known motor.

    Parameters
    ----------
    motor : Motor
        The truth.
    plan : Plan
        Points.
    meter : Meter
        Accuracy; errors are normal, independent from reading to reading.
    generator : numpy Generator, optional
        Source of the errors; None: meters without error.

    Returns
    -------
    SpinLog
        As a maker would have typed it.
    """

    def read(value: float, percent: float, digit: float) -> float:
        if generator is None:
            return value
        sd = reading_sd(value, percent, digit)
        return max(1e-6, value + sd * float(generator.standard_normal()))

    def volts(value: float) -> float:
        return read(value, meter.voltage_percent, meter.voltage_digit_v)

    def amps(value: float) -> float:
        return read(value, meter.current_percent, meter.current_digit_a)

    def rpm(speed: float) -> float:
        return read(speed / RPM, meter.speed_percent, meter.speed_digit_rpm)

    resistance = warm_resistance(float(motor.resistance_ohm or 0.0), plan.room_c)
    spins = []
    for chained, voltages in ((False, plan.no_load_v), (True, plan.chain_v)):
        for voltage in voltages:
            extra = plan.chain_torque_nm if chained else 0.0
            current, speed = working_point(motor, voltage, extra, plan.room_c)
            spins.append(NoLoad(voltage_v=volts(voltage), current_a=amps(current), speed_rpm=rpm(speed), chain=chained))
    held = [
        Locked(voltage_v=volts(motor.brush_drop_v + current * resistance), current_a=amps(current))
        for current in plan.locked_a
    ]
    braked = []
    for voltage, torque in plan.loads:
        current, speed = working_point(motor, voltage, torque, plan.room_c)
        braked.append(
            Load(
                voltage_v=volts(voltage), current_a=amps(current), speed_rpm=rpm(speed),
                torque_nm=read(torque, meter.torque_percent, 0.0),
            )
        )  # fmt: skip
    by_hand = max(0.2, 8.0 * float(motor.torque_constant_nm_per_a or 0.0))
    return SpinLog(
        name="pretended bench", note="made by ridesim, not measured", room_c=plan.room_c, magnet=motor.magnet, meter=meter,
        turned=(Turned(voltage_v=by_hand),), no_load=tuple(spins), locked=tuple(held), load=tuple(braked),
    )  # fmt: skip
