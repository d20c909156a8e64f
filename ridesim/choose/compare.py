"""Compare builds on one day: figures, bands, findings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from ridesim.choose.findings.day import findings_for
from ridesim.choose.findings.pack import ridden_day
from ridesim.day import Day
from ridesim.ride.pack.laws import available_laws
from ridesim.ride.result import Ride
from ridesim.ride.simulate import simulate
from ridesim.ride.steady import SteadyRange, steady_range, steepest_start_percent, top_speed_kmh
from ridesim.vehicle import Build
from ridesim.words import Finding, Uncertain

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True)
class Candidate:
    """One build's answers.

    Attributes
    ----------
    name : str
        The build's own name.
    ride : Ride
        The day under the law in use, without charges that must not be made.
    end_charge : Uncertain
        State of charge at the end: the law in use, the lowest and the highest of all laws.
    steady : SteadyRange
        Range at the day's usual speed, or at nine tenths of the top speed where that is less.
    steady_speed_kmh : float
        That speed.
    range_km : Uncertain
        The same over all laws. [km]
    top_speed_kmh, top_speed_at_reserve_kmh, top_speed_on_grade_kmh, steepest_start_percent : float
        Full, at the reserve, on the day's steepest climb; slope it starts on.
    findings : tuple of Finding
        Worst first.
    """

    name: str
    ride: Ride
    end_charge: Uncertain
    steady: SteadyRange
    steady_speed_kmh: float
    range_km: Uncertain
    top_speed_kmh: float
    top_speed_at_reserve_kmh: float
    top_speed_on_grade_kmh: float
    steepest_start_percent: float
    findings: tuple[Finding, ...]

    @property
    def plain_end_charge(self) -> float:
        """State of charge that volts × ampere-hours less the watt-hours used would leave; NaN for a day that is not finished."""
        if not self.ride.outcome.finished:
            return math.nan
        pack = self.ride.build.pack
        label = pack.nominal_voltage_v * pack.capacity_ah
        return self.ride.day.start_state_of_charge - self.ride.outcome.energy_wh / label


def usual_speed_kmh(day: Day) -> float:
    """Mean of the commanded speeds, weighted by distance. [km/h]"""
    metres, weighted = 0.0, 0.0
    for activity in day.activity:
        if activity.route is not None:
            for leg in activity.route.legs:
                metres += leg.length_m * activity.laps
                weighted += leg.length_m * activity.laps * leg.speed_kmh
        elif activity.trace is not None and activity.trace.length_m > 0.0:
            metres += activity.planned_m
            weighted += activity.planned_m * 3.6 * activity.trace.length_m / activity.trace.duration_s
    return weighted / metres if metres > 0.0 else 0.0


def candidate(build: Build, day: Day, *, ride: Ride | None = None, laws: Sequence[str] | None = None) -> Candidate:
    """Everything that a comparison says about one build.

    Parameters
    ----------
    build : Build
        A validated build.
    day : Day
        The day it is to do. A charge that its air or the charger's voltage refuses is not ridden (a finding says so).
    ride : Ride, optional
        The build's day where it is simulated already.
    laws : sequence of str, optional
        Capacity laws for the bands; all that the pack has by default, none (``()``) for an answer without bands, in a third of the time.
    """
    asked, day = day, ridden_day(build.pack, day)
    ride = simulate(build, day) if ride is None else ride
    laws = available_laws(build.pack) if laws is None else laws
    others = [simulate(build, day, law, keep_rows=False) for law in laws if law != ride.battery_model]
    ends = [each.outcome.end_state_of_charge for each in (ride, *others)]
    top = top_speed_kmh(build)
    speed = min(usual_speed_kmh(day) or 10.0, 0.9 * top)
    if speed > 0.0:
        ranges = {law: steady_range(build, speed, law) for law in dict.fromkeys((ride.battery_model, *laws))}
        steady = ranges[ride.battery_model]
        lengths = [each.distance_km for each in ranges.values()]
    else:
        steady, lengths = SteadyRange(0.0, 0.0, 0.0, "cannot move", math.nan, 0.0), [0.0]
    start = steepest_start_percent(build)
    at_reserve = top_speed_kmh(build, build.pack.reserve)
    return Candidate(
        name=build.name,
        ride=ride,
        end_charge=Uncertain(ends[0], min(ends), max(ends)),
        steady=steady,
        steady_speed_kmh=speed,
        range_km=Uncertain(steady.distance_km, min(lengths), max(lengths)),
        top_speed_kmh=top,
        top_speed_at_reserve_kmh=at_reserve,
        top_speed_on_grade_kmh=top_speed_kmh(build, grade_percent=day.steepest_percent),
        steepest_start_percent=start,
        findings=tuple(findings_for(ride, top, at_reserve, asked)),
    )


@dataclass(frozen=True)
class Comparison:
    """Builds side by side on one day.

    Attributes
    ----------
    day : Day
    candidates : tuple of Candidate
        In the order of the builds.
    """

    day: Day
    candidates: tuple[Candidate, ...]

    @property
    def rides(self) -> tuple[Ride, ...]:
        """The rides, one a build."""
        return tuple(each.ride for each in self.candidates)

    @property
    def findings(self) -> dict[str, tuple[Finding, ...]]:
        """Findings by the build's name, worst first."""
        return {each.name: each.findings for each in self.candidates}

    @cached_property
    def table(self) -> pd.DataFrame:
        """One column a build, one row a figure; numbers, units in the row names."""
        import pandas as pd

        return pd.DataFrame({each.name: figures(each) for each in self.candidates})

    def as_json(self) -> dict[str, Any]:
        """The comparison as plain data for ``--json``; unknown numbers are None."""
        return {"builds": [_plain(each) for each in self.candidates]}


def compare(builds: Sequence[Build], day: Day) -> Comparison:
    """Compare builds on one day.

    Parameters
    ----------
    builds : sequence of Build
        One or more, each with its own name.
    day : Day
        The day they all do.

    Returns
    -------
    Comparison
        With ``table``, ``findings`` and ``rides``.

    Raises
    ------
    InputProblem
        A motor that contradicts its nameplate.
    ValueError
        No build at all, or two builds of one name.
    """
    names = [build.name for build in builds]
    if not names:
        raise ValueError("compare needs at least one build")
    for name in names:
        if names.count(name) > 1:
            raise ValueError(f'two builds are called "{name}": give each its own name')
    with ThreadPoolExecutor(2) as pool:
        return Comparison(day, tuple(pool.map(lambda build: candidate(build, day), builds)))


def figures(each: Candidate) -> dict[str, Any]:
    """A candidate's figures by name, in the order of the table."""
    build, outcome = each.ride.build, each.ride.outcome
    return {
        "mass_kg": build.total_mass_kg(),
        "pack_mass_kg": build.pack.mass_kg,
        "pack_voltage_v": build.pack.nominal_voltage_v,
        "gear_ratio": build.drive.ratio,
        "top_speed_kmh": each.top_speed_kmh,
        "top_speed_at_reserve_kmh": each.top_speed_at_reserve_kmh,
        "top_speed_on_steepest_kmh": each.top_speed_on_grade_kmh,
        "steepest_start_percent": each.steepest_start_percent,
        "steady_speed_kmh": each.steady_speed_kmh,
        "steady_range_km": each.range_km.value,
        "steady_range_low_km": each.range_km.low,
        "steady_range_high_km": each.range_km.high,
        "plain_range_km": each.steady.plain_km,
        "finished": outcome.finished,
        "distance_km": outcome.distance_km,
        "planned_distance_km": outcome.planned_distance_km,
        "end_state_of_charge": each.end_charge.value,
        "end_state_of_charge_low": each.end_charge.low,
        "end_state_of_charge_high": each.end_charge.high,
        "plain_end_state_of_charge": each.plain_end_charge,
        "lowest_pack_voltage_v": outcome.lowest_pack_voltage_v,
        "highest_pack_current_a": outcome.highest_pack_current_a,
        "hottest_winding_c": outcome.hottest_winding_c,
        "winding_limit_c": build.motor.winding_limit_c,
        "energy_wh": outcome.energy_wh,
        "energy_wh_per_km": outcome.energy_wh_per_km,
        "ledger_residual": outcome.ledger_residual,
    }


def _plain(each: Candidate) -> dict[str, Any]:
    """One build for ``--json``: the keys that other programs rely on, no more, no fewer."""

    def clean(value: Any) -> Any:
        return None if isinstance(value, float) and not math.isfinite(value) else value

    build = each.ride.build
    return {
        "name": each.name,
        "top_speed_kmh": clean(each.top_speed_kmh),
        "steepest_start_percent": clean(each.steepest_start_percent),
        "steady_range_km": clean(each.range_km.value),
        "mass_kg": build.total_mass_kg(),
        "pack_mass_kg": build.pack.mass_kg,
        "outcome": {name: clean(value) for name, value in asdict(each.ride.outcome).items()},
        "findings": [{"code": f.code, "severity": f.severity, "text": f.text} for f in each.findings],
    }
