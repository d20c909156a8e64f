"""What to measure first: how sure the answer would be after each thing that a maker can measure and type in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import log, sqrt

import numpy as np
from scipy.special import ndtr, ndtri

from ridesim.choose.how_sure import Drawn, FloatArray
from ridesim.choose.wishes import SPEED, STARTS, WINDING
from ridesim.forms import END_SCORE
from ridesim.words import Uncertain


@dataclass(frozen=True, slots=True)
class Measurement:
    """A thing to measure.

    Attributes
    ----------
    what : str
        What to do, and with what.
    minutes : int
        How long it takes.
    keys : tuple of str
        What it gives.
    within : float
        How far off the result may be, a share of it: common practice, no source.
    sure : float
        How sure the answer would be afterwards, yes or no: share of the draws that agree with it, averaged over the readings that may
        come; 0 until it is computed.
    """

    what: str
    minutes: int
    keys: tuple[str, ...]
    within: float
    sure: float = 0.0


MEASUREMENTS = (
    Measurement(
        "Roll it down from 15 to 5 km/h by the clock, there and back, chain off: vehicle.coast_down",
        20, ("vehicle.rolling_coefficient",), 0.06,
    ),
    Measurement("Roll the driven wheel five turns along a tape measure", 5, ("vehicle.rolling_radius_m",), 0.005),
    Measurement("Weigh what is carried item by item: vehicle.mass", 30, ("vehicle.mass.mass_kg", "pack.block_mass_kg", "motor.mass_kg"), 0.01),
    Measurement("Put the rider on the scales, costume and all", 2, ("rider.mass_kg",), 0.01),
    Measurement(
        "Test the motor on the bench (2_bench_test_motor)", 60,
        ("motor.torque_constant_nm_per_a", "motor.resistance_ohm", "motor.friction_torque_nm", "motor.viscous_nm_per_rad_s"), 0.03,
    ),
    Measurement(
        "Warm the motor up on the bench (2_bench_test_motor)", 90,
        ("motor.winding_heat_j_per_k", "motor.case_heat_j_per_k", "motor.winding_to_case_k_per_w", "motor.case_to_air_k_per_w"), 0.15,
    ),
    Measurement(
        "Empty a block with a lamp, slowly and fast, writing down volts and amps (4_choose_pack)", 600,
        ("pack.block_capacity_ah", "pack.state_of_health", "pack.peukert_exponent", "pack.block_resistance_ohm"), 0.03,
    ),
    Measurement(
        "Hold a clamp meter to the battery lead at full throttle up a slope", 15, ("controller.max_battery_current_a",), 0.03,
    ),
    Measurement("Hold a clamp meter to the charger's lead", 5, ("charger.current_a",), 0.02),
)  # fmt: skip
"""Minutes and accuracy: common practice, no source. A discharge waits for the block, not for the maker."""
LEAST_GAIN = 0.01
"""What makes the answer no surer than this is not worth the minutes."""
_READINGS = ndtri((np.arange(400) + 0.5) / 400.0)
"""Equally likely readings, as standard normal scores."""


def measure_first(drawn: Drawn, widths: Mapping[str, Uncertain]) -> tuple[Measurement, ...]:
    """What would make the answer surer, the most helpful first.

    Parameters
    ----------
    drawn : Drawn
        What the draws make of the build.
    widths : mapping of str to Uncertain
        Of the build.

    Notes
    -----
    The figure behind the wish that the fewest draws hold is regressed linearly on the scores. A measurement takes away the part of its
    variance that the measured values explain; what is left counts as normal.
    """
    chance = float(drawn.all_hold.mean())
    if not 0.0 < chance < 1.0:
        return ()
    _, margin = deciding_figure(drawn)
    slope = drawn.slopes(margin)
    rest = float(np.var(margin - drawn.scores @ slope))
    total = float(slope @ slope) + rest
    now = max(chance, 1.0 - chance)
    found = []
    for each in MEASUREMENTS:
        told = sum(
            slope[drawn.causes.index(key)] ** 2 * share_told(width, each.within)
            for key, width in widths.items()
            if re.sub(r"\[\d+\]", "", key) in each.keys
        )
        sure = sure_after(chance, float(told) / total)
        if sure > now + LEAST_GAIN:
            found.append(replace(each, sure=sure))
    return tuple(sorted(found, key=lambda each: -each.sure))


def deciding_figure(drawn: Drawn) -> tuple[str, FloatArray]:
    """The figure behind the wish that the fewest draws hold: its name, and its values, signed so that more is better."""
    wish = min(drawn.wishes, key=lambda each: drawn.wishes[each].mean())
    name, sign = {
        STARTS: ("pull_to_start", 1.0), SPEED: ("top_speed_at_reserve_kmh", 1.0), WINDING: ("hottest_winding_c", -1.0),
    }.get(wish, ("to_empty_km", 1.0))  # fmt: skip
    return name, sign * drawn.figures[name]


def share_told(width: Uncertain, within: float) -> float:
    """Share of a value's variance that a reading of this accuracy takes away."""
    if width.low <= 0.0:
        return 0.0
    spread = log(width.high / width.low) / (2.0 * END_SCORE)
    error = log(1.0 + within) / END_SCORE
    return spread**2 / (spread**2 + error**2)


def sure_after(chance: float, told: float) -> float:
    """Mean of the larger of p and 1 - p over the readings of something that tells a share of a normal margin's variance.

    Parameters
    ----------
    chance : float
        That the margin is above 0 before.
    told : float
        0 to 1.

    Notes
    -----
    For a chance of one half it is ½ + asin(√told)/π.
    """
    told = min(told, 1.0 - 1e-9)
    p = ndtr((ndtri(chance) + sqrt(told) * _READINGS) / sqrt(1.0 - told))
    return float(np.mean(np.maximum(p, 1.0 - p)))
