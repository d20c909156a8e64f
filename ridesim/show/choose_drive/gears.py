"""The sprocket map of the chosen candidate: a cell a pair, filled where it does the day, else with what fails. SVG text; no widgets."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.choose.gearing import BLOCKS, IN_A_WORD, OVER, OWNED, TEETH, gearing, made
from ridesim.day import Day
from ridesim.show.tables.gearing_text import Before, as_fast_words, next_teeth_words, ratios
from ridesim.show.units import System
from ridesim.vehicle import Build

if TYPE_CHECKING:
    import pandas as pd

LETTERS = dict(zip((*IN_A_WORD.values(), OVER), "sdrvhx", strict=True))
"""A letter for what fails, in the order of :data:`IN_A_WORD`: start, day, reserve, speed, heat; x: a rating."""
OWNED_SIGN = "•"
"""Marks a pair that does the day and lies in the shed already."""
WIDE, LEFT, TOP, ROW = 940.0, 34.0, 20.0, 19.0
"""Width of the picture, room for the teeth at its left and above, height of a row, in its own units."""


class Maps:
    """The maps of one build on one day at several voltages, each reckoned once."""

    def __init__(self) -> None:
        self._kept: dict[tuple[Build, Day], pd.DataFrame] = {}

    def at(self, build: Build, day: Day, blocks: int, offered: Iterable[int], folder: Path) -> pd.DataFrame:
        """The map with so many blocks in series; with other sprockets a build has the same map. Kept are those of the offered blocks."""
        bare = {
            each: made(build, each, build.drive.gearbox_ratio).changed(
                {"drive.motor_teeth": 10, "drive.wheel_teeth": 50}, name="any"
            )
            for each in (*offered, blocks)
        }
        self._kept = {key: found for key, found in self._kept.items() if key[0] in bare.values() and key[1] == day}
        if (bare[blocks], day) not in self._kept:
            self._kept[bare[blocks], day] = gearing(bare[blocks], day, folder=folder)
        return self._kept[bare[blocks], day]

    @property
    def known(self) -> list[pd.DataFrame]:
        """Those that were asked for so far."""
        return [*self._kept.values()]


def gears_svg(found: pd.DataFrame, chosen: tuple[int, int], system: System) -> str:
    """The map at one voltage.

    Parameters
    ----------
    found : DataFrame
        From :func:`ridesim.gearing`.
    chosen : tuple of int
        Teeth of the candidate's own pair.
    system : System
        Units of what a cell says.
    """
    rows, columns = sorted(found["motor_teeth"].unique()), sorted(found["wheel_teeth"].unique())
    cells = {(int(row["motor_teeth"]), int(row["wheel_teeth"])): row for row in found.to_dict("records")}
    wide = (WIDE - LEFT) / len(columns)
    most = max((row["spare_km"] for row in cells.values() if row["does"]), default=1.0)
    at = min(cells, key=lambda pair: abs(pair[0] - chosen[0]) + abs(pair[1] - chosen[1]))
    drawn = []
    for n, small in enumerate(rows):
        y = TOP + n * ROW
        drawn.append(f'<text class="ridesim-quiet" x="{LEFT - 6:g}" y="{y + 13:g}" text-anchor="end">{small}</text>')
        for m, large in enumerate(columns):
            cell = cells[int(small), int(large)]
            box = (LEFT + m * wide, y, wide - 1.5, ROW - 1.5)
            drawn.append(_cell(cell, box, (n, m), (int(small), int(large)) == at, chosen, most, system))
    heads = "".join(
        f'<text class="ridesim-quiet" x="{LEFT + (m + 0.5) * wide:.1f}" y="13" text-anchor="middle">{large}</text>'
        for m, large in enumerate(columns)
        if m % max(1, round(24.0 / wide)) == 0
    )
    high = TOP + ROW * len(rows) + 4.0
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="ridesim-map" viewBox="0 0 {WIDE:g} {high:g}" role="group" '
        f'aria-label="{escape(sentence(found))} Rows: motor teeth. Columns: wheel teeth.">{heads}{"".join(drawn)}</svg>'
    )


def _cell(
    row: dict[Any, Any], box: tuple[float, float, float, float], place: tuple[int, int], reached: bool, chosen: tuple[int, int], most: float,
    system: System,
) -> str:  # fmt: skip
    x, y, wide, high = box
    small, large = int(row["motor_teeth"]), int(row["wheel_teeth"])
    kind = "ridesim-does" if row["does"] else "ridesim-falls"
    kind += " ridesim-chosen" if (small, large) == chosen else ""
    shade = 0.25 + 0.6 * max(0.0, row["spare_km"]) / max(most, 1e-9) if row["does"] else 0.0
    name = escape(f"{small} to {large} teeth: {_said(row, system)}")
    sign = (OWNED_SIGN if row[OWNED] else "") if row["does"] else LETTERS[row["fails"]]
    letter = f'<text x="{x + 0.5 * wide:.1f}" y="{y + 13:.1f}" text-anchor="middle">{sign}</text>' if sign else ""
    return (
        f'<g class="ridesim-cell {kind}" data-row="{place[0]}" data-column="{place[1]}" data-small="{small}" data-large="{large}" '
        f'tabindex="{0 if reached else -1}" role="button" aria-label="{name}"><title>{name}</title>'
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{high:.1f}" style="fill-opacity: {shade:.2f}"/>{letter}</g>'
    )


def _said(row: dict[Any, Any], system: System) -> str:
    if not row["does"]:
        return str(row["fails"])
    spare, speed = system.text(row["spare_km"], "km", 1), system.text(row["top_speed_kmh"], "kmh", 1)
    return f"{'yours, ' if row[OWNED] else ''}does the day, {spare} to spare, {speed} at the reserve"


def next_tooth(found: pd.DataFrame, chosen: tuple[int, int], system: System) -> str:
    """What a tooth more or less than the candidate's own pair would do; empty where that is not in the map."""
    own = found[(found["motor_teeth"] == chosen[0]) & (found["wheel_teeth"] == chosen[1])]
    return "" if own.empty else system.said(next_teeth_words(found, own.iloc[0].to_dict()))


def as_fast_elsewhere(maps: Sequence[pd.DataFrame], own: tuple[int, int, int], block_v: float, system: System) -> str:
    """Which pairs at other voltages whose maps are known are as fast as the candidate's own, and what differs.

    Parameters
    ----------
    maps : sequence of DataFrame
        From :func:`ridesim.gearing`, one a voltage.
    own : tuple of int
        The candidate's blocks in series, motor teeth and wheel teeth.
    block_v : float
        Nominal voltage of a block. [V]
    system : System
        Units of the sentences.
    """
    import pandas as pd

    found = pd.concat(maps, ignore_index=True)
    row = found[np.logical_and.reduce([found[key] == value for key, value in zip((BLOCKS, *TEETH), own, strict=True)])]
    if row.empty or not row.iloc[0]["does"]:
        return ""
    return system.said(" ".join(as_fast_words(found, row.iloc[0].to_dict(), Before(found, block_v))))


def sentence(found: pd.DataFrame) -> str:
    """How many pairs do the day, and why the others fall."""
    good, fails = found[found["does"]], found[~found["does"]]["fails"].value_counts()
    reach = f", {ratios(good)}" if len(good) else ""
    why = ", ".join(f"{LETTERS[str(word)]} {word} ({count})" for word, count in fails.items())
    return f"{len(good)} of {len(found)} pairs of sprockets do the day by the likely values{reach}." + (
        f" Others: {why}." if why else ""
    )
