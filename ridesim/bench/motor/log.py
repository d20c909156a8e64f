"""A motor's bench log: what the maker typed, as read from a TOML file. Nothing is computed here."""

from __future__ import annotations

from collections.abc import Mapping
from math import pi
from typing import Any, ClassVar, Literal

from pydantic import Field, model_validator

from ridesim.forms import Part, quantity
from ridesim.words import InputProblem

RPM = pi / 30.0
"""One turn a minute. [rad/s]"""
NEVER_UNLOADED = (
    "A series-wound motor without load speeds up until it flies apart: never run it with the chain off, the wheel off the "
    "ground or the brake let go."
)


class Meter(Part):
    """How far the instruments may be off: one standard deviation of a reading, and the size of the last digit.

    A ``..._percent`` error is drawn anew at every reading; a ``..._gain_percent`` one is the same factor in all readings of
    that meter, which no number of readings averages out. A maker's "accuracy" is mostly the second.
    """

    voltage_percent: float = quantity(
        "one standard deviation of a voltage reading", 1.0, source="cheap meter; common practice", gt=0.0, le=50.0
    )
    current_percent: float = quantity(
        "one standard deviation of a current reading", 2.0, source="cheap clamp or meter; common practice",
        gt=0.0, le=50.0,
    )  # fmt: skip
    speed_percent: float = quantity(
        "one standard deviation of a speed", 1.0, source="phone tachometer; common practice", gt=0.0, le=50.0
    )
    torque_percent: float = quantity(
        "one standard deviation of a brake's torque", 3.0, source="spring scale and arm; common practice",
        gt=0.0, le=50.0,
    )  # fmt: skip
    voltage_gain_percent: float = quantity(
        "one standard deviation of a factor common to all voltage readings", 0.0, source="errors taken as each its own",
        ge=0.0, le=20.0,
    )  # fmt: skip
    current_gain_percent: float = quantity(
        "the same of all current readings", 0.0, source="errors taken as each its own", ge=0.0, le=20.0
    )
    speed_gain_percent: float = quantity(
        "the same of all speeds", 0.0, source="errors taken as each its own", ge=0.0, le=20.0
    )
    torque_gain_percent: float = quantity(
        "the same of all torques: the arm's length", 0.0, source="errors taken as each its own", ge=0.0, le=20.0
    )
    voltage_digit_v: float = quantity("last digit of the voltage reading", 0.0, source="taken as fine", ge=0.0, le=10.0)
    current_digit_a: float = quantity("last digit of the current reading", 0.0, source="taken as fine", ge=0.0, le=10.0)
    speed_digit_rpm: float = quantity("last digit of the speed", 0.0, source="taken as fine", ge=0.0, le=1000.0)


class Gearing(Part):
    """What stands between the motor and the place where the turns were counted."""

    gearbox_ratio: float = quantity("stage between motor and sprocket", 1.0, source="no gearbox", gt=0.0, le=1000.0)
    motor_teeth: int | None = quantity("teeth of the driving sprocket", None, ge=3, le=200)
    wheel_teeth: int | None = quantity("teeth of the wheel's sprocket", None, ge=3, le=400)


class Turning(Part):
    """Speed of rotation: typed, or counted turns in a time."""

    speed_rpm: float | None = quantity(
        "speed where it was measured (see speed_measured_at)", None, ge=0.0, le=100_000.0
    )
    turns: float | None = quantity("turns counted", None, gt=0.0, le=100_000.0)
    seconds: float | None = quantity("time for the turns counted", None, gt=0.0, le=3600.0)

    @model_validator(mode="after")
    def _one_speed(self) -> Turning:
        counted = self.turns is not None or self.seconds is not None
        if counted and self.speed_rpm is not None:
            raise InputProblem("", "turns", "a second speed beside speed_rpm", "speed_rpm, or turns with seconds")
        if counted and (self.turns is None or self.seconds is None):
            missing = "seconds" if self.seconds is None else "turns"
            raise InputProblem("", missing, "nothing", "turns together with the seconds they took")
        return self

    @property
    def rpm(self) -> float | None:
        """Speed where it was measured. [turns a minute]"""
        if self.turns is not None and self.seconds is not None:
            return 60.0 * self.turns / self.seconds
        return self.speed_rpm


class Turned(Turning):
    """The kind test: shaft turned by hand or drill with the motor's leads open."""

    voltage_v: float = quantity("volts at the open leads, either sign", ge=-500.0, le=500.0)


class FreeSpin(Turning):
    """Spinning freely: voltage at the motor's terminals, current and speed once settled."""

    voltage_v: float = quantity("at the motor's terminals", gt=0.0, le=120.0)
    current_a: float = quantity("into the motor", gt=0.0, le=1000.0)
    chain: bool = quantity("whether chain and wheel turn along, wheel off the ground", False, source="motor alone")


class Held(Part):
    """Rotor held still, a few amps through a lamp in series: for the winding's resistance."""

    voltage_v: float = quantity("at the motor's terminals, not at the battery", gt=0.0, le=120.0)
    current_a: float = quantity("into the motor", gt=0.0, le=1000.0)
    end_voltage_v: float | None = quantity("voltage at the end of the hold", None, gt=0.0, le=120.0)
    end_current_a: float | None = quantity("current at the end of the hold", None, gt=0.0, le=1000.0)


class Braked(Turning):
    """Turning against a brake or a weight on a drum, settled; the torque where it is known."""

    voltage_v: float = quantity("at the motor's terminals", gt=0.0, le=120.0)
    current_a: float = quantity("into the motor", gt=0.0, le=2000.0)
    torque_nm: float | None = quantity("of the brake or weight at the motor's shaft, where known", None, gt=0.0, le=1e4)
    winding_c: float | None = quantity(
        "temperature of the winding then; else as cold as the room", None, ge=-20.0, le=200.0
    )


class MotorLog(Part):
    """A motor's bench log: kind, room, meters, where the turns were counted; the kind test first, then readings."""

    former_keys: ClassVar[Mapping[str, str]] = {"no_load": "free_spin", "locked": "held", "load": "braked"}

    kind: Literal["permanent-magnet", "series-wound"] = quantity(
        "which motor", "permanent-magnet", source="usual in salvaged motors"
    )
    name: str = quantity("what was tested", "unnamed motor", source="the file's name")
    note: str = quantity("where the numbers come from", "")
    room_c: float = quantity("temperature of the cold motor", 20.0, source="room", ge=-20.0, le=50.0)
    speed_measured_at: Literal["motor", "sprocket", "wheel"] = quantity(
        "where the turns were counted", "motor", source="the shaft"
    )
    meter: Meter = Field(default=Meter(), description="accuracy of the instruments")
    gearing: Gearing | None = Field(default=None, description="between motor and the place of counting")
    magnet: Literal["ferrite", "neodymium"] = quantity("magnet material", "ferrite", source="usual in salvaged motors")
    turned: tuple[Turned, ...] = Field(default=(), description="the kind test", strict=False)
    free_spin: tuple[FreeSpin, ...] = Field(default=(), description="spinning freely", strict=False)
    held: tuple[Held, ...] = Field(default=(), description="rotor held", strict=False)
    braked: tuple[Braked, ...] = Field(default=(), description="turning against a brake", strict=False)

    @model_validator(mode="after")
    def _may_be(self) -> MotorLog:
        if self.series_wound and self.free_spin:
            found, expected = "a free spin of a series-wound motor", "held and braked rows only"
            raise InputProblem("", "free_spin", found, expected, NEVER_UNLOADED)
        where = self.speed_measured_at
        if where != "motor" and self.gearing is None:
            expected = f"the gearing between motor and {where}, where turns were counted"
            raise InputProblem("", "gearing", "nothing", expected)
        for name in ("motor_teeth", "wheel_teeth") if where == "wheel" else ():
            if getattr(self.gearing, name) is None:
                expected = "the teeth, because turns were counted at the wheel"
                raise InputProblem("", f"gearing.{name}", "nothing", expected)
        return self

    def rows(self, *lists: str) -> list[tuple[str, Any]]:
        """Rows of some lists with their places, such as ``("held[1]", Held(...))``."""
        return [(f"{name}[{n}]", row) for name in lists for n, row in enumerate(getattr(self, name), start=1)]

    @property
    def turns_ratio(self) -> float:
        """Motor turns a counted turn."""
        if self.speed_measured_at == "motor" or self.gearing is None:
            return 1.0
        ratio = self.gearing.gearbox_ratio
        if self.speed_measured_at == "wheel":
            assert self.gearing.wheel_teeth is not None
            assert self.gearing.motor_teeth is not None
            ratio *= self.gearing.wheel_teeth / self.gearing.motor_teeth
        return ratio

    def motor_speed(self, row: Turning) -> float | None:
        """Speed of the motor's shaft in a row. [rad/s]"""
        rpm = row.rpm
        return None if rpm is None else rpm * self.turns_ratio * RPM

    @property
    def series_wound(self) -> bool:
        """Whether the motor has no magnets, so that it must never run unloaded."""
        return self.kind == "series-wound"

    @property
    def currents_braked(self) -> tuple[float, float]:
        """Lightest and heaviest current of the braked rows. [A]"""
        amps = [row.current_a for row in self.braked]
        return min(amps), max(amps)
