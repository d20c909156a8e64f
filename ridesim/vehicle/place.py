"""Where a mass is: keys of everything that weighs, and the friction of tyre and ground."""

from __future__ import annotations

from typing import Any

from ridesim.forms import Part, PartType, quantity
from ridesim.words import InputProblem

FORWARD: Any = quantity("its centre, forward of the rear axle", None, ge=-20.0, le=20.0)
ABOVE: Any = quantity("its centre, above ground", None, ge=0.0, le=20.0)
SIDEWAYS: Any = quantity(
    "its centre, to the left of the vehicle's middle", 0.0, source="in the middle assumed", ge=-10.0, le=10.0
)


def need_both(part: PartType, forward: str, up: str) -> PartType:
    """A part whose place is stated whole, or not at all.

    Raises
    ------
    InputProblem
        One of the two keys alone.
    """
    missing = [key for key in (forward, up) if getattr(part, key) is None]
    if len(missing) == 1:
        other = up if missing[0] == forward else forward
        raise InputProblem("", missing[0], "nothing", f"it beside {other}, or neither")
    return part


class Place(Part):
    """Where one block of the pack stands."""

    x_m: float = quantity("its centre, forward of the rear axle", ge=-20.0, le=20.0)
    y_m: float = SIDEWAYS
    z_m: float = quantity("its centre, above ground", ge=0.0, le=20.0)


def _grip(likely: float) -> Any:
    return quantity("grip: coefficient of friction of tyre and ground", likely, source="from memory", gt=0.0, le=2.0)


class Grip(Part):
    """Friction of the driven tyre on each ground: on the surfaces of a route as they are dry, and on wet ones."""

    asphalt: float = _grip(0.8)
    concrete: float = _grip(0.75)
    wood: float = _grip(0.6)
    paving: float = _grip(0.65)
    gravel: float = _grip(0.5)
    grass: float = _grip(0.45)
    wet_asphalt: float = _grip(0.5)
    wet_grass: float = _grip(0.3)
    wet_paint: float = _grip(0.25)
