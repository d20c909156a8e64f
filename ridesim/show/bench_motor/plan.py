"""What makes one bench panel differ from another, and the panel as a still page."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path

import numpy as np

from ridesim.bench.logs import load_log
from ridesim.bench.motor.log import MotorLog
from ridesim.show.bench_motor.boxes import Boxes
from ridesim.show.bench_motor.inputs import Answer
from ridesim.show.bench_motor.tables import TABLES, next_html
from ridesim.show.bench_motor.titles import Titles
from ridesim.show.panel.drawing import Canvas, Drawing, as_png
from ridesim.show.panel.newest import WORK
from ridesim.show.units import System
from ridesim.words import InputProblem


@dataclass(frozen=True)
class BenchPlan:
    """What makes one bench panel differ from another.

    Attributes
    ----------
    name : str
        Part of every control's spoken name: no two panels of a page share it.
    style : str
        Class of the panel on the page.
    boxes : Boxes
        Boxes of its log.
    drawings : mapping of str to type of Drawing
    cautions : sequence of str
    titles : mapping of str to str
        Kinds of rows in words.
    spare : mapping of str to int
        Fewest rows shown of each kind; a log with more shows all of its own and one empty (of the kind test: none).
    right : frozenset of str
        Kinds that stand in the right column.
    left_width : str
        Of the left column.
    logs : str
        Pattern of shipped logs that are suggested.
    save_as : str
        File name that is proposed.
    other : str
        Where a log of the other kind of motor belongs.
    """

    name: str
    style: str
    boxes: Boxes
    drawings: Mapping[str, type[Drawing]]
    cautions: Sequence[str]
    titles: Mapping[str, str]
    spare: Mapping[str, int]
    right: frozenset[str]
    left_width: str
    logs: str
    save_as: str
    other: str

    def load(self, reference: str | Path) -> MotorLog:
        """A bench log of this panel's kind of motor, by path or bare shipped name.

        Raises
        ------
        InputProblem
            A log that is not good, or of the other kind.
        """
        kind = self.boxes.kind
        log: MotorLog = load_log(reference, MotorLog)
        if log.kind != kind:
            raise InputProblem(
                str(reference), "kind", f"a {log.kind} motor's log", f"a {kind} motor's log", f"Use {self.other}."
            )
        return log

    def still_html(self, shown: Answer, titles: Titles, system: System) -> str:
        """Pictures with their sentences, and the tables; the rows as the panel numbers them."""
        pictures = []
        for drawing in (made() for made in self.drawings.values()):
            drawing.system = system
            with WORK:  # a picture at a time: a live panel that waits to be drawn comes between
                pixels = np.array(Canvas(drawing).pixels(shown, 620, 330, 1.5))
            png = as_png(pixels)
            alt, words = escape(drawing.alt(shown), quote=True), escape(drawing.sentence(shown))
            pictures.append(
                f'<figure style="display:inline-block;margin:4px;max-width:620px"><img alt="{alt}" width="620" '
                f'src="data:image/png;base64,{b64encode(png).decode()}"><figcaption>{words}</figcaption></figure>'
            )
        tables = "".join(html(shown, system) for _, html in TABLES)
        return "".join(pictures) + titles.say(next_html(shown) + tables)


class Still:
    """HTML with pictures inside that reads without a kernel."""

    def __init__(self, html: str) -> None:
        self._html = html

    def _repr_html_(self) -> str:
        return self._html
