"""The vehicle without its drive: wheels, resistances, the weigh-in, the brakes, the rider."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import Field, PrivateAttr, Strict, model_validator
from pydantic.functional_validators import ModelWrapValidatorHandler

from ridesim.forms import Name, Part, Spread, quantity, times
from ridesim.vehicle.coast_down import FITTED
from ridesim.vehicle.place import ABOVE, FORWARD, SIDEWAYS, Grip, need_both
from ridesim.vehicle.tyre import ROLLING, rolling_radius_m
from ridesim.words import InputProblem, Uncertain

WHEEL_TRAVEL_MM = 90.0
"""Up and down travel of a wheel on a swinging arm where the file gives none: common practice, no source. [mm]"""


class Item(Part):
    """One line of the weigh-in. Motor, pack, controller and lighting battery add their own mass."""

    item: Name = quantity("what was weighed")
    mass_kg: float = quantity("mass", gt=0.0, le=20_000.0)
    x_m: float | None = FORWARD
    y_m: float = SIDEWAYS
    z_m: float | None = ABOVE
    removed: bool = quantity("taken off the donor: known, and not ridden with", False)


class Brake(Part):
    """A mechanical brake: what holds and stops the vehicle when the motor does not."""

    name: Name = quantity("what it is and how it is worked")
    deceleration_mps2: float | None = quantity(
        "deceleration it gives the loaded vehicle on level ground, as tried", None, gt=0.0, le=12.0
    )
    holds_percent: float | None = quantity(
        "steepest slope on which it holds the loaded vehicle, as tried", None, ge=0.0, le=100.0
    )


class Vehicle(Part):
    """Wheels, resistances to motion, weigh-in and brakes."""

    former_keys: ClassVar[Mapping[str, str]] = {"wheel_radius": "rolling_radius", "wheel_inertia": "wheels_inertia"}

    mass: tuple[Item, ...] = Field(description="the weigh-in, one [[vehicle.mass]] an item", min_length=1, strict=False)
    wheels: int = quantity("number of wheels on the ground", 2, source="two-wheeler assumed", ge=1, le=12)
    wheelbase_m: float | None = quantity("distance between the axles", None, gt=0.0, le=20.0)
    driven_axle: Literal["rear", "front"] = quantity("which axle the motor drives", "rear", source="usual")
    track_m: float | None = quantity(
        "distance between the two wheels of an axle, of a vehicle on four, or on three with the single wheel in front",
        None,
        gt=0.0,
        le=10.0,
    )
    front_radius_m: float | None = quantity(
        "radius of the front wheel; the driven wheel's where left out", None, gt=0.02, le=2.0
    )
    clearance_mm: float | None = quantity("ground clearance midway between the axles, loaded", None, gt=0.0, le=2000.0)
    handlebar_x_m: float | None = quantity("handlebar's grips, forward of the rear axle", None, ge=-5.0, le=20.0)
    handlebar_z_m: float | None = quantity("handlebar's height above ground, where it is held", None, gt=0.0, le=5.0)
    handlebar_width_m: float | None = quantity("distance between the grips", None, gt=0.0, le=3.0)
    stand_offset_m: float | None = quantity(
        "where the side stand's foot stands, sideways from the line of the wheels", None, gt=0.0, le=3.0
    )
    tyre: str | None = quantity("size of the driven wheel's tyre, such as 120/80-16 or 2.75-17", None)
    donor_tyre: str | None = quantity("size with which its speedometer was made, where that is another", None)
    pivot_x_m: float | None = quantity(
        "pivot of the driven wheel's swinging arm, forward of the rear axle", None, ge=-5.0, le=20.0
    )
    pivot_z_m: float | None = quantity("that pivot's height above ground, loaded", None, gt=0.0, le=5.0)
    wheel_travel_mm: float | None = quantity(
        "how far the driven wheel moves on its arm, up and down", None, gt=0.0, le=1000.0
    )
    parts_weighed: bool = quantity("every mass in this file was on a scale", False, source="not weighed assumed")
    grip: Grip = Field(default=Grip(), description="friction of tyre and ground")
    rolling_radius_m: float = quantity(
        "rolling radius of the driven wheel",
        0.30,
        source="common practice, no source; mark five turns on the ground",
        gt=0.02,
        le=2.0,
    )
    rolling_coefficient: float = quantity(
        "rolling resistance, over weight, on asphalt",
        0.020,
        source="motorcycle tyre 0.018, castors 0.02 and more; 0.013 to 0.030, common practice",
        ge=0.0,
        le=0.5,
    )
    breakaway_factor: float = quantity(
        "rolling resistance from rest, over that in motion",
        1.5,
        source="common practice, no source",
        ge=1.0,
        le=10.0,
    )
    drag_area_m2: float = quantity(
        "air drag: drag coefficient × frontal area, rider upright",
        0.65,
        source="upright motorcycle with rider up to 0.7, Cossalter, Motorcycle Dynamics (from memory)",
        ge=0.0,
        le=20.0,
    )
    wheels_inertia_kgm2: float = quantity(
        "moment of inertia of all wheels together", 0.5, source="common practice, no source", ge=0.0, le=100.0
    )
    coast_down: tuple[Annotated[tuple[float, float, float], Strict(False)], ...] | None = quantity(
        "runs of [from km/h, to km/h, seconds] rolling freely on level ground in calm air, chain off, rider aboard, there and back "
        "in turn, or one row for the mean of both; rolling_coefficient and drag_area_m2 are fitted to them", None, max_length=100, strict=False,
    )  # fmt: skip
    coast_down_mass_kg: float | None = quantity(
        "mass in these runs, rider and all; else that of this file", None, gt=0.0, le=100_000.0
    )
    brakes: tuple[Brake, ...] = Field(
        default=(), description="mechanical brakes, one [[vehicle.brakes]] each", strict=False
    )

    _tied: float = PrivateAttr(default=0.0)

    @model_validator(mode="wrap")
    @classmethod
    def _radius_by_tyre(cls, table: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        """A tyre gives the rolling radius, unless that is stated: measured by rolling it out."""
        if not isinstance(table, dict):
            return handler(table)
        radii = {key: _radius(table[key], key) for key in ("tyre", "donor_tyre") if isinstance(table.get(key), str)}
        if "tyre" not in radii or "rolling_radius_m" in table:
            return handler(table)
        return cls.filled(handler, table, {"rolling_radius_m": radii["tyre"]})

    @model_validator(mode="after")
    def _whole_pivot(self) -> Self:
        return need_both(self, "pivot_x_m", "pivot_z_m")

    def rolled_down(self, widths: Mapping[str, Uncertain], tied: float) -> Vehicle:
        """With rolling coefficient and drag area as fitted to the runs, and their correlation."""
        vehicle = self.fitted(widths)
        vehicle._tied = tied
        return vehicle

    @property
    def correlations(self) -> tuple[tuple[str, str, float], ...]:
        """Key, key and correlation of values that hang together."""
        return ((*FITTED, self._tied),) if self._tied else ()

    def source_of(self, key: str) -> str | None:
        """The runs, where a value is fitted to them, the tyre's size; else the usual default's source."""
        if self.tyre is not None and key == "rolling_radius_m":
            return "by the tyre's size; five turns marked on the ground are better"
        return "fitted to coast_down" if self.coast_down and key in FITTED else None

    def spread_of(self, key: str) -> Spread | None:
        """How unsure the rolling radius is where the tyre's size gives it."""
        likely, low, high = ROLLING
        return times(low / likely, high / likely) if self.tyre is not None and key == "rolling_radius_m" else None

    def implied(self) -> Iterator[tuple[str, Any, str]]:
        """Travel of a wheel on a swinging arm."""
        if self.pivot_x_m is not None and self.wheel_travel_mm is None:
            yield "wheel_travel_mm", WHEEL_TRAVEL_MM, "common practice, no source"


def _radius(size: str, key: str) -> float:
    try:
        return rolling_radius_m(size).value
    except InputProblem as problem:
        raise InputProblem("", key, problem.found, problem.expected) from None


class Rider(Part):
    """The rider, aboard unless an activity says ``aboard = false``."""

    mass_kg: float = quantity(
        "the rider's mass, clothes and costume included",
        75.0,
        source="75 kg rider of type approval practice (from memory)",
        gt=0.0,
        le=300.0,
    )
    x_m: float | None = FORWARD
    z_m: float | None = ABOVE
