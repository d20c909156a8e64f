"""Where the motor's shaft may sit for a chain of so many links: arcs round the wheel's axle, clear of tyre and pivot; an idler instead."""

from __future__ import annotations

from cmath import phase, rect
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from math import degrees, pi, radians

from ridesim.ride.given import AnyBuild, given_build
from ridesim.sizing.chain import centre_distance_exact, pitch_diameter_mm
from ridesim.sizing.chain_fit import ChainFit, chain_fit
from ridesim.sizing.layout import PIVOT_ROOM_MM, Layout, layout
from ridesim.sizing.loop import Laid, Round, laid_round
from ridesim.sizing.swing import Swing, swing_at
from ridesim.words import InputProblem, InShort, Rows

STEP_DEGREES = 1.0
SEARCHED = 2
"""One place of an arc in so many is tried for the least change."""
IDLER_TEETH = 13
LEAST_IDLER_TEETH = 3
"""Teeth of an idler in mesh: chain makers' catalogues (from memory)."""


@dataclass(frozen=True)
class Arc:
    """Places of the shaft for one number of links.

    Attributes
    ----------
    links : int
    near : tuple of complex
        Where the chain is tight with the adjuster at its shortest, clear of tyre, pivot and ground. [m]
    far : tuple of complex
        The same with the adjuster at its longest. Empty without the adjuster's travel.
    band : tuple of tuple of complex
        Outlines of what lies between the two, where the chain fits.
    """

    links: int
    near: tuple[complex, ...]
    far: tuple[complex, ...]
    band: tuple[tuple[complex, ...], ...]


@dataclass(frozen=True, repr=False)
class Mounting(InShort):
    """Where the small sprocket's shaft is, and where else it may be.

    Attributes
    ----------
    fit : ChainFit
        Of the chain where the shaft is.
    layout : Layout
    shaft : complex
        As stated, else in line with the adjuster at the stated distance. [m]
    arcs : tuple of Arc
        For two links less, as many, and two more.
    clear_tyre_mm, clear_pivot_mm : float or None
        Room between motor and tyre, and pivot; less than 0: they touch. None without a pivot.
    swing : Swing or None
        What the arm's travel does to the chain; None without a pivot.
    calmest : tuple of (complex, Swing) or None
        The place on the arc of as many links where the arm's travel changes the chain least.
    """

    fit: ChainFit
    layout: Layout
    shaft: complex
    arcs: tuple[Arc, ...]
    clear_tyre_mm: float
    clear_pivot_mm: float | None
    swing: Swing | None
    calmest: tuple[complex, Swing] | None

    @property
    def touches(self) -> str:
        """What the motor would touch, in words; empty where it is clear."""
        found = [f"the tyre by {-self.clear_tyre_mm:.0f} mm"] if self.clear_tyre_mm < 0.0 else []
        if self.clear_pivot_mm is not None and self.clear_pivot_mm < 0.0:
            found.append(f"the swinging arm's pivot by {-self.clear_pivot_mm:.0f} mm")
        return " and ".join(found)

    @property
    def level_degrees(self) -> float:
        """How steeply the chain's line of centres climbs from axle to shaft."""
        angle = degrees(phase(self.shaft - self.layout.axle))
        return angle if abs(angle) <= 90.0 else (180.0 - abs(angle)) * (1.0 if angle > 0.0 else -1.0)

    @property
    def slack_span(self) -> str:
        """Which span is slack while it pulls forwards."""
        return "lower" if self.shaft.real >= self.layout.axle.real else "upper"

    def _short(self) -> tuple[str, Rows]:
        tyre = f"{self.clear_tyre_mm:.0f} mm between motor and tyre"
        pivot = "" if self.clear_pivot_mm is None else f", {self.clear_pivot_mm:.0f} mm to the pivot"
        rows = [
            ("shaft", f"{self.shaft.real:.3f} m forward, {self.shaft.imag:.3f} m up"),
            ("fit", self.fit.sentence),
            ("room", tyre + pivot),
        ]
        if self.swing is not None:
            rows.append(("arm's travel", self.swing.sentence))
        if self.calmest is not None:
            at, calm = self.calmest
            rows.append(("least change", f"{calm.spread_mm:.1f} mm at {at.real:.3f} m forward, {at.imag:.3f} m up"))
        return f"Shaft of {self.fit.motor_teeth} teeth, chain {self.fit.chain.name}", rows


def mounting(build: AnyBuild) -> Mounting:
    """Where the shaft of the last chain's small sprocket is, and where it may be.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file, with a chain that drives the wheel's own sprocket.

    Returns
    -------
    Mounting

    Raises
    ------
    InputProblem
        As :func:`ridesim.sizing.chain_fit.chain_fit`; another stage between the last chain and the wheel.

    Notes
    -----
    A chain of L links is tight where the shaft is at the exact centre distance of L from the axle. The adjuster carries the axle from its
    shortest to its longest place, so that every shaft between the two circles fits.

    Examples
    --------
    >>> found = mounting("heron_36v")
    >>> [arc.links for arc in found.arcs], found.slack_span
    ([108, 110, 112], 'lower')
    """
    build = given_build(build)
    fit, place = chain_fit(build), layout(build)
    if build.drive.chains[-1].after != 1.0:
        raise InputProblem(
            build.name,
            "drive.stage",
            "another stage behind the last chain",
            "a chain that drives the wheel's own sprocket",
        )
    shaft = place.shaft if place.shaft is not None else place.axle - place.away * fit.stated_mm / 1000.0
    around = (fit.links - 2, fit.links, fit.links + 2)
    arcs = tuple(_arc(fit, place, links, at) for links in around if (at := _centre_m(fit, links)) is not None)
    return Mounting(
        fit=fit, layout=place, shaft=shaft, arcs=arcs,
        clear_tyre_mm=1000.0 * (abs(shaft - place.axle) - place.tyre_m - place.room_m),
        clear_pivot_mm=None if place.pivot is None else 1000.0 * (abs(shaft - place.pivot) - place.room_m) - PIVOT_ROOM_MM,
        swing=swing_at(fit, place, shaft), calmest=_calmest(fit, place, next(arc for arc in arcs if arc.links == fit.links)),
    )  # fmt: skip


def _centre_m(fit: ChainFit, links: int) -> float | None:
    """Exact centre distance of so many links; None where they do not go round."""
    try:
        return fit.chain.pitch_mm * centre_distance_exact(links, fit.motor_teeth, fit.wheel_teeth) / 1000.0
    except InputProblem:
        return None


def _arc(fit: ChainFit, place: Layout, links: int, centre: float) -> Arc:
    """On the shaft's side of the axle, where nothing touches."""
    side, count = (0.0 if place.forward else 180.0), round(180.0 / STEP_DEGREES)
    circle = [place.axle + rect(centre, radians(side - 90.0 + STEP_DEGREES * step)) for step in range(count + 1)]
    near = [at if _clear(place, at) else None for at in circle]
    if fit.travel_mm is None:
        return Arc(links, tuple(at for at in near if at is not None), (), ())
    out = place.away * fit.travel_mm / 1000.0
    far = [at + out if _clear(place, at + out) else None for at in circle]
    band, pairs = [], list(zip(near, far, strict=True))
    for whole, run in groupby(pairs, key=lambda pair: None not in pair):
        if whole:
            ones, others = zip(*run, strict=True)
            band.append((*ones, *reversed(others)))
    clear = [tuple(at for at in each if at is not None) for each in (near, far)]
    return Arc(links, clear[0], clear[1], tuple(band))


def _clear(place: Layout, shaft: complex) -> bool:
    """Whether a motor about the shaft touches neither tyre nor pivot nor ground."""
    tyre = abs(shaft - place.axle) >= place.tyre_m + place.room_m
    pivot = place.pivot is None or abs(shaft - place.pivot) >= place.room_m + PIVOT_ROOM_MM / 1000.0
    return tyre and pivot and shaft.imag >= place.room_m


def _calmest(fit: ChainFit, place: Layout, arc: Arc) -> tuple[complex, Swing] | None:
    """Of the places on an arc, the one where the arm's travel changes the chain least: searched coarsely, then about the best one."""

    def least(places: Iterable[complex]) -> tuple[complex, Swing] | None:
        swings = [(at, found) for at in places if (found := swing_at(fit, place, at)) is not None]
        return min(swings, key=lambda pair: pair[1].spread_mm, default=None)

    coarse = least(arc.near[::SEARCHED])
    if coarse is None:
        return None
    about = (place.axle + (coarse[0] - place.axle) * rect(1.0, radians(0.2 * step)) for step in range(-10, 11))
    return least(at for at in about if _clear(place, at))


def chain_path(found: Mounting) -> Laid:
    """The tight chain round both sprockets, with the adjuster where it is then. [m]"""
    fit, place = found.fit, found.layout
    axle = place.axle + place.away * fit.move_mm / 1000.0
    large, small = (_sprocket(fit.chain.pitch_mm, teeth) for teeth in (fit.wheel_teeth, fit.motor_teeth))
    return laid_round(
        (Round(axle, large, 1, fit.wheel_teeth), Round(found.shaft, small, 1, fit.motor_teeth)),
        fit.chain.pitch_mm / 1000.0,
    )


def _sprocket(pitch_mm: float, teeth: float) -> float:
    """Pitch radius. [m]"""
    return 0.0005 * pitch_diameter_mm(pitch_mm, teeth)


@dataclass(frozen=True)
class Idler:
    """A sprocket that presses the slack span in from outside, half way along it.

    Attributes
    ----------
    teeth : int
    links : int
        Of the chain that it makes fit.
    slack_mm : float
        Length of chain that it takes up.
    press_mm : float
        By how much it presses the span in.
    wrap_degrees : float
        Round the small sprocket then.
    in_mesh : float
        Its own teeth that the chain lies round.
    """

    teeth: int
    links: int
    slack_mm: float
    press_mm: float
    wrap_degrees: float
    in_mesh: float


def idler(fit: ChainFit, teeth: int = IDLER_TEETH) -> Idler | None:
    """An idler in the place of an adjuster that does not reach.

    Parameters
    ----------
    fit : ChainFit
        Both shafts stay at the stated distance.
    teeth : int
        Of the idler.

    Returns
    -------
    Idler or None
        None where the chain is tight already, or where pressing it in by half the small sprocket and more would not take up the slack.

    Notes
    -----
    Exact by tangents. It sits in the span that is slack while it pulls, nearer to the small sprocket than to the large one if anything, and
    takes no push in reverse or where the wheel drives the motor.

    Examples
    --------
    >>> found = idler(chain_fit("heron_36v"))
    >>> found.links, found.slack_mm < 2.0
    (110, True)
    """
    pitch = fit.chain.pitch_mm

    def laid(press: float) -> Laid:
        return laid_round(_with_idler(fit, teeth, press), pitch)

    slack = pitch * (fit.links - laid_round(_with_idler(fit, teeth, None), pitch).links)
    low, high = 0.0, 0.5 * pitch_diameter_mm(pitch, fit.motor_teeth) + 0.5 * pitch_diameter_mm(pitch, fit.wheel_teeth)
    if slack <= 0.0 or laid(high).links < fit.links:
        return None
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if laid(middle).links < fit.links else (low, middle)
    found = laid(low)
    return Idler(
        teeth=teeth, links=fit.links, slack_mm=slack, press_mm=low, wrap_degrees=degrees(found.wraps[2]),
        in_mesh=teeth * found.wraps[1] / (2.0 * pi),
    )  # fmt: skip


def _with_idler(fit: ChainFit, teeth: int, press_mm: float | None) -> tuple[Round, ...]:
    """Large sprocket at the origin, the idler that presses the lower span up, small sprocket; without the idler where it presses by None."""
    pitch = fit.chain.pitch_mm
    r2, r1, rk = (0.5 * pitch_diameter_mm(pitch, each) for each in (fit.wheel_teeth, fit.motor_teeth, teeth))
    large, small = Round(0j, r2, 1, fit.wheel_teeth), Round(complex(fit.stated_mm, 0.0), r1, 1, fit.motor_teeth)
    if press_mm is None:
        return large, small
    begin, end = laid_round((large, small), pitch).spans[0]
    outward = -1j * (end - begin) / abs(end - begin)
    return large, Round(0.5 * (begin + end) + outward * (rk - press_mm), rk, -1, teeth), small
