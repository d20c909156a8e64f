"""What each circuit of a build has to do: those that it describes, and those that it needs and does not describe."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import count
from math import hypot
from operator import add
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ridesim.day.day import DAY_S
from ridesim.physics.pack import resistance_factor, resistance_temperature_factor
from ridesim.ride.machine import highest_charger_v
from ridesim.ride.pack.supply import charger_of
from ridesim.ride.result import Ride
from ridesim.sizing.circuit import Demand
from ridesim.vehicle import CHEMISTRIES, Build, Lighting, Pack
from ridesim.vehicle import wiring as described
from ridesim.vehicle.care import worn_resistance_factor
from ridesim.vehicle.in_force import LABEL_TO_MODEL_RESISTANCE

LIGHTS_BLOCK_FULL_V_PER_V = 1.2
"""Voltage of a small lead-acid block on its charger over that of its name, 14.4 V on 12 V."""
CONVERTER_FAULT = 2.0
"""Current of a shorted converter over its full load: common practice, no source."""
COLD_C, TIRED = 0.0, 0.8
"""The weakest state of a pack for a short circuit: this cold [°C], and worn to this share of its capacity."""
TEN_MINUTES_S, SECOND_S = 600.0, 1.0
DRIVING = {"main": "pack_current_a", "motor": "motor_current_a"}
"""Column of a ride by the role of the circuit whose current it is."""
MAIN_KINDS = ("breaker", "magnetic-breaker", "strip", "strip-58", "class-t")
SMALL_KINDS = ("blade", "blade-58", "maxi", "cylindrical", "maxi-58", "class-t")
"""Kinds of protection, the first that does is taken."""
ESSENTIAL, OTHER = 0.03, 0.10
"""Largest drop over the voltage of essential circuits, and of others: ABYC E-11, as quoted."""
PROPOSED_C = 105.0
"""Insulation of a cable that is proposed. [°C]"""
ENDS = {
    "main": ("pack", "controller"), "motor": ("controller", "motor"), "charger": ("pack", "charger socket"), "control": ("pack", "key switch"),
}  # fmt: skip
"""From where to where a circuit goes that is proposed."""
USUAL_M = {"main": 1.2, "motor": 0.8, "charger": 1.0, "control": 1.5, "lighting": 3.0}
"""Length one way where the build does not tell where its parts are: common practice, no source. [m]"""
DETOUR_M = 0.4
"""Longer than straight by so much: a cable goes round things and has ends. Common practice, no source. [m]"""


class Source(NamedTuple):
    """What feeds a circuit: its name's and highest voltage [V]; the weakest it is [V, ohm]; the most that it drives through a short [A]."""

    volts: float
    full_volts: float
    weak_v: float
    weak_ohm: float
    strongest_a: float


class Currents(NamedTuple):
    """Largest mean over ten minutes, and over a second. [A]"""

    continuous_a: float
    peak_a: float


NOTHING = Currents(0.0, 0.0)


def short_circuits(pack: Pack, ambient_c: float) -> Source:
    """A pack as a source: the most that a dead short at its terminals draws, and the weakest that it is.

    Notes
    -----
    Most: charger on, over the label's resistance, or the model's over 1.6 where no label is stated. Least: at the reserve, at 0 °C,
    each block worn to 80 % of its capacity.
    """
    values, ladder = pack.in_force, pack.blocks_in_series / pack.strings_in_parallel
    model = values.block_resistance_ohm * ladder
    lowest = model / LABEL_TO_MODEL_RESISTANCE
    if pack.label_resistance_ohm is not None:
        lowest = pack.label_resistance_ohm * ladder
    full = highest_charger_v(pack, ambient_c)
    tired = max(1.0, worn_resistance_factor(TIRED) / worn_resistance_factor(pack.state_of_health))
    cold = resistance_temperature_factor(COLD_C, values.resistance_per_k)
    rise = resistance_factor(pack.reserve, values.resistance_rise)
    charge, volts = np.array(values.open_circuit_v_per_cell).T
    weak = float(np.interp(pack.reserve, charge, volts)) * pack.cells
    return Source(pack.nominal_voltage_v, full, weak, model * tired * cold * rise, full / lowest)


@dataclass(frozen=True)
class Needs:
    """What a build's circuits have to carry, and where their currents come from.

    Attributes
    ----------
    build : Build
    ride : Ride or None
        The day, its rows kept; None without a day.
    """

    build: Build
    ride: Ride | None

    @property
    def ambient_c(self) -> float:
        """Air of the day; 25 °C without one. [°C]"""
        return 25.0 if self.ride is None else self.ride.day.ambient_c

    @property
    def round_cables_c(self) -> float:
        """Air round a cable of which nothing is said: no cooler than the day's. [°C]"""
        return max(described.UNDER_THE_BODY_C, self.ambient_c)

    @cached_property
    def wiring(self) -> described.Wiring:
        """What the build describes."""
        return self.build.wiring or described.Wiring()

    @cached_property
    def pack(self) -> Source:
        """The main pack."""
        return short_circuits(self.build.pack, self.ambient_c)

    @cached_property
    def lights(self) -> Source:
        """What the lights hang on: a small block of their own, the converter, or the pack."""
        lighting = self.build.lighting
        if lighting is None or (lighting.supply == "main-pack" and lighting.converter_efficiency == 1.0):
            return self.pack
        volts = lighting.battery_voltage_v
        if lighting.supply == "main-pack":
            fault = CONVERTER_FAULT * lighting.power_w / volts
            return Source(volts, volts, volts, volts / max(fault, 1.0), max(fault, 1.0))
        sealed = CHEMISTRIES["lead-acid-agm"]
        new = sealed.ohm_ah / lighting.battery_capacity_ah * volts / sealed.reference_v
        full = LIGHTS_BLOCK_FULL_V_PER_V * volts
        weak = new * worn_resistance_factor(TIRED) * resistance_temperature_factor(COLD_C, sealed.resistance_per_k)
        return Source(volts, full, volts, weak, full * LABEL_TO_MODEL_RESISTANCE / new)

    def source_of(self, origin: str) -> Source:
        """The source that a circuit hangs on, by where it begins."""
        return self.lights if origin in (described.LIGHTS_BATTERY, described.CONVERTER) else self.pack

    def trace(self, d: Demand) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
        """Clock [s] and current [A] of a circuit over the day; None without a day."""
        if self.ride is None or d.role in DRIVING:
            return self._driving(d.role)
        rows = self.ride.kept
        if d.role == "charger":
            charges = np.array([each.charge_current_a > 0.0 for each in self.ride.day.activity] + [False])
            return self.ride.clock_s, np.where(charges[rows["activity"]], np.maximum(-rows["pack_current_a"], 0.0), 0.0)
        share = self._lit if d.role == "lighting" else np.ones(len(rows))
        return self.ride.clock_s, d.continuous_a * share

    def _driving(self, role: str) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
        """Clock [s] and current [A] of pack or motor; None without a day, and for other roles."""
        if self.ride is None or role not in DRIVING:
            return None
        amps = np.asarray(self.ride.kept[DRIVING[role]], dtype=float)
        if role == "main":
            amps = np.maximum(amps, 0.0)  # what charges the pack takes another way
        return self.ride.clock_s, np.abs(amps)

    @cached_property
    def _lit(self) -> NDArray[np.float64]:
        """Share of the lights that is on, one a kept row: as the activity says it, else by the day's clock."""
        assert self.ride is not None
        day, clock_s = self.ride.day, self.ride.clock_s
        said = np.array([np.nan if each.lighting is None else each.lighting for each in day.activity] + [np.nan])
        on, off = day.lit_s
        by_clock = (clock_s - on) % DAY_S < off - on
        share = said[self.ride.kept["activity"]]
        return np.where(np.isnan(share), by_clock, share)

    def currents(self, role: str) -> Currents:
        """What flows in the main, motor, charger or control circuit."""
        control = self.build.controller
        charges = () if self.ride is None else (each.charge_current_a for each in self.ride.asked.activity)
        limit = {
            "main": control.max_battery_current_a,
            "motor": control.max_motor_current_a,
            "charger": max([charger_of(self.build).current_a, *charges]),
            "control": control.standby_current_a,
        }[role]
        found = self._driving(role)
        if found is None:
            return Currents(limit, limit)
        continuous, peak = (largest_mean(*found, window) for window in (TEN_MINUTES_S, SECOND_S))
        return Currents(continuous if self.wiring.duty_known else max(continuous, limit), peak)

    def demands(self) -> Iterator[tuple[Demand, described.Circuit | None]]:
        """Every circuit in the order of the schedule, with its description where the build has one; each under a name of its own."""
        stated = self.wiring.circuit
        names = {each.name for each in stated}
        for role in ("main", "motor", "lighting", "charger", "control"):
            own = [each for each in stated if each.role == role]
            own.sort(key=lambda each: self.wiring.reached[each.source][0])
            yield from ((self._stated(each), each) for each in own)
            for proposed in self._lights(own) if role == "lighting" else () if own else (self._proposed(role),):
                yield replace(proposed, name=_free(proposed.name, names)), None

    def _stated(self, circuit: described.Circuit) -> Demand:
        """A described circuit; what it leaves open is proposed."""
        origin, currents = self._origin(circuit), self._described[circuit.name]
        kinds = (circuit.protection,) if circuit.protection is not None else _kinds(circuit.role)
        return self._demand(
            circuit.name, circuit.role, circuit.source, circuit.load, circuit.length_m, self.source_of(origin), currents, kinds,
            insulation_c=circuit.insulation_c, ambient_c=circuit.ambient_c if "ambient_c" in circuit.said() else None, bundled=circuit.bundled,
            section_mm2=circuit.copper_mm2, rating_a=circuit.rating_a, drop_share=self.wiring.shares_of_the_way[circuit.name],
        )  # fmt: skip

    @cached_property
    def _described(self) -> dict[str, Currents]:
        """What flows in each described circuit, by its name: its own current, and what hangs on its end."""
        found: dict[str, Currents] = {}
        roles: dict[str, set[str]] = {}
        for each in self.wiring.ends_first:
            fed = self.wiring.fed(each)
            roles[each.name] = {each.role}.union(*(roles[other.name] for other in fed))
            behind = _together([(other, found[other.name]) for other in fed])
            carried_on = any(each.role in roles[other.name] for other in fed)
            own = self._own_currents(each, carried_on)
            # What is stated of a circuit is all that flows in it, but no less than what it feeds.
            join = max if each.current_a is not None else add
            found[each.name] = Currents(*(join(*pair) for pair in zip(own, behind, strict=True)))
        return found

    def _own_currents(self, circuit: described.Circuit, carried_on: bool) -> Currents:
        """Current of a described circuit's own role; none where a circuit that it feeds has the same role, and counts it there."""
        if circuit.role == "lighting":
            found = self._light_currents(circuit, carried_on)
        elif carried_on:
            found = NOTHING
        else:
            found = self.currents(circuit.role)
        if circuit.current_a is not None:
            return Currents(circuit.current_a, max(circuit.current_a, found.peak_a))
        return found

    def _origin(self, circuit: described.Circuit) -> str:
        """Where a circuit's current begins."""
        return self.wiring.reached[circuit.source][1]

    def _light_currents(self, circuit: described.Circuit, carried_on: bool) -> Currents:
        """Current of a described lighting circuit.

        That of the light it ends at; where it ends at the lights' converter, that of all lights. One that names no light: none where circuits
        behind it feed the lights, else that of all lights which no circuit names.
        """
        lighting, named = self.build.lighting, {each.load for each in self.wiring.circuit}
        if lighting is not None and circuit.load == described.CONVERTER:
            return self._converter_currents(lighting)
        loads = () if lighting is None else lighting.load
        watts = sum(each.power_w for each in loads if each.name == circuit.load)
        if not watts and not carried_on:
            watts = sum(each.power_w for each in loads if each.name not in named)
        amps = watts / self.source_of(self._origin(circuit)).volts
        return Currents(amps, amps)

    def _converter_currents(self, lighting: Lighting) -> Currents:
        """What the lights' converter takes out of a pack that is nearly empty."""
        amps = lighting.power_w / lighting.converter_efficiency / self.build.cutoff_voltage_v
        return Currents(amps, amps)

    def _proposed(self, role: str) -> Demand:
        return self._demand(role, role, *ENDS[role], self._length_m(role), self.pack, self.currents(role), _kinds(role))

    def _lights(self, own: list[described.Circuit]) -> Iterator[Demand]:
        """A circuit a light that no described one feeds; on a converter the one that feeds it first."""
        lighting = self.build.lighting
        if lighting is None:
            return
        named = {each.load for each in own}
        left = [each for each in lighting.load if each.name not in named]
        feeds_all = named - {described.CONVERTER} and not named & {each.name for each in lighting.load}
        if not left or feeds_all:
            return  # a described circuit that names no light feeds all of them
        own_block = lighting.supply == "own-battery"
        begins = described.LIGHTS_BATTERY if own_block else described.CONVERTER
        if not own_block and lighting.converter_efficiency == 1.0:
            begins = described.PACK
        if begins == described.CONVERTER and begins not in named:
            yield self._demand(
                "converter", "lighting", "pack", "converter", self._length_m("main"), self.pack, self._converter_currents(lighting), SMALL_KINDS
            )  # fmt: skip
        for light in left:
            amps = light.power_w / self.lights.volts
            yield self._demand(
                light.name, "lighting", begins, light.name, self._length_m("lighting"), self.lights, Currents(amps, amps), SMALL_KINDS
            )  # fmt: skip

    def _demand(
        self, name: str, role: str, source: str, load: str, length_m: float, feeds: Source, currents: Currents, kinds: tuple[str, ...], *,
        insulation_c: float = PROPOSED_C, ambient_c: float | None = None, bundled: int = 2,
        section_mm2: float | None = None, rating_a: float | None = None, drop_share: float = 1.0,
    ) -> Demand:  # fmt: skip
        if ambient_c is None:
            ambient_c = self.round_cables_c
        return Demand(
            name=name, role=role, source=source, load=load, length_m=length_m, volts=feeds.volts, full_volts=feeds.full_volts,
            continuous_a=currents.continuous_a, peak_a=currents.peak_a, drop_limit=OTHER if role == "lighting" else ESSENTIAL,
            source_v=feeds.weak_v, source_ohm=feeds.weak_ohm, strongest_a=feeds.strongest_a, insulation_c=insulation_c,
            ambient_c=ambient_c, bundled=bundled, kinds=kinds, section_mm2=section_mm2, rating_a=rating_a,
            drop_share=drop_share,
        )  # fmt: skip

    def _length_m(self, role: str) -> float:
        """From where the parts stand, where the build says it, round corners; else the usual length."""
        build = self.build
        control = build.controller
        other = build.pack if role == "main" else build.motor if role == "motor" else None
        if other is None or control.x_m is None or control.z_m is None or other.x_m is None or other.z_m is None:
            return USUAL_M[role]
        return round(hypot(control.x_m - other.x_m, control.z_m - other.z_m) + DETOUR_M, 1)


def _together(fed: list[tuple[described.Circuit, Currents]]) -> Currents:
    """Current of a circuit that feeds others: all loads at once, or the charger's where that is more.

    A control circuit without a stated current is left out: its current is the controller's, which counts already.
    """

    def total(currents: list[Currents]) -> Currents:
        return Currents(*map(sum, zip(NOTHING, *currents, strict=True)))

    taking = [amps for each, amps in fed if each.role != "charger" and (each.role != "control" or each.current_a)]
    charging = [amps for each, amps in fed if each.role == "charger"]
    return Currents(*map(max, total(taking), total(charging)))


def _free(name: str, taken: set[str]) -> str:
    """A name, with a number behind it where it is taken; it is taken from now on."""
    tried = (name if number == 1 else f"{name} {number}" for number in count(1))
    free = next(each for each in tried if each not in taken)
    taken.add(free)
    return free


def _kinds(role: str) -> tuple[str, ...]:
    """Kinds of protection of a role; the motor's leads have none: opened under current they destroy the controller."""
    return {"main": MAIN_KINDS, "motor": ()}.get(role, SMALL_KINDS)


def largest_mean(clock_s: NDArray[np.float64], current_a: NDArray[np.float64], window_s: float) -> float:
    """Largest mean of a current, straight lines between its points, over any stretch of a length; over all where that is shorter. [A]"""
    charge = np.concatenate([[0.0], np.cumsum(0.5 * (current_a[1:] + current_a[:-1]) * np.diff(clock_s))])
    span = min(window_s, float(clock_s[-1] - clock_s[0]))
    if span <= 0.0:
        return float(current_a.max(initial=0.0))
    # The largest mean begins or ends at a kept point, or between two of them, where the middle between them is near enough.
    begins = np.concatenate([clock_s, clock_s - span, 0.5 * (clock_s[1:] + clock_s[:-1])])
    begins = np.clip(begins, clock_s[0], clock_s[-1] - span)
    taken = _charge_at(begins + span, clock_s, current_a, charge) - _charge_at(begins, clock_s, current_a, charge)
    return float(taken.max() / span)


def _charge_at(
    moments: NDArray[np.float64],
    clock_s: NDArray[np.float64],
    current_a: NDArray[np.float64],
    charge: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Charge that has flowed up to some moments. [A s]"""
    row = np.clip(np.searchsorted(clock_s, moments, side="right") - 1, 0, len(clock_s) - 2)
    width = np.maximum(clock_s[row + 1] - clock_s[row], 1e-12)
    share = np.clip((moments - clock_s[row]) / width, 0.0, 1.0)
    first, last = current_a[row], current_a[row + 1]
    return charge[row] + share * width * (first + 0.5 * share * (last - first))
