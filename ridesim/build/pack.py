"""The pack: chemistry, blocks, and every number of the battery model that a user may override."""

from __future__ import annotations

from itertools import pairwise
from typing import Any, Literal, Self

from pydantic import Field, ModelWrapValidatorHandler, model_validator

from ridesim.build.chemistry import CHEMISTRIES, Chemistry
from ridesim.forms import Part, Row, quantity
from ridesim.words import InputProblem

ChemistryName = Literal["lead-acid-agm", "lead-acid-gel", "lead-acid-flooded", "lithium-iron-phosphate", "lithium-nmc"]
_BY_CHEMISTRY = "by chemistry, see ridesim/build/chemistry.py"
LABEL_TO_MODEL_RESISTANCE = 1.6
"""Resistance under load over the 1 kHz figure on the label (1.5 to 2.5; from memory)."""


class Pack(Part):
    """Blocks in series, strings in parallel. A lithium pack with its own casing is one block."""

    chemistry: ChemistryName = quantity("what the cells are")
    block_voltage_v: float | None = quantity("nominal voltage of a block; 12 for lead-acid", None, gt=0.0, le=1000.0)
    cells_in_series: int | None = quantity("cells in series in one block; lithium must say", None, ge=1, le=400)
    blocks_in_series: int = quantity("blocks in series", 1, source="one block", ge=1, le=100)
    strings_in_parallel: int = quantity("strings in parallel", 1, source="one string", ge=1, le=50)
    block_capacity_ah: float = quantity("capacity of a block at its rated hours", gt=0.0, le=10_000.0)
    rated_hours: float = quantity(
        "hours of the capacity's rating",
        20.0,
        source="usual rating of small blocks; common practice",
        gt=0.0,
        le=1000.0,
    )
    capacity_by_hours: tuple[Row, ...] | None = Field(
        default=None,
        description="rows of [hours, ampere-hours] from the block's data sheet; replaces the Peukert exponent",
        strict=False,
        min_length=3,
    )
    peukert_exponent: float | None = quantity(
        "k of Peukert's law in the rated-capacity form", None, source=_BY_CHEMISTRY, ge=1.0, le=2.0
    )
    block_resistance_ohm: float | None = quantity(
        "resistance of a block, full, 25 °C", None, source="0.18/Ah a 12 V lead-acid block, 0.30/Ah a 12.8 V lithium one (from memory)",
        gt=0.0, le=10.0,
    )  # fmt: skip
    label_resistance_ohm: float | None = quantity(
        "the 1 kHz figure on the label; taken times 1.6", None, gt=0.0, le=10.0
    )
    open_circuit_v_per_cell: tuple[Row, ...] | None = Field(
        default=None,
        description="rows of [state of charge, rested volts a cell], from 0 to 1",
        json_schema_extra={"source": _BY_CHEMISTRY},
        strict=False,
        min_length=2,
        max_length=40,
    )
    polarisation_resistance_ohm: float | None = quantity(
        "slow part of a block's resistance", None, source=_BY_CHEMISTRY, ge=0.0, le=10.0
    )
    polarisation_time_s: float | None = quantity(
        "time constant of the slow part", None, source=_BY_CHEMISTRY, gt=0.0, le=86_400.0
    )
    resistance_rise: float | None = quantity(
        "growth of resistance towards empty", None, source=_BY_CHEMISTRY, ge=0.0, le=20.0
    )
    capacity_per_k: float | None = quantity(
        "capacity's share a kelvin away from 25 °C", None, source=_BY_CHEMISTRY, ge=0.0, le=0.02
    )
    resistance_per_k: float | None = quantity(
        "resistance's exponent a kelvin away from 25 °C", None, source=_BY_CHEMISTRY, ge=-0.1, le=0.0
    )
    absorption_v_per_cell: float | None = quantity(
        "charger's voltage a cell", None, source=_BY_CHEMISTRY, gt=0.0, le=5.0
    )
    absorption_time_h: float | None = quantity(
        "time constant of the charging tail", None, source=_BY_CHEMISTRY, gt=0.0, le=100.0
    )
    coulombic_efficiency: float | None = quantity(
        "ampere-hours out over ampere-hours in", None, source=_BY_CHEMISTRY, gt=0.0, le=1.0
    )
    energy_efficiency: float | None = quantity(
        "watt-hours out over watt-hours in", None, source=_BY_CHEMISTRY, gt=0.0, le=1.0
    )
    block_mass_kg: float | None = quantity(
        "mass of a block", None, source="30 Wh/kg lead-acid, 100 LFP, 150 NMC (from memory)", gt=0.0, le=2000.0
    )
    block_size_mm: tuple[float, float, float] | None = Field(
        default=None, description="length, width, height", strict=False
    )
    state_of_health: float = quantity(
        "present capacity over rated capacity", 1.0, source="new blocks assumed", gt=0.0, le=1.2
    )
    reserve: float = quantity(
        "state of charge the day should not go below", 0.2, source="common practice, no source", ge=0.0, lt=1.0
    )

    @model_validator(mode="wrap")
    @classmethod
    def _fill_in(cls, table: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        chemistry = table.get("chemistry") if isinstance(table, dict) else None
        if not isinstance(chemistry, str) or chemistry not in CHEMISTRIES:
            return handler(table)
        derived = _derived(table, CHEMISTRIES[chemistry])
        missing = {name: value for name, value in derived.items() if table.get(name) is None and value is not None}
        pack = handler({**table, **missing})
        pack.model_fields_set.difference_update(missing)  # defaults still, not the user's word
        return pack

    @model_validator(mode="after")
    def _consistent(self) -> Pack:
        if self.kind.is_lithium and self.cells_in_series is None:
            raise InputProblem(
                "", "cells_in_series", "nothing", "the number of cells in series, which a lithium block must say"
            )
        self._check_table("open_circuit_v_per_cell", self.rest_table, rising=True)
        z = [row[0] for row in self.rest_table]
        if z[0] != 0.0 or z[-1] != 1.0:
            raise InputProblem("", "open_circuit_v_per_cell", f"rows from {z[0]:g} to {z[-1]:g}", "rows from 0 to 1")
        if self.capacity_by_hours is not None:
            rows = tuple(sorted(self.capacity_by_hours))
            self._check_table("capacity_by_hours", rows, rising=True)
            if rows[0][0] <= 0.0 or rows[0][1] <= 0.0:
                raise InputProblem(
                    "", "capacity_by_hours", "a number of zero or less", "hours and ampere-hours above 0"
                )
        return self

    @staticmethod
    def _check_table(name: str, rows: tuple[tuple[float, float], ...], rising: bool) -> None:
        for number, (before, after) in enumerate(pairwise(rows), start=2):
            if after[0] <= before[0] or (rising and after[1] < before[1]):
                raise InputProblem(
                    "",
                    name,
                    f"row {number} [{after[0]:g}, {after[1]:g}] after [{before[0]:g}, {before[1]:g}]",
                    "both columns rising",
                )

    @property
    def kind(self) -> Chemistry:
        """The chemistry's row of defaults."""
        return CHEMISTRIES[self.chemistry]

    @property
    def rest_table(self) -> tuple[tuple[float, float], ...]:
        """Rows of state of charge and rested volts a cell."""
        assert self.open_circuit_v_per_cell is not None
        return self.open_circuit_v_per_cell

    @property
    def cells(self) -> int:
        """Cells in series in the whole pack."""
        assert self.cells_in_series is not None
        return self.cells_in_series * self.blocks_in_series

    @property
    def nominal_voltage_v(self) -> float:
        """Label voltage of the pack. [V]"""
        assert self.block_voltage_v is not None
        return self.block_voltage_v * self.blocks_in_series

    @property
    def full_voltage_v(self) -> float:
        """Voltage at the end of charging, charger still on. [V]"""
        assert self.absorption_v_per_cell is not None
        return self.absorption_v_per_cell * self.cells

    @property
    def capacity_ah(self) -> float:
        """Rated capacity of all strings, state of health left out. [Ah]"""
        return self.block_capacity_ah * self.strings_in_parallel

    @property
    def mass_kg(self) -> float:
        """All blocks. [kg]"""
        assert self.block_mass_kg is not None
        return self.block_mass_kg * self.blocks_in_series * self.strings_in_parallel


def _derived(table: dict[str, Any], chemistry: Chemistry) -> dict[str, Any]:
    """What follows from the chemistry and the block's size; left out where the inputs are not numbers."""
    derived: dict[str, Any] = {
        name: getattr(chemistry, name)
        for name in (
            "open_circuit_v_per_cell", "peukert_exponent", "resistance_rise", "polarisation_time_s", "capacity_per_k",
            "resistance_per_k", "absorption_v_per_cell", "absorption_time_h", "coulombic_efficiency", "energy_efficiency",
        )
    }  # fmt: skip
    volts, cells = _positive(table, "block_voltage_v"), _positive(table, "cells_in_series")
    if not chemistry.is_lithium:
        volts = volts or (chemistry.cell_v * cells if cells else 12.0)
        derived["cells_in_series"] = round(volts / chemistry.cell_v)
    elif cells and not volts:
        volts = round(cells * chemistry.cell_v, 6)
    derived["block_voltage_v"] = volts
    capacity = _positive(table, "block_capacity_ah")
    if capacity and volts:
        label = _positive(table, "label_resistance_ohm")
        rule = chemistry.ohm_ah / capacity * volts / chemistry.reference_v
        derived["block_resistance_ohm"] = LABEL_TO_MODEL_RESISTANCE * label if label else rule
        resistance = _positive(table, "block_resistance_ohm") or derived["block_resistance_ohm"]
        derived["polarisation_resistance_ohm"] = chemistry.polarisation_share * resistance
        derived["block_mass_kg"] = volts * capacity / chemistry.wh_per_kg
    return derived


def _positive(table: dict[str, Any], key: str) -> float | None:
    """A number above zero, or None for anything else, which validation then names."""
    value = table.get(key)
    return value if isinstance(value, int | float) and not isinstance(value, bool) and value > 0 else None
