"""What to watch about the wiring: the switches that stop the vehicle, cables sold by gauge, and what belongs beside every such number."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.choose.findings.controller import capacitors
from ridesim.sizing.protection import FROM_MEMORY, as_a_switch, position
from ridesim.vehicle import Build
from ridesim.vehicle.wiring import Wiring
from ridesim.words import Finding

SWITCHES = {
    "isolator": (
        "warning", "no d.c. isolator in the pack's lead, in reach of the driver: it is the stop when a shorted controller gives full power"
    ),
    "breaker": ("warning", "neither breaker nor fuse at the pack: nothing opens a short circuit"),
    "key_switch": ("warning", "no key or run switch on the controller's enable pair: whoever touches the throttle drives"),
    "lights_apart": ("advice", "whether the lights have a switch of their own (true) or go with the key (false): with the key they fail with it"),
    "direction_switch": ("advice", "no switch for neutral, forward and reverse, interlocked at a stand: neutral is what lets it be pushed"),
    "failsafe_throttle": ("warning", "no throttle that springs back and stops the motor when one of its wires breaks"),
    "brake_cutoff": ("warning", "no brake lever that cuts the motor: brake and throttle can work against each other"),
    "emergency_stop": ("warning", "no emergency stop that whoever walks beside can reach: red on yellow, opening the main contactor"),
}  # fmt: skip
"""Severity, and what is missing where the build does not say that a switch is there."""


def switches(build: Build, wiring: Wiring) -> Iterator[Finding]:
    """A sentence for each switch that the build neither has nor leaves out on purpose."""
    there = (
        {"breaker"} if any(each.role == "main" and each.protection is not None for each in wiring.circuit) else set()
    )
    if build.controller.reverse_duty is None:
        there.add("direction_switch")
    if build.lighting is None:
        there.add("lights_apart")
    for key, (severity, missing) in SWITCHES.items():
        if getattr(wiring, key) is not None or key in there:
            continue
        text = f"The build names {missing}. Write {key} = true under [wiring] once it is there, or false where you do without it on purpose."
        if key == "lights_apart":
            text = f"The build does not say {missing}. Write lights_apart under [wiring]."
        yield Finding(f"switch-{key.replace('_', '-')}", severity, text)  # type: ignore[arg-type]


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
    """Where the protection of described circuits sits, and which one might be used as a switch."""
    for each in wiring.circuit:
        if each.role == "motor":
            if each.protection is not None:
                text = (
                    f"“{each.name}” has a fuse or breaker in the motor's leads: opened under current it destroys the controller, and the motor no "
                    "longer brakes. Protect the pack's side."
                )
                yield Finding("motor-lead-opened", "warning", text)
            continue
        if each.protection is not None:
            yield from position(each.name, each.protection_distance_m, each.sheathed)
            if each.role == "main":
                yield from as_a_switch(each.name, each.protection)


def beside_the_numbers(build: Build) -> Iterator[Finding]:
    """Cautions that stand beside every size, and pre-charge."""
    yield Finding(
        "wiring-checked", "warning",
        "These sizes are a starting point: follow your local code, and have a competent person check the wiring before it is energised.",
    )  # fmt: skip
    yield Finding(
        "direct-current-arcs", "warning",
        "Batteries cannot be switched off, and direct current at these voltages keeps an arc: rings and watch off, insulated tools, the last "
        "connection away from the blocks, never a plug pulled under load. First power through a lamp or a small fuse.",
    )  # fmt: skip
    yield Finding("protection-from-memory", "advice", f"Fuses and breakers: {FROM_MEMORY}.")
    yield from capacitors(build)
