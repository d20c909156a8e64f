"""The speed controller: its limits and losses."""

from __future__ import annotations

from typing import Any, Literal, Self

from pydantic import ConfigDict, model_validator
from pydantic.functional_validators import ModelWrapValidatorHandler

from ridesim.forms import Part, quantity
from ridesim.vehicle.place import ABOVE, FORWARD
from ridesim.words import InputProblem, is_number

BATTERY_LABEL_MOTOR_FACTOR = 2.0
"""Motor limit over battery limit taken where a label names the battery's current only: common practice, no source."""
_LIMITS = ("max_battery_current_a", "max_motor_current_a")


def _either_limits_or_label(schema: dict[str, Any]) -> None:
    for name in _LIMITS:
        schema["properties"][name].pop("default")
    schema["anyOf"] = [{"required": list(_LIMITS)}, {"required": ["label_current_a", "label_current_is"]}]


class Controller(Part):
    """A step-down chopper. Labels often print one current: find out whether it is the battery's or the motor's.

    Either both limits are given, or the label's one number with what it means. ``"unknown"`` takes the cautious reading,
    the motor's, and results show both.
    """

    model_config = ConfigDict(json_schema_extra=_either_limits_or_label)

    max_battery_current_a: float = quantity(
        "the controller's battery limit: current taken from the pack",
        None,
        source="from the label's one number",
        gt=0.0,
        le=5000.0,
    )
    max_motor_current_a: float = quantity(
        "the controller's motor limit: current into the motor",
        None,
        source="from the label's one number",
        gt=0.0,
        le=5000.0,
    )
    label_current_a: float | None = quantity(
        "the one current printed on the label, where no more is known", None, gt=0.0, le=5000.0
    )
    label_current_is: Literal["battery", "motor", "unknown"] | None = quantity(
        "what the label's current means: ask the maker, or clamp both leads at a slow pull", None
    )
    cutoff_voltage_v: float | None = quantity(
        "the controller's cut-off: pack voltage at which it stops; else from the chemistry", None, ge=0.0, le=1000.0
    )
    cutoff_action: Literal["fold-back", "cut-out"] = quantity(
        "at the cut-off: fold-back eases the current so that the voltage stays there; cut-out switches off",
        "fold-back", source="usual; common practice",
    )  # fmt: skip
    restart_voltage_v: float | None = quantity(
        "pack voltage at which it comes back after a cut-out", None, gt=0.0, le=1000.0
    )
    restart_delay_s: float | None = quantity(
        "shortest time off after a cut-out: throttle to nothing and on again", None, ge=0.2, le=600.0
    )
    max_voltage_v: float | None = quantity("highest supply voltage it stands", None, gt=0.0, le=1000.0)
    on_resistance_ohm: float = quantity(
        "resistance of controller and wires; a third, the wires', gives way to the main and motor cable of [[wiring.circuit]]",
        0.006, source="common practice, no source", ge=0.0, le=1.0,
    )  # fmt: skip
    freewheel_drop_v: float = quantity(
        "drop of the freewheel diode, which carries the motor's current between pulses; 0 where a second switch does", 0.8,
        source="silicon diode, 0.7 to 1.0 V, from memory", ge=0.0, le=3.0,
    )  # fmt: skip
    standby_current_a: float = quantity(
        "standby current, drawn while switched on", 0.05, source="common practice, no source", ge=0.0, le=10.0
    )
    ramp_s: float = quantity(
        "soft start: time from no throttle to full", 0.0, source="none stated; the rider's gentleness counts",
        ge=0.0, le=60.0,
    )  # fmt: skip
    reverse_duty: float | None = quantity("largest duty in reverse; left out: it has no reverse", None, gt=0.0, le=1.0)
    capacitor_uf: float | None = quantity("capacitors at its supply side", None, gt=0.0, le=1_000_000.0)
    precharge_ohm: float | None = quantity("resistor that fills them before the contactor closes", None, gt=0.0, le=1e5)
    leads_marked: bool = quantity(
        "whether its leads are marked; false puts the sheet for finding out which is which behind the build sheet", True,
        source="none stated",
    )  # fmt: skip
    mass_kg: float = quantity(
        "the controller's mass, with its bracket", 0.8, source="common practice, no source", ge=0.0, le=100.0
    )
    x_m: float | None = FORWARD
    z_m: float | None = ABOVE

    @model_validator(mode="wrap")
    @classmethod
    def _from_label(cls, table: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        if not isinstance(table, dict):
            return handler(table)
        missing = [name for name in _LIMITS if name not in table]
        label, meaning = table.get("label_current_a"), table.get("label_current_is")
        if label is None and missing:
            wanted = (
                "a number (both max_battery_current_a and max_motor_current_a), or the label's one number as label_current_a "
                'with label_current_is = "battery", "motor" or "unknown"'
            )
            raise InputProblem("", missing[0], "nothing", wanted)
        if not is_number(label):
            return handler(table)
        if label <= 0.0:
            raise InputProblem("", "label_current_a", f"{label:g}", "a number above 0 A")
        if not missing:
            wanted = "the two limits alone, or the label alone"
            raise InputProblem("", "label_current_a", f"{label:g} A beside both limits", wanted)
        if meaning is None:
            hint = "The same number gives very different pulls; results show both readings."
            raise InputProblem("", "label_current_is", "nothing", 'one of "battery", "motor", "unknown"', hint)
        given = dict(zip(_LIMITS, readings(label)["battery" if meaning == "battery" else "motor"], strict=True))
        return cls.filled(handler, table, {name: given[name] for name in missing})

    @model_validator(mode="after")
    def _consistent(self) -> Controller:
        if self.label_current_is is not None and self.label_current_a is None:
            raise InputProblem("", "label_current_a", "nothing", "the label's current, whose meaning is given")
        for key, unit in (("restart_voltage_v", "V"), ("restart_delay_s", "s")):
            value = getattr(self, key)
            if value is not None and self.cutoff_action != "cut-out":
                wanted = 'no such key with fold-back; cutoff_action = "cut-out" uses it'
                raise InputProblem("", key, f"{value:g} {unit}", wanted)
        if self.precharge_ohm is not None and self.capacitor_uf is None:
            raise InputProblem("", "capacitor_uf", "nothing", "the capacitors that precharge_ohm fills")
        return self


def readings(label_a: float) -> dict[str, tuple[float, float]]:
    """Battery and motor limit under either reading of a label's one number. [A]

    Battery's: the motor may get more at low speed; twice the label is taken (common practice, no source). Motor's: the
    battery never gives more than the motor gets, so the same number limits both.
    """
    return {"battery": (label_a, BATTERY_LABEL_MOTOR_FACTOR * label_a), "motor": (label_a, label_a)}
