"""What meters should show: the bands of the figures come from the draws."""

from __future__ import annotations

from dataclasses import replace

import pytest

import ridesim
from ridesim.choose.likely import without_findings
from ridesim.choose.readings import DRAWS, readings


@pytest.mark.all_draws
def test_vehicles_that_fit_the_file_read_within_the_bands():
    """Draws that took no part in the bands: about nine in ten of them read as expected, figure by figure."""
    (each,) = ridesim.compare("heron_36v", "harbour_festival", draws=256).candidates
    between = {reading.what: reading.between for reading in readings(each)}
    others = [
        {r.what: r.value for r in readings(replace(without_findings(ride), steady_speed_kmh=each.steady_speed_kmh))}
        for ride in each.drawn.ridden(256)[DRAWS:]
    ]
    for what, (low, high) in between.items():
        share = sum(low <= other[what] <= high for other in others) / len(others)
        assert 0.85 <= share <= 1.0, what


def test_without_draws_a_reading_has_its_usual_width():
    (each,) = ridesim.compare("heron_36v", "harbour_festival", draws=0).candidates
    assert all(
        reading.drawn is None and reading.between[0] < reading.value < reading.between[1] for reading in readings(each)
    )
