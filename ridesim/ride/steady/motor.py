"""Steady answers about the motor in its vehicle: another voltage, reverse, both readings of a controller's label."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ridesim.physics.controller import current_at_duty, precharge_energy, precharge_time
from ridesim.physics.motor import loaded_speed, warm_constant, warm_resistance
from ridesim.physics.road import air_density
from ridesim.ride.core.records import Machine, changed
from ridesim.ride.machine import machine
from ridesim.ride.steady.pull import KMH, STILL_AIR_C, falling_root, pull_at, pull_with, resistance_at, settled_source
from ridesim.ride.steady.speeds import top_speed_of
from ridesim.vehicle import Build, Motor
from ridesim.vehicle.controller import readings


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
    moved = {
        key: volts * blocks / pack.blocks_in_series
        for key in ("cutoff_voltage_v", "restart_voltage_v")
        if (volts := getattr(build.controller, key)) is not None
    }
    return build.model_copy(
        update={
            "name": f"{build.name} on {blocks * pack.nominal_voltage_v / pack.blocks_in_series:g} V",
            "pack": pack.model_copy(update={"blocks_in_series": blocks}),
            "controller": build.controller.model_copy(update=moved),
        }
    )


@dataclass(frozen=True, slots=True)
class MotorNumbers:
    """The five numbers of a permanent-magnet motor at 20 °C, SI."""

    constant: float
    resistance: float
    brush: float
    friction: float
    viscous: float

    @classmethod
    def of(cls, motor: Motor) -> MotorNumbers:
        """Of a permanent-magnet motor's description."""
        return cls(
            float(motor.torque_constant_nm_per_a or 0.0), float(motor.resistance_ohm or 0.0), motor.brush_drop_v,
            motor.friction_torque_nm, motor.viscous_nm_per_rad_s,
        )  # fmt: skip

    def put_in(self, numbers: Machine) -> Machine:
        """The core's numbers with this motor."""
        return changed(
            numbers,
            constant=self.constant, series=0.0, resistance=self.resistance, brush=self.brush, friction=self.friction,
            viscous=self.viscous,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class SeriesNumbers:
    """The six numbers of a series-wound motor at 20 °C, SI; ``per_saturation`` is 1/I_sat, 0 where it does not saturate. [1/A]"""

    constant: float
    per_saturation: float
    resistance: float
    brush: float
    friction: float
    viscous: float

    @property
    def saturation(self) -> float:
        """I_sat, beyond any current where the motor does not saturate. [A]"""
        return 1.0 / max(self.per_saturation, 1e-9)

    def put_in(self, numbers: Machine) -> Machine:
        """The core's numbers with this motor."""
        return changed(
            numbers,
            constant=0.0, series=self.constant, saturation=self.saturation, resistance=self.resistance, brush=self.brush,
            friction=self.friction, viscous=self.viscous,
        )  # fmt: skip


TestedMotor = MotorNumbers | SeriesNumbers


@dataclass(frozen=True, slots=True)
class MotorCarrier:
    """A build's numbers and mass, rider aboard, into which tested motors are put to predict what they would do in it."""

    numbers: Machine
    mass: float

    @classmethod
    def of(cls, build: Build) -> MotorCarrier:
        """Of a build; the numbers of its own motor are replaced."""
        return cls(machine(build), build.total_mass_kg())

    @property
    def density(self) -> float:
        """Air at sea level and 20 °C. [kg/m³]"""
        return air_density(0.0, STILL_AIR_C)

    def with_motor(self, motor: TestedMotor) -> Machine:
        """The core's numbers with another motor."""
        return motor.put_in(self.numbers)

    def top_speed_kmh(self, motor: TestedMotor, state_of_charge: float = 1.0) -> float:
        """Top speed on the level, as :func:`ridesim.top_speed_kmh`. [km/h]"""
        return top_speed_of(self.with_motor(motor), self.mass, state_of_charge)

    def standing_pull_n(self, motor: TestedMotor, state_of_charge: float = 1.0) -> float:
        """Largest pull at the wheel at standstill. [N]"""
        return float(pull_at(0.0, state_of_charge, STILL_AIR_C, STILL_AIR_C, self.with_motor(motor))[0])


def no_load_speed(motor: MotorNumbers, voltage: float, celsius: float = 20.0, magnet_per_k: float = 0.0) -> float:
    """Speed of the free shaft at a terminal voltage, winding and magnets at one temperature.

    Parameters
    ----------
    motor : MotorNumbers
        At 20 °C.
    voltage : float
        At the terminals. [V]
    celsius : float
        Temperature of winding and magnets. [°C]
    magnet_per_k : float
        The magnets' coefficient. [1/K]

    Returns
    -------
    float
        [rad/s]; 0 where it does not turn.

    Notes
    -----
    V = K ω + I R + V_br with K I = τ_f + b ω.
    """
    constant = warm_constant(motor.constant, magnet_per_k, celsius)
    resistance = warm_resistance(motor.resistance, celsius)
    return max(0.0, loaded_speed(voltage, motor.friction, constant, resistance, motor.brush, motor.viscous))


def label_readings(build: Build) -> dict[str, Build]:
    """The build under either reading of its controller's one printed current, by ``"battery"`` and ``"motor"``.

    Empty where the file gives both limits itself.
    """
    control = build.controller
    if control.label_current_a is None:
        return {}
    both = {}
    for reading, (battery, motor) in readings(control.label_current_a).items():
        limits = {
            name: value
            for name, value in (("max_battery_current_a", battery), ("max_motor_current_a", motor))
            if name not in control.model_fields_set
        }
        both[reading] = build.model_copy(update={"controller": control.model_copy(update=limits)})
    return both


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
