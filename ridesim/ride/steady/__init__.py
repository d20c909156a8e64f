"""Answers without a day: pull, top speed, climb, range, duty, cut-out."""

from ridesim.ride.steady.pull import (
    STILL_AIR_C,
    currents_for,
    need_arguments,
    pull_arrays,
    pull_at,
    pull_curve,
    resistance_at,
)
from ridesim.ride.steady.range import SteadyRange, steady_range
from ridesim.ride.steady.speeds import steepest_start_percent, steepest_steady_percent, time_to_speed, top_speed_kmh

__all__ = [
    "STILL_AIR_C", "SteadyRange", "currents_for", "need_arguments", "pull_arrays", "pull_at", "pull_curve", "resistance_at", "steady_range",
    "steepest_start_percent", "steepest_steady_percent", "time_to_speed", "top_speed_kmh",
]  # fmt: skip
