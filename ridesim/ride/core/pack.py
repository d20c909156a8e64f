"""The pack in the core: its charge under a capacity law and the rates of it, the source behind the loads, and the charger.

Three numbers say how full a string is, whatever the law. ``left``: under Peukert's law and of the two wells' available one the state
of charge itself; under the others 1 - ∫I/C(I) dt. ``missing``: the charge out of it as a meter counts it (what is lost in charging
taken off), over the capacity at slow rates; the rested voltage follows it. ``filtered``: the current behind a low-pass filter, over
FILTER_SCALE rated currents.
"""

from __future__ import annotations

from typing import NamedTuple

from ridesim.physics.capacity_laws import (
    FILTER_S,
    PEUKERT,
    TWO_WELL,
    charge_left,
    peukert_factor,
    saturating_factor,
    two_well_flow,
)
from ridesim.physics.charging import charge_current
from ridesim.physics.compiled import compiled, inlined
from ridesim.physics.pack import activation_voltage, depletion_voltage, open_circuit, resistance_factor
from ridesim.ride.core import places as at
from ridesim.ride.core.records import Array, Machine, PackNumbers, Scene

FILTER_SCALE = 100.0
"""Scales the filtered current to the size of the other charges, so that one tolerance suits them all."""
NEARLY_NOTHING = 1e-9
"""With less missing than this share of the capacity a pack is full; a ratio of two such numbers would be rounding only."""
ACTIVATION_PER_H = 0.001
"""I_a of :func:`ridesim.physics.pack.activation_voltage` over the rated ampere-hours. [1/h]"""


@compiled
def state_of_charge(left: float, missing: float, filtered: float, p: PackNumbers) -> float:
    """State of charge z."""
    if p.law == PEUKERT or p.law == TWO_WELL:
        return left
    return charge_left(
        left, missing, saturating_factor(FILTER_SCALE * filtered, p.bend, p.exponent, p.level), p.recovery
    )


@compiled
def charges_at(z: float) -> tuple[float, float, float]:
    """Left, missing and filtered of a rested pack at a state of charge, under every law."""
    return z, 1.0 - z, 0.0


@compiled
def left_at(z: float, missing: float, filtered: float, p: PackNumbers) -> float:
    """What is left, from a state of charge and the other two."""
    if p.law == PEUKERT or p.law == TWO_WELL or p.recovery == 1.0:
        return z
    recovered = charge_left(
        0.0, missing, saturating_factor(FILTER_SCALE * filtered, p.bend, p.exponent, p.level), p.recovery
    )
    return (z - recovered) / (1.0 - p.recovery)


@compiled
def charge_room(left: float, missing: float, p: PackNumbers) -> float:
    """The share of the charge missing that sets the resistance of acceptance.

    This is not 1 - z: after a fast discharge, charge that the law puts out of reach need not be put back. Under the two-well law the
    current enters by the available well, so no more counts than that well has room for.
    """
    return min(missing, 1.0 - left) if p.law == TWO_WELL else missing


@inlined
def loss_factor(current: float, p: PackNumbers) -> float:
    """How much faster what is left goes than plain ampere-hours at a discharge current of one string."""
    if p.law == PEUKERT:
        return peukert_factor(current, p.rated_current, p.exponent)
    return saturating_factor(current / p.rated_current, p.bend, p.exponent, p.level)


@compiled
def charge_rates(
    left: float, missing: float, filtered: float, current: float, p: PackNumbers
) -> tuple[float, float, float]:
    """Rates of left, missing and filtered under a current of one string, discharge positive. [1/s]

    The loss at a high rate is capacity out of reach, not charge to be put back: on charge 1 - left falls in proportion to what is
    missing, so that both are full together.
    """
    share = (current if current >= 0.0 else p.coulombic * current) / p.capacity
    settling = (max(0.0, current) / (FILTER_SCALE * p.rated_current) - filtered) * (1.0 / FILTER_S)
    if p.law == TWO_WELL:
        available = p.well_share * left
        flow = two_well_flow(available, 1.0 - missing - available, p.well_share, p.well_rate)
        return (flow - share) / p.well_share, share, settling
    if current > 0.0:
        return -share * loss_factor(current, p), share, settling
    return -share * ((1.0 - left) / missing if missing > NEARLY_NOTHING else 1.0), share, settling


class Source(NamedTuple):
    """The pack as the controller finds it."""

    charge: float  # z [-]
    rested: float  # E [V]
    inner: float  # R_0 [ohm]
    polarisation: float  # V_pol [V]
    standby: float  # [A]
    lights: float  # [A]
    volts: float  # E' before the controller's current [V]


@inlined
def rested_source(missing: float, p: PackNumbers) -> tuple[float, float]:
    """E [V] and R_0 [ohm] by the charge that is missing."""
    stored = min(1.0, max(0.0, 1.0 - missing))
    rested = open_circuit(stored, p.table_z, p.table_v)
    return rested, p.resistance * resistance_factor(stored, p.resistance_rise)


@inlined
def source_at(w: Array, place: int, m: Machine, scene: Scene, alive: bool) -> Source:
    """E' = E - V_pol - R_0 (I_standby + I_lights)."""
    p = m.pack
    z = state_of_charge(w[place, at.LEFT], w[place, at.MISSING], w[place, at.FILTERED], p)
    rested, inner = rested_source(w[place, at.MISSING], p)
    standby = m.standby if scene.controller_on == 1 and alive else 0.0
    lights = scene.light_power / rested if alive else 0.0
    polarisation = w[place, at.POLARISATION]
    return Source(z, rested, inner, polarisation, standby, lights, rested - polarisation - inner * (standby + lights))


@compiled
def beyond_resistance(z: float, rested: float, inner: float, current: float, p: PackNumbers) -> float:
    """Activation and depletion under a steady current of the whole pack: what R_0 and R_1 do not explain. None on charge. [V]"""
    if current <= 0.0:
        return 0.0
    rated = p.strings * p.rated_current
    active = activation_voltage(current, p.activation, p.strings * p.activation_current)
    loaded = rested - (inner + p.polarisation_resistance) * current - active
    return active + depletion_voltage(z, loaded, current / rated, p.end_volts, p.end_fall)


@inlined
def settled_polarisation(source: Source, current: float, p: PackNumbers) -> float:
    """What V_pol tends to under a current of the whole pack. [V]"""
    beyond = beyond_resistance(source.charge, source.rested, source.inner, current, p)
    return p.polarisation_resistance * current + beyond


class Flow(NamedTuple):
    """The pack's current, discharge positive, and the part of it that counts as charge; the charger's; the terminals' voltage. [A], [V]"""

    pack: float
    stored: float
    charger: float
    overvoltage: float
    terminal: float


@inlined
def balance(w: Array, place: int, source: Source, taken: float, p: PackNumbers, scene: Scene) -> Flow:
    """Currents and terminal voltage: V = E - V_pol - R_0 I + overvoltage. A charger feeds the loads first, then the pack."""
    pack = taken + source.standby + source.lights
    charger, overvoltage = 0.0, 0.0
    room = charge_room(w[place, at.LEFT], w[place, at.MISSING], p)
    if scene.charger > 0.0:
        if scene.charger <= pack:
            charger = scene.charger
            pack -= charger
        else:
            into, overvoltage = charge_current(
                scene.charger - pack, room, p.acceptance, p.absorption, source.rested, source.polarisation, source.inner,
                p.polarisation_resistance,
            )  # fmt: skip
            charger = pack + into
            pack = -into
    terminal = source.rested - source.polarisation - source.inner * pack + overvoltage
    stored = pack
    if pack < 0.0 and scene.charger == 0.0:  # driven in by the motor: what the cells do not accept makes gas and heat
        into, _ = charge_current(
            -pack,
            room,
            p.acceptance,
            terminal,
            source.rested,
            source.polarisation,
            source.inner,
            p.polarisation_resistance,
        )
        stored = -into
    return Flow(pack, stored, charger, overvoltage, terminal)
