"""Drawings that follow a slider: a Figure made once, its static layer kept, only the moving artists drawn anew. No widgets."""

from __future__ import annotations

import struct
import zlib
from collections import OrderedDict
from collections.abc import Hashable, Sequence
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from ridesim.show.style import LIGHT, Look

DPI = 96.0
LAYERS = 6
"""Static layers kept a picture: a slider that goes to and fro over a round limit finds the former one again."""


class Drawing:
    """What a picture shows: artists made once, limits and labels set when they must change, moving artists set for every answer.

    Subclasses fill in :meth:`build`, :meth:`frame_key`, :meth:`set_frame`, :meth:`move` and the words.
    """

    movers: Sequence[Any] = ()
    """All artists that may move, set by :meth:`build`; what is left out here counts as moving once :meth:`move` has returned it."""

    def build(self, figure: Any, colours: Look, width: float, height: float) -> None:
        """Make axes and artists on an empty figure of a size in pixels at 96 dpi."""
        raise NotImplementedError

    def frame_key(self, answer: Any) -> Hashable:
        """Everything the static layer depends on: limits, labels, names. Unchanged key, unchanged layer."""
        raise NotImplementedError

    def set_frame(self, answer: Any) -> None:
        """Set limits, labels and every artist that stands still."""
        raise NotImplementedError

    def move(self, answer: Any) -> list[Any]:
        """Set the moving artists and return those to be drawn, lowest first."""
        raise NotImplementedError

    def sentence(self, answer: Any) -> str:
        """The picture's main number, in words."""
        raise NotImplementedError

    def alt(self, answer: Any) -> str:
        """What the picture shows, for who cannot see it."""
        raise NotImplementedError


class Canvas:
    """A drawing on a Figure of its own, redrawn as little as possible.

    Parameters
    ----------
    drawing : Drawing
    """

    def __init__(self, drawing: Drawing) -> None:
        self.drawing = drawing
        self._figure: Figure | None = None
        self._canvas: FigureCanvasAgg | None = None
        self._made: Hashable = None
        self._key: Hashable = None
        self._layers: OrderedDict[Hashable, Any] = OrderedDict()
        self.full_draws = 0

    def draw(self, answer: Any, width: int, height: int, ratio: float = 1.0, colours: Look = LIGHT) -> bytes:
        """The picture as PNG; parameters as in :meth:`pixels`."""
        return encoded(self.pixels(answer, width, height, ratio, colours))

    def pixels(self, answer: Any, width: int, height: int, ratio: float = 1.0, colours: Look = LIGHT) -> Any:
        """The picture's pixels, valid until the next drawing.

        Parameters
        ----------
        answer : object
            What the drawing understands.
        width, height : int
            In pixels of the page.
        ratio : float
            Screen dots a pixel.
        colours : Look
            Light or dark.
        """
        made = (width, height, ratio, colours)
        if made != self._made:
            self._figure = Figure(figsize=(width / DPI, height / DPI), dpi=DPI * ratio, facecolor=colours.paper)
            self._canvas = FigureCanvasAgg(self._figure)
            self.drawing.build(self._figure, colours, width, height)
            for artist in self.drawing.movers:
                artist.set_animated(True)
            self._made, self._key = made, None
            self._layers.clear()
        assert self._canvas is not None
        key = self.drawing.frame_key(answer)
        if key != self._key:
            self.drawing.set_frame(answer)
            self._key = key
        moving = self.drawing.move(answer)
        if key not in self._layers:
            for artist in moving:
                artist.set_animated(True)
            self._canvas.draw()
            self._layers[key] = self._canvas.copy_from_bbox(self._canvas.figure.bbox)
            self.full_draws += 1
            if len(self._layers) > LAYERS:
                self._layers.popitem(last=False)
        self._layers.move_to_end(key)
        self._canvas.restore_region(self._layers[key])
        renderer = self._canvas.get_renderer()
        for artist in moving:
            artist.set_animated(True)
            artist.draw(renderer)
        return self._canvas.buffer_rgba()


def encoded(pixels: Any) -> bytes:
    """Pixels as PNG, quickly rather than small: no filter, lightest compression; nearly twice as fast as an image library.

    References
    ----------
    W3C, Portable Network Graphics (PNG) Specification, Second Edition, sections 5.3 (chunk layout), 9 (filtering), 11.2 (IHDR, IDAT, IEND).
    """
    height, width = pixels.shape[:2]
    lines = np.zeros((height, 1 + 3 * width), np.uint8)  # each line begins with its filter: 0, none
    lines[:, 1:] = np.asarray(pixels)[..., :3].reshape(height, -1)
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)  # 8 bits, red green blue
    parts = ((b"IHDR", header), (b"IDAT", zlib.compress(lines.data, 1)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body)) for name, body in parts
    )
