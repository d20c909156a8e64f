"""Limits that stay put while a slider moves a little, and places for direct labels."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

_STEPS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
CHARACTER_PX, LINE_PX = 6.4, 14.0
"""Width of an average character and height of a line of the pictures' notes, at 96 dpi."""


def round_top(value: float, headroom: float = 1.04) -> float:
    """The next round limit above a value; the same for all values within a step, so axes stand still while a slider moves.

    Parameters
    ----------
    value : float
        Largest value to be shown; zero or less gives 1.
    headroom : float
        How much room above it.
    """
    if not math.isfinite(value) or value <= 0.0:
        return 1.0
    wanted = value * headroom
    power = 10.0 ** math.floor(math.log10(wanted))
    return next(step * power for step in _STEPS if step * power >= wanted * (1.0 - 1e-12))


def text_width(text: str) -> float:
    """About how wide a note is. [px]"""
    return CHARACTER_PX * len(text) + 4.0


class Places:
    """Finds room for direct labels: none over another, as few as possible over a curve.

    Parameters
    ----------
    width, height : float
        Of the plotting area. [px]
    curves : sequence of ndarray, shape (n, 2)
        Points that labels should keep clear of. [px]
    """

    def __init__(self, width: float, height: float, curves: Sequence[NDArray[np.float64]]) -> None:
        self.width, self.height = width, height
        self.points = np.concatenate(list(curves)) if curves else np.empty((0, 2))
        self.taken: list[tuple[float, float, float, float]] = []

    def best(self, text: str, anchors: Iterable[tuple[float, float]]) -> tuple[float, float] | None:
        """Lower left corner for a text near one of the anchors, or None where it would lie over another label."""
        wide, high = text_width(text), LINE_PX
        best: tuple[float, float, float] | None = None
        for rank, (x, y) in enumerate(anchors):
            for turn, (dx, dy) in enumerate(
                (
                    (-wide / 2, 5.0),
                    (7.0, -high / 2),
                    (7.0, 4.0),
                    (-wide / 2, -high - 5.0),
                    (-wide - 7.0, -high / 2),
                    (-wide - 7.0, -high - 3.0),
                )
            ):
                left = min(max(x + dx, 2.0), self.width - wide - 1.0)
                low = min(max(y + dy, 2.0), self.height - high - 1.0)
                box = (left, low, left + wide, low + high)
                if any(_overlap(box, other) for other in self.taken):
                    continue
                moved = abs(left - x - dx) + abs(low - y - dy)
                score = 6.0 * self._covered(box) + 0.3 * moved + rank + 0.4 * turn
                if best is None or score < best[0]:
                    best = (score, left, low)
        if best is None:
            return None
        self.taken.append((best[1], best[2], best[1] + wide, best[2] + high))
        return best[1], best[2]

    def block(self, left: float, low: float, right: float, high: float) -> None:
        """Keep an area free."""
        self.taken.append((left, low, right, high))

    def _covered(self, box: tuple[float, float, float, float]) -> int:
        x, y = self.points[:, 0], self.points[:, 1]
        return int(((x > box[0] - 2) & (x < box[2] + 2) & (y > box[1] - 1) & (y < box[3] + 1)).sum())


def _overlap(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Positions near the wanted ones, at least ``gap`` apart, inside the limits where there is room; order kept."""
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    placed = [min(max(wanted[i], low), high) for i in order]
    for i in range(1, len(placed)):
        placed[i] = max(placed[i], placed[i - 1] + gap)
    over = placed[-1] - high if placed else 0.0
    if over > 0.0:
        placed[-1] -= over
        for i in range(len(placed) - 2, -1, -1):
            placed[i] = min(placed[i], placed[i + 1] - gap)
    result = [0.0] * len(wanted)
    for place, i in enumerate(order):
        result[i] = placed[place]
    return result


def notes(axes: Any, count: int, colours: Any, size: float) -> list[Any]:
    """Empty texts for moving notes, laid over the axes."""
    return [
        axes.text(0, 0, "", size=size, color=colours.ink, va="bottom", ha="left", visible=True) for _ in range(count)
    ]
