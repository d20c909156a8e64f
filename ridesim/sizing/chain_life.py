"""A chain in use: power and speed against its rating, oil, unevenness, load on the shaft, wear, the same drive in other sizes."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import NamedTuple

from ridesim.ride.given import AnyBuild, given_build
from ridesim.ride.steady.pull import pull_arrays
from ridesim.sizing.chain import Chain, chain_of, chains, chordal_variation, pitch_diameter_mm, rated_power_w
from ridesim.sizing.chain_fit import SAFE, WEAR, ChainFit, chain_fit, chain_pull_n
from ridesim.words import InputProblem, InShort, Rows, need_number

SERVICE_FACTOR = 1.3
"""Moderate shock, driven by an electric motor: Shigley, example with Table 17-22."""
FPM = 0.00508
OIL_LIMITS_MPS = {
    6.35: (480, 3250),
    9.525: (370, 2800),
    12.7: (300, 2300),
    15.875: (250, 2000),
    19.05: (220, 1800),
    25.4: (170, 1500),
}
"""Fastest chain oiled by hand or by drops, and in a bath, by pitch [feet a minute]: a bearing dealer's table for No. 40 to 80; the two smaller
pitches from memory."""
BY_HAND, BATH, STREAM = (
    "by hand, about every eight hours of running",
    "running through a bath of oil",
    "a stream of oil from a pump",
)
FEWEST_USUAL, FEWEST_SMOOTH = 13, 17
"""Small sprockets: never under 13 by one maker, 17 at medium speed by another."""
LARGEST_RATIO = 7.0
"""Of one stage: handbooks, from memory."""
MEASURED_LINKS = 20
"""So many links are measured for wear, pulled straight with about 100 N: a motorcycle's service manual."""
WORN_INDUSTRIAL = 0.03
WORN_TEETH = 200.0
"""On large sprockets a chain climbs the teeth from 200/N per cent on: handbooks, from memory."""


@dataclass(frozen=True, repr=False)
class ChainDuty(InShort):
    """A chain in use.

    Attributes
    ----------
    fit : ChainFit
    power_w : float
        Most power that the motor puts through it at any speed.
    rpm : float
        Of the small sprocket then.
    rated_w : float or None
        What it is rated for at that speed; None where the size has no rating.
    speed_mps : float
        Of the chain at the vehicle's top speed.
    oil : str
        How it is oiled at that speed.
    unevenness : float
        Variation of its speed at each tooth of the small sprocket, a share.
    shaft_load_n : float
        On the small sprocket's shaft at a stand and full throttle: the chain's pull, the slack span hangs.
    day_pull_n : float or None
        Largest pull of the chain in a day; None where no day was ridden.
    """

    fit: ChainFit
    power_w: float
    rpm: float
    rated_w: float | None
    speed_mps: float
    oil: str
    unevenness: float
    shaft_load_n: float
    day_pull_n: float | None

    @property
    def power_share(self) -> float | None:
        """Power with its service factor over the rating."""
        return None if self.rated_w is None else SERVICE_FACTOR * self.power_w / self.rated_w

    @property
    def sentence(self) -> str:
        """Whether it lasts, in one sentence."""
        if self.power_share is None:
            return f"{self.fit.chain.name} has no power rating: its strength alone is judged, {self.fit.safety:.0f} times the stall pull."
        enough = "is enough" if self.power_share <= 1.0 else "is too little: a larger chain or sprocket"
        return (
            f"{self.power_w:.0f} W with a service factor of {SERVICE_FACTOR:g} at {self.rpm:.0f} turns a minute take "
            f"{100.0 * self.power_share:.0f} % of the rating of {self.rated_w:.0f} W, which {enough}."
        )

    def _short(self) -> tuple[str, Rows]:
        rows = [
            ("power", self.sentence),
            ("speed", f"{self.speed_mps:.1f} m/s at top speed; oil {self.oil}"),
            ("runs unevenly by", f"{100.0 * self.unevenness:.1f} %"),
            ("on the shaft", f"{self.shaft_load_n:.0f} N, stalled"),
        ]
        if self.day_pull_n is not None:
            rows.append(
                (
                    "in the day",
                    f"{self.day_pull_n:.0f} N at most, {self.fit.chain.strength_n / self.day_pull_n:.0f} times under its strength",
                )
            )
        return f"Chain {self.fit.chain.name} in use", rows


def chain_duty(build: AnyBuild, which: int = -1, day_at_rim_n: float | None = None) -> ChainDuty:
    """What a chain carries, against what it is made for.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    which : int
        As in :func:`ridesim.sizing.chain_fit.chain_fit`.
    day_at_rim_n : float, optional
        Largest pull at the wheel's rim in a day.

    Returns
    -------
    ChainDuty

    Raises
    ------
    InputProblem
        As :func:`ridesim.sizing.chain_fit.chain_fit`.

    Notes
    -----
    At a stand strength decides, and no rating: a rating is for 15 000 hours of running.

    Examples
    --------
    >>> chain_duty("heron_36v").oil
    'running through a bath of oil'
    """
    build = given_build(build)
    fit = chain_fit(build, which)
    one = build.drive.chains[which]
    speeds, pulls, _ = pull_arrays(build)
    watts = pulls * speeds / 3.6
    most = int(watts.argmax())
    wheel_rpm = speeds / 3.6 / build.vehicle.rolling_radius_m * 30.0 / pi
    driven_rpm = wheel_rpm * one.after
    small = min(fit.motor_teeth, fit.wheel_teeth)
    small_rpm = driven_rpm * fit.wheel_teeth / small
    power = float(watts[most]) / one.efficiency_after
    speed = float(driven_rpm[-1]) / 60.0 * fit.wheel_teeth * fit.chain.pitch_mm / 1000.0
    rated = (
        rated_power_w(fit.chain.name, small, float(small_rpm[most]))
        if fit.chain.rating and small_rpm[most] > 0.0
        else None
    )
    return ChainDuty(
        fit=fit, power_w=power, rpm=float(small_rpm[most]), rated_w=rated, speed_mps=speed, oil=oil_for(fit.chain, speed),
        unevenness=chordal_variation(small), shaft_load_n=fit.stall_pull_n,
        day_pull_n=None if day_at_rim_n is None else chain_pull_n(build, day_at_rim_n, fit.chain.pitch_mm, which),
    )  # fmt: skip


def oil_for(chain: Chain, speed_mps: float) -> str:
    """How a chain that runs so fast is oiled: a class of lubrication."""
    pitch = min(OIL_LIMITS_MPS, key=lambda each: abs(each - chain.pitch_mm))
    by_hand, bath = (limit * FPM for limit in OIL_LIMITS_MPS[pitch])
    return BY_HAND if speed_mps <= by_hand else BATH if speed_mps <= bath else STREAM


class SizeRow(NamedTuple):
    """The same drive with another chain.

    Attributes
    ----------
    chain : Chain
    motor_teeth, wheel_teeth : int
    links : int
    wheel_mm : float
        Pitch diameter of the wheel's sprocket.
    safety : float
        Least tensile strength over the stall pull.
    mass_kg : float
        Of the chain.
    """

    chain: Chain
    motor_teeth: int
    wheel_teeth: int
    links: int
    wheel_mm: float
    safety: float
    mass_kg: float

    @property
    def holds(self) -> bool:
        """Whether it is strong enough."""
        return self.safety >= SAFE


def by_size(build: AnyBuild, donor_chain: str = "", donor_teeth: int | None = None) -> list[SizeRow]:
    """The last chain in every size that goes round at its distance: its own teeth, and the donor's sprocket with the ratio nearest to it.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    donor_chain : str
        Size of the donor's chain, whose wheel sprocket is kept; its row comes first.
    donor_teeth : int, optional
        Teeth of that sprocket.

    Returns
    -------
    list of SizeRow
        A sprocket of one size takes no chain of another, even of one pitch: width and roller differ.

    Raises
    ------
    InputProblem
        As :func:`ridesim.sizing.chain_fit.chain_fit`; an unknown donor's chain.

    Examples
    --------
    >>> [row.chain.name for row in by_size("heron_36v", "428", 38)][:2]
    ['428', '25']
    """
    build = given_build(build)
    own = chain_fit(build)
    asked = []
    if donor_chain and donor_teeth is not None:
        small = max(7, round(donor_teeth * own.motor_teeth / own.wheel_teeth))
        asked.append((chain_of(donor_chain), small, donor_teeth))
    asked += [(chain, own.motor_teeth, own.wheel_teeth) for chain in chains().values()]
    rows = []
    for place, (chain, small, large) in enumerate(asked):
        changed = {"drive.chain": chain.name, "drive.motor_teeth": small, "drive.wheel_teeth": large}
        try:
            fit = chain_fit(build.changed(changed))
        except InputProblem:
            if place == 0 and donor_chain:
                raise
            continue  # sprockets of this pitch would touch
        mass = fit.links * chain.pitch_mm / 1000.0 * chain.kg_per_m
        rows.append(SizeRow(chain, small, large, fit.links, pitch_diameter_mm(chain.pitch_mm, large), fit.safety, mass))
    return rows


def worn_percent(chain: str, measured_mm: float, measured_links: int = MEASURED_LINKS) -> float:
    """How much longer than new a chain is, by a stretch of it pulled straight. [%]

    Parameters
    ----------
    chain : str
        Its size.
    measured_mm : float
        From a pin to the one so many links on.
    measured_links : int
        How many.

    Raises
    ------
    InputProblem
        An unknown chain; a length that no chain of that size has.

    Examples
    --------
    >>> round(worn_percent("428", 259.1), 2)
    2.01
    """
    new = chain_of(chain).pitch_mm * measured_links
    need_number("the worn chain", "measured_mm", measured_mm, 0.99 * new, 1.1 * new, "mm")
    return 100.0 * (measured_mm / new - 1.0)


def worn_out_percent(largest_teeth: int, motorcycle: bool = True) -> float:
    """At how much longer than new a chain is replaced: 2 % as a motorcycle's manual, 3 % as in industry, less on sprockets of many teeth. [%]"""
    return min(100.0 * (WEAR if motorcycle else WORN_INDUSTRIAL), WORN_TEETH / largest_teeth)
