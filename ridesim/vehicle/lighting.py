"""Lights, and what feeds them."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from ridesim.forms import Name, Part, quantity
from ridesim.vehicle.place import ABOVE, FORWARD


class Light(Part):
    """One lighting load."""

    name: Name = quantity("what it lights")
    power_w: float = quantity("power it takes when on", ge=0.0, le=10_000.0)


class Lighting(Part):
    """All lights, from their own battery or from the main pack through a converter."""

    supply: Literal["own-battery", "main-pack"] = quantity("what feeds the lights")
    battery_voltage_v: float = quantity(
        "own battery's voltage", 12.0, source="usual small block; common practice", gt=0.0, le=120.0
    )
    battery_capacity_ah: float = quantity(
        "own battery's capacity at the 20 h rate", 7.0, source="usual small block; common practice", gt=0.0, le=1000.0
    )
    battery_mass_kg: float = quantity("own battery's mass", 2.5, source="7 Ah block, from memory", ge=0.0, le=100.0)
    battery_size_mm: tuple[float, float, float] | None = Field(
        default=None,
        description="own battery's length, width, height, where it stands in the pack's tray",
        strict=False,
    )
    x_m: float | None = FORWARD
    z_m: float | None = ABOVE
    peukert_exponent: float = quantity(
        "own battery's Peukert exponent", 1.21, source="small sealed block, data sheet 20 h to 1 h", ge=1.0, le=2.0
    )
    battery_state_of_health: float = quantity(
        "own battery's present capacity over that on its label", 1.0, source="new block assumed", gt=0.0, le=1.2
    )
    converter_efficiency: float = quantity(
        "of the converter between main pack and lights",
        0.90,
        source="common practice, no source; 1 without one",
        gt=0.0,
        le=1.0,
    )
    load: tuple[Light, ...] = Field(description="lights, one [[lighting.load]] each", min_length=1, strict=False)

    @property
    def power_w(self) -> float:
        """All loads together. [W]"""
        return sum(light.power_w for light in self.load)

    @property
    def own_battery_mass_kg(self) -> float:
        """Mass of the lights' battery, none where the main pack feeds them. [kg]"""
        return self.battery_mass_kg if self.supply == "own-battery" else 0.0
