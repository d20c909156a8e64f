"""A ride in figures: the whole day, each activity, and what was noted on the way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import TYPE_CHECKING

if TYPE_CHECKING:
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
    lost_by_pack : bool
        Whether nothing but the pack, or the controller's cut-off, kept the vehicle from finishing.
    ride_on, light : callable
        Rides on after the day; gives the lights' own battery after it. The properties below ask them once.
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
    lost_by_pack: bool
    ride_on: Callable[[], Spare | None] = field(repr=False, compare=False)
    light: Callable[[], LightsBattery | None] = field(repr=False, compare=False)

    @cached_property
    def spare(self) -> Spare | None:
        """What the pack gives when its longest activity is ridden on after the day; None for a day that rides nowhere."""
        return self.ride_on()

    @cached_property
    def lights(self) -> LightsBattery | None:
        """The lights' own battery after the day; None where they have none."""
        return self.light()

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
        noted = [each.name for each in fields(self) if each.name not in ("ride_on", "light")]
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
