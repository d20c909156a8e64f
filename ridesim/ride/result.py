"""What a ride gives back: kept rows, outcome, energy ledger, what was noted on the way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ridesim.day import Day
from ridesim.vehicle import Build

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True)
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
    distance_m, planned_m : float
        Covered and planned.
    left : bool
        Whether the vehicle left it because it could not move.
    place : str
        Where it left, such as ``"lap 2, leg 3 (8.3 % up)"``.
    charge_out_ah : float
        Discharge during the activity.
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
    planned_m: float
    left: bool
    place: str
    charge_out_ah: float
    lights_ran_out_s: float | None


@dataclass(frozen=True, slots=True)
class Moments:
    """Firsts and longest times; clock in seconds after midnight of the first day, None where it never happened.

    ``cut_off_s`` is the first moment at which the controller's cut-off acts, by folding back or by cutting out; a cut-out
    controller also counts its ``cut_outs``, the ``seconds_cut_out`` with nothing under the throttle while riding, and
    names the ``cut_out_place`` of the first. The worst stall, with its start and largest current, is the one with the largest
    integral of the squared current, ``worst_stall_a2s``. ``starts`` counts the throttle's openings from a stand.
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
    lights_end_charge: float | None
    cut_outs: int = 0
    seconds_cut_out: float = 0.0
    cut_out_place: str = ""
    starts: int = 0


COLUMNS = (
    "time_s", "speed_mps", "distance_m", "pull_n", "pack_voltage_v", "pack_current_a", "motor_current_a", "duty",
    "state_of_charge", "winding_c", "case_c",
)  # fmt: skip


@dataclass(frozen=True)
class Ride:
    """A build's day, simulated.

    Attributes
    ----------
    build : Build
    day : Day
    battery_model : str
        The capacity law in use.
    outcome : Outcome
    stages : tuple of Stage
        One an activity.
    moments : Moments
    ledger_wh : mapping of str to float
        Energy by destination. [Wh]
    rows : ndarray, shape (n, 14)
        Kept steps, SI; :attr:`frame` names the first; the last is the capacity law's second charge.
    row_activity : ndarray of int, shape (n,)
        Index of the activity of a row, -1 between activities.
    steps, evaluations : int
        Accepted steps of the integrator, evaluations of the equations.
    """

    build: Build
    day: Day
    battery_model: str
    outcome: Outcome
    stages: tuple[Stage, ...]
    moments: Moments
    ledger_wh: Mapping[str, float]
    rows: NDArray[np.float64]
    row_activity: NDArray[np.int64]
    steps: int
    evaluations: int

    @property
    def clock_s(self) -> NDArray[np.float64]:
        """Seconds after midnight of the first day, one a kept row."""
        return np.asarray(self.rows[:, 0])

    @cached_property
    def frame(self) -> pd.DataFrame:
        """One row a kept step; ``time_s`` counts from the first activity's start, ``clock_s`` from midnight."""
        import pandas as pd

        frame = pd.DataFrame(self.rows[:, : len(COLUMNS)], columns=list(COLUMNS))
        frame["time_s"] -= self.day.first_start_s
        names = [*(a.name for a in self.day.activity), "between activities"]
        frame["activity"] = [names[index] for index in self.row_activity]  # -1 is the last name
        frame["clock_s"] = self.rows[:, 0]
        return frame

    @cached_property
    def ledger(self) -> pd.Series:
        """Energy by destination. [Wh]"""
        import pandas as pd

        return pd.Series(dict(self.ledger_wh), name="Wh")
