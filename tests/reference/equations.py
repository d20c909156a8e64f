"""The vehicle's equations as plain functions of floats, for the reference solution.

Every function runs as ordinary Python on scalars and, unchanged, inside compiled code: ``register_jitable`` leaves a
function alone until compiled code calls it. Written from the equations of the model page, apart from the production
code and without sight of it.

The state of the ride is one row of numbers; ``STATES`` names it. The first eight are physical, the others are running
integrals in joules (ampere-squared seconds for the last one).
"""

from math import asinh, exp, log, sqrt
from typing import NamedTuple

from numba.extending import register_jitable

GRAVITY = 9.80665  # m/s²

# Modes of motion. Floats, so that a phase is a uniform row of numbers for compiled code.
REST = 0.0  # standing, motor off
FOLLOW = 1.0  # on the command: the acceleration is given
BELOW = 2.0  # below the command: the pull or the rider limits
STALL = 3.0  # full command, but it does not break away
COAST = 4.0  # neither motor nor brake

STATES = (
    "speed", "position", "own", "missing", "filtered_a", "polarisation_v", "winding_c", "case_c",
    "drawn", "base", "pack_resistance", "polarisation", "standby", "other_loads", "controller", "motor_copper",
    "brushes", "motor_friction", "chain", "rolling", "air", "brake", "potential", "charger", "charge_not_stored",
    "terminal_energy", "motor_current_squared",
)  # fmt: skip
STATE_COUNT = len(STATES)
PHYSICAL_COUNT = 8
# "own" is what a law keeps for itself: Peukert the state of charge, two wells the available one's height, recovery u of the page's (6.7).
PEUKERT, TWO_WELL, RECOVERY = 0.0, 1.0, 2.0


class Parameters(NamedTuple):
    """All constants of one build on one day, SI, pack values for the whole pack."""

    gear_per_m: float  # motor radians for one metre: ratio over wheel radius
    chain_efficiency: float
    freewheel: float  # 1 or 0
    breakaway: float
    half_rho_area: float  # kg/m: half of air density times drag area
    headwind: float  # m/s
    rider_acceleration: float  # m/s²
    series_wound: float  # 1 or 0
    k20: float  # N m/A at 20 °C; series-wound: N m/A²
    k_per_k: float  # 1/K
    saturation: float  # 1/A: one over the saturation current, 0 where there is none
    r20: float  # ohm
    brush_v: float
    friction_torque: float  # N m, of the motor
    gear_drag: float  # N m, at the motor's shaft
    viscous: float  # N m s/rad
    winding_heat: float  # J/K
    case_heat: float  # J/K
    winding_to_case: float  # K/W
    case_to_air: float  # K/W
    ambient: float  # °C
    battery_limit: float  # A, of the controller's input
    motor_limit: float  # A
    cutoff: float  # V
    cuts_out: float  # 1: switches off at the cut-off; 0: folds back
    restart: float  # V, at which it comes back
    restart_delay: float  # s, shortest time off
    ramp: float  # s, of the soft start; 0 where there is none
    r_on: float  # ohm
    freewheel_v: float  # V, V_f of the page's (4.16)
    r0_full: float  # ohm at full charge and at the day's temperature
    resistance_rise: float
    r1: float  # ohm
    t1: float  # s
    activation: float  # V, a of the page's (5.11), all cells
    activation_from: float  # A, I_a
    end_v: float  # V, V_R of (5.12), all cells
    end_fall: float  # V
    capacity: float  # C (coulombs), of the law in use (two-well: the total of both wells)
    rated_current: float  # A
    peukert_less_one: float
    law: float  # PEUKERT, TWO_WELL or RECOVERY
    recovery: float  # rho of (6.7)
    bend: float  # b of (6.6)
    delta: float
    level: float  # (I_L/I_R)^delta
    available_share: float  # c of the two-well model
    well_flow: float  # k' of the two-well model, 1/s
    charge_efficiency: float  # coulombic
    charging_ohm: float  # ohm: acceptance resistance of the empty pack; of a fuller one over the share missing
    charger_volts: float  # V, at the day's temperature


class Phase(NamedTuple):
    """What holds during one phase; the time in it starts at zero."""

    mode: float
    acceleration: float  # m/s², used in FOLLOW
    grade: float  # percent at the phase's start
    grade_rate: float  # percent a second
    mass: float  # kg
    effective_mass: float  # kg
    rolling: float  # coefficient times surface factor
    pack_gives: float  # 0 once the pack is empty
    standby: float  # A
    lights: float  # W from the main pack
    charge_set: float  # A
    switched_on: float  # 0 while the controller has cut out
    throttle: float  # s since the throttle opened, at the phase's start


@register_jitable
def open_circuit_voltage(charge, table_z, table_e):
    """Rested voltage of the pack, V, at a state of charge (0 to 1); held constant outside the table."""
    last = len(table_z) - 1
    if charge <= table_z[0]:
        return table_e[0]
    if charge >= table_z[last]:
        return table_e[last]
    i = 1
    while charge > table_z[i]:
        i += 1
    share = (charge - table_z[i - 1]) / (table_z[i] - table_z[i - 1])
    return table_e[i - 1] + share * (table_e[i] - table_e[i - 1])


@register_jitable
def resistances(t, v, par, phase):
    """Rolling, grade and air force at the wheel, N, at time t (s) of the phase and speed v (m/s)."""
    q = 0.01 * (phase.grade + phase.grade_rate * t)
    cosine = 1.0 / sqrt(1.0 + q * q)
    weight = phase.mass * GRAVITY
    u = v + par.headwind
    return weight * cosine * phase.rolling, weight * cosine * q, par.half_rho_area * u * abs(u)


@register_jitable
def demand(current, par):
    """Capacity at slow rates over that at a current, A, of the whole pack: the page's (6.6)."""
    if current <= 0.0:
        return 1.0
    return max(1.0, 1.0 + par.bend * ((current / par.rated_current) ** par.delta - par.level))


@register_jitable
def state_of_charge(own, missing, filtered, par):
    """z, from what the law keeps, the share missing and the filtered current, A."""
    if par.law < RECOVERY:
        return own
    return (1.0 - par.recovery) * (1.0 - own) + par.recovery * (1.0 - missing * demand(filtered, par))


@register_jitable
def beyond_ohm(z, e, r0, current, par):
    """Activation and depletion, V, under a discharge current, A."""
    if current <= 0.0:
        return 0.0
    active = par.activation * asinh(current / par.activation_from)
    rate = current / par.rated_current
    surplus = e - (r0 + par.r1) * current - active - par.end_v + par.end_fall * log(max(1.0, rate))
    return active + exp(-max(z, 0.0) / 0.08) * max(surplus, 0.0) * min(1.0, 20.0 * rate)


@register_jitable
def pack_circuit(missing, v_pol, par, phase, table_z, table_e):
    """The pack before the motor draws.

    Gives open-circuit voltage (V), series resistance (ohm), current of the lights (A), and the voltage that is left for
    the controller at no motor current (V).
    """
    e = open_circuit_voltage(1.0 - missing, table_z, table_e)
    gap = min(1.0, max(0.0, missing))
    r0 = par.r0_full * (1.0 + par.resistance_rise * gap * gap * gap)
    i_other = phase.lights / e
    return e, r0, i_other, e - v_pol - r0 * (phase.standby + i_other)


@register_jitable
def motor_constants(t_w, t_c, par):
    """Warm resistance (ohm) and torque constant (N m/A; series-wound N m/A², without a temperature term)."""
    return par.r20 * (1.0 + 0.00393 * (t_w - 20.0)), par.k20 * (1.0 + par.k_per_k * (t_c - 20.0))


@register_jitable
def torque_of_current(current, k, par):
    """Torque in the air gap, N m, of a motor current, A (zero or more)."""
    if par.series_wound > 0.0:
        return k * current * current / (1.0 + par.saturation * current)
    return k * current


@register_jitable
def current_of_torque(torque, k, par):
    """Motor current, A, for a torque in the air gap, N m; none for a torque of zero or less."""
    if torque <= 0.0:
        return 0.0
    if par.series_wound > 0.0:
        h = torque * par.saturation
        return (h + sqrt(h * h + 4.0 * k * torque)) / (2.0 * k)
    return torque / k


@register_jitable
def series_current_of_power(power, omega, k, r, par):
    """Current, A, at which a series-wound motor and its controller take a power, W.

    The power is a rising, convex function of the current, so Newton's rule from above (the current at standstill)
    comes down to the root without overshooting.
    """
    if power <= 0.0:
        return 0.0
    brush = par.brush_v + par.freewheel_v
    x = (-brush + sqrt(brush * brush + 4.0 * r * power)) / (2.0 * r)
    for _ in range(60):
        d = 1.0 + par.saturation * x
        value = omega * k * x * x / d + (brush + r * x) * x - power
        slope = omega * k * x * (2.0 + par.saturation * x) / (d * d) + brush + 2.0 * r * x
        step = value / slope
        x -= step
        if abs(step) <= 1e-15 * x:
            break
    return x


@register_jitable
def largest_motor_current(e_left, omega, k, r, r0, par):
    """Largest motor current, A.

    From the voltage left for the controller at no motor current (V), motor speed (rad/s), torque constant (N m/A or
    N m/A²), motor with controller resistance (ohm) and pack series resistance (ohm).
    """
    limit = par.battery_limit
    if r0 > 0.0:
        limit = min(limit, e_left / (2.0 * r0))
    if par.cuts_out == 0.0:
        if r0 > 0.0:
            limit = min(limit, (e_left - par.cutoff) / r0)
        elif e_left < par.cutoff:
            limit = 0.0
    limit = max(limit, 0.0)
    total = r + r0
    if par.series_wound > 0.0:
        spare = e_left - par.brush_v
        if spare <= 0.0:
            return 0.0
        # e_left = k I w/(1 + sI) + brush + I total, multiplied by (1 + sI): a quadratic with one positive root.
        half = 0.5 * (k * omega + total - spare * par.saturation)
        root = sqrt(half * half + total * par.saturation * spare)
        # Two forms of the same root: each is free of cancellation where it is used.
        full_duty = spare / (half + root) if half >= 0.0 else (root - half) / (total * par.saturation)
        current = full_duty
        if full_duty > limit:
            current = series_current_of_power(limit * (e_left + par.freewheel_v - r0 * limit), omega, k, r, par)
    else:
        e_back = k * omega + par.brush_v
        current = (e_left - e_back) / total
        if current > limit:
            power = limit * (e_left + par.freewheel_v - r0 * limit)
            e_back += par.freewheel_v
            current = (-e_back + sqrt(e_back * e_back + 4.0 * r * power)) / (2.0 * r)
    return max(0.0, min(par.motor_limit, current))


@register_jitable
def full_throttle_current(t, e_left, omega, k, r, r0, par, phase):
    """Motor current, A, under full throttle at time t (s) of the phase: the largest, the soft start's share of it, or none."""
    if phase.pack_gives == 0.0 or phase.switched_on == 0.0:
        return 0.0
    current = largest_motor_current(e_left, omega, k, r, r0, par)
    if par.ramp > 0.0:
        current *= max(0.0, min(1.0, (phase.throttle + t) / par.ramp))
    return current


@register_jitable
def force_of_current(current, omega, k, par):
    """Wheel force, N, of a motor current, A: chain loss in the direction of the power, freewheel where fitted."""
    torque = torque_of_current(current, k, par) - par.friction_torque - par.gear_drag - par.viscous * omega
    if torque >= 0.0:
        return torque * par.gear_per_m * par.chain_efficiency
    if par.freewheel > 0.0:
        return 0.0
    return torque * par.gear_per_m / par.chain_efficiency


@register_jitable
def motor_for_force(force, omega, k, par):
    """Share the wanted wheel force (N, retarding negative) between motor and friction brake.

    Gives motor current (A), shaft torque (N m), friction torque of the motor that turns along (N m), brake force (N).
    """
    gear = par.gear_per_m
    drag = par.friction_torque + par.gear_drag + par.viscous * omega
    if force >= 0.0:
        torque = force / (gear * par.chain_efficiency)
        return current_of_torque(torque + drag, k, par), torque, drag, 0.0
    if par.freewheel > 0.0:
        return 0.0, 0.0, 0.0, -force
    torque = force * par.chain_efficiency / gear
    if torque + drag >= 0.0:
        return current_of_torque(torque + drag, k, par), torque, drag, 0.0
    return 0.0, -drag, drag, -drag * gear / par.chain_efficiency - force


@register_jitable
def margins(t, v, missing, v_pol, t_w, t_c, par, phase, table_z, table_e):
    """Possible acceleration (m/s²) and what the pull at standstill has left over the breakaway resistance (N)."""
    rolling, climb, air = resistances(t, v, par, phase)
    omega = v * par.gear_per_m
    r_m, k = motor_constants(t_w, t_c, par)
    _, r0, _, e_left = pack_circuit(missing, v_pol, par, phase, table_z, table_e)
    current = full_throttle_current(t, e_left, omega, k, r_m + par.r_on, r0, par, phase)
    force = force_of_current(current, omega, k, par)
    possible = (force - rolling - climb - air) / phase.effective_mass
    return possible, force - par.breakaway * rolling - climb - air


@register_jitable
def driven(t, v, r0, e_left, r_m, k, par, phase):
    """Acceleration (m/s²), motor current (A), shaft torque and the friction that turns along (N m), wheel and brake force (N)."""
    mode = phase.mode
    r = r_m + par.r_on
    brake = accel = current = torque = drag = wheel = 0.0
    limited = False  # by the pull, not by the rider or the command
    if mode == STALL:
        current = full_throttle_current(t, e_left, 0.0, k, r, r0, par, phase)
    elif mode != REST:
        against = sum(resistances(t, v, par, phase))
        omega = v * par.gear_per_m
        if mode == COAST:
            wheel = force_of_current(0.0, omega, k, par)
            accel = (wheel - against) / phase.effective_mass
        else:
            accel = phase.acceleration
            if mode == BELOW:
                accel = par.rider_acceleration
                current = full_throttle_current(t, e_left, omega, k, r, r0, par, phase)
                wheel = force_of_current(current, omega, k, par)
                possible = (wheel - against) / phase.effective_mass
                if possible <= accel:
                    accel = possible
                    limited = True
            if not limited:
                wheel = phase.effective_mass * accel + against
                current, torque, drag, brake = motor_for_force(wheel, omega, k, par)
                wheel += brake
        if mode == COAST or limited:
            drag = par.friction_torque + par.gear_drag + par.viscous * omega
            torque = torque_of_current(current, k, par) - drag
            if par.freewheel > 0.0 and torque <= 0.0:
                current = torque = drag = 0.0
    return accel, current, torque, drag, wheel, brake


@register_jitable
def charged(i_b, own, missing, v_pol, e, r0, par, phase):
    """Charging current (A) and the voltage by which the tail's law holds it back (V)."""
    i_charge, v_charging = phase.charge_set, 0.0
    net = phase.charge_set - i_b
    # The share of the charge that a meter would say is missing; of two wells no more than the first has room for.
    room = missing
    if par.law == TWO_WELL:
        room = min(1.0 - own, missing)
    if net > 0.0:
        pressure = par.charger_volts - e + v_pol
        if pressure <= 0.0:
            net = 0.0
        elif room <= 0.0:
            net, v_charging = 0.0, pressure
        else:
            # All of the pressure's way is the published tail's: what the pack has anyway is part of it.
            r_charging = max(0.0, par.charging_ohm / room - r0 - par.r1)
            if r0 + r_charging > 0.0:
                net = min(net, pressure / (r0 + r_charging))
            v_charging = net * r_charging
        i_charge = i_b + net
    return i_charge, v_charging


@register_jitable
def charge_rates(i_b, stored, own, missing, par):
    """Rates of the law's own charge and of what is missing (1/s)."""
    d_missing = stored / par.capacity
    if par.law == TWO_WELL:
        bound = (1.0 - missing - par.available_share * own) / (1.0 - par.available_share)
        return (par.well_flow * (bound - own) - d_missing) / par.available_share, d_missing
    if par.law == PEUKERT:
        d_own = -d_missing
        if i_b > par.rated_current:
            d_own *= (i_b / par.rated_current) ** par.peukert_less_one
        elif i_b < 0.0 and missing > 1e-10:
            d_own *= (1.0 - own) / missing  # both are full together
        return d_own, d_missing
    if i_b < 0.0 and missing > 1e-10:
        return d_missing * own / missing, d_missing
    return d_missing * demand(i_b, par), d_missing


@register_jitable
def rates(t, v, own, missing, filtered, v_pol, t_w, t_c, par, phase, table_z, table_e):
    """Rates of all states, in the order of ``STATES``, then pack current (A), pack voltage (V), motor current (A)."""
    e, r0, i_other, e_left = pack_circuit(missing, v_pol, par, phase, table_z, table_e)
    r_m, k = motor_constants(t_w, t_c, par)
    accel, current, torque, drag, wheel, brake = driven(t, v, r0, e_left, r_m, k, par, phase)
    moves = phase.mode != REST and phase.mode != STALL
    rolling, climb, air = resistances(t, v, par, phase) if moves else (0.0, 0.0, 0.0)
    omega = v * par.gear_per_m if moves else 0.0

    i_ctl = 0.0
    copper = current * current * r_m
    brushes = par.brush_v * current
    if current > 0.0:
        heat = brushes + current * current * (r_m + par.r_on) + par.freewheel_v * current
        power = torque_of_current(current, k, par) * omega + heat
        e_raised = e_left + par.freewheel_v
        # The smaller of the two currents that give this power; this form also holds for a pack without resistance.
        i_ctl = 2.0 * power / (e_raised + sqrt(max(e_raised * e_raised - 4.0 * r0 * power, 0.0)))

    i_b = i_ctl + phase.standby + i_other
    i_charge = v_charging = 0.0
    if phase.charge_set > 0.0:
        i_charge, v_charging = charged(i_b, own, missing, v_pol, e, r0, par, phase)
        i_b -= i_charge
    v_b = e - v_pol - r0 * i_b + v_charging

    stored = i_b if i_b >= 0.0 else par.charge_efficiency * i_b
    d_own, d_missing = charge_rates(i_b, stored, own, missing, par)
    settled = par.r1 * i_b + beyond_ohm(state_of_charge(own, missing, filtered, par), e, r0, i_b, par)

    gear = par.gear_drag * omega if drag > 0.0 else 0.0
    friction = drag * omega - gear
    to_case = (t_w - t_c) / par.winding_to_case
    return (
        accel,
        v if moves else 0.0,
        d_own,
        d_missing,
        (max(i_b, 0.0) - filtered) / 300.0,
        (settled - v_pol) / par.t1,
        (copper + brushes - to_case) / par.winding_heat,
        (friction + to_case - (t_c - par.ambient) / par.case_to_air) / par.case_heat,
        e * stored,
        e * abs(i_b),
        r0 * i_b * i_b + v_charging * abs(i_b),
        v_pol * i_b,
        v_b * phase.standby,
        v_b * i_other,
        current * current * par.r_on + par.freewheel_v * (current - i_ctl),
        copper,
        brushes,
        friction,
        torque * omega - wheel * v + gear,
        rolling * v,
        air * v,
        brake * v,
        climb * v,
        v_b * i_charge,
        e * (stored - i_b),
        v_b * max(i_b, 0.0),
        current * current,
        i_b,
        v_b,
        current,
    )
