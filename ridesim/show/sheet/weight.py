"""Weight on the build sheet: the weigh-in, what the place of the weight allows, moving it dead, what must hold."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.show.units import System
from ridesim.show.weigh.inputs import LEAN_DEGREES, held_n, ways_in_tray
from ridesim.show.weigh.tables import people
from ridesim.sizing.balance import balance, handling
from ridesim.sizing.fastening import HOLDS, plate_if_known, restraint_n, strap_n
from ridesim.sizing.moving import crest_percent, lifters, push, steepest_push_percent
from ridesim.vehicle import Build
from ridesim.vehicle.ledger import entries, unplaced

SLIPPERY = ("wet paint", "wet grass")
"""Grounds on which the sheet tells the grip."""


def weighed_lines(build: Build, system: System) -> Iterator[tuple[str, str, str, str]]:
    """The weigh-in: every item, its mass, its place, and the sums with the rider, without, and of the donor."""

    def line(item: str, kg: float, x_m: float | None = None, z_m: float | None = None) -> tuple[str, str, str, str]:
        x, z = ("" if each is None else f"{each:.2f} m" for each in (x_m, z_m))
        return item, f"{system.value(kg, 'kg'):.1f} {system.label('kg')}", x, z

    for each in entries(build):
        yield line(each.item + (f", {each.times} blocks" if each.times > 1 else ""), each.mass_kg, each.x_m, each.z_m)
    if not _placed(build):
        yield line("together", build.total_mass_kg())
        return
    sums = {"together": (True, False), "without its rider": (False, False)}
    if any(item.removed for item in build.vehicle.mass) and not unplaced(build, False, donor=True):
        sums["the donor, before"] = (False, True)
    for what, (rider, donor) in sums.items():
        found = balance(build, rider, donor)
        front, rear = (f"{system.value(axle.value, 'kg'):.1f}" for axle in (found.front_kg, found.rear_kg))
        yield line(what, found.mass_kg.value, found.x_m.value, found.z_m.value)
        for axle, kg in (("front", front), ("rear", rear)):
            yield f"on the {axle} axle", f"{kg} {system.label('kg')}", "", ""


def allowed_lines(build: Build, system: System) -> Iterator[tuple[str, str]]:
    """What the place of the weight allows; nothing where that is not known."""
    if not _placed(build):
        return
    allowed = handling(build)
    yield "tips over backwards, standing on", f"{allowed.flips_percent:.0f} %"
    yield "front wheel lifts, on the level from", f"{allowed.wheelie_mps2:.1f} m/s²"
    for ground in SLIPPERY:
        grip = allowed.grip_percent[ground]
        yield f"grips on {ground} up to", f"{grip.value:.0f} % ({grip.low:.0f} to {grip.high:.0f})"
    if allowed.tips_percent is not None:
        yield "tips sideways on a cross slope of", f"{allowed.tips_percent:.0f} %"
    if (bar := held_n(build)) is not None:
        yield f"held at the bar at {LEAN_DEGREES:g}° of lean with", system.text(bar, "n", 0)
    if allowed.lost_degrees is not None:
        yield "cannot be held at the bar beyond", f"{allowed.lost_degrees:.0f}°"
    if allowed.stand_percent is not None:
        over, away = allowed.stand_percent
        yield "falls over its side stand on", f"{over:.0f} %"
        yield "falls away from its side stand on", f"{away:.0f} %"


def moved_lines(build: Build, system: System) -> Iterator[tuple[str, str]]:
    """Pushing and lifting it without the motor, the straps that hold it on the truck, the tray, what holds the motor."""
    yield "two men push it up, chain on (HSE L23)", f"{steepest_push_percent(build):.0f} %"
    yield "a winch up 1 in 4, on the rope", system.text(push(build, 25.0).start_n, "n", 0)
    crest = crest_percent(build)
    if crest is not None:
        yield "clears the crest of a ramp of", f"{crest:.0f} %"
    block_kg = build.pack.mass_kg / build.pack.blocks
    men, women = lifters(block_kg)
    lifting = people(men, women)
    if men == women:
        lifting += " person" if men == 1 else " people"
    yield f"a block of {system.text(block_kg, 'kg', 1)} is lifted by (HSE L23)", lifting
    ways = ways_in_tray(build)
    if ways:
        yield "blocks in their tray, lowest way: centre up", f"{ways[0].centre_mm:.0f} mm"
    yield "each of two straps forward, at 45°", system.text(strap_n(build), "n", 0)
    yield "blocks held forward on the truck", system.text(restraint_n(build.pack.mass_kg)["forward"], "n", 0)
    plate = plate_if_known(build)
    if plate is not None:
        yield f"motor's plate holds ({HOLDS:g} at least)", f"{plate.holds:.1f} times"


def _placed(build: Build) -> bool:
    return build.vehicle.wheelbase_m is not None and not unplaced(build)
