"""A discharge test's result in plain words, and as lines for the build."""

from __future__ import annotations

from textwrap import wrap

from ridesim.bench.discharge import DischargeResult
from ridesim.show.tables.text import table, width
from ridesim.words import Uncertain, percent

CAUTION = (
    "While testing: rings off, tools insulated, a fuse at the block, the lamp where it cannot set fire to anything, and somebody "
    "beside it. Stop at the end voltage and charge the same day: an empty block is harmed by waiting. Never discharge or charge a "
    "lithium pack round its protection."
)


def discharge_text(result: DischargeResult) -> str:
    """The result for terminal and notebook: figures, what was repaired, what the data cannot tell, lines for the build."""
    runs = [
        [each.name, *(f"{number:.2f}" for number in (each.current_a, each.hours, each.charge_ah)), "yes" if each.complete else "NO"]
        for each in result.discharges
    ]  # fmt: skip
    parts = [table(["discharge", "A", "h", "Ah", "to the end"], runs), ""]
    rows = [
        (f"capacity at {result.rated_hours:g} h", result.rated_capacity_ah, "Ah", 2, 1.0),
        ("Peukert's k", result.peukert_exponent, "", 3, 1.0),
        ("resistance, full, 25 °C", result.resistance_ohm, "mohm", 1, 1000.0),
        ("activation, a cell", result.activation_v_per_cell, "mV", 1, 1000.0),
        ("time of the slow part", result.polarisation_time_s, "s", 0, 1.0),
    ]
    parts.append(table(["measured (band: 90 %)", "", "from", "to"], [_row(*row) for row in rows]))
    if result.state_of_health is not None:
        parts.append(f"state of health: {percent(result.state_of_health)} of the {result.label_ah:g} Ah label")
    remarks = {"Put right or left out": result.remarks, "What these data cannot tell": result.undetermined}
    for heading, said in remarks.items():
        if said:
            parts += ["", heading, *(_item(each) for each in said)]
    parts += ["", "For the build, under [pack]:", result.toml or "(nothing measured)", "", *wrap(CAUTION, width())]
    return "\n".join(parts)


def _row(label: str, value: Uncertain | None, unit: str, digits: int, factor: float) -> list[str]:
    name = f"{label} [{unit}]" if unit else label
    if value is None:
        return [name, "not determined", "", ""]
    return [name, *(f"{factor * each:.{digits}f}" for each in (value.value, value.low, value.high))]


def _item(text: str) -> str:
    return "\n".join(wrap(text, width(), initial_indent="  - ", subsequent_indent="    "))
