"""The motor: how far its curve is to be trusted, voltage above the nameplate, magnets, running away without load."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf, isfinite

from ridesim.physics.motor import FERRITE_COERCIVITY_PER_K, NEODYMIUM_COERCIVITY_PER_K, demagnetising_current
from ridesim.ride.steady.motor import no_load_speed
from ridesim.vehicle import Build
from ridesim.vehicle.motor_curve import COARSE
from ridesim.vehicle.motor_heat import rated_point
from ridesim.words import Finding, percent

ABOVE_NAMEPLATE = 1.1
"""Pack over rated voltage from which it is worth saying: common practice, no source."""
COMMUTATION_RISK = 1.5
"""Pack over rated voltage from which brushes may spark and bandages fail: common practice, no source."""
STRONG_FACTOR = 6.0
"""Times the rated current at which a motor's magnets are put at risk where nothing better is known (from memory)."""


def runaway(build: Build) -> Iterator[Finding]:
    """A series-wound motor without load."""
    if build.motor.kind != "series-wound":
        return
    what = f"the {build.drive.chain} chain" if build.drive.chain else "the chain"
    text = (
        f"A series-wound motor has no top speed without load: if {what} breaks or comes off under power it can fly apart. "
        "Never run it unloaded; guard the chain."
    )
    yield Finding("series-runaway", "warning", text, {"no_load_speed": inf})


def coarse_curve(build: Build) -> Iterator[Finding]:
    """A data sheet's curve whose rows the fitted motor misses."""
    fit = build.motor.curve_fit
    if fit is None or fit.misfit_share <= COARSE:
        return
    text = (
        f"The motor fitted to the curve misses its row {fit.worst_row} by {percent(fit.misfit_share)}: speeds, pulls and heat are no better than "
        "that. Look for a slip in this row, rows at another voltage or a warm motor; a bench test settles it."
    )
    yield Finding("coarse-curve", "warning", text, {"curve_row": fit.worst_row, "misfit_share": fit.misfit_share})


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
        rated, now = (no_load_speed(motor, volts) for volts in (motor.rated_voltage_v, pack))
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
    text = (
        f"The {pack:g} V pack is {ratio:.2f} times the motor's {motor.rated_voltage_v:g} V nameplate.{faster}"
        f"{_above_caution(motor.kind == 'electronically-commutated', strong)}"
    )
    if strong:
        yield Finding("far-above-nameplate-voltage", "warning", text, numbers)
    else:
        yield Finding("above-nameplate-voltage", "advice", text, numbers)


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


def _safe_magnet_current_a(build: Build, celsius: float) -> tuple[float, str]:
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
    safe, source = _safe_magnet_current_a(build, coldest)
    limit = build.controller.max_motor_current_a
    if limit > safe and isfinite(safe):
        when = f"with cold magnets ({coldest:.0f} °C)" if ferrite else f"with hot magnets ({coldest:.0f} °C)"
        text = (
            f"The controller lets {limit:.0f} A into the motor; from about {safe:.0f} A {when} its {motor.magnet} magnets may be "
            f"weakened for good ({source}): less torque for a current, more speed, for ever. Set the motor-current limit lower, and go "
            + ("gently while it is cold." if ferrite else "gently when it is hot.")
        )
        numbers = {"max_motor_current_a": limit, "safe_current_a": safe, "magnet_c": coldest}
        yield Finding("magnets-at-risk", "warning", text, numbers)
