"""What every panel has: pictures that follow, a status line, one worker that answers the newest wish."""

from __future__ import annotations

import gc
from collections.abc import Mapping
from typing import Any, Generic, TypeVar

import ipywidgets

from ridesim.show.panel.messages import Status
from ridesim.show.panel.newest import NewestOnly
from ridesim.show.panel.picture import Picture

WishType = TypeVar("WishType")
AnswerType = TypeVar("AnswerType")


class Desk(Generic[WishType, AnswerType]):
    """Wishes in; pictures and words out.

    A subclass lays out ``view``, says in :meth:`_wish` what is asked for now and in :meth:`_work` how it is answered and shown;
    it may add to the answer a moment later (:meth:`_finish`) and keep a still copy up to date (:meth:`_settled`).

    Parameters
    ----------
    pictures : mapping of str to Picture

    Attributes
    ----------
    view : Widget
        What a cell shows.
    status : Status
    pictures : dict of str to Picture
    """

    view: ipywidgets.Widget

    def __init__(self, pictures: Mapping[str, Picture]) -> None:
        self.status = Status()
        self.pictures = dict(pictures)
        self._answer: AnswerType | None = None
        self._young = True
        self._worker: NewestOnly[WishType] = NewestOnly(self._work, self._failed, self._finish, self._rest)

    def _begin(self) -> None:
        """Answer the first wish, and every other when the page gives the pictures another size; call when all is laid out."""
        for picture in self.pictures.values():
            picture.view.observe(lambda _change: self._request(), names="view")
        self.status.say("Working. The first run compiles the equations, less than a minute.", "working")
        self._request()

    def _repr_mimebundle_(self, **options: Any) -> Any:
        """The live panel; the saved copy is a cell of its own."""
        return self.view._repr_mimebundle_(**options)

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

    def _finish(self, wish: WishType) -> None:
        """Add what a slider on its way need not wait for; in the worker, lock held."""

    def _rest(self) -> None:
        if self._young:
            # What is there now (modules, compiled code, artists) stays: a collection that walks all of it stops a drag for 100 to 170 ms.
            self._young = False
            gc.collect()
            gc.freeze()
        self._settled()

    def _settled(self) -> None:
        """Nothing was asked for a while; in the worker, lock held."""

    def _stale(self, why: str) -> None:
        """Say what is wrong; the last good picture stays, marked as old."""
        for picture in self.pictures.values():
            picture.view.old = True
        self.status.say(why, "problem")

    def _failed(self, problem: BaseException) -> None:
        self._stale(f"Could not: {type(problem).__name__}: {problem}")
