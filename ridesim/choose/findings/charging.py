"""What to watch about the charges of a day: current, socket, the charger's voltage, air in which a pack must not be charged."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.day import Day
from ridesim.physics.charging import compensated_voltage
from ridesim.physics.pack import REFERENCE_C
from ridesim.ride.machine import absorption_at
from ridesim.ride.pack.charge import FULL
from ridesim.ride.pack.refusal import fills_to, highest_charge_voltage, why_refused, why_too_high
from ridesim.ride.pack.supply import SOCKETS, Charger, Socket, allowed_current
from ridesim.ride.result import Ride
from ridesim.vehicle import Pack
from ridesim.words import Finding, degrees, percent

OFF_BY_K = 15.0
"""A charger without compensation is worth a word this far from 25 °C. [K]"""
KIND_SHARE = 0.9
"""Lithium filled to this share or more is filled kindly; below it the charger is the wrong one. Common practice, no source."""


def charging_findings(ride: Ride, socket: Socket = SOCKETS[0]) -> Iterator[Finding]:
    """Findings about the charges of a day that was ridden.

    Parameters
    ----------
    ride : Ride
        The day.
    socket : Socket
        What the day's chargers hang on.
    """
    pack, asked = ride.build.pack, ride.asked
    yield from _no_charger(ride)
    if all(activity.charge_current_a == 0.0 for activity in asked.activity):
        return
    yield from _brings_little(ride)
    yield from _current(pack, asked, socket)
    yield from voltage_too_high(pack, asked.ambient_c)
    if ride.refused:
        yield from _refused(ride)
    else:
        yield from _too_low(pack, asked.ambient_c)
        yield from _not_compensated(pack, asked.ambient_c)


LITTLE = 0.6
"""A charge that puts in less than this share of amps × hours is worth saying: nearer full, the blocks accept less."""


def _no_charger(ride: Ride) -> Iterator[Finding]:
    """A socket, and no charger to hang on it."""
    if ride.build.charger is None and any(each.socket and not each.charge_current_a for each in ride.asked.activity):
        text = "The day has a socket, but the build names no charger (current_a under [charger]): nothing is charged."
        yield Finding("no-charger", "warning", text)


def _brings_little(ride: Ride) -> Iterator[Finding]:
    """What a charge brings where it is far less than its amps and minutes promise."""
    for activity, stage in zip(ride.day.activity, ride.stages, strict=True):
        hours = (stage.end_s - stage.start_s) / 3600.0
        if 0.0 < stage.charged_ah < LITTLE * activity.charge_current_a * hours:
            text = (
                f"{activity.charge_current_a:g} A for {60.0 * hours:.0f} min in “{stage.name}” puts in {stage.charged_ah:.2g} Ah, not "
                f"{activity.charge_current_a * hours:.2g}: at {percent(stage.start_charge)} the blocks accept little. Charge when "
                "the pack is emptier."
            )
            yield Finding("charge-brings-little", "advice", text, {"charged_ah": stage.charged_ah})


def _current(pack: Pack, day: Day, socket: Socket) -> Iterator[Finding]:
    most_asked = max(day.activity, key=lambda activity: activity.charge_current_a)
    amps = most_asked.charge_current_a
    charger = Charger(amps)
    allowed = allowed_current(pack, charger, socket, day.ambient_c)
    if amps > allowed.blocks_a * (1.0 + 1e-9):
        text = (
            f"Charging with {amps:g} A is more than the {allowed.blocks_a:.1f} A these blocks stand: they heat, gas and wear. "
            "Their sheet decides (max_charge_current_a)."
        )
        numbers = {"charge_current_a": amps, "max_charge_current_a": allowed.blocks_a}
        yield Finding("charge-current-high", "warning", text, numbers)
    if amps > allowed.socket_a * (1.0 + 1e-9):
        text = (
            f"“{most_asked.name}” asks for {amps:g} A; a {socket.name} ({socket.watts:.0f} W) feeds {allowed.socket_a:.1f} A at "
            f"{absorption_at(pack, day.ambient_c):.1f} V ({percent(charger.efficiency)} charger). Plugs run hot at their limit: plan with less, "
            "or a supply fitted by a licensed person."
        )
        numbers = {"charge_current_a": amps, "socket_a": allowed.socket_a}
        yield Finding("charge-current-not-fed", "warning", text, numbers)


def _refused(ride: Ride) -> Iterator[Finding]:
    """The charge must not be made: why, where it is the air's fault, and how the day ends without it, as it was ridden."""
    pack, air = ride.build.pack, ride.asked.ambient_c
    if not pack.kind.coldest_charge_c <= air <= pack.kind.hottest_charge_c:
        what = "cold" if air < pack.kind.coldest_charge_c else "hot"
        yield Finding(f"too-{what}-to-charge", "stop", why_refused(pack, air), {"ambient_c": air})
    left = ride.outcome.end_state_of_charge
    names = " and ".join(f"“{name}”" for name in ride.refused)
    text = f"Nothing is charged in {names}, as it must not be: the day ends at {percent(left)}. Plan on that."
    yield Finding("day-without-charge", "stop", text, {"end_state_of_charge": left})


def _not_compensated(pack: Pack, ambient_c: float) -> Iterator[Finding]:
    """A charger that does not feel the temperature, far from 25 °C."""
    wanted = pack.full_voltage_v + pack.cells * pack.kind.compensation_v_per_cell_per_k * (ambient_c - REFERENCE_C)
    given = absorption_at(pack, ambient_c)
    if abs(ambient_c - REFERENCE_C) > OFF_BY_K and abs(wanted - given) > 0.01 * given:
        what = "falls short" if given < wanted else "overcharges"
        text = (
            f"At {degrees(ambient_c)} °C this pack wants {wanted:.1f} V; the charger's {given:.1f} V {what}. A charger that feels the "
            "temperature, or one set by hand."
        )
        yield Finding("charger-voltage", "advice", text, {"wanted_v": wanted, "given_v": given})


def _too_low(pack: Pack, ambient_c: float) -> Iterator[Finding]:
    filled = fills_to(pack, ambient_c)
    if filled >= FULL:
        return
    given, per_k = absorption_at(pack, ambient_c), pack.kind.compensation_v_per_cell_per_k
    wanted = compensated_voltage(pack.kind.absorption_v_per_cell * pack.cells, pack.cells, per_k, ambient_c)
    kind = filled >= KIND_SHARE and pack.kind.is_lithium
    text = (
        f"The charger's {given:.1f} V ({given / pack.cells:.2f} V a cell) brings this pack to {percent(filled)} and no further: "
        + (
            "kind to the cells; count on that much."
            if kind
            else f"it wants {wanted:.1f} V. Is the charger made for this chemistry and number of cells?"
        )
    )
    numbers = {"given_v": given, "fills_to": filled}
    if kind:
        yield Finding("charger-fills-in-part", "advice", text, numbers)
    else:
        yield Finding("charger-voltage-low", "warning", text, numbers)


def voltage_too_high(pack: Pack, ambient_c: float) -> Iterator[Finding]:
    """A charger's voltage that the cells do not stand."""
    why = why_too_high(pack, ambient_c)
    if why:
        given, most = absorption_at(pack, ambient_c) / pack.cells, highest_charge_voltage(pack, ambient_c)
        yield Finding("charger-voltage-dangerous", "stop", why, {"given_v_per_cell": given, "highest_v_per_cell": most})
