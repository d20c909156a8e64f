"""One look for every picture, table and panel: type sizes, line styles, colours for light and dark pages.

Colours follow the Okabe-Ito choice of hues (blue, vermilion, bluish green, reddish purple), darkened on light pages and lightened
on dark ones until text in them stands out 4.5 : 1 or better (checked in tests/show/test_drawings.py). Line style and marker say the
same as the colour, so nothing hangs on colour alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

TICK_PT = 9.0
LABEL_PT = 9.5
NOTE_PT = 9.0
"""Type sizes in points at 96 dots an inch: 12 to 13 px, for reading at arm's length."""

MOST_CANDIDATES = 4
LINES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (7, 2, 1.5, 2)), (0, (1.5, 1.5)))
MARKERS = ("o", "s", "^", "D")
HATCHES = ("", "////", "....", "xxxx")
MARK = {"stop": "STOP", "warning": "Watch", "advice": "Note"}


@dataclass(frozen=True, slots=True)
class Look:
    """Colours of one theme.

    Attributes
    ----------
    paper, ink, faint, grid, shade, warn : str
        Background, text, secondary text, grid lines, shading of every second activity, limits.
    candidates : tuple of str
        One colour a candidate, in order.
    """

    dark: bool
    paper: str
    ink: str
    faint: str
    grid: str
    shade: str
    warn: str
    candidates: tuple[str, ...]


LIGHT = Look(
    dark=False, paper="#ffffff", ink="#1c1c1c", faint="#545454", grid="#e2e2e2", shade="#f1efe9", warn="#9c1c1c",
    candidates=("#0b5394", "#a84300", "#00684a", "#7a2e8e"),
)  # fmt: skip
DARK = Look(
    dark=True, paper="#141414", ink="#ececec", faint="#b4b4b4", grid="#343434", shade="#242320", warn="#ff9a8f",
    candidates=("#74b9ff", "#ffae66", "#5fd3a8", "#e0a8f0"),
)  # fmt: skip


def look(dark: bool) -> Look:
    """The colours of a theme."""
    return DARK if dark else LIGHT


def dress(axes: Any, colours: Look) -> None:
    """Give a pair of axes the look: open at the top and right, quiet grid, readable ticks."""
    axes.set_facecolor(colours.paper)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(colours.faint)
    axes.tick_params(colors=colours.ink, labelsize=TICK_PT, length=3.0, pad=2.5)
    axes.grid(True, color=colours.grid, linewidth=0.7)
    axes.set_axisbelow(True)
    axes.xaxis.label.set(color=colours.ink, size=LABEL_PT)
    axes.yaxis.label.set(color=colours.ink, size=LABEL_PT)
