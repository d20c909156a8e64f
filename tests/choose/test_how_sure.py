"""How sure an answer is: draws, bands, what the distance hangs on, what to measure first."""

from __future__ import annotations

from math import asin, pi, sqrt

import numpy as np
import pytest

import ridesim
from ridesim.choose.how_sure import Drawn
from ridesim.choose.measure import measure_first, share_told, sure_after
from ridesim.forms import value_at_score
from ridesim.words import Uncertain

FIGURES = ("end_state_of_charge", "distance_km", "hottest_winding_c", "top_speed_kmh", "steady_range_km")


@pytest.fixture(scope="module")
def heron():
    return ridesim.load_build("heron_36v")


@pytest.fixture(scope="module")
def comparison(heron):
    return ridesim.compare([heron, "puppet_cart"], "harbour_festival", draws=64)


@pytest.mark.parametrize(
    "width", [Uncertain(0.018, 0.0144, 0.0225), Uncertain(0.0, -1.5, 2.0), Uncertain(0.9, 0.8, 0.95)]
)
def test_a_drawn_value_has_the_widths_percentiles(width):
    """Scores of a standard normal table: 5 % below -1.6449, half below 0, 95 % below 1.6449 (handbook table)."""
    found = value_at_score(width, np.array([-1.6449, 0.0, 1.6449]))
    assert found == pytest.approx([width.low, width.value, width.high], rel=1e-4)


@pytest.mark.parametrize("told", [0.0, 0.1, 0.5, 0.9, 0.999])
def test_a_margin_of_even_chance_has_a_closed_form(told):
    """A normal margin with mean 0, a share of whose variance is measured: the orthant probability of two normals, ½ + asin(√s)/π."""
    assert sure_after(0.5, told) == pytest.approx(0.5 + asin(sqrt(told)) / pi, abs=2e-3)


def test_a_reading_tells_more_the_better_it_is():
    width = Uncertain(1.0, 0.8, 1.25)
    assert share_told(width, 1e-9) == pytest.approx(1.0)
    assert share_told(width, 0.25) == pytest.approx(0.5)
    assert share_told(width, 0.03) > share_told(width, 0.1)


def made(z, margin):
    """Draws of one candidate whose distance to empty is given."""
    figures = {"to_empty_km": margin}
    return Drawn(
        figures, {"finishes": margin > 0.0}, z, ("motor.resistance_ohm", "vehicle.rolling_coefficient", "rider.mass_kg")
    )


def test_what_decides_is_found_and_measured_first():
    """A margin made of two causes in km, one four times as heavy; the third does nothing."""
    z = np.random.default_rng(3).standard_normal((2048, 3))
    drawn = made(z, 0.2 + z @ np.array([0.5, 2.0, 0.0]))
    km = drawn.hangs_on
    assert list(km) == ["vehicle.rolling_coefficient", "motor.resistance_ohm", "rider.mass_kg"]
    assert list(km.values()) == pytest.approx([1.6449 * 2.0, 1.6449 * 0.5, 0.0], abs=0.01)
    widths = dict.fromkeys(drawn.causes, Uncertain(1.0, 0.6, 1.6))
    first = measure_first(drawn, widths)[0]
    assert first.keys == ("vehicle.rolling_coefficient",)
    assert 0.8 < first.sure < 1.0
    exact = dict.fromkeys(("motor.resistance_ohm",), Uncertain(1.0, 0.6, 1.6))
    assert not [each for each in measure_first(drawn, exact) if "vehicle.rolling_coefficient" in each.keys]


def test_nothing_to_measure_where_all_draws_agree():
    z = np.random.default_rng(3).standard_normal((64, 3))
    assert measure_first(made(z, 10.0 + z[:, 0]), {}) == ()


def test_bands_hold_the_likely_value_and_have_a_width(comparison):
    bands = comparison.bands.set_index(["candidate", "figure"])
    for name in comparison.table.index:
        for figure in FIGURES:
            low, likely, high = bands.loc[(name, figure)]
            assert low <= likely <= high
            assert low < high
        assert bands.loc[(name, "top_speed_kmh"), "likely"] == comparison.table.loc[name, "top_speed_kmh"]


def test_a_band_does_not_depend_on_its_company(heron, comparison):
    alone = ridesim.compare(heron, "harbour_festival", draws=64)
    assert alone.verdicts[0] == comparison.verdicts[0]


def test_what_is_exact_moves_nothing(heron):
    day = ridesim.exact(ridesim.load_day("harbour_festival"))
    comparison = ridesim.compare(ridesim.exact(heron), day, draws=32)
    (verdict,) = comparison.verdicts
    assert verdict.spare_km.low == pytest.approx(verdict.spare_km.high, abs=1e-9)
    assert len(comparison.hangs_on) == 0
    assert verdict.measure_first == ()


def test_causes_move_the_distance_as_far_as_a_ride_says(heron):
    """One cause at the ends of its width, ridden by itself, against what the draws' regression says of it."""
    day = ridesim.load_day("harbour_festival")
    easy = heron.changed({"pack.block_capacity_ah": 40.0}, name="much to spare")
    found = ridesim.compare(easy, day, draws=512)
    key = "vehicle.rolling_coefficient"
    width = easy.widths[key]
    ends = [easy.changed({key: value}) for value in (width.low, width.high)]
    most, least = (ride.outcome.spare_to_empty_km for ride in ridesim.simulate_many(ends, day))
    said = found.hangs_on.set_index("cause").loc[key, "km"]
    assert said == pytest.approx((most - least) / 2.0, rel=0.15)


def test_two_alike_are_drawn_alike(heron):
    """The same tyres, rider and air: a twin with a little more in its pack goes further in every draw."""
    twin = heron.changed({"pack.state_of_health": {"exact": 1.0}}, name="twin")
    other = heron.changed({"pack.state_of_health": {"exact": 1.05}}, name="other")
    assert ridesim.compare([twin, other], "harbour_festival", draws=32).goes_further(1, 0) == 1.0


@pytest.mark.thorough
def test_measured_motor_numbers_are_drawn_together(heron):
    """Correlations that the bench wrote come back from the draws."""
    keys = ("resistance_ohm", "brush_drop_v")
    motor = heron.changed({"motor.correlations": [[*keys, -0.9]]})
    drawn = ridesim.compare(motor, "harbour_festival", draws=512).candidates[0].drawn
    free = ridesim.compare(heron, "harbour_festival", draws=512).candidates[0].drawn
    spread = [np.ptp(np.quantile(each.figures["top_speed_kmh"], [0.05, 0.95])) for each in (drawn, free)]
    assert spread[0] < spread[1]


@pytest.mark.parametrize("draws", [1, 31, 5000, -4, 64.5, "many"])
def test_a_number_of_draws_that_is_none(heron, draws):
    with pytest.raises(ridesim.InputProblem, match="draws"):
        ridesim.compare(heron, "harbour_festival", draws=draws)


@pytest.mark.parametrize(
    ("values", "level", "words"),
    [
        ({"pack.block_capacity_ah": 60.0}, "yes", "to spare above the reserve"),
        ({"pack.block_capacity_ah": 12.0}, "no", "the pack stops it at 1"),
        ({"pack.reserve": 0.6}, "no", "below the 60 % that is to be kept"),
        ({"controller.max_motor_current_a": 30.0}, "no", "will not start on the 8.3 %"),
        ({"motor.torque_constant_nm_per_a": 0.2}, "no", "km/h at the reserve"),
        ({"motor.case_to_air_k_per_w": 7.0}, "no", "the winding reaches"),
        (
            {"motor.case_to_air_k_per_w": 9.0},
            "no",
            "the motor burns: its winding passes the 145 °C of its class at",
        ),
        ({"pack.block_capacity_ah": 12.0, "motor.winding_to_case_k_per_w": 12.0}, "no", "the motor burns"),
    ],
)
@pytest.mark.thorough
def test_verdicts_say_what_decides(heron, values, level, words):
    (verdict,) = ridesim.compare(heron.changed(values), "harbour_festival", draws=64).verdicts
    assert verdict.level == level
    assert words in verdict.sentence


def test_a_width_that_leaves_no_answer_is_named(heron):
    wild = heron.changed({
        "pack.block_capacity_ah": 60.0,
        "vehicle.rolling_coefficient": {"low": 0.0005, "likely": 0.018, "high": 0.03},
    })  # fmt: skip
    (candidate,) = ridesim.compare(wild, "harbour_festival", draws=64).candidates
    (found,) = [each for each in candidate.findings if each.code == "width-too-wide"]
    assert found.text.startswith("Rolling resistance may be anything from 0.0005 to 0.03 (vehicle.rolling")
    sane = ridesim.compare(heron, "harbour_festival", draws=64).candidates[0]
    assert "width-too-wide" not in [each.code for each in sane.findings]


@pytest.mark.all_draws
def test_draws_that_exclude_each_other_are_counted_and_told(heron):
    close = heron.changed({
        "controller.cutoff_action": "cut-out",
        "controller.cutoff_voltage_v": {"low": 31.0, "likely": 31.5, "high": 32.6},
        "controller.restart_voltage_v": {"low": 32.0, "likely": 33.0, "high": 34.0},
    })  # fmt: skip
    (candidate,) = ridesim.compare(close, "harbour_festival", draws=256).candidates
    (found,) = [each for each in candidate.findings if each.code == "draws-left-out"]
    assert found.text.startswith(f"{candidate.drawn.left_out} of 256 draws")
    assert len(candidate.drawn.scores) == 256 - candidate.drawn.left_out < 256


@pytest.mark.parametrize(
    ("brakes", "level", "open_"),
    [([], "yes", True), ([{"name": "band", "holds_percent": 2.0, "deceleration_mps2": 0.2}], "no", False)],
)
def test_a_brake_that_nobody_described_is_a_line_below(heron, brakes, level, open_):
    build = heron.changed({"vehicle.brakes": brakes, "pack.block_capacity_ah": 60.0})
    (verdict,) = ridesim.compare(build, "harbour_festival", draws=64).verdicts
    assert verdict.level == level
    assert bool(verdict.unstated) is open_
    assert ("brakes hold and stop it" in verdict.wishes) is not open_
