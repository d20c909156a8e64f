"""One charge from a state of charge until full: hours to 80 %, 95 % and full, and what it takes from the socket.

The pack stands on the charger with the controller off, and the ride's own equations are integrated.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from datetime import time

import numpy as np
from numpy.typing import ArrayLike

from ridesim.day import Activity, Day
from ridesim.physics.charging import wall_energy
from ridesim.ride.machine import absorption_at
from ridesim.ride.pack.block import block_numbers
from ridesim.ride.pack.laws import FloatArray
from ridesim.ride.pack.refusal import why_refused
from ridesim.ride.pack.supply import SOCKETS, AllowedCurrent, Charger, Socket, allowed_current
from ridesim.ride.result import Ride
from ridesim.ride.simulate import simulate
from ridesim.vehicle import Build, Pack
from ridesim.words import Uncertain

FULL = 0.99
"""What counts as full: the tail of a charge never ends. Common practice, no source."""
MARKS = (0.80, 0.95, FULL)
LONGEST_H = 72.0
EMPTIEST = 1e-6
"""A day cannot start quite empty."""


@dataclass(frozen=True)
class Charge:
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
    rule_wh: float
    hours: FloatArray = field(repr=False)
    state_of_charge: FloatArray = field(repr=False)
    current_a: FloatArray = field(repr=False)
    terminal_v: FloatArray = field(repr=False)
    wall_wh: FloatArray = field(repr=False)

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
        return beside_rule(self.wall_wh_to_full, self.rule_wh)

    @property
    def constant_current_until(self) -> tuple[float, float]:
        """Hours and state of charge at which the charger reaches its voltage; the end where it never does."""
        held = np.flatnonzero(self.current_a < self.allowed.current_a * (1.0 - 1e-9))
        place = max(0, int(held[0]) - 1) if len(held) else len(self.hours) - 1
        return float(self.hours[place]), float(self.state_of_charge[place])

    def put_back_ah(self, pack: Pack, hours: float) -> float:
        """Missing ampere-hours put back after some hours: what went in, less what is not stored. [Ah]"""
        into = _summed(self.current_a, self.hours)
        return pack.in_force.coulombic_efficiency * float(np.interp(hours, self.hours, into))


def charge_until_full(
    build: Build,
    start: float,
    charger: Charger,
    socket: Socket = SOCKETS[0],
    ambient_c: float = 20.0,
    battery_model: str | None = None,
    missing_ah: float | None = None,
) -> Charge:
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
    Charge
        With no times and ``refused`` where the chemistry must not be charged at this temperature, or at the charger's voltage.
    """
    pack = build.pack
    allowed, voltage = allowed_current(pack, charger, socket, ambient_c), absorption_at(pack, ambient_c)
    refused = why_refused(pack, ambient_c)
    if refused:
        nothing = np.zeros(1)
        times = {mark: 0.0 if start >= mark else math.inf for mark in MARKS}
        return Charge(refused, allowed, voltage, times, 0.0, nothing, np.array([start]), nothing, nothing, nothing)
    ride = _on_the_charger(build, start, allowed.current_a, ambient_c, battery_model, missing_ah)
    full = np.flatnonzero(ride.rows["state_of_charge"] >= 0.9999)
    rows = ride.rows[: int(full[0]) + 1] if len(full) else ride.rows
    hours, charge = rows["time_s"] / 3600.0, rows["state_of_charge"]
    rising = np.maximum.accumulate(charge)
    times = {mark: 0.0 if start >= mark else float(np.interp(mark, rising, hours, right=math.inf)) for mark in MARKS}
    out = missing_ah
    if out is None:
        b = block_numbers(pack, ambient_c, battery_model)
        out = (1.0 - start) * (pack.strings_in_parallel * b.capacity / 3600.0)
    wall = _charger_joules(ride)[: len(rows)] / 3600.0 / charger.efficiency
    made = Charge(
        "", allowed, voltage, times, rule_wh(pack, out, charger), hours, charge, -rows["pack_current_a"],
        rows["pack_voltage_v"], wall,
    )  # fmt: skip
    if math.isfinite(times[FULL]):
        return made
    return replace(made, rule_wh=rule_wh(pack, min(out, made.put_back_ah(pack, hours[-1])), charger))


def _on_the_charger(
    build: Build, start: float, current: float, ambient: float, battery_model: str | None, missing: float | None
) -> Ride:
    """The pack by itself on the charger, for longer than any charge lasts."""
    alone = build.changed({"controller.standby_current_a": 0.0, "pack.stood_months": 0.0, "lighting": None})
    charge = Activity(name="charging", start=time(0), duration_min=60.0 * LONGEST_H, charge_current_a=current)
    day = Day(ambient_c=ambient, start_state_of_charge=max(start, EMPTIEST), activity=(charge,))
    return simulate(alone, day, battery_model, missing_ah=missing)


def _summed(values: FloatArray, clock: FloatArray) -> FloatArray:
    """Integral of values over time up to each moment, by the trapezoidal rule."""
    from scipy.integrate import cumulative_trapezoid

    return np.asarray(cumulative_trapezoid(values, clock, initial=0))


def _charger_joules(ride: Ride) -> FloatArray:
    """Energy from the charger so far, row by row; scaled to the ledger's sum, which is integrated with the equations. [J]"""
    rows = ride.rows
    joules = _summed(-rows["pack_voltage_v"] * rows["pack_current_a"], rows["time_s"])
    if joules[-1] > 0.0:  # a full pack takes none
        joules *= -3600.0 * ride.ledger_wh["charger"] / joules[-1]
    return joules


def rule_wh(pack: Pack, out_ah: float, charger: Charger) -> float:
    """The trade's rule for the energy from the socket that puts back ampere-hours taken out of the pack. [Wh]"""
    return wall_energy(out_ah, pack.nominal_voltage_v, pack.in_force.energy_efficiency, charger.efficiency)


def beside_rule(integrated: float, rule: float) -> Uncertain:
    """An integrated energy with the trade's rule as its other end."""
    return Uncertain(integrated, min(integrated, rule), max(integrated, rule))


def missing_ah(ride: Ride, clock_s: ArrayLike) -> FloatArray:
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
        Of the whole pack. Fewer than 1 - z of the capacity where they were taken out at a high rate: the rest is out of reach, or comes
        back at rest. [Ah]
    """
    pack = ride.build.pack
    block = block_numbers(pack, ride.day.ambient_c, ride.battery_model)
    missing = np.maximum(0.0, np.interp(np.asarray(clock_s, dtype=float), ride.clock_s, ride.rows["missing"]))
    return np.asarray(missing * (block.capacity / 3600.0 * pack.strings_in_parallel))
