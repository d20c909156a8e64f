"""The right-hand side: every equation of the model put together at one moment."""

from __future__ import annotations

from numpy import float64
from numpy.typing import NDArray

from ridesim.physics.battery import (
    FILTER_S,
    PEUKERT,
    TWO_WELL,
    charge_current,
    open_circuit,
    peukert_factor,
    resistance_factor,
    saturating_capacity,
    two_well_flow,
)
from ridesim.physics.chopper import largest_current, motor_power, pack_current_for_power
from ridesim.physics.compiled import compiled
from ridesim.physics.drive import chain_loss, shaft_torque, wheel_force
from ridesim.physics.motor import (
    case_heating,
    current_for_torque,
    drag_torque,
    torque_constant,
    warm_constant,
    warm_resistance,
    winding_heating,
)
from ridesim.physics.road import air_force, grade_force, rolling_force
from ridesim.ride.laws import LawNumbers
from ridesim.ride.numbers import COAST, DRIVE, STALL, Machine, Scene
from ridesim.ride.state import (
    ACCELERATION,
    CASE,
    CHARGE,
    CHARGE_1,
    CHARGE_2,
    CHARGE_OUT,
    CURRENT_SQUARED,
    DISTANCE,
    DRAWN,
    DUTY,
    ENERGY,
    FROM_CHARGER,
    LIMIT,
    LOSS_BRUSHES,
    LOSS_CHAIN,
    LOSS_CONTROLLER,
    LOSS_COPPER,
    LOSS_FRICTION,
    LOSS_PACK,
    LOSS_POLARISATION,
    MARGIN,
    MOTOR_CURRENT,
    NOT_STORED,
    PACK_CURRENT,
    POLARISATION,
    POSSIBLE,
    PULL,
    SPEED,
    SWITCHED_OFF,
    THROUGHPUT,
    TIME,
    USE_AIR,
    USE_BRAKE,
    USE_LIGHTS,
    USE_POTENTIAL,
    USE_ROLLING,
    USE_STANDBY,
    VOLTS,
    WINDING,
)  # fmt: skip

Array = NDArray[float64]

LIGHT_CONVERTER = 0.90
"""Efficiency of the converter between main pack and lights; common practice, no source."""


@compiled
def state_of_charge(q1: float, q2: float, m: LawNumbers) -> float:
    """State of charge z from the law's own two charges (see :func:`charge_rates`)."""
    if m.law == PEUKERT:
        return q1
    if m.law == TWO_WELL:
        return q1 / m.well_share
    return 1.0 - q1 / saturating_capacity(q2, 1.0, m.law_gain, m.law_reference, m.law_exponent)


@compiled
def charges_at(z: float, m: LawNumbers) -> tuple[float, float]:
    """The law's own two charges of a rested pack at a state of charge."""
    if m.law == PEUKERT:
        return z, 0.0
    if m.law == TWO_WELL:
        return m.well_share * z, (1.0 - m.well_share) * z
    return (1.0 - z) * m.law_gain, 0.0


@compiled
def charge_rates(q1: float, q2: float, current: float, m: LawNumbers) -> tuple[float, float]:
    """Rates of the law's own two charges under a string current (discharge positive).

    Peukert: q1 = z. Two-well: y1 and y2 over C_∞. Saturating: charge taken over C_0, and the filtered current.
    """
    counted = current if current >= 0.0 else m.coulombic * current
    if m.law == PEUKERT:
        factor = peukert_factor(current, m.rated_current, m.exponent) if current > 0.0 else 1.0
        return -counted / m.capacity * factor, 0.0
    if m.law == TWO_WELL:
        flow = two_well_flow(q1, q2, m.well_share, m.well_rate)
        return flow - counted / m.well_whole, -flow
    return counted / m.law_capacity, (max(0.0, current) - q2) / FILTER_S


@compiled
def rates(s: Array, m: Machine, scene: Scene, d: Array, out: Array) -> None:
    """Derivatives of the whole state and the outputs at one moment.

    Parameters
    ----------
    s : ndarray, shape (STATE_SIZE,)
        State.
    m : Machine
        The build's numbers.
    scene : Scene
        What surrounds it.
    d : ndarray, shape (STATE_SIZE,)
        Filled with the derivatives.
    out : ndarray, shape (OUTPUT_SIZE,)
        Filled with the outputs.

    References
    ----------
    The model, sections 1 to 7 (``DEVELOPERS.md``); each equation is a function of ``ridesim.physics``.
    """
    speed = max(0.0, s[SPEED]) if scene.mode == DRIVE or scene.mode == COAST else 0.0
    omega = speed * m.ratio / m.radius
    winding, case = s[WINDING], s[CASE]

    # Pack
    z = state_of_charge(s[CHARGE_1], s[CHARGE_2], m)
    alive = z > 0.0 and s[SWITCHED_OFF] == 0.0
    rested = open_circuit(z, m.table_z, m.table_v)
    inner = m.pack_resistance * resistance_factor(min(1.0, max(0.0, z)), m.resistance_rise)
    standby = m.standby if scene.controller_on == 1 and alive else 0.0
    lights = scene.light_power / (LIGHT_CONVERTER * rested) if alive else 0.0
    polarisation = s[POLARISATION]
    volts = rested - polarisation - inner * (standby + lights)

    # Road
    grade = scene.grade + scene.grade_rate * (s[TIME] - scene.since)
    rolling = rolling_force(scene.mass, grade, scene.rolling)
    slope = grade_force(scene.mass, grade)
    air = air_force(scene.density, m.drag_area, speed, scene.headwind)
    resisting = rolling + slope + air

    # Motor and controller: the largest pull, then what the rider takes of it
    resistance = warm_resistance(m.resistance, winding)
    constant = warm_constant(m.constant, m.magnet_per_k, case)
    path = resistance + m.on_resistance
    drag = drag_torque(omega, m.friction, m.viscous)
    current, limit = 0.0, 0
    pull, brake, acceleration = 0.0, 0.0, 0.0
    possible, margin = 0.0, 0.0
    turning = speed > 0.0
    if scene.mode == DRIVE or scene.mode == STALL:
        if alive:
            current, limit = largest_current(
                volts,
                omega,
                constant,
                m.series,
                m.saturation,
                m.brush,
                path,
                inner,
                m.battery_limit,
                m.motor_limit,
                m.cutoff,
            )
        torque = torque_constant(current, constant, m.series, m.saturation) * current - drag
        if torque < 0.0 and m.freewheel == 1:
            current, torque, turning = 0.0, 0.0, False
        pull = wheel_force(torque, m.ratio, m.radius, m.efficiency)
        possible = (pull - resisting) / scene.effective_mass
        margin = pull - (rolling * m.breakaway + slope + air)
        acceleration = possible
        if scene.mode == STALL:
            pull, acceleration, turning = 0.0, 0.0, False
        elif scene.wanted < possible:
            acceleration = scene.wanted
            needed = scene.effective_mass * acceleration + resisting
            limit = 0
            if needed >= 0.0:
                pull, turning = needed, speed > 0.0
                torque = shaft_torque(pull, m.ratio, m.radius, m.efficiency)
                current = current_for_torque(torque + drag, constant, m.series, m.saturation)
            elif m.freewheel == 1:
                pull, current, turning, brake = 0.0, 0.0, False, -needed
            else:
                dragged = wheel_force(-drag, m.ratio, m.radius, m.efficiency)
                pull = max(needed, dragged)
                brake = pull - needed
                torque = shaft_torque(pull, m.ratio, m.radius, m.efficiency)
                current = (
                    current_for_torque(torque + drag, constant, m.series, m.saturation) if needed > dragged else 0.0
                )
    elif scene.mode == COAST:
        turning = m.freewheel == 0 and speed > 0.0
        pull = wheel_force(-drag, m.ratio, m.radius, m.efficiency) if m.freewheel == 0 else 0.0
        acceleration = (pull - resisting) / scene.effective_mass
        margin = pull - (rolling * m.breakaway + slope + air)

    # Electrical balance
    power = motor_power(current, omega, constant, m.series, m.saturation, m.brush, path)
    taken = pack_current_for_power(power, volts, inner)
    pack = taken + standby + lights
    charger = 0.0
    if scene.charger > 0.0:
        if scene.charger <= pack:
            charger = scene.charger
            pack -= charger
        else:
            into = charge_current(
                scene.charger - pack,
                z,
                m.capacity * m.strings,
                m.absorption_time,
                m.absorption,
                rested,
                polarisation,
                inner,
            )
            charger = pack + into
            pack = -into
    terminal = rested - polarisation - inner * pack

    # Rates
    q1, q2 = charge_rates(s[CHARGE_1], s[CHARGE_2], pack / m.strings, m)
    friction_heat = drag * omega if turning else 0.0
    d[DISTANCE] = speed
    d[SPEED] = acceleration
    d[CHARGE_1] = q1
    d[CHARGE_2] = q2
    d[POLARISATION] = (m.polarisation_resistance * pack - polarisation) / m.polarisation_time
    d[WINDING] = winding_heating(current, resistance, m.brush, winding, case, m.winding_heat, m.winding_to_case)
    d[CASE] = case_heating(friction_heat, winding, case, scene.ambient, m.case_heat, m.winding_to_case, m.case_to_air)
    d[TIME] = 1.0
    d[SWITCHED_OFF] = 0.0

    # Ledger
    stored = pack if pack >= 0.0 else m.coulombic * pack
    d[ENERGY] = terminal * max(0.0, pack)
    d[DRAWN] = rested * stored
    d[THROUGHPUT] = rested * abs(pack)
    d[CURRENT_SQUARED] = current * current
    d[CHARGE_OUT] = max(0.0, pack)
    d[LOSS_PACK] = inner * pack * pack
    d[LOSS_POLARISATION] = polarisation * pack
    d[USE_STANDBY] = terminal * standby
    d[USE_LIGHTS] = terminal * lights
    d[LOSS_CONTROLLER] = current * current * m.on_resistance
    d[LOSS_COPPER] = current * current * resistance
    d[LOSS_BRUSHES] = current * m.brush
    d[LOSS_FRICTION] = friction_heat
    d[LOSS_CHAIN] = chain_loss(pull, speed, m.efficiency)
    d[USE_ROLLING] = rolling * speed
    d[USE_AIR] = air * speed
    d[USE_BRAKE] = brake * speed
    d[USE_POTENTIAL] = slope * speed
    d[FROM_CHARGER] = -terminal * charger
    d[NOT_STORED] = rested * (stored - pack)

    out[PULL] = pull
    out[VOLTS] = terminal
    out[PACK_CURRENT] = pack
    out[MOTOR_CURRENT] = current
    out[DUTY] = taken / current if current > 0.0 else 0.0
    out[CHARGE] = z
    out[LIMIT] = limit
    out[POSSIBLE] = possible
    out[MARGIN] = margin
    out[ACCELERATION] = acceleration
