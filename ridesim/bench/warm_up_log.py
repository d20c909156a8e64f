"""A warm-up's log: what the maker typed, as read from a TOML file. Nothing is computed here."""

from __future__ import annotations

from pydantic import Field, model_validator

from ridesim.bench.motor.log import RPM
from ridesim.forms import Part, quantity
from ridesim.words import InputProblem


class _Resistance(Part):
    """A winding's resistance: typed, or from volts and amps with the rotor held."""

    resistance_ohm: float | None = quantity("of the winding, brushes' drop apart", None, gt=0.0, le=100.0)
    voltage_v: float | None = quantity("at the terminals, rotor held", None, gt=0.0, le=120.0)
    current_a: float | None = quantity("through the held motor", None, gt=0.0, le=1000.0)

    @model_validator(mode="after")
    def _one_way(self) -> _Resistance:
        pair = self.voltage_v is not None and self.current_a is not None
        if (self.resistance_ohm is None) == (not pair):
            raise InputProblem(
                "", "resistance_ohm", "nothing or too much", "resistance_ohm, or voltage_v with current_a"
            )
        return self

    def ohms(self, brush_drop_v: float) -> float:
        """[ohm]"""
        if self.resistance_ohm is not None:
            return self.resistance_ohm
        assert self.voltage_v is not None
        assert self.current_a is not None
        return (self.voltage_v - brush_drop_v) / self.current_a


class Cold(_Resistance):
    """Before the run, motor at the air's temperature for hours."""


class After(_Resistance):
    """After switching off, motor standing."""

    seconds: float = quantity("since switching off", gt=0.0, le=36_000.0)


class Case(Part):
    """A reading of the case's temperature."""

    minutes: float = quantity("since the run began; may be after it ended", ge=0.0, le=10_000.0)
    celsius: float = quantity("of the case", ge=-40.0, le=300.0)


class Run(Part):
    """The warm-up itself: one current, one speed."""

    current_a: float = quantity("motor current, held steady", gt=0.0, le=5000.0)
    minutes: float = quantity("how long", gt=0.0, le=1440.0)
    speed_rpm: float = quantity("of the motor's shaft; 0 for a held rotor", 0.0, source="held", ge=0.0, le=100_000.0)


class WarmUpLog(Part):
    """A warm-up's log."""

    name: str = quantity("what was tested", "unnamed motor", source="the file's name")
    note: str = quantity("where the numbers come from", "")
    ambient_c: float = quantity("air, and motor at the start", ge=-20.0, le=50.0)
    mass_kg: float = quantity("of the motor: for the usual heat of its copper and iron", gt=0.0, le=500.0)
    brush_drop_v: float = quantity("from the bench test", 1.0, source="usual; from memory", ge=0.0, le=5.0)
    friction_torque_nm: float = quantity("from the bench test", 0.0, source="none stated", ge=0.0, le=100.0)
    viscous_nm_per_rad_s: float = quantity("from the bench test", 0.0, source="none stated", ge=0.0, le=1.0)
    resistance_percent: float = quantity(
        "one standard deviation of a resistance reading", 1.0, source="cheap meter; common practice", gt=0.0, le=50.0
    )
    case_sd_k: float = quantity(
        "one standard deviation of a case reading", 2.0, source="taped-on probe; common practice", gt=0.0, le=50.0
    )
    cold: Cold = Field(description="before the run")
    run: Run = Field(description="the warm-up")
    after: tuple[After, ...] = Field(description="resistance after switching off", strict=False, min_length=1)
    case: tuple[Case, ...] = Field(default=(), description="case temperatures", strict=False)

    @property
    def omega(self) -> float:
        """[rad/s]"""
        return self.run.speed_rpm * RPM
