"""From a day to the arrays of the compiled core."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from ridesim.day import SURFACES, Activity, Day, Route, Trace
from ridesim.ride.core.journey import Programme
from ridesim.ride.core.records import ROUTE, STANDS, TRACE, Array, Task, structure

TRIES, TRIES_A_PIECE, TRIES_A_SECOND = 500_000, 300, 30.0
"""Steps that a ride may take: in any case, for each leg of a lap or piece of a trace, and for each second of the day."""


@lru_cache(maxsize=64)
def programme(day: Day) -> Programme:
    """A day's activities, and the legs and points of its routes and traces, each route and trace once."""
    routes = list({id(each.route): each.route for each in day.activity if each.route is not None}.values())
    traces = list({id(each.trace): each.trace for each in day.activity if each.trace is not None}.values())
    legs = [leg for route in routes for leg in route.legs]
    begins = _begins([len(route.legs) for route in routes]), _begins([len(trace.time_s) for trace in traces])
    tasks = np.zeros(len(day.activity), structure(Task))
    for task, activity in zip(tasks, day.activity, strict=True):
        _fill_in(task, activity, routes, traces, begins)
    return Programme(
        tasks,
        lengths=np.array([leg.length_m for leg in legs], dtype=float),
        limits=np.array([leg.speed_kmh for leg in legs], dtype=float) / 3.6,
        grades=np.array([leg.grade_percent for leg in legs], dtype=float) / 100.0,
        surfaces=np.array([leg.surface_factor for leg in legs], dtype=float),
        grounds=np.array([list(SURFACES).index(leg.surface) for leg in legs], dtype=np.int64),
        stops=np.array([leg.stop_s for leg in legs], dtype=float),
        times=_joined([trace.time_s for trace in traces]),
        speeds=_joined([trace.speed_kmh for trace in traces]) / 3.6,
        slopes=_joined([trace.grade_percent for trace in traces]) / 100.0,
    )


def _begins(lengths: Sequence[int]) -> list[int]:
    """Where each of several lists begins when they are put one behind the other, and where the last one ends."""
    return [0, *np.cumsum(lengths, dtype=int).tolist()]


def _joined(columns: Sequence[Array]) -> Array:
    return np.concatenate(columns) if columns else np.zeros(0)


def _fill_in(
    task: Task, activity: Activity, routes: list[Route], traces: list[Trace], begins: tuple[list[int], list[int]]
) -> None:
    """An activity as the core's record."""
    task.start = -1.0 if activity.start_s is None else activity.start_s
    task.aboard = int(activity.aboard)
    task.lights = -1.0 if activity.lighting is None else activity.lighting
    if activity.route is not None:
        place = next(n for n, each in enumerate(routes) if each is activity.route)
        task.kind, task.times = ROUTE, activity.laps
        task.first, task.last = begins[0][place : place + 2]
    elif activity.trace is not None:
        place = next(n for n, each in enumerate(traces) if each is activity.trace)
        task.kind, task.times = TRACE, activity.repeats
        task.first, task.last = begins[1][place : place + 2]
    else:
        task.kind, task.duration = STANDS, activity.duration_s or 0.0


@lru_cache(maxsize=64)
def most_tries(day: Day) -> int:
    """Steps that a ride may take before its calculation is given up: many times what any sensible build needs."""
    pieces, end = 0, day.first_start_s
    for activity in day.activity:
        if activity.route is not None:
            pieces += len(activity.route.legs) * activity.laps
        elif activity.trace is not None:
            pieces += len(activity.trace.time_s) * activity.repeats
        end = (end if activity.start_s is None else activity.start_s) + (activity.known_duration_s or 0.0)
    return TRIES + TRIES_A_PIECE * pieces + int(TRIES_A_SECOND * (end - day.first_start_s))
