"""Controls with label, unit, range and a typed value beside the slider."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

import traitlets

from ridesim.show.panel.fields import Field
from ridesim.show.panel.styles import FRONT, View

WHOSE, TOUCHED = "whose", "touched"
"""Keys that the page sends beside the texts: what the boxes were about when they were typed in, and which of them the user changed."""


class ControlsView(View):
    """A row of controls on the page."""

    _esm = FRONT / "controls.js"
    fields: Any = traitlets.List().tag(sync=True)
    group = traitlets.Unicode("").tag(sync=True)
    shape = traitlets.Unicode("row").tag(sync=True)
    whose = traitlets.Unicode("").tag(sync=True)
    texts = traitlets.Dict().tag(sync=True)
    typed = traitlets.Dict().tag(sync=True, echo_update=False)
    problems = traitlets.Dict().tag(sync=True)
    marks = traitlets.Dict().tag(sync=True)
    hatches = traitlets.Dict().tag(sync=True)
    pressed: Any = traitlets.List().tag(sync=True, echo_update=False)


class Controls:
    """Named fields, what stands in them, and who is told when that changes.

    Parameters
    ----------
    fields : sequence of Number, Text, Choice or Press
    texts : mapping of str to str
        What stands in the boxes at first.
    changed : callable
        Called with key to text after the user changed something, on whichever thread the message came.
    pressed : callable, optional
        Called with the key of a button.
    group : str
        What the row is about; part of every control's spoken name.
    shape : str
        Name of the row's layout in the style sheet.
    """

    def __init__(
        self,
        fields: Sequence[Field],
        texts: Mapping[str, str],
        changed: Callable[[dict[str, str]], None],
        pressed: Callable[[str], None] | None = None,
        *,
        group: str = "",
        shape: str = "row",
    ) -> None:
        self._changed, self._pressed = changed, pressed
        self._own: dict[str, str] | None = None
        self._puts = 0
        self.view = ControlsView(
            fields=[asdict(field) for field in fields], texts=dict(texts), typed=dict(texts), group=group, shape=shape
        )
        self.view.observe(self._heard, names="typed")
        self.view.observe(self._pushed, names="pressed")

    @property
    def texts(self) -> dict[str, str]:
        """What stands in the boxes now."""
        return {key: text for key, text in self.view.typed.items() if key not in (WHOSE, TOUCHED)}

    def touched(self, key: str) -> bool:
        """Whether the user changed a box; False where it only holds an older value that the kernel put there."""
        return key in str(self.view.typed.get(TOUCHED, key)).split()

    def put(self, texts: Mapping[str, str]) -> None:
        """Put other text in boxes, without telling anyone."""
        merged = {**self.texts, **texts}
        self._own = merged
        self.view.typed = dict(merged)
        self._own = None
        # The page is told even where its boxes alone differ from what was put before.
        self._puts += 1
        self.view.texts = {**merged, "puts": str(self._puts)}

    def set_fields(self, fields: Sequence[Field], group: str | None = None, whose: str | None = None) -> None:
        """Other fields, another name of the group, or another thing that they are about."""
        with self.view.hold_sync():
            if group is not None:
                self.view.group = group
            if whose is not None:
                self.view.whose = whose
            self.view.fields = [asdict(field) for field in fields]

    def judge(self, problems: Mapping[str, str], marks: Mapping[str, str]) -> None:
        """Mark boxes as wrong (with the message) and as changed (with what they were)."""
        self.view.problems, self.view.marks = dict(problems), dict(marks)

    def hatch(self, fails: Mapping[str, list[tuple[int, int, str]]]) -> None:
        """Hatch the stops of sliders at which something fails: first and last stop by place, and in a word what."""
        if fails != self.view.hatches:
            self.view.hatches = {key: [list(each) for each in spans] for key, spans in fails.items()}

    def _heard(self, change: Any) -> None:
        texts = {key: text for key, text in change["new"].items() if key != TOUCHED}
        # What was typed about the former thing and comes in late is not meant for this one.
        if texts != self._own and texts.pop(WHOSE, self.view.whose) == self.view.whose:
            self._changed(texts)

    def _pushed(self, change: Any) -> None:
        if self._pressed and change["new"]:
            self._pressed(str(change["new"][0]))
