"""The speed controller: its limits and losses."""

from __future__ import annotations

from ridesim.forms import Part, quantity


class Controller(Part):
    """A step-down chopper. Labels often print one current: find out whether it is the battery's or the motor's."""

    max_battery_current_a: float = quantity("limit of the current taken from the pack", gt=0.0, le=5000.0)
    max_motor_current_a: float = quantity("limit of the current into the motor", gt=0.0, le=5000.0)
    cutoff_voltage_v: float | None = quantity(
        "pack voltage at which it stops; else from the chemistry", None, ge=0.0, le=1000.0
    )
    max_voltage_v: float | None = quantity("highest supply voltage it stands", None, gt=0.0, le=1000.0)
    on_resistance_ohm: float = quantity(
        "switch and wires in the motor current's path", 0.006, source="common practice, no source", ge=0.0, le=1.0
    )
    standby_current_a: float = quantity(
        "drawn while switched on", 0.05, source="common practice, no source", ge=0.0, le=10.0
    )
    mass_kg: float = quantity("mass with its bracket", 0.8, source="common practice, no source", ge=0.0, le=100.0)
