"""How the motor's plate is bolted on: keys of ``[motor.mount]``."""

from __future__ import annotations

from typing import Literal

from ridesim.forms import Part, quantity


class Mount(Part):
    """Bolts of the motor's plate, evenly on a circle about its shaft."""

    bolts: int = quantity("how many bolts hold the plate", ge=2, le=24)
    thread_mm: Literal[5, 6, 8, 10, 12] = quantity("metric coarse thread, 8 for M8")
    strength_class: Literal["4.6", "5.8", "8.8", "10.9"] = quantity(
        "stamped on the head", "4.6", source="the weakest that is sold, where nothing is stamped; common practice"
    )
    circle_mm: float = quantity("diameter of the circle on which the bolts sit", gt=0.0, le=1000.0)
    overhang_mm: float = quantity("from the plate to the middle of the chain", ge=0.0, le=1000.0)
