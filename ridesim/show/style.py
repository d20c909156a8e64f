"""One look for every picture, table, panel and sheet: type sizes, line styles, marks, colours for light and dark pages.

Four hues apart in lightness as well as in colour, dark enough on light pages, and light enough on dark ones, for text in them to stand
out 4.5 : 1 or better (checked in tests/show/test_drawings.py). Line style and mark say the same as the colour, so nothing hangs on
colour alone. A candidate has one colour, line style and mark everywhere; amber means light and dusk, red means that something fails.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

TICK_PT = 9.0
LABEL_PT = 9.5
NOTE_PT = 9.0
"""Type sizes in points at 96 dots an inch: 12 to 13 px, for reading at arm's length."""

MOST_CANDIDATES = 4
LINES: tuple[Any, ...] = ("-", (0, (5, 1.6)), (0, (9, 2, 2, 2)), (0, (2, 1.6)))
MARKERS = ("o", "s", "^", "D")
HATCHES = ("", "////", "....", "xxxx")
MARK = {"stop": "STOP", "warning": "Watch", "advice": "Note"}


@dataclass(frozen=True, slots=True)
class Look:
    """Colours of one theme.

    Attributes
    ----------
    paper, ink, faint, grid, shade, dusk, warn : str
        Background, text, secondary text, grid lines, shading of what is going on, of what is lit, limits and failures.
    field, edge : str
        Ground and edge of boxes.
    candidates : tuple of str
        One colour a candidate, in order.
    """

    paper: str
    ink: str
    faint: str
    grid: str
    shade: str
    dusk: str
    warn: str
    field: str
    edge: str
    candidates: tuple[str, ...]


LIGHT = Look(
    paper="#ffffff", ink="#1f2a30", faint="#56636b", grid="#e4e8ea", shade="#f1f4f4", dusk="#fbefd9", warn="#9a1b30",
    field="#ffffff", edge="#7b878d", candidates=("#19707a", "#a2441d", "#6d3f80", "#55611a"),
)  # fmt: skip
DARK = Look(
    paper="#14191b", ink="#e9edee", faint="#aab4b9", grid="#2f383b", shade="#1d2426", dusk="#3a2f18", warn="#ff9aa5",
    field="#1b2224", edge="#87939a", candidates=("#6fc6d0", "#f0a27c", "#d0a5e0", "#c2cd78"),
)  # fmt: skip


def variables(colours: Look) -> str:
    """The colours as variables of the style sheet."""
    named = {
        name: getattr(colours, name)
        for name in ("paper", "ink", "faint", "grid", "shade", "dusk", "warn", "field", "edge")
    }
    named |= {str(place): colour for place, colour in enumerate(colours.candidates, start=1)}
    return " ".join(f"--rs-{name}: {colour};" for name, colour in named.items())


def look(dark: bool) -> Look:
    """The colours of a theme."""
    return DARK if dark else LIGHT


def plain_axes(
    figure: Any, colours: Look, size: tuple[float, float], margins: tuple[float, float, float, float]
) -> Any:
    """A pair of axes in the look: open at the top and right, quiet grid, readable ticks.

    Parameters
    ----------
    figure : Figure
        Where they are added.
    colours : Look
        Theirs.
    size : (float, float)
        Width and height of the figure. [px at 96 dpi]
    margins : tuple of float
        Left, right, above and below. [px at 96 dpi]
    """
    (wide, high), (left, right, above, below) = size, margins
    axes = figure.add_axes([left / wide, below / high, (wide - left - right) / wide, (high - above - below) / high])
    axes.set_facecolor(colours.paper)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(colours.faint)
    axes.tick_params(colors=colours.ink, labelsize=TICK_PT, length=3.0, pad=2.5)
    axes.grid(True, color=colours.grid, linewidth=0.7)
    axes.set_axisbelow(True)
    for axis, room in ((axes.xaxis, 2), (axes.yaxis, 3)):
        axis.label.set(color=colours.ink, size=LABEL_PT)
        axis.labelpad = room
    return axes
