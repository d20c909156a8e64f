"""The main panel: verdicts, the day, the chosen candidate's sliders, two pictures. No physics here."""

from __future__ import annotations

import json
import os
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import count
from pathlib import Path
from typing import Any

import ipywidgets

from ridesim import data
from ridesim.choose import Comparison
from ridesim.day import Day
from ridesim.forms import write_new
from ridesim.ride.given import told_apart
from ridesim.show.choose_drive import files
from ridesim.show.choose_drive.fails import failing_stops, with_owned
from ridesim.show.choose_drive.inputs import FIRST, MORE, Answer, Reckoned, Reckoner, Slot, Wish
from ridesim.show.choose_drive.kept import Setting, as_table, restored
from ridesim.show.choose_drive.lines import verdict_lines
from ridesim.show.choose_drive.moved import what_moved
from ridesim.show.choose_drive.saved import DRAWINGS, as_file, still_picture
from ridesim.show.choose_drive.strip import programme
from ridesim.show.panel.controls import Controls
from ridesim.show.panel.desk import Desk
from ridesim.show.panel.fields import Choice, Field, Press, Text
from ridesim.show.panel.keep import Kept, Steps, kept_beside
from ridesim.show.panel.messages import WordsView
from ridesim.show.panel.newest import WORK
from ridesim.show.panel.picture import Picture
from ridesim.show.panel.screen import LinesView, StripView, TabsView
from ridesim.show.pictures.charge import ChargeDiagram
from ridesim.show.sheet import build_sheet
from ridesim.show.style import MOST_CANDIDATES
from ridesim.show.tables.html import findings_html
from ridesim.show.tables.outcome import table_csv, table_html
from ridesim.show.tables.verdicts import how_sure_html
from ridesim.show.units import SYSTEMS
from ridesim.vehicle import Build
from ridesim.words import InputProblem

DEFAULT_BUILDS, DEFAULT_DAY = ("heron_36v", "heron_48v"), "harbour_festival"
NOTEBOOK = "3_choose_drive"
_NAME = "the candidates"
TABS = {
    "pull": ("pull and charge", ("pull", "charge")), "heat": ("heat and volts", ("heat",)), "ledger": ("where the energy goes", ("ledger",)),
    "sure": ("how sure", ()),
}  # fmt: skip
"""Tabs, their labels, and the pictures that each shows."""
SWITCHES = {"more": "more values", "all": "all figures and notes", "files": "day, files, units"}


def choose_drive() -> ChooseDrive:
    """The main panel with what ``ridesim open`` asked for, else the two Herons on the festival day.

    Returns
    -------
    ChooseDrive
        Shows itself as the last expression of a cell.
    """
    builds = json.loads(os.environ.get("RIDESIM_BUILDS", "null")) or DEFAULT_BUILDS
    return ChooseDrive(builds[:MOST_CANDIDATES], os.environ.get("RIDESIM_DAY") or DEFAULT_DAY)


class ChooseDrive(Desk[Wish, Answer]):
    """Candidates, day and units in; verdicts, pictures, table, findings out.

    Parameters
    ----------
    builds : sequence of str or Path
        One to four builds or shipped names.
    day : str or Path
        A day file or a shipped name.
    folder : Path, optional
        The user's folder, where builds are looked for and saved, and what is set is kept; the folder of the first build that is not a
        shipped one, else the current folder.

    Raises
    ------
    InputProblem
        A file that is not a good build or day.
    """

    kept: Kept

    def __init__(self, builds: Sequence[str | Path], day: str | Path, folder: Path | None = None) -> None:
        self.folder = folder or _folder_of(builds)
        self._lock = threading.RLock()
        self._keys = count(1)
        self._reckoner = Reckoner()
        self._to_overwrite: tuple[Path, Build] | None = None
        self._steps: Steps[Setting] = Steps()
        self._former: tuple[int, Reckoned] | None = None
        self._tab, self._open = "pull", dict.fromkeys(SWITCHES, False) | {"menu": False}
        self._asked: dict[str, Any] = {"builds": [str(each) for each in builds], "day": str(day)}
        drawings = {**DRAWINGS, "charge": ChargeDiagram}
        super().__init__(
            {name: Picture(drawing()) for name, drawing in drawings.items()}, kept_beside(self.folder, NOTEBOOK)
        )
        self._bad_day = ""
        setting = self._as_kept() or self._as_asked()
        self._slots = {slot.key: slot for slot in setting.slots}
        self._chosen, self._day_name, self._system = setting.chosen, setting.day, SYSTEMS[setting.units]
        self._day: Day = files.found_day(self._day_name, self.folder)
        self._make_views()
        self.view = self._laid_out()
        self._refill()
        self._begin()

    def _as_asked(self) -> Setting:
        """What the panel was opened with."""
        builds = self._asked["builds"]
        found = [files.found_build(reference, self.folder) for reference in builds]
        apart = told_apart([build for build, *_ in found], builds)
        slots = tuple(
            Slot.of(next(self._keys), *each).with_texts(name=named.name)
            for each, named in zip(found, apart, strict=True)
        )
        files.found_day(self._asked["day"], self.folder)
        return Setting(slots, slots[0].key, self._asked["day"], "metric")

    def _as_kept(self) -> Setting | None:
        """What was kept of an earlier run that was opened with the same; None where there is nothing."""
        table, at = self.kept.read()
        if table.get("asked") != self._asked:
            return None
        try:
            setting, lost = restored(table, self.folder, [next(self._keys) for _ in range(MOST_CANDIDATES)])
            files.found_day(setting.day, self.folder)
            SYSTEMS[setting.units]
        except (InputProblem, KeyError, TypeError, ValueError):
            return None
        self._said_first = " ".join([f"Restored from {self.kept.path.name}, {at}.", *(f"{each}." for each in lost)])
        return setting

    # what a cell shows

    def _still_html(self) -> str:
        assert self._answer is not None
        verdicts = "".join(f"<p><b>{each.name}.</b> {each.sentence}</p>" for each in self._answer.comparison.verdicts)
        return verdicts + table_html(self._answer.comparison, self._system, colours=False) + self.findings.html

    def _still_image(self) -> bytes:
        """The pictures at a size of their own, whatever the window's."""
        assert self._answer is not None
        return as_file(still_picture(self._answer, self._system), "png")

    @property
    def comparison(self) -> Comparison | None:
        """The same object that :func:`ridesim.compare` gives for the candidates as they are shown."""
        self.wait()
        return self._answer.comparison if self._answer else None

    @property
    def builds(self) -> list[Build]:
        """The candidates' builds as they are shown."""
        self.wait()
        return [one.candidate.build for one in self._answer.each] if self._answer else []

    # layout

    def _make_views(self) -> None:
        self.lines = LinesView()
        self.lines.observe(lambda change: self._choose(change["new"]), names="chosen")
        self.lines.observe(lambda change: self._line_pressed(change["new"]), names="pressed")
        self.strip = StripView()
        slot, changed = self._slots[self._chosen], self._values_changed
        self.work = Controls(list(FIRST.values()), _of(FIRST.values(), slot), changed, group=slot.name, shape="work")
        self.more = Controls(list(MORE.values()), _of(MORE.values(), slot), changed, group=slot.name, shape="work")
        self.menu = Controls(
            self._menu_fields(),
            _of(self._menu_fields(), slot),
            changed,
            self._menu_pressed,
            group=slot.name,
            shape="menu",
        )
        self.steps = Controls(self._step_fields(), {}, lambda texts: None, self._step_pressed, shape="moved")
        self.files = Controls(
            self._file_fields(), {"day": self._day_name, "units": self._system.name, "open": ""}, self._desk_changed, self._desk_pressed,
            shape="drawer",
        )  # fmt: skip
        self.tabs = TabsView()
        self.tabs.observe(lambda change: self._tab_pressed(str(change["new"][0])), names="pressed")
        self.sure = WordsView(name="How sure", shape="ridesim-sure-of")
        self.table = WordsView(name="Outcome of the day", shape="ridesim-outcome")
        self.findings = WordsView(name="What to watch", shape="ridesim-watch")

    def _laid_out(self) -> ipywidgets.Widget:
        # What is shown and hidden stands in a box of its own: a view of ours does not follow a change of its classes.
        views = [
            self.menu.view,
            self.work.view,
            self.more.view,
            self.files.view,
            self.sure,
            *(each.view for each in self.pictures.values()),
        ]
        self._boxes = {view: ipywidgets.Box([view]) for view in views}
        for wide in (self.pictures["heat"].view, self.pictures["ledger"].view, self.sure):
            self._boxes[wide].add_class("ridesim-wide")
        shown = [self._boxes[self.pictures[name].view] for _, names in TABS.values() for name in names]
        parts = {
            "ridesim-changes": ipywidgets.Box([self.status.view, self.steps.view]),
            "ridesim-pair": ipywidgets.Box([*shown, self._boxes[self.sure]]),
            "ridesim-below": ipywidgets.Box([self.findings, self.table]),
        }
        for name, part in parts.items():
            part.add_class(name)
        changes, pair, below = parts.values()
        menu, work, more, drawer = (self._boxes[row.view] for row in (self.menu, self.work, self.more, self.files))
        desk = ipywidgets.VBox([self.lines, menu, self.strip, work, more, changes, pair, self.tabs, drawer, below])
        desk.add_class("ridesim-desk")
        return desk

    def _file_fields(self) -> list[Field]:
        days = list(dict.fromkeys([*files.days_in(self.folder), self._day_name]))
        return [
            Choice("day", "Day", tuple((name, Path(name).stem.replace("_", " ")) for name in days)),
            Choice("units", "Units", (("metric", "km/h, kg, °C"), ("imperial", "mph, lb, °F"))),
            Text("open", "Open a build", files.builds_in(self.folder), enter="add"),
            Press("add", "Add candidate", f"Load a build from {self.folder} or a shipped one, by name"),
            Press("png", "Picture PNG", f"Write the four pictures into {self.folder}"),
            Press("svg", "SVG", f"Write the four pictures as SVG into {self.folder}"),
            Press("csv", "Table CSV", f"Write the table into {self.folder}"),
            Press("sheet", "Build sheet", f"Write pages to print into {self.folder}"),
            Press("afresh", "Start afresh", f"Forget what was set here ({self.kept.path.name}); files of builds stay"),
        ]

    @staticmethod
    def _menu_fields() -> list[Field]:
        return [
            Text("name", "Name"),
            Text("file", "File"),
            Press("save", "Save to file", "Write this candidate's build"),
            Press("back", "Back to file", "All values as the file has them"),
            Press("copy", "Copy", "Another candidate with the same values"),
            Press("remove", "Remove", "Take this candidate off the panel; its file stays"),
        ]

    def _step_fields(self) -> list[Field]:
        back, forth = self._steps.can
        return [Press("undo", "Undo", "Ctrl+Z", off=not back), Press("redo", "Redo", "Ctrl+Y", off=not forth)]

    def _refill(self) -> None:
        """The chosen candidate's boxes, and what is open."""
        with self._lock:
            slot, place = self._slots[self._chosen], list(self._slots).index(self._chosen)
            origins = [each.origin for each in self._slots.values()]
            self.lines.chosen = place
            for row, fields in (
                (self.work, with_owned(FIRST, origins)),
                (self.more, with_owned(MORE, origins)),
                (self.menu, self._menu_fields()),
            ):
                row.set_fields(fields, slot.name, str(slot.key))
                row.put(_of(fields, slot))
            for other in range(1, MOST_CANDIDATES + 1):
                for row in (self.work, self.more):
                    box = self._boxes[row.view]
                    (box.add_class if other == place + 1 else box.remove_class)(f"ridesim-of-{other}")
            (self.view.add_class if len(self._slots) > 2 else self.view.remove_class)("ridesim-many")
            self.steps.set_fields(self._step_fields())
        self._open_up()
        self._judge()

    def _open_up(self) -> None:
        """Show what is open, hide what is not."""
        shown = {
            self.menu.view: self._open["menu"],
            self.more.view: self._open["more"],
            self.files.view: self._open["files"],
            self.sure: self._tab == "sure",
            **{picture.view: name in TABS[self._tab][1] for name, picture in self.pictures.items()},
        }
        for view, is_open in shown.items():
            box = self._boxes[view]
            (box.remove_class if is_open else box.add_class)("ridesim-hidden")
        self.tabs.tabs = [[key, label, key == self._tab] for key, (label, _) in TABS.items()]
        self.tabs.switches = [[key, label, self._open[key]] for key, label in SWITCHES.items()]

    # what the user does; these run on whichever thread the message comes in

    @property
    def _setting(self) -> Setting:
        return Setting(tuple(self._slots.values()), self._chosen, self._day_name, self._system.name)

    def _step(self, what: object) -> None:
        """Note the state before a change, see :class:`Steps`; call with the lock held."""
        self._said_first = ""
        if self._steps.note(self._setting, what):
            self._former = self._as_shown()
            self.steps.set_fields(self._step_fields())

    def _as_shown(self) -> tuple[int, Reckoned] | None:
        """The chosen candidate as it is shown."""
        place = list(self._slots).index(self._chosen)
        return (self._chosen, self._answer.each[place]) if self._answer and place < len(self._answer.each) else None

    def _put(self, setting: Setting) -> None:
        """Set everything as it was."""
        with self._lock:
            self._former = self._as_shown()
            self._slots = {slot.key: slot for slot in setting.slots}
            self._chosen = setting.chosen
            self._set_desk(setting.day, setting.units)
            self.files.put({"day": setting.day, "units": setting.units})
            self._refill()
        self._request()

    def _step_pressed(self, button: str) -> None:
        with self._lock:
            to = self._steps.back(self._setting) if button == "undo" else self._steps.forth(self._setting)
        if to is not None:
            self._put(to)

    def _choose(self, place: int) -> None:
        with self._lock:
            keys = list(self._slots)
            if not 0 <= place < len(keys) or keys[place] == self._chosen:
                return
            self._chosen = keys[place]
            self._refill()
        self._request()

    def _line_pressed(self, pressed: list[Any]) -> None:
        self._open["menu"] = not self._open["menu"]
        self._open_up()

    def _tab_pressed(self, key: str) -> None:
        if key in TABS:
            self._tab = key
        else:
            self._open[key] = not self._open[key]
            if key == "files":  # files may have been written meanwhile
                self.files.set_fields(self._file_fields())
        self._open_up()
        self._request()

    def _values_changed(self, texts: dict[str, str]) -> None:
        with self._lock:
            before = self._slots[self._chosen]
            now = before.with_texts(**texts)
            changed = sorted(key for key in texts if texts[key] != before.texts[key])
            if not changed:
                return
            self._step((self._chosen, changed))
            self._slots[self._chosen] = now
            if now.name != before.name:
                for row in (self.work, self.more, self.menu):
                    row.view.group = now.name
        if changed != ["file"]:  # another file name changes no number
            self._request()

    def _menu_pressed(self, button: str) -> None:
        acts = {"copy": self._copy, "remove": self._remove, "save": self._save, "back": self._back}
        self._guarded(lambda: acts[button](self._chosen))

    def _desk_changed(self, texts: dict[str, str]) -> None:
        with self._lock:
            if (texts["units"], texts["day"]) == (self._system.name, self._day_name):
                return
            if texts["day"] != self._day_name:
                self._step(None)
            self._set_desk(texts["day"], texts["units"])
        self._request()

    def _set_desk(self, day: str, units: str) -> None:
        if day != self._day_name:
            self._bad_day = ""
            try:
                self._day = files.found_day(day, self.folder)
            except InputProblem as problem:
                self._bad_day = str(problem)
        self._system, self._day_name = SYSTEMS[units], day

    def _desk_pressed(self, button: str) -> None:
        acts = {"add": self._add, "afresh": self._afresh}
        self._guarded(acts.get(button, lambda: self._write(button)))

    def _guarded(self, act: Callable[[], None]) -> None:
        """Do what a button asks, after the answer to what was changed just before, which has words of its own."""
        self._worker.wait(2.0)
        try:
            act()
        except InputProblem as problem:
            self.status.say(str(problem), "problem")
        except Exception as problem:
            self.status.say(f"Could not: {type(problem).__name__}: {problem}", "problem")

    def add(self, reference: str) -> None:
        """Add a candidate from a file in the user's folder, by path, or by a shipped name.

        Raises
        ------
        InputProblem
            As ``ridesim check`` says it, or four candidates already.
        """
        with self._lock:
            if not reference.strip():
                raise InputProblem("Open a build", "", "no name", f"a file in {self.folder} or a shipped name")
            self._room()
            slot = Slot.of(next(self._keys), *files.found_build(reference.strip(), self.folder))
            self._insert(
                slot
                if slot.name not in self._names()
                else slot.with_texts(name=files.free_name(slot.name, self._names()))
            )

    def _insert(self, slot: Slot) -> None:
        """One candidate more, which is worked on from now on."""
        self._step(None)
        self._slots[slot.key], self._chosen, self._former = slot, slot.key, None
        self._refill()
        self._request()

    def _add(self) -> None:
        self.add(self.files.texts["open"])
        self.files.put({"open": ""})

    def _names(self) -> list[str]:
        return [slot.name for slot in self._slots.values()]

    def _room(self) -> None:
        if len(self._slots) >= MOST_CANDIDATES:
            raise InputProblem(_NAME, "", "four already", f"{MOST_CANDIDATES} at most", "Remove one first.")

    def _copy(self, key: int) -> None:
        with self._lock:
            self._room()
            new, name = next(self._keys), files.free_name(self._slots[key].name, self._names())
            copy = self._slots[key].with_texts(name=name, file=files.file_name(name))
            self._insert(replace(copy, key=new, copied=True))

    def _remove(self, key: int) -> None:
        with self._lock:
            if len(self._slots) == 1:
                raise InputProblem(_NAME, "", "one left", "one at least", "Add another before you remove this one.")
            self._step(None)
            del self._slots[key]
            self._chosen = next(iter(self._slots))
            self._refill()
        self._request()

    def _back(self, key: int) -> None:
        with self._lock:
            self._step(None)
            slot = self._slots[key]
            self._slots[key] = slot.with_texts(
                **{**slot.in_file, "name": slot.name if slot.copied else slot.in_file["name"]}
            )
            self._refill()
        self._request()

    def _save(self, key: int) -> None:
        with self._lock:
            slot = self._slots[key]
            path = files.target_of(slot.texts["file"], self.folder)
            changes = files.would_change(slot.build, path)
            if changes and self._to_overwrite != (path, slot.build):
                self._to_overwrite = path, slot.build
                again = "Press “Save to file” again to write over it, or give another file name."
                self.status.say(
                    f"{path.name} is there already and would change: {'; '.join(changes)}. {again}", "problem"
                )
                return
            self._to_overwrite = None
            self._slots[key] = slot = files.save(slot, path)
            self._refill()
        self.files.set_fields(self._file_fields())
        self._request()
        self.wait()
        self.status.say(f"Saved {slot.name} as {path}.")

    def _afresh(self) -> None:
        """Everything as the panel was opened; what was set can still be undone."""
        with self._lock:
            self._step(None)
            setting = self._as_asked()
        self.kept.forget()
        self._put(setting)

    def _write(self, button: str) -> None:
        """Write what is shown as a file; nothing is written over."""
        self.wait()
        answer, system = self._answer, self._system
        if answer is None:
            raise InputProblem(button, "", "nothing to write yet", "a comparison first")
        stem, suffix = ("build_sheet", "html") if button == "sheet" else ("choose_drive", button)
        content: str | bytes
        with WORK:
            if button == "sheet":
                said, content = (
                    "Build sheet written: {}. Open it in a browser and print it.",
                    build_sheet(answer.comparison, system).page,
                )
            elif button == "csv":
                said, content = "Table written: {}", table_csv(answer.comparison, system)
            else:
                said, content = "Picture written: {}", as_file(still_picture(answer, system), button)
        self.status.say(said.format(write_new(self.folder, stem, suffix, content)))

    # answering

    def _wish(self) -> Wish:
        with self._lock:
            place = list(self._slots).index(self._chosen)
            former = self._former[1] if self._former and self._former[0] == self._chosen else None
            return Wish(tuple(self._slots.values()), self._day, place, former)

    def _work(self, wish: Wish) -> None:
        """Compute and show one wish; runs in the worker, lock held."""
        if self._bad_day:
            self._stale(self._bad_day)
            return
        try:
            answer = self._reckoner.answer(wish, quick=True)
        except InputProblem as problem:
            self._judge()
            self._stale(str(problem))
            return
        self._show(answer)
        self._judge()
        self.status.say(self._summary(answer, wish))

    def _finish(self, wish: Wish) -> Iterator[None]:
        """Ride the draws, which give the levels and widen the bands; then find where the sliders fail."""
        answer = self._answer
        if (
            self._bad_day
            or answer is None
            or [one.candidate.name for one in answer.each] != [slot.name for slot in wish.slots]
        ):
            return
        with suppress(InputProblem):  # said already
            for more in self._reckoner.completed(wish, answer):
                self._show(answer := more)
                yield
            fails: dict[str, list[tuple[int, int, str]]] = {}
            for key, spans in failing_stops(answer.one.candidate.build, wish.day):
                fails[key] = spans
                yield
            self.work.hatch(fails)
            if self._tab == "sure" and answer.comparison.verdicts[answer.chosen].remedies:
                self._show_sure(answer)

    def _show(self, answer: Answer) -> None:
        system = self._system
        for picture in self.pictures.values():
            picture.canvas.drawing.system = system
        # Words first: the page puts them up while the pictures are being drawn.
        lines, scale = verdict_lines([one.candidate for one in answer.each], system)
        with self.lines.hold_sync():
            self.lines.scale, self.lines.lines, self.lines.chosen = scale, lines, answer.chosen
        day = programme(answer)
        if day != self.strip.day:
            self.strip.day = day
        if self._tab == "sure":
            self._show_sure(answer)
        for name in TABS[self._tab][1]:
            self.pictures[name].show(answer)
        self.table.show(table_html(answer.comparison, system, everything=self._open["all"]))
        told = [each for each in answer.findings if self._open["all"] or each[1].severity != "advice"]
        notes = len(answer.findings) - len(told)
        self.findings.show(
            findings_html(answer.names, told, note=f"And {notes} notes: press “{SWITCHES['all']}”." if notes else "")
        )
        self._answer = answer

    def _show_sure(self, answer: Answer) -> None:
        candidates = [one.candidate for one in answer.each]
        self.sure.show(how_sure_html(candidates, answer.comparison.verdicts, answer.chosen, self._system))

    def _set(self) -> dict[str, Any]:
        with self._lock:
            changed = self._steps.can[0] or self.kept.path.exists()
            return as_table(self._setting, self._asked) if changed else {}

    def _judge(self) -> None:
        with self._lock:
            slot, names = self._slots[self._chosen], self._names()
        problems, marks = slot.problems(), slot.marks()
        if names.count(slot.name) > 1:
            problems["name"] = "two candidates have this name"
        if slot.unsaved:
            marks["file"] = "not saved yet"
        for row in (self.work, self.more, self.menu):
            row.judge(problems, marks)

    def _summary(self, answer: Answer, wish: Wish) -> str:
        """What moved; else the day, and what is not saved yet."""
        moved = what_moved(answer, self._system)
        if moved:
            return moved
        unsaved = [slot.name for slot in wish.slots if slot.unsaved]
        said = [
            self._said_first,
            f"{answer.day.name}, {answer.day.ambient_c:g} °C.",
            f"Not saved: {', '.join(unsaved)}." if unsaved else "",
        ]
        return " ".join(each for each in said if each)


def _of(fields: Iterable[Field], slot: Slot) -> dict[str, str]:
    """What stands in some fields for a candidate."""
    return {field.key: slot.texts[field.key] for field in fields if field.key in slot.texts}


def _folder_of(builds: Sequence[str | Path]) -> Path:
    shipped = data.shipped("data").resolve()
    for reference in builds:
        path = Path(reference)
        if path.is_file() and not path.resolve().is_relative_to(shipped):
            return path.resolve().parent
    return Path.cwd()
