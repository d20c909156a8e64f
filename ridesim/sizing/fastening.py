"""What bolts and straps must hold: the motor's plate under the chain's pull, blocks and the vehicle on the truck."""

from __future__ import annotations

from dataclasses import dataclass

from ridesim.physics.road import GRAVITY
from ridesim.ride.given import AnyBuild, given_build
from ridesim.sizing.chain import chain_of, pitch_diameter_mm
from ridesim.sizing.chain_fit import stall_pull_n
from ridesim.vehicle import Build
from ridesim.words import InputProblem, InShort, Rows, need_number

STRESS_AREA_MM2 = {5: 14.2, 6: 20.1, 8: 36.6, 10: 58.0, 12: 84.3}
"""Tensile stress area by thread, coarse: ISO 898-1, from memory."""
PROOF_MPA = {"4.6": 225.0, "5.8": 380.0, "8.8": 580.0, "10.9": 830.0}
"""Proof stress by strength class: ISO 898-1, from memory."""
PRELOAD_SHARE = 0.75
"""Preload over proof load of a bolt that is taken out again: Shigley, equation 8-31 (from memory)."""
GRIP = 0.15
"""Friction between plate and frame, steel on painted or oily steel: handbooks, from memory."""
HOLDS = 1.5
"""Grip of the plate over the chain's pull at a stand, at least: common practice, no source."""
ON_THE_TRUCK = {"forward": 0.8, "backward": 0.5, "sideways": 0.5}
"""What a load on a lorry must be held against, in multiples of its weight: EN 12195-1, from memory."""
CAUTION = (
    "Paint off between plate and frame, washers, bolts marked and looked at after the first ride. Strap blocks so that they stay with the vehicle "
    "on its side. Mount the controller out of the wheels' spray, leads downward. Disconnect pack and controller before welding, earth clamp beside "
    "the weld, blocks out. Straps and anchors by their labels; local rules come first."
)


@dataclass(frozen=True, repr=False)
class PlateHold(InShort):
    """The motor's plate under the chain's largest pull.

    Attributes
    ----------
    chain_pull_n : float
        At a stand and full throttle.
    shear_n, tension_n : float
        What the worst bolt must hold along the plate, and what the overhang pulls it out with.
    preload_n : float
        What a bolt of this thread and class is tightened to.
    holds : float
        Grip of the tightened plate over the pull along it.
    """

    chain_pull_n: float
    shear_n: float
    tension_n: float
    preload_n: float
    holds: float

    @property
    def sentence(self) -> str:
        """Whether the plate stays where it is."""
        much = f"{self.holds:.1f} times what the chain pulls with at a stand, {self.chain_pull_n:.0f} N; {HOLDS:g} is the least"
        if self.holds >= HOLDS:
            return f"The motor's plate holds by its bolts' grip, {much}."
        if self.holds > 0.0:
            return f"The motor's plate may slip: its bolts grip it with {much}."
        return f"The chain's pull of {self.chain_pull_n:.0f} N at a stand lifts the plate off: each bolt is pulled with {self.tension_n:.0f} N."

    def _short(self) -> tuple[str, Rows]:
        return "Motor's plate", [
            ("holds", self.sentence),
            ("worst bolt, along the plate", f"{self.shear_n:.0f} N"),
            ("worst bolt, pulled out by", f"{self.tension_n:.0f} N, tightened to {self.preload_n:.0f} N"),
            ("caution", CAUTION),
        ]


def bolt_shears(force_n: float, moment_nm: float, bolts: int, radius_mm: float) -> tuple[float, float]:
    """Shear of each bolt of a circle by a force through its middle, and by a moment about it. [N]

    Raises
    ------
    InputProblem
        Fewer than two bolts, a circle that is none.

    References
    ----------
    Shigley, Mechanical Engineering Design, equation 8-57: V/n and M·r/Σ r².

    Examples
    --------
    >>> primary, secondary = bolt_shears(16_000.0, 6800.0, 4, 96.0)  # Shigley, example 8-7 (from memory): 4 kN and 17.7 kN
    >>> print(f"{primary / 1000:.1f} kN and {secondary / 1000:.1f} kN")
    4.0 kN and 17.7 kN
    """
    need_number("the bolts", "bolts", bolts, 2, 100)
    need_number("the bolts", "radius_mm", radius_mm, 0.0, 1e4, "mm", above=True)
    return force_n / bolts, 1000.0 * moment_nm / (bolts * radius_mm)


def plate_hold(build: AnyBuild) -> PlateHold:
    """Whether the motor's plate, with its gearbox if it has one, holds the chain's pull at a stand.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file, with ``[motor.mount]`` and the size of the chain on the motor's side.

    Returns
    -------
    PlateHold

    Raises
    ------
    InputProblem
        No mount, no chain.

    Notes
    -----
    A plate sits in slots, so grip alone holds it. The worst bolt bears F/n of the pull and T/(n·r) of its moment about the shaft, added as if they
    pointed one way; the overhang h pulls it with 2·F·h/(n·r), which takes from its grip.
    """
    build = given_build(build)
    mount, first = build.motor.mount, next(iter(build.drive.chains), None)
    if mount is None or first is None or first.chain is None:
        missing = "motor.mount" if mount is None else "drive.chain" if first is None else f"{first.where}.chain"
        raise InputProblem(
            build.name, missing, "nothing", "the plate's bolts and the size of the chain on the motor's side"
        )
    pitch = chain_of(first.chain).pitch_mm
    pull = stall_pull_n(build, pitch, 0)
    radius = 0.5 * mount.circle_mm
    moment = pull * 0.5 * pitch_diameter_mm(pitch, first.driver_teeth) / 1000.0
    shear = sum(bolt_shears(pull, moment, mount.bolts, radius))
    tension = 2.0 * pull * mount.overhang_mm / (mount.bolts * radius)
    preload = PRELOAD_SHARE * PROOF_MPA[mount.strength_class] * STRESS_AREA_MM2[mount.thread_mm]
    return PlateHold(
        pull, shear, tension, preload, max(0.0, GRIP * (preload - tension) / shear) if shear else float("inf")
    )


def plate_if_known(build: Build) -> PlateHold | None:
    """The same; None where bolts or chain are not stated, or the chain's size is unknown, which a finding of its own says."""
    try:
        return plate_hold(build)
    except InputProblem:
        return None


def restraint_n(mass_kg: float) -> dict[str, float]:
    """What a load on a truck must be held with, forward, backward and sideways. [N]

    Raises
    ------
    InputProblem
        A mass that is no mass.

    References
    ----------
    EN 12195-1, acceleration coefficients on the road (from memory). Friction is left out: the load stands on wheels.

    Examples
    --------
    >>> {way: round(force) for way, force in restraint_n(100.0).items()}
    {'forward': 785, 'backward': 490, 'sideways': 490}
    """
    need_number("the straps", "mass_kg", mass_kg, 0.0, 1e6, "kg", above=True)
    return {way: share * mass_kg * GRAVITY for way, share in ON_THE_TRUCK.items()}


def strap_n(build: Build) -> float:
    """Pull in each of the two straps that hold a vehicle forward, each at 45° to the floor and to its length. [N]"""
    return restraint_n(build.total_mass_kg(aboard=False))["forward"]
