"""What the meters should show on the first day: figures to hold beside measured ones."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from ridesim.choose.candidate import Candidate
from ridesim.choose.how_sure import band_about
from ridesim.choose.likely import without_findings
from ridesim.ride.machine import absorption_at, machine
from ridesim.ride.steady import currents_for, need_arguments, pull_arrays, resistance_at, top_speed_kmh
from ridesim.vehicle import Build
from ridesim.words import Uncertain


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
    within : float
        How far off a reading may be before it is worth finding out why, in the same unit: common practice, no source. With draws only
        what the meter is off by.
    places : int
        How many times to read it, such as once a block.
    at_kmh : float or None
        Speed at which it is read, for ``{speed}`` in ``what``. [km/h]
    drawn : Uncertain or None
        Where nine in ten draws lie.
    """

    moment: str
    what: str
    value: float
    unit: str
    digits: int
    within: float
    places: int = 1
    at_kmh: float | None = None
    drawn: Uncertain | None = None

    @property
    def between(self) -> tuple[float, float]:
        """The ends between which a reading is as expected."""
        low, high = (self.value, self.value) if self.drawn is None else (self.drawn.low, self.drawn.high)
        return low - self.within, high + self.within


class Steady(NamedTuple):
    """The vehicle at a steady speed: motor current, pack current, pack voltage. [A, A, V]"""

    motor_a: float
    pack_a: float
    pack_v: float


RESTED_OFF = 0.01
"""A rested block's volts: of lead-acid, a hundredth is a tenth of its charge."""
CHARGER_OFF = 0.01
SAG_OFF = 0.05
USUAL_OFF = 0.1
"""Common practice, no source, all four."""
METER_OFF = 0.02
"""A clamp meter, a speedometer by satellite, a scale: common practice, no source."""
DRAWS = 64
"""So many draws give a reading's band."""
SETTLED = {"lithium-iron-phosphate": 0.9}
"""State of charge whose rested volts stand for full: the last climb to the charger's voltage is gone after a night (about 3.33 V a cell;
common practice, no source)."""


def readings(each: Candidate) -> tuple[Reading, ...]:
    """Figures to confirm, in the order in which a vehicle is put to work: at rest, wheel up, on the road, after the day.

    Pack charged the night before and at 25 °C, motor and air at 20 °C, as :func:`ridesim.top_speed_kmh`; the charger in the day's air.
    With draws each has the band of its own figure.
    """
    likely = _readings(each)
    if each.drawn is None:
        return likely
    others = [
        replace(without_findings(ride), steady_speed_kmh=each.steady_speed_kmh) for ride in each.drawn.ridden(DRAWS)
    ]
    found: dict[tuple[str, str], list[float]] = {}
    for other in others:
        for reading in _readings(other):
            found.setdefault((reading.moment, reading.what), []).append(reading.value)
    return tuple(_banded(reading, found.get((reading.moment, reading.what), [])) for reading in likely)


def _banded(reading: Reading, values: list[float]) -> Reading:
    """A reading with the band of its draws; one whose likely value is only the least there may be stays as it is."""
    if not values or reading.within >= abs(reading.value):
        return reading
    drawn = band_about(reading.value, np.array(values))
    return replace(reading, drawn=drawn, within=min(reading.within, METER_OFF * abs(reading.value)))


def _readings(each: Candidate) -> tuple[Reading, ...]:
    return (
        *_at_rest(each.ride.build, each.ride.day.ambient_c),
        *_wheel_up(each.ride.build),
        *_on_the_road(each),
        *_after_the_day(each),
    )


def rested_full(build: Build) -> float:
    """State of charge that a pack, charged and left for a night, shows at its terminals."""
    z, volts = np.array(build.pack.in_force.open_circuit_v_per_cell).T
    reached = float(np.interp(build.pack.in_force.absorption_v_per_cell, volts, z))
    return min(reached, SETTLED.get(build.pack.chemistry, 1.0))


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
    need_arguments(speed_kmh=speed_kmh, grade_percent=grade_percent, state_of_charge=charge)
    numbers, speed = machine(build), speed_kmh / 3.6
    pull = resistance_at(speed, build.total_mass_kg(), grade_percent / 100.0, numbers)
    return Steady(*(float(value) for value in currents_for(pull, speed, charge, numbers)))


def rested_block_v(build: Build, charge: float) -> float:
    """Voltage of one block, rested, nothing connected. [V]"""
    need_arguments(state_of_charge=charge)
    table = np.array(build.pack.in_force.open_circuit_v_per_cell)
    return float(np.interp(charge, table[:, 0], table[:, 1])) * build.pack.in_force.cells_in_series


def _at_rest(build: Build, ambient_c: float) -> Iterator[Reading]:
    pack, mass = build.pack, build.total_mass_kg()
    rested, charger = rested_block_v(build, rested_full(build)), absorption_at(pack, ambient_c)
    blocks = pack.blocks_in_series * pack.strings_in_parallel
    yield Reading("at rest", "each block: charged, then off for a night", rested, "v", 2, RESTED_OFF * rested, blocks)
    yield Reading("at rest", "pack on its charger, towards the end", charger, "v", 1, CHARGER_OFF * charger)
    yield Reading("at rest", "on the scales, rider aboard", mass, "kg", 0, 0.05 * mass)


def _usual(moment: str, what: str, value: float, unit: str, digits: int, at_kmh: float | None = None) -> Reading:
    return Reading(moment, what, value, unit, digits, USUAL_OFF * value, at_kmh=at_kmh)


def _wheel_up(build: Build) -> Iterator[Reading]:
    if build.motor.kind == "series-wound":
        return  # without load it runs away
    full = rested_full(build)
    speed = float(pull_arrays(build, full, points=2)[0][-1]) / 3.6
    turns = 60.0 * speed / (2.0 * math.pi * build.vehicle.rolling_radius_m)
    _, amps, _ = currents_for(0.0, speed, full, machine(build))
    yield _usual("wheel up", "full throttle: the driven wheel's turns", turns, "rpm", 0)
    # Chain and wheel add what no bench has measured yet.
    what = "full throttle: pack current, drag of chain and wheel on top"
    yield Reading("wheel up", what, float(amps), "a", 1, float(amps))


def _on_the_road(each: Candidate) -> Iterator[Reading]:
    build, full, moment = each.ride.build, rested_full(each.ride.build), "on the road"
    top = each.top_speed_kmh if full == 1.0 else top_speed_kmh(build, full)
    if not top > 0.0:
        return
    # Else the same sheet's top speed, of a pack straight off the charger, would contradict it.
    throttle = "full throttle" if full == 1.0 else "full throttle, pack rested"
    yield _usual(moment, f"level, {throttle}: speed", top, "kmh", 1)
    yield _usual(moment, f"level, {throttle}: pack current", steady_state(build, top, charge=full).pack_a, "a", 1)
    speed = each.steady_speed_kmh
    usual = steady_state(build, speed, charge=full)
    yield _usual(moment, "level, {speed}: pack current", usual.pack_a, "a", 1, speed)
    yield Reading(moment, "level, {speed}: pack voltage", usual.pack_v, "v", 1, SAG_OFF * usual.pack_v, at_kmh=speed)
    grade = each.ride.day.steepest_percent
    climbing = top_speed_kmh(build, full, grade) if grade > 0.0 else 0.0
    if climbing > 0.0:
        amps = steady_state(build, climbing, grade, full).motor_a
        yield _usual(moment, f"{grade:.1f} % up, {throttle}: speed", climbing, "kmh", 1)
        yield _usual(moment, f"{grade:.1f} % up, {throttle}: motor current", amps, "a", 0)


def _after_the_day(each: Candidate) -> Iterator[Reading]:
    build, pack, moment = each.ride.build, each.ride.build.pack, "after the day"
    blocks = pack.blocks_in_series * pack.strings_in_parallel
    yield _usual(moment, "distance", each.ride.outcome.distance_km, "km", 1)
    rested = min(each.ride.outcome.rested_block_v, rested_block_v(build, rested_full(build)))
    yield Reading(moment, "each block, rested for two hours", rested, "v", 2, 2.0 * RESTED_OFF * rested, blocks)
    winding = each.ride.outcome.hottest_winding_c
    yield Reading(moment, "motor's winding at its hottest, by its resistance", winding, "c", 0, 0.2 * winding)
