"""Steady answers about the motor in its vehicle: another voltage, reverse, both readings of a controller's label."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ridesim.physics.capacitors import precharge_energy, precharge_time
from ridesim.physics.controller import current_at_duty
from ridesim.ride.core.records import Machine
from ridesim.ride.machine import machine
from ridesim.ride.steady.many import Motors
from ridesim.ride.steady.pull import (
    KMH,
    STILL_AIR_C,
    falling_root,
    need_arguments,
    pull_at,
    pull_with,
    resistance_at,
    settled_source,
)
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
    return float(Motors.of(motor).unloaded_speed(voltage)[0])


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
        See :func:`can_reverse`.

    Notes
    -----
    :func:`ridesim.physics.controller.current_at_duty`, never more than :func:`ridesim.ride.steady.pull_at` allows.
    """
    pull, m = _reverse_pull(build, state_of_charge)
    mass = build.total_mass_kg()
    return falling_root(lambda speed: pull(speed) - resistance_at(speed, mass, 0.0, m)) / KMH


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
    """Whether the controller reverses this vehicle: not a series-wound motor, whose field's leads must be changed over, nor behind a freewheel."""
    return (
        build.controller.reverse_duty is not None and build.motor.kind != "series-wound" and not build.drive.freewheel
    )


def _reverse_pull(build: Build, state_of_charge: float) -> tuple[Callable[[float], float], Machine]:
    """Pull backwards at a speed [m/s → N], and the build's numbers."""
    share = build.controller.reverse_duty
    if share is None or not can_reverse(build):
        raise ValueError(
            "the controller has no reverse, the motor's field needs its leads changed over, or a freewheel is in between"
        )
    need_arguments(state_of_charge=state_of_charge)
    m = machine(build)
    ratio, radius, constant, brush, path = m.ratio, m.radius, m.constant, m.brush, m.resistance + m.on_resistance

    def pull(speed: float) -> float:
        _, most, _ = pull_at(speed, state_of_charge, STILL_AIR_C, STILL_AIR_C, m)
        held = 0.0
        for _ in range(5):  # the pack's volts hang on the current, if little
            volts, inner = settled_source(state_of_charge, 1.0 - state_of_charge, share * held + m.standby, m)
            volts -= inner * m.standby
            held = max(
                0.0,
                current_at_duty(
                    share,
                    volts,
                    speed * ratio / radius,
                    constant,
                    brush + (1.0 - share) * m.freewheel_drop,
                    path,
                    inner,
                ),
            )
        return pull_with(min(held, most), speed, STILL_AIR_C, m)

    return pull, m


@dataclass(frozen=True, slots=True)
class Precharge:
    """Filling the controller's capacitors before the contactor closes.

    Attributes
    ----------
    peak_current_a, peak_power_w : float
        At the first instant, through the resistor.
    to_95_percent_s : float
        The contactor may close then.
    energy_j : float
        Heat in the resistor.
    """

    peak_current_a: float
    peak_power_w: float
    to_95_percent_s: float
    energy_j: float


def precharge(build: Build) -> Precharge | None:
    """Pre-charge figures against the fully charged pack; None where capacitors or resistor are not given."""
    control = build.controller
    if control.capacitor_uf is None or control.precharge_ohm is None:
        return None
    full, farads, ohms = build.pack.full_voltage_v, control.capacitor_uf * 1e-6, control.precharge_ohm
    return Precharge(
        full / ohms, full * full / ohms, precharge_time(0.95, ohms, farads), precharge_energy(full, farads)
    )
