"""What to watch about the protection in a lithium pack: whether the day's current opens it, when, where, and what then."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ridesim.choose.findings.places import where
from ridesim.ride.result import Ride
from ridesim.words import Finding


def protection_opens(ride: Ride) -> Iterator[Finding]:
    """The first time that the current stays above the protection's limit for longer than it bears."""
    pack = ride.build.pack
    if pack.protection_current_a is None:
        return
    limit, bears_s = pack.protection_current_a, pack.protection_s
    moment = opens_s(ride.clock_s, np.asarray(ride.rows["pack_current_a"]), limit, bears_s)
    if moment is None:
        return
    text = (
        f"The pack's protection opens at {where(ride, moment)}: it bears more than {limit:g} A for {bears_s:g} s only. Motor and lights "
        "on the pack are dead at once, so hold the vehicle with its brakes; it comes back when it is reset or a charger is connected. "
        f"What is shown after that moment holds only for a controller set to draw {limit:g} A from the battery at most: that mends it, "
        "with less pull. Never bridge a protection."
    )
    yield Finding(
        "protection-opens", "stop", text, {"clock_s": moment, "protection_current_a": limit, "protection_s": bears_s}
    )


def opens_s(
    clock_s: NDArray[np.float64], current_a: NDArray[np.float64], limit_a: float, bears_s: float
) -> float | None:
    """When a current, linear between its points, has been above a limit for a time; None where it never is. [s]"""
    over = current_a - limit_a
    above = over > 0.0
    before = np.flatnonzero(above[1:] != above[:-1])
    crossings = clock_s[before] + np.diff(clock_s)[before] * over[before] / (over[before] - over[before + 1])
    begins = np.concatenate([clock_s[:1][above[:1]], crossings[above[before + 1]]])
    ends = np.concatenate([crossings[~above[before + 1]], clock_s[-1:][above[-1:]]])
    opened = begins[ends - begins > bears_s]
    return float(opened[0] + bears_s) if len(opened) else None
