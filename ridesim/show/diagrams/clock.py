"""What pictures over the clock share: the day's activities shaded and named, the hours below."""

from __future__ import annotations

from typing import Any

from ridesim.day.day import clock
from ridesim.show.choose_state import Answer
from ridesim.show.diagrams.scales import text_width
from ridesim.show.style import NOTE_PT, Look

NAME_ROWS = 4
NAME_PX = 13.0


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


def hour_ticks(first: float, last: float, width: float) -> tuple[list[float], list[str]]:
    """Whole hours (or minutes, or days) that have room, with their clock times."""
    room = max(2.0, width / 52.0)
    for step in (1 / 12, 1 / 6, 0.25, 0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0, 48.0, 96.0):
        if (last - first) / step <= room:
            break
    start = int(first / step) * step
    places = [start + i * step for i in range(int((last - start) / step) + 2)]
    places = [place for place in places if first - 1e-9 <= place <= last + 1e-9]
    return places, [clock(place * 3600.0 + 1e-6) for place in places]


def name_rows(answer: Answer, width: float) -> list[tuple[str, float, float, int]]:
    """Activities' names staggered in rows above the picture so that none lies over another.

    Returns
    -------
    list of tuple
        Name (shortened where it must be), its left edge [px], where its activity starts [px], its row from below.
    """
    first, last = hours(answer)
    scale = width / (last - first)
    ends = [-4.0] * NAME_ROWS
    placed = []
    for name, start, _ in spans(answer):
        x = (start - first) * scale
        row = next((r for r in range(NAME_ROWS) if ends[r] <= min(x, width - text_width(name))), None)
        if row is None:
            row = min(range(NAME_ROWS), key=lambda r: ends[r])
        left = max(ends[row], min(x, width - text_width(name)), 0.0)
        shown = name
        while len(shown) > 4 and left + text_width(shown) > width + 6.0:
            shown = shown[:-2].rstrip(" …") + "…"
        placed.append((shown, left, x, row))
        ends[row] = left + text_width(shown) + 4.0
    return placed


def shade(axes: Any, answer: Answer, colours: Look) -> list[Any]:
    """Shade the activities behind a picture; returns the artists, to be removed when the day changes."""
    return [axes.axvspan(start, end, color=colours.shade, lw=0, zorder=0.1) for _, start, end in spans(answer)]


def name(axes: Any, answer: Answer, colours: Look, width: float, height: float) -> list[Any]:
    """Write the activities' names above a picture of a size [px], each with a line down to where its activity starts."""
    made = []
    for text, left, x, row in name_rows(answer, width):
        y = height + 3.0 + row * NAME_PX
        made.append(
            axes.annotate(text, (left / width, y / height), xycoords="axes fraction", size=NOTE_PT, color=colours.ink, va="bottom",
                          annotation_clip=False)
        )  # fmt: skip
        made += axes.plot(
            [x / width] * 2,
            [1.0, (y + 2.0) / height],
            transform=axes.transAxes,
            color=colours.faint,
            lw=0.8,
            clip_on=False,
        )
    return made
