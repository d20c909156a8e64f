"""The motor: permanent-magnet or series-wound, with its heat."""

from __future__ import annotations

from typing import Literal

from pydantic import model_validator

from ridesim.forms import Part, quantity
from ridesim.words import InputProblem

INSULATION_LIMITS_C = {"A": 100.0, "E": 115.0, "B": 120.0, "F": 145.0, "H": 165.0}
"""Winding mean temperature at the class limit [°C]: 40 °C plus the rise of IEC 60034-1
(B 80 K, F 105 K, H 125 K as quoted in a motor manual; A and E from memory)."""

_THERMAL = ("winding_heat_j_per_k", "case_heat_j_per_k", "winding_to_case_k_per_w", "case_to_air_k_per_w")


class Motor(Part):
    """A brushed motor. Resistance and torque constant at 20 °C."""

    kind: Literal["permanent-magnet", "series-wound"] = quantity(
        "turn the shaft with the leads open: a permanent-magnet motor makes volts, a series-wound one does not"
    )
    torque_constant_nm_per_a: float | None = quantity(
        "torque a motor ampere (= V·s/rad), permanent-magnet", None, gt=0.0, le=10.0
    )
    series_constant_nm_per_a2: float | None = quantity(
        "torque a squared ampere, unsaturated, series-wound", None, gt=0.0, le=1.0
    )
    saturation_current_a: float | None = quantity(
        "current at which saturation has halved the series constant", None, gt=0.0, le=10_000.0
    )
    resistance_ohm: float = quantity(
        "winding between the terminals at 20 °C, brushes' drop apart, field included", gt=0.0, le=100.0
    )
    brush_drop_v: float = quantity(
        "both brushes together",
        1.0,
        source="metal-graphite 0.6 to 1.0 V (from memory); carbon about 2 V",
        ge=0.0,
        le=5.0,
    )
    friction_torque_nm: float = quantity(
        "constant drag at the shaft", 0.05, source="common practice, no source; measure it", ge=0.0, le=100.0
    )
    viscous_nm_per_rad_s: float = quantity(
        "drag growing with speed", 0.0002, source="common practice, no source; measure it", ge=0.0, le=1.0
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
    mass_kg: float = quantity("mass of the motor, bracket apart", gt=0.0, le=500.0)
    winding_heat_j_per_k: float | None = quantity("heat capacity of the winding; else 0.10 × mass × 390", None, gt=0.0)
    case_heat_j_per_k: float | None = quantity("heat capacity of the case; else 0.90 × mass × 460", None, gt=0.0)
    winding_to_case_k_per_w: float | None = quantity("thermal resistance; else from the nameplate", None, gt=0.0)
    case_to_air_k_per_w: float | None = quantity("thermal resistance; else from the nameplate", None, gt=0.0)

    @model_validator(mode="after")
    def _complete(self) -> Motor:
        needed = {
            "permanent-magnet": ("torque_constant_nm_per_a",),
            "series-wound": ("series_constant_nm_per_a2", "saturation_current_a"),
        }[self.kind]
        for name in needed:
            if getattr(self, name) is None:
                raise InputProblem("", name, "nothing", f"a number, which a {self.kind} motor needs")
        others = {"torque_constant_nm_per_a", "series_constant_nm_per_a2", "saturation_current_a"} - set(needed)
        for name in others:
            if getattr(self, name) is not None:
                raise InputProblem("", name, f"{getattr(self, name):g}", f"no such key for a {self.kind} motor")
        nameplate = self.rated_power_w is not None and self.rated_voltage_v is not None
        if not nameplate and (self.winding_to_case_k_per_w is None or self.case_to_air_k_per_w is None):
            raise InputProblem(
                "", "rated_power_w", "no nameplate", "rated_power_w and rated_voltage_v, or both thermal resistances"
            )
        return self

    @property
    def winding_limit_c(self) -> float:
        """Temperature limit of the winding node. [°C]"""
        return INSULATION_LIMITS_C[self.insulation_class]

    @property
    def has_measured_heat(self) -> bool:
        """Whether all four thermal values are given."""
        return all(getattr(self, name) is not None for name in _THERMAL)
