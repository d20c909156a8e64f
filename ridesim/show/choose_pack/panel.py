"""The panel for choosing a pack: a data sheet typed in, lead-acid against lithium, the night's charge, a weak block. No physics here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets

from ridesim.choose.compare import compare
from ridesim.show.choose_drive.lines import verdict_lines
from ridesim.show.choose_pack.inputs import DAY_FIELDS, DEFAULT_TEXTS, SHEET_FIELDS, PackAnswer, answer, wish_of
from ridesim.show.choose_pack.pictures import BlocksDiagram, LawsDiagram, NightDiagram, SheetDiagram
from ridesim.show.choose_pack.tables import charging_html, pack_findings_html, packs_html, sheet_html
from ridesim.show.panel.controls import Controls
from ridesim.show.panel.desk import Desk
from ridesim.show.panel.fields import Press
from ridesim.show.panel.keep import kept_beside
from ridesim.show.panel.messages import WordsView
from ridesim.show.panel.picture import Picture
from ridesim.show.panel.screen import LinesView
from ridesim.show.units import METRIC
from ridesim.words import InputProblem, degrees

PICTURE_PX = 300
NOTEBOOK = "4_choose_pack"
_TABLES = {
    sheet_html: "Data sheet and laws", packs_html: "The two packs", charging_html: "Charging in the break and overnight",
    pack_findings_html: "What to watch",
}  # fmt: skip


def choose_pack(**texts: str) -> ChoosePack:
    """The pack panel with its invented default case, or with other texts in its boxes.

    Returns
    -------
    ChoosePack
        Shows itself as the last expression of a cell.
    """
    return ChoosePack({**DEFAULT_TEXTS, **texts})


class ChoosePack(Desk[dict[str, str], PackAnswer]):
    """Boxes in; pictures, tables, findings out.

    Parameters
    ----------
    texts : mapping of str to str
        What stands in the boxes at first, by key.
    folder : Path, optional
        Where builds and days are looked for before the shipped ones; the current folder.
    """

    def __init__(self, texts: Mapping[str, str], folder: Path | None = None) -> None:
        self.folder = folder or Path.cwd()
        pictures = {
            "sheet": Picture(SheetDiagram()), "laws": Picture(LawsDiagram()), "night": Picture(NightDiagram()),
            "blocks": Picture(BlocksDiagram()),
        }  # fmt: skip
        super().__init__(pictures, kept_beside(self.folder, NOTEBOOK), texts)
        kept = self._kept_before().get("texts", {})
        texts = {key: str(kept.get(key, text)) for key, text in texts.items()}
        self.words = {html: WordsView(name=name) for html, name in _TABLES.items()}
        rows = ((SHEET_FIELDS, "the block's data sheet", "sheet-row"), (DAY_FIELDS, "the day and the packs", "row"))
        self.controls = [
            Controls(fields, {f.key: texts[f.key] for f in fields}, self._changed, group=group, shape=shape)
            for fields, group, shape in rows
        ]
        self.afresh = Controls(
            [Press("afresh", "Start afresh", "All boxes as they were at first")], {}, lambda _: None, self._start_afresh
        )
        self.lines = LinesView(plain=True, chosen=-1)
        self.view = self._laid_out()
        self._begin()

    def _set(self) -> dict[str, Any]:
        return {"texts": self.texts} if self.texts != self._asked else {}

    def _start_afresh(self, _button: str) -> None:
        self._forget()
        self.put(**self._asked)

    @property
    def texts(self) -> dict[str, str]:
        """What stands in all boxes."""
        return {key: text for row in self.controls for key, text in row.texts.items()}

    def put(self, **texts: str) -> None:
        """Put other text in boxes and answer it, as if it had been typed."""
        for row in self.controls:
            row.put({key: text for key, text in texts.items() if key in row.texts})
        self._request()

    def _laid_out(self) -> ipywidgets.Widget:
        for picture in self.pictures.values():
            picture.view.layout.height = f"{PICTURE_PX}px"
        columns = {"width": "100%", "grid_template_columns": "minmax(0, 1fr) minmax(0, 1fr)", "grid_gap": "4px 14px"}
        grid = ipywidgets.GridBox([picture.view for picture in self.pictures.values()], layout=columns)
        rows = [
            self.lines,
            self.status.view,
            *(row.view for row in self.controls),
            self.afresh.view,
            grid,
            *self.words.values(),
        ]
        desk = ipywidgets.VBox(rows, layout={"width": "100%"})
        desk.add_class("ridesim-desk")
        return desk

    def _changed(self, _texts: dict[str, str]) -> None:
        self._said_first = ""
        self._request()

    def _wish(self) -> dict[str, str]:
        return self.texts

    def _work(self, texts: dict[str, str]) -> None:
        """Compute and show; runs in the worker, lock held."""
        try:
            found = answer(wish_of(texts), self.folder)
        except InputProblem as problem:
            self._stale(str(problem))
            return
        for picture in self.pictures.values():
            picture.show(found)
        for html, words in self.words.items():
            words.show(html(found))
        self._answer = found
        self.status.say(self._first() + summary(found))

    def _finish(self, texts: dict[str, str]) -> Iterator[None]:
        """Whether either pack does the day, how sure that is: every width of the builds is drawn, not the packs' alone."""
        found = self._answer
        if found is not None and found.lead.build.name != found.lithium.build.name:
            comparison = compare([found.lead.build, found.lithium.build], found.day)
            lines, scale = verdict_lines(comparison.candidates, METRIC)
            with self.lines.hold_sync():
                self.lines.scale, self.lines.lines = scale, lines
        yield

    def _still_html(self) -> str:
        return f"<p>{escape(self.status.text)}</p>" + "".join(words.html for words in self.words.values())


def summary(found: PackAnswer) -> str:
    """The panel's answer in one line."""
    lead, lithium = found.options
    ratio = lead.usable_wh.value / lead.label_wh
    return (
        f"{found.day.name}, {degrees(found.day.ambient_c)} °C: of the lead-acid label's {lead.label_wh:.0f} Wh {lead.usable_wh.value:.0f} "
        f"are usable ({ratio:.0%}); of lithium's {lithium.label_wh:.0f} Wh {lithium.usable_wh.value:.0f}."
    )
