"""The main panel: up to four candidates on one day, side by side, following every slider. No physics here."""

from __future__ import annotations

import json
import os
import threading
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import ipywidgets

from ridesim import data
from ridesim.choose import Comparison
from ridesim.day import Day
from ridesim.forms import write_beside_then_replace
from ridesim.show.choose_drive import files
from ridesim.show.choose_drive.inputs import VALUES, Answer, Reckoner, Slot, Wish, check_day
from ridesim.show.choose_drive.saved import SavedCopy, as_file, still_picture
from ridesim.show.panel.controls import Controls
from ridesim.show.panel.desk import Desk
from ridesim.show.panel.fields import Choice, Field, Press, Text
from ridesim.show.panel.messages import WordsView
from ridesim.show.panel.newest import WORK
from ridesim.show.panel.picture import Picture, show_all
from ridesim.show.pictures.charge import ChargeDiagram
from ridesim.show.pictures.heat import HeatDiagram
from ridesim.show.pictures.ledger import LedgerBars
from ridesim.show.pictures.pull import PullDiagram
from ridesim.show.pictures.style import MOST_CANDIDATES
from ridesim.show.sheet import build_sheet
from ridesim.show.tables.findings_html import findings_html
from ridesim.show.tables.outcome import table_csv, table_html
from ridesim.show.units import SYSTEMS, System
from ridesim.vehicle import Build
from ridesim.words import InputProblem

DEFAULT_BUILDS, DEFAULT_DAY = ("heron_36v", "heron_48v"), "harbour_festival"
_NAME = "the candidates"


def choose_drive() -> ChooseDrive:
    """The main panel with what ``ridesim open`` asked for, else the two Herons on the festival day.

    Returns
    -------
    ChooseDrive
        Shows itself as the last expression of a cell.
    """
    builds = json.loads(os.environ.get("RIDESIM_BUILDS", "null")) or DEFAULT_BUILDS
    return ChooseDrive(builds[:MOST_CANDIDATES], os.environ.get("RIDESIM_DAY") or DEFAULT_DAY)


class _Refused(Exception):
    """Something that needs the user's word first; says what."""


class ChooseDrive(Desk[Wish, Answer]):
    """Candidates, day and units in; pictures, table, findings out.

    Parameters
    ----------
    builds : sequence of str or Path
        One to four build files or shipped names.
    day : str or Path
        A day file or a shipped name.
    folder : Path, optional
        The user's folder, where builds are looked for and saved; the folder of the first build that is not a shipped one, else the
        current folder.

    Raises
    ------
    InputProblem
        A file that is not a good build or day.
    """

    def __init__(self, builds: Sequence[str | Path], day: str | Path, folder: Path | None = None) -> None:
        self.folder = folder or _folder_of(builds)
        self._lock = threading.RLock()
        self._next_key = 0
        self._reckoner = Reckoner()
        self._to_overwrite: tuple[int, str, dict[str, str]] | None = None
        self._system: System = SYSTEMS["metric"]
        self._slots: list[Slot] = []
        for reference in builds:
            build, file = files.found_build(str(reference), self.folder)
            self._slots.append(self._slot(build, file))
        self._day_name = str(day)
        self._day: Day = files.found_day(str(day), self.folder)
        super().__init__({
            "pull": Picture(PullDiagram()), "charge": Picture(ChargeDiagram()), "heat": Picture(HeatDiagram()), "ledger": Picture(LedgerBars()),
        })  # fmt: skip
        self.table = WordsView(name="Outcome of the day", shape="ridesim-outcome")
        self.findings = WordsView(name="What to watch", shape="ridesim-watch")
        self.desk_controls = Controls(
            self._desk_fields(), {"day": self._day_name, "units": "metric", "open": ""}, self._desk_changed, self._desk_pressed,
            group="", shape="desk-row",
        )  # fmt: skip
        self._row_of: dict[int, Controls] = {}
        self._saved = SavedCopy()
        self.view = self._laid_out()
        self._refill_rows()
        self._begin()

    # what a cell shows

    def saved_copy(self) -> None:
        """Show a still copy, kept up to date with the panel, that reads without a kernel."""
        self.wait()
        with WORK:
            self._saved.show(self._answer, self.pictures, self._system, self.status.text)

    @property
    def rows(self) -> list[Controls]:
        """One row of controls a candidate."""
        return list(self._row_of.values())

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

    def _laid_out(self) -> ipywidgets.Widget:
        self._row_box = ipywidgets.VBox([])
        for words in (self.table, self.findings):
            words.add_class("ridesim-panel")
        pictures = self.pictures
        words = ipywidgets.VBox([self.table, self.findings])
        grid = ipywidgets.Box([*(picture.view for picture in pictures.values()), words])
        self._grid = grid
        for child, place in zip(grid.children, (*pictures, "words"), strict=True):
            child.add_class(f"ridesim-at-{place}")
        grid.add_class("ridesim-grid")
        desk = ipywidgets.VBox([self.desk_controls.view, self._row_box, self.status.view, grid])
        desk.add_class("ridesim-desk")
        return desk

    def _desk_fields(self) -> list[Field]:
        days = list(dict.fromkeys([*files.days_in(self.folder), self._day_name]))
        return [
            Choice("day", "Day", tuple((name, Path(name).stem.replace("_", " ")) for name in days)),
            Choice("units", "Units", (("metric", "km/h, kg, °C"), ("imperial", "mph, lb, °F"))),
            Text("open", "Build file", files.builds_in(self.folder)),
            Press("add", "Add candidate", f"Load a build from {self.folder} or a shipped one, by name"),
            Press("png", "Picture PNG", f"Write the four pictures into {self.folder}"),
            Press("svg", "SVG", f"Write the four pictures as SVG into {self.folder}"),
            Press("csv", "Table CSV", f"Write the table into {self.folder}"),
            Press("sheet", "Build sheet", f"Write pages to print into {self.folder}"),
        ]

    @staticmethod
    def _row_fields(place: int) -> list[Field]:
        return [
            Text("name", "Name", hide_label=True, swatch=place + 1),
            Text("file", "file"),
            *VALUES.values(),
            Press("copy", "Copy", "Another candidate with the same values"),
            Press("remove", "Remove", "Take this candidate off the panel; its file stays"),
            Press("save", "Save to file", "Write this candidate's build file"),
        ]

    def _refill_rows(self) -> None:
        """One row of controls a candidate; rows that stay are kept."""
        with self._lock:
            before, self._row_of = self._row_of, {}
            for place, slot in enumerate(self._slots):
                row = before.pop(slot.key, None)
                if row is None:
                    row = self._new_row(slot, place)
                else:
                    row.set_fields(self._row_fields(place), slot.name)
                self._row_of[slot.key] = row
            self._row_box.children = tuple(row.view for row in self.rows)
            for count in range(1, MOST_CANDIDATES + 1):
                (self._grid.add_class if count == len(self.rows) else self._grid.remove_class)(f"ridesim-of-{count}")
        for row in before.values():
            row.view.close()
        self._judge()

    def _new_row(self, slot: Slot, place: int) -> Controls:
        key = slot.key
        return Controls(
            self._row_fields(place), {**slot.texts, "name": slot.name, "file": slot.file},
            lambda texts: self._row_changed(key, texts), lambda button: self._row_pressed(key, button),
            group=slot.name, shape="candidate",
        )  # fmt: skip

    def _slot(self, build: Build, file: str) -> Slot:
        self._next_key += 1
        return Slot.of(self._next_key, build, file)

    # what the user does; these run on whichever thread the message comes in

    def _row_changed(self, key: int, texts: dict[str, str]) -> None:
        with self._lock:
            place = self._place(key)
            if place is None:
                return
            before = self._slots[place]
            values = {control.key: texts.get(control.key, "") for control in VALUES.values()}
            now = replace(before, name=texts.get("name", ""), file=texts.get("file", ""), texts=values)
            self._slots[place] = now
            if now.name != before.name:
                self._row_of[key].view.group = now.name
        if (now.texts, now.name) != (before.texts, before.name):  # another file name changes no number
            self._request()

    def _row_pressed(self, key: int, button: str) -> None:
        acts = {"copy": self._copy, "remove": self._remove, "save": self._save}
        self._guarded(lambda: acts[button](key))

    def _desk_changed(self, texts: dict[str, str]) -> None:
        with self._lock:
            system = SYSTEMS.get(texts.get("units", ""), self._system)
            name = texts.get("day", self._day_name)
            if system is self._system and name == self._day_name:
                return
            self._system = system
            if name != self._day_name:
                try:
                    day = files.found_day(name, self.folder)
                    check_day(day)
                except InputProblem as problem:
                    self._bad_day, self._day_name = str(problem), name
                else:
                    self._bad_day, self._day, self._day_name = "", day, name
        self._request()

    def _desk_pressed(self, button: str) -> None:
        self._guarded(self._add if button == "add" else lambda: self._write(button))

    def _guarded(self, act: Any) -> None:
        """Do what a button asks; what goes wrong is said, and the last good picture stays."""
        try:
            act()
        except (InputProblem, _Refused) as problem:
            self._complain(str(problem))
        except Exception as problem:
            self._complain(f"Could not: {type(problem).__name__}: {problem}")

    def _complain(self, text: str) -> None:
        """Say what a button could not do, after the answer to what was changed just before, which has words of its own."""
        self._worker.wait(2.0)
        self.status.say(text, "problem")

    def _place(self, key: int) -> int | None:
        return next((place for place, slot in enumerate(self._slots) if slot.key == key), None)

    def add(self, reference: str) -> None:
        """Add a candidate from a file in the user's folder, by path, or by a shipped name.

        Raises
        ------
        InputProblem
            As ``ridesim check`` says it, or four candidates already.
        """
        with self._lock:
            if not reference.strip():
                raise InputProblem("Build file", "", "no name", "a file in " + str(self.folder) + " or a shipped name")
            self._room()
            build, file = files.found_build(reference.strip(), self.folder)
            slot = self._slot(build, file)
            taken = [each.name for each in self._slots]
            if build.name in taken:
                slot = replace(slot, name=files.free_name(build.name, taken))
            self._slots.append(slot)
            self._refill_rows()
        self._request()

    def _add(self) -> None:
        self.add(self.desk_controls.texts.get("open", ""))
        self.desk_controls.put({"open": ""})

    def _room(self) -> None:
        if len(self._slots) >= MOST_CANDIDATES:
            raise InputProblem(_NAME, "", "four already", f"{MOST_CANDIDATES} at most", "Remove one first.")

    def _copy(self, key: int) -> None:
        with self._lock:
            self._room()
            place = self._place(key)
            if place is None:
                return
            old = self._slots[place]
            name = files.free_name(old.name, [slot.name for slot in self._slots])
            self._next_key += 1
            self._slots.append(replace(old, key=self._next_key, name=name, file=files.file_name(name), copied=True))
            self._refill_rows()
        self._request()

    def _remove(self, key: int) -> None:
        with self._lock:
            if len(self._slots) == 1:
                raise InputProblem(_NAME, "", "one left", "one at least", "Add another before you remove this one.")
            self._slots = [slot for slot in self._slots if slot.key != key]
            self._refill_rows()
        self._request()

    def _save(self, key: int) -> None:
        with self._lock:
            place = self._place(key)
            if place is None:
                return
            slot = self._slots[place]
            path = files.target_of(slot.file, self.folder)
            asked = (key, str(path), {**slot.texts, "name": slot.name})
            changes = files.would_change(slot.build, path)
            if changes and self._to_overwrite != asked:
                self._to_overwrite = asked
                raise _Refused(
                    f"{path.name} is there already and would change: {'; '.join(changes)}. Press “Save to file” again to write over it, "
                    "or give another file name."
                )
            self._to_overwrite = None
            self._slots[place] = slot = files.save(slot, path)
            self._row_of[key].put({"name": slot.name, "file": slot.file, **slot.texts})
        self._judge()
        self.desk_controls.set_fields(self._desk_fields())
        self._news = f"Saved {slot.name} as {path}."
        self._request()

    def _write(self, button: str) -> None:
        """Write what is shown as a file; nothing is written over."""
        self.wait()
        answer = self._answer
        if answer is None:
            raise InputProblem(button, "", "nothing to write yet", "a comparison first")
        with WORK:
            if button == "sheet":
                path = build_sheet(answer.comparison, self._system).save(
                    files.free_path(self.folder, "build_sheet", "html")
                )
                self.status.say(f"Build sheet written: {path}. Open it in a browser and print it.")
                return
            path = files.free_path(self.folder, "choose_drive", button)
            if button == "csv":
                write_beside_then_replace(path, table_csv(answer.comparison, self._system))
            else:
                path.write_bytes(as_file(still_picture(answer, self._system), button))
        self.status.say(f"{'Table' if button == 'csv' else 'Picture'} written: {path}")

    # answering

    _news = ""
    _bad_day = ""

    def _wish(self) -> Wish:
        with self._lock:
            return Wish(tuple(self._slots), self._day)

    def _work(self, wish: Wish) -> None:
        """Compute and show one wish; runs in the worker, lock held."""
        try:
            if self._bad_day:
                self._stale(self._bad_day)
                return
            answer = self._reckoner.answer(wish, quick=True)
        except InputProblem as problem:
            self._judge()
            self._stale(str(problem))
            return
        self._show(answer, self.pictures.values())
        self._judge()
        news, self._news = self._news, ""
        self.status.say(news or _summary(answer, wish))

    def _finish(self, wish: Wish) -> None:
        """Ask the other capacity laws, which only widen the bands."""
        if not self._bad_day and self._answer is not None and not self._answer.banded:
            with suppress(InputProblem):  # said already
                self._show(self._reckoner.answer(wish), [self.pictures["charge"]])

    def _show(self, answer: Answer, pictures: Iterable[Picture]) -> None:
        system = self._system
        for picture in self.pictures.values():
            drawing = picture.canvas.drawing
            if hasattr(drawing, "system"):
                drawing.system = system
        # Words first: the page puts them up while the pictures are being drawn.
        self.table.show(table_html(answer.comparison, system))
        self.findings.show(findings_html(answer))
        show_all(pictures, answer)
        self._answer = answer

    def _settled(self) -> None:
        with suppress(Exception):  # a closed front end must not stop the panel
            self._saved.update(self._answer, self.pictures, self._system, self.status.text)

    def _judge(self) -> None:
        with self._lock:
            slots = list(self._slots)
            rows = dict(self._row_of)
        names = [slot.name.strip() for slot in slots]
        for slot in slots:
            problems = slot.problems()
            if names.count(slot.name.strip()) > 1:
                problems["name"] = "two candidates have this name"
            marks = slot.marks()
            if slot.unsaved:
                marks["file"] = "not saved yet"
            rows[slot.key].judge(problems, marks)

    def close(self) -> None:
        """End the worker and take the views down."""
        super().close()
        for row in self._row_box.children:
            row.close()


def _folder_of(builds: Sequence[str | Path]) -> Path:
    shipped = data.shipped("data").resolve()
    for reference in builds:
        path = Path(reference)
        if path.is_file() and not path.resolve().is_relative_to(shipped):
            return path.resolve().parent
    return Path.cwd()


def _summary(answer: Answer, wish: Wish) -> str:
    unsaved = [slot.name for slot in wish.slots if slot.unsaved]
    stops = sum(f.severity == "stop" for one in answer.each for f in one.candidate.findings)
    text = f"{answer.day.name}, {answer.day.ambient_c:g} °C: {len(answer.each)} candidates compared"
    if stops:
        text += f", {stops} finding{'s' if stops > 1 else ''} marked STOP"
    return text + (f". Not saved: {', '.join(unsaved)}." if unsaved else ".")
