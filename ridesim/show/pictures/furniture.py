"""Grid, ticks and their labels, drawn with as few artists as possible.

Matplotlib's own axis draws every tick as several artists, which a slider feels whenever a limit changes. Two line collections and
stamped labels take a tenth of the time.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.collections import LineCollection
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from ridesim.show.panel.note import note
from ridesim.show.style import LABEL_PT, LINES, MARKERS, NOTE_PT, TICK_PT, Look

Ticks = Sequence[tuple[float, str]]
LABELS = 40


class Plot:
    """A pair of axes with all that stands round and behind its curves, and the marks that every candidate has.

    Parameters
    ----------
    figure : Figure
    colours : Look
    size : tuple of float
        Width and height of the figure. [px]
    margins : tuple of float
        Left, right, above, below. [px]

    Attributes
    ----------
    axes : Axes
        Its own axis is switched off.
    width, height : float
        Of the plotting area. [px]
    """

    def __init__(
        self, figure: Any, colours: Look, size: tuple[float, float], margins: tuple[float, float, float, float]
    ) -> None:
        (wide, high), (left, right, above, below) = size, margins
        self.colours, self.left, self.size = colours, left, size
        self.width, self.height = wide - left - right, high - above - below
        box = [left / wide, below / high, self.width / wide, self.height / high]
        axes = self.axes = figure.add_axes(box)
        axes.set_axis_off()
        over_all = {"transform": axes.transAxes, "clip_on": False}
        self._shade = axes.add_artist(
            PathPatch(
                Path([(0, 0)]),
                facecolor=colours.edge,
                alpha=0.10,
                lw=0,
                zorder=0.1,
                transform=axes.get_xaxis_transform(),
            )
        )
        self._lit = axes.add_artist(
            PathPatch(Path([(0, 0)]), facecolor=colours.dusk, lw=0, zorder=0.05, transform=axes.get_xaxis_transform())
        )
        self._grid = axes.add_artist(LineCollection([], colors=colours.grid, linewidths=0.8, zorder=0.5, **over_all))
        self._ticks = axes.add_artist(LineCollection([], colors=colours.faint, linewidths=0.9, zorder=2.6, **over_all))
        self._labels = [
            note(axes, size=TICK_PT, color=colours.ink, transform=axes.transAxes, visible=False) for _ in range(LABELS)
        ]
        self._below = axes.text(0.5, 0.0, "", size=LABEL_PT, color=colours.ink, ha="center", va="top", **over_all)
        self._beside = axes.text(
            0.0, 0.5, "", size=LABEL_PT, color=colours.ink, ha="left", va="center", rotation=90, **over_all
        )

    def lines(self, **style: Any) -> list[Any]:
        """An empty line a candidate, in its colour and style."""
        pairs = zip(self.colours.candidates, LINES, strict=True)
        return [self.axes.plot([], [], **{"color": colour, "ls": ls, "lw": 2.2, **style})[0] for colour, ls in pairs]

    def marks(self) -> list[Any]:
        """An empty mark a candidate, hollow."""
        style = {"ls": "", "ms": 7, "mfc": self.colours.paper, "mew": 1.8}
        pairs = zip(self.colours.candidates, MARKERS, strict=True)
        return [self.axes.plot([], [], color=colour, marker=marker, **style)[0] for colour, marker in pairs]

    def end_notes(self) -> list[Any]:
        """An empty bold note a candidate, right of the axes."""
        style = {"size": NOTE_PT, "weight": "bold", "va": "center", "transform": self.axes.get_yaxis_transform()}
        return [note(self.axes, 1.0 + 6.0 / self.width, color=colour, **style) for colour in self.colours.candidates]

    def level(self, y: float, colour: str) -> list[Any]:
        """A dashed line across the picture at a limit."""
        return list(self.axes.plot(self.axes.get_xlim(), [y] * 2, color=colour, lw=1.3, ls=(0, (4, 3))))

    def level_note(self, y: float, text: str, colour: str, **options: Any) -> Any:
        """Words at the left end of such a line."""
        first, last = self.axes.get_xlim()
        return note(self.axes, first + 0.006 * (last - first), y, text, size=NOTE_PT, color=colour, **options)

    def title(self, text: str) -> Any:
        """What the plot's height means, above its upper left corner."""
        style = {"size": NOTE_PT, "color": self.colours.faint, "transform": self.axes.transAxes, "va": "bottom"}
        return note(self.axes, -self.left / self.width + 2.0 / self.width, 1.0 + 6.0 / self.height, text, **style)

    @property
    def frame(self) -> list[float]:
        """The plotting area in pixels of the picture: left, top, right, bottom."""
        box, (wide, high) = self.axes.get_position(), self.size
        return [box.x0 * wide, (1.0 - box.y1) * high, box.x1 * wide, (1.0 - box.y0) * high]

    @property
    def pixel(self) -> float:
        """Height of a pixel in data units."""
        low, high = self.axes.get_ylim()
        return float(high - low) / self.height

    def set(
        self,
        x: Ticks,
        y: Ticks,
        *,
        below: str = "",
        beside: str = "",
        lines: tuple[bool, bool] = (True, True),
    ) -> None:
        """Place ticks, labels and titles for the axes' present limits.

        Parameters
        ----------
        x, y : sequence of (float, str)
            Places in data coordinates and what stands there.
        below, beside : str
            Titles.
        lines : tuple of bool
            Whether there are grid lines up and across.
        """
        (x0, x1), (y0, y1) = self.axes.get_xlim(), self.axes.get_ylim()
        across, up = 1.0 / self.width, 1.0 / self.height
        ticks: list[list[tuple[float, float]]] = [[(0, 0), (1, 0)], [(0, 0), (0, 1)]]
        grid: list[list[tuple[float, float]]] = []
        labels = []
        for value, text in x:
            place = (value - x0) / (x1 - x0)
            ticks.append([(place, 0.0), (place, -3.0 * up)])
            grid += [[(place, 0.0), (place, 1.0)]] * lines[0]
            labels.append((place, -5.0 * up, text, "center", "top"))
        for value, text in y:
            place = (value - y0) / (y1 - y0)
            ticks += [[(0.0, place), (-3.0 * across, place)]] * lines[1]
            grid += [[(0.0, place), (1.0, place)]] * lines[1]
            labels.append((-6.0 * across, place, text, "right", "center"))
        self._ticks.set_segments(ticks)
        self._grid.set_segments(grid)
        for words in self._labels:
            words.set_visible(False)
        for words, (place, height, text, ha, va) in zip(self._labels, labels, strict=False):
            words.set(visible=True, x=place, y=height, text=text, ha=ha, va=va)
        self._below.set(text=below, y=-19.0 * up)
        self._beside.set(text=beside, x=(2.0 - self.left) * across)

    def shade(self, spans: Sequence[tuple[float, float]], lit: Sequence[Sequence[float]] = ()) -> None:
        """Shade spans of the horizontal axis, and tint those that are lit. One path for all: a patch each would slow every drag."""
        for patch, pairs in ((self._shade, spans), (self._lit, lit)):
            patch.set_path(boxes([(start, 0.0, end, 1.0) for start, end in pairs]) if len(pairs) else Path([(0, 0)]))


def boxes(corners: Sequence[tuple[float, float, float, float]]) -> Path:
    """Rectangles as one path.

    Parameters
    ----------
    corners : sequence of tuple of float
        Left, lower, right and upper edge of each.
    """
    left, low, right, high = np.reshape(corners, (-1, 4)).T
    return Path.make_compound_path_from_polys(np.array([[left, right, right, left], [low, low, high, high]]).T)


def even_ticks(low: float, high: float, most: int) -> list[tuple[float, str]]:
    """Round numbers between limits, ``most`` at most, with their labels."""
    span = high - low
    power = 10.0 ** math.floor(math.log10(span / max(1, most)))
    step = next(s * power for s in (1.0, 2.0, 2.5, 5.0, 10.0, 20.0, 25.0, 50.0) if span / (s * power) <= most)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [(i * step, f"{i * step:g}".replace("-", "−")) for i in range(first, last + 1)]
