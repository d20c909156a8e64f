"""Discharge logs made from the model with known numbers, as a lamp and a meter would write them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from ridesim.ride.core.pack import beyond_resistance, charges_at, rested_source, state_of_charge
from ridesim.ride.pack.block import block_numbers, charges_after
from ridesim.vehicle import Pack

BLOCK: dict[str, Any] = {
    "chemistry": "lead-acid-agm", "block_capacity_ah": 22.0, "peukert_exponent": 1.18, "block_resistance_ohm": 0.014,
    "polarisation_resistance_ohm": 0.0084, "polarisation_time_s": 70.0, "activation_v_per_cell": 0.005,
    "end_voltage_v_per_cell": [[20.0, 1.74]],
}  # fmt: skip


FALLS_AWAY_V = 300.0
"""A block whose load stays on when it is empty falls away; the model switches the load off. [V a unit of charge]"""


def discharge(
    pieces: Sequence[tuple[float, float]],
    interval: float = 5.0,
    noise_v: float = 0.002,
    noise_a: float = 0.005,
    end_v: float = 10.5,
    seed: int = 1,
    **changes: Any,
) -> np.ndarray:
    """Rows of time, voltage, current: pieces of (seconds, amps) one after the other until the end voltage under load.

    The last piece goes on until the end voltage; after it ten minutes of rest are logged.
    """
    pack = Pack.model_validate({**BLOCK, **changes})
    b = block_numbers(pack)
    rng = np.random.default_rng(seed)
    charges = charges_at(1.0)
    slow, time = 0.0, 0.0
    rows = []

    def reading(amps: float) -> float:
        rested, inner = rested_source(charges[1], b)
        return rested - slow - inner * amps - FALLS_AWAY_V * max(0.0, -state_of_charge(*charges, b))

    def move(amps: float, span: float) -> None:
        nonlocal charges, slow, time
        rested, inner = rested_source(charges[1], b)
        beyond = beyond_resistance(state_of_charge(*charges, b), rested, inner, amps, b)
        settled = b.polarisation_resistance * amps + beyond
        charges = charges_after(*charges, amps, span, b)
        slow = settled + (slow - settled) * np.exp(-span / b.polarisation_time)
        time += span

    def step(amps: float) -> None:
        """The lamp is switched half-way between two rows."""
        move(amps, 0.5 * interval)
        rows.append(
            (time, reading(amps) + noise_v * rng.standard_normal(), amps + noise_a * rng.standard_normal() * (amps > 0))
        )
        move(amps, 0.5 * interval)

    for number, (seconds, amps) in enumerate(pieces):
        last = number == len(pieces) - 1
        for _ in range(10**6 if last else round(seconds / interval)):
            if amps > 0.0 and reading(amps) <= end_v - 2.0 * noise_v:
                break
            step(amps)
    step(pieces[-1][1])
    for _ in range(round(600.0 / interval)):
        step(0.0)
    return np.array(rows)


def lamp(amps: float, **changes: Any) -> np.ndarray:
    """The usual test: five minutes of rest, twenty of load, ten off, then load to the end."""
    return discharge([(300.0, 0.0), (1200.0, amps), (600.0, 0.0), (0.0, amps)], **changes)


def write(rows: np.ndarray, path: Path, remark: str = "") -> Path:
    """As a CSV file."""
    lines = [f"# {remark}"] if remark else []
    lines += ["time_s,voltage_v,current_a", *(f"{t:.0f},{v:.3f},{i:.3f}" for t, v, i in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path
