"""The bench panel: type a spin test's measurements, see fit, residuals, bands and what the motor will do on the vehicle."""

from __future__ import annotations

import threading
from base64 import b64encode
from collections.abc import Mapping
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets

from ridesim import data
from ridesim.bench.spin_log import Meter, SpinLog, load_spin_log
from ridesim.build import Build, load_build, save_build
from ridesim.data import find
from ridesim.forms import write_beside_then_replace
from ridesim.show import bench_state as state
from ridesim.show.bench_state import BenchAnswer
from ridesim.show.bench_words import (
    advice_html,
    answer_html,
    cautions_html,
    motor_html,
    predictions_html,
    residuals_html,
)
from ridesim.show.diagrams.bench import DragDiagram, HeldDiagram, RoadDiagram, SpeedDiagram
from ridesim.show.panel.controls import Controls
from ridesim.show.panel.desk import Desk
from ridesim.show.panel.drawing import Canvas
from ridesim.show.panel.fields import Choice, Field, Press, Text
from ridesim.show.panel.newest import WORK
from ridesim.show.panel.picture import Picture
from ridesim.show.panel.words import WordsView
from ridesim.words import InputProblem

LABELS = {
    "voltage_v": "volts", "current_a": "amps", "speed_rpm": "turns/min", "chain": "chain on", "torque_nm": "brake, N·m",
}  # fmt: skip
TITLES = {
    "turned": "Shaft turned, leads open", "no_load": "Free spin", "locked": "Rotor held, lamp in series", "load": "Known brake",
}  # fmt: skip
_COUNTED = (("motor", "motor shaft"), ("sprocket", "motor sprocket"), ("wheel", "wheel"))
SPARE = {"turned": 1, "no_load": 5, "locked": 4, "load": 1}
"""Fewest rows shown of each kind; a log with more shows all of its own and one empty."""


class Still:
    """HTML with pictures inside that reads without a kernel."""

    def __init__(self, html: str) -> None:
        self._html = html

    def _repr_html_(self) -> str:
        return self._html


def bench_motor(log: str | Path = "heron_motor_bench", build: str | Path = "heron_36v") -> BenchMotor:
    """The bench panel.

    Parameters
    ----------
    log : str or Path
        A bench log, or a shipped one's name.
    build : str or Path
        The vehicle the motor is meant for.
    """
    return BenchMotor(log, build)


def still(log: str | Path = "heron_motor_bench", build: str | Path = "heron_36v") -> Still:
    """The same as a still page: pictures, sentences, tables.

    Raises
    ------
    InputProblem
        A log or build that is not good.
    """
    with WORK:
        return Still(still_html(state.answer(load_spin_log(log), load_build(build), str(log))))


def still_html(answer: BenchAnswer) -> str:
    """Pictures with their sentences, and the tables."""
    pictures = []
    for drawing in (SpeedDiagram(), RoadDiagram(), HeldDiagram(), DragDiagram()):
        png = Canvas(drawing).draw(answer, 620, 330, 1.5)
        alt, words = escape(drawing.alt(answer), quote=True), escape(drawing.sentence(answer))
        pictures.append(
            f'<figure style="display:inline-block;margin:4px;max-width:620px"><img alt="{alt}" width="620" '
            f'src="data:image/png;base64,{b64encode(png).decode()}"><figcaption>{words}</figcaption></figure>'
        )
    return "".join(pictures) + answer_html(answer)


class BenchMotor(Desk[int, BenchAnswer]):
    """Measurements in; fit, residuals, bands and the vehicle's speeds out.

    Parameters
    ----------
    log, build : str or Path
        What stands in the panel at first.
    folder : Path, optional
        Where logs and builds are looked for and saved; the current folder.

    Raises
    ------
    InputProblem
        A file that is not good.
    """

    def __init__(self, log: str | Path, build: str | Path, folder: Path | None = None) -> None:
        self.folder = folder or Path.cwd()
        self._lock = threading.RLock()
        self._build: Build = load_build(build)
        self._name, self._note, self._meter = str(log), "", Meter()
        first = load_spin_log(log)
        super().__init__({
            "speed": Picture(SpeedDiagram()), "road": Picture(RoadDiagram()), "held": Picture(HeldDiagram()), "drag": Picture(DragDiagram()),
        })  # fmt: skip
        self.words = {name: WordsView(name=name) for name in ("The motor", "On the vehicle", "Advice", "Residuals")}
        for view in self.words.values():
            view.add_class("ridesim-panel")
        self.desk = Controls(
            self._desk_fields(), {"build": str(build), "log": str(log), "save_as": "my_motor_bench.toml"}, self._typed, self._pressed,
            group="Bench", shape="desk-row",
        )  # fmt: skip
        self.setup = Controls(self._setup_fields(), {}, self._typed, group="How it was measured", shape="bench-row")
        self.rows: dict[str, list[Controls]] = {kind: [] for kind in state.KINDS}
        self._row_box = ipywidgets.HBox([])
        self._fill(first)
        self.view = self._laid_out()
        self._begin()

    @property
    def answer(self) -> BenchAnswer | None:
        """What the panel shows now."""
        self.wait()
        return self._answer

    def saved_copy(self) -> Still:
        """A still copy of what the panel shows now."""
        shown = self.answer
        with WORK:
            return Still(still_html(shown) if shown is not None else f"<p>{escape(self.status.text)}</p>")

    # layout

    def _desk_fields(self) -> list[Field]:
        logs = tuple(sorted(path.stem for path in (data.shipped("data") / "logs").glob("*bench*.toml")))
        return [
            Text("build", "Vehicle", tuple(data.names("builds"))),
            Text("log", "Bench log", logs),
            Press("open", "Open log", "Show the measurements of this log"),
            Text("save_as", "Save as"),
            Press("save", "Save log", f"Write the measurements into {self.folder}"),
            Press("put", "Save motor into vehicle", f"Write the vehicle with this motor into {self.folder}"),
        ]

    @staticmethod
    def _setup_fields() -> list[Field]:
        return [
            Choice("speed_measured_at", "Turns counted at", _COUNTED),
            Text("gearbox_ratio", "Gearbox ratio"), Text("motor_teeth", "Motor teeth"), Text("wheel_teeth", "Wheel teeth"),
            Text("room_c", "Room, °C"),
            Choice("magnet", "Magnets", (("ferrite", "ferrite (grey, usual)"), ("neodymium", "neodymium"))),
            Text("voltage_percent", "Volts ± %"), Text("current_percent", "Amps ± %"), Text("speed_percent", "Speed ± %"),
        ]  # fmt: skip

    @staticmethod
    def _row_fields(kind: str) -> list[Field]:
        return [
            Choice(column, LABELS[column], (("no", "no"), ("yes", "yes")))
            if column == "chain"
            else Text(column, LABELS[column])
            for column in state.COLUMNS[kind]
        ]

    def _fill(self, log: SpinLog) -> None:
        """Put a log into the boxes."""
        settings, rows = state.texts_of(log)
        self._note, self._meter = log.note, log.meter
        self.setup.put(settings)
        columns: tuple[list[Any], list[Any]] = [], []
        for kind in state.KINDS:
            for old in self.rows[kind]:
                old.view.close()
            count = max(SPARE[kind], len(rows[kind]) + (kind != "turned"))
            blank = {column: "no" if column == "chain" else "" for column in state.COLUMNS[kind]}
            texts = [*rows[kind], *[dict(blank) for _ in range(count - len(rows[kind]))]]
            self.rows[kind] = [
                Controls(self._row_fields(kind), each, self._typed, group=f"{TITLES[kind]} {number}", shape="bench-row")
                for number, each in enumerate(texts, start=1)
            ]
            column = columns[kind in ("locked", "load")]
            column.append(
                ipywidgets.HTML(f'<b style="line-height:18px">{escape(TITLES[kind])}</b>', layout={"height": "18px"})
            )
            column += [row.view for row in self.rows[kind]]
        half = ipywidgets.Layout(width="50%")
        self._row_box.children = tuple(ipywidgets.VBox(column, layout=half) for column in columns)

    def _laid_out(self) -> ipywidgets.Widget:
        pictures = [picture.view for picture in self.pictures.values()]
        for view in pictures:
            view.layout.width = "49%"
            view.layout.height = "360px"
        cautions = ipywidgets.HTML(cautions_html())
        grid = ipywidgets.Box(pictures, layout=ipywidgets.Layout(flex_flow="row wrap", gap="6px"))
        page = ipywidgets.VBox(
            [cautions, self.desk.view, self.setup.view, self._row_box, self.status.view, grid, *self.words.values()]
        )
        page.add_class("ridesim-desk")
        page.add_class("ridesim-bench")
        page.layout.height = "auto"  # a long page of entries, not a desk that fits the window
        return page

    # what the user does; on whichever thread the message comes

    def _typed(self, _texts: Mapping[str, str]) -> None:
        self._request()

    def _pressed(self, button: str) -> None:
        acts = {"open": self._open, "save": self._save, "put": self._put}
        try:
            acts[button]()
        except InputProblem as problem:
            self.status.say(str(problem), "problem")

    def _open(self) -> None:
        reference = self.desk.texts.get("log", "").strip()
        nearby = self.folder / reference
        log = load_spin_log(nearby if nearby.is_file() else reference)
        with self._lock:
            self._name = reference
            self._fill(log)
        self._request()

    def _save(self) -> None:
        log, _ = self._log()
        path = self.folder / self._file_name()
        write_beside_then_replace(path, state.log_text(log))
        self.status.say(f"Saved the measurements in {path.name}.")

    def _file_name(self) -> str:
        name = self.desk.texts.get("save_as", "").strip() or "my_motor_bench.toml"
        if Path(name).name != name:
            raise InputProblem("Save as", "", f"“{name}”", f"a plain file name, for {self.folder}")
        return name if name.endswith(".toml") else name + ".toml"

    def _put(self) -> None:
        shown = self.answer
        if shown is None:
            raise InputProblem("the motor", "", "no result yet", "measurements that give one")
        built = shown.build.model_copy(update={"motor": shown.result.motor(shown.build.motor)})
        path = self.folder / f"{self._stem()}_with_tested_motor.toml"
        if path.exists():
            raise InputProblem(
                path.name, "", "a file of that name", "a name that is free", "Move or rename the old one first."
            )
        save_build(built, path)
        self.status.say(f"Saved the vehicle with this motor in {path.name}.")

    def _stem(self) -> str:
        return Path(self.desk.texts.get("build", "vehicle")).stem

    def _log(self) -> tuple[SpinLog, dict[str, list[int]]]:
        rows = {kind: [row.texts for row in self.rows[kind]] for kind in state.KINDS}
        log, kept = state.log_of(self.setup.texts, rows, self._name)
        shown = {key: getattr(log.meter, key) for key in state.METER}
        meter = self._meter.model_copy(update=shown)  # what has no box stays as the log says
        return log.model_copy(update={"note": self._note, "meter": meter}), kept

    # computing and drawing, in the worker's thread

    def _wish(self) -> int:
        return 0  # the boxes are read when their turn comes

    def _work(self, _item: int) -> None:
        with self._lock:
            try:
                reference = self.desk.texts.get("build", "").strip()
                self._build = load_build(find(reference, "builds", beside=self.folder))
                log, _ = self._log()
                answer = state.answer(log, self._build, self._name)
            except InputProblem as problem:
                self._wrong(problem)
                return
        self._answer = answer
        self._judge({})
        for picture in self.pictures.values():
            picture.show(answer)
        for name, html in (
            ("The motor", motor_html(answer)), ("On the vehicle", predictions_html(answer)),
            ("Advice", advice_html(answer)), ("Residuals", residuals_html(answer)),
        ):  # fmt: skip
            self.words[name].show(html)
        self.status.say(answer.sentence)

    def _wrong(self, problem: InputProblem) -> None:
        """Say what is wrong, mark the row, keep the last good pictures (marked as old)."""
        self._judge({problem.place: str(problem)})
        self._stale(str(problem))

    def _judge(self, problems: Mapping[str, str]) -> None:
        for kind in state.KINDS:
            filled = [row for row in self.rows[kind] if any(v.strip() for k, v in row.texts.items() if k != "chain")]
            for row in self.rows[kind]:
                marks: dict[str, str] = {}
                if row in filled:
                    label = f"{kind}[{filled.index(row) + 1}]"
                    for place, text in problems.items():
                        if label in place:
                            column = place.rpartition(".")[2]
                            marks[column if column in state.COLUMNS[kind] else state.COLUMNS[kind][0]] = text
                row.judge(marks, {})
