"""The charger that belongs to the vehicle."""

from __future__ import annotations

from ridesim.forms import Part, quantity

USUAL_EFFICIENCY = 0.85
"""Watt-hours into the pack over watt-hours from the socket: 0.82 to 0.92 (from memory)."""


class OwnCharger(Part):
    """What the label of the vehicle's charger says; its voltage stands with the pack (``absorption_v_per_cell``)."""

    current_a: float = quantity("current into the pack", gt=0.0, le=1000.0)
    efficiency: float = quantity(
        "watt-hours into the pack over watt-hours from the socket",
        USUAL_EFFICIENCY,
        source="0.82 to 0.92, from memory",
        gt=0.0,
        le=1.0,
    )
