"""Where the weight goes: the mass ledger, axle loads, centre of gravity, and what they allow."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import degrees, hypot, isfinite, radians

from ridesim.physics import balance as equations
from ridesim.ride.given import AnyBuild, given_build
from ridesim.vehicle import Build
from ridesim.words import InputProblem, InShort, Rows, Uncertain, need_number

GRIP = {
    "dry asphalt": (0.8, 0.6, 1.0),
    "wet asphalt": (0.5, 0.35, 0.7),
    "wet paint": (0.25, 0.15, 0.4),
    "wet grass": (0.3, 0.2, 0.4),
}
"""Coefficient of friction, likely, low and high: from memory; tyres, water and dirt change it more than anything here."""
HELD_N = 250.0
"""Sideways force at the bar that a grown person holds for a moment: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Load:
    """An entry of the mass ledger.

    Attributes
    ----------
    item : str
    mass_kg : Uncertain
    x_m, z_m : float or None
        Its centre forward of the rear axle, and above ground.
    where : str
        Section of the build that says so.
    """

    item: str
    mass_kg: Uncertain
    x_m: float | None
    z_m: float | None
    where: str


@dataclass(frozen=True, repr=False)
class Balance(InShort):
    """Mass, centre of gravity and axle loads; likely, and between which values the masses' widths leave them.

    Attributes
    ----------
    name : str
        Of the build.
    mass_kg, x_m, z_m : Uncertain
        All together; its centre forward of the rear axle, and above ground.
    front_kg, rear_kg : Uncertain
        What stands on each axle on level ground.
    wheelbase_m : float
    loads : tuple of Load
        The ledger.
    """

    name: str
    mass_kg: Uncertain
    x_m: Uncertain
    z_m: Uncertain
    front_kg: Uncertain
    rear_kg: Uncertain
    wheelbase_m: float
    loads: tuple[Load, ...]

    def _short(self) -> tuple[str, Rows]:
        def said(value: Uncertain, digits: int, unit: str) -> str:
            return f"{value.value:.{digits}f} {unit} ({value.low:.{digits}f} to {value.high:.{digits}f})"

        return f"Balance of {self.name}", [
            ("mass", said(self.mass_kg, 1, "kg")),
            ("front axle", said(self.front_kg, 1, "kg")),
            ("rear axle", said(self.rear_kg, 1, "kg")),
            ("centre ahead of the rear axle", said(self.x_m, 3, "m")),
            ("centre above ground", said(self.z_m, 3, "m")),
        ]


def ledger(build: Build, rider: bool = True) -> tuple[Load, ...]:
    """Everything that weighs: the weigh-in without what is taken off, motor, controller, pack, the lights' battery, the rider."""
    return tuple(_loads(build, rider))


def _loads(build: Build, rider: bool) -> Iterator[Load]:
    widths = build.widths

    def band(key: str, likely: float, times: int = 1) -> Uncertain:
        width = widths.get(key)
        return Uncertain.over([likely]) if width is None else Uncertain(likely, times * width.low, times * width.high)

    for number, item in enumerate(build.vehicle.mass, start=1):
        if not item.removed:
            place = f"vehicle.mass[{number}]"
            yield Load(item.item, band(f"{place}.mass_kg", item.mass_kg), item.x_m, item.z_m, place)
    for part, name in ((build.motor, "motor"), (build.controller, "controller")):
        yield Load(name, band(f"{name}.mass_kg", part.mass_kg), part.x_m, part.z_m, name)
    pack = build.pack
    blocks = pack.blocks_in_series * pack.strings_in_parallel
    yield Load("pack", band("pack.block_mass_kg", pack.mass_kg, blocks), pack.x_m, pack.z_m, "pack")
    lights = build.lighting
    if lights is not None and lights.own_battery_mass_kg > 0.0:
        yield Load(
            "lighting battery",
            band("lighting.battery_mass_kg", lights.battery_mass_kg),
            lights.x_m,
            lights.z_m,
            "lighting",
        )
    if rider:
        yield Load("rider", band("rider.mass_kg", build.rider.mass_kg), build.rider.x_m, build.rider.z_m, "rider")


def unplaced(build: Build, rider: bool = True) -> list[str]:
    """What has a mass and no place: sections of the build where x_m or z_m is missing."""
    return [
        load.where
        for load in ledger(build, rider)
        if load.mass_kg.value > 0.0 and (load.x_m is None or load.z_m is None)
    ]


def balance(build: AnyBuild, rider: bool = True) -> Balance:
    """Mass, centre of gravity and axle loads of a build.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    rider : bool
        Whether the rider is aboard.

    Returns
    -------
    Balance

    Raises
    ------
    InputProblem
        No wheelbase, or something that weighs without a place.

    Notes
    -----
    Moments of the entries. The bands are those of the masses, independent of each other: root of the sum of squares of what each moves alone
    (GUM, JCGM 100:2008, 5.1.2, with each mass at the end of its width).

    Examples
    --------
    >>> from ridesim import balance
    >>> heron = balance("heron_36v")
    >>> print(f"{heron.front_kg.value:.0f} kg in front, {heron.rear_kg.value:.0f} kg behind, {heron.z_m.value:.2f} m up")
    92 kg in front, 138 kg behind, 0.77 m up
    """
    build = given_build(build)
    wheelbase = build.vehicle.wheelbase_m
    if wheelbase is None:
        raise InputProblem(build.name, "vehicle.wheelbase_m", "nothing", "the distance between the axles in metres")
    missing = unplaced(build, rider)
    if missing:
        found = f"nothing there for {', '.join(missing)}"
        raise InputProblem(
            build.name, "x_m, z_m", found, "metres forward of the rear axle and above ground of everything that weighs"
        )
    loads = ledger(build, rider)

    def summed(weigh: Callable[[Load], float]) -> Callable[[Sequence[float]], float]:
        return lambda masses: sum(mass * weigh(load) for mass, load in zip(masses, loads, strict=True))

    whole = summed(lambda _load: 1.0)
    along, upward = summed(lambda load: load.x_m or 0.0), summed(lambda load: load.z_m or 0.0)
    masses = [load.mass_kg for load in loads]
    return Balance(
        build.name,
        _over(masses, whole),
        _over(masses, lambda m: along(m) / whole(m)),
        _over(masses, lambda m: upward(m) / whole(m)),
        _over(masses, lambda m: along(m) / wheelbase),
        _over(masses, lambda m: whole(m) - along(m) / wheelbase),
        wheelbase,
        loads,
    )  # fmt: skip


def _over(masses: Sequence[Uncertain], figure: Callable[[Sequence[float]], float]) -> Uncertain:
    """A figure of several masses, and what their widths leave open."""
    likely = [mass.value for mass in masses]
    value, below, above = figure(likely), 0.0, 0.0
    for place, mass in enumerate(masses):
        moved = [figure([*likely[:place], end, *likely[place + 1 :]]) - value for end in (mass.low, mass.high)]
        below, above = hypot(below, min(*moved, 0.0)), hypot(above, max(*moved, 0.0))
    return Uncertain(value, value - below, value + above)


def lifted(
    front_level_kg: float, front_lifted_kg: float, total_kg: float, wheelbase_m: float, front_radius_m: float, rear_radius_m: float,
    lift_m: float,
) -> float:  # fmt: skip
    """Height of the centre of gravity from a scale under the front wheel, the rear axle on the ground and raised.

    Parameters
    ----------
    front_level_kg, front_lifted_kg : float
        The front axle's reading on level ground, and while the rear axle is raised.
    total_kg : float
        Both axles on level ground.
    wheelbase_m, front_radius_m, rear_radius_m : float
        Distance between the axles; radii of the wheels.
    lift_m : float
        How far the ground under the rear wheel is raised; a tenth of the wheelbase at least says something.

    Returns
    -------
    float
        [m]

    Raises
    ------
    InputProblem
        A lift as high as the wheelbase, axle weights that do not add up, or readings that put it into the ground.

    Examples
    --------
    >>> print(f"{lifted(96.0, 104.0, 200.0, 1.4, 0.30, 0.30, 0.35):.3f}")
    0.517
    """
    file = "the weighing"
    for name, value in (
        ("total_kg", total_kg),
        ("wheelbase_m", wheelbase_m),
        ("front_radius_m", front_radius_m),
        ("rear_radius_m", rear_radius_m),
    ):
        need_number(file, name, value, 0.0, 1e5, above=True)
    need_number(file, "front_level_kg", front_level_kg, 0.0, total_kg, "kg", above=True)
    need_number(file, "front_lifted_kg", front_lifted_kg, 0.0, total_kg, "kg", above=True)
    need_number(file, "lift_m", lift_m, 0.0, wheelbase_m, "m", above=True)
    steep = rear_radius_m + lift_m - front_radius_m
    if not -wheelbase_m < rear_radius_m - front_radius_m < steep < wheelbase_m:
        raise InputProblem(
            file, "lift_m", f"{lift_m:g} m", f"a lift and wheels that leave the axles {wheelbase_m:g} m apart"
        )
    height = equations.height_by_lifting(
        front_level_kg, front_lifted_kg, total_kg, wheelbase_m, front_radius_m, rear_radius_m, lift_m
    )
    if not isfinite(height) or height <= 0.0:
        expected = "a front axle that grows heavier while the rear is raised"
        raise InputProblem(
            file,
            "front_lifted_kg",
            f"{front_lifted_kg:g} kg after {front_level_kg:g} kg",
            expected,
            "Are the two readings swapped?",
        )
    return float(height)


@dataclass(frozen=True, repr=False)
class Handling(InShort):
    """What the place of the weight allows.

    Attributes
    ----------
    wheelie_mps2, stoppie_mps2 : float
        Acceleration from which the front wheel lifts, deceleration from which the rear one does, on the level. [m/s²]
    flips_percent : float
        Slope on which it tips over backwards standing still. [%]
    grip_percent : dict of str to Uncertain
        Steepest slope that the driven wheel's grip holds, by ground. [%]
    tips_percent : float or None
        Cross slope at which a vehicle on three or four wheels tips; None on two, or without a track. [%]
    lost_degrees : float or None
        Lean at which a person at the bar cannot hold it without its rider; None without the handlebar's height. [°]
    """

    wheelie_mps2: float
    stoppie_mps2: float
    flips_percent: float
    grip_percent: dict[str, Uncertain]
    tips_percent: float | None
    lost_degrees: float | None

    def _short(self) -> tuple[str, Rows]:
        rows = [
            ("front wheel lifts", f"from {self.wheelie_mps2:.1f} m/s² on the level"),
            ("rear wheel lifts", f"from {self.stoppie_mps2:.1f} m/s² of braking"),
            ("tips over backwards", f"standing on {self.flips_percent:.0f} %"),
            *(
                (f"grips on {ground}", f"up to {band.value:.0f} % ({band.low:.0f} to {band.high:.0f})")
                for ground, band in self.grip_percent.items()
            ),
        ]
        if self.tips_percent is not None:
            rows.append(("tips sideways", f"on {self.tips_percent:.0f} %"))
        if self.lost_degrees is not None:
            rows.append(("cannot be held at the bar", f"beyond {self.lost_degrees:.0f}°"))
        return "What the balance allows", rows


def handling(build: AnyBuild) -> Handling:
    """What the place of the weight allows, rider aboard; at the bar without.

    Raises
    ------
    InputProblem
        As :func:`balance`.
    """
    build = given_build(build)
    found, vehicle = balance(build), build.vehicle
    b, h, wheelbase = found.x_m.value, found.z_m.value, found.wheelbase_m
    rear = vehicle.driven_axle == "rear"

    def steepest(friction: float) -> float:
        return 100.0 * float(equations.steepest_by_grip(friction, wheelbase, b, h, vehicle.rolling_coefficient, rear))

    return Handling(
        wheelie_mps2=equations.wheelie_acceleration(b, h, 0.0),
        stoppie_mps2=equations.stoppie_deceleration(wheelbase - b, h, 0.0),
        flips_percent=100.0 * b / h,
        grip_percent={
            ground: Uncertain(*(max(0.0, steepest(value)) for value in values)) for ground, values in GRIP.items()
        },
        tips_percent=_tips(build, b, h, wheelbase),
        lost_degrees=_lost(build),
    )


def _tips(build: Build, ahead_of_rear: float, height: float, wheelbase: float) -> float | None:
    """Cross slope at which it tips; the single wheel of three is in front. [%]"""
    vehicle = build.vehicle
    if vehicle.wheels < 3 or vehicle.track_m is None:
        return None
    share = 1.0 - ahead_of_rear / wheelbase if vehicle.wheels == 3 else 1.0
    return 100.0 * float(equations.tip_slope(0.5 * vehicle.track_m, height, share))


def _lost(build: Build) -> float | None:
    """Lean beyond which a person at the bar cannot hold a two-wheeler without its rider. [°]"""
    bar = build.vehicle.handlebar_z_m
    if bar is None or build.vehicle.wheels != 2:
        return None
    alone = balance(build, rider=False)
    return degrees(equations.lean_until_lost(HELD_N, alone.mass_kg.value, alone.z_m.value, bar))


def bar_force_n(build: AnyBuild, lean_degrees: float) -> float:
    """Sideways force at the handlebar that holds it, without its rider, at a lean. [N]

    Raises
    ------
    InputProblem
        As :func:`balance`; no height of the handlebar.
    """
    build = given_build(build)
    need_number("the handlebar", "lean_degrees", lean_degrees, 0.0, 90.0, "°")
    bar = build.vehicle.handlebar_z_m
    if bar is None:
        raise InputProblem(build.name, "vehicle.handlebar_z_m", "nothing", "the height in metres at which it is held")
    alone = balance(build, rider=False)
    return float(equations.bar_force(alone.mass_kg.value, alone.z_m.value, radians(lean_degrees), bar))
