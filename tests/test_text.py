"""Plain-text tables for the terminal."""

from __future__ import annotations

import pytest

from ridesim import compare, load_build, simulate
from ridesim.day import Leg, Route
from ridesim.show.tables.outcome import lines_for
from ridesim.show.tables.text import WIDEST, comparison_parts, findings_text, ride_text, table
from ridesim.words import Finding


def test_table_aligns_first_left_others_right():
    text = table(["", "a", "longer"], [["first", "1", "2"], ["x", "1000", "30"]])
    assert text.splitlines() == [
        "          a  longer",
        "-------------------",
        "first     1       2",
        "x      1000      30",
    ]


def test_findings_wrap_under_their_mark():
    assert findings_text([]) == "  nothing to watch"
    text = findings_text([Finding("a", "stop", "word " * 60), Finding("b", "advice", "short")])
    lines = text.splitlines()
    assert lines[0].startswith("  STOP  word")
    assert all(line.startswith("        word") for line in lines[1:-1])
    assert lines[-1] == "  note  short"
    assert max(len(line) for line in lines) <= WIDEST
    assert text.split().count("word") == 60


@pytest.fixture(scope="module")
def comparison(festival):
    return compare([load_build("heron_36v"), load_build("heron_48v")], festival)


def test_outcome_rows_are_the_candidates_own_figures(comparison):
    rows = {line.label: list(line.cells) for line in lines_for(comparison)}
    first, second = comparison.candidates
    assert rows["mass, rider aboard"] == [f"{each.ride.build.total_mass_kg():.1f}" for each in (first, second)]
    assert rows["top speed, pack full"] == [f"{first.top_speed_kmh:.1f}", f"{second.top_speed_kmh:.1f}"]
    assert rows["top speed 8.3 % up"] == [
        f"{first.top_speed_on_grade_kmh:.1f}",
        f"{second.top_speed_on_grade_kmh:.1f}",
    ]
    assert rows["left at this load"][0] == f"{100.0 * first.left.value:.0f}"
    assert rows["still to ride, reserve kept"] == [f"{each.spare_km.value:.1f}" for each in (first, second)]
    assert rows["pack"] == ["36 V 22 Ah", "48 V 22 Ah"]
    assert rows["pack mass"] == ["19.8", "26.4"]
    assert all(len(cells) == 2 for cells in rows.values())


def test_comparison_text_shows_every_finding_and_fits_the_width(comparison):
    text = "\n".join(comparison_parts(comparison, everything=True))
    flat = " ".join(text.split())
    for each in comparison.candidates:
        for finding in each.findings:
            assert " ".join(finding.text.split()) in flat
    for verdict in comparison.verdicts:
        assert f"{verdict.name}. {verdict.sentence}" in flat
    assert max(len(line) for line in text.splitlines()) <= WIDEST


def test_no_row_for_a_climb_that_the_day_does_not_have(make_day):
    level = make_day({"duration_min": 5.0}, name="level")
    labels = [line.label for line in lines_for(compare([load_build("heron_36v")], level))]
    assert not any(" % up" in label for label in labels)


def test_a_figure_that_there_is_not_is_a_dash(make_day):
    """A wall of a hill ends the day, which says nothing of what the pack has to spare, nor how sure that is."""
    wall = Route("wall", (Leg(length_m=50.0, speed_kmh=6.0, grade_percent=60.0),))
    text = "\n".join(comparison_parts(compare([load_build("heron_36v")], make_day({"route": wall})), everything=True))
    assert "nan" not in text.split()
    assert "still to ride, reserve kept [km] -" in " ".join(text.split())


def test_ride_text_accounts_for_the_ride(festival):
    ride = simulate(load_build("heron_36v"), festival)
    text = ride_text(ride, [])
    for stage in ride.stages:
        assert stage.name in text
    for name, wh in ride.ledger_wh.items():
        assert any(line.split() == [*name.split(), f"{wh:.1f}"] for line in text.splitlines()), name
    assert "left early" not in text
    assert text.endswith("nothing to watch")


def test_ride_text_marks_an_activity_that_was_left(make_day, ideal_build):
    """Too weak for the trace's slope: it leaves the activity, and the table says so."""
    from ridesim.day import Leg, Route

    weak = ideal_build(230.0, controller={"max_motor_current_a": 1.0})
    ride = simulate(weak, make_day({"name": "up the wall", "route": Route("wall", (Leg(100.0, 10.0, 30.0),))}))
    (line,) = [line for line in ride_text(ride, []).splitlines() if line.startswith("up the wall")]
    assert line.endswith("left early")
