"""Blocks that are not alike: a tired one in a series string, old strings beside new ones, on a day that was ridden.

The power that the ride drew at the pack's terminals is drawn from the real blocks, each with its own charge, voltage and
resistance. Between two kept rows of the ride a block's state follows in closed form. The controller's current limit and cut-off
apply. Once they act, the vehicle would be slower than in the ride, so results after that moment are approximate.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import exp, sqrt
from typing import NamedTuple

import numpy as np

from ridesim.physics.capacity_laws import TWO_WELL
from ridesim.physics.compiled import compiled
from ridesim.physics.pack import open_circuit, resistance_factor
from ridesim.ride.core.pack import beyond_resistance, charge_room, charges_at, left_at, rested_source, state_of_charge
from ridesim.ride.core.records import PackNumbers
from ridesim.ride.pack.block import block_numbers, charges_after
from ridesim.ride.pack.laws import FloatArray
from ridesim.ride.result import Ride
from ridesim.vehicle import Pack
from ridesim.vehicle.care import worn_resistance_factor
from ridesim.words import InputProblem, need_number

LEAST_ROOM = 1e-3
"""Room for charge in a block that is as good as full. [share]"""
LONGEST_STEP_S = 30.0
"""Kept steps of a standing ride are up to 300 s long; blocks are moved in shorter ones. [s]"""


@dataclass(frozen=True, slots=True)
class RealBlock:
    """One block as it really is.

    Attributes
    ----------
    name : str
        What is written on it.
    health : float
        Present over rated capacity.
    resistance_factor : float or None
        Resistance over that of a new one; None: grows with the capacity lost
        (:func:`ridesim.vehicle.care.worn_resistance_factor`).
    start_charge : float or None
        State of charge at the start; None: the day's.
    """

    name: str
    health: float = 1.0
    resistance_factor: float | None = None
    start_charge: float | None = None

    def __post_init__(self) -> None:
        who = f'block "{self.name}"'
        need_number(who, "health", self.health, 0.0, 1.2, above=True)
        if self.resistance_factor is not None:
            need_number(who, "resistance_factor", self.resistance_factor, 0.0, 1000.0, above=True)
        if self.start_charge is not None:
            need_number(who, "start_charge", self.start_charge, 0.0, 1.0)

    @property
    def resistance_in_use(self) -> float:
        """Resistance over that of a new block."""
        if self.resistance_factor is not None:
            return self.resistance_factor
        return worn_resistance_factor(self.health)


@dataclass(frozen=True, slots=True)
class BlockOutcome:
    """How one block went through the day.

    Attributes
    ----------
    block : RealBlock
    string : int
        From 1.
    start_charge, end_charge, lowest_charge : float
        State of charge; the lowest is 0 where it was emptied.
    lowest_voltage_v : float
        Under load; below zero: driven backwards by its neighbours.
    collapse_s : float or None
        When it first fell below its cut-off voltage under load, or was empty where that came first (the cut-off may have
        stopped the current before), seconds after midnight.
    empty_s : float or None
        When it was empty.
    overcharge_ah : float
        Charge pushed in after it was full.
    """

    block: RealBlock
    string: int
    start_charge: float
    end_charge: float
    lowest_charge: float
    lowest_voltage_v: float
    collapse_s: float | None
    empty_s: float | None
    overcharge_ah: float


@dataclass(frozen=True)
class StringsOutcome:
    """A day on real blocks.

    Attributes
    ----------
    ride : Ride
        The ride whose power is asked for.
    blocks : tuple of BlockOutcome
        String by string.
    string_share : tuple of float
        Share of the discharge that each string gave.
    connecting_current_a : float
        Current between the strings at the moment they are joined, before the day. [A]
    power_short_s : float or None
        When the controller's cut-off first held the pull back, seconds after midnight.
    clock_s, block_voltage_v : ndarray
        Time [s after midnight], and voltages, one column a block. [V]
    """

    ride: Ride
    blocks: tuple[BlockOutcome, ...]
    string_share: tuple[float, ...]
    connecting_current_a: float
    power_short_s: float | None
    clock_s: FloatArray
    block_voltage_v: FloatArray

    @property
    def first_to_collapse(self) -> BlockOutcome | None:
        """The block that falls below its cut-off first; None where none does."""
        fallen = [each for each in self.blocks if each.collapse_s is not None]
        return min(fallen, key=lambda each: each.collapse_s or 0.0) if fallen else None

    @property
    def weakest(self) -> BlockOutcome:
        """The first to collapse, else the one with the least charge at its lowest."""
        return self.first_to_collapse or min(self.blocks, key=lambda each: (each.lowest_charge, each.lowest_voltage_v))


def ride_on_blocks(ride: Ride, strings: Sequence[Sequence[RealBlock]]) -> StringsOutcome:
    """Ask the power of a ride of real blocks.

    Parameters
    ----------
    ride : Ride
        A simulated day, its rows kept.
    strings : sequence of sequence of RealBlock
        As many strings and blocks as the ride's pack has.

    Returns
    -------
    StringsOutcome

    Raises
    ------
    InputProblem
        Other numbers of strings or blocks than the pack's, or a ride without rows.
    """
    _check(ride, strings)
    pack, rows = ride.build.pack, ride.kept
    flat = [block for string in strings for block in string]
    begin = float(rows["state_of_charge"][0])
    numbers = block_numbers(pack, ride.day.ambient_c, ride.battery_model, health=1.0)
    missing, filtered = float(rows["missing"][0]), float(rows["filtered"][0])
    as_ridden = left_at(begin, missing, filtered, numbers), missing, filtered
    charges = [as_ridden if each.start_charge is None else charges_at(each.start_charge) for each in flat]
    blocks = _blocks(np.array(charges), [block.health for block in flat], _growth(pack, flat))
    control = ride.build.controller
    most = control.max_battery_current_a + control.standby_current_a
    asked = _Asked(
        clock=np.ascontiguousarray(rows["time_s"]),
        power=rows["pack_voltage_v"] * rows["pack_current_a"],
        current=rows["pack_current_a"].copy(),
        cutoff=ride.build.cutoff_voltage_v,
        limit=max(most, ride.outcome.highest_pack_current_a) + 1e-6,
        block_cutoff=pack.kind.cutoff_v_per_cell * pack.in_force.cells_in_series,
    )
    given = np.zeros(len(strings))
    voltage = np.empty((len(rows), len(flat)))
    short = _walk(asked, blocks, numbers, given, voltage)
    outcomes = tuple(
        BlockOutcome(
            block=block,
            string=place // len(strings[0]) + 1,
            start_charge=begin if block.start_charge is None else block.start_charge,
            end_charge=max(0.0, float(_charge(blocks, place, numbers))),
            lowest_charge=max(0.0, float(blocks.lowest_charge[place])),
            lowest_voltage_v=float(blocks.lowest_volts[place]),
            collapse_s=_moment(np.fmin(blocks.below[place], blocks.empty[place])),
            empty_s=_moment(blocks.empty[place]),
            overcharge_ah=float(blocks.overcharge[place]) / 3600.0,
        )
        for place, block in enumerate(flat)
    )
    return StringsOutcome(
        ride=ride,
        blocks=outcomes,
        string_share=tuple(float(each) for each in given / max(given.sum(), 1e-300)),
        connecting_current_a=connecting_current(pack, strings, begin, ride.day.ambient_c),
        power_short_s=_moment(short),
        clock_s=asked.clock,
        block_voltage_v=voltage,
    )


def _check(ride: Ride, strings: Sequence[Sequence[RealBlock]]) -> None:
    pack = ride.build.pack
    lengths = [len(string) for string in strings]
    if lengths != [pack.blocks_in_series] * pack.strings_in_parallel:
        raise InputProblem(
            "the blocks",
            "",
            f"{' + '.join(map(str, lengths)) or 'none'} blocks in {len(lengths)} string{'' if len(lengths) == 1 else 's'}",
            f"{pack.strings_in_parallel} of {pack.blocks_in_series} in series, as in {ride.build.name}",
        )


def _growth(pack: Pack, blocks: Sequence[RealBlock]) -> FloatArray:
    """Resistance of each block over that of the pack's own blocks, which are as worn as the pack says."""
    return np.array([block.resistance_in_use for block in blocks]) / worn_resistance_factor(pack.state_of_health)


def _moment(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def connecting_current(
    pack: Pack, strings: Sequence[Sequence[RealBlock]], start: float = 1.0, temperature: float = 25.0
) -> float:
    """Largest current between strings at the moment they are joined: ΔE/(R_a + R_b), 0 for one string. [A]"""
    b = block_numbers(pack, temperature, "peukert", health=1.0)
    sources = []
    for string in strings:
        charges = [start if block.start_charge is None else block.start_charge for block in string]
        factors = [float(resistance_factor(z, b.resistance_rise)) for z in charges]
        volts = sum(float(open_circuit(z, b.table_z, b.table_v)) for z in charges)
        sources.append((volts, b.resistance * float(_growth(pack, string) @ factors)))
    return max((abs(e1 - e2) / (r1 + r2) for (e1, r1), (e2, r2) in combinations(sources, 2)), default=0.0)


class _Asked(NamedTuple):
    """What the ride asks of the blocks, row by row, and the limits that hold."""

    clock: FloatArray  # after midnight [s]
    power: FloatArray  # at the pack's terminals [W]
    current: FloatArray  # of the ride's own pack [A]
    cutoff: float  # controller's [V]
    limit: float  # largest pack current: the ride's own where that was more than the controller's [A]
    block_cutoff: float  # [V]


class _Blocks(NamedTuple):
    """All blocks, string after string: what each is, its state, and what is noted of it. Arrays of one value a block."""

    health: FloatArray
    growth: FloatArray  # resistance over that of the pack's own blocks
    left: FloatArray  # of its charge, see ridesim.ride.core.pack
    missing: FloatArray
    filtered: FloatArray
    slow: FloatArray  # polarisation [V]
    lowest_charge: FloatArray
    lowest_volts: FloatArray
    below: FloatArray  # when first below the cut-off, NaN for never [s]
    empty: FloatArray  # when first empty, NaN for never [s]
    overcharge: FloatArray  # [A s]


def _blocks(charges: FloatArray, health: Sequence[float], growth: FloatArray) -> _Blocks:
    """Blocks at the start of the day."""
    filled = [np.full(len(growth), each) for each in (0.0, np.inf, np.inf, np.nan, np.nan, 0.0)]
    return _Blocks(np.array(health, dtype=float), growth, *charges.T.copy(), *filled)


@compiled
def _walk(asked: _Asked, blocks: _Blocks, b: PackNumbers, given: FloatArray, voltage: FloatArray) -> float:
    """Move all blocks through the rows; returns when the power was first short, or NaN."""
    strings = given.shape[0]
    length = blocks.health.shape[0] // strings
    emf, ohms = np.empty(strings), np.empty(strings)
    rows = asked.clock.shape[0]
    short = np.nan
    for row in range(rows):
        span = asked.clock[row + 1] - asked.clock[row] if row + 1 < rows else 0.0
        steps = max(1, int(np.ceil(span / LONGEST_STEP_S)))
        dt = span / steps
        for step in range(steps):
            # The mean of the row's two ends is asked for over its span, as the ride's own steps see it.
            share = (step + 0.5) / steps
            after = row + 1 if span > 0.0 else row  # the last row, and the one before a jump, stand for themselves
            power = asked.power[row] + share * (asked.power[after] - asked.power[row])
            plain = asked.current[row] + share * (asked.current[after] - asked.current[row])
            conductance, drive = 0.0, 0.0
            for s in range(strings):
                emf[s], ohms[s] = _string(blocks, s * length, (s + 1) * length, plain < 0.0, b)
                conductance += 1.0 / ohms[s]
                drive += emf[s] / ohms[s]
            if plain < 0.0:
                volts = (drive - plain) / conductance  # a charger sets the current
            else:
                root = drive * drive - 4.0 * conductance * power
                volts = (drive + sqrt(max(0.0, root))) / (2.0 * conductance)
                if power > 0.0 and volts < asked.cutoff:
                    volts = min(asked.cutoff, drive / conductance)
                    if np.isnan(short):
                        short = asked.clock[row]
                volts = max(volts, (drive - asked.limit) / conductance)
            for s in range(strings):
                current = (emf[s] - volts) / ohms[s]
                given[s] += max(0.0, current) * dt
                for i in range(s * length, (s + 1) * length):
                    if step == 0:  # the state in which this current was found, not the one after it
                        voltage[row, i] = _terminal(blocks, i, current, plain < 0.0, b)
                    _move(blocks, i, current, dt, asked.clock[row] + step * dt, b, asked.block_cutoff)
    return short


@compiled
def _string(blocks: _Blocks, first: int, stop: int, charging: bool, b: PackNumbers) -> tuple[float, float]:
    """Voltage without its resistance, and resistance, of a string."""
    emf, ohms = 0.0, 0.0
    for i in range(first, stop):
        e, r = _source(blocks, i, b)
        emf += e
        ohms += r + (_charging_ohm(blocks, i, r, b) if charging else 0.0)
    return emf, ohms


@compiled
def _terminal(blocks: _Blocks, i: int, current: float, charging: bool, b: PackNumbers) -> float:
    """Voltage at a block's terminals; on charge no higher than its share of the charger's: what an overcharge adds is not modelled."""
    e, r = _source(blocks, i, b)
    volts = e - r * current
    if charging and current < 0.0:
        volts += min(max(0.0, b.absorption - volts), -current * _charging_ohm(blocks, i, r, b))
    return float(volts)


@compiled
def _charging_ohm(blocks: _Blocks, i: int, inner: float, b: PackNumbers) -> float:
    """Resistance of acceptance of a block on charge: the fuller, the higher; it shares the current between strings."""
    room = max(LEAST_ROOM, charge_room(blocks.left[i], blocks.missing[i], b))
    whole = 1.0 / (b.acceptance * blocks.health[i] * room)
    return float(max(0.0, whole - inner - blocks.growth[i] * b.polarisation_resistance))


@compiled
def _source(blocks: _Blocks, i: int, b: PackNumbers) -> tuple[float, float]:
    """Voltage without its resistance, and resistance, of a block."""
    rested, inner = rested_source(blocks.missing[i], b)
    return rested - blocks.slow[i], inner * blocks.growth[i]


@compiled
def _charge(blocks: _Blocks, i: int, b: PackNumbers) -> float:
    """State of charge of a block."""
    return float(state_of_charge(blocks.left[i], blocks.missing[i], blocks.filtered[i], b))


@compiled
def _move(
    blocks: _Blocks, i: int, current: float, dt: float, clock: float, b: PackNumbers, block_cutoff: float
) -> None:
    """One block through one step, and what is noted of it."""
    z = _charge(blocks, i, b)
    e, r = _source(blocks, i, b)
    volts = e - r * current
    blocks.lowest_charge[i] = min(blocks.lowest_charge[i], z)
    blocks.lowest_volts[i] = min(blocks.lowest_volts[i], volts)
    if current > 0.0 and volts < block_cutoff and np.isnan(blocks.below[i]):
        blocks.below[i] = clock
    if z <= 0.0 and np.isnan(blocks.empty[i]):
        blocks.empty[i] = clock
    settled = b.polarisation_resistance * blocks.growth[i] * current
    if z > 0.0:
        settled += beyond_resistance(z, e + blocks.slow[i], r, current, b)
    else:
        settled += exhausted_voltage(e + blocks.slow[i], current, b)
        blocks.slow[i] = max(blocks.slow[i], settled)  # it breaks down within seconds
    blocks.slow[i] = settled + (blocks.slow[i] - settled) * exp(-dt / b.polarisation_time)
    if z > 0.0 or current <= 0.0:
        _fill_or_drain(blocks, i, current, dt, b)
    else:
        _pass_on(blocks, i, current, dt, b)


@compiled
def exhausted_voltage(rested: float, current: float, b: PackNumbers) -> float:
    """What an empty block loses of its rested voltage while the string's current passes: all from the rated current on, MODEL.md (11.14). [V]

    Within minutes of the current's end it is gone, as every polarisation: a block that is driven backwards under load shows its
    rested voltage again while the vehicle stands.
    """
    return rested * min(1.0, max(0.0, current) / b.rated_current)


@compiled
def _pass_on(blocks: _Blocks, i: int, current: float, dt: float, b: PackNumbers) -> None:
    """An empty block under a discharge current: it gives nothing, until its law lets it recover in spite of the current."""
    before = _charge(blocks, i, b)
    left, missing, filtered = charges_after(
        blocks.left[i], blocks.missing[i], blocks.filtered[i], current, dt, b, blocks.health[i]
    )
    blocks.filtered[i] = filtered
    if state_of_charge(left, missing, filtered, b) > before:
        blocks.left[i], blocks.missing[i] = left, missing


@compiled
def _fill_or_drain(blocks: _Blocks, i: int, current: float, dt: float, b: PackNumbers) -> None:
    """One block's charge through one step; what is pushed into a full one is noted."""
    left, missing, filtered = charges_after(
        blocks.left[i], blocks.missing[i], blocks.filtered[i], current, dt, b, blocks.health[i]
    )
    if current < 0.0 and state_of_charge(left, missing, filtered, b) > 1.0:
        full = 0.0
        if b.law == TWO_WELL:
            full = missing - b.well_share * (1.0 - left)  # the bound well goes on filling from the full one
        blocks.overcharge[i] += (full - missing) * b.capacity * blocks.health[i] / b.coulombic
        left, missing = 1.0, full
    blocks.left[i], blocks.missing[i], blocks.filtered[i] = left, missing, filtered
