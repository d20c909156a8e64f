"""A day by the clock, before any vehicle has ridden it: what begins and ends when, what is lit, what is charged."""

from __future__ import annotations

from ridesim.day import Day
from ridesim.day.day import Activity, clock
from ridesim.show.tables.text import table, wrapped

HEADER = ("", "from", "to", "min", "km", "lights %", "charger A")


def timetable_text(day: Day) -> str:
    """One line an activity and one a gap of a minute or more; the sum of the distances first.

    What rides a route takes as long as the vehicle needs: its end is given at the legs' speed limits, marked as the earliest.
    """
    distance_km = sum(each.planned_m for each in day.activity) / 1000.0
    rows, end, earliest = [], day.first_start_s, False
    for each in day.activity:
        start = end if each.start_s is None else each.start_s
        if start - end >= 60.0:
            gap = "  (gap)" if day.lights_on else "  (gap, lights off)"
            rows.append((gap, _at(end, earliest), clock(start), _minutes(start - end, earliest, "<"), "", "", ""))
        open_start = earliest and each.start_s is None
        earliest = each.route is not None or open_start
        end = start + each.least_s
        rows.append((each.name, _at(start, open_start), _at(end, earliest), *_figures(each)))
    lit = f" Lights on {day.lights_on}, where no share is given." if day.lights_on else ""
    text = f"From {clock(day.first_start_s)} to {clock(end)}{' or later' if earliest else ''}, {distance_km:.2f} km to ride.{lit}"
    lines = [wrapped(text), table(HEADER, rows)]
    if any(each.route is not None for each in day.activity):
        lines.append(
            wrapped(
                ">: not before; a route's end is reckoned at its speed limits, and a vehicle that is slower ends later."
            )
        )
    return "\n".join(lines)


def _figures(activity: Activity) -> tuple[str, str, str, str]:
    rides = activity.path is not None
    return (
        _minutes(activity.least_s, activity.route is not None, ">"),
        f"{activity.planned_m / 1000.0:.2f}" if rides else "",
        "" if activity.lighting is None else f"{100.0 * activity.lighting:.0f}",
        f"{activity.charge_current_a:g}" if activity.charge_current_a else "socket" if activity.socket else "",
    )


def _at(when_s: float, earliest: bool) -> str:
    return f"> {clock(when_s)}" if earliest else clock(when_s)


def _minutes(seconds: float, open_end: bool, sign: str) -> str:
    return f"{f'{sign} ' if open_end else ''}{seconds / 60.0:.0f}"
