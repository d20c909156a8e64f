"""A day: ambient, the rider's manners, and the activities by the clock."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import time
from functools import cached_property
from itertools import pairwise
from typing import Annotated, Any

from pydantic import Field, GetPydanticSchema, WithJsonSchema, model_validator
from pydantic_core import core_schema

from ridesim.day.route import Route
from ridesim.day.trace import Trace
from ridesim.day.widths import WIDTHS
from ridesim.forms import Name, Part, Unsure, changed_table, quantity, validate
from ridesim.words import InputProblem, InShort, Rows

DAY_S = 86_400.0
LONGEST_BY_END_S = 43_200.0
"""An end, or the end of the lit hours, that is later than this after its start is taken for a slip of the two times. [s]"""
_FROM_TO = re.compile(r"(\d{1,2}):([0-5]\d) ?[-–] ?(\d{1,2}):([0-5]\d)", re.ASCII)


def _loaded(kind: type) -> GetPydanticSchema:
    return GetPydanticSchema(lambda _source, _handler: core_schema.is_instance_schema(kind))


RouteField = Annotated[
    Route, _loaded(Route), WithJsonSchema({"type": "string", "description": "name or path of a route CSV"})
]
TraceField = Annotated[
    Trace, _loaded(Trace), WithJsonSchema({"type": "string", "description": "name or path of a trace CSV"})
]


class Activity(Part):
    """One thing the vehicle does: rides a route, follows a trace, or stands for a time."""

    name: Name = quantity("what happens")
    start: time | None = quantity("local time; left out: when the former activity ends", None)
    day: int = quantity("1 for the first day, 2 for the next", 1, source="the first day", ge=1, le=31)
    route: RouteField | None = Field(default=None, description="name or path of a route CSV")
    laps: int = quantity("how often the route is ridden", 1, source="once", ge=1, le=10_000)
    trace: TraceField | None = Field(default=None, description="name or path of a trace CSV")
    repeats: int = quantity("how often the trace is followed", 1, source="once", ge=1, le=10_000)
    duration_min: float | None = quantity("how long it stands", None, gt=0.0, le=44_640.0)
    end: time | None = quantity("until when it stands, local time, in place of duration_min", None)
    aboard: bool = quantity("whether the rider is aboard", True, source="rider aboard")
    lighting: float | None = quantity(
        "share of the lights that are on; left out: as lights_on of the day says, else none", None, ge=0.0, le=1.0
    )
    socket: bool = quantity("whether the vehicle's own charger hangs on a socket meanwhile", False, source="no socket")
    charge_current_a: float = quantity(
        "charger's current, while standing, where it is not the vehicle's own",
        0.0,
        source="no charger",
        ge=0.0,
        le=1000.0,
    )

    @model_validator(mode="after")
    def _one_kind(self) -> Activity:
        given = [name for name in ("route", "trace", "duration_min", "end") if getattr(self, name) is not None]
        if len(given) != 1:
            found = " and ".join(given) or "none of the four"
            raise InputProblem("", "", found, "exactly one of route, trace, duration_min, end")
        if self.end is not None:
            self._check_end(self.end)
        for key, found in (("charge_current_a", f"{self.charge_current_a:g} A"), ("socket", "a socket")):
            if getattr(self, key) and self.duration_s is None:
                where = "a charger only where duration_min or end is given"
                raise InputProblem("", key, f"{found} while moving", where)
        for key, owner in (("laps", "route"), ("repeats", "trace")):
            if key in self.model_fields_set and getattr(self, owner) is None:
                raise InputProblem("", key, f"{getattr(self, key)} without a {owner}", f"a {owner} beside it")
        return self

    def _check_end(self, end: time) -> None:
        if self.start is None:
            raise InputProblem("", "end", f"{end:%H:%M} without a start", "a start beside it, or duration_min")
        if not 0.0 < (self.duration_s or 0.0) <= LONGEST_BY_END_S:
            expected = "a clock time within 12 hours after the start (past midnight too); for longer, duration_min"
            raise InputProblem("", "end", f"{end:%H:%M} after a start at {self.start:%H:%M}", expected)

    @cached_property
    def start_s(self) -> float | None:
        """Start after midnight of the first day. [s]"""
        return None if self.start is None else (self.day - 1) * DAY_S + _after_midnight_s(self.start)

    @property
    def duration_s(self) -> float | None:
        """How long it stands; None where it moves. An end before the start is the next morning's. [s]"""
        if self.end is not None and self.start is not None:
            return (_after_midnight_s(self.end) - _after_midnight_s(self.start)) % DAY_S
        return None if self.duration_min is None else self.duration_min * 60.0

    @property
    def known_duration_s(self) -> float | None:
        """Duration that does not depend on the vehicle; None for a route. [s]"""
        if self.trace is not None:
            return self.trace.duration_s * self.repeats
        return self.duration_s

    @property
    def least_s(self) -> float:
        """The least time it takes; for a route, at the legs' speed limits. [s]"""
        return self.route.least_s * self.laps if self.route is not None else self.known_duration_s or 0.0

    @property
    def path(self) -> Route | Trace | None:
        """The route or the trace."""
        return self.route if self.route is not None else self.trace

    @property
    def planned_m(self) -> float:
        """Distance to be covered. [m]"""
        if self.route is not None:
            return self.route.length_m * self.laps
        return self.trace.length_m * self.repeats if self.trace is not None else 0.0


class Day(InShort, Unsure):
    """What the vehicle must do from the first activity to the last."""

    key_widths = WIDTHS

    name: Name = quantity("name of the day", "unnamed day", source="the file's name")
    note: str = quantity("where the numbers come from", "")
    ambient_c: float = quantity("air temperature", 20.0, source="mild day; common practice", ge=-20.0, le=50.0)
    altitude_m: float = quantity("height above sea level", 0.0, source="sea level", ge=-500.0, le=6000.0)
    rider_acceleration_mps2: float = quantity(
        "how hard the rider pulls away: acceleration asked for",
        0.8,
        source="gentle start; common practice",
        gt=0.0,
        le=10.0,
    )
    braking_mps2: float = quantity(
        "how hard it brakes: deceleration before stops and lower limits",
        1.0,
        source="gentle stop; common practice",
        gt=0.0,
        le=10.0,
    )
    headwind_mps: float = quantity("wind from ahead; from behind negative", 0.0, source="still air", ge=-30.0, le=30.0)
    start_state_of_charge: float = quantity("state of charge at the start", 1.0, source="full", gt=0.0, le=1.0)
    controller_on: bool = quantity("whether the controller stays on between activities", False, source="switched off")
    lights_on: str | None = quantity(
        "when the lights are on, such as 18:00-22:30: between activities, and in those that do not say it", None
    )
    spare_activity: str | None = quantity(
        "name of the activity that is ridden on after the day to see what is to spare", None
    )
    activity: tuple[Activity, ...] = Field(
        description="what happens, one [[activity]] each", min_length=1, strict=False
    )

    @model_validator(mode="after")
    def _lights_by_the_clock(self) -> Day:
        if self.lights_on is None:
            return self
        times = _FROM_TO.fullmatch(self.lights_on)
        if (
            times is None
            or max(map(int, times.groups()[::2])) > 23
            or not 0.0 < self.lit_s[1] - self.lit_s[0] <= LONGEST_BY_END_S
        ):
            expected = (
                'two clock times such as "18:00-22:30", from when until when (past midnight too), 12 hours at most'
            )
            raise InputProblem("", "lights_on", f'"{self.lights_on}"', expected)
        return self

    @model_validator(mode="after")
    def _has_spare_activity(self) -> Day:
        ridden = [each.name for each in self.activity if each.path is not None]
        if self.spare_activity is not None and self.spare_activity not in ridden:
            expected = "the name of an activity with a route or a trace: " + ", ".join(f'"{name}"' for name in ridden)
            raise InputProblem("", "spare_activity", f'"{self.spare_activity}"', expected)
        return self

    @property
    def lit_s(self) -> tuple[float, float]:
        """When the lights are switched on and off, after each midnight; both 0 where the day does not say it. [s]"""
        if self.lights_on is None:
            return 0.0, 0.0
        hours = [int(part) for part in re.findall(r"\d+", self.lights_on)]
        on, off = 60.0 * (60 * hours[0] + hours[1]), 60.0 * (60 * hours[2] + hours[3])
        return on, off if off > on else off + DAY_S

    @model_validator(mode="after")
    def _in_order(self) -> Day:
        if self.activity[0].start is None:
            wanted = "a clock time such as 13:00:00 for the first activity"
            raise InputProblem("", "activity[1].start", "nothing", wanted)
        earliest = None
        for number, (before, after) in enumerate(pairwise(self.activity), start=2):
            begun = before.start_s if before.start_s is not None else earliest
            known = before.known_duration_s
            earliest = begun + (known or 0.0) if begun is not None else None
            if after.start_s is None or earliest is None or after.start_s >= earliest - 1e-6:
                continue
            found = f'{clock(after.start_s)} for "{after.name}", before "{before.name}"'
            found += f" {'ends' if known else 'starts'} at {clock(earliest)}"
            raise InputProblem("", f"activity[{number}].start", found, "activities that follow one another")
        return self

    def changed(self, values: Mapping[str, Any], name: str | None = None) -> Day:
        """This day with other values, checked as a file is checked: the one way to change a day.

        Parameters
        ----------
        values : mapping of str to object
            As for :meth:`ridesim.Build.changed`, such as ``{"activity[2].laps": 8}``; a route or trace is given loaded.
        name : str, optional
            Another name for the result.

        Returns
        -------
        Day
            This very day where nothing changes.

        Raises
        ------
        InputProblem
            Unknown key, or a value that a file could not have either.

        Examples
        --------
        >>> import ridesim
        >>> ridesim.load_day("harbour_festival").changed({"ambient_f": 50}).ambient_c
        10.0
        """
        table, named = changed_table(self, values, name or self.name)
        if name is not None:
            table["name"] = name
        if not named and name in (None, self.name):
            return self
        return validate(Day, table, name or self.name, stem=self.name)

    @property
    def first_start_s(self) -> float:
        """Start of the first activity after midnight. [s]"""
        start = self.activity[0].start_s
        assert start is not None
        return start

    @property
    def steepest_percent(self) -> float:
        """Steepest climb of the day. [%]"""
        return max((a.path.steepest_percent for a in self.activity if a.path is not None), default=0.0)

    @property
    def steepest_either_way_percent(self) -> float:
        """Steepest slope of the day, up or down. [%]"""
        return max((a.path.steepest_either_way_percent for a in self.activity if a.path is not None), default=0.0)

    @property
    def fastest_kmh(self) -> float:
        """Highest speed the day asks for. [km/h]"""
        return max((a.path.fastest_kmh for a in self.activity if a.path is not None), default=0.0)

    def _short(self) -> tuple[str, Rows]:
        """Start, name and extent of each activity."""
        rows = []
        for each in self.activity:
            start = "then" if each.start_s is None else clock(each.start_s)
            stands = f"{each.duration_s / 60.0:g} min standing" if each.duration_s is not None else ""
            rows.append((start, each.name, stands or f"{each.planned_m / 1000.0:.2f} km"))
        return f"Day “{self.name}”, {self.ambient_c:g} °C", rows


def _after_midnight_s(when: time) -> float:
    return when.hour * 3600.0 + when.minute * 60.0 + when.second + when.microsecond * 1e-6


def clock(seconds: float) -> str:
    """Clock time of seconds after midnight: ``"17:05"``, or ``"day 2, 09:30"``."""
    minutes = int(seconds // 60.0)
    day, minutes = divmod(minutes, 1440)
    text = f"{minutes // 60:02d}:{minutes % 60:02d}"
    return text if day == 0 else f"day {day + 1}, {text}"
