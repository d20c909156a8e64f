"""What is kept of the main panel: the still copy in the notebook, the exported picture and table."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from ridesim.show.choose_drive.inputs import Answer
from ridesim.show.panel.drawing import Drawing
from ridesim.show.pictures.charge import ChargeDiagram
from ridesim.show.pictures.heat import HeatDiagram
from ridesim.show.pictures.ledger import LedgerBars
from ridesim.show.pictures.pull import PullDiagram
from ridesim.show.pictures.style import LIGHT
from ridesim.show.tables.findings_html import findings_html
from ridesim.show.tables.outcome import table_html
from ridesim.show.units import System

WIDTH, HEIGHT, TITLE = 1400.0, 860.0, 34.0
"""Size of an exported picture. [px at 96 dpi]"""
STILL = "Still copy of the panel above. Where the panel itself is not shown, its kernel is not running: run all cells."


def still_picture(answer: Answer, system: System) -> Any:
    """A Figure of its own with the four pictures, for export."""
    names = ", ".join(one.candidate.name for one in answer.each)
    drawings = (PullDiagram(), ChargeDiagram(), LedgerBars(), HeatDiagram())
    return drawn(answer, system, drawings, 2, (WIDTH, HEIGHT), f"{names} on {answer.day.name}")


def drawn(
    answer: Answer,
    system: System,
    drawings: Sequence[Drawing],
    columns: int,
    size: tuple[float, float],
    title: str = "",
) -> Any:
    """A Figure of its own with drawings in rows and columns, each with its sentence below.

    Parameters
    ----------
    answer : Answer
        What they show.
    system : System
        Units of the figures.
    drawings : sequence of Drawing
        New ones: a drawing has one figure.
    columns : int
        Drawings side by side.
    size : (float, float)
        Width and height. [px at 96 dpi]
    title : str
        Above all; none where empty.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    (wide, high), rows = size, -(-len(drawings) // columns)
    figure = Figure(figsize=(wide / 96.0, high / 96.0), dpi=96.0, facecolor=LIGHT.paper)
    FigureCanvasAgg(figure)
    body: Any = figure
    if title:
        parts: Any = figure.subfigures(2, 1, height_ratios=[TITLE, high - TITLE], hspace=0.0)
        top, body = parts
        top.text(0.01, 0.25, title, size=13, weight="bold", color=LIGHT.ink)
        high -= TITLE
    areas = body.subfigures(rows, columns, wspace=0.0, hspace=0.0, squeeze=False)
    for drawing, area in zip(drawings, areas.flat, strict=True):
        if hasattr(drawing, "system"):
            drawing.system = system
        height = high / rows
        drawing.build(area, LIGHT, wide / columns, height - 44.0)
        # Room for the sentence below: the axes move up by its height.
        for axes in area.axes:
            box = axes.get_position()
            share = (height - 44.0) / height
            axes.set_position([box.x0, 1.0 - share + box.y0 * share, box.width, box.height * share])
        drawing.set_frame(answer)
        shown = {id(artist) for artist in drawing.move(answer)}
        for artist in drawing.movers:
            artist.set_visible(id(artist) in shown)
        area.text(0.012, 0.02, drawing.sentence(answer), size=9.0, color=LIGHT.ink, wrap=True)
    return figure


def as_file(figure: Any, kind: str) -> bytes:
    """A Figure as PNG or SVG; the same figure gives the same bytes."""
    from matplotlib import rc_context

    stream = io.BytesIO()
    with rc_context({"svg.fonttype": "path", "svg.hashsalt": "ridesim"}):
        if kind == "svg":
            figure.savefig(stream, format="svg", metadata={"Date": None})
        else:
            figure.savefig(stream, format=kind, dpi=144)
    return stream.getvalue()


class SavedCopy:
    """A still copy of the panel in the notebook's own outputs: picture, sentences, table, findings. Reads without a kernel."""

    def __init__(self) -> None:
        self._picture: Any = None
        self._words: Any = None
        self._last: tuple[bytes, str] | None = None

    def show(self, answer: Answer | None, pictures: Mapping[str, Any], system: System, status: str) -> None:
        """Display the copy."""
        from IPython.display import display

        bundle, words = self._bundles(answer, pictures, system, status)
        self._picture = display(bundle, raw=True, display_id=True)
        self._words = display(words, raw=True, display_id=True)

    def update(self, answer: Answer | None, pictures: Mapping[str, Any], system: System, status: str) -> None:
        """Bring the copy up to date, where there is one."""
        if self._picture is None:
            return
        bundle, words = self._bundles(answer, pictures, system, status)
        now = (bundle.get("image/png", b""), words["text/html"])
        if now != self._last:
            self._last = now
            self._picture.update(bundle, raw=True)
            self._words.update(words, raw=True)

    @staticmethod
    def _bundles(
        answer: Answer | None, pictures: Mapping[str, Any], system: System, status: str
    ) -> tuple[dict[str, Any], dict[str, Any]]:
        if answer is None:
            text = f"Nothing to show yet. {status}"
            return {"text/plain": text}, {"text/plain": text, "text/html": f"<p>{escape(text)}</p>"}
        sentences = [picture.view.sentence for picture in pictures.values()]
        words = (
            f"<p><i>{STILL}</i></p><p>" + "<br>".join(escape(sentence) for sentence in sentences) + "</p>"
            + table_html(answer.comparison, system, colours=False) + findings_html(answer)
        )  # fmt: skip
        plain = "\n".join([STILL, *sentences])
        return {"image/png": joined([picture.png() for picture in pictures.values()]), "text/plain": plain}, {
            "text/html": words,
            "text/plain": plain,
        }


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
