"""Which sprockets there are for a chain: those that are sold, and those that somebody has."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

from ridesim.data import find
from ridesim.forms import csv_rows, each_row
from ridesim.forms.csv_rows import CsvRow
from ridesim.sizing.chain import chain_of
from ridesim.words import InputProblem

FILE = "sprockets"
"""Name of the list, of one's own in the folder of the builds or the shipped one."""
PLACES = {"motor": "motor_teeth", "wheel": "wheel_teeth"}
_COLUMNS = {"chain": None, "place": None, "teeth": None, "owned": "no"}


class Sprockets(NamedTuple):
    """A row of the list: for which chains, at the motor or the wheel, from so many teeth to so many, and whether it lies in the shed."""

    chains: tuple[str, ...]
    place: str
    teeth: range
    owned: bool


def sprockets_for(chain: str | None, folder: Path | None = None) -> dict[str, dict[int, bool]]:
    """Teeth that there are at the motor and at the wheel, and whether they are owned.

    Parameters
    ----------
    chain : str or None
        The chain's size; None takes those of every chain.
    folder : Path, optional
        Where a ``sprockets.csv`` of one's own is looked for before the shipped list; the current folder.

    Returns
    -------
    dict of str to dict of int to bool
        For ``"motor_teeth"`` and ``"wheel_teeth"``: teeth to owned, fewest teeth first.

    Raises
    ------
    InputProblem
        A list that is none, an unknown chain, no sprocket for this one.
    """
    name = None if chain is None else chain_of(chain).name
    path = find(FILE, "parts", beside=folder)
    found: dict[str, dict[int, bool]] = {key: {} for key in PLACES.values()}
    for each in each_row(csv_rows(path, _COLUMNS, path.name), _sprockets):
        if name is None or name in each.chains:
            for teeth in each.teeth:
                at = found[PLACES[each.place]]
                at[teeth] = at.get(teeth, False) or each.owned
    for place, key in PLACES.items():
        if not found[key]:
            raise InputProblem(
                path.name, "chain", f"no {place} sprocket for {name}", "one at least, for the build's chain"
            )
    return {key: dict(sorted(teeth.items())) for key, teeth in found.items()}


def _sprockets(row: CsvRow) -> Sprockets:
    chains = tuple(chain_of(name).name for name in row.cells["chain"].split())
    place, owned = row.cells["place"], row.cells["owned"]
    if place not in PLACES:
        raise row.problem("place", f"“{place}”", "motor or wheel")
    if owned not in ("yes", "no"):
        raise row.problem("owned", f"“{owned}”", "yes or no")
    teeth = re.fullmatch(r"(\d+)(?: to (\d+))?", row.cells["teeth"])
    first, last = (int(each) for each in (teeth[1], teeth[2] or teeth[1])) if teeth else (0, 0)
    if not 7 <= first <= last <= 400:
        raise row.problem("teeth", f"“{row.cells['teeth']}”", "a number from 7 to 400, or two such as 25 to 60")
    return Sprockets(chains, place, range(first, last + 1), owned == "yes")
