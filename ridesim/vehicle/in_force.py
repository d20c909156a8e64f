"""Every value of a pack that counts: stated in its file, else by its chemistry, else by its block's size."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

from ridesim.vehicle.care import worn_resistance_factor

if TYPE_CHECKING:
    from ridesim.vehicle.pack import Pack

LABEL_TO_MODEL_RESISTANCE = 1.6
"""Resistance under load over the 1 kHz figure on the label (1.5 to 2.5; from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InForce:
    """A pack's values with nothing left open; meanings and units as in :class:`ridesim.vehicle.pack.Pack`."""

    block_voltage_v: float
    cells_in_series: int
    peukert_exponent: float
    recovery_share: float
    activation_v_per_cell: float
    end_voltage_v_per_cell: tuple[tuple[float, float], ...]
    block_resistance_ohm: float
    polarisation_resistance_ohm: float
    polarisation_time_s: float
    resistance_rise: float
    open_circuit_v_per_cell: tuple[tuple[float, float], ...]
    capacity_per_k: float
    resistance_per_k: float
    absorption_v_per_cell: float
    absorption_time_h: float
    coulombic_efficiency: float
    energy_efficiency: float
    block_mass_kg: float
    max_charge_current_a: float
    self_discharge_per_month: float
    cycle_life: tuple[tuple[float, float], ...]
    calendar_years: float


KEYS = tuple(field.name for field in fields(InForce))


def fill_in(pack: Pack) -> InForce:
    """What is stated of a pack, and the rest by rule.

    Notes
    -----
    A label's resistance and the rule for the chemistry are those of a new block, so they grow with the capacity lost; a
    stated ``block_resistance_ohm`` is this block's own and stays.
    """
    kind, capacity = pack.kind, pack.block_capacity_ah
    volts, cells = pack.block_voltage_v, pack.cells_in_series
    if volts is None:
        volts = round(cells * kind.cell_v, 6) if cells else 12.0
    rule = kind.ohm_ah / capacity * volts / kind.reference_v
    label = pack.label_resistance_ohm
    new = LABEL_TO_MODEL_RESISTANCE * label if label else rule
    resistance = pack.block_resistance_ohm or worn_resistance_factor(pack.state_of_health) * new
    rules: dict[str, Any] = {
        **{name: getattr(kind, name) for name in KEYS if hasattr(kind, name)},
        "block_voltage_v": volts,
        "cells_in_series": round(volts / kind.cell_v),
        "block_resistance_ohm": resistance,
        "polarisation_resistance_ohm": kind.polarisation_share * resistance,
        "block_mass_kg": volts * capacity / kind.wh_per_kg,
        "max_charge_current_a": kind.charge_share * capacity,
    }
    stated = {name: getattr(pack, name) for name in KEYS if getattr(pack, name) is not None}
    return InForce(**{**rules, **stated})
