"""The sprocket map: every pair of sprockets, at each voltage, through the whole day by the likely values."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.choose.compare import Comparison, compare
from ridesim.choose.findings.controller import voltage
from ridesim.choose.how_sure import DRAWS, hardest_start, held
from ridesim.choose.wishes import FINISHES, RESERVE, SPEED, SPEED_SHARE, STARTS, WINDING
from ridesim.day import Day
from ridesim.forms import exact
from ridesim.ride.batch import ride_all
from ridesim.ride.given import AnyBuild, AnyDay, given_build, given_day
from ridesim.ride.parallel import go_on
from ridesim.ride.steady.many import Steady
from ridesim.vehicle import Build
from ridesim.words import InputProblem

if TYPE_CHECKING:
    import pandas as pd

SOLD: dict[str, tuple[int, ...]] = {
    "motor_teeth": tuple(range(9, 21)), "wheel_teeth": (*range(25, 61), 62, 65, 70, 72, 76, 80),
}  # fmt: skip
"""Teeth that sprockets are sold with, for chains of 8 to 16 mm pitch: common practice, no source."""
BLOCKS = "blocks_in_series"
IN_A_WORD = {STARTS: "no start", FINISHES: "day lost", RESERVE: "below reserve", SPEED: "too slow", WINDING: "too hot"}
"""What fails, in the order in which it is told."""
OVER = "over a rating"
"""A voltage that the controller does not stand, whatever the sprockets."""
TOGETHER = 1024
"""Pairs that are ridden at once: memory does not grow with the map."""


def gearing(build: AnyBuild, day: AnyDay, options: Mapping[str, Sequence[int]] | None = None) -> pd.DataFrame:
    """Which sprockets do a day.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    day : Day, str or Path
        A day, or the name or path of its file.
    options : mapping of str to sequence of int, optional
        What there is to choose from: ``"motor_teeth"``, ``"wheel_teeth"`` (both: those that are sold), ``"blocks_in_series"`` (the build's own).

    Returns
    -------
    DataFrame
        A row a pair, those that do the day first, the most distance to spare first: ``blocks_in_series``, ``motor_teeth``, ``wheel_teeth``,
        ``ratio``, ``does``, ``fails`` (the wish in a word, empty where it does), ``spare_km``, ``top_speed_kmh`` (at the reserve),
        ``pull_to_start`` (over what the steepest start takes), ``hottest_winding_c``, and ``ridden``: False where start or speed decide without
        a ride, whose other figures are NaN.

    Raises
    ------
    InputProblem
        Another key, no teeth, teeth or blocks that cannot be.

    Examples
    --------
    >>> found = gearing("heron_36v", "harbour_festival", {"motor_teeth": [9, 11, 13], "wheel_teeth": [55]})
    >>> found["motor_teeth"].tolist(), found["fails"].tolist()
    ([9, 11, 13], ['', '', 'below reserve'])
    """
    import pandas as pd

    sure, its_day = exact(given_build(build)), exact(given_day(day))
    choice = {**SOLD, BLOCKS: (sure.pack.blocks_in_series,), **(options or {})}
    _check(choice)
    frames = [_at_one_voltage(with_blocks(sure, blocks), its_day, choice) for blocks in choice[BLOCKS]]
    found = pd.concat(frames, ignore_index=True)
    return found.sort_values(
        ["does", "spare_km"], ascending=False, na_position="last", ignore_index=True, kind="stable"
    )


def _check(choice: Mapping[str, Sequence[int]]) -> None:
    """Refuse options that are none."""
    for key, values in choice.items():
        if key not in (*SOLD, BLOCKS):
            raise InputProblem("the gearing", key, "an option", "one of " + ", ".join((*SOLD, BLOCKS)))
        for value in values or [0]:
            if not isinstance(value, int | np.integer) or not 1 <= value <= 400:
                raise InputProblem(
                    "the gearing", key, f"{value!r}" if values else "nothing", "whole numbers from 1 to 400"
                )


def with_blocks(build: Build, blocks: int) -> Build:
    """The build with so many blocks in series."""
    return build if blocks == build.pack.blocks_in_series else build.changed({f"pack.{BLOCKS}": int(blocks)})


def _at_one_voltage(build: Build, day: Day, choice: Mapping[str, Sequence[int]]) -> pd.DataFrame:
    """Every pair at the build's own voltage: start and speed first, which take no ride."""
    import pandas as pd

    pairs = [(one, other) for one in choice["motor_teeth"] for other in choice["wheel_teeth"]]
    small, large = np.array(pairs).T
    # 12 to 60 and 11 to 55 are one ratio, which is ridden once.
    ratios, same = np.unique(build.drive.gearbox_ratio * large / small, return_inverse=True)
    geared = Steady.of([build]).geared(ratios)
    starts, speeds = hardest_start(geared, day), geared.top_speeds_kmh(build.pack.reserve)
    looks = [np.full(len(ratios), over_rating(build, day) != ""), starts <= 1.0, speeds < SPEED_SHARE * day.fastest_kmh]
    fails = np.select(looks, [OVER, IN_A_WORD[STARTS], IN_A_WORD[SPEED]], "").astype(object)
    ridden = fails == ""
    spare, hottest = (np.full(len(ratios), np.nan) for _ in range(2))
    for first in range(0, int(ridden.sum()), TOGETHER):
        go_on()
        part = np.flatnonzero(ridden)[first : first + TOGETHER]
        figures, wishes = held(ride_all([build] * len(part), day, ratios=ratios[part]), geared.geared(ratios[part]))
        for wish, word in reversed(IN_A_WORD.items()):
            fails[part[~np.asarray(wishes[wish], dtype=bool)]] = word
        spare[part], hottest[part] = figures["to_reserve_km"], figures["hottest_winding_c"]
    return pd.DataFrame({
        BLOCKS: build.pack.blocks_in_series, "motor_teeth": small, "wheel_teeth": large, "ratio": ratios[same], "does": (fails == "")[same],
        "fails": fails[same], "spare_km": spare[same], "top_speed_kmh": speeds[same], "pull_to_start": starts[same],
        "hottest_winding_c": hottest[same], "ridden": ridden[same],
    })  # fmt: skip


def over_rating(build: Build, day: Day) -> str:
    """Why no pair will do at this voltage; empty where nothing is beyond its rating."""
    return " ".join(each.text for each in voltage(build, day.ambient_c) if each.severity == "stop")


def best_of(
    found: pd.DataFrame, build: AnyBuild, day: AnyDay, count: int = 10, draws: int = DRAWS
) -> Comparison | None:
    """The best pairs of a map compared, with draws: how sure each is; None where no pair does the day.

    Parameters
    ----------
    found : DataFrame
        From :func:`gearing`.
    build, day
        As given there.
    count : int
        How many.
    draws : int
        As in :func:`ridesim.compare`.

    Raises
    ------
    InputProblem
        As :func:`ridesim.compare`.
    """
    rows = found[found["does"]].head(count)
    if rows.empty:
        return None
    own = given_build(build)
    return compare([_geared(own, row) for row in rows.to_dict("records")], day, draws)


def _geared(build: Build, row: Mapping[Hashable, Any]) -> Build:
    blocks, small, large = (int(row[key]) for key in (BLOCKS, "motor_teeth", "wheel_teeth"))
    values = {"drive.motor_teeth": small, "drive.wheel_teeth": large}
    return with_blocks(build, blocks).changed(values, name=f"{blocks} blocks, {small} to {large} teeth")
