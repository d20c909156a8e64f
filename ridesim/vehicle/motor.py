"""The motor: permanent-magnet, series-wound, from a data sheet's curve, or electronically commutated; with its heat."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Annotated, Any, Literal, Self

import numpy as np
from pydantic import ConfigDict, Field, Strict, model_validator
from pydantic.functional_validators import ModelWrapValidatorHandler

from ridesim.forms import Part, Spread, correlation_matrix, quantity, takes_width
from ridesim.vehicle.motor_curve import CurveFit, fit_curve
from ridesim.vehicle.motor_heat import ThermalValues, cooling, thermal_values
from ridesim.vehicle.motor_read_off import BRUSHES_ADD, LABEL, READ_OFF, from_read_off
from ridesim.vehicle.mount import Mount
from ridesim.vehicle.place import ABOVE, FORWARD
from ridesim.vehicle.widths import BY_LABEL, BY_MASS, FOLLOWS
from ridesim.words import InputProblem

INSULATION_LIMITS_C = {"A": 100.0, "E": 115.0, "B": 120.0, "F": 145.0, "H": 165.0}
"""Winding mean temperature at the class limit [°C]: 40 °C plus the rise of IEC 60034-1
(B 80 K, F 105 K, H 125 K as quoted in a motor manual; A and E from memory)."""

LEAST_HEAT_J_PER_K = 1.0
"""Floor of both heat capacities: 3 g of copper, less than any motor that moves a vehicle; what heats in no time takes endless steps."""

THERMAL = ("winding_heat_j_per_k", "case_heat_j_per_k", "winding_to_case_k_per_w", "case_to_air_k_per_w")

FROM_MASS = "middle of a range from memory, half to twice as much; measure it with a warm-up"

_HELD = ("brush_drop_v", "viscous_nm_per_rad_s")
"""What the fit of a curve takes from the file where it stands there."""
_FITTED = ("torque_constant_nm_per_a", "resistance_ohm", "friction_torque_nm")
"""What only the curve gives."""
_NEEDED = {
    "permanent-magnet": ("torque_constant_nm_per_a",),
    "electronically-commutated": ("torque_constant_nm_per_a",),
    "curve": ("curve", "torque_constant_nm_per_a"),
    "series-wound": ("series_constant_nm_per_a2", "saturation_current_a"),
}
"""The keys, among those that go with one kind or another, that each kind needs; it has no other of them."""


def _resistance_or_curve(schema: dict[str, Any]) -> None:
    schema["required"].remove("resistance_ohm")
    schema["anyOf"] = [{"required": [key]} for key in ("resistance_ohm", "resistance_through_brushes_ohm", "curve")]
    schema["anyOf"].append({"required": list(LABEL)})


class Motor(Part):
    """A motor. Resistance and torque constant at 20 °C.

    ``kind = "curve"`` fits the five numbers of a permanent-magnet motor to a data sheet's rows and fills them in;
    ``"electronically-commutated"`` is the equivalent permanent-magnet motor seen from the controller's supply side: torque
    constant and resistance between two leads, no brush drop. All kinds go to another voltage by the same equations.
    """

    model_config = ConfigDict(json_schema_extra=_resistance_or_curve)

    kind: Literal["permanent-magnet", "series-wound", "curve", "electronically-commutated"] = quantity(
        "turn the shaft with the leads open: a permanent-magnet motor makes volts, a series-wound one does not; curve: from "
        "a data sheet's rows; electronically-commutated: three leads, no brushes"
    )
    curve: tuple[Annotated[tuple[float, float, float], Strict(False)], ...] | None = quantity(
        "rows of [rpm, torque_nm, current_a] at one voltage, from the data sheet", None, strict=False, min_length=2
    )
    curve_voltage_v: float | None = quantity(
        "terminal voltage of the curve; else the rated voltage", None, gt=0.0, le=1000.0
    )
    torque_constant_nm_per_a: float | None = quantity(
        "the motor's torque constant: N·m an ampere (= V·s/rad), permanent-magnet", None, gt=0.0, le=10.0
    )
    series_constant_nm_per_a2: float | None = quantity(
        "torque a squared ampere, unsaturated, series-wound", None, gt=0.0, le=1.0
    )
    saturation_current_a: float | None = quantity(
        "current at which saturation has halved the series constant; 1e7: none", None, gt=0.0, le=1e7
    )
    resistance_ohm: float = quantity(
        "the motor's resistance: winding between the terminals at 20 °C, brushes' drop apart, field included; two leads of an electronically "
        "commutated one; else from all four of the label (power, voltage, current, speed); curve: fitted",
        gt=0.0, le=100.0,
    )  # fmt: skip
    brush_drop_v: float = quantity(
        "what the brushes drop, both together; 0 where electronically commutated",
        1.0,
        source="metal-graphite 0.6 to 1.0 V (from memory); carbon about 2 V",
        ge=0.0,
        le=5.0,
    )
    friction_torque_nm: float = quantity(
        "the motor's friction, at its shaft", 0.05, source="common practice, no source; measure it", ge=0.0, le=100.0
    )
    viscous_nm_per_rad_s: float = quantity(
        "the motor's friction that grows with speed",
        0.0002,
        source="common practice, no source; measure it",
        ge=0.0,
        le=1.0,
    )
    rotor_inertia_kgm2: float = quantity(
        "moment of inertia of the rotor", 0.001, source="common practice, no source", ge=0.0, le=10.0
    )
    magnet: Literal["ferrite", "neodymium"] = quantity(
        "magnet material", "ferrite", source="usual in salvaged mobility motors; common practice"
    )
    insulation_class: Literal["A", "E", "B", "F", "H"] = quantity(
        "letter on the nameplate", "B", source="the cooler common class; common practice"
    )
    rated_power_w: float | None = quantity("shaft power on the nameplate, continuous", None, gt=0.0, le=100_000.0)
    rated_voltage_v: float | None = quantity("terminal voltage on the nameplate", None, gt=0.0, le=1000.0)
    rated_current_a: float | None = quantity("current on the nameplate, continuous", None, gt=0.0, le=5000.0)
    rated_speed_rpm: float | None = quantity("speed on the nameplate", None, gt=0.0, le=100_000.0)
    no_load_speed_rpm: float | None = quantity(
        "speed of the free shaft; gives the torque constant where it is not said", None, gt=0.0, le=100_000.0
    )
    no_load_current_a: float | None = quantity(
        "current of the free shaft; gives the friction where it is not said", None, ge=0.0, le=1000.0
    )
    no_load_voltage_v: float | None = quantity(
        "terminal voltage of the free run; else the rated voltage", None, gt=0.0, le=1000.0
    )
    resistance_through_brushes_ohm: float | None = quantity(
        "between the terminals with a meter, shaft turned to where it reads least", None, gt=0.0, le=100.0
    )
    demagnetising_current_a: float | None = quantity(
        "current at 20 °C from which the magnets may be weakened for good; else the held current at the rated voltage",
        None, gt=0.0, le=100_000.0,
    )  # fmt: skip
    mass_kg: float = quantity("mass of the motor, bracket apart", gt=0.0, le=500.0)
    x_m: float | None = FORWARD
    z_m: float | None = ABOVE
    mount: Mount | None = Field(default=None, description="the bolts of its plate")
    winding_heat_j_per_k: float | None = quantity(
        "heat capacity of the winding; else 0.10 × mass × 390", None, ge=LEAST_HEAT_J_PER_K
    )
    case_heat_j_per_k: float | None = quantity(
        "heat capacity of the case; else 0.90 × mass × 460", None, ge=LEAST_HEAT_J_PER_K
    )
    winding_to_case_k_per_w: float | None = quantity(
        "heat's way from winding to case: thermal resistance; else from the nameplate, else from the mass", None, gt=0.0
    )
    case_to_air_k_per_w: float | None = quantity(
        "cooling of the case: thermal resistance to the air; else from the nameplate, else from the mass", None, gt=0.0
    )

    correlations: tuple[Annotated[tuple[str, str, float], Strict(False)], ...] | None = quantity(
        "rows of [key, key, correlation] of values that hang together, as the bench writes them", None, strict=False
    )

    @model_validator(mode="wrap")
    @classmethod
    def _fill_in(cls, table: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        """No brushes where electronically commutated; what is left open follows from a curve, or from what label and free run say."""
        if not isinstance(table, dict) or table.get("kind") == "series-wound":
            return handler(table)
        if table.get("kind") != "curve":
            open_ = {"brush_drop_v": 0.0} if table.get("kind") == "electronically-commutated" else {}
            known = {key: value for key, value in open_.items() if key not in table}
            if not any(key in table for key in READ_OFF):
                return cls.filled(handler, table, known)
            limit = INSULATION_LIMITS_C.get(str(table.get("insulation_class", "B")), INSULATION_LIMITS_C["B"])
            defaults = {name: field.default for name, field in cls.model_fields.items() if not field.is_required()}
            return cls.filled(handler, table, {**known, **from_read_off(table, {**defaults, **known}, limit)})
        for key in _FITTED:
            if key in table:
                raise InputProblem("", key, f"{table[key]}", "no such key beside a curve, which gives it")
        # The rows and what is held must be good numbers before they are fitted: read once with the resistance left open.
        fit = cls.filled(handler, table, {"resistance_ohm": 1.0}).curve_fit
        fitted = {} if fit is None else {key: getattr(fit, key) for key in (*_FITTED, *_HELD) if key not in table}
        return cls.filled(handler, table, {"resistance_ohm": 1.0, **fitted})

    @model_validator(mode="after")
    def _complete(self) -> Motor:
        needed = _NEEDED[self.kind]
        for name in needed:
            if getattr(self, name) is None:
                what = "rows" if name == "curve" else "a number"
                raise InputProblem("", name, "nothing", f"{what}, which a {self.kind} motor needs")
        for name in {name for names in _NEEDED.values() for name in names} - set(needed):
            value, none = getattr(self, name), f"no such key for a {self.kind} motor"
            if value is not None and name == "curve":
                raise InputProblem("", "curve", "rows", f'{none}; kind = "curve" uses them')
            if value is not None:
                raise InputProblem("", name, f"{value:g}", none)
        least = LEAST_HEAT_J_PER_K / (0.10 * 390.0)
        if self.winding_heat_j_per_k is None and self.mass_kg < least:
            raise InputProblem(
                "", "mass_kg", f"{self.mass_kg:g} kg", f"at least {least:.3f} kg, from which the winding's heat capacity follows"
            )  # fmt: skip
        return self

    @model_validator(mode="after")
    def _correlated(self) -> Motor:
        rows = self.correlations or ()
        numbers = [name for name, field in type(self).model_fields.items() if takes_width(field)]
        for number, (one, other, share) in enumerate(rows, start=1):
            for name in (one, other):
                if name not in numbers:
                    raise InputProblem(
                        "", f"correlations[{number}]", f'"{name}"', "a key of this section that is a number"
                    )
            if one == other or not -1.0 <= share <= 1.0:
                found = f"{share:g} between {one} and {other}"
                raise InputProblem("", f"correlations[{number}]", found, "-1 to 1 between two keys")
        named = sorted({name for row in rows for name in row[:2]})
        if rows and np.linalg.eigvalsh(correlation_matrix(named, rows))[0] < -0.05:
            raise InputProblem(
                "", "correlations", f"{len(rows)} rows that exclude each other", "rows as the bench wrote them"
            )
        return self

    def drawn(self, values: Mapping[str, Any]) -> Self:
        """With values of a draw; what was read off label and free run gives the others anew."""
        read_off = any(key in self.model_fields_set for key in READ_OFF)
        return self.checked_draw(values) if read_off else super().drawn(values)

    @cached_property
    def curve_fit(self) -> CurveFit | None:
        """How the curve was fitted, and the row that is missed most; None for other kinds."""
        voltage = self.curve_voltage_v or self.rated_voltage_v
        if self.curve is None:
            return None
        if voltage is None:
            raise InputProblem(
                "", "curve_voltage_v", "nothing", "the terminal voltage of the curve (or rated_voltage_v)"
            )
        held = (getattr(self, key) if key in self.model_fields_set else None for key in _HELD)
        return fit_curve(self.curve, voltage, *held)

    def value_of(self, key: str) -> Any:
        """The value that counts for a key: the one stated, else its default, or what follows for the motor's heat."""
        return self.heat[THERMAL.index(key)] if key in THERMAL else getattr(self, key)

    @cached_property
    def heat(self) -> ThermalValues:
        """Its heat capacities and thermal resistances, in the order of :data:`THERMAL`."""
        return thermal_values(self)

    def spread_of(self, key: str) -> Spread | None:
        """How unsure a value is that the file leaves out: by mass, or nothing where it moves with what was read off."""
        if key.endswith("k_per_w"):
            return BY_MASS if self._guessed_heat else None
        if key == "resistance_ohm" and self.kind != "curve" and self.resistance_through_brushes_ohm is None:
            return BY_LABEL
        return FOLLOWS if self.kind != "curve" and key not in THERMAL and self.source_of(key) else None

    @property
    def _guessed_heat(self) -> bool:
        """Whether a thermal resistance that is left out is guessed from the mass."""
        return self.cools_by_mass or bool(cooling(self).doubt)

    def source_of(self, key: str) -> str | None:
        """Where a value that the file leaves out comes from, where that is not the key's usual default."""
        if key in THERMAL:
            guessed = key.endswith("k_per_w") and self._guessed_heat
            return f"from the mass, {FROM_MASS}" if guessed else type(self).model_fields[key].description
        if self.kind == "curve" and key in (*_FITTED, *_HELD):
            return "fitted from the curve"
        if self.kind == "electronically-commutated" and key == "brush_drop_v":
            return "no brushes"
        if key == "resistance_ohm" and self.resistance_through_brushes_ohm is not None:
            return f"the reading through the brushes, less what they add ({BRUSHES_ADD:g} times, from memory)"
        if key == "resistance_ohm":
            return "from the label's power, voltage, current and speed, warm: half to twice as much; hold the rotor and measure it"
        if key == "friction_torque_nm" and self.no_load_current_a is not None and self.no_load_speed_rpm is not None:
            return "from the free run"
        if key == "torque_constant_nm_per_a" and self.no_load_speed_rpm is not None:
            return "from the free run"
        if key == "torque_constant_nm_per_a" and self.rated_speed_rpm is not None:
            return "from the nameplate's speed and current, warm"
        return None

    @property
    def winding_limit_c(self) -> float:
        """Temperature limit of the winding node. [°C]"""
        return INSULATION_LIMITS_C[self.insulation_class]

    @property
    def has_nameplate(self) -> bool:
        """Whether rated power and voltage are given, from which thermal resistances follow."""
        return self.rated_power_w is not None and self.rated_voltage_v is not None

    @property
    def cools_by_mass(self) -> bool:
        """Whether a thermal resistance is guessed from the mass: neither given nor to be had from a nameplate."""
        given = self.winding_to_case_k_per_w is not None and self.case_to_air_k_per_w is not None
        return not given and not self.has_nameplate

    @property
    def has_measured_heat(self) -> bool:
        """Whether all four thermal values are given."""
        return all(getattr(self, name) is not None for name in THERMAL)
