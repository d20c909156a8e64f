"""What moved when a value was changed, in one line of words."""

from __future__ import annotations

from ridesim.forms import value_at
from ridesim.show.choose_drive.inputs import VALUES, Answer, Reckoned
from ridesim.show.units import System

FIGURES = (
    ("top speed", "kmh", 1, lambda one: one.candidate.top_speed_kmh),
    ("steepest start", "percent", 1, lambda one: one.candidate.steepest_start_percent),
    ("to spare", "km", 1, lambda one: one.candidate.ride.outcome.spare_km),
    ("hottest winding", "c", 0, lambda one: one.candidate.ride.outcome.hottest_winding_c),
)
MOST = 3


def what_moved(answer: Answer, system: System) -> str:
    """The change at hand and what it did; empty where nothing was changed.

    Examples
    --------
    ``13 motor teeth instead of 11: top speed 28.6 km/h instead of 24.2, steepest start 11.3 % instead of 13.4``
    """
    if answer.former is None:
        return ""
    changes = ", ".join(_changes(answer.former, answer.one))
    figures = [text for each in FIGURES if (text := _figure(each, answer.former, answer.one, system))][:MOST]
    if not changes:
        return ""
    return f"{changes}: {', '.join(figures) if figures else 'no figure moves'}."


def _changes(before: Reckoned, now: Reckoned) -> list[str]:
    found = []
    for place, control in VALUES.items():
        old, new = (value_at(one.candidate.build, place) for one in (before, now))
        if old != new:
            unit = f" {control.unit}" if control.unit else ""
            found.append(f"{control.label.lower()} {new:g}{unit} instead of {old:g}")
    return found


def _figure(figure, before: Reckoned, now: Reckoned, system: System) -> str:  # type: ignore[no-untyped-def]
    name, unit, digits, value_of = figure
    old, new = value_of(before), value_of(now)
    if old is None or new is None:
        return ""
    texts = [f"{system.value(each, unit):.{digits}f}" for each in (new, old)]
    label = system.label(unit)
    return "" if texts[0] == texts[1] else f"{name} {texts[0]} {label} instead of {texts[1]}"
