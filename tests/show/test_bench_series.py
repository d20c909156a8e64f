"""The series-wound motor's panel without a browser: what it says, refuses, keeps and saves."""

from __future__ import annotations

import numpy as np
import pytest

from ridesim.bench.logs import load_log
from ridesim.data import shipped
from ridesim.ride.steady import top_speed_kmh
from ridesim.show.bench_motor import inputs as state
from ridesim.show.bench_motor.desk import BenchDesk
from ridesim.show.bench_motor.panel import MAGNET, SERIES
from ridesim.show.bench_motor.pictures import HeldDiagram, RoadDiagram
from ridesim.show.bench_motor.pictures_magnet import DragDiagram, SpeedDiagram
from ridesim.show.bench_motor.pictures_series import BrakedSpeedDiagram, TorqueDiagram
from ridesim.show.bench_motor.tables import SERIES_CAUTIONS, predictions_html
from ridesim.show.panel.drawing import Canvas
from ridesim.show.panel.keep import ENDING
from ridesim.show.units import METRIC
from ridesim.vehicle import load_build


@pytest.fixture
def panel(tmp_path):
    made = BenchDesk(SERIES, "winch_motor_loads", "heron_36v", folder=tmp_path)
    assert made.wait()
    yield made
    made.close()


def answer_of(**changes):
    log = load_log("winch_motor_loads").model_copy(update=changes)
    return state.answer(log, load_build("heron_36v"))


def type_in(panel, kind, place, **texts):
    row = panel.rows[kind][place]
    row.view.typed = {**row.texts, **texts}
    assert panel.wait()


def test_the_caution_stands_wherever_the_numbers_stand(panel):
    assert panel.status.text.startswith(panel.answer.sentence)
    assert "not told apart by your points" in panel.words["Advice"].html
    assert panel.words["Residuals"].html.count("<tr>") == 1 + 6
    assert "Never run it unloaded." in panel.status.text
    assert "never run it" in SERIES_CAUTIONS[0]
    assert "never run it" in panel.words["On the vehicle"].html
    assert "Never run it unloaded." in panel.pictures["speed"].view.alt
    assert "runs-away-unloaded" in {each.code for each in panel.answer.result.findings}
    for word in ("clamp", "fuse", "guard", "cut-out switch", "lamp", "2 s", "hot", "second person", "slips"):
        assert word in " ".join(SERIES_CAUTIONS).lower(), word


def test_a_new_row_counts_and_the_wrong_one_is_named_and_marked(panel):
    type_in(panel, "braked", 4, voltage_v="12,0", current_a="45", speed_rpm="1290", torque_nm="2.7")
    assert len(panel.answer.log.braked) == 5
    good = panel.pictures["torque"].png()
    type_in(panel, "braked", 4, speed_rpm="slow")
    assert "Braked, turning 5, turns/min" in panel.status.text
    assert "“slow”" in panel.status.text
    assert list(panel.rows["braked"][4].view.problems) == ["speed_rpm"]
    assert not any(row.view.problems for row in panel.rows["braked"][:4])
    assert all(picture.view.old for picture in panel.pictures.values())
    assert panel.pictures["torque"].png() == good
    type_in(panel, "braked", 4, speed_rpm="1290")
    assert not any(picture.view.old for picture in panel.pictures.values())


@pytest.mark.parametrize(
    ("kind", "place", "texts", "said"),
    [
        ("turned", 0, {"voltage_v": "9"}, "It has magnets"),
        ("turned", 0, {"voltage_v": ""}, "flies apart"),
        ("braked", 1, {"speed_rpm": "0"}, "Braked, turning 2, turns/min"),
        ("braked", 3, {"current_a": "10"}, "525 W at the shaft from 121 W at the terminals"),
        ("held", 1, {"current_a": "0.00872"}, "Rotor held, lamp in series 2"),
        ("held", 0, {"voltage_v": "nan"}, "Rotor held, lamp in series 1, volts"),
    ],
)
def test_what_cannot_be_is_said_in_one_line(panel, kind, place, texts, said):
    type_in(panel, kind, place, **texts)
    assert said in panel.status.text
    assert "\n" not in panel.status.text
    assert panel.pictures["road"].view.old


def test_a_winding_s_warmth_and_an_unknown_torque_count(panel):
    before = panel.answer.result.values["resistance_ohm"].value
    for place in range(4):
        type_in(panel, "braked", place, winding_c="70", torque_nm="")
    assert panel.answer.log.braked[0].winding_c == 70.0
    assert panel.answer.result.values["resistance_ohm"].value != before
    assert "no torque was measured" in panel.words["Advice"].html
    assert "torque (arm and spring scale)" in panel.answer.further[0].what


def test_the_prediction_is_that_of_the_vehicle_with_this_motor(panel, tmp_path):
    panel._pressed("put")
    built = load_build(tmp_path / "heron_36v_with_tested_motor.toml")
    assert built.motor.kind == "series-wound"
    assert "# " in (tmp_path / "heron_36v_with_tested_motor.toml").read_text(encoding="utf-8")
    shown = panel.answer.middle.top_speed_kmh
    assert top_speed_kmh(built) == pytest.approx(shown.value, rel=1e-3)  # the file holds four digits
    panel._pressed("put")
    assert panel.status.text.startswith("Saved"), "nothing would change"


def test_while_a_row_is_wrong_no_motor_is_saved_and_a_still_copy_says_that_it_is_old(panel, tmp_path):
    type_in(panel, "braked", 1, speed_rpm="slow")
    panel._pressed("put")
    assert "Mend the marked row first" in panel.status.text
    assert [file for file in tmp_path.iterdir() if not file.name.endswith(ENDING)] == []
    assert panel.saved_copy()._repr_html_().startswith("<p><b>Old")
    type_in(panel, "braked", 1, speed_rpm="1613")
    assert panel.saved_copy()._repr_html_().startswith("<figure")


def test_what_a_row_has_no_box_for_is_kept_until_the_row_changes(tmp_path):
    text = (shipped("data") / "logs" / "winch_motor_loads.toml").read_text(encoding="utf-8")
    file = tmp_path / "mine.toml"
    text = text.replace("current_a = 3.88", "current_a = 3.88\nend_voltage_v = 1.33\nend_current_a = 3.87")
    file.write_text(text.replace("speed_rpm = 998", "turns = 50\nseconds = 3.006"), encoding="utf-8")
    panel = BenchDesk(SERIES, file, "heron_36v", folder=tmp_path)
    assert panel.wait()
    assert panel.answer.log == load_log(file)
    panel._pressed("save")
    assert load_log(tmp_path / "my_motor_loads.toml") == load_log(file)
    assert "Never run it unloaded" in (tmp_path / "my_motor_loads.toml").read_text(encoding="utf-8")
    type_in(panel, "braked", 2, speed_rpm="990")
    assert panel.answer.log.braked[2].speed_rpm == 990.0
    panel.close()


@pytest.mark.parametrize(
    ("log", "drawing"),
    [
        *(("winch_motor_loads", each) for each in (TorqueDiagram, BrakedSpeedDiagram, RoadDiagram, HeldDiagram)),
        *(("heron_motor_bench", each) for each in (SpeedDiagram, DragDiagram, RoadDiagram, HeldDiagram)),
    ],
)
@pytest.mark.pictures
def test_pictures_hold_what_their_words_say(log, drawing):
    shown, made = state.answer(load_log(log), load_build("heron_36v")), drawing()
    canvas = Canvas(made)
    first = bytes(canvas.pixels(shown, 519, 300))
    assert bytes(canvas.pixels(shown, 519, 300)) == first
    assert canvas.full_draws == 1
    right, top = made.limits(shown)
    for line in made.axes.lines:
        x, y = np.asarray(line.get_xdata(), dtype=float), np.asarray(line.get_ydata(), dtype=float)
        assert x.max() <= right * 1.0001
        assert y.max() <= top * 1.0001
    width = canvas._figure.bbox.width
    boxes = [text.get_window_extent() for text in made.axes.texts]
    assert all(box.x1 <= width and box.x0 >= 0.0 for box in boxes), "no words run out of the picture"
    assert not any(one.overlaps(other) for i, one in enumerate(boxes) for other in boxes[:i]), "nor over each other"
    assert made.alt(shown).endswith(made.sentence(shown))
    assert "$" not in made.alt(shown)


def test_a_prediction_outside_the_currents_tested_says_so():
    log = load_log("winch_motor_loads")
    said = predictions_html(answer_of(braked=log.braked[:3]), METRIC)
    assert "80 A through at a stand, more than your heaviest row (58 A)" in said
    assert "Your fastest row turned 2552 a minute" in said
    said = predictions_html(answer_of(braked=log.braked[1:]), METRIC)
    assert "less than your lightest row" not in said


def test_the_still_copy_reads_without_a_kernel(panel):
    html = panel.saved_copy()._repr_html_()
    assert html.count("<img alt=") == html.count("<figcaption>") == 4
    assert "<script" not in html
    assert "never run it" in html


def test_no_two_controls_of_the_page_share_a_name(panel, tmp_path):
    other = BenchDesk(MAGNET, "heron_motor_bench", "heron_36v", folder=tmp_path)
    groups = [
        each.view.group
        for made in (panel, other)
        for each in (made.desk, made.setup, *(row for rows in made.rows.values() for row in rows))
    ]
    assert len(set(groups)) == len(groups)
    other.close()
