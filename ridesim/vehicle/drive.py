"""The drive: its stages one by one, or in short a gearbox's ratio, sprockets and chain."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import prod
from typing import Any, Literal, Self

from pydantic import Field, model_validator
from pydantic.functional_validators import ModelWrapValidatorHandler

from ridesim.forms import Part, Spread, quantity
from ridesim.vehicle.widths import FOLLOWS
from ridesim.words import InputProblem

GEARBOX_AND_CHAIN = 0.88
"""Efficiency of a gearbox stage and a chain together (from memory)."""


@dataclass(frozen=True, slots=True)
class StageKind:
    """What a kind of stage loses: a share of the power, and a torque at its input that it takes under any load. [-], [N m]"""

    efficiency: float
    drag_nm: float


STAGES = {
    "chain": StageKind(0.95, 0.0),
    "belt": StageKind(0.95, 0.01),
    "spur": StageKind(0.97, 0.02),
    "planetary": StageKind(0.95, 0.05),
    "worm": StageKind(0.65, 0.10),
}
"""Chain: Spicer et al. 2001, 0.96 to 0.985, less for wear; worm 0.5 to 0.8; these and all others from memory, as are the torques."""


class DriveStage(Part):
    """One stage: teeth, or a ratio."""

    kind: Literal["chain", "belt", "spur", "planetary", "worm"] = quantity("what it is")
    driver_teeth: int | None = quantity("teeth on the motor's side", None, ge=1, le=400)
    driven_teeth: int | None = quantity("teeth on the wheel's side", None, ge=1, le=400)
    ratio: float | None = quantity("turns in for one out, where the teeth are not known", None, gt=0.0, le=1000.0)
    efficiency: float | None = quantity("0 to 1", None, source="by kind, see ridesim/vehicle/drive.py", gt=0.0, le=1.0)
    drag_nm: float | None = quantity(
        "torque at its input that it takes under any load",
        None,
        source="by kind, see ridesim/vehicle/drive.py",
        ge=0.0,
        le=100.0,
    )

    @model_validator(mode="after")
    def _one_ratio(self) -> DriveStage:
        teeth = (self.driver_teeth is not None) + (self.driven_teeth is not None)
        if (teeth, self.ratio is None) not in ((2, True), (0, False)):
            found = (
                "teeth and a ratio"
                if teeth and self.ratio is not None
                else "one of the two teeth"
                if teeth
                else "nothing"
            )
            raise InputProblem("", "ratio", found, "either driver_teeth and driven_teeth, or ratio")
        return self

    def value_of(self, key: str) -> Any:
        """The value that counts for a key: the one stated, else its kind's."""
        value = getattr(self, key)
        return getattr(STAGES[self.kind], key) if value is None and key in ("efficiency", "drag_nm") else value

    @property
    def turns(self) -> float:
        """Turns in for one out."""
        return self.ratio if self.ratio is not None else (self.driven_teeth or 1) / (self.driver_teeth or 1)


class Drive(Part):
    """From motor shaft to driven wheel. Stages give what the short form leaves open; what it says wins."""

    stage: tuple[DriveStage, ...] | None = Field(
        default=None, description="the stages from motor to wheel, one [[drive.stage]] each", min_length=1, strict=False
    )

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
    drag_nm: float = quantity(
        "torque at the motor's shaft that gearbox and chain take under any load",
        0.0,
        source="none; stages have their own",
        ge=0.0,
        le=100.0,
    )
    freewheel: bool = quantity("whether the wheel can overrun the motor", False, source="no freewheel")
    chain: str | None = quantity("chain size, such as 08B", None)
    centre_distance_mm: float | None = quantity("between the sprockets' centres", None, gt=0.0, le=10_000.0)
    adjuster_travel_mm: float | None = quantity("travel of the chain adjuster", None, ge=0.0, le=1000.0)

    @model_validator(mode="wrap")
    @classmethod
    def _fill_in(cls, table: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        """What follows from the stages, or the efficiency of a gearbox that is only a ratio."""
        if not isinstance(table, dict):
            return handler(table)
        if table.get("stage") is not None:
            # The stages must be good before they are added up: read once with everything else filled in.
            read = cls.filled(handler, table, {name: 1 for name in ("motor_teeth", "wheel_teeth") if name not in table})
            added = added_up(read.stage or ())
            return cls.filled(handler, table, {name: value for name, value in added.items() if name not in table})
        if "efficiency" in table or table.get("gearbox_ratio", 1.0) == 1.0:
            return handler(table)
        return cls.filled(handler, table, {"efficiency": GEARBOX_AND_CHAIN})

    def source_of(self, key: str) -> str | None:
        """Where a value that the file leaves out comes from, where that is not the key's usual default."""
        return "from the stages" if self.stage is not None and key in added_up(self.stage) else None

    def drawn(self, values: Mapping[str, Any]) -> Self:
        """With values of a draw; stages are added up anew."""
        return super().drawn(values) if self.stage is None else self.checked_draw(values)

    def spread_of(self, key: str) -> Spread | None:
        """How unsure a value is that the file leaves out: it moves with the stages' own."""
        return FOLLOWS if self.source_of(key) else None

    @property
    def ratio(self) -> float:
        """Motor turns for one wheel turn, G of the model."""
        return self.gearbox_ratio * self.wheel_teeth / self.motor_teeth

    @property
    def in_words(self) -> str:
        """Ratio with the sprockets' teeth."""
        return f"{self.ratio:.4g} ({self.motor_teeth}:{self.wheel_teeth})"


def added_up(stages: tuple[DriveStage, ...]) -> dict[str, Any]:
    """The short form of some stages: the last one with teeth gives the sprockets, all others the gearbox's ratio."""
    with_teeth = [n for n, each in enumerate(stages) if each.ratio is None]
    sprockets = with_teeth[-1] if with_teeth else None
    teeth = (1, 1) if sprockets is None else (stages[sprockets].driver_teeth, stages[sprockets].driven_teeth)
    drag, faster = 0.0, 1.0
    for each in stages:
        drag += each.value_of("drag_nm") / faster
        faster *= each.turns
    return {
        "gearbox_ratio": prod(each.turns for n, each in enumerate(stages) if n != sprockets),
        "motor_teeth": teeth[0],
        "wheel_teeth": teeth[1],
        "efficiency": prod(each.value_of("efficiency") for each in stages),
        "drag_nm": drag,
    }
