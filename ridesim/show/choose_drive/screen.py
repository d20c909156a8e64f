"""What the main panel shows, and how it is laid out; what is done with it is :mod:`ridesim.show.choose_drive.panel`'s."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import ipywidgets

from ridesim.choose.remedies import in_words
from ridesim.show.choose_drive.fails import with_owned
from ridesim.show.choose_drive.inputs import FIRST, MORE, Answer, Slot
from ridesim.show.choose_drive.lines import verdict_lines
from ridesim.show.choose_drive.strip import programme
from ridesim.show.panel import files
from ridesim.show.panel.controls import Controls
from ridesim.show.panel.fields import Choice, Field, Number, Press, Text, in_units, undo_and_redo
from ridesim.show.panel.messages import Status, WordsView
from ridesim.show.panel.picture import Picture
from ridesim.show.panel.screen import CellsView, LinesView, StripView, TabsView
from ridesim.show.style import MOST_CANDIDATES
from ridesim.show.tables.html import findings_html
from ridesim.show.tables.outcome import table_html
from ridesim.show.tables.verdicts import how_sure_html, mended_html
from ridesim.show.units import System

TABS = {
    "pull": ("pull and charge", ("pull", "charge")), "heat": ("heat and volts", ("heat",)), "ledger": ("what uses the energy", ("ledger",)),
    "gears": ("sprockets", ()), "sure": ("how sure", ()),
}  # fmt: skip
"""Tabs, their labels, and the pictures that each shows."""
GEARS_NOTE = "Darker: more to spare. Press a cell to take its sprockets; with the keys: arrows, then Enter."
SWITCHES = {"more": "more values", "all": "all figures and notes", "files": "day, files, units"}
MENU: list[Field] = [
    Text("name", "Name"),
    Text("file", "File"),
    Press("save", "Save to file", "Write this candidate's build"),
    Press("back", "Back to file", "All values as the file has them"),
    Press("copy", "Copy", "Another candidate with the same values"),
    Press("remove", "Remove", "Take this candidate off the panel; its file stays"),
]


class Acts(NamedTuple):
    """Who is told what the user did, on whichever thread the message comes in."""

    choose: Callable[[int], None]
    open_menu: Callable[[], None]
    tab: Callable[[str], None]
    values: Callable[[dict[str, str]], None]
    menu: Callable[[str], None]
    step: Callable[[str], None]
    desk: Callable[[dict[str, str]], None]
    pair: Callable[[int, int], None]
    map_at: Callable[[int], None]
    file: Callable[[str], None]


class Screen:
    """The views of the main panel.

    Parameters
    ----------
    pictures : mapping of str to Picture
    status : Status
    acts : Acts

    Attributes
    ----------
    view : Widget
        What a cell shows.
    tab : str
        Key of the open tab.
    is_open : dict of str to bool
        The switches, and the menu of the chosen candidate.
    """

    def __init__(self, pictures: Mapping[str, Picture], status: Status, acts: Acts) -> None:
        self.tab, self.is_open = "pull", dict.fromkeys((*SWITCHES, "menu"), False)
        self.pictures = pictures
        self.lines, self.strip, self.tabs = LinesView(), StripView(), TabsView()
        self.lines.observe(lambda change: acts.choose(change["new"]), names="chosen")
        self.lines.observe(lambda _change: acts.open_menu(), names="pressed")
        self.tabs.observe(lambda change: acts.tab(str(change["new"][0])), names="pressed")
        self.work, self.more = (Controls([], {}, acts.values, shape="work") for _ in range(2))
        self.menu = Controls([], {}, acts.values, acts.menu, shape="menu")
        self.another = Controls([], {"open": ""}, lambda _texts: None, acts.menu, shape="another")
        self.steps = Controls([], {}, lambda _texts: None, acts.step, shape="moved")
        self.files = Controls([], {}, acts.desk, acts.file, shape="drawer")
        self.sure = WordsView(name="How sure", shape="ridesim-sure-of")
        self.gears = CellsView(note=GEARS_NOTE)
        self.gears.observe(lambda change: acts.pair(int(change["new"][0]), int(change["new"][1])), names="pressed")
        self.gears.observe(lambda change: acts.map_at(int(change["new"][0])), names="other")
        self.table = WordsView(name="Outcome of the day", shape="ridesim-outcome")
        self.findings = WordsView(name="What to watch", shape="ridesim-watch")
        self.view = self._laid_out(status)

    def _laid_out(self, status: Status) -> ipywidgets.Widget:
        # What is shown and hidden stands in a box of its own: a view of ours does not follow a change of its classes.
        rows = [row.view for row in (self.menu, self.work, self.more, self.files)]
        shown = [*(self.pictures[name].view for _, names in TABS.values() for name in names), self.gears, self.sure]
        self._boxes = {view: ipywidgets.Box([view]) for view in (*rows, *shown)}
        self._boxes[self.menu.view].children = [self.menu.view, self.another.view]
        for wide in (self.pictures["heat"].view, self.pictures["ledger"].view, self.gears, self.sure):
            self._boxes[wide].add_class("ridesim-wide")
        changes, pair, below = (
            ipywidgets.Box(children)
            for children in (
                [status.view, self.steps.view],
                [self._boxes[view] for view in shown],
                [self.findings, self.table],
            )
        )
        for name, part in (("changes", changes), ("pair", pair), ("below", below)):
            part.add_class(f"ridesim-{name}")
        menu, work, more, drawer = (self._boxes[view] for view in rows)
        desk = ipywidgets.VBox([self.lines, menu, self.strip, work, more, changes, pair, self.tabs, drawer, below])
        desk.add_class("ridesim-desk")
        return desk

    def refill(self, slots: Mapping[int, Slot], chosen: int, system: System) -> None:
        """The boxes of the chosen candidate."""
        slot, place = slots[chosen], list(slots).index(chosen)
        origins = [each.origin for each in slots.values()]
        self.lines.chosen = place
        if self.work.view.whose != str(chosen):
            self.work.hatch({})  # another candidate's
        rows: tuple[tuple[Controls, Sequence[Field]], ...] = (
            (self.work, with_owned(FIRST, origins)), (self.more, with_owned(MORE, origins)), (self.menu, MENU),
        )  # fmt: skip
        texts = slot.shown(system)
        for row, fields in rows:
            shown = [in_units(field, system) if isinstance(field, Number) else field for field in fields]
            row.set_fields(shown, slot.name, str(slot.key))
            row.put({field.key: texts[field.key] for field in fields if field.key in texts})
        for other in range(1, MOST_CANDIDATES + 1):
            for view in (self.work.view, self.more.view, self.gears):
                _class(self._boxes[view], f"ridesim-of-{other}", other == place + 1)
        _class(self.view, "ridesim-many", len(slots) > 2)

    def rename(self, name: str) -> None:
        """Another name of the chosen candidate."""
        for row in (self.work, self.more, self.menu):
            row.view.group = name

    def judge(self, problems: Mapping[str, str], marks: Mapping[str, str]) -> None:
        """Mark boxes as wrong, and as changed."""
        for row in (self.work, self.more, self.menu):
            row.judge(problems, marks)

    def offer_steps(self, back: bool, forth: bool) -> None:
        """Undo and redo, where there is something to undo or to do again."""
        self.steps.set_fields(undo_and_redo(back, forth))

    def offer_files(self, folder: Path, kept: str, day: str) -> None:
        """Day, units and files, as there are now."""
        days = list(dict.fromkeys([*files.days_in(folder), day]))
        self.another.set_fields([
            Text("open", "Another build", files.builds_in(folder), enter="add"),
            Press("add", "Add candidate", f"Load a build from {folder} or a shipped one, by name"),
        ])  # fmt: skip
        self.files.set_fields([
            Choice("day", "Day", tuple((name, Path(name).stem.replace("_", " ")) for name in days)),
            Choice("units", "Units", (("metric", "km/h, kg, °C"), ("imperial", "mph, lb, °F"))),
            Press("png", "Picture PNG", f"Write the four pictures into {folder}"),
            Press("svg", "SVG", f"Write the four pictures as SVG into {folder}"),
            Press("csv", "Table CSV", f"Write the table into {folder}"),
            Press("sheet", "Build sheet", f"Write pages to print into {folder}"),
            Press("afresh", "Start afresh", f"Forget what was set here ({kept}); files of builds stay"),
        ])  # fmt: skip

    def open_up(self) -> None:
        """Show what is open, hide what is not."""
        shown = {
            self.menu.view: self.is_open["menu"],
            self.more.view: self.is_open["more"],
            self.files.view: self.is_open["files"],
            self.gears: self.tab == "gears",
            self.sure: self.tab == "sure",
            **{picture.view: name in TABS[self.tab][1] for name, picture in self.pictures.items()},
        }
        for view, is_open in shown.items():
            _class(self._boxes[view], "ridesim-hidden", not is_open)
        self.tabs.tabs = [[key, label, key == self.tab] for key, (label, _) in TABS.items()]
        self.tabs.switches = [[key, label, self.is_open[key]] for key, label in SWITCHES.items()]

    def show(self, answer: Answer, system: System) -> None:
        """Put an answer on the page; call with the work lock held."""
        for picture in self.pictures.values():
            picture.canvas.drawing.system = system
        # Words first: the page puts them up while the pictures are being drawn.
        lines, scale = verdict_lines(answer.comparison, system)
        with self.lines.hold_sync():
            self.lines.scale, self.lines.lines, self.lines.below = scale, lines, ""
        self.strip.day = programme(answer)
        if self.tab == "sure":
            self.show_sure(answer, system, mended=False)
        for name in TABS[self.tab][1]:
            self.pictures[name].show(answer)
        self.table.show(table_html(answer.comparison, system, everything=self.is_open["all"]))
        self.show_watch(answer, system, mended="remedies" in vars(answer.one.candidate))

    def show_watch(self, answer: Answer, system: System, mended: bool) -> None:
        """What to watch, and what would mend it where that is known."""
        everything = self.is_open["all"]
        told = [each for each in answer.findings if everything or each[1].severity != "advice"]
        notes = len(answer.findings) - len(told)
        note = f"And {notes} notes: press “{SWITCHES['all']}”." if notes else ""
        others = mended_html(answer.comparison, answer.chosen, system) if mended and self.tab != "sure" else ""
        self.findings.show(others + findings_html(answer.names, told, note=note, system=system))

    def show_remedies(self, answer: Answer, system: System) -> None:
        """What would mend the chosen candidate, below the verdicts, beside what to watch and how sure it is; ridden for it."""
        name, remedies = answer.one.candidate.name, answer.comparison.verdicts[answer.chosen].remedies
        said = [
            f"{name} would do it with {in_words(each)}." if each.chance else f"{name}: {each.what}."
            for each in remedies
        ]
        self.lines.below = system.said(said[0]) if said else ""
        self.show_watch(answer, system, mended=True)
        if self.tab == "sure":
            self.show_sure(answer, system)

    def show_sure(self, answer: Answer, system: System, mended: bool = True) -> None:
        """How sure it is; ``mended``: with the remedies of the chosen candidate, which are ridden for it."""
        verdicts = answer.comparison.verdicts
        self.sure.show(how_sure_html(answer.comparison.candidates, verdicts, answer.chosen, system, mended))


def _class(box: Any, name: str, on: bool) -> None:
    (box.add_class if on else box.remove_class)(name)
