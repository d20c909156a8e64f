"""What a ride gives back: outcome, stages, energy ledger, what was noted on the way, and the kept rows as a table."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ridesim.day import Day
from ridesim.day.day import DAY_S, clock
from ridesim.physics.capacity_laws import LAW_NAMES
from ridesim.physics.controller import LIMIT_NAMES
from ridesim.ride.core.events import EVENT_NAMES
from ridesim.ride.core.kept import Rows
from ridesim.ride.outcome import Moments, Outcome, Stage
from ridesim.ride.pack.refusal import why_refused
from ridesim.ride.spare import spare_of
from ridesim.ride.summary import ledger_of, lights_and_stages, moments_of
from ridesim.vehicle import Build
from ridesim.words import InputProblem, in_short, in_short_html, is_number

if TYPE_CHECKING:
    import pandas as pd

    from ridesim.ride.batch import Rides


COLUMNS = (
    "time_s", "speed_mps", "distance_m", "pull_n", "pack_voltage_v", "pack_current_a", "motor_current_a", "duty",
    "state_of_charge", "winding_c", "case_c",
)  # fmt: skip
BETWEEN = "between activities"
SAME_INSTANT_S = 1e-9
"""Rows nearer to each other than this are of one instant. [s]"""
_CLOCK = re.compile(r"(?:day (\d+), *)?(\d{1,2}):([0-5]\d)(?::([0-5]\d))?")


@dataclass(frozen=True, repr=False, eq=False)
class Ride:
    """A build's day, simulated: one of the rides of a batch, of which everything is made when it is asked for.

    Attributes
    ----------
    rides : Rides
        The batch.
    place : int
        Which of its rides.
    """

    rides: Rides
    place: int

    @property
    def build(self) -> Build:
        """What rode."""
        return self.rides.builds[self.place]

    @property
    def asked(self) -> Day:
        """The day as it was asked for, with the vehicle's own charger wherever there is a socket."""
        return self.rides.asked[self.place]

    @property
    def day(self) -> Day:
        """The day as it was ridden: with the vehicle's own charger, without the charges that were refused."""
        return self.rides.days[self.place]

    @property
    def battery_model(self) -> str:
        """The capacity law in use."""
        return LAW_NAMES[self.rides.machines["pack"]["law"][self.place]]

    @property
    def rows(self) -> Rows:
        """Kept rows with the fields of :class:`ridesim.ride.core.records.Row`, such as ``rows["state_of_charge"]``: one at the start of
        every phase and after every step, so that an instant at which a value jumps has two. None where they were not kept.
        """
        return self.rides.rows[self.place]

    @cached_property
    def outcome(self) -> Outcome:
        """The ride in figures."""
        rides, place, build, day = self.rides, self.place, self.build, self.day
        figures = {name: column[place].item() for name, column in rides.figures.items()}
        # Not by way of this ride: it would hold itself, as in :meth:`Rides._made`.
        return Outcome(
            **figures,
            ride_on=lambda: spare_of(rides, place),
            light=lambda: lights_and_stages(build, day, rides.notes[place])[0],
        )

    @cached_property
    def stages(self) -> tuple[Stage, ...]:
        """How it went, one an activity."""
        return lights_and_stages(self.build, self.day, self.rides.notes[self.place])[1]

    @cached_property
    def moments(self) -> Moments:
        """Firsts and longest times."""
        return moments_of(self.day, self.rides.runs[self.place], self.stages)

    @cached_property
    def ledger_wh(self) -> Mapping[str, float]:
        """Energy by destination. [Wh]"""
        return ledger_of(self.rides.runs[self.place])

    @property
    def refused(self) -> dict[str, str]:
        """Charges of the day that must not be made and were not ridden: activity and reason."""
        why = why_refused(self.build.pack, self.asked.ambient_c)
        return {each.name: why for each in self.asked.activity if why and each.charge_current_a > 0.0}

    @property
    def clock_s(self) -> NDArray[np.float64]:
        """Seconds after midnight of the first day, one a kept row."""
        return np.asarray(self.rows["time_s"])

    @cached_property
    def frame(self) -> pd.DataFrame:
        """The ride as a table, one row an instant; where a value jumps, the one after the jump stands.

        ``time_s`` counts from the first activity's start, ``clock_s`` from midnight; ``activity`` is its name; ``event`` says what
        happened at the instant: why a phase of the ride ended, and the limit of the pull from here on where another takes over.

        Raises
        ------
        InputProblem
            The rows were not kept.
        """
        import pandas as pd

        rows = self.kept
        last = np.append(np.diff(rows["time_s"]) > SAME_INSTANT_S, True)
        events = self._events(last)
        rows = rows[last]
        frame = pd.DataFrame({name: rows[name] for name in COLUMNS})
        frame["time_s"] -= self.day.first_start_s
        frame["activity"] = [self._activity(index) for index in rows["activity"]]
        frame["clock_s"] = rows["time_s"]
        frame["event"] = events
        return frame

    def at(self, moment: str | float) -> pd.Series:
        """The ride at a clock time, interpolated between the kept rows.

        Parameters
        ----------
        moment : str or float
            ``"16:30"``, ``"16:30:15"``, ``"day 2, 09:30"``, or seconds after midnight of the first day.

        Returns
        -------
        Series
            The columns of :attr:`frame` but the event, the activity by name. Where a value jumps, the one after the jump.

        Raises
        ------
        InputProblem
            No clock time, one outside the day, or a ride without rows.

        Examples
        --------
        >>> from ridesim import load_build, load_day, simulate
        >>> row = simulate(load_build("heron_36v"), load_day("harbour_festival")).at("16:30")
        >>> print(f"{row.activity}: {row.state_of_charge:.0%}")
        Display on the quay: 54%
        """
        import pandas as pd

        rows, seconds = self.kept, _seconds(moment)
        first, last = float(rows["time_s"][0]), float(rows["time_s"][-1])
        if not first <= seconds <= last:
            raise InputProblem("the ride", "at", repr(moment), f"a clock time from {clock(first)} to {clock(last)}")
        after = min(int(np.searchsorted(rows["time_s"], seconds, side="right")), len(rows) - 1)
        ends = rows[[after - 1, after]]
        values: dict[str, Any] = {name: float(np.interp(seconds, ends["time_s"], ends[name])) for name in COLUMNS}
        values["time_s"] = seconds - self.day.first_start_s
        values["activity"] = self._activity(ends["activity"][int(seconds > ends["time_s"][0])])
        values["clock_s"] = seconds
        return pd.Series(values, name=clock(seconds))

    @cached_property
    def ledger(self) -> pd.Series:
        """Energy by destination. [Wh]"""
        import pandas as pd

        return pd.Series(dict(self.ledger_wh), name="Wh")

    def __repr__(self) -> str:
        return in_short(*self._lines())

    def _repr_html_(self) -> str:
        return in_short_html(*self._lines())

    def _lines(self) -> tuple[str, list[tuple[str, str]]]:
        """The ride in a few lines: title, then name and value."""
        outcome, moments = self.outcome, self.moments
        left = [stage for stage in self.stages if stage.left]
        firsts = {
            "down to the reserve": moments.reserve_s,
            "first at the cut-off": moments.cut_off_s,
            "empty": moments.empty_s,
            "calculation given up": moments.given_up_s,
        }
        return f"{self.build.name}: {self.day.name} ({self.battery_model})", [
            ("finished", "yes" if outcome.finished else f'no, left "{left[0].name}" at {left[0].place}'),
            *((f'no charge in "{name}"', why) for name, why in self.refused.items()),
            ("distance", f"{outcome.distance_km:.1f} of {outcome.planned_distance_km:.1f} km"),
            *self._spare(),
            ("energy", f"{outcome.energy_wh:.0f} Wh, {outcome.energy_wh_per_km:.1f} Wh/km"),
            ("lowest pack voltage", f"{outcome.lowest_pack_voltage_v:.1f} V"),
            ("highest pack current", f"{outcome.highest_pack_current_a:.0f} A"),
            ("hottest winding", f"{outcome.hottest_winding_c:.0f} °C"),
            ("slower than wanted", f"{outcome.seconds_below_command:.0f} s"),
            *((name, clock(when)) for name, when in firsts.items() if when is not None),
            ("rows", f"{len(self.rows)}" if len(self.rows) else "not kept: simulate(..., keep_rows=True) keeps them"),
        ]

    def _spare(self) -> list[tuple[str, str]]:
        """What the pack still gives, or what is missing for the day."""
        spare = self.outcome.spare_km
        if spare is None:
            return []
        if spare < 0.0:
            return [("the pack ended it", f"{-spare:.1f} km early")]
        empty = self.outcome.spare_to_empty_km
        return [("still to ride", f"{spare:.1f} km to the reserve, {empty:.1f} km to empty")]

    @property
    def kept(self) -> Rows:
        """The kept rows; refused where there are none."""
        if len(self.rows) == 0:
            raise InputProblem("the ride", "rows", "none kept", "a ride that was simulated with keep_rows=True")
        return self.rows

    def _activity(self, index: int) -> str:
        return self.day.activity[index].name if index >= 0 else BETWEEN

    def _events(self, last: NDArray[np.bool_]) -> list[str]:
        """What happened at each instant, whose last row is marked."""
        instant: NDArray[np.int64] = np.cumsum(last) - last
        marked = self.rows["event"] > 0
        happened = np.zeros(last.sum(), int)
        happened[instant[marked]] = self.rows["event"][marked]
        limits = self.rows["limit"][last]
        limits = np.where(np.diff(limits, prepend=0) != 0, limits, 0)
        names = [
            (EVENT_NAMES[event], limit and LIMIT_NAMES[limit]) for event, limit in zip(happened, limits, strict=True)
        ]
        return ["; ".join(filter(None, each)) for each in names]


def _seconds(moment: str | float) -> float:
    """Seconds after midnight of the first day."""
    if is_number(moment):
        return float(moment)
    found = _CLOCK.fullmatch(moment.strip()) if isinstance(moment, str) else None
    if found is None or int(found[2]) > 23 or found[1] == "0":
        raise InputProblem(
            "the ride", "at", repr(moment), 'a clock time such as "16:30", "day 2, 09:30", or seconds after midnight'
        )
    day, hours, minutes, seconds = (
        int(part or default) for part, default in zip(found.groups(), (1, 0, 0, 0), strict=True)
    )
    return (day - 1) * DAY_S + 3600.0 * hours + 60.0 * minutes + seconds
