"""What the main panel says without a panel: verdict lines, where sliders fail, what moved."""

from __future__ import annotations

import pytest

import ridesim
from ridesim.choose.gearing import OVER, over_rating
from ridesim.show.choose_drive.fails import failing_stops
from ridesim.show.choose_drive.inputs import FIRST, Reckoner, Slot, Wish
from ridesim.show.choose_drive.lines import unjudged, verdict_lines
from ridesim.show.choose_drive.moved import what_moved
from ridesim.show.units import METRIC

HERON, DAY = ridesim.load_build("heron_36v"), ridesim.load_day("harbour_festival")


def answer(*builds, former=None):
    slots = tuple(Slot.of(key, build, build.name) for key, build in enumerate(builds))
    return Reckoner().answer(Wish(slots, DAY, 0, former))


def test_voltages_beyond_the_controller_s_are_hatched():
    stops = FIRST["pack.blocks_in_series"].stops
    over = [n for n, blocks in enumerate(stops) if over_rating(HERON.changed({"pack.blocks_in_series": blocks}), DAY)]
    assert stops[over[0]] == 4
    key, spans = next(failing_stops(HERON, DAY))
    assert key == "blocks"
    assert spans[-1] == (over[0], over[-1], OVER)


@pytest.mark.parametrize(
    ("values", "decides"),
    [
        ({"pack.blocks_in_series": 4}, OVER),
        ({"drive.wheel_teeth": 11}, "no start"),
        ({"drive.motor_teeth": 13}, "below reserve"),
    ],
)
def test_what_decides_is_said_where_it_does_not_do_its_day(values, decides):
    said = what_moved(answer(HERON.changed(values), former=answer(HERON).one), METRIC)
    assert said.endswith(f". Does not do it: {decides}.")
    assert "to spare" not in said
    assert said.count("instead of") == 3, "the change, and two figures"


def test_a_change_that_does_its_day_tells_what_it_leaves():
    said = what_moved(answer(HERON.changed({"pack.block_capacity_ah": 33.0}), former=answer(HERON).one), METRIC)
    assert "to spare" in said
    assert "Does not" not in said


def test_brakes_that_no_file_states_are_told_once_and_not_in_a_line():
    bare = [HERON.changed({"vehicle.brakes": []}, name=name) for name in ("Bare", "Bare too")]
    found = answer(HERON, *bare).comparison
    assert found.verdicts[1].unstated
    assert unjudged(found) == "Brakes not judged, for not all are stated: Bare; Bare too. Try them, and write them in."
    lines, _ = verdict_lines(found, METRIC)
    assert len({line["why"] for line in lines}) == 1
    assert unjudged(answer(HERON).comparison) == ""
