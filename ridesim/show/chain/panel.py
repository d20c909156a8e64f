"""The panel for chain and mounting: a scale drawing whose shaft is dragged, does the chain fit and hold, the order list. No physics here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape
from pathlib import Path
from typing import Any, ClassVar

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
from ridesim.show.panel.fields import Choice, Press, number_of, text_of, undo_and_redo
from ridesim.show.panel.files import build_of
from ridesim.show.panel.screen import SideView
from ridesim.show.panel.tabbed import ChangingDesk
from ridesim.show.tables.html import svg_image
from ridesim.words import InputProblem

KEYS = {"chain": "drive.chain", **{field.key: f"drive.{field.key}" for field in TEETH}}
"""Key of the build for each box of the chain."""


class ChainAndMounting(ChangingDesk[ChainWish, ChainAnswer]):
    """A shaft to move and boxes in; verdict, scale drawing, tables out.

    Parameters
    ----------
    texts : mapping of str to str
        What stands in the boxes at first, by key; those of an invented build.
    folder : Path, optional
        Where builds and days are looked for before the shipped ones, and where is saved; the current folder.
    """

    notebook, save_label = "5_chain_and_mounting", "Save into build"
    tables: ClassVar = {
        "fit": ("fit", fit_html), "travel": ("the arm’s travel", travel_html), "strength": ("strength and life", strength_html),
        "donor": ("donor or new", donor_html), "wheel": ("wheel", wheel_html), "order": ("order list", order_html),
    }  # fmt: skip

    def __init__(self, texts: Mapping[str, str] = FIRST_TEXTS, folder: Path | None = None) -> None:
        super().__init__({}, texts, folder, "my_chain.toml")
        self.side = SideView()
        self.which = Controls([], {}, self._typed, shape="weigh-which")
        self.item = Controls([], {}, self._placed, self._step_pressed, shape="chain-item")
        self.sizes = Controls([CHAIN, *TEETH], {}, self._sized, shape="chain-sizes")
        self.donor = Controls(
            DONOR, {field.key: self.texts[field.key] for field in DONOR}, self._typed, shape="chain-donor"
        )
        self.side.observe(lambda change: self._dragged(change["new"]), names="moved")
        self.side.observe(lambda _change: self._refill(), names="chosen")
        shown = [self.side, self.item.view, self.sizes.view]
        self.view = self._laid_out(self.which, shown, {"donor": self.donor.view}, ["weigh", "mount"])
        self._show_first()

    # boxes

    def _offer(self) -> None:
        super()._offer()
        self.which.set_fields(self._with_files(WHICH))
        self.which.put({field.key: self.texts[field.key] for field in WHICH})
        self.donor.put({field.key: self.texts[field.key] for field in DONOR})

    def _buttons(self) -> Mapping[Press, Callable[[], None]]:
        return {
            Press("save", self.save_label, f"Write the build, with what was changed, into {self.folder}"): self._save,
            Press("csv", "Order list CSV", f"Write the order list into {self.folder}"): self._write_order,
            Press("svg", "Picture SVG", f"Write the drawing into {self.folder}"): self._write_drawing,
            Press("afresh", "Start afresh", "Everything as the file has it"): self._start_afresh,
        }

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
        self.item.set_fields([
            items, *AT, *undo_and_redo(*self._steps.can),
            Press("back", "Back to file", "Everything as the file has it", not self.changes["moved"]),
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
            self._refuse(self.item, AT, problem)
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
            self._refuse(self.sizes, TEETH, problem)
            return
        typed["chain"] = texts["chain"].strip()
        drive = self._answer.build.drive
        if values := {KEYS[key]: value for key, value in typed.items() if value != getattr(drive, key)}:
            self._move(values)
        else:
            self._request()

    def _dragged(self, moved: list[Any]) -> None:
        key, x, z = str(moved[0]), float(moved[1]), float(moved[2])
        if self._answer is not None and key in PLACES:
            self._move(dict(zip(PLACES[key], (x, z), strict=True)))

    def _save(self) -> None:
        build = changed(build_of(self.texts["build"], self.folder), self.changes["moved"])
        self._save_build(build, "Saved the build with this chain in {}. Open it in 3_choose_drive by that name.")

    def _write_order(self) -> None:
        self._write("Order list", "csv", order_csv(self._answered("Order list CSV").order), "chain_order")

    # answering

    def _wish(self) -> ChainWish:
        return ChainWish(dict(self.texts), dict(self.changes["moved"]))

    def _answer_to(self, wish: ChainWish) -> ChainAnswer:
        return answer(wish, self.folder)

    def _show(self, found: ChainAnswer) -> None:
        self.verdict.show(f"<p>{escape(self._system.said(found.sentence))}</p>")
        self.side.show(chain_svg(found.mounting, self._chosen, self._system))
        self._refill()
        self.status.say(
            f"{self._first()}{found.build.name}. Drag the small sprocket, move it with the arrow keys, or type where it is."
        )

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

    def _drawing(self, found: ChainAnswer) -> str:
        return alone_svg(found.mounting, self._system)

    def _still_drawing(self, found: ChainAnswer) -> str:
        return svg_image(self._drawing(found), alt(found.mounting, self._system))

    def _watch_html(self, found: ChainAnswer) -> str:
        return watch_html(found, self._system)
