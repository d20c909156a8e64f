"""A drawing on the page, with its sentence and its text alternative."""

from __future__ import annotations

from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import anywidget
import traitlets

from ridesim.show.panel.drawing import Canvas, Drawing, encoded
from ridesim.show.panel.sheet import FRONT, SHEET
from ridesim.show.style import look


class PictureView(anywidget.AnyWidget):
    """The picture on the page, with its sentence and its text alternative."""

    _esm = FRONT / "picture.js"
    _css = SHEET
    png = traitlets.Bytes(b"").tag(sync=True)
    alt = traitlets.Unicode("").tag(sync=True)
    sentence = traitlets.Unicode("").tag(sync=True)
    old = traitlets.Bool(False).tag(sync=True)
    serial = traitlets.Int(0).tag(sync=True)
    whole = traitlets.Int(0).tag(sync=True)
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
        self.view.add_class("ridesim-panel")

    def pixels(self, answer: Any) -> Any:
        """Draw an answer at the size and in the theme the page reported; call with the work lock held."""
        width, height, ratio, dark = self.view.view
        return self.canvas.pixels(answer, int(width), int(height), float(ratio), look(bool(dark)))

    def show(self, answer: Any) -> None:
        """Draw an answer and put it on the page; call with the work lock held."""
        show_all([self], answer)

    def send(self, pixels: Any, alt: str, sentence: str) -> None:
        """Encode pixels and put them on the page with their words."""
        png = encoded(pixels)
        with self.view.hold_sync():
            self.view.png = png
            self.view.alt = alt
            self.view.sentence = sentence
            self.view.old = False
            self.view.whole = self.canvas.full_draws
            self.view.serial += 1


_ENCODER = ThreadPoolExecutor(1, "ridesim encoder")


def show_all(pictures: Iterable[Picture], answer: Any) -> None:
    """Draw pictures one after another, each being encoded and sent while the next is drawn; back when all are sent.

    Call with the work lock held. The encoder touches neither Matplotlib nor compiled code.
    """
    sending = []
    for picture in pictures:
        pixels, drawing = picture.pixels(answer), picture.canvas.drawing
        sending.append(_ENCODER.submit(picture.send, pixels, drawing.alt(answer), drawing.sentence(answer)))
    for one in sending:
        one.result()
