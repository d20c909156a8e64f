"""Compare builds on one day: figures, bands, findings."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.choose.candidate import Candidate
from ridesim.choose.how_sure import DRAWS
from ridesim.choose.likely import with_bands, without_bands
from ridesim.choose.verdict import Verdict, judge
from ridesim.day import Day
from ridesim.ride.given import AnyBuild, AnyDay, given_builds, given_day
from ridesim.ride.result import Ride
from ridesim.ride.simulate import simulate_many
from ridesim.vehicle import Build
from ridesim.words import Finding, InputProblem, InShort, Rows, Uncertain, ends

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, repr=False)
class Comparison(InShort):
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
    def verdicts(self) -> tuple[Verdict, ...]:
        """Whether each does its day, one a candidate."""
        return tuple(judge(each) for each in self.candidates)

    @cached_property
    def bands(self) -> pd.DataFrame:
        """Figures with the ends between which nine in ten draws lie: columns candidate, figure, low, likely, high.

        Empty without draws; a figure that follows from no draw, such as the gear ratio, is left out.
        """
        import pandas as pd

        rows = []
        for c in self.candidates:
            for name, value in figures(c).items():
                if c.drawn is None or name not in c.drawn.figures or isinstance(value, bool):
                    continue
                band = c.drawn.band(name, value)
                rows.append((c.name, name, band.low, band.value, band.high))
        return pd.DataFrame(rows, columns=["candidate", "figure", "low", "likely", "high"])

    @cached_property
    def hangs_on(self) -> pd.DataFrame:
        """What each candidate's distance to empty hangs on: columns candidate, cause, km, largest first; empty without draws.

        ``km`` is how far the distance moves when the cause alone is at the end of its width.
        """
        import pandas as pd

        rows = [
            (c.name, cause, km)
            for c in self.candidates
            if c.drawn is not None
            for cause, km in c.drawn.hangs_on.items()
        ]
        return pd.DataFrame(rows, columns=["candidate", "cause", "km"])

    def goes_further(self, one: int, other: int) -> float:
        """Share of the draws in which a candidate has more to spare than another, by their places; NaN without draws."""
        first, second = (self.candidates[place].drawn for place in (one, other))
        if first is None or second is None:
            return math.nan
        return float(np.mean(first.figures["to_empty_km"] > second.figures["to_empty_km"]))

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row a build, one column a figure, units in the columns' names; ``finished`` is bool, all others float."""
        import pandas as pd

        return pd.DataFrame([figures(each) for each in self.candidates], index=[each.name for each in self.candidates])

    def as_json(self) -> dict[str, Any]:
        """The comparison as plain data for ``--json``; unknown numbers are None."""
        return {"builds": [_plain(*each) for each in zip(self.candidates, self.verdicts, strict=True)]}

    def _short(self) -> tuple[str, Rows]:
        return f"Comparison on {self.day.name}", [(each.name, each.sentence) for each in self.verdicts]


def compare(builds: AnyBuild | Iterable[AnyBuild], day: AnyDay, draws: int = DRAWS) -> Comparison:
    """Compare builds on one day: will each do it, how sure is that, what does it hang on.

    Parameters
    ----------
    builds : Build, str or Path, or several of them
        Builds, or names or paths of builds; each with a name of its own.
    day : Day, str or Path
        The day they all do, or the name or path of its file.
    draws : int
        Vehicles and days that are drawn from the widths of the files and ridden, 32 to 4096. 0: the likely values
        alone.

    Returns
    -------
    Comparison
        ``verdicts``, ``table`` (a row a build), ``bands``, ``hangs_on``, ``findings`` (by build), ``rides`` and ``candidates``.

    Raises
    ------
    InputProblem
        A file that is not good, no build at all, two of one name, another number of draws.
    TypeError
        Something else than builds and a day.

    Examples
    --------
    >>> import ridesim
    >>> comparison = ridesim.compare(["heron_36v", "heron_48v"], "harbour_festival")
    >>> comparison.table["top_speed_kmh"].round(1).to_dict()
    {'Heron, 36 V': 24.2, 'Heron, 48 V': 32.4}
    >>> [verdict.level for verdict in comparison.verdicts]
    ['doubt', 'yes']
    """
    chosen, asked = given_builds(builds), given_day(day)
    need_own_names(chosen)
    rides = simulate_many(chosen, asked, keep_rows=True)
    candidates = tuple(without_bands(ride) for ride in rides)
    return Comparison(asked, with_bands(candidates, asked, draws) if draws else candidates)


def need_own_names(builds: Sequence[Build]) -> None:
    """Refuse an empty comparison, and two builds of one name.

    Raises
    ------
    InputProblem
        Says which name.
    """
    if not builds:
        raise InputProblem("the builds", "", "none", "one at least")
    names = [build.name for build in builds]
    for name in names:
        if names.count(name) > 1:
            raise InputProblem("the builds", "name", f"“{name}” twice", "a name of its own for each")


def figures(c: Candidate) -> dict[str, float | bool]:
    """A candidate's figures by name, in the order of the table."""
    build, outcome = c.build, c.ride.outcome
    return {
        "mass_kg": build.total_mass_kg(),
        "pack_mass_kg": build.pack.mass_kg,
        "pack_voltage_v": build.pack.nominal_voltage_v,
        "gear_ratio": build.drive.ratio,
        "top_speed_kmh": c.top_speed_kmh,
        "top_speed_at_reserve_kmh": c.top_speed_at_reserve_kmh,
        "top_speed_on_steepest_kmh": c.top_speed_on_grade_kmh,
        "steepest_start_percent": c.steepest_start_percent,
        "steady_speed_kmh": c.steady_speed_kmh,
        "steady_range_km": c.range_km.value,
        "steady_range_low_km": c.range_km.low,
        "steady_range_high_km": c.range_km.high,
        "plain_range_km": c.steady.plain_km,
        "finished": outcome.finished,
        "distance_km": outcome.distance_km,
        "planned_distance_km": outcome.planned_distance_km,
        **dict(zip(("spare_km", "spare_low_km", "spare_high_km"), ends(c.spare_km), strict=True)),
        "left_at_this_load": ends(c.left)[0],
        "end_state_of_charge": c.end_charge.value,
        "end_state_of_charge_low": c.end_charge.low,
        "end_state_of_charge_high": c.end_charge.high,
        "plain_end_state_of_charge": c.plain_end_charge,
        "lowest_pack_voltage_v": outcome.lowest_pack_voltage_v,
        "highest_pack_current_a": outcome.highest_pack_current_a,
        "hottest_winding_c": outcome.hottest_winding_c,
        "winding_limit_c": build.motor.winding_limit_c,
        "energy_wh": outcome.energy_wh,
        "energy_wh_per_km": outcome.energy_wh_per_km,
        "ledger_residual": outcome.ledger_residual,
    }


def _ends(band: Uncertain | None) -> dict[str, float] | None:
    return None if band is None else {"low": band.low, "likely": band.value, "high": band.high}


def _plain(c: Candidate, verdict: Verdict) -> dict[str, Any]:
    """One build for ``--json``: the keys that other programs rely on, no more, no fewer."""

    def clean(value: Any) -> Any:
        return None if isinstance(value, float) and not math.isfinite(value) else value

    numbers = figures(c)
    main = ("top_speed_kmh", "steepest_start_percent", "steady_range_km", "mass_kg", "pack_mass_kg")
    return {
        "name": c.name,
        "verdict": {
            "level": verdict.level,
            "sentence": verdict.sentence,
            "chance": verdict.chance,
            "wishes": dict(verdict.wishes),
            "spare_km": _ends(verdict.spare_km),
            "spare_to_empty_km": _ends(verdict.spare_to_empty_km),
            "spare_laps": _ends(verdict.spare_laps),
            "measure_first": [{"what": m.what, "minutes": m.minutes, "sure": m.sure} for m in verdict.measure_first],
            "remedies": [{"what": r.what, "chance": r.chance} for r in verdict.remedies],
            "unstated": verdict.unstated,
            "decides": [{"key": key, "km": km} for key, km in verdict.decides],
        },
        **{name: clean(numbers[name]) for name in main},
        "outcome": {name: clean(value) for name, value in c.ride.outcome.figures.items()},
        "findings": [{"code": each.code, "severity": each.severity, "text": each.text} for each in c.findings],
    }
