"""Drawings that follow a slider: a Figure made once, its static layer kept, only the moving artists drawn anew. No widgets."""

from __future__ import annotations

import io
from collections import OrderedDict
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import NDArray

from ridesim.show.panel.runs import words
from ridesim.show.style import LIGHT, Look
from ridesim.show.units import METRIC, System

DPI = 96.0
LAYERS = 6
"""Static layers kept a picture: a slider that goes to and fro over a round limit finds the former one again."""


class Drawing:
    """What a picture shows: artists made once, limits and labels set when they must change, moving artists set for every answer.

    Subclasses fill in :meth:`build`, :meth:`frame_key`, :meth:`set_frame`, :meth:`move` and the words.
    """

    system: System = METRIC
    """Units of the figures."""
    movers: Sequence[Any] = ()
    """All artists that may move, set by :meth:`build`; what is left out here counts as moving once :meth:`move` has returned it."""

    still: list[Any] = []  # noqa: RUF012 (replaced before it is added to)
    """What :meth:`set_frame` made; it is taken away before the next one."""

    def build(self, figure: Any, colours: Look, width: float, height: float) -> None:
        """Make axes and artists on an empty figure of a size in pixels at 96 dpi."""
        raise NotImplementedError

    def frame_key(self, answer: Any) -> Hashable:
        """Everything the static layer depends on: limits, labels, names. Unchanged key, unchanged layer."""
        raise NotImplementedError

    def set_frame(self, answer: Any) -> None:
        """Set limits, labels and every artist that stands still."""
        raise NotImplementedError

    def frame(self, answer: Any) -> None:
        """Replace all that stands still."""
        for artist in self.still:
            artist.remove()
        self.still = []
        self.set_frame(answer)

    def move(self, answer: Any) -> list[Any]:
        """Set the moving artists and return those to be drawn, lowest first."""
        raise NotImplementedError

    def sentence(self, answer: Any) -> str:
        """The picture's main number, in words."""
        raise NotImplementedError

    def reads(self, answer: Any) -> dict[str, Any]:
        """What the page reads off where the picture is pointed at, see ``front/picture.js``; nothing by default."""
        return {}

    def alt(self, answer: Any) -> str:
        """What the picture shows, for who cannot see it."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True)
class Layer:
    """What stands still under a picture.

    Attributes
    ----------
    region : object
        As Matplotlib restores it.
    words : ndarray of uint32
        Its pixels, as :func:`ridesim.show.panel.runs.words` gives them.
    """

    region: Any
    words: NDArray[np.uint32]


class Canvas:
    """A drawing on a Figure of its own, redrawn as little as possible.

    Parameters
    ----------
    drawing : Drawing

    Attributes
    ----------
    layer : Layer or None
        What stands still under the last picture.
    full_draws : int
        How often a layer has been drawn.
    """

    def __init__(self, drawing: Drawing) -> None:
        self.drawing = drawing
        self._figure: Figure | None = None
        self._canvas: FigureCanvasAgg | None = None
        self._made: Hashable = None
        self._key: Hashable = None
        self._layers: OrderedDict[Hashable, Layer] = OrderedDict()
        self.layer: Layer | None = None
        self.full_draws = 0

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
            self.drawing.frame(answer)
            self._key = key
        moving = self.drawing.move(answer)
        if key not in self._layers:
            for artist in moving:
                artist.set_animated(True)
            self._canvas.draw()
            self._layers[key] = Layer(
                self._canvas.copy_from_bbox(self._canvas.figure.bbox), words(self._canvas.buffer_rgba()).copy()
            )
            self.full_draws += 1
            if len(self._layers) > LAYERS:
                self._layers.popitem(last=False)
        self._layers.move_to_end(key)
        self.layer = self._layers[key]
        self._canvas.restore_region(self.layer.region)
        renderer = self._canvas.get_renderer()
        for artist in moving:
            artist.set_animated(True)
            artist.draw(renderer)
        return self._canvas.buffer_rgba()


def as_png(pixels: Any) -> bytes:
    """Pixels as a PNG file, for what is kept: exports, the still copy."""
    from PIL import Image

    stream = io.BytesIO()
    Image.fromarray(np.asarray(pixels)[..., :3]).save(stream, "png", compress_level=6)
    return stream.getvalue()
