"""The real test of the bands: pretended vehicles whose day is ridden by the independent reference must lie in them as often as stated.

Truths are drawn here, by another generator and formula than the draws behind the bands; the long form (RIDESIM_LONG=1) takes 200 vehicles.
"""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
from scipy.stats import binom, norm

import ridesim
from ridesim.bench.motor.identify import identify_motor
from ridesim.bench.motor.log import Meter
from ridesim.words import InputProblem
from tests.bench.benches import Plan, motor_of, simulate_bench
from tests.long import LONG
from tests.reference.plain_solution import reference_ride
from tests.ride.test_against_reference import Resolved

TRUTHS = 200 if LONG else 10
LEVEL = 0.90
FIGURES = ("end_state_of_charge", "energy_wh", "highest_pack_current_a", "hottest_winding_c", "lowest_pack_voltage_v")
RTOL = 1e-6 if LONG else 1e-5
DRAWS = 2048 if LONG else 256
"""Many where there are many vehicles: with a user's 256 an end of a band lies a hundredth of the draws too far in or out."""
pytestmark = pytest.mark.all_draws


def truth_between(width, random):
    """A value whose 5th, 50th and 95th percentile are a width's: straight between, on a logarithmic scale where all are positive."""
    share = random.standard_normal() / norm.ppf(0.95)
    end = width.high if share > 0.0 else width.low
    if width.low > 0.0:
        return math.exp(math.log(width.value) + abs(share) * math.log(end / width.value))
    return width.value + abs(share) * (end - width.value)


def drawn_apart(part, random, but=()):
    """A vehicle, or a day, whose every unsure number is another one, and nothing is unsure any more."""
    while True:
        values = {key: truth_between(width, random) for key, width in part.widths.items() if not key.startswith(but)}
        try:
            return part.changed({**values, "exact": True})
        except InputProblem:  # values that a file could not have either
            continue


def judge(held):
    """As many within the bands as all but one in 5000 such studies would find."""
    fewest, most = binom.ppf([1e-4, 1.0 - 1e-4], TRUTHS, LEVEL)
    assert all(fewest <= count <= most for count in held.values()), {name: n / TRUTHS for name, n in held.items()}


@pytest.fixture(scope="module")
def day():
    """The festival; in the short form its first three activities."""
    festival = ridesim.load_day("harbour_festival")
    return (
        festival if LONG else festival.changed({f"activity[{n}]": None for n in range(len(festival.activity), 3, -1)})
    )


@pytest.mark.thorough
def test_vehicles_that_fit_a_file_lie_in_its_bands(day):
    """Everything unsure about build and day, recovery too."""
    build = ridesim.load_build("heron_48v")
    bands = ridesim.compare(build, day, draws=DRAWS).bands.set_index("figure")
    random, held = np.random.default_rng(2026), Counter()
    for _ in range(TRUTHS):
        truth = reference_ride(
            Resolved(drawn_apart(build, random)), drawn_apart(day, random), rtol=RTOL, compiled_rhs=True
        )
        for figure in FIGURES:
            held[figure] += bands.loc[figure, "low"] <= getattr(truth, figure) <= bands.loc[figure, "high"]
    judge(held)


@pytest.mark.thorough
def test_a_motor_from_its_bench_log_rides_within_the_bands(day):
    """A motor, its pretended bench log, what the bench makes of it, the build with that: against a ride of the true motor."""
    heron = ridesim.exact(ridesim.load_build("heron_48v"))
    sure = ridesim.exact(day)
    random, held = np.random.default_rng(7), Counter()
    for _ in range(TRUTHS):
        motor = motor_of(
            *(usual * math.exp(0.1 * random.standard_normal()) for usual in (0.105, 0.085, 1.0, 0.10, 0.0002)),
            rotor_inertia_kgm2=heron.motor.rotor_inertia_kgm2,
        )
        found = identify_motor(simulate_bench(motor, Plan(), Meter(), random)).motor(heron.motor)
        with_truth = heron.changed({"motor": motor})
        bands = ridesim.compare(with_measured_motor(heron, found), sure, draws=64).bands.set_index("figure")
        truth = reference_ride(Resolved(with_truth), sure, rtol=RTOL, compiled_rhs=True)
        for figure in ("end_state_of_charge", "energy_wh"):
            held[figure] += bands.loc[figure, "low"] <= getattr(truth, figure) <= bands.loc[figure, "high"]
    judge(held)


def with_measured_motor(build, motor):
    """A build with a motor from the bench, of which nothing but what the bench measured is unsure."""
    unsure = build.changed({"motor": motor, "exact": None})
    measured = {f"motor.{key}" for key in motor.stated_widths}
    return unsure.changed({
        key: {"exact": width.value} for key, width in unsure.widths.items() if key not in measured
    })  # fmt: skip
