"""How unsure each number of a day usually is, where its file does not say: as :mod:`ridesim.vehicle.widths`.

Laps, durations and speed limits are wishes and exact; so is the height, which moves the air by little.
"""

from __future__ import annotations

from collections.abc import Mapping

from ridesim.forms import KeyWidth, plus, times

WIDTHS: Mapping[str, KeyWidth] = {
    "ambient_c": KeyWidth(plus(-3.0, 3.0), plus(-8.0, 8.0), "forecast of the day before; common practice, no source"),
    "rider_acceleration_mps2": KeyWidth(times(0.75, 1.30), times(0.6, 1.6), "common practice, no source"),
    "braking_mps2": KeyWidth(times(0.75, 1.30), times(0.6, 1.6), "common practice, no source"),
    "headwind_mps": KeyWidth(
        plus(-1.5, 1.5), plus(-1.0, 2.0), "light breeze between houses; common practice, no source"
    ),
    "start_state_of_charge": KeyWidth(times(0.95, 1.03), times(0.95, 1.03), "charged overnight; common practice, no source"),
    "activity.charge_current_a": KeyWidth(times(0.93, 1.05), times(0.93, 1.05), "label; common practice, no source"),
}  # fmt: skip
