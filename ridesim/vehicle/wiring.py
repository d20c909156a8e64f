"""The wiring as it is, or as it is settled to be: circuits with cable and protection, and the switches that stop the vehicle."""

from __future__ import annotations

from functools import cached_property
from typing import Literal

from pydantic import Field, model_validator

from ridesim.forms import Name, Part, quantity
from ridesim.vehicle.cable import INSULATIONS_C, LEAST_MM2, awg_mm2, ohm_per_m
from ridesim.words import InputProblem, nearest

PACK, LIGHTS_BATTERY, CONVERTER = "pack", "lights-battery", "converter"
BATTERIES, BOXES = (PACK, LIGHTS_BATTERY), ("controller", CONVERTER)
"""Where current comes from, and what may feed a circuit without another one that leads there."""
ON_THE_MOTOR_S_WAY = ("main", "motor")
"""Roles of the circuits whose cable lies in the way of the motor's current."""
SWITCH_SHARE = 2.0 / 3.0
"""Controller's switch over the switch with its wires, 0.004 of 0.006 ohm: common practice, no source."""
UNDER_THE_BODY_C = 40.0
"""Air round a cable under the bodywork on a summer's day: common practice, no source. [°C]"""
ProtectionKind = Literal[
    "blade", "blade-58", "maxi", "maxi-58", "strip", "strip-58", "glass", "cylindrical", "class-t", "breaker", "magnetic-breaker",
]  # fmt: skip


class Circuit(Part):
    """One circuit: a cable out and back, and what protects it."""

    name: Name = quantity("what it is called")
    role: Literal["main", "motor", "lighting", "charger", "control"] = quantity(
        "what it does: main feeds the controller, motor carries the motor's current, control is the key and the throttle"
    )
    source: Name = quantity("where its current comes from: pack, lights-battery, or what another circuit feeds")
    load: Name = quantity("what it feeds; of a lighting circuit the name of its light")
    length_m: float = quantity("length of the cable, one way", gt=0.0, le=100.0)
    section_mm2: float | None = quantity("copper of one conductor; left out: proposed", None, ge=1.0, le=300.0)
    awg: str | int | None = quantity("or its American gauge, such as 6 or 2/0", None)
    insulation_c: float = quantity(
        "temperature that its insulation stands, printed on it, such as 70 or 105", gt=0.0, le=400.0
    )
    bundled: int = quantity("loaded conductors that lie together", 2, source="out and back alone", ge=1, le=100)
    ambient_c: float = quantity(
        "air around it", UNDER_THE_BODY_C, source="under the bodywork; common practice, no source", ge=-40.0, le=150.0
    )
    current_a: float | None = quantity(
        "all current that flows for minutes on end, where neither role, light nor what it feeds tells it",
        None,
        gt=0.0,
        le=5000.0,
    )
    protection: ProtectionKind | None = quantity(
        "kind of fuse or breaker; left out: proposed, or none of its own where its cable is settled behind another's",
        None,
    )
    rating_a: float | None = quantity("its rating; left out: proposed", None, gt=0.0, le=5000.0)
    protection_at: Literal["source", "load"] = quantity(
        "which end of the cable it sits at", "source", source="where its current comes from"
    )
    protection_distance_m: float | None = quantity(
        "from the source to the protection, along the wire", None, ge=0.0, le=100.0
    )
    sheathed: bool = quantity("whether the wire up to the protection is sheathed or enclosed", False, source="bare")

    @model_validator(mode="after")
    def _consistent(self) -> Circuit:
        if self.section_mm2 is not None and self.awg is not None:
            raise InputProblem("", "awg", f"“{self.awg}” beside {self.section_mm2:g} mm²", "the section or the gauge")
        if self.insulation_c not in INSULATIONS_C:
            expected = "one of " + ", ".join(f"{each:g}" for each in INSULATIONS_C) + " °C, as printed on the cable"
            raise InputProblem("", "insulation_c", f"{self.insulation_c:g} °C", expected)
        least = LEAST_MM2[self.insulation_c == 70.0]
        if (self.copper_mm2 or least) < least:
            key, found = ("section_mm2", f"{self.section_mm2:g} mm²") if self.awg is None else ("awg", f"“{self.awg}”")
            expected = f"{least:g} mm² or more, where the ampacities of {self.insulation_c:g} °C begin"
            raise InputProblem("", key, found, expected)
        if self.ambient_c >= self.insulation_c:
            expected = f"air cooler than the {self.insulation_c:g} °C that the insulation stands"
            raise InputProblem("", "ambient_c", f"{self.ambient_c:g} °C", expected)
        if self.protection_at == "load":
            expected = (
                f'"source": behind the fuse nothing opens a short circuit in this cable; it sits at {self.source}'
            )
            hint = "Behind a splitter each thinner cable has its own, on the side of the splitter."
            raise InputProblem("", "protection_at", '"load"', expected, hint)
        if self.rating_a is not None and self.protection is None:
            raise InputProblem("", "protection", "nothing", f"the kind of the {self.rating_a:g} A, such as breaker")
        return self

    @property
    def copper_mm2(self) -> float | None:
        """Section, by the gauge where that is stated; None where it is to be proposed. [mm²]"""
        return awg_mm2(self.awg) if self.awg is not None else self.section_mm2

    @property
    def ohm(self) -> float:
        """Out and back, as warm as its air; 0 where the cable is not settled yet. [ohm]"""
        copper = self.copper_mm2
        return 0.0 if copper is None else 2.0 * self.length_m * ohm_per_m(copper, self.ambient_c)


class Wiring(Part):
    """Circuits that are settled, and the switches: ``true`` is there, ``false`` is left out on purpose, left out asks."""

    duty_known: bool = quantity(
        "size by the day's own currents even where they are below the controller's limit", False,
        source="the limit counts: another day may ask for it",
    )  # fmt: skip
    isolator: bool | None = quantity("a d.c. isolator in the pack's lead, in reach", None)
    breaker: bool | None = quantity("a breaker or fuse at the pack", None)
    key_switch: bool | None = quantity("a key or run switch on the controller's enable pair", None)
    lights_apart: bool | None = quantity("lights on a switch of their own; false: they go with the key", None)
    direction_switch: bool | None = quantity("neutral, forward, reverse, with reverse limited", None)
    failsafe_throttle: bool | None = quantity("a throttle that springs back, and stops when a wire breaks", None)
    brake_cutoff: bool | None = quantity("a brake lever that cuts the motor", None)
    emergency_stop: bool | None = quantity("an emergency stop in reach of who walks beside", None)
    positive_colour: str = quantity(
        "colour of the positive conductor", "red", source="small craft, ISO 10133, from memory; sources disagree: label both ends"
    )  # fmt: skip
    negative_colour: str = quantity("colour of the negative conductor", "black", source="as the positive one's")
    circuit: tuple[Circuit, ...] = Field(
        default=(), description="circuits that are settled, one [[wiring.circuit]] each", max_length=100, strict=False
    )

    @model_validator(mode="after")
    def _from_somewhere(self) -> Wiring:
        names = [each.name for each in self.circuit]
        for number, each in enumerate(self.circuit, start=1):
            if names.count(each.name) > 1:
                raise InputProblem("", f"circuit[{number}].name", f"“{each.name}” twice", "a name of its own")
            if each.source not in self.reached:
                known = [*BATTERIES, *BOXES, *(other.load for other in self.circuit if other is not each)]
                near = nearest(each.source, known)
                expected = "pack, lights-battery, controller, converter, or what another circuit feeds"
                hint = f"Nearest: {near}." if near else ""
                raise InputProblem("", f"circuit[{number}].source", f"“{each.source}”", expected, hint)
            if self.reached[each.load][0] <= self.reached[each.source][0]:
                expected = f"something that does not lie before {each.source}; a charger's circuit goes from the pack to the charger"
                raise InputProblem("", f"circuit[{number}].load", f"“{each.load}”", expected)
        return self

    @cached_property
    def reached(self) -> dict[str, tuple[int, str]]:
        """By where a circuit begins or ends: how many circuits lie before it, and what their current comes from."""
        ends: dict[str, tuple[int, str]] = {each: (0, each) for each in BATTERIES}
        self._reach(ends)
        ends |= {each: (0, each) for each in BOXES if each not in ends}
        self._reach(ends)
        return ends

    def _reach(self, ends: dict[str, tuple[int, str]]) -> None:
        """Follow the circuits from the ends that are known."""
        while new := [each for each in self.circuit if each.source in ends and each.load not in ends]:
            for each in new:
                steps, origin = ends[each.source]
                ends.setdefault(each.load, (steps + 1, CONVERTER if each.load == CONVERTER else origin))

    def fed(self, circuit: Circuit) -> tuple[Circuit, ...]:
        """Circuits that begin where one ends and whose current it carries too: not behind a converter, nor a controller's motor."""
        if circuit.load == CONVERTER:
            return ()
        return tuple(
            each
            for each in self.circuit
            if each.source == circuit.load and not (each.role == "motor" and circuit.role == "main")
        )

    @cached_property
    def ends_first(self) -> tuple[Circuit, ...]:
        """Circuits, each after all that it feeds."""
        return tuple(sorted(self.circuit, key=lambda each: -self.reached[each.source][0]))

    @cached_property
    def shares_of_the_way(self) -> dict[str, float]:
        """By name: cable up to the end of a circuit over the longest way that leads through it; 1 where it feeds nothing."""
        behind: dict[str, float] = {}
        for each in self.ends_first:
            behind[each.name] = max((behind[other.name] + other.length_m for other in self.fed(each)), default=0.0)
        ahead: dict[str, float] = {}
        for each in reversed(self.ends_first):
            before = [ahead[other.name] for other in self.circuit if each in self.fed(other)]
            ahead[each.name] = max(before, default=0.0) + each.length_m
        return {name: way / (way + behind[name]) for name, way in ahead.items()}

    @cached_property
    def on_the_motor_s_way(self) -> tuple[Circuit, ...]:
        """Circuits with a settled cable in the way of the motor's current."""
        return tuple(each for each in self.circuit if each.role in ON_THE_MOTOR_S_WAY and each.copper_mm2 is not None)

    @property
    def ohm(self) -> float:
        """Their cables together: what the wires add to the controller's switch. [ohm]"""
        return sum(each.ohm for each in self.on_the_motor_s_way)
