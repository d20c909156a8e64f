"""The main panel: up to four candidates on one day, side by side, following every slider. No physics here."""

from __future__ import annotations

import json
import os
import threading
from collections.abc import Iterable, Sequence
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
from ridesim.show.choose_drive.inputs import VALUES, Answer, Reckoner, Slot, Wish
from ridesim.show.choose_drive.saved import DRAWINGS, as_file, still_picture
from ridesim.show.panel.controls import Controls
from ridesim.show.panel.desk import Desk
from ridesim.show.panel.fields import Choice, Field, Press, Text
from ridesim.show.panel.messages import WordsView
from ridesim.show.panel.newest import WORK
from ridesim.show.panel.picture import Picture
from ridesim.show.pictures.style import MOST_CANDIDATES
from ridesim.show.sheet import build_sheet
from ridesim.show.tables.html import findings_html
from ridesim.show.tables.outcome import table_csv, table_html
from ridesim.show.units import SYSTEMS
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


class ChooseDrive(Desk[Wish, Answer]):
    """Candidates, day and units in; pictures, table, findings out.

    Parameters
    ----------
    builds : sequence of str or Path
        One to four builds or shipped names.
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
        self._keys = count(1)
        self._reckoner = Reckoner()
        self._to_overwrite: tuple[Path, Build] | None = None
        self._system, self._day_name, self._bad_day = SYSTEMS["metric"], str(day), ""
        self._slots: dict[int, Slot] = {}
        found = [files.found_build(str(reference), self.folder) for reference in builds]
        apart = told_apart([build for build, _ in found], builds)
        for (build, file), named in zip(found, apart, strict=True):
            key = next(self._keys)
            self._slots[key] = Slot.of(key, build, file).with_texts(name=named.name)
        self._day: Day = files.found_day(str(day), self.folder)
        super().__init__({name: Picture(drawing()) for name, drawing in DRAWINGS.items()})
        self.table = WordsView(name="Outcome of the day", shape="ridesim-outcome")
        self.findings = WordsView(name="What to watch", shape="ridesim-watch")
        self.desk_controls = Controls(
            self._desk_fields(), {"day": self._day_name, "units": "metric", "open": ""}, self._desk_changed, self._desk_pressed,
            group="", shape="desk-row",
        )  # fmt: skip
        self._row_of: dict[int, Controls] = {}
        self.view = self._laid_out()
        self._refill_rows()
        self._begin()

    # what a cell shows

    def _still_html(self) -> str:
        assert self._answer is not None
        return table_html(self._answer.comparison, self._system, colours=False) + self.findings.html

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
        words = ipywidgets.VBox([self.table, self.findings])
        children = {**{name: picture.view for name, picture in self.pictures.items()}, "words": words}
        for place, child in children.items():
            child.add_class(f"ridesim-at-{place}")
        grid = self._grid = ipywidgets.Box(list(children.values()))
        grid.add_class("ridesim-grid")
        desk = ipywidgets.VBox([self.desk_controls.view, self._row_box, self.status.view, grid])
        desk.add_class("ridesim-desk")
        return desk

    def _desk_fields(self) -> list[Field]:
        days = list(dict.fromkeys([*files.days_in(self.folder), self._day_name]))
        return [
            Choice("day", "Day", tuple((name, Path(name).stem.replace("_", " ")) for name in days)),
            Choice("units", "Units", (("metric", "km/h, kg, °C"), ("imperial", "mph, lb, °F"))),
            Text("open", "Open a build", files.builds_in(self.folder)),
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
            Press("save", "Save to file", "Write this candidate's build"),
        ]

    def _refill_rows(self) -> None:
        """One row of controls a candidate; rows that stay are kept."""
        with self._lock:
            before, self._row_of = self._row_of, {}
            for place, (key, slot) in enumerate(self._slots.items()):
                row = self._row_of[key] = before.pop(key) if key in before else self._new_row(slot, place)
                row.set_fields(self._row_fields(place), slot.name)
            self._row_box.children = tuple(row.view for row in self.rows)
            for most in range(1, MOST_CANDIDATES + 1):
                (self._grid.add_class if most == len(self.rows) else self._grid.remove_class)(f"ridesim-of-{most}")
        for row in before.values():
            row.view.close()
        self._judge()

    def _new_row(self, slot: Slot, place: int) -> Controls:
        key = slot.key
        return Controls(
            self._row_fields(place), slot.texts,
            lambda texts: self._row_changed(key, texts), lambda button: self._row_pressed(key, button),
            group=slot.name, shape="candidate",
        )  # fmt: skip

    # what the user does; these run on whichever thread the message comes in

    def _row_changed(self, key: int, texts: dict[str, str]) -> None:
        with self._lock:
            before = self._slots.get(key)
            if before is None:  # removed while the message was on its way
                return
            now = self._slots[key] = before.with_texts(**texts)
            if now.name != before.name:
                self._row_of[key].view.group = now.name
        if now != before.with_texts(file=now.texts["file"]):  # another file name changes no number
            self._request()

    def _row_pressed(self, key: int, button: str) -> None:
        acts = {"copy": self._copy, "remove": self._remove, "save": self._save}
        if key in self._slots:  # else removed while the message was on its way
            self._guarded(lambda: acts[button](key))

    def _desk_changed(self, texts: dict[str, str]) -> None:
        with self._lock:
            system, name = SYSTEMS[texts["units"]], texts["day"]
            if (system, name) == (self._system, self._day_name):
                return
            if name != self._day_name:
                self._bad_day = ""
                try:
                    self._day = files.found_day(name, self.folder)
                except InputProblem as problem:
                    self._bad_day = str(problem)
            self._system, self._day_name = system, name
        self._request()

    def _desk_pressed(self, button: str) -> None:
        self._guarded(self._add if button == "add" else lambda: self._write(button))

    def _guarded(self, act: Any) -> None:
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
            key = next(self._keys)
            slot = Slot.of(key, *files.found_build(reference.strip(), self.folder))
            taken = self._names()
            self._slots[key] = slot.with_texts(name=files.free_name(slot.name, taken)) if slot.name in taken else slot
            self._refill_rows()
        self._request()

    def _add(self) -> None:
        self.add(self.desk_controls.texts["open"])
        self.desk_controls.put({"open": ""})

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
            self._slots[new] = replace(copy, key=new, copied=True)
            self._refill_rows()
        self._request()

    def _remove(self, key: int) -> None:
        with self._lock:
            if len(self._slots) == 1:
                raise InputProblem(_NAME, "", "one left", "one at least", "Add another before you remove this one.")
            del self._slots[key]
            self._refill_rows()
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
            self._row_of[key].put(slot.texts)
        self.desk_controls.set_fields(self._desk_fields())
        self._request()
        self.wait()
        self.status.say(f"Saved {slot.name} as {path}.")

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
            return Wish(tuple(self._slots.values()), self._day)

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
        self._show(answer, self.pictures.values())
        self._judge()
        self.status.say(_summary(answer, wish))

    def _finish(self, wish: Wish) -> None:
        """Ride the draws, which only widen the bands."""
        if not self._bad_day and self._answer is not None and not self._answer.banded:
            with suppress(InputProblem):  # said already
                self._show(self._reckoner.answer(wish), [self.pictures["charge"]])

    def _show(self, answer: Answer, pictures: Iterable[Picture]) -> None:
        system = self._system
        for picture in self.pictures.values():
            picture.canvas.drawing.system = system
        # Words first: the page puts them up while the pictures are being drawn.
        self.table.show(table_html(answer.comparison, system))
        self.findings.show(findings_html(answer.names, answer.findings))
        for picture in pictures:
            picture.show(answer)
        self._answer = answer

    def _judge(self) -> None:
        with self._lock:
            slots, rows, names = list(self._slots.values()), dict(self._row_of), self._names()
        for slot in slots:
            problems = slot.problems()
            if names.count(slot.name) > 1:
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
