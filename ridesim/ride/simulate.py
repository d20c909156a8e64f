"""Moves a build through its day: one build, or many."""

from __future__ import annotations

from collections.abc import Iterable

from ridesim.ride.batch import Rides, ride_all
from ridesim.ride.given import AnyBuild, AnyDay, given_build, given_builds, given_day
from ridesim.ride.result import Ride


def simulate(
    build: AnyBuild,
    day: AnyDay,
    battery_model: str | None = None,
    *,
    keep_rows: bool = True,
    fineness: float = 1.0,
    missing_ah: float | None = None,
) -> Ride:
    """Move a build through its day.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    day : Day, str or Path
        A day, or the name or path of its file.
    battery_model : {"recovery", "peukert", "saturating", "two-well"}, optional
        Capacity law; None: recovery.
    keep_rows : bool
        Whether the ride keeps its steps (:attr:`Ride.frame`, :meth:`Ride.at`).
    fineness : float
        1 for production; 2 halves the integrator's steps.
    missing_ah : float, optional
        Ampere-hours missing from full at the start, what is lost in charging taken off: fewer than the state of charge says where a high
        rate put the rest out of reach. None: as many as a rested pack of that state of charge misses. [Ah]

    Returns
    -------
    Ride
        Its times are in seconds after midnight of the first day, its other values in the units their names say. A charge that the
        day's air or the charger's voltage forbids is not ridden: :attr:`Ride.refused` names it.

    Raises
    ------
    InputProblem
        Missing ampere-hours that are no amount, an unknown capacity law.

    Examples
    --------
    >>> from ridesim import load_build, load_day, simulate
    >>> ride = simulate(load_build("heron_36v"), load_day("harbour_festival"))
    >>> print(f"{ride.outcome.distance_km:.1f} km, and {ride.outcome.spare_km:.1f} km to spare")
    17.0 km, and 0.6 km to spare
    """
    build, day = given_build(build), given_day(day)
    return ride_all([build], day, battery_model, keep_rows=keep_rows, fineness=fineness, missing_ah=missing_ah)[0]


def simulate_many(
    builds: AnyBuild | Iterable[AnyBuild],
    day: AnyDay,
    battery_model: str | None = None,
    *,
    keep_rows: bool = False,
    workers: int | None = None,
) -> Rides:
    """Move many builds through one day on all cores.

    Parameters
    ----------
    builds : Build, str or Path, or several of them
        Builds, or names or paths of their files.
    day : Day, str or Path
        A day, or the name or path of its file.
    battery_model : str, optional
        As in :func:`simulate`.
    keep_rows : bool
        Whether the rides keep their steps. Without them a ride has its outcome, stages, moments and ledger, but neither
        :attr:`Ride.frame` nor :meth:`Ride.at`; both say so when asked.
    workers : int, optional
        Threads; None: as many as there are cores.

    Returns
    -------
    Rides
        A sequence of :class:`Ride` in the order of the builds, and their figures as columns.

    Raises
    ------
    InputProblem
        As :func:`simulate`.

    Examples
    --------
    >>> from ridesim import load_build, load_day, simulate_many
    >>> builds = [load_build(name) for name in ("heron_36v", "heron_48v")]
    >>> rides = simulate_many(builds, load_day("harbour_festival"))
    >>> [f"{ride.outcome.spare_km:.1f} km" for ride in rides]
    ['0.6 km', '4.7 km']
    >>> rides.figures["distance_km"].round(1)
    array([17., 17.])
    """
    return ride_all(given_builds(builds), given_day(day), battery_model, keep_rows=keep_rows, workers=workers)
