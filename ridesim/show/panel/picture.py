"""A drawing on the page, with its sentence and its text alternative."""

from __future__ import annotations

from typing import Any

import anywidget
import traitlets

from ridesim.show.panel.drawing import Canvas, Drawing
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
    view = traitlets.List([480, 250, 1.0, 0]).tag(sync=True)


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

    def show(self, answer: Any) -> None:
        """Draw an answer at the size and in the theme the page reported; call with the work lock held."""
        width, height, ratio, dark = self.view.view
        drawing = self.canvas.drawing
        png = self.canvas.draw(answer, int(width), int(height), float(ratio), look(bool(dark)))
        with self.view.hold_sync():
            self.view.png = png
            self.view.alt = drawing.alt(answer)
            self.view.sentence = drawing.sentence(answer)
            self.view.old = False
            self.view.serial += 1
