"""The sprocket map: every pair of sprockets, at each voltage, through the whole day by the likely values."""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.choose.compare import Comparison, compare
from ridesim.choose.findings.controller import voltage
from ridesim.choose.how_sure import DRAWS, hardest_start, held
from ridesim.choose.wishes import FINISHES, RESERVE, SPEED, SPEED_SHARE, STARTS, WINDING
from ridesim.day import Day
from ridesim.forms import exact
from ridesim.forms.changing import stated_table
from ridesim.ride.batch import ride_all
from ridesim.ride.given import AnyBuild, AnyDay, given_build, given_day
from ridesim.ride.parallel import go_on
from ridesim.ride.steady.many import Steady
from ridesim.sizing.chain import FEWEST_TEETH
from ridesim.sizing.sprockets import sprockets_for
from ridesim.vehicle import Build
from ridesim.vehicle.drive import CHAIN_KEYS, STAGES
from ridesim.words import InputProblem, need_number

if TYPE_CHECKING:
    import pandas as pd

BLOCKS, GEARBOX, FIRST, OWNED = "blocks_in_series", "gearbox_ratio", "first_stage", "owned"
TEETH = ("motor_teeth", "wheel_teeth")
BEFORE = (BLOCKS, GEARBOX, FIRST)
"""What stands before the sprockets."""
OPTIONS = (*TEETH, *BEFORE)
NO_FIRST = ""
"""No chain before the one to the wheel."""
IN_A_WORD = {STARTS: "no start", FINISHES: "day lost", RESERVE: "below reserve", SPEED: "too slow", WINDING: "too hot"}
"""What fails, in the order in which it is told."""
OVER = "over a rating"
"""A voltage that the controller does not stand, whatever the sprockets."""
AS_FAST = 0.03
"""Top speeds within this share of each other count as one."""
USUAL_SPREAD = {"spare": 0.15, "start": 0.15, "speed": 0.05}
"""About how far off distance, pull and speed usually are for one vehicle, as shares: chooses which pairs are drawn, the draws then judge."""
TOGETHER = 1024
"""Pairs that are ridden at once: memory does not grow with the map."""


def gearing(
    build: AnyBuild, day: AnyDay, options: Mapping[str, Sequence[Any]] | None = None, folder: Path | None = None,
    progress: Callable[[int, int], object] = lambda _done, _all: None,
) -> pd.DataFrame:  # fmt: skip
    """Which sprockets do a day.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    day : Day, str or Path
        A day, or the name or path of its file.
    options : mapping of str to sequence, optional
        What there is to choose from: ``"motor_teeth"``, ``"wheel_teeth"`` (whole numbers; those of ``sprockets.csv`` for the build's chain),
        ``"blocks_in_series"``, ``"gearbox_ratio"`` (both: the build's own), ``"first_stage"`` (none; else the teeth of a chain between motor and
        sprocket shaft, such as ``"11:30"``, and ``""`` for none).
    folder : Path, optional
        Where a ``sprockets.csv`` of one's own is looked for; the current folder.
    progress : callable, optional
        Told now and then how many pairs are answered, and of how many.

    Returns
    -------
    DataFrame
        A row a pair, those that do the day first, among them those that are owned, then the most distance to spare: ``blocks_in_series``,
        ``gearbox_ratio``, ``first_stage``, ``motor_teeth``, ``wheel_teeth``, ``owned`` (both), ``ratio``, ``does``, ``fails`` (the wish in a word,
        empty where it does), ``spare_km``, ``top_speed_kmh`` (at the reserve), ``pull_to_start`` (over what the steepest start takes),
        ``hottest_winding_c``, and ``ridden``: False where start or speed decide without a ride, whose other figures are NaN.

    Raises
    ------
    InputProblem
        Another key, no teeth, teeth, blocks or ratios that cannot be; a list of sprockets that is none.

    Examples
    --------
    >>> found = gearing("heron_36v", "harbour_festival", {"motor_teeth": [9, 11, 13], "wheel_teeth": [55]})
    >>> found["motor_teeth"].tolist(), found["fails"].tolist()
    ([9, 11, 13], ['', '', 'below reserve'])
    """
    import pandas as pd

    sure, its_day = exact(given_build(build)), exact(given_day(day))
    there = sprockets_for(sure.drive.chain, folder)
    own = {BLOCKS: (sure.pack.blocks_in_series,), GEARBOX: (sure.drive.gearbox_ratio,), FIRST: (NO_FIRST,)}
    choice = {**{key: tuple(teeth) for key, teeth in there.items()}, **own, **(options or {})}
    _check(choice)
    befores = list(product(*(choice[key] for key in BEFORE)))
    each = len(choice["motor_teeth"]) * len(choice["wheel_teeth"])
    frames = []
    for place, before in enumerate(befores):
        progress(place * each, len(befores) * each)
        frames.append(_before_the_sprockets(sure, its_day, before, choice))
    progress(len(befores) * each, len(befores) * each)
    found = pd.concat(frames, ignore_index=True)
    found[OWNED] = np.logical_and.reduce([found[key].map(lambda n, at=there[key]: at.get(n, False)) for key in TEETH])
    return found.sort_values(
        ["does", OWNED, "spare_km"], ascending=False, na_position="last", ignore_index=True, kind="stable"
    )


def _check(choice: Mapping[str, Sequence[Any]]) -> None:
    """Refuse options that are none."""
    for key, values in choice.items():
        if key not in OPTIONS:
            raise InputProblem("the gearing", key, "an option", "one of " + ", ".join(OPTIONS))
        if isinstance(values, str) or not isinstance(values, Iterable):
            raise InputProblem("the gearing", key, f"{values!r}", "a list of what there is to choose from")
        least = FEWEST_TEETH if key in TEETH else 1
        for value in list(values) or [None]:
            if key == FIRST:
                _turns(value)
            elif key == GEARBOX:
                need_number("the gearing", key, value, 0.0, 1000.0, above=True)
            elif not isinstance(value, int | np.integer) or not least <= value <= 400:
                found = "nothing" if value is None else f"{value!r}"
                raise InputProblem("the gearing", key, found, f"whole numbers from {least} to 400")


def _turns(first: Any) -> float:
    """Turns in for one out of a chain before the sprockets, from its teeth; 1 where there is none."""
    if first == NO_FIRST:
        return 1.0
    teeth = re.fullmatch(r"(\d{1,3}):(\d{1,3})", first) if isinstance(first, str) else None
    if teeth is None or min(map(int, teeth.groups())) < FEWEST_TEETH:
        raise InputProblem(
            "the gearing",
            FIRST,
            f"{first!r}",
            f"teeth of motor and shaft, {FEWEST_TEETH} or more each, such as “11:30”",
        )
    return int(teeth[2]) / int(teeth[1])


def made(build: Build, blocks: int, gearbox: float, first: str = NO_FIRST) -> Build:
    """The build with so many blocks in series, another gearbox, another chain before the sprockets.

    What another gearbox or one chain more loses is the usual, whatever the file says of its own.
    """
    values: dict[str, Any] = {} if blocks == build.pack.blocks_in_series else {f"pack.{BLOCKS}": int(blocks)}
    drive = build.drive
    if gearbox != drive.gearbox_ratio or first:
        build = _in_short(build)
        drive = build.drive
        other = build.changed({
            "drive.stage": None, "drive.efficiency": None, "drive.drag_nm": None, "drive.gearbox_ratio": float(gearbox),
            **{f"drive.{key}": getattr(drive, key) for key in TEETH},
        }).drive if gearbox != drive.gearbox_ratio else drive  # fmt: skip
        values |= {
            "drive.stage": None, **{f"drive.{key}": getattr(drive, key) for key in TEETH}, "drive.drag_nm": other.drag_nm,
            "drive.gearbox_ratio": float(gearbox) * _turns(first),
            "drive.efficiency": other.efficiency * (STAGES["chain"].efficiency if first else 1.0),
        }  # fmt: skip
    return build.changed(values) if values else build


def _in_short(build: Build) -> Build:
    """The build with the short form that its stages add up to, in the place of the stages."""
    drive = build.drive
    if drive.stage is None:
        return build
    short = {key: getattr(drive, key) for key in (*TEETH, *CHAIN_KEYS, GEARBOX, "efficiency", "drag_nm")}
    stated = {key: value for key, value in stated_table(drive).items() if key != "stage"}
    return build.changed({"drive": {**{key: value for key, value in short.items() if value is not None}, **stated}})


def _before_the_sprockets(
    build: Build, day: Day, before: tuple[int, float, str], choice: Mapping[str, Sequence[Any]]
) -> pd.DataFrame:
    """Every pair behind one pack, gearbox and first chain: start and speed first, which take no ride."""
    import pandas as pd

    build = made(build, *before)
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
    for start in range(0, int(ridden.sum()), TOGETHER):
        go_on()
        part = np.flatnonzero(ridden)[start : start + TOGETHER]
        figures, wishes = held(ride_all([build] * len(part), day, ratios=ratios[part]), geared.geared(ratios[part]))
        for wish, word in reversed(IN_A_WORD.items()):
            fails[part[~np.asarray(wishes[wish], dtype=bool)]] = word
        spare[part], hottest[part] = figures["to_reserve_km"], figures["hottest_winding_c"]
    return pd.DataFrame({
        **dict(zip(BEFORE, before, strict=True)), "motor_teeth": small, "wheel_teeth": large, "ratio": ratios[same],
        "does": (fails == "")[same], "fails": fails[same], "spare_km": spare[same], "top_speed_kmh": speeds[same],
        "pull_to_start": starts[same], "hottest_winding_c": hottest[same], "ridden": ridden[same],
    })  # fmt: skip


def next_teeth(found: pd.DataFrame, row: Mapping[Hashable, Any]) -> list[dict[Hashable, Any]]:
    """The rows of a map that have one tooth more or less than a row at the motor or at the wheel, or the next that there is."""
    alike = found[np.logical_and.reduce([found[key] == row[key] for key in BEFORE])]
    beside = []
    for key, other in (TEETH, TEETH[::-1]):
        line = alike[alike[other] == row[other]].sort_values(key)
        beside += line[line[key] < row[key]].tail(1).to_dict("records") + line[line[key] > row[key]].head(1).to_dict(
            "records"
        )
    return beside


def as_fast(found: pd.DataFrame, row: Mapping[Hashable, Any]) -> list[dict[Hashable, Any]]:
    """For every other pack, gearbox or first chain of a map the row that does the day and is as fast as a row, within :data:`AS_FAST`."""
    others = []
    for _, rows in found[found["does"]].groupby(list(BEFORE)):
        nearest_row = rows.loc[(rows["top_speed_kmh"] / row["top_speed_kmh"] - 1.0).abs().idxmin()].to_dict()
        own = all(nearest_row[key] == row[key] for key in BEFORE)
        if not own and abs(nearest_row["top_speed_kmh"] / row["top_speed_kmh"] - 1.0) <= AS_FAST:
            others.append(nearest_row)
    return others


def over_rating(build: Build, day: Day) -> str:
    """Why no pair will do at this voltage; empty where nothing is beyond its rating."""
    return " ".join(each.text for each in voltage(build, day.ambient_c) if each.severity == "stop")


def best_rows(found: pd.DataFrame, day: AnyDay, count: int = 10) -> pd.DataFrame:
    """The rows of a map that are worth drawing: those furthest from failing any wish, each ratio once, owned ones first.

    The most distance to spare alone would take the slowest that the day just allows, which half of the vehicles then are too slow with.

    Parameters
    ----------
    found : DataFrame
        From :func:`gearing`.
    day
        As given there.
    count : int
        How many at most.
    """
    its_day, good = given_day(day), found[found["does"]]
    planned_km = sum(each.planned_m for each in its_day.activity) / 1000.0
    margin = np.minimum.reduce([
        good["spare_km"] / (USUAL_SPREAD["spare"] * max(planned_km, 1e-3)), (good["pull_to_start"] - 1.0) / USUAL_SPREAD["start"],
        (good["top_speed_kmh"] / max(SPEED_SHARE * its_day.fastest_kmh, 1e-3) - 1.0) / USUAL_SPREAD["speed"],
    ])  # fmt: skip
    ranked = good.assign(margin=margin, rounded=good["ratio"].round(1)).sort_values(
        [OWNED, "margin"], ascending=False, kind="stable"
    )
    return ranked.drop_duplicates([*BEFORE, OWNED, "rounded"]).head(count)[found.columns]


def best_of(rows: pd.DataFrame, build: AnyBuild, day: AnyDay, draws: int = DRAWS) -> Comparison | None:
    """Rows of a map compared, with draws: how sure each is; None where there is none.

    Parameters
    ----------
    rows : DataFrame
        From :func:`best_rows`.
    build, day
        As given to :func:`gearing`.
    draws : int
        As in :func:`ridesim.compare`.

    Raises
    ------
    InputProblem
        As :func:`ridesim.compare`.
    """
    if rows.empty:
        return None
    own = given_build(build)
    return compare([_geared(own, row) for row in rows.to_dict("records")], day, draws)


def _geared(build: Build, row: Mapping[Hashable, Any]) -> Build:
    values = {f"drive.{key}": int(row[key]) for key in TEETH}
    blocks, gearbox, first = int(row[BLOCKS]), float(row[GEARBOX]), str(row[FIRST])
    before = (f", gearbox {gearbox:g}" if gearbox != build.drive.gearbox_ratio else "") + (
        f", first {first}" if first else ""
    )
    name = f"{blocks} blocks{before}, {row['motor_teeth']} to {row['wheel_teeth']} teeth"
    return made(build, blocks, gearbox, first).changed(values, name=name)
