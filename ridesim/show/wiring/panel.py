"""The panel for cable, protection and switches: a diagram, the circuit that is worked on, lists to wire and to buy from. No sums here."""

from __future__ import annotations

import base64
from collections.abc import Callable, Mapping
from dataclasses import replace
from html import escape
from pathlib import Path
from typing import Any, ClassVar

import ipywidgets

from ridesim.show.panel.controls import Controls
from ridesim.show.panel.fields import Choice, Number, Press, Text, in_units, text_meant, text_of, text_shown
from ridesim.show.panel.files import builds_in, days_in
from ridesim.show.panel.keep import Steps
from ridesim.show.panel.messages import WordsView
from ridesim.show.panel.screen import DiagramView
from ridesim.show.panel.tabbed import TabbedDesk
from ridesim.show.units import System
from ridesim.show.wiring.inputs import (
    FIRST_TEXTS,
    NUMBERS,
    OPEN,
    PROPOSED,
    WHICH,
    WiringAnswer,
    WiringWish,
    answer,
    circuit_fields,
    circuit_values,
    switch_fields,
    switch_text,
    typed_value,
)
from ridesim.show.wiring.tables import (
    cautions_html,
    chosen_html,
    lights_html,
    opens_html,
    parts_html,
    schedule_html,
    watch_html,
)
from ridesim.show.wiring.warmth import warm_html
from ridesim.show.wiring_diagram import wiring_diagram
from ridesim.sizing.circuit import Circuit
from ridesim.words import InputProblem

NOTEBOOK = "6_wire_and_protect"
TABS: dict[str, tuple[str, Callable[[WiringAnswer, System], str]]] = {
    "schedule": ("schedule", schedule_html), "opens": ("what opens when", opens_html), "warm": ("how warm", warm_html),
    "switches": ("switches", lambda _a, _s: ""),
    "lights": ("lights", lights_html), "parts": ("what to buy", parts_html),
    "cautions": ("cautions", lambda found, system: cautions_html(found.wiring, system)),
}  # fmt: skip
SAVE = "Save wiring into build"
Changes = tuple[dict[str, dict[str, Any]], dict[str, str]]


def wire_and_protect(**texts: str) -> WireAndProtect:
    """The panel with its invented default build and day, or with other texts in its boxes.

    Returns
    -------
    WireAndProtect
        Shows itself as the last expression of a cell.
    """
    return WireAndProtect({**FIRST_TEXTS, **texts})


class WireAndProtect(TabbedDesk[WiringWish, WiringAnswer]):
    """Boxes in; verdict, diagram, lists out.

    Parameters
    ----------
    texts : mapping of str to str
        What stands in the boxes at first, by key.
    folder : Path, optional
        Where builds and days are looked for before the shipped ones, and where is saved; the current folder.
    """

    notebook, save_label = NOTEBOOK, SAVE
    tab_labels: ClassVar = {key: label for key, (label, _) in TABS.items()}

    def __init__(self, texts: Mapping[str, str], folder: Path | None = None) -> None:
        super().__init__({}, texts, folder, "my_wiring.toml")
        kept = self._before
        self.changes: Changes = (
            {name: dict(each) for name, each in kept.get("circuits", {}).items()},
            {key: str(each) for key, each in kept.get("switches", {}).items()},
        )
        self.chosen = ""
        self._steps: Steps[Changes] = Steps()
        self.diagram = DiagramView(name="One-line diagram")
        self.verdict, self.words = WordsView(name="Verdict", shape="ridesim-answer"), WordsView(name="Figures")
        self.line = WordsView(name="The chosen circuit")
        self.watch = WordsView(name="What to watch", shape="ridesim-watch")
        self.which = Controls([], {}, self._typed, shape="wiring-which")
        self.steps = Controls([], {}, self._circuit_chosen, self._step_pressed, shape="wiring-steps")
        self.circuit = Controls([], {}, self._placed, shape="wiring-circuit")
        self.switches = Controls([], {}, self._switched, shape="wiring-switches")
        self.diagram.observe(lambda change: self._line_pressed(int(change["new"][0])), names="pressed")
        self.view = self._laid_out()
        self._show_first()

    # layout

    def _laid_out(self) -> ipywidgets.Widget:
        self._list = ipywidgets.Box([self.switches.view])
        rows = [
            self.verdict, self.which.view, self.diagram, self.steps.view, self.circuit.view, self.line, self.status.view, self.tabs, self._list,
            self.words, self.drawer, self.watch,
        ]  # fmt: skip
        desk = ipywidgets.VBox(rows)
        desk.add_class("ridesim-desk")
        desk.add_class("ridesim-wiring")
        return desk

    def _offer(self) -> None:
        """The builds and days that there are now."""
        options = {"build": builds_in(self.folder), "day": days_in(self.folder)}
        self.which.set_fields([replace(f, options=options[f.key]) if isinstance(f, Text) else f for f in WHICH])
        self.which.put(self.texts)
        self.files.set_fields([
            Text("file", "File", enter="save"),
            Press("save", SAVE, f"Write the build, with every circuit as it stands here, into {self.folder}"),
            Press("svg", "Picture SVG", f"Write the diagram into {self.folder}"),
            Press("schedule", "Schedule CSV", f"Write the wiring schedule into {self.folder}"),
            Press("parts", "Parts CSV", f"Write what to buy into {self.folder}"),
            Press("afresh", "Start afresh", "Everything as the file has it"),
        ])  # fmt: skip

    def _in_tabs(self) -> Mapping[ipywidgets.Widget, str]:
        return {self._list: "switches"}

    def _worked_on(self) -> Circuit | None:
        """The circuit that is worked on, at first the main one."""
        return None if self._answer is None else self._answer.named(self.chosen)

    def _shown(self, circuit: Circuit, changed: Mapping[str, Any] | None = None) -> dict[str, str]:
        """What stands in the boxes of a circuit, in the units that are shown; also what was typed and refused."""
        settled = {key: value for key, value in (changed or {}).items() if value != OPEN}
        values = {**circuit_values(circuit), **settled}
        texts = {key: value if isinstance(value, str) else text_of(value) for key, value in values.items()}
        for key, field in NUMBERS.items():
            texts[key] = text_shown(texts[key], field, self._system)
        return texts

    def _refill(self) -> None:
        """The boxes of the circuit that is worked on, of the switches, and what was changed."""
        circuit, system, found = self._worked_on(), self._system, self._answer
        if circuit is None or found is None:
            return
        name, (back, forth) = circuit.demand.name, self._steps.can
        names = tuple((each.demand.name, each.demand.name) for each in found.wiring.sized)
        self.steps.set_fields([
            Choice("circuit", "Circuit", names),
            Press("propose", "Back to proposal", "Cable and protection of this circuit as they are proposed", not self._can_propose(circuit)),
            Press("undo", "Undo", "Ctrl+Z", not back, "z"), Press("redo", "Redo", "Ctrl+Y", not forth, "y"),
        ])  # fmt: skip
        self.steps.put({"circuit": name})
        fields = circuit_fields(circuit)
        self.circuit.set_fields([in_units(f, system) if isinstance(f, Number) else f for f in fields], whose=name)
        was, typed = self._shown(found.before.sized[found.wiring.sized.index(circuit)]), self.changes[0].get(name, {})
        # A slider on its way is ahead of this answer: the boxes show what was typed last.
        self.circuit.put(
            {key: text for key, text in self._shown(circuit, typed).items() if key in {f.key for f in fields}}
        )
        self.circuit.judge({}, {key: f"before: {was[key] or 'none'}" for key in typed if key in was})
        self.switches.set_fields(switch_fields())
        self.switches.put({f.key: switch_text(getattr(found.described, f.key)) for f in switch_fields()})
        self.which.put({"duty_known": "yes" if found.described.duty_known else "no"})

    def _can_propose(self, circuit: Circuit) -> bool:
        """Whether something of the circuit is settled that could be proposed."""
        assert self._answer is not None
        stated = next((each for each in self._answer.described.circuit if each.name == circuit.demand.name), None)
        changed = self.changes[0].get(circuit.demand.name, {})
        return bool(changed) or (stated is not None and (stated.copper_mm2, stated.rating_a) != (None, None))

    # what the user does; on whichever thread the message comes

    def _set(self) -> dict[str, Any]:
        if self.texts == self._asked and not any(self.changes):
            return {}
        return {"texts": self.texts, "circuits": self.changes[0], "switches": self.changes[1]}

    def put(self, **texts: str) -> None:
        """Put other text in boxes and answer it, as if it had been typed."""
        self._typed(texts)
        self._offer()

    def _typed(self, texts: Mapping[str, str]) -> None:
        new = {**self.texts, **{key: text for key, text in texts.items() if key in self.texts}}
        if new["build"] != self.texts["build"]:
            self.changes, self.chosen, self._steps = ({}, {}), "", Steps()
        elif self._answer is not None and texts.get("duty_known", OPEN) not in (
            OPEN,
            "yes" if self._answer.described.duty_known else "no",
        ):
            self._change(self.changes[0], {**self.changes[1], "duty_known": texts["duty_known"]}, "duty_known")
        self.texts, self._said_first = new, ""
        self._request()

    def _placed(self, texts: Mapping[str, str]) -> None:
        """What was typed of the circuit that is worked on."""
        circuit = self._worked_on()
        if circuit is None:
            return
        name = circuit.demand.name
        shown = self._shown(circuit, self.changes[0].get(name))
        try:
            typed = {
                key: typed_value(key, text_meant(text, NUMBERS[key], self._system) if key in NUMBERS else text, name)
                for key, text in texts.items() if key in shown and text != shown[key] and self.circuit.touched(key)
            }  # fmt: skip
        except InputProblem as problem:
            self.circuit.judge({f.key: str(problem) for f in NUMBERS.values() if f.label == problem.place}, {})
            self.status.say(str(problem), "problem")
            return
        if typed:
            if "protection" in typed:  # another kind is sold in other ratings
                typed["rating_a"] = OPEN
            circuits, switches = self.changes
            self._change({**circuits, name: {**circuits.get(name, {}), **typed}}, switches, (name, *typed))
        self._request()  # also where the former text is back after one that meant nothing

    def _switched(self, texts: Mapping[str, str]) -> None:
        if self._answer is None:
            return
        described = self._answer.described
        changed = {key: text for key, text in texts.items() if text != switch_text(getattr(described, key))}
        if changed:
            self._change(self.changes[0], {**self.changes[1], **changed}, tuple(changed))
            self._request()

    def _change(self, circuits: dict[str, dict[str, Any]], switches: dict[str, str], what: object) -> None:
        self._steps.note(self.changes, what)
        self.changes, self._said_first = (circuits, switches), ""

    def _step_pressed(self, button: str) -> None:
        circuit = self._worked_on()
        if button == "propose" and circuit is not None and self._answer is not None:
            name, (circuits, switches) = circuit.demand.name, self.changes
            left = {key: value for key, value in circuits.items() if key != name}
            if any(each.name == name for each in self._answer.before.needs.wiring.circuit):
                left[name] = {**circuits.get(name, {}), **dict.fromkeys(PROPOSED, OPEN)}
            self._change(left, switches, None)
        elif button in ("undo", "redo"):
            to = self._steps.back(self.changes) if button == "undo" else self._steps.forth(self.changes)
            self.changes = self.changes if to is None else to
        self._request()

    def _line_pressed(self, place: int) -> None:
        if self._answer is not None and 0 <= place < len(self._answer.wiring.sized):
            self._choose(self._answer.wiring.sized[place].demand.name)

    def _circuit_chosen(self, texts: Mapping[str, str]) -> None:
        circuit = self._worked_on()
        if circuit is not None and texts["circuit"] != circuit.demand.name:
            self._choose(texts["circuit"])

    def _choose(self, name: str) -> None:
        self.chosen = name
        self._request()

    def _acts(self) -> Mapping[str, Callable[[], None]]:
        return {
            "save": self._save, "svg": self._write_picture, "schedule": lambda: self._write_list("schedule"),
            "parts": lambda: self._write_list("parts"), "afresh": self._start_afresh,
        }  # fmt: skip

    def _start_afresh(self) -> None:
        self.changes, self.chosen, self._steps = ({}, {}), "", Steps()
        super()._start_afresh()

    def _save(self) -> None:
        build = self._answered(SAVE).wiring.taken_over()
        self._save_build(build, "Saved the build with this wiring in {}; its cables count in its rides from now on.")

    def _write_picture(self) -> None:
        self._write("Picture", "svg", wiring_diagram(self._answered("Picture SVG").wiring, self._system))

    def _write_list(self, which: str) -> None:
        what = which.capitalize()
        self._write(
            what, "csv", getattr(self._answered(f"{what} CSV").wiring, which).to_csv(index=False), f"wiring_{which}"
        )

    # answering

    def _wish(self) -> WiringWish:
        return WiringWish(dict(self.texts), *self.changes, self.chosen)

    def _work(self, wish: WiringWish) -> None:
        """Compute and show; runs in the worker, lock held."""
        try:
            found = answer(wish, self.folder)
        except InputProblem as problem:
            self._judge(problem)
            self._stale(str(problem))
            return
        self._judge(None)
        self._answer = found
        circuit, system = found.circuit, self._system
        self.verdict.show(f"<p>{escape(system.said(found.wiring.verdict))}</p>")
        self.diagram.svg = wiring_diagram(found.wiring, system)
        self.diagram.chosen = found.wiring.sized.index(circuit)
        self._refill()
        self.line.show(chosen_html(circuit, system))
        self.words.show(TABS[self.tab][1](found, system))
        self.watch.show(watch_html(found, system))
        self.status.say(f"{self._first()}{self._held(found)} {found.wiring.cautions[0].text}")

    def _held(self, found: WiringAnswer) -> str:
        """Whose currents count."""
        ride = found.wiring.ride
        return f"{found.build.name}, {'the controller’s limits alone' if ride is None else ride.day.name}."

    def _judge(self, problem: InputProblem | None) -> None:
        """Mark the box that a refusal is about."""
        said = {} if problem is None else {key: str(problem) for key in NUMBERS if problem.place.endswith(f".{key}")}
        self.circuit.judge(said, {})
        loads = problem is not None and not said and not any(self.changes)
        day = self.texts["day"].strip()
        where = "day" if problem is not None and day and day in problem.file else "build"
        self.which.judge({where: str(problem)} if loads else {}, {})

    def _still_html(self) -> str:
        assert self._answer is not None
        found, system = self._answer, self._system
        tables = "".join(html(found, system) for _, html in TABS.values())
        picture = base64.b64encode(wiring_diagram(found.wiring, system).encode()).decode()
        shown = f'<img style="max-width: 100%" alt="One-line diagram: {escape(found.wiring.verdict)}" src="data:image/svg+xml;base64,{picture}">'
        return f"<p>{escape(system.said(found.wiring.verdict))}</p>{shown}{tables}{watch_html(found, system)}"
