"""Where the weight lies against the day's slopes: lifting wheels, grip, and what is not known of it."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.choose.candidate import Candidate
from ridesim.physics.balance import wheelie_acceleration
from ridesim.ride.machine import machine
from ridesim.ride.steady import pull_arrays, resistance_at
from ridesim.sizing.balance import STAND_TEST_PERCENT, Handling, balance, handling
from ridesim.sizing.moving import crest_percent, steepest_push_percent
from ridesim.sizing.tray import missing_mm
from ridesim.vehicle import Build
from ridesim.vehicle.ledger import centre, unplaced
from ridesim.words import Finding, InputProblem

SLIPPERY = "wet paint"
"""The worst ground that a town has: road markings and steel ramps in the rain."""


HEAVY_KG = 275.0
"""A donor of the 600 cc class weighs 190 to 200 kg, 250 to 275 with show bodywork: common practice, no source."""


def weight_findings(c: Candidate) -> Iterator[Finding]:
    """What the mass and its place say of the day's slopes, of standing, and of moving it without the motor."""
    yield from _heavy(c.build)
    yield from _moved_dead(c.build, c.ride.day.steepest_either_way_percent)
    if c.build.vehicle.wheelbase_m is None or unplaced(c.build):
        yield _not_placed(c.build)
        return
    falls = list(does_not_stand(c.build))
    yield from falls
    if falls:  # all else supposes that it stands
        return
    allowed = handling(c.build)
    yield from _on_the_slope(c, allowed)
    yield from _on_its_stand(allowed)


def _heavy(build: Build) -> Iterator[Finding]:
    """A vehicle that weighs more than such vehicles do, unless it was weighed."""
    mass = build.total_mass_kg(aboard=False)
    if build.vehicle.wheels == 2 and mass > HEAVY_KG and not build.vehicle.parts_weighed:
        text = (
            f"{mass:.0f} kg without its rider is more than a donor of the 600 cc class with show bodywork, 250 to {HEAVY_KG:.0f} kg (common "
            "practice, no source): weigh the parts, and say vehicle.parts_weighed = true."
        )
        yield Finding("heavy-build", "advice", text, {"mass_kg": mass})


def weighing_findings(build: Build) -> Iterator[Finding]:
    """What can be said without a day."""
    yield from _heavy(build)
    if build.vehicle.wheelbase_m is not None and not unplaced(build):
        yield from does_not_stand(build)
        yield from _on_its_stand(handling(build))


def does_not_stand(build: Build) -> Iterator[Finding]:
    """An axle that bears nothing on the level, with the rider or without: it tips over the other one."""
    wheelbase = build.vehicle.wheelbase_m
    for rider, who in ((True, "with its rider"), (False, "without its rider")):
        found = centre(build, rider)
        if found is None or wheelbase is None or 0.0 < found.x < wheelbase:
            continue
        x = found.x
        over, beyond, side = ("rear", -x, "behind") if x <= 0.0 else ("front", x - wheelbase, "ahead of")
        text = (
            f"On the level, {who}, it tips over its {over} axle: the centre of gravity lies {beyond:.2f} m {side} "
            "that axle. Move weight between the axles, or mend x_m of what is not there."
        )
        yield Finding("does-not-stand", "stop", text, {"beyond_m": beyond})
        return


def _moved_dead(build: Build, slope: float) -> Iterator[Finding]:
    """A day's slope up which two people do not push it, or on which it grounds."""
    two, crest = steepest_push_percent(build), crest_percent(build)
    if slope > two:
        text = (
            f"Dead, two men push it up {two:.1f} % at most, chain on (HSE L23); the day has {slope:.1f} %. A winch or more people, blocks out "
            "first; nobody below it, and a strap or a chock that holds it if they let go."
        )
        yield Finding("hard-to-push", "advice", text, {"slope_percent": slope, "pushed_percent": two})
    if crest is not None and slope > crest:
        text = (
            f"At the crest of the {slope:.1f} % slope it touches the ground between its axles: it clears a crest of {crest:.1f} % at most. A "
            "longer ramp, or boards that round the crest."
        )
        yield Finding("grounds-at-crest", "warning", text, {"slope_percent": slope, "crest_percent": crest})


def _not_placed(build: Build) -> Finding:
    missing = ["vehicle.wheelbase_m"] if build.vehicle.wheelbase_m is None else []
    missing += [f"{where}.x_m and z_m" for where in unplaced(build)]
    text = f"Axle loads, grip and tipping are not judged: {', '.join(missing)} are not stated."
    return Finding("weight-not-placed", "advice", text)


def _on_its_stand(allowed: Handling) -> Iterator[Finding]:
    """A side stand that does not hold it on the cross slope that a motorcycle's must."""
    if allowed.stand_percent is None or min(allowed.stand_percent) >= STAND_TEST_PERCENT:
        return
    over, away = allowed.stand_percent
    text = (
        f"On its side stand it falls on a cross slope of {min(over, away):.0f} %; a motorcycle's must hold {STAND_TEST_PERCENT:.0f} % either way "
        "(Dir. 2009/78/EC, from memory). A wider foot, the blocks lower, or chocks and a strap."
    )
    yield Finding("stand-falls", "warning", text, {"over_percent": over, "away_percent": away})


def _on_the_slope(c: Candidate, allowed: Handling) -> Iterator[Finding]:
    """Tipping over, a lifting front wheel, and grip on the day's steepest climb."""
    build, slope, found = c.build, c.ride.day.steepest_percent, balance(c.build)
    if slope >= allowed.flips_percent:
        text = f"On the {slope:.1f} % of the day's steepest slope it tips over backwards: it does so from {allowed.flips_percent:.0f} % on."
        yield Finding("tips-backwards", "stop", text, {"slope_percent": slope, "flips_percent": allowed.flips_percent})
        return
    lifts = wheelie_acceleration(found.x_m.value, found.z_m.value, slope / 100.0)
    mass, pull = found.mass_kg.value, float(pull_arrays(build, points=40)[1].max(initial=0.0))
    spare = (pull - resistance_at(0.0, mass, slope / 100.0, machine(build))) / mass
    if build.vehicle.driven_axle == "rear" and spare > lifts:
        text = (
            f"At full throttle from a stand on {slope:.1f} % it accelerates with {spare:.1f} m/s² and the front wheel lifts from {lifts:.1f} "
            "m/s² on: open the throttle slowly, or move weight forward."
        )
        yield Finding("front-lifts", "warning", text, {"acceleration_mps2": spare, "lifts_mps2": lifts})
    grip = allowed.grip_percent[SLIPPERY]
    if slope > grip.low:
        text = (
            f"On {SLIPPERY} the driven wheel slips from {grip.value:.0f} % ({grip.low:.0f} to {grip.high:.0f}) on; the day's steepest has "
            f"{slope:.1f} %. Grip {build.vehicle.grip.wet_paint:g}, from memory unless you state it."
        )
        numbers = {"slope_percent": slope, "grip_percent": grip.value}
        if slope > grip.value:
            yield Finding("slips-when-wet", "warning", text, numbers)
        else:
            yield Finding("may-slip-when-wet", "advice", text, numbers)


def blocks_fit(build: Build) -> Iterator[Finding]:
    """Blocks that do not fit their tray, the lights' battery beside them where its size is stated; by how much it is too small."""
    pack = build.pack
    if pack.tray_mm is None or pack.block_size_mm is None:
        return
    count, odd = pack.blocks, build.beside_blocks_mm
    what = f"{count} blocks" + (" and the lights' battery" if odd else "")
    try:
        missing = missing_mm(pack.tray_mm, pack.block_size_mm, count, pack.upright, odd_mm=odd)
    except InputProblem as problem:
        if problem.place == "count":  # too many to search: nothing is known of it
            return
        yield Finding("does-not-fit", "stop", f"{what} do not fit: {problem}")
        return
    if missing:
        ways = ", or ".join(f"{millimetres:g} mm more {axis}" for axis, millimetres in missing.items())
        text = f"{what} do not fit the tray of {' × '.join(f'{side:g}' for side in pack.tray_mm)} mm: {ways or 'no one side'} would do."
        yield Finding("does-not-fit", "stop", text, {f"missing_{axis}_mm": size for axis, size in missing.items()})
