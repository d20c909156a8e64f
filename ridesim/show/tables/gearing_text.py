"""The sprocket map as text: what does the day, the best pairs with how sure each is, and why the others fall."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from ridesim.choose.gearing import BEFORE, BLOCKS, FIRST, GEARBOX, NO_FIRST, OWNED, as_fast, next_teeth
from ridesim.choose.wishes import share_in_words

if TYPE_CHECKING:
    import pandas as pd

    from ridesim.choose.compare import Comparison
    from ridesim.vehicle import Build


def gearing_text(
    found: pd.DataFrame, drawn: pd.DataFrame, best: Comparison | None, build: Build, over: Mapping[int, str]
) -> str:
    """The map in words and a table.

    Parameters
    ----------
    found : DataFrame
        From :func:`ridesim.gearing`.
    drawn : DataFrame
        From :func:`ridesim.choose.gearing.best_rows`.
    best : Comparison or None
        From :func:`ridesim.choose.gearing.best_of`.
    build : Build
        Whose map it is.
    over : mapping of int to str
        What is beyond its rating with so many blocks, in words; empty where nothing is.
    """
    name = Before(found, build.pack.nominal_voltage_v / build.pack.blocks_in_series)
    lines = [*_verdict(found, name, over), *_own(found, build)]
    if best is not None:
        rows = zip(drawn.to_dict("records"), best.verdicts, strict=True)
        surest = sorted(rows, key=lambda pair: -round(10.0 * pair[1].chance))
        row, verdict = surest[0]
        sure = share_in_words(verdict.chance)
        lines += [f"Surest: {_teeth(row)} teeth at {name.of(row)}; {sure} do the day.", ""]
        lines.append(f"{'at':{name.wide}}  teeth    ratio  to spare, km     km/h  starts, times  winding  how sure")
        lines += [_row(row, name, share_in_words(verdict.chance)) for row, verdict in surest]
        lines += ["", *_beside(found, row, name)]
    lines += ["", "Why the others fall:", *_fall(found, name)]
    return "\n".join(lines)


OTHERS = 3
"""So many pairs elsewhere that are as fast are told."""


class Before:
    """Names of what stands before the sprockets: the voltage, and gearbox and first chain where there are several."""

    def __init__(self, found: pd.DataFrame, block_v: float) -> None:
        self._block_v = block_v
        self._several = [key for key in (GEARBOX, FIRST) if found[key].nunique() > 1]
        self.wide = max(len(self.of(row)) for row in found.drop_duplicates(list(BEFORE)).to_dict("records"))

    def of(self, row: Mapping[Any, Any]) -> str:
        """Of a row."""
        said = [f"{self._block_v * float(row[BLOCKS]):.0f} V"]
        if GEARBOX in self._several:
            said.append(f"gearbox {row[GEARBOX]:g}")
        if FIRST in self._several:
            said.append(f"first chain {row[FIRST]}" if row[FIRST] else "one chain")
        return ", ".join(said)


def ratios(rows: pd.DataFrame) -> str:
    """From which to which gear ratio some rows reach."""
    return f"ratios {rows['ratio'].min():.3g} to {rows['ratio'].max():.3g}"


def _groups(rows: pd.DataFrame, *more: str) -> Iterator[tuple[Mapping[Any, Any], pd.DataFrame]]:
    """Rows with the same things before the sprockets, and of the same ``more``, with what they share."""
    for _, each in rows.groupby([*BEFORE, *more], sort=True):
        yield each.iloc[0].to_dict(), each


def _teeth(row: Mapping[Any, Any]) -> str:
    return f"{row['motor_teeth']} to {row['wheel_teeth']}"


def _row(row: Mapping[Any, Any], name: Before, sure: str) -> str:
    teeth = f"{row['motor_teeth']}:{row['wheel_teeth']}"
    owned = ", yours" if row[OWNED] else ""
    return (
        f"{name.of(row):{name.wide}}  {teeth:7s}  {row['ratio']:5.1f}  {row['spare_km']:12.1f}  {row['top_speed_kmh']:7.1f}  "
        f"{row['pull_to_start']:13.2f}  {row['hottest_winding_c']:4.0f} °C  {sure} do{owned}"
    )


def _verdict(found: pd.DataFrame, name: Before, over: Mapping[int, str]) -> list[str]:
    sentences = []
    for first, rows in _groups(found):
        good, at = rows[rows["does"]], f"At {name.of(first)}"
        if why := over.get(int(first[BLOCKS]), ""):
            sentences.append(f"{at} none will do: {why}")
            continue
        reach = f", {ratios(good)}" if len(good) else ""
        sentences.append(f"{at} {len(good)} of {len(rows)} pairs of sprockets do the day{reach}.")
    return sentences


def _own(found: pd.DataFrame, build: Build) -> list[str]:
    """The build's own pair, where it is in the map."""
    drive = build.drive
    own = {
        BLOCKS: build.pack.blocks_in_series,
        GEARBOX: drive.gearbox_ratio,
        FIRST: NO_FIRST,
        "motor_teeth": drive.motor_teeth,
    }
    own["wheel_teeth"] = drive.wheel_teeth
    rows = [row for row in found.to_dict("records") if all(row[key] == value for key, value in own.items())]
    return [f"This build's own, {_teeth(row)}: {outcome(row)}." for row in rows]


def outcome(row: Mapping[Any, Any]) -> str:
    """What a pair does, in a few words."""
    return f"{row['spare_km']:.1f} km to spare" if row["does"] else str(row["fails"])


def next_teeth_words(found: pd.DataFrame, row: Mapping[Any, Any]) -> str:
    """What a tooth more or less would do, in a sentence."""
    said = [f"{each['motor_teeth']}:{each['wheel_teeth']} {outcome(each)}" for each in next_teeth(found, row)]
    return f"A tooth more or less than {row['motor_teeth']}:{row['wheel_teeth']}: {'; '.join(said)}."


def _beside(found: pd.DataFrame, row: Mapping[Any, Any], name: Before) -> list[str]:
    """What the next tooth would do, and which pair at another voltage is as fast."""
    return [next_teeth_words(found, row), *as_fast_words(found, row, name)]


def as_fast_words(found: pd.DataFrame, row: Mapping[Any, Any], name: Before) -> list[str]:
    """A sentence each for pairs elsewhere in a map that are as fast as a row: which, and what differs."""
    return [
        f"As fast, {each['top_speed_kmh']:.1f} km/h: {each['motor_teeth']}:{each['wheel_teeth']} at {name.of(each)}; "
        f"{each['spare_km']:.1f} km to spare, not {row['spare_km']:.1f}; starts {each['pull_to_start']:.2f} times, not "
        f"{row['pull_to_start']:.2f}; winding {each['hottest_winding_c']:.0f} °C, not {row['hottest_winding_c']:.0f}."
        for each in as_fast(found, row)[:OTHERS]
    ]


def _fall(found: pd.DataFrame, name: Before) -> list[str]:
    lines = [
        f"  {name.of(first)}, {first['fails']}: {len(rows)} pairs, {ratios(rows)}"
        + ("" if rows["ridden"].any() else ", without a ride")
        for first, rows in _groups(found[~found["does"]], "fails")
    ]
    return lines or ["  none"]
