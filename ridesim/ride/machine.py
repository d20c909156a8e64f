"""From a build and a day to the plain SI numbers of the compiled core."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple, cast

import numba
import numpy as np
from numpy.typing import NDArray

from ridesim.day import Day
from ridesim.physics.capacity_laws import LAW_NAMES
from ridesim.physics.charging import acceptance_conductance, compensated_voltage
from ridesim.physics.motor import (
    FERRITE_PER_K,
    NEODYMIUM_PER_K,
    drag_torque,
    nameplate_current,
    speed_at_voltage,
    warm_constant,
    warm_resistance,
)
from ridesim.physics.motor_heat import cooling_from_mass
from ridesim.physics.pack import REFERENCE_C, capacity_temperature_factor, resistance_temperature_factor
from ridesim.ride.pack.laws import SaturatingFit, TwoWellFit, choose_law, fit_saturating, fit_two_well
from ridesim.vehicle import Build, Motor, Pack
from ridesim.words import InputProblem


class Machine(NamedTuple):
    """A build in SI numbers, at one pack temperature and under one capacity law.

    Hand it to compiled functions through :func:`packed`.
    """

    radius: float
    ratio: float
    efficiency: float
    freewheel: int
    wheel_inertia: float
    rotor_inertia: float
    drag_area: float
    rolling: float
    breakaway: float
    constant: float
    magnet_per_k: float
    series: float
    saturation: float
    resistance: float
    brush: float
    friction: float
    viscous: float
    winding_heat: float
    case_heat: float
    winding_to_case: float
    case_to_air: float
    winding_limit: float
    battery_limit: float
    motor_limit: float
    cutoff: float
    cuts_out: int  # 1: switches off at the cut-off, 0: folds back
    restart: float  # [V]
    restart_delay: float
    ramp: float
    on_resistance: float
    standby: float
    table_z: NDArray[np.float64]
    table_v: NDArray[np.float64]
    pack_resistance: float
    resistance_rise: float
    polarisation_resistance: float
    polarisation_time: float
    strings: float
    capacity: float  # of one string, at the day's temperature and health [A s]
    rated_current: float  # of one string [A]
    exponent: float
    law: int
    well_share: float
    well_rate: float  # κ [1/s]
    well_whole: float  # C_∞ of one string [A s]
    law_capacity: float  # C_0 of one string [A s]
    law_gain: float
    law_reference: float
    law_exponent: float
    coulombic: float
    absorption: float  # charger's voltage at the pack's temperature [V]
    acceptance: float  # where C is missing from the pack [S]
    reserve: float


class Scene(NamedTuple):
    """What surrounds the vehicle during one phase, in SI numbers."""

    mode: int
    wanted: float  # acceleration the rider asks for [m/s²]
    mass: float
    effective_mass: float
    density: float
    headwind: float
    grade: float  # rise over run at ``since``
    grade_rate: float  # its change [1/s], for traces with grades
    since: float
    rolling: float  # coefficient, surface factor included
    controller_on: int
    light_power: float
    charger: float
    ambient: float


STAND, DRIVE, STALL, COAST = range(4)
"""Modes of a scene."""


def thermal_values(part: Motor) -> tuple[float, float, float, float]:
    """Heat capacities and resistances of winding and case: those given, else by the nameplate rule, else from the mass.

    Parameters
    ----------
    part : Motor
        A validated motor.

    Returns
    -------
    tuple of float
        C_w, C_c [J/K], R_wc, R_ca [K/W].

    Raises
    ------
    InputProblem
        The motor's constants cannot give its nameplate power.

    Notes
    -----
    At rated power and voltage, continuous (S1 of IEC 60034-1), 40 °C ambient, the winding settles at its class limit
    with a fifth of the rise between winding and case. C_w = 0.10 m·390, C_c = 0.90 m·460 (copper, iron; common practice).
    Without a nameplate: :func:`ridesim.physics.motor_heat.cooling_from_mass`.
    """
    winding_heat = part.winding_heat_j_per_k or 0.10 * part.mass_kg * 390.0
    case_heat = part.case_heat_j_per_k or 0.90 * part.mass_kg * 460.0
    if part.winding_to_case_k_per_w is not None and part.case_to_air_k_per_w is not None:
        return winding_heat, case_heat, part.winding_to_case_k_per_w, part.case_to_air_k_per_w
    if part.rated_power_w is None or part.rated_voltage_v is None:
        to_case, to_air = cooling_from_mass(part.mass_kg)
        return winding_heat, case_heat, part.winding_to_case_k_per_w or to_case, part.case_to_air_k_per_w or to_air
    rise = part.winding_limit_c - 40.0
    case = part.winding_limit_c - 0.2 * rise
    constant, per_k, series, saturation = flux(part)
    hot = warm_resistance(part.resistance_ohm, part.winding_limit_c)
    warm = warm_constant(constant, per_k, case)
    current = nameplate_current(
        part.rated_power_w, part.rated_voltage_v, warm, series, saturation, hot,
        part.brush_drop_v, part.friction_torque_nm, part.viscous_nm_per_rad_s,
    )  # fmt: skip
    if not np.isfinite(current):
        raise InputProblem(
            "the build",
            "motor.rated_power_w",
            f"{part.rated_power_w:g} W at {part.rated_voltage_v:g} V",
            "a nameplate that the motor's torque constant and resistance can reach, warm",
            "Check the nameplate and the bench values against each other.",
        )
    omega = speed_at_voltage(current, part.rated_voltage_v, warm, series, saturation, hot, part.brush_drop_v)
    copper = current * current * hot + part.brush_drop_v * current
    friction = omega * drag_torque(omega, part.friction_torque_nm, part.viscous_nm_per_rad_s)
    to_case = part.winding_to_case_k_per_w or 0.2 * rise / copper
    to_air = part.case_to_air_k_per_w or 0.8 * rise / (copper + friction)
    return winding_heat, case_heat, to_case, to_air


def flux(part: Motor) -> tuple[float, float, float, float]:
    """Permanent-magnet constant and its coefficient, series constant and saturation."""
    if part.kind == "series-wound":
        return 0.0, 0.0, float(part.series_constant_nm_per_a2 or 0.0), float(part.saturation_current_a or 1.0)
    per_k = FERRITE_PER_K if part.magnet == "ferrite" else NEODYMIUM_PER_K
    return float(part.torque_constant_nm_per_a or 0.0), per_k, 0.0, 1.0


@lru_cache(maxsize=128)
def machine(build: Build, pack_temperature: float = REFERENCE_C, battery_model: str | None = None) -> Machine:
    """A build's numbers for the core.

    Parameters
    ----------
    build : Build
        A validated build.
    pack_temperature : float
        Temperature of the pack. [°C]
    battery_model : {"peukert", "two-well", "saturating"}, optional
        The capacity law; None: saturating where the build has ``capacity_by_hours``, else Peukert.

    Notes
    -----
    Kept for builds asked again (a panel asks a dozen times a step): builds are frozen, and nothing writes into these numbers.
    """
    pack, drive, vehicle, control = build.pack, build.drive, build.vehicle, build.controller
    ampere_seconds = 3600.0 * capacity_factor_at(pack, pack_temperature) * pack.state_of_health
    ladder = pack.blocks_in_series / pack.strings_in_parallel
    table = np.array(pack.in_force.open_circuit_v_per_cell, dtype=float)
    constant, per_k, series, saturation = flux(build.motor)
    winding_heat, case_heat, to_case, to_air = thermal_values(build.motor)
    return Machine(
        radius=vehicle.rolling_radius_m,
        ratio=drive.ratio,
        efficiency=drive.efficiency,
        freewheel=int(drive.freewheel),
        wheel_inertia=vehicle.wheels_inertia_kgm2,
        rotor_inertia=build.motor.rotor_inertia_kgm2,
        drag_area=vehicle.drag_area_m2,
        rolling=vehicle.rolling_coefficient,
        breakaway=vehicle.breakaway_factor,
        constant=constant,
        magnet_per_k=per_k,
        series=series,
        saturation=saturation,
        resistance=build.motor.resistance_ohm,
        brush=build.motor.brush_drop_v,
        friction=build.motor.friction_torque_nm,
        viscous=build.motor.viscous_nm_per_rad_s,
        winding_heat=winding_heat,
        case_heat=case_heat,
        winding_to_case=to_case,
        case_to_air=to_air,
        winding_limit=build.motor.winding_limit_c,
        battery_limit=control.max_battery_current_a,
        motor_limit=control.max_motor_current_a,
        cutoff=build.cutoff_voltage_v,
        cuts_out=int(control.cutoff_action == "cut-out"),
        restart=build.restart_voltage_v,
        restart_delay=build.restart_delay_s,
        ramp=control.ramp_s,
        on_resistance=control.on_resistance_ohm,
        standby=control.standby_current_a,
        table_z=_padded(table[:, 0], 1.0),
        table_v=_padded(table[:, 1] * pack.cells, 0.0),
        pack_resistance=ladder
        * pack.in_force.block_resistance_ohm
        * resistance_temperature_factor(pack_temperature, pack.in_force.resistance_per_k),
        resistance_rise=pack.in_force.resistance_rise,
        polarisation_resistance=ladder * pack.in_force.polarisation_resistance_ohm,
        polarisation_time=pack.in_force.polarisation_time_s,
        strings=float(pack.strings_in_parallel),
        capacity=pack.block_capacity_ah * ampere_seconds,
        rated_current=pack.block_capacity_ah / pack.rated_hours,
        exponent=exponent_in_use(pack),
        **_law_numbers(pack, choose_law(pack, battery_model), ampere_seconds),
        coulombic=pack.in_force.coulombic_efficiency,
        absorption=absorption_at(pack, pack_temperature),
        acceptance=acceptance_conductance(
            pack.block_capacity_ah * ampere_seconds * pack.strings_in_parallel,
            tail_overvoltage(pack, pack_temperature) * pack.blocks_in_series,
            pack.in_force.absorption_time_h * 3600.0,
        ),
        reserve=pack.reserve,
    )


def _law_numbers(pack: Pack, law: str, ampere_seconds: float) -> dict[str, Any]:
    """Machine's fields that belong to one capacity law; those of the others say nothing."""
    wells = fit_two_well(pack) if law == "two-well" else TwoWellFit(0.5, 1.0, 1.0, 0.0)
    curve = fit_saturating(pack) if law == "saturating" else SaturatingFit(1.0, 1.0, 1.0, 1.0, 0.0)
    return {
        "law": LAW_NAMES.index(law),
        "well_share": wells.share,
        "well_rate": wells.rate_per_h / 3600.0,
        "well_whole": wells.whole_ah * ampere_seconds,
        "law_capacity": curve.capacity_ah * ampere_seconds,
        "law_gain": curve.gain,
        "law_reference": curve.reference_a,
        "law_exponent": curve.exponent,
    }


def with_law(numbers: Machine, pack: Pack, battery_model: str) -> Machine:
    """The same machine under another capacity law."""
    ampere_seconds = numbers.capacity / pack.block_capacity_ah
    return numbers._replace(**_law_numbers(pack, choose_law(pack, battery_model), ampere_seconds))


def capacity_factor_at(pack: Pack, temperature: float) -> float:
    """Capacity over that at 25 °C: the block's own rows where given, level beyond their ends, else a straight line.

    Rows on both sides of 25 °C are divided by their share there. Where none reaches it, there is nothing to divide by:
    the shares stand as they are, and 25 °C counts as 1 (unless the rows themselves are past it, then level).
    """
    if pack.capacity_by_temperature is None:
        return capacity_temperature_factor(temperature, pack.in_force.capacity_per_k)
    degrees, shares = np.array(sorted(pack.capacity_by_temperature), dtype=float).T
    if degrees[-1] < REFERENCE_C:
        degrees, shares = np.append(degrees, REFERENCE_C), np.append(shares, max(1.0, shares[-1]))
        whole = 1.0
    elif degrees[0] > REFERENCE_C:
        degrees, shares = np.append(REFERENCE_C, degrees), np.append(min(1.0, shares[0]), shares)
        whole = 1.0
    else:
        whole = float(np.interp(REFERENCE_C, degrees, shares))
    return float(np.interp(temperature, degrees, shares)) / whole


def absorption_at(pack: Pack, temperature: float) -> float:
    """Charger's voltage for the pack, compensated for temperature where the charger does so. [V]"""
    per_k = pack.charge_compensation_v_per_cell_per_k
    return compensated_voltage(pack.full_voltage_v, pack.cells, per_k, temperature)


def highest_charger_v(pack: Pack, ambient_c: float) -> float:
    """Most that the charger puts on the pack, and on all that stays connected: in this air, or at 25 °C where that is more. [V]"""
    return max(pack.full_voltage_v, absorption_at(pack, ambient_c))


LEAST_OVERVOLTAGE_V = 0.02
"""Least overvoltage of the tail, a cell, for a rested-voltage table that reaches up to the reference voltage. [V]"""


def tail_overvoltage(pack: Pack, temperature: float = REFERENCE_C) -> float:
    """What the absorption voltage that the chemistry wants leaves above a block's rested voltage where the tail ends. [V]

    Wanted at the pack's own temperature: a charger that is compensated as the makers ask keeps its tail, a plain one has too little
    pressure in the cold and too much in the heat. That cold cells accept charge more slowly at the right voltage too is not modelled.

    Lead-acid: above E(1). A lithium cell's rested voltage itself climbs to the charger's in the last per cents, so its
    tail is reckoned from the plateau before that climb.
    """
    z, volts = np.array(pack.in_force.open_circuit_v_per_cell, dtype=float).T
    rested = float(np.interp(pack.kind.tail_rested_at, z, volts))
    wanted = compensated_voltage(
        pack.kind.absorption_v_per_cell, 1, pack.care.compensation_v_per_cell_per_k, temperature
    )
    return max(wanted - rested, LEAST_OVERVOLTAGE_V) * pack.in_force.cells_in_series


TABLE_POINTS = 40
"""Room for the rested-voltage table in the record."""

_WHOLE = ("freewheel", "law", "cuts_out")
_RECORD = np.dtype([
    (name, np.float64, (TABLE_POINTS,)) if name.startswith("table") else (name, np.int64 if name in _WHOLE else np.float64)
    for name in Machine._fields
])  # fmt: skip


def packed(numbers: Machine) -> Machine:
    """The same numbers, under the same names, as one record for the compiled core.

    A record goes from function to function by its address; a tuple of fifty numbers is copied at every call. With the
    compiler off the tuple itself serves.
    """
    if numba.config.DISABLE_JIT:  # type: ignore[attr-defined]
        return numbers
    rows = np.empty(1, dtype=_RECORD)
    rows[0] = tuple(numbers)
    return cast(Machine, rows[0])


def _padded(column: NDArray[np.float64], step: float) -> NDArray[np.float64]:
    """A column of the table filled up with points beyond its end that say the same."""
    room = TABLE_POINTS - len(column)
    return np.concatenate([column, column[-1] + step * np.arange(1, room + 1)])


def exponent_in_use(pack: Pack) -> float:
    """Peukert's k: the least-squares fit where the block's data sheet is given, else the pack's own."""
    from ridesim.ride.pack.laws import fit_peukert

    return fit_peukert(pack).exponent if pack.capacity_by_hours is not None else pack.in_force.peukert_exponent


def _set(value: float | None) -> float:
    """A value that validation has filled in."""
    assert value is not None
    return value


def activity_scene(build: Build, day: Day, numbers: Machine, aboard: bool, mode: int) -> Scene:
    """A scene on level asphalt in the day's air, lights off, no charger."""
    from ridesim.physics.road import air_density, effective_mass

    mass = build.total_mass_kg(aboard)
    return Scene(
        mode=mode,
        wanted=0.0,
        mass=mass,
        effective_mass=effective_mass(
            mass, numbers.wheel_inertia, numbers.radius, numbers.rotor_inertia, numbers.ratio
        ),
        density=air_density(day.altitude_m, day.ambient_c),
        headwind=day.headwind_mps,
        grade=0.0,
        grade_rate=0.0,
        since=0.0,
        rolling=numbers.rolling,
        controller_on=1,
        light_power=0.0,
        charger=0.0,
        ambient=day.ambient_c,
    )
