"""What every view of a panel has: its place, its style sheet, its class on the page."""

from pathlib import Path
from typing import Any

import anywidget

from ridesim.show.style import DARK, LIGHT, variables

FRONT = Path(__file__).parent / "front"


SIDE = (FRONT / "side.css").read_text(encoding="utf-8")
"""Style sheet of the side view."""
SIDE_ALONE = f".ridesim-side {{ {variables(LIGHT)} background: {LIGHT.paper}; }} {SIDE}"
"""The same for a side view that is a file of its own, in the colours of a light page."""


def _colours() -> str:
    """Variables of the style sheet for light pages, and for dark ones."""
    panel = ":is(.ridesim-desk, .ridesim-panel)"
    return f"""{panel} {{ {variables(LIGHT)} }}
body[data-jp-theme-light="false"] {panel} {{ {variables(DARK)} }}
"""


class View(anywidget.AnyWidget):
    """A view in the panel's style."""

    _css = _colours() + (FRONT / "panel.css").read_text(encoding="utf-8") + SIDE

    def __init__(self, **values: Any) -> None:
        super().__init__(**values)
        self.add_class("ridesim-panel")
