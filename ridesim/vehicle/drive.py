"""The drive: its stages one by one, or in short a gearbox's ratio, sprockets and chain."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import prod
from typing import Any, Literal, NamedTuple, Self

from pydantic import Field, model_validator
from pydantic.functional_validators import ModelWrapValidatorHandler

from ridesim.forms import Part, Spread, quantity
from ridesim.vehicle.place import need_both
from ridesim.vehicle.widths import FOLLOWS
from ridesim.words import InputProblem

GEARBOX_AND_CHAIN = 0.88
"""Efficiency of a gearbox stage and a chain together (from memory)."""


@dataclass(frozen=True, slots=True)
class StageKind:
    """What a kind of stage loses, a share of the power and a torque at its input under any load [-], [N m]; and which way it turns.

    ``turns``: 1 as what drives it, -1 against it, 0 about another axis, where the hand of its thread decides.
    """

    efficiency: float
    drag_nm: float
    turns: int


STAGES = {
    "chain": StageKind(0.95, 0.0, 1),
    "belt": StageKind(0.95, 0.01, 1),
    "spur": StageKind(0.97, 0.02, -1),
    "planetary": StageKind(0.95, 0.05, 1),
    "worm": StageKind(0.65, 0.10, 0),
}
"""Chain: Spicer et al. 2001, 0.96 to 0.985, less for wear; worm 0.5 to 0.8; these and all others from memory, as are the torques.
A planetary stage with its ring held keeps the direction, one with its carrier held would reverse it."""
CHAIN_KEYS = ("chain", "centre_distance_mm", "adjuster_travel_mm")
"""What is stated of a chain: of each chain stage, and in the short form of the last one."""


def _chain_size() -> Any:
    return quantity("chain size, such as 08B or 428", None)


def _centre_distance() -> Any:
    return quantity("between the sprockets' centres, adjuster at its shortest", None, gt=0.0, le=10_000.0)


def _adjuster_travel() -> Any:
    return quantity("travel of the chain adjuster", None, ge=0.0, le=1000.0)


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
    chain: str | None = _chain_size()
    centre_distance_mm: float | None = _centre_distance()
    adjuster_travel_mm: float | None = _adjuster_travel()

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
        for key in CHAIN_KEYS:
            if getattr(self, key) is not None and not self.has_chain:
                raise InputProblem(
                    "",
                    key,
                    f"this of a {self.kind} stage",
                    "it under a stage of kind chain, with the teeth of both sprockets",
                )
        return self

    @property
    def has_chain(self) -> bool:
        """Whether it is a chain round sprockets that are known."""
        return self.kind == "chain" and self.ratio is None

    def value_of(self, key: str) -> Any:
        """The value that counts for a key: the one stated, else its kind's."""
        value = getattr(self, key)
        return getattr(STAGES[self.kind], key) if value is None and key in ("efficiency", "drag_nm") else value

    @property
    def turns(self) -> float:
        """Turns in for one out."""
        return self.ratio if self.ratio is not None else (self.driven_teeth or 1) / (self.driver_teeth or 1)


class ChainDrive(NamedTuple):
    """One chain of a drive: its sprockets, what is stated of it, and where it is between motor and wheel.

    Attributes
    ----------
    where : str
        Section of the build that says so.
    driver_teeth, driven_teeth : int
    chain : str or None
    centre_distance_mm, adjuster_travel_mm : float or None
    before : float
        Motor turns for one of its driving sprocket.
    after : float
        Turns of its driven sprocket for one of the wheel.
    efficiency_after : float
        Of what lies between it and the wheel.
    """

    where: str
    driver_teeth: int
    driven_teeth: int
    chain: str | None
    centre_distance_mm: float | None
    adjuster_travel_mm: float | None
    before: float
    after: float
    efficiency_after: float


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
        "efficiency of gearbox and chain, 0 to 1",
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
    chain: str | None = _chain_size()
    centre_distance_mm: float | None = _centre_distance()
    adjuster_travel_mm: float | None = _adjuster_travel()
    shaft_x_m: float | None = quantity(
        "shaft of the last chain's small sprocket, forward of the rear axle", None, ge=-20.0, le=20.0
    )
    shaft_z_m: float | None = quantity("that shaft's height above ground, loaded", None, ge=0.0, le=20.0)
    shaft_room_mm: float | None = quantity(
        "room that motor or gearbox takes about that shaft, as a radius", None, gt=0.0, le=1000.0
    )

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

    @model_validator(mode="after")
    def _whole_place(self) -> Self:
        return need_both(self, "shaft_x_m", "shaft_z_m")

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

    @property
    def chains(self) -> tuple[ChainDrive, ...]:
        """Its chains from motor to wheel. What the short form says is said of the last one."""
        if self.stage is None:
            return (_chain_drive("drive", (self.motor_teeth, self.wheel_teeth), self, self.gearbox_ratio, 1.0, 1.0),)
        found: list[ChainDrive] = []
        sprockets, after, efficiency = _sprockets(self.stage), 1.0, 1.0
        for n, each in reversed(list(enumerate(self.stage))):
            teeth = (self.motor_teeth, self.wheel_teeth) if n == sprockets else (each.driver_teeth, each.driven_teeth)
            turns = each.turns if each.ratio is not None else (teeth[1] or 1) / (teeth[0] or 1)
            if each.has_chain:
                where, stated = (f"drive.stage[{n + 1}]", each) if found else ("drive", self)
                found.append(_chain_drive(where, teeth, stated, self.ratio / (turns * after), after, efficiency))
            after, efficiency = after * turns, efficiency * each.value_of("efficiency")
        return tuple(reversed(found))

    @property
    def way(self) -> int | None:
        """Which way the wheel turns, seen from one side: 1 as the motor, -1 against it; 0 where an axis is turned, None where a
        gearbox is known by its ratio alone."""
        if self.stage is not None:
            return prod(STAGES[each.kind].turns for each in self.stage)
        return 1 if self.gearbox_ratio == 1.0 else None


def _chain_drive(
    where: str,
    teeth: tuple[int | None, int | None],
    stated: Drive | DriveStage,
    before: float,
    after: float,
    efficiency: float,
) -> ChainDrive:
    return ChainDrive(
        where,
        teeth[0] or 1,
        teeth[1] or 1,
        stated.chain,
        stated.centre_distance_mm,
        stated.adjuster_travel_mm,
        before,
        after,
        efficiency,
    )


def _sprockets(stages: tuple[DriveStage, ...]) -> int | None:
    """Which of the stages gives the short form's sprockets: the last one with teeth."""
    return max((n for n, each in enumerate(stages) if each.ratio is None), default=None)


def added_up(stages: tuple[DriveStage, ...]) -> dict[str, Any]:
    """The short form of some stages: the last one with teeth gives the sprockets, all others the gearbox's ratio, the last chain its keys."""
    sprockets = _sprockets(stages)
    teeth = (1, 1) if sprockets is None else (stages[sprockets].driver_teeth, stages[sprockets].driven_teeth)
    drag, faster = 0.0, 1.0
    for each in stages:
        drag += each.value_of("drag_nm") / faster
        faster *= each.turns
    chain = next((each for each in reversed(stages) if each.has_chain), None)
    stated = {key: getattr(chain, key, None) for key in CHAIN_KEYS}
    return {
        **{key: value for key, value in stated.items() if value is not None},
        "gearbox_ratio": prod(each.turns for n, each in enumerate(stages) if n != sprockets),
        "motor_teeth": teeth[0],
        "wheel_teeth": teeth[1],
        "efficiency": prod(each.value_of("efficiency") for each in stages),
        "drag_nm": drag,
    }
