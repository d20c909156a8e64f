"""A vehicle with the pack of another build in it: the same vehicle, so that only the packs are compared."""

from __future__ import annotations

from typing import Any

from ridesim.forms import likely_of, scaled
from ridesim.forms.changing import stated_table
from ridesim.vehicle import Build, Pack

FITS = 0.14
"""A pack whose label volts are so near to those of the vehicle's own fits as it is: 38.4 V of lithium for 36 V of lead-acid."""
CELLS_A_VOLT = {"lithium-iron-phosphate": 4.0 / 12.0, "lithium-nmc": 10.0 / 36.0}
"""Lithium cells in series for each volt of lead-acid label: four for 12 V, ten for 36 V; common practice, no source."""
_STAYS = ("x_m", "z_m", "place", "tray_mm")
"""What is told with the pack and belongs to the vehicle."""
_WITH_CELLS = ("block_resistance_ohm", "label_resistance_ohm", "polarisation_resistance_ohm", "block_mass_kg", "block_price")  # fmt: skip
"""What is told of a block and goes with its cells in series."""


def with_pack_of(build: Build, other: Build) -> Build:
    """A vehicle with another build's pack in the place of its own.

    Where the pack's volts do not fit it has as many of its cells as do: resistance, mass and price in proportion.

    Raises
    ------
    InputProblem
        A pack that the vehicle cannot have.
    """
    own = stated_table(build.pack)
    stays = {key: own[key] for key in ("x_m", "z_m", "tray_mm") if key in own} | _mean_place(build.pack)
    kind = "lithium" if other.pack.kind.is_lithium else "lead-acid"
    return build.changed({"pack": _fitting(other.pack, build.pack) | stays}, name=f"{build.name}, {kind}")


def _mean_place(pack: Pack) -> dict[str, float]:
    """Where blocks with a place each stand on the whole."""
    if not pack.place:
        return {}
    several = {"x_m": [likely_of(each.x_m) for each in pack.place], "z_m": [likely_of(each.z_m) for each in pack.place]}
    return {key: round(sum(each) / len(each), 4) for key, each in several.items()}


def cells_that_fit(pack: Pack, own: Pack) -> int:
    """Cells in series with which a pack fits in the place of a vehicle's own."""
    if abs(pack.nominal_voltage_v / own.nominal_voltage_v - 1.0) <= FITS:
        return pack.cells
    a_volt = CELLS_A_VOLT.get(pack.chemistry, 1.0 / pack.kind.cell_v)
    return max(1, round(a_volt * own.nominal_voltage_v))


def refitted(other: Build, build: Build) -> str:
    """That another build's pack has another number of cells in this vehicle, and why; empty where it goes in as it is."""
    cells = cells_that_fit(other.pack, build.pack)
    if cells == other.pack.cells:
        return ""
    return (
        f"“{other.name}” has {other.pack.cells} cells, {other.pack.nominal_voltage_v:.4g} V, which do not fit the vehicle’s "
        f"{build.pack.nominal_voltage_v:.4g} V: reckoned with {cells} of them."
    )


def _fitting(pack: Pack, own: Pack) -> dict[str, Any]:
    """The pack's stated keys, with as many cells as fit."""
    stated = {key: value for key, value in stated_table(pack).items() if key not in _STAYS}
    cells, each = cells_that_fit(pack, own), pack.in_force.cells_in_series
    if cells == pack.cells:
        return stated
    if cells % each == 0:
        return {**stated, "blocks_in_series": cells // each}
    more = cells / each
    scaled_keys = {key: scaled(stated[key], more) for key in _WITH_CELLS if key in stated}
    kept = {key: value for key, value in stated.items() if key not in ("block_voltage_v", "block_size_mm")}
    return {**kept, **scaled_keys, "cells_in_series": cells, "blocks_in_series": 1}
