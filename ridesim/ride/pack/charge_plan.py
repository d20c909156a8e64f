"""Charging: how long to 80 %, 95 % and full, what it takes from the socket, and which current blocks and socket allow.

The ride's own equations, standing on the charger with the controller off; a charge inside a day is the same computation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import time

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ridesim.day import Activity, Day
from ridesim.physics.charging import compensated_voltage, wall_energy
from ridesim.physics.pack import REFERENCE_C
from ridesim.ride.core.pack import charges_from, missing_share
from ridesim.ride.machine import absorption_at
from ridesim.ride.pack.block import block_numbers, whole_charge
from ridesim.ride.result import Ride
from ridesim.ride.simulate import simulate
from ridesim.vehicle import Build, Pack
from ridesim.words import InputProblem, Uncertain, degrees, is_number, shown

FULL = 0.99
"""What counts as full: the tail of a charge never ends. Common practice, no source."""
MARKS = (0.80, 0.95, FULL)
CHARGER_EFFICIENCY = 0.85
"""Watt-hours into the pack over watt-hours from the socket: 0.82 to 0.92 (from memory)."""
LONGEST_H = 72.0
EMPTIEST = 1e-6
"""A day cannot start quite empty."""
DEFAULT_BREAK_MIN = 60.0
"""A lunch break, shown where the day has no charge of its own. Common practice, no source. [min]"""


@dataclass(frozen=True, slots=True)
class Socket:
    """A wall socket and what it gives for hours on end."""

    name: str
    volts: float
    amps: float

    def __post_init__(self) -> None:
        if not isinstance(self.name, str):
            raise InputProblem("the socket", "name", shown(self.name), "a name")
        for key, value, unit in (("volts", self.volts, "V"), ("amps", self.amps, "A")):
            if not (is_number(value) and value > 0.0):
                raise InputProblem("the socket", key, shown(value, unit), f"a number above 0 {unit}")

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
    efficiency: float = CHARGER_EFFICIENCY

    def __post_init__(self) -> None:
        if not (is_number(self.current_a) and self.current_a > 0.0):
            raise InputProblem("the charger", "current_a", shown(self.current_a, "A"), "a current above 0 A")
        if not (is_number(self.efficiency) and 0.0 < self.efficiency <= 1.0):
            raise InputProblem("the charger", "efficiency", shown(self.efficiency), "a share above 0 and up to 1")


def check_supply(charger: object, socket: object) -> None:
    """Refuse something else in the place of a charger or a socket.

    Raises
    ------
    InputProblem
        Names which.
    """
    for key, value, kind in (("charger", charger, Charger), ("socket", socket, Socket)):
        if not isinstance(value, kind):
            article = "a Charger, such as Charger(5.0)" if kind is Charger else "a Socket, such as SOCKETS[0]"
            raise InputProblem("the charge plan", key, shown(value), article)


@dataclass(frozen=True, slots=True)
class AllowedCurrent:
    """Largest charging current and what sets it.

    Attributes
    ----------
    current_a : float
        The smallest of the three. [A]
    blocks_a, socket_a, charger_a : float
        What the blocks stand, what the socket can feed at the charger's voltage, what the charger gives. [A]
    set_by : str
        ``"blocks"``, ``"socket"`` or ``"charger"``.
    """

    current_a: float
    blocks_a: float
    socket_a: float
    charger_a: float
    set_by: str


def allowed_current(pack: Pack, charger: Charger, socket: Socket, ambient_c: float = REFERENCE_C) -> AllowedCurrent:
    """Which current the blocks, the socket and the charger allow together."""
    assert pack.max_charge_current_a is not None
    limits = {
        "blocks": pack.max_charge_current_a * pack.strings_in_parallel,
        "socket": socket.watts * charger.efficiency / absorption_at(pack, ambient_c),
        "charger": charger.current_a,
    }
    set_by = min(limits, key=lambda name: limits[name])
    return AllowedCurrent(limits[set_by], limits["blocks"], limits["socket"], limits["charger"], set_by)


@dataclass(frozen=True)
class ChargePlan:
    """A charge from one state to (nearly) full.

    Attributes
    ----------
    refused : str
        Why it must not be charged in this air or by this charger; empty where it may.
    allowed : AllowedCurrent
        Current used, and what sets it.
    voltage_v : float
        Charger's voltage at this temperature. [V]
    hours_to : dict of float to float
        State of charge to hours; infinite where it is not reached.
    hours, state_of_charge, current_a, terminal_v, wall_wh : ndarray
        The charge over time: [h], share, [A] into the pack, [V] at its terminals, [Wh] from the socket so far.
    rule_wh : float
        The trade's rule for the whole charge, E = Ah_out V_nom/(η_battery η_charger), beside the integrated figure. [Wh]
    """

    refused: str
    allowed: AllowedCurrent
    voltage_v: float
    hours_to: dict[float, float]
    hours: NDArray[np.float64]
    state_of_charge: NDArray[np.float64]
    current_a: NDArray[np.float64]
    terminal_v: NDArray[np.float64]
    wall_wh: NDArray[np.float64]
    rule_wh: float

    def after(self, hours: float) -> tuple[float, float]:
        """State of charge and watt-hours from the socket after some hours."""
        return (
            float(np.interp(hours, self.hours, self.state_of_charge)),
            float(np.interp(hours, self.hours, self.wall_wh)),
        )

    @property
    def wall_wh_to_full(self) -> float:
        """From the socket until full. [Wh]"""
        return self.after(min(self.hours_to[FULL], self.hours[-1]))[1]

    @property
    def wall_band(self) -> Uncertain:
        """From the socket until full: integrated, and the band that the trade's rule spans with it. [Wh]"""
        return band(self.wall_wh_to_full, self.rule_wh)

    @property
    def constant_current_until(self) -> tuple[float, float]:
        """Hours and state of charge at which the charger reaches its voltage; the end where it never does."""
        held = np.flatnonzero(self.current_a < self.allowed.current_a * (1.0 - 1e-9))
        place = max(0, int(held[0]) - 1) if len(held) else len(self.hours) - 1
        return float(self.hours[place]), float(self.state_of_charge[place])


def band(integrated: float, rule: float) -> Uncertain:
    """An integrated energy with the trade's rule as its other end."""
    return Uncertain(integrated, min(integrated, rule), max(integrated, rule))


def plan_charge(
    build: Build,
    start: float,
    charger: Charger,
    socket: Socket = SOCKETS[0],
    ambient_c: float = 20.0,
    battery_model: str | None = None,
    missing_ah: float | None = None,
) -> ChargePlan:
    """Charge a pack from a state of charge until full.

    Parameters
    ----------
    build : Build
        A validated build; its pack is charged, its controller off.
    start : float
        State of charge; rested unless ``missing_ah`` says more. [0 to 1]
    charger : Charger
        Its current and efficiency.
    socket : Socket
        What the charger hangs on.
    ambient_c : float
        Air, and pack. [°C]
    battery_model : str, optional
        The capacity law, as in :func:`ridesim.simulate`.
    missing_ah : float, optional
        Ampere-hours that a meter counts as missing from the whole pack, such as :func:`missing_ah` after a ride, which with
        ``start`` is the law's full state; None: as many as ``start`` says of a rested pack. [Ah]

    Returns
    -------
    ChargePlan
        With no times and ``refused`` where the chemistry must not be charged at this temperature, or at the charger's voltage.

    Raises
    ------
    InputProblem
        A state of charge outside 0 to 1, a temperature outside the model, something else than a charger or a socket.
    """
    if not (is_number(start) and 0.0 <= start <= 1.0):
        raise InputProblem("the charge plan", "start", shown(start), "a state of charge from 0 to 1")
    if not (is_number(ambient_c) and -20.0 <= ambient_c <= 50.0):
        raise InputProblem("the charge plan", "ambient_c", shown(ambient_c, "°C"), "a temperature from -20 to 50 °C")
    check_supply(charger, socket)
    pack = build.pack
    allowed = allowed_current(pack, charger, socket, ambient_c)
    voltage = absorption_at(pack, ambient_c)
    refused = why_refused(pack, ambient_c)
    if refused:
        nothing = np.zeros(1)
        times = {mark: 0.0 if start >= mark else math.inf for mark in MARKS}
        return ChargePlan(refused, allowed, voltage, times, nothing, np.array([start]), nothing, nothing, nothing, 0.0)
    hours, charge, current, volts, joules = _charge(
        build, start, allowed.current_a, ambient_c, battery_model, missing_ah
    )
    rising = np.maximum.accumulate(charge)
    times = {
        mark: 0.0 if start >= mark else _first_at(mark, hours, rising) if rising[-1] >= mark else math.inf
        for mark in MARKS
    }
    back = missing_ah if missing_ah is not None else (1.0 - start) * _whole_ah(pack, ambient_c, battery_model)
    if not math.isfinite(times[FULL]):
        back = min(back, _put_back_ah(pack, hours, current, hours[-1]))
    wall = joules / 3600.0 / charger.efficiency
    return ChargePlan("", allowed, voltage, times, hours, charge, current, volts, wall, rule_wh(pack, back, charger))


def _put_back_ah(pack: Pack, hours: NDArray[np.float64], current: NDArray[np.float64], until: float) -> float:
    """Missing ampere-hours that a charge has put back after some hours: what went in, less what is not stored. [Ah]"""
    assert pack.coulombic_efficiency is not None
    into = np.concatenate([[0.0], np.cumsum(0.5 * (current[1:] + current[:-1]) * np.diff(hours))])
    return pack.coulombic_efficiency * float(np.interp(until, hours, into))


def rule_wh(pack: Pack, out_ah: float, charger: Charger) -> float:
    """The trade's rule for the energy from the socket that puts back ampere-hours taken out of the pack. [Wh]"""
    assert pack.energy_efficiency is not None
    return wall_energy(out_ah, pack.nominal_voltage_v, pack.energy_efficiency, charger.efficiency)


def missing_ah(ride: Ride, clock_s: ArrayLike) -> NDArray[np.float64]:
    """Ampere-hours missing from full at moments of a ride whose rows were kept, as a meter counts them.

    Parameters
    ----------
    ride : Ride
        The day.
    clock_s : array_like, shape (n,)
        Seconds after midnight.

    Returns
    -------
    ndarray, shape (n,)
        Of the whole pack. Fewer than 1 - z of the capacity where they were taken out at a high rate: the rest is out of reach
        (Peukert), still bound (two-well) or comes back as the filtered current falls (saturating). [Ah]
    """
    pack = ride.build.pack
    numbers = block_numbers(pack, ride.day.ambient_c, ride.battery_model)
    moments = np.asarray(clock_s, dtype=float)
    kept = (ride.rows[name] for name in ("state_of_charge", "second_charge"))
    charge, second = (np.interp(moments.ravel(), ride.clock_s, column) for column in kept)
    shares = [missing_share(*charges_from(z, q2, numbers), numbers) for z, q2 in zip(charge, second, strict=True)]
    missing = np.maximum(0.0, shares).reshape(moments.shape)
    return np.asarray(missing * numbers.capacity / 3600.0 * pack.strings_in_parallel)


def _whole_ah(pack: Pack, ambient_c: float, battery_model: str | None) -> float:
    """All the charge of the pack between rested full and empty, under a law. [Ah]"""
    return pack.strings_in_parallel * whole_charge(block_numbers(pack, ambient_c, battery_model)) / 3600.0


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
    asked_a : float
        What the day asks for; blocks and socket may allow less. [A]
    plan : ChargePlan
        The charge from the state it begins at, were it left on.
    wall_wh : Uncertain
        From the socket in these minutes: integrated, and the trade's rule. [Wh]
    """

    name: str
    at_s: float
    minutes: float
    asked_a: float
    plan: ChargePlan
    wall_wh: Uncertain

    @property
    def start_charge(self) -> float:
        """State of charge before."""
        return float(self.plan.state_of_charge[0])

    @property
    def end_charge(self) -> float:
        """State of charge after its minutes."""
        return self.plan.after(self.minutes / 60.0)[0]


def break_charges(
    ride: Ride, charger: Charger, socket: Socket = SOCKETS[0], asked: Day | None = None
) -> tuple[BreakCharge, ...]:
    """The charges inside a day that was ridden; a default break halfway where it has none.

    Parameters
    ----------
    ride : Ride
        The day, its rows kept.
    charger : Charger
        Its efficiency counts in every break; its current in the default one, as a day's activity names its own.
    socket : Socket
        What the charger hangs on.
    asked : Day, optional
        The day as it was wished for, where its charges were left out of the ride; the ride's own.

    Returns
    -------
    tuple of BreakCharge
        In the day's order. What stays on meanwhile (standby, lights) is left out.
    """
    check_supply(charger, socket)
    day = asked or ride.day
    wanted = [
        (activity.name, stage.start_s, activity.duration_min or 0.0, activity.charge_current_a, stage.start_charge)
        for activity, stage in zip(day.activity, ride.stages, strict=True)
        if activity.charge_current_a > 0.0
    ]
    if not wanted:
        middle = 0.5 * float(ride.clock_s[0] + ride.clock_s[-1])
        held = float(np.interp(middle, ride.clock_s, ride.rows["state_of_charge"]))
        wanted = [("", middle, DEFAULT_BREAK_MIN, charger.current_a, held)]
    made = []
    for name, at, minutes, amps, before in wanted:
        own = Charger(amps, charger.efficiency)
        start = min(1.0, max(0.0, before))
        missing = float(missing_ah(ride, at))
        plan = plan_charge(ride.build, start, own, socket, day.ambient_c, ride.battery_model, missing)
        wall = plan.after(minutes / 60.0)[1]
        pack = ride.build.pack
        back = min(missing, _put_back_ah(pack, plan.hours, plan.current_a, minutes / 60.0))
        rule = rule_wh(pack, back, own)
        made.append(BreakCharge(name, at, minutes, amps, plan, band(wall, rule)))
    return tuple(made)


def why_refused(pack: Pack, ambient_c: float) -> str:
    """Why a pack must not be charged in this air, or by this charger at all; empty where it may be."""
    coldest, hottest = pack.kind.coldest_charge_c, pack.care.hottest_charge_c
    air = degrees(ambient_c)
    if ambient_c < coldest:
        why = (
            "metal plates out inside the cells, which may burn later"
            if pack.kind.is_lithium
            else "they take little charge and may freeze"
        )
        return f"{air} °C is too cold to charge {pack.chemistry} ({degrees(coldest)} °C at least): {why}."
    if ambient_c > hottest:
        return f"{air} °C is too hot to charge {pack.chemistry} ({degrees(hottest)} °C at most): they overheat and gas."
    return why_too_high(pack, ambient_c)


def why_too_high(pack: Pack, ambient_c: float = REFERENCE_C) -> str:
    """Why the charger's voltage must not be put on these cells; empty where it may."""
    given, most = absorption_at(pack, ambient_c) / pack.cells, highest_charge_voltage(pack, ambient_c)
    if given <= most * (1.0 + 1e-9):
        return ""
    danger = (
        "overcharged, they swell, vent and may burn, hours later too"
        if pack.kind.is_lithium
        else "they boil off hydrogen and acid mist, dry out and may run hotter and hotter until they burst or burn"
    )
    return (
        f"The charger's {given:.2f} V a cell is more than {pack.chemistry} stands at {degrees(ambient_c)} °C ({most:.2f} V at most): {danger}. "
        "Do not connect it: only a charger made for this chemistry and number of cells; its maker, a licensed person and local rules decide."
    )


def fills_to(pack: Pack, ambient_c: float) -> float:
    """State of charge whose rested voltage is the charger's: it brings the pack no further; 1 where it stands above E(1)."""
    z, volts = np.array(pack.rest_table, dtype=float).T
    return float(np.interp(absorption_at(pack, ambient_c) / pack.cells, volts, z))


def highest_charge_voltage(pack: Pack, ambient_c: float = REFERENCE_C) -> float:
    """Most that the chemistry stands from a charger at a temperature. [V a cell]"""
    care = pack.care
    return compensated_voltage(care.highest_charge_v_per_cell, 1, care.compensation_v_per_cell_per_k, ambient_c)


def _first_at(mark: float, hours: NDArray[np.float64], charge: NDArray[np.float64]) -> float:
    index = int(np.searchsorted(charge, mark))
    before, after = charge[index - 1], charge[index]
    share = (mark - before) / (after - before) if after > before else 1.0
    return float(hours[index - 1] + share * (hours[index] - hours[index - 1]))


def _charge(
    build: Build, start: float, current: float, ambient: float, battery_model: str | None, missing: float | None
) -> tuple[NDArray[np.float64], ...]:
    """Stand on the charger until full: hours, state of charge, current into the pack, its volts, joules from the charger."""
    controller = build.controller.model_copy(update={"standby_current_a": 0.0})
    pack = build.pack.model_copy(update={"stood_months": 0.0})
    alone = build.model_copy(update={"controller": controller, "pack": pack, "lighting": None})
    charge = Activity(name="charging", start=time(0), duration_min=60.0 * LONGEST_H, charge_current_a=current)
    day = Day(ambient_c=ambient, start_state_of_charge=max(start, EMPTIEST), activity=(charge,))
    ride = simulate(alone, day, battery_model, missing_ah=missing)
    rows = ride.rows
    hours, filled, volts, into = (
        rows["time_s"] / 3600.0,
        rows["state_of_charge"],
        rows["pack_voltage_v"],
        -rows["pack_current_a"],
    )
    power = volts * into
    joules = np.concatenate([[0.0], np.cumsum(0.5 * (power[1:] + power[:-1]) * np.diff(rows["time_s"]))])
    # The rows' trapezoids are scaled to the ledger's own sum, which is integrated with the equations.
    if joules[-1] > 0.0:  # a full pack takes none
        joules *= -3600.0 * ride.ledger_wh["charger"] / joules[-1]
    full = np.flatnonzero(filled >= 0.9999)
    stop = int(full[0]) + 1 if len(full) else len(rows)
    return hours[:stop], filled[:stop], into[:stop], volts[:stop], joules[:stop]
