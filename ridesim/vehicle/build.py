"""A build: one configuration of the vehicle."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Any, Self

from pydantic import Field, PrivateAttr, model_validator

from ridesim.forms import Name, Unsure, changed_table, quantity, validate
from ridesim.vehicle.change import follow
from ridesim.vehicle.charger import OwnCharger
from ridesim.vehicle.chassis import Rider, Vehicle
from ridesim.vehicle.coast_down import fit_coast_down
from ridesim.vehicle.controller import Controller
from ridesim.vehicle.drive import Drive
from ridesim.vehicle.ledger import entries
from ridesim.vehicle.lighting import Lighting
from ridesim.vehicle.motor import Motor
from ridesim.vehicle.pack import Pack
from ridesim.vehicle.widths import WIDTHS
from ridesim.vehicle.wiring import LIGHTS_BATTERY, SWITCH_SHARE, Wiring
from ridesim.words import Finding, InputProblem, InShort, Rows

RESTART_V_PER_CELL = 0.15
"""Restart above cut-off a lead-acid cell where the file gives none, a lithium cell twice that: common practice, no source. [V]"""
RESTART_DELAY_S = 2.0
"""Shortest time off after a cut-out where the file gives none: common practice, no source. [s]"""


class Build(InShort, Unsure):
    """One configuration of the vehicle, as read from a build."""

    key_widths = WIDTHS

    name: Name = quantity("name of this configuration", "unnamed build", source="the file's name")
    note: str = quantity("where the numbers come from", "")
    vehicle: Vehicle = Field(description="wheels, resistances, weigh-in, brakes")
    rider: Rider = Field(default=Rider(), description="the rider")
    motor: Motor = Field(description="the motor")
    drive: Drive = Field(description="gearbox stage, sprockets, chain")
    controller: Controller = Field(description="the speed controller")
    pack: Pack = Field(description="the pack")
    charger: OwnCharger | None = Field(default=None, description="the vehicle's charger")
    lighting: Lighting | None = Field(default=None, description="lights, and what feeds them")
    wiring: Wiring | None = Field(default=None, description="circuits that are settled, and the switches")

    _text: str = PrivateAttr(default="")
    _notes: tuple[Finding, ...] = PrivateAttr(default=())

    def measured(self) -> Self:
        """With rolling coefficient and drag area as its coast-downs say."""
        if not self.vehicle.coast_down:
            return self
        return self.model_copy(update={"vehicle": self.vehicle.rolled_down(*fit_coast_down(self))})

    @model_validator(mode="after")
    def _lights_battery(self) -> Build:
        own = self.lighting is not None and self.lighting.supply == "own-battery"
        for number, each in enumerate(() if self.wiring is None else self.wiring.circuit, start=1):
            if each.source == LIGHTS_BATTERY and not own:
                expected = 'another source, or supply = "own-battery" under [lighting]'
                raise InputProblem("", f"wiring.circuit[{number}].source", LIGHTS_BATTERY, expected)
        return self

    @model_validator(mode="after")
    def _cutoff(self) -> Build:
        full, restart = self.pack.full_voltage_v, self.controller.restart_voltage_v
        for key in ("cutoff_voltage_v", "restart_voltage_v"):
            volts = getattr(self.controller, key)
            if volts is not None and volts >= full:
                below = f"less than the fully charged pack's {full:.1f} V"
                raise InputProblem("", f"controller.{key}", f"{volts:g} V", below)
        if restart is not None and restart <= self.cutoff_voltage_v:
            above = f"more than the cut-off's {self.cutoff_voltage_v:g} V"
            raise InputProblem("", "controller.restart_voltage_v", f"{restart:g} V", above)
        return self

    @property
    def on_resistance_ohm(self) -> float:
        """Controller's switch with the wires in the motor current's path; described cables take the place of the wires' share. [ohm]"""
        stated = self.controller.on_resistance_ohm
        if self.wiring is None or not self.wiring.on_the_motor_s_way:
            return stated
        return SWITCH_SHARE * stated + self.wiring.ohm

    def changed(self, values: Mapping[str, Any], name: str | None = None) -> Build:
        """This build with other values, checked as a file is checked: the one way to change a build.

        Parameters
        ----------
        values : mapping of str to object
            Dotted key, in any unit of its kind, list items numbered as in messages (``"vehicle.mass[2].mass_kg"``), or a
            whole section, to the new value; None removes the key, so that its default applies.
        name : str, optional
            Another name for the result.

        Returns
        -------
        Build
            This very build where nothing changes. It keeps the text of the file, so that saving keeps the user's comments.

        Raises
        ------
        InputProblem
            Unknown key, or a value that a file could not have either.

        Notes
        -----
        What the file states of a block follows its capacity (resistances, mass, price, charging limit, the data sheet's
        ampere-hours; the block's size is dropped), and a stated cut-off and restart voltage keep their volts a block.
        :attr:`notes` tells what followed.

        Examples
        --------
        >>> import ridesim
        >>> heron = ridesim.load_build("heron_36v")
        >>> longer = heron.changed({"drive.motor_teeth": 12, "pack.block_capacity_ah": 33}, name="Heron, 33 Ah")
        >>> longer.drive.motor_teeth, longer.pack.block_mass_kg
        (12, 9.9)
        >>> print(longer.notes[0].text)  # doctest: +ELLIPSIS
        Block of 33 Ah instead of 22: block resistance 11 mΩ to 7.33 mΩ, block mass 6.6 kg to 9.9 kg, ...
        """
        table, named = changed_table(self, values, name or self.name)
        if name is not None:
            table["name"] = name
        if not named and name in (None, self.name):
            return self
        notes = follow(table, self, named)
        build = validate(Build, table, name or self.name, stem=self.name)
        build._text, build._notes = self._text, notes
        return build

    def drawn(self, values: Mapping[str, Any]) -> Build:
        """With values of a draw; the cut-off must stay below the restart."""
        build, restart = super().drawn(values), self.controller.restart_voltage_v
        if restart is not None and restart <= build.cutoff_voltage_v:
            raise ValueError(f"restart at {restart:g} V, cut-off at {build.cutoff_voltage_v:g} V")
        return build

    @property
    def correlations(self) -> tuple[tuple[str, str, float], ...]:
        """Dotted key, dotted key and correlation of values that hang together."""
        parts = {"vehicle": self.vehicle.correlations, "motor": self.motor.correlations or ()}
        return tuple((f"{name}.{one}", f"{name}.{other}", r) for name, rows in parts.items() for one, other, r in rows)

    @property
    def notes(self) -> tuple[Finding, ...]:
        """What followed the last change, in words; not saved, and no part of equality."""
        return self._notes

    @property
    def cutoff_voltage_v(self) -> float:
        """Cut-off in force: the controller's, else the chemistry's a cell. [V]"""
        given = self.controller.cutoff_voltage_v
        return given if given is not None else self.pack.kind.cutoff_v_per_cell * self.pack.cells

    @property
    def restart_voltage_v(self) -> float:
        """Pack voltage at which a cut-out controller comes back: the controller's, else so much a cell above its cut-off. [V]"""
        given = self.controller.restart_voltage_v
        per_cell = RESTART_V_PER_CELL * (1.0 if self.pack.kind.cutoff_v_per_cell < 2.5 else 2.0)
        return given if given is not None else self.cutoff_voltage_v + per_cell * self.pack.cells

    @property
    def restart_delay_s(self) -> float:
        """Shortest time off after a cut-out. [s]"""
        given = self.controller.restart_delay_s
        return given if given is not None else RESTART_DELAY_S

    def implied(self) -> Iterator[tuple[str, Any, str]]:
        """The cut-off that the chemistry gives; with a cut-out, when it comes back."""
        if self.controller.cutoff_action == "cut-out":
            if self.controller.restart_voltage_v is None:
                source = "above the cut-off; common practice, no source"
                yield "controller.restart_voltage_v", self.restart_voltage_v, source
            if self.controller.restart_delay_s is None:
                yield "controller.restart_delay_s", self.restart_delay_s, "common practice, no source"
        if self.controller.cutoff_voltage_v is None:
            source = f"{self.pack.kind.cutoff_v_per_cell:g} V a cell, {self.pack.chemistry}"
            yield "controller.cutoff_voltage_v", self.cutoff_voltage_v, source

    @property
    def beside_blocks_mm(self) -> tuple[float, float, float] | None:
        """Size of the lights' own battery, where it is stated because it stands in the pack's tray."""
        lights = self.lighting
        return None if lights is None or lights.supply != "own-battery" else lights.battery_size_mm

    def total_mass_kg(self, aboard: bool = True) -> float:
        """Everything on the weigh-in, drive parts and, when aboard, the rider. [kg]"""
        return self.mass_alone_kg + (self.rider.mass_kg if aboard else 0.0)

    @cached_property
    def mass_alone_kg(self) -> float:
        """The same without the rider. [kg]"""
        return sum(entry.mass_kg for entry in entries(self, rider=False))

    def _short(self) -> tuple[str, Rows]:
        motor, drive, control, pack = self.motor, self.drive, self.controller, self.pack
        limits = f"{control.max_battery_current_a:g} A battery, {control.max_motor_current_a:g} A motor"
        return f"Build “{self.name}”", [
            ("mass", f"{self.total_mass_kg():.1f} kg, rider aboard"),
            ("pack", f"{pack.nominal_voltage_v:g} V {pack.capacity_ah:g} Ah {pack.chemistry}, {pack.mass_kg:.1f} kg"),
            ("motor", f"{motor.kind}, {motor.mass_kg:g} kg"),
            ("drive", f"{drive.motor_teeth} to {drive.wheel_teeth} teeth, {drive.ratio:.2f} motor turns a wheel turn"),
            ("controller", f"{limits}, cut-off {self.cutoff_voltage_v:.1f} V"),
        ]
