"""The panel for where the weight goes: blocks that are moved, axle loads, pushing, the tray, the scales. No physics here."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from html import escape
from pathlib import Path
from typing import Any, ClassVar

import ipywidgets

from ridesim.show.panel.controls import Controls
from ridesim.show.panel.fields import Choice, Number, Press, Text, in_units, number_of, text_meant, text_of, text_shown
from ridesim.show.panel.files import builds_in
from ridesim.show.panel.messages import WordsView
from ridesim.show.panel.picture import Picture
from ridesim.show.panel.screen import SideView
from ridesim.show.panel.styles import SIDE
from ridesim.show.panel.tabbed import MovedDesk
from ridesim.show.style import LIGHT, variables
from ridesim.show.units import System
from ridesim.show.weigh.inputs import (
    AT,
    FIRST_TEXTS,
    MASS,
    SCALES,
    WHEELBASE,
    WHEELBASE_KEY,
    WHICH,
    WeighAnswer,
    WeighWish,
    answer,
    start_build,
)
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


class WeighAndBalance(MovedDesk[WeighWish, WeighAnswer]):
    """Blocks to move and boxes in; verdict, side view, tables out.

    Parameters
    ----------
    texts : mapping of str to str
        What stands in the boxes at first, by key.
    folder : Path, optional
        Where builds are looked for before the shipped ones, and where is saved; the current folder.
    """

    notebook, save_label = NOTEBOOK, SAVE
    tab_labels: ClassVar = {key: label for key, (label, _) in TABS.items()}

    def __init__(self, texts: Mapping[str, str], folder: Path | None = None) -> None:
        super().__init__({"tray": Picture(TrayDiagram())}, texts, folder, "my_balance.toml")
        self.side = SideView()
        self.verdict, self.words = WordsView(name="Verdict", shape="ridesim-answer"), WordsView(name="Figures")
        self.watch = WordsView(name="What to watch", shape="ridesim-watch")
        self.which = Controls([], {}, self._which_typed, shape="weigh-which")
        self.item = Controls([], {}, self._placed, self._step_pressed, shape="weigh-item")
        self.scales = Controls([], {}, self._typed, shape="weigh-scales")
        self.side.observe(lambda change: self._dragged(change["new"]), names="moved")
        self.side.observe(lambda _change: self._refill(), names="chosen")
        self.view = self._laid_out()
        self._show_first()

    # layout

    def _laid_out(self) -> ipywidgets.Widget:
        self._boxes = {
            "scales": ipywidgets.Box([self.scales.view]),
            "tray": ipywidgets.Box([self.pictures["tray"].view]),
        }
        self._boxes["tray"].add_class("ridesim-tray")
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
        desk = ipywidgets.VBox([*rows, self.drawer, self.watch])
        desk.add_class("ridesim-desk")
        desk.add_class("ridesim-weigh")
        return desk

    def _offer(self) -> None:
        """The builds that there are now, and all boxes in the units that are shown."""
        builds = builds_in(self.folder)
        which = [replace(field, options=builds) if isinstance(field, Text) else field for field in WHICH]
        base = Text(WHEELBASE.key, f"{WHEELBASE.label}, {self._system.label(WHEELBASE.unit)}")
        self.which.set_fields([*which, base])
        self.which.put({field.key: self.texts[field.key] for field in WHICH})
        self.scales.set_fields([Text(f.key, f"{f.label}, {self._system.label(f.unit)}") for f in SCALES])
        self.scales.put({field.key: text_shown(self.texts[field.key], field, self._system) for field in SCALES})
        self.files.set_fields([
            Text("file", "File", enter="save"),
            Press("save", SAVE, f"Write the build, with what was moved, into {self.folder}"),
            Press("svg", "Picture SVG", f"Write the side view into {self.folder}"),
            Press("afresh", "Start afresh", "Everything as the file has it"),
        ])  # fmt: skip

    def _in_tabs(self) -> Mapping[ipywidgets.Widget, str]:
        return {box: key for key, box in self._boxes.items()}

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
        self.which.put({WHEELBASE.key: self._wheelbase})

    @property
    def _wheelbase(self) -> str:
        """What stands in the wheelbase's box."""
        wheelbase = None if self._answer is None else self._answer.build.vehicle.wheelbase_m
        return "" if wheelbase is None else text_shown(text_of(wheelbase), WHEELBASE, self._system)

    def _chosen(self) -> Entry | None:
        """The block that is worked on: the one that was touched last, at first the pack."""
        items = self._answer.items if self._answer else ()
        at_first = next((each for each in items if each.where.startswith("pack")), None)
        return next((each for each in items if each.where == self.side.chosen), at_first)

    # what the user does; on whichever thread the message comes

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
            self._forget_moves()
        in_other_units = meant.get("units", self.texts["units"]) != self.texts["units"]
        self.texts = {**self.texts, **{key: text for key, text in meant.items() if key in self.texts}}
        if in_other_units:
            self._offer()
        self._said_first = ""
        self._request()

    def _which_typed(self, texts: Mapping[str, str]) -> None:
        """What was typed above the picture. The wheelbase is a value of the build that stands there, moved as a place is."""
        others, typed = dict(texts), texts.get(WHEELBASE.key, "").strip()
        others.pop(WHEELBASE.key, None)
        same_build = all(others.get(key, self.texts[key]) == self.texts[key] for key in ("build", "units"))
        if self._answer is None or not same_build or typed in ("", self._wheelbase):
            self._typed(others)
            return
        try:
            value = number_of(text_meant(typed, WHEELBASE, self._system), WHEELBASE, self._answer.build.name)
        except InputProblem as problem:
            self.which.judge({WHEELBASE.key: str(problem)}, {})
            self.status.say(str(problem), "problem")
            return
        self._move({WHEELBASE_KEY: float(value)})

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
        else:
            self._request()  # what was wrong before may be right now

    def _dragged(self, moved: list[Any]) -> None:
        key, x, z = str(moved[0]), float(moved[1]), float(moved[2])
        if self._answer is not None and key in {each.where for each in self._answer.items}:
            self._move({f"{key}.x_m": x, f"{key}.z_m": z})

    def _acts(self) -> Mapping[str, Callable[[], None]]:
        return {"save": self._save, "svg": self._write_picture, "afresh": self._start_afresh}

    def _save(self) -> None:
        build = start_build(self.texts["build"], self.folder).changed(self.moved)
        self._save_build(build, "Saved the build with these places in {}. Open it in 3_choose_drive by that name.")

    def _write_picture(self) -> None:
        self._answered("Picture SVG")
        self._write("Picture", "svg", self._alone())

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
        except InputProblem as found_wrong:
            problem = self._as_typed(found_wrong, wish)
            self._take_back(wish.moved)
            self._judge(problem)
            self._stale(str(problem))
            return
        self._take(wish.moved)
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
        """The tables, which a block on its way need not wait for; they say what the picture shows, also after a refusal."""
        if self._answer is not None:
            self.words.show(TABS[self.tab][1](self._answer, self._system))
            self.watch.show(watch_html(self._answer, self._system))
        yield

    def _as_typed(self, problem: InputProblem, wish: WeighWish) -> InputProblem:
        """A refusal with the mass that was typed: that of several blocks together, where the build keeps that of one."""
        entry = self._chosen()
        if entry is None or entry.times == 1 or problem.place != entry.key or entry.key not in wish.moved:
            return problem
        kg = text_shown(text_of(entry.times * wish.moved[entry.key]), MASS, self._system)
        found = f"{kg} {self._system.label(MASS.unit)} for {entry.times} blocks"
        return InputProblem(problem.file, _mass_of(entry), found, problem.expected)

    def _judge(self, problem: InputProblem | None) -> None:
        """Mark the box that a refusal names."""
        place, text = ("", "") if problem is None else (problem.place, str(problem))
        named = {field.label: field.key for field in SCALES} | READINGS
        self.scales.judge({named[place]: text} if place in named else {}, {})
        loads = problem is not None and place not in named and self._answer is None
        self.which.judge({"build": text} if loads else {WHEELBASE.key: text} if place == WHEELBASE_KEY else {}, {})
        boxes = {}
        if entry := self._chosen():
            boxes = {f"{entry.where}.x_m": "x", f"{entry.where}.z_m": "z", entry.key: "kg", _mass_of(entry): "kg"}
        self.item.judge({boxes[place]: text} if place in boxes else {}, {})

    def _still_html(self) -> str:
        assert self._answer is not None
        tables = "".join(html(self._answer, self._system) for _, html in TABS.values())
        picture = base64.b64encode(self._alone().encode()).decode()
        shown = f'<img style="width: 100%" alt="{escape(alt(self._answer, self._system))}" src="data:image/svg+xml;base64,{picture}">'
        return f"<p>{escape(self._system.said(self._answer.sentence))}</p>{shown}{tables}{watch_html(self._answer, self._system)}"


def _mass_of(entry: Entry) -> str:
    return f"mass of the {entry.item}"
