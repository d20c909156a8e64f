"""The controller: the voltage it stands, its one printed current, pre-charge, and cutting out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from math import inf, isfinite

from ridesim.choose.findings.places import stage_at
from ridesim.day import Day
from ridesim.day.day import clock
from ridesim.ride.machine import highest_charger_v
from ridesim.ride.pack.supply import blocks_stand_a
from ridesim.ride.result import Ride
from ridesim.ride.steady import steepest_start_percent, top_speed_kmh
from ridesim.ride.steady.cut_out import cut_out
from ridesim.ride.steady.motor import label_readings, precharge
from ridesim.vehicle import Build
from ridesim.vehicle.controller import BATTERY_LABEL_MOTOR_FACTOR
from ridesim.words import Finding, percent


def voltage(build: Build, ambient_c: float) -> Iterator[Finding]:
    """The controller's highest voltage against the pack on its charger."""
    full, rating = highest_charger_v(build.pack, ambient_c), build.controller.max_voltage_v
    if rating is not None and rating < full:
        text = f"The controller stands {rating:.1f} V; the pack on its charger reaches {full:.1f} V."
        yield Finding("controller-voltage", "stop", text, {"max_voltage_v": rating, "full_voltage_v": full})
    elif rating is None:
        text = (
            f"The build does not say what voltage the controller stands; it needs {full:.1f} V or more (max_voltage_v)."
        )
        yield Finding("controller-voltage-unknown", "advice", text, {"full_voltage_v": full})


def driven_back(ride: Ride) -> Iterator[Finding]:
    """Current that the wheel drives through the controller into the pack downhill, beyond what pack or controller stand."""
    moments, build = ride.moments, ride.build
    if moments.return_mps is None:
        return
    amps, volts, kmh = moments.return_a, moments.return_v, moments.return_mps * 3.6
    limits = {
        "full_voltage_v": (
            volts,
            highest_charger_v(build.pack, ride.day.ambient_c),
            "V at the pack, which is full at {:.1f} V",
        ),
        "max_voltage_v": (volts, build.controller.max_voltage_v or inf, "V at the controller, which stands {:.1f} V"),
        "max_charge_current_a": (
            amps,
            blocks_stand_a(build.pack),
            "A into the pack, which may be charged with {:.1f} A",
        ),
    }
    beyond = {name: limit for name, limit in limits.items() if limit[0] > limit[1]}
    if not beyond:
        return
    much = " and ".join(f"{found:.1f} {words.format(most)}" for found, most, words in beyond.values())
    text = (
        f"From {kmh:.0f} km/h on downhill the wheel turns the motor faster than the pack's voltage, and the controller's diodes carry its "
        f"current back, throttle closed or not: {much}. Overcharged cells vent and may burn, and the controller may fail; a protection that "
        f"opens leaves it with the motor's whole voltage. Stay below {kmh:.0f} km/h by the brakes, or fit a freewheel."
    )
    numbers = {"speed_kmh": kmh, "current_a": amps, "voltage_v": volts}
    yield Finding("driven-back-downhill", "stop", text, numbers | {name: limit[1] for name, limit in beyond.items()})


def one_current(build: Build, day: Day | None = None) -> Iterator[Finding]:
    """A label with one current: what either reading would mean, and whether the day hangs on it."""
    both = label_readings(build)
    if not both:
        return
    starts = {name: max(0.0, steepest_start_percent(each)) for name, each in both.items()}
    tops = {name: top_speed_kmh(each) for name, each in both.items()}
    meaning = build.controller.label_current_is
    means = "does not say of what" if meaning == "unknown" else f"means the {meaning} current"
    text = (
        f"The label says {build.controller.label_current_a:g} A and {means}: "
        f"as battery current, of which the motor gets up to {BATTERY_LABEL_MOTOR_FACTOR:g} times as much at low speed (common practice), "
        f"it starts on {starts['battery']:.1f} % and reaches {tops['battery']:.1f} km/h; as motor current "
        f"{starts['motor']:.1f} % and {tops['motor']:.1f} km/h."
    )
    if day is not None and day.steepest_percent > 0.0:
        text += f" {_hangs_on_it(starts, day.steepest_percent)}"
    numbers = {f"steepest_start_{name}_percent": start for name, start in starts.items()}
    numbers |= {f"top_speed_{name}_kmh": top for name, top in tops.items()}
    if meaning == "unknown":
        text += " Until a clamp meter on both leads at a slow pull tells which, it is taken as motor current."
        yield Finding("label-current-unknown", "warning", text, numbers)
    else:
        yield Finding("label-one-current", "advice", text, numbers)


def _hangs_on_it(starts: Mapping[str, float], steepest: float) -> str:
    """Whether the day's steepest climb is started on by either reading of the label."""
    good = [name for name, start in starts.items() if start >= steepest]
    if len(good) == 1:
        return f"The day hangs on it: on its steepest {steepest:.1f} % it starts only as {good[0]} current."
    return f"Either way it {'starts' if good else 'does not start'} on the day's steepest {steepest:.1f} %."


def capacitors(build: Build) -> Iterator[Finding]:
    """Pre-charge before the contactor closes."""
    figures, microfarads = precharge(build), build.controller.capacitor_uf
    if microfarads is None:
        return
    if figures is None:
        text = (
            f"The controller's {microfarads:g} µF would charge in one spark when the contactor closes and may weld "
            "it: give a pre-charge resistor (precharge_ohm)."
        )
        yield Finding("precharge-missing", "warning", text, {"capacitor_uf": microfarads})
        return
    text = (
        f"Pre-charge: {figures.peak_current_a:.2f} A and {figures.peak_power_w:.1f} W at first, 95 % in {figures.to_95_percent_s:.1f} s, "
        f"{figures.energy_j:.1f} J in the resistor; close the contactor only then. A wire-wound resistor of at least that "
        "wattage survives being left across."
    )
    yield Finding("precharge", "advice", text, asdict(figures))


def cuts_out(build: Build, day: Day) -> Iterator[Finding]:
    """A controller that switches off at the cut-off: from which charge on, and for how long."""
    if build.controller.cutoff_action != "cut-out":
        return
    speed, grade = min(6.0, day.fastest_kmh), day.steepest_percent
    answer = cut_out(build, speed, grade)
    going = f"at {speed:g} km/h on " + (f"{grade:.1f} %" if grade > 0.0 else "the level")
    if answer.trips_below == 0.0:
        text = f"The controller cuts out at {answer.cutoff_v:.1f} V; {going} it does not come to that while the pack has charge."
    else:
        back = (
            f"comes back at {answer.restart_v:.1f} V after {answer.off_s:.0f} s"
            if isfinite(answer.off_s)
            else f"does not come back by itself: the rested pack stays under {answer.restart_v:.1f} V"
        )
        text = (
            f"The controller cuts out at {answer.cutoff_v:.1f} V: {going} below {percent(answer.trips_below)} charge it switches off "
            f"without warning and {back}. The brake must hold by then."
        )
    if answer.trips_below > build.pack.reserve:
        yield Finding("cuts-out", "warning", text, asdict(answer))
    else:
        yield Finding("cuts-out-below-the-reserve", "advice", text, asdict(answer))


def cut_outs(ride: Ride) -> Iterator[Finding]:
    """How often a cut-out controller switched off in the stepped day, and where first."""
    moments, build = ride.moments, ride.build
    if moments.cut_outs == 0 or moments.cut_off_s is None:
        return
    stage = stage_at(ride, moments.cut_off_s)
    place = f" in “{stage.name}”, {moments.cut_out_place}" if stage else ""
    times = "once" if moments.cut_outs == 1 else f"{moments.cut_outs} times"
    gave_up = any(each.left and each.end_s >= moments.cut_off_s for each in ride.stages)
    text = (
        f"The controller cuts out at {build.cutoff_voltage_v:.1f} V {times}, first at {clock(moments.cut_off_s)}{place}: for "
        f"{moments.seconds_cut_out:.0f} s the throttle does nothing (back at {build.restart_voltage_v:.1f} V, after "
        f"{build.restart_delay_s:g} s at the soonest). Lights and standby go on. Have the brake in hand on a slope, and no gap "
        "in traffic that needs the motor."
    )
    numbers = {
        "cut_outs": moments.cut_outs,
        "clock_s": moments.cut_off_s,
        "seconds_cut_out": moments.seconds_cut_out,
        "cutoff_voltage_v": build.cutoff_voltage_v,
        "restart_voltage_v": build.restart_voltage_v,
    }
    if gave_up:
        yield Finding("cut-out-ends-the-ride", "stop", text, numbers)
    else:
        yield Finding("cut-out-in-the-day", "warning", text, numbers)
