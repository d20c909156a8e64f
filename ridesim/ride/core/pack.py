"""The pack in the core: each capacity law as two charges and their rates, the source behind the loads, and the charger.

Peukert's law: q1 is the state of charge z, q2 the ampere-seconds missing from full as a meter counts them, over C.
Two-well law: the charges y1 and y2 of the two wells, over C_∞.
Saturating law: q1 is the charge taken over C_0, q2 the filtered current over FILTER_SCALE times I_0.
"""

from __future__ import annotations

from typing import NamedTuple

from ridesim.physics.capacity_laws import FILTER_S, PEUKERT, TWO_WELL, peukert_factor, saturating_share, two_well_flow
from ridesim.physics.charging import charge_current
from ridesim.physics.compiled import compiled, inlined
from ridesim.physics.pack import open_circuit, resistance_factor
from ridesim.ride.core import places as at
from ridesim.ride.core.records import Array, Machine, PackNumbers, Scene

FILTER_SCALE = 100.0
"""Scales the saturating law's filtered current to the size of the other charges, so that one tolerance suits them all."""
NEARLY_NOTHING = 1e-9
"""With less missing than this share of the capacity a pack is full; a ratio of two such numbers would be rounding only."""
LIGHT_CONVERTER = 0.90
"""Efficiency of the converter between main pack and lights; common practice, no source."""


@compiled
def state_of_charge(q1: float, q2: float, p: PackNumbers) -> float:
    """State of charge z from the law's two charges."""
    if p.law == PEUKERT:
        return q1
    if p.law == TWO_WELL:
        return q1 / p.well_share
    return 1.0 - q1 * saturating_share(FILTER_SCALE * q2, p.law_gain, p.law_exponent)


@compiled
def charges_at(z: float, p: PackNumbers) -> tuple[float, float]:
    """The law's two charges of a rested pack at a state of charge."""
    if p.law == PEUKERT:
        return z, 1.0 - z
    if p.law == TWO_WELL:
        return p.well_share * z, (1.0 - p.well_share) * z
    return (1.0 - z) * p.law_gain, 0.0


@compiled
def charges_from(z: float, second: float, p: PackNumbers) -> tuple[float, float]:
    """The law's two charges from a state of charge and the second charge, as a ride's rows keep them."""
    if p.law == PEUKERT:
        return z, second
    if p.law == TWO_WELL:
        return p.well_share * z, second
    return (1.0 - z) / saturating_share(FILTER_SCALE * second, p.law_gain, p.law_exponent), second


@compiled
def missing_share(q1: float, q2: float, p: PackNumbers) -> float:
    """Ampere-seconds missing from full, as a meter counts them, over C."""
    if p.law == PEUKERT:
        return q2
    if p.law == TWO_WELL:
        return (1.0 - q1 - q2) * p.well_whole / p.capacity
    return q1 * p.law_capacity / p.capacity


@compiled
def charge_room(q1: float, q2: float, p: PackNumbers) -> float:
    """The ampere-seconds missing over C that set the resistance of acceptance.

    This is not 1 - z: after a fast discharge, charge that Peukert's law or the filtered current puts out of reach need not be put
    back. Under the two-well law the current enters by the available well, so no more counts than that well has room for.
    """
    missing = missing_share(q1, q2, p)
    if p.law == TWO_WELL:
        return min(missing, (1.0 - q1 / p.well_share) * p.well_whole / p.capacity)
    return missing


@compiled
def charge_rates(q1: float, q2: float, current: float, p: PackNumbers) -> tuple[float, float]:
    """Rates of the law's two charges under a current of one string, discharge positive. [1/s]

    Under Peukert's law the loss at a high rate is capacity out of reach, not charge to be put back: on charge z gains (1 - z)/q2 times
    the counted share, so that both reach full together.
    """
    counted = current if current >= 0.0 else p.coulombic * current
    if p.law == PEUKERT:
        share = counted / p.capacity
        if current > 0.0:
            return -share * peukert_factor(current, p.rated_current, p.exponent), share
        return -share * ((1.0 - q1) / q2 if q2 > NEARLY_NOTHING else 1.0), share
    if p.law == TWO_WELL:
        flow = two_well_flow(q1, q2, p.well_share, p.well_rate)
        return flow - counted / p.well_whole, -flow
    filtered = max(0.0, current) / (FILTER_SCALE * p.law_reference)
    return counted / p.law_capacity, (filtered - q2) * (1.0 / FILTER_S)


class Source(NamedTuple):
    """The pack as the controller finds it."""

    charge: float  # z [-]
    rested: float  # E(z) [V]
    inner: float  # R_0 [ohm]
    polarisation: float  # V_pol [V]
    standby: float  # [A]
    lights: float  # [A]
    volts: float  # E' before the controller's current [V]


@inlined
def source_at(w: Array, place: int, m: Machine, scene: Scene, alive: bool) -> Source:
    """E' = E(z) - V_pol - R_0 (I_standby + I_lights)."""
    p = m.pack
    z = state_of_charge(w[place, at.CHARGE_1], w[place, at.CHARGE_2], p)
    rested = open_circuit(z, p.table_z, p.table_v)
    inner = p.resistance * resistance_factor(min(1.0, max(0.0, z)), p.resistance_rise)
    standby = m.standby if scene.controller_on == 1 and alive else 0.0
    lights = scene.light_power / (LIGHT_CONVERTER * rested) if alive else 0.0
    polarisation = w[place, at.POLARISATION]
    return Source(z, rested, inner, polarisation, standby, lights, rested - polarisation - inner * (standby + lights))


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
    if scene.charger > 0.0:
        if scene.charger <= pack:
            charger = scene.charger
            pack -= charger
        else:
            room = charge_room(w[place, at.CHARGE_1], w[place, at.CHARGE_2], p)
            into, overvoltage = charge_current(
                scene.charger - pack, room, p.acceptance, p.absorption, source.rested, source.polarisation, source.inner,
                p.polarisation_resistance,
            )  # fmt: skip
            charger = pack + into
            pack = -into
    terminal = source.rested - source.polarisation - source.inner * pack + overvoltage
    stored = pack
    if pack < 0.0 and scene.charger == 0.0:  # driven in by the motor: what the cells do not accept makes gas and heat
        room = charge_room(w[place, at.CHARGE_1], w[place, at.CHARGE_2], p)
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
