"""What the driven axle carries, and the pull that its tyre passes on to a ground."""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from ridesim.day import SURFACES
from ridesim.physics.balance import steepest_by_grip
from ridesim.vehicle import Build
from ridesim.vehicle.ledger import centre


class Axles(NamedTuple):
    """Share of the weight on the driven axle, infinite where that is not known; and the height of the centre of gravity over the
    wheelbase, less than 0 for a driven front axle."""

    load: float
    height: float


UNKNOWN = Axles(inf, 0.0)


def axle_shares(build: Build, aboard: bool = True) -> Axles:
    """What the core reckons grip with; :data:`UNKNOWN` without a wheelbase, or where something that weighs has no place."""
    wheelbase = build.vehicle.wheelbase_m
    found = None if wheelbase is None else centre(build, aboard)
    if wheelbase is None or found is None:
        return UNKNOWN
    ahead, height = found.x / wheelbase, found.z / wheelbase
    return Axles(1.0 - ahead, height) if build.vehicle.driven_axle == "rear" else Axles(ahead, -height)


def steepest_grip_percent(build: Build, surface: str, aboard: bool = True) -> float:
    """Steepest slope on which the driven tyre's grip is enough to start; infinite where the axle loads are not known. [%]"""
    vehicle = build.vehicle
    rolling = vehicle.rolling_coefficient * vehicle.breakaway_factor * SURFACES[surface]
    return 100.0 * float(steepest_by_grip(getattr(vehicle.grip, surface), *axle_shares(build, aboard), rolling))
