"""A motor's numbers and its heat: what is stated, else by the nameplate, else from the mass."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, NamedTuple

from ridesim.physics.motor import (
    FERRITE_PER_K,
    NEODYMIUM_PER_K,
    nameplate_current,
    speed_at_voltage,
    warm_constant,
    warm_resistance,
)
from ridesim.physics.motor_heat import COOLING_BAND, cooling_from_mass
from ridesim.vehicle.motor_read_off import RATING_AMBIENT_C, rated_case_c

if TYPE_CHECKING:
    from ridesim.vehicle.motor import Motor

USUAL_EFFICIENCY = 0.79
"""Of a brushed motor of some hundred watts at its rated point, for a nameplate without a current: 0.7 to 0.85, common practice, no source."""
LEAST_EFFICIENCY, BEST_EFFICIENCY = 0.65, 0.90
"""A small motor is hardly worse, and hardly better, than this at what it bears for hours: common practice, no source."""
WINDING_SHARE = 0.5
"""Of a motor's losses at its rated point, what arises in winding and brushes: common practice, no source."""


def motor_numbers(part: Motor) -> dict[str, float]:
    """The motor's constants by the names of the core's record: of a permanent-magnet motor, or of a series-wound one."""
    series = part.kind == "series-wound"
    return {
        "constant": 0.0 if series else float(part.torque_constant_nm_per_a or 0.0),
        "magnet_per_k": FERRITE_PER_K if part.magnet == "ferrite" else NEODYMIUM_PER_K,
        "series": float(part.series_constant_nm_per_a2 or 0.0) if series else 0.0,
        "saturation": float(part.saturation_current_a or 1.0) if series else 1.0,
        "resistance": part.resistance_ohm,
        "brush": part.brush_drop_v,
        "friction": part.friction_torque_nm,
        "viscous": part.viscous_nm_per_rad_s,
    }


class RatedPoint(NamedTuple):
    """The nameplate's working point, warm."""

    current_a: float
    omega: float  # [rad/s]
    torque_nm: float


def rated_point(part: Motor) -> RatedPoint | None:
    """Working point at rated power and voltage with the winding at its limit; None where there is no such point, or no nameplate."""
    if part.rated_power_w is None or part.rated_voltage_v is None:
        return None
    constant, per_k, series, saturation, *_ = motor_numbers(part).values()
    warm = warm_constant(constant, per_k, rated_case_c(part.winding_limit_c))
    hot = warm_resistance(part.resistance_ohm, part.winding_limit_c)
    current = nameplate_current(
        part.rated_power_w, part.rated_voltage_v, warm, series, saturation, hot,
        part.brush_drop_v, part.friction_torque_nm, part.viscous_nm_per_rad_s,
    )  # fmt: skip
    if not isfinite(current):
        return None
    omega = speed_at_voltage(current, part.rated_voltage_v, warm, series, saturation, hot, part.brush_drop_v)
    return RatedPoint(current, omega, part.rated_power_w / omega)


class ThermalValues(NamedTuple):
    """Heat capacities [J/K] and thermal resistances [K/W] under the names of the core's record."""

    winding_heat: float
    case_heat: float
    winding_to_case: float
    case_to_air: float


def thermal_values(part: Motor) -> ThermalValues:
    """Heat capacities and resistances of winding and case: those given, else by the nameplate rule, else from the mass.

    Parameters
    ----------
    part : Motor
        A validated motor.

    Returns
    -------
    ThermalValues
        C_w, C_c [J/K], R_wc, R_ca [K/W].

    Notes
    -----
    At rated power, continuous (S1 of IEC 60034-1), 40 °C ambient, the motor sheds the losses that its nameplate tells and the winding
    settles at its class limit, with a fifth of the rise between winding and case. The losses are the nameplate's alone: with those of
    the motor's own resistance and friction, one that loses more would be taken to cool better.
    C_w = 0.10 m·390, C_c = 0.90 m·460 (copper, iron; common practice).
    Without a nameplate, or with one that is doubtful and the cooler of the two: :func:`ridesim.physics.motor_heat.cooling_from_mass`.
    """
    winding_heat = part.winding_heat_j_per_k or 0.10 * part.mass_kg * 390.0
    case_heat = part.case_heat_j_per_k or 0.90 * part.mass_kg * 460.0
    to_case, to_air = part.winding_to_case_k_per_w, part.case_to_air_k_per_w
    if to_case is None or to_air is None:
        by_rule = cooling(part)
        to_case, to_air = to_case or by_rule[0], to_air or by_rule[1]
    return ThermalValues(winding_heat, case_heat, to_case, to_air)


class Cooling(NamedTuple):
    """Thermal resistances by rule, and why the nameplate was not believed: empty where it was, or where there is none."""

    winding_to_case: float  # [K/W]
    case_to_air: float  # [K/W]
    doubt: str


OUT_OF_REACH, INEFFICIENT = "out of reach", "inefficient"
TOO_COOL, TOO_HOT = "cooler than its mass allows", "hotter than its mass explains"


def cooling(part: Motor) -> Cooling:
    """R_wc and R_ca by the nameplate rule; from the mass where there is no nameplate, and the hotter of the two where it is doubtful."""
    by_mass = cooling_from_mass(part.mass_kg)
    lost = nameplate_loss_w(part)
    if lost is None:
        return Cooling(*by_mass, "")
    rise = part.winding_limit_c - RATING_AMBIENT_C
    by_plate = 0.2 * rise / (WINDING_SHARE * lost), 0.8 * rise / lost
    hotter = max(by_mass[0], by_plate[0]), max(by_mass[1], by_plate[1])
    rated = rated_point(part)
    if rated is None:
        return Cooling(*hotter, OUT_OF_REACH)
    if hotter == by_plate:
        return Cooling(*by_plate, TOO_HOT if sum(by_plate) > COOLING_BAND * sum(by_mass) else "")
    if efficiency_at(part, rated) < LEAST_EFFICIENCY:
        return Cooling(*hotter, INEFFICIENT)
    if sum(by_mass) > COOLING_BAND * sum(by_plate):
        return Cooling(*hotter, TOO_COOL)
    return Cooling(*by_plate, "")


def nameplate_loss_w(part: Motor) -> float | None:
    """What the motor turns into heat at its nameplate's point, by the nameplate alone; None where there is none. [W]"""
    if part.rated_power_w is None or part.rated_voltage_v is None:
        return None
    efficiency = USUAL_EFFICIENCY
    if part.rated_current_a is not None:
        efficiency = part.rated_power_w / (part.rated_voltage_v * part.rated_current_a)
    return part.rated_power_w * (1.0 / min(max(efficiency, LEAST_EFFICIENCY), BEST_EFFICIENCY) - 1.0)


def efficiency_at(part: Motor, rated: RatedPoint) -> float:
    """By the motor's own values: its nameplate's power over what it takes for that."""
    return float(part.rated_power_w or 0.0) / (float(part.rated_voltage_v or 1.0) * rated.current_a)


def most_power_w(part: Motor) -> float:
    """The most that the shaft can give at the nameplate's voltage, warm, where its power is out of reach. [W]"""
    low, high = 0.0, float(part.rated_power_w or 0.0)
    while high - low > 0.1:
        middle = 0.5 * (low + high)
        if rated_point(part.model_copy(update={"rated_power_w": middle})) is None:
            high = middle
        else:
            low = middle
    return low
