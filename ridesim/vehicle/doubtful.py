"""Values of a build that are likely a slip of the pen: what they would mean, and what was perhaps meant.

What is usual is common practice, without a source.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import pi

from ridesim.vehicle.build import Build
from ridesim.words import Finding

USUAL_RPM = (400.0, 12_000.0)
"""Unloaded speed of a brushed motor on its pack."""
STALL_SHARE = 2.0
"""With the rotor held a motor takes at least so many times its rated current."""
HEAVIEST_KG = 2000.0


def doubtful_values(build: Build) -> Iterator[Finding]:
    """What to look at before anything else."""
    yield from _resistance(build)
    yield from _torque_constant(build)
    yield from _sprockets(build)
    yield from _mass(build)
    yield from _cut_off(build)


def _resistance(build: Build) -> Iterator[Finding]:
    """A winding that lets hardly any current through, such as milliohms written as ohms."""
    motor = build.motor
    volts = motor.rated_voltage_v or build.pack.nominal_voltage_v
    rated = motor.rated_current_a or (motor.rated_power_w or 0.0) / volts
    held = (volts - motor.brush_drop_v) / motor.resistance_ohm
    if held < STALL_SHARE * rated:
        text = (
            f"The motor's {motor.resistance_ohm:g} Ω let {held:.2g} A through at {volts:g} V with the rotor held, and its label asks for "
            f"{rated:.2g} A: are they milliohms, {motor.resistance_ohm / 1000.0:g} Ω?"
        )
        yield Finding("resistance-doubtful", "warning", text, {"held_a": held, "rated_current_a": rated})


def _torque_constant(build: Build) -> Iterator[Finding]:
    """A brushed motor that would turn far slower, or faster, than such motors do."""
    motor, volts = build.motor, build.pack.nominal_voltage_v
    if motor.kind != "permanent-magnet" or motor.torque_constant_nm_per_a is None:
        return
    rpm = (volts - motor.brush_drop_v) / motor.torque_constant_nm_per_a * 60.0 / (2.0 * pi)
    if not USUAL_RPM[0] <= rpm <= USUAL_RPM[1]:
        text = (
            f"With a torque constant of {motor.torque_constant_nm_per_a:g} N·m/A the motor turns {rpm:.0f} rpm without load at {volts:g} V: "
            "brushed motors make 1,000 to 6,000 rpm at their voltage. Is a point in the wrong place?"
        )
        yield Finding("torque-constant-doubtful", "warning", text, {"unloaded_rpm": rpm})


def _sprockets(build: Build) -> Iterator[Finding]:
    """Two sprockets written the other way round."""
    motor, wheel = build.drive.motor_teeth, build.drive.wheel_teeth
    if wheel < motor:
        text = f"The wheel's sprocket has {wheel} teeth and the motor's {motor}: are they the other way round?"
        yield Finding("sprockets-doubtful", "warning", text, {"motor_teeth": motor, "wheel_teeth": wheel})


def _mass(build: Build) -> Iterator[Finding]:
    """More than a home-built vehicle weighs."""
    heavy = max(build.vehicle.mass, key=lambda item: item.mass_kg)
    if heavy.mass_kg > HEAVIEST_KG:
        text = f"“{heavy.item}” weighs {heavy.mass_kg:g} kg: is a point missing?"
        yield Finding("mass-doubtful", "warning", text, {"mass_kg": heavy.mass_kg})


def _cut_off(build: Build) -> Iterator[Finding]:
    """A controller that never lets a current out of this pack."""
    pack, off = build.pack, build.cutoff_voltage_v
    full = pack.in_force.open_circuit_v_per_cell[-1][1] * pack.cells
    if off >= full:
        text = (
            f"The controller's cut-off of {off:.1f} V is not below the {full:.1f} V of the full pack at rest: it never lets a current through. "
            f"Usual for this pack are {pack.kind.cutoff_v_per_cell * pack.cells:.1f} V."
        )
        yield Finding("cut-off-above-pack", "stop", text, {"cutoff_voltage_v": off, "full_v": full})
