"""The motor's heat: a winding over its class, a motor that stands under current, cooling that is only guessed."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.choose.findings.places import where
from ridesim.physics.motor_heat import COOLING_BAND
from ridesim.ride.machine import machine
from ridesim.ride.result import Ride
from ridesim.ride.steady import STILL_AIR_C, pull_at
from ridesim.ride.steady.duty import continuous_current_a, stall_seconds
from ridesim.vehicle import Build
from ridesim.vehicle.motor_heat import (
    TOO_COOL,
    TOO_HOT,
    cooling,
    efficiency_at,
    most_power_w,
    nameplate_loss_w,
    rated_point,
)
from ridesim.words import Finding, percent

BURNT_K = 40.0
"""So far above its class the insulation does not last the day: common practice, life halves every 10 K. [K]"""
STALL_S = 3.0
"""Seconds a stalled motor may draw its limit: common practice, no source."""
QUICK_STALL_S = 15.0
"""A stall that overheats the winding sooner than this is worth saying beforehand: common practice, no source. [s]"""


def winding_hot(ride: Ride) -> Iterator[Finding]:
    """A winding that passes its insulation class."""
    moments, motor, hottest = ride.moments, ride.build.motor, ride.outcome.hottest_winding_c
    if moments.hot_s is None:
        return
    burnt = hottest > motor.winding_limit_c + BURNT_K
    how_far = "a burnt winding" if burnt else f"{hottest:.0f} °C at worst"
    text = (
        f"The winding passes its class {motor.insulation_class} limit of {motor.winding_limit_c:.0f} °C at "
        f"{where(ride, moments.hot_s)}: {how_far}, {moments.seconds_hot / 60.0:.1f} min above. Hot motors burn "
        "hands and age fast; let it cool before touching."
    )
    numbers = {"hottest_winding_c": hottest, "seconds_above": moments.seconds_hot, "clock_s": moments.hot_s}
    if burnt:
        yield Finding("winding-burnt", "stop", text, numbers)
    else:
        yield Finding("winding-hot", "warning", text, numbers)


def stalled(ride: Ride) -> Iterator[Finding]:
    """The day's worst stall, judged by ∫I² dt, as the heat under a standing brush: so many seconds at the largest possible current."""
    moments, build = ride.moments, ride.build
    seconds, amps = moments.worst_stall_s, moments.worst_stall_a
    if seconds <= STALL_S:
        return
    could = pull_at(0.0, 1.0, STILL_AIR_C, STILL_AIR_C, machine(build))[1]
    numbers = {"stall_s": seconds, "stall_current_a": amps}
    place = f"for {seconds:.0f} s at {where(ride, moments.worst_stall_at_s)} with up to {amps:.0f} A"
    if build.controller.ramp_s > 0.0 and moments.worst_stall_a2s <= STALL_S * could**2:
        text = (
            f"The motor stands under current {place}, of the {could:.0f} A that could flow, before the soft start lets it pull. "
            "Keep the brake on meanwhile, and off the throttle when it does not move soon after."
        )
        yield Finding("stall-in-the-soft-start", "warning", text, numbers)
        return
    burns = (
        "two windings and their switches carry it all, and a few seconds overheat them"
        if build.motor.kind == "electronically-commutated"
        else "a few seconds burn the commutator"
    )
    text = f"The motor stalls {place}: {burns}. Release the throttle at once when it does not turn."
    yield Finding("stall", "stop", text, numbers)


def stalls_quickly(build: Build, ambient_c: float) -> Iterator[Finding]:
    """How long the controller's limit takes to overheat a held winding."""
    amps = build.controller.max_motor_current_a
    seconds = stall_seconds(build.motor, amps, ambient_c)
    if seconds >= QUICK_STALL_S:
        return
    sooner = (
        "the two windings that carry it, and their switches, are"
        if build.motor.kind == "electronically-commutated"
        else "the commutator burns"
    )
    text = (
        f"Held still at the controller's {amps:g} A the winding is at its limit after {seconds:.0f} s from cold; {sooner} "
        "sooner. Off the throttle within 2 or 3 s when it does not move."
    )
    yield Finding("stall-seconds", "warning", text, {"stall_s": seconds})


def doubtful_nameplate(build: Build) -> Iterator[Finding]:
    """A nameplate that the motor's own values or its mass contradict: why, what was taken instead, and what would fit."""
    motor = build.motor
    doubt, power, lost = cooling(motor).doubt, motor.rated_power_w, nameplate_loss_w(motor)
    stated = motor.winding_to_case_k_per_w is not None and motor.case_to_air_k_per_w is not None
    if not doubt or stated or power is None or lost is None:
        return
    numbers, rated = {"rated_power_w": power}, rated_point(motor)
    if doubt == TOO_HOT:
        text = (
            f"By its nameplate the motor sheds {lost:.0f} W for hours, less than half what its {motor.mass_kg:g} kg usually do. That is taken, "
            "the hotter of the two; but perhaps the mass counts a gearbox, or the plate is not this motor's. A warm-up on the bench settles it."
        )
        yield Finding("nameplate-low-for-its-mass", "advice", text, {**numbers, "lost_w": lost})
        return
    if rated is None:
        most = most_power_w(motor)
        why = (
            f"with its torque constant and {motor.resistance_ohm:.3g} Ω the shaft gives {most:.0f} W at most, warm. "
            f"{most:.0f} W would fit, or about {motor.resistance_ohm * most / power:.2g} Ω"
        )
        numbers["most_power_w"] = most
    elif doubt == TOO_COOL:
        why = f"it would shed {lost:.0f} W for hours, more than twice what its {motor.mass_kg:g} kg usually do"
        numbers["lost_w"] = lost
    else:
        numbers["efficiency"] = efficiency_at(motor, rated)
        why = f"it would take {rated.current_a:.0f} A for that, with an efficiency of {percent(numbers['efficiency'])}"
    text = (
        f"The nameplate's {power:g} W at {motor.rated_voltage_v:g} V cannot be believed: {why}. It may state input power or a short rating, "
        "or the meter read the resistance too high through the brushes. How well the motor cools is guessed by nameplate and by mass, the "
        "hotter of the two is taken, and may be half or twice as good. A warm-up on the bench settles it."
    )
    yield Finding("nameplate-doubtful", "warning", text, numbers)


def guessed_heat(build: Build) -> Iterator[Finding]:
    """Cooling guessed from the motor's mass: how wide that is, told as a range of the current it bears for hours."""
    motor = build.motor
    if not motor.cools_by_mass:
        return
    to_case, to_air = motor.heat[2:]
    amps = []
    for times in (COOLING_BAND, 1.0 / COOLING_BAND):
        resistances = {"winding_to_case_k_per_w": to_case * times, "case_to_air_k_per_w": to_air * times}
        guessed = {f"motor.{key}": value for key, value in resistances.items() if getattr(motor, key) is None}
        amps.append(continuous_current_a(build.changed(guessed).motor))
    low, high = amps
    text = (
        f"How well the motor cools is guessed from its {motor.mass_kg:g} kg alone and may be half or twice as good: held still in 40 °C air "
        f"it would bear anything from {low:.0f} to {high:.0f} A in the winding for hours, and every temperature here is as wide. "
        "Measure it with a warm-up on the bench, or give the nameplate; until then feel the case often, with care, and stop while a hand "
        "can still stay on it."
    )
    yield Finding("heat-from-mass", "warning", text, {"continuous_low_a": low, "continuous_high_a": high})
