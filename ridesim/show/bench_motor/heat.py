"""How long may the motor do it, and what the controller's label means: tables for the bench notebook."""

from __future__ import annotations

from html import escape
from math import isfinite
from pathlib import Path

from ridesim.bench.logs import load_log
from ridesim.bench.warm_up import KEYS, identify_warm_up
from ridesim.bench.warm_up_log import WarmUpLog
from ridesim.choose.findings.controller import capacitors, one_current
from ridesim.choose.findings.direction import reversal
from ridesim.choose.findings.heat import guessed_heat
from ridesim.choose.findings.motor import above_nameplate, magnets
from ridesim.ride.steady.duty import duties, stall_seconds, time_to_limit_s
from ridesim.show.bench_motor.plan import Still
from ridesim.show.bench_motor.tables import findings_list, html_table
from ridesim.show.units import SYSTEMS
from ridesim.vehicle import Build, load_build
from ridesim.words import Finding, split_unit, symbol

WARM_UP_CAUTION = (
    "Before a warm-up: clamp the motor to something heavy and guard shaft and brake. The brake takes all the power and gets hot enough to "
    "burn skin and rope; keep what burns away from it, a fuse at the battery, and someone at the isolator until it is over. Smell, smoke or "
    "a brush that sparks more than before: stop at once. Read the resistance again only with the isolator off and the shaft at rest; "
    "winding, brushes and brake stay hot longer than the case shows. Local rules and trained people come first."
)
"""Common practice in our own words."""
CURRENTS_A = (15.0, 20.0, 30.0, 40.0, 60.0, 80.0)


def how_long(
    build: str | Path | Build = "heron_36v", speed_kmh: float = 10.0, ambient_c: float = 20.0, units: str = "metric"
) -> Still:
    """Duties S1, S2, S3 and the time to the winding's limit at any current, as tables.

    Parameters
    ----------
    build : str, Path or Build
        The vehicle.
    speed_kmh : float
        Road speed. [km/h]
    ambient_c : float
        Air for the times at a current; duties are for 40 °C as ratings are. [°C]
    units : {"metric", "imperial"}
        In which all that is read.
    """
    system = SYSTEMS[units]
    built = build if isinstance(build, Build) else load_build(build)
    motor, control = built.motor, built.controller
    lines = [
        (each.code, each.words, f"{each.current_a:.0f}", f"{system.value(each.pull_n, 'n'):.0f}")
        for each in duties(built, speed_kmh)
    ]
    omega = speed_kmh / 3.6 * built.drive.ratio / built.vehicle.rolling_radius_m
    limit = control.max_motor_current_a
    amps = sorted({*(a for a in CURRENTS_A if a < limit), limit})
    times = [
        (f"{a:g}", _span(time_to_limit_s(motor, a, omega, ambient_c)), _span(stall_seconds(motor, a, ambient_c)))
        for a in amps
    ]
    if motor.has_measured_heat:
        measured = "given"
    elif motor.cools_by_mass:
        measured = "from the mass, a guess"
    else:
        measured = "from the nameplate (S1 at 40 °C just reaches the class limit)"
    held = (
        "two of the three windings and their switches are too hot"
        if motor.kind == "electronically-commutated"
        else "the commutator under the brushes burns"
    )
    html = (
        html_table(
            system.said(f"How long may it do this, {speed_kmh:g} km/h, 40 °C air"),
            ("duty", "in words", "motor A", f"pull {system.label('n')}"),
            lines,
        )
        + html_table(
            system.said(f"From cold, {ambient_c:g} °C air, to {motor.winding_limit_c:.0f} °C"),
            ("motor A", "turning", "held still"),
            times,
        )
        + f"<p>Heat of winding and case: {escape(system.said(measured))}. Held still, {held} long before the winding as a "
        "whole: 2 or 3 s, whatever the table says. Windings stay hot after the case has cooled.</p>"
        + findings_list(_findings(built, ambient_c), system)
    )
    return Still(html)


def _findings(build: Build, ambient_c: float) -> list[Finding]:
    return [
        *guessed_heat(build), *above_nameplate(build), *magnets(build, ambient_c), *one_current(build), *reversal(build), *capacitors(build),
    ]  # fmt: skip


def _three(value: float) -> str:
    """Three digits, never with a power of ten."""
    return f"{float(f'{value:.3g}'):g}"


def _span(seconds: float) -> str:
    if not isfinite(seconds):
        return "for ever"
    return f"{seconds:.0f} s" if seconds < 120.0 else f"{seconds / 60.0:.0f} min"


def warmed_up(log: str | Path = "heron_motor_warm_up", units: str = "metric") -> Still:
    """What a measured warm-up says about the motor's heat.

    Parameters
    ----------
    log : str or Path
        A warm-up log, or a shipped one's name.
    units : {"metric", "imperial"}
        In which temperatures are read.

    Raises
    ------
    InputProblem
        A log that is not good.
    """
    system = SYSTEMS[units]
    result = identify_warm_up(load_log(log, WarmUpLog), str(log))
    lines = [
        (f"{KEYS[key]}, {symbol(split_unit(key)[1])}", _three(each.value), f"{_three(each.low)} to {_three(each.high)}")
        for key, each in result.values.items()
    ]
    hot = result.winding_c
    said = "".join(f"<li>{escape(each)}</li>" for each in result.not_told)
    return Still(
        f"<p><b>Caution.</b> {escape(WARM_UP_CAUTION)}</p>"
        + html_table(result.log.name, ("", "value", "90 % band"), lines)
        + f"<p>The winding was at {system.text(hot.value, 'c', 0)} ({system.value(hot.low, 'c'):.0f} to {system.value(hot.high, 'c'):.0f}) when it "
        "was switched off, carried back from its own resistance.</p>"
        + (f"<ul>{said}</ul>" if said else "")
        + findings_list(result.findings, system)
    )
