"""The wiring as lists: the schedule to wire from, and what to buy."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil
from typing import TYPE_CHECKING

from ridesim.sizing.circuit import Circuit
from ridesim.sizing.protection import kind_of
from ridesim.vehicle import Build
from ridesim.vehicle.cable import next_gauge
from ridesim.vehicle.wiring import Wiring

if TYPE_CHECKING:
    import pandas as pd

ISOLATORS_A = (50, 100, 150, 200, 300, 500, 1000)
"""Continuous ratings of d.c. isolators: common practice, no source. [A]"""
OFFCUT = 1.1
"""Cable to buy over cable to lay: common practice, no source."""


def schedule(wiring: Wiring, sized: Sequence[Circuit]) -> pd.DataFrame:
    """A row a circuit, in the order in which it is wired."""
    import pandas as pd

    colour = f"{wiring.positive_colour} +, {wiring.negative_colour} -"
    return pd.DataFrame([
        {
            "circuit": each.demand.name, "from": each.demand.source, "to": each.demand.load, "length_m": each.demand.length_m,
            "section_mm2": each.section_mm2, "awg": next_gauge(each.section_mm2), "colour": colour, "fuse": fuse_in_words(each),
            "drop_v": each.limits.drop_v, "drop_percent": each.drop_percent, "reason": each.reason,
        }
        for each in sized
    ])  # fmt: skip


def fuse_in_words(circuit: Circuit) -> str:
    """Rating and kind; empty where a circuit has none of its own."""
    part = circuit.protection
    return "" if part is None else f"{part.rating_a:g} A {kind_of(part.kind).name}"


def parts(build: Build, full_v: float, sized: Sequence[Circuit]) -> pd.DataFrame:
    """A row a part, cable first."""
    import pandas as pd

    rows = [*_cables(sized), *_devices(build, full_v, sized)]
    return pd.DataFrame(rows, columns=["part", "count", "unit", "where"])


def _cables(sized: Sequence[Circuit]) -> Iterator[tuple[str, float, str, str]]:
    kinds = sorted({(each.section_mm2, each.demand.insulation_c) for each in sized}, reverse=True)
    for section, insulation in kinds:
        circuits = [
            each.demand for each in sized if (each.section_mm2, each.demand.insulation_c) == (section, insulation)
        ]
        metres = OFFCUT * sum(2.0 * each.length_m for each in circuits)
        names = ", ".join(each.name for each in circuits)
        yield f"cable {section:.3g} mm², {insulation:g} °C, fine strands", ceil(2.0 * metres) / 2.0, "m", names


def isolator_in_words(full_v: float, sized: Sequence[Circuit]) -> str:
    """Continuous rating and voltage that the isolator has to have."""
    main = next(each for each in sized if each.demand.role == "main")
    wanted = main.protection.rating_a if main.protection else main.demand.continuous_a
    rating = next((each for each in ISOLATORS_A if each >= wanted), wanted)
    return f"{rating:g} A for hours, {ceil(full_v)} V d.c. or more"


def _devices(build: Build, full_v: float, sized: Sequence[Circuit]) -> Iterator[tuple[str, float, str, str]]:
    kinds = {each.protection for each in sized if each.protection is not None}
    for part in sorted(kinds, key=lambda each: (-each.rating_a, each.kind)):
        same = [each for each in sized if each.protection == part]
        text = f"{fuse_in_words(same[0])}, {kind_of(part.kind).rated_voltage_v:g} V d.c."
        yield text, len(same), "", ", ".join(each.demand.name for each in same)
    if build.wiring is None or build.wiring.isolator is not False:
        yield f"isolator, {isolator_in_words(full_v, sized)}", 1, "", "main, in reach of the driver"
    control = build.controller
    if control.precharge_ohm is not None:
        watts = full_v * full_v / control.precharge_ohm
        yield (
            f"wire-wound resistor {control.precharge_ohm:g} ohm, {ceil(watts)} W or more",
            1,
            "",
            "across the contactor",
        )
