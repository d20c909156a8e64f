"""The mass ledger: everything that weighs, where it is, and how sure its mass is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from ridesim.words import Uncertain

if TYPE_CHECKING:
    from ridesim.vehicle.build import Build


class Entry(NamedTuple):
    """What weighs, likely values alone."""

    item: str
    mass_kg: float
    x_m: float | None
    y_m: float
    z_m: float | None
    where: str  # section of the build that says so
    key: str  # of its mass
    times: int = 1  # how often that mass counts


@dataclass(frozen=True, slots=True)
class Load:
    """An entry of the mass ledger.

    Attributes
    ----------
    item : str
    mass_kg : Uncertain
    x_m, z_m : float or None
        Its centre forward of the rear axle, and above ground.
    y_m : float
        And to the left of the vehicle's middle.
    where : str
        Section of the build that says so.
    """

    item: str
    mass_kg: Uncertain
    x_m: float | None
    y_m: float
    z_m: float | None
    where: str


class Centre(NamedTuple):
    """Mass and centre of gravity. [kg, m, m, m]"""

    mass: float
    x: float
    y: float
    z: float


def entries(build: Build, rider: bool = True, donor: bool = False) -> Iterator[Entry]:
    """Everything that weighs: the weigh-in without what is taken off, motor, controller, pack, the lights' battery, the rider.

    ``donor``: as it was, with what is taken off and without what drives it now.
    """
    for number, item in enumerate(build.vehicle.mass, start=1):
        if donor or not item.removed:
            place = f"vehicle.mass[{number}]"
            yield Entry(item.item, item.mass_kg, item.x_m, item.y_m, item.z_m, place, f"{place}.mass_kg")
    if not donor:
        yield from _drive(build)
    if rider:
        yield Entry("rider", build.rider.mass_kg, build.rider.x_m, 0.0, build.rider.z_m, "rider", "rider.mass_kg")


def _drive(build: Build) -> Iterator[Entry]:
    for part, name in ((build.motor, "motor"), (build.controller, "controller")):
        yield Entry(name, part.mass_kg, part.x_m, 0.0, part.z_m, name, f"{name}.mass_kg")
    pack, key = build.pack, "pack.block_mass_kg"
    for number, at in enumerate(pack.place, start=1):
        yield Entry(f"block {number}", pack.mass_kg / pack.blocks, at.x_m, at.y_m, at.z_m, f"pack.place[{number}]", key)
    if not pack.place:
        yield Entry("pack", pack.mass_kg, pack.x_m, 0.0, pack.z_m, "pack", key, pack.blocks)
    lights = build.lighting
    if lights is not None and lights.own_battery_mass_kg > 0.0:
        mass = lights.battery_mass_kg
        yield Entry("lighting battery", mass, lights.x_m, 0.0, lights.z_m, "lighting", "lighting.battery_mass_kg")


def ledger(build: Build, rider: bool = True, donor: bool = False) -> tuple[Load, ...]:
    """The same, each mass with what its width leaves open."""
    widths = build.widths

    def mass(entry: Entry) -> Uncertain:
        width = widths.get(entry.key)
        if width is None:
            return Uncertain.over([entry.mass_kg])
        return Uncertain(entry.mass_kg, entry.times * width.low, entry.times * width.high)

    return tuple(Load(e.item, mass(e), e.x_m, e.y_m, e.z_m, e.where) for e in entries(build, rider, donor))


def unplaced(build: Build, rider: bool = True, donor: bool = False) -> list[str]:
    """What has a mass and no place: sections of the build where x_m or z_m is missing."""
    return [e.where for e in entries(build, rider, donor) if e.mass_kg > 0.0 and (e.x_m is None or e.z_m is None)]


def centre(build: Build, rider: bool = True) -> Centre | None:
    """Likely mass and centre of gravity; None where something that weighs has no place."""
    mass = along = sideways = upward = 0.0
    for e in entries(build, rider):
        if e.mass_kg > 0.0:
            if e.x_m is None or e.z_m is None:
                return None
            mass, along = mass + e.mass_kg, along + e.mass_kg * e.x_m
            sideways, upward = sideways + e.mass_kg * e.y_m, upward + e.mass_kg * e.z_m
    return Centre(mass, along / mass, sideways / mass, upward / mass)
