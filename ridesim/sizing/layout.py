"""Where axle, small sprocket's shaft and swinging arm's pivot are in side view, as complex numbers: forward and up, in metres."""

from __future__ import annotations

from dataclasses import dataclass

from ridesim.vehicle import Build
from ridesim.vehicle.chassis import WHEEL_TRAVEL_MM
from ridesim.vehicle.tyre import diameter_mm
from ridesim.words import InputProblem

ROOM_MM = 60.0
"""Radius of motor or gearbox about the shaft where the file gives none: common practice, no source. [mm]"""
PIVOT_ROOM_MM = 25.0
"""Radius of a swinging arm's pivot with its bearing: common practice, no source. [mm]"""
TAKEN_UP = 1.0 / 3.0
"""Share of a wheel's travel that the loaded vehicle's own weight takes up: common practice, no source."""


@dataclass(frozen=True)
class Layout:
    """Places in side view. [m, forward + up·i]

    Attributes
    ----------
    axle : complex
        Of the driven wheel, adjuster at its shortest.
    shaft : complex or None
        Of the last chain's small sprocket, at the stated distance of the centres in the direction of its stated place.
    off_mm : float
        How much further from the axle it is stated than the stated distance of the centres; 0 where only one of the two is.
    pivot : complex or None
        Of the swinging arm.
    tyre_m : float
        Free radius of the tyre, which is more than the rolling radius.
    room_m : float
        What motor or gearbox takes about the shaft.
    forward : bool
        Whether the shaft is meant forward of the axle.
    travel_m : tuple of float
        How far the wheel moves down and up from where it stands loaded.
    """

    axle: complex
    shaft: complex | None
    off_mm: float
    pivot: complex | None
    tyre_m: float
    room_m: float
    forward: bool
    travel_m: tuple[float, float]

    @property
    def away(self) -> complex:
        """Which way the adjuster moves the axle: along the arm away from its pivot, else on the level away from the shaft."""
        if self.pivot is None:
            return -1.0 + 0.0j if self.forward else 1.0 + 0.0j
        arm = self.axle - self.pivot
        return arm / abs(arm)

    @property
    def arm(self) -> complex | None:
        """From axle to shaft, where that is stated."""
        return None if self.shaft is None else self.shaft - self.axle

    def along(self, shaft: complex) -> float:
        """Cosine of the angle between the adjuster and the line from axle to a shaft."""
        arm = shaft - self.axle
        return -(arm * self.away.conjugate()).real / abs(arm)


def layout(build: Build) -> Layout:
    """The places that a build states.

    Raises
    ------
    InputProblem
        Shaft or pivot at the axle itself.
    """
    vehicle, drive = build.vehicle, build.drive
    rear = vehicle.driven_axle == "rear"
    axle = complex(0.0 if rear else vehicle.wheelbase_m or 0.0, vehicle.rolling_radius_m)
    shaft, off = _point(drive.shaft_x_m, drive.shaft_z_m), 0.0
    pivot = _point(vehicle.pivot_x_m, vehicle.pivot_z_m)
    for at, key in ((shaft, "drive.shaft_x_m"), (pivot, "vehicle.pivot_x_m")):
        if at == axle:
            raise InputProblem(build.name, key, "the place of the wheel's axle", "a place somewhere else")
    if shaft is not None and drive.centre_distance_mm is not None:
        arm, centre = shaft - axle, drive.centre_distance_mm / 1000.0
        shaft, off = axle + arm / abs(arm) * centre, 1000.0 * (abs(arm) - centre)
    free = vehicle.rolling_radius_m if vehicle.tyre is None else 0.0005 * diameter_mm(vehicle.tyre)
    travel = (vehicle.wheel_travel_mm or WHEEL_TRAVEL_MM) / 1000.0
    return Layout(
        axle=axle,
        shaft=shaft,
        off_mm=off,
        pivot=pivot,
        tyre_m=max(free, vehicle.rolling_radius_m),
        room_m=(drive.shaft_room_mm or ROOM_MM) / 1000.0,
        forward=rear if shaft is None else shaft.real >= axle.real,
        travel_m=(TAKEN_UP * travel, (1.0 - TAKEN_UP) * travel),
    )


def _point(x: float | None, z: float | None) -> complex | None:
    return None if x is None or z is None else complex(x, z)
