"""The wiring panel without a browser: what is put in counts, what is left open is proposed, lists say what the wiring says."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pandas as pd
import pytest

import ridesim
from ridesim.data import shipped
from ridesim.show.units import METRIC
from ridesim.show.wiring.inputs import FIRST_TEXTS, WiringWish, answer, circuit_fields
from ridesim.show.wiring.panel import WireAndProtect
from ridesim.show.wiring.tables import lights_html, opens_html, schedule_html, watch_html
from ridesim.show.wiring.warmth import warm_html
from ridesim.sizing.lighting import supplies

HERON, DAY = ridesim.load_build("heron_36v"), FIRST_TEXTS["day"]


@pytest.fixture
def panel(tmp_path):
    made = WireAndProtect(FIRST_TEXTS, tmp_path)
    assert made.wait()
    yield made
    made.close()


def found(tmp_path, circuits=None, switches=None, **texts):
    return answer(WiringWish({**FIRST_TEXTS, **texts}, circuits or {}, switches or {}), tmp_path)


def typed(panel, **texts):
    """Type in the boxes of the circuit that is worked on."""
    panel.circuit.view.typed = {
        **panel.circuit.view.texts, **texts, "whose": panel.circuit.view.whose,
    }  # fmt: skip
    assert panel.wait()


def test_nothing_put_in_is_the_proposal(panel):
    wiring = ridesim.wiring(HERON, DAY)
    assert panel.answer.build == HERON
    assert panel.verdict.html == f"<p>{wiring.verdict}</p>"
    assert panel.circuit.texts["section_mm2"] == f"{wiring.sized[0].section_mm2:g}"
    assert panel.diagram.svg == ridesim.wiring_diagram(wiring)
    assert not panel.kept.path.exists()
    assert "competent person" in panel.status.text


def test_what_is_put_in_counts_and_the_rest_is_proposed_for_it(panel):
    typed(panel, length_m="5")
    main = panel.answer.named("main")
    assert main.demand.length_m == 5.0
    assert main.demand.section_mm2 is None
    assert main.section_mm2 > ridesim.wiring(HERON, DAY).sized[0].section_mm2
    assert panel.circuit.view.marks == {"length_m": "before: 0.7"}
    typed(panel, section_mm2="2.5")
    assert panel.answer.named("main").section_mm2 == 2.5
    assert "cannot be wired quite so" in panel.verdict.html
    assert "STOP" in panel.watch.html
    typed(panel, section_mm2="")
    assert panel.answer.named("main").section_mm2 == main.section_mm2
    typed(panel, protection="class-t", rating_a="50")
    assert panel.answer.named("main").protection.kind == "class-t"
    typed(panel, rating_a="60")
    assert panel.answer.named("main").protection.rating_a == 60.0
    panel._step_pressed("propose")
    assert panel.wait()
    assert panel.answer.build == HERON
    panel._step_pressed("undo")
    assert panel.wait()
    assert panel.answer.named("main").protection == ("class-t", 60.0)


def test_a_box_that_holds_a_former_proposal_is_not_taken_for_typed(panel):
    """A slider on its way is said before the page has heard of the section that its last stop needs."""
    for length in ("5", "5.1"):
        typed(panel, length_m=length, section_mm2="6", touched="length_m")
    main = panel.answer.named("main")
    assert (main.demand.length_m, main.demand.section_mm2) == (5.1, None)
    assert panel.circuit.texts["section_mm2"] == f"{main.section_mm2:g}" != "6"


def test_a_line_of_the_diagram_is_chosen_and_the_motor_has_no_fuse_to_choose(panel):
    panel.diagram.pressed = [1, 1, 0]
    assert panel.wait()
    assert panel.steps.texts["circuit"] == "motor"
    assert {field["key"] for field in panel.circuit.view.fields}.isdisjoint({"protection", "rating_a"})
    assert panel.diagram.chosen == 1
    panel.steps.view.typed = {"circuit": "charger"}
    assert panel.wait()
    assert panel.circuit.view.whose == "charger"
    panel.circuit.view.typed = {**panel.circuit.view.texts, "length_m": "4", "whose": "motor"}
    assert panel.wait()
    assert panel.answer.named("charger").demand.length_m == 1.0, "typed for another circuit, come in late"


def test_switches_are_a_list_of_three_answers(panel):
    assert len(panel.answer.wiring.silent) == 7
    assert panel.watch.html.count("Not said yet") == 1
    panel.switches.view.typed = {**panel.switches.texts, "isolator": "yes", "emergency_stop": "no"}
    assert panel.wait()
    described = panel.answer.build.wiring
    assert (described.isolator, described.emergency_stop, described.key_switch) == (True, False, None)
    assert len(panel.answer.wiring.silent) == 5
    panel.switches.view.typed = {**panel.switches.texts, "isolator": "unsaid"}
    assert panel.wait()
    assert panel.answer.build.wiring.isolator is None


def test_sized_by_the_days_own_currents(panel):
    panel.which.view.typed = {**panel.which.view.texts, "duty_known": "yes"}
    assert panel.wait()
    assert panel.answer.named("main").demand.continuous_a < HERON.controller.max_battery_current_a
    assert panel.which.texts["duty_known"] == "yes"
    panel.put(day="")
    assert panel.wait()
    assert panel.answer.wiring.ride is None
    assert "limits alone" in panel.status.text


@pytest.mark.parametrize(
    ("box", "text", "words"),
    [("length_m", "0", "length_m"), ("length_m", "far", "Length"), ("section_mm2", "0.2", "section_mm2"), ("bundled", "2.5", "whole")],
)  # fmt: skip
def test_what_cannot_be_is_said_at_its_box(panel, box, text, words):
    before, before_text = panel.diagram.svg, panel.circuit.texts[box]
    typed(panel, **{box: text})
    assert words in panel.status.text
    assert set(panel.circuit.view.problems) == {box}
    assert panel.diagram.svg == before
    typed(panel, **{box: before_text})
    assert panel.answer.build.wiring is None or panel.answer.wiring.unmet == ()
    assert not panel.circuit.view.problems
    assert "competent person" in panel.status.text


def test_a_build_or_a_day_that_is_not_there_is_said_at_its_box(panel):
    for box in ("build", "day"):
        panel.put(**{**FIRST_TEXTS, box: "nosuch"})
        assert panel.wait()
        assert "no such file" in panel.status.text
        assert set(panel.which.view.problems) == {box}


def test_it_comes_back_and_starts_afresh(panel, tmp_path):
    typed(panel, length_m="2", section_mm2="10")
    panel.switches.view.typed = {**panel.switches.texts, "isolator": "yes"}
    assert panel.wait()
    again = WireAndProtect(FIRST_TEXTS, tmp_path)
    assert again.wait()
    assert again.answer.build == panel.answer.build
    assert "Restored from 6_wire_and_protect.panel.toml" in again.status.text
    again._pressed("afresh")
    assert again.wait()
    assert again.answer.build == HERON
    again.close()


def test_saved_into_a_build_it_stands_as_it_was_shown_and_can_be_proposed_anew(panel, tmp_path):
    typed(panel, length_m="2")
    panel.files.view.typed = {"file": "mine"}
    panel._pressed("save")
    mine = ridesim.load_build(tmp_path / "mine.toml")
    shown = panel.answer.wiring
    assert [each.section_mm2 for each in mine.wiring.circuit] == [each.section_mm2 for each in shown.sized]
    assert ridesim.wiring(mine, DAY).unmet == ()
    panel.put(build="mine.toml")
    assert panel.wait()
    typed(panel, section_mm2="25")
    panel._step_pressed("propose")
    assert panel.wait()
    main = panel.answer.named("main")
    assert (main.demand.length_m, main.demand.section_mm2, main.demand.rating_a) == (2.0, None, None)
    panel._pressed("svg")
    panel._pressed("schedule")
    panel._pressed("parts")
    assert ET.parse(tmp_path / "wire_and_protect.svg").getroot().tag.endswith("svg")
    assert len(pd.read_csv(tmp_path / "wiring_schedule.csv")) == len(shown.sized)
    assert len(pd.read_csv(tmp_path / "wiring_parts.csv")) == len(panel.answer.wiring.parts)


def test_the_lists_as_files_carry_no_formula(tmp_path):
    text = (shipped("data") / "builds" / "heron_36v.toml").read_text(encoding="utf-8")
    lamp = HERON.lighting.load[0].name
    (tmp_path / "b.toml").write_text(text.replace(f'"{lamp}"', '"=HYPERLINK(1)"'), encoding="utf-8")
    panel = WireAndProtect({**FIRST_TEXTS, "build": "b"}, tmp_path)
    assert panel.wait()
    panel._pressed("schedule")
    panel._pressed("parts")
    panel.close()
    schedule, parts = ((tmp_path / f"wiring_{name}.csv").read_text(encoding="utf-8") for name in ("schedule", "parts"))
    assert "\n'=HYPERLINK(1)," in schedule
    assert "\n=HYPERLINK" not in schedule + parts
    assert ",=HYPERLINK" not in schedule + parts


def test_lists_say_what_the_wiring_says(tmp_path):
    here = found(tmp_path)
    for row in here.wiring.schedule.to_dict("records"):
        assert f"{row['drop_v']:.2f} V, {row['drop_percent']:.1f} %" in schedule_html(here, METRIC)
        assert row["reason"] in schedule_html(here, METRIC)
    assert f"{here.wiring.stall_a:.0f} A out of the pack" in opens_html(here, METRIC)
    assert "from memory" in opens_html(here, METRIC)
    assert supplies(HERON, DAY).sentence in lights_html(here, METRIC)
    dark = HERON.changed({"lighting": None})
    ridesim.save_build(dark, tmp_path / "dark.toml")
    assert "no lights" in lights_html(found(tmp_path, build="dark"), METRIC)
    weak = found(tmp_path, {"main": {"section_mm2": 1.5}})
    assert watch_html(weak, METRIC).index("STOP") < watch_html(weak, METRIC).index("Watch")


def test_how_warm_draws_the_chosen_cable_up_to_what_its_insulation_stands(panel):
    panel._tab_pressed("warm")
    assert panel.wait()
    rows = panel.answer.wiring.warmth.set_index("circuit")
    for name in ("main", "motor"):
        panel._choose(name)
        assert panel.wait()
        assert f"{name}: up to {rows.loc[name, 'hottest_c']:.0f} °C over the day" in panel.words.html
        picture = ET.fromstring(re.search(r"<svg.*?</svg>", panel.words.html)[0])
        heights = [float(each.split(",")[1]) for each in picture.find("polyline").get("points").split()]
        limit = next(each for each in picture.iter("line") if "warn" in each.get("style"))
        assert float(limit.get("y1")) < min(heights) < max(heights), (
            "the limit lies above, and the line is no straight one"
        )
    for row in panel.answer.wiring.warmth.to_dict("records"):
        assert row["where"] in panel.words.html.replace("&quot;", '"')
    panel.put(day="")
    assert panel.wait()
    assert "Without a day" in panel.words.html


def test_when_and_where_it_opens_stands_in_the_table_as_text(tmp_path):
    text = (shipped("data") / "days" / "harbour_festival.toml").read_text(encoding="utf-8")
    (tmp_path / "d.toml").write_text(
        text.replace('name = "Up the site ramp"', 'name = "<b>Ramp</b>"'), encoding="utf-8"
    )
    here = found(tmp_path, {}, {"duty_known": "yes"}, day="d")
    assert "may open at" in opens_html(here, METRIC)
    assert "&lt;b&gt;Ramp" in opens_html(here, METRIC)
    assert "<b>Ramp" not in opens_html(here, METRIC) + warm_html(here, METRIC)


def test_a_light_behind_a_converter_keeps_its_fuse_when_its_length_is_put_in(tmp_path):
    build = HERON.changed({"lighting.supply": "main-pack", "lighting.converter_efficiency": 0.85})
    ridesim.save_build(build, tmp_path / "shared.toml")
    here = found(tmp_path, {"wheel rings": {"length_m": 2.0}}, build="shared")
    assert here.named("wheel rings").protection == here.before.sized[3].protection
    assert here.wiring.unmet == ()


def test_every_circuit_of_every_shipped_build_has_its_boxes(tmp_path):
    for name in ridesim.data.names("builds"):
        here = found(tmp_path, build=name)
        for each in here.wiring.sized:
            keys = [field.key for field in circuit_fields(each)]
            assert keys[:4] == ["length_m", "section_mm2", "insulation_c", "ambient_c"]


def test_imperial_shows_feet_and_fahrenheit(panel):
    panel.put(units="imperial")
    assert panel.wait()
    assert panel.circuit.texts["length_m"] == f"{0.7 / 0.3048:.1f}"
    assert panel.circuit.texts["ambient_c"] == "104"
    for tab in WireAndProtect.tables:
        panel._tab_pressed(tab)
        assert panel.wait()
        assert " ft" in panel.diagram.svg
        assert not re.search(r"\d °C|\d m\b(?!m)", re.sub("“.*?”", "", panel.words.html)), tab


def test_what_users_wrote_is_text_not_markup(tmp_path):
    text = (shipped("data") / "builds" / "heron_36v.toml").read_text(encoding="utf-8")
    (tmp_path / "b.toml").write_text(text.replace('"wheel rings"', '"<script>x</script>"'), encoding="utf-8")
    panel = WireAndProtect({**FIRST_TEXTS, "build": "b"}, tmp_path)
    panel.wait()
    panel.chosen = "<script>x</script>"
    for tab in WireAndProtect.tables:
        panel._tab_pressed(tab)
        panel.wait()
        assert "<script" not in panel.words.html + panel.line.html + panel.diagram.svg + panel.watch.html
    panel.close()
