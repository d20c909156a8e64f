"""A build: one configuration of the vehicle."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import Field, PrivateAttr, model_validator

from ridesim.build.controller import Controller
from ridesim.build.drive import Drive
from ridesim.build.lighting import Lighting
from ridesim.build.motor import Motor
from ridesim.build.pack import Pack
from ridesim.build.vehicle import Rider, Vehicle
from ridesim.forms import Name, NamedByFile, quantity
from ridesim.words import InputProblem


class Build(NamedByFile):
    """One configuration of the vehicle, as read from a build file."""

    name: Name = quantity("name of this configuration", "unnamed build", source="the file's name")
    note: str = quantity("where the numbers come from", "")
    vehicle: Vehicle = Field(description="wheels, resistances, weigh-in, brakes")
    rider: Rider = Field(default=Rider(), description="the rider")
    motor: Motor = Field(description="the motor")
    drive: Drive = Field(description="gearbox stage, sprockets, chain")
    controller: Controller = Field(description="the speed controller")
    pack: Pack = Field(description="the pack")
    lighting: Lighting | None = Field(default=None, description="lights, and what feeds them")

    _text: str = PrivateAttr(default="")

    @model_validator(mode="after")
    def _cutoff(self) -> Build:
        cutoff, full = self.controller.cutoff_voltage_v, self.pack.full_voltage_v
        if cutoff is not None and cutoff >= full:
            raise InputProblem(
                "", "controller.cutoff_voltage_v", f"{cutoff:g} V", f"less than the fully charged pack's {full:.1f} V"
            )
        return self

    @property
    def cutoff_voltage_v(self) -> float:
        """Cut-off in force: the controller's, else the chemistry's a cell. [V]"""
        given = self.controller.cutoff_voltage_v
        return given if given is not None else self.pack.kind.cutoff_v_per_cell * self.pack.cells

    def implied(self) -> Iterator[tuple[str, Any, str]]:
        """The cut-off that the chemistry gives."""
        if self.controller.cutoff_voltage_v is None:
            source = f"{self.pack.kind.cutoff_v_per_cell:g} V a cell, {self.pack.chemistry}"
            yield "controller.cutoff_voltage_v", self.cutoff_voltage_v, source

    def total_mass_kg(self, aboard: bool = True) -> float:
        """Everything on the weigh-in, drive parts and, when aboard, the rider. [kg]"""
        lights = self.lighting.own_battery_mass_kg if self.lighting else 0.0
        rider = self.rider.mass_kg if aboard else 0.0
        items = sum(item.mass_kg for item in self.vehicle.mass)
        return items + self.motor.mass_kg + self.pack.mass_kg + self.controller.mass_kg + lights + rider
