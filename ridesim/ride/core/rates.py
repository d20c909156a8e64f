"""The right-hand side: every equation of the model put together at one moment."""

from __future__ import annotations

from numpy import float64
from numpy.typing import NDArray

from ridesim.physics.capacity_laws import FILTER_S, PEUKERT, TWO_WELL, peukert_factor, saturating_share, two_well_flow
from ridesim.physics.charging import charge_current
from ridesim.physics.compiled import compiled
from ridesim.physics.controller import (
    CUT_OFF,
    SOFT_START,
    largest_current,
    motor_power,
    pack_current_for_power,
    soft_start_share,
)
from ridesim.physics.drive import chain_loss, shaft_torque, wheel_force
from ridesim.physics.motor import current_for_torque, drag_torque, torque_constant, warm_constant, warm_resistance
from ridesim.physics.motor_heat import case_heating, winding_heating
from ridesim.physics.pack import open_circuit, resistance_factor
from ridesim.physics.road import air_force, grade_force, rolling_force
from ridesim.ride.core.records import (
    ACCELERATION,
    CASE,
    CHARGE,
    CHARGE_1,
    CHARGE_2,
    CHARGE_OUT,
    CURRENT_SQUARED,
    CUT,
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
    OUT,
    PACK_CURRENT,
    POLARISATION,
    POSSIBLE,
    PULL,
    READY_AT,
    SPEED,
    SWITCH,
    SWITCHED_OFF,
    TALLY,
    THROTTLE_AT,
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
from ridesim.ride.machine import COAST, DRIVE, STALL, Machine, Scene
from ridesim.ride.pack.laws import LawNumbers

Array = NDArray[float64]

FILTER_SCALE = 100.0
"""The saturating law's filtered current is carried over this many times I_0."""
NEARLY_NOTHING = 1e-9
"""With less missing than this share of the capacity a pack is full: the ratio of two roundings says nothing."""
NO_CUT_OFF_V = -1e9
"""Stands for the cut-off of a controller that does not fold back. [V]"""
LIGHT_CONVERTER = 0.90
"""Efficiency of the converter between main pack and lights; common practice, no source."""


@compiled
def state_of_charge(q1: float, q2: float, m: LawNumbers) -> float:
    """State of charge z from the law's own two charges (see :func:`charge_rates`)."""
    if m.law == PEUKERT:
        return q1
    if m.law == TWO_WELL:
        return q1 / m.well_share
    return 1.0 - q1 * saturating_share(FILTER_SCALE * q2, m.law_gain, m.law_exponent)


@compiled
def charges_at(z: float, m: LawNumbers) -> tuple[float, float]:
    """The law's own two charges of a rested pack at a state of charge."""
    if m.law == PEUKERT:
        return z, 1.0 - z
    if m.law == TWO_WELL:
        return m.well_share * z, (1.0 - m.well_share) * z
    return (1.0 - z) * m.law_gain, 0.0


@compiled
def charges_from(z: float, second: float, m: LawNumbers) -> tuple[float, float]:
    """The law's own two charges from a state of charge and the second one, as a ride's rows keep them."""
    if m.law == PEUKERT:
        return z, second
    if m.law == TWO_WELL:
        return m.well_share * z, second
    return (1.0 - z) / saturating_share(FILTER_SCALE * second, m.law_gain, m.law_exponent), second


@compiled
def missing_share(q1: float, q2: float, m: LawNumbers) -> float:
    """Ampere-seconds missing from full, as a meter counts them, over C (see :func:`charge_rates`)."""
    if m.law == PEUKERT:
        return q2
    if m.law == TWO_WELL:
        return (1.0 - q1 - q2) * m.well_whole / m.capacity
    return q1 * m.law_capacity / m.capacity


@compiled
def charge_room(q1: float, q2: float, m: LawNumbers) -> float:
    """What sets the resistance of acceptance: the ampere-seconds missing over C.

    Not 1 - z: after a fast discharge Peukert's z and a filtered current leave capacity out of reach that is not to be put back. The
    current enters by the available well, so under the two-well law no more than that well has room for counts.
    """
    missing = missing_share(q1, q2, m)
    if m.law == TWO_WELL:
        return min(missing, (1.0 - q1 / m.well_share) * m.well_whole / m.capacity)
    return missing


@compiled
def charge_rates(q1: float, q2: float, current: float, m: LawNumbers) -> tuple[float, float]:
    """Rates of the law's own two charges under a string current (discharge positive).

    Peukert: q1 = z, and q2, the ampere-seconds missing as a meter counts them, over C: the loss at a high rate is capacity that
    cannot be reached, not charge to be put back, so on charge z gains (1 - z)/q2 times the counted share and both are full
    together (the ratio stays). Two-well: y1 and y2 over C_∞. Saturating: charge taken over C_0, and the
    filtered current over a hundred times I_0, small like the others, so that one tolerance suits them all.
    """
    counted = current if current >= 0.0 else m.coulombic * current
    if m.law == PEUKERT:
        share = counted / m.capacity
        if current > 0.0:
            return -share * peukert_factor(current, m.rated_current, m.exponent), share
        return -share * ((1.0 - q1) / q2 if q2 > NEARLY_NOTHING else 1.0), share
    if m.law == TWO_WELL:
        flow = two_well_flow(q1, q2, m.well_share, m.well_rate)
        return flow - counted / m.well_whole, -flow
    filtered = max(0.0, current) / (FILTER_SCALE * m.law_reference)
    return counted / m.law_capacity, (filtered - q2) * (1.0 / FILTER_S)


@compiled
def rates(w: Array, place: int, row: int, m: Machine, scene: Scene) -> None:
    """Derivatives of the whole state and the outputs at one moment.

    Parameters
    ----------
    w : ndarray, shape (WORK_ROWS, WORK_COLUMNS)
        The working array: its OUT row is filled with the outputs.
    place : int
        Row of the state.
    row : int
        Row that is filled with the derivatives.
    m : Machine
        The build's numbers.
    scene : Scene
        What surrounds it.

    References
    ----------
    The model, sections 1 to 7 (``DEVELOPERS.md``); each equation is a function of ``ridesim.physics``.
    """
    speed = max(0.0, w[place, SPEED]) if scene.mode == DRIVE or scene.mode == COAST else 0.0
    omega = speed * m.ratio / m.radius
    winding, case = w[place, WINDING], w[place, CASE]

    # Pack
    z = state_of_charge(w[place, CHARGE_1], w[place, CHARGE_2], m)
    # Empty is an event, not a condition here: a law that recovers at once would switch the loads on and off for ever.
    alive = w[place, SWITCHED_OFF] == 0.0
    rested = open_circuit(z, m.table_z, m.table_v)
    inner = m.pack_resistance * resistance_factor(min(1.0, max(0.0, z)), m.resistance_rise)
    standby = m.standby if scene.controller_on == 1 and alive else 0.0
    lights = scene.light_power / (LIGHT_CONVERTER * rested) if alive else 0.0
    polarisation = w[place, POLARISATION]
    volts = rested - polarisation - inner * (standby + lights)

    # Road
    grade = scene.grade + scene.grade_rate * (w[place, TIME] - scene.since)
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
        if alive and w[TALLY, CUT] == 0.0:
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
                m.cutoff if m.cuts_out == 0 else NO_CUT_OFF_V,
            )
            if m.ramp > 0.0:
                share = soft_start_share(w[place, TIME] - w[TALLY, THROTTLE_AT], m.ramp)
                if share < 1.0:
                    current, limit = share * current, SOFT_START
        elif alive:
            limit = CUT_OFF
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
    charger, overvoltage = 0.0, 0.0
    if scene.charger > 0.0:
        if scene.charger <= pack:
            charger = scene.charger
            pack -= charger
        else:
            into, overvoltage = charge_current(
                scene.charger - pack, charge_room(w[place, CHARGE_1], w[place, CHARGE_2], m), m.acceptance, m.absorption, rested,
                polarisation, inner, m.polarisation_resistance,
            )  # fmt: skip
            charger = pack + into
            pack = -into
    terminal = rested - polarisation - inner * pack + overvoltage

    # Rates
    q1, q2 = charge_rates(w[place, CHARGE_1], w[place, CHARGE_2], pack / m.strings, m)
    friction_heat = drag * omega if turning else 0.0
    w[row, DISTANCE] = speed
    w[row, SPEED] = acceleration
    w[row, CHARGE_1] = q1
    w[row, CHARGE_2] = q2
    w[row, POLARISATION] = (m.polarisation_resistance * pack - polarisation) / m.polarisation_time
    w[row, WINDING] = winding_heating(current, resistance, m.brush, winding, case, m.winding_heat, m.winding_to_case)
    w[row, CASE] = case_heating(
        friction_heat, winding, case, scene.ambient, m.case_heat, m.winding_to_case, m.case_to_air
    )
    w[row, TIME] = 1.0
    w[row, SWITCHED_OFF] = 0.0

    # Ledger
    stored = pack if pack >= 0.0 else m.coulombic * pack
    w[row, ENERGY] = terminal * max(0.0, pack)
    w[row, DRAWN] = rested * stored
    w[row, THROUGHPUT] = rested * abs(pack)
    w[row, CURRENT_SQUARED] = current * current
    w[row, CHARGE_OUT] = max(0.0, pack)
    w[row, LOSS_PACK] = (inner * pack - overvoltage) * pack  # an overvoltage comes with a negative current only
    w[row, LOSS_POLARISATION] = polarisation * pack
    w[row, USE_STANDBY] = terminal * standby
    w[row, USE_LIGHTS] = terminal * lights
    w[row, LOSS_CONTROLLER] = current * current * m.on_resistance
    w[row, LOSS_COPPER] = current * current * resistance
    w[row, LOSS_BRUSHES] = current * m.brush
    w[row, LOSS_FRICTION] = friction_heat
    w[row, LOSS_CHAIN] = chain_loss(pull, speed, m.efficiency)
    w[row, USE_ROLLING] = rolling * speed
    w[row, USE_AIR] = air * speed
    w[row, USE_BRAKE] = brake * speed
    w[row, USE_POTENTIAL] = slope * speed
    w[row, FROM_CHARGER] = -terminal * charger
    w[row, NOT_STORED] = rested * (stored - pack)

    w[OUT, PULL] = pull
    w[OUT, VOLTS] = terminal
    w[OUT, PACK_CURRENT] = pack
    w[OUT, MOTOR_CURRENT] = current
    w[OUT, DUTY] = taken / current if current > 0.0 else 0.0
    w[OUT, CHARGE] = z
    w[OUT, LIMIT] = limit
    w[OUT, POSSIBLE] = possible
    w[OUT, MARGIN] = margin
    w[OUT, ACCELERATION] = acceleration
    w[OUT, SWITCH] = -1.0
    if m.cuts_out == 1 and alive:
        if w[TALLY, CUT] == 1.0:
            w[OUT, SWITCH] = min(terminal - m.restart, w[place, TIME] - w[TALLY, READY_AT])
        elif current > 0.0:
            w[OUT, SWITCH] = m.cutoff - terminal
