"""The panel for where the weight goes: blocks that are moved, axle loads, pushing, the tray, the scales. No physics here."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets

from ridesim.forms import write_new
from ridesim.show.panel.controls import Controls
from ridesim.show.panel.desk import Desk
from ridesim.show.panel.fields import Choice, Number, Press, Text, in_units, number_of, text_meant, text_of, text_shown
from ridesim.show.panel.files import Saver, builds_in, target_of
from ridesim.show.panel.keep import Steps, kept_beside
from ridesim.show.panel.messages import WordsView
from ridesim.show.panel.picture import Picture
from ridesim.show.panel.screen import SideView, TabsView
from ridesim.show.panel.styles import SIDE
from ridesim.show.style import LIGHT, variables
from ridesim.show.units import SYSTEMS, System
from ridesim.show.weigh.inputs import AT, FIRST_TEXTS, MASS, SCALES, WHICH, WeighAnswer, WeighWish, answer, start_build
from ridesim.show.weigh.pictures import TrayDiagram
from ridesim.show.weigh.side import alt, side_svg
from ridesim.show.weigh.tables import balance_html, bolts_html, moving_html, scales_html, tray_html, watch_html
from ridesim.vehicle.ledger import Entry
from ridesim.words import InputProblem

NOTEBOOK = "1_weigh_and_balance"
TABS: dict[str, tuple[str, Callable[[WeighAnswer, System], str]]] = {
    "balance": ("balance", balance_html), "moving": ("moving it dead", moving_html), "tray": ("the tray", tray_html),
    "scales": ("on the scales", scales_html), "bolts": ("bolts and straps", bolts_html),
}  # fmt: skip
SAVE = "Save places into build"
READINGS = {
    "front_kg": "front", "rear_kg": "rear", "front_level_kg": "front", "total_kg": "rear", "front_lifted_kg": "lifted", "lift_m": "lift",
}  # fmt: skip
"""Which box a refusal of :func:`ridesim.sizing.weighing.weighed` is about."""


def weigh_and_balance(**texts: str) -> WeighAndBalance:
    """The panel with its invented default build, or with other texts in its boxes.

    Returns
    -------
    WeighAndBalance
        Shows itself as the last expression of a cell.
    """
    return WeighAndBalance({**FIRST_TEXTS, **texts})


class WeighAndBalance(Desk[WeighWish, WeighAnswer]):
    """Blocks to move and boxes in; verdict, side view, tables out.

    Parameters
    ----------
    texts : mapping of str to str
        What stands in the boxes at first, by key.
    folder : Path, optional
        Where builds are looked for before the shipped ones, and where is saved; the current folder.
    """

    def __init__(self, texts: Mapping[str, str], folder: Path | None = None) -> None:
        self.folder = folder or Path.cwd()
        super().__init__({"tray": Picture(TrayDiagram())}, kept_beside(self.folder, NOTEBOOK), texts)
        kept = self._kept_before()
        self.texts = {key: str(kept.get("texts", {}).get(key, text)) for key, text in texts.items()}
        self.moved = {str(key): float(value) for key, value in kept.get("moved", {}).items()}
        self.tab, self._open, self._saver = "balance", False, Saver()
        self._steps: Steps[dict[str, float]] = Steps()
        self.side, self.tabs = SideView(), TabsView()
        self.verdict, self.words = WordsView(name="Verdict", shape="ridesim-answer"), WordsView(name="Figures")
        self.watch = WordsView(name="What to watch", shape="ridesim-watch")
        self.which = Controls([], {}, self._typed, shape="weigh-which")
        self.item = Controls([], {}, self._placed, self._step_pressed, shape="weigh-item")
        self.scales = Controls([], {}, self._typed, shape="weigh-scales")
        self.files = Controls([], {"file": "my_balance.toml"}, lambda _texts: None, self._pressed, shape="drawer")
        self.side.observe(lambda change: self._dragged(change["new"]), names="moved")
        self.side.observe(lambda _change: self._refill(), names="chosen")
        self.tabs.observe(lambda change: self._tab_pressed(str(change["new"][0])), names="pressed")
        self.view = self._laid_out()
        self._offer()
        self._open_up()
        self._begin()

    # layout

    def _laid_out(self) -> ipywidgets.Widget:
        self._boxes = {
            "scales": ipywidgets.Box([self.scales.view]),
            "tray": ipywidgets.Box([self.pictures["tray"].view]),
        }
        self._boxes["tray"].add_class("ridesim-tray")
        self._drawer = ipywidgets.Box([self.files.view])
        rows = [
            self.verdict,
            self.which.view,
            self.side,
            self.item.view,
            self.status.view,
            self.tabs,
            *self._boxes.values(),
            self.words,
        ]
        desk = ipywidgets.VBox([*rows, self._drawer, self.watch])
        desk.add_class("ridesim-desk")
        desk.add_class("ridesim-weigh")
        return desk

    @property
    def _system(self) -> System:
        return SYSTEMS.get(self.texts["units"], SYSTEMS["metric"])

    def _offer(self) -> None:
        """The builds that there are now, and all boxes in the units that are shown."""
        builds = builds_in(self.folder)
        self.which.set_fields([replace(field, options=builds) if isinstance(field, Text) else field for field in WHICH])
        self.which.put({field.key: self.texts[field.key] for field in WHICH})
        self.scales.set_fields([Text(f.key, f"{f.label}, {self._system.label(f.unit)}") for f in SCALES])
        self.scales.put({field.key: text_shown(self.texts[field.key], field, self._system) for field in SCALES})
        self.files.set_fields([
            Text("file", "File", enter="save"),
            Press("save", SAVE, f"Write the build, with what was moved, into {self.folder}"),
            Press("svg", "Picture SVG", f"Write the side view into {self.folder}"),
            Press("afresh", "Start afresh", "Everything as the file has it"),
        ])  # fmt: skip

    def _open_up(self) -> None:
        """Show the open tab, hide the others."""
        for box, is_open in {**{b: k == self.tab for k, b in self._boxes.items()}, self._drawer: self._open}.items():
            (box.remove_class if is_open else box.add_class)("ridesim-hidden")
        self.tabs.tabs = [[key, label, key == self.tab] for key, (label, _) in TABS.items()]
        self.tabs.switches = [["files", "save, export", self._open]]

    def _refill(self) -> None:
        """The boxes of the block that is worked on."""
        entry, system = self._chosen(), self._system
        if entry is None or self._answer is None:
            return
        items = Choice("item", "Mass", tuple((each.where, each.item) for each in self._answer.items))
        back, forth = self._steps.can
        fields: list[Number] = [*AT, MASS]
        self.item.set_fields([
            items, *(in_units(field, system) for field in fields),
            Press("undo", "Undo", "Ctrl+Z", not back, "z"), Press("redo", "Redo", "Ctrl+Y", not forth, "y"),
            Press("back", "Back to file", "All places and masses as the file has them", not self.moved),
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

    def _set(self) -> dict[str, Any]:
        if self.texts == self._asked and not self.moved:
            return {}
        return {"texts": self.texts, "moved": self.moved}

    def put(self, **texts: str) -> None:
        """Put other text in boxes and answer it, as if it had been typed."""
        self._typed(texts)
        self._offer()

    def _typed(self, texts: Mapping[str, str]) -> None:
        fields = {field.key: field for field in SCALES}
        meant = {
            key: text_meant(text, fields[key], self._system) if key in fields else text for key, text in texts.items()
        }
        if meant.get("build", self.texts["build"]) != self.texts["build"]:
            self.moved, self._steps = {}, Steps()
        in_other_units = meant.get("units", self.texts["units"]) != self.texts["units"]
        self.texts = {**self.texts, **{key: text for key, text in meant.items() if key in self.texts}}
        if in_other_units:
            self._offer()
        self._said_first = ""
        self._request()

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
            self.item.judge({field.key: str(problem) for field in (*AT, MASS) if field.label == problem.place}, {})
            self.status.say(str(problem), "problem")
            return
        changed = {k: v for k, v in typed.items() if before[k] is None or abs(v - (before[k] or 0.0)) > 6e-4}
        if changed:
            self._move({keys[k]: v / (entry.times if k == "kg" else 1) for k, v in changed.items()})

    def _dragged(self, moved: list[Any]) -> None:
        key, x, z = str(moved[0]), float(moved[1]), float(moved[2])
        if self._answer is not None and key in {each.where for each in self._answer.items}:
            self._move({f"{key}.x_m": x, f"{key}.z_m": z})

    def _move(self, values: dict[str, float]) -> None:
        self._steps.note(self.moved, sorted(values))
        self.moved, self._said_first = {**self.moved, **values}, ""
        self._request()

    def _step_pressed(self, button: str) -> None:
        if button == "back":
            self._steps.note(self.moved, None)
            self.moved = {}
        else:
            to = self._steps.back(self.moved) if button == "undo" else self._steps.forth(self.moved)
            self.moved = self.moved if to is None else to
        self._request()

    def _tab_pressed(self, key: str) -> None:
        if key == "files":
            self._open = not self._open
        else:
            self.tab = key
        self._offer()  # files may have been written meanwhile
        self._open_up()
        self._request()

    def _pressed(self, button: str) -> None:
        acts = {"save": self._save, "svg": self._write_picture, "afresh": self._start_afresh}
        self._guarded(acts[button])

    def _start_afresh(self) -> None:
        self._forget()
        self.moved, self._steps = {}, Steps()
        self.texts = dict(self._asked)
        self._offer()
        self._request()

    def _save(self) -> None:
        path = target_of(self.files.texts["file"], self.folder)
        build = start_build(self.texts["build"], self.folder).changed(self.moved)
        if said := self._saver.save(build, path, SAVE):
            self.status.say(said, "problem")
            return
        self._offer()
        self.status.say(f"Saved the build with these places in {path.name}. Open it in 3_choose_drive by that name.")

    def _write_picture(self) -> None:
        if self._answer is None:
            raise InputProblem("Picture SVG", "", "nothing to write yet", "an answer first")
        self.status.say(f"Picture written: {write_new(self.folder, NOTEBOOK[2:], 'svg', self._alone())}")

    def _alone(self) -> str:
        """The side view by itself, in the colours of a light page."""
        assert self._answer is not None
        look = f".ridesim-side {{ {variables(LIGHT)} background: {LIGHT.paper}; }} {SIDE}"
        return side_svg(self._answer, "", self._system, look)

    # answering

    def _wish(self) -> WeighWish:
        return WeighWish(dict(self.texts), dict(self.moved))

    def _work(self, wish: WeighWish) -> None:
        """Compute and show; runs in the worker, lock held."""
        try:
            found = answer(wish, self.folder)
        except InputProblem as problem:
            self._judge(problem)
            self._stale(str(problem))
            return
        self._judge(None)
        self._answer = found
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

    def _finish(self, wish: WeighWish) -> Iterator[None]:
        """The tables, which a block on its way need not wait for."""
        if self._answer is not None and not self.pictures["tray"].view.old:
            self.words.show(TABS[self.tab][1](self._answer, self._system))
            self.watch.show(watch_html(self._answer, self._system))
        yield

    def _judge(self, problem: InputProblem | None) -> None:
        """Mark the box that a refusal names."""
        place, text = ("", "") if problem is None else (problem.place, str(problem))
        named = {field.label: field.key for field in SCALES} | READINGS
        self.scales.judge({named[place]: text} if place in named else {}, {})
        loads = problem is not None and place not in named and self._answer is None
        self.which.judge({"build": text} if loads else {}, {})

    def _still_html(self) -> str:
        assert self._answer is not None
        tables = "".join(html(self._answer, self._system) for _, html in TABS.values())
        picture = base64.b64encode(self._alone().encode()).decode()
        shown = f'<img style="width: 100%" alt="{escape(alt(self._answer, self._system))}" src="data:image/svg+xml;base64,{picture}">'
        return f"<p>{escape(self._system.said(self._answer.sentence))}</p>{shown}{tables}{watch_html(self._answer, self._system)}"
