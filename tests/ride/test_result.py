"""What a ride gives back: its table, a moment of it, and how it presents itself."""

from __future__ import annotations

from datetime import time

import numpy as np
import pytest

from ridesim.day import Activity
from ridesim.ride.result import BETWEEN, COLUMNS
from ridesim.ride.simulate import simulate, simulate_many
from ridesim.words import InputProblem
from tests.ride.machines import day_of, make_build, trace_of

LAUNCH = trace_of((0.0, 0.0), (1.0, 40.0), (30.0, 40.0), (40.0, 0.0), (50.0, 0.0))


@pytest.fixture(scope="module")
def ride():
    """A launch faster than it can, a wait, a charge over midnight."""
    return simulate(
        make_build(),
        day_of(
            Activity(name="launch", trace=LAUNCH),
            Activity(name="charge", start=time(23, 0), duration_min=120.0, charge_current_a=4.0),
            start_state_of_charge=0.8,
        ),
    )


def test_the_table_has_one_row_an_instant_and_the_later_state_of_two(ride):
    frame, rows = ride.frame, ride.rows
    assert list(frame.columns) == [*COLUMNS, "activity", "clock_s", "event"]
    assert (np.diff(frame["clock_s"]) > 0.0).all()
    assert set(np.round(rows["time_s"], 6)) == set(np.round(frame["clock_s"], 6))
    charger_on = 23 * 3600.0
    two = rows[np.isclose(rows["time_s"], charger_on)]
    assert two["pack_current_a"][0] == 0.0
    assert two["pack_current_a"][-1] < -1.0
    assert frame.loc[np.isclose(frame["clock_s"], charger_on), "pack_current_a"].item() == two["pack_current_a"][-1]


def test_events_are_told_in_the_table(ride):
    told = " / ".join(event for event in ride.frame["event"] if event)
    for word in ("at the commanded speed", "battery current", "full duty"):
        assert word in told
    stalls = simulate(make_build(pack__block_capacity_ah=1.0), day_of(Activity(name="go", trace=LAUNCH, repeats=30)))
    assert "pack empty" in " / ".join(stalls.frame["event"])


def test_a_moment_of_the_ride(ride):
    frame = ride.frame
    row = ride.at("23:30")
    assert row["activity"] == "charge"
    assert row["clock_s"] == 23.5 * 3600.0
    assert row["state_of_charge"] == pytest.approx(np.interp(23.5 * 3600.0, frame["clock_s"], frame["state_of_charge"]))
    assert ride.at("day 2, 00:30").equals(ride.at(24.5 * 3600.0))
    assert ride.at("18:00:30")["activity"] == BETWEEN
    assert ride.at("23:00")["pack_current_a"] < -1.0  # after the jump
    assert ride.at(ride.clock_s[-1])["distance_m"] == frame["distance_m"].iloc[-1]


@pytest.mark.parametrize(
    "moment", ["12:59", "day 2, 01:01", "day 3, 09:30", "25:00", "noon", "day 0, 13:00", None, float("nan")]
)
def test_a_moment_outside_the_day_is_refused(ride, moment):
    with pytest.raises(InputProblem, match="at"):
        ride.at(moment)


def test_a_ride_without_rows_says_so():
    day = day_of(Activity(name="launch", trace=LAUNCH))
    (bare,) = simulate_many([make_build()], day)
    for ask in (lambda: bare.frame, lambda: bare.at("13:00")):
        with pytest.raises(InputProblem, match="keep_rows=True"):
            ask()
    assert "keep_rows=True" in repr(bare)
    assert len(simulate_many([make_build()], day, keep_rows=True)[0].frame) > 5


def test_a_ride_presents_itself_in_a_few_lines(ride):
    assert len(repr(ride).splitlines()) <= 20
    assert "test: unnamed day" in repr(ride)
    assert ride._repr_html_().startswith("<table>")
