"""Every value that counts for a build or a day: the file's, the defaults with their sources, and what follows from the nameplate."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.forms import InPlay, Part, values_in_play
from ridesim.ride.machine import cooling, thermal_values
from ridesim.vehicle import Build, Motor
from ridesim.vehicle.motor import THERMAL

FROM_MASS = "middle of a range from memory, half to twice as much; measure it with a warm-up"


def all_in_play(part: Part) -> Iterator[InPlay]:
    """Values of a build or a day, in the order of the file's sections."""
    yield from values_in_play(part)
    if isinstance(part, Build):
        yield from _heat(part.motor)


def _heat(motor: Motor) -> Iterator[InPlay]:
    """Thermal values that follow from the motor's nameplate or its mass."""
    for name, value in zip(THERMAL, thermal_values(motor), strict=True):
        if getattr(motor, name) is None:
            guessed = (motor.cools_by_mass or cooling(motor).doubt) and name.endswith("k_per_w")
            said = f"from the mass, {FROM_MASS}" if guessed else Motor.model_fields[name].description
            yield InPlay(f"motor.{name}", "", value, False, str(said))
