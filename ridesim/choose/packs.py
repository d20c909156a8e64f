"""Packs side by side on one day: watt-hours really usable, weight and price of each, days of shows before it is worn out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Literal

from ridesim.choose.findings.pack import cautions, ridden_day
from ridesim.day import Day
from ridesim.physics.life import ageing_factor, cycles_at
from ridesim.ride.pack.charge_plan import (
    SOCKETS,
    ChargePlan,
    Charger,
    Socket,
    band,
    check_supply,
    missing_ah,
    plan_charge,
    rule_wh,
)
from ridesim.ride.pack.laws import available_laws, choose_law
from ridesim.ride.pack.usable import usable_by_law
from ridesim.ride.result import Ride
from ridesim.ride.simulate import simulate_laws
from ridesim.vehicle import Build, Pack
from ridesim.vehicle.care import AGE_SPREAD, CYCLE_SPREAD, LONGEST_AGE
from ridesim.words import Finding, InputProblem, Uncertain, is_number, shown


@dataclass(frozen=True)
class PackOption:
    """One pack's answers.

    Attributes
    ----------
    build : Build
        The build that carries it.
    rides : dict of str to Ride
        The day under each law; the law in use first. Without its charges where the day's air refuses them.
    end_charge : Uncertain
        State of charge at the end: the law in use, lowest and highest.
    usable_wh : Uncertain
        Watt-hours at the terminals on this day's currents, from full down to the reserve, no charging
        (:func:`ridesim.ride.pack.usable.usable_by_law`). [Wh]
    depth : float
        Deepest discharge of the day, from full.
    show_days : Uncertain
        Days like this until the end of life, by cycles or by age, whichever is first; its band is the spread of both.
    worn_by : str
        ``"cycles"`` or ``"age"``.
    price : float or None
        Of the whole pack, where the block's is known.
    night : ChargePlan
        The charge after the day, in the day's air.
    wall_wh : Uncertain or None
        From the socket for one such day, charging in the break and overnight, both in the day's air: integrated, and the
        trade's rule. None where that air refuses it. [Wh]
    cautions : tuple of Finding
        What belongs beside its numbers.
    """

    build: Build
    rides: dict[str, Ride]
    end_charge: Uncertain
    usable_wh: Uncertain
    depth: float
    show_days: Uncertain
    worn_by: str
    price: float | None
    night: ChargePlan
    wall_wh: Uncertain | None
    cautions: tuple[Finding, ...]

    @property
    def name(self) -> str:
        """The build's own name."""
        return self.build.name

    @property
    def ride(self) -> Ride:
        """The day under the law in use."""
        return next(iter(self.rides.values()))

    @property
    def label_wh(self) -> float:
        """Volts × ampere-hours of the label. [Wh]"""
        return self.build.pack.nominal_voltage_v * self.build.pack.capacity_ah

    @property
    def kg_per_usable_kwh(self) -> float:
        """[kg/kWh]"""
        return 1000.0 * self.build.pack.mass_kg / self.usable_wh.value if self.usable_wh.value > 0.0 else math.inf

    @property
    def price_per_usable_kwh(self) -> float | None:
        """Money a usable kWh, where the price is known."""
        if self.price is None:
            return None
        return 1000.0 * self.price / self.usable_wh.value if self.usable_wh.value > 0.0 else math.inf

    @property
    def price_per_show_day(self) -> float | None:
        """Money a show day over the pack's life, where the price is known; electricity apart."""
        return None if self.price is None else self.price / self.show_days.value

    @property
    def price_per_show_day_band(self) -> Uncertain | None:
        """The same with what the pack's life leaves open."""
        if self.price is None:
            return None
        days = self.show_days
        return Uncertain(self.price / days.value, self.price / days.high, self.price / days.low)


def pack_option(
    build: Build,
    day: Day,
    show_days_per_year: float = 12.0,
    charger: Charger | None = None,
    socket: Socket = SOCKETS[0],
    mean_c: float = 15.0,
) -> PackOption:
    """Everything the choice of a pack needs to know about one build.

    Parameters
    ----------
    build : Build
        A validated build.
    day : Day
        The day it does.
    show_days_per_year : float
        Such days a year. Above 0.
    charger : Charger, optional
        For the night; None: as much as the blocks stand.
    socket : Socket
        What it hangs on.
    mean_c : float
        Mean temperature of the pack over the year, for ageing. [°C]

    Returns
    -------
    PackOption

    Raises
    ------
    InputProblem
        No show days at all, or without end; a temperature no workshop has; something else than a charger or a socket.
    """
    if not (is_number(show_days_per_year) and show_days_per_year > 0.0):
        raise InputProblem("the choice of a pack", "show_days_per_year", shown(show_days_per_year), "a number above 0")
    if not (is_number(mean_c) and -50.0 <= mean_c <= 80.0):
        raise InputProblem("the choice of a pack", "mean_c", shown(mean_c, "°C"), "a temperature from -50 to 80 °C")
    if charger is not None or not isinstance(socket, Socket):
        check_supply(Charger(1.0) if charger is None else charger, socket)
    pack = build.pack
    used = choose_law(pack, None)
    laws = [used, *(law for law in available_laws(pack) if law != used)]
    rides = simulate_laws(build, ridden_day(pack, day), laws)
    ends = [ride.outcome.end_state_of_charge for ride in rides.values()]
    usable = list(usable_by_law(build, day, laws).values())
    ride = rides[used]
    depth, wear = wear_of(ride)
    assert pack.max_charge_current_a is not None
    charger = charger or Charger(pack.max_charge_current_a * pack.strings_in_parallel)
    end = min(1.0, max(0.0, ride.outcome.end_state_of_charge))
    missing = float(missing_ah(ride, ride.clock_s[-1]))
    night = plan_charge(build, end, charger, socket, day.ambient_c, used, missing)
    by_cycles = 1.0 / wear if wear > 0.0 else math.inf
    by_age = years_of(pack, mean_c) * show_days_per_year
    days = min(by_cycles, by_age)
    low, high = (min((1.0 + way * CYCLE_SPREAD) * by_cycles, (1.0 + way * AGE_SPREAD) * by_age) for way in (-1.0, 1.0))
    return PackOption(
        build=build,
        rides=rides,
        end_charge=Uncertain(ends[0], min(ends), max(ends)),
        usable_wh=Uncertain(usable[0], min(usable), max(usable)),
        depth=depth,
        show_days=Uncertain(days, low, high),
        worn_by="cycles" if by_cycles <= by_age else "age",
        price=None if pack.block_price is None else pack.block_price * pack.blocks_in_series * pack.strings_in_parallel,
        night=night,
        wall_wh=None if night.refused else _wall(ride, night, charger),
        cautions=tuple(cautions(pack)),
    )


def years_of(pack: Pack, mean_c: float) -> float:
    """Life without cycling at a mean temperature: never beyond the table's coldest row, unless the file states the years. [a]"""
    assert pack.calendar_years is not None
    stated = "calendar_years" in pack.model_fields_set
    return pack.calendar_years * min(2.0 if stated else LONGEST_AGE, ageing_factor(mean_c))


def pack_choice(builds: Sequence[Build], day: Day, **settings: float | Charger | Socket | None) -> list[PackOption]:
    """Packs side by side; settings as in :func:`pack_option`."""
    return [pack_option(build, day, **settings) for build in builds]  # type: ignore[arg-type]


def wear_of(ride: Ride) -> tuple[float, float]:
    """Deepest discharge of a day, and the share of the pack's life it takes.

    Miner's rule: one cycle to the deepest point, and one of the regained depth for each charge that is ridden again.
    """
    rows = ride.build.pack.cycle_life
    assert rows is not None
    lowest = min((float(ride.rows["state_of_charge"].min()), ride.outcome.end_state_of_charge))
    depth = min(1.0, max(0.0, 1.0 - max(0.0, lowest)))
    wear = 1.0 / cycles_at(depth, rows) if depth > 0.0 else 0.0
    for activity, stage in zip(ride.day.activity, ride.stages, strict=True):
        gained = stage.end_charge - stage.start_charge
        if activity.charge_current_a > 0.0 and gained > 1e-6:
            wear += 1.0 / cycles_at(gained, rows)
    return depth, wear


def _wall(ride: Ride, night: ChargePlan, charger: Charger) -> Uncertain:
    """From the socket: the day's own charging and the night's. [Wh]"""
    spans = [
        (stage.start_s, stage.end_s)
        for activity, stage in zip(ride.day.activity, ride.stages, strict=True)
        if activity.charge_current_a > 0.0
    ]
    back = sum(max(0.0, float(before - after)) for before, after in map(partial(missing_ah, ride), spans))
    rule = rule_wh(ride.build.pack, back, charger)
    return band(
        -ride.ledger_wh["charger"] / charger.efficiency + night.wall_wh_to_full,
        rule + night.rule_wh,
    )


def scaled_pack(pack: Pack, factor: float) -> Pack:
    """The same blocks made larger: charge, mass, price and charging current × factor, resistances over it.

    Raises
    ------
    InputProblem
        A factor of zero or less.
    """
    if not (is_number(factor) and factor > 0.0):
        raise InputProblem("the pack", "factor", shown(factor), "a number above 0")
    grown = ("block_capacity_ah", "block_mass_kg", "block_price", "max_charge_current_a")
    shrunk = ("block_resistance_ohm", "label_resistance_ohm", "polarisation_resistance_ohm")
    update: dict[str, object] = {}
    for names, share in ((grown, factor), (shrunk, 1.0 / factor)):
        update |= {name: getattr(pack, name) * share for name in names if getattr(pack, name) is not None}
    if pack.capacity_by_hours is not None:
        update["capacity_by_hours"] = tuple((hours, charge * factor) for hours, charge in pack.capacity_by_hours)
    return pack.model_copy(update=update)


def made_equal(build: Build, reference: Build, by: Literal["mass", "price"]) -> Build:
    """A build whose pack is made larger or smaller until it weighs, or costs, as much as another's.

    Raises
    ------
    InputProblem
        A price that one of the packs does not say; something else than mass or price.
    """
    if by not in ("mass", "price"):
        raise InputProblem("the pack", "by", shown(by), "mass or price")
    if by == "mass":
        factor = reference.pack.mass_kg / build.pack.mass_kg
    else:
        prices = []
        for each in (reference, build):
            pack = each.pack
            if pack.block_price is None:
                raise InputProblem(each.name, "pack.block_price", "nothing", "the price of a block, in your own money")
            prices.append(pack.block_price * pack.blocks_in_series * pack.strings_in_parallel)
        factor = prices[0] / prices[1]
    named = f"{build.name}, {build.pack.block_capacity_ah * factor:.0f} Ah"
    return build.model_copy(update={"pack": scaled_pack(build.pack, factor), "name": named})
