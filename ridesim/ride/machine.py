"""From a build and a day to the plain SI numbers of the compiled core."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import log
from operator import attrgetter
from typing import Any, cast, get_type_hints

import numpy as np
from numpy.typing import NDArray

from ridesim.day import SURFACES
from ridesim.physics.capacity_laws import LAW_NAMES, saturating_capacity
from ridesim.physics.charging import acceptance_conductance, compensated_voltage
from ridesim.physics.pack import REFERENCE_C, capacity_temperature_factor, resistance_temperature_factor
from ridesim.ride.core.pack import ACTIVATION_PER_H
from ridesim.ride.core.records import TABLE_POINTS, Machine, PackNumbers, records
from ridesim.ride.pack.laws import SaturatingFit, charge_in, choose_law, fit_peukert, fit_saturating, fit_two_well
from ridesim.vehicle import Build, Pack
from ridesim.vehicle.motor_heat import motor_numbers

FROM_BUILD = {
    name: hint.__metadata__[0]
    for name, hint in get_type_hints(Machine, include_extras=True).items()
    if isinstance(getattr(hint, "__metadata__", (None,))[0], str)
}
"""Fields of the core's record that are a value of the build as it stands, and where in it."""
_read = attrgetter(*FROM_BUILD.values())


@lru_cache(maxsize=128)
def machine(build: Build, pack_temperature: float = REFERENCE_C, battery_model: str | None = None) -> Machine:
    """A build's numbers for the core.

    Parameters
    ----------
    build : Build
        A validated build.
    pack_temperature : float
        Temperature of the pack. [°C]
    battery_model : {"recovery", "peukert", "saturating", "two-well"}, optional
        The capacity law; None: recovery.

    Returns
    -------
    Machine
        Kept for builds asked again, so nobody may write into it.

    Raises
    ------
    InputProblem
        An unknown capacity law.
    """
    return cast(Machine, machines_of([build], pack_temperature, battery_model)[0])


def machines_of(
    builds: Sequence[Build],
    pack_temperature: float | NDArray[np.float64] = REFERENCE_C,
    battery_model: str | None = None,
) -> NDArray[np.void]:
    """Several builds' numbers, an array of :class:`ridesim.ride.core.records.Machine`; parameters as of :func:`machine`.

    ``pack_temperature`` may be one a build.
    """
    degrees = np.broadcast_to(pack_temperature, len(builds)).tolist()
    rows = [_build_values(build, each, battery_model) for build, each in zip(builds, degrees, strict=True)]
    return records(Machine, rows)


def _build_values(build: Build, pack_temperature: float, battery_model: str | None) -> dict[str, Any]:
    """The numbers of a build by name."""
    return {
        **dict(zip(FROM_BUILD, _read(build), strict=True)),
        **motor_numbers(build.motor),
        **build.motor.heat._asdict(),
        "grip": [getattr(build.vehicle.grip, ground) for ground in SURFACES],
        "cuts_out": build.controller.cutoff_action == "cut-out",
        "pack": pack_numbers(build.pack, pack_temperature, battery_model),
    }


@lru_cache(maxsize=1024)
def pack_numbers(
    pack: Pack,
    temperature: float = REFERENCE_C,
    battery_model: str | None = None,
    *,
    one_block: bool = False,
    health: float | None = None,
) -> PackNumbers:
    """Numbers of a pack, or of one of its blocks.

    Parameters
    ----------
    pack : Pack
        A validated pack.
    temperature : float
        [°C]
    battery_model : str, optional
        The capacity law, as in :func:`ridesim.simulate`.
    one_block : bool
        Whether voltages and resistances are those of one block.
    health : float, optional
        Present over rated capacity; None: the pack's own.

    Returns
    -------
    PackNumbers
        Kept for packs asked again, so nobody may write into it.
    """
    return cast(
        PackNumbers, records(PackNumbers, [_pack_values(pack, temperature, battery_model, one_block, health)])[0]
    )


def _pack_values(
    pack: Pack, temperature: float, battery_model: str | None, one_block: bool, health: float | None
) -> dict[str, Any]:
    """The numbers of :func:`pack_numbers` by name."""
    blocks, strings = (1, 1) if one_block else (pack.blocks_in_series, pack.strings_in_parallel)
    ladder = blocks / strings
    ampere_seconds = 3600.0 * capacity_factor_at(pack, temperature)
    ampere_seconds *= pack.state_of_health if health is None else health
    law, curve, in_force = choose_law(battery_model), fit_saturating(pack), pack.in_force
    law_numbers = _law_numbers(law, pack, curve)
    capacity = law_numbers.pop("slow_ah") * ampere_seconds
    table_z, table_v = _table(in_force.open_circuit_v_per_cell)
    cells = in_force.cells_in_series * blocks
    end_volts, end_fall = _end_voltage(pack, curve)
    charger = absorption_at(pack, temperature)
    factor = resistance_temperature_factor(temperature, pack.in_force.resistance_per_k)
    return dict(
        strings=float(strings),
        capacity=capacity,
        rated_current=pack.block_capacity_ah / pack.rated_hours,
        law=LAW_NAMES.index(law),
        **law_numbers,
        coulombic=pack.in_force.coulombic_efficiency,
        table_z=table_z,
        table_v=table_v * cells,
        resistance=ladder * pack.in_force.block_resistance_ohm * factor,
        resistance_rise=pack.in_force.resistance_rise,
        polarisation_resistance=ladder * pack.in_force.polarisation_resistance_ohm,
        polarisation_time=pack.in_force.polarisation_time_s,
        activation=pack.in_force.activation_v_per_cell * cells,
        activation_current=ACTIVATION_PER_H * pack.block_capacity_ah,
        end_volts=end_volts * cells,
        end_fall=end_fall * cells,
        absorption=charger / pack.blocks_in_series if one_block else charger,
        acceptance=acceptance_conductance(
            capacity * strings,
            tail_overvoltage(pack, temperature) * blocks,
            pack.in_force.absorption_time_h * 3600.0,
            charger / pack.cells - wanted_voltage(pack, temperature),
        ),
    )


def _law_numbers(law: str, pack: Pack, curve: SaturatingFit) -> dict[str, float]:
    """A law's numbers by the names of the core's record, and ``slow_ah``: what a block gives at slow rates under it. [Ah]"""
    if law == "peukert":
        return {"slow_ah": pack.block_capacity_ah, "exponent": fit_peukert(pack).exponent}
    if law == "two-well":
        wells = fit_two_well(pack)
        return {"slow_ah": wells.whole_ah, "well_share": wells.share, "well_rate": wells.rate_per_h / 3600.0}
    level = curve.level_a / curve.reference_a
    power = level**curve.exponent
    return {
        "slow_ah": saturating_capacity(curve.level_a, curve.capacity_ah, curve.gain, curve.reference_a, curve.exponent),
        "bend": (curve.gain - 1.0) / (1.0 + (curve.gain - 1.0) * power),
        "exponent": curve.exponent,
        "level": power,
        "recovery": pack.in_force.recovery_share if law == "recovery" else 1.0,
    }


def _end_voltage(pack: Pack, curve: SaturatingFit) -> tuple[float, float]:
    """Volts a cell at empty under the rated current, and their fall for each factor e of the current: a line through the sheet's rows."""
    rows = pack.in_force.end_voltage_v_per_cell
    if len(rows) == 1:
        return rows[0][1], 0.0
    rated = pack.block_capacity_ah / pack.rated_hours
    rates = [log(charge_in(hours, *curve) / hours / rated) for hours, _ in rows]
    mean, mean_volts = sum(rates) / len(rows), sum(volts for _, volts in rows) / len(rows)
    apart = [rate - mean for rate in rates]
    fall = -sum(x * volts for x, (_, volts) in zip(apart, rows, strict=True)) / sum(x * x for x in apart)
    return mean_volts + fall * mean, max(0.0, fall)


def capacity_factor_at(pack: Pack, temperature: float) -> float:
    """Capacity over that at 25 °C: the block's own rows where given, level beyond their ends, else a straight line.

    Rows on both sides of 25 °C are divided by their share there. Where none reaches it, there is nothing to divide by:
    the shares stand as they are, and 25 °C counts as 1 (unless the rows themselves are past it, then level).
    """
    if pack.capacity_by_temperature is None:
        return capacity_temperature_factor(temperature, pack.in_force.capacity_per_k)
    degrees, shares = np.array(sorted(pack.capacity_by_temperature), dtype=float).T
    if degrees[-1] < REFERENCE_C:
        degrees, shares = np.append(degrees, REFERENCE_C), np.append(shares, max(1.0, shares[-1]))
        whole = 1.0
    elif degrees[0] > REFERENCE_C:
        degrees, shares = np.append(REFERENCE_C, degrees), np.append(min(1.0, shares[0]), shares)
        whole = 1.0
    else:
        whole = float(np.interp(REFERENCE_C, degrees, shares))
    return float(np.interp(temperature, degrees, shares)) / whole


def absorption_at(pack: Pack, temperature: float) -> float:
    """Charger's voltage for the pack, compensated for temperature where the charger does so. [V]"""
    per_k = pack.charge_compensation_v_per_cell_per_k
    return compensated_voltage(pack.full_voltage_v, pack.cells, per_k, temperature)


def highest_charger_v(pack: Pack, ambient_c: float) -> float:
    """Most that the charger puts on the pack, and on all that stays connected: in this air, or at 25 °C where that is more. [V]"""
    return max(pack.full_voltage_v, absorption_at(pack, ambient_c))


LEAST_OVERVOLTAGE_V = 0.02
"""Least overvoltage of the tail, a cell, for a rested-voltage table that reaches up to the reference voltage. [V]"""


def wanted_voltage(pack: Pack, temperature: float = REFERENCE_C) -> float:
    """Absorption voltage that the chemistry wants at a temperature, a cell. [V]

    A charger that is compensated as the makers ask keeps its tail, a plain one is slow in the cold and too strong in the heat. That cold
    cells accept charge more slowly at the right voltage too is not modelled.
    """
    return compensated_voltage(pack.kind.absorption_v_per_cell, 1, pack.kind.compensation_v_per_cell_per_k, temperature)


def tail_overvoltage(pack: Pack, temperature: float = REFERENCE_C) -> float:
    """What the absorption voltage that the chemistry wants leaves above a block's rested voltage where the tail ends. [V]

    Lead-acid: above E(1). A lithium cell's rested voltage itself climbs to the charger's in the last per cents, so its
    tail is reckoned from the plateau before that climb.
    """
    rested = _rested_at(pack.kind.tail_rested_at, pack.in_force.open_circuit_v_per_cell)
    return max(wanted_voltage(pack, temperature) - rested, LEAST_OVERVOLTAGE_V) * pack.in_force.cells_in_series


@lru_cache(maxsize=256)
def _rested_at(charge: float, rows: tuple[tuple[float, float], ...]) -> float:
    """Rested volts a cell at a state of charge."""
    return float(np.interp(charge, *np.array(rows).T))


@lru_cache(maxsize=256)
def _table(rows: tuple[tuple[float, float], ...]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """A rested-voltage table's columns, filled up with points beyond its end that say the same."""
    beyond = [(rows[-1][0] + step, rows[-1][1]) for step in range(1, TABLE_POINTS - len(rows) + 1)]
    z, volts = np.array([*rows, *beyond]).T
    return z, volts
