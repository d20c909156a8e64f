"""What to watch, in words with their numbers. One function a subject; each looks at one ride."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import chain

import numpy as np

from ridesim.choose.findings.motor import cut_outs, motor_findings
from ridesim.choose.findings.pack import gas_text, pack_findings
from ridesim.day import Activity, Day
from ridesim.day.day import clock
from ridesim.physics.road import GRAVITY, slope_sine
from ridesim.ride.machine import highest_charger_v, machine
from ridesim.ride.result import Ride
from ridesim.ride.steady import pull_at, steepest_start_percent
from ridesim.vehicle import Build, Pack
from ridesim.words import Finding, degrees

TOUCH_LIMIT_V = 60.0
"""Above this d.c. voltage a vehicle's circuit counts as high voltage: FMVSS 305; UN R100 and R136 (from memory)."""
STALL_S = 3.0
"""Seconds a stalled motor may draw its limit: common practice, no source."""
LATE_S = 60.0
BURNT_K = 40.0
"""So far above its class the insulation does not last the day: common practice, life halves every 10 K. [K]"""
REACTION_S = 1.0
"""A rider's reaction before the brake bites: common practice, no source. [s]"""
_RANK = {"stop": 0, "warning": 1, "advice": 2}


def findings_for(ride: Ride, top_kmh: float, top_at_reserve_kmh: float, asked: Day | None = None) -> list[Finding]:
    """All findings about a ride, worst first.

    Parameters
    ----------
    ride : Ride
        A simulated day.
    top_kmh, top_at_reserve_kmh : float
        Top speed on the level, full and at the reserve.
    asked : Day, optional
        The day as it was wished for, where the ride left out charges that must not be made; the ride's own.
    """
    found = chain(
        _starting(ride.build, ride.day),
        _speed(ride, top_kmh, top_at_reserve_kmh),
        _not_finished(ride),
        _charge(ride),
        _heat(ride),
        _stall(ride),
        _voltage(ride.build, ride.day.ambient_c),
        _rate(ride),
        _brakes(ride.build, ride.day, top_kmh),
        _charging(ride.build.pack, asked or ride.day),
        pack_findings(ride, asked),
        _clock_and_lights(ride),
        _series_wound(ride.build),
        motor_findings(ride.build, ride.day),
        cut_outs(ride),
    )
    return sorted(found, key=lambda finding: _RANK[finding.severity])


def _climbs(activity: Activity) -> list[tuple[float, float, str]]:
    """Grade [%], surface factor and name of every place where an activity may have to start."""
    if activity.route is not None:
        return [
            (leg.grade_percent, leg.surface_factor, f"leg {number} of “{activity.name}” ({leg.surface})")
            for number, leg in enumerate(activity.route.legs, start=1)
        ]
    return [(activity.trace.steepest_percent, 1.0, f"“{activity.name}”")] if activity.trace is not None else []


def _starting(build: Build, day: Day) -> Iterator[Finding]:
    worst: tuple[float, float, str] | None = None
    limits: dict[tuple[bool, float], float] = {}
    for activity in day.activity:
        for grade, factor, place in _climbs(activity):
            key = activity.aboard, factor
            if key not in limits:
                limits[key] = steepest_start_percent(build, aboard=activity.aboard, surface_factor=factor)
            if grade >= limits[key] and (worst is None or grade - limits[key] > worst[0] - worst[1]):
                worst = grade, limits[key], place
    if worst is None:
        return
    grade, limit, place = worst
    able = f"it starts on {limit:.1f} % there at most" if limit > 0.0 else "it does not even start on the level there"
    yield Finding(
        "will-not-start",
        "stop",
        f"Will not start on the {grade:.1f} % of {place}: {able}. A larger wheel sprocket, a smaller motor sprocket or higher "
        "current limits would help.",
        {"grade_percent": grade, "steepest_start_percent": limit},
    )


def _speed(ride: Ride, top: float, at_reserve: float) -> Iterator[Finding]:
    asked = ride.day.fastest_kmh
    if asked <= at_reserve:
        return
    yield Finding(
        "too-slow",
        "warning",
        f"Top speed {top:.1f} km/h full and {at_reserve:.1f} at the reserve; the day asks for {asked:.1f} km/h.",
        {"top_speed_kmh": top, "top_speed_at_reserve_kmh": at_reserve, "asked_kmh": asked},
    )


def _not_finished(ride: Ride) -> Iterator[Finding]:
    left = [stage for stage in ride.stages if stage.left]
    if not left:
        return
    first = left[0]
    km = sum(stage.distance_m for stage in ride.stages[: ride.stages.index(first) + 1]) / 1000.0
    more = f" ({len(left)} activities not ended)" if len(left) > 1 else ""
    yield Finding(
        "not-finished",
        "stop",
        f"The day is not finished: it gives up in “{first.name}” at {clock(first.end_s)}, {first.place}, after "
        f"{km:.1f} km{more}; {ride.outcome.distance_km:.1f} of {ride.outcome.planned_distance_km:.1f} km are covered.",
        {"distance_km": ride.outcome.distance_km, "planned_distance_km": ride.outcome.planned_distance_km},
    )


def _charge(ride: Ride) -> Iterator[Finding]:
    moments, pack = ride.moments, ride.build.pack
    if moments.empty_s is not None:
        yield Finding(
            "pack-empty",
            "stop",
            f"The pack is empty at {where(ride, moments.empty_s)}.",
            {"clock_s": moments.empty_s},
        )
    elif moments.reserve_s is not None:
        yield Finding(
            "reserve-reached",
            "warning",
            f"The reserve of {pack.reserve:.0%} is reached at {where(ride, moments.reserve_s)}; "
            f"{ride.outcome.end_state_of_charge:.0%} is left at the end.",
            {"clock_s": moments.reserve_s, "end_state_of_charge": ride.outcome.end_state_of_charge},
        )
    ends = moments.empty_s if moments.empty_s is not None else math.inf
    folds_back = ride.build.controller.cutoff_action == "fold-back"
    if folds_back and moments.cut_off_s is not None and moments.cut_off_s < ends - 60.0:
        yield Finding(
            "cut-off-reached",
            "warning",
            f"The controller's cut-off of {ride.build.cutoff_voltage_v:.1f} V holds the pull back from "
            f"{where(ride, moments.cut_off_s)} on.",
            {"clock_s": moments.cut_off_s, "cutoff_voltage_v": ride.build.cutoff_voltage_v},
        )


def where(ride: Ride, moment: float) -> str:
    """Clock time, activity and distance of a moment: ``“17:05 in “First parade”, after 8.4 km”``."""
    stage = next((s for s in ride.stages if s.start_s <= moment <= s.end_s), None)
    place = f" in “{stage.name}”" if stage else ""
    if not len(ride.rows):
        return f"{clock(moment)}{place}"
    index = min(len(ride.rows) - 1, int(np.searchsorted(ride.clock_s, moment)))
    covered = float(ride.rows["distance_m"][index]) / 1000.0
    return f"{clock(moment)}{place}, after {covered:.1f} km"


def _heat(ride: Ride) -> Iterator[Finding]:
    moments, motor, hottest = ride.moments, ride.build.motor, ride.outcome.hottest_winding_c
    if moments.hot_s is None:
        return
    yield Finding(
        "winding-hot",
        "stop" if hottest > motor.winding_limit_c + BURNT_K else "warning",
        f"The winding passes its class {motor.insulation_class} limit of {motor.winding_limit_c:.0f} °C at "
        f"{where(ride, moments.hot_s)}: {hottest:.0f} °C at worst, {moments.seconds_hot / 60.0:.1f} min above. Hot motors burn "
        "hands and age fast; let it cool before touching.",
        {"hottest_winding_c": hottest, "seconds_above": moments.seconds_hot, "clock_s": moments.hot_s},
    )


def _stall(ride: Ride) -> Iterator[Finding]:
    """Judged by ∫I² dt, as the heat under a standing brush: so many seconds at the largest current that could flow."""
    moments, build = ride.moments, ride.build
    seconds, amps = moments.worst_stall_s, moments.worst_stall_a
    if seconds <= STALL_S:
        return
    could = pull_at(0.0, 1.0, 20.0, 20.0, machine(build))[1]
    numbers = {"stall_s": seconds, "stall_current_a": amps}
    place = f"for {seconds:.0f} s at {where(ride, moments.worst_stall_at_s)} with up to {amps:.0f} A"
    if build.controller.ramp_s > 0.0 and moments.worst_stall_a2s <= STALL_S * could**2:
        yield Finding(
            "stall", "warning",
            f"The motor stands under current {place}, of the {could:.0f} A that could flow, before the soft start lets it pull. "
            "Keep the brake on meanwhile, and off the throttle when it does not move soon after.",
            numbers,
        )  # fmt: skip
        return
    burns = (
        "two windings and their switches carry it all, and a few seconds overheat them"
        if build.motor.kind == "electronically-commutated"
        else "a few seconds burn the commutator"
    )
    yield Finding(
        "stall", "stop",
        f"The motor stalls {place}: {burns}. Release the throttle at once when it does not turn.",
        numbers,
    )  # fmt: skip


def _voltage(build: Build, ambient_c: float) -> Iterator[Finding]:
    full, rating = highest_charger_v(build.pack, ambient_c), build.controller.max_voltage_v
    if rating is not None and rating < full:
        yield Finding(
            "controller-voltage",
            "stop",
            f"The controller stands {rating:.1f} V; the pack on its charger reaches {full:.1f} V.",
            {"max_voltage_v": rating, "full_voltage_v": full},
        )
    elif rating is None:
        yield Finding(
            "controller-voltage-unknown",
            "advice",
            f"The build does not say what voltage the controller stands; it needs {full:.1f} V or more (max_voltage_v).",
            {"full_voltage_v": full},
        )
    if full > TOUCH_LIMIT_V:
        yield Finding(
            "above-60-volts",
            "warning",
            f"The full pack reaches {full:.1f} V, above 60 V d.c.: touching it can kill, and vehicle rules treat it as high "
            "voltage. Covers, insulated tools and a licensed electrician's eye; local rules decide.",
            {"full_voltage_v": full},
        )


def _rate(ride: Ride) -> Iterator[Finding]:
    pack = ride.build.pack
    rate = ride.moments.sustained_current_a / pack.capacity_ah
    if rate > pack.kind.harsh_above_c:
        yield Finding(
            "harsh-rate",
            "warning",
            f"{ride.moments.sustained_current_a:.0f} A over a minute is {rate:.1f} times the {pack.capacity_ah:.0f} Ah label an "
            f"hour; more than {pack.kind.harsh_above_c:g} is harsh for {pack.chemistry} and wears it early.",
            {"current_a": ride.moments.sustained_current_a, "rate_per_h": rate},
        )


def _brakes(build: Build, day: Day, top_kmh: float) -> Iterator[Finding]:
    brakes = build.vehicle.brakes
    steepest = day.steepest_either_way_percent
    if steepest > 0.0:
        holding = max((brake.holds_percent for brake in brakes if brake.holds_percent is not None), default=None)
        if holding is None or holding < steepest:
            known = (
                "none is named that holds a slope" if holding is None else f"the best one named holds {holding:.0f} %"
            )
            yield Finding(
                "hold-not-covered",
                "stop",
                f"The day has a slope of {steepest:.1f} % and no mechanical brake is named that holds it ({known}). The motor holds "
                "nothing when the power fails: wheel chocks, a second person or a winch, and a tried brake.",
                {"slope_percent": steepest, "holds_percent": holding or 0.0},
            )
    speed = min(day.fastest_kmh, top_kmh) / 3.6
    if speed <= 0.0:
        return
    yield from _downhill(build, day)
    needed = day.braking_mps2
    stopping = max((brake.deceleration_mps2 for brake in brakes if brake.deceleration_mps2 is not None), default=None)
    distance = speed * REACTION_S + speed * speed / (2.0 * needed)
    numbers = {"speed_kmh": speed * 3.6, "stopping_distance_m": distance}
    if stopping is None or stopping < needed:
        known = (
            "no brake's deceleration is stated" if stopping is None else f"the best one named gives {stopping:.1f} m/s²"
        )
        yield Finding(
            "stopping-not-covered",
            "stop",
            f"From {speed * 3.6:.0f} km/h the day's stops need {needed:.1f} m/s² and {distance:.0f} m with a second to react; {known}.",
            numbers,
        )
    else:
        yield Finding(
            "stopping-distance",
            "advice",
            f"From {speed * 3.6:.0f} km/h it stops in {distance:.0f} m with a second to react and {needed:.1f} m/s²; try the brakes "
            "loaded before the first ride.",
            numbers,
        )


def _downhill(build: Build, day: Day) -> Iterator[Finding]:
    """Downhill the brake must hold the slope's pull and slow the vehicle besides."""
    best = max((b.deceleration_mps2 for b in build.vehicle.brakes if b.deceleration_mps2 is not None), default=None)
    worst: tuple[float, float, str] | None = None
    for activity in day.activity:
        for leg in activity.route.legs if activity.route is not None else ():
            needed = day.braking_mps2 + GRAVITY * slope_sine(-leg.grade_percent / 100.0)
            if leg.grade_percent < 0.0 and (worst is None or needed > worst[0]):
                worst = needed, leg.grade_percent, activity.name
    if worst is None or best is None or best >= worst[0]:
        return
    needed, grade, name = worst
    yield Finding(
        "downhill-stop-not-covered",
        "stop",
        f"Down the {-grade:.1f} % of “{name}” a stop needs {needed:.1f} m/s² from the brakes, the slope's own pull included; the best one "
        f"named gives {best:.1f}. Walk it down on a rope or a winch, or fit and try a stronger brake.",
        {"needed_mps2": needed, "deceleration_mps2": best, "slope_percent": -grade},
    )


def _charging(pack: Pack, day: Day) -> Iterator[Finding]:
    charged = [activity for activity in day.activity if activity.charge_current_a > 0.0]
    if not charged:
        return
    coldest = pack.kind.coldest_charge_c
    if day.ambient_c < coldest:
        yield Finding(
            "too-cold-to-charge",
            "stop",
            f"{degrees(day.ambient_c)} °C is too cold to charge {pack.chemistry}: {degrees(coldest)} °C at least"
            + (", or metal plates out inside the cells and they may burn later." if pack.kind.is_lithium else "."),
            {"ambient_c": day.ambient_c, "coldest_charge_c": coldest},
        )
    amps = max(activity.charge_current_a for activity in charged)
    yield Finding(
        "charging-place",
        "advice",
        f"Charging with {amps:g} A during the day. {gas_text(pack)}",
        {"charge_current_a": amps},
    )


def _clock_and_lights(ride: Ride) -> Iterator[Finding]:
    late = [(stage.start_s - stage.planned_start_s, stage) for stage in ride.stages]
    worst, stage = max(late, key=lambda pair: pair[0])
    if worst > LATE_S:
        yield Finding(
            "late",
            "warning",
            f"“{stage.name}” starts {worst / 60.0:.0f} min late, at {clock(stage.start_s)} instead of {clock(stage.planned_start_s)}.",
            {"late_s": worst},
        )
    for each in ride.stages:
        if each.lights_ran_out_s is not None:
            yield Finding(
                "lights-out",
                "warning",
                f"The lights' own battery is empty at {clock(each.lights_ran_out_s)} in “{each.name}”.",
                {"clock_s": each.lights_ran_out_s},
            )
    lights = ride.build.lighting
    if lights is None and any(activity.lighting > 0.0 for activity in ride.day.activity):
        yield Finding("no-lights", "advice", "The day wants lights and the build names none.", {})


def _series_wound(build: Build) -> Iterator[Finding]:
    if build.motor.kind != "series-wound":
        return
    chain_part = build.drive.chain or "the chain"
    yield Finding(
        "series-runaway",
        "warning",
        "A series-wound motor has no top speed without load: if "
        f"{chain_part if chain_part == 'the chain' else 'the ' + chain_part + ' chain'} breaks or comes off under power it can fly "
        "apart. Never run it unloaded; guard the chain.",
        {"no_load_speed": math.inf},
    )
