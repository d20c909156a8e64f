"""A permanent-magnet motor's constants from what its label or a free run says: power, speeds, currents, a resistance through the brushes."""

from __future__ import annotations

from collections.abc import Mapping
from math import pi
from typing import Any

from ridesim.physics.motor import FERRITE_PER_K, NEODYMIUM_PER_K, warm_constant, warm_resistance
from ridesim.words import InputProblem, is_number

RATING_AMBIENT_C = 40.0
"""Air temperature of ratings, IEC 60034-1 (a motor manual quoting it). [°C]"""
BRUSHES_ADD = 1.10
"""A meter through the brushes reads so much more than the winding, at the shaft position where it reads least; from memory."""
FAR_APART = 0.25
"""Constants from the free run and from the label further apart than this share contradict each other."""
RPM = 2.0 * pi / 60.0

READ_OFF = (
    "no_load_speed_rpm", "no_load_current_a", "no_load_voltage_v", "rated_speed_rpm", "rated_current_a", "resistance_through_brushes_ohm",
)  # fmt: skip

LABEL = ("rated_power_w", "rated_voltage_v", "rated_current_a", "rated_speed_rpm")
"""What a label must say for the resistance to follow from it."""


def rated_case_c(limit_c: float) -> float:
    """Case temperature at the rated point: a fifth of the winding's rise lies between winding and case. [°C]"""
    return limit_c - 0.2 * (limit_c - RATING_AMBIENT_C)


def from_read_off(table: Mapping[str, Any], defaults: Mapping[str, Any], limit_c: float) -> dict[str, float]:
    """Resistance, torque constant and friction that a motor's file leaves open, from what it says instead.

    Parameters
    ----------
    table : mapping
        The file's keys and values of one motor.
    defaults : mapping
        Of the keys that it leaves out.
    limit_c : float
        Of the winding, by its insulation class. [°C]

    Returns
    -------
    dict of str to float
        Keys to fill in; those that cannot be told are missing.

    Raises
    ------
    InputProblem
        A constant that the free run, or the label, contradicts; a free run that its volts cannot drive.

    Notes
    -----
    Free run: K = (V - V_br - I_0 R)/ω_0 and τ_f = K I_0 - b ω_0. Label: the same voltage balance at rated voltage, current and speed, warm;
    where no resistance is known, it is what the torque balance P/ω = K I - τ_f - b ω leaves of the volts
    (ridesim/physics/MODEL.md, 3.3, 3.4 and 3.7).
    """
    said = {**defaults, **table}
    used = (*READ_OFF, *LABEL, "brush_drop_v", "friction_torque_nm", "viscous_nm_per_rad_s")
    if not all(is_number(table[key]) for key in used if key in table):
        return {}  # the part's own check names them
    found: dict[str, float] = {}
    if "resistance_ohm" not in table and "resistance_through_brushes_ohm" in table:
        found["resistance_ohm"] = table["resistance_through_brushes_ohm"] / BRUSHES_ADD
    elif "resistance_ohm" not in table and all(table.get(key, 0.0) > 0.0 for key in LABEL):
        found["resistance_ohm"] = _label_resistance(said, limit_c)
    resistance = table.get("resistance_ohm", found.get("resistance_ohm"))
    if not is_number(resistance):
        return found
    free, label = _free_run(said, resistance), _label(said, resistance, limit_c)
    if free is not None and label is not None and abs(label / free - 1.0) > FAR_APART:
        text = f"{table['rated_speed_rpm']:g} rpm, a torque constant of {label:.3g} N m/A"
        raise InputProblem("", "rated_speed_rpm", text, f"about the {free:.3g} N m/A that the free run gives")
    constant = free if free is not None else label
    if constant is None:
        return found
    if "torque_constant_nm_per_a" in table:
        key = "no_load_speed_rpm" if free is not None else "rated_speed_rpm"
        raise InputProblem(
            "",
            "torque_constant_nm_per_a",
            f"{table['torque_constant_nm_per_a']}",
            f"no such key beside {key}, which gives it",
        )
    found["torque_constant_nm_per_a"] = constant
    if free is not None and "friction_torque_nm" not in table and "no_load_current_a" in table:
        drag = constant * table["no_load_current_a"] - said["viscous_nm_per_rad_s"] * table["no_load_speed_rpm"] * RPM
        found["friction_torque_nm"] = max(0.0, drag)
    return found


def _label_resistance(said: Mapping[str, Any], limit_c: float) -> float:
    """Resistance at 20 °C from rated power, voltage, current and speed: of the volts, what the turning leaves, warm. [ohm]"""
    power, volts, amps, speed = (said[key] for key in LABEL)
    turning = (
        power + said["friction_torque_nm"] * speed * RPM + said["viscous_nm_per_rad_s"] * (speed * RPM) ** 2
    ) / amps
    left = volts - said["brush_drop_v"] - turning
    if left <= 0.0:
        text = f"{power:g} W of the {volts * amps:.0f} W that {volts:g} V and {amps:g} A are"
        expected = "less, by what brushes, friction and winding lose (does the label say the power that goes in?); or resistance_ohm, measured"
        raise InputProblem(
            "", "rated_power_w", text, expected, "With the rotor held and a lamp in series: 2_bench_test_motor."
        )
    return float(left / amps / warm_resistance(1.0, limit_c))


def _free_run(said: Mapping[str, Any], resistance: float) -> float | None:
    """Torque constant from the unloaded speed. [N m/A]"""
    speed, volts = said.get("no_load_speed_rpm"), said.get("no_load_voltage_v") or said.get("rated_voltage_v")
    if speed is None:
        return None
    if volts is None:
        raise InputProblem("", "no_load_voltage_v", "nothing", "the volts of the free run (or rated_voltage_v)")
    left = volts - said["brush_drop_v"] - (said.get("no_load_current_a") or 0.0) * resistance
    return _positive(left, speed, "no_load_speed_rpm", volts)


def _label(said: Mapping[str, Any], resistance: float, limit_c: float) -> float | None:
    """Torque constant at 20 °C from the rated speed and current, warm. [N m/A]"""
    speed, amps, volts = (said.get(key) for key in ("rated_speed_rpm", "rated_current_a", "rated_voltage_v"))
    if speed is None or amps is None or volts is None:
        return None
    left = volts - said["brush_drop_v"] - amps * warm_resistance(resistance, limit_c)
    per_k = NEODYMIUM_PER_K if said["magnet"] == "neodymium" else FERRITE_PER_K
    return _positive(left, speed, "rated_speed_rpm", volts) / warm_constant(1.0, per_k, rated_case_c(limit_c))


def _positive(left: float, speed: float, key: str, volts: float) -> float:
    """Volts left for the turning over its speed."""
    if left <= 0.0 or speed <= 0.0:
        found = f"{speed:g} rpm at {volts:g} V, of which resistance and brushes leave {left:.2g} V"
        raise InputProblem("", key, found, "a speed that these volts can turn it at")
    return left / (speed * RPM)
