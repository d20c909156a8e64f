"""Many builds through one day: packed into arrays of records, ridden by the compiled core on all cores, given back as columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, overload
from weakref import WeakValueDictionary

import numpy as np
from numpy.typing import NDArray

from ridesim.day import Day
from ridesim.physics.road import air_density
from ridesim.ride.core import journey
from ridesim.ride.core import places as at
from ridesim.ride.core.journey import Programme, Records
from ridesim.ride.core.kept import Rows, no_rows
from ridesim.ride.core.pack import charges_at
from ridesim.ride.core.records import Array, Note, Row, Run, Setting, records, structure
from ridesim.ride.grip import axle_shares
from ridesim.ride.machine import machines_of
from ridesim.ride.pack.refusal import plugged_in, ridden_day
from ridesim.ride.parallel import in_parallel
from ridesim.ride.programme import most_tries, programme
from ridesim.ride.result import Ride
from ridesim.ride.spare import ride_on
from ridesim.ride.start import EMPTY_TALLY, charges_missing, start_charge
from ridesim.ride.summary import figures
from ridesim.vehicle import Build

FIRST_ROWS = 1024
"""Room for kept rows at the start; the core doubles it when full."""


@dataclass(eq=False)
class Rides(Sequence[Ride]):
    """Rides of several builds through one day, in the order of the builds; each is made into a :class:`Ride` when asked for.

    Attributes
    ----------
    builds : sequence of Build
    given : Day
        The day; where each build rides one with numbers of its own, the first of them.
    asked : sequence of Day
        The same as each build was asked to ride it: with its own charger wherever there is a socket.
    days : sequence of Day
        And as each rides it: without charges that must not be made.
    day : Programme
        The day as arrays.
    machines, settings, runs, notes : structured ndarray
        The core's records, see :mod:`ridesim.ride.core.records`.
    chargers : ndarray, shape (n, activities)
        Current of the charger. [A]
    missing_at_start : ndarray, shape (n,)
        Share of the charge that is missing from full at the start.
    rows : list of ndarray
        Kept rows of each ride.
    workers : int, optional
        Threads; None: as many as there are cores.
    """

    builds: Sequence[Build]
    given: Day
    asked: Sequence[Day]
    days: Sequence[Day]
    day: Programme
    machines: Records
    settings: Records
    chargers: Array
    runs: Records
    notes: Records
    missing_at_start: Array
    rows: list[Rows]
    workers: int | None = None

    def __len__(self) -> int:
        return len(self.builds)

    @overload
    def __getitem__(self, index: int) -> Ride: ...
    @overload
    def __getitem__(self, index: slice) -> list[Ride]: ...
    def __getitem__(self, index: int | slice) -> Ride | list[Ride]:
        if isinstance(index, slice):
            return [self[i] for i in range(*index.indices(len(self)))]
        place = range(len(self))[index]
        return self._made.setdefault(place, Ride(self, place))

    @cached_property
    def _made(self) -> WeakValueDictionary[int, Ride]:
        # A batch and a ride that held each other would be given back late, by a collection that stops a panel for a second.
        return WeakValueDictionary()

    @cached_property
    def figures(self) -> dict[str, NDArray[Any]]:
        """The outcomes' figures as columns, one value a ride."""
        return figures(self)

    @cached_property
    def spare(self) -> dict[str, Array] | None:
        """What each pack still gives when an activity is ridden on after the day, as columns; None for a day that rides nowhere."""
        return ride_on(self)


def ride_all(
    builds: Sequence[Build],
    day: Day | Sequence[Day],
    battery_model: str | None = None,
    *,
    keep_rows: bool = False,
    workers: int | None = None,
    fineness: float = 1.0,
    missing_ah: float | None = None,
    ratios: Array | None = None,
) -> Rides:
    """Move builds through a day; parameters as in :func:`ridesim.simulate` and :func:`ridesim.simulate_many`.

    There may be a day for each build: the same activities, with other numbers of air, rider and charger. ``ratios`` takes the place of
    the builds' own: one build with a thousand sprockets is then checked once and not a thousand times.
    """
    rides = packed(builds, day, battery_model, fineness, missing_ah)
    if ratios is not None:
        rides.machines["ratio"] = ratios
    rides.workers = workers
    given = rides.runs, rides.machines, rides.settings, rides.chargers, rides.day, rides.notes
    if not keep_rows:
        in_parallel(lambda first, last: journey.ride_days(first, last, *given, no_rows()), rides.runs, workers)
        return rides
    rides.rows = [np.empty(FIRST_ROWS, structure(Row)) for _ in builds]

    def keeping(first: int, last: int) -> None:
        for i in range(first, last):
            rides.rows[i] = journey.ride_days(i, i + 1, *given, rides.rows[i])[: rides.runs[i].used]

    in_parallel(keeping, rides.runs, workers)
    return rides


def packed(
    builds: Sequence[Build],
    day: Day | Sequence[Day],
    battery_model: str | None,
    fineness: float = 1.0,
    missing_ah: float | None = None,
) -> Rides:
    """Rides that have not begun: rested, all at the air's temperature, nothing noted."""
    count = len(builds)
    given = [day] * count if isinstance(day, Day) else day
    day = day if isinstance(day, Day) else day[0]
    plugged = [
        each if build.charger is None else plugged_in(each, build.charger.current_a)
        for build, each in zip(builds, given, strict=True)
    ]
    days = [ridden_day(build.pack, each) for build, each in zip(builds, plugged, strict=True)]
    ambient = np.array([each.ambient_c for each in given])
    machines = machines_of(builds, ambient, battery_model)
    runs = np.zeros(count, structure(Run))
    runs["tally"] = EMPTY_TALLY
    runs["fineness"], runs["activity"], runs["every"], runs["most_tries"] = fineness, -1, 1, most_tries(day)
    now = runs["w"][:, at.NOW]
    for i, (build, each) in enumerate(zip(builds, given, strict=True)):
        begin = start_charge(build.pack, each)
        runs["out"]["charge"][i] = begin
        now[i, [at.LEFT, at.MISSING, at.FILTERED]] = (
            charges_at(begin) if missing_ah is None else charges_missing(begin, missing_ah, machines[i]["pack"])
        )
    now[:, at.WINDING] = now[:, at.CASE] = ambient
    now[:, at.TIME] = day.first_start_s
    return Rides(
        builds=builds,
        given=day,
        asked=plugged,
        days=days,
        day=programme(day),
        machines=machines,
        settings=records(Setting, [_setting(build, each) for build, each in zip(builds, given, strict=True)]),
        chargers=np.array([[each.charge_current_a for each in one.activity] for one in days]).reshape(
            count, len(day.activity)
        ),
        runs=runs,
        notes=np.zeros((count, len(day.activity)), structure(Note)),
        missing_at_start=now[:, at.MISSING].copy(),
        rows=[no_rows()] * count,
    )


def _setting(build: Build, day: Day) -> dict[str, float]:
    """What a ride is given besides its build's numbers."""
    aboard, alone = axle_shares(build), axle_shares(build, aboard=False)
    lit_from, lit_to = day.lit_s
    return {
        "wanted": day.rider_acceleration_mps2,
        "braking": day.braking_mps2,
        "mass_aboard": build.total_mass_kg(),
        "mass_alone": build.total_mass_kg(aboard=False),
        "load_share_aboard": aboard.load,
        "load_share_alone": alone.load,
        "height_share_aboard": aboard.height,
        "height_share_alone": alone.height,
        "density": air_density(day.altitude_m, day.ambient_c),
        "headwind": day.headwind_mps,
        "ambient": day.ambient_c,
        "on_between": day.controller_on,
        "lights": _lights_w(build),
        "lit_from": lit_from,
        "lit_to": lit_to,
    }


def _lights_w(build: Build) -> float:
    """What all lights take from the main pack. [W]"""
    lighting = build.lighting
    if lighting is None or lighting.supply == "own-battery":
        return 0.0
    return lighting.power_w / lighting.converter_efficiency
