"""One build's answers on one day: each computed once, read by findings, tables, pictures and sheet."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from ridesim.ride.result import Ride
from ridesim.ride.steady import SteadyRange
from ridesim.vehicle import Build
from ridesim.words import Finding, InShort, Rows, Uncertain

if TYPE_CHECKING:
    from ridesim.choose.how_sure import Drawn
    from ridesim.choose.measure import Measurement
    from ridesim.choose.remedies import Remedy


@dataclass(frozen=True, repr=False)
class Candidate(InShort):
    """One build's answers.

    Attributes
    ----------
    ride : Ride
        The day, without charges that must not be made.
    end_charge : Uncertain
        State of charge at the end: likely, and the ends of nine in ten draws.
    left, spare_km, spare_to_empty_km : Uncertain or None
        When the vehicle rides on after the day at the load of the day's longest activity: the share of a full pack's charge that it can
        still take out, and how far it goes to the reserve and to empty. As in :class:`ridesim.ride.result.Outcome`, with the same band.
    steady : SteadyRange
        Range at ``steady_speed_kmh`` in the day's air.
    steady_speed_kmh : float
        The day's usual speed, or nine tenths of the top speed where that is less. [km/h]
    range_km : Uncertain
        That range, with the same band. [km]
    top_speed_kmh, top_speed_at_reserve_kmh, top_speed_on_grade_kmh : float
        Pack full, at the reserve, and full on the day's steepest climb. [km/h]
    top_speed_in_reverse_kmh : float
        NaN where the controller cannot reverse this motor. [km/h]
    steepest_start_percent : float
        Steepest slope it starts on, rider aboard, asphalt. [%]
    findings : tuple of Finding
        Worst first.
    drawn : Drawn or None
        What the draws make of it; None until they are ridden, and bands have no width then.
    """

    ride: Ride
    end_charge: Uncertain
    left: Uncertain | None
    spare_km: Uncertain | None
    spare_to_empty_km: Uncertain | None
    steady: SteadyRange
    steady_speed_kmh: float
    range_km: Uncertain
    top_speed_kmh: float
    top_speed_at_reserve_kmh: float
    top_speed_on_grade_kmh: float
    top_speed_in_reverse_kmh: float
    steepest_start_percent: float
    findings: tuple[Finding, ...] = ()
    drawn: Drawn | None = None

    @property
    def banded(self) -> bool:
        """Whether the draws have been ridden."""
        return self.drawn is not None

    @property
    def build(self) -> Build:
        """The build."""
        return self.ride.build

    @property
    def name(self) -> str:
        """The build's own name."""
        return self.ride.build.name

    @property
    def plain_end_charge(self) -> float:
        """State of charge that volts × ampere-hours would leave, less what was used, plus what was charged; NaN for a day not finished."""
        if not self.ride.outcome.finished:
            return math.nan
        label_wh = self.build.pack.nominal_voltage_v * self.build.pack.capacity_ah
        used = self.ride.outcome.energy_wh + self.ride.ledger_wh["charger"]
        return min(1.0, self.ride.day.start_state_of_charge - used / label_wh)

    @cached_property
    def measure_first(self) -> tuple[Measurement, ...]:
        """What would make the answer surer, the most helpful first; empty without draws, or where they all agree."""
        from ridesim.choose.measure import measure_first  # reads the draws, which know candidates

        return () if self.drawn is None else measure_first(self.drawn, self.build.widths)

    @cached_property
    def remedies(self) -> tuple[Remedy, ...]:
        """Single changes that would make it do its day, the surest first; ridden when they are asked for."""
        from ridesim.choose.remedies import remedies  # tries candidates of its own

        return remedies(self)

    @property
    def main_figures(self) -> tuple[str, ...]:
        """Name and main figures in words, for the short forms."""
        outcome = self.ride.outcome
        return (
            self.name,
            f"top speed {self.top_speed_kmh:.1f} km/h",
            f"starts on {self.steepest_start_percent:.1f} %",
            f"rides {outcome.distance_km:.1f} of {outcome.planned_distance_km:.1f} km",
            spare_text(self),
            f"{sum(each.severity == 'stop' for each in self.findings)} of {len(self.findings)} findings say STOP",
        )

    def _short(self) -> tuple[str, Rows]:
        return f"Candidate on {self.ride.asked.name}", [self.main_figures]


def spare_text(c: Candidate) -> str:
    """What is to spare after the day, or what is missing for it, in a few words."""
    spare = c.spare_km
    if spare is None:
        return "not ended by the pack" if not c.ride.outcome.finished else "rides nowhere"
    if spare.value < 0.0:
        return f"the pack ends it {-spare.value:.1f} km early"
    return f"{spare.value:.1f} km ({spare.low:.1f} to {spare.high:.1f}) to spare"
