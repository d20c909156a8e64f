"""The right-hand side: every equation of the model put together at one moment (``ridesim/physics/MODEL.md``)."""

from __future__ import annotations

from typing import NamedTuple

from ridesim.physics.compiled import compiled, inlined
from ridesim.physics.controller import (
    CUT_OFF,
    DIODE_V,
    GRIP,
    SOFT_START,
    freewheel_loss,
    largest_current,
    motor_power,
    pack_current_for_power,
    returned_current,
    returning_speed,
    soft_start_share,
)
from ridesim.physics.drive import chain_loss, shaft_torque, wheel_force
from ridesim.physics.motor import current_for_torque, drag_torque, torque_constant, warm_constant, warm_resistance
from ridesim.physics.motor_heat import case_heating, winding_heating
from ridesim.physics.road import air_force, grade_force, rolling_force
from ridesim.ride.core import places as at
from ridesim.ride.core.pack import Flow, Source, balance, charge_rates, settled_polarisation, source_at
from ridesim.ride.core.records import COAST, DRIVE, STALL, STAND, Array, Goal, Machine, Run, Scene

NO_CUT_OFF_V = -1e9
"""Stands for the cut-off of a controller that does not fold back. [V]"""


class Road(NamedTuple):
    """Resistances. [N]"""

    rolling: float
    slope: float
    air: float


@inlined
def road_at(time: float, speed: float, m: Machine, scene: Scene, goal: Goal) -> Road:
    """Rolling, grade and air resistance."""
    rolling, climbing = goal.rolling, goal.climbing
    if goal.grade_rate != 0.0:
        grade = goal.grade + goal.grade_rate * (time - goal.since)
        rolling, climbing = rolling_force(scene.mass, grade, m.rolling * goal.surface), grade_force(scene.mass, grade)
    return Road(rolling, climbing, air_force(scene.density, m.drag_area, speed, scene.headwind))


class Motor(NamedTuple):
    """The motor at its speed and temperatures."""

    omega: float  # [rad/s]
    resistance: float  # of the winding [ohm]
    path: float  # with the switch [ohm]
    constant: float  # K [N m/A]
    drag: float  # of the motor and of what turns with it under any load [N m]


@inlined
def motor_at(speed: float, winding: float, case: float, m: Machine) -> Motor:
    """ω = v G/r, and the values that follow from speed and temperatures."""
    omega = speed * m.ratio / m.radius
    resistance = warm_resistance(m.resistance, winding)
    constant = warm_constant(m.constant, m.magnet_per_k, case)
    drag = drag_torque(omega, m.friction, m.viscous) + m.gear_drag
    return Motor(omega, resistance, resistance + m.on_resistance, constant, drag)


@inlined
def most_current(volts: float, inner: float, motor: Motor, cutoff: float, m: Machine) -> tuple[float, int]:
    """Largest motor current and what limits it."""
    return largest_current(
        volts, motor.omega, motor.constant, m.series, m.saturation, m.brush, motor.path, inner, m.battery_limit, m.motor_limit,
        cutoff, m.freewheel_drop,
    )  # fmt: skip


@inlined
def taken_for(current: float, volts: float, inner: float, motor: Motor, m: Machine) -> float:
    """The controller's pack current for a motor current, 0 or more. [A]"""
    drop = m.freewheel_drop
    power = motor_power(current, motor.omega, motor.constant, m.series, m.saturation, m.brush + drop, motor.path)
    return pack_current_for_power(power, volts + drop, inner)


@inlined
def shaft_torque_of(current: float, motor: Motor, m: Machine) -> float:
    """K(I) I less the motor's own drag. [N m]"""
    return torque_constant(current, motor.constant, m.series, m.saturation) * current - motor.drag


class Drive(NamedTuple):
    """What the motor does, and the motion that follows."""

    current: float  # negative: it flows back through the diodes [A]
    limit: int
    turning: bool
    pull: float  # [N]
    brake: float  # force of the brake [N]
    acceleration: float  # [m/s²]
    possible: float  # largest acceleration [m/s²]
    margin: float  # [N]


NO_ROAD, STILL = Road(0.0, 0.0, 0.0), Motor(0.0, 0.0, 0.0, 0.0, 0.0)
AT_REST = Drive(0.0, 0, False, 0.0, 0.0, 0.0, 0.0, 0.0)
"""Of a vehicle that stands."""


@inlined
def throttled_current(
    time: float, source: Source, motor: Motor, alive: bool, m: Machine, run: Run
) -> tuple[float, int]:
    """Largest current that pack, throttle, controller, soft start and cut-out let through."""
    if not alive or run.goal.mode == COAST:
        return 0.0, 0
    if run.tally.cut == 1:
        return 0.0, CUT_OFF
    cutoff = m.cutoff if m.cuts_out == 0 else NO_CUT_OFF_V
    current, limit = most_current(source.volts, source.inner, motor, cutoff, m)
    if m.ramp > 0.0:
        share = soft_start_share(time - run.tally.throttle_at, m.ramp)
        if share < 1.0:
            return share * current, SOFT_START
    return current, limit


@inlined
def part_throttle(
    needed: float, speed: float, motor: Motor, returned: float, m: Machine
) -> tuple[float, float, float, bool]:
    """Motor current, pull, brake's force and whether the motor turns, for a force that the wheel needs (negative: slowing down)."""
    if needed < 0.0 and m.freewheel == 1:
        return 0.0, 0.0, -needed, False
    current, pull = -returned, needed
    if needed < 0.0:
        pull = max(needed, wheel_force(-motor.drag - motor.constant * returned, m.ratio, m.radius, m.efficiency))
    if pull == needed:  # else the motor without throttle holds back less than is needed, and the brake does the rest
        torque = shaft_torque(pull, m.ratio, m.radius, m.efficiency)
        current = current_for_torque(torque + motor.drag, motor.constant, m.series, m.saturation)
    return current, pull, pull - needed, speed > 0.0


@inlined
def driven(
    time: float, speed: float, source: Source, motor: Motor, road: Road, alive: bool, m: Machine, run: Run
) -> Drive:
    """The largest pull, or as much of it as the wanted acceleration needs; held still in a stall.

    Coasting there is no current: without a freewheel the wheel drags the motor along.
    """
    scene, goal = run.scene, run.goal
    resisting = road.rolling + road.slope + road.air
    current, limit = throttled_current(time, source, motor, alive, m, run)
    returned = 0.0
    if m.freewheel == 0 and m.series == 0.0:
        returned = returned_current(source.volts, motor.omega, motor.constant, m.brush, motor.path, source.inner)
    torque = shaft_torque_of(current, motor, m) - motor.constant * returned
    turning = speed > 0.0
    if torque < 0.0 and m.freewheel == 1:
        torque = 0.0
        if turning:  # a motor that cannot start draws its current all the same
            current, turning = 0.0, False
    pull = wheel_force(torque, m.ratio, m.radius, m.efficiency)
    if pull > goal.grip:  # the wheel begins to slip, and the rider takes back the throttle
        pull, limit = goal.grip, GRIP
        held = shaft_torque(pull, m.ratio, m.radius, m.efficiency) + motor.drag
        current = current_for_torque(held, motor.constant, m.series, m.saturation)
    possible = (pull - resisting) / scene.effective_mass
    margin = pull - (road.rolling * m.breakaway + road.slope + road.air)
    acceleration, brake = possible, 0.0
    if goal.mode == STALL:
        pull, acceleration, turning = 0.0, 0.0, False
    elif goal.mode == DRIVE and goal.wanted < possible:
        acceleration, limit = goal.wanted, 0
        needed = scene.effective_mass * acceleration + resisting
        current, pull, brake, turning = part_throttle(needed, speed, motor, returned, m)
    elif returned > 0.0:
        current = -returned
    return Drive(current, limit, turning, pull, brake, acceleration, possible, margin)


@inlined
def state_rates(
    w: Array, place: int, row: int, speed: float, source: Source, drive: Drive, motor: Motor, flow: Flow, friction: float, m: Machine,
    scene: Scene,
) -> None:  # fmt: skip
    """Rates of motion, charges, polarisation and temperatures."""
    p, polarisation = m.pack, w[place, at.POLARISATION]
    winding, case = w[place, at.WINDING], w[place, at.CASE]
    charges = w[place, at.LEFT], w[place, at.MISSING], w[place, at.FILTERED]
    left, missing, filtered = charge_rates(*charges, flow.stored / p.strings, p)
    w[row, at.DISTANCE] = speed
    w[row, at.SPEED] = drive.acceleration
    w[row, at.LEFT] = left
    w[row, at.MISSING] = missing
    w[row, at.FILTERED] = filtered
    w[row, at.POLARISATION] = (settled_polarisation(source, flow.pack, p) - polarisation) / p.polarisation_time
    w[row, at.WINDING] = winding_heating(
        abs(drive.current), motor.resistance, m.brush, winding, case, m.winding_heat, m.winding_to_case
    )
    w[row, at.CASE] = case_heating(
        friction, winding, case, scene.ambient, m.case_heat, m.winding_to_case, m.case_to_air
    )
    w[row, at.TIME] = 1.0
    w[row, at.SWITCHED_OFF] = 0.0


@inlined
def ledger(
    w: Array, row: int, speed: float, source: Source, flow: Flow, drive: Drive, motor: Motor, road: Road, friction: float, taken: float,
    m: Machine,
) -> None:  # fmt: skip
    """Rates of the sums: where the energy goes."""
    current, pack = drive.current, flow.pack
    stored = flow.stored if pack >= 0.0 else m.pack.coulombic * flow.stored
    w[row, at.ENERGY] = flow.terminal * max(0.0, pack)
    w[row, at.DRAWN] = source.rested * stored
    w[row, at.THROUGHPUT] = source.rested * abs(pack)
    w[row, at.CURRENT_SQUARED] = current * current
    w[row, at.OUT] = max(0.0, pack)
    w[row, at.IN] = max(0.0, -pack)
    w[row, at.LOSS_PACK] = (
        source.inner * pack - flow.overvoltage
    ) * pack  # with an overvoltage the current is negative
    w[row, at.LOSS_POLARISATION] = source.polarisation * pack
    w[row, at.USE_STANDBY] = flow.terminal * source.standby
    w[row, at.USE_LIGHTS] = flow.terminal * source.lights
    diodes = freewheel_loss(current, taken, m.freewheel_drop) + DIODE_V * max(0.0, -current)
    w[row, at.LOSS_CONTROLLER] = current * current * m.on_resistance + diodes
    w[row, at.LOSS_COPPER] = current * current * motor.resistance
    w[row, at.LOSS_BRUSHES] = abs(current) * m.brush
    w[row, at.LOSS_FRICTION] = friction
    turning = m.gear_drag * motor.omega if drive.turning else 0.0
    w[row, at.LOSS_CHAIN] = chain_loss(drive.pull, speed, m.efficiency) + turning
    w[row, at.USE_ROLLING] = road.rolling * speed
    w[row, at.USE_AIR] = road.air * speed
    w[row, at.USE_BRAKE] = drive.brake * speed
    w[row, at.USE_POTENTIAL] = road.slope * speed
    w[row, at.FROM_CHARGER] = -flow.terminal * flow.charger
    w[row, at.NOT_STORED] = source.rested * (stored - pack)


@inlined
def outputs(
    time: float, source: Source, flow: Flow, drive: Drive, motor: Motor, taken: float, alive: bool, m: Machine, run: Run
) -> None:
    """What is looked at besides the rates."""
    out, tally = run.out, run.tally
    out.pull = drive.pull
    out.volts = flow.terminal
    out.pack_current = flow.pack
    out.motor_current = drive.current
    out.controller_current = taken
    out.charge = source.charge
    out.rested = source.rested
    out.limit = drive.limit
    out.possible = drive.possible
    out.margin = drive.margin
    out.acceleration = drive.acceleration
    if drive.current < 0.0:
        out.returns_from = returning_speed(source.volts, motor.constant, m.brush) * m.radius / m.ratio
    out.switch = -1.0
    if m.cuts_out == 1 and alive:
        if tally.cut == 1:
            out.switch = min(flow.terminal - m.restart, time - tally.ready_at)
        elif drive.current > 0.0:
            out.switch = m.cutoff - flow.terminal


@compiled
def rates(run: Run, m: Machine, place: int, row: int) -> None:
    """Derivatives of the whole state, and the outputs, at one moment.

    Parameters
    ----------
    run : Run
        The ride; its outputs and one row of its array are filled.
    m : Machine
        The build's numbers.
    place : int
        Row of the state.
    row : int
        Row that is filled with the derivatives; not that of the state.
    """
    w, scene, goal = run.w, run.scene, run.goal
    time = w[place, at.TIME]
    speed = max(0.0, w[place, at.SPEED]) if goal.mode == DRIVE or goal.mode == COAST else 0.0
    # Empty is an event and stays: a law that recovers at once would switch the loads on and off for ever.
    alive = w[place, at.SWITCHED_OFF] == 0.0
    source = source_at(w, place, m, scene, alive)
    if goal.mode == STAND:
        road, motor, drive = NO_ROAD, STILL, AT_REST
    else:
        road = road_at(time, speed, m, scene, goal)
        motor = motor_at(speed, w[place, at.WINDING], w[place, at.CASE], m)
        drive = driven(time, speed, source, motor, road, alive, m, run)
    taken = min(0.0, drive.current)  # through the diodes it flows whole
    if drive.current > 0.0:
        taken = taken_for(drive.current, source.volts, source.inner, motor, m)
    flow = balance(w, place, source, taken, m.pack, scene)
    friction = (motor.drag - m.gear_drag) * motor.omega if drive.turning else 0.0
    state_rates(w, place, row, speed, source, drive, motor, flow, friction, m, scene)
    ledger(w, row, speed, source, flow, drive, motor, road, friction, taken, m)
    outputs(time, source, flow, drive, motor, taken, alive, m, run)
