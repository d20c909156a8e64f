"""A tyre's size gives the rolling radius until it is measured; half a place is refused."""

from __future__ import annotations

import pytest

from ridesim.vehicle.tyre import diameter_mm
from ridesim.words import InputProblem
from tests.ride.machines import make_build


def test_a_tyre_gives_the_rolling_radius_with_its_band_and_a_measured_one_wins():
    """0.97 of the free radius, 0.95 to 0.99 (common practice, from memory)."""
    build = make_build(vehicle__tyre="120/80-16", vehicle__rolling_radius_m=None)
    free = diameter_mm("120/80-16") / 2000.0
    assert build.vehicle.rolling_radius_m == pytest.approx(0.97 * free)
    width = build.widths["vehicle.rolling_radius_m"]
    assert (width.low, width.high) == (pytest.approx(0.95 * free), pytest.approx(0.99 * free))
    line = next(each for each in build.in_play() if each.place == "vehicle.rolling_radius_m")
    assert not line.given
    assert line.source.startswith("by the tyre's size")
    measured = build.changed({"vehicle.rolling_radius_m": 0.29})
    assert measured.vehicle.rolling_radius_m == 0.29
    assert measured.widths["vehicle.rolling_radius_m"].high < 0.30
    assert measured.changed({"vehicle.rolling_radius_m": None}) == build


def test_a_bicycle_s_two_sizes_agree():
    """The same tyre by rim and width in mm, and by whole diameter in inches: within the 2 % of inch sizes."""
    assert diameter_mm("50-406") == 506.0
    for by_rim, by_inch in (("54-406", "20x2.125"), ("57-507", '24 x 2.125"'), ("54-559", "26×2.10")):
        assert diameter_mm(by_inch) == pytest.approx(diameter_mm(by_rim), rel=0.02)


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"vehicle.tyre": "16 inch"}, r"vehicle\.tyre: found “16 inch”; expected a size such as"),
        ({"vehicle.donor_tyre": "fat"}, r"vehicle\.donor_tyre"),
        ({"vehicle.pivot_x_m": 0.5}, r"vehicle\.pivot_z_m: found nothing; expected it beside pivot_x_m"),
        ({"drive.shaft_z_m": 0.4}, r"drive\.shaft_x_m: found nothing"),
    ],
)
def test_half_a_place_and_no_tyre_are_named(keys, words):
    with pytest.raises(InputProblem, match=words):
        make_build().changed(keys)
