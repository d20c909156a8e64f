"""Brakes: holding the day's slopes, stopping from its speeds, stopping downhill."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.day import Activity, Day
from ridesim.physics.road import GRAVITY, grade_force, rolling_force, slope_sine
from ridesim.vehicle import Build
from ridesim.words import Finding

REACTION_S = 1.0
"""A rider's reaction before the brake bites: common practice, no source. [s]"""
DRUM_KG, STEEL_J_PER_KG_K, WARM_K = 3.0, 490.0, 30.0
"""A motorcycle's drum, the heat capacity of steel, both from memory; and a rise that is worth telling."""


def brakes(build: Build, day: Day, top_kmh: float) -> Iterator[Finding]:
    """What the brakes named in the build do for the day."""
    holds = [brake.holds_percent for brake in build.vehicle.brakes if brake.holds_percent is not None]
    slows = [brake.deceleration_mps2 for brake in build.vehicle.brakes if brake.deceleration_mps2 is not None]
    yield from _holding(day, max(holds, default=None))
    yield from _warmed(build, day)
    speed = min(day.fastest_kmh, top_kmh) / 3.6
    if speed > 0.0:
        best = max(slows, default=None)
        yield from _downhill(day, best)
        yield from _stopping(day, speed, best)


def _warmed(build: Build, day: Day) -> Iterator[Finding]:
    """The descent that puts most heat into the brakes: what the slope gives less what rolling takes, the air apart."""
    descents = [(_descent_j(build, activity), activity.name) for activity in day.activity if activity.route is not None]
    energy, name = max(descents, default=(0.0, ""))
    rise = energy / (DRUM_KG * STEEL_J_PER_KG_K)
    if rise < WARM_K:
        return
    text = (
        f"The longest way down of “{name}” puts {energy / 1000.0:.0f} kJ into the brakes: it would warm a drum of {DRUM_KG:g} kg of steel by "
        f"{rise:.0f} K (0.49 kJ/kg K, from memory), less what the air takes meanwhile. Use both brakes, stop to let them cool, touch nothing."
    )
    yield Finding("brakes-warm", "advice", text, {"energy_j": energy, "rise_k": rise})


def _descent_j(build: Build, activity: Activity) -> float:
    """Energy that the brakes take on the longest way down of a lap, at a steady speed. [J]"""
    mass, longest, since = build.total_mass_kg(activity.aboard), 0.0, 0.0
    for leg in activity.route.legs if activity.route is not None else ():
        grade = leg.grade_percent / 100.0
        force = -grade_force(mass, grade) - rolling_force(
            mass, grade, build.vehicle.rolling_coefficient * leg.surface_factor
        )
        since = since + force * leg.length_m if force > 0.0 else 0.0
        longest = max(longest, since)
    return float(longest)


def _uncovered(what: str, best: float | None, text: str, numbers: dict[str, float]) -> Finding:
    """A brake that is too weak stops the day; one that the file does not describe has to be tried and written in."""
    if best is None:
        return Finding(f"{what}-not-stated", "warning", text, numbers)
    return Finding(f"{what}-not-covered", "stop", text, numbers)


def _holding(day: Day, best: float | None) -> Iterator[Finding]:
    steepest = day.steepest_either_way_percent
    if steepest <= 0.0 or (best is not None and best >= steepest):
        return
    known = "none is named that holds a slope" if best is None else f"the best one named holds {best:.0f} %"
    text = (
        f"The day has a slope of {steepest:.1f} % and no mechanical brake is named that holds it ({known}). The motor holds "
        "nothing when the power fails: wheel chocks, a second person or a winch, and a tried brake."
    )
    yield _uncovered("hold", best, text, {"slope_percent": steepest, "holds_percent": best or 0.0})


def _stopping(day: Day, speed: float, best: float | None) -> Iterator[Finding]:
    """Stopping distance on the level: v t + v²/(2 a) with a second to react."""
    needed = day.braking_mps2
    distance = speed * REACTION_S + speed * speed / (2.0 * needed)
    numbers = {"speed_kmh": speed * 3.6, "stopping_distance_m": distance}
    if best is None or best < needed:
        known = "no brake's deceleration is stated" if best is None else f"the best one named gives {best:.1f} m/s²"
        text = f"From {speed * 3.6:.0f} km/h the day's stops need {needed:.1f} m/s² and {distance:.0f} m with a second to react; {known}."
        yield _uncovered("stopping", best, text, numbers)
    else:
        text = (
            f"From {speed * 3.6:.0f} km/h it stops in {distance:.0f} m with a second to react and {needed:.1f} m/s²; try the brakes "
            "loaded before the first ride."
        )
        yield Finding("stopping-distance", "advice", text, numbers)


def _downhill(day: Day, best: float | None) -> Iterator[Finding]:
    """Downhill the brake must hold the slope's pull and slow the vehicle besides."""
    falls = [
        (day.braking_mps2 + GRAVITY * slope_sine(-leg.grade_percent / 100.0), -leg.grade_percent, activity.name)
        for activity in day.activity
        for leg in (activity.route.legs if activity.route is not None else ())
        if leg.grade_percent < 0.0
    ]
    needed, slope, name = max(falls, key=lambda fall: fall[0], default=(0.0, 0.0, ""))
    if best is None or best >= needed:
        return
    text = (
        f"Down the {slope:.1f} % of “{name}” a stop needs {needed:.1f} m/s² from the brakes, the slope's own pull included; the best one "
        f"named gives {best:.1f}. Walk it down on a rope or a winch, or fit and try a stronger brake."
    )
    numbers = {"needed_mps2": needed, "deceleration_mps2": best, "slope_percent": slope}
    yield Finding("downhill-stop-not-covered", "stop", text, numbers)
