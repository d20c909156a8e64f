"""Records of the compiled core: a build's numbers, what surrounds it, what it is to do, what is noted, the kept rows. SI units.

Each class below only names the fields of a record and their units, for the reader and the type checker. :func:`new` makes the
record itself, a numpy structured scalar, which compiled functions take by its address; n of them can lie in one array.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from operator import itemgetter
from typing import Annotated, Any, TypeVar, cast, get_type_hints

import numpy as np
from numpy.typing import NDArray

from ridesim.day import SURFACES
from ridesim.ride.core import events, places

Array = NDArray[np.float64]
Record = TypeVar("Record")

TABLE_POINTS = 40
"""Room for the points of the rested-voltage table."""

STAND, DRIVE, STALL, COAST = range(4)
"""How the vehicle moves: it stands; it rides under the throttle; it stands under the throttle, as the pull does not break it
away; it rolls with the throttle closed."""

TRACE_SPEED, ROUTE_SPEED = range(2)
"""Where the commanded speed comes from: a straight line in time, or a speed limit with braking to the end of the leg."""


class PackNumbers:
    """A pack, or one block of it, at one temperature and under one capacity law."""

    strings: float  # in parallel; the capacities and law currents below are those of one string [-]
    capacity: float  # C_0, at slow rates, at this temperature and state of health [A s]
    rated_current: float  # I_R [A]
    law: int  # index of LAW_NAMES
    exponent: float  # Peukert's k, or δ of the others [-]
    bend: float  # b of the saturating form [-]
    level: float  # (I_L/I_R)^δ, up to which the capacity is level [-]
    recovery: float  # ρ, the share that comes back at rest [-]
    well_share: float  # c [-]
    well_rate: float  # κ [1/s]
    coulombic: float  # charge stored over charge put in [-]
    table_z: Annotated[Array, TABLE_POINTS]  # rested-voltage table: state of charge [-]
    table_v: Annotated[Array, TABLE_POINTS]  # and voltage [V]
    resistance: float  # R_0 where it is least [ohm]
    resistance_rise: float  # [-]
    polarisation_resistance: float  # R_1 [ohm]
    polarisation_time: float  # [s]
    activation: float  # a [V]
    activation_current: float  # I_a of one string [A]
    end_volts: float  # V_R, at empty under the rated current [V]
    end_fall: float  # its fall for each factor e of the current [V]
    absorption: float  # charger's voltage at this temperature [V]
    acceptance: float  # conductance of acceptance where C is missing [S]


class Machine:
    """A build in numbers, at one pack temperature and under one capacity law; with a name in quotes: that value of the build."""

    pack: PackNumbers
    reserve: Annotated[float, "pack.reserve"]  # state of charge [-]
    radius: Annotated[float, "vehicle.rolling_radius_m"]  # rolling radius [m]
    ratio: Annotated[float, "drive.ratio"]  # motor turns for one of the wheel [-]
    efficiency: Annotated[float, "drive.efficiency"]  # of gearbox and chain [-]
    gear_drag: Annotated[float, "drive.drag_nm"]  # at the motor's shaft, under any load [N m]
    freewheel: Annotated[int, "drive.freewheel"]  # 1: the wheel can outrun the motor
    wheel_inertia: Annotated[float, "vehicle.wheels_inertia_kgm2"]  # all wheels [kg m²]
    rotor_inertia: Annotated[float, "motor.rotor_inertia_kgm2"]  # [kg m²]
    drag_area: Annotated[float, "vehicle.drag_area_m2"]  # [m²]
    rolling: Annotated[float, "vehicle.rolling_coefficient"]  # coefficient on asphalt [-]
    breakaway: Annotated[float, "vehicle.breakaway_factor"]  # its factor from a stand [-]
    grip: Annotated[Array, len(SURFACES)]  # friction of tyre and ground on each surface [-]
    constant: float  # K of a permanent-magnet motor at 20 °C, else 0 [N m/A]
    magnet_per_k: float  # [1/K]
    series: float  # k_s of a series-wound motor, else 0 [N m/A²]
    saturation: float  # I_sat [A]
    resistance: float  # winding, at 20 °C [ohm]
    brush: float  # voltage drop [V]
    friction: float  # [N m]
    viscous: float  # [N m s/rad]
    winding_heat: float  # heat capacity [J/K]
    case_heat: float  # [J/K]
    winding_to_case: float  # thermal resistance [K/W]
    case_to_air: float  # [K/W]
    winding_limit: Annotated[float, "motor.winding_limit_c"]  # [°C]
    battery_limit: Annotated[float, "controller.max_battery_current_a"]  # [A]
    motor_limit: Annotated[float, "controller.max_motor_current_a"]  # [A]
    cutoff: Annotated[float, "cutoff_voltage_v"]  # [V]
    cuts_out: int  # 1: switches off at the cut-off, 0: folds back
    restart: Annotated[float, "restart_voltage_v"]  # [V]
    restart_delay: Annotated[float, "restart_delay_s"]  # [s]
    ramp: Annotated[float, "controller.ramp_s"]  # of a soft start [s]
    on_resistance: Annotated[float, "on_resistance_ohm"]  # of the switch, and of the wires [ohm]
    freewheel_drop: Annotated[float, "controller.freewheel_drop_v"]  # V_f [V]
    standby: Annotated[float, "controller.standby_current_a"]  # [A]


class Scene:
    """What surrounds the vehicle during one activity."""

    mass: float  # [kg]
    effective_mass: float  # with what turns [kg]
    load_share: float  # of the weight on the driven axle; infinite where that is not known [-]
    height_share: float  # centre of gravity's height over the wheelbase, less than 0 for a driven front axle [-]
    settling: float  # rate at which the speed settles under full throttle, at most [1/s]
    density: float  # of the air [kg/m³]
    headwind: float  # [m/s]
    ambient: float  # [°C]
    controller_on: int
    light_power: float  # from the main pack now, converter included [W]
    lights: float  # the same when they are on [W]
    lit_from: float  # after midnight, when they are switched on [s]
    lit_to: float  # and off, a day later at most; the same: they are always on [s]
    charger: float  # its current [A]


class Goal:
    """What the vehicle is to do during one phase, and what ends the phase before its time is up."""

    mode: int  # STAND, DRIVE, STALL or COAST
    wanted: float  # acceleration the rider asks for [m/s²]
    grade: float  # rise over run at ``since`` [-]
    grade_rate: float  # its change [1/s]
    surface: float  # factor on the rolling coefficient [-]
    rolling: float  # rolling resistance on that ground and grade [N]
    climbing: float  # weight along that grade [N]
    grip: float  # largest pull that the tyre passes on [N]
    command: int  # TRACE_SPEED or ROUTE_SPEED
    since: float  # time of the trace's point [s]
    speed: float  # commanded speed at ``since``, or the leg's limit [m/s]
    slope: float  # change of the trace's speed, or the braking deceleration [m/s²]
    end_speed: float  # allowed at the end of the leg [m/s]
    end: float  # place of the end of the leg [m]
    watch: Annotated[Array, events.WATCHED]  # 1 for each event, from COMMAND to SWITCHED, that ends the phase


class Setting:
    """What one ride is given besides its build's numbers."""

    wanted: float  # acceleration that the rider asks for [m/s²]
    braking: float  # deceleration before stops and lower limits [m/s²]
    mass_aboard: float  # all of it, with the rider [kg]
    mass_alone: float  # and without [kg]
    load_share_aboard: float  # of the weight on the driven axle [-]
    load_share_alone: float
    height_share_aboard: float  # as in Scene [-]
    height_share_alone: float
    density: float  # of the air [kg/m³]
    headwind: float  # [m/s]
    ambient: float  # [°C]
    on_between: int  # 1: the controller stays on between activities
    lights: float  # all lights, from the main pack, converter included; 0: they have their own battery [W]
    lit_from: float  # after midnight, when they are switched on by the clock [s]
    lit_to: float  # and off, a day later at most; the same: not by the clock [s]


STANDS, ROUTE, TRACE = range(3)
"""What an activity is."""


class Task:
    """One activity of a day."""

    kind: int  # STANDS, ROUTE or TRACE
    start: float  # after midnight of the first day; -1: when the former one ends [s]
    duration: float  # of a stand [s]
    times: int  # laps or repeats
    aboard: int  # 1: with the rider
    lights: float  # share of the lights that are on; -1: as the day's clock says, else none
    first: int  # its first leg or point
    last: int  # and the one after its last


class Note:
    """How one activity of a ride went."""

    start: float  # after midnight of the first day [s]
    end: float  # [s]
    begin_charge: float  # state of charge [-]
    end_charge: float  # [-]
    distance: float  # covered [m]
    charged: float  # into the pack [A s]
    left: int  # 1: the vehicle left it because it could not move
    by_pack: int  # 1: and that for want of charge or voltage
    leg: int  # the last one begun, all laps written out; -1: no route


class Outputs:
    """What the equations give at one moment beside the rates."""

    pull: float  # at the wheel [N]
    volts: float  # at the pack's terminals [V]
    pack_current: float  # [A]
    motor_current: float  # [A]
    controller_current: float  # the controller's share of the pack's current [A]
    charge: float  # state of charge z [-]
    rested: float  # E [V]
    limit: int  # what limits the current: index of LIMIT_NAMES
    possible: float  # largest acceleration [m/s²]
    margin: float  # pull beyond what breaking away needs [N]
    acceleration: float  # [m/s²]
    returns_from: float  # speed from which the diodes carry current back, permanent magnets without freewheel [m/s]
    switch: float  # how far the controller is beyond its cut-out, or once cut out beyond its return [V or s]


class Tally:
    """What is noted on the way. Clock times are after midnight [s], -1 until it happens."""

    lowest_volts: float  # [V]
    highest_current: float  # of the pack [A]
    hottest: float  # winding [°C]
    smoothed_a: float  # pack current smoothed over a minute [A]
    sustained_current_a: float  # the largest such [A]
    seconds_below: float  # at the largest pull, slower than commanded [s]
    reserve_s: float
    reserve_m: float  # where that was [m]
    cut_off_s: float  # first moment at the cut-off voltage
    cut_activity: int  # activity and leg of the first cut-out; -1: none
    cut_leg: int
    empty_s: float
    empty_m: float
    hot_s: float
    seconds_hot: float  # above the winding's limit [s]
    stall_s: float  # the present stall: time [s], largest current [A], integral of the squared current [A² s]
    stall_a: float
    stall_a2s: float
    worst_stall_s: float  # the same of the stall with the largest integral
    worst_stall_a: float
    worst_stall_a2s: float
    worst_stall_at_s: float
    crawl_s: float  # slower than CRAWL_MPS under full command, up to now [s]
    starts: int  # how often the throttle opened from a stand
    throttle_at: float  # when the throttle opened; -1: closed
    cut: int  # 1 while the controller has cut out
    cut_outs: int
    cuts_in_a_row: int
    seconds_cut_out: float  # cut out while riding [s]
    ready_at: float  # earliest return from a cut-out
    leg: int  # the present one; -1: no route
    return_mps: float  # speed from which current flowed back through the diodes, when it first did; -1: never [m/s]
    return_a: float  # largest current into the pack by it [A]
    return_v: float  # highest voltage of the pack by it [V]
    unconverged: int  # events whose moment was not found to the tolerance


class Run:
    """A ride under way: everything of it that changes."""

    w: Annotated[Array, (places.ROWS, places.SIZE)]  # state and rates, see ridesim.ride.core.places
    out: Outputs
    tally: Tally
    goal: Goal
    scene: Scene
    activity: int  # index in the day; -1 between activities
    used: int  # kept rows in use
    every: int  # inside a phase, one row in so many is kept
    passed: int  # rows inside a phase since the last kept one
    tries: int  # steps tried and phases begun
    most_tries: int  # with so many the calculation is given up
    ended: int  # riding on after the day, 1: the vehicle left or the pack is empty
    settled: int  # 1: the last step tried let the speed settle
    fineness: float  # 1; 2 halves the longest step and tightens the tolerance, for checks


class Row:
    """A kept row: state and outputs at the start of a phase and after every step."""

    time_s: float  # after midnight of the first day
    speed_mps: float
    distance_m: float
    pull_n: float
    pack_voltage_v: float
    pack_current_a: float
    motor_current_a: float
    duty: float
    state_of_charge: float
    winding_c: float
    case_c: float
    missing: float  # charge taken out over the capacity at slow rates [-]
    filtered: float  # current, filtered and scaled, see ridesim.ride.core.pack [-]
    limit: int  # index of LIMIT_NAMES
    event: int  # why a phase ended here: index of EVENT_NAMES
    activity: int  # index in the day; -1 between activities


@lru_cache
def structure(kind: type) -> np.dtype[Any]:
    """Numpy structured type with the fields of one of the classes above."""
    hints = get_type_hints(kind, include_extras=True)
    fields = [(name, *_field(hint)) for name, hint in hints.items()]
    # numpy's own records with attributes are eight times as slow to read.
    named = type(kind.__name__, (np.void,), {name: _attribute(name) for name in hints})
    return np.dtype((named, fields))


def _attribute(name: str) -> property:
    return property(itemgetter(name), lambda record, value: record.__setitem__(name, value))


def _field(hint: Any) -> tuple[Any, ...]:
    kind = getattr(hint, "__origin__", hint)
    if kind in (float, int):
        return (np.float64 if kind is float else np.int64,)
    return (np.float64, *hint.__metadata__) if hasattr(hint, "__metadata__") else (structure(hint),)


def records(kind: type, rows: Sequence[Mapping[str, Any]]) -> NDArray[np.void]:
    """An array of records, each with the values of one mapping; what is not named is 0, and a name that no field has is refused."""
    made = structure(kind)
    names = made.names or ()
    if unknown := set[str]().union(*rows).difference(names):
        raise KeyError(f"{kind.__name__} has no {', '.join(sorted(unknown))}")
    return np.array([tuple([row.get(name, 0) for name in names]) for row in rows], made)


def new(kind: type[Record], **values: Any) -> Record:
    """One record."""
    return cast(Record, records(kind, [values])[0])
