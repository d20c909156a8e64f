"""Motors and benches that the tests of this folder share."""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import brentq

from ridesim.bench.motor.load_log import LoadLog, LoadPoint
from ridesim.bench.motor.log import Locked, Meter, Turned
from ridesim.bench.motor.simulated import PretendedMeters
from ridesim.physics.motor import current_for_torque
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


def simulate_load_bench(
    motor: Motor, currents=(20.0, 40.0, 80.0), held=(4.0, 9.0), volts=12.0, meter=None, generator=None, braked=True,
    winding_c=20.0,
) -> LoadLog:  # fmt: skip
    """A load test's log of a known motor, written down from V = K(I) ω + I R + V_br and K(I) I = τ_f + b ω + τ."""
    meters = PretendedMeters(meter or Meter(), generator)
    resistance = motor.resistance_ohm * (1.0 + 0.00393 * (winding_c - 20.0))
    rows = []
    for amps in currents:
        constant = motor.series_constant_nm_per_a2 * amps / (1.0 + amps / motor.saturation_current_a)
        omega = (volts - motor.brush_drop_v - amps * resistance) / constant
        torque = constant * amps - motor.friction_torque_nm - motor.viscous_nm_per_rad_s * omega
        rows.append(
            LoadPoint(
                voltage_v=meters.volts(volts), current_a=meters.amps(amps), speed_rpm=meters.rpm(omega),
                torque_nm=meters.torque(torque) if braked else None, winding_c=winding_c,
            )
        )  # fmt: skip
    locked = [
        Locked(voltage_v=meters.volts(motor.brush_drop_v + motor.resistance_ohm * amps), current_a=meters.amps(amps))
        for amps in held
    ]
    return LoadLog(
        kind="series-wound", name="pretended", meter=meters.meter, turned=(Turned(voltage_v=0.1),), load=tuple(rows), locked=tuple(locked),
    )  # fmt: skip


def table_of(**changes) -> dict:
    """A good log as a maker would type it: the motor of :func:`motor_of`, meters without error."""
    table = {
        "name": "test bench",
        "turned": [{"voltage_v": 0.9, "speed_rpm": 82.0}],
        "no_load": [
            {"voltage_v": 6.0, "current_a": 1.0415, "speed_rpm": 446.7},
            {"voltage_v": 9.0, "current_a": 1.0958, "speed_rpm": 719.1},
            {"voltage_v": 12.5, "current_a": 1.1592, "speed_rpm": 1036.9},
        ],
        "locked": [{"voltage_v": 1.255, "current_a": 3.0}, {"voltage_v": 1.3825, "current_a": 4.5}],
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
