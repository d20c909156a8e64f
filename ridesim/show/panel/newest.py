"""Newest only: one slot, one worker, one lock for compiled code and for everything Matplotlib draws in this process."""

from __future__ import annotations

import gc
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from typing import Generic, TypeVar

from ridesim.ride.parallel import Dropped, dropped_when

Item = TypeVar("Item")

WORK = threading.RLock()
"""Held while a panel computes or draws. JupyterLab sends widget messages on other threads than a running cell, Matplotlib shares
fonts and parsers between figures, and the compiler must not run beside it."""


class NewestOnly(Generic[Item]):
    """Does the newest request only, one at a time, in a thread of its own, whichever thread asks.

    Parameters
    ----------
    work : callable
        Called with the newest item, :data:`WORK` held. What it raises is handed to ``failed`` and never stops the worker.
    failed : callable
        Called with an exception that ``work`` let through.
    finish : callable, optional
        The rest of the answer to an item, which a slider on its way need not wait for: called with the item when no other
        came for ``finish_s``. It gives back steps; each is done with :data:`WORK` held. When another item comes, the rides of the step
        at hand are given up, and the steps left are dropped.
    settled : callable, optional
        Called when no request came for ``rest_s`` after the last work, :data:`WORK` held.
    finish_s, rest_s : float
        [s]
    """

    def __init__(
        self,
        work: Callable[[Item], None],
        failed: Callable[[BaseException], None],
        finish: Callable[[Item], Iterator[None]] = lambda item: iter(()),
        settled: Callable[[], None] = lambda: None,
        finish_s: float = 0.06,
        rest_s: float = 1.0,
    ) -> None:
        self._work, self._failed, self._finish, self._settled = work, failed, finish, settled
        self._finish_s, self._rest_s = finish_s, rest_s
        self._change = threading.Condition()
        self._slot: list[Item] = []
        self._unfinished: list[Item] = []
        self._steps: Iterator[None] | None = None
        self._busy = False
        self._unsettled = False
        self._closed = False
        self._thread: threading.Thread | None = None

    def request(self, item: Item) -> None:
        """Ask for work; an older request that has not begun is forgotten."""
        with self._change:
            self._slot[:] = [item]
            if self._thread is None and not self._closed:
                self._thread = threading.Thread(target=self._run, name="ridesim panel", daemon=True)
                self._thread.start()
            self._change.notify_all()

    def wait(self, seconds: float = 120.0) -> bool:
        """Wait until nothing is asked, nothing is being done and the last answer is whole.

        Returns
        -------
        bool
            False where that took longer than ``seconds``.
        """
        with self._change:
            return self._change.wait_for(
                lambda: not (self._slot or self._busy or self._unfinished or self._steps), seconds
            )

    def close(self) -> None:
        """End the worker after what it is doing."""
        with self._change:
            self._closed = True
            self._slot.clear()
            self._unfinished.clear()
            self._steps = None
            self._change.notify_all()

    def _run(self) -> None:
        while True:
            with self._change:
                came = self._change.wait_for(lambda: self._slot or self._closed, self._patience())
                if self._closed:
                    return
                task = self._answer() if came else self._rest()
                self._busy = True
            try:
                self._do(task)
            finally:
                with self._change:
                    self._busy = False
                    self._change.notify_all()

    def _patience(self) -> float | None:
        """How long to wait for a request before something else is done."""
        if self._steps is not None:
            return 0.0
        if self._unfinished:
            return self._finish_s
        return self._rest_s if self._unsettled else None

    def _answer(self) -> Callable[[], None]:
        """Answer the newest request."""
        item = self._slot.pop()
        self._unfinished[:] = [item]
        self._steps = None
        self._unsettled = True
        return partial(self._work, item)

    def _rest(self) -> Callable[[], None]:
        """Nothing was asked for a while."""
        if self._unfinished:
            self._steps = self._finish(self._unfinished.pop())
        if self._steps is not None:
            return self._step
        self._unsettled = False
        return self._settled

    def _step(self) -> None:
        """The next step of the rest of an answer."""
        steps = self._steps
        try:
            with dropped_when(lambda: bool(self._slot) or self._closed):
                if steps is not None:
                    next(steps)
        except BaseException as problem:
            self._steps = None
            if not isinstance(problem, StopIteration | Dropped):
                raise

    def _do(self, task: Callable[[], None]) -> None:
        try:
            with WORK, _at_hand():
                task()
        except BaseException as problem:  # a worker that dies would leave a panel that never answers again
            self._failed(problem)


@contextmanager
def _at_hand() -> Iterator[None]:
    """The interpreter made ready for a slider while :data:`WORK` is held, and left as the user had it.

    Messages would wait at each hand-over from the worker, and a collection of all that a notebook holds can stop it for a second.
    """
    interval, collects = sys.getswitchinterval(), gc.isenabled()
    sys.setswitchinterval(min(interval, 0.0005))
    gc.disable()
    try:
        yield
    finally:
        sys.setswitchinterval(interval)
        if collects:
            gc.enable()
