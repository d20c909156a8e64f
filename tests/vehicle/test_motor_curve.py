"""Rows of a data sheet that no permanent-magnet motor gives are named, with what is expected."""

from __future__ import annotations

import pytest

from ridesim.vehicle.motor_curve import fit_curve
from ridesim.words import InputProblem

GOOD = [(3000.0, 0.2, 3.0), (2600.0, 1.0, 12.0), (2200.0, 2.0, 22.0)]


@pytest.mark.parametrize(
    ("place", "row", "words"),
    [
        (1, (3000.0, -0.2, 3.0), "speed and torque of 0 or more, current above 0"),
        (2, (2600.0, 10.0, 12.0), "less power at the shaft than volts times amps"),
        (3, (1500.0, 2.0, 11.5), "current rising with torque"),
        (3, (2700.0, 2.0, 26.0), "speed falling as torque rises"),
    ],
)
def test_a_wrong_row_is_named(place, row, words):
    rows = [row if number == place else good for number, good in enumerate(GOOD, start=1)]
    with pytest.raises(InputProblem, match=words) as problem:
        fit_curve(rows, 36.0)
    assert problem.value.place == f"curve[{place}]"


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([(3000.0, 1.0, 12.0), (2600.0, 1.0, 12.0)], "rows from light load to heavy load"),
        ([(2000.0, 0.1, 20.0), (1990.0, 0.2, 20.5), (1980.0, 0.3, 400.0)], "which the fitted motor misses by"),
    ],
)
def test_rows_that_are_no_curve_are_refused(rows, words):
    with pytest.raises(InputProblem, match=words):
        fit_curve(rows, 36.0)
