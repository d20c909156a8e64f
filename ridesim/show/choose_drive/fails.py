"""Where a wish of the day fails along each slider, by the likely values."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from itertools import groupby

from ridesim.choose.gearing import IN_A_WORD, OVER, over_rating
from ridesim.choose.how_sure import likely_holds
from ridesim.day import Day
from ridesim.forms import exact, value_at
from ridesim.ride.parallel import go_on
from ridesim.show.choose_drive.inputs import FIRST
from ridesim.show.panel.fields import Number
from ridesim.vehicle import Build
from ridesim.words import InputProblem

NOT_POSSIBLE = "not possible"
Spans = list[tuple[int, int, str]]


def failing_stops(build: Build, day: Day) -> Iterator[tuple[str, Spans]]:
    """Stops of each slider at which a wish fails: the control's key, then first stop, last stop and the wish in a word."""
    sure, its_day = exact(build), exact(day)
    for place, control in FIRST.items():
        yield control.key, list(_spans(_told(sure, its_day, place, control)))


def _told(build: Build, day: Day, place: str, control: Number) -> list[str]:
    made: dict[int, Build] = {}
    for index, stop in enumerate(control.stops):
        go_on()
        with suppress(InputProblem):
            made[index] = build.changed({place: stop})
    holds = likely_holds(list(made.values()), day)
    rows = {
        index: OVER if over_rating(each, day) else next((w for wish, w in IN_A_WORD.items() if not holds[wish][n]), "")
        for n, (index, each) in enumerate(made.items())
    }
    return [rows.get(index, NOT_POSSIBLE) for index in range(len(control.stops))]


def _spans(words: list[str]) -> Iterator[tuple[int, int, str]]:
    """Stretches of failing stops, each with what fails first where it begins."""
    for fails, group in groupby(enumerate(words), key=lambda pair: bool(pair[1])):
        places = [index for index, _ in group]
        if fails:
            yield places[0], places[-1], words[places[-1] if places[0] == 0 else places[0]]


def with_owned(fields: Mapping[str, Number], builds: list[Build]) -> list[Number]:
    """The sliders, with the sizes that stand in somebody's file shown as owned."""
    return [
        replace(field, owned=tuple(sorted({float(value_at(build, place)) for build in builds})))
        for place, field in fields.items()
    ]
