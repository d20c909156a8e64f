"""A sheet to find out which lead of an unmarked controller is which: printed, filled in by hand, kept with the build sheet."""

from __future__ import annotations

from collections.abc import Sequence

from ridesim.ride.machine import highest_charger_v
from ridesim.show.invented import invented
from ridesim.show.sheet.page import Sheet, filled
from ridesim.vehicle import Build

TITLE = "Which lead is which: a controller without marks"


def lead_sheet(build: Build | Sequence[Build] = (), leads: int = 14, ambient_c: float = 25.0) -> Sheet:
    """The identification sheet for a controller with unmarked leads.

    Parameters
    ----------
    build : Build or sequence of Build
        Puts the pack's voltages on the sheet.
    leads : int
        Empty lines of the table, 1 to 60.
    ambient_c : float
        Air in which it is charged: a compensated charger gives more in the cold. [°C]

    Raises
    ------
    ValueError
        Too few or too many lines.
    """
    if not 1 <= leads <= 60:
        raise ValueError(f"leads must be from 1 to 60, got {leads}")
    builds = [build] if isinstance(build, Build) else build
    packs = [(each, highest_charger_v(each.pack, ambient_c)) for each in builds]
    return Sheet(filled("leads.html", title=TITLE, packs=packs, leads=leads, invented=invented), TITLE)
