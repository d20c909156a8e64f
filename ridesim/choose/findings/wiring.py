"""What to watch about the wiring: the switches that stop the vehicle, cables sold by gauge, and what belongs beside every such number."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ridesim.choose.findings.controller import capacitors
from ridesim.choose.findings.safety import above_60_volts
from ridesim.ride.result import Ride
from ridesim.sizing.protection import BARE_M, FROM_MEMORY, SHEATHED_M, position
from ridesim.vehicle import Build
from ridesim.vehicle.wiring import Wiring
from ridesim.words import Finding

SWITCH = "switch-"
"""Begins the code of a finding about a switch of which nothing is said."""
SWITCHES = {
    "isolator": Finding(
        "switch-isolator",
        "warning",
        "a d.c. isolator in the pack's lead, in reach of the driver: the stop when a shorted controller gives full power",
    ),
    "breaker": Finding(
        "switch-breaker", "warning", "a breaker or fuse at the pack: nothing else opens a short circuit"
    ),
    "key_switch": Finding(
        "switch-key-switch",
        "warning",
        "a key or run switch on the controller's enable pair: without it whoever touches the throttle drives",
    ),
    "lights_apart": Finding(
        "switch-lights-apart", "advice", "lights on a switch of their own: with the key they go dark when it fails"
    ),
    "direction_switch": Finding(
        "switch-direction-switch",
        "advice",
        "a switch for neutral, forward and reverse, interlocked at a stand: neutral lets it be pushed",
    ),
    "failsafe_throttle": Finding(
        "switch-failsafe-throttle",
        "warning",
        "a throttle that springs back, and stops the motor when one of its wires breaks",
    ),
    "brake_cutoff": Finding(
        "switch-brake-cutoff",
        "warning",
        "a brake lever that cuts the motor: without it brake and throttle can work against each other",
    ),
    "emergency_stop": Finding(
        "switch-emergency-stop",
        "warning",
        "an emergency stop in reach of who walks beside, red on yellow, that opens the main contactor",
    ),
}
"""What each switch is and is for, by its key."""
SHORT = {
    key: key.replace("_", " ") for key in SWITCHES
} | {"failsafe_throttle": "fail-safe throttle", "brake_cutoff": "brake cut-off"}  # fmt: skip
"""The same in two words."""
STOPS_IT = tuple(key for key, what in SWITCHES.items() if what.severity == "warning")
"""Keys of the switches without which it cannot be stopped safely."""

PRECHARGE = ((24.0, 220.0, 5.0), (36.0, 220.0, 10.0), (48.0, 470.0, 10.0), (72.0, 1000.0, 10.0))
"""Up to this voltage [V] a resistor [ohm] of these watts: a controller maker's wiring page."""


def switches(build: Build, wiring: Wiring) -> Iterator[Finding]:
    """A sentence for each switch that the build neither has nor leaves out on purpose."""
    there = (
        {"breaker"} if any(each.role == "main" and each.protection is not None for each in wiring.circuit) else set()
    )
    if build.controller.reverse_duty is None:
        there.add("direction_switch")
    if build.lighting is None:
        there.add("lights_apart")
    for key, what in SWITCHES.items():
        if getattr(wiring, key) is None and key not in there:
            how = f"([wiring] {key} = true; false: done without on purpose.)"
            yield replace(what, text=f"Not said in the build: {what.text}. {how}")


def by_gauge(wiring: Wiring) -> Iterator[Finding]:
    """Cable stated by a gauge, which two standards number alike."""
    names = " and ".join(f"“{each.name}”" for each in wiring.circuit if each.awg is not None)
    if names:
        text = (
            f"The cable of {names} is stated by its gauge: automotive wire of the same number (SAE) has 4 to 12 % less copper, and carries and "
            "drops accordingly. Look for the square millimetres on it and state section_mm2."
        )
        yield Finding("sae-gauge", "advice", text)


def described(wiring: Wiring) -> Iterator[Finding]:
    """Where the protection of described circuits sits, and a motor's lead that something opens."""
    for each in wiring.circuit:
        if each.role == "motor" and each.protection is not None:
            text = (
                f"“{each.name}” has a fuse or breaker in the motor's leads: opened under current it destroys the controller, and the motor no "
                "longer brakes. Protect the pack's side."
            )
            yield Finding("motor-lead-opened", "warning", text)
        if each.role != "motor" and each.protection_distance_m is not None:
            yield from position(each.name, each.protection_distance_m, each.sheathed)


def described_wiring_fails(ride: Ride) -> Iterator[Finding]:
    """What must not stay so in the wiring that a build describes."""
    from ridesim.choose.wiring import wired  # it gathers the findings of this module

    if ride.build.wiring is not None:
        yield from wired(ride.build, ride).stops


def usual_precharge(volts: float) -> tuple[float | None, float | None]:
    """A usual resistor for a pack of so many label volts, and its watts; None where the practice gives none. [ohm], [W]"""
    return next(((ohm, watts) for most, ohm, watts in PRECHARGE if volts <= most), (None, None))


def precharge_practice(build: Build) -> Iterator[Finding]:
    """A usual resistor where the build names none."""
    if build.controller.precharge_ohm is not None:
        return
    volts = build.pack.nominal_voltage_v
    ohm, watts = usual_precharge(volts)
    if ohm is None:
        return
    text = (
        "Without pre-charge the controller's capacitors fill in one spark, which may weld the contactor. A controller maker's practice for "
        f"{volts:g} V: {ohm:g} ohm of {watts:g} W, wire-wound, across the open contactor for about five times ohm × farad. With capacitor_uf and "
        "precharge_ohm under [controller] the time is told."
    )
    yield Finding("precharge-practice", "advice", text, {"precharge_ohm": ohm})


def beside_the_numbers(build: Build, ambient_c: float) -> Iterator[Finding]:
    """Cautions that stand beside every size, where the protection sits, and pre-charge."""
    yield Finding(
        "wiring-checked", "warning",
        "These sizes are a starting point: follow your local code, and have a competent person check the wiring before it is energised.",
    )  # fmt: skip
    yield Finding(
        "direct-current-arcs", "warning",
        "Batteries cannot be switched off, and direct current at these voltages keeps an arc: rings and watch off, insulated tools, the last "
        "connection away from the blocks, never a plug pulled under load. First power through a lamp or a small fuse.",
    )  # fmt: skip
    yield from above_60_volts(build.pack, ambient_c)
    yield Finding(
        "protection-place", "advice",
        f"Each fuse or breaker sits at its source: within {1000 * BARE_M:.0f} mm along the wire, {1000 * SHEATHED_M:.0f} mm where it is sheathed all "
        "the way (33 CFR 183.455); behind a splitter, one for each cable.",
    )  # fmt: skip
    yield Finding("protection-from-memory", "advice", f"Fuses and breakers: {FROM_MEMORY}.")
    yield from capacitors(build)
    yield from precharge_practice(build)
