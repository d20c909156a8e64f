"""What to watch about motor and controller: voltage above the nameplate, magnets, label with one current, reversal, pre-charge."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf, isfinite

from ridesim.day import Day
from ridesim.day.day import clock
from ridesim.physics.controller import reversal_current
from ridesim.physics.magnets import FERRITE_COERCIVITY_PER_K, NEODYMIUM_COERCIVITY_PER_K, demagnetising_current
from ridesim.physics.motor_heat import COOLING_BAND
from ridesim.ride.machine import rated_point, thermal_values
from ridesim.ride.result import Ride
from ridesim.ride.steady import steepest_start_percent, time_to_speed, top_speed_kmh
from ridesim.ride.steady.cut_out import cut_out, soft_start_hold_s
from ridesim.ride.steady.duty import continuous_current_a, stall_seconds
from ridesim.ride.steady.motor import (
    MotorNumbers,
    at_voltage,
    label_readings,
    no_load_speed,
    precharge,
    reverse_pull_n,
    reverse_top_speed_kmh,
)  # fmt: skip
from ridesim.vehicle import Build
from ridesim.vehicle.motor_curve import COARSE
from ridesim.words import Finding

ABOVE_NAMEPLATE = 1.1
"""Pack over rated voltage from which it is worth saying: common practice, no source."""
COMMUTATION_RISK = 1.5
"""Pack over rated voltage from which brushes may spark and bandages fail: common practice, no source."""
STRONG_FACTOR = 6.0
"""Times the rated current at which a motor's magnets are put at risk where nothing better is known (from memory)."""

QUICK_STALL_S = 15.0
"""A stall that cooks the winding sooner than this is worth saying beforehand: common practice, no source. [s]"""


def motor_findings(build: Build, day: Day) -> Iterator[Finding]:
    """All findings of this module about one build on one day."""
    yield from coarse_curve(build)
    yield from guessed_heat(build)
    yield from above_nameplate(build)
    yield from magnets(build, day.ambient_c)
    yield from one_current(build)
    yield from reversal(build)
    yield from capacitors(build)
    yield from hot_stall(build, day.ambient_c)
    yield from cuts_out(build, day)
    yield from soft_start(build, day)


def coarse_curve(build: Build) -> Iterator[Finding]:
    """A data sheet's curve whose rows the fitted motor misses."""
    missed = build.motor.curve_miss
    if missed is None or missed[1] <= COARSE:
        return
    row, share = missed
    yield Finding(
        "coarse-curve", "warning",
        f"The motor fitted to the curve misses its row {row} by {share:.0%}: speeds, pulls and heat are no better than that. Look for a "
        "slip in this row, rows at another voltage or a warm motor; a bench test settles it.",
        {"curve_row": float(row), "misfit_share": share},
    )  # fmt: skip


def guessed_heat(build: Build) -> Iterator[Finding]:
    """Cooling guessed from the motor's mass: how wide that is, told as a range of the current it bears for hours."""
    motor = build.motor
    if not motor.cools_by_mass:
        return
    to_case, to_air = thermal_values(motor)[2:]
    amps = {}
    for name, times in (("low", COOLING_BAND), ("high", 1.0 / COOLING_BAND)):
        resistances = {"winding_to_case_k_per_w": to_case * times, "case_to_air_k_per_w": to_air * times}
        guessed = {key: value for key, value in resistances.items() if getattr(motor, key) is None}
        amps[name] = continuous_current_a(motor.model_copy(update=guessed))
    yield Finding(
        "heat-from-mass", "warning",
        f"How well the motor cools is guessed from its {motor.mass_kg:g} kg alone and may be half or twice as good: held still in 40 °C air "
        f"it would bear anything from {amps['low']:.0f} to {amps['high']:.0f} A in the winding for hours, and every temperature here is as wide. "
        "Measure it with a warm-up on the bench, or give the nameplate; until then feel the case often, with care, and stop while a hand "
        "can still stay on it.",
        {"continuous_low_a": amps["low"], "continuous_high_a": amps["high"]},
    )  # fmt: skip


def above_nameplate(build: Build) -> Iterator[Finding]:
    """What running the motor above its nameplate voltage does."""
    motor, pack = build.motor, build.pack.nominal_voltage_v
    if motor.rated_voltage_v is None or pack <= ABOVE_NAMEPLATE * motor.rated_voltage_v:
        return
    ratio = pack / motor.rated_voltage_v
    numbers = {"pack_voltage_v": pack, "rated_voltage_v": motor.rated_voltage_v, "ratio": ratio}
    if motor.kind == "series-wound":
        faster = (
            " Under the same pull it turns faster in about that proportion, and without load faster than it can stand; the current for a "
            "pull, and the heat that makes, stay as they are, its own drag and the commutator's work grow with speed."
        )
    else:
        own = MotorNumbers.of(motor)
        rated, now = (no_load_speed(own, volts) for volts in (motor.rated_voltage_v, pack))
        numbers["speed_ratio"] = now / rated if rated > 0.0 else inf
        heat = (motor.friction_torque_nm * now + motor.viscous_nm_per_rad_s * now**2) / max(
            1e-9, motor.friction_torque_nm * rated + motor.viscous_nm_per_rad_s * rated**2
        )
        numbers["drag_heat_ratio"] = heat
        faster = (
            f" Unloaded it turns {numbers['speed_ratio']:.2f} times as fast, and its own drag makes {heat:.1f} times the heat; "
            "the current for a pull, and the heat that makes, stay as they are."
        )
    strong = ratio >= COMMUTATION_RISK - 1e-9
    yield Finding(
        "above-nameplate-voltage", "warning" if strong else "advice",
        f"The {pack:g} V pack is {ratio:.2f} times the motor's {motor.rated_voltage_v:g} V nameplate.{faster}"
        f"{_above_caution(motor.kind == 'electronically-commutated', strong)}",
        numbers,
    )  # fmt: skip


def _above_caution(brushless: bool, strong: bool) -> str:
    """What to look at above the nameplate voltage."""
    if strong:
        what = (
            "magnets and windings may come loose, iron losses heat it"
            if brushless
            else "brushes may spark and wear, windings may fly out"
        )
        look = "listen" if brushless else "listen and look at the brushes (covers on)"
        return (
            f" From {COMMUTATION_RISK:g} times the nameplate on {what}, bearings and gearbox run above their speed. Ask the maker; "
            f"{look} before anybody rides."
        )
    if brushless:
        return " Feel motor and controller after the first runs: more heat than before says it is too much."
    return " Look at the brushes after the first runs: blue sparks or a black commutator say it is too much."


def safe_magnet_current_a(build: Build, celsius: float) -> tuple[float, str]:
    """Current from which the magnets may be weakened at a temperature, and where the number comes from."""
    motor = build.motor
    per_k = FERRITE_COERCIVITY_PER_K if motor.magnet == "ferrite" else NEODYMIUM_COERCIVITY_PER_K
    if motor.demagnetising_current_a is not None:
        return demagnetising_current(motor.demagnetising_current_a, per_k, celsius), "the motor's own figure"
    known = []
    if motor.rated_voltage_v is not None:
        known.append((motor.rated_voltage_v - motor.brush_drop_v) / motor.resistance_ohm)
    rated = rated_point(motor)
    if rated is not None:
        known.append(STRONG_FACTOR * rated.current_a)
    if not known:
        return inf, "unknown"
    return demagnetising_current(min(known), per_k, celsius), "a rule of thumb, no source"


def magnets(build: Build, ambient_c: float) -> Iterator[Finding]:
    """Ferrite is at risk cold and over-current, neodymium hot."""
    motor = build.motor
    if motor.kind == "series-wound":
        return
    ferrite = motor.magnet == "ferrite"
    coldest = ambient_c if ferrite else motor.winding_limit_c
    safe, source = safe_magnet_current_a(build, coldest)
    limit = build.controller.max_motor_current_a
    if limit > safe and isfinite(safe):
        when = f"with cold magnets ({coldest:.0f} °C)" if ferrite else f"with hot magnets ({coldest:.0f} °C)"
        yield Finding(
            "magnets-at-risk", "warning",
            f"The controller lets {limit:.0f} A into the motor; from about {safe:.0f} A {when} its {motor.magnet} magnets may be "
            f"weakened for good ({source}): less torque for a current, more speed, for ever. Set the motor-current limit lower, and go "
            + ("gently while it is cold." if ferrite else "gently when it is hot."),
            {"max_motor_current_a": limit, "safe_current_a": safe, "magnet_c": coldest},
        )  # fmt: skip


def one_current(build: Build) -> Iterator[Finding]:
    """A label with one current: what either reading would mean."""
    both = label_readings(build)
    if not both:
        return
    starts = {name: max(0.0, steepest_start_percent(each)) for name, each in both.items()}
    tops = {name: top_speed_kmh(each) for name, each in both.items()}
    meaning = build.controller.label_current_is
    means = "does not say of what" if meaning == "unknown" else f"means the {meaning} current"
    yield Finding(
        "label-one-current", "warning" if meaning == "unknown" else "advice",
        f"The label says {build.controller.label_current_a:g} A and {means}: "
        f"as battery current it starts on {starts['battery']:.1f} % and reaches {tops['battery']:.1f} km/h, as motor current "
        f"{starts['motor']:.1f} % and {tops['motor']:.1f} km/h."
        + (" Reckoned with is the second, until a clamp meter on both leads at a slow pull tells." if meaning == "unknown" else ""),
        {
            "steepest_start_battery_percent": starts["battery"], "steepest_start_motor_percent": starts["motor"],
            "top_speed_battery_kmh": tops["battery"], "top_speed_motor_kmh": tops["motor"],
        },
    )  # fmt: skip


def reversal(build: Build) -> Iterator[Finding]:
    """Reverse at its reduced duty: how fast and how strong; and what flows when reversed at speed."""
    motor, share = build.motor, build.controller.reverse_duty
    if share is None:
        return
    if motor.kind == "series-wound":
        yield Finding(
            "reversal", "warning",
            "A series-wound motor turns backwards only with its field's leads changed over against the armature's, by a contactor that "
            "is interlocked to act at standstill and without current; reverse_duty alone does nothing, and no reverse is reckoned. "
            "Changed over while it turns, it brakes like a short circuit: it burns contacts and commutator and jerks the chain.",
        )  # fmt: skip
        return
    speed, pull = reverse_top_speed_kmh(build), reverse_pull_n(build)
    volts = build.pack.full_voltage_v
    emf = float(motor.torque_constant_nm_per_a or 0.0) * no_load_speed(MotorNumbers.of(motor), volts)
    amps = reversal_current(volts, emf, motor.resistance_ohm + build.controller.on_resistance_ohm)
    harm = (
        "overloads the controller's switches" if motor.kind == "electronically-commutated" else "burns the commutator"
    )
    yield Finding(
        "reversal", "advice",
        f"In reverse, at {share:.0%} of the duty, it reaches {speed:.1f} km/h on the level and pulls up to {pull:.0f} N from a stand. "
        "Reverse only from a stand, with an interlock and somebody looking behind: switched over at full speed up to "
        f"{amps:.0f} A could flow, nearly twice the held current. It {harm}, weakens magnets and jerks the chain.",
        {"reversal_current_a": amps, "reverse_top_speed_kmh": speed, "reverse_pull_n": pull},
    )  # fmt: skip


def capacitors(build: Build) -> Iterator[Finding]:
    """Pre-charge before the contactor closes."""
    figures = precharge(build)
    if figures is None:
        if build.controller.capacitor_uf is not None:
            yield Finding(
                "precharge-missing", "warning",
                f"The controller's {build.controller.capacitor_uf:g} µF would charge in one spark when the contactor closes and may weld "
                "it: give a pre-charge resistor (precharge_ohm).",
                {"capacitor_uf": build.controller.capacitor_uf},
            )  # fmt: skip
        return
    yield Finding(
        "precharge", "advice",
        f"Pre-charge: {figures.peak_current_a:.2f} A and {figures.peak_power_w:.1f} W at first, 95 % in {figures.to_95_percent_s:.1f} s, "
        f"{figures.energy_j:.1f} J in the resistor; close the contactor only then. A wire-wound resistor of at least that "
        "wattage survives being left across.",
        {"peak_current_a": figures.peak_current_a, "to_95_percent_s": figures.to_95_percent_s, "energy_j": figures.energy_j},
    )  # fmt: skip


def hot_stall(build: Build, ambient_c: float) -> Iterator[Finding]:
    """How long the controller's limit takes to cook a held winding."""
    amps = build.controller.max_motor_current_a
    seconds = stall_seconds(build.motor, amps, ambient_c)
    if seconds < QUICK_STALL_S:
        sooner = (
            "the two windings that carry it, and their switches, are"
            if build.motor.kind == "electronically-commutated"
            else "the commutator burns"
        )
        yield Finding(
            "stall-seconds", "warning",
            f"Held still at the controller's {amps:g} A the winding is at its limit after {seconds:.0f} s from cold; {sooner} "
            "sooner. Off the throttle within 2 or 3 s when it does not move.",
            {"stall_s": seconds},
        )  # fmt: skip


def cuts_out(build: Build, day: Day) -> Iterator[Finding]:
    """A controller that switches off at the cut-off: from which charge on, and for how long."""
    if build.controller.cutoff_action != "cut-out":
        return
    speed, grade = min(6.0, day.fastest_kmh), day.steepest_percent
    answer = cut_out(build, speed, grade)
    where = f"at {speed:g} km/h on {grade:.1f} %" if grade > 0.0 else f"at {speed:g} km/h on the level"
    if answer.trips_below == 0.0:
        text = f"The controller cuts out at {answer.cutoff_v:.1f} V; {where} it does not come to that while the pack has charge."
    else:
        back = (
            f"comes back at {answer.restart_v:.1f} V after {answer.off_s:.0f} s"
            if isfinite(answer.off_s)
            else f"does not come back by itself: the rested pack stays under {answer.restart_v:.1f} V"
        )
        text = (
            f"The controller cuts out at {answer.cutoff_v:.1f} V: {where} below {answer.trips_below:.0%} charge it switches off "
            f"without warning and {back}. The brake must hold by then."
        )
    yield Finding(
        "cuts-out", "warning" if answer.trips_below > build.pack.reserve else "advice", text,
        {
            "cutoff_voltage_v": answer.cutoff_v, "restart_voltage_v": answer.restart_v,
            "trips_below": answer.trips_below, "off_s": answer.off_s,
        },
    )  # fmt: skip


def cut_outs(ride: Ride) -> Iterator[Finding]:
    """How often a cut-out controller switched off in the stepped day, and where first."""
    moments, build = ride.moments, ride.build
    if moments.cut_outs == 0 or moments.cut_off_s is None:
        return
    stage = next((s for s in ride.stages if s.start_s <= moments.cut_off_s <= s.end_s), None)
    where = f" in “{stage.name}”, {moments.cut_out_place}" if stage else ""
    times = "once" if moments.cut_outs == 1 else f"{moments.cut_outs} times"
    gave_up = any(s.left and s.end_s >= (moments.cut_off_s or 0.0) for s in ride.stages)
    yield Finding(
        "cut-out-in-the-day", "stop" if gave_up else "warning",
        f"The controller cuts out at {build.cutoff_voltage_v:.1f} V {times}, first at {clock(moments.cut_off_s)}{where}: for "
        f"{moments.seconds_cut_out:.0f} s the throttle does nothing (back at {build.restart_voltage_v:.1f} V, after "
        f"{build.restart_delay_s:g} s at the soonest). Lights and standby go on. Have the brake in hand on a slope, and no gap "
        "in traffic that needs the motor.",
        {
            "cut_outs": moments.cut_outs, "clock_s": moments.cut_off_s, "seconds_cut_out": moments.seconds_cut_out,
            "cutoff_voltage_v": build.cutoff_voltage_v, "restart_voltage_v": build.restart_voltage_v,
        },
    )  # fmt: skip


def soft_start(build: Build, day: Day) -> Iterator[Finding]:
    """A soft start: how much longer a launch takes; on the day's steepest climb, how long the brake must hold."""
    ramp, grade = build.controller.ramp_s, day.steepest_percent
    if ramp <= 0.0:
        return
    speed = min(6.0, day.fastest_kmh)
    if speed > 0.0:
        softly = time_to_speed(build, speed).time_s
        hard = build.model_copy(update={"controller": build.controller.model_copy(update={"ramp_s": 0.0})})
        at_once = time_to_speed(hard, speed).time_s
        if isfinite(softly):
            yield Finding(
                "soft-start", "advice",
                f"The {ramp:g} s soft start takes {softly:.1f} s to {speed:g} km/h on the level at full throttle instead of "
                f"{at_once:.1f} s.",
                {"ramp_s": ramp, "soft_start_s": softly, "without_s": at_once},
            )  # fmt: skip
    if grade <= 0.0:
        return
    hold = soft_start_hold_s(build, grade)
    if isfinite(hold):
        yield Finding(
            "soft-start-hold", "advice",
            f"Starting on {grade:.1f} %: with the {ramp:g} s soft start the motor holds the vehicle only {hold:.1f} s after the throttle "
            "opens. Keep the brake on until it pulls, or it rolls back.",
            {"hold_s": hold, "grade_percent": grade},
        )  # fmt: skip


def other_voltages(build: Build, voltages: tuple[float, ...] = (24.0, 36.0, 48.0)) -> dict[float, float]:
    """Top speed of the same vehicle and motor on other packs. [km/h by V]"""
    return {volts: top_speed_kmh(at_voltage(build, volts)) for volts in voltages}
