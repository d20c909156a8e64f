"""What to watch about how a pack was kept, and about the cold."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.ride.machine import capacity_factor_at
from ridesim.ride.result import Ride
from ridesim.ride.start import start_charge
from ridesim.words import Finding, degrees, percent

COLD_SHARE = 0.90
"""A pack that holds less than this of its 25 °C capacity is worth a word."""


def storage_findings(ride: Ride) -> Iterator[Finding]:
    """Findings about the time in the shed, capacity in the cold, and freezing."""
    pack, air = ride.build.pack, ride.day.ambient_c
    if pack.stood_months > 0.0:
        begin = start_charge(pack, ride.day)
        longest = pack.kind.months_unattended
        text = f"After {pack.stood_months:g} months at {degrees(pack.stood_c)} °C the day starts at {percent(begin)}."
        numbers = {"stood_months": pack.stood_months, "start_state_of_charge": begin}
        if pack.stood_months > longest:
            text += f" More than {longest:g} months without a charge harms {pack.chemistry}: test the blocks first."
            yield Finding("stood-too-long", "warning", text, numbers)
        else:
            yield Finding("stood-in-the-shed", "advice", text, numbers)
    share = capacity_factor_at(pack, air)
    if share < COLD_SHARE:
        text = (
            f"At {degrees(air)} °C the blocks hold {percent(share)} of their 25 °C capacity: "
            f"{share * pack.capacity_ah * pack.state_of_health:.1f} Ah of the {pack.capacity_ah:g} Ah label. "
            "Keep them warm until the start."
        )
        yield Finding("cold-pack", "advice", text, {"share": share, "ambient_c": air})
    freezes, end = pack.kind.freezes_empty_c, ride.outcome.end_state_of_charge
    if freezes is not None and air < freezes and end < 0.3:
        text = f"Lead-acid left nearly empty freezes at about {freezes:.0f} °C and splits (from memory): charge it the same evening."
        yield Finding("may-freeze", "warning", text, {"ambient_c": air, "end_state_of_charge": end})
