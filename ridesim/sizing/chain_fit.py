"""A build's chain: does it go round with what its adjuster allows, does it hold the pull."""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, ceil, cos, degrees, inf, nan, sqrt

from ridesim.ride.given import AnyBuild, given_build
from ridesim.ride.steady.pull import pull_arrays
from ridesim.sizing.chain import (
    Chain,
    centre_distance_exact,
    chain_of,
    chordal_variation,
    links_exact,
    need_teeth,
    pitch_diameter_mm,
    pitch_radius,
    touching,
)
from ridesim.sizing.layout import layout
from ridesim.vehicle import Build
from ridesim.vehicle.drive import ChainDrive
from ridesim.words import InputProblem, InShort, Rows

WEAR = 0.02
"""A chain longer than new by so much is replaced: a motorcycle's manual; industrial drives go to 0.03 (handbooks, from memory)."""
SAG = (0.02, 0.04)
"""Sag of the slack span over its length at the tightest spot: chain makers' manuals (from memory)."""
LEAST_WRAP_DEGREES = 120.0
SAFE = 8.0
"""Least tensile strength over the largest pull, slow drives: handbooks, from memory."""


@dataclass(frozen=True, repr=False)
class ChainFit(InShort):
    """A chain between two sprockets, with what its adjuster allows.

    Attributes
    ----------
    where : str
        Section of the build that says so.
    chain : Chain
    motor_teeth, wheel_teeth : int
        Of its driving and its driven sprocket.
    stated_mm : float
        Distance of the centres with the adjuster at its shortest.
    links : int
        The least even number that goes round at that distance.
    centre_mm : float
        Distance at which it is tight.
    move_mm : float
        By how much the adjuster moves for that.
    travel_mm : float or None
        What the adjuster has.
    wear_mm : float
        Travel that wear to the motorcycle's limit takes.
    offset_fits : bool
        Whether one link less, an odd number, would fit.
    wrap_degrees : float
        Round the small sprocket.
    sag_mm : tuple of float
        Least and most sag of the slack span at the tightest spot.
    stall_pull_n : float
        Largest pull of the chain, at a stand and full throttle.
    safety : float
        Least tensile strength over that.
    """

    where: str
    chain: Chain
    motor_teeth: int
    wheel_teeth: int
    stated_mm: float
    links: int
    centre_mm: float
    move_mm: float
    travel_mm: float | None
    wear_mm: float
    offset_fits: bool
    wrap_degrees: float
    sag_mm: tuple[float, float]
    stall_pull_n: float
    safety: float

    @property
    def fits(self) -> bool | None:
        """Whether the adjuster reaches that distance; None without its travel."""
        return None if self.travel_mm is None else self.move_mm <= self.travel_mm

    @property
    def left_mm(self) -> float:
        """Travel that is left for wear; NaN without the adjuster's travel. [mm]"""
        return nan if self.travel_mm is None else self.travel_mm - self.move_mm

    @property
    def verdict(self) -> str:
        """Whether it fits and holds, in one sentence."""
        chain, weak = f"The chain {self.chain.name} with {self.links} links", "" if self.safety >= SAFE else "only "
        holds = f"{weak}{self.safety:.0f} times" if self.safety >= 2.0 else f"{weak}{self.safety:.1f} times"
        if self.travel_mm is None:
            return f"{chain} goes round with the adjuster {self.move_mm:.0f} mm out, if it has that travel; it holds the stall pull {holds}."
        if not self.fits:
            short = f"{self.move_mm:.1f} mm of travel are needed and there are {self.travel_mm:g}"
            return f"{chain} does not fit: {short}; it would hold the stall pull {holds}."
        little = "" if self.left_mm >= self.wear_mm else ", too little left for wear"
        return f"{chain} fits: {self.move_mm:.0f} mm of travel taken of {self.travel_mm:g}{little}, holds the stall pull {holds}."

    @property
    def sentence(self) -> str:
        """Whether it fits, in one sentence, with the figures."""
        how = f"{self.links} links of {self.chain.name} go round at {self.centre_mm:.1f} mm, {self.move_mm:.1f} mm further back than stated"
        if self.travel_mm is None:
            return f"{how}; state {self.where}.adjuster_travel_mm to see whether the adjuster reaches that."
        if not self.fits:
            return f"No even number of links fits: {how}, {-self.left_mm:.1f} mm beyond the adjuster's {self.travel_mm:g} mm. {self._instead}"
        enough = (
            ""
            if self.left_mm >= self.wear_mm
            else f", less than the {self.wear_mm:.1f} that wear to 2 % takes: replace it earlier"
        )
        return f"It fits: {how}; {self.left_mm:.1f} mm of travel are left{enough}."

    @property
    def _instead(self) -> str:
        """What would mend it."""
        offset = (
            f"It is too long by half a link: {self.links - 1} would fit, but the offset link that an odd number needs is weaker by about a third "
            "(from memory). Better an"
            if self.offset_fits
            else "An"
        )
        return f"{offset} idler, another tooth, or the motor moved by as much."

    def _short(self) -> tuple[str, Rows]:
        low, high = self.sag_mm
        return f"Chain {self.chain.name}, {self.motor_teeth} to {self.wheel_teeth} teeth", [
            ("fit", self.sentence),
            ("wrap", f"{self.wrap_degrees:.0f}° round the small sprocket, {LEAST_WRAP_DEGREES:g}° at least"),
            (
                "runs unevenly by",
                f"{100.0 * chordal_variation(self.motor_teeth):.1f} % of its speed at each tooth of {self.motor_teeth}",
            ),
            ("sag", f"{low:.0f} to {high:.0f} mm in the middle of the slack span, at the tightest spot"),
            (
                "largest pull",
                f"{self.stall_pull_n:.0f} N, the strength is {self.safety:.1f} times that ({SAFE:g} at least, from memory)",
            ),
            (
                "caution",
                "guard it; clothing, hair and fingers away; clip's closed end forward; no welding beside it or the batteries",
            ),
        ]


def chain_fit(build: AnyBuild, which: int = -1) -> ChainFit:
    """Whether a build's chain fits, and whether it holds.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file; ``centre_distance_mm`` is the shortest that the adjuster gives.
    which : int
        Place among the drive's chains, from the motor on; the last one, which drives the wheel.

    Returns
    -------
    ChainFit

    Raises
    ------
    InputProblem
        No such chain, its size or centre distance not stated, an unknown size, sprockets that touch.

    Notes
    -----
    An adjuster that moves the axle along the swinging arm, or on the level, moves it by more than the distance of the centres grows
    where the shaft is not in line with it: the places of shaft and pivot count where they are stated.

    Examples
    --------
    >>> print(chain_fit("heron_36v").sentence)
    It fits: 110 links of 08B go round at 480.7 mm, 0.7 mm further back than stated; 24.3 mm of travel are left.
    """
    build = given_build(build)
    one = _one(build, which)
    chain, stated, along = _sized(build, one)
    n1, n2, pitch = one.driver_teeth, one.driven_teeth, chain.pitch_mm
    exact = links_exact(stated / pitch, n1, n2)
    even = 2 * ceil(0.5 * exact - 1e-9)
    centre = pitch * centre_distance_exact(even, n1, n2)
    offset = pitch * centre_distance_exact(even - 1, n1, n2) if even - 1 >= exact else inf
    move, worn, shorter = (
        moved(stated, along, each) for each in (centre, centre + 0.5 * WEAR * even * pitch, min(offset, 1e5))
    )
    lean = asin((pitch_radius(n2) - pitch_radius(n1)) * pitch / centre)
    span = centre * cos(lean)
    pull = stall_pull_n(build, pitch, which)
    return ChainFit(
        where=one.where, chain=chain, motor_teeth=n1, wheel_teeth=n2, stated_mm=stated, links=even, centre_mm=centre, move_mm=move,
        travel_mm=one.adjuster_travel_mm, wear_mm=worn - move,
        offset_fits=one.adjuster_travel_mm is not None and shorter <= one.adjuster_travel_mm,
        wrap_degrees=180.0 - 2.0 * degrees(abs(lean)), sag_mm=(SAG[0] * span, SAG[1] * span), stall_pull_n=pull,
        safety=chain.strength_n / pull if pull > 0.0 else inf,
    )  # fmt: skip


def moved(stated: float, along: float, centre: float) -> float:
    """By how much an adjuster moves the axle until the centres are so far apart.

    Parameters
    ----------
    stated, centre : float
        Distance of the centres before and after. [mm]
    along : float
        Cosine of the angle between the adjuster and the line of the centres; 1 in line.

    Returns
    -------
    float
        From centre² = stated² + 2·stated·along·move + move². [mm]
    """
    return sqrt(max(0.0, centre * centre - stated * stated * (1.0 - along * along))) - stated * along


def _one(build: Build, which: int) -> ChainDrive:
    chains = build.drive.chains
    if not -len(chains) <= which < len(chains):
        raise InputProblem(
            build.name,
            "drive.stage",
            f"{len(chains) or 'no'} chain{'s' if len(chains) > 1 else ''} with teeth",
            "a stage of kind chain with both sprockets' teeth",
        )
    return chains[which]


def _sized(build: Build, one: ChainDrive) -> tuple[Chain, float, float]:
    """Its size, stated distance of the centres [mm], and the cosine of the adjuster's angle to it."""
    place = layout(build)
    arm = place.arm if one == build.drive.chains[-1] and one.after == 1.0 else None
    if one.chain is None:
        raise InputProblem(build.name, f"{one.where}.chain", "nothing", "the chain's size, such as 08B or 428")
    if one.centre_distance_mm is None and arm is None:
        raise InputProblem(
            build.name, f"{one.where}.centre_distance_mm", "nothing", "the distance between the sprockets' centres"
        )
    chain, stated = chain_of(one.chain), one.centre_distance_mm or 1000.0 * abs(arm or 0.0)
    need_teeth(one.driver_teeth, one.driven_teeth)
    least = touching(one.driver_teeth, one.driven_teeth) * chain.pitch_mm
    if stated <= least:
        expected = (
            f"more than {least:.0f} mm, or the sprockets of {one.driver_teeth} and {one.driven_teeth} teeth touch"
        )
        raise InputProblem(build.name, f"{one.where}.centre_distance_mm", f"{stated:.4g} mm", expected)
    return chain, stated, 1.0 if arm is None else place.along(place.axle + arm)


def stall_pull_n(build: AnyBuild, pitch_mm: float, which: int = -1) -> float:
    """Pull of a chain at a stand and full throttle: the pull at the rim, times the wheel's radius over the sprocket's, over what is between. [N]"""
    build = given_build(build)
    return chain_pull_n(build, float(pull_arrays(build, points=2)[1][0]), pitch_mm, which)


def chain_pull_n(build: Build, at_rim_n: float, pitch_mm: float, which: int = -1) -> float:
    """Pull of a chain while the wheel pulls with so much at its rim. [N]"""
    one = _one(build, which)
    sprocket_m = 0.5 * pitch_diameter_mm(pitch_mm, one.driven_teeth) / 1000.0
    return at_rim_n * build.vehicle.rolling_radius_m / (sprocket_m * one.after * one.efficiency_after)
