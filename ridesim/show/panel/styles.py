"""What every view of a panel has: its place, its style sheet, its class on the page."""

from pathlib import Path
from typing import Any

import anywidget

FRONT = Path(__file__).parent / "front"


class View(anywidget.AnyWidget):
    """A view in the panel's style."""

    _css = (FRONT / "panel.css").read_text(encoding="utf-8")

    def __init__(self, **values: Any) -> None:
        super().__init__(**values)
        self.add_class("ridesim-panel")
