"""The day's programme as plain data: activities with their heights, charging, light, the clock."""

from __future__ import annotations

from typing import Any

from ridesim.day import Activity
from ridesim.day.day import clock
from ridesim.show.choose_drive.inputs import Answer
from ridesim.show.pictures import clock as day_clock

WIDE_PX = 900.0


def programme(answer: Answer) -> dict[str, Any]:
    """What the strip shows.

    Returns
    -------
    dict
        ``name``; ``first`` and ``last`` hour; ``ticks`` as hour and text; ``lit`` as pairs of hours; ``acts``, each with name, start, end,
        kind, laps, profile (0 to 100 to the right, 100 at the ground) and its description in words.
    """
    first, last = day_clock.hours(answer)
    spans = day_clock.spans(answer)
    stages = answer.each[0].candidate.ride.stages
    acts = [
        _act(act, start, end, f"{clock(stage.start_s)} to {clock(stage.end_s)}")
        for act, (_, start, end), stage in zip(answer.day.activity, spans, stages, strict=True)
    ]
    return {
        "name": answer.day.name,
        "first": first,
        "last": last,
        "ticks": [[hour, text] for hour, text in day_clock.hour_ticks(first, last, WIDE_PX)],
        "lit": day_clock.lit_hours(answer),
        "acts": acts,
    }


def _act(act: Activity, start: float, end: float, told: str) -> dict[str, Any]:
    """An activity as it is drawn, from start to end, and as it is told, to the minute."""
    charges = act.socket or act.charge_current_a > 0.0
    laps = act.laps if act.route is not None else act.repeats if act.trace is not None else 1
    kind = "charge" if charges else "ride" if act.path is not None else "stand"
    times = f" {laps} times" if laps > 1 else ""
    does = {"charge": "charging", "stand": "standing", "ride": f"riding{times}"}[kind]
    return {
        "name": act.name,
        "start": start,
        "end": end,
        "kind": kind,
        "laps": laps,
        "profile": _profile(act),
        "words": f"{act.name}, {told}, {does}",
    }


def _profile(act: Activity) -> list[list[float]]:
    """Heights of a lap: from 0 to 100 along it, 75 at its lowest and 10 at its highest; less than 3 m look flat. A trace has no heights."""
    if act.route is None:
        return [[0.0, 60.0], [100.0, 60.0]] if act.trace is not None else []
    along, height = [0.0], [0.0]
    for leg in act.route.legs:
        along.append(along[-1] + leg.length_m)
        height.append(height[-1] + leg.length_m * leg.grade_percent / 100.0)
    rise = max(max(height) - min(height), 3.0)
    return [
        [round(100.0 * x / along[-1], 1), round(75.0 - 65.0 * (y - min(height)) / rise, 1)]
        for x, y in zip(along, height, strict=True)
    ]
