"""The panel for cable, protection and switches: a diagram, the circuit that is worked on, lists to wire and to buy from. No sums here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape
from pathlib import Path
from typing import Any, ClassVar

from ridesim.show.panel.controls import Controls
from ridesim.show.panel.fields import Choice, Number, Press, in_units, text_meant, text_of, text_shown, undo_and_redo
from ridesim.show.panel.messages import WordsView
from ridesim.show.panel.screen import DiagramView
from ridesim.show.panel.tabbed import ChangingDesk
from ridesim.show.tables.html import svg_image
from ridesim.show.tables.outcome import frame_csv
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


class WireAndProtect(ChangingDesk[WiringWish, WiringAnswer]):
    """Boxes in; verdict, diagram, lists out.

    Parameters
    ----------
    texts : mapping of str to str
        What stands in the boxes at first, by key; those of an invented build and day.
    folder : Path, optional
        Where builds and days are looked for before the shipped ones, and where is saved; the current folder.
    """

    notebook, save_label = "6_wire_and_protect", "Save wiring into build"
    parts = ("circuits", "switches")
    tables: ClassVar = {
        "schedule": ("schedule", schedule_html), "opens": ("what opens when", opens_html), "warm": ("how warm", warm_html),
        "switches": ("switches", lambda _found, _system: ""), "lights": ("lights", lights_html), "parts": ("what to buy", parts_html),
        "cautions": ("cautions", cautions_html),
    }  # fmt: skip

    def __init__(self, texts: Mapping[str, str] = FIRST_TEXTS, folder: Path | None = None) -> None:
        super().__init__({}, texts, folder, "my_wiring.toml")
        self.chosen = ""
        self.diagram = DiagramView(name="One-line diagram")
        self.line = WordsView(name="The chosen circuit")
        self.which = Controls([], {}, self._typed, shape="wiring-which")
        self.steps = Controls([], {}, self._circuit_chosen, self._step_pressed, shape="wiring-steps")
        self.circuit = Controls([], {}, self._placed, shape="wiring-circuit")
        self.switches = Controls([], {}, self._switched, shape="wiring-switches")
        self.diagram.observe(lambda change: self._line_pressed(int(change["new"][0])), names="pressed")
        shown = [self.diagram, self.steps.view, self.circuit.view, self.line]
        self.view = self._laid_out(self.which, shown, {"switches": self.switches.view}, ["wiring"])
        self._show_first()

    # boxes

    def _offer(self) -> None:
        super()._offer()
        self.which.set_fields(self._with_files(WHICH))
        self.which.put(self.texts)

    def _buttons(self) -> Mapping[Press, Callable[[], None]]:
        every = f"Write the build, with every circuit as it stands here, into {self.folder}"
        return {
            Press("save", self.save_label, every): self._save,
            Press("svg", "Picture SVG", f"Write the diagram into {self.folder}"): self._write_drawing,
            Press("schedule", "Schedule CSV", f"Write the wiring schedule into {self.folder}"): self._write_schedule,
            Press("parts", "Parts CSV", f"Write what to buy into {self.folder}"): self._write_parts,
            Press("afresh", "Start afresh", "Everything as the file has it"): self._start_afresh,
        }

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
        name = circuit.demand.name
        names = tuple((each.demand.name, each.demand.name) for each in found.wiring.sized)
        self.steps.set_fields([
            Choice("circuit", "Circuit", names),
            Press("propose", "Back to proposal", "Cable and protection of this circuit as they are proposed", not self._can_propose(circuit)),
            *undo_and_redo(*self._steps.can),
        ])  # fmt: skip
        self.steps.put({"circuit": name})
        fields = circuit_fields(circuit)
        self.circuit.set_fields([in_units(f, system) if isinstance(f, Number) else f for f in fields], whose=name)
        was, typed = (
            self._shown(found.before.sized[found.wiring.sized.index(circuit)]),
            self.changes["circuits"].get(name, {}),
        )
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
        changed = self.changes["circuits"].get(circuit.demand.name, {})
        return bool(changed) or (stated is not None and (stated.copper_mm2, stated.rating_a) != (None, None))

    # what the user does; on whichever thread the message comes

    def _typed(self, texts: Mapping[str, str]) -> None:
        same_build = texts.get("build", self.texts["build"]) == self.texts["build"]
        if same_build and texts.get("duty_known", OPEN) != OPEN:
            self._switched({"duty_known": texts["duty_known"]})
        super()._typed(texts)

    def _placed(self, texts: Mapping[str, str]) -> None:
        """What was typed of the circuit that is worked on."""
        circuit = self._worked_on()
        if circuit is None:
            return
        name = circuit.demand.name
        circuits = self.changes["circuits"]
        shown = self._shown(circuit, circuits.get(name))
        try:
            typed = {
                key: typed_value(key, text_meant(text, NUMBERS[key], self._system) if key in NUMBERS else text, name)
                for key, text in texts.items() if key in shown and text != shown[key] and self.circuit.touched(key)
            }  # fmt: skip
        except InputProblem as problem:
            self._refuse(self.circuit, NUMBERS.values(), problem)
            return
        if typed:
            if "protection" in typed:  # another kind is sold in other ratings
                typed["rating_a"] = OPEN
            self._change("circuits", {**circuits, name: {**circuits.get(name, {}), **typed}}, (name, *typed))
        else:
            self._request()  # the former text may be back after one that meant nothing

    def _switched(self, texts: Mapping[str, str]) -> None:
        if self._answer is None:
            return
        described = self._answer.described
        changed = {key: text for key, text in texts.items() if text != switch_text(getattr(described, key))}
        if changed:
            self._change("switches", {**self.changes["switches"], **changed}, tuple(changed))

    def _step_pressed(self, button: str) -> None:
        circuit = self._worked_on()
        if button != "propose":
            super()._step_pressed(button)
        elif circuit is not None and self._answer is not None:
            name, circuits = circuit.demand.name, self.changes["circuits"]
            left = {key: value for key, value in circuits.items() if key != name}
            if any(each.name == name for each in self._answer.before.needs.wiring.circuit):
                left[name] = {**circuits.get(name, {}), **dict.fromkeys(PROPOSED, OPEN)}
            self._change("circuits", left, None)

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

    def _forget_changes(self) -> None:
        super()._forget_changes()
        self.chosen = ""

    def _save(self) -> None:
        build = self._answered(self.save_label).wiring.taken_over()
        self._save_build(build, "Saved the build with this wiring in {}; its cables count in its rides from now on.")

    def _write_schedule(self) -> None:
        rows = self._answered("Schedule CSV").wiring.schedule
        texts = ["circuit", "from", "to", "awg", "colour", "fuse", "reason"]
        self._write("Schedule", "csv", frame_csv(rows, texts), "wiring_schedule")

    def _write_parts(self) -> None:
        rows = self._answered("Parts CSV").wiring.parts
        self._write("Parts", "csv", frame_csv(rows, ["part", "unit", "where"]), "wiring_parts")

    # answering

    def _wish(self) -> WiringWish:
        return WiringWish(dict(self.texts), **self.changes, chosen=self.chosen)

    def _answer_to(self, wish: WiringWish) -> WiringAnswer:
        return answer(wish, self.folder)

    def _show(self, found: WiringAnswer) -> None:
        circuit, system = found.circuit, self._system
        self.verdict.show(f"<p>{escape(system.said(found.wiring.verdict))}</p>")
        self.diagram.svg = wiring_diagram(found.wiring, system)
        self.diagram.chosen = found.wiring.sized.index(circuit)
        self._refill()
        self.line.show(chosen_html(circuit, system))
        self.status.say(f"{self._first()}{self._held(found)} {found.wiring.cautions[0].text}")

    def _held(self, found: WiringAnswer) -> str:
        """Whose currents count."""
        ride = found.wiring.ride
        return f"{found.build.name}, {'the controller’s limits alone' if ride is None else ride.day.name}."

    def _judge(self, problem: InputProblem | None) -> None:
        """Mark the box that a refusal is about."""
        said = {} if problem is None else {key: str(problem) for key in NUMBERS if problem.place.endswith(f".{key}")}
        self.circuit.judge(said, {})
        loads = problem is not None and not said and not any(self.changes.values())
        day = self.texts["day"].strip()
        where = "day" if problem is not None and day and day in problem.file else "build"
        self.which.judge({where: str(problem)} if loads else {}, {})

    def _drawing(self, found: WiringAnswer) -> str:
        return wiring_diagram(found.wiring, self._system)

    def _still_drawing(self, found: WiringAnswer) -> str:
        return svg_image(self._drawing(found), f"One-line diagram: {found.wiring.verdict}", "max-width: 100%")

    def _watch_html(self, found: WiringAnswer) -> str:
        return watch_html(found, self._system)
