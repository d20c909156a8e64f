"""The main panel: verdicts, the day, the chosen candidate's sliders, two pictures. No physics here."""

from __future__ import annotations

import json
import math
import os
import threading
from collections.abc import Iterator, Sequence
from dataclasses import replace
from html import escape
from itertools import count
from pathlib import Path
from typing import Any

from ridesim import data
from ridesim.choose import Comparison
from ridesim.day import Day
from ridesim.forms import write_new
from ridesim.ride.given import told_apart
from ridesim.show.choose_drive.fails import failing_stops
from ridesim.show.choose_drive.gears import Maps, as_fast_elsewhere, gears_svg, next_tooth, sentence
from ridesim.show.choose_drive.inputs import Answer, Reckoned, Reckoner, Slot, Wish
from ridesim.show.choose_drive.kept import Setting, as_table, restored
from ridesim.show.choose_drive.moved import what_moved
from ridesim.show.choose_drive.saved import DRAWINGS, as_file, still_picture
from ridesim.show.choose_drive.screen import GEARS_NOTE, TABS, Acts, Screen
from ridesim.show.invented import invented
from ridesim.show.panel import files
from ridesim.show.panel.desk import Desk
from ridesim.show.panel.keep import Steps, kept_beside
from ridesim.show.panel.newest import WORK
from ridesim.show.panel.picture import Picture
from ridesim.show.pictures.charge import ChargeDiagram
from ridesim.show.sheet import build_sheet
from ridesim.show.style import MOST_CANDIDATES
from ridesim.show.tables.outcome import table_csv, table_html
from ridesim.show.units import SYSTEMS
from ridesim.vehicle import Build, load_build
from ridesim.words import InputProblem

DEFAULT_BUILDS, DEFAULT_DAY = ("heron_36v", "heron_48v"), "harbour_festival"
NOTEBOOK = "3_choose_drive"
_NAME = "the candidates"
SOON_S = 2.0
"""A button does not wait longer than this for draws that are still being ridden."""


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

    def __init__(self, builds: Sequence[str | Path], day: str | Path, folder: Path | None = None) -> None:
        self.folder = folder or files.folder_of(builds)
        self._lock = threading.RLock()
        self._keys = count(1)
        self._reckoner = Reckoner()
        self._saver = files.Saver()
        self._steps: Steps[Setting] = Steps()
        self._former: tuple[int, Reckoned] | None = None
        self._hatched: tuple[int, Build, Day] | None = None
        self._maps = Maps()
        self._map_blocks: int | None = None
        self._answered: Wish | None = None
        self._bad_day = ""
        drawings = {**DRAWINGS, "charge": ChargeDiagram}
        super().__init__(
            {name: Picture(drawing()) for name, drawing in drawings.items()},
            kept_beside(self.folder, NOTEBOOK),
            {"builds": [str(each) for each in builds], "day": str(day)},
        )
        kept = self._as_kept()
        self._first_choice = kept is None
        setting = kept or self._as_asked()
        self._slots = {slot.key: slot for slot in setting.slots}
        self._chosen, self._day_name, self._system = setting.chosen, setting.day, SYSTEMS[setting.units]
        self._day: Day = files.day_of(self._day_name, self.folder)
        acts = Acts(
            self._choose, self._menu_opened, self._tab_pressed, self._values_changed, self._menu_pressed, self._step_pressed,
            self._desk_changed, self._pair_pressed, self._map_at, self._desk_pressed,
        )  # fmt: skip
        self.screen = Screen(self.pictures, self.status, acts)
        self.view = self.screen.view
        self._offer_files()
        self.screen.files.put({"day": self._day_name, "units": self._system.name})
        self._refill()
        self.screen.open_up()
        self._begin()

    def _as_asked(self) -> Setting:
        """What the panel was opened with."""
        builds = self._asked["builds"]
        self._said_first = " ".join(
            filter(None, (data.meant(reference, "builds", self.folder) for reference in builds))
        )
        found = [files.found_build(reference, self.folder) for reference in builds]
        apart = told_apart([build for build, *_ in found], builds)
        slots = tuple(
            Slot.of(next(self._keys), *each).with_texts(name=named.name)
            for each, named in zip(found, apart, strict=True)
        )
        files.day_of(self._asked["day"], self.folder)
        return Setting(slots, slots[0].key, self._asked["day"], "metric")

    def _as_kept(self) -> Setting | None:
        """What was kept of an earlier run that was opened with the same; None where there is nothing."""
        table = self._kept_before()
        if not table:
            return None
        try:
            setting, lost = restored(table, self.folder, [next(self._keys) for _ in range(MOST_CANDIDATES)])
            files.day_of(setting.day, self.folder)
            SYSTEMS[setting.units]
        except (InputProblem, KeyError, TypeError, ValueError) as problem:
            self._said_first = f"{self.kept.path.name} could not be restored ({problem})."
            return None
        self._said_first = " ".join([self._said_first, *(f"{each}." for each in lost)])
        return setting

    # what a cell shows

    def _still_html(self) -> str:
        assert self._answer is not None
        verdicts = "".join(
            f"<p><b>{escape(each.name)}.</b> {escape(self._system.said(each.sentence))}</p>"
            for each in self._answer.comparison.verdicts
        )
        return verdicts + table_html(self._answer.comparison, self._system, colours=False) + self.screen.findings.html

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

    # what the user does; these run on whichever thread the message comes in

    def _refill(self) -> None:
        """The chosen candidate's boxes."""
        with self._lock:
            self.screen.refill(self._slots, self._chosen, self._system)
            self.screen.offer_steps(*self._steps.can)
        self._judge()

    def _offer_files(self) -> None:
        self.screen.offer_files(self.folder, self.kept.path.name, self._day_name)

    @property
    def _setting(self) -> Setting:
        return Setting(tuple(self._slots.values()), self._chosen, self._day_name, self._system.name)

    def _step(self, what: object) -> None:
        """Note the state before a change, see :class:`Steps`; call with the lock held."""
        self._said_first, self._first_choice = "", False
        if self._steps.note(self._setting, what):
            self._former = self._as_shown()
            self.screen.offer_steps(*self._steps.can)

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
            self.screen.files.put({"day": setting.day, "units": setting.units})
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
            self._chosen, self._first_choice, self._map_blocks = keys[place], False, None
            self._refill()
        self._request()

    def _menu_opened(self) -> None:
        self.screen.is_open["menu"] = not self.screen.is_open["menu"]
        self._offer_files()  # files may have been written meanwhile
        self.screen.open_up()

    def _tab_pressed(self, key: str) -> None:
        if key in TABS:
            self.screen.tab = key
        else:
            self.screen.is_open[key] = not self.screen.is_open[key]
            if key == "files":  # files may have been written meanwhile
                self._offer_files()
        self.screen.open_up()
        self._request()

    def _values_changed(self, texts: dict[str, str]) -> None:
        with self._lock:
            before = self._slots[self._chosen]
            now = before.with_shown(texts, self._system)
            changed = sorted(key for key in texts if now.texts[key] != before.texts[key])
            if not changed:
                return
            self._step((self._chosen, changed))
            self._slots[self._chosen] = now
            if now.name != before.name:
                self.screen.rename(now.name)
        if changed != ["file"]:  # another file name changes no number
            self._request()

    def _pair_pressed(self, small: int, large: int) -> None:
        """A cell of the sprocket map, which may be that of another voltage."""
        blocks = {} if self._map_blocks is None else {"blocks": str(self._map_blocks)}
        self._map_blocks = None
        self._values_changed({"motor_teeth": str(small), "wheel_teeth": str(large), **blocks})
        self._refill()

    def _map_at(self, blocks: int) -> None:
        """The sprocket map with so many blocks in series."""
        self._map_blocks = blocks
        self._request()

    def _menu_pressed(self, button: str) -> None:
        acts = {"copy": self._copy, "remove": self._remove, "save": self._save, "back": self._back}
        self._guarded(self._add if button == "add" else lambda: acts[button](self._chosen), SOON_S)

    def _desk_changed(self, texts: dict[str, str]) -> None:
        with self._lock:
            if (texts["units"], texts["day"]) == (self._system.name, self._day_name):
                return
            if texts["day"] != self._day_name:
                self._step(None)
            self._set_desk(texts["day"], texts["units"])
            self._refill()
        self._request()

    def _set_desk(self, day: str, units: str) -> None:
        if day != self._day_name:
            self._bad_day = ""
            try:
                self._day = files.day_of(day, self.folder)
            except InputProblem as problem:
                self._bad_day = str(problem)
        self._system, self._day_name = SYSTEMS[units], day

    def _desk_pressed(self, button: str) -> None:
        self._guarded(self._afresh if button == "afresh" else lambda: self._write(button), SOON_S)

    def add(self, reference: str) -> None:
        """Add a candidate from a file in the user's folder, by path, or by a shipped name.

        Raises
        ------
        InputProblem
            As ``ridesim check`` says it, or four candidates already.
        """
        with self._lock:
            if not reference.strip():
                raise InputProblem("Another build", "", "no name", f"a file in {self.folder} or a shipped name")
            self._room()
            slot = Slot.of(next(self._keys), *files.found_build(reference.strip(), self.folder))
            taken = self._names()
            self._insert(slot.with_texts(name=files.free_name(slot.name, taken)) if slot.name in taken else slot)
            self._said_first = data.meant(reference.strip(), "builds", self.folder)

    def _insert(self, slot: Slot) -> None:
        """One candidate more, which is worked on from now on."""
        self._step(None)
        self._slots[slot.key], self._chosen, self._former = slot, slot.key, None
        self._refill()
        self._request()

    def _add(self) -> None:
        self.add(self.screen.another.texts["open"])
        self.screen.another.put({"open": ""})

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
            back = slot.with_texts(**slot.in_file)
            self._slots[key] = back.with_texts(name=slot.name) if slot.copied else back  # a copy has no name in a file
            self._refill()
        self._request()

    def _save(self, key: int) -> None:
        with self._lock:
            slot = self._slots[key]
            path = files.target_of(slot.texts["file"], self.folder)
            if said := self._saver.save(slot.build, path, "Save to file"):
                self.status.say(said, "problem")
                return
            self._slots[key] = slot = Slot.of(key, load_build(path), path.name, str(path))
            self._refill()
        self._offer_files()
        self._request()
        self.wait()
        self.status.say(f"Saved {slot.name} as {path}.")

    def _afresh(self) -> None:
        """Everything as the panel was opened; what was set can still be undone."""
        with self._lock:
            self._step(None)
            setting = self._as_asked()
        self._forget()
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
            answer = self._reckoner.answer(wish)
        except InputProblem as problem:
            self._judge()
            self._stale(self._system.said(str(problem)))
            return
        self._show(answer)
        self._answered = wish
        self._judge()
        self.status.say(self._summary(answer, wish))

    def _finish(self, wish: Wish) -> Iterator[None]:
        """Ride the draws, which give the levels and widen the bands; then find where the sliders fail."""
        answer = self._answer
        if answer is None or self._answered is not wish:  # it had none
            return
        for more in self._reckoner.completed(wish, answer):
            self._show(answer := more)
            yield
        if self._first_choice and self._choose_surest(answer):
            return
        hatched = self._chosen, answer.one.candidate.build, wish.day
        if hatched != self._hatched:
            fails = {}
            for key, spans in failing_stops(*hatched[1:]):
                fails[key] = spans
                yield
            self.screen.work.hatch(fails)
            self._hatched = hatched
        self.screen.show_remedies(answer, self._system)
        if self.screen.tab == "gears":
            yield
            self._show_gears(answer.one.candidate.build, wish.day)

    def _show_gears(self, build: Build, day: Day) -> None:
        """The sprocket map of the chosen candidate; with other sprockets it is the same map."""
        drive, own = build.drive, build.pack.blocks_in_series
        blocks, offered = self._map_blocks or own, range(max(1, own - 1), own + 3)
        found = self._maps.at(build, day, blocks, offered, self.folder)
        pair, volts = (drive.motor_teeth, drive.wheel_teeth), build.pack.nominal_voltage_v / own
        gears = self.screen.gears
        gears.others = [[str(each), f"{each * volts:g} V", each == blocks] for each in offered]
        said = (
            next_tooth(found, pair, self._system),
            as_fast_elsewhere(self._maps.known, (own, *pair), volts, self._system),
        )
        note = " ".join(filter(None, [*said, GEARS_NOTE]))
        gears.show(gears_svg(found, pair, self._system), f"{build.name}: {sentence(found)}", note)

    def _choose_surest(self, answer: Answer) -> bool:
        """Of three or four candidates that nobody has touched work on the surest; whether that is another one."""
        self._first_choice = False
        verdicts = answer.comparison.verdicts
        best = max(range(len(verdicts)), key=lambda i: (verdicts[i].chance, _to_spare(answer, i)))
        if len(verdicts) < 3 or best == answer.chosen:
            return False
        self._choose(best)
        return True

    def _show(self, answer: Answer) -> None:
        self.screen.show(answer, self._system)
        self._answer = answer

    def _set(self) -> dict[str, Any]:
        with self._lock:
            changed = self._steps.can[0] or self.kept.path.exists()
            return as_table(self._setting) if changed else {}

    def _judge(self) -> None:
        with self._lock:
            slot, names = self._slots[self._chosen], self._names()
        problems, marks = (
            {key: self._system.said(text) for key, text in texts.items()} for texts in (slot.problems(), slot.marks())
        )
        if names.count(slot.name) > 1:
            problems["name"] = "two candidates have this name"
        if slot.unsaved:
            marks["file"] = "not saved yet"
        self.screen.judge(problems, marks)

    def _summary(self, answer: Answer, wish: Wish) -> str:
        """What moved; else the day, and what is not saved yet."""
        moved = what_moved(answer, self._system)
        if moved:
            return moved
        unsaved = [slot.name for slot in wish.slots if slot.unsaved]
        builds = [slot.build for slot in wish.slots]
        said = [
            self._said_first,
            self._system.said(f"{answer.day.name}, {answer.day.ambient_c:g} °C{invented(answer.day, *builds)}."),
            f"Not saved: {', '.join(unsaved)}." if unsaved else "",
        ]
        return " ".join(each for each in said if each)


def _to_spare(answer: Answer, place: int) -> float:
    """Distance to spare; a day lost to something else has none. [km]"""
    spare = answer.each[place].candidate.spare_km
    return spare.value if spare else -math.inf
