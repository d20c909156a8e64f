"""The bench panel without a browser, the lead sheet, the heat tables, and notebook 2 as it is run."""

from __future__ import annotations

import time
import tomllib

import pytest

from ridesim.bench.logs import load_log
from ridesim.choose.compare import compare
from ridesim.data import shipped
from ridesim.day import load_day
from ridesim.show.bench_motor.desk import BenchDesk
from ridesim.show.bench_motor.heat import how_long, warmed_up
from ridesim.show.bench_motor.panel import MAGNET
from ridesim.show.bench_motor.tables import CAUTIONS
from ridesim.show.sheet.leads import lead_sheet
from ridesim.vehicle import load_build
from tests.ride.machines import make_build


@pytest.fixture
def panel(tmp_path):
    made = BenchDesk(MAGNET, "heron_motor_bench", "heron_36v", folder=tmp_path)
    assert made.wait()
    return made


def type_in(panel, kind, place, **texts):
    row = panel.rows[kind][place]
    row.view.typed = {**row.texts, **texts}
    assert panel.wait()


def test_it_opens_with_the_shipped_log_and_answers(panel):
    assert panel.answer is not None
    assert panel.status.text.startswith(panel.answer.sentence)
    assert all(picture.png()[:4] == b"\x89PNG" for picture in panel.pictures.values())
    assert "90 % band" in panel.words["The motor"].html
    assert "Measure next" in panel.next.html


def test_typing_changes_the_answer(panel):
    before = panel.answer.result.values["torque_constant_nm_per_a"].value
    type_in(panel, "free_spin", 2, speed_rpm="330,0")
    assert panel.answer.result.values["torque_constant_nm_per_a"].value != before
    type_in(panel, "free_spin", 4, voltage_v="12.3", current_a="1.16", speed_rpm="340")
    assert len(panel.answer.log.free_spin) == 5


def test_a_wrong_entry_is_named_marked_and_leaves_the_last_good_picture(panel):
    good = panel.pictures["speed"].png()
    type_in(panel, "free_spin", 1, speed_rpm="fast")
    assert "heron_motor_bench, Free spin 2, turns/min: found “fast”" in panel.status.text
    assert "speed_rpm" in panel.rows["free_spin"][1].view.problems
    assert panel.pictures["speed"].png() == good
    assert panel.pictures["speed"].view.old
    type_in(panel, "free_spin", 1, speed_rpm="240")
    assert panel.status.text.startswith("12 V on the stand")
    assert not panel.rows["free_spin"][1].view.problems


def test_all_rows_that_are_wrong_are_marked_at_once(panel):
    """Milliamps in one list, a standing shaft in another: the first is said whole, the other by its name."""
    held = panel.rows["held"][0].texts["current_a"]
    type_in(panel, "held", 0, current_a=f"{float(held) / 1000.0:g}")
    type_in(panel, "free_spin", 0, speed_rpm="0")
    assert "Free spin 1, turns/min: found a standing shaft" in panel.status.text
    assert "Also wrong: Held, lamp in series 1" in panel.status.text
    assert panel.rows["free_spin"][0].view.problems
    assert panel.rows["held"][0].view.problems


def test_no_volts_or_few_without_a_speed_do_not_pass_the_kind_test(panel):
    right = panel.rows["turned"][0].texts["voltage_v"]
    type_in(panel, "turned", 0, voltage_v="0")
    assert "Never run it unloaded" in panel.status.text
    type_in(panel, "turned", 0, voltage_v=right, speed_rpm="")
    type_in(panel, "turned", 0, speed_rpm="")
    assert "do not run it unloaded" in panel.status.text
    assert "speed_rpm" in panel.rows["turned"][0].view.problems
    type_in(panel, "turned", 0, speed_rpm="27")
    assert panel.status.text.startswith("12 V on the stand")


def test_a_series_wound_motor_is_sent_to_its_own_panel(panel):
    type_in(panel, "turned", 0, voltage_v="0")
    assert "Test it as a series-wound motor" in panel.status.text
    panel.desk.put({"log": "winch_motor_loads"})
    panel._pressed("open")
    assert "Use the series-wound panel below" in panel.status.text
    panel.desk.put({"log": " "})
    panel._pressed("open")
    assert panel.wait()
    assert panel.status.text.startswith("Bench log: found nothing; expected a")


def test_saving_and_opening_a_log(panel):
    type_in(panel, "free_spin", 2, speed_rpm="337")
    panel._pressed("save")
    path = panel.folder / "my_motor_bench.toml"
    assert load_log(path).free_spin == panel.answer.log.free_spin
    panel.desk.put({"log": "heron_motor_bench"})
    panel._pressed("open")
    assert panel.wait()
    assert panel.rows["free_spin"][2].texts["speed_rpm"] == "336"
    panel.desk.put({"log": "nowhere"})
    panel._pressed("open")
    assert "no such file" in panel.status.text
    panel.desk.put({"save_as": "../up.toml"})
    panel._pressed("save")
    assert "plain file name" in panel.status.text


def test_the_user_s_own_log_wins_over_the_shipped_one_of_that_name(panel):
    type_in(panel, "free_spin", 2, speed_rpm="337")
    panel.desk.put({"save_as": "heron_motor_bench"})
    panel._pressed("save")
    type_in(panel, "free_spin", 2, speed_rpm="330")
    for name in ("heron_motor_bench", "heron_motor_bench.toml"):
        panel.desk.put({"log": name})
        panel._pressed("open")
        assert panel.wait()
        assert panel.rows["free_spin"][2].texts["speed_rpm"] == "337"
    type_in(panel, "free_spin", 2, speed_rpm="x")
    assert panel.status.text.startswith("heron_motor_bench.toml, Free spin 3, turns/min: found"), "not the shipped one"
    panel.kept.forget()
    again = BenchDesk(MAGNET, "heron_motor_bench", "heron_36v", folder=panel.folder)
    assert again.rows["free_spin"][2].texts["speed_rpm"] == "337"


def test_rows_are_named_as_on_the_panel(panel):
    """A row left empty in between is counted on the panel, not in the log."""
    type_in(panel, "free_spin", 1, voltage_v="", current_a="", speed_rpm="")
    assert "Free spin 3" in panel.words["Residuals"].html
    assert "Free spin 2" not in panel.words["Residuals"].html
    type_in(panel, "free_spin", 2, speed_rpm="0")
    assert "Free spin 3, turns/min" in panel.status.text
    assert "is a held row" in panel.status.text
    assert "speed_rpm" in panel.rows["free_spin"][2].view.problems
    panel.setup.view.typed = {**panel.setup.texts, "room_c": "warm"}
    assert panel.wait()
    assert "Room, °C: found “warm”" in panel.status.text


def test_saving_the_vehicle_with_this_motor(panel):
    panel._pressed("put")
    path = panel.folder / "heron_36v_with_tested_motor.toml"
    found = panel.answer.result.values["torque_constant_nm_per_a"].value
    written = tomllib.loads(path.read_text(encoding="utf-8"))["motor"]
    assert written["torque_constant_nm_per_a"]["likely"] == pytest.approx(found, rel=1e-5)
    assert written["torque_constant_nm_per_a"]["low"] < found < written["torque_constant_nm_per_a"]["high"]
    assert load_build(path).motor.mass_kg == load_build("heron_36v").motor.mass_kg
    assert "# Invented demo data" in path.read_text(encoding="utf-8"), "the vehicle's comments are kept"
    saved = load_build(path)
    assert saved.name == "Heron, 36 V, tested motor"
    assert saved.note == "motor tested: bench log heron_motor_bench; the rest: invented demo data"
    compare([load_build("heron_36v"), saved], load_day("harbour_festival"))  # two of one name would be refused


def test_a_vehicle_that_has_a_tested_motor_keeps_its_name_and_gets_the_new_log_s(panel):
    panel._pressed("put")
    panel.desk.view.typed = {**panel.desk.texts, "build": "heron_36v_with_tested_motor"}
    type_in(panel, "free_spin", 2, speed_rpm="337")
    panel._pressed("put")
    assert "would change: note" in panel.status.text
    panel._pressed("put")
    path = panel.folder / "heron_36v_with_tested_motor.toml"
    changed = "motor tested: bench log heron_motor_bench, changed on the panel; the rest: invented demo data"
    assert (load_build(path).name, load_build(path).note) == ("Heron, 36 V, tested motor", changed)
    panel._pressed("save")
    panel._pressed("put")
    panel._pressed("put")
    assert load_build(path).note == "motor tested: bench log my_motor_bench.toml; the rest: invented demo data"
    assert len(list(panel.folder.glob("heron*.toml"))) == 1


def test_a_changed_file_is_written_over_at_the_second_press_only(panel):
    panel._pressed("put")
    path = panel.folder / "heron_36v_with_tested_motor.toml"
    mine = path.read_text(encoding="utf-8").replace("friction_torque_nm = {low = 0.", "friction_torque_nm = {low = 0.0")
    path.write_text(mine, encoding="utf-8")
    panel._pressed("put")
    assert "would change: motor.friction_torque_nm" in panel.status.text
    assert path.read_text(encoding="utf-8") == mine
    type_in(panel, "free_spin", 2, speed_rpm="330")
    panel._pressed("put")
    assert "would change" in panel.status.text, "another motor is asked about anew"
    panel._pressed("put")
    assert panel.status.text.startswith("Saved the build")
    found = panel.answer.result.values["friction_torque_nm"].value
    assert load_build(path).motor.friction_torque_nm == pytest.approx(found, rel=1e-5)


def test_what_has_no_box_is_kept_and_saved(tmp_path):
    """The last digits and the common factors of the meters go from the log to the answer and into the saved log."""
    text = (shipped("data") / "logs" / "heron_motor_bench.toml").read_text(encoding="utf-8")
    file = tmp_path / "mine.toml"
    file.write_text(
        text.replace("[meter]", "[meter]\nvoltage_gain_percent = 2.0\ncurrent_digit_a = 0.01"), encoding="utf-8"
    )
    panel = BenchDesk(MAGNET, file, "heron_36v", folder=tmp_path)
    assert panel.wait()
    assert panel.answer.log.meter == load_log(file).meter
    assert "as the log states it" in panel.words["On the vehicle"].html
    panel._pressed("save")
    assert load_log(tmp_path / "my_motor_bench.toml").meter == load_log(file).meter


def test_cautions_cover_what_hurts():
    text = " ".join(CAUTIONS).lower()
    for word in ("clamp", "wheel off the ground", "fuse", "6 v or less", "lamp", "2 s", "hot", "chain", "swap the leads", "parking brake",
                 "maker meant", "never run it without load"):  # fmt: skip
        assert word in text, word


def test_lead_sheet_order_and_printing(tmp_path):
    sheet = lead_sheet(load_build("heron_36v"), leads=9)
    headings = [heading.split("</h3>")[0] for heading in sheet.html.split("<h3>")[1:]]
    assert [heading.split(".")[0] for heading in headings] == ["1", "2", "3", "4", "5", "6", "Leads"]
    assert "Thick pairs first" in headings[1]
    assert "43.2 V on its charger" in sheet.html
    assert sheet.html.count("<tr><td>") == 9
    page = sheet.save(tmp_path / "leads.html").read_text(encoding="utf-8")
    assert page.startswith("<!doctype html>")
    assert "DOES NOT STAND" in lead_sheet(make_build(controller__max_voltage_v=40.0)).html
    with pytest.raises(ValueError, match="leads"):
        lead_sheet(leads=0)


def test_heat_tables():
    html = how_long("heron_36v")._repr_html_()
    assert "S3 25 %" in html
    said = warmed_up()._repr_html_()
    assert "°C" in said
    assert said.index("Caution") < said.index("<table")
    for word in ("clamp", "brake", "isolator off", "stop at once"):
        assert word in said


def test_the_warm_up_s_caution_stands_above_it_in_the_notebook():
    text = (shipped("notebooks") / "2_bench_test_motor.ipynb").read_text(encoding="utf-8")
    section = text[text.index("## Measured warm-up") : text.index("warmed_up(")]
    for word in ("Clamp", "brake", "Isolator off", "stop at once"):
        assert word in section


def test_a_vehicle_without_name_and_note_gets_both(tmp_path):
    text = (shipped("data") / "builds" / "heron_36v.toml").read_text(encoding="utf-8")
    text = text.replace('name = "Heron, 36 V"\nnote = "invented demo data"\n', "")
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    panel = BenchDesk(MAGNET, "heron_motor_bench", tmp_path / "mine.toml", folder=tmp_path)
    panel._pressed("put")
    saved = load_build(tmp_path / "mine_with_tested_motor.toml")
    assert (saved.name, saved.note) == ("mine, tested motor", "motor tested: bench log heron_motor_bench")


def test_what_is_typed_comes_back_and_all_rows_clear_at_one_press(panel, tmp_path):
    assert "These readings are invented" in panel.status.text
    panel._pressed("clear")
    panel.wait()
    assert not any(
        text for rows in panel.rows.values() for row in rows for key, text in row.texts.items() if key != "chain"
    )
    for place, (volts, amps) in enumerate(((6.0, 1.2), (9.0, 1.25), (12.5, 1.3))):
        type_in(panel, "free_spin", place, voltage_v=f"{volts}", current_a=f"{amps}", speed_rpm=f"{86.0 * volts:.0f}")
    assert "invented" not in panel.status.text
    for _ in range(100):
        if panel.kept.path.exists() and "1075" in panel.kept.path.read_text(encoding="utf-8"):
            break
        time.sleep(0.05)
    again = BenchDesk(MAGNET, "heron_motor_bench", "heron_36v", folder=tmp_path)
    assert again.wait()
    assert again.rows["free_spin"][2].texts["speed_rpm"] == "1075"
    assert again.rows["held"][0].texts["current_a"] == ""
    assert again.status.text.startswith("Restored from 2_bench_test_motor.spin.panel.toml")
    again._pressed("afresh")
    assert again.wait()
    assert again.rows["held"][0].texts["current_a"] != ""
    panel.close()
    again.close()


@pytest.mark.thorough
def test_a_slip_by_ten_names_the_box_that_was_typed(panel):
    for kind, place, column, typed, meant in (
        ("free_spin", 1, "voltage_v", "90.5", "9.05"), ("free_spin", 1, "speed_rpm", "24", "240"),
        ("free_spin", 1, "current_a", "10.8", "1.08"), ("held", 0, "current_a", "19.7", "1.97"), ("turned", 0, "voltage_v", "9", "0.9"),
    ):  # fmt: skip
        row = panel.rows[kind][place]
        assert row.texts[column] == meant
        row.view.typed = {**row.texts, column: typed}
        panel.wait()
        slipped = "ten times" if float(typed) > float(meant) else "a tenth of"
        assert f"found {typed}, {slipped} what fits" in panel.status.text
        assert f"expected about {meant}. Has the decimal point slipped?" in panel.status.text
        marked = [
            (k, n, list(each.view.problems))
            for k, rows in panel.rows.items()
            for n, each in enumerate(rows)
            if each.view.problems
        ]
        assert marked == [(kind, place, [column])]
        row.view.typed = {**row.texts, column: meant}
        panel.wait()
        assert "expect" in panel.status.text


def test_another_log_is_written_over_by_the_second_press_alone(panel, tmp_path):
    file = tmp_path / "my_motor_bench.toml"
    type_in(panel, "free_spin", 0, current_a="0.99")
    panel._pressed("save")
    type_in(panel, "free_spin", 0, current_a="1.0")
    panel._pressed("save")
    assert "Saved" in panel.status.text, "its own file, written just before"
    other = file.read_text(encoding="utf-8").replace("current_a = 1.0", "current_a = 1.01")
    file.write_text(other, encoding="utf-8")
    panel._pressed("save")
    assert "would change: its measurements. Press “Save log” again" in panel.status.text
    assert file.read_text(encoding="utf-8") == other
    panel._pressed("save")
    assert load_log(file).free_spin[0].current_a == 1.0


def test_units_change_what_is_shown_and_nothing_else(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    panel = BenchDesk(MAGNET, "heron_motor_bench", "heron_36v")
    assert panel.wait()
    before = panel.answer
    panel.desk.view.typed = {**panel.desk.texts, "units": "imperial"}
    assert panel.wait()
    assert panel.answer.predictions == before.predictions
    assert "top speed, mph" in panel.words["On the vehicle"].html
    assert "standing pull, lbf" in panel.words["On the vehicle"].html
    speed = before.middle.top_speed_kmh.value / 1.609344
    assert f"{speed:.1f} ±" in panel.status.text
    assert f"{speed:.1f} mph" in panel.pictures["road"].view.sentence
    for said in (panel.status.text, panel.pictures["road"].view.sentence, panel.saved_copy()._repr_html_()):
        assert "km/h" not in said
    panel.close()
