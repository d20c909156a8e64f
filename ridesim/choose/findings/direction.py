"""Which way it turns: reverse, and stages that turn the wheel against the motor."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.physics.controller import reversal_current
from ridesim.ride.steady.motor import no_load_speed, reverse_pull_n, reverse_top_speed_kmh
from ridesim.vehicle import Build
from ridesim.words import Finding, percent


def turns_against(build: Build) -> Iterator[Finding]:
    """An odd number of spur gear pairs: the motor must turn backwards for the wheel to go forwards."""
    if build.drive.way != -1:
        return
    text = (
        "The wheel turns against the motor, seen from one side: each pair of spur gears reverses, a chain or belt does not. Change over the motor's "
        "two leads; a motor whose brushes are set for one direction is weaker and sparks in the other. Try it with the wheel off the ground."
    )
    yield Finding("turns-against", "advice", text)


def reversal(build: Build) -> Iterator[Finding]:
    """Reverse at its reduced duty: how fast and how strong; and what flows when reversed at speed."""
    motor, share = build.motor, build.controller.reverse_duty
    if share is None:
        return
    if build.drive.freewheel:
        text = "A freewheel carries no pull backwards: reverse_duty does nothing behind it, and no reverse is reckoned. Somebody pushes it back."
        yield Finding("freewheel-no-reverse", "warning", text)
        return
    if motor.kind == "series-wound":
        text = (
            "A series-wound motor turns backwards only with its field's leads changed over against the armature's, by a contactor that "
            "is interlocked to act at standstill and without current; reverse_duty alone does nothing, and no reverse is reckoned. "
            "Changed over while it turns, it brakes like a short circuit: it burns contacts and commutator and jerks the chain."
        )
        yield Finding("series-wound-reversal", "warning", text)
        return
    speed, pull = reverse_top_speed_kmh(build), reverse_pull_n(build)
    volts = build.pack.full_voltage_v
    emf = float(motor.torque_constant_nm_per_a or 0.0) * no_load_speed(motor, volts)
    amps = reversal_current(volts, emf, motor.resistance_ohm + build.on_resistance_ohm)
    brushless = motor.kind == "electronically-commutated"
    harm = "overloads the controller's switches" if brushless else "burns the commutator"
    text = (
        f"In reverse, at {percent(share)} of the duty, it reaches {speed:.1f} km/h on the level and pulls up to {pull:.0f} N from a stand. "
        "Reverse only from a stand, with an interlock and somebody looking behind: switched over at full speed up to "
        f"{amps:.0f} A could flow, nearly twice the held current. It {harm}, weakens magnets and jerks the chain."
    )
    numbers = {"reversal_current_a": amps, "reverse_top_speed_kmh": speed, "reverse_pull_n": pull}
    yield Finding("reversal", "advice", text, numbers)
