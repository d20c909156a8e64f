"""Discharge logs made from the model with known numbers, as a lamp and a meter would write them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from ridesim.physics.pack import open_circuit, resistance_factor
from ridesim.ride.core.pack import charges_at, state_of_charge
from ridesim.ride.pack.block import block_numbers, charges_after
from ridesim.vehicle import Pack

BLOCK: dict[str, Any] = {
    "chemistry": "lead-acid-agm", "block_capacity_ah": 22.0, "peukert_exponent": 1.18, "block_resistance_ohm": 0.014,
    "polarisation_resistance_ohm": 0.009, "polarisation_time_s": 70.0,
}  # fmt: skip

KNEE_V, KNEE_Z = 3.0, 0.01
"""A real block's voltage falls away just before it is empty; the model's line does not."""


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
        z = state_of_charge(*charges, b)
        inner = b.resistance * resistance_factor(max(0.0, z), b.resistance_rise)
        return float(open_circuit(z, b.table_z, b.table_v)) - KNEE_V * np.exp(-z / KNEE_Z) - slow - inner * amps

    def step(amps: float) -> None:
        nonlocal charges, slow, time
        rows.append(
            (time, reading(amps) + noise_v * rng.standard_normal(), amps + noise_a * rng.standard_normal() * (amps > 0))
        )
        charges = charges_after(*charges, amps, interval, b)
        settled = b.polarisation_resistance * amps
        slow = settled + (slow - settled) * np.exp(-interval / b.polarisation_time)
        time += interval

    for number, (seconds, amps) in enumerate(pieces):
        last = number == len(pieces) - 1
        for _ in range(10**6 if last else round(seconds / interval)):
            if amps > 0.0 and (reading(amps) <= end_v or state_of_charge(*charges, b) <= 0.0):
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
