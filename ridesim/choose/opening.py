"""What the day, a start on a ramp, a stall and a dead short do to a circuit: whether its protection opens, how warm its cable gets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import inf, isfinite, nan
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ridesim.choose.circuits import DRIVING, Needs
from ridesim.choose.findings.places import where
from ridesim.ride.result import Ride
from ridesim.sizing.cable import temperatures_c, withstand_s
from ridesim.sizing.circuit import Circuit, short_circuits_a
from ridesim.sizing.protection import opening_s, trips
from ridesim.vehicle import Build
from ridesim.words import Finding

if TYPE_CHECKING:
    import pandas as pd

THE_DAY, RAMP, STALLED = "the day", "a start on a ramp", "stalled for 10 s"
STALL_S = RAMP_S = 10.0
"""How long a stall and a start on a ramp last. [s]"""
NEAR_K = 0.5
"""A cable that is loaded with its ampacity comes as near to its insulation's limit; no more than that is too warm. [K]"""
Trace = tuple[NDArray[np.float64], NDArray[np.float64]]
"""Moments [s] and currents [A]."""


def stall_a(build: Build) -> float:
    """What a stalled motor at its limit takes out of the pack: heat of winding and controller over the pack's voltage. [A]"""
    motor, amps = build.motor, build.controller.max_motor_current_a
    watts = amps * amps * (motor.resistance_ohm + build.on_resistance_ohm) + amps * motor.brush_drop_v
    return min(watts / build.pack.nominal_voltage_v, build.controller.max_battery_current_a)


def cases(needs: Needs, circuit: Circuit, guard: Circuit) -> Iterator[dict[str, Any]]:
    """A row a case of a circuit that the protection of another one opens, or its own."""
    seen, carried = needs.trace(guard.demand), needs.trace(circuit.demand)
    if seen is not None and carried is not None:
        assert needs.ride is not None
        day = _case(circuit, guard, THE_DAY, seen, carried)
        yield day | {"where": where(needs.ride, day["earliest_s"]) if day["says"] != "never" else ""}
    if circuit.demand.role in DRIVING:
        control = needs.build.controller
        leads = control.max_motor_current_a if circuit.demand.role == "motor" else None
        for case, amps, seconds in (
            (RAMP, control.max_battery_current_a, RAMP_S), (STALLED, stall_a(needs.build), STALL_S),
        ):  # fmt: skip
            yield _case(circuit, guard, case, _steady(amps, seconds), _steady(leads or amps, seconds))
    yield from _dead_shorts(circuit, guard)


def _steady(current_a: float, seconds: float) -> Trace:
    return np.array([0.0, seconds]), np.array([current_a, current_a])


def _case(circuit: Circuit, guard: Circuit, case: str, seen: Trace, carried: Trace) -> dict[str, Any]:
    """How a protection takes the current that it sees, and how warm the cable gets of its own before the slowest part opens."""
    assert guard.protection is not None
    earliest, latest = trips(guard.protection, *seen, guard.demand.ambient_c)
    upto = max(2, int(np.searchsorted(carried[0], latest, side="right")))
    warmest = float(conductor_c(circuit, carried[0][:upto], carried[1][:upto]).max())
    return _row(circuit, case, earliest, latest, warmest, warmest <= circuit.demand.insulation_c + NEAR_K)


def _dead_shorts(circuit: Circuit, guard: Circuit) -> Iterator[dict[str, Any]]:
    """The weakest, at the far end of the cable, and the strongest, at its beginning."""
    d, part = circuit.demand, guard.protection
    assert part is not None
    least, most = short_circuits_a(d, circuit.section_mm2)
    for case, amps in (("weakest dead short", least), ("strongest dead short", most)):
        earliest, latest = opening_s(part, amps, guard.demand.ambient_c)
        stands = amps <= circuit.limits.ampacity_a
        outlives = stands or latest <= withstand_s(circuit.section_mm2, d.insulation_c, amps)
        yield _row(circuit, case, earliest, latest, nan, outlives)


def _row(circuit: Circuit, case: str, earliest: float, latest: float, cable_c: float, outlives: bool) -> dict[str, Any]:
    says = "opens" if isfinite(latest) else "may" if earliest < inf else "never"
    return {
        "circuit": circuit.demand.name, "case": case, "earliest_s": earliest, "latest_s": latest, "says": says, "where": "",
        "cable_c": cable_c, "outlives": outlives,
    }  # fmt: skip


def conductor_c(circuit: Circuit, time_s: NDArray[np.float64], current_a: NDArray[np.float64]) -> NDArray[np.float64]:
    """How warm a circuit's cable gets under a current that changes. [°C]"""
    d = circuit.demand
    return temperatures_c(circuit.section_mm2, d.insulation_c, d.ambient_c, d.bundled, time_s, current_a)


def hottest(ride: Ride, circuit: Circuit, conductor: NDArray[np.float64]) -> dict[str, Any]:
    """When and where over the day a cable is warmest."""
    row = int(conductor.argmax())
    moment = float(ride.clock_s[row])
    return {
        "circuit": circuit.demand.name, "hottest_c": float(conductor[row]), "clock_s": moment, "where": where(ride, moment),
        "insulation_c": circuit.demand.insulation_c,
    }  # fmt: skip


def opened(build: Build, sized: Sequence[Circuit], opens: pd.DataFrame) -> Iterator[Finding]:
    """Protections that the day or a start on a ramp opens, and a stall that none of them sees."""
    protected = {each.demand.name for each in sized if each.protection is not None}
    for row in opens.to_dict("records"):
        name, seen = row["circuit"], row["says"] != "never"
        if name in protected and seen and row["case"] == THE_DAY:
            yield _on_the_road(row)
        elif name in protected and seen and row["case"] == RAMP:
            text = (
                f"“{name}”: a start on a ramp that takes the controller's whole limit may open its protection after {row['earliest_s']:.2g} s (times "
                "from memory). A larger rating with the cable for it, or a lower limit at the controller."
            )
            yield Finding("protection-opens-on-a-ramp", "warning", text, {"earliest_s": row["earliest_s"]})
    if any(row["case"] == STALLED and row["says"] == "never" for row in opens.to_dict("records")):
        amps = stall_a(build)
        text = (
            f"Stalled at its limit the motor takes {amps:.0f} A out of the pack: no protection opens, while "
            f"{build.controller.max_motor_current_a:.0f} A heat its winding. Let go of the throttle."
        )
        yield Finding("stall-opens-nothing", "advice", text, {"pack_current_a": amps})


def _on_the_road(row: dict[Any, Any]) -> Finding:
    """A protection that opens on the road, or may."""
    text = (
        f"at {row['where']} (times from memory): what hangs on it is dead at once, so hold the vehicle with its brakes. A larger rating "
        "with the cable for it, or a lower limit at the controller."
    )
    name, numbers = row["circuit"], {"clock_s": row["earliest_s"]}
    if row["says"] == "may":
        return Finding(
            "protection-may-open-on-the-day", "warning", f"“{name}”: its protection may open {text}", numbers
        )
    return Finding("protection-opens-on-the-day", "stop", f"“{name}”: its protection opens {text}", numbers)


def too_warm(sized: Sequence[Circuit], opens: pd.DataFrame, warmth: pd.DataFrame) -> Iterator[Finding]:
    """Cables that short currents bring above what their insulation stands, though the mean current does not."""
    stands = {each.demand.name: each.demand.insulation_c for each in sized}
    found = [
        (row["circuit"], f"over the day, at {row['where']},", row["hottest_c"]) for row in warmth.to_dict("records")
    ]
    said = {RAMP: "in a start on a ramp", STALLED: "when the motor is stalled for 10 s"}
    found += [
        (row["circuit"], said[row["case"]], row["cable_c"]) for row in opens.to_dict("records") if row["case"] in said
    ]
    for name, when, celsius in found:
        if celsius > stands[name] + NEAR_K:
            text = (
                f"“{name}”: {when} its copper reaches {celsius:.0f} °C; its insulation stands {stands[name]:g} °C for hours. Thicker cable, or a "
                "lower limit at the controller."
            )
            yield Finding("cable-too-warm", "stop", text, {"hottest_c": celsius})
