"""What pictures over the clock share: the day's activities shaded and named, the hours below."""

from __future__ import annotations

from collections.abc import Hashable
from functools import lru_cache
from typing import Any

from matplotlib.collections import LineCollection

from ridesim.day.day import clock
from ridesim.show.choose_drive.inputs import Answer
from ridesim.show.panel.note import note
from ridesim.show.pictures.furniture import Plot, Ticks

NAME_ROWS = 5
NAME_PX = 12.0
NAME_PT = 8.5
NAME_CHARACTER_PX = 5.9
BEAM = 24


def spans(answer: Answer) -> list[tuple[str, float, float]]:
    """Name, start and end of each activity as the first candidate rides it. [h]"""
    stages = answer.each[0].candidate.ride.stages
    # Rounded to five minutes: the shading stands still while a slider changes arrival by seconds.
    return [(stage.name, stage.start_s / 3600.0, _rounded(stage.start_s, stage.end_s)) for stage in stages]


def _rounded(start: float, end: float) -> float:
    return max(round(end / 300.0) * 300.0, start + 60.0) / 3600.0


def hours(answer: Answer) -> tuple[float, float]:
    """First and last hour of the day over all candidates."""
    first = answer.day.first_start_s / 3600.0
    last = max(one.series.clock_h[-1] for one in answer.each)
    return first, max(first + 0.05, _rounded(0.0, last * 3600.0))


def lit_hours(answer: Answer) -> list[list[float]]:
    """Hours between which the lights are on, those less than half an hour apart joined."""
    first, last = hours(answer)
    lit = [
        [start, end]
        for act, (_, start, end) in zip(answer.day.activity, spans(answer), strict=False)
        if act.lighting is not None and act.lighting > 0.0
    ]
    on, off = (each / 3600.0 for each in answer.day.lit_s)
    lit += [[max(first, on + 24.0 * day), min(last, off + 24.0 * day)] for day in range(-1, int(last / 24.0) + 1)]
    found: list[list[float]] = []
    for start, end in sorted(each for each in lit if each[0] < each[1]):
        if found and start <= found[-1][1] + 0.5:
            found[-1][1] = max(found[-1][1], end)
        else:
            found.append([start, end])
    return found


def hour_ticks(first: float, last: float, width: float) -> list[tuple[float, str]]:
    """Whole hours (or minutes, or days) that have room, with their clock times."""
    room = max(2.0, width / 52.0)
    steps = (1 / 12, 1 / 6, 0.25, 0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0, 48.0, 96.0)
    step = next((step for step in steps if (last - first) / step <= room), steps[-1])
    start = int(first / step) * step
    places = [start + i * step for i in range(int((last - start) / step) + 2)]
    places = [place for place in places if first - 1e-9 <= place <= last + 1e-9]
    return [(place, clock(place * 3600.0 + 1e-6)) for place in places]


def name_rows(answer: Answer, width: float, room: tuple[float, float]) -> list[tuple[str, float, float, int]]:
    """Places for the activities' names in rows above the picture: none over another, each touching the line to its start.

    Parameters
    ----------
    answer : Answer
        Whose day it is.
    width : float
        Of the plotting area. [px]
    room : tuple of float
        Beyond it, left and right. [px]

    Returns
    -------
    list of tuple
        Name (shortened where it must be), its left edge [px], where its activity starts [px], its row from below.
    """
    first, last = hours(answer)
    starts = tuple((round((start - first) * width / (last - first)), name) for name, start, _ in spans(answer))
    return list(_placed(starts, 2.0 - room[0], width + room[1] - 2.0))


Placed = tuple[str, float, float, int]


@lru_cache(maxsize=64)
def _placed(starts: tuple[tuple[int, str], ...], low: float, high: float) -> tuple[Placed, ...]:
    """Search row by row, keeping the best few: a name right or left of its line, shortened at a price, few lines through names."""
    states: list[tuple[float, tuple[Placed, ...]]] = [(0.0, ())]
    for x, name in starts:
        found = []
        for cost, placed in states:
            found.append((cost + 60.0, placed))
            for shown in _shortened(name):
                wide = _name_width(shown)
                lost = 0.0 if shown == name else 4.0 + 1.5 * (len(name) - len(shown))
                for left in dict.fromkeys((min(float(x), high - wide), max(x - wide, low))):
                    for row in range(NAME_ROWS):
                        if left >= low and not _hits(placed, left, left + wide, row):
                            price = 3.0 * _crossed(placed, left, left + wide, x, row) + 0.2 * row
                            found.append((cost + lost + price, (*placed, (shown, left, float(x), row))))
        states = sorted(found, key=lambda pair: pair[0])[:BEAM]
    return states[0][1]


def _shortened(name: str) -> list[str]:
    """A name, and ways to cut it at a price."""
    return [name, *(name[:length].rstrip() + "…" for length in (14, 9, 6) if len(name) > length + 1)]


def _name_width(text: str) -> float:
    return NAME_CHARACTER_PX * len(text) + 7.0


def _hits(placed: tuple[Placed, ...], left: float, right: float, row: int) -> bool:
    return any(r == row and left < b + _name_width(text) and b < right for text, b, _, r in placed)


def _crossed(placed: tuple[Placed, ...], left: float, right: float, x: float, row: int) -> int:
    """How many lines run through names, if this name came too."""
    count = 0
    for text, start, line, other in placed:
        if other > row and left + 1.0 < line < right - 1.0:
            count += 1
        if other < row and start + 1.0 < x < start + _name_width(text) - 1.0:
            count += 1
    return count


def frame_key(answer: Answer) -> Hashable:
    """What the clock and the shading depend on."""
    return hours(answer), tuple(spans(answer)), tuple(map(tuple, lit_hours(answer)))


def set_clock(plot: Plot, answer: Answer, y: Ticks, beside: str, below: str = "", labels: bool = True) -> None:
    """The day's hours and shaded activities, and the ticks beside them.

    Parameters
    ----------
    plot : Plot
        Whose clock it is.
    answer : Answer
        Whose day it is.
    y : sequence of (float, str)
        Ticks beside the plot.
    beside, below : str
        Titles.
    labels : bool
        Whether the hours have their clock times below.
    """
    first, last = hours(answer)
    plot.axes.set_xlim(first, last)
    ticks = [(place, text if labels else "") for place, text in hour_ticks(first, last, plot.width)]
    plot.set(ticks, y, below=below, beside=beside)
    plot.shade([span[1:] for span in spans(answer)], lit_hours(answer))


class Names:
    """The activities' names above a picture, each with a line down to where its activity starts.

    Parameters
    ----------
    plot : Plot
    right : float
        Room right of it. [px]
    """

    def __init__(self, plot: Plot, right: float) -> None:
        self._plot, self._right = plot, right
        axes, colours = plot.axes, plot.colours
        over_all = {"transform": axes.transAxes, "clip_on": False}
        self._lines = axes.add_artist(LineCollection([], colors=colours.faint, linewidths=0.8, zorder=3.0, **over_all))
        self._notes: list[Any] = []

    def set(self, answer: Answer) -> None:
        """Place the names of a day."""
        axes, colours, width, height = self._plot.axes, self._plot.colours, self._plot.width, self._plot.height
        for one in self._notes:
            one.remove()
        placed = name_rows(answer, width, (self._plot.left, self._right))
        self._lines.set_segments(
            [[(x / width, 1.0), (x / width, 1.0 + (3.0 + (row + 1) * NAME_PX) / height)] for _, _, x, row in placed]
        )
        self._notes = [
            note(axes, (left + 3.0) / width, 1.0 + (3.0 + row * NAME_PX) / height, text, transform=axes.transAxes, size=NAME_PT,
                 color=colours.ink, va="bottom", paper=colours.paper, zorder=4.0)
            for text, left, _, row in placed
        ]  # fmt: skip
