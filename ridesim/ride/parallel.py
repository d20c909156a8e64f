"""Rides on all cores: threads, each of which hands the compiled core some rides at a time; and how they are given up half-way."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import contextmanager
from contextvars import ContextVar

from ridesim.ride.core.journey import Records

AT_A_TIME = 16
"""Rides that a thread takes at once, so that none is left with much more than the others at the end."""
LOOK_S = 0.01
"""How often it is looked whether the rides are still wanted."""

_unwanted: ContextVar[Callable[[], bool]] = ContextVar("_unwanted", default=lambda: False)


class Dropped(Exception):
    """What was being computed is not wanted any more."""


@contextmanager
def dropped_when(unwanted: Callable[[], bool]) -> Iterator[None]:
    """Whatever is computed inside ends with :class:`Dropped` soon after ``unwanted`` says so."""
    before = _unwanted.set(unwanted)
    try:
        yield
    finally:
        _unwanted.reset(before)


def go_on() -> None:
    """Raise :class:`Dropped` where what is being computed is not wanted any more; called now and then by what takes long."""
    if _unwanted.get()():
        raise Dropped


def in_parallel(work: Callable[[int, int], object], runs: Records, workers: int | None = None) -> None:
    """Have rides done on several threads; a ride alone on this one.

    Interrupted, the rides under way are given up at their next step, so that an interrupt takes effect at once.

    Parameters
    ----------
    work : callable
        Does the rides from one to before another.
    runs : array of Run
        The rides.
    workers : int, optional
        Threads; None: as many as there are cores.
    """
    count, threads = len(runs), workers or os.cpu_count() or 1
    if count <= 1:
        work(0, count)
        return
    at_a_time = min(AT_A_TIME, math.ceil(count / threads))
    with ThreadPoolExecutor(threads) as pool:
        done = [pool.submit(work, first, min(first + at_a_time, count)) for first in range(0, count, at_a_time)]
        try:
            while wait(done, LOOK_S).not_done:
                go_on()
        except BaseException:
            runs["most_tries"] = 0
            pool.shutdown(cancel_futures=True)
            raise
    for each in done:
        each.result()
