"""The pack: chemistry, blocks, and every number of the battery model that a user may override."""

from __future__ import annotations

from itertools import pairwise
from math import exp, log
from typing import Any, Literal, Self

from pydantic import Field, ModelWrapValidatorHandler, model_validator

from ridesim.forms import Part, Row, quantity
from ridesim.vehicle.care import CARE, Care, worn_resistance_factor
from ridesim.vehicle.chemistry import CHEMISTRIES, Chemistry
from ridesim.words import InputProblem

ChemistryName = Literal["lead-acid-agm", "lead-acid-gel", "lead-acid-flooded", "lithium-iron-phosphate", "lithium-nmc"]
_BY_CHEMISTRY = "by chemistry, see ridesim/vehicle/chemistry.py"
_BY_CARE = "by chemistry, see ridesim/vehicle/care.py"
LABEL_TO_MODEL_RESISTANCE = 1.6
"""Resistance under load over the 1 kHz figure on the label (1.5 to 2.5; from memory)."""
RATED_C = 25.0
"""Temperature at which the capacity is rated. [°C]"""
REST_OFF = 0.2
"""Rested volts a cell further than this share outside the chemistry's own table belong to another chemistry."""
NAME_OFF = 0.14
"""A block's name over its cells may be off by this: 12 V for four lithium cells, 24 V for seven."""
COLDEST_ROW_C, HOTTEST_ROW_C = -60.0, 100.0
LEAST_SHARE, MOST_SHARE = 0.05, 1.5
"""No block gives less or more of its capacity at 25 °C than this, at any temperature a sheet names."""
SHEET_LEAST, SHEET_MOST = 0.001, 100_000.0
"""No data sheet has shorter or longer hours, or less or more ampere-hours, than this."""


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
        "resistance of a block as it is now, full, 25 °C", None,
        source="0.18/Ah a 12 V lead-acid block, 0.30/Ah a 12.8 V lithium one, 1.5 times at 80 % health (from memory)",
        gt=0.0, le=10.0,
    )  # fmt: skip
    label_resistance_ohm: float | None = quantity(
        "the 1 kHz figure on the label; taken times 1.6, and more for a worn block", None, gt=0.0, le=10.0
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
    capacity_by_temperature: tuple[Row, ...] | None = Field(
        default=None,
        description="rows of [°C, capacity over that at 25 °C] from the block's data sheet; replaces capacity_per_k; "
        "where no row reaches 25 °C, that counts as 1",
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
    max_charge_current_a: float | None = quantity(
        "largest charging current of a block", None, source=_BY_CARE, gt=0.0, le=5000.0
    )
    self_discharge_per_month: float | None = quantity(
        "share of the charge lost in a month at 20 °C", None, source=_BY_CARE, ge=0.0, lt=1.0
    )
    stood_months: float = quantity(
        "months since it was last charged full", 0.0, source="charged the night before", ge=0.0, le=60.0
    )
    stood_c: float = quantity("temperature where it stood", 15.0, source="a shed; common practice", ge=-30.0, le=50.0)
    cycle_life: tuple[Row, ...] | None = Field(
        default=None,
        description="rows of [depth of discharge from 0 to 1, cycles to the end of life]",
        json_schema_extra={"source": _BY_CARE},
        strict=False,
        min_length=1,
    )
    calendar_years: float | None = quantity("life at 25 °C without cycling", None, source=_BY_CARE, gt=0.0, le=50.0)
    block_price: float | None = quantity("price of a block, in your own money", None, gt=0.0, le=1e6)

    @model_validator(mode="wrap")
    @classmethod
    def _fill_in(cls, table: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        chemistry = table.get("chemistry") if isinstance(table, dict) else None
        if not isinstance(chemistry, str) or chemistry not in CHEMISTRIES:
            return handler(table)
        derived = _derived(table, CHEMISTRIES[chemistry], CARE[chemistry])
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
        self._check_cell_voltages()
        if self.capacity_by_hours is not None:
            check_sheet(self.capacity_by_hours)
            check_label(self.capacity_by_hours, self.rated_hours, self.block_capacity_ah)
        if self.capacity_by_temperature is not None:
            check_warmth(self.capacity_by_temperature)
        assert self.cycle_life is not None
        check_cycle_life(self.cycle_life)
        return self

    def _check_cell_voltages(self) -> None:
        """Volts a cell, rested and by name, must be those of the chemistry."""
        usual = self.kind.open_circuit_v_per_cell
        low, high = (1.0 - REST_OFF) * usual[0][1], (1.0 + REST_OFF) * usual[-1][1]
        for number, (charge, volts) in enumerate(self.rest_table, start=1):
            if not low <= volts <= high:
                wanted = f"{low:.2f} to {high:.2f} V a cell, rested, for {self.chemistry}"
                raise InputProblem("", "open_circuit_v_per_cell", f"row {number} [{charge:g}, {volts:g}]", wanted)
        assert self.block_voltage_v is not None
        assert self.cells_in_series is not None
        each = self.block_voltage_v / self.cells_in_series
        if abs(each / self.kind.cell_v - 1.0) > NAME_OFF:
            cells = round(self.block_voltage_v / self.kind.cell_v)
            raise InputProblem(
                "",
                "cells_in_series",
                f"{self.cells_in_series} cells in a block of {self.block_voltage_v:g} V, {each:.2f} V a cell",
                f"about {self.kind.cell_v:g} V a cell for {self.chemistry}",
                f"{cells} cells?" if cells not in (0, self.cells_in_series) else "",
            )

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
    def care(self) -> Care:
        """What the chemistry stands and how it wears."""
        return CARE[self.chemistry]

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


SHEET_SAME = 1e-6
"""Hours no further apart than this share are the same hours."""


def check_sheet(rows: tuple[tuple[float, float], ...]) -> None:
    """Refuse a data sheet's rows of [hours, ampere-hours] that no block can have.

    Raises
    ------
    InputProblem
        Names the row as it stands in the file.
    """
    key, expected = "capacity_by_hours", "both columns rising: the slower a block is emptied, the more it gives"
    numbered = [(hours, charge, number) for number, (hours, charge) in enumerate(rows, start=1)]
    for hours, charge, number in numbered:
        if not all(SHEET_LEAST <= each <= SHEET_MOST for each in (hours, charge)):
            wanted = f"hours and ampere-hours from {SHEET_LEAST:g} to {SHEET_MOST:,.0f}"
            raise InputProblem("", key, f"row {number} [{hours:g}, {charge:g}]", wanted)
    for before, after in pairwise(sorted(numbered)):
        if after[0] <= before[0] * (1.0 + SHEET_SAME):
            first, second = sorted((before[2], after[2]))
            raise InputProblem("", key, f"rows {first} and {second}, both for {after[0]:g} h", expected)
        if after[1] < before[1]:
            slow, fast = (
                f"row {after[2]} [{after[0]:g}, {after[1]:g}]",
                f"row {before[2]} [{before[0]:g}, {before[1]:g}]",
            )
            raise InputProblem("", key, f"{fast} with more ampere-hours than the slower {slow}", expected)
        if after[1] / after[0] >= before[1] / before[0]:
            raise InputProblem(
                "",
                key,
                f"row {after[2]} [{after[0]:g}, {after[1]:g}] with no less current than row {before[2]}",
                "longer hours at less current: ampere-hours over hours falls from row to row",
                "Are hours and ampere-hours in the right columns?",
            )


LABEL_ERROR = 0.05
"""A label rounds; further apart than this, label and data sheet speak of different blocks."""


def check_label(rows: tuple[tuple[float, float], ...], rated_hours: float, capacity_ah: float) -> None:
    """Refuse a label that the block's own data sheet contradicts: the laws would stand on different capacities.

    Raises
    ------
    InputProblem
        Names both numbers.

    Notes
    -----
    Between rows the sheet is read along a straight line in the logarithms of time and charge. Beyond its ends it bounds
    the charge: a line through the last two rows is the most (the curve bends), the last row's charge, or in a shorter
    time its current, the least.
    """
    table = sorted((log(hours), log(charge)) for hours, charge in rows)
    at = log(rated_hours)
    (h0, q0), (h1, q1) = next((pair for pair in pairwise(table) if at <= pair[1][0]), (table[-2], table[-1]))
    most = least = q0 + (q1 - q0) * (at - h0) / (h1 - h0)
    if at > h1:
        least = q1
    elif at < h0:
        least = q0 + at - h0
    low, high = exp(least), exp(most)
    if low * (1.0 - LABEL_ERROR) <= capacity_ah <= high * (1.0 + LABEL_ERROR):
        return
    span = f"{high:.3g} Ah" if high < 1.001 * low else f"{low:.3g} to {high:.3g} Ah"
    raise InputProblem(
        "",
        "capacity_by_hours",
        f"rows that give {span} at {rated_hours:g} h beside block_capacity_ah = {capacity_ah:g} at that time (rated_hours)",
        f"the same block on label and data sheet, within {100.0 * LABEL_ERROR:g} %",
    )


def check_warmth(rows: tuple[tuple[float, float], ...]) -> None:
    """Refuse rows of [°C, share of the capacity at 25 °C] that no block can have; any order will do.

    Raises
    ------
    InputProblem
        Names the row as it stands in the file.
    """
    key = "capacity_by_temperature"
    for number, (degrees, share) in enumerate(rows, start=1):
        if not (COLDEST_ROW_C <= degrees <= HOTTEST_ROW_C and LEAST_SHARE <= share <= MOST_SHARE):
            wanted = (
                f"°C from {COLDEST_ROW_C:g} to {HOTTEST_ROW_C:g} and a share of the capacity from {LEAST_SHARE:g} "
                f"to {MOST_SHARE:g}"
            )
            raise InputProblem("", key, f"row {number} [{degrees:g}, {share:g}]", wanted)
    numbered = sorted((degrees, share, number) for number, (degrees, share) in enumerate(rows, start=1))
    for before, after in pairwise(numbered):
        if after[0] == before[0] or after[1] < before[1]:
            found = f"row {after[2]} [{after[0]:g}, {after[1]:g}] beside row {before[2]} [{before[0]:g}, {before[1]:g}]"
            raise InputProblem("", key, found, "one row a temperature, and no less capacity where it is warmer")


def check_cycle_life(rows: tuple[tuple[float, float], ...]) -> None:
    """Refuse rows of [depth, cycles] outside 0 to 1, or with more cycles at more depth.

    Raises
    ------
    InputProblem
        Names the row as it stands in the file.
    """
    key = "cycle_life"
    for number, (depth, cycles) in enumerate(rows, start=1):
        if not 0.0 < depth <= 1.0 or cycles <= 0.0:
            found = f"row {number} [{depth:g}, {cycles:g}]"
            raise InputProblem("", key, found, "a depth above 0 and up to 1, and cycles above 0")
    numbered = sorted((depth, cycles, number) for number, (depth, cycles) in enumerate(rows, start=1))
    for before, after in pairwise(numbered):
        if after[0] == before[0] or after[1] > before[1]:
            found = f"row {after[2]} [{after[0]:g}, {after[1]:g}] beside row {before[2]} [{before[0]:g}, {before[1]:g}]"
            raise InputProblem("", key, found, "fewer cycles the deeper each goes")


def _derived(table: dict[str, Any], chemistry: Chemistry, care: Care) -> dict[str, Any]:
    """What follows from the chemistry and the block's size; left out where the inputs are not numbers."""
    derived: dict[str, Any] = {
        name: getattr(chemistry, name)
        for name in (
            "open_circuit_v_per_cell", "peukert_exponent", "resistance_rise", "polarisation_time_s", "capacity_per_k",
            "resistance_per_k", "absorption_v_per_cell", "absorption_time_h", "coulombic_efficiency", "energy_efficiency",
        )
    }  # fmt: skip
    derived |= {name: getattr(care, name) for name in ("self_discharge_per_month", "cycle_life", "calendar_years")}
    volts, cells = _positive(table, "block_voltage_v"), _positive(table, "cells_in_series")
    if not chemistry.is_lithium:
        volts = volts or (chemistry.cell_v * cells if cells else 12.0)
        derived["cells_in_series"] = round(volts / chemistry.cell_v)
    elif cells and not volts:
        volts = round(cells * chemistry.cell_v, 6)
    derived["block_voltage_v"] = volts
    capacity = _positive(table, "block_capacity_ah")
    if capacity:
        derived["max_charge_current_a"] = care.charge_share * capacity
    if capacity and volts:
        label = _positive(table, "label_resistance_ohm")
        rule = chemistry.ohm_ah / capacity * volts / chemistry.reference_v
        # A label and a rule speak of a new block; a stated resistance is this block's own.
        worn = worn_resistance_factor(_positive(table, "state_of_health") or 1.0)
        derived["block_resistance_ohm"] = worn * (LABEL_TO_MODEL_RESISTANCE * label if label else rule)
        resistance = _positive(table, "block_resistance_ohm") or derived["block_resistance_ohm"]
        derived["polarisation_resistance_ohm"] = chemistry.polarisation_share * resistance
        derived["block_mass_kg"] = volts * capacity / chemistry.wh_per_kg
    return derived


def _positive(table: dict[str, Any], key: str) -> float | None:
    """A number above zero, or None for anything else, which validation then names."""
    value = table.get(key)
    return value if isinstance(value, int | float) and not isinstance(value, bool) and value > 0 else None
