"""What to watch about a pack: how it was kept, cold and heat, charging, and the cautions that belong beside its numbers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ridesim.day import Day
from ridesim.physics.charging import ROOM_PER_M3_H, compensated_voltage, hydrogen_air_flow, vent_area
from ridesim.physics.pack import REFERENCE_C, short_circuit_current
from ridesim.ride.machine import absorption_at, capacity_factor_at
from ridesim.ride.pack.charge_plan import (
    FULL,
    SOCKETS,
    Charger,
    Socket,
    allowed_current,
    fills_to,
    highest_charge_voltage,
    why_refused,
    why_too_high,
)
from ridesim.ride.pack.unlike_blocks import RealBlock, StringsOutcome
from ridesim.ride.pack.usable import uncharged
from ridesim.ride.result import Ride
from ridesim.ride.simulate import simulate
from ridesim.ride.start import start_charge
from ridesim.vehicle import Pack
from ridesim.words import Finding, degrees

ONE_PERSON_KG, MOST_KG = 16.0, 25.0
"""Guideline weights for lifting close to the body, women and men: HSE, from memory. [kg]"""
EQUALISE_V_PER_CELL = 2.58
"""Equalising charge of vented lead-acid (from memory). [V]"""
TOUCH_LIMIT_V = 60.0
COLD_SHARE = 0.90
"""A pack that holds less than this of its 25 °C capacity is worth a word."""
OFF_BY_K = 15.0
"""A charger without compensation is worth a word this far from 25 °C. [K]"""
REVERSED_LEAD = (
    "Measure each block by itself while the load is on. One that is driven backwards heats and vents gas and acid: stop the load, "
    "keep flame and faces away, and charge it no more."
)
REVERSED_LITHIUM = (
    "Measure each block by itself while the load is on, and never bridge its protection. Cells that are driven backwards heat, vent "
    "and may burn, hours later too: stop the load, stand it outdoors away from everything, and charge it no more."
)
KIND_SHARE = 0.9
"""Lithium filled to this share or more is filled kindly; below it the charger is the wrong one. Common practice, no source."""
SURGE_A_PER_AH = 0.3
"""Joining strings at more than the usual charging current wants equal voltages first."""


def pack_findings(ride: Ride, asked: Day | None = None, socket: Socket = SOCKETS[0]) -> Iterator[Finding]:
    """Findings about the pack on a day that was ridden.

    Parameters
    ----------
    ride : Ride
        The day.
    asked : Day, optional
        The day as it was wished for, where the ride left out charges that must not be made; the ride's own.
    socket : Socket
        What the day's chargers hang on.
    """
    yield from _stood(ride)
    yield from _cold(ride)
    yield from _charging(ride, asked or ride.day, socket)


def _stood(ride: Ride) -> Iterator[Finding]:
    pack = ride.build.pack
    if pack.stood_months == 0.0:
        return
    begin = start_charge(pack, ride.day)
    longest = pack.care.months_unattended
    long = pack.stood_months > longest
    yield Finding(
        "stood-in-the-shed",
        "warning" if long else "advice",
        f"After {pack.stood_months:g} months at {degrees(pack.stood_c)} °C the day starts at {begin:.0%}."
        + (
            f" More than {longest:g} months without a charge harms {pack.chemistry}: test the blocks first."
            if long
            else ""
        ),
        {"stood_months": pack.stood_months, "start_state_of_charge": begin},
    )


def _cold(ride: Ride) -> Iterator[Finding]:
    pack, air = ride.build.pack, ride.day.ambient_c
    share = capacity_factor_at(pack, air)
    if share < COLD_SHARE:
        yield Finding(
            "cold-pack",
            "advice",
            f"At {degrees(air)} °C the blocks hold {share:.0%} of their 25 °C capacity: "
            f"{share * pack.capacity_ah * pack.state_of_health:.1f} Ah of the {pack.capacity_ah:g} Ah label. "
            "Keep them warm until the start.",
            {"share": share, "ambient_c": air},
        )
    freezes = pack.care.freezes_empty_c
    if freezes is not None and air < freezes and ride.outcome.end_state_of_charge < 0.3:
        yield Finding(
            "may-freeze",
            "warning",
            f"Lead-acid left nearly empty freezes at about {freezes:.0f} °C and splits (from memory): charge it the same evening.",
            {"ambient_c": air, "end_state_of_charge": ride.outcome.end_state_of_charge},
        )


def _charging(ride: Ride, day: Day, socket: Socket) -> Iterator[Finding]:
    pack = ride.build.pack
    most_asked = max(day.activity, key=lambda activity: activity.charge_current_a)
    amps = most_asked.charge_current_a
    if amps == 0.0:
        return
    assert pack.max_charge_current_a is not None
    most = pack.max_charge_current_a * pack.strings_in_parallel
    if amps > most * (1.0 + 1e-9):
        yield Finding(
            "charge-current-high",
            "warning",
            f"Charging with {amps:g} A is more than the {most:.1f} A these blocks stand: they heat, gas and wear. "
            "Their sheet decides (max_charge_current_a).",
            {"charge_current_a": amps, "max_charge_current_a": most},
        )
    charger = Charger(amps)
    fed = allowed_current(pack, charger, socket, day.ambient_c).socket_a
    if amps > fed * (1.0 + 1e-9):
        yield Finding(
            "charge-current-not-fed",
            "warning",
            f"“{most_asked.name}” asks for {amps:g} A; a {socket.name} ({socket.watts:.0f} W) feeds {fed:.1f} A at "
            f"{absorption_at(pack, day.ambient_c):.1f} V ({charger.efficiency:.0%} charger). Plugs run hot at their limit: plan with less, "
            "or a supply fitted by a licensed person.",
            {"charge_current_a": amps, "socket_a": fed},
        )
    yield from _too_high(pack, day.ambient_c)
    refused = why_refused(pack, day.ambient_c)
    if refused:
        left = without_charging(ride)
        charged = ride.day.model_copy(update={"activity": day.activity})
        reckoned = simulate(ride.build, charged, ride.battery_model, keep_rows=False).outcome.end_state_of_charge
        hot = day.ambient_c > pack.care.hottest_charge_c
        if hot:
            yield Finding("too-hot-to-charge", "stop", refused, {"ambient_c": day.ambient_c})
        yield Finding(
            "day-without-charge",
            "stop",
            f"Without the charge that must not be made, the day ends at {left:.0%} instead of {reckoned:.0%}: plan on that."
            if f"{left:.0%}" != f"{reckoned:.0%}"
            else f"The charge that must not be made would not save the day: it ends at {left:.0%} with it or without.",
            {"end_state_of_charge": left},
        )
    wanted = pack.full_voltage_v + pack.cells * pack.care.compensation_v_per_cell_per_k * (day.ambient_c - 25.0)
    given = absorption_at(pack, day.ambient_c)
    if not refused:
        yield from _too_low(pack, day.ambient_c)
    off = abs(day.ambient_c - 25.0) > OFF_BY_K and abs(wanted - given) > 0.01 * given
    if off and not refused:
        what = "falls short" if given < wanted else "overcharges"
        yield Finding(
            "charger-voltage",
            "advice",
            f"At {degrees(day.ambient_c)} °C this pack wants {wanted:.1f} V; the charger's {given:.1f} V {what}. A charger that feels the "
            "temperature, or one set by hand.",
            {"wanted_v": wanted, "given_v": given},
        )


def _too_low(pack: Pack, ambient_c: float) -> Iterator[Finding]:
    filled = fills_to(pack, ambient_c)
    if filled >= FULL:
        return
    given = absorption_at(pack, ambient_c)
    care, cells = pack.care, pack.cells
    wanted = compensated_voltage(
        pack.kind.absorption_v_per_cell * cells, cells, care.compensation_v_per_cell_per_k, ambient_c
    )
    kind = filled >= KIND_SHARE and pack.kind.is_lithium
    yield Finding(
        "charger-voltage-low",
        "advice" if kind else "warning",
        f"The charger's {given:.1f} V ({given / pack.cells:.2f} V a cell) brings this pack to {filled:.0%} and no further: "
        + (
            "kind to the cells; count on that much."
            if kind
            else f"it wants {wanted:.1f} V. Is the charger made for this chemistry and number of cells?"
        ),
        {"given_v": given, "fills_to": filled},
    )


def _too_high(pack: Pack, ambient_c: float) -> Iterator[Finding]:
    why = why_too_high(pack, ambient_c)
    if why:
        numbers = {
            "given_v_per_cell": absorption_at(pack, ambient_c) / pack.cells,
            "highest_v_per_cell": highest_charge_voltage(pack, ambient_c),
        }
        yield Finding("charger-voltage-dangerous", "stop", why, numbers)


def without_charging(ride: Ride) -> float:
    """State of charge at the end of the same day with no charger."""
    return simulate(ride.build, uncharged(ride.day), ride.battery_model, keep_rows=False).outcome.end_state_of_charge


def ridden_day(pack: Pack, day: Day) -> Day:
    """The day as this pack can do it: without its charges where the air or the charger's voltage refuses them."""
    return uncharged(day) if why_refused(pack, day.ambient_c) else day


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
    flow = hydrogen_air_flow(cells, pack.care.gas_a_per_100ah, pack.block_capacity_ah)
    return flow, vent_area(flow), ROOM_PER_M3_H * flow


def cautions(pack: Pack) -> list[Finding]:
    """The cautions that belong beside a pack's numbers; local codes and licensed practice go before them.

    References
    ----------
    HSE INDG139 (tools, rings, flame, ventilation, lifting); IEC 62485-3 as quoted; FMVSS 305 (60 V); makers' sheets
    (lithium below 0 °C; highest charging voltages, see ``vehicle/care.py``). The words are ours.
    """
    assert pack.block_mass_kg is not None
    assert pack.block_resistance_ohm is not None
    flow, area, room = air_for(pack)
    full = pack.rest_table[-1][1] * pack.cells
    ohm = pack.block_resistance_ohm * pack.blocks_in_series / pack.strings_in_parallel
    short = short_circuit_current(full, ohm)
    mass = pack.block_mass_kg
    lift = (
        "two people or a hoist"
        if mass > MOST_KG
        else "two people, or one who is used to it"
        if mass > ONE_PERSON_KG
        else "one person, close to the body"
    )
    found = [
        *_too_high(pack, REFERENCE_C),
        Finding(
            "short-circuit",
            "warning",
            f"A spanner across the terminals draws up to about {short:.0f} A: it glows, throws metal and burns. Rings, watch and "
            "chain off, tools insulated, eye protection, terminals covered, a fuse rated for direct current at the pack.",
            {"short_circuit_current_a": short},
        ),
        Finding("charging-place", "warning", gas_text(pack), {"air_m3_h": flow, "opening_cm2": area, "room_m3": room}),
        Finding(
            "lifting",
            "advice",
            f"A block weighs {mass:.1f} kg: {lift}, path cleared, never by the cables. The whole pack: {pack.mass_kg:.0f} kg.",
            {"block_mass_kg": mass, "pack_mass_kg": pack.mass_kg},
        ),
    ]
    if not pack.kind.is_lithium:
        equalised = EQUALISE_V_PER_CELL * pack.cells
        if pack.full_voltage_v <= TOUCH_LIMIT_V < equalised:
            found.append(
                Finding(
                    "equalising-above-60-volts",
                    "warning",
                    f"An equalising charge brings this pack to {equalised:.1f} V, above 60 V d.c., where touching it can kill: split the "
                    "string, or leave it to a licensed person.",
                    {"equalise_v": equalised},
                )
            )
    if pack.full_voltage_v > TOUCH_LIMIT_V:
        found.append(
            Finding(
                "above-60-volts",
                "stop",
                f"Charged, this string stands at {pack.full_voltage_v:.1f} V, above 60 V d.c.: touching it can kill and vehicle "
                "rules treat it as high voltage. A licensed person, covers and a way to split it; local rules decide.",
                {"full_voltage_v": pack.full_voltage_v},
            )
        )
    return found


ALIKE_SHARE = 0.02
"""Healths, resistances and charges closer than this are called alike."""


def _weak_block(outcome: StringsOutcome) -> Iterator[Finding]:
    """The first block to fall away; in other words where all are alike, or where it only began low."""
    from ridesim.choose.findings.day import where

    first = outcome.first_to_collapse
    if first is None:
        return
    assert first.collapse_s is not None
    pack = outcome.ride.build.pack
    at = where(outcome.ride, first.collapse_s)
    numbers = {"collapse_s": first.collapse_s, "lowest_voltage_v": first.lowest_voltage_v}
    others = [each for each in outcome.blocks if each is not first]
    begin = start_charge(pack, outcome.ride.day)
    if others and all(_alike(first.block, each.block, begin) for each in others):
        yield Finding(
            "blocks-run-down",
            "stop",
            f"All blocks are alike ({first.block.health:.0%} of their rated capacity) and fall below their end voltage together at "
            f"{at}: the day asks for more than they hold. Charge in between, plan less, or carry a larger pack.",
            numbers,
        )
        return
    awake = [
        each
        for each in others
        if each.string == first.string and (each.collapse_s is None or each.collapse_s > first.collapse_s)
    ]
    backwards = (
        f" Its neighbours then drive it backwards ({first.lowest_voltage_v:.1f} V), which ruins it and may vent it."
        if awake and first.lowest_voltage_v < 0.5
        else ""
    )
    danger = REVERSED_LITHIUM if pack.kind.is_lithium else REVERSED_LEAD
    ends = [f"{each.end_charge:.0%}" for each in sorted(others, key=lambda each: each.end_charge)]
    span = ends[0] if ends and ends[0] == ends[-1] else f"{ends[0]} to {ends[-1]}" if ends else ""
    rest = f" The others still hold {span} at the end." if ends and ends[-1] != "0%" else ""
    z = _begins(first.block, begin)
    if _only_low(first.block, [each.block for each in others], begin):
        advice = "It only began low: charge and test it first. The pack is worth its weakest block."
    else:
        advice = "The pack is worth its weakest block: replace it, or all."
    began = f", begun at {z:.0%}" if first.block.start_charge is not None else ""
    yield Finding(
        "weak-block",
        "stop",
        f"Block “{first.block.name}” ({first.block.health:.0%} of its rated capacity{began}) falls below its end voltage at "
        f"{at}.{backwards}{rest} {advice} {danger}",
        numbers,
    )


def _begins(block: RealBlock, begin: float) -> float:
    """State of charge a block starts the day with."""
    return begin if block.start_charge is None else block.start_charge


def _alike(one: RealBlock, other: RealBlock, begin: float) -> bool:
    """Whether two blocks have as good as the same health, resistance and charge at the start."""
    pairs = (
        (one.health, other.health),
        (one.resistance_in_use, other.resistance_in_use),
        (_begins(one, begin), _begins(other, begin)),
    )
    return all(abs(a - b) <= ALIKE_SHARE * max(a, b) for a, b in pairs)


def _only_low(block: RealBlock, others: Sequence[RealBlock], begin: float) -> bool:
    """Whether a block is as good as any other and began with less."""
    least = 1.0 - ALIKE_SHARE
    return any(_begins(block, begin) < least * _begins(each, begin) for each in others) and all(
        block.health >= least * each.health and least * block.resistance_in_use <= each.resistance_in_use
        for each in others
    )


def strings_findings(outcome: StringsOutcome) -> Iterator[Finding]:
    """Findings about blocks that are not alike."""
    from ridesim.choose.findings.day import where

    pack = outcome.ride.build.pack
    yield from _weak_block(outcome)
    if outcome.power_short_s is not None:
        cutoff = outcome.ride.build.cutoff_voltage_v
        yield Finding(
            "short-of-power",
            "warning",
            f"These blocks cannot give the day's power above the controller's cut-off of {cutoff:.1f} V from "
            f"{where(outcome.ride, outcome.power_short_s)} on: the vehicle slows or stops there, so plan a way off the route. "
            "What is shown of the blocks after that moment is an outline only.",
            {"power_short_s": outcome.power_short_s, "cutoff_v": cutoff},
        )
    over = max(outcome.blocks, key=lambda each: each.overcharge_ah)
    if over.overcharge_ah > 0.02 * pack.block_capacity_ah:
        yield Finding(
            "uneven-charge",
            "warning",
            f"In the break block “{over.block.name}” is full before the others and takes {over.overcharge_ah:.1f} Ah too much: "
            + ("its protection must stop the charge." if pack.kind.is_lithium else "it gases and dries out."),
            {"overcharge_ah": over.overcharge_ah},
        )
    surge = outcome.connecting_current_a
    if surge > SURGE_A_PER_AH * pack.block_capacity_ah:
        yield Finding(
            "joining-strings",
            "warning",
            f"Joining these strings as they are sends up to {surge:.0f} A from one into the other. Charge each full on its own, "
            "let them rest, and join them through a fuse.",
            {"connecting_current_a": surge},
        )
    shares = outcome.string_share
    if len(shares) > 1 and max(shares) - min(shares) > 0.1:
        yield Finding(
            "unequal-strings",
            "warning",
            f"The strings share the load {' : '.join(f'{each:.0%}' for each in shares)}: the better one is worked harder and ages to meet "
            "the other. Old beside new wastes the new.",
            {f"string_{number}_share": each for number, each in enumerate(shares, start=1)},
        )
