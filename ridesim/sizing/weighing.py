"""The vehicle on scales against its mass ledger: its centre of gravity as measured, and what the ledger leaves out."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from ridesim.ride.given import AnyBuild, given_build
from ridesim.sizing.balance import Balance, balance, lifted
from ridesim.words import InputProblem, InShort, Rows, Uncertain, need_number

SCALE_KG = 0.5
"""How far off a bathroom scale reads: common practice, no source."""


@dataclass(frozen=True, repr=False)
class Weighed(InShort):
    """A vehicle as it was weighed, beside its ledger.

    Attributes
    ----------
    mass_kg, x_m : Uncertain
        By the scales: all together, and how far its centre lies forward of the rear axle.
    z_m : Uncertain or None
        And above ground; None where no axle was lifted.
    ledger : Balance
        The same from the masses of the build.
    missing_kg : Uncertain
        What the ledger leaves out; less than 0 where it has too much.
    missing_x_m, missing_z_m : Uncertain or None
        Where that must be; None where ledger and scales agree, or no axle was lifted.
    """

    mass_kg: Uncertain
    x_m: Uncertain
    z_m: Uncertain | None
    ledger: Balance
    missing_kg: Uncertain
    missing_x_m: Uncertain | None
    missing_z_m: Uncertain | None

    @property
    def sentence(self) -> str:
        """What the scale says of the ledger."""
        off, x, z = self.missing_kg, self.missing_x_m, self.missing_z_m
        if x is None:
            return f"The ledger agrees with the scales: {self.mass_kg.value:.1f} kg."
        kind = "leaves out" if off.value > 0.0 else "has too much by"
        low, high = sorted((abs(off.low), abs(off.high)))
        text = f"The ledger {kind} {abs(off.value):.1f} kg ({low:.1f} to {high:.1f} kg)"
        if x.high - x.low > self.ledger.wheelbase_m:
            return f"{text}; where cannot be told, the masses are too unsure."
        where = f"{x.value:.2f} m ({x.low:.2f} to {x.high:.2f} m) forward of the rear axle"
        return f"{text}, {where}{'' if z is None else f', {z.value:.2f} m ({z.low:.2f} to {z.high:.2f} m) up'}."

    def _short(self) -> tuple[str, Rows]:
        rows = [
            ("by the scales", f"{self.mass_kg.value:.1f} kg, centre {self.x_m.value:.3f} m ahead of the rear axle"),
            ("by the ledger", f"{self.ledger.mass_kg.value:.1f} kg, centre {self.ledger.x_m.value:.3f} m"),
            ("so", self.sentence),
        ]
        if self.z_m is not None:
            up = f"{self.z_m.value:.2f} m ({self.z_m.low:.2f} to {self.z_m.high:.2f}), by the ledger {self.ledger.z_m.value:.2f}"
            rows.insert(2, ("centre above ground", up))
        return f"{self.ledger.name} on the scales", rows


def weighed(
    build: AnyBuild, front_kg: float, rear_kg: float, front_lifted_kg: float | None = None, lift_m: float | None = None,
    rider: bool = False, scale_kg: float = SCALE_KG,
) -> Weighed:  # fmt: skip
    """Compare what scales say with the build's mass ledger.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    front_kg, rear_kg : float
        Axle loads on level ground.
    front_lifted_kg, lift_m : float, optional
        The front axle's reading while the rear wheel stands raised by so much.
    rider : bool
        Whether the rider was aboard.
    scale_kg : float
        How far off each reading may be, 5th to 95th percentile.

    Returns
    -------
    Weighed

    Raises
    ------
    InputProblem
        As :func:`ridesim.balance` and :func:`lifted`; one of reading and lift without the other.

    Notes
    -----
    Readings and masses that are off independently of each other add up as a root of squares (GUM, JCGM 100:2008, 5.1.2). The missing mass and
    its place follow from both moments: m_missing x = m x - (m x)_ledger.

    Examples
    --------
    >>> print(weighed("heron_36v", 70.0, 100.0).sentence)
    The ledger leaves out 15.0 kg (12.2 to 17.8 kg), 0.25 m (0.12 to 0.38 m) forward of the rear axle.
    """
    build = given_build(build)
    found = balance(build, rider)
    file, wheelbase = "the weighing", found.wheelbase_m
    for name, value in (("front_kg", front_kg), ("rear_kg", rear_kg)):
        need_number(file, name, value, 0.0, 1e5, "kg", above=True)
    need_number(file, "scale_kg", scale_kg, 0.0, 1e3, "kg")
    if (front_lifted_kg is None) != (lift_m is None):
        raise InputProblem(file, "lift_m", "a reading without its lift, or the other way round", "both, or neither")
    whole, ahead = front_kg + rear_kg, wheelbase * front_kg / (front_kg + rear_kg)
    mass = _about(whole, hypot(scale_kg, scale_kg))
    centre = _about(ahead, scale_kg * wheelbase * hypot(front_kg, rear_kg) / whole**2)
    up = None
    if front_lifted_kg is not None and lift_m is not None:
        rear_radius = build.vehicle.rolling_radius_m
        radii = build.vehicle.front_radius_m or rear_radius, rear_radius

        def height(front: float, rear: float, raised: float) -> float:
            return lifted(front, raised, front + rear, wheelbase, *radii, lift_m)

        readings = (front_kg, rear_kg, front_lifted_kg)
        likely = height(*readings)
        moved = [height(*(r + scale_kg * (i == n) for i, r in enumerate(readings))) - likely for n in range(3)]
        up = _about(likely, hypot(*moved))
    extra = _about(whole - found.mass_kg.value, hypot(scale_kg, scale_kg, _half(found.mass_kg)))
    if extra.low <= 0.0 <= extra.high:
        return Weighed(mass, centre, up, found, extra, None, None)
    along = _about(wheelbase * (front_kg - found.front_kg.value), wheelbase * hypot(scale_kg, _half(found.front_kg)))
    return Weighed(
        mass, centre, up, found, extra, _over(along, extra), None if up is None else _height(found, mass, up, extra)
    )


def _height(found: Balance, mass: Uncertain, up: Uncertain, extra: Uncertain) -> Uncertain:
    """Height of what the ledger leaves out, from both moments about the ground."""
    own, moment = found.mass_kg.value * found.z_m.value, mass.value * up.value
    return _over(_about(moment - own, hypot(mass.value * _half(up), found.mass_kg.value * _half(found.z_m))), extra)


def _over(moment: Uncertain, extra: Uncertain) -> Uncertain:
    """A moment over the mass that makes it."""
    place = moment.value / extra.value
    return _about(place, hypot(_half(moment), place * _half(extra)) / abs(extra.value))


def _half(value: Uncertain) -> float:
    return 0.5 * (value.high - value.low)


def _about(value: float, off: float) -> Uncertain:
    return Uncertain(value, value - off, value + off)
