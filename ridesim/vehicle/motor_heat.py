"""A motor's numbers and its heat: what is stated, else by the nameplate, else from the mass."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, NamedTuple

from ridesim.physics.motor import (
    FERRITE_PER_K,
    NEODYMIUM_PER_K,
    drag_torque,
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
LEAST_EFFICIENCY = 0.65
"""A brushed motor is hardly worse than this at what it bears for hours: common practice, no source."""


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
    At rated current and voltage, continuous (S1 of IEC 60034-1), 40 °C ambient, the winding settles at its class limit
    with a fifth of the rise between winding and case. The current is the nameplate's; where it says none, it follows from
    power, voltage and a usual efficiency, not from the resistance: one that was read too high would make the motor cool better.
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


OUT_OF_REACH, INEFFICIENT, TOO_COOL = "out of reach", "inefficient", "cooler than its mass allows"


def cooling(part: Motor) -> Cooling:
    """R_wc and R_ca by the nameplate rule; from the mass where there is no nameplate, or a doubtful one makes the motor cooler."""
    by_mass = cooling_from_mass(part.mass_kg)
    if part.rated_power_w is None or part.rated_voltage_v is None:
        return Cooling(*by_mass, "")
    rated = rated_point(part)
    if rated is None:
        return Cooling(*by_mass, OUT_OF_REACH)
    rise = part.winding_limit_c - RATING_AMBIENT_C
    hot = warm_resistance(part.resistance_ohm, part.winding_limit_c)
    current = part.rated_current_a or part.rated_power_w / (USUAL_EFFICIENCY * part.rated_voltage_v)
    copper = current * current * hot + part.brush_drop_v * current
    friction = rated.omega * drag_torque(rated.omega, part.friction_torque_nm, part.viscous_nm_per_rad_s)
    by_plate = 0.2 * rise / copper, 0.8 * rise / (copper + friction)
    if sum(by_mass) > sum(by_plate) and part.rated_power_w < LEAST_EFFICIENCY * part.rated_voltage_v * rated.current_a:
        return Cooling(*by_mass, INEFFICIENT)
    if sum(by_mass) > COOLING_BAND * sum(by_plate):
        return Cooling(*by_mass, TOO_COOL)
    return Cooling(*by_plate, "")


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
