"""Limits that stay put while a slider moves a little, and places for direct labels."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

_STEPS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
CHARACTER_PX, LINE_PX = 6.4, 14.0
"""Width of an average character and height of a line of the pictures' notes, at 96 dpi."""
BOLD = 1.15
"""How much wider bold type is."""
CELL_PX = 4.0
"""How finely labels look at the curves they should keep clear of."""


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
        # A cell counts once however many points lie in it: a curve's points are not evenly spaced, and fewer are quicker.
        cells = np.rint(np.concatenate([np.empty((0, 2)), *curves]) / CELL_PX) @ (1.0, 1j)
        points = CELL_PX * np.unique(cells)
        self.x, self.y = points.real, points.imag
        self.taken: list[tuple[float, float, float, float]] = []

    def best(
        self, text: str, anchors: Iterable[tuple[float, float]], clear: bool = False, bold: bool = False
    ) -> tuple[float, float] | None:
        """Lower left corner for a text near one of the anchors, or None where it would lie over another label; or, ``clear``, over a curve."""
        wide, high = text_width(text) * (BOLD if bold else 1.0), LINE_PX
        turns = np.array([
            (-wide / 2, 5.0), (7.0, -high / 2), (7.0, 4.0), (-wide / 2, -high - 5.0), (-wide - 7.0, -high / 2), (-wide - 7.0, -high - 3.0),
        ])  # fmt: skip
        at = np.array(list(anchors), dtype=float).reshape(-1, 2)
        wanted = (at[:, None, :] + turns).reshape(-1, 2)
        corners = np.minimum(np.maximum(wanted, 2.0), (self.width - wide - 1.0, self.height - high - 1.0))
        ranks = (np.arange(len(at))[:, None] + 0.4 * np.arange(len(turns))).ravel()
        covered = self._covered(corners, wide, high)
        scores = (
            (np.where(covered > 0.0, np.inf, 0.0) if clear else 6.0 * covered)
            + 0.3 * np.abs(corners - wanted).sum(axis=1)
            + ranks
        )
        scores[self._taken(corners, wide, high)] = np.inf
        first = int(scores.argmin())
        if not np.isfinite(scores[first]):
            return None
        left, low = float(corners[first, 0]), float(corners[first, 1])
        self.block(left, low, left + wide, low + high)
        return left, low

    def block(self, left: float, low: float, right: float, high: float) -> None:
        """Keep an area free."""
        self.taken.append((left, low, right, high))

    def _covered(self, corners: NDArray[np.float64], wide: float, high: float) -> NDArray[np.float64]:
        """How much of the curves lies under a text at each corner. [cells]"""
        x, y = np.abs(self.x - corners[:, :1] - 0.5 * wide), np.abs(self.y - corners[:, 1:] - 0.5 * high)
        under = (x < 0.5 * wide + 2.0) & (y < 0.5 * high + 1.0)
        return under @ np.ones(len(self.x))

    def _taken(self, corners: NDArray[np.float64], wide: float, high: float) -> NDArray[np.bool_]:
        """Whether a text at each corner would lie over another label."""
        left, low, right, top = np.array(self.taken, dtype=float).reshape(-1, 4).T[:, None, :]
        x, y = corners[:, :1], corners[:, 1:]
        over = (x < right) & (left < x + wide) & (y < top) & (low < y + high)
        return np.array(over.any(axis=1))


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
    result = dict(zip(order, placed, strict=True))
    return [result[i] for i in range(len(wanted))]
