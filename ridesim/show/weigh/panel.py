"""The panel for where the weight goes: blocks that are moved, axle loads, pushing, the tray, the scales. No physics here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape
from pathlib import Path
from typing import Any, ClassVar

from ridesim.show.panel.controls import Controls
from ridesim.show.panel.fields import (
    Choice,
    Press,
    Text,
    in_units,
    number_of,
    text_meant,
    text_of,
    text_shown,
    texts_shown,
    texts_typed,
    undo_and_redo,
)
from ridesim.show.panel.files import build_of
from ridesim.show.panel.picture import Picture
from ridesim.show.panel.screen import SideView
from ridesim.show.panel.styles import SIDE_ALONE
from ridesim.show.panel.tabbed import ChangingDesk
from ridesim.show.tables.html import svg_image
from ridesim.show.weigh.inputs import AT, FIRST_TEXTS, MASS, SCALES, WHICH, WeighAnswer, WeighWish, answer
from ridesim.show.weigh.pictures import TrayDiagram
from ridesim.show.weigh.side import alt, side_svg
from ridesim.show.weigh.tables import balance_html, bolts_html, moving_html, scales_html, tray_html, watch_html
from ridesim.vehicle.ledger import Entry
from ridesim.words import InputProblem

READINGS = {
    "front_kg": "front", "rear_kg": "rear", "front_level_kg": "front", "total_kg": "rear", "front_lifted_kg": "lifted", "lift_m": "lift",
}  # fmt: skip
"""Which box a refusal of :func:`ridesim.sizing.weighing.weighed` is about."""


class WeighAndBalance(ChangingDesk[WeighWish, WeighAnswer]):
    """Blocks to move and boxes in; verdict, side view, tables out.

    Parameters
    ----------
    texts : mapping of str to str
        What stands in the boxes at first, by key; those of an invented build.
    folder : Path, optional
        Where builds are looked for before the shipped ones, and where is saved; the current folder.
    """

    notebook, save_label = "1_weigh_and_balance", "Save places into build"
    tables: ClassVar = {
        "balance": ("balance", balance_html), "moving": ("moving it dead", moving_html), "tray": ("the tray", tray_html),
        "scales": ("on the scales", scales_html), "bolts": ("bolts and straps", bolts_html),
    }  # fmt: skip

    def __init__(self, texts: Mapping[str, str] = FIRST_TEXTS, folder: Path | None = None) -> None:
        super().__init__({"tray": Picture(TrayDiagram())}, texts, folder, "my_balance.toml")
        self.side = SideView()
        self.which = Controls([], {}, self._typed, shape="weigh-which")
        self.item = Controls([], {}, self._placed, self._step_pressed, shape="weigh-item")
        self.scales = Controls([], {}, self._typed, shape="weigh-scales")
        self.side.observe(lambda change: self._dragged(change["new"]), names="moved")
        self.side.observe(lambda _change: self._refill(), names="chosen")
        in_tabs = {"scales": self.scales.view, "tray": self.pictures["tray"].view}
        self.view = self._laid_out(self.which, [self.side, self.item.view], in_tabs, ["weigh"])
        next(box for box, tab in self._in_tab.items() if tab == "tray").add_class("ridesim-tray")
        self._show_first()

    # boxes

    def _offer(self) -> None:
        super()._offer()
        self.which.set_fields(self._with_files(WHICH))
        self.which.put({field.key: self.texts[field.key] for field in WHICH})
        self.scales.set_fields([Text(f.key, f"{f.label}, {self._system.label(f.unit)}") for f in SCALES.values()])
        self.scales.put(texts_shown({key: self.texts[key] for key in SCALES}, SCALES, self._system))

    def _buttons(self) -> Mapping[Press, Callable[[], None]]:
        return {
            Press("save", self.save_label, f"Write the build, with what was moved, into {self.folder}"): self._save,
            Press("svg", "Picture SVG", f"Write the side view into {self.folder}"): self._write_drawing,
            Press("afresh", "Start afresh", "Everything as the file has it"): self._start_afresh,
        }

    def _refill(self) -> None:
        """The boxes of the block that is worked on."""
        entry, system = self._chosen(), self._system
        if entry is None or self._answer is None:
            return
        items = Choice("item", "Mass", tuple((each.where, each.item) for each in self._answer.items))
        fields = [*AT, MASS]
        self.item.set_fields([
            items, *(in_units(field, system) for field in fields), *undo_and_redo(*self._steps.can),
            Press("back", "Back to file", "All places and masses as the file has them", not self.changes["moved"]),
        ])  # fmt: skip
        values = {"x": entry.x_m, "z": entry.z_m, "kg": entry.mass_kg}
        shown = {
            field.key: ""
            if values[field.key] is None
            else text_shown(text_of(round(values[field.key] or 0.0, 4)), field, system)
            for field in fields
        }
        self.item.put({"item": entry.where, **shown})

    def _chosen(self) -> Entry | None:
        """The block that is worked on: the one that was touched last, at first the pack."""
        items = self._answer.items if self._answer else ()
        at_first = next((each for each in items if each.where.startswith("pack")), None)
        return next((each for each in items if each.where == self.side.chosen), at_first)

    # what the user does; on whichever thread the message comes

    def _typed(self, texts: Mapping[str, str]) -> None:
        units = self.texts["units"]
        super()._typed(texts_typed(texts, self.texts, SCALES, self._system))
        if self.texts["units"] != units:
            self._offer()

    def _placed(self, texts: Mapping[str, str]) -> None:
        """What was typed of the block that is worked on, or which one that is."""
        entry = self._chosen()
        if entry is None:
            return
        if texts["item"] != entry.where:
            self.side.chosen = texts["item"]
            self._request()
            return
        keys = {"x": f"{entry.where}.x_m", "z": f"{entry.where}.z_m", "kg": entry.key}
        before = {"x": entry.x_m, "z": entry.z_m, "kg": entry.mass_kg}
        try:
            typed = {
                field.key: float(number_of(text_meant(texts[field.key], field, self._system), field, entry.item))
                for field in (*AT, MASS) if texts[field.key].strip()
            }  # fmt: skip
        except InputProblem as problem:
            self._refuse(self.item, (*AT, MASS), problem)
            return
        changed = {k: v for k, v in typed.items() if before[k] is None or abs(v - (before[k] or 0.0)) > 6e-4}
        if changed:
            self._move({keys[k]: v / (entry.times if k == "kg" else 1) for k, v in changed.items()})

    def _dragged(self, moved: list[Any]) -> None:
        key, x, z = str(moved[0]), float(moved[1]), float(moved[2])
        if self._answer is not None and key in {each.where for each in self._answer.items}:
            self._move({f"{key}.x_m": x, f"{key}.z_m": z})

    def _save(self) -> None:
        build = build_of(self.texts["build"], self.folder).changed(self.changes["moved"])
        self._save_build(build, "Saved the build with these places in {}. Open it in 3_choose_drive by that name.")

    # answering

    def _wish(self) -> WeighWish:
        return WeighWish(dict(self.texts), dict(self.changes["moved"]))

    def _answer_to(self, wish: WeighWish) -> WeighAnswer:
        return answer(wish, self.folder)

    def _show(self, found: WeighAnswer) -> None:
        system = self._system
        self.verdict.show(f"<p>{escape(system.said(found.sentence))}</p>")
        chosen = self._chosen()
        self.side.show(side_svg(found, chosen.where if chosen else "", system))
        if self.tab == "tray":
            self.pictures["tray"].show(found)
        self._refill()
        self.status.say(
            f"{self._first()}{found.build.name}. Move a block with the mouse or the arrow keys, or type where it is."
        )

    def _judge(self, problem: InputProblem | None) -> None:
        """Mark the box that a refusal names."""
        place, text = ("", "") if problem is None else (problem.place, str(problem))
        named = {field.label: field.key for field in SCALES.values()} | READINGS
        self.scales.judge({named[place]: text} if place in named else {}, {})
        loads = problem is not None and place not in named and self._answer is None
        self.which.judge({"build": text} if loads else {}, {})

    def _drawing(self, found: WeighAnswer) -> str:
        return side_svg(found, "", self._system, SIDE_ALONE)

    def _still_drawing(self, found: WeighAnswer) -> str:
        return svg_image(self._drawing(found), alt(found, self._system))

    def _watch_html(self, found: WeighAnswer) -> str:
        return watch_html(found, self._system)
