"""Motors and benches that the tests of this folder share."""

from __future__ import annotations

import math

import numpy as np

from ridesim.build import Motor

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


def table_of(**changes) -> dict:
    """A good log as a maker would type it: the motor of :func:`motor_of`, meters without error."""
    table = {
        "name": "test bench",
        "turned": [{"voltage_v": 0.9}],
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
