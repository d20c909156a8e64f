"""Motors and benches that the tests of this folder share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from ridesim.bench.motor.log import RPM, Braked, FreeSpin, Held, Meter, MotorLog, Turned
from ridesim.bench.motor.model import QUANTITIES, amps_sd, magnet_coefficient, reading_sd, volts_sd
from ridesim.physics.motor import current_for_torque, loaded_speed, warm_constant, warm_resistance
from ridesim.vehicle import Motor

NAMES = (
    "torque_constant_nm_per_a", "resistance_ohm", "brush_drop_v", "friction_torque_nm", "viscous_nm_per_rad_s",
)  # fmt: skip


def motor_of(constant=0.105, resistance=0.085, brush=1.0, friction=0.10, viscous=0.0002, **others) -> Motor:
    """A permanent-magnet motor like the Heron's."""
    return Motor(
        kind="permanent-magnet", torque_constant_nm_per_a=constant, resistance_ohm=resistance, brush_drop_v=brush,
        friction_torque_nm=friction, viscous_nm_per_rad_s=viscous,
        **{"mass_kg": 6.5, "rated_power_w": 450.0, "rated_voltage_v": 36.0, "insulation_class": "F", **others},
    )  # fmt: skip


def random_motor(generator: np.random.Generator) -> Motor:
    """Any motor of 24 to 48 V: constants a decade wide, carbon or metal brushes, drag 1 to 8 % of the held torque."""

    def spread(low: float, high: float) -> float:
        return math.exp(generator.uniform(math.log(low), math.log(high)))

    constant, resistance, brush = spread(0.03, 0.4), spread(0.03, 0.6), generator.uniform(0.2, 2.0)
    drag = constant * (12.0 - brush) / resistance * spread(0.01, 0.08)
    share, fast = generator.uniform(0.0, 0.8), (12.0 - brush) / constant
    return motor_of(
        constant, resistance, brush, drag * (1.0 - share), drag * share / fast, rated_power_w=20.0, rated_voltage_v=24.0
    )


SERIES_NAMES = (
    "series_constant_nm_per_a2", "saturation_current_a", "resistance_ohm", "brush_drop_v", "friction_torque_nm",
    "viscous_nm_per_rad_s",
)  # fmt: skip


def series_motor_of(constant=0.002, saturation=90.0, resistance=0.06, brush=1.0, friction=0.1, viscous=0.0004) -> Motor:
    """A series-wound motor like a winch's or a lift truck's."""
    return Motor(
        kind="series-wound", series_constant_nm_per_a2=constant, saturation_current_a=saturation, resistance_ohm=resistance,
        brush_drop_v=brush, friction_torque_nm=friction, viscous_nm_per_rad_s=viscous, mass_kg=12.0,
        winding_to_case_k_per_w=0.4, case_to_air_k_per_w=0.9,
    )  # fmt: skip


def random_series_motor(generator: np.random.Generator) -> Motor:
    """Any series-wound motor that draws 20 to 80 A from 12 V: saturation from a third to three times its largest test current."""

    def spread(low: float, high: float) -> float:
        return math.exp(generator.uniform(math.log(low), math.log(high)))

    constant, saturation, brush = spread(0.0008, 0.004), spread(25.0, 250.0), generator.uniform(0.3, 1.8)
    resistance = spread(0.02, 0.10)
    middle = constant * 50.0 * 50.0 / (1.0 + 50.0 / saturation)
    drag, share = middle * spread(0.005, 0.05), generator.uniform(0.0, 0.5)
    fast = (12.0 - brush - 50.0 * resistance) * 50.0 / middle
    return series_motor_of(constant, saturation, resistance, brush, drag * (1.0 - share), drag * share / fast)


def spun_free(motor: Motor, volts=(6.0, 9.0, 12.5)) -> list[dict[str, float]]:
    """Free spins of a series-wound motor as a maker would type them who takes it for one with magnets."""

    def amps(omega: float) -> float:
        drag = motor.friction_torque_nm + motor.viscous_nm_per_rad_s * omega
        return current_for_torque(drag, 0.0, motor.series_constant_nm_per_a2, motor.saturation_current_a)

    def spare(omega: float, volt: float) -> float:
        constant = motor.series_constant_nm_per_a2 * amps(omega) / (1.0 + amps(omega) / motor.saturation_current_a)
        return volt - motor.brush_drop_v - amps(omega) * motor.resistance_ohm - constant * omega

    speeds = [brentq(spare, 0.0, 1e5, args=(volt,)) for volt in volts]
    return [
        {"voltage_v": volt, "current_a": amps(omega), "speed_rpm": omega * 30.0 / math.pi}
        for volt, omega in zip(volts, speeds, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class Plan:
    """Which readings of a permanent-magnet motor to take: volts of free spins, amps of held rows, (volts, brake torque) of brakings."""

    free_v: Sequence[float] = (6.0, 9.0, 12.5)
    held_a: Sequence[float] = (3.0, 4.5)
    braked: Sequence[tuple[float, float]] = ()
    chain_v: Sequence[float] = ()
    chain_torque_nm: float = 0.0
    room_c: float = 20.0


def working_point(motor: Motor, voltage: float, torque: float, room_c: float = 20.0) -> tuple[float, float]:
    """Current [A] and speed [rad/s] of a permanent-magnet motor at a terminal voltage and shaft torque, cold.

    V = K ω + I R + V_br and K I = τ_f + b ω + τ, two linear equations.
    """
    constant = warm_constant(motor.torque_constant_nm_per_a, magnet_coefficient(motor.magnet), room_c)
    resistance = warm_resistance(motor.resistance_ohm, room_c)
    still = motor.friction_torque_nm + torque
    speed = loaded_speed(voltage, still, constant, resistance, motor.brush_drop_v, motor.viscous_nm_per_rad_s)
    if speed <= 0.0:
        raise ValueError(f"at {voltage:g} V this motor does not turn against {torque:g} N m")
    return (still + motor.viscous_nm_per_rad_s * speed) / constant, speed


class PretendedMeters:
    """Meters that are off as their accuracy says: each reading by itself, and all of a meter by one factor."""

    def __init__(self, meter: Meter, generator: np.random.Generator | None) -> None:
        self.meter, self.generator = meter, generator
        self.gains = [1.0 + 0.01 * getattr(meter, f"{name}_gain_percent") * self._normal() for name in QUANTITIES]

    def _normal(self) -> float:
        return 0.0 if self.generator is None else self.generator.standard_normal()

    def _read(self, value: float, place: int, sd: float) -> float:
        return max(1e-6, value * self.gains[place] + sd * self._normal())

    def volts(self, value: float) -> float:
        return self._read(value, 0, volts_sd(self.meter, value))

    def amps(self, value: float) -> float:
        return self._read(value, 1, amps_sd(self.meter, value))

    def rpm(self, speed: float) -> float:
        """A speed in rad/s as turns a minute."""
        rpm = speed / RPM
        return self._read(rpm, 2, reading_sd(rpm, self.meter.speed_percent, self.meter.speed_digit_rpm))

    def torque(self, value: float) -> float:
        return self._read(value, 3, reading_sd(value, self.meter.torque_percent))


def simulate_bench(motor: Motor, plan: Plan = Plan(), meter: Meter = Meter(), generator=None) -> MotorLog:  # noqa: B008
    """A bench log of a known permanent-magnet motor; without a generator, of meters without error."""
    meters = PretendedMeters(meter, generator)
    resistance = warm_resistance(motor.resistance_ohm, plan.room_c)
    spins, braked = [], []
    for chained, voltages in ((False, plan.free_v), (True, plan.chain_v)):
        for volts in voltages:
            amps, speed = working_point(motor, volts, plan.chain_torque_nm if chained else 0.0, plan.room_c)
            spins.append(
                FreeSpin(
                    voltage_v=meters.volts(volts),
                    current_a=meters.amps(amps),
                    speed_rpm=meters.rpm(speed),
                    chain=chained,
                )
            )
    held = [
        Held(voltage_v=meters.volts(motor.brush_drop_v + amps * resistance), current_a=meters.amps(amps))
        for amps in plan.held_a
    ]
    for volts, torque in plan.braked:
        amps, speed = working_point(motor, volts, torque, plan.room_c)
        braked.append(
            Braked(
                voltage_v=meters.volts(volts), current_a=meters.amps(amps), speed_rpm=meters.rpm(speed),
                torque_nm=meters.torque(torque),
            )
        )  # fmt: skip
    by_hand = Turned(voltage_v=8.0 * motor.torque_constant_nm_per_a, speed_rpm=8.0 / RPM)
    return MotorLog(
        name="pretended bench", room_c=plan.room_c, magnet=motor.magnet, meter=meter, turned=(by_hand,),
        free_spin=tuple(spins), held=tuple(held), braked=tuple(braked),
    )  # fmt: skip


def simulate_series_bench(
    motor: Motor, currents=(20.0, 40.0, 80.0), held=(4.0, 9.0), volts=12.0, meter=None, generator=None, torque_known=True,
    winding_c=20.0,
) -> MotorLog:  # fmt: skip
    """A bench log of a known series-wound motor, written down from V = K(I) ω + I R + V_br and K(I) I = τ_f + b ω + τ."""
    meters = PretendedMeters(meter or Meter(), generator)
    resistance = motor.resistance_ohm * (1.0 + 0.00393 * (winding_c - 20.0))
    rows = []
    for amps in currents:
        constant = motor.series_constant_nm_per_a2 * amps / (1.0 + amps / motor.saturation_current_a)
        omega = (volts - motor.brush_drop_v - amps * resistance) / constant
        torque = constant * amps - motor.friction_torque_nm - motor.viscous_nm_per_rad_s * omega
        rows.append(
            Braked(
                voltage_v=meters.volts(volts), current_a=meters.amps(amps), speed_rpm=meters.rpm(omega),
                torque_nm=meters.torque(torque) if torque_known else None, winding_c=winding_c,
            )
        )  # fmt: skip
    still = [
        Held(voltage_v=meters.volts(motor.brush_drop_v + motor.resistance_ohm * amps), current_a=meters.amps(amps))
        for amps in held
    ]
    return MotorLog(
        kind="series-wound", name="pretended", meter=meters.meter, turned=(Turned(voltage_v=0.1),), braked=tuple(rows),
        held=tuple(still),
    )  # fmt: skip


def table_of(**changes) -> dict:
    """A good log as a maker would type it: the motor of :func:`motor_of`, meters without error."""
    table = {
        "name": "test bench",
        "turned": [{"voltage_v": 0.9, "speed_rpm": 82.0}],
        "free_spin": [
            {"voltage_v": 6.0, "current_a": 1.0415, "speed_rpm": 446.7},
            {"voltage_v": 9.0, "current_a": 1.0958, "speed_rpm": 719.1},
            {"voltage_v": 12.5, "current_a": 1.1592, "speed_rpm": 1036.9},
        ],
        "held": [{"voltage_v": 1.255, "current_a": 3.0}, {"voltage_v": 1.3825, "current_a": 4.5}],
    }
    for path, value in changes.items():
        place = table
        *way, last = path.split("__")
        for step in way:
            place = place[int(step)] if step.isdigit() else place[step]
        if value is None:
            del place[int(last) if last.isdigit() else last]
        else:
            place[int(last) if last.isdigit() else last] = value
    return table
