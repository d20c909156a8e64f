"""The sprocket map as text: what does the day, the best pairs with how sure each is, and why the others fall."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from ridesim.choose.gearing import BLOCKS
from ridesim.choose.wishes import share_in_words

if TYPE_CHECKING:
    import pandas as pd

    from ridesim.choose.compare import Comparison


def gearing_text(found: pd.DataFrame, best: Comparison | None, block_v: float, over: Mapping[int, str]) -> str:
    """The map in words and a table.

    Parameters
    ----------
    found : DataFrame
        From :func:`ridesim.gearing`.
    best : Comparison or None
        From :func:`ridesim.choose.gearing.best_of`.
    block_v : float
        Nominal voltage of a block, for the names of the voltages. [V]
    over : mapping of int to str
        What is beyond its rating with so many blocks, in words; empty where nothing is.
    """
    lines = [_verdict(found, block_v, over)]
    if best is not None:
        rows = zip(found[found["does"]].itertuples(), best.verdicts, strict=False)
        surest = sorted(rows, key=lambda pair: -round(10.0 * pair[1].chance))
        row, verdict = surest[0]
        volts, sure = block_v * getattr(row, BLOCKS), share_in_words(verdict.chance)
        lines += [f"Surest: {row.motor_teeth} to {row.wheel_teeth} teeth at {volts:.0f} V; {sure} do the day.", ""]
        lines.append("   V  teeth    ratio  to spare, km     km/h  starts, times  winding  how sure")
        lines += [_row(row, share_in_words(verdict.chance), block_v) for row, verdict in surest]
    lines += ["", "Why the others fall:", *_fall(found, block_v)]
    return "\n".join(lines)


def _row(row: Any, sure: str, block_v: float) -> str:
    teeth = f"{row.motor_teeth}:{row.wheel_teeth}"
    return (
        f"{block_v * getattr(row, BLOCKS):4.0f}  {teeth:7s}  {row.ratio:5.1f}  {row.spare_km:12.1f}  {row.top_speed_kmh:7.1f}  "
        f"{row.pull_to_start:13.2f}  {row.hottest_winding_c:4.0f} °C  {sure} do"
    )


def _verdict(found: pd.DataFrame, block_v: float, over: Mapping[int, str]) -> str:
    sentences = []
    for blocks, rows in found.groupby(BLOCKS):
        good, volts = rows[rows["does"]], f"At {block_v * float(str(blocks)):.0f} V"
        if why := over.get(int(str(blocks)), ""):
            sentences.append(f"{volts} none will do: {why}")
            continue
        reach = f", ratios {good['ratio'].min():.3g} to {good['ratio'].max():.3g}" if len(good) else ""
        sentences.append(f"{volts} {len(good)} of {len(rows)} pairs of sprockets do the day{reach}.")
    return "\n".join(sentences)


def _fall(found: pd.DataFrame, block_v: float) -> list[str]:
    lost = found[~found["does"]]
    lines = [
        f"  {block_v * float(str(blocks)):.0f} V, {word}: {len(rows)} pairs, ratios {rows['ratio'].min():.3g} to {rows['ratio'].max():.3g}"
        + ("" if rows["ridden"].any() else ", without a ride")
        for (blocks, word), rows in lost.groupby([BLOCKS, "fails"])
    ]
    return lines or ["  none"]
