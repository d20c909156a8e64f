"""A comparison as pages to print: HTML in one file, nothing loaded from elsewhere."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from ridesim.choose import Comparison
from ridesim.show.choose_drive.inputs import Answer, answer_of
from ridesim.show.choose_drive.saved import DRAWINGS, as_file, drawn
from ridesim.show.invented import invented
from ridesim.show.sheet.content import build_part
from ridesim.show.sheet.leads import lead_sheet
from ridesim.show.sheet.page import FOLDER, Sheet, filled
from ridesim.show.tables.html import svg_address
from ridesim.show.tables.outcome import short_lines
from ridesim.show.units import METRIC, System
from ridesim.vehicle import Build

WIDE_PX, HIGH_PX = 703.0, {"pull": 185.0, "charge": 185.0}
FOOT_PX = 20.0
"""186 mm, an A4 page between its margins, at 96 dots an inch; heights so that one page holds answer and pictures."""


def build_sheet(comparison: Comparison, system: System = METRIC, printed: date | None = None) -> Sheet:
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
    Sheet
        ``save("sheet.html")`` writes it. Where a build says ``leads_marked = false`` under ``[controller]``, the sheet for finding out which
        lead is which comes last.
    """
    answer = answer_of(comparison)
    parts = [
        {"facts": build_part(one.candidate, system), "pictures": _pictures(replace(answer, each=(one,)), system)}
        for one in answer.each
    ]
    unmarked = [each.build for each in comparison.candidates if _to_trace(each.build)]
    html = filled(
        "sheet.html",
        style=(FOLDER / "sheet.css").read_text(encoding="utf-8"),
        day=comparison.day,
        said=system.said,
        parts=parts,
        day_mark=invented(comparison.day),
        printed=(printed or date.today()).isoformat(),
        leads=lead_sheet(unmarked, ambient_c=comparison.day.ambient_c).html if unmarked else "",
        side_by_side=short_lines(comparison, system) if len(parts) > 1 else [],
    )
    return Sheet(html, f"Build sheet: {', '.join(each.name for each in comparison.candidates)}")


def _to_trace(build: Build) -> bool:
    """Whether its controller's leads are to be traced; the sheet is not for an electronically commutated motor's."""
    return not build.controller.leads_marked and build.motor.kind != "electronically-commutated"


def _pictures(answer: Answer, system: System) -> list[dict[str, str]]:
    """Each picture as an image within the page, with its text alternative."""
    pictures = []
    for name, high in HIGH_PX.items():
        drawing = DRAWINGS[name]()
        svg = as_file(drawn(answer, system, (drawing,), 1, (WIDE_PX, high), foot=FOOT_PX), "svg")
        pictures.append({"data": svg_address(svg.decode()), "alt": drawing.alt(answer)})
    return pictures
