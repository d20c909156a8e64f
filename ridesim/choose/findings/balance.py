"""Where the weight lies against the day's slopes: lifting wheels, grip, and what is not known of it."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.choose.candidate import Candidate
from ridesim.physics.balance import wheelie_acceleration
from ridesim.ride.machine import machine
from ridesim.ride.steady import pull_arrays, resistance_at
from ridesim.sizing.balance import GRIP, balance, handling, unplaced
from ridesim.sizing.tray import missing_mm
from ridesim.vehicle import Pack
from ridesim.words import Finding, InputProblem

SLIPPERY = "wet paint"
"""The worst ground that a town has: road markings and steel ramps in the rain."""


def weight_findings(c: Candidate) -> Iterator[Finding]:
    """What the place of the weight says of the day's steepest slope."""
    build, slope = c.build, c.ride.day.steepest_percent
    if build.vehicle.wheelbase_m is None or unplaced(build):
        missing = ["vehicle.wheelbase_m"] if build.vehicle.wheelbase_m is None else []
        missing += [f"{where}.x_m and z_m" for where in unplaced(build)]
        text = f"Axle loads, grip and tipping are not judged: {', '.join(missing)} are not stated."
        yield Finding("weight-not-placed", "advice", text)
        return
    allowed, found = handling(build), balance(build)
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
            f"{slope:.1f} %. Grip {GRIP[SLIPPERY][0]:g}, from memory."
        )
        numbers = {"slope_percent": slope, "grip_percent": grip.value}
        if slope > grip.value:
            yield Finding("slips-when-wet", "warning", text, numbers)
        else:
            yield Finding("may-slip-when-wet", "advice", text, numbers)


def blocks_fit(pack: Pack) -> Iterator[Finding]:
    """Blocks that do not fit their tray, and by how much it is too small."""
    if pack.tray_mm is None or pack.block_size_mm is None:
        return
    count = pack.blocks_in_series * pack.strings_in_parallel
    try:
        missing = missing_mm(
            pack.tray_mm, pack.block_size_mm, count, "upright" if "flooded" in pack.chemistry else "any-side-but-top"
        )
    except InputProblem as problem:
        if problem.place == "count":  # too many to search: nothing is known of it
            return
        yield Finding("does-not-fit", "stop", f"{count} blocks do not fit: {problem}")
        return
    if missing:
        ways = ", or ".join(f"{millimetres:g} mm more {axis}" for axis, millimetres in missing.items())
        text = f"{count} blocks do not fit the tray of {' × '.join(f'{side:g}' for side in pack.tray_mm)} mm: {ways or 'no one side'} would do."
        yield Finding("does-not-fit", "stop", text, {f"missing_{axis}_mm": size for axis, size in missing.items()})
