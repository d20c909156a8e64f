"""The pack notebook: what is typed, what is answered, what is drawn, and the notebook itself."""

from __future__ import annotations

import time

import numpy as np
import pytest

from ridesim.bench.discharge import identify_block
from ridesim.choose.compare import compare
from ridesim.choose.packs import charge_plan, pack_answers
from ridesim.day import load_day
from ridesim.day.day import clock
from ridesim.ride.pack.supply import SOCKETS, Charger, night_charger
from ridesim.show.choose_drive.lines import verdict_lines
from ridesim.show.choose_pack.inputs import (
    DEFAULT_TEXTS,
    answer,
    lead_build,
    lithium_build,
    own_of,
    sheet_rows,
    sheet_texts,
    wish_of,
)
from ridesim.show.choose_pack.panel import ChoosePack, summary
from ridesim.show.choose_pack.pictures import LAW_LINES, BlocksDiagram, NightDiagram, SheetDiagram
from ridesim.show.choose_pack.tables import charging_html, pack_findings_html, packs_html, sheet_html
from ridesim.show.choose_pack.weak import with_weak_block
from ridesim.show.panel.drawing import Canvas
from ridesim.show.tables.discharge_text import discharge_text
from ridesim.show.tables.figures import band_text
from ridesim.show.units import METRIC
from ridesim.vehicle import load_build, save_build
from ridesim.words import InputProblem


def wish(**texts: str):
    return wish_of({**DEFAULT_TEXTS, **texts})


@pytest.fixture(scope="module")
def found():
    return answer(wish())


def typed(text):
    """Boxes of the data sheet, for rows such as “20: 40; 10: 37.2”."""
    return sheet_texts([[cell.strip() for cell in row.split(":")] for row in text.split(";")])


PUBLISHED = "20: 22; 10: 20.46; 5: 18.7; 1: 13.2"
"""The shape of a published 40 Ah sealed block's data sheet, brought to 22 Ah."""


@pytest.mark.parametrize("name", ["heron_36v", "puppet_cart"])
def test_with_nothing_typed_it_is_the_build_of_the_file_on_the_day_of_the_file(name):
    """Notebook 4 says what the terminal says: nothing invented takes the place of the build's own blocks."""
    found = answer(wish(lead=name), None, 32)
    assert found.lead.build == load_build(name)
    assert found.day == load_day("harbour_festival")
    alone = compare(load_build(name), load_day("harbour_festival"), draws=32)
    assert found.comparison.verdicts[0].sentence == alone.verdicts[0].sentence
    plan = charge_plan(load_build(name), "harbour_festival", night_charger(load_build(name)))
    assert plan.night.hours_to == found.lead.charging.night.hours_to


def test_the_boxes_begin_with_the_chosen_build_s_own_block(tmp_path):
    boxes = own_of({**DEFAULT_TEXTS, "lead": "puppet_cart"})
    assert (boxes["hours_1"], boxes["ah_1"], boxes["mass"], boxes["charger"]) == ("20", "50", "16.5", "5")
    stated = load_build("puppet_cart").changed(
        {"pack.capacity_by_hours": [[1.0, 30.0], [20.0, 50.0], [10.0, 46.0]], "pack.block_price": None}
    )
    save_build(stated, tmp_path / "stated.toml")
    boxes = own_of({**DEFAULT_TEXTS, "lead": "stated.toml"}, tmp_path)
    assert [boxes[f"ah_{n}"] for n in range(1, 5)] == ["50", "46", "30", ""], "the file's own data sheet"
    assert boxes["price"] == ""
    assert "price?" in packs_html(answer(wish(lead="stated.toml"), tmp_path), METRIC)


def test_the_lithium_pack_goes_into_the_chosen_vehicle():
    for name, cells in (("heron_36v", 12), ("puppet_cart", 8)):
        found = answer(wish(lead=name, equal="built"))
        lead, lithium = found.lead.build, found.lithium.build
        for part in ("vehicle", "motor", "drive", "rider", "lighting"):
            assert getattr(lithium, part) == getattr(lead, part)
        assert lithium.cutoff_voltage_v == pytest.approx(cells * 2.7), "these cells' own, not the lead-acid blocks'"
        assert lithium.pack.cells == cells
        assert lithium.pack.mass_kg == pytest.approx(13.5 * cells / 12)
        assert (lithium.pack.x_m, lithium.pack.z_m) == (lead.pack.x_m, lead.pack.z_m)
    assert "12 cells, 38.4 V, which do not fit the vehicle’s 24 V: reckoned with 8 of them" in summary(found)
    assert "cells" not in summary(answer(wish()))


def test_the_verdict_counts_the_weak_block_that_is_asked_about(found):
    (line, _), _ = verdict_lines(found.comparison, METRIC)
    assert with_weak_block(line, found) == (line, "")
    weak = answer(wish(weakest="40"), None, 32)
    (line, _), _ = verdict_lines(weak.comparison, METRIC)
    counted, sound = with_weak_block(line, weak)
    assert (line["level"], counted["level"], counted["words"]) == ("doubt", "no", "Does not do it")
    assert (
        counted["why"]
        == f"weakest block (40 %) falls below its end voltage at {clock(weak.blocks.first_to_collapse.collapse_s)}"
    )
    assert sound.startswith(f" With sound blocks: in doubt, {line['why']}, about ")
    assert "sound here" in packs_html(weak, METRIC)
    axes = BlocksDiagram().limits(weak)
    assert axes[2] <= weak.blocks.block_voltage_v.min() < 0.0, "what is driven backwards is inside the picture"
    nearly = answer(wish(weakest="99"), None, 32)
    (line, _), _ = verdict_lines(nearly.comparison, METRIC)
    assert nearly.blocks.first_to_collapse is None
    assert with_weak_block(line, nearly)[0]["level"] == "doubt"


def test_each_caution_stands_under_one_tab(found):
    first = pack_findings_html(found, METRIC, "packs")
    assert "spanner" in first
    for tab in ("charging", "weak", "sheet"):
        assert "spanner" not in pack_findings_html(found, METRIC, tab)
    weak = answer(wish(weakest="40"))
    assert "driven backwards" in pack_findings_html(weak, METRIC, "weak")


def test_rows_as_people_type_them():
    assert sheet_rows(typed("20: 40; 10: 37.2; 5: 34")) == ((20.0, 40.0), (10.0, 37.2), (5.0, 34.0))
    assert sheet_rows({**typed("20: 40; : ; 10: 37,2"), "hours_6": " "}) == ((20.0, 40.0), (10.0, 37.2)), (
        "empty boxes are left out"
    )


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        ({"show_days": ""}, "found nothing"),
        ({"health": "0"}, "found 0 %"),
        ({"ambient": "70"}, "-20 to 50 °C"),
        ({"weakest": "inf"}, "“inf”"),
        ({"equal": "banana"}, "“banana”; expected one of built \\(as built\\), mass "),
        ({"socket": "banana"}, "Socket: found “banana”; expected one of 0 \\(UK 13 A plug, for hours\\), 1 "),
        ({"socket": "²"}, "Socket: found “²”"),
    ],
)
def test_numbers_no_pack_can_have(texts, words):
    with pytest.raises(InputProblem, match=words):
        wish(**texts)


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        (typed("20: 22; 10: 25; 5: 18"), "far more ampere-hours than the slower"),
        (typed("20: 22; 5: 18"), "at least 3 rows"),
        (typed("20: 40; ten: 37"), "Hours, row 2: found “ten”"),
        (typed("20: "), "Ah, row 1: found nothing"),
        (typed("20: nan"), "Ah, row 1: found “nan”"),
        (typed("20: 22; 10: 20; 0: 18"), r"row 3 \[0, 18\]"),
        ({"rated_hours": "7"}, "7 h, which no row has"),
        ({"lead": "heron_lithium"}, "a lead-acid build"),
        ({"lead": "heron_37v"}, "Nearest shipped name: heron_36v"),
        ({"day": ""}, "no name"),
    ],
)
def test_wishes_that_cannot_be(texts, words):
    with pytest.raises(InputProblem, match=words):
        answer(wish(**texts))


def test_the_answer_is_the_library_s(found):
    lead, lithium = lead_build(wish()), lithium_build(wish())
    day = found.day
    charger = Charger(2.2)
    for build, option in ((lead, found.lead), (lithium, found.lithium)):
        alone = pack_answers(build, day, 12.0, charger, SOCKETS[0], draws=0)
        assert alone.usable_wh == option.usable_wh
        assert (alone.candidate.left, alone.candidate.spare_km) == (option.candidate.left, option.candidate.spare_km)
        assert alone.charging.night.hours_to == option.charging.night.hours_to
    assert [one.candidate for one in found.charge.each] == [found.lead.candidate, found.lithium.candidate]
    assert found.lead.ride.battery_model == "recovery"
    assert found.lithium.build.pack.mass_kg == pytest.approx(found.lead.build.pack.mass_kg)


def test_typed_values_reach_the_pack():
    build = lead_build(wish(**typed("20: 40; 10: 37.2; 5: 34; 1: 24"), mass="16", price="90", health="80", months="3"))
    pack = build.pack
    assert (pack.block_capacity_ah, pack.in_force.block_mass_kg, pack.block_price) == (40.0, 16.0, 90.0)
    assert (pack.state_of_health, pack.stood_months) == (0.8, 3.0)
    assert pack.in_force.block_resistance_ohm == pytest.approx(1.5 * 0.011 * 22.0 / 40.0), "as large, and as worn"
    by_price = lithium_build(wish(equal="price"))
    assert by_price.pack.block_price == pytest.approx(3 * 55.0)


def test_lithium_below_freezing_is_refused_on_the_page():
    frost = answer(wish(ambient="-4"))
    assert frost.lithium.charging.night.refused
    assert "not charged" in NightDiagram().sentence(frost)
    assert "too cold to charge" in NightDiagram().sentence(frost)
    assert any(finding.code == "day-without-charge" for _, finding in frost.findings)
    assert "-" in packs_html(frost, METRIC)


def test_both_charges_are_on_the_page(found):
    """The day's break and the night: from, constant current, constant voltage, to, watt-hours."""
    html = charging_html(found, METRIC)
    for option in found.options:
        (only,) = option.charging.breaks
        assert f"<td>{100 * only.start_charge:.0f} %</td>" in html
        assert f"<td>{100 * only.end_charge:.0f} %</td>" in html
        assert f"<td>{band_text(only.wall_wh, 2, 1e-3)}</td>" in html
        assert f"full in {option.charging.night.hours_to[0.99]:.1f} h" in html
        assert band_text(option.charging.wall_wh, 2, 1e-3) in packs_html(found, METRIC)
    assert "On the stand, charging, 17:20, 90 min" in html
    assert "4.0 A (charger)" in html
    assert NightDiagram().sentence(found).startswith("At 14 °C: lead-acid 80 % ")
    frost = answer(wish(ambient="-4"))
    assert frost.lithium.ride.ledger_wh["charger"] == 0.0
    assert charging_html(frost, METRIC).count("refused") == 2
    assert "refused at −4 °C" in packs_html(frost, METRIC)


def test_a_day_without_a_charge_shows_a_default_break(tmp_path, festival_text):
    plain = tmp_path / "plain.toml"
    plain.write_text(festival_text.replace("charge_current_a = 4.0", ""), encoding="utf-8")
    html = charging_html(answer(wish(day=str(plain))), METRIC)
    assert "a break, were there one at 17:" in html
    assert "60 min" in html


@pytest.mark.parametrize("kind", [SheetDiagram, NightDiagram, BlocksDiagram])
@pytest.mark.pictures
def test_pictures_are_drawn_and_follow(found, kind):
    canvas = Canvas(kind())
    first = np.array(canvas.pixels(found, 560, 260))
    assert first.shape == (260, 560, 4)
    assert len(np.unique(first.reshape(-1, 4), axis=0)) > 20
    other = answer(wish(**typed("20: 22; 10: 19; 5: 16; 1: 10"), weakest="30", charger="2"))
    assert (np.array(canvas.pixels(other, 560, 260)) != first).any()
    assert np.array_equal(np.array(canvas.pixels(found, 560, 260)), first), "a kept layer leaves nothing behind"
    assert canvas.drawing.sentence(found).endswith(".")
    assert canvas.drawing.sentence(found) in canvas.drawing.alt(found) or kind is BlocksDiagram


def test_the_band_between_the_laws_reaches_from_line_to_line_without_a_gap(found):
    canvas = Canvas(SheetDiagram())
    canvas.pixels(found, 560, 260)
    drawing = canvas.drawing
    (corners,) = [path.vertices[:-1] for path in drawing.between.get_paths()]
    half = len(corners) // 2
    (x, low), high = corners[:half].T, corners[half:][::-1, 1]
    assert corners[half:][::-1, 0] == pytest.approx(x), "it closes where it began"
    lines = [line.get_data() for line in drawing.lines[: len(LAW_LINES)]]
    assert x[0] == min(line_x[0] for line_x, _ in lines)
    assert x[-1] == max(line_x[-1] for line_x, _ in lines)
    table = np.array([np.interp(x, line_x, line_y) for line_x, line_y in lines])
    assert low == pytest.approx(table.min(axis=0), abs=1e-9)
    assert high == pytest.approx(table.max(axis=0), abs=1e-9)
    for line_x, line_y in lines:
        assert np.all(np.interp(line_x, x, low) <= line_y + 1e-9)
        assert np.all(np.interp(line_x, x, high) >= line_y - 1e-9)


def test_sentences_and_tables_carry_the_numbers_and_the_cautions(found):
    published = answer(wish(**typed(PUBLISHED)))
    assert "saturating 0.4 %, peukert 5.6 %, two-well 1.0 %" in SheetDiagram().sentence(published)
    lead = found.lead
    weak = answer(wish(weakest="25"))
    assert f"From {clock(weak.blocks.power_short_s)} on the controller's cut-off" in BlocksDiagram().sentence(weak)
    assert any(finding.code == "short-of-power" for _, finding in weak.findings)
    packs = packs_html(found, METRIC)
    assert f"{lead.usable_wh.value:.0f}" in packs
    assert "inf" not in packs
    assert "1.12, 1.15, 1.28" in sheet_html(published, METRIC)
    assert "states no data sheet" not in sheet_html(published, METRIC)
    assert "states no data sheet: the rows are what its k of 1.21 gives" in sheet_html(found, METRIC)
    for word in ("hydrogen", "spanner", "weighs", "never below 0 °C", "licensed"):
        assert word in pack_findings_html(found, METRIC)


def test_names_from_files_are_escaped(tmp_path, heron_text):
    evil = tmp_path / "evil.toml"
    evil.write_text(heron_text.replace('"Heron, 36 V"', '"<script>alert(1)</script>"'), encoding="utf-8")
    shown = answer(wish(lead=str(evil)))
    assert "<script>" not in packs_html(shown, METRIC) + pack_findings_html(shown, METRIC)


def test_neither_pack_is_called_better_where_the_bands_overlap(found):
    def row(answered, label):
        return packs_html(answered, METRIC).split(f">{label}<")[1].split("</tr>")[0]

    for label, bands in (
        ("show days it lasts", [each.show_days for each in found.options]),
        ("price a show day", [each.price_per_show_day for each in found.options]),
    ):
        assert all(band_text(band, 0 if "lasts" in label else 2) in row(found, label) for band in bands)
        overlap = bands[0].low <= bands[1].high and bands[1].low <= bands[0].high
        assert ("✓" in row(found, label)) is not overlap
    cheap = answer(wish(lithium_price="5"))
    assert "✓" in row(cheap, "price a show day")
    alike = answer(
        wish(lithium_price=f"{found.lead.price * found.options[1].show_days.value / found.lead.show_days.value:.2f}")
    )
    assert "✓" not in row(alike, "price a show day")
    assert "have no ✓" in packs_html(alike, METRIC)


@pytest.fixture(autouse=True)
def few_draws(monkeypatch):
    monkeypatch.setattr("ridesim.show.choose_pack.panel.DRAWS", 32)


@pytest.fixture
def panel(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    made = ChoosePack()
    assert made.wait()
    yield made
    made.close()


def test_the_panel_answers_and_keeps_the_last_good_picture(panel):
    good = panel.answer
    assert good is not None
    assert "usable" in panel.status.text
    pictures = {name: picture.png() for name, picture in panel.pictures.items()}
    panel.put(**typed("20: 22; ten: 3"))
    assert panel.wait()
    assert "row 2" in panel.status.text
    assert "row 2" in panel.controls["sheet"].view.problems["hours_2"]
    assert panel.answer is good
    for name, picture in panel.pictures.items():
        assert picture.view.old
        assert picture.png() == pictures[name]
    panel.put(**{**DEFAULT_TEXTS, "charger": "3"})
    panel._tab_pressed("weak")
    panel.controls["weak"].view.typed = {**panel.controls["weak"].view.typed, "weakest": "25"}
    assert panel.wait()
    assert panel.answer.blocks.first_to_collapse.block.health == pytest.approx(0.25)
    assert not panel.pictures["weak"].view.old
    assert panel.controls["sheet"].view.problems == {}
    assert panel.answer.lead.charging.night.allowed.current_a == 3.0


def test_a_number_no_pack_can_have_marks_its_box_and_no_other(panel):
    panel.put(ambient="70")
    assert panel.wait()
    assert "-20 to 50 °C" in panel.status.text
    marked = {key for row in panel.controls.values() for key in row.view.problems}
    assert marked == {"ambient"}


def test_another_build_brings_its_own_block_and_a_typed_row_makes_all_rows_typed(panel):
    which, sheet = panel.controls["which"], panel.controls["sheet"]
    assert (sheet.texts["ah_1"], sheet.texts["mass"]) == ("22", "6.6")
    sheet.view.typed = {**sheet.texts, "ah_4": "12"}
    assert panel.wait()
    assert panel.answer.lead.build.pack.capacity_by_hours[-1] == (1.0, 12.0)
    assert panel.answer.lead.build.pack.block_capacity_ah == 22.0
    sheet.view.typed = {**sheet.texts, "ah_1": "44", "ah_2": "40", "ah_3": "36", "ah_4": "25"}
    assert panel.wait()
    assert sheet.texts["mass"] == "13.2", "a block of twice the ampere-hours, until its mass is typed"
    which.view.typed = {**which.texts, "lead": "puppet_cart"}
    assert panel.wait()
    assert (sheet.texts["ah_1"], sheet.texts["mass"]) == ("50", "16.5")
    assert panel.answer.lead.build == load_build("puppet_cart")
    sheet.view.typed = {**sheet.texts, "mass": "17"}
    assert panel.wait()
    assert panel.answer.lead.build.pack.block_mass_kg == 17.0
    sheet.view.typed = {**sheet.texts, "mass": ""}
    assert panel.wait()
    assert sheet.texts["mass"] == "16.5", "an emptied box holds the build's own again"
    assert panel.answer.lead.build == load_build("puppet_cart")


def test_units_change_what_is_shown_and_nothing_else(panel):
    """Everything is in pounds, miles and Fahrenheit; the vehicle asked about stays the same to the last digit."""
    before = panel.answer
    panel.files.view.typed = {**panel.files.texts, "units": "imperial"}
    assert panel.wait()
    assert panel.controls["packs"].texts["ambient"] == "57.2"
    assert panel.controls["sheet"].texts["mass"] == "14.6"
    assert panel.answer.lead.build == before.lead.build
    shown = (
        panel.words["packs"].html
        + panel.findings.html
        + panel.status.text
        + " ".join(str(line) for line in panel.lines.lines)
    )
    for metric in (" km", " kg", "°C"):
        assert metric not in shown.replace("km/h", "").replace("kWh", ""), metric
    assert "pack mass, lb" in shown
    panel._tab_pressed("charging")
    assert panel.wait()
    assert "57 °F" in panel.words["charging"].html
    assert panel.pictures["charging"].view.sentence.startswith("At 57 °F: ")
    panel.controls["packs"].view.typed = {**panel.controls["packs"].texts, "ambient": "50"}
    assert panel.wait()
    assert panel.answer.day.ambient_c == 10.0
    assert panel.answer.lead.build == before.lead.build


def test_the_pack_is_saved_into_a_build_and_exported(tmp_path):
    panel = ChoosePack(DEFAULT_TEXTS, tmp_path)
    try:
        panel.put(**typed("20: 40; 10: 37.2; 5: 34; 1: 24"), price="90")
        panel.files.put({"file": "larger"})
        panel._pressed("save")
        assert panel.status.text.startswith("Saved the build with this pack in larger.toml")
        saved = load_build(tmp_path / "larger.toml").pack
        assert (saved.block_capacity_ah, saved.block_price, len(saved.capacity_by_hours)) == (40.0, 90.0, 4)
        panel.put(price="95")
        panel._pressed("save")
        assert "would change: pack.block_price 90 → 95. Press “Save pack into build” again" in panel.status.text
        assert load_build(tmp_path / "larger.toml").pack.block_price == 90.0
        panel._pressed("save")
        assert load_build(tmp_path / "larger.toml").pack.block_price == 95.0
        for button, ending in (("png", "png"), ("csv", "csv")):
            panel._pressed(button)
            assert (tmp_path / f"choose_pack.{ending}").exists(), panel.status.text
        table = (tmp_path / "choose_pack.csv").read_text(encoding="utf-8").splitlines()
        assert table[0] == ',"Heron, 36 V, this block","Heron, 36 V, lithium, 80 Ah"'
        assert "larger.toml" in panel.controls["which"].view.fields[0]["options"], "a file written meanwhile"
    finally:
        panel.close()


def test_the_discharge_text_says_everything():
    text = discharge_text(identify_block("heron_block_slow", "heron_block_fast", label_ah=22.0))
    for words in (
        "heron_block_slow",
        "Peukert's k",
        "state of health: 8",
        "cannot tell",
        "peukert_exponent = 1.2",
        "rings off",
    ):
        assert words in text
    single = discharge_text(identify_block("heron_block_slow"))
    assert "not determined" in single


def test_what_is_typed_comes_back_with_the_next_run(tmp_path):
    first = ChoosePack(DEFAULT_TEXTS, tmp_path)
    first.wait()
    found = answer(wish_of(DEFAULT_TEXTS))
    verdicts = compare([found.lead.build, found.lithium.build], found.day, draws=32).verdicts
    assert [(line["name"], line["level"]) for line in first.lines.lines] == [
        (each.name, each.level) for each in verdicts
    ]
    first.put(price="61")
    first.wait()
    for _ in range(100):
        if first.kept.path.exists():
            break
        time.sleep(0.05)
    assert 'price = "61"' in first.kept.path.read_text(encoding="utf-8")
    first.close()
    again = ChoosePack(DEFAULT_TEXTS, tmp_path)
    again.wait()
    try:
        assert again.texts["price"] == "61"
        assert again.status.text.startswith("Restored from 4_choose_pack.panel.toml")
        again._start_afresh()
        again.wait()
        assert again.texts == DEFAULT_TEXTS
        assert not again.kept.path.exists()
    finally:
        again.close()
