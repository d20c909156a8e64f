"""What the panels of one build share: texts in boxes, units, tabs, a drawer to save and export from, undo and redo."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, ClassVar

import ipywidgets

from ridesim.forms import write_new
from ridesim.show.panel.controls import Controls
from ridesim.show.panel.desk import AnswerType, Desk, WishType
from ridesim.show.panel.fields import Field, Number, Press, Text
from ridesim.show.panel.files import Saver, builds_in, days_in, target_of
from ridesim.show.panel.keep import Steps, kept_beside
from ridesim.show.panel.messages import WordsView
from ridesim.show.panel.picture import Picture
from ridesim.show.panel.screen import TabsView
from ridesim.show.units import SYSTEMS, System
from ridesim.vehicle import Build
from ridesim.words import InputProblem


class TabbedDesk(Desk[WishType, AnswerType]):
    """Texts in boxes, tabs of which one is open, a drawer to save and export from.

    A subclass lays out ``view`` with ``tabs`` and ``drawer`` in it, and then calls :meth:`_show_first`.

    Parameters
    ----------
    pictures : mapping of str to Picture
    texts : mapping of str to str
        What stands in the boxes at first, by key.
    folder : Path or None
        Where files are looked for before the shipped ones, and where is saved; the current folder.
    file : str
        Name that is proposed for a saved build.

    Attributes
    ----------
    texts : dict of str to str
        What stands in the boxes, in metric units.
    tab : str
        Key of the open tab.
    """

    notebook: ClassVar[str]
    tables: ClassVar[Mapping[str, tuple[str, Callable[[Any, System], str]]]]
    """The tabs by key: what is read on each, and the function that makes its table from an answer."""
    save_label: ClassVar[str]
    drawer_label: ClassVar[str] = "save, export"
    drawer_choices: ClassVar[tuple[Field, ...]] = ()
    """What can be chosen in the drawer, before the file's name."""

    def __init__(
        self, pictures: Mapping[str, Picture], texts: Mapping[str, str], folder: Path | None, file: str
    ) -> None:
        self.folder = folder or Path.cwd()
        super().__init__(pictures, kept_beside(self.folder, self.notebook), texts)
        self._before = self._kept_before()
        kept = self._before.get("texts", {})
        self.texts = {key: str(kept.get(key, text)) for key, text in texts.items()}
        self.tab, self._open, self._saver = next(iter(self.tables)), False, Saver()
        self.tabs = TabsView()
        self.tabs.observe(lambda change: self._tab_pressed(str(change["new"][0])), names="pressed")
        self.files = Controls([], {"file": file}, self._drawer_typed, self._pressed, shape="drawer")
        self.drawer = ipywidgets.Box([self.files.view])
        self._in_tab: dict[ipywidgets.Widget, str] = {}  # what is shown in one tab alone, and in which

    @property
    def _system(self) -> System:
        return SYSTEMS.get(self.texts["units"], SYSTEMS["metric"])

    # what a subclass fills in

    def _typed(self, texts: Mapping[str, str]) -> None:
        """What was typed in the boxes that :attr:`texts` holds."""
        raise NotImplementedError

    def _buttons(self) -> Mapping[Press, Callable[[], None]]:
        """The drawer's buttons, and what each does."""
        raise NotImplementedError

    def _answer_to(self, wish: WishType) -> AnswerType:
        """Compute what is asked for; in the worker, lock held."""
        raise NotImplementedError

    def _show(self, found: AnswerType) -> None:
        """Put a new answer on the page; in the worker, lock held."""
        raise NotImplementedError

    def _judge(self, problem: InputProblem | None) -> None:
        """Mark the box that a refusal names; none where all is well."""
        raise NotImplementedError

    # boxes, tabs and drawer

    def put(self, **texts: str) -> None:
        """Put other text in boxes and answer it, as if it had been typed."""
        self._typed(texts)
        self._offer()

    def _offer(self) -> None:
        """Fill the boxes and the drawer: the files that there are now, the units that are shown."""
        self.files.set_fields([*self.drawer_choices, Text("file", "File", enter="save"), *self._buttons()])

    def _with_files(self, fields: Iterable[Field]) -> list[Field]:
        """The fields that say which build and day count, with those that there are now as suggestions."""
        builds, days = builds_in(self.folder), days_in(self.folder)
        return [
            replace(field, options=days if field.key == "day" else builds) if isinstance(field, Text) else field
            for field in fields
        ]

    def _refuse(self, row: Controls, fields: Iterable[Number], problem: InputProblem) -> None:
        """Mark the box whose text is no number, and say so."""
        row.judge({field.key: str(problem) for field in fields if field.label == problem.place}, {})
        self.status.say(str(problem), "problem")

    def _show_first(self) -> None:
        """Fill all boxes, show the open tab, answer the first wish; call when all is laid out."""
        self._offer()
        self._open_up()
        self._begin()

    def _open_up(self) -> None:
        """Show the open tab, hide the others."""
        shown = {box: tab == self.tab for box, tab in self._in_tab.items()}
        for box, is_open in {**shown, self.drawer: self._open}.items():
            (box.remove_class if is_open else box.add_class)("ridesim-hidden")
        self.tabs.tabs = [[key, label, key == self.tab] for key, (label, _) in self.tables.items()]
        self.tabs.switches = [["files", self.drawer_label, self._open]]

    def _tab_pressed(self, key: str) -> None:
        if key == "files":
            self._open = not self._open
        else:
            self.tab = key
        self._offer()  # files may have been written meanwhile
        self._open_up()
        self._request()

    def _drawer_typed(self, texts: dict[str, str]) -> None:
        """What was typed in the drawer; a file's name is read when it is saved."""

    def _pressed(self, button: str) -> None:
        self._guarded({press.key: act for press, act in self._buttons().items()}[button])

    def _set(self) -> dict[str, Any]:
        return {"texts": self.texts} if self.texts != self._asked else {}

    def _start_afresh(self) -> None:
        self._forget()
        self.texts = dict(self._asked)
        self._offer()
        self._request()

    # answering

    def _work(self, wish: WishType) -> None:
        try:
            found = self._answer_to(wish)
        except InputProblem as problem:
            self._judge(problem)
            self._stale(str(problem))
            return
        self._judge(None)
        self._answer = found
        self._show(found)

    def _table(self, tab: str) -> str:
        """The table of a tab."""
        return self.tables[tab][1](self._answer, self._system)

    # writing files

    def _answered(self, button: str) -> AnswerType:
        """What is shown.

        Raises
        ------
        InputProblem
            Nothing yet.
        """
        if self._answer is None:
            raise InputProblem(button, "", "nothing to write yet", "an answer first")
        return self._answer

    def _save_build(self, build: Build, said: str) -> None:
        """Write a build into the file that stands in the drawer; ``said`` has the file's name for ``{}``."""
        path = target_of(self.files.texts["file"], self.folder)
        if asks := self._saver.save(build, path, self.save_label):
            self.status.say(asks, "problem")
            return
        self._offer()
        self.status.say(said.format(path.name))

    def _write(self, what: str, suffix: str, content: str | bytes, name: str = "") -> None:
        """Write something that is shown into a new file, named after the notebook."""
        path = write_new(self.folder, name or self.notebook.partition("_")[2], suffix, content)
        self.status.say(f"{what} written: {path}")


class ChangingDesk(TabbedDesk[WishType, AnswerType]):
    """A desk on which a build is changed value by value: verdict, drawing, the open tab's table, what to watch; undo and redo.

    Attributes
    ----------
    changes : dict of str to dict
        What was changed, in the parts in which it is kept in the panel's file; in ``moved``: values by dotted key of the build.
    """

    parts: ClassVar[tuple[str, ...]] = ("moved",)
    """Keys of :attr:`changes`."""

    def __init__(
        self, pictures: Mapping[str, Picture], texts: Mapping[str, str], folder: Path | None, file: str
    ) -> None:
        super().__init__(pictures, texts, folder, file)
        self.changes: dict[str, dict[str, Any]] = {part: dict(self._before.get(part, {})) for part in self.parts}
        self._steps: Steps[dict[str, dict[str, Any]]] = Steps()
        self.verdict, self.words = WordsView(name="Verdict", shape="ridesim-answer"), WordsView(name="Figures")
        self.watch = WordsView(name="What to watch", shape="ridesim-watch")

    # what a subclass fills in

    def _drawing(self, found: AnswerType) -> str:
        """The drawing as an SVG picture of its own."""
        raise NotImplementedError

    def _still_drawing(self, found: AnswerType) -> str:
        """The same as an image within the still copy."""
        raise NotImplementedError

    def _watch_html(self, found: AnswerType) -> str:
        """What to watch."""
        raise NotImplementedError

    # layout

    def _laid_out(
        self, which: Controls, shown: Sequence[Any], tabs: Mapping[str, Any], classes: Sequence[str]
    ) -> ipywidgets.Widget:
        """Verdict and files first, then what is always shown, status, tabs with what one of them alone shows, its table, drawer, findings."""
        boxes = {tab: ipywidgets.Box([view]) for tab, view in tabs.items()}
        self._in_tab = {box: tab for tab, box in boxes.items()}
        desk = ipywidgets.VBox([
            self.verdict, which.view, *shown, self.status.view, self.tabs, *boxes.values(), self.words, self.drawer, self.watch,
        ])  # fmt: skip
        for name in ("desk", *classes):
            desk.add_class(f"ridesim-{name}")
        return desk

    # what the user does

    def _typed(self, texts: Mapping[str, str]) -> None:
        if texts.get("build", self.texts["build"]) != self.texts["build"]:
            self._forget_changes()
        self.texts = {**self.texts, **{key: text for key, text in texts.items() if key in self.texts}}
        self._said_first = ""
        self._request()

    def _set(self) -> dict[str, Any]:
        return {"texts": self.texts, **self.changes} if any(self.changes.values()) or super()._set() else {}

    def _start_afresh(self) -> None:
        self._forget_changes()
        super()._start_afresh()

    def _forget_changes(self) -> None:
        """Another build, or everything anew: nothing is changed, and nothing can be undone."""
        self.changes, self._steps = {part: {} for part in self.parts}, Steps()

    def _change(self, part: str, now: Mapping[str, Any], what: object) -> None:
        """Put another table in the place of a part; changes of one thing that follow each other quickly are undone together."""
        self._steps.note(self.changes, what)
        self.changes, self._said_first = {**self.changes, part: dict(now)}, ""
        self._request()

    def _move(self, values: Mapping[str, Any]) -> None:
        """Change values of the build, by dotted key."""
        self._change("moved", {**self.changes["moved"], **values}, sorted(values))

    def _step_pressed(self, button: str) -> None:
        """Undo, redo, or back to what the file has."""
        if button == "back":
            self._change("moved", {}, None)
            return
        to = self._steps.back(self.changes) if button == "undo" else self._steps.forth(self.changes)
        self.changes = self.changes if to is None else to
        self._request()

    # answering

    def _finish(self, wish: WishType) -> Iterator[None]:
        """Table and findings, which a drawing on its way need not wait for."""
        if self._answer is not None:
            self.watch.show(self._watch_html(self._answer))
            self.words.show(self._table(self.tab))
        yield

    def _write_drawing(self) -> None:
        self._write("Picture", "svg", self._drawing(self._answered("Picture SVG")))

    def _still_html(self) -> str:
        assert self._answer is not None
        tables = "".join(map(self._table, self.tables))
        return f"{self.verdict.html}{self._still_drawing(self._answer)}{tables}{self.watch.html}"
