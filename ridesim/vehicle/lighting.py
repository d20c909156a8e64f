"""Lights, and what feeds them."""

from __future__ import annotations

from typing import Any, Literal, Self

from pydantic import ConfigDict, Field, model_validator
from pydantic.functional_validators import ModelWrapValidatorHandler

from ridesim.forms import Name, Part, quantity
from ridesim.vehicle.place import ABOVE, FORWARD
from ridesim.words import InputProblem, is_number

_STRIP = ("strip_length_m", "strip_w_per_m")


def _power_or_strip(schema: dict[str, Any]) -> None:
    schema["properties"]["power_w"].pop("default")
    schema["anyOf"] = [{"required": ["power_w"]}, {"required": list(_STRIP)}]


class Light(Part):
    """One lighting load: its power, or an LED strip's length and watts a metre."""

    model_config = ConfigDict(json_schema_extra=_power_or_strip)

    name: Name = quantity("what it lights")
    power_w: float = quantity("power, when on", None, source="strip_length_m × strip_w_per_m", ge=0.0, le=10_000.0)
    strip_length_m: float | None = quantity("length of an LED strip, in place of power_w", None, gt=0.0, le=1000.0)
    strip_w_per_m: float | None = quantity("its watts a metre, 5 to 24 by its label", None, gt=0.0, le=100.0)

    @model_validator(mode="wrap")
    @classmethod
    def _of_strip(cls, table: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        if not isinstance(table, dict):
            return handler(table)
        stated = [name for name in _STRIP if name in table]
        if "power_w" in table:
            if stated:
                raise InputProblem(
                    "", stated[0], f"{stated[0]} beside power_w", "power_w, or strip_length_m and strip_w_per_m"
                )
            return handler(table)
        if len(stated) < 2:
            missing = "power_w" if not stated else next(name for name in _STRIP if name not in table)
            raise InputProblem(
                "", missing, "nothing", "a number: power_w, or strip_length_m and strip_w_per_m of an LED strip"
            )
        metres, watts = (table[name] for name in _STRIP)
        # What is no number is refused by its own name.
        power = metres * watts if is_number(metres) and is_number(watts) else 0.0
        return cls.filled(handler, table, {"power_w": power})


class Lighting(Part):
    """All lights, from their own battery or from the main pack through a converter."""

    supply: Literal["own-battery", "main-pack"] = quantity("what feeds the lights")
    battery_voltage_v: float = quantity(
        "the lights' own battery's voltage", 12.0, source="usual small block; common practice", gt=0.0, le=120.0
    )
    battery_capacity_ah: float = quantity(
        "the lights' own battery's capacity at the 20 h rate",
        7.0,
        source="usual small block; common practice",
        gt=0.0,
        le=1000.0,
    )
    battery_mass_kg: float = quantity(
        "the lights' own battery's mass", 2.5, source="7 Ah block, from memory", ge=0.0, le=100.0
    )
    battery_size_mm: tuple[float, float, float] | None = Field(
        default=None,
        description="the lights' own battery's length, width, height, where it stands in the pack's tray",
        strict=False,
    )
    x_m: float | None = FORWARD
    z_m: float | None = ABOVE
    peukert_exponent: float = quantity(
        "the lights' own battery's Peukert exponent",
        1.21,
        source="small sealed block, data sheet 20 h to 1 h",
        ge=1.0,
        le=2.0,
    )
    battery_state_of_health: float = quantity(
        "how worn the lights' own battery is: present capacity over that on its label",
        1.0,
        source="new block assumed",
        gt=0.0,
        le=1.2,
    )
    converter_efficiency: float = quantity(
        "efficiency of the converter between main pack and lights",
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
