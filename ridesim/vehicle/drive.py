"""The drive: gearbox stage, sprockets, chain."""

from __future__ import annotations

from typing import Any, Self

from pydantic import model_validator
from pydantic.functional_validators import ModelWrapValidatorHandler

from ridesim.forms import Part, quantity

GEARBOX_AND_CHAIN = 0.88
"""Efficiency of a gearbox stage and a chain together (from memory)."""


class Drive(Part):
    """From motor shaft to driven wheel."""

    gearbox_ratio: float = quantity(
        "motor turns a sprocket turn; 1.0 where there is no gearbox", 1.0, source="no gearbox", gt=0.0, le=1000.0
    )
    motor_teeth: int = quantity("teeth of the small sprocket", ge=1, le=200)
    wheel_teeth: int = quantity("teeth of the wheel's sprocket", ge=1, le=400)
    efficiency: float = quantity(
        "gearbox and chain together, 0 to 1",
        0.95,
        source="clean chain 0.96 to 0.985, Spicer et al. 2001 (from memory), less for wear; 0.88 with a gearbox (from memory)",
        gt=0.0,
        le=1.0,
    )
    freewheel: bool = quantity("whether the wheel can overrun the motor", False, source="no freewheel")
    chain: str | None = quantity("chain size, such as 08B", None)
    centre_distance_mm: float | None = quantity("between the sprockets' centres", None, gt=0.0, le=10_000.0)
    adjuster_travel_mm: float | None = quantity("travel of the chain adjuster", None, ge=0.0, le=1000.0)

    @model_validator(mode="wrap")
    @classmethod
    def _gearbox_costs(cls, table: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        if not isinstance(table, dict) or "efficiency" in table or table.get("gearbox_ratio", 1.0) == 1.0:
            return handler(table)
        return cls.filled(handler, table, {"efficiency": GEARBOX_AND_CHAIN})

    @property
    def ratio(self) -> float:
        """Motor turns for one wheel turn, G of the model."""
        return self.gearbox_ratio * self.wheel_teeth / self.motor_teeth
