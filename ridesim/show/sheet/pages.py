"""A comparison as pages to print: HTML in one file, nothing loaded from elsewhere."""

from __future__ import annotations

import base64
import io
from datetime import date
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ridesim.choose import Comparison
from ridesim.forms import write_beside_then_replace
from ridesim.show.choose_drive.inputs import Answer, answer_of
from ridesim.show.choose_drive.saved import drawn
from ridesim.show.panel.drawing import Drawing
from ridesim.show.pictures.charge import ChargeDiagram
from ridesim.show.pictures.heat import HeatDiagram
from ridesim.show.pictures.pull import PullDiagram
from ridesim.show.sheet.content import build_part, comparison_table
from ridesim.show.sheet.leads import lead_sheet
from ridesim.show.units import METRIC, System
from ridesim.vehicle import Build
from ridesim.words import InputProblem

if TYPE_CHECKING:
    from jinja2 import Template

FOLDER = Path(__file__).parent
WIDE_PX, HIGH_PX = 703.0, {PullDiagram: 285.0, ChargeDiagram: 280.0, HeatDiagram: 310.0}
"""186 mm, an A4 page between its margins, at 96 dots an inch; heights so that two pages hold figures and pictures."""
ENDINGS = (".html", ".htm")


class BuildSheet:
    """The sheet; shows itself in a notebook.

    Attributes
    ----------
    html : str
        A section without page around it.
    """

    def __init__(self, html: str, title: str) -> None:
        self.html, self._title = html, title

    def _repr_html_(self) -> str:
        return self.html

    @property
    def page(self) -> str:
        """The section as a page of its own."""
        return _template("page.html").render(title=self._title, body=self.html)

    def save(self, path: str | Path) -> Path:
        """Write the page, for printing; a page of that name is replaced.

        Raises
        ------
        InputProblem
            A name that does not end in .html, or a folder that cannot be written.
        """
        path = Path(path)
        if path.suffix.lower() not in ENDINGS:
            raise InputProblem(str(path), "", f"“{path.name}”", "a name ending in .html")
        write_beside_then_replace(path, self.page)
        return path


def build_sheet(comparison: Comparison, system: System = METRIC, printed: date | None = None) -> BuildSheet:
    """The build sheet of a comparison: all builds side by side where there are several, then one part a build.

    Parameters
    ----------
    comparison : Comparison
        From :func:`ridesim.compare`.
    system : System
        Units of the figures; ``ridesim.show.units.METRIC`` or ``IMPERIAL``.
    printed : date, optional
        Date on the sheet; today.

    Returns
    -------
    BuildSheet
        ``save("sheet.html")`` writes it. Where a build says ``leads_marked = false`` under ``[controller]``, the sheet for finding out which
        lead is which comes last.
    """
    answer = answer_of(comparison)
    parts = [
        {
            "facts": build_part(each, system),
            "pictures": _pictures(Answer(answer.day, answer.grades, (one,)), system),
        }
        for each, one in zip(comparison.candidates, answer.each, strict=True)
    ]
    unmarked = [ride.build for ride in comparison.rides if _to_trace(ride.build)]
    names = ", ".join(each.name for each in comparison.candidates)
    html = _template("sheet.html").render(
        style=_style(), day=comparison.day, parts=parts, printed=(printed or date.today()).isoformat(),
        leads=lead_sheet(unmarked, ambient_c=comparison.day.ambient_c).html if unmarked else "",
        side_by_side=comparison_table(comparison, system) if len(parts) > 1 else None,
    )  # fmt: skip
    return BuildSheet(html, f"Build sheet: {names}")


def _to_trace(build: Build) -> bool:
    """Whether its controller's leads are to be traced; the sheet is not for an electronically commutated motor's."""
    return not build.controller.leads_marked and build.motor.kind != "electronically-commutated"


def _pictures(answer: Answer, system: System) -> list[dict[str, str]]:
    """Each picture as an image within the page, with its text alternative."""
    drawings: list[tuple[Drawing, float]] = [(kind(), high) for kind, high in HIGH_PX.items()]
    return [
        {"data": _as_data(drawn(answer, system, (drawing,), 1, (WIDE_PX, high))), "alt": drawing.alt(answer)}
        for drawing, high in drawings
    ]


def _as_data(figure: Any) -> str:
    from matplotlib import rc_context

    stream = io.BytesIO()
    with rc_context({"svg.fonttype": "path", "svg.hashsalt": "ridesim"}):
        figure.savefig(stream, format="svg", metadata={"Date": None})
    return "data:image/svg+xml;base64," + base64.b64encode(stream.getvalue()).decode("ascii")


@cache
def _style() -> str:
    return (FOLDER / "sheet.css").read_text(encoding="utf-8")


@cache
def _template(name: str) -> Template:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(name)
