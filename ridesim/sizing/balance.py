"""Where the weight goes: the mass ledger, axle loads, centre of gravity, and what they allow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, degrees, hypot, isfinite, nan, radians, sin, tan
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ridesim.physics import balance as equations
from ridesim.physics.road import GRAVITY
from ridesim.ride.given import AnyBuild, given_build
from ridesim.ride.grip import axle_shares
from ridesim.vehicle import Build
from ridesim.vehicle.ledger import Load, ledger, unplaced
from ridesim.words import InputProblem, InShort, Rows, Uncertain, need_number

if TYPE_CHECKING:
    import pandas as pd

GROUNDS = ("asphalt", "wet_asphalt", "wet_paint", "wet_grass")
"""Grounds whose grip is told, keys of ``vehicle.grip``."""
HELD_N = 250.0
"""Force at the bar that a grown person holds for a moment: common practice, no source."""
TALLEST = 3.0
"""No vehicle's centre of gravity is higher than so many wheelbases: motorcycles are at a third of one (Rose, 39 of them)."""
STAND_LEAN = (10.0, 15.0)
"""Lean on a side stand, least and most: common practice, from memory. [°]"""
STAND_TEST_PERCENT = 6.0
"""Cross slope on which a motorcycle's side stand must hold it, either way: Dir. 2009/78/EC, Annex I, 6.2.2 (from memory)."""


@dataclass(frozen=True, repr=False)
class Balance(InShort):
    """Mass, centre of gravity and axle loads; likely, and between which values the masses' widths leave them.

    Attributes
    ----------
    name : str
        Of the build.
    mass_kg, x_m, y_m, z_m : Uncertain
        All together; its centre forward of the rear axle, to the left of the middle, and above ground.
    front_kg, rear_kg : Uncertain
        What stands on each axle on level ground.
    wheelbase_m : float
    loads : tuple of Load
        The ledger.
    """

    name: str
    mass_kg: Uncertain
    x_m: Uncertain
    y_m: Uncertain
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


def balance(build: AnyBuild, rider: bool = True, donor: bool = False) -> Balance:
    """Mass, centre of gravity and axle loads of a build.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    rider : bool
        Whether the rider is aboard.
    donor : bool
        As the donor was: with the parts that are taken off, without motor, controller, pack and the lights' battery.

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
    missing = unplaced(build, rider, donor)
    if missing:
        found = f"nothing there for {', '.join(missing)}"
        raise InputProblem(
            build.name, "x_m, z_m", found, "metres forward of the rear axle and above ground of everything that weighs"
        )
    loads = ledger(build, rider, donor)

    arms = np.array([(1.0, load.x_m or 0.0, load.y_m, load.z_m or 0.0) for load in loads])
    whole, along, sideways, upward = (_one_moved([load.mass_kg for load in loads]) @ arms).T
    front = along / wheelbase
    figures = whole, along / whole, sideways / whole, upward / whole, front, whole - front
    mass, x, y, z, on_front, on_rear = map(_band, figures)
    return Balance(build.name, mass, x, y, z, on_front, on_rear, wheelbase, loads)


def _one_moved(masses: Sequence[Uncertain]) -> NDArray[np.float64]:
    """Rows of masses: all likely, then each in turn at its low end with the others likely, then each at its high end. [kg]"""
    likely, low, high = np.array([(mass.value, mass.low, mass.high) for mass in masses]).T
    return np.vstack([likely, likely + np.diag(low - likely), likely + np.diag(high - likely)])


def _band(figure: NDArray[np.float64]) -> Uncertain:
    """A figure of such rows, and what the masses leave open together."""
    value = float(figure[0])
    low, high = figure[1:].reshape(2, -1) - value
    below, above = np.minimum(np.minimum(low, high), 0.0), np.maximum(np.maximum(low, high), 0.0)
    return Uncertain(value, value - float(np.linalg.norm(below)), value + float(np.linalg.norm(above)))


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

    Notes
    -----
    The exact form; the usual shortcut L²·ΔW/(H·W) reads 1 to 2 % high at usual lifts, and leaves the wheels' radii out.

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
    if height > TALLEST * wheelbase_m:
        found = f"{front_lifted_kg:g} kg after {front_level_kg:g} kg, a centre of gravity {height:.1f} m up"
        raise InputProblem(
            file,
            "front_lifted_kg",
            found,
            f"one at most {TALLEST:g} wheelbases up",
            "Is a reading or the lift mistyped?",
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
    stand_percent : tuple of float or None
        Cross slopes at which a two-wheeler without its rider falls over its side stand, and away from it, at the least favourable
        usual lean; None without the stand's place. [%]
    """

    wheelie_mps2: float
    stoppie_mps2: float
    flips_percent: float
    grip_percent: dict[str, Uncertain]
    tips_percent: float | None
    lost_degrees: float | None
    stand_percent: tuple[float, float] | None

    @property
    def turn_mps2(self) -> float | None:
        """Sideways acceleration in a turn from which it tips: by (13.6) the same number as the cross slope, over g. [m/s²]"""
        return None if self.tips_percent is None else GRAVITY * self.tips_percent / 100.0

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
        if self.stand_percent is not None:
            over, away = self.stand_percent
            rows.append(("falls over its stand", f"on a cross slope of {over:.0f} %, away from it on {away:.0f} %"))
        return "What the balance allows", rows


def handling(build: AnyBuild) -> Handling:
    """What the place of the weight allows, rider aboard; at the bar without.

    Raises
    ------
    InputProblem
        As :func:`balance`.
    """
    build = given_build(build)
    found, alone, vehicle = balance(build), balance(build, rider=False), build.vehicle
    b, h, wheelbase = found.x_m.value, found.z_m.value, found.wheelbase_m
    axles, widths = axle_shares(build), build.widths

    def steepest(friction: float) -> float:
        return max(0.0, 100.0 * equations.steepest_by_grip(friction, *axles, vehicle.rolling_coefficient))

    def held(ground: str) -> Uncertain:
        likely, width = getattr(vehicle.grip, ground), widths.get(f"vehicle.grip.{ground}")
        ends = (likely, likely) if width is None else (width.low, width.high)
        return Uncertain(*(steepest(friction) for friction in (likely, *ends)))

    return Handling(
        wheelie_mps2=equations.wheelie_acceleration(b, h, 0.0),
        stoppie_mps2=equations.stoppie_deceleration(wheelbase - b, h, 0.0),
        flips_percent=100.0 * b / h,
        grip_percent={ground.replace("_", " "): held(ground) for ground in GROUNDS},
        tips_percent=_tips(build, found),
        lost_degrees=_lost(build, alone),
        stand_percent=_stand(build, alone),
    )


def _tips(build: Build, found: Balance) -> float | None:
    """Cross slope at which it tips to the side to which it is heavier; the single wheel of three is in front. [%]"""
    vehicle = build.vehicle
    if vehicle.wheels < 3 or vehicle.track_m is None:
        return None
    share = 1.0 - found.x_m.value / found.wheelbase_m if vehicle.wheels == 3 else 1.0
    aside = 0.5 * vehicle.track_m * share - abs(found.y_m.value)
    return 100.0 * max(0.0, float(equations.tip_slope(aside, found.z_m.value)))


def _stand(build: Build, alone: Balance) -> tuple[float, float] | None:
    """Cross slopes at which a two-wheeler falls over its side stand, and away from it. [%, %]"""
    offset = build.vehicle.stand_offset_m
    if offset is None or build.vehicle.wheels != 2:
        return None
    height = alone.z_m.value
    least, most = (radians(lean) for lean in STAND_LEAN)
    over = equations.tip_slope(offset - height * sin(most), height * cos(most))
    return 100.0 * max(0.0, float(over)), 100.0 * tan(least)


def _lever(build: Build) -> float | None:
    """From the line of the contacts to where the bar is held: the far grip where its width is known, else the bar's height. [m]"""
    bar, width = build.vehicle.handlebar_z_m, build.vehicle.handlebar_width_m
    return None if bar is None else hypot(bar, 0.5 * (width or 0.0))


def _lost(build: Build, alone: Balance) -> float | None:
    """Lean beyond which a person at the bar cannot hold a two-wheeler without its rider. [°]"""
    lever = _lever(build)
    if lever is None or build.vehicle.wheels != 2:
        return None
    return degrees(equations.lean_until_lost(HELD_N, alone.mass_kg.value, alone.z_m.value, lever))


def bar_force_n(build: AnyBuild, lean_degrees: float) -> float:
    """Force at the handlebar that holds it, without its rider, at a lean. [N]

    Raises
    ------
    InputProblem
        As :func:`balance`; no height of the handlebar.
    """
    build = given_build(build)
    need_number("the handlebar", "lean_degrees", lean_degrees, 0.0, 90.0, "°")
    lever = _lever(build)
    if lever is None:
        raise InputProblem(build.name, "vehicle.handlebar_z_m", "nothing", "the height in metres at which it is held")
    alone = balance(build, rider=False)
    return float(equations.bar_force(alone.mass_kg.value, alone.z_m.value, radians(lean_degrees), lever))


def compare_places(
    build: AnyBuild, x_m: Sequence[float], z_m: Sequence[float], lean_degrees: float = 10.0
) -> pd.DataFrame:
    """What another place of the pack would do.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    x_m, z_m : sequence of float
        Places to compare, each with each: forward of the rear axle, and above ground.
    lean_degrees : float
        Lean at which the force at the bar is told.

    Returns
    -------
    DataFrame
        A row a place: ``x_m``, ``z_m``, ``front_percent`` (of the weight, rider aboard), ``flips_percent`` (slope on which it tips over
        backwards) and ``bar_n`` (NaN where there is no bar to hold).

    Raises
    ------
    InputProblem
        As :func:`balance`.
    """
    import pandas as pd

    build, rows = given_build(build), []
    for z in z_m:
        for x in x_m:
            there = build.changed({"pack.x_m": float(x), "pack.z_m": float(z), "pack.place": None})
            found, lever = balance(there), _lever(there)
            front = 100.0 * found.front_kg.value / found.mass_kg.value
            force = bar_force_n(there, lean_degrees) if lever is not None and there.vehicle.wheels == 2 else nan
            rows.append((x, z, front, 100.0 * found.x_m.value / found.z_m.value, force))
    return pd.DataFrame(rows, columns=["x_m", "z_m", "front_percent", "flips_percent", "bar_n"])
