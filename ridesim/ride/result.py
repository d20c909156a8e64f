"""What a ride gives back: kept rows, outcome, energy ledger, what was noted on the way."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ridesim.day import Day
from ridesim.day.day import DAY_S, clock
from ridesim.physics.controller import LIMIT_NAMES
from ridesim.ride.core.events import EVENT_NAMES
from ridesim.ride.core.stepper import Rows
from ridesim.ride.pack.refusal import why_refused
from ridesim.vehicle import Build
from ridesim.words import InputProblem, in_short, in_short_html, is_number

if TYPE_CHECKING:
    import pandas as pd

    from ridesim.ride.lights import LightsBattery
    from ridesim.ride.spare import Spare


@dataclass(frozen=True)
class Outcome:
    """The ride in figures.

    Attributes
    ----------
    end_state_of_charge : float
        0 to 1.
    lowest_pack_voltage_v, highest_pack_current_a, rms_motor_current_a, hottest_winding_c : float
        Extremes over the day; the current's root mean square over the whole day, standing included.
    distance_km, planned_distance_km : float
        Covered and planned.
    finished : bool
        Whether every activity was ended as planned.
    seconds_below_command : float
        Time at the largest pull without reaching the commanded speed. [s]
    energy_wh, energy_wh_per_km : float
        From the pack's terminals; a km is NaN where nothing was covered.
    ledger_residual : float
        What the energy ledger leaves unexplained, relative to the energy that went through the pack.
    out_ah, charged_ah, missing_ah : float
        Out of the pack, and into it; and missing from full at the end, as a meter counts: what was missing at the start, and out less in.
    rested_block_v : float
        What a block shows at the end, rested and with nothing connected: by the ampere-hours that were stored, what is lost in
        charging taken off.
    lights : LightsBattery or None
        The lights' own battery after the day; None where they have none.
    lost_by_pack : bool
        Whether nothing but the pack, or the controller's cut-off, kept the vehicle from finishing.
    ride_on : callable
        Rides on after the day; the properties below ask it once.
    """

    end_state_of_charge: float
    lowest_pack_voltage_v: float
    highest_pack_current_a: float
    rms_motor_current_a: float
    hottest_winding_c: float
    distance_km: float
    planned_distance_km: float
    finished: bool
    seconds_below_command: float
    energy_wh: float
    energy_wh_per_km: float
    ledger_residual: float
    out_ah: float
    charged_ah: float
    missing_ah: float
    rested_block_v: float
    lights: LightsBattery | None
    lost_by_pack: bool
    ride_on: Callable[[], Spare | None] = field(repr=False, compare=False)

    @cached_property
    def spare(self) -> Spare | None:
        """What the pack gives when its longest activity is ridden on after the day; None for a day that rides nowhere."""
        return self.ride_on()

    @property
    def spare_to_empty_km(self) -> float | None:
        """Still ridden until the pack is empty or the controller can no longer move it; None as :attr:`spare_km`."""
        return self._spare_km("to_empty_km")

    @property
    def spare_km(self) -> float | None:
        """Still ridden down to the reserve; where the pack lost the day, what was not ridden, negative.

        None where nothing is ridden, or something else than the pack lost the day.
        """
        return self._spare_km("to_reserve_km")

    @property
    def lights_left(self) -> float | None:
        """What is left in the lights' own battery; None where they have none."""
        return None if self.lights is None else self.lights.left

    @property
    def lights_enough_ah(self) -> float | None:
        """Label of a battery that would have a fifth left, as old and in the same air; None where the lights have none. [Ah]"""
        return None if self.lights is None else self.lights.enough_ah

    @property
    def figures(self) -> dict[str, float | bool | None]:
        """All figures by name."""
        asked = ("charged_km", "spare_to_empty_km", "spare_km", "left_at_this_load", "lights_left", "lights_enough_ah")
        noted = [each.name for each in fields(self) if each.name not in ("lights", "ride_on")]
        return {name: getattr(self, name) for name in (*noted, *asked)}

    def _spare_km(self, name: str) -> float | None:
        if not self.finished:
            return self.distance_km - self.planned_distance_km if self.lost_by_pack else None
        return None if self.spare is None else float(getattr(self.spare, name))

    @property
    def charged_km(self) -> float | None:
        """How far what was charged on the way goes, at the day's own ampere-hours a kilometre; None where nothing is ridden. [km]"""
        return (
            self.charged_ah * self.distance_km / self.out_ah if self.out_ah > 0.0 and self.distance_km > 0.0 else None
        )

    @property
    def left_at_this_load(self) -> float | None:
        """Ampere-hours that riding on takes out over what a full pack gives at those currents; None as :attr:`spare_km`."""
        return None if self.spare_km is None or self.spare is None else self.spare.given_ah / self.spare.full_ah


@dataclass(frozen=True, slots=True)
class Stage:
    """How one activity went; times in seconds after midnight of the first day.

    Attributes
    ----------
    name : str
        The activity.
    start_s, end_s, planned_start_s : float
        When it began and ended, and when it should have begun.
    start_charge, end_charge : float
        State of charge.
    distance_m : float
        Covered.
    left, by_pack : bool
        Whether the vehicle left it because it could not move; and whether that was for want of charge or voltage.
    charged_ah : float
        Into the pack, as a meter counts it. [Ah]
    place : str
        Where it left, such as ``"lap 2, leg 3 (8.3 % up)"``.
    lights_ran_out_s : float or None
        When the lights' own battery was empty.
    """

    name: str
    start_s: float
    end_s: float
    planned_start_s: float
    start_charge: float
    end_charge: float
    distance_m: float
    left: bool
    by_pack: bool
    charged_ah: float
    place: str
    lights_ran_out_s: float | None


@dataclass(frozen=True, slots=True)
class Moments:
    """Firsts and longest times; clock in seconds after midnight of the first day, None where it never happened.

    ``cut_off_s`` is the first moment at which the controller's cut-off acts, by folding back or by cutting out; a cut-out
    controller also counts its ``cut_outs``, the ``seconds_cut_out`` with nothing under the throttle while riding, and
    names the ``cut_out_place`` of the first. The worst stall, with its start and largest current, is the one with the largest
    integral of the squared current, ``worst_stall_a2s``. ``starts`` counts the throttle's openings from a stand.
    ``sustained_current_a`` is the largest pack current smoothed over a minute. Downhill a motor without freewheel may drive current back
    into the pack: from the speed ``return_mps`` on, up to ``return_a`` at ``return_v``. ``given_up_s`` is when the calculation was given
    up because the ride took more steps than it may; no figure of such a ride is of use.
    """

    reserve_s: float | None
    cut_off_s: float | None
    empty_s: float | None
    hot_s: float | None
    seconds_hot: float
    worst_stall_s: float
    worst_stall_at_s: float
    worst_stall_a: float
    worst_stall_a2s: float
    sustained_current_a: float
    cut_outs: int = 0
    seconds_cut_out: float = 0.0
    cut_out_place: str = ""
    starts: int = 0
    return_mps: float | None = None
    return_a: float = 0.0
    return_v: float = 0.0
    given_up_s: float | None = None


COLUMNS = (
    "time_s", "speed_mps", "distance_m", "pull_n", "pack_voltage_v", "pack_current_a", "motor_current_a", "duty",
    "state_of_charge", "winding_c", "case_c",
)  # fmt: skip
BETWEEN = "between activities"
SAME_INSTANT_S = 1e-9
"""Rows nearer to each other than this are of one instant. [s]"""
_CLOCK = re.compile(r"(?:day (\d+), *)?(\d{1,2}):([0-5]\d)(?::([0-5]\d))?")


@dataclass(frozen=True, repr=False)
class Ride:
    """A build's day, simulated.

    Attributes
    ----------
    build : Build
    asked : Day
        The day as it was asked for.
    day : Day
        The day as it was ridden: without the charges that were refused.
    battery_model : str
        The capacity law in use.
    outcome : Outcome
    stages : tuple of Stage
        One an activity.
    moments : Moments
    ledger_wh : mapping of str to float
        Energy by destination. [Wh]
    rows : structured ndarray, shape (n,)
        Kept rows with the fields of :class:`ridesim.ride.core.records.Row`, such as ``rows["state_of_charge"]``: one at the start of
        every phase and after every step, so that an instant at which a value jumps has two. None where they were not kept.
    """

    build: Build
    asked: Day
    day: Day
    battery_model: str
    outcome: Outcome
    stages: tuple[Stage, ...]
    moments: Moments
    ledger_wh: Mapping[str, float]
    rows: Rows

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
