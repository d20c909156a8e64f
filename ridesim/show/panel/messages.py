"""Words on the page: the status line, findings, tables. All text from outside is escaped here."""

from __future__ import annotations

from html import escape

import traitlets

from ridesim.show.panel.styles import FRONT, View


class WordsView(View):
    """HTML from the kernel; a live one is read out when it changes."""

    _esm = FRONT / "words.js"
    html = traitlets.Unicode("").tag(sync=True)
    live = traitlets.Bool(False).tag(sync=True)
    name = traitlets.Unicode("").tag(sync=True)
    shape = traitlets.Unicode("").tag(sync=True)
    serial = traitlets.Int(0).tag(sync=True)

    def show(self, html: str) -> None:
        """Put HTML on the page; its dynamic parts must have been escaped."""
        if html != self.html:
            with self.hold_sync():
                self.html = html
                self.serial += 1


class Status:
    """The line that says what is going on: working, done, or what is wrong."""

    def __init__(self) -> None:
        self.view = WordsView(live=True, name="Status", shape="ridesim-status")
        self.text = ""

    def say(self, text: str, kind: str = "good") -> None:
        """Say one thing.

        Parameters
        ----------
        text : str
            Plain text; it is escaped.
        kind : {"good", "working", "problem"}
            A problem carries its own word, so that it does not hang on colour.
        """
        self.text = text
        mark = "<b>Not done. </b>" if kind == "problem" else ""
        self.view.show(f'<span class="ridesim-{kind}">{mark}{escape(text)}</span>')
