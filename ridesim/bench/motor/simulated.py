"""A pretended bench: what a motor's meters would show, with their errors. For trying a test before doing it, and for checks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridesim.bench.motor.log import RPM, Load, Locked, Meter, NoLoad, SpinLog, Turned
from ridesim.bench.motor.model import gain_sds, magnet_coefficient, reading_sd
from ridesim.physics.motor import loaded_speed, warm_constant, warm_resistance
from ridesim.vehicle import Motor


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
    speed = loaded_speed(voltage, still, constant, resistance, motor.brush_drop_v, viscous)
    if speed <= 0.0:
        raise ValueError(f"at {voltage:g} V this motor does not turn against {torque:g} N m")
    return (still + viscous * speed) / constant, speed


_USUAL_PLAN, _USUAL_METER = Plan(), Meter()


class PretendedMeters:
    """Meters that are off as their accuracy says: each reading by itself, and all of a meter by one factor.

    Parameters
    ----------
    meter : Meter
        Accuracy.
    generator : numpy Generator or None
        Source of the errors; None: meters without error.
    """

    def __init__(self, meter: Meter, generator: np.random.Generator | None) -> None:
        self.meter, self.generator = meter, generator
        sds = gain_sds(meter)
        self.gains = 1.0 + (
            sds * generator.standard_normal(len(sds)) if generator is not None and sds.any() else sds * 0.0
        )

    def _read(self, value: float, place: int, percent: float, digit: float) -> float:
        if self.generator is None:
            return value
        sd = reading_sd(value, percent, digit)
        return max(1e-6, value * float(self.gains[place]) + sd * float(self.generator.standard_normal()))

    def volts(self, value: float) -> float:
        """[V]"""
        return self._read(value, 0, self.meter.voltage_percent, self.meter.voltage_digit_v)

    def amps(self, value: float) -> float:
        """[A]"""
        return self._read(value, 1, self.meter.current_percent, self.meter.current_digit_a)

    def rpm(self, speed: float) -> float:
        """A speed in rad/s as turns a minute."""
        return self._read(speed / RPM, 2, self.meter.speed_percent, self.meter.speed_digit_rpm)

    def torque(self, value: float) -> float:
        """[N m]"""
        return self._read(value, 3, self.meter.torque_percent, 0.0)


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
        Accuracy; errors are normal, independent from reading to reading, apart from each meter's common factor.
    generator : numpy Generator, optional
        Source of the errors; None: meters without error.

    Returns
    -------
    SpinLog
        As a maker would have typed it.
    """

    meters = PretendedMeters(meter, generator)
    volts, amps, rpm = meters.volts, meters.amps, meters.rpm
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
                torque_nm=meters.torque(torque),
            )
        )  # fmt: skip
    by_hand = Turned(voltage_v=8.0 * float(motor.torque_constant_nm_per_a or 0.0), speed_rpm=8.0 / RPM)
    return SpinLog(
        name="pretended bench", note="made by ridesim, not measured", room_c=plan.room_c, magnet=motor.magnet, meter=meter,
        turned=(by_hand,), no_load=tuple(spins), locked=tuple(held), load=tuple(braked),
    )  # fmt: skip
