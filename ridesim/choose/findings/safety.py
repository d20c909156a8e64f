"""The cautions that belong beside a pack's numbers: short circuit, gas, lifting, touch voltage, a dangerous charger."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.choose.findings.charging import voltage_too_high
from ridesim.physics.charging import ROOM_PER_M3_H, hydrogen_air_flow, vent_area
from ridesim.physics.pack import REFERENCE_C, short_circuit_current
from ridesim.ride.machine import highest_charger_v
from ridesim.vehicle import Pack
from ridesim.words import Finding

ONE_PERSON_KG, MOST_KG = 16.0, 25.0
"""Guideline weights for lifting close to the body, women and men: HSE, from memory. [kg]"""
EQUALISE_V_PER_CELL = 2.58
"""Equalising charge of vented lead-acid (from memory). [V]"""
TOUCH_LIMIT_V = 60.0
"""Above this d.c. voltage a vehicle's circuit counts as high voltage: FMVSS 305; UN R100 and R136 (from memory)."""


def gas_text(pack: Pack) -> str:
    """What charging this pack asks of the place, its own figures included."""
    if pack.kind.is_lithium:
        return (
            "Lithium: a charger made for it, watched, away from exits; never below 0 °C; "
            "leave and call the fire service if it smokes or hisses."
        )
    flow, area, room = air_for(pack)
    return (
        f"Lead-acid gives off hydrogen: this pack asks for {flow:.2f} m³ of fresh air an hour (two openings of {area:.0f} cm², low "
        f"and high, in a room of {room:.1f} m³ or more; IEC 62485-3). "
        "Open air or a ventilated room, no flame or spark, rings off, terminals covered."
    )


def air_for(pack: Pack) -> tuple[float, float, float]:
    """Air flow [m³/h], each opening [cm²] and free room [m³] that charging a pack asks for."""
    cells = pack.cells * pack.strings_in_parallel
    flow = hydrogen_air_flow(cells, pack.kind.gas_a_per_100ah, pack.block_capacity_ah)
    return flow, vent_area(flow), ROOM_PER_M3_H * flow


def charging_place(pack: Pack) -> Finding:
    """What charging asks of the place."""
    numbers = dict(zip(("air_m3_h", "opening_cm2", "room_m3"), air_for(pack), strict=True))
    return Finding("charging-place", "warning", gas_text(pack), numbers)


def above_60_volts(pack: Pack, ambient_c: float) -> Iterator[Finding]:
    """A pack that its charger, in this air, brings above 60 V."""
    full = highest_charger_v(pack, ambient_c)
    if full > TOUCH_LIMIT_V:
        text = (
            f"On its charger this pack stands at {full:.1f} V, above 60 V d.c.: touching it can kill, and vehicle rules treat it as "
            "high voltage. Covers, insulated tools, a way to split the string and a licensed electrician; local rules decide."
        )
        yield Finding("above-60-volts", "warning", text, {"full_voltage_v": full})


def cautions(pack: Pack, ambient_c: float = REFERENCE_C) -> list[Finding]:
    """The cautions that belong beside a pack's numbers; local codes and licensed practice go before them.

    References
    ----------
    HSE INDG139 (tools, rings, flame, ventilation, lifting); IEC 62485-3 as quoted; FMVSS 305 (60 V); makers' sheets
    (lithium below 0 °C; highest charging voltages, see ``vehicle/chemistry.py``). The words are ours.
    """
    found = [*voltage_too_high(pack, REFERENCE_C), _short_circuit(pack), charging_place(pack), _lifting(pack)]
    full, equalised = highest_charger_v(pack, ambient_c), EQUALISE_V_PER_CELL * pack.cells
    if full <= TOUCH_LIMIT_V < equalised and not pack.kind.is_lithium:
        text = (
            f"An equalising charge brings this pack to {equalised:.1f} V, above 60 V d.c., where touching it can kill: split the "
            "string, or leave it to a licensed person."
        )
        found.append(Finding("equalising-above-60-volts", "warning", text, {"equalise_v": equalised}))
    found.extend(above_60_volts(pack, ambient_c))
    return found


def _short_circuit(pack: Pack) -> Finding:
    ohm = pack.in_force.block_resistance_ohm * pack.blocks_in_series / pack.strings_in_parallel
    short = short_circuit_current(pack.in_force.open_circuit_v_per_cell[-1][1] * pack.cells, ohm)
    text = (
        f"A spanner across the terminals draws up to about {short:.0f} A: it glows, throws metal and burns. Rings, watch and "
        "chain off, tools insulated, eye protection, terminals covered, a fuse rated for direct current at the pack."
    )
    return Finding("short-circuit", "warning", text, {"short_circuit_current_a": short})


def _lifting(pack: Pack) -> Finding:
    mass, lift = pack.in_force.block_mass_kg, "one person, close to the body"
    if mass > MOST_KG:
        lift = "two people or a hoist"
    elif mass > ONE_PERSON_KG:
        lift = "two people, or one who is used to it"
    text = f"A block weighs {mass:.1f} kg: {lift}, path cleared, never by the cables. The whole pack: {pack.mass_kg:.0f} kg."
    return Finding("lifting", "advice", text, {"block_mass_kg": mass, "pack_mass_kg": pack.mass_kg})
