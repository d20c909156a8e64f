"""What every panel has: pictures that follow, a status line, one worker that answers the newest wish."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from html import escape
from pathlib import Path
from typing import Any, Generic, TypeVar

import ipywidgets

from ridesim.show.panel.keep import Kept
from ridesim.show.panel.messages import Status
from ridesim.show.panel.newest import WORK, NewestOnly
from ridesim.show.panel.picture import Picture, joined
from ridesim.words import InputProblem

WishType = TypeVar("WishType")
AnswerType = TypeVar("AnswerType")
LIVE = "The panel needs its kernel: run all cells. A still copy stands below."
STILL = "Still copy of the panel above. Where the panel itself is not shown, its kernel is not running: run all cells."


class Desk(Generic[WishType, AnswerType]):
    """Wishes in; pictures and words out.

    A subclass lays out ``view``, says in :meth:`_wish` what is asked for now and in :meth:`_work` how it is answered and shown;
    it may add to the answer a moment later (:meth:`_finish`). The words of the still copy are :meth:`_still_html`.

    Parameters
    ----------
    pictures : mapping of str to Picture
    kept : Path
        Where what is set is kept as it goes; see :meth:`_set`.
    asked : mapping
        What the panel is opened with: only what was kept of such a one comes back.

    Attributes
    ----------
    view : Widget
        What a cell shows.
    status : Status
    pictures : dict of str to Picture
    """

    view: ipywidgets.Widget

    def __init__(self, pictures: Mapping[str, Picture], kept: Path, asked: Mapping[str, Any]) -> None:
        self.status = Status()
        self.kept, self._asked = Kept(kept), dict(asked)
        self._said_first = ""
        self.pictures = dict(pictures)
        self._answer: AnswerType | None = None
        self._young = True
        self._still: list[Any] = []
        self._worker: NewestOnly[WishType] = NewestOnly(self._work, self._failed, self._rest_of, self._rest)

    def _begin(self) -> None:
        """Answer the first wish, and every other when the page gives the pictures another size; call when all is laid out."""
        for picture in self.pictures.values():
            picture.view.observe(lambda _change: self._request(), names="view")
        self.status.say("Working. The first run compiles the equations, less than a minute.", "working")
        self._request()

    def _repr_mimebundle_(self, **options: Any) -> Any:
        """The live panel; the saved copy is a cell of its own."""
        bundle = dict(self.view._repr_mimebundle_(**options))
        bundle["text/plain"] = LIVE  # else the names of its objects, where no kernel runs
        return bundle

    def saved_copy(self) -> Any:
        """Show a still copy, kept up to date with the panel, that reads without a kernel."""
        from IPython.display import display

        self.wait()
        with WORK:
            self._still = [display(bundle, raw=True, display_id=True) for bundle in self._bundles()]  # type: ignore[no-untyped-call]

    def _bundles(self) -> tuple[dict[str, Any], dict[str, Any]]:
        """The still copy: picture, then words."""
        if self._answer is None:
            text = f"Nothing to show yet. {self.status.text}"
            return {"text/plain": text}, {"text/plain": text, "text/html": f"<p>{escape(text)}</p>"}
        sentences = [each.view.sentence for each in self.pictures.values() if each.view.sentence]
        plain = "\n".join([STILL, *sentences])
        html = f"<p><i>{STILL}</i></p><p>{'<br>'.join(map(escape, sentences))}</p>{self._still_html()}"
        image = self._still_image()
        picture = {"text/plain": plain} | ({"image/png": image} if image else {"text/html": ""})
        return picture, {"text/html": html, "text/plain": plain}

    def _still_image(self) -> bytes:
        """The pictures of the still copy, as they are on the page."""
        return joined([picture.png() for picture in self.pictures.values()])

    def _still_html(self) -> str:
        """What stands below the pictures in the still copy."""
        raise NotImplementedError

    def wait(self, seconds: float = 120.0) -> bool:
        """Wait until the page shows the newest values."""
        return self._worker.wait(seconds)

    @property
    def answer(self) -> AnswerType | None:
        """What the panel shows now."""
        return self._answer

    def close(self) -> None:
        """End the worker and take the views down."""
        self._worker.close()
        for widget in (self.view, *(picture.view for picture in self.pictures.values())):
            widget.close()

    def _request(self) -> None:
        self._worker.request(self._wish())

    def _wish(self) -> WishType:
        """What is asked for now."""
        raise NotImplementedError

    def _work(self, wish: WishType) -> None:
        """Compute and show one wish; runs in the worker, lock held."""
        raise NotImplementedError

    def _finish(self, wish: WishType) -> Iterator[None]:
        """Add, step by step, what a slider on its way need not wait for; in the worker, lock held."""
        return iter(())

    def _rest_of(self, wish: WishType) -> Iterator[None]:
        """Keep what is set, which must not wait for the rides that follow; then the rest of the answer."""
        with suppress(InputProblem):  # a folder that cannot be written must not stop the panel
            if state := self._set():
                self.kept.write({"asked": self._asked, **state})
        yield
        yield from self._finish(wish)

    def _set(self) -> dict[str, Any]:
        """What is set, as plain data to be kept; empty where nothing was changed since the panel was opened."""
        return {}

    def _kept_before(self) -> dict[str, Any]:
        """What was kept of an earlier run that was opened with the same, which is said; empty where there is nothing."""
        table, at = self.kept.read()
        if table.pop("asked", None) != self._asked:
            return {}
        self._said_first = f"Restored from {self.kept.path.name}, {at}."
        return table

    def _forget(self) -> None:
        """Start afresh: nothing is kept, nothing is said of it."""
        self.kept.forget()
        self._said_first = ""

    def _first(self) -> str:
        """What is said until something is changed, such as where the panel's values come from."""
        return f"{self._said_first} " if self._said_first else ""

    def _rest(self) -> None:
        if self._young:
            # Walking all that was made so far (modules, compiled code, artists) stops the panel for a moment: now, and not during a drag.
            self._young = False
            gc.collect()
        with suppress(Exception):  # a closed front end must not stop the panel
            for shown, bundle in zip(self._still, self._bundles() if self._still else (), strict=True):
                shown.update(bundle, raw=True)

    def _guarded(self, act: Callable[[], None], seconds: float = 120.0) -> None:
        """Do what a button asks, after the answer to what was changed just before, whose words would take the place of its own."""
        self.wait(seconds)
        try:
            act()
        except InputProblem as problem:
            self.status.say(str(problem), "problem")
        except Exception as problem:
            self.status.say(f"Could not: {type(problem).__name__}: {problem}", "problem")

    def _stale(self, why: str) -> None:
        """Say what is wrong; the last good picture stays, marked as old."""
        for picture in self.pictures.values():
            picture.view.old = True
        self.status.say(f"{self._first()}{why}", "problem")

    def _failed(self, problem: BaseException) -> None:
        said = str(problem) if isinstance(problem, InputProblem) else f"Could not: {type(problem).__name__}: {problem}"
        self._stale(said)
