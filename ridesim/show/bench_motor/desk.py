"""What the bench panels share: measurements typed in rows, a log opened and saved, a motor saved into a build; the still page."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import partial
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets

from ridesim import data
from ridesim.bench.logs import load_log
from ridesim.bench.motor.identify import identify_motor
from ridesim.bench.motor.log import MotorLog
from ridesim.data import find
from ridesim.forms import write_beside_then_replace
from ridesim.show.bench_motor.boxes import GEARING, filled
from ridesim.show.bench_motor.inputs import Answer, answer
from ridesim.show.bench_motor.plan import BenchPlan, Still
from ridesim.show.bench_motor.tables import TABLES, cautions_html, next_html
from ridesim.show.bench_motor.titles import LABELS, SETTING_LABELS, TESTED, Titles
from ridesim.show.panel.controls import Controls
from ridesim.show.panel.desk import Desk
from ridesim.show.panel.fields import Choice, Field, Press, Text
from ridesim.show.panel.files import Saver, builds_in
from ridesim.show.panel.keep import kept_beside
from ridesim.show.panel.messages import WordsView
from ridesim.show.panel.picture import Picture
from ridesim.show.units import SYSTEMS, UNITS, System
from ridesim.vehicle import Build, load_build
from ridesim.words import InputProblem

NOTEBOOK = "2_bench_test_motor"
INVENTED = " These readings are invented: clear them and type your own."
_TESTED, _TESTED_FILE, _REST = ", tested motor", "_with_tested_motor", "; the rest: "
_COUNTED = (("motor", "motor shaft"), ("sprocket", "motor sprocket"), ("wheel", "wheel"))
_CHOICES = {"speed_measured_at": _COUNTED, "magnet": (("ferrite", "ferrite (grey, usual)"), ("neodymium", "neodymium"))}
SETTINGS: dict[str, Field] = {
    key: Choice(key, label, _CHOICES[key]) if key in _CHOICES else Text(key, label)
    for key, label in SETTING_LABELS.items()
}
"""What can be asked about how it was measured; a panel shows those that its log has, in this order."""
ROW_FIELDS: dict[str, Field] = {key: Text(key, label) for key, label in LABELS.items()}
ROW_FIELDS["chain"] = Choice("chain", LABELS["chain"], (("no", "no"), ("yes", "yes")))


class BenchDesk(Desk[int, Answer]):
    """Measurements in; fit, residuals, bands and what the vehicle does out.

    Parameters
    ----------
    plan : BenchPlan
    log, build : str or Path
        What stands in the panel at first.
    folder : Path, optional
        Where logs and builds are looked for and saved; the current folder.

    Raises
    ------
    InputProblem
        A file that is not good.
    """

    def __init__(self, plan: BenchPlan, log: str | Path, build: str | Path, folder: Path | None = None) -> None:
        self.plan = plan
        self.folder = folder or Path.cwd()
        self._lock = threading.RLock()
        self._build: Build = load_build(build)
        self._saver = Saver()
        self._shown_titles = Titles(plan.titles)
        self._last: tuple[str, int, str] | None = None
        found = self._found(str(log))
        first = plan.load(found)
        self._name = self._called(found)
        pictures = {name: Picture(made()) for name, made in plan.drawings.items()}
        super().__init__(
            pictures,
            kept_beside(self.folder, NOTEBOOK, f".{plan.style.removeprefix('ridesim-')}"),
            {"build": str(build), "log": str(log), "units": "metric"},
        )
        self.words = {name: WordsView(name=name) for name, _ in TABLES}
        self.next = WordsView(name="Measure next")
        for view in (*self.words.values(), self.next):
            view.add_class("ridesim-panel")
        self.desk = Controls(
            self._desk_fields(), {**self._asked, "save_as": plan.save_as}, self._typed, self._pressed,
            group=plan.name, shape="desk-row",
        )  # fmt: skip
        keys = (*plan.boxes.settings, *GEARING, *plan.boxes.meter)
        asked = [field for key, field in SETTINGS.items() if key in keys]
        group = f"How it was measured, {plan.name}"
        self.setup = Controls(asked, {}, self._typed, group=group, shape="bench-row")
        self.rows: dict[str, list[Controls]] = {kind: [] for kind in plan.boxes.columns}
        self._row_box = ipywidgets.HBox([])
        self._reference = str(log)
        self._fill(first)
        self._at_first = self._texts()
        self.view = self._laid_out()
        self._restore()
        self._begin()

    def _texts(self) -> dict[str, Any]:
        """What stands in all boxes."""
        rows = {kind: [row.texts for row in rows] for kind, rows in self.rows.items()}
        return {"opened": self._reference, "desk": self.desk.texts, "setup": self.setup.texts, "rows": rows}

    def _set(self) -> dict[str, Any]:
        with self._lock:
            texts = self._texts()
        return texts if texts != self._at_first else {}

    def _restore(self) -> None:
        """Put back what was kept."""
        table = self._kept_before()
        if not table:
            return
        try:
            self._reference = str(table["opened"])
            self._name = self._called(self._found(self._reference))
            self._fill(self.plan.load(self._found(self._reference)))
            self.desk.put({key: str(text) for key, text in table["desk"].items()})
            self.setup.put({key: str(text) for key, text in table["setup"].items()})
            for kind, rows in table["rows"].items():
                for row, texts in zip(self.rows[kind], rows, strict=False):
                    row.put({key: str(text) for key, text in texts.items()})
        except (InputProblem, KeyError, TypeError, AttributeError) as problem:
            self._said_first = f"{self.kept.path.name} could not be restored whole ({problem})."

    def _clear(self) -> None:
        """Empty all rows, for readings of one's own."""
        for kind, rows in self.rows.items():
            for row in rows:
                row.put(self.plan.boxes.blank(kind))
        self._request()

    def _afresh(self) -> None:
        """Everything as the panel was opened."""
        self._forget()
        self._reference = self._asked["log"]
        self.desk.put({**self._asked, "save_as": self.plan.save_as})
        self._open()

    @property
    def answer(self) -> Answer | None:
        """What the panel shows now."""
        self.wait()
        return self._answer

    def saved_copy(self) -> Still:
        """A still copy of what the panel shows now."""
        shown = self.answer
        if shown is None:
            return Still(f"<p>{escape(self.status.text)}</p>")
        old = f"<p><b>Old: shows the last values that worked.</b> {escape(self.status.text)}</p>" if self._old else ""
        return Still(old + self.plan.still_html(shown, self._shown_titles, self._system))

    @property
    def _old(self) -> bool:
        """Whether what is typed now gives no answer."""
        return any(picture.view.old for picture in self.pictures.values())

    @property
    def _system(self) -> System:
        return SYSTEMS.get(self.desk.texts["units"], SYSTEMS["metric"])

    # layout

    def _desk_fields(self) -> list[Field]:
        logs = sorted(path.stem for path in (data.shipped("data") / "logs").glob(self.plan.logs))
        own = sorted(path.name for path in self.folder.glob(self.plan.logs))
        return [
            Text("build", "Build", builds_in(self.folder)),
            Text("log", "Bench log", (*own, *logs), enter="open"),
            Press("open", "Open log", "Show the measurements of this log"),
            Press("clear", "Clear all rows", "Empty rows for your own readings"),
            Text("save_as", "Save as"),
            Press("save", "Save log", f"Write the measurements into {self.folder}"),
            Press("put", "Save motor into build", f"Write the build with this motor into {self.folder}"),
            Choice("units", "Units", UNITS),
            Press("afresh", "Start afresh", "Everything as the panel was opened"),
        ]

    def _fill(self, log: MotorLog) -> None:
        """Put a log into the boxes."""
        settings, rows = self.plan.boxes.texts_of(log)
        self._opened = log
        self._given: dict[str, dict[Any, Any]] = {
            kind: {frozenset(texts.items()): row for texts, row in zip(rows[kind], getattr(log, kind), strict=True)}
            for kind in self.plan.boxes.columns
        }
        self.setup.put(settings)
        columns: tuple[list[Any], list[Any]] = [], []
        for kind, title in self.plan.titles.items():
            for old in self.rows[kind]:
                old.view.close()
            count = max(self.plan.spare[kind], len(rows[kind]) + (kind != "turned"))
            texts = [*rows[kind], *[self.plan.boxes.blank(kind) for _ in range(count - len(rows[kind]))]]
            fields = [ROW_FIELDS[column] for column in self.plan.boxes.columns[kind]]
            self.rows[kind] = [
                Controls(
                    fields,
                    each,
                    partial(self._row_typed, kind, number - 1),
                    group=f"{title} {number}",
                    shape="bench-row",
                )
                for number, each in enumerate(texts, start=1)
            ]
            column = columns[kind in self.plan.right]
            column.append(
                ipywidgets.HTML(f'<b style="line-height:18px">{escape(title)}</b>', layout={"height": "18px"})
            )
            column += [row.view for row in self.rows[kind]]
        columns[1].append(self.next)
        self._before = {kind: [row.texts for row in rows] for kind, rows in self.rows.items()}
        self._last = None
        widths = (self.plan.left_width, f"calc(100% - {self.plan.left_width})")
        self._row_box.children = tuple(
            ipywidgets.VBox(column, layout=ipywidgets.Layout(width=width))
            for column, width in zip(columns, widths, strict=True)
        )

    def _laid_out(self) -> ipywidgets.Widget:
        pictures = [picture.view for picture in self.pictures.values()]
        for view in pictures:
            view.layout.width = "49%"
            view.layout.height = "360px"
        cautions = ipywidgets.HTML(cautions_html(self.plan.cautions))
        grid = ipywidgets.Box(pictures, layout=ipywidgets.Layout(flex_flow="row wrap", gap="6px"))
        page = ipywidgets.VBox(
            [cautions, self.status.view, self.desk.view, self.setup.view, self._row_box, grid, *self.words.values()]
        )
        for name in ("ridesim-desk", "ridesim-bench", self.plan.style):
            page.add_class(name)
        page.layout.height = "auto"  # a long page of entries, not a desk that fits the window
        return page

    # what the user does; on whichever thread the message comes

    def _typed(self, _texts: Mapping[str, str]) -> None:
        self._said_first = ""
        self._request()

    def _row_typed(self, kind: str, place: int, texts: Mapping[str, str]) -> None:
        """Remember the box that was typed last: of two readings that contradict each other it is the likelier slip."""
        before = self._before[kind][place]
        changed = [column for column in texts if texts[column] != before.get(column)]
        self._last = (kind, place, changed[0]) if len(changed) == 1 else None
        self._before[kind][place] = dict(texts)
        self._typed(texts)

    def _pressed(self, button: str) -> None:
        acts = {"open": self._open, "save": self._save, "put": self._put, "clear": self._clear, "afresh": self._afresh}
        self._said_first = ""
        self._guarded(acts[button])

    def _open(self) -> None:
        reference = self.desk.texts.get("log", "").strip()
        if not reference:
            raise InputProblem(
                "Bench log", "", "nothing", f"a file in {self.folder}, a path, or the name of a shipped bench log"
            )
        found = self._found(reference)
        log = self.plan.load(found)
        with self._lock:
            self._name, self._reference = self._called(found), reference
            self._fill(log)
        self._request()

    def _found(self, reference: str) -> Path:
        """The log of that name in the user's folder, with or without its ending; else as it is, which may be a shipped name."""
        nearby = (self.folder / reference, self.folder / f"{reference}.toml")
        return next((path for path in nearby if path.is_file()), Path(reference))

    def _called(self, log: Path) -> str:
        """What messages call a log: short where it lies in the user's folder."""
        return str(log.relative_to(self.folder) if log.is_relative_to(self.folder) else log)

    def _save(self) -> None:
        try:
            log = self._log()
        except InputProblem as problem:
            raise self._titles().problem(problem) from None
        path = self.folder / self._file_name()
        if path.exists():
            there = load_log(path, MotorLog)  # only a log is written over: the message says what stands there instead
            changes = [] if there in (log, self._opened) else ["its measurements"]
            if said := self._saver.first_asks(path, log, changes, "Save log"):
                self.status.say(said, "problem")
                return
        write_beside_then_replace(path, self.plan.boxes.log_text(log))
        self._name, self._opened = path.name, log  # what stands in the panel is this file now
        self.desk.set_fields(self._desk_fields())
        self.status.say(f"Saved the measurements in {path.name}.")

    def _file_name(self) -> str:
        name = self.desk.texts.get("save_as", "").strip() or self.plan.save_as
        if Path(name).name != name:
            raise InputProblem("Save as", "", f"“{name}”", f"a plain file name, for {self.folder}")
        return name if name.endswith(".toml") else name + ".toml"

    def _put(self) -> None:
        """Write the build with this motor; over another file only when the same button is pressed again."""
        shown, stem = self.answer, Path(self.desk.texts["build"]).stem.removesuffix(_TESTED_FILE)
        if shown is None or self._old:
            raise InputProblem(
                "the motor", "", "nothing that fits what is typed now", "measurements that give one", "Mend the marked row first."
            )  # fmt: skip
        built = self._with_motor(shown)
        path = self.folder / f"{stem}{_TESTED_FILE}.toml"
        if said := self._saver.save(built, path, "Save motor into build"):
            self.status.say(said, "problem")
            return
        self.desk.set_fields(self._desk_fields())
        self.status.say(
            f"Saved the build with this motor in {path.name}. To compare with it: 3_choose_drive, “day, files, units”, open “{path.name}”."
        )

    def _with_motor(self, shown: Answer) -> Build:
        """The build with this motor, named and noted as such: a comparison tells the two apart."""
        build = shown.build
        changed = "" if shown.log == self._opened else ", changed on the panel"
        rest = build.note.rpartition(_REST)[2]  # a build that had a tested motor already: what it said of the rest
        note = f"{TESTED}: bench log {Path(self._name).name}{changed}" + (f"{_REST}{rest}" if rest else "")
        name = build.name if build.name.endswith(_TESTED) else build.name + _TESTED
        return build.changed({"motor": shown.result.motor(build.motor), "note": note}, name=name)

    def _log(self) -> MotorLog:
        boxes = self.plan.boxes
        rows = {kind: [row.texts for row in self.rows[kind]] for kind in boxes.columns}
        log = boxes.log_of(self.setup.texts, rows, self._name)
        # What has no box stays as the opened log says: the meters' common factors, the end of a hold, counted turns.
        typed = {key: getattr(log.meter, key) for key in boxes.meter}
        opened = self._opened
        kept: dict[str, Any] = {
            "name": opened.name,
            "note": opened.note,
            "meter": opened.meter.model_copy(update=typed),
        }
        for kind, given in self._given.items():
            texts = [row for row in rows[kind] if filled(row)]
            kept[kind] = tuple(
                given.get(frozenset(text.items()), row) for text, row in zip(texts, getattr(log, kind), strict=True)
            )
        return log.model_copy(update=kept)

    # computing and drawing, in the worker's thread

    def _wish(self) -> int:
        return 0  # the boxes are read when their turn comes

    def _work(self, _item: int) -> None:
        with self._lock:
            try:
                reference = self.desk.texts.get("build", "").strip()
                if not reference:
                    raise InputProblem("Build", "", "nothing", "a path, or the name of a shipped build")
                self._build = load_build(find(reference, "builds", beside=self.folder))
                shown = answer(self._log(), self._build, self._name)
            except InputProblem as problem:
                self._wrong(self._slip(problem))
                return
            self._shown_titles = self._titles()
        self._answer = shown
        self._judge()
        system = self._system
        for picture in self.pictures.values():
            picture.canvas.drawing.system = system
            picture.show(shown)
        for name, html in TABLES:
            self.words[name].show(self._shown_titles.say(html(shown, system)))
        self.next.show(self._shown_titles.say(next_html(shown)))
        invented = INVENTED if "invented" in shown.log.note and shown.log == self._opened else ""
        self.status.say(f"{self._first()}{shown.said(system)}{invented}")

    def _slip(self, problem: InputProblem) -> InputProblem:
        """A refusal, or where ten times or a tenth of what was typed last fits the other rows, that slip of the decimal point."""
        if self._last is None:
            return problem
        kind, place, column = self._last
        texts = {each: [row.texts for row in rows] for each, rows in self.rows.items()}
        with suppress(ValueError, InputProblem):
            typed = float(texts[kind][place][column].replace(",", "."))
            for factor, times in ((0.1, "ten times"), (10.0, "a tenth of")):
                texts[kind][place] = {**texts[kind][place], column: f"{factor * typed:g}"}
                with suppress(InputProblem):
                    identify_motor(self.plan.boxes.log_of(self.setup.texts, texts, self._name), self._name)
                    number = sum(filled(row) for row in texts[kind][: place + 1])
                    return InputProblem(
                        self._name, f"{kind}[{number}].{column}", f"{typed:g}, {times} what fits the other rows",
                        f"about {factor * typed:g}", f"Has the decimal point slipped? Else: {problem.found}.",
                    )  # fmt: skip
        return problem

    def _wrong(self, problem: InputProblem) -> None:
        """Say what is wrong, name what else is, mark the rows, keep the last good pictures (marked as old)."""
        first, *others = [self._titles().problem(each) for each in problem.every]
        self._judge([(each.place, str(titled)) for each, titled in zip(problem.every, (first, *others), strict=True)])
        also = f" Also wrong: {'; '.join(each.place for each in others)}." if others else ""
        self._stale(f"{first}{also}")

    def _titles(self) -> Titles:
        """The rows' titles as they are filled now."""
        numbers = {
            kind: [number for number, row in enumerate(rows, start=1) if filled(row.texts)]
            for kind, rows in self.rows.items()
        }
        return Titles(self.plan.titles, numbers)

    def _judge(self, faults: Sequence[tuple[str, str]] = ()) -> None:
        """Mark the boxes that the places of faults name, with what is said of them; all others are good."""
        for kind, columns in self.plan.boxes.columns.items():
            full = [row for row in self.rows[kind] if filled(row.texts)]
            for row in self.rows[kind]:
                at = f"{kind}[{full.index(row) + 1}]" if row in full else "none"
                marks = {place.rpartition(".")[2]: said for place, said in faults if at in place}
                row.judge({key if key in columns else columns[0]: said for key, said in marks.items()}, {})
