"""What the panels of one build share: texts in boxes, units, tabs, a drawer to save and export from, steps that are taken back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, ClassVar

import ipywidgets

from ridesim.forms import write_new
from ridesim.show.panel.controls import Controls
from ridesim.show.panel.desk import AnswerType, Desk, WishType
from ridesim.show.panel.files import Saver, target_of
from ridesim.show.panel.keep import Steps, kept_beside
from ridesim.show.panel.picture import Picture
from ridesim.show.panel.screen import TabsView
from ridesim.show.units import SYSTEMS, System
from ridesim.vehicle import Build
from ridesim.words import InputProblem


class TabbedDesk(Desk[WishType, AnswerType]):
    """Texts in boxes, a tab that is open, a drawer.

    A subclass lays out ``view`` with ``tabs`` and ``drawer`` in it, fills boxes and drawer in :meth:`_offer`, says in :meth:`_in_tabs` what
    belongs to which tab, and in :meth:`_acts` what the drawer's buttons do.

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
    tab_labels: ClassVar[Mapping[str, str]]
    drawer_label: ClassVar[str] = "save, export"
    save_label: ClassVar[str]

    def __init__(
        self, pictures: Mapping[str, Picture], texts: Mapping[str, str], folder: Path | None, file: str
    ) -> None:
        self.folder = folder or Path.cwd()
        super().__init__(pictures, kept_beside(self.folder, self.notebook), texts)
        self._before = self._kept_before()
        kept = self._before.get("texts", {})
        self.texts = {key: str(kept.get(key, text)) for key, text in texts.items()}
        self.tab, self._open, self._saver = next(iter(self.tab_labels)), False, Saver()
        self.tabs = TabsView()
        self.tabs.observe(lambda change: self._tab_pressed(str(change["new"][0])), names="pressed")
        self.files = Controls([], {"file": file}, self._drawer_typed, self._pressed, shape="drawer")
        self.drawer = ipywidgets.Box([self.files.view])

    @property
    def _system(self) -> System:
        return SYSTEMS.get(self.texts["units"], SYSTEMS["metric"])

    def _offer(self) -> None:
        """Fill the boxes and the drawer: the files that there are now, the units that are shown."""
        raise NotImplementedError

    def _in_tabs(self) -> Mapping[ipywidgets.Widget, str]:
        """What is shown in one tab alone, and in which."""
        raise NotImplementedError

    def _acts(self) -> Mapping[str, Callable[[], None]]:
        """What each button of the drawer does."""
        raise NotImplementedError

    def _show_first(self) -> None:
        """Fill all boxes, show the open tab, answer the first wish; call when all is laid out."""
        self._offer()
        self._open_up()
        self._begin()

    def _open_up(self) -> None:
        """Show the open tab, hide the others."""
        shown = {box: tab == self.tab for box, tab in self._in_tabs().items()}
        for box, is_open in {**shown, self.drawer: self._open}.items():
            (box.remove_class if is_open else box.add_class)("ridesim-hidden")
        self.tabs.tabs = [[key, label, key == self.tab] for key, label in self.tab_labels.items()]
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
        self._guarded(self._acts()[button])

    def _set(self) -> dict[str, Any]:
        return {"texts": self.texts} if self.texts != self._asked else {}

    def _start_afresh(self) -> None:
        self._forget()
        self.texts = dict(self._asked)
        self._offer()
        self._request()

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


class MovedDesk(TabbedDesk[WishType, AnswerType]):
    """A desk on which values of a build are changed one by one: what was moved, by dotted key, and steps back and forth."""

    def __init__(
        self, pictures: Mapping[str, Picture], texts: Mapping[str, str], folder: Path | None, file: str
    ) -> None:
        super().__init__(pictures, texts, folder, file)
        self.moved: dict[str, Any] = dict(self._before.get("moved", {}))
        self._steps: Steps[dict[str, Any]] = Steps()
        self._good = self.moved, self._steps.copy()

    def _set(self) -> dict[str, Any]:
        return {"texts": self.texts, "moved": self.moved} if self.moved or super()._set() else {}

    def _start_afresh(self) -> None:
        self._forget_moves()
        super()._start_afresh()

    def _forget_moves(self) -> None:
        """Another build, or everything anew: nothing is moved, and nothing can be taken back."""
        self.moved, self._steps = {}, Steps()
        self._good = {}, Steps()

    def _move(self, values: Mapping[str, Any]) -> None:
        self._steps.note(self.moved, sorted(values))
        self.moved, self._said_first = {**self.moved, **values}, ""
        self._request()

    def _take(self, moved: Mapping[str, Any]) -> None:
        """These values were answered: they are what a refused one goes back to."""
        self._good = dict(moved), self._steps.copy()

    def _take_back(self, moved: Mapping[str, Any]) -> None:
        """A refused value stays in its box alone; among what was moved every right one after it would be refused with it."""
        if self.moved == moved:
            good, steps = self._good
            self.moved, self._steps = good, steps.copy()

    def _step_pressed(self, button: str) -> None:
        if button == "back":
            self._steps.note(self.moved, None)
            self.moved = {}
        else:
            to = self._steps.back(self.moved) if button == "undo" else self._steps.forth(self.moved)
            self.moved = self.moved if to is None else to
        self._request()
