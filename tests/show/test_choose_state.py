"""The main panel's inputs and computation, without widgets."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

import ridesim
from ridesim import compare, load_build, load_day
from ridesim.ride.steady.motor import reverse_top_speed_kmh
from ridesim.show.choose_drive.inputs import Reckoner, Slot, Wish, check_day, planned_hours
from ridesim.show.panel.files import Saver, target_of, would_change
from ridesim.show.pictures.ledger import grouped
from ridesim.show.tables.outcome import lines_for, table_csv, table_html
from ridesim.show.tables.text import comparison_parts
from ridesim.show.units import IMPERIAL, METRIC, with_minus
from ridesim.words import InputProblem
from tests.ride.machines import make_build
from tests.show.answers import whole


@pytest.fixture(scope="module")
def day():
    return ridesim.load_day("harbour_festival")


@pytest.fixture
def slots():
    return tuple(
        Slot.of(key, ridesim.load_build(name), f"{name}.toml") for key, name in enumerate(("heron_36v", "heron_48v"))
    )


def test_inputs_and_computation_need_no_widgets():
    code = "import sys, ridesim.show.choose_drive.inputs, ridesim.show.tables.outcome, ridesim.show.pictures.pull\n"
    code += "print([m for m in sys.modules if m.startswith(('ipywidgets', 'anywidget'))])"
    printed = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert printed.strip() == "[]"


def test_answer_is_ridesim_compare(slots, day):
    answer = whole(Wish(slots, day))
    comparison = ridesim.compare([slot.origin for slot in slots], day)
    assert answer.comparison.as_json() == comparison.as_json()


def test_quick_answer_differs_in_the_bands_alone_and_is_completed(slots, day):
    reckoner = Reckoner()
    quick, done = reckoner.answer(Wish(slots, day)), whole(Wish(slots, day), reckoner)
    assert [[one.candidate.banded for one in each.each] for each in (quick, done)] == [[False] * 2, [True] * 2]
    assert (table_html(quick.comparison).count("…"), table_html(done.comparison).count("…")) == (4, 0)
    for one, other in zip(quick.each, done.each, strict=True):
        assert one.candidate.ride is other.candidate.ride, "the ride is not simulated twice"
        assert one.candidate.end_charge.value == other.candidate.end_charge.value
        assert one.candidate.range_km.value == other.candidate.range_km.value
        assert other.candidate.end_charge.high > one.candidate.end_charge.high


def test_what_did_not_change_is_kept(slots, day):
    reckoner = Reckoner()
    before = whole(Wish(slots, day), reckoner)
    after = whole(Wish((slots[0].with_texts(motor_teeth="12"), slots[1]), day), reckoner)
    assert after.each[1] is before.each[1]
    assert after.each[0] is not before.each[0]


@pytest.mark.parametrize(
    ("key", "text", "said"),
    [
        ("wheel_teeth", "1000000000", "of at most 400"),
        ("wheel_teeth", "nan", "a whole number"),
        ("motor_teeth", "eleven", "“eleven”"),
        ("motor_teeth", "11.5", "“11.5”"),
        ("capacity", "", "nothing"),
        ("battery_a", "-1", "above 0"),
    ],
)
def test_a_wrong_box_is_said_and_marked(slots, day, key, text, said):
    slot = slots[0].with_texts(**{key: text})
    with pytest.raises(InputProblem) as complaint:
        whole(Wish((slot, slots[1]), day))
    assert said in str(complaint.value)
    assert list(slot.problems()) == [key]


def test_two_of_one_name_and_none(slots, day):
    for name, said in ((slots[1].name, "twice"), (" ", "a name of its own")):
        with pytest.raises(InputProblem, match=said):
            whole(Wish((slots[0].with_texts(name=name), slots[1]), day))


def test_a_build_that_cannot_move_has_an_answer(slots, day):
    answer = whole(Wish((slots[0].with_texts(wheel_teeth="1"),), day))
    codes = {finding.code for finding in answer.each[0].candidate.findings}
    assert {"will-not-start", "not-finished"} <= codes
    assert answer.each[0].candidate.top_speed_kmh >= 0.0


def test_a_day_without_end_is_refused(day):
    long = day.changed({"activity": (day.activity[2].model_copy(update={"laps": 10_000}),)})
    assert planned_hours(long) > 400.0
    with pytest.raises(InputProblem, match="a day that ends"):
        check_day(long)
    check_day(day)


def test_resistance_lines_meet_the_curve_at_the_top_speed(slots, day):
    for one in whole(Wish(slots, day)).each:
        still, grows = one.resistance[0]
        top = one.candidate.top_speed_kmh
        assert np.interp(top, one.speeds_kmh, one.pulls_n) == pytest.approx(still + grows * top**2, rel=2e-3)


def test_series_keeps_extremes_and_ends(slots, day):
    one = whole(Wish(slots, day)).each[0]
    ride = one.candidate.ride
    assert one.series.low_v.min() == pytest.approx(ride.rows["pack_voltage_v"].min())
    assert one.series.high_v.max() == pytest.approx(ride.rows["pack_voltage_v"].max())
    assert one.series.charge[-1] == pytest.approx(ride.outcome.end_state_of_charge, abs=1e-9)


def test_grouped_ledger_is_the_whole_ledger(slots, day):
    ledger = whole(Wish(slots, day)).each[0].candidate.ride.ledger_wh
    assert sum(grouped(ledger).values()) == pytest.approx(sum(ledger.values()), abs=1e-9)


@pytest.mark.thorough
def test_table_says_what_the_terminal_says(slots, day):
    comparison = whole(Wish(slots, day)).comparison
    terminal = {tuple(line.split()) for line in "\n".join(comparison_parts(comparison, everything=True)).splitlines()}
    saved = table_csv(comparison)
    for line in lines_for(comparison):
        unit = [f"[{line.unit}]"] if line.unit else []
        assert (*line.label.split(), *unit, *" ".join(line.cells).split()) in terminal
        assert ",".join([line.unit, *line.cells]) in saved


def test_a_reverse_has_its_row_in_panel_and_terminal():
    build = make_build(controller__reverse_duty=0.4)
    comparison = compare([build, load_build("heron_36v")], load_day("harbour_festival"))
    wanted = [f"{reverse_top_speed_kmh(build):.1f}", "-"]
    assert "top speed, reverse" in table_html(comparison)
    (line,) = [line for line in lines_for(comparison) if line.label == "top speed, reverse"]
    assert (line.unit, list(line.cells), line.better) == ("km/h", wanted, set())


def test_better_is_marked_in_words_and_type_not_colour(slots, day):
    comparison = whole(Wish(slots, day)).comparison
    lines = {line.label: line for line in lines_for(comparison)}
    assert lines["top speed, pack full"].better == {1}
    assert lines["mass, rider aboard"].better == {0}
    assert lines["distance"].better == set()
    assert lines["mass, rider aboard"].steps == ("", "+6.6")
    html = table_html(comparison)
    assert "✓" in html
    assert "better: " in html


def test_imperial_table(slots, day):
    comparison = whole(Wish(slots, day)).comparison
    cells = {line.label: line.cells[0] for line in lines_for(comparison, IMPERIAL)}
    mph = comparison.candidates[0].top_speed_kmh / 1.609344
    assert float(cells["top speed, pack full"]) == pytest.approx(mph, abs=0.05)
    assert IMPERIAL.value(100.0, "c") == pytest.approx(212.0)
    # A mile is longer than a kilometre, so it takes more watt-hours.
    assert IMPERIAL.value(10.0, "wh_per_km") == pytest.approx(16.09344)


@pytest.mark.parametrize(
    ("metric", "numbers", "imperial"),
    [
        (
            "Top speed 24.2 km/h full and 20.1 km/h at the reserve.",
            [],
            "Top speed 15.0 mph full and 12.5 mph at the reserve.",
        ),
        ("Top speed 24.2 km/h", [24.24], "Top speed 15.1 mph"),
        ("(-1.4 to 3.2 km) to spare", [], "(−0.9 to 2.0 mi) to spare"),
        ("8.3 of 8.4 km are covered", [], "5.2 of 5.2 mi are covered"),
        (
            "At 0 °C the blocks hold 80 % of their 25 °C capacity",
            [],
            "At 32 °F the blocks hold 80 % of their 77 °F capacity",
        ),
        (
            "pulls up to 219 N; 18 N m is not touched, nor 2 m/s",
            [],
            "pulls up to 49 lbf; 18 N m is not touched, nor 2 m/s",
        ),
        ("2.0 m/s² and 12 m with a second", [], "6.6 ft/s² and 39 ft with a second"),
        ("in “Loop of 3 km”, after 8.4 km", [], "in “Loop of 3 km”, after 5.2 mi"),
        ("A block weighs 6.6 kg", [], "A block weighs 14.6 lb"),
    ],
)
def test_sentences_in_imperial_units(metric, numbers, imperial):
    assert IMPERIAL.said(metric, numbers) == imperial
    assert METRIC.said(metric, numbers) == with_minus(metric)


def test_boxes_in_imperial_units_give_back_what_was_left_alone(slots):
    slot = slots[0]
    shown = slot.shown(IMPERIAL)
    assert float(shown["rider"]) == pytest.approx(float(slot.texts["rider"]) / 0.45359237, abs=0.05)
    assert slot.with_shown(shown, IMPERIAL) == slot
    heavier = slot.with_shown({**shown, "rider": "200", "motor_teeth": "12"}, IMPERIAL)
    assert heavier.build.rider.mass_kg == pytest.approx(200.0 * 0.45359237, abs=1e-3)
    assert heavier.build.drive.motor_teeth == 12
    wrong = slot.with_shown({**shown, "rider": "heavy"}, IMPERIAL)
    assert "such as 66 to 265 lb" in IMPERIAL.said(wrong.problems()["rider"])


def test_saving_says_what_differs_and_spares_the_shipped(slots, tmp_path):
    slot = slots[0].with_texts(motor_teeth="12")
    path = target_of(slot.texts["file"], tmp_path)
    assert would_change(slot.build, path) == []
    saver = Saver()
    assert saver.save(slot.build, path, "Save") == ""
    after = Slot.of(slot.key, load_build(path), path.name)
    assert (after.unsaved, slot.unsaved) == (False, True)
    other = after.with_texts(motor_teeth="13").build
    assert would_change(other, path) == ["drive.motor_teeth 12 → 13"]
    assert "Press “Save” again to write over it" in saver.save(other, path, "Save")
    assert load_build(path).drive.motor_teeth == 12
    third = other.changed({"drive.motor_teeth": 14})
    assert "12 → 14" in saver.save(third, path, "Save"), "asked for something else meanwhile"
    assert saver.save(third, path, "Save") == ""
    assert load_build(path).drive.motor_teeth == 14
    path.write_text("not TOML", encoding="utf-8")
    assert "not a good build" in would_change(other, path)[0]
    from ridesim import data

    with pytest.raises(InputProblem, match="a shipped file"):
        target_of(str(data.find("heron_36v", "builds")), tmp_path)
    with pytest.raises(InputProblem, match="no name"):
        target_of("  ", tmp_path)
