"""What a charge hangs on: wall socket and charger, and which current blocks, socket and charger allow."""

from __future__ import annotations

from dataclasses import dataclass

from ridesim.physics.pack import REFERENCE_C
from ridesim.ride.machine import absorption_at
from ridesim.vehicle import Build, Pack
from ridesim.vehicle.charger import USUAL_EFFICIENCY
from ridesim.words import need_number


@dataclass(frozen=True, slots=True)
class Socket:
    """A wall socket and what it gives for hours on end."""

    name: str
    volts: float
    amps: float

    def __post_init__(self) -> None:
        need_number("the socket", "volts", self.volts, 0.0, 1000.0, "V", above=True)
        need_number("the socket", "amps", self.amps, 0.0, 1000.0, "A", above=True)

    @property
    def watts(self) -> float:
        """[W]"""
        return self.volts * self.amps


SOCKETS = (
    Socket("UK 13 A plug, for hours", 230.0, 10.0),
    Socket("EU 16 A socket, for hours", 230.0, 10.0),
    Socket("US 15 A outlet, for hours", 120.0, 12.0),
    Socket("blue 16 A camping socket", 230.0, 16.0),
)
"""Long-duration currents: a forum of an engineering institution (UK, about 10 A), 80 % of 15 A for loads of 3 h and
more (US code), 8 to 10 A (EU practice): the last two and the camping socket from memory."""


@dataclass(frozen=True, slots=True)
class Charger:
    """A charger: its current into the pack and its efficiency."""

    current_a: float
    efficiency: float = USUAL_EFFICIENCY

    def __post_init__(self) -> None:
        need_number("the charger", "current_a", self.current_a, 0.0, 10_000.0, "A", above=True)
        need_number("the charger", "efficiency", self.efficiency, 0.0, 1.0, above=True)


def charger_of(build: Build) -> Charger:
    """The vehicle's own charger; where it names none, one of the largest current that the blocks stand."""
    own = build.charger
    return Charger(blocks_stand_a(build.pack)) if own is None else Charger(own.current_a, own.efficiency)


SLOW_CHARGE = 0.1
"""Charger's amperes a rated ampere-hour for the night: common practice, no source."""


def night_charger(build: Build) -> Charger:
    """The vehicle's own charger; where it names none, a slow one, of a tenth of the rated ampere-hours."""
    return charger_of(build) if build.charger else Charger(SLOW_CHARGE * build.pack.capacity_ah)


def blocks_stand_a(pack: Pack) -> float:
    """Largest charging current that all strings of a pack stand together. [A]"""
    return pack.in_force.max_charge_current_a * pack.strings_in_parallel


@dataclass(frozen=True, slots=True)
class AllowedCurrent:
    """Largest charging current and what sets it.

    Attributes
    ----------
    current_a : float
        The smallest of the three. [A]
    blocks_a, socket_a : float
        What the blocks stand, what the socket can feed at the charger's voltage. [A]
    set_by : str
        ``"blocks"``, ``"socket"`` or ``"charger"``.
    """

    current_a: float
    blocks_a: float
    socket_a: float
    set_by: str


def allowed_current(pack: Pack, charger: Charger, socket: Socket, ambient_c: float = REFERENCE_C) -> AllowedCurrent:
    """Which current the blocks, the socket and the charger allow together."""
    fed = socket.watts * charger.efficiency / absorption_at(pack, ambient_c)
    limits = {"blocks": blocks_stand_a(pack), "socket": fed, "charger": charger.current_a}
    set_by = min(limits, key=lambda name: limits[name])
    return AllowedCurrent(limits[set_by], limits["blocks"], fed, set_by)
