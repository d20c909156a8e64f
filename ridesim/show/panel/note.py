"""Text that moves with a slider: drawn once, then stamped.

Laying out and rasterising a dozen short texts costs more than all lines of a picture together; a slider shows the same few over and over.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.colors import to_rgb
from matplotlib.font_manager import FontProperties
from matplotlib.text import Text
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]
_PAPER_ALPHA = 0.82
_ROOM = 2
"""Pixels of paper round a text."""


class Note(Text):
    """A text without rotation; on a screen canvas it is stamped from a cache, elsewhere (SVG, print) it is ordinary text.

    Parameters
    ----------
    paper : str or None
        Colour of a patch behind it that keeps it readable over a line.
    """

    def __init__(self, *arguments: Any, paper: str | None = None, **options: Any) -> None:
        super().__init__(*arguments, parse_math=False, **options)
        self._paper = paper

    def draw(self, renderer: Any, *arguments: Any, **options: Any) -> None:
        """Stamp the text, or draw it as usual where the renderer has no pixels."""
        if not isinstance(renderer, RendererAgg) or not self.get_visible():
            super().draw(renderer, *arguments, **options)
            return
        text = self.get_text()
        if not text:
            return
        stamp, descent = _stamp(
            text,
            str(self.get_color()),
            float(self.get_fontsize()),
            str(self.get_fontweight()),
            renderer.dpi,
            self._paper,
        )
        x, y = self.get_transform().transform(self.get_unitless_position())
        high, wide = stamp.shape[:2]
        x -= {"left": _ROOM, "center": wide / 2.0, "right": wide - _ROOM}[self.get_horizontalalignment()]
        y -= {"bottom": _ROOM, "center": high / 2.0, "top": high - _ROOM, "baseline": descent}[
            self.get_verticalalignment()
        ]
        gc = renderer.new_gc()
        renderer.draw_image(gc, round(x), round(y), stamp[::-1])
        gc.restore()
        self.stale = False


@lru_cache(maxsize=4096)
def _stamp(text: str, colour: str, size: float, weight: str, dpi: float, paper: str | None) -> tuple[Pixels, float]:
    """Pixels of a text, and how far its baseline lies above their lower edge."""
    font = FontProperties(size=size, weight=weight)
    measure = _scratch(64, 64, dpi)
    wide, high, descent = measure.get_text_width_height_descent(text, font, False)
    width, height = int(np.ceil(wide)) + 2 * _ROOM, int(np.ceil(high)) + 2 * _ROOM
    # A height of its own for every text would make neighbours jump: all notes of a size are as high as "Ag".
    _, line, low = measure.get_text_width_height_descent("Ag", font, False)
    height, descent = max(height, int(np.ceil(line)) + 2 * _ROOM), max(descent, low)
    renderer = RendererAgg(width, height, dpi)
    gc = renderer.new_gc()
    gc.set_foreground(to_rgb(colour))
    renderer.draw_text(gc, _ROOM, height - _ROOM - descent, text, font, 0.0)
    ink = np.array(renderer.buffer_rgba())
    return (ink if paper is None else _over(ink, paper)), descent + _ROOM


@lru_cache(maxsize=8)
def _scratch(width: int, height: int, dpi: float) -> RendererAgg:
    return RendererAgg(width, height, dpi)


def _over(ink: Pixels, paper: str) -> Pixels:
    """Ink on half-clear paper. Porter-Duff "over", straight alpha."""
    alpha = ink[..., 3:] / 255.0
    behind = _PAPER_ALPHA * (1.0 - alpha)
    whole = alpha + behind
    colours = (ink[..., :3] * alpha + 255.0 * np.array(to_rgb(paper)) * behind) / np.maximum(whole, 1e-6)
    return np.concatenate([colours, 255.0 * whole], axis=2).round().astype(np.uint8)


def note(axes: Any, x: float = 0.0, y: float = 0.0, text: str = "", **options: Any) -> Note:
    """A note on axes, in data coordinates unless ``transform`` says otherwise."""
    made = Note(x, y, text, **{"transform": axes.transData, "clip_on": False, **options})
    axes.add_artist(made)
    made.set_clip_on(False)
    return made
