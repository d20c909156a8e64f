"""The pack: chemistry, blocks, and every number of the battery model that a user may override."""

from __future__ import annotations

from functools import cached_property
from typing import Any, Literal

from pydantic import Field, model_validator

from ridesim.forms import Part, Row, quantity
from ridesim.vehicle.chemistry import CHEMISTRIES, Chemistry
from ridesim.vehicle.in_force import KEYS, InForce, fill_in
from ridesim.vehicle.pack_rows import (
    check_cycle_life,
    check_end_voltage,
    check_label,
    check_rested,
    check_sheet,
    check_warmth,
)
from ridesim.vehicle.place import ABOVE, FORWARD, Place
from ridesim.words import InputProblem

ChemistryName = Literal["lead-acid-agm", "lead-acid-gel", "lead-acid-flooded", "lithium-iron-phosphate", "lithium-nmc"]
RATED_C = 25.0
"""Temperature at which the capacity is rated. [°C]"""
NAME_OFF = 0.14
"""A block's name over its cells may be off by this: 12 V for four lithium cells, 24 V for seven."""


def _by_chemistry(meaning: str, **limits: Any) -> Any:
    """A field that the chemistry's row settles where the file does not."""
    return quantity(meaning, None, source="by chemistry, see ridesim/vehicle/chemistry.py", **limits)


class Pack(Part):
    """Blocks in series, strings in parallel. A lithium pack with its own casing is one block."""

    chemistry: ChemistryName = quantity("what the cells are")
    block_voltage_v: float | None = quantity(
        "nominal voltage of a block", None, source="12 V lead-acid; lithium 3.2 V (LFP) or 3.6 V (NMC) a cell", gt=0.0, le=1000.0
    )  # fmt: skip
    cells_in_series: int | None = quantity(
        "cells in series in one block; lithium must say", None, source="2 V a lead-acid cell", ge=1, le=400
    )
    blocks_in_series: int = quantity("blocks in series", 1, source="one block", ge=1, le=100)
    strings_in_parallel: int = quantity("strings in parallel", 1, source="one string", ge=1, le=50)
    block_capacity_ah: float = quantity("capacity of a block, at its rated hours", gt=0.0, le=10_000.0)
    rated_hours: float = quantity(
        "hours of the capacity's rating",
        20.0,
        source="usual rating of small blocks; common practice",
        gt=0.0,
        le=1000.0,
    )
    capacity_by_hours: tuple[Row, ...] | None = quantity(
        "rows of [hours, ampere-hours] from the block's data sheet; replaces the Peukert exponent",
        None,
        strict=False,
        min_length=3,
    )
    peukert_exponent: float | None = _by_chemistry(
        "what fast emptying costs: k of Peukert's law in the rated-capacity form", ge=1.0, le=2.0
    )
    recovery_share: float | None = _by_chemistry(
        "what comes back at rest: share (0 to 1) of what a high rate puts out of reach", ge=0.0, le=1.0
    )
    activation_v_per_cell: float | None = _by_chemistry(
        "volts that even a small current costs: their scale", ge=0.0, le=0.1
    )
    end_voltage_v_per_cell: tuple[Row, ...] | None = _by_chemistry(
        "rows of [hours, volts a cell at empty under that rate]", strict=False, min_length=1
    )
    block_resistance_ohm: float | None = quantity(
        "resistance of a block, as it is now, full, 25 °C", None,
        source="0.30/Ah a 12 V lead-acid block as a 12.8 V lithium one, 1.5 times at 80 % health (from memory)",
        gt=0.0, le=10.0,
    )  # fmt: skip
    label_resistance_ohm: float | None = quantity(
        "the 1 kHz figure on the label; taken times 1.6, and more for a worn block", None, gt=0.0, le=10.0
    )
    open_circuit_v_per_cell: tuple[Row, ...] | None = _by_chemistry(
        "rows of [state of charge, rested volts a cell], from 0 to 1", strict=False, min_length=2, max_length=40
    )
    polarisation_resistance_ohm: float | None = _by_chemistry("slow part of a block's resistance", ge=0.0, le=10.0)
    polarisation_time_s: float | None = _by_chemistry(
        "how slowly a block's voltage settles: time constant of the slow part of its resistance", gt=0.0, le=86_400.0
    )
    resistance_rise: float | None = _by_chemistry("growth of a block's resistance towards empty", ge=0.0, le=20.0)
    capacity_per_k: float | None = _by_chemistry(
        "what cold takes of the capacity: share a kelvin away from 25 °C", ge=0.0, le=0.02
    )
    resistance_per_k: float | None = _by_chemistry(
        "what cold adds to the resistance: exponent a kelvin away from 25 °C", ge=-0.1, le=0.0
    )
    absorption_v_per_cell: float | None = _by_chemistry("the charger's voltage, a cell", gt=0.0, le=5.0)
    absorption_time_h: float | None = _by_chemistry(
        "how slowly the pack takes its last charge: time constant of the charging tail", gt=0.0, le=100.0
    )
    coulombic_efficiency: float | None = _by_chemistry(
        "charge lost in charging: ampere-hours out over ampere-hours in", gt=0.0, le=1.0
    )
    energy_efficiency: float | None = _by_chemistry(
        "energy lost in charging: watt-hours out over watt-hours in", gt=0.0, le=1.0
    )
    block_mass_kg: float | None = quantity(
        "mass of a block", None, source="30 Wh/kg lead-acid, 100 LFP, 150 NMC (from memory)", gt=0.0, le=2000.0
    )
    x_m: float | None = FORWARD
    z_m: float | None = ABOVE
    place: tuple[Place, ...] = Field(
        default=(),
        description="where each block stands, one [[pack.place]] a block, in the place of x_m and z_m",
        strict=False,
    )
    block_size_mm: tuple[float, float, float] | None = Field(
        default=None, description="length, width, height", strict=False
    )
    tray_mm: tuple[float, float, float] | None = Field(
        default=None,
        description="inner length, width, height of the hole or tray that the blocks must fit",
        strict=False,
    )
    state_of_health: float = quantity(
        "how worn the blocks are: present capacity over rated capacity",
        1.0,
        source="new blocks assumed",
        gt=0.0,
        le=1.2,
    )
    reserve: float = quantity(
        "state of charge the day should not go below", 0.2, source="common practice, no source", ge=0.0, lt=1.0
    )
    capacity_by_temperature: tuple[Row, ...] | None = quantity(
        "rows of [°C, capacity over that at 25 °C] from the block's data sheet; replaces capacity_per_k; "
        "where no row reaches 25 °C, that counts as 1",
        None,
        strict=False,
        min_length=2,
    )
    charge_compensation_v_per_cell_per_k: float = quantity(
        "change of the charger's voltage, a cell and kelvin above 25 °C",
        0.0,
        source="a charger without compensation; sheets ask for -0.005 (lead-acid)",
        ge=-0.01,
        le=0.0,
    )
    max_charge_current_a: float | None = _by_chemistry("largest charging current of a block", gt=0.0, le=5000.0)
    protection_current_a: float | None = quantity(
        "current of the whole pack above which its protection opens", None, gt=0.0, le=5000.0
    )
    protection_s: float = quantity(
        "how long the protection bears more",
        1.0,
        source="a second or so, from memory; the sheet says",
        ge=0.0,
        le=600.0,
    )
    self_discharge_per_month: float | None = _by_chemistry(
        "share of the charge lost in a month at 20 °C", ge=0.0, lt=1.0
    )
    stood_months: float = quantity(
        "months since it was last charged full", 0.0, source="charged the night before", ge=0.0, le=60.0
    )
    stood_c: float = quantity("temperature where it stood", 15.0, source="a shed; common practice", ge=-30.0, le=50.0)
    cycle_life: tuple[Row, ...] | None = _by_chemistry(
        "rows of [depth of discharge from 0 to 1, cycles to the end of life]", strict=False, min_length=1
    )
    calendar_years: float | None = _by_chemistry("life at 25 °C without cycling", gt=0.0, le=50.0)
    block_price: float | None = quantity("price of a block, in your own money", None, gt=0.0, le=1e6)

    @model_validator(mode="after")
    def _consistent(self) -> Pack:
        if self.kind.is_lithium and self.cells_in_series is None:
            wanted = "the number of cells in series, which a lithium block must say"
            raise InputProblem("", "cells_in_series", "nothing", wanted)
        if self.protection_current_a is not None and not self.kind.is_lithium:
            wanted = "a lithium pack; lead-acid blocks have a fuse and no protection of their own"
            raise InputProblem(
                "", "protection_current_a", f"{self.protection_current_a:g} A for {self.chemistry}", wanted
            )
        if self.place and len(self.place) != self.blocks:
            raise InputProblem("", "place", f"{len(self.place)} places", f"one for each of the {self.blocks} blocks")
        if self.place and not (self.x_m is None and self.z_m is None):
            raise InputProblem(
                "", "place", "x_m or z_m of the pack beside it", "either the blocks' places or the pack's"
            )
        check_rested(self.in_force.open_circuit_v_per_cell, self.chemistry, self.kind.open_circuit_v_per_cell)
        self._check_cells()
        if self.capacity_by_hours is not None:
            check_sheet(self.capacity_by_hours)
            check_label(self.capacity_by_hours, self.rated_hours, self.block_capacity_ah)
        if self.capacity_by_temperature is not None:
            check_warmth(self.capacity_by_temperature)
        check_cycle_life(self.in_force.cycle_life)
        check_end_voltage(self.in_force.end_voltage_v_per_cell, self.in_force.open_circuit_v_per_cell[-1][1])
        return self

    def _check_cells(self) -> None:
        """A block's name over its cells is about the chemistry's volts a cell."""
        volts, cells = self.in_force.block_voltage_v, self.in_force.cells_in_series
        each = volts / cells if cells else 0.0
        if abs(each / self.kind.cell_v - 1.0) <= NAME_OFF:
            return
        fitting = round(volts / self.kind.cell_v)
        found = f"{cells} cells in a block of {volts:g} V, {each:.2f} V a cell"
        hint = f"{fitting} cells?" if fitting not in (0, cells) else ""
        wanted = f"about {self.kind.cell_v:g} V a cell for {self.chemistry}"
        raise InputProblem("", "cells_in_series", found, wanted, hint)

    @cached_property
    def in_force(self) -> InForce:
        """Every value that counts, stated or not."""
        return fill_in(self)

    def value_of(self, key: str) -> Any:
        """The value that counts for a key: the one stated, else the one in force."""
        return getattr(self.in_force, key) if key in KEYS else getattr(self, key)

    @property
    def kind(self) -> Chemistry:
        """The chemistry's row: defaults, what it stands, how it wears."""
        return CHEMISTRIES[self.chemistry]

    @property
    def cells(self) -> int:
        """Cells in series in the whole pack."""
        return self.in_force.cells_in_series * self.blocks_in_series

    @property
    def nominal_voltage_v(self) -> float:
        """Label voltage of the pack. [V]"""
        return self.in_force.block_voltage_v * self.blocks_in_series

    @property
    def full_voltage_v(self) -> float:
        """Voltage at the end of charging, charger still on. [V]"""
        return self.in_force.absorption_v_per_cell * self.cells

    @property
    def capacity_ah(self) -> float:
        """Rated capacity of all strings, state of health left out. [Ah]"""
        return self.block_capacity_ah * self.strings_in_parallel

    @property
    def mass_kg(self) -> float:
        """All blocks. [kg]"""
        return self.in_force.block_mass_kg * self.blocks

    @property
    def upright(self) -> Literal["upright", "any-side-but-top"]:
        """How its blocks may lie: flooded ones only as they are marked, sealed ones never upside down."""
        return "upright" if "flooded" in self.chemistry else "any-side-but-top"

    @property
    def blocks(self) -> int:
        """How many blocks there are."""
        return self.blocks_in_series * self.strings_in_parallel
