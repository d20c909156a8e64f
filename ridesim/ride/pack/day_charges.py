"""The charges that belong to a day: those of its breaks, and the night's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridesim.ride.pack.charge import Charge, beside_rule, charge_until_full, missing_ah, rule_wh
from ridesim.ride.pack.supply import Charger, Socket
from ridesim.ride.result import Ride
from ridesim.words import Uncertain, percent

DEFAULT_BREAK_MIN = 60.0
"""A lunch break, shown where the day has no charge of its own. Common practice, no source. [min]"""


@dataclass(frozen=True)
class BreakCharge:
    """A charge inside the day: what its minutes bring back.

    Attributes
    ----------
    name : str
        The activity's; empty where the day has none and a default break is shown.
    at_s : float
        Seconds after midnight.
    minutes : float
        How long it is on the charger.
    charge : Charge
        The charge from the state it begins at, were it left on until full.
    wall_wh : Uncertain
        From the socket in these minutes: integrated, and the trade's rule. [Wh]
    """

    name: str
    at_s: float
    minutes: float
    charge: Charge
    wall_wh: Uncertain

    @property
    def start_charge(self) -> float:
        """State of charge before."""
        return float(self.charge.state_of_charge[0])

    @property
    def end_charge(self) -> float:
        """State of charge after its minutes."""
        return self.charge.after(self.minutes / 60.0)[0]


@dataclass(frozen=True)
class ChargePlan:
    """The charges of a day and of the night after it.

    Attributes
    ----------
    breaks : tuple of BreakCharge
        In the day's order; a default break halfway where the day has none. What stays on meanwhile (standby, lights) is left out.
    night : Charge
        From the day's end until full, in the day's air.
    wall_wh : Uncertain or None
        From the socket for the day, in its breaks as they were ridden and overnight: integrated, and the trade's rule. None where
        the day's air or the charger's voltage refuses the charge. [Wh]
    """

    breaks: tuple[BreakCharge, ...]
    night: Charge
    wall_wh: Uncertain | None

    def __repr__(self) -> str:
        """In a few lines: amps, what a break brings, hours of the night, kWh."""
        if self.wall_wh is None:
            return f"ChargePlan: refused. {self.night.refused}"
        lines = [
            f"{each.name or 'a break, were there one'}, {each.minutes:g} min at {each.charge.allowed.current_a:.1f} A: "
            f"{percent(each.start_charge)} to {percent(each.end_charge)}"
            for each in self.breaks[:12]
        ]
        hours = ", ".join(
            f"{percent(mark)} {after:.1f} h" for mark, after in self.night.hours_to.items() if after < np.inf
        )
        night = f"night at {self.night.allowed.current_a:.1f} A, set by the {self.night.allowed.set_by}: {hours}"
        return "\n  ".join(["ChargePlan", *lines, night, f"from the socket {self.wall_wh.value / 1000.0:.2f} kWh"])


def charges_of(ride: Ride, charger: Charger, socket: Socket) -> ChargePlan:
    """The charges of a day that was ridden.

    Parameters
    ----------
    ride : Ride
        The day, its rows kept.
    charger : Charger
        For the night and the default break. A break of the day names its own current; the charger's efficiency counts in all.
    socket : Socket
        What the charger hangs on.
    """
    night = night_charge(ride, charger, socket)
    breaks = tuple(_breaks(ride, charger, socket))
    return ChargePlan(breaks, night, None if night.refused else _wall(ride, night, charger))


def night_charge(ride: Ride, charger: Charger, socket: Socket) -> Charge:
    """From the day's end until full, in the day's air."""
    return _charge_at(ride, ride.clock_s[-1], ride.outcome.end_state_of_charge, charger, socket)


def _charge_at(ride: Ride, at: float, charge: float, charger: Charger, socket: Socket) -> Charge:
    start, missing = min(1.0, max(0.0, charge)), float(missing_ah(ride, at))
    return charge_until_full(ride.build, start, charger, socket, ride.day.ambient_c, ride.battery_model, missing)


def _breaks(ride: Ride, charger: Charger, socket: Socket) -> list[BreakCharge]:
    wanted = [
        (
            activity.name,
            stage.start_s,
            (activity.duration_s or 0.0) / 60.0,
            activity.charge_current_a,
            stage.start_charge,
        )
        for activity, stage in zip(ride.asked.activity, ride.stages, strict=True)
        if activity.charge_current_a > 0.0
    ]
    if not wanted:
        middle = 0.5 * float(ride.clock_s[0] + ride.clock_s[-1])
        held = float(np.interp(middle, ride.clock_s, ride.rows["state_of_charge"]))
        wanted = [("", middle, DEFAULT_BREAK_MIN, charger.current_a, held)]
    made = []
    for name, at, minutes, amps, before in wanted:
        own = Charger(amps, charger.efficiency)
        charge = _charge_at(ride, at, before, own, socket)
        hours, pack = minutes / 60.0, ride.build.pack
        back = min(float(missing_ah(ride, at)), charge.put_back_ah(pack, hours))
        made.append(
            BreakCharge(name, at, minutes, charge, beside_rule(charge.after(hours)[1], rule_wh(pack, back, own)))
        )
    return made


def _wall(ride: Ride, night: Charge, charger: Charger) -> Uncertain:
    """From the socket: the day's own charging, as it was ridden, and the night's. [Wh]"""
    back = 0.0
    for activity, stage in zip(ride.day.activity, ride.stages, strict=True):
        if activity.charge_current_a > 0.0:
            before, after = missing_ah(ride, (stage.start_s, stage.end_s))
            back += max(0.0, float(before - after))
    by_day = -ride.ledger_wh["charger"] / charger.efficiency
    return beside_rule(by_day + night.wall_wh_to_full, rule_wh(ride.build.pack, back, charger) + night.rule_wh)
