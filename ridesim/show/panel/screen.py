"""What stands above and below the pictures of a panel: verdict lines, the day's programme, tabs and switches."""

from __future__ import annotations

from typing import Any

import traitlets

from ridesim.show.panel.styles import FRONT, View


class LinesView(View):
    """The verdicts, one line a candidate; the chosen one is worked on.

    ``below`` is what would mend the chosen one, ``unjudged`` what no line judges, a sentence each; ``lines`` and ``scale`` are what
    :mod:`ridesim.show.choose_drive.lines` makes;
    ``pressed`` says which line's menu was asked for; ``plain`` lines are only read.
    """

    _esm = FRONT / "lines.js"
    lines: Any = traitlets.List().tag(sync=True)
    scale: Any = traitlets.Dict({"low": 0.0, "high": 1.0}).tag(sync=True)
    below = traitlets.Unicode("").tag(sync=True)
    unjudged = traitlets.Unicode("").tag(sync=True)
    chosen = traitlets.Int(0).tag(sync=True)
    plain = traitlets.Bool(False).tag(sync=True)
    pressed: Any = traitlets.List().tag(sync=True, echo_update=False)


class StripView(View):
    """The day's programme, as :mod:`ridesim.show.choose_drive.strip` makes it."""

    _esm = FRONT / "strip.js"
    day: Any = traitlets.Dict().tag(sync=True)


class TabsView(View):
    """Tabs, of which one is on, and switches that open something: rows of key, label and whether it is on."""

    _esm = FRONT / "tabs.js"
    tabs: Any = traitlets.List().tag(sync=True)
    switches: Any = traitlets.List().tag(sync=True)
    pressed: Any = traitlets.List().tag(sync=True, echo_update=False)


class SideView(View):
    """A drawing as SVG text, escaped already, whose blocks can be moved: ``moved`` says which, and where to in metres."""

    _esm = FRONT / "side.js"
    svg = traitlets.Unicode("").tag(sync=True)
    chosen = traitlets.Unicode("").tag(sync=True)
    serial = traitlets.Int(0).tag(sync=True)
    moved: Any = traitlets.List().tag(sync=True, echo_update=False)

    def show(self, svg: str) -> None:
        """Put a drawing on the page."""
        with self.hold_sync():
            self.serial += 1
            self.svg = svg


class CellsView(View):
    """A grid of cells as SVG text, escaped already; ``pressed`` says the teeth of the cell that was chosen.

    ``others`` are grids that could be shown instead, each with its key, its name and whether it is shown; ``other`` is the key that was pressed.
    """

    _esm = FRONT / "cells.js"
    svg = traitlets.Unicode("").tag(sync=True)
    sentence = traitlets.Unicode("").tag(sync=True)
    note = traitlets.Unicode("").tag(sync=True)
    pressed: Any = traitlets.List().tag(sync=True, echo_update=False)
    others: Any = traitlets.List().tag(sync=True)
    other: Any = traitlets.List().tag(sync=True, echo_update=False)

    def show(self, svg: str, sentence: str, note: str) -> None:
        """Put a grid on the page."""
        with self.hold_sync():
            self.sentence, self.note, self.svg = sentence, note, svg


class DiagramView(View):
    """A drawing as SVG text, escaped already, as large as it is; ``pressed`` says which of its numbered lines was chosen."""

    _esm = FRONT / "diagram.js"
    svg = traitlets.Unicode("").tag(sync=True)
    name = traitlets.Unicode("").tag(sync=True)
    chosen = traitlets.Int(0).tag(sync=True)
    pressed: Any = traitlets.List().tag(sync=True, echo_update=False)
