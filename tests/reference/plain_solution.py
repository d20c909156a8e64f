"""Reference solution of the vehicle model: plain Python, a general-purpose solver, no cleverness.

What it is
----------
The yardstick of the tests and the opponent of the benchmarks. It is written from the model page alone, apart from the
production code and without sight of it, and must stay so: never correct it by looking at the other. The right-hand
side is in ``equations`` (plain and compiled in ``forms``), what is settled before the start in ``parameters``, one
phase in ``motion``, and the day here.

The ride is driven phase by phase. Within a phase the equations are smooth (a change of slope apart); at its end stands
a known time or an event that the solver locates: pull falls short, command reached, standstill, breakaway, pack empty.

Decisions where the model leaves room
-------------------------------------
- A trace interval is driven if both its ends have a speed, otherwise it is a coast. Grade is linear between points.
  Where the command drops below the speed at once, the brake takes the difference at once.
- On the command the vehicle keeps the command's slope while the pull allows. When the pull falls short it is below the
  command and accelerates with the lesser of pull and rider until it is on the command again.
- Breaking away needs a pull above the raised rolling resistance, the grade and the air force. A vehicle that cannot
  stands with the largest motor current flowing. 60 s under 0.1 m/s at the pull limit end the activity; the speed left
  goes into the brake.
- A coast at standstill rolls away only if slope and tail wind exceed the raised rolling resistance and, without a
  freewheel, the motor's friction at standstill; looked at where an interval begins. It never rolls backwards.
- A leg's stop is at its end; the last leg of the last lap ends standing.
- Speed carries over to the next activity if that starts at the same instant, moves, and has the same people aboard;
  otherwise the brake takes it.
- With a freewheel a motor that would retard has no current, no drag and no friction heat. Its current then jumps where
  the pull vanishes; a vehicle held just there (its no-load speed, downhill) makes the solver crawl.
- An empty pack gives nothing for the rest of the activity (two-well: even if charge flows back meanwhile), unless the
  charger's set current exceeds the loads; with a smaller charger nothing flows at all.
- Charging is for activities that stand. Its tail is set by the rated capacity at the day's temperature, for the two-well
  law too.
- Ampere-hours are counted beside what a law keeps of its own. The charger puts back those that went out, and under the Peukert and
  the recovery law the other rises in proportion to what is missing of them, so that both are full together.
- The rated current, from which the Peukert and the recovery law count, does not change with temperature or ageing.
- The throttle opens when a driven phase follows a rest, the start of a moving activity or of a trace's piece at a stand.
  Opened at a stand, a soft start's share of the largest current grows from nothing to all over the ramp.
- A controller that cuts out does so when the pack's voltage meets the cut-off while motor current flows, at once where the
  current would jump past it. It comes back, with its soft start from the beginning, when its shortest time off is over and
  the pack is at the restart voltage; until then there is no motor current, lights and standby go on. Time under
  0.1 m/s counts as before. An eleventh cut-out in a row, each within a minute of the last return, ends the activity.
- Leaving the last activity early ends the ride there. Without any discharge the highest pack current is zero.
- Time starts with the first activity's start and ends with the last activity.
- In the ledger the charger's energy is negative, so that all entries but ``drawn`` add up to ``drawn``.
"""

import math
from dataclasses import dataclass

from . import equations as eq
from .motion import Event, LeavesActivityError, Motion
from .parameters import ride_parameters

LEDGER = eq.STATES[eq.STATES.index("pack_resistance") : eq.STATES.index("charge_not_stored") + 1]
STRAIGHT = 1e-9  # km/h or percent: trace points no farther from a straight line belong to one phase
FOREVER_S = 1e6  # bound of a phase that an event will end


@dataclass(frozen=True, kw_only=True)
class ReferenceRide:
    """Results of one ride; units in the names, ``ledger`` in Wh."""

    end_state_of_charge: float
    distance_km: float
    energy_wh: float
    lowest_pack_voltage_v: float
    highest_pack_current_a: float
    hottest_winding_c: float
    rms_motor_current_a: float
    ledger: dict
    ledger_residual: float
    left_activities: tuple  # names of the activities that the vehicle could not finish
    cut_outs: int
    first_cut_out_s: float | None  # on the clock


def reference_ride(build, day, battery_model="recovery", rtol=1e-9, compiled_rhs=False):
    """Ride a build through a day, under the "recovery", the "peukert" or the "two-well" battery model.

    ``build`` and ``day`` have the attribute names of the users' files, SI numbers, all defaults filled in. ``rtol`` is the
    relative tolerance; the absolute ones are in proportion to it. Below 1e-7 (the yardstick) the extremes are looked at
    inside the solver's steps too; above (the benchmark) only at the ends of the phases and steps.
    """
    assert day.lights_on is None, "lights by the clock: split the activity where they are switched"
    par, table_z, table_e = ride_parameters(build, day, battery_model)
    motion = Motion(par, table_z, table_e, float(day.start_state_of_charge), rtol, compiled_rhs)
    vehicle, controller, lighting = build.vehicle, build.controller, build.lighting
    turning = (
        vehicle.wheels_inertia_kgm2 / vehicle.rolling_radius_m**2 + build.motor.rotor_inertia_kgm2 * par.gear_per_m**2
    )
    lights = 0.0
    if lighting is not None and lighting.supply == "main-pack":
        lights = float(sum(load.power_w for load in lighting.load)) / lighting.converter_efficiency

    start = motion.clock = float(day.activity[0].start_s)
    distance = 0.0
    left = []
    aboard = None
    for activity in day.activity:
        moves = activity.route is not None or activity.trace is not None
        waits = activity.start_s is not None and activity.start_s > motion.clock
        if waits or not moves or aboard != activity.aboard:
            motion.brake_to(0.0)
        if waits:
            motion.standby = controller.standby_current_a if day.controller_on else 0.0
            motion.lights = motion.charge_set = 0.0
            motion.wake_pack()
            motion.stand(activity.start_s - motion.clock)
            motion.clock = float(activity.start_s)
        aboard = activity.aboard
        motion.mass = float(build.total_mass_kg(aboard))
        motion.effective_mass = motion.mass + turning
        motion.standby = float(controller.standby_current_a)
        motion.lights = lights * (activity.lighting or 0.0)
        motion.charge_set = float(activity.charge_current_a or 0.0)
        motion.wake_pack()
        motion.slow_since = None
        motion.cuts_in_a_row = 0
        motion.close_throttle()
        motion.position = motion.legs_done = 0.0
        motion.grade = motion.grade_rate = 0.0
        motion.rolling = float(vehicle.rolling_coefficient)
        try:
            if activity.route is not None:
                ride_route(motion, activity, day.braking_mps2)
            elif activity.trace is not None:
                ride_trace(motion, activity)
            else:
                motion.stand(activity.duration_s or 0.0)
        except LeavesActivityError:
            left.append(activity.name)
            motion.brake_to(0.0)
        distance += motion.legs_done + motion.position
    motion.brake_to(0.0)
    return _result(motion, start, distance, tuple(left))


def _result(motion, start, distance, left):
    values = dict(zip(eq.STATES, motion.y.tolist(), strict=True))
    ledger = {name: values[name] / 3600.0 for name in LEDGER}
    ledger["charger"] = -ledger["charger"]
    ledger["kinetic"] = 0.5 * motion.effective_mass * motion.v**2 / 3600.0
    drawn = values["drawn"] / 3600.0
    base = values["base"] / 3600.0
    residual = abs(drawn - math.fsum(ledger.values())) / base if base > 0.0 else 0.0
    time = motion.clock - start
    return ReferenceRide(
        end_state_of_charge=motion.charge(motion.y),
        distance_km=distance / 1000.0,
        energy_wh=values["terminal_energy"] / 3600.0,
        lowest_pack_voltage_v=motion.lowest_v,
        highest_pack_current_a=motion.highest_a,
        hottest_winding_c=motion.hottest_c,
        rms_motor_current_a=math.sqrt(max(values["motor_current_squared"], 0.0) / time) if time > 0.0 else 0.0,
        ledger={"drawn": drawn, **ledger},
        ledger_residual=residual,
        left_activities=left,
        cut_outs=motion.cut_outs,
        first_cut_out_s=motion.first_cut_out,
    )


def straight_stretches(time, speed, grade):
    """Join neighbouring trace intervals that lie on one straight line.

    From points (s, km/h or not a number for a coast, percent) to stretches: start and duration (s), start and end
    command (m/s; None for a coast), start and end grade (percent).
    """

    def driven(i):
        return not (math.isnan(speed[i]) or math.isnan(speed[i + 1]))

    def straight(values, i, j):
        rise = (values[j] - values[i]) / (time[j] - time[i])
        return all(abs(values[i] + rise * (time[m] - time[i]) - values[m]) <= STRAIGHT for m in range(i + 1, j))

    stretches = []
    i = 0
    while i < len(time) - 1:
        j = i + 1
        if time[j] > time[i]:
            on = driven(i)
            while (
                j < len(time) - 1
                and time[j + 1] > time[j]
                and driven(j) == on
                and straight(grade, i, j + 1)
                and (not on or straight(speed, i, j + 1))
            ):
                j += 1
            commands = (speed[i] / 3.6, speed[j] / 3.6) if on else (None, None)
            stretches.append((time[i] - time[0], time[j] - time[i], *commands, grade[i], grade[j]))
        i = j
    return stretches


def ride_trace(motion, activity):
    """Ride an activity's speed trace with its repeats; the motion's position counts the whole activity."""
    trace = activity.trace
    time, speed, grade = (
        [float(value) for value in column] for column in (trace.time_s, trace.speed_kmh, trace.grade_percent)
    )
    stretches = straight_stretches(time, speed, grade)
    begin = motion.clock
    for repeat in range(int(activity.repeats)):
        origin = begin + repeat * (time[-1] - time[0])
        for start, duration, command, command_end, grade_start, grade_end in stretches:
            rate = (grade_end - grade_start) / duration
            if command is None:
                coast_interval(motion, duration, grade_start, rate)
            else:
                driven_interval(motion, command, command_end, duration, grade_start, rate)
            motion.clock = origin + start + duration  # no drift from adding up phases


def coast_interval(motion, duration, grade, rate):
    """Coast through a stretch: duration (s), grade (percent) and its rate (percent a second)."""
    gone = 0.0
    while duration - gone > 0.0:
        motion.grade, motion.grade_rate = grade + rate * gone, rate
        gone += motion.coast(duration - gone)[1]


def driven_interval(motion, command, command_end, duration, grade, rate):
    """Follow a command between two speeds (m/s) for a time (s), on a grade (percent) with a rate (percent a second)."""
    slope = (command_end - command) / duration
    on = motion.meet(command)
    if command <= 0.0:
        motion.close_throttle()
    gone = 0.0
    free = False  # has just broken away
    while duration - gone > 0.0:
        rest = duration - gone
        now = command + slope * gone
        motion.grade, motion.grade_rate = grade + rate * gone, rate
        possible, breaks_away = motion.margins()
        if command == command_end == 0.0:
            motion.stand(rest)
            break
        if motion.v == 0.0 and not (breaks_away or free):
            name, step = motion.stalled(rest)
            on = False
            free = name == "starts"
        elif on and possible >= slope:
            name, step = motion.follow(slope, rest)
            if name is None:
                motion.v = command_end
            else:
                motion.v = command + slope * (gone + step)
                on = name != "fell off"
        else:
            on = False
            name, step = motion.below(rest, [_reaches_trace(now, slope, motion.arrival_margin)])
            if name == "arrives":
                motion.v = max(command + slope * (gone + step), 0.0)
                on = True
        if name != "starts":
            free = False
        gone += step


def _reaches_trace(command, slope, margin):
    return Event("arrives", lambda t, y: y[0] - command - slope * t - margin, 1)


def end_speeds(legs, braking):
    """Highest speed, m/s, at the end of each leg that still allows for every limit and stop behind it.

    All legs of all laps in order; ``braking`` is the deceleration of the braking envelope, m/s².
    """
    speeds = [0.0] * len(legs)
    for i in range(len(legs) - 2, -1, -1):
        if legs[i].stop_s > 0.0:
            continue
        following = legs[i + 1]
        envelope = math.sqrt(speeds[i + 1] ** 2 + 2.0 * braking * following.length_m)
        speeds[i] = min(legs[i].speed_kmh / 3.6, following.speed_kmh / 3.6, envelope)
    return speeds


def ride_route(motion, activity, braking):
    """Ride an activity's laps of a route; braking in m/s²."""
    rolling = motion.rolling  # of the build
    legs = list(activity.route.legs) * int(activity.laps)
    for leg, end_speed in zip(legs, end_speeds(legs, braking), strict=True):
        motion.grade = float(leg.grade_percent)
        motion.rolling = rolling * leg.surface_factor
        ride_leg(motion, float(leg.length_m), leg.speed_kmh / 3.6, end_speed, braking)
        motion.legs_done += leg.length_m
        motion.position = 0.0
        if leg.stop_s > 0.0:
            motion.stand(float(leg.stop_s))


def ride_leg(motion, length, limit, end_speed, braking):
    """Ride one leg: length (m), speed limit and speed at the end (m/s), deceleration of the envelope (m/s²)."""
    brake_point = length - (limit**2 - end_speed**2) / (2.0 * braking)

    def envelope(position):
        return math.sqrt(max(end_speed**2 + 2.0 * braking * (length - position), 0.0))

    margin = motion.arrival_margin

    def reaches_limit(t, y):
        return y[0] - limit - margin

    def reaches_ramp(t, y):
        return y[0] * abs(y[0]) - end_speed**2 - 2.0 * braking * (length - y[1]) - margin

    arrivals = [
        Event("limit", reaches_limit, 1),
        Event("ramp", reaches_ramp, 1),
        Event("end", lambda t, y: y[1] - length, 1),
    ]
    on = motion.meet(min(limit, envelope(motion.position)))
    free = False
    while motion.position < length:
        ramp = motion.position >= brake_point - 1e-9
        slope = -braking if ramp else 0.0
        possible, breaks_away = motion.margins()
        name = None
        if motion.v == 0.0 and not (breaks_away or free):
            name, _ = motion.stalled(FOREVER_S)
            on = False
        elif on and possible >= slope and motion.v > 0.0:
            if ramp:
                name, _ = motion.follow(slope, (motion.v - end_speed) / braking)
                motion.position = length if name is None else motion.position
                motion.v = envelope(motion.position)
            else:
                name, _ = motion.follow(slope, (brake_point - motion.position) / motion.v)
                motion.position = brake_point if name is None else motion.position
                motion.v = limit
            on = name != "fell off"
        else:
            on = False
            name, _ = motion.below(FOREVER_S, arrivals)
            if name == "limit":
                on, motion.v = True, limit
            elif name == "ramp":
                on, motion.v = True, envelope(motion.position)
            elif name == "end":
                motion.position = length
        free = name == "starts"
