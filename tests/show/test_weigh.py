"""The weigh-in panel without a browser: what is moved counts, tables say what the functions say, nothing typed is lost."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

import ridesim
from ridesim.show.panel.drawing import Canvas
from ridesim.show.units import IMPERIAL, METRIC
from ridesim.show.weigh.inputs import FIRST_TEXTS, WeighWish, answer
from ridesim.show.weigh.panel import WeighAndBalance
from ridesim.show.weigh.pictures import TrayDiagram
from ridesim.show.weigh.side import LINE, side_svg
from ridesim.show.weigh.tables import balance_html, bolts_html, moving_html, scales_html, tray_html, watch_html
from ridesim.sizing.balance import bar_force_n, compare_places
from ridesim.sizing.moving import push

FISH_CART = """
name = "Fish cart"
drive = {motor_teeth = 11, wheel_teeth = 44, gearbox_ratio = 4.0}
controller = {max_battery_current_a = 30, max_motor_current_a = 60}
pack = {chemistry = "lead-acid-agm", blocks_in_series = 2, block_capacity_ah = 22}
[motor]
kind = "permanent-magnet"
no_load_speed_rpm = 3000
no_load_current_a = 2.2
resistance_ohm = 0.12
rated_power_w = 350
rated_voltage_v = 24
mass_kg = 5
[vehicle]
wheels = 3
[[vehicle.mass]]
item = "cart with fish"
mass_kg = 90
"""
"""A short build, invented: no places, no wheelbase, no brakes."""
HERON = ridesim.load_build("heron_36v")


@pytest.fixture
def panel(tmp_path):
    made = WeighAndBalance(FIRST_TEXTS, tmp_path)
    assert made.wait()
    yield made
    made.close()


def found(tmp_path, moved=None, **texts):
    return answer(WeighWish({**FIRST_TEXTS, **texts}, moved or {}), tmp_path)


def test_the_verdict_is_what_the_functions_say(tmp_path):
    here = found(tmp_path)
    assert push(HERON, 100.0 / 12.0).men == 2 < push(HERON, 12.5).men
    assert here.sentence.startswith("Two people can push it dead up 1 in 12, not 1 in 8.")
    assert f"{bar_force_n(HERON, 10.0):.0f} N at the bar hold it" in here.sentence
    high = found(tmp_path, {"pack.z_m": 0.9})
    more = bar_force_n(HERON.changed({"pack.z_m": 0.9}), 10.0) - bar_force_n(HERON, 10.0)
    assert f"{more:.0f} N more than as the file has it" in high.sentence
    light = found(tmp_path, {"vehicle.mass[1].mass_kg": 10.0, "vehicle.mass[2].mass_kg": 5.0})
    assert light.sentence.startswith("Two people can push it dead up 1 in 4")
    heavy = found(tmp_path, {"vehicle.mass[1].mass_kg": 300.0})
    assert heavy.sentence.startswith("Two people cannot push it dead up 1 in 12.")
    behind = found(tmp_path, {"vehicle.mass[1].x_m": -1.0, "vehicle.mass[2].x_m": -1.0})
    assert "it tips over its rear axle" in behind.sentence


def test_what_is_dragged_typed_and_stepped_back_counts(panel, tmp_path):
    panel._dragged(["pack", 0.30, 0.55, 1, 0])
    panel._dragged(["nobody", 9.0, 9.0, 2, 0])
    assert panel.wait()
    assert panel.answer.build.pack.x_m == 0.30
    assert panel.answer.shown.front_kg == ridesim.balance(HERON.changed({"pack.x_m": 0.30, "pack.z_m": 0.55})).front_kg
    assert panel.item.texts["x"] == "0.3"
    panel.item.view.typed = {**panel.item.view.texts, "item": "motor", "x": "0.3", "z": "0.55", "kg": "19.8"}
    assert panel.wait()
    assert panel.item.texts["item"] == "motor"
    panel.item.view.typed = {**panel.item.view.texts, "kg": "9"}
    assert panel.wait()
    assert panel.answer.build.motor.mass_kg == 9.0
    panel._step_pressed("undo")
    assert panel.wait()
    assert panel.answer.build.motor.mass_kg == HERON.motor.mass_kg
    panel._step_pressed("redo")
    assert panel.wait()
    again = WeighAndBalance(FIRST_TEXTS, tmp_path)
    assert again.wait()
    assert again.answer.build.motor.mass_kg == 9.0
    assert "Restored from 1_weigh_and_balance.panel.toml" in again.status.text
    again._pressed("afresh")
    assert again.wait()
    assert again.answer.build == HERON
    again.close()


def test_the_mass_of_blocks_is_typed_together(panel):
    panel.item.view.typed = {**panel.item.view.texts, "kg": "24"}
    assert panel.wait()
    assert panel.answer.build.pack.in_force.block_mass_kg == 8.0


@pytest.mark.parametrize(
    ("typed", "words"), [({"x": "far"}, "Forward"), ({"z": "-1"}, "pack.z_m"), ({"kg": "nan"}, "Weighs")]
)
def test_what_cannot_be_is_said_and_the_last_good_picture_stays(panel, typed, words):
    before = panel.side.svg
    panel.item.view.typed = {**panel.item.view.texts, **typed}
    assert panel.wait()
    assert words in panel.status.text
    assert panel.side.svg == before


def test_after_a_refusal_the_tables_are_those_of_the_build_that_is_shown(panel, tmp_path):
    (tmp_path / "fish.toml").write_text(FISH_CART, encoding="utf-8")
    panel._tab_pressed("bolts")
    for reference in ("fish", "nosuch.toml", "heron_36v"):
        panel.put(build=reference)
        assert panel.wait()
    assert panel.answer.build == HERON
    assert panel.words.html == bolts_html(panel.answer, METRIC)
    assert panel.watch.html == watch_html(panel.answer, METRIC)


def test_a_refused_mass_is_told_as_it_was_typed_and_keeps_nothing_back(panel):
    row = panel.item.view
    row.typed = {**row.texts, "kg": "-3"}
    assert panel.wait()
    assert "mass of the pack: found -3 kg for 3 blocks; expected a number above 0" in panel.status.text
    assert set(row.problems) == {"kg"}
    row.typed = {**row.texts, "kg": "19,8"}
    assert panel.wait()
    assert "found" not in panel.status.text
    assert row.problems == {}
    row.typed = {**row.texts, "kg": "-3"}
    assert panel.wait()
    panel._dragged(["pack", 0.30, 0.55, 1, 0])
    assert panel.wait()
    assert (panel.answer.build.pack.x_m, panel.answer.build.pack.mass_kg) == (0.30, HERON.pack.mass_kg)
    panel._step_pressed("undo")
    assert panel.wait()
    assert panel.answer.build == HERON


@pytest.mark.pictures
def test_the_tray_is_drawn_with_its_blocks(panel):
    drawing = TrayDiagram()
    assert len(set(Canvas(drawing).pixels(panel.answer, 480, 280).tobytes())) > 2
    assert [len(axes.patches) for axes in drawing.axes] == [1 + HERON.pack.blocks_in_series] * 2
    assert [len(axes.lines) for axes in drawing.axes] == [HERON.pack.blocks_in_series] * 2
    assert drawing.sentence(panel.answer).startswith("3 blocks fit; their centre lies")


def test_scales_are_compared_with_the_ledger(panel):
    panel._tab_pressed("scales")
    panel.put(who="alone", front="62", rear="98")
    assert panel.wait()
    assert "The ledger leaves out 5.0 kg" in panel.words.html
    panel.put(lifted="70", lift="0.3")
    assert panel.wait()
    assert "the usual shortcut L²·ΔW/(H·W) reads 1 to 2 % high" in panel.words.html
    panel.put(lifted="20", lift="0.3")
    assert panel.wait()
    assert "swapped" in panel.status.text
    assert set(panel.scales.view.problems) == {"lifted"}


def test_what_has_no_place_is_asked_for_and_stands_beside(tmp_path):
    cart = found(tmp_path, build="puppet_cart")
    assert "Not placed yet: motor, controller, pack, rider. Move it in the picture" in cart.sentence
    assert "ridesim-unplaced" in side_svg(cart, "pack", METRIC)
    assert cart.shown is None
    assert "Not placed yet" in balance_html(cart, METRIC)
    (tmp_path / "fish.toml").write_text(FISH_CART, encoding="utf-8")
    fish = found(tmp_path, build="fish")
    assert fish.sentence.endswith(
        "Not placed yet: cart with fish, motor, controller, pack, rider. Move it in the picture, or type where it is; type the wheelbase too."
    )
    drawn = ET.fromstring(side_svg(fish, "pack", METRIC))
    heights = sorted(float(each.get("y")) for each in drawn.iter() if each.get("class") == "ridesim-name")
    assert min(b - a for a, b in pairwise(heights)) >= LINE  # no name over another
    places = {f"{where}.{key}": 0.5 for where in ("motor", "controller", "pack", "rider") for key in ("x_m", "z_m")}
    assert found(tmp_path, places, build="puppet_cart").shown is not None


def test_tables_hold_what_was_asked_for(tmp_path):
    here = found(tmp_path)
    text = balance_html(here, METRIC)
    for each in (here.donor, here.alone, here.aboard):
        assert f"{each.mass_kg.value:.0f} kg" in text
    for row in compare_places(HERON, [0.38, 0.58, 0.78], [0.5, 0.4, 0.3]).itertuples():
        assert f"{row.front_percent:.0f} %, {row.bar_n:.0f} N" in text
    dead = push(HERON, 25.0)
    assert f"{dead.start_n:.0f} N" in moving_html(here, METRIC)
    assert "3 blocks, on any side, never upside down" in tray_html(here, METRIC)
    small = found(tmp_path, {})
    assert "fit" not in small.sentence
    tight = answer(WeighWish(FIRST_TEXTS, {}), tmp_path).build.changed({"pack.tray_mm": [200, 180, 100]})
    file = tmp_path / "tight.toml"
    ridesim.save_build(tight, file)
    assert "blocks do not fit the tray of 200 × 180 × 100 mm" in found(tmp_path, build="tight").sentence
    assert "Weigh each axle" in scales_html(here, METRIC)


def test_imperial_shows_pounds_and_feet(panel):
    panel.put(units="imperial")
    assert panel.wait()
    pounds = IMPERIAL.value(panel.answer.shown.front_kg.value, "kg")
    assert f"{pounds:.0f} lb" in panel.side.svg
    assert " kg" not in re.sub("“.*?”", "", panel.verdict.html + panel.words.html + panel.side.svg)
    assert panel.item.view.fields[1]["unit"] == "ft"


def test_a_number_that_was_left_alone_stays_to_the_last_digit_in_other_units(panel):
    panel.put(front="60.5", rear="80.2")
    panel.put(units="imperial")
    panel.scales.view.typed = {**panel.scales.texts, "lift": "1"}
    assert panel.wait()
    assert (panel.texts["front"], panel.texts["rear"], panel.texts["lift"]) == ("60.5", "80.2", "0.305")


def test_the_picture_is_svg_by_itself_and_blocks_lie_where_they_are(panel, tmp_path):
    panel._pressed("svg")
    (file,) = tmp_path.glob("*.svg")
    root = ET.fromstring(file.read_text(encoding="utf-8"))
    blocks = {g.get("data-key"): g for g in root.iter("{http://www.w3.org/2000/svg}g")}
    assert set(blocks) == {entry.where for entry in panel.answer.items}
    pixels, wheels = (
        float(root.get("data-pixels")),
        [c for c in root.iter("{http://www.w3.org/2000/svg}circle") if "wheel" in c.get("class")],
    )
    rear, front = (float(each.get("cx")) for each in wheels)
    assert (front - rear) / pixels == pytest.approx(HERON.vehicle.wheelbase_m, abs=1e-3)
    rect = blocks["motor"][1]
    assert (float(rect.get("x")) + float(rect.get("width")) / 2 - rear) / pixels == pytest.approx(
        HERON.motor.x_m, abs=2e-3
    )


def test_places_are_saved_into_a_build_of_ones_own(panel, tmp_path):
    panel._dragged(["motor", 0.25, 0.4, 1, 0])
    panel.wait()
    panel.files.view.typed = {"file": "mine"}
    panel._pressed("save")
    assert ridesim.load_build(tmp_path / "mine.toml").motor.x_m == 0.25
    panel._dragged(["motor", 0.26, 0.4, 2, 0])
    panel.wait()
    panel._pressed("save")
    assert "would change: motor.x_m 0.25 → 0.26" in panel.status.text


def test_what_users_wrote_is_text_not_markup(tmp_path):
    text = (ridesim.data.shipped("data") / "builds" / "heron_36v.toml").read_text(encoding="utf-8")
    (tmp_path / "b.toml").write_text(text.replace("frame, forks", "<script>x</script>"), encoding="utf-8")
    assert "<script" not in side_svg(found(tmp_path, build="b"), "", METRIC)


def test_the_wheelbase_is_typed(panel, tmp_path):
    (tmp_path / "fish.toml").write_text(FISH_CART, encoding="utf-8")
    panel.put(build="fish")
    assert panel.wait()
    assert panel.which.texts["wheelbase"] == ""
    panel.which.view.typed = {**panel.which.texts, "wheelbase": "long"}
    assert "Wheelbase" in panel.status.text
    panel.which.view.typed = {**panel.which.texts, "wheelbase": "1,25"}
    assert panel.wait()
    assert panel.answer.build.vehicle.wheelbase_m == 1.25
    assert "wheelbase" not in panel.verdict.html
    panel.which.view.typed = {**panel.which.texts, "wheelbase": "-1"}
    assert panel.wait()
    assert set(panel.which.view.problems) == {"wheelbase"}
    panel.which.view.typed = {**panel.which.texts, "build": "heron_36v"}
    assert panel.wait()
    assert panel.answer.build == HERON
    assert panel.which.texts["wheelbase"] == "1.38"
