"""The panel for choosing a pack: lead-acid against lithium on a day, its charges, a weak block, a data sheet. No physics here."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from html import escape
from pathlib import Path
from typing import Any, ClassVar

import ipywidgets

from ridesim.choose.how_sure import DRAWS
from ridesim.show.choose_drive.lines import unjudged, verdict_lines
from ridesim.show.choose_pack.inputs import (
    DEFAULT_TEXTS,
    FIELDS,
    NUMBERS,
    OF_BUILD,
    OWN,
    ROWS,
    SHEET,
    SHEET_BOXES,
    PackAnswer,
    answer,
    lead_build,
    own_of,
    wish_of,
)
from ridesim.show.choose_pack.pictures import BlocksDiagram, NightDiagram, SheetDiagram
from ridesim.show.choose_pack.tables import charging_html, pack_findings_html, packs_csv, packs_html, sheet_html
from ridesim.show.choose_pack.weak import with_weak_block
from ridesim.show.panel.controls import Controls
from ridesim.show.panel.fields import Choice, Number, Press, in_units, texts_shown, texts_typed
from ridesim.show.panel.messages import WordsView
from ridesim.show.panel.newest import WORK
from ridesim.show.panel.picture import Picture
from ridesim.show.panel.screen import LinesView
from ridesim.show.panel.tabbed import TabbedDesk
from ridesim.show.pictures.charge import ChargeDiagram
from ridesim.show.units import UNITS
from ridesim.words import InputProblem, degrees, percent

PICTURES: dict[str, Callable[[], Any]] = {
    "packs": ChargeDiagram, "charging": NightDiagram, "weak": BlocksDiagram, "sheet": SheetDiagram,
}  # fmt: skip
WORDS = {
    "packs": "The two packs", "charging": "Charging in the break and overnight", "weak": "A weak block", "sheet": "Data sheet and laws",
}  # fmt: skip
"""What a screen reader calls the table of each tab."""


class ChoosePack(TabbedDesk[dict[str, str], PackAnswer]):
    """Boxes in; verdicts, pictures, tables, findings out.

    Parameters
    ----------
    texts : mapping of str to str
        What stands in the boxes at first, by key; those of an invented case.
    folder : Path, optional
        Where builds and days are looked for before the shipped ones, and where is saved; the current folder.
    """

    notebook, save_label = "4_choose_pack", "Save pack into build"
    tables: ClassVar = {
        "packs": ("the two packs", packs_html), "charging": ("charging", charging_html),
        "weak": ("a weak block", lambda _found, _system: ""), "sheet": ("a block's data sheet", sheet_html),
    }  # fmt: skip
    drawer_label, drawer_choices = "save, export, units", (Choice("units", "Units", UNITS),)

    def __init__(self, texts: Mapping[str, str] = DEFAULT_TEXTS, folder: Path | None = None) -> None:
        pictures = {name: Picture(made()) for name, made in PICTURES.items()}
        super().__init__(pictures, texts, folder, "my_pack.toml")
        self._whole: tuple[dict[str, str], PackAnswer] | None = None
        self._own = dict.fromkeys(OWN, "")
        self.words = {key: WordsView(name=name, shape="ridesim-outcome") for key, name in WORDS.items()}
        self.findings = WordsView(name="What to watch", shape="ridesim-watch")
        self.controls = {
            key: Controls([], {f.key: "" for f in fields}, self._typed, shape=f"pack-{key}")
            for key, fields in FIELDS.items()
        }
        self.lines = LinesView(plain=True, chosen=-1)
        self.view = self._laid_out()
        self._show_first()

    # layout

    def _laid_out(self) -> ipywidgets.Widget:
        boxes = {ipywidgets.Box([self.controls[key].view]): key for key in self.tables}
        pairs = {ipywidgets.Box([self.pictures[key].view, self.words[key]]): key for key in self.tables}
        self._in_tab = boxes | pairs
        below = ipywidgets.Box([self.findings])
        for pair, key in pairs.items():
            pair.add_class("ridesim-pair" if key == "packs" else "ridesim-stack")
        below.add_class("ridesim-below")
        desk = ipywidgets.VBox([
            self.lines, self.status.view, self.controls["which"].view, self.tabs, *self._in_tab, self.drawer, below,
        ])  # fmt: skip
        desk.add_class("ridesim-desk")
        desk.add_class("ridesim-pack")
        return desk

    def _offer(self) -> None:
        super()._offer()
        self._own = self._own_for(self.texts) or self._own
        self.files.put({"units": self._system.name})
        # What was typed about a former build's block and comes in late is not meant for this one's.
        whose = "|".join(self.texts[key] for key in OF_BUILD)
        for key, fields in FIELDS.items():
            offered = self._with_files(fields) if key == "which" else fields
            self.controls[key].set_fields(
                [in_units(field, self._system) if isinstance(field, Number) else field for field in offered],
                whose=None if key == "which" else whose,
            )
            texts = {field.key: self._stands(field.key) for field in fields}
            self.controls[key].put(texts_shown(texts, NUMBERS, self._system))

    def _own_for(self, texts: Mapping[str, str]) -> dict[str, str]:
        """What the boxes show that nothing was typed in; empty where these texts mean nothing."""
        try:
            return own_of(texts, self.folder)
        except InputProblem:
            return {}

    def _stands(self, key: str) -> str:
        """What stands in a box in metric units: what was typed, else what the build says."""
        return self.texts[key] if self.texts[key].strip() else self._own.get(key, "")

    def _buttons(self) -> Mapping[Press, Callable[[], None]]:
        return {
            Press(
                "save", self.save_label, f"Write the lead-acid build, with this pack, into {self.folder}"
            ): self._save,
            Press("png", "Picture PNG", f"Write the picture shown into {self.folder}"): self._write_picture,
            Press("csv", "Table CSV", f"Write the table of the two packs into {self.folder}"): self._write_table,
            Press("afresh", "Start afresh", "All boxes as they were at first"): self._start_afresh,
        }

    # what the user does; on whichever thread the message comes

    def put(self, **texts: str) -> None:
        """Put other text in boxes, in metric units, and answer it, as if it had been typed."""
        self.texts = {**self.texts, **texts}
        self._offer()
        self._request()

    def _typed(self, texts: Mapping[str, str]) -> None:
        stood = {key: self._stands(key) for key in texts}
        meant = texts_typed(texts, stood, NUMBERS, self._system)
        self.texts, before = self._with(meant), self._own
        own = self._own_for(self.texts) or before
        emptied = any(key in OWN and not text.strip() for key, text in meant.items())
        if emptied or any(own[key] != before[key] for key in OWN if not self.texts[key].strip()):
            self._offer()
        self._said_first = ""
        self._request()

    def _with(self, meant: Mapping[str, str]) -> dict[str, str]:
        """All texts with those just typed: another build or day brings its own values, one row of a data sheet all of them."""
        texts = {**self.texts, **meant}
        if any(key in SHEET_BOXES for key in meant):
            sheet = {key: meant.get(key, self._stands(key)) for key in SHEET_BOXES}
            texts |= sheet if any(sheet[key].strip() for row in ROWS for key in row) else dict.fromkeys(SHEET_BOXES, "")
        for which in OF_BUILD.keys() & meant.keys():
            cleared = texts | {key: meant.get(key, "") for key in OF_BUILD[which]}
            texts = cleared if self._own_for(cleared) else texts
        return texts

    def _drawer_typed(self, texts: dict[str, str]) -> None:
        if texts["units"] != self.texts["units"]:
            self.put(units=texts["units"])

    def _save(self) -> None:
        """Write the lead-acid build with what was typed about its pack."""
        build = lead_build(wish_of(self.texts), self.folder)
        self._save_build(build, "Saved the build with this pack in {}. Open it in 3_choose_drive by that name.")

    def _write_picture(self) -> None:
        with WORK:
            self._write("Picture", "png", self.pictures[self.tab].png())

    def _write_table(self) -> None:
        self._write("Table", "csv", packs_csv(self._answered("Table CSV"), self._system))

    # answering

    def _wish(self) -> dict[str, str]:
        return self.texts

    def _answer_to(self, texts: dict[str, str]) -> PackAnswer:
        return self._kept_whole(texts) or answer(wish_of(texts), self.folder)

    def _kept_whole(self, texts: dict[str, str]) -> PackAnswer | None:
        """The answer with all bands where these texts have one: another tab, another size ask for nothing more."""
        return self._whole[1] if self._whole is not None and self._whole[0] == texts else None

    def _finish(self, texts: dict[str, str]) -> Iterator[None]:
        """The same with bands, and how sure it is: every width of the builds is drawn, not the packs' alone."""
        if self._answer is not None and self._kept_whole(texts) is None and not self.pictures[self.tab].view.old:
            self._answer = answer(wish_of(texts), self.folder, DRAWS)
            self._whole = texts, self._answer
            self._show(self._answer)
        yield

    def _show(self, found: PackAnswer) -> None:
        system = self._system
        lines, scale = verdict_lines(found.comparison, system)
        lines[0], sound = with_weak_block(lines[0], found)
        with self.lines.hold_sync():
            self.lines.scale, self.lines.lines, self.lines.unjudged = scale, lines, unjudged(found.comparison)
        self.pictures[self.tab].canvas.drawing.system = system
        self.pictures[self.tab].show(found.charge if self.tab == "packs" else found)
        self.words[self.tab].show(self._table(self.tab))
        self.findings.show(pack_findings_html(found, system, self.tab))
        self.status.say(self._first() + system.said(summary(found)) + sound)

    def _judge(self, problem: InputProblem | None) -> None:
        """Mark the box that a refusal names."""
        said = (
            {}
            if problem is None
            else {f.key: str(problem) for fields in FIELDS.values() for f in fields if f.label == problem.place}
        )
        if problem is not None and problem.file == SHEET and not said:
            said = {key: str(problem) for row in ROWS for key in row if self.texts[key].strip()}
        for row in self.controls.values():
            row.judge({key: text for key, text in said.items() if key in row.texts}, {})

    def _still_html(self) -> str:
        assert self._answer is not None
        tables = "".join(map(self._table, self.tables))
        return f"<p>{escape(self.status.text)}</p>{tables}{pack_findings_html(self._answer, self._system)}"


def summary(found: PackAnswer) -> str:
    """What a pack really gives, in one line."""
    lead, lithium = found.options
    ratio = lead.usable_wh.value / lead.label_wh
    return (
        f"{found.day.name}, {degrees(found.day.ambient_c)} °C. Of the {lead.label_wh:.0f} Wh on the lead-acid label {lead.usable_wh.value:.0f} "
        f"are usable ({percent(ratio)}), of lithium's {lithium.label_wh:.0f} Wh {lithium.usable_wh.value:.0f} Wh."
        + (f" {found.refitted}" if found.refitted else "")
    )
