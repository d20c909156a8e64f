"""A drawing on the page, with its sentence and its text alternative."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import traitlets

from ridesim.show.panel.drawing import Canvas, Drawing, Layer, as_png
from ridesim.show.panel.runs import changed, packed, words
from ridesim.show.panel.styles import FRONT, View
from ridesim.show.style import look


class PictureView(View):
    """The picture on the page, with its sentence and its text alternative.

    ``base`` and ``over`` are runs of pixels (:mod:`ridesim.show.panel.runs`): what stands still, and what differs from it.
    """

    _esm = FRONT / "picture.js"
    size = traitlets.List([0, 0]).tag(sync=True)
    base = traitlets.Bytes(b"").tag(sync=True)
    over = traitlets.Bytes(b"").tag(sync=True)
    alt = traitlets.Unicode("").tag(sync=True)
    sentence = traitlets.Unicode("").tag(sync=True)
    old = traitlets.Bool(False).tag(sync=True)
    serial = traitlets.Int(0).tag(sync=True)
    whole = traitlets.Int(0).tag(sync=True)
    reads: Any = traitlets.Dict().tag(sync=True)
    view = traitlets.List([480, 250, 1.0, 0]).tag(sync=True, echo_update=False)


class Picture:
    """A drawing, its canvas and its view.

    Parameters
    ----------
    drawing : Drawing
    """

    def __init__(self, drawing: Drawing) -> None:
        self.canvas = Canvas(drawing)
        self.view = PictureView()
        self._shown: Any = None
        self._below: Layer | None = None

    def show(self, answer: Any) -> None:
        """Draw an answer at the size and in the theme the page reported, and put it there; call with the work lock held."""
        width, height, ratio, dark = self.view.view
        pixels = np.array(self.canvas.pixels(answer, int(width), int(height), float(ratio), look(bool(dark))))
        drawing, layer = self.canvas.drawing, self.canvas.layer
        assert layer is not None
        self._shown = pixels
        with self.view.hold_sync():
            if layer is not self._below:
                self._below = layer
                self.view.base = packed(layer.words)
            self.view.over = packed(changed(words(pixels), layer.words))
            self.view.size = [pixels.shape[1], pixels.shape[0]]
            self.view.alt = drawing.alt(answer)
            self.view.sentence = drawing.sentence(answer)
            self.view.reads = drawing.reads(answer)
            self.view.old = False
            self.view.whole = self.canvas.full_draws
            self.view.serial += 1

    def png(self) -> bytes:
        """What is on the page, as a PNG file; empty before anything is."""
        return b"" if self._shown is None else as_png(self._shown)


def joined(pictures: list[bytes]) -> bytes:
    """Pictures two by two in one."""
    from PIL import Image

    images = [Image.open(io.BytesIO(each)) for each in pictures if each]
    if not images:
        return b""
    wide, high = max(image.width for image in images), max(image.height for image in images)
    whole = Image.new("RGB", (2 * wide, high * ((len(images) + 1) // 2)), images[0].getpixel((0, 0)))
    for place, image in enumerate(images):
        whole.paste(image, ((place % 2) * wide, (place // 2) * high))
    stream = io.BytesIO()
    whole.save(stream, "png", optimize=False)
    return stream.getvalue()
