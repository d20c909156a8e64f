"""Answers about the pack of a build on a day: watt-hours really usable, weight and price of each, its charges, its life."""

from __future__ import annotations

import math
from dataclasses import dataclass
from textwrap import indent
from typing import Literal

import numpy as np

from ridesim.choose.candidate import Candidate
from ridesim.choose.compare import compare
from ridesim.choose.findings.safety import cautions
from ridesim.choose.how_sure import DRAWS, band_about
from ridesim.physics.life import ageing_factor, cycles_at
from ridesim.ride.given import AnyBuild, AnyDay, given_build, given_day
from ridesim.ride.pack.block import block_numbers
from ridesim.ride.pack.day_charges import ChargePlan, charges_of
from ridesim.ride.pack.supply import SOCKETS, Charger, Socket, charger_of
from ridesim.ride.result import Ride
from ridesim.ride.simulate import simulate
from ridesim.vehicle import Build, Pack
from ridesim.vehicle.care import AGE_SPREAD, CYCLE_SPREAD, LONGEST_AGE
from ridesim.words import Finding, InputProblem, Uncertain, need_number, percent, shown


@dataclass(frozen=True)
class PackAnswers:
    """One pack's answers.

    Attributes
    ----------
    candidate : Candidate
        The build that carries it, and what it does on the day.
    usable_wh : Uncertain
        Watt-hours from full down to the reserve at the currents of the day's longest activity, without charging, and between which
        values nine in ten draws are. [Wh]
    depth : float
        Deepest discharge of the day, from full.
    show_days : Uncertain
        Days like this until the end of life, by cycles or by age, whichever is first; its band is the spread of both.
    worn_by : str
        ``"cycles"`` or ``"age"``.
    price : float or None
        Of the whole pack, where the block's is known.
    charging : ChargePlan
        The charges in the day's breaks and in the night after it, and what they take from the socket.
    cautions : tuple of Finding
        What belongs beside its numbers.
    """

    candidate: Candidate
    usable_wh: Uncertain
    depth: float
    show_days: Uncertain
    worn_by: str
    price: float | None
    charging: ChargePlan
    cautions: tuple[Finding, ...]

    def __repr__(self) -> str:
        """In a few lines, the cautions left out."""
        left, usable, days = self.candidate.left, self.usable_wh, self.show_days
        after = (
            f"{percent(left.value)} ({percent(left.low)} to {percent(left.high)}) left at this load, " if left else ""
        )
        price = "" if self.price is None else f", price {self.price:g}"
        return (
            f"PackAnswers: {self.name} on {self.ride.day.name}\n"
            f"  usable {usable.value:.0f} Wh ({usable.low:.0f} to {usable.high:.0f}) of {self.label_wh:.0f} Wh on the label\n"
            f"  {after}deepest discharge {percent(self.depth)}\n"
            f"  {self.build.pack.mass_kg:.1f} kg, {self.kg_per_usable_kwh:.0f} kg a usable kWh{price}\n"
            f"  lasts {days.value:.0f} such days ({days.low:.0f} to {days.high:.0f}), by {self.worn_by}\n"
            + indent(repr(self.charging), "  ")
        )

    @property
    def name(self) -> str:
        """The build's own name."""
        return self.build.name

    @property
    def build(self) -> Build:
        """The build that carries it."""
        return self.candidate.build

    @property
    def ride(self) -> Ride:
        """The likely day, without its charges where the day's air refuses them."""
        return self.candidate.ride

    @property
    def label_wh(self) -> float:
        """Volts × ampere-hours of the label. [Wh]"""
        return self.build.pack.nominal_voltage_v * self.build.pack.capacity_ah

    @property
    def kg_per_usable_kwh(self) -> float:
        """[kg/kWh]"""
        return self._per_usable_kwh(self.build.pack.mass_kg)

    @property
    def price_per_usable_kwh(self) -> float | None:
        """Money a usable kWh, where the price is known."""
        return None if self.price is None else self._per_usable_kwh(self.price)

    def _per_usable_kwh(self, amount: float) -> float:
        return 1000.0 * amount / self.usable_wh.value if self.usable_wh.value > 0.0 else math.inf

    @property
    def price_per_show_day(self) -> Uncertain | None:
        """Money a show day over the pack's life, with what that life leaves open; electricity apart. None without a price."""
        days = self.show_days
        if self.price is None:
            return None
        return Uncertain(self.price / days.value, self.price / days.high, self.price / days.low)


def pack_answers(
    build: AnyBuild,
    day: AnyDay,
    show_days_per_year: float = 12.0,
    charger: Charger | None = None,
    socket: Socket = SOCKETS[0],
    mean_c: float = 15.0,
    draws: int = DRAWS,
) -> PackAnswers:
    """Everything the choice of a pack needs to know about one build.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    day : Day, str or Path
        The day it does, or the name or path of its file.
    show_days_per_year : float
        Such days a year. Above 0.
    charger : Charger, optional
        For the night; None: the build's own, else one of the largest current that the blocks stand.
    socket : Socket
        What it hangs on.
    mean_c : float
        Mean temperature of the pack over the year, for ageing. [°C]
    draws : int
        As in :func:`ridesim.compare`.

    Returns
    -------
    PackAnswers

    Raises
    ------
    InputProblem
        Show days a year that are not a number above 0 and up to 366, a temperature outside -50 to 80 °C, something else in the
        place of a charger or a socket.

    Examples
    --------
    >>> from ridesim import load_build, load_day
    >>> heron = pack_answers(load_build("heron_36v"), load_day("harbour_festival"))
    >>> print(f"{heron.usable_wh.value:.0f} of {heron.label_wh:.0f} Wh, lasts {heron.show_days.value:.0f} days by {heron.worn_by}")
    339 of 792 Wh, lasts 96 days by age
    """
    build, day = given_build(build), given_day(day)
    need_number("the choice of a pack", "show_days_per_year", show_days_per_year, 0.0, 366.0, above=True)
    need_number("the choice of a pack", "mean_c", mean_c, -50.0, 80.0, "°C")
    charger = _supply(build, charger, socket)
    return answers_of(compare([build], day, draws).candidates[0], show_days_per_year, charger, socket, mean_c)


def answers_of(
    c: Candidate, show_days_per_year: float, charger: Charger, socket: Socket, mean_c: float = 15.0
) -> PackAnswers:
    """The same about a candidate of a comparison."""
    pack, day = c.build.pack, c.ride.asked
    depth, wear = wear_of(c.ride)
    by_cycles = 1.0 / wear if wear > 0.0 else math.inf
    by_age = years_of(pack, mean_c) * show_days_per_year
    low, high = (min((1.0 + way * CYCLE_SPREAD) * by_cycles, (1.0 + way * AGE_SPREAD) * by_age) for way in (-1.0, 1.0))
    return PackAnswers(
        candidate=c,
        usable_wh=_usable(c),
        depth=depth,
        show_days=Uncertain(min(by_cycles, by_age), low, high),
        worn_by="cycles" if by_cycles <= by_age else "age",
        price=_price(pack),
        charging=charges_of(c.ride, charger, socket),
        cautions=tuple(cautions(pack, day.ambient_c)),
    )


def usable_wh(ride: Ride) -> float:
    """Watt-hours from full down to the reserve at the currents of the activity that is ridden on, at the day's mean volts. [Wh]"""
    pack, outcome = ride.build.pack, ride.outcome
    if outcome.spare is None or not outcome.out_ah > 0.0:
        b = block_numbers(pack, ride.day.ambient_c)
        full, volts = float(b.capacity) / 3600.0 * pack.strings_in_parallel, pack.nominal_voltage_v
    else:
        full, volts = outcome.spare.full_ah, outcome.energy_wh / outcome.out_ah
    return full * volts * (1.0 - pack.reserve)


def _usable(c: Candidate) -> Uncertain:
    """The same with the band of the draws."""
    drawn, likely = c.drawn, usable_wh(c.ride)
    if drawn is None or drawn.rides is None or drawn.rides.spare is None:
        return Uncertain.over([likely])
    own = slice(drawn.first, drawn.first + len(drawn.scores))
    full, out = drawn.rides.spare["full_ah"][own], drawn.figures["out_ah"]
    volts = np.divide(drawn.figures["energy_wh"], out, out=np.full(len(out), np.nan), where=out > 0.0)
    return band_about(likely, full * volts * (1.0 - drawn.rides.machines["reserve"][own]))


def charge_plan(
    build: AnyBuild, day: AnyDay, charger: Charger | None = None, socket: Socket = SOCKETS[0]
) -> ChargePlan:
    """The charges of a build's day: those in its breaks, and the night's from the state in which the day leaves the pack.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.
    day : Day, str or Path
        The day it does, or the name or path of its file.
    charger : Charger, optional
        For the night, and for the break shown where the day has none; None: the build's own, else one of the largest current that the
        blocks stand.
    socket : Socket
        What it hangs on.

    Returns
    -------
    ChargePlan
        Its ``night.refused`` says why where the air or the charger's voltage forbids the charge.

    Raises
    ------
    InputProblem
        Something else in the place of a charger or a socket.

    Examples
    --------
    >>> from ridesim import load_build, load_day
    >>> charge_plan(load_build("heron_36v"), load_day("harbour_festival"), Charger(5.0))
    ChargePlan
      On the stand, charging, 90 min at 4.0 A: 54 % to 75 %
      night at 5.0 A, set by the charger: 80 % 3.1 h, 95 % 7.0 h, 99 % 11.7 h
      from the socket 0.73 kWh
    """
    build, day = given_build(build), given_day(day)
    charger = _supply(build, charger, socket)
    return charges_of(simulate(build, day), charger, socket)


def _supply(build: Build, charger: Charger | None, socket: Socket) -> Charger:
    """The charger to use; refuses something else in the place of a charger or a socket."""
    if charger is not None and not isinstance(charger, Charger):
        raise InputProblem("the charging", "charger", shown(charger), "a Charger, such as Charger(5.0)")
    if not isinstance(socket, Socket):
        raise InputProblem("the charging", "socket", shown(socket), "a Socket, such as SOCKETS[0]")
    return charger or charger_of(build)


def _price(pack: Pack) -> float | None:
    """Of the whole pack, where the block's is known."""
    return None if pack.block_price is None else pack.block_price * pack.blocks_in_series * pack.strings_in_parallel


def years_of(pack: Pack, mean_c: float) -> float:
    """Life without cycling at a mean temperature: never beyond the table's coldest row, unless the file states the years. [a]"""
    stated = "calendar_years" in pack.model_fields_set
    return pack.in_force.calendar_years * min(2.0 if stated else LONGEST_AGE, ageing_factor(mean_c))


def wear_of(ride: Ride) -> tuple[float, float]:
    """Deepest discharge of a day, and the share of the pack's life it takes.

    Miner's rule: one cycle to the deepest point, and one of the regained depth for each charge that is ridden again.
    """
    rows = ride.build.pack.in_force.cycle_life
    lowest = min(float(ride.rows["state_of_charge"].min()), ride.outcome.end_state_of_charge)
    depth = min(1.0, max(0.0, 1.0 - lowest))
    wear = 1.0 / cycles_at(depth, rows) if depth > 0.0 else 0.0
    for activity, stage in zip(ride.day.activity, ride.stages, strict=True):
        gained = stage.end_charge - stage.start_charge
        if activity.charge_current_a > 0.0 and gained > 1e-6:
            wear += 1.0 / cycles_at(gained, rows)
    return depth, wear


def made_equal(build: Build, reference: Build, by: Literal["mass", "price"]) -> Build:
    """A build whose pack is made larger or smaller until it weighs, or costs, as much as another's.

    Raises
    ------
    InputProblem
        A price that one of the packs does not say.
    """
    amounts = []
    for each in (reference, build):
        amount = each.pack.mass_kg if by == "mass" else _price(each.pack)
        if amount is None:
            raise InputProblem(each.name, "pack.block_price", "nothing", "the price of a block, in your own money")
        amounts.append(amount)
    capacity = build.pack.block_capacity_ah * amounts[0] / amounts[1]
    return build.changed({"pack.block_capacity_ah": capacity}, name=f"{build.name}, {capacity:.0f} Ah")
