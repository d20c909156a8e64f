"""From a build and a day to the constants of the equations, for the reference solution.

Holds what is settled before a ride starts: air density, temperature factors, the nameplate rule for the motor's heat,
and the fit of the two-well battery. Written apart from the production code.
"""

from itertools import pairwise
from math import exp, expm1, log

import numpy
from scipy.optimize import brentq, least_squares

from .equations import GRAVITY, PEUKERT, RECOVERY, TWO_WELL, Parameters

GAS_CONSTANT_OF_AIR = 287.05  # J/(kg K)
WINDING_LIMIT_C = {"A": 100.0, "E": 115.0, "B": 120.0, "F": 145.0, "H": 165.0}
MAGNET_PER_K = {"ferrite": -0.0020, "neodymium": -0.0012}
NAMEPLATE_AMBIENT_C = 40.0
TWO_WELL_HOURS = (20.0, 5.0, 1.0)
ABSORPTION = {
    "lead-acid-agm": (2.40, -0.005, 1.0), "lead-acid-gel": (2.35, -0.005, 1.0), "lead-acid-flooded": (2.40, -0.005, 1.0),
    "lithium-iron-phosphate": (3.60, 0.0, 0.9), "lithium-nmc": (4.15, 0.0, 0.9),
}  # fmt: skip
"""Absorption voltage that the cells want, V a cell at 25 °C, its change in V/K (makers' charging characteristics, cyclic
use), and the state of charge whose rested voltage its excess counts from."""


def air_density(altitude_m, ambient_c):
    """Density of air, kg/m³: standard pressure at a geopotential altitude (m, troposphere), the day's temperature (°C)."""
    exponent = GRAVITY / (287.05287 * 0.0065)
    pressure = 101_325.0 * (1.0 - 0.0065 * altitude_m / 288.15) ** exponent
    return pressure / (GAS_CONSTANT_OF_AIR * (ambient_c + 273.15))


def nameplate_heat(motor):
    """Winding and case heat (J/K), winding to case and case to air (K/W), from the nameplate where not given.

    A machine that loses what its plate tells, without end and at 40 °C, settles with its winding at its class's limit; a
    fifth of the rise lies between winding and case, half of the loss arises in the winding. A plate without a current: 79 %
    of the electrical power comes out as its watts.
    """
    keys = ("winding_heat_j_per_k", "case_heat_j_per_k", "winding_to_case_k_per_w", "case_to_air_k_per_w")
    given = tuple(getattr(motor, key) for key in keys)
    if all(value is not None for value in given):
        return given
    rise = WINDING_LIMIT_C[motor.insulation_class] - NAMEPLATE_AMBIENT_C
    taken_w = motor.rated_power_w / 0.79
    if motor.rated_current_a is not None:
        taken_w = motor.rated_voltage_v * motor.rated_current_a
    lost_w = min(max(taken_w, motor.rated_power_w / 0.90), motor.rated_power_w / 0.65) - motor.rated_power_w
    rule = (
        0.10 * motor.mass_kg * 390.0,
        0.90 * motor.mass_kg * 460.0,
        0.2 * rise / (0.5 * lost_w),
        0.8 * rise / lost_w,
    )
    return tuple(mine if mine is not None else theirs for mine, theirs in zip(given, rule, strict=True))


def peukert_current(hours, capacity_ah, rated_hours, exponent):
    """Current, A, that the Peukert law in its rated-capacity form empties in a time, h; no gain below the rated one."""
    if hours >= rated_hours:
        return capacity_ah / hours
    return capacity_ah / rated_hours * (rated_hours / hours) ** (1.0 / exponent)


def two_well_share(hours, available_share, kappa):
    """Charge got out at constant current in a time (h) over the total of both wells; kappa in 1/h."""
    x = kappa * hours
    gone = -expm1(-x)
    return x * available_share / (gone + available_share * (x - gone))


def fit_two_well(capacity_ah, rated_hours, exponent):
    """Two-well constants whose run times match the Peukert law at its 20, 5 and 1 hour currents.

    From block capacity (Ah), the time it is rated at (h) and Peukert exponent (above 1) to available share c, flow
    constant k' (1/h) and total capacity (Ah).
    """
    charges = [t * peukert_current(t, capacity_ah, rated_hours, exponent) for t in TWO_WELL_HOURS]

    def misfits(unknown):
        share = 1.0 / (1.0 + exp(-unknown[0]))
        kappa = exp(unknown[1])
        total = exp(unknown[2])
        return [log(total * two_well_share(t, share, kappa) / q) for t, q in zip(TWO_WELL_HOURS, charges, strict=True)]

    fits = [
        least_squares(misfits, [start, log(kappa), log(1.1 * charges[0])], xtol=1e-15, ftol=1e-15, gtol=1e-15)
        for start in (-1.0, 0.5, 2.0, 4.0)
        for kappa in (0.2, 1.0, 4.0)
    ]
    best = min(fits, key=lambda fit: fit.cost)
    share = 1.0 / (1.0 + exp(-best.x[0]))
    return share, exp(best.x[1]) * share * (1.0 - share), exp(best.x[2])


def saturating_curve(pack):
    """C(I) = whole/(1 + bend (I/I_R)^delta) of a block: whole (Ah), bend, delta, and the slowest rate I_L/I_R that is known.

    From the rows of the data sheet by relative errors, else from the exponent as the page says below (6.6).
    """
    rated = pack.block_capacity_ah / pack.rated_hours
    if pack.capacity_by_hours is None:
        k = pack.in_force.peukert_exponent
        promised = 20.0 ** ((1.0 - k) / k)
        delta = max(0.78, k - 0.75)
        bend = (1.0 - promised) / (promised * (20.0 * promised) ** delta - 1.0)
        return pack.block_capacity_ah * (1.0 + bend), bend, delta, 1.0
    charges = numpy.array([ah for _, ah in pack.capacity_by_hours])
    rates = numpy.array([ah / hours / rated for hours, ah in pack.capacity_by_hours])

    def misfits(unknown):
        return exp(unknown[0]) / (1.0 + exp(unknown[1]) * rates ** exp(unknown[2])) / charges - 1.0

    fit = least_squares(misfits, [log(1.1 * charges.max()), -2.0, -0.3], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    return exp(fit.x[0]), exp(fit.x[1]), exp(fit.x[2]), float(rates.min())


def end_voltage(pack, slow_ah, bend, delta, slowest):
    """Volts a cell at empty under the rated current, and their fall a factor e of the current, by a line through the rows."""
    rated = pack.block_capacity_ah / pack.rated_hours
    rates, volts = [], []
    for hours, cell_volts in pack.in_force.end_voltage_v_per_cell:

        def surplus(ah, hours=hours):
            return ah - slow_ah / (1.0 + bend * max(slowest, ah / hours / rated) ** delta)

        rates.append(log(brentq(surplus, 0.0, slow_ah, xtol=1e-13) / hours / rated))
        volts.append(cell_volts)
    if len(rates) == 1:
        return volts[0], 0.0
    slope, at_rated = numpy.polyfit(rates, volts, 1)
    return float(at_rated), max(0.0, -float(slope))


def cell_voltage(table, charge):
    """Rested voltage of a cell, V, at a state of charge, between the rows of its table."""
    for (z0, volts0), (z1, volts1) in pairwise(table):
        if charge <= z1:
            return volts0 + (charge - z0) / (z1 - z0) * (volts1 - volts0)
    return table[-1][1]


def pack_parameters(pack, ambient_c, battery_model):
    """The pack's share of ``Parameters`` by name, and its rested-voltage table (V of the whole pack)."""
    strings = pack.strings_in_parallel
    layout = pack.blocks_in_series / strings
    warmer = ambient_c - 25.0
    factor = (1.0 + pack.in_force.capacity_per_k * warmer) * pack.state_of_health
    rated_pack = pack.block_capacity_ah * factor * 3600.0 * strings
    share, flow, capacity = 0.5, 0.0, rated_pack
    bend, delta, level = 0.0, 1.0, 1.0
    slow_ah, whole_bend, delta_of_sheet, slowest = saturating_curve(pack)
    if battery_model == "two-well":
        share, flow_per_h, total_ah = fit_two_well(
            pack.block_capacity_ah, pack.rated_hours, pack.in_force.peukert_exponent
        )
        flow = flow_per_h / 3600.0
        capacity = total_ah * factor * 3600.0 * strings
    if battery_model == "recovery":
        delta, level = delta_of_sheet, slowest**delta_of_sheet
        bend = whole_bend / (1.0 + whole_bend * level)
        capacity = slow_ah / (1.0 + whole_bend * level) * factor * 3600.0 * strings
    end_v, end_fall = end_voltage(pack, slow_ah, whole_bend, delta_of_sheet, slowest)
    cells = pack.in_force.cells_in_series * pack.blocks_in_series
    table = sorted((float(z), float(volts)) for z, volts in pack.in_force.open_circuit_v_per_cell)

    at_25, per_kelvin, counted_from = ABSORPTION[pack.chemistry]
    set_v = pack.in_force.absorption_v_per_cell + pack.charge_compensation_v_per_cell_per_k * warmer
    stronger = set_v - (at_25 + per_kelvin * warmer)
    excess = max(0.02, at_25 + per_kelvin * warmer - cell_voltage(table, counted_from))
    values = {
        "r0_full": layout * pack.in_force.block_resistance_ohm * exp(pack.in_force.resistance_per_k * warmer),
        "resistance_rise": pack.in_force.resistance_rise,
        "r1": layout * pack.in_force.polarisation_resistance_ohm,
        "t1": pack.in_force.polarisation_time_s,
        "activation": pack.in_force.activation_v_per_cell * cells,
        "activation_from": 0.001 * pack.block_capacity_ah * strings,
        "end_v": end_v * cells,
        "end_fall": end_fall * cells,
        "capacity": capacity,
        "rated_current": pack.block_capacity_ah / pack.rated_hours * strings,
        "peukert_less_one": pack.in_force.peukert_exponent - 1.0,
        "law": {"peukert": PEUKERT, "two-well": TWO_WELL, "recovery": RECOVERY}[battery_model],
        "recovery": pack.in_force.recovery_share,
        "bend": bend,
        "delta": delta,
        "level": level,
        "available_share": share,
        "well_flow": flow,
        "charge_efficiency": pack.in_force.coulombic_efficiency,
        "charging_ohm": cells
        * excess
        * pack.in_force.absorption_time_h
        * 3600.0
        / capacity
        / exp(max(0.0, stronger) / 0.112),
        "charger_volts": cells * set_v,
    }
    return values, [(z, cells * volts) for z, volts in table]


def ride_parameters(build, day, battery_model):
    """``Parameters``, states of charge and pack voltages (V) of the rested-voltage table.

    ``build`` and ``day`` have the attribute names of the users' files, all defaults filled in; ``battery_model`` is
    "peukert" or "two-well".
    """
    vehicle, motor, drive, controller = build.vehicle, build.motor, build.drive, build.controller
    series = motor.kind == "series-wound"
    gear = drive.gearbox_ratio * drive.wheel_teeth / drive.motor_teeth / vehicle.rolling_radius_m
    winding_heat, case_heat, winding_to_case, case_to_air = nameplate_heat(motor)
    of_pack, table = pack_parameters(build.pack, day.ambient_c, battery_model)

    values = Parameters(
        gear_per_m=gear,
        chain_efficiency=drive.efficiency,
        freewheel=drive.freewheel,
        breakaway=vehicle.breakaway_factor,
        half_rho_area=0.5 * air_density(day.altitude_m, day.ambient_c) * vehicle.drag_area_m2,
        headwind=day.headwind_mps,
        rider_acceleration=day.rider_acceleration_mps2,
        series_wound=series,
        k20=motor.series_constant_nm_per_a2 if series else motor.torque_constant_nm_per_a,
        k_per_k=0.0 if series else MAGNET_PER_K[motor.magnet],
        saturation=1.0 / motor.saturation_current_a if series else 0.0,
        r20=motor.resistance_ohm,
        brush_v=motor.brush_drop_v,
        friction_torque=motor.friction_torque_nm,
        gear_drag=drive.drag_nm,
        viscous=motor.viscous_nm_per_rad_s,
        winding_heat=winding_heat,
        case_heat=case_heat,
        winding_to_case=winding_to_case,
        case_to_air=case_to_air,
        ambient=day.ambient_c,
        battery_limit=controller.max_battery_current_a,
        motor_limit=controller.max_motor_current_a,
        cutoff=controller.cutoff_voltage_v,
        cuts_out=controller.cutoff_action == "cut-out",
        restart=controller.restart_voltage_v or 0.0,
        restart_delay=controller.restart_delay_s or 0.0,
        ramp=controller.ramp_s,
        r_on=controller.on_resistance_ohm,
        freewheel_v=controller.freewheel_drop_v,
        **of_pack,
    )
    floats = Parameters(*(float(value) for value in values))
    return floats, tuple(z for z, _ in table), tuple(volts for _, volts in table)
