"""What the boxes of the pack notebook show where nothing was typed: what the chosen builds and day say themselves."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ridesim.day import Day
from ridesim.ride.pack.laws import fit_saturating
from ridesim.ride.pack.supply import night_charger
from ridesim.show.panel.fields import text_of
from ridesim.vehicle import Build, Pack

MOST_ROWS = 6
"""So many rows have boxes."""
_SHARES = (0.5, 0.25, 0.05)
"""Of the rated hours: 10, 5 and 1 h beside 20 h, as most data sheets have them."""


def sheet_of(pack: Pack) -> tuple[list[tuple[float, float]], float]:
    """Rows of hours and ampere-hours, longest first, and the rated hours: the file's data sheet, else what its k gives.

    Without a data sheet the rows are those of the law that rides, through the rated capacity.
    """
    rated = pack.rated_hours, pack.block_capacity_ah
    if pack.capacity_by_hours is None:
        law = fit_saturating(pack)
        hours = pack.rated_hours * np.array(_SHARES)
        given = [(float(at), float(f"{charge:.3g}")) for at, charge in zip(hours, law.capacity_in(hours), strict=True)]
        rows = [rated, *given]
    else:
        rows = [(hours, charge) for hours, charge in pack.capacity_by_hours if hours != rated[0]] + [rated]
    return sorted(rows, reverse=True), pack.rated_hours


def own_texts(lead: Build, lithium: Build, day: Day) -> dict[str, str]:
    """What stands in each box that nothing was typed in; a price that no file says is an empty box."""
    rows, rated_hours = sheet_of(lead.pack)
    pack = lead.pack
    numbers: Mapping[str, float | None] = {
        "rated_hours": rated_hours, "mass": pack.in_force.block_mass_kg, "price": pack.block_price, "health": 100.0 * pack.state_of_health,
        "months": pack.stood_months, "lithium_price": lithium.pack.block_price, "ambient": day.ambient_c,
        "charger": night_charger(lead).current_a,
    }  # fmt: skip
    texts = {key: "" if each is None else text_of(float(f"{each:.4g}")) for key, each in numbers.items()}
    if len(rows) > MOST_ROWS:  # the rated one, and others evenly
        others = [row for row in rows if row[0] != rated_hours]
        some = others[:: -(-len(others) // (MOST_ROWS - 1))]
        rows = sorted([*some, (rated_hours, pack.block_capacity_ah)], reverse=True)
    for place in range(MOST_ROWS):
        hours, charge = (text_of(each) for each in rows[place]) if place < len(rows) else ("", "")
        texts |= {f"hours_{place + 1}": hours, f"ah_{place + 1}": charge}
    return texts
