"""Rolling coefficient and drag area from timed runs: ``vehicle.coast_down``."""

from __future__ import annotations

import re

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.stats import norm

import ridesim
from ridesim.physics.road import GRAVITY, air_density, coast_time
from ridesim.words import InputProblem
from tests.published.shared import rows_of

ROWS = [[float(cell) for cell in list(row.values())[1:6]] for row in rows_of("epa_86_529_98_motorcycle_roadload.csv")]
MISPRINT_KG = 160.0
"""Its own A and C give another time than the one printed: see tests/published/test_coast_down.py."""
AIR = air_density(0.0, 15.0)


@pytest.fixture(scope="module")
def heron():
    return ridesim.load_build("heron_36v")


@pytest.mark.parametrize("row", [row for row in ROWS if row[0] != MISPRINT_KG], ids=lambda row: f"{row[0]:.0f} kg")
def test_40_cfr_86_529_98_time_from_70_to_60(row):
    """US 40 CFR 86.529-98, figure F98-9: printed to 0.01 s, C to four decimals; see tests/published/test_coast_down.py."""
    mass, a, c, _, seconds = row
    area = c * 3.6**2 * 2.0 / AIR
    found = coast_time(70.0 / 3.6, 60.0 / 3.6, mass, 0.0, a / (mass * GRAVITY), area, AIR, 0.0, 0.0)
    assert found == pytest.approx(seconds, abs=0.012)


@pytest.mark.parametrize("mass_kg", [170.0, 250.0, 340.0])
def test_40_cfr_86_529_98_rolling_from_the_printed_time(mass_kg, ideal_build):
    """The same table turned round: from the printed time and the printed C to the printed A, within what forty stopwatches tell."""
    mass, a, c, _, seconds = next(row for row in ROWS if row[0] == mass_kg)
    printed = a / (mass * GRAVITY)
    vehicle = {
        "rolling_coefficient": {"low": 0.5 * printed, "likely": 1.2 * printed, "high": 2.0 * printed},
        "drag_area_m2": {"exact": c * 3.6**2 * 2.0 / AIR}, "coast_down": [[70.0, 60.0, seconds]] * 40,
    }  # fmt: skip
    width = ideal_build(mass, vehicle=vehicle).widths["vehicle.rolling_coefficient"]
    assert width.low < printed < width.high
    assert width.high - width.low < 0.5 * 1.5 * printed


def seconds_of(fast, slow, mass, rotating, rolling, area, slope=0.0, wind=0.0):
    """Time of a run by a general-purpose solver, written anew."""

    def slowing(_, v):
        air = 0.5 * AIR * area * (v[0] + wind) * abs(v[0] + wind)
        return [-(mass * GRAVITY * (rolling + slope) + air) / (mass + rotating)]

    def reached(_, v):
        return v[0] - slow / 3.6

    reached.terminal = True
    return float(solve_ivp(slowing, (0.0, 1e4), [fast / 3.6], events=reached, rtol=1e-8).t[-1])


def runs_of(build, rolling, area, spans, slope=0.0, wind=0.0):
    """Runs there and back with a build that has such resistances."""
    vehicle = build.vehicle
    turning = vehicle.wheels_inertia_kgm2 / vehicle.rolling_radius_m**2
    return [
        [fast, slow, seconds_of(fast, slow, build.total_mass_kg(), turning, rolling, area, way * slope, way * wind)]
        for fast, slow in spans
        for way in (1.0, -1.0)
    ]


def test_a_run_tells_the_rolling_coefficient(heron):
    rows = runs_of(heron, 0.022, 0.70, [(15.0, 5.0)], slope=0.002, wind=0.4)
    fitted = heron.changed({"vehicle.coast_down": rows})
    before, after = (build.widths["vehicle.rolling_coefficient"] for build in (heron, fitted))
    assert after.low < 0.022 < after.high
    assert after.high - after.low < 0.4 * (before.high - before.low)
    assert fitted.vehicle.rolling_coefficient == after.value


def test_slow_and_fast_runs_tell_both(heron):
    rows = runs_of(heron, 0.015, 1.00, [(15.0, 5.0), (45.0, 35.0)] * 4)
    fitted = heron.changed({"vehicle.coast_down": rows})
    assert fitted.vehicle.rolling_coefficient == pytest.approx(0.015, rel=0.05)
    assert fitted.vehicle.drag_area_m2 == pytest.approx(1.00, rel=0.10)


def test_one_row_is_the_mean_of_both_ways(heron):
    (there, back) = runs_of(heron, 0.022, 0.70, [(15.0, 5.0)])
    both, mean = (heron.changed({"vehicle.coast_down": rows}) for rows in ([there, back], [there]))
    assert mean.vehicle.rolling_coefficient == pytest.approx(both.vehicle.rolling_coefficient, rel=0.02)


def test_the_band_holds_the_truth_as_often_as_it_says(heron):
    """200 vehicles, yards and stopwatches drawn apart from what is fitted: the 90 % bands hold 85 to 95 % of them."""
    random = np.random.default_rng(20)
    held = {"rolling_coefficient": 0, "drag_area_m2": 0}
    for _ in range(200):
        rolling, area = np.array([0.018, 0.70]) * 1.25 ** (random.standard_normal(2) / norm.ppf(0.95))
        rows = runs_of(heron, rolling, area, [(15.0, 5.0), (25.0, 15.0)], *random.normal(0.0, [0.003, 0.7]))
        read = [[fast, slow, s + random.normal(0.0, np.hypot(0.3, 0.42 * s / 10.0))] for fast, slow, s in rows]
        fitted = heron.changed({"vehicle.coast_down": read})
        for key, truth in (("rolling_coefficient", rolling), ("drag_area_m2", area)):
            width = fitted.widths[f"vehicle.{key}"]
            held[key] += width.low <= truth <= width.high
    assert all(170 <= each <= 190 for each in held.values()), held


def test_both_are_drawn_together(heron):
    rows = runs_of(heron, 0.022, 0.70, [(25.0, 15.0)] * 3)
    fitted = heron.changed({"vehicle.coast_down": rows})
    ((one, other, tied),) = fitted.correlations
    assert (one, other) == ("vehicle.rolling_coefficient", "vehicle.drag_area_m2")
    assert -1.0 < tied < -0.3


def test_what_the_file_says_is_kept_and_counted_once(heron, tmp_path):
    fitted = heron.changed({"vehicle.coast_down": [[15, 5, 12.4], [15, 5, 12.6]]})
    path = ridesim.save_build(fitted, tmp_path / "rolled.toml")
    assert re.search(r"rolling_coefficient = 0.018\b", path.read_text())
    again = ridesim.load_build(path)
    assert again == fitted
    assert fitted.changed({"drive.motor_teeth": 12}).vehicle.rolling_coefficient == fitted.vehicle.rolling_coefficient
    heavier = fitted.changed({"pack.block_capacity_ah": 44.0})
    assert heavier.vehicle.drag_area_m2 == fitted.vehicle.drag_area_m2
    assert heavier.vehicle.coast_down_mass_kg == pytest.approx(heron.total_mass_kg())


def test_a_value_set_by_hand_takes_the_place_of_the_runs(heron):
    fitted = heron.changed({"vehicle.coast_down": [[15, 5, 12.4]]})
    by_hand = fitted.changed({"vehicle.rolling_coefficient": 0.03})
    assert by_hand.vehicle.coast_down is None
    assert by_hand.vehicle.rolling_coefficient == 0.03
    assert by_hand.vehicle.drag_area_m2 == fitted.vehicle.drag_area_m2
    assert "no longer count" in by_hand.notes[0].text


@pytest.mark.parametrize(
    ("rows", "place", "words"),
    [
        ([[15, 5, 3]], "coast_down[1]", "found 3 s from 15 to 5 km/h; expected about 15 s"),
        ([[15, 5, 12], [15, 5, 11], [15, 5, 30]], "coast_down[3]", "expected about 12 s, as the other runs"),
        ([[5, 15, 3]], "coast_down[1]", "to a lower km/h"),
        ([[15, 5, 0]], "coast_down[1]", "seconds above 0"),
        ([[15, 5]], "coast_down[1]", "a list of numbers"),
    ],
)
def test_runs_that_cannot_be(heron, rows, place, words):
    with pytest.raises(InputProblem, match=re.escape(place)) as found:
        heron.changed({"vehicle.coast_down": rows})
    assert words in str(found.value)
