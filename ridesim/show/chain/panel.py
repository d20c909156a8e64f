"""The panel for chain and mounting: a scale drawing whose shaft is dragged, does the chain fit and hold, the order list. No physics here."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets

from ridesim.show.chain.inputs import (
    AT,
    CHAIN,
    DONOR,
    FIRST_TEXTS,
    NAMES,
    PIVOT,
    PLACES,
    SHAFT,
    TEETH,
    WHICH,
    ChainAnswer,
    ChainWish,
    answer,
    changed,
    day_pull_n,
    start_build,
)
from ridesim.show.chain.side import alone_svg, alt, chain_svg
from ridesim.show.chain.tables import (
    donor_html,
    fit_html,
    order_csv,
    order_html,
    strength_html,
    travel_html,
    watch_html,
    wheel_html,
)
from ridesim.show.panel.controls import Controls
from ridesim.show.panel.fields import Choice, Press, Text, number_of, text_of
from ridesim.show.panel.files import builds_in, days_in
from ridesim.show.panel.messages import WordsView
from ridesim.show.panel.screen import SideView
from ridesim.show.panel.tabbed import MovedDesk
from ridesim.words import InputProblem

NOTEBOOK = "5_chain_and_mounting"
TABS = {
    "fit": "fit",
    "travel": "the arm’s travel",
    "strength": "strength and life",
    "donor": "donor or new",
    "wheel": "wheel",
    "order": "order list",
}
SAVE = "Save into build"
KEYS = {"chain": "drive.chain", **{field.key: f"drive.{field.key}" for field in TEETH}}
"""Key of the build for each box of the chain."""


def chain_and_mounting(**texts: str) -> ChainAndMounting:
    """The panel with its invented default build, or with other texts in its boxes.

    Returns
    -------
    ChainAndMounting
        Shows itself as the last expression of a cell.
    """
    return ChainAndMounting({**FIRST_TEXTS, **texts})


class ChainAndMounting(MovedDesk[ChainWish, ChainAnswer]):
    """A shaft to move and boxes in; verdict, scale drawing, tables out.

    Parameters
    ----------
    texts : mapping of str to str
        What stands in the boxes at first, by key.
    folder : Path, optional
        Where builds and days are looked for before the shipped ones, and where is saved; the current folder.
    """

    notebook, tab_labels, save_label = NOTEBOOK, TABS, SAVE

    def __init__(self, texts: Mapping[str, str], folder: Path | None = None) -> None:
        super().__init__({}, texts, folder, "my_chain.toml")
        self.side = SideView()
        self.verdict, self.words = WordsView(name="Verdict", shape="ridesim-answer"), WordsView(name="Figures")
        self.watch = WordsView(name="What to watch", shape="ridesim-watch")
        self.which = Controls([], {}, self._typed, shape="weigh-which")
        self.item = Controls([], {}, self._placed, self._step_pressed, shape="chain-item")
        self.sizes = Controls([CHAIN, *TEETH], {}, self._sized, shape="chain-sizes")
        self.donor = Controls(
            DONOR, {field.key: self.texts[field.key] for field in DONOR}, self._typed, shape="chain-donor"
        )
        self.side.observe(lambda change: self._dragged(change["new"]), names="moved")
        self.side.observe(lambda _change: self._refill(), names="chosen")
        self.view = self._laid_out()
        self._show_first()

    # layout

    def _laid_out(self) -> ipywidgets.Widget:
        self._donors = ipywidgets.Box([self.donor.view])
        rows = [
            self.verdict,
            self.which.view,
            self.side,
            self.item.view,
            self.sizes.view,
            self.status.view,
            self.tabs,
            self._donors,
            self.words,
        ]
        desk = ipywidgets.VBox([*rows, self.drawer, self.watch])
        for name in ("ridesim-desk", "ridesim-weigh", "ridesim-mount"):
            desk.add_class(name)
        return desk

    def _offer(self) -> None:
        """The builds and days that there are now."""
        known = {"build": builds_in(self.folder), "day": days_in(self.folder)}
        self.which.set_fields(
            [replace(field, options=known[field.key]) if isinstance(field, Text) else field for field in WHICH]
        )
        self.which.put({field.key: self.texts[field.key] for field in WHICH})
        self.donor.put({field.key: self.texts[field.key] for field in DONOR})
        self.files.set_fields([
            Text("file", "File", enter="save"),
            Press("save", SAVE, f"Write the build, with what was changed, into {self.folder}"),
            Press("csv", "Order list CSV", f"Write the order list into {self.folder}"),
            Press("svg", "Picture SVG", f"Write the drawing into {self.folder}"),
            Press("afresh", "Start afresh", "Everything as the file has it"),
        ])  # fmt: skip

    def _in_tabs(self) -> Mapping[ipywidgets.Widget, str]:
        return {self._donors: "donor"}

    @property
    def _chosen(self) -> str:
        """What is worked on: the shaft, or the pivot where there is one."""
        pivot = self._answer is not None and self._answer.mounting.layout.pivot is not None
        return PIVOT if self.side.chosen == PIVOT and pivot else SHAFT

    def _place(self, key: str) -> complex:
        assert self._answer is not None
        found = self._answer.mounting
        return found.shaft if key == SHAFT or found.layout.pivot is None else found.layout.pivot

    def _refill(self) -> None:
        """The boxes of what is worked on, and of the chain."""
        if self._answer is None:
            return
        pivot = self._answer.mounting.layout.pivot is not None
        items = Choice("item", "Place of", tuple((key, name) for key, name in NAMES.items() if key == SHAFT or pivot))
        back, forth = self._steps.can
        self.item.set_fields([
            items, *AT, Press("undo", "Undo", "Ctrl+Z", not back, "z"), Press("redo", "Redo", "Ctrl+Y", not forth, "y"),
            Press("back", "Back to file", "Everything as the file has it", not self.moved),
        ])  # fmt: skip
        drive, at = self._answer.build.drive, self._place(self._chosen)
        self.item.put(
            {"item": self._chosen, "x": text_of(round(1000.0 * at.real, 1)), "z": text_of(round(1000.0 * at.imag, 1))}
        )
        now = {key: getattr(drive, key) for key in KEYS}
        self.sizes.put(
            {
                key: "" if value is None else value if isinstance(value, str) else text_of(value)
                for key, value in now.items()
            }
        )

    # what the user does; on whichever thread the message comes

    def put(self, **texts: str) -> None:
        """Put other text in boxes and answer it, as if it had been typed."""
        self._typed(texts)
        self._offer()

    def _typed(self, texts: Mapping[str, str]) -> None:
        if texts.get("build", self.texts["build"]) != self.texts["build"]:
            self._forget_moves()
        self.texts = {**self.texts, **{key: text for key, text in texts.items() if key in self.texts}}
        self._said_first = ""
        self._request()

    def _placed(self, texts: Mapping[str, str]) -> None:
        """What was typed of place and chain, or which place is worked on."""
        if self._answer is None:
            return
        if texts["item"] != self._chosen:
            self.side.chosen = texts["item"]
            self._request()
            return
        place = self._place(self._chosen)
        try:
            at = [float(number_of(texts[field.key], field, NAMES[self._chosen])) for field in AT]
        except InputProblem as problem:
            self._refuse(self.item, problem)
            return
        if any(abs(typed - 1000.0 * now) > 0.06 for typed, now in zip(at, (place.real, place.imag), strict=True)):
            self._move(dict(zip(PLACES[self._chosen], (each / 1000.0 for each in at), strict=True)))
        else:
            self._request()  # what was wrong before may be right now

    def _sized(self, texts: Mapping[str, str]) -> None:
        """What was typed of the chain; an empty box is not asked about."""
        if self._answer is None:
            return
        try:
            typed: dict[str, float | str] = {
                field.key: number_of(texts[field.key], field, "the chain")
                for field in TEETH
                if texts[field.key].strip()
            }
        except InputProblem as problem:
            self._refuse(self.sizes, problem)
            return
        typed["chain"] = texts["chain"].strip()
        drive = self._answer.build.drive
        if values := {KEYS[key]: value for key, value in typed.items() if value != getattr(drive, key)}:
            self._move(values)
        else:
            self._request()

    def _refuse(self, row: Controls, problem: InputProblem) -> None:
        """Mark the box whose text is no number."""
        row.judge({field.key: str(problem) for field in (*AT, *TEETH) if field.label == problem.place}, {})
        self.status.say(str(problem), "problem")

    def _dragged(self, moved: list[Any]) -> None:
        key, x, z = str(moved[0]), float(moved[1]), float(moved[2])
        if self._answer is not None and key in PLACES:
            self._move(dict(zip(PLACES[key], (x, z), strict=True)))

    def _acts(self) -> Mapping[str, Callable[[], None]]:
        return {"save": self._save, "svg": self._write_picture, "csv": self._write_order, "afresh": self._start_afresh}

    def _save(self) -> None:
        build = changed(start_build(self.texts["build"], self.folder), self.moved)
        self._save_build(build, "Saved the build with this chain in {}. Open it in 3_choose_drive by that name.")

    def _write_picture(self) -> None:
        self._answered("Picture SVG")
        self._write("Picture", "svg", self._alone())

    def _write_order(self) -> None:
        self._write("Order list", "csv", order_csv(self._answered("Order list CSV").order), "chain_order")

    def _alone(self) -> str:
        """The drawing by itself, in the colours of a light page."""
        assert self._answer is not None
        return alone_svg(self._answer.mounting, self._system)

    # answering

    def _wish(self) -> ChainWish:
        return ChainWish(dict(self.texts), dict(self.moved))

    def _work(self, wish: ChainWish) -> None:
        """Compute and show; runs in the worker, lock held."""
        try:
            found = answer(wish, self.folder)
        except InputProblem as problem:
            self._take_back(wish.moved)
            self._judge(problem)
            self._stale(str(problem))
            return
        self._take(wish.moved)
        self._judge(None)
        self._answer = found
        self.verdict.show(f"<p>{escape(self._system.said(found.sentence))}</p>")
        self.side.show(chain_svg(found.mounting, self._chosen, self._system))
        self._refill()
        self.status.say(
            f"{self._first()}{found.build.name}. Drag the small sprocket, move it with the arrow keys, or type where it is."
        )

    def _finish(self, wish: ChainWish) -> Iterator[None]:
        """The tables, which a shaft on its way need not wait for."""
        if self._answer is not None and wish == self._wish():
            try:
                self.words.show(self._table(self.tab))
            except InputProblem as problem:
                self._judge(problem)
                self.status.say(str(problem), "problem")
            self.watch.show(watch_html(self._answer, self._system))
        yield

    def _table(self, tab: str) -> str:
        """A tab's table, which may want the day ridden."""
        assert self._answer is not None
        if tab == "strength":
            return strength_html(self._answer, self._system, day_pull_n(self._answer, self.texts, self.folder))
        plain = {"fit": fit_html, "travel": travel_html, "donor": donor_html, "wheel": wheel_html, "order": order_html}
        return plain[tab](self._answer, self._system)

    def _judge(self, problem: InputProblem | None) -> None:
        """Mark the box that a refusal names."""
        place, text = ("", "") if problem is None else (problem.place, str(problem))
        donors = {field.label: field.key for field in DONOR} | {"measured_mm": "measured_mm"}
        boxes = {key: box for box, key in KEYS.items()}
        mine = problem is not None and problem.file in ("the donor", "the worn chain")
        self.donor.judge({donors[place]: text} if mine and place in donors else {}, {})
        self.item.judge({}, {})
        self.sizes.judge({boxes[place]: text} if place in boxes else {"chain": text} if place == "chain" else {}, {})
        self.which.judge({"build": text} if problem is not None and self._answer is None else {}, {})

    def _still_html(self) -> str:
        assert self._answer is not None
        tables = "".join(self._table(tab) for tab in TABS)
        picture = base64.b64encode(self._alone().encode()).decode()
        words = escape(alt(self._answer.mounting, self._system))
        shown = f'<img style="width: 100%" alt="{words}" src="data:image/svg+xml;base64,{picture}">'
        verdict = escape(self._system.said(self._answer.sentence))
        return f"<p>{verdict}</p>{shown}{tables}{watch_html(self._answer, self._system)}"
