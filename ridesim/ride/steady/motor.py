"""Steady answers about the motor in its vehicle: another voltage, reverse, both readings of a controller's label."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ridesim.physics.capacitors import precharge_energy, precharge_time
from ridesim.physics.controller import current_at_duty
from ridesim.physics.motor import loaded_speed
from ridesim.physics.road import air_density
from ridesim.ride.core.records import Machine
from ridesim.ride.machine import machine
from ridesim.ride.steady.pull import KMH, STILL_AIR_C, falling_root, pull_at, pull_with, resistance_at, settled_source
from ridesim.vehicle import Build, Motor


def at_voltage(build: Build, voltage: float) -> Build:
    """The same vehicle on a pack of the same blocks, more or fewer in series.

    Parameters
    ----------
    build : Build
        A validated build.
    voltage : float
        Wanted nominal pack voltage. [V]

    Returns
    -------
    Build
        Blocks in series nearest to the voltage; the controller's own cut-off and restart, where the file gives them, move in
        proportion; its current limits stay. Mass follows the blocks.
    """
    pack = build.pack
    blocks = max(1, round(voltage / (pack.nominal_voltage_v / pack.blocks_in_series)))
    name = f"{build.name} on {blocks * pack.nominal_voltage_v / pack.blocks_in_series:g} V"
    return build.changed({"pack.blocks_in_series": blocks}, name=name)


def no_load_speed(motor: Motor, voltage: float) -> float:
    """Speed of the free shaft of a permanent-magnet motor at a terminal voltage and 20 °C; 0 where it does not turn. [rad/s]"""
    constant = float(motor.torque_constant_nm_per_a or 0.0)
    speed = loaded_speed(
        voltage,
        motor.friction_torque_nm,
        constant,
        motor.resistance_ohm,
        motor.brush_drop_v,
        motor.viscous_nm_per_rad_s,
    )
    return max(0.0, speed)


def label_readings(build: Build) -> dict[str, Build]:
    """The build under either reading of its controller's one printed current, by ``"battery"`` and ``"motor"``.

    Empty where the file gives both limits itself.
    """
    control = build.controller
    if control.label_current_a is None:
        return {}
    return {meaning: build.changed({"controller.label_current_is": meaning}) for meaning in ("battery", "motor")}


def reverse_top_speed_kmh(build: Build, state_of_charge: float = 1.0) -> float:
    """Top speed backwards on the level, at the controller's reduced duty. [km/h]

    Raises
    ------
    ValueError
        The controller has no reverse, or the motor is series-wound (its reverse needs the field's leads changed over).

    Notes
    -----
    :func:`ridesim.physics.controller.current_at_duty`, never more than :func:`ridesim.ride.steady.pull_at` allows.
    """
    pull, m = _reverse_pull(build, state_of_charge)
    mass, density = build.total_mass_kg(), air_density(0.0, STILL_AIR_C)
    return falling_root(lambda speed: pull(speed) - resistance_at(speed, mass, 0.0, density, m)) / KMH


def reverse_pull_n(build: Build, state_of_charge: float = 1.0) -> float:
    """Largest pull backwards at the wheel from a stand, at the controller's reduced duty. [N]

    Raises
    ------
    ValueError
        As :func:`reverse_top_speed_kmh`.
    """
    pull, _ = _reverse_pull(build, state_of_charge)
    return pull(0.0)


def can_reverse(build: Build) -> bool:
    """Whether the controller reverses this motor by itself."""
    return build.controller.reverse_duty is not None and build.motor.kind != "series-wound"


def _reverse_pull(build: Build, state_of_charge: float) -> tuple[Callable[[float], float], Machine]:
    """Pull backwards at a speed [m/s → N], and the build's numbers."""
    share = build.controller.reverse_duty
    if share is None:
        raise ValueError("the controller has no reverse: reverse_duty is not given")
    if build.motor.kind == "series-wound":
        raise ValueError("a series-wound motor reverses only with its field's leads changed over")
    m = machine(build)
    _, inner, volts = settled_source(state_of_charge, m)
    ratio, radius, constant, brush, path = m.ratio, m.radius, m.constant, m.brush, m.resistance + m.on_resistance

    def pull(speed: float) -> float:
        _, most, _ = pull_at(speed, state_of_charge, STILL_AIR_C, STILL_AIR_C, m)
        held = current_at_duty(share, volts, speed * ratio / radius, constant, brush, path, inner)
        return pull_with(max(0.0, min(held, most)), speed, STILL_AIR_C, m)

    return pull, m


@dataclass(frozen=True, slots=True)
class Precharge:
    """Filling the controller's capacitors before the contactor closes.

    Attributes
    ----------
    peak_current_a, peak_power_w : float
        At the first instant, through the resistor.
    to_95_percent_s, to_99_percent_s : float
        The contactor may close after the first; the second is as good as full.
    energy_j : float
        Heat in the resistor.
    unprotected_a : float
        First rush of current without a resistor: full pack over its own resistance (an upper bound).
    """

    peak_current_a: float
    peak_power_w: float
    to_95_percent_s: float
    to_99_percent_s: float
    energy_j: float
    unprotected_a: float


def precharge(build: Build) -> Precharge | None:
    """Pre-charge figures against the fully charged pack; None where capacitors or resistor are not given."""
    control = build.controller
    if control.capacitor_uf is None or control.precharge_ohm is None:
        return None
    full, farads, ohms = build.pack.full_voltage_v, control.capacitor_uf * 1e-6, control.precharge_ohm
    m = machine(build)
    return Precharge(
        full / ohms, full * full / ohms, precharge_time(0.95, ohms, farads),
        precharge_time(0.99, ohms, farads), precharge_energy(full, farads), full / float(m.pack.resistance),
    )  # fmt: skip
