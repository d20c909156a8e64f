"""What the meters should show on the first day: figures to hold beside measured ones."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ridesim.build import Build
from ridesim.choose.compare import Candidate
from ridesim.physics.road import air_density
from ridesim.ride.numbers import machine, packed
from ridesim.ride.steady import STILL_AIR_C, currents_for, pull_arrays, resistance_at


@dataclass(frozen=True, slots=True)
class Reading:
    """One figure that a meter can confirm.

    Attributes
    ----------
    moment : str
        When to read it: ``"at rest"``, ``"wheel up"``, ``"on the road"``, ``"after the day"``.
    what : str
        In words, condition included.
    value : float
        What it should be; NaN where nothing is expected, only written down.
    unit : str
        Suffix of :data:`ridesim.words.UNITS`.
    digits : int
        After the point.
    places : int
        How many times to read it, such as once a block.
    """

    moment: str
    what: str
    value: float
    unit: str
    digits: int
    places: int = 1


@dataclass(frozen=True, slots=True)
class Steady:
    """The vehicle at a steady speed: motor current, pack current, pack voltage. [A, A, V]"""

    motor_a: float
    pack_a: float
    pack_v: float


def readings(each: Candidate) -> tuple[Reading, ...]:
    """Figures to confirm, in the order in which a vehicle is put to work: at rest, wheel up, on the road, after the day.

    Motor at 20 °C, pack at the day's temperature as :func:`ridesim.top_speed_kmh` has it: full where nothing else is said.
    """
    return (*_at_rest(each.ride.build), *_wheel_up(each.ride.build), *_on_the_road(each), *_after_the_day(each))


def steady_state(build: Build, speed_kmh: float, grade_percent: float = 0.0, charge: float = 1.0) -> Steady:
    """Currents and voltage that a steady speed takes, rider aboard, asphalt, still air at 20 °C.

    Parameters
    ----------
    build : Build
        A validated build.
    speed_kmh : float
        [km/h]
    grade_percent : float
        [%]
    charge : float
        State of charge, 0 to 1.
    """
    numbers, speed = packed(machine(build)), speed_kmh / 3.6
    density = air_density(0.0, STILL_AIR_C)
    pull = resistance_at(speed, build.total_mass_kg(), grade_percent / 100.0, density, numbers)
    return Steady(*(float(value) for value in currents_for(pull, speed, charge, numbers)))


def rested_block_v(build: Build, charge: float) -> float:
    """Voltage of one block, rested, nothing connected. [V]"""
    table = np.array(build.pack.rest_table)
    assert build.pack.cells_in_series is not None
    return float(np.interp(charge, table[:, 0], table[:, 1])) * build.pack.cells_in_series


def _at_rest(build: Build) -> Iterator[Reading]:
    pack = build.pack
    blocks = pack.blocks_in_series * pack.strings_in_parallel
    yield Reading(
        "at rest", "each block: full, off the charger for a night", rested_block_v(build, 1.0), "v", 2, blocks
    )
    yield Reading("at rest", "pack on its charger, towards the end", pack.full_voltage_v, "v", 1)
    yield Reading("at rest", "on the scales, rider aboard", build.total_mass_kg(), "kg", 0)


def _wheel_up(build: Build) -> Iterator[Reading]:
    if build.motor.kind == "series-wound":
        return  # without load it runs away
    speed = float(pull_arrays(build, points=2)[0][-1]) / 3.6
    turns = 60.0 * speed / (2.0 * math.pi * build.vehicle.wheel_radius_m)
    _, amps, _ = currents_for(0.0, speed, 1.0, packed(machine(build)))
    yield Reading("wheel up", "full throttle: the driven wheel's turns", turns, "rpm", 0)
    yield Reading("wheel up", "full throttle: pack current, drag of chain and wheel left out", float(amps), "a", 1)


def _on_the_road(each: Candidate) -> Iterator[Reading]:
    build = each.ride.build
    if not each.top_speed_kmh > 0.0:
        return
    fast = steady_state(build, each.top_speed_kmh)
    yield Reading("on the road", "level, full throttle: speed", each.top_speed_kmh, "kmh", 1)
    yield Reading("on the road", "level, full throttle: pack current", fast.pack_a, "a", 1)
    usual = steady_state(build, each.steady_speed_kmh)
    at = f"level, {each.steady_speed_kmh:.1f} km/h"
    yield Reading("on the road", f"{at}: pack current", usual.pack_a, "a", 1)
    yield Reading("on the road", f"{at}: pack voltage", usual.pack_v, "v", 1)
    grade = each.ride.day.steepest_percent
    if grade > 0.0 and each.top_speed_on_grade_kmh > 0.0:
        climb = steady_state(build, each.top_speed_on_grade_kmh, grade)
        yield Reading("on the road", f"{grade:.1f} % up, full throttle: speed", each.top_speed_on_grade_kmh, "kmh", 1)
        yield Reading("on the road", f"{grade:.1f} % up, full throttle: motor current", climb.motor_a, "a", 0)


def _after_the_day(each: Candidate) -> Iterator[Reading]:
    build, pack = each.ride.build, each.ride.build.pack
    blocks = pack.blocks_in_series * pack.strings_in_parallel
    yield Reading("after the day", "distance", each.ride.outcome.distance_km, "km", 1)
    end = each.ride.outcome.end_state_of_charge
    yield Reading("after the day", "each block, rested for two hours", rested_block_v(build, end), "v", 2, blocks)
    winding = each.ride.outcome.hottest_winding_c
    yield Reading("after the day", "motor's winding at its hottest, by its resistance", winding, "c", 0)
