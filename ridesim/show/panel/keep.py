"""What is set on a panel, kept as it goes in a readable file beside the notebook; and steps back and forth."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any, Generic, TypeVar

import tomlkit
from tomlkit.exceptions import TOMLKitError

from ridesim.forms import write_beside_then_replace

State = TypeVar("State")
ENDING = ".panel.toml"
TOGETHER_S = 1.5
"""Changes of one box that follow each other so quickly are one step."""
MOST_STEPS = 200
HEAD = "What was set on the panel of this notebook, kept by it. Run all cells brings it back; without this file it starts afresh."


def kept_beside(folder: Path, notebook: str, part: str = "") -> Path:
    """Where a panel keeps what is set: under the name of the notebook that runs it, else its usual name; ``part`` where it has several."""
    running = os.environ.get("JPY_SESSION_NAME", "")
    stem = Path(running).stem if running.endswith(".ipynb") else notebook
    return folder / f"{stem}{part}{ENDING}"


class Kept:
    """A file of what is set on a panel.

    Parameters
    ----------
    path : Path
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._last: Mapping[str, Any] | None = None

    def read(self) -> tuple[dict[str, Any], str]:
        """What was kept, and the clock time at which it was; empty where there is nothing that can be read."""
        try:
            table = tomlkit.parse(self.path.read_text(encoding="utf-8")).unwrap()
            at = datetime.fromtimestamp(self.path.stat().st_mtime)
        except (OSError, UnicodeDecodeError, TOMLKitError):
            return {}, ""
        self._last = table
        return table, f"{at:%H:%M}" if at.date() == datetime.now().date() else f"{at:%d %B, %H:%M}"

    def write(self, state: Mapping[str, Any]) -> None:
        """Keep what is set, unless it is kept already.

        Raises
        ------
        InputProblem
            The folder cannot be written.
        """
        if state == self._last:
            return
        document = tomlkit.document()
        document.add(tomlkit.comment(HEAD))
        for key, value in state.items():
            document.add(key, tomlkit.item(value))
        write_beside_then_replace(self.path, tomlkit.dumps(document))
        self._last = dict(state)

    def forget(self) -> None:
        """Start afresh."""
        self.path.unlink(missing_ok=True)
        self._last = None


class Steps(Generic[State]):
    """States to go back to and forth.

    Parameters
    ----------
    clock : callable
        Seconds, for what is changed together.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._back: list[State] = []
        self._forth: list[State] = []
        self._what: object = None
        self._at = float("-inf")

    def note(self, before: State, what: object) -> bool:
        """Note the state before a change.

        Parameters
        ----------
        before : State
            The state that can be gone back to.
        what : object
            What is changed: changes of the same thing that follow each other quickly are one step. None: always a step of its own.

        Returns
        -------
        bool
            Whether it is a step of its own; False where it goes on with the last one.
        """
        now, together = self._clock(), what is not None and what == self._what
        fresh = not (together and now - self._at < TOGETHER_S and self._back)
        self._what, self._at = what, now
        self._forth.clear()
        if fresh:
            self._back = [*self._back, before][-MOST_STEPS:]
        return fresh

    def back(self, now: State) -> State | None:
        """The state before, or None."""
        return self._moved(self._back, self._forth, now)

    def forth(self, now: State) -> State | None:
        """The state that was gone back from, or None."""
        return self._moved(self._forth, self._back, now)

    def _moved(self, there: list[State], here: list[State], now: State) -> State | None:
        self._what = None
        if not there:
            return None
        here.append(now)
        return there.pop()

    @property
    def can(self) -> tuple[bool, bool]:
        """Whether there is something to go back to, and forth."""
        return bool(self._back), bool(self._forth)
