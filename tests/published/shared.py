"""What several checks share: tables of printed numbers, a bare block, and Peukert's run time."""

from __future__ import annotations

import csv

import numpy as np

from ridesim.data import shipped
from ridesim.physics.capacity_laws import PEUKERT, TWO_WELL, peukert_factor
from ridesim.ride.core.records import TABLE_POINTS, PackNumbers, new


def rows_of(name: str) -> list[dict[str, str]]:
    """Rows of a shipped table of published numbers, its remarks left out."""
    text = (shipped("data") / "published" / name).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


def wells(whole: float, share: float, rate: float, law: int = TWO_WELL, **others: float) -> PackNumbers:
    """A block with nothing but a capacity law; the unit of time is the caller's."""
    values = dict(  # noqa: C408
        capacity=whole, rated_current=1.0, exponent=1.2 if law == PEUKERT else 0.75, law=law, bend=0.13, level=0.0, recovery=1.0,
        well_share=share, well_rate=rate, coulombic=0.9, table_z=np.linspace(0.0, 1.0, TABLE_POINTS),
        table_v=np.linspace(12.0, 13.0, TABLE_POINTS), resistance=0.01, resistance_rise=0.0, polarisation_resistance=0.0, polarisation_time=1.0,
        activation=0.0, activation_current=1.0, end_volts=12.0, end_fall=0.0, acceptance=1.0, absorption=14.0,
    )  # fmt: skip
    return new(PackNumbers, **{**values, **others})


def peukert_hours(current: float, capacity: float, rated_hours: float, exponent: float) -> float:
    """Hours at a constant current at or above the rated one: C/(I (I/I_R)^(k - 1))."""
    return capacity / (current * peukert_factor(current, capacity / rated_hours, exponent))
