"""Remedies: each that is told does the day when it is made, and none is told where none would do."""

from __future__ import annotations

import pytest

import ridesim
from tests.long import LONG

MORE = {"pack.block_capacity_ah": 33.0}
"""Enough for the day, so that something else decides."""


@pytest.fixture(scope="module")
def heron():
    return ridesim.load_build("heron_36v")


@pytest.mark.parametrize(
    "values",
    [
        {},
        {**MORE, "drive.motor_teeth": 19},
        *([{"pack.block_capacity_ah": 15.0}, {**MORE, "controller.max_motor_current_a": 45.0}] if LONG else []),
    ],
)
@pytest.mark.thorough
def test_each_does_the_day_once_it_is_made(heron, values):
    build, day = heron.changed(values, name="to mend"), ridesim.load_day("harbour_festival")
    (verdict,) = ridesim.compare(build, day, draws=128).verdicts
    assert verdict.level != "yes"
    told = [remedy for remedy in verdict.remedies if remedy.values]
    assert told
    for remedy in told:
        mended = (build, day.changed(remedy.values)) if remedy.of_day else (build.changed(remedy.values), day)
        (after,) = ridesim.compare(*mended, draws=128).verdicts
        assert after.chance == pytest.approx(remedy.chance, abs=0.12), remedy.what
        assert after.chance > verdict.chance
        (likely,) = ridesim.compare(*mended, draws=0).verdicts
        assert likely.level == "yes", remedy.what


def test_fewer_teeth_are_told_to_who_cannot_start(heron):
    (verdict,) = ridesim.compare(heron.changed({**MORE, "drive.motor_teeth": 19}), "harbour_festival").verdicts
    assert any("drive.motor_teeth" in each.values or "drive.wheel_teeth" in each.values for each in verdict.remedies)


def test_where_nothing_would_do_it_says_so(heron):
    hopeless = heron.changed({"vehicle.mass[1].mass_kg": 900.0})
    (verdict,) = ridesim.compare(hopeless, "harbour_festival").verdicts
    assert [each.values for each in verdict.remedies] == [{}]
    assert "no single change" in verdict.remedies[0].what


def test_what_does_its_day_needs_none(heron):
    (verdict,) = ridesim.compare(heron.changed({"pack.block_capacity_ah": 50.0}), "harbour_festival").verdicts
    assert verdict.level == "yes"
    assert verdict.remedies == ()
