"""Rides on all cores: threads, each of which hands the compiled core some rides at a time."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait

from ridesim.ride.core.journey import Records

AT_A_TIME = 16
"""Rides that a thread takes at once, so that none is left with much more than the others at the end."""


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
            wait(done)
        except BaseException:
            runs["most_tries"] = 0
            pool.shutdown(cancel_futures=True)
            raise
    for each in done:
        each.result()
