"""Pictures of their own for files and printed pages, several in one figure."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from ridesim.show.choose_drive.inputs import Answer
from ridesim.show.panel.drawing import Drawing
from ridesim.show.pictures.charge import ChargeDiagram
from ridesim.show.pictures.heat import HeatDiagram
from ridesim.show.pictures.ledger import LedgerBars
from ridesim.show.pictures.pull import PullDiagram
from ridesim.show.style import LIGHT
from ridesim.show.units import System

DRAWINGS: dict[str, Callable[[], Drawing]] = {
    "pull": PullDiagram, "charge": partial(ChargeDiagram, named=True), "heat": HeatDiagram, "ledger": LedgerBars,
}  # fmt: skip
WIDTH, HEIGHT, TITLE = 1400.0, 860.0, 34.0
"""Size of an exported picture. [px at 96 dpi]"""


def still_picture(answer: Answer, system: System) -> Any:
    """A Figure of its own with the four pictures, for export."""
    drawings = [DRAWINGS[name]() for name in ("pull", "charge", "ledger", "heat")]
    verdicts = "; ".join(f"{each.name}: {each.words.lower()}" for each in answer.comparison.verdicts)
    return drawn(answer, system, drawings, 2, (WIDTH, HEIGHT), f"{answer.day.name}. {verdicts}")


def drawn(
    answer: Answer,
    system: System,
    drawings: Sequence[Drawing],
    columns: int,
    size: tuple[float, float],
    title: str = "",
    foot: float = 44.0,
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
    foot : float
        Room for each sentence. [px]
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
        top.text(0.01, 0.25, title, size=13, weight="bold", color=LIGHT.ink, parse_math=False)
        high -= TITLE
    areas = body.subfigures(rows, columns, wspace=0.0, hspace=0.0, squeeze=False)
    for drawing, area in zip(drawings, areas.flat, strict=True):
        drawing.system = system
        height = high / rows
        drawing.build(area, LIGHT, wide / columns, height - foot)
        # Room for the sentence below: the axes move up by its height.
        for axes in area.axes:
            box = axes.get_position()
            share = (height - foot) / height
            axes.set_position([box.x0, 1.0 - share + box.y0 * share, box.width, box.height * share])
        drawing.frame(answer)
        shown = {id(artist) for artist in drawing.move(answer)}
        for artist in drawing.movers:
            artist.set_visible(id(artist) in shown)
        area.text(0.012, 0.02, drawing.sentence(answer), size=9.0, color=LIGHT.ink, wrap=True, parse_math=False)
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
