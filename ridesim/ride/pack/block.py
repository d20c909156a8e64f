"""One block of a pack: its numbers, and the three capacity laws in closed form under a constant current.

Each law carries two charges, as in a ride (:func:`ridesim.ride.core.rates.charges_at`,
:func:`ridesim.ride.core.rates.state_of_charge`). A ride integrates their rates; :func:`charges_after` gives the same result in
closed form.
"""

from __future__ import annotations

from math import exp
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ridesim.physics.capacity_laws import FILTER_S, LAW_NAMES, PEUKERT, TWO_WELL, peukert_factor, two_well_after
from ridesim.physics.charging import acceptance
from ridesim.physics.compiled import compiled
from ridesim.physics.pack import REFERENCE_C, resistance_temperature_factor
from ridesim.ride.core.rates import FILTER_SCALE, NEARLY_NOTHING
from ridesim.ride.machine import absorption_at, capacity_factor_at, tail_overvoltage
from ridesim.ride.pack.laws import SaturatingFit, TwoWellFit, choose_law, fit_peukert, fit_saturating, fit_two_well
from ridesim.vehicle import Pack


class BlockNumbers(NamedTuple):
    """A block in SI numbers at one temperature and under one law; names as in :class:`ridesim.ride.machine.Machine`."""

    capacity: float  # [A s]
    rated_current: float
    exponent: float
    law: int
    well_share: float
    well_rate: float  # [1/s]
    well_whole: float  # [A s]
    law_capacity: float  # [A s]
    law_gain: float
    law_reference: float
    law_exponent: float
    coulombic: float
    table_z: NDArray[np.float64]
    table_v: NDArray[np.float64]
    resistance: float
    resistance_rise: float
    polarisation_resistance: float
    polarisation_time: float
    acceptance: float  # where C is missing from the block [S]
    charger_volts: float  # a block's share of the charger's voltage [V]


def block_numbers(
    pack: Pack, temperature: float = REFERENCE_C, battery_model: str | None = None, health: float | None = None
) -> BlockNumbers:
    """Numbers of one block of a pack.

    Parameters
    ----------
    pack : Pack
        A validated pack.
    temperature : float
        [°C]
    battery_model : str, optional
        The capacity law, as in :func:`ridesim.simulate`.
    health : float, optional
        Present over rated capacity; None: the pack's own.
    """
    law = choose_law(pack, battery_model)
    wells = fit_two_well(pack) if law == "two-well" else TwoWellFit(0.5, 1.0, 1.0, 0.0)
    curve = fit_saturating(pack) if law == "saturating" else SaturatingFit(1.0, 1.0, 1.0, 1.0, 0.0)
    assert pack.block_resistance_ohm is not None
    assert pack.resistance_per_k is not None
    assert pack.resistance_rise is not None
    assert pack.polarisation_resistance_ohm is not None
    assert pack.polarisation_time_s is not None
    assert pack.coulombic_efficiency is not None
    assert pack.cells_in_series is not None
    assert pack.absorption_time_h is not None
    ampere_seconds = 3600.0 * capacity_factor_at(pack, temperature)
    ampere_seconds *= pack.state_of_health if health is None else health
    table = np.array(pack.rest_table, dtype=float)
    return BlockNumbers(
        capacity=pack.block_capacity_ah * ampere_seconds,
        rated_current=pack.block_capacity_ah / pack.rated_hours,
        exponent=fit_peukert(pack).exponent,
        law=LAW_NAMES.index(law),
        well_share=wells.share,
        well_rate=wells.rate_per_h / 3600.0,
        well_whole=wells.whole_ah * ampere_seconds,
        law_capacity=curve.capacity_ah * ampere_seconds,
        law_gain=curve.gain,
        law_reference=curve.reference_a,
        law_exponent=curve.exponent,
        coulombic=pack.coulombic_efficiency,
        table_z=np.ascontiguousarray(table[:, 0]),
        table_v=np.ascontiguousarray(table[:, 1]) * pack.cells_in_series,
        resistance=pack.block_resistance_ohm * resistance_temperature_factor(temperature, pack.resistance_per_k),
        resistance_rise=pack.resistance_rise,
        polarisation_resistance=pack.polarisation_resistance_ohm,
        polarisation_time=pack.polarisation_time_s,
        acceptance=acceptance(
            pack.block_capacity_ah * ampere_seconds,
            tail_overvoltage(pack, temperature),
            3600.0 * pack.absorption_time_h,
        ),
        charger_volts=absorption_at(pack, temperature) / pack.blocks_in_series,
    )


def whole_charge(b: BlockNumbers) -> float:
    """All the charge between a rested full block and an empty one, under its law. [A s]"""
    if b.law == PEUKERT:
        return b.capacity
    return b.well_whole if b.law == TWO_WELL else b.law_gain * b.law_capacity


@compiled
def charges_after(
    q1: float, q2: float, current: float, time: float, b: BlockNumbers, health: float = 1.0
) -> tuple[float, float]:
    """The law's two charges after a constant current, in closed form.

    Parameters
    ----------
    q1, q2 : float
        The law's charges at the start, as in :func:`ridesim.ride.core.rates.charge_rates`.
    current : float
        Discharge positive. [A]
    time : float
        [s]
    b : BlockNumbers
        The block.
    health : float
        Its capacity over that of ``b``; the currents at which the law bends stay the label's, as in a ride. [-]

    Returns
    -------
    tuple of float
        The charges at the end.
    """
    counted = (current if current >= 0.0 else b.coulombic * current) / health
    if b.law == PEUKERT:
        share = counted / b.capacity * time
        if current > 0.0:
            return q1 - share * peukert_factor(current, b.rated_current, b.exponent), q2 + share
        # z rises in proportion to the charge put back, so that q2 is 0 when z is 1; beyond full, ampere-hour for ampere-hour.
        up = min(-share, q2) if q2 > NEARLY_NOTHING else 0.0
        gain = up * (1.0 - q1) / q2 if up > 0.0 else 0.0
        return q1 + gain - share - up, q2 + share
    if b.law == TWO_WELL:
        return two_well_after(q1, q2, counted / b.well_whole, time, b.well_share, b.well_rate)
    settled = max(0.0, current) / (FILTER_SCALE * b.law_reference)
    return q1 + counted / b.law_capacity * time, settled + (q2 - settled) * exp(-time / FILTER_S)
