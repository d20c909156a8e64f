"""What moved when a value was changed, in one line of words."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from ridesim.choose import Candidate
from ridesim.choose.gearing import IN_A_WORD, OVER
from ridesim.choose.wishes import BRAKES, RATINGS, likely_wishes
from ridesim.forms import value_at
from ridesim.show.choose_drive.inputs import VALUES, Answer
from ridesim.show.units import System


class _Figure(NamedTuple):
    name: str
    unit: str
    digits: int
    value_of: Callable[[Candidate], float | None]


SPARE = _Figure("to spare", "km", 1, lambda c: c.ride.outcome.spare_km)
FIGURES = (
    _Figure("top speed", "kmh", 1, lambda c: c.top_speed_kmh),
    _Figure("steepest start", "percent", 1, lambda c: c.steepest_start_percent),
    SPARE,
    _Figure("hottest winding", "c", 0, lambda c: c.ride.outcome.hottest_winding_c),
)
MOST = 3
LOST = {**IN_A_WORD, BRAKES: "brakes too weak", RATINGS: OVER}
"""What fails, in a word, as the sliders' hatches and the sprocket map say it."""


def what_moved(answer: Answer, system: System) -> str:
    """The change at hand and what it did; empty where nothing was changed.

    Examples
    --------
    ``motor teeth 13 instead of 11: top speed 28.1 km/h instead of 24.2, steepest start 10.9 % instead of 13.4.``
    """
    if answer.former is None:
        return ""
    before, now = answer.former.candidate, answer.one.candidate
    changes = ", ".join(_changes(before, now))
    if not changes:
        return ""
    lost = next((LOST[wish] for wish, holds in likely_wishes(now).items() if not holds), "")
    # Distance to spare is no gain of a vehicle that something else stops.
    told = [each for each in FIGURES if not (lost and each is SPARE)]
    figures = [text for each in told if (text := _moved(each, before, now, system))][: MOST - bool(lost)]
    decides = f" Does not do it: {lost}." if lost else ""
    return system.said(changes) + f": {', '.join(figures) if figures else 'no figure moves'}.{decides}"


def _changes(before: Candidate, now: Candidate) -> Iterator[str]:
    for place, control in VALUES.items():
        old, new = (value_at(c.build, place) for c in (before, now))
        if old != new:
            yield f"{control.label.lower()} {new:g} instead of {old:g} {control.unit}".rstrip()


def _moved(figure: _Figure, before: Candidate, now: Candidate, system: System) -> str:
    """A figure and what it was; empty where it is the same as shown, or missing."""
    old, new = figure.value_of(before), figure.value_of(now)
    if old is None or new is None:
        return ""
    was, is_now = (f"{system.value(each, figure.unit):.{figure.digits}f}" for each in (old, new))
    return "" if was == is_now else f"{figure.name} {is_now} {system.label(figure.unit)} instead of {was}"
