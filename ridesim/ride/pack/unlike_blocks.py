"""Blocks that are not alike: a tired one in a series string, old strings beside new ones, on a day that was ridden.

The ride's power at the terminals is asked of the real blocks, each with its own charge, voltage and resistance; its
state moves in closed form from one kept step to the next. The controller's current limit and cut-off hold; once they
bite, the vehicle would fall behind the ride, so what comes after that moment is only an outline.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, sqrt

import numpy as np
from numpy.typing import NDArray

from ridesim.physics.capacity_laws import TWO_WELL
from ridesim.physics.compiled import compiled
from ridesim.physics.pack import open_circuit, resistance_factor
from ridesim.ride.core.pack import charge_room, charges_at, charges_from, missing_share, state_of_charge
from ridesim.ride.pack.block import BlockNumbers, block_numbers, charges_after
from ridesim.ride.result import Ride
from ridesim.vehicle import Pack
from ridesim.vehicle.care import worn_resistance_factor
from ridesim.words import InputProblem, is_number, shown

FloatArray = NDArray[np.float64]

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
        share, factor, z = self.health, self.resistance_factor, self.start_charge
        checks = (
            ("health", share, is_number(share) and 0.0 < share <= 1.2, "a share above 0 and up to 1.2"),
            ("resistance_factor", factor, factor is None or (is_number(factor) and 0.0 < factor <= 1000.0), "a number above 0 and up to 1000"),
            ("start_charge", z, z is None or (is_number(z) and 0.0 <= z <= 1.0), "a state of charge from 0 to 1"),
        )  # fmt: skip
        for key, value, good, expected in checks:
            if not good:
                raise InputProblem(f'block "{self.name}"', key, shown(value), expected)

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
    end_charge, lowest_charge : float
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
        Other numbers of strings or blocks than the pack's, something else than blocks, or a ride without rows.
    """
    pack, day = ride.build.pack, ride.day
    _check(ride, strings)
    flat = [block for string in strings for block in string]
    length = len(strings[0])
    numbers = block_numbers(pack, day.ambient_c, ride.battery_model, health=1.0)
    state = np.zeros((len(flat), 3))  # the law's two charges and the polarisation
    begin = float(ride.rows["state_of_charge"][0])
    as_ridden = charges_from(begin, float(ride.rows["second_charge"][0]), numbers)
    for row, block in zip(state, flat, strict=True):
        row[:2] = as_ridden if block.start_charge is None else charges_at(block.start_charge, numbers)
    health = np.array([block.health for block in flat])
    growth = _growth(pack, flat)
    rows = ride.rows
    cutoff = pack.kind.cutoff_v_per_cell * float(pack.cells_in_series or 1)
    noted = np.full((len(flat), 5), np.nan)  # lowest charge, lowest volts, collapse, empty, overcharge [A s]
    noted[:, 0], noted[:, 1], noted[:, 4] = np.inf, np.inf, 0.0
    given = np.zeros(len(strings))
    voltage = np.empty((len(rows), len(flat)))
    clock, current = rows["time_s"].copy(), rows["pack_current_a"].copy()
    short = _walk(
        clock, rows["pack_voltage_v"] * current, current, state, health, growth, length, numbers, cutoff,
        ride.build.cutoff_voltage_v, _current_limit(ride), noted, given, voltage,
    )  # fmt: skip
    total = given.sum()
    blocks = tuple(
        BlockOutcome(
            block=block,
            string=index // length + 1,
            end_charge=_charge_of(state[index], numbers),
            lowest_charge=max(0.0, float(noted[index, 0])),
            lowest_voltage_v=float(noted[index, 1]),
            collapse_s=_moment(float(np.fmin(noted[index, 2], noted[index, 3]))),
            empty_s=_moment(noted[index, 3]),
            overcharge_ah=float(noted[index, 4]) / 3600.0,
        )
        for index, block in enumerate(flat)
    )
    return StringsOutcome(
        ride=ride,
        blocks=blocks,
        string_share=tuple(float(each / total) if total > 0.0 else 0.0 for each in given),
        connecting_current_a=connecting_current(pack, strings, begin, day.ambient_c),
        power_short_s=_moment(short),
        clock_s=clock,
        block_voltage_v=voltage,
    )


def _growth(pack: Pack, blocks: Sequence[RealBlock]) -> FloatArray:
    """Resistance of each block over that of the pack's own blocks, which are as worn as the pack says."""
    return np.array([block.resistance_in_use for block in blocks]) / worn_resistance_factor(pack.state_of_health)


def _current_limit(ride: Ride) -> float:
    """Largest current the controller and what hangs beside it take; the ride's own where that was more. [A]"""
    control = ride.build.controller
    return max(control.max_battery_current_a + control.standby_current_a, ride.outcome.highest_pack_current_a) + 1e-6


def _check(ride: Ride, strings: Sequence[Sequence[RealBlock]]) -> None:
    pack = ride.build.pack
    if not isinstance(strings, Sequence) or isinstance(strings, str):
        raise InputProblem("the blocks", "", shown(strings), "a list of strings, each a list of RealBlock")
    for number, string in enumerate(strings, start=1):
        if not isinstance(string, Sequence) or isinstance(string, str):
            raise InputProblem("the blocks", f"string {number}", shown(string), "a list of RealBlock")
        for place, block in enumerate(string, start=1):
            if not isinstance(block, RealBlock):
                where = f"string {number}, block {place}"
                raise InputProblem("the blocks", where, shown(block), 'a RealBlock, such as RealBlock("A", health=0.8)')
    found = " + ".join(str(len(string)) for string in strings) or "none"
    wanted = [pack.blocks_in_series] * pack.strings_in_parallel
    if [len(string) for string in strings] != wanted:
        raise InputProblem(
            "the blocks",
            "",
            f"{found} blocks in {len(strings)} string" + ("" if len(strings) == 1 else "s"),
            f"{pack.strings_in_parallel} of {pack.blocks_in_series} in series, as in {ride.build.name}",
        )
    if len(ride.rows) == 0:
        raise InputProblem("the ride", "rows", "none", "a ride that kept its rows (keep_rows=True)")


def _moment(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def _charge_of(state: FloatArray, numbers: BlockNumbers) -> float:
    return max(0.0, float(state_of_charge(state[0], state[1], numbers)))


def connecting_current(
    pack: Pack, strings: Sequence[Sequence[RealBlock]], start: float = 1.0, temperature: float = 25.0
) -> float:
    """Largest current between strings at the moment they are joined: ΔE/(R_a + R_b), 0 for one string. [A]"""
    numbers = block_numbers(pack, temperature, "peukert", health=1.0)
    volts, ohms = [], []
    for string in strings:
        charges = [start if block.start_charge is None else block.start_charge for block in string]
        volts.append(sum(float(open_circuit(z, numbers.table_z, numbers.table_v)) for z in charges))
        ohms.append(
            sum(
                numbers.resistance * growth * float(resistance_factor(z, numbers.resistance_rise))
                for growth, z in zip(_growth(pack, string), charges, strict=True)
            )
        )
    pairs = [(i, j) for i in range(len(volts)) for j in range(i)]
    return max((abs(volts[i] - volts[j]) / (ohms[i] + ohms[j]) for i, j in pairs), default=0.0)


@compiled
def _walk(
    clock: FloatArray,
    power: FloatArray,
    pack_current: FloatArray,
    state: FloatArray,
    health: FloatArray,
    growth: FloatArray,
    length: int,
    b: BlockNumbers,
    cutoff: float,
    floor: float,
    limit: float,
    noted: FloatArray,
    given: FloatArray,
    voltage: FloatArray,
) -> float:
    """Move all blocks through the rows; returns when the power was first short, or NaN."""
    blocks = state.shape[0]
    strings = blocks // length
    emf = np.empty(strings)
    ohms = np.empty(strings)
    short = np.nan
    for row in range(clock.shape[0]):
        span = clock[row + 1] - clock[row] if row + 1 < clock.shape[0] else 0.0
        steps = max(1, int(np.ceil(span / LONGEST_STEP_S)))
        dt = span / steps
        for step in range(steps):
            # The mean of the row's two ends is asked for over its span, as the ride's own steps see it.
            share = (step + 0.5) / steps
            alone = span == 0.0  # the last row, and the one before a jump
            asked = power[row] if alone else power[row] + share * (power[row + 1] - power[row])
            plain = (
                pack_current[row] if alone else pack_current[row] + share * (pack_current[row + 1] - pack_current[row])
            )
            for s in range(strings):
                emf[s], ohms[s] = 0.0, 0.0
                for i in range(s * length, (s + 1) * length):
                    e, r = _source(state, i, growth[i], b)
                    emf[s] += e
                    ohms[s] += r + (_charging_ohm(state, i, health[i], r, growth[i], b) if plain < 0.0 else 0.0)
            conductance, drive = 0.0, 0.0
            for s in range(strings):
                conductance += 1.0 / ohms[s]
                drive += emf[s] / ohms[s]
            if plain >= 0.0:
                root = drive * drive - 4.0 * conductance * asked
                volts = (drive + sqrt(max(0.0, root))) / (2.0 * conductance)
                if asked > 0.0 and volts < floor:
                    volts = min(floor, drive / conductance)
                    if np.isnan(short):
                        short = clock[row]
                volts = max(volts, (drive - limit) / conductance)
            else:
                volts = (drive - plain) / conductance  # a charger sets the current
            for s in range(strings):
                current = (emf[s] - volts) / ohms[s]
                given[s] += max(0.0, current) * dt
                for i in range(s * length, (s + 1) * length):
                    _move(state, i, current, dt, clock[row] + step * dt, health[i], growth[i], b, cutoff, noted)
                    if step == 0:
                        e, r = _source(state, i, growth[i], b)
                        voltage[row, i] = e - r * current
                        if plain < 0.0 and current < 0.0:
                            # Above its share of the charger's voltage a block is being overcharged: how high is not reckoned.
                            room = max(0.0, b.absorption - voltage[row, i])
                            voltage[row, i] += min(room, -current * _charging_ohm(state, i, health[i], r, growth[i], b))
    return short


@compiled
def _charging_ohm(state: FloatArray, i: int, health: float, inner: float, growth: float, b: BlockNumbers) -> float:
    """Resistance of acceptance of a block on charge: the fuller, the higher; it shares the current between strings."""
    whole = 1.0 / (b.acceptance * health * max(LEAST_ROOM, charge_room(state[i, 0], state[i, 1], b)))
    return max(0.0, whole - inner - growth * b.polarisation_resistance)


@compiled
def _source(state: FloatArray, i: int, growth: float, b: BlockNumbers) -> tuple[float, float]:
    """Voltage without its resistance, and resistance, of a block. An emptied one is driven backwards: no voltage of its own."""
    z = state_of_charge(state[i, 0], state[i, 1], b)
    inner = b.resistance * growth * resistance_factor(min(1.0, max(0.0, z)), b.resistance_rise)
    if z <= 0.0:
        return -state[i, 2], inner
    return open_circuit(z, b.table_z, b.table_v) - state[i, 2], inner


@compiled
def _move(
    state: FloatArray,
    i: int,
    current: float,
    dt: float,
    clock: float,
    health: float,
    growth: float,
    b: BlockNumbers,
    cutoff: float,
    noted: FloatArray,
) -> None:
    """One block through one step, and what is noted of it."""
    z = state_of_charge(state[i, 0], state[i, 1], b)
    e, r = _source(state, i, growth, b)
    volts = e - r * current
    noted[i, 0] = min(noted[i, 0], z)
    noted[i, 1] = min(noted[i, 1], volts)
    if current > 0.0 and volts < cutoff and np.isnan(noted[i, 2]):
        noted[i, 2] = clock
    if z <= 0.0 and np.isnan(noted[i, 3]):
        noted[i, 3] = clock
    if z <= 0.0 and current > 0.0:
        pass  # empty: it only passes the string's current on
    else:
        q1, q2 = charges_after(state[i, 0], state[i, 1], current, dt, b, health)
        if current < 0.0 and state_of_charge(q1, q2, b) > 1.0:
            full1, full2 = charges_at(1.0, b)
            if b.law == TWO_WELL:
                full2 = q2  # the bound well goes on filling from the full one
            over = missing_share(full1, full2, b) - missing_share(q1, q2, b)
            noted[i, 4] += over * b.capacity * health / b.coulombic
            q1, q2 = full1, full2
        state[i, 0], state[i, 1] = q1, q2
    slow = b.polarisation_resistance * growth
    settled = slow * current
    state[i, 2] = settled + (state[i, 2] - settled) * exp(-dt / b.polarisation_time)
