"""Watt-hours that a pack gives at a day's currents, from full down to the reserve.

The charge drawn until the reserve is first met would be a poor figure: under a law that recovers at rest that moment may lie at noon
or, with slightly more capacity, in the evening, and the figure would jump. Counted instead is all charge drawn while the state of
charge is above the reserve, the day's currents being repeated until it stays below. Under Peukert's law, which does not recover, both
figures are the same.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ridesim.day import Day
from ridesim.physics.compiled import compiled
from ridesim.physics.pack import resistance_factor
from ridesim.ride.core.pack import charges_at, state_of_charge
from ridesim.ride.core.records import PackNumbers
from ridesim.ride.pack.block import block_numbers, charges_after
from ridesim.ride.pack.laws import FloatArray
from ridesim.ride.pack.refusal import uncharged
from ridesim.ride.result import Ride
from ridesim.ride.simulate import simulate
from ridesim.ride.start import start_charge
from ridesim.vehicle import Build

HELD_AH = 10_000.0
"""A block so large hardly moves from its state of charge in a day. [Ah]"""
LONGEST_STEP_S = 30.0
MOST_DAYS = 100
"""If so many repeats of a light day do not reach the reserve, the rest is extrapolated in a straight line."""


def usable_by_law(build: Build, day: Day, laws: Sequence[str]) -> dict[str, float]:
    """Watt-hours from full down to the reserve at a day's currents, without charging, under each law. [Wh]

    Parameters
    ----------
    build : Build
        A validated build.
    day : Day
        Its activities, waits between them included, one day at once after the other.
    laws : sequence of str
        Names of capacity laws.

    Returns
    -------
    dict of str to float
        At the terminals; 0 where the day draws nothing or the shed has taken the charge down to the reserve.

    Raises
    ------
    InputProblem
        As :func:`ridesim.simulate`.

    Notes
    -----
    Currents and voltage are those half-way between full and the reserve.
    """
    pack = build.pack
    begin = start_charge(pack, day.changed({"start_state_of_charge": 1.0}))
    if begin <= pack.reserve:
        return dict.fromkeys(laws, 0.0)
    ride = _held(build, day, 0.5 * (begin + pack.reserve))
    clock, current = ride.clock_s, np.maximum(0.0, ride.rows["pack_current_a"])
    drawn = _integral(current, clock)
    if drawn <= 0.0:
        return dict.fromkeys(laws, 0.0)
    blocks = {law: block_numbers(pack, day.ambient_c, law) for law in laws}
    volts = _mean_voltage(ride, current, drawn, begin, next(iter(blocks.values())))
    string = np.ascontiguousarray(current / pack.strings_in_parallel)
    return {
        law: volts * pack.strings_in_parallel * _charge_to(pack.reserve, clock, string, begin, b) / 3600.0
        for law, b in blocks.items()
    }


def _held(build: Build, day: Day, charge: float) -> Ride:
    """The day on a pack that stays at a state of charge: the same voltage and resistance, far more ampere-hours."""
    resistances = ("block_resistance_ohm", "polarisation_resistance_ohm")
    held = build.changed({
        **{f"pack.{key}": getattr(build.pack.in_force, key) for key in resistances},
        "pack.block_capacity_ah": HELD_AH, "pack.block_mass_kg": build.pack.in_force.block_mass_kg,
        "pack.capacity_by_hours": None, "pack.stood_months": 0.0,
    })  # fmt: skip
    return simulate(held, uncharged(day).changed({"start_state_of_charge": charge}), "peukert")


def _integral(values: FloatArray, clock: FloatArray) -> float:
    return float(np.sum(0.5 * (values[1:] + values[:-1]) * np.diff(clock)))


def _mean_voltage(ride: Ride, current: FloatArray, drawn: float, begin: float, b: PackNumbers) -> float:
    """Mean terminal voltage from full to the reserve, weighted by charge: the held ride's, corrected for being held halfway. [V]"""
    pack, clock = ride.build.pack, ride.clock_s
    held = _integral(ride.rows["pack_voltage_v"] * current, clock) / drawn
    weighted = _integral(current * current, clock) / drawn / pack.strings_in_parallel
    charges = np.linspace(pack.reserve, begin, 201)
    source = np.interp(charges, b.table_z, b.table_v) - weighted * b.resistance * np.array(
        [resistance_factor(z, b.resistance_rise) for z in charges]
    )
    mean = _integral(source, charges) / (begin - pack.reserve)
    return max(0.0, held + pack.blocks_in_series * (mean - float(source[100])))


@compiled
def _charge_to(reserve: float, clock: FloatArray, current: FloatArray, begin: float, b: PackNumbers) -> float:
    """Charge that leaves one string while it stands above the reserve. [A s]"""
    q1, q2 = charges_at(begin, b)
    z = begin
    whole = 0.0
    mean = before = begin
    for _ in range(MOST_DAYS):
        above, drawn, weighted = 0.0, 0.0, 0.0
        for row in range(clock.shape[0] - 1):
            span = clock[row + 1] - clock[row]
            steps = max(1, int(np.ceil(span / LONGEST_STEP_S)))
            dt = span / steps
            for step in range(steps):
                amps = current[row] + (step + 0.5) / steps * (current[row + 1] - current[row])
                q1, q2 = charges_after(q1, q2, amps, dt, b)
                after = state_of_charge(q1, q2, b)
                above += amps * dt * _share_above(reserve, z, after)
                drawn += amps * dt
                weighted += amps * dt * 0.5 * (z + after)
                z = after
        whole += above
        if above == 0.0:
            return whole
        before, mean = mean, weighted / drawn
    return whole + drawn * (mean - reserve) / (before - mean) - 0.5 * drawn


@compiled
def _share_above(reserve: float, before: float, after: float) -> float:
    """Share of a step in which a state of charge that moves in a straight line is above the reserve."""
    low, high = min(before, after), max(before, after)
    if low >= reserve:
        return 1.0
    if high <= reserve:
        return 0.0
    return (high - reserve) / (high - low)
