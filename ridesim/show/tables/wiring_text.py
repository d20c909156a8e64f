"""The wiring as text: whether it can be wired so, the schedule, what opens when, what to buy, what to watch."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import isfinite, isnan
from typing import Any

from ridesim.choose.circuits import DRIVING
from ridesim.choose.findings.wiring import SWITCHES
from ridesim.choose.opening import THE_DAY
from ridesim.choose.wiring import Wiring
from ridesim.show.tables.text import findings_text, table, wrapped
from ridesim.sizing.circuit import Circuit
from ridesim.sizing.lighting import supplies
from ridesim.vehicle.cable import next_gauge

SCHEDULE = ("circuit", "from", "to", "m", "mm²", "AWG", "A", "fuse A", "drop")


def wiring_text(wiring: Wiring) -> str:
    """The answer for the terminal."""
    day = "the controller's limits alone" if wiring.ride is None else f"“{wiring.ride.day.name}”"
    colours = wiring.needs.wiring
    parts = [
        wrapped(f"{wiring.build.name}, {day}: {wiring.verdict}", ""),
        "",
        table(SCHEDULE, [schedule_row(each) for each in wiring.sized]),
        "",
        *(wrapped(f"  {each.demand.name}: {each.reason}.") for each in wiring.sized),
        wrapped(
            f"  Drop: from the source on. Colours: {colours.positive_colour} +, {colours.negative_colour} -; label both ends."
        ),
        "",
        "Before you wire:",
        findings_text(wiring.cautions),
        "",
        "What opens, from the quickest part to the slowest (times from memory):",
        *(wrapped(line) for line in opens_lines(wiring)),
        "",
        *_warmest(wiring),
        *_lights(wiring),
        "What to buy:",
        *(
            wrapped(f"  {count:g} {unit or '×'} {part} ({where})")
            for part, count, unit, where in wiring.parts.to_numpy().tolist()
        ),
        "",
        *_silent(wiring),
        "What to watch:",
        findings_text(wiring.to_watch),
    ]
    return "\n".join(parts)


def _silent(wiring: Wiring) -> list[str]:
    """Switches of which the build says nothing, with their keys."""
    if not wiring.silent:
        return []
    said = [SWITCHES[key] for key in wiring.silent]
    rows = [replace(each, text=f"{key}: {each.text}.") for key, each in zip(wiring.silent, said, strict=True)]
    return [
        "Not said in the build; under [wiring] true: has it, false: done without on purpose:",
        findings_text(rows),
        "",
    ]


def _lights(wiring: Wiring) -> list[str]:
    """An own block against a converter, where the day has lights."""
    if wiring.ride is None or wiring.build.lighting is None:
        return []
    both = supplies(wiring.build, wiring.ride.asked)
    return [wrapped(f"Lights, {both.power_w:g} W for {both.burning_h:.1f} h: {both.sentence}"), ""]


def schedule_row(circuit: Circuit) -> tuple[str, ...]:
    """One circuit in the columns of :data:`SCHEDULE`."""
    d, rated = circuit.demand, circuit.protection
    return (
        d.name, d.source, d.load, f"{d.length_m:g}", f"{circuit.section_mm2:.3g}", next_gauge(circuit.section_mm2), f"{d.continuous_a:.1f}",
        "-" if rated is None else f"{rated.rating_a:g}", f"{circuit.limits.drop_v:.2f} V {circuit.drop_percent:.1f} %",
    )  # fmt: skip


def opens_lines(wiring: Wiring) -> Iterator[str]:
    """Every case of the circuits on the motor's way; of all others the day, and how soon a dead short is over."""
    for circuit in wiring.sized:
        name = circuit.demand.name
        rows = [row for row in wiring.opens.to_dict("records") if row["circuit"] == name]
        if circuit.demand.role in DRIVING:
            yield from (f"  {name}, {row['case']}: {says(row)}{_cable(row)}." for row in rows)
        elif rows:
            slowest = max(
                (row for row in rows if row["case"] != THE_DAY), key=lambda row: (row["latest_s"], row["earliest_s"])
            )
            day = [f"the day: {says(row)}; " for row in rows if row["case"] == THE_DAY]
            yield f"  {name}, {''.join(day)}dead short: {says(slowest)}{_cable(slowest)}."


def _warmest(wiring: Wiring) -> list[str]:
    """How warm each cable gets over the day, when and where."""
    if wiring.ride is None:
        return []
    rows = (
        f"  {row['circuit']}: {row['hottest_c']:.0f} °C of {row['insulation_c']:g} °C, at {row['where']}."
        for row in wiring.warmth.to_dict("records")
    )
    return ["How warm the cables get over the day, and what their insulation stands:", *map(wrapped, rows), ""]


def _cable(row: Any) -> str:
    warm = "" if isnan(row["cable_c"]) or row["case"] == THE_DAY else f"; cable up to {row['cable_c']:.0f} °C"
    return warm + ("" if row["outlives"] else "; the cable does not outlive it")


def says(row: Any) -> str:
    """Whether and when a protection opens, of a row of :attr:`ridesim.choose.wiring.Wiring.opens`."""
    if row["says"] == "never":
        return "never opens"
    if row["case"] == THE_DAY:
        return f"{'may open' if row['says'] == 'may' else 'opens'} at {row['where']}"
    ends = [_time(each) for each in (row["earliest_s"], row["latest_s"])]
    if row["says"] == "may":
        return f"may open after {ends[0]}"
    return f"opens within {ends[1]}" if ends[0] == ends[1] else f"opens after {ends[0]} to {ends[1]}"


def _time(seconds: float) -> str:
    if not isfinite(seconds):
        return "never"
    return (
        f"{1000.0 * seconds:.0f} ms"
        if seconds < 1.0
        else f"{seconds:.1f} s"
        if seconds < 100.0
        else f"{seconds / 60.0:.0f} min"
    )
