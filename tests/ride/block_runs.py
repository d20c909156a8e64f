"""How long one block lasts under constant currents, in closed form: what handbooks and papers print."""

from __future__ import annotations

from math import inf

from scipy.optimize import brentq

from ridesim.ride.core.pack import charges_at, state_of_charge
from ridesim.ride.core.records import PackNumbers
from ridesim.ride.pack.block import block_numbers, charges_after
from ridesim.vehicle import Build


def run_seconds(current: float, b: PackNumbers, floor: float = 0.0) -> float:
    """Run time of a full, rested block at a constant current [A] down to a state of charge. [s]"""

    def above(seconds: float) -> float:
        return float(state_of_charge(*charges_after(*charges_at(1.0), current, seconds, b), b)) - floor

    longest = b.capacity / current * 2.0
    while above(longest) > 0.0:
        longest *= 2.0
    return float(brentq(above, 0.0, longest, xtol=1e-9, rtol=1e-14))


def lifetime_seconds(pieces: list[tuple[float, float]], b: PackNumbers, repeat: bool = False) -> float:
    """When a full, rested block is empty under pieces of constant current; infinite where it outlasts them. [s]

    ``pieces`` are durations [s] and currents [A, discharge positive] in order, begun anew until the block is empty where
    ``repeat`` is set.
    """
    q, time = charges_at(1.0), 0.0
    while True:
        for duration, current in pieces:
            after = charges_after(*q, current, duration, b)
            if state_of_charge(*after, b) <= 0.0:

                def left(seconds: float, q: tuple[float, float, float] = q, current: float = current) -> float:
                    return float(state_of_charge(*charges_after(*q, current, seconds, b), b))

                return time + (float(brentq(left, 0.0, duration, xtol=1e-9)) if left(0.0) > 0.0 else 0.0)
            q, time = after, time + duration
        if not repeat:
            return inf


def after_a_fast_discharge(build: Build, law: str) -> tuple[float, float]:
    """State of charge and ampere-hours missing of a pack whose blocks gave 1 C down to 10 %."""
    b = block_numbers(build.pack, battery_model=law)
    amps = build.pack.block_capacity_ah
    out = run_seconds(amps, b, floor=0.1)
    charges = charges_after(*charges_at(1.0), amps, out, b)
    return state_of_charge(*charges, b), amps * out / 3600.0
