"""The main panel in Python alone: nothing lost, errors said, the last good picture kept."""

from __future__ import annotations

import re
import threading
import time
import xml.etree.ElementTree as ET

import pytest

import ridesim
from ridesim.choose.gearing import as_fast
from ridesim.data import shipped
from ridesim.show.choose_drive.panel import ChooseDrive
from ridesim.show.panel.keep import Steps
from ridesim.show.panel.newest import WORK
from ridesim.show.sheet import build_sheet
from ridesim.show.units import IMPERIAL, METRIC
from tests.show.answers import quick_panels

BUILDS, DAY = ("heron_36v", "heron_48v"), "harbour_festival"


DRAWS = 32


@pytest.fixture(autouse=True)
def quick(monkeypatch, request):
    """Few draws, and hatches and remedies only where they are looked at."""
    monkeypatch.setattr("ridesim.show.choose_drive.inputs.DRAWS", DRAWS)
    quick_panels(monkeypatch, hatches="hatched" in request.node.name, remedies="mend" in request.node.name)


@pytest.fixture
def panel(tmp_path):
    made = ChooseDrive(BUILDS, DAY, tmp_path)
    made.wait()
    yield made
    made.close()


def row_of(panel, place):
    """The sliders of a candidate, chosen first, as by a press on its line."""
    panel.screen.lines.chosen = place
    return panel.screen.work


def move(panel, place, **texts):
    row = row_of(panel, place)
    row.view.typed = {**row.view.typed, **texts, "whose": row.view.whose}
    panel.wait()


def shown(panel):
    """Pictures of the open tab."""
    return {name: panel.pictures[name].png() for name in ("pull", "charge")}


def test_panel_shows_ridesim_compare(panel):
    expected = ridesim.compare([ridesim.load_build(name) for name in BUILDS], ridesim.load_day(DAY), DRAWS)
    assert panel.comparison.as_json() == expected.as_json()
    assert all(picture.startswith(b"\x89PNG") for picture in shown(panel).values())
    for line, verdict in zip(panel.screen.lines.lines, expected.verdicts, strict=True):
        assert (line["name"], line["level"], line["words"]) == (verdict.name, verdict.level, verdict.words)
        assert line["bar"] == pytest.approx(
            [verdict.spare_km.low, verdict.spare_km.value, verdict.spare_km.high], abs=1e-3
        )


def test_a_change_and_back(panel):
    before = shown(panel)
    move(panel, 0, motor_teeth="13")
    assert panel.builds[0].drive.motor_teeth == 13
    assert panel.screen.work.view.marks["motor_teeth"] == "the file says 11"
    assert panel.status.text.startswith("motor teeth 13 instead of 11: top speed 28.1 km/h instead of 24.2")
    assert shown(panel)["pull"] != before["pull"]
    panel._step_pressed("undo")
    panel.wait()
    assert panel.builds[0].drive.motor_teeth == 11
    assert panel.screen.work.view.marks == {}
    panel._step_pressed("redo")
    panel.wait()
    assert panel.builds[0].drive.motor_teeth == 13
    panel._menu_pressed("back")
    panel.wait()
    panel._former = None
    panel._request()
    panel.wait()
    assert shown(panel) == before


def test_a_slider_on_its_way_is_one_step(panel):
    panel._steps = Steps(clock=lambda: 0.0)  # however slow the machine
    for teeth in range(12, 18):
        move(panel, 0, motor_teeth=str(teeth))
    panel._step_pressed("undo")
    panel.wait()
    assert panel.builds[0].drive.motor_teeth == 11
    assert panel._steps.can == (False, True)


def test_what_is_typed_about_another_candidate_and_comes_late_is_dropped(panel):
    whose = panel.screen.work.view.whose
    row = row_of(panel, 1)
    row.view.typed = {**row.view.typed, "motor_teeth": "20", "whose": whose}
    panel.wait()
    assert [build.drive.motor_teeth for build in panel.builds] == [11, 11]


def test_a_wrong_value_keeps_the_last_good_picture_marked_old(panel):
    before = panel.pictures["pull"].png()
    move(panel, 0, wheel_teeth="1000000000")
    assert "of at most 400" in panel.status.text
    assert panel.pictures["pull"].png() == before
    assert all(picture.view.old for picture in panel.pictures.values())
    assert list(panel.screen.work.view.problems) == ["wheel_teeth"]
    assert panel.screen.work.view.typed["wheel_teeth"] == "1000000000", "left as typed"
    move(panel, 0, wheel_teeth="60")
    assert not panel.pictures["pull"].view.old
    assert panel.screen.work.view.problems == {}


def test_an_unforeseen_error_is_said_and_the_panel_goes_on(panel, monkeypatch):
    import ridesim.show.choose_drive.inputs as state

    real = state.reckon
    monkeypatch.setattr(state, "reckon", lambda *given: 1 / 0)
    move(panel, 0, motor_teeth="12")
    assert "ZeroDivisionError" in panel.status.text
    assert all(picture.view.old for picture in panel.pictures.values())
    monkeypatch.setattr(state, "reckon", real)
    move(panel, 0, motor_teeth="13")
    assert panel.builds[0].drive.motor_teeth == 13


def test_add_copy_remove_and_the_limit_of_four(panel):
    panel.add("puppet_cart")
    panel.wait()
    assert [build.name for build in panel.builds][2:] == ["Puppet cart, 24 V"]
    assert panel.screen.lines.chosen == 2
    panel.screen.lines.chosen = 0
    panel._menu_pressed("copy")
    panel.wait()
    assert panel.builds[3].name == "Heron, 36 V, copy"
    assert "Not saved: Heron, 36 V, copy" in panel.status.text
    panel._menu_pressed("copy")
    assert "four already" in panel.status.text
    for _ in range(3):
        panel._menu_pressed("remove")
    panel.wait()
    assert len(panel.builds) == 1
    panel._menu_pressed("remove")
    assert "one left" in panel.status.text
    panel._step_pressed("undo")
    panel.wait()
    assert len(panel.builds) == 2


def test_the_message_for_a_bad_build_is_that_of_check(panel, tmp_path):
    (tmp_path / "bad.toml").write_text("name = 3\n[vehicle]\n", encoding="utf-8")
    with pytest.raises(ridesim.InputProblem) as expected:
        ridesim.load_build(tmp_path / "bad.toml")
    panel.screen.another.view.typed = {**panel.screen.another.view.typed, "open": "bad"}
    panel._menu_pressed("add")
    assert str(expected.value) in panel.status.text


def test_unit_switch_changes_no_number_underneath(panel):
    before = panel.comparison.as_json()
    panel.screen.files.view.typed = {**panel.screen.files.view.typed, "units": "imperial"}
    panel.wait()
    assert "mph" in panel.pictures["pull"].view.sentence
    assert "mph" in panel.screen.table.html
    assert panel.screen.lines.scale["ticks"][1][1].endswith(" mi")
    assert "mi to spare" in panel.screen.lines.lines[0]["why"]
    assert panel.comparison.as_json() == before
    for tab in ("all", "sure", "heat", "pull"):
        panel._tab_pressed(tab)
        panel.wait()
    pictures = [text for each in panel.pictures.values() for text in (each.view.sentence, each.view.alt)]
    words = [panel.screen.findings.html, panel.screen.table.html, panel.screen.sure.html, panel.status.text]
    page = re.sub(r'data:image[^"]*', "", build_sheet(panel.comparison, IMPERIAL).page)
    answer = re.sub(r'<section class="[^"]*values.*?</section>', "", page, flags=re.DOTALL)
    for text in [*pictures, *words, str(panel.screen.lines.lines), answer]:
        assert re.findall(r".{20}\d[ \u00a0](?:km/h|km|kg|°C|N)(?![\w/ ]| m).{10}", text) == []


def test_a_bad_value_stays_marked_while_draws_of_the_last_good_one_are_missing(panel, monkeypatch):
    monkeypatch.setattr("ridesim.show.choose_drive.inputs.DRAWS", 512)  # so that they are still to come
    row = panel.screen.work
    row.view.typed = {**row.view.typed, "motor_teeth": "12", "whose": row.view.whose}
    time.sleep(0.04)
    row.view.typed = {**row.view.typed, "motor_teeth": "many", "whose": row.view.whose}
    panel.wait()
    assert "many" in panel.status.text
    assert all(picture.view.old for picture in panel.pictures.values())


def test_the_still_copy_escapes_names(panel):
    panel.screen.menu.view.typed = {
        **panel.screen.menu.view.typed,
        "name": "<img src=x>",
        "whose": panel.screen.menu.view.whose,
    }
    panel.wait()
    assert "<img src=x" not in panel._still_html()
    assert "&lt;img src=x&gt;" in panel._still_html()


@pytest.mark.thorough
def test_exports_write_over_nothing(panel, tmp_path):
    for _ in range(2):
        for button in ("png", "svg", "csv"):
            panel._desk_pressed(button)
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "choose_drive.csv", "choose_drive.png", "choose_drive.svg", "choose_drive_2.csv", "choose_drive_2.png", "choose_drive_2.svg",
    ]  # fmt: skip
    assert (
        (tmp_path / "choose_drive.csv")
        .read_text(encoding="utf-8")
        .splitlines()[1]
        .startswith('"mass, rider aboard",kg,230.0,236.6,+6.6')
    )


@pytest.mark.thorough
def test_changes_from_many_threads_end_right(panel):
    def many(key, values):
        for value in values:
            row = panel.screen.work
            row.view.typed = {**row.view.typed, key: str(value)}

    threads = [
        threading.Thread(target=many, args=("wheel_teeth", range(40, 66))),
        threading.Thread(target=many, args=("wheel_teeth", range(66, 40, -1))),
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    panel.wait()
    (teeth, other) = [build.drive.wheel_teeth for build in panel.builds]
    assert str(teeth) == panel._slots[panel._chosen].texts["wheel_teeth"]
    assert other == 55
    expected = ridesim.compare(panel.builds, ridesim.load_day(DAY), DRAWS)
    assert panel.comparison.as_json() == expected.as_json()


def settled(panel):
    """Wait until the panel has kept what is set."""
    panel.wait()
    for _ in range(100):
        if panel.kept.path.exists() and not panel._worker._unsettled:
            return panel.kept.path.read_text(encoding="utf-8")
        time.sleep(0.05)
    raise AssertionError("nothing was kept")


def test_what_is_set_comes_back_with_the_next_run(panel, tmp_path):
    move(panel, 1, motor_teeth="13", wheel_teeth="nonsense")
    panel.screen.files.view.typed = {**panel.screen.files.view.typed, "units": "imperial"}
    kept = settled(panel)
    assert 'motor_teeth = "13"' in kept
    again = ChooseDrive(BUILDS, DAY, tmp_path)
    again.wait()
    try:
        assert again.screen.lines.chosen == 1
        assert again.screen.work.texts["motor_teeth"] == "13"
        assert again.screen.work.texts["wheel_teeth"] == "nonsense", "what was typed is never thrown away"
        assert again._system.name == "imperial"
        assert "Restored from 3_choose_drive.panel.toml" in again.status.text
        move(again, 1, wheel_teeth="55")
        again._desk_pressed("afresh")
        again.wait()
        assert [build.drive.motor_teeth for build in again.builds] == [11, 11]
    finally:
        again.close()
    other = ChooseDrive(["puppet_cart"], DAY, tmp_path)
    other.wait()
    try:
        assert [build.name for build in other.builds] == ["Puppet cart, 24 V"], (
            "asked for something else, it opens that"
        )
    finally:
        other.close()


def test_a_file_changed_since_counts_as_it_is_now(tmp_path):
    mine = tmp_path / "mine.toml"
    text = (shipped("data") / "builds" / "heron_36v.toml").read_text(encoding="utf-8")
    mine.write_text(text, encoding="utf-8")
    first = ChooseDrive([mine], DAY, tmp_path)
    first.wait()
    move(first, 0, motor_teeth="13")
    settled(first)
    first.close()
    mine.write_text(text.replace("motor_teeth = 11", "motor_teeth = 12"), encoding="utf-8")
    again = ChooseDrive([mine], DAY, tmp_path)
    again.wait()
    try:
        assert again.builds[0].drive.motor_teeth == 12
        assert "mine.toml was changed since, and counts as it is now" in again.status.text
    finally:
        again.close()


@pytest.mark.parametrize(
    "text", ["", "[", "day = 3\n", '[asked]\nbuilds = ["heron_36v", "heron_48v"]\nday = "harbour_festival"\n']
)
def test_a_kept_file_that_cannot_be_read_is_no_obstacle(tmp_path, text):
    (tmp_path / "3_choose_drive.panel.toml").write_text(text, encoding="utf-8")
    panel = ChooseDrive(BUILDS, DAY, tmp_path)
    panel.wait()
    try:
        assert [build.name for build in panel.builds] == ["Heron, 36 V", "Heron, 48 V"]
    finally:
        panel.close()


def test_sliders_are_hatched_where_a_wish_fails(panel):
    """Each end of a hatch by a comparison of its own: the first stop that fails and its neighbour that does not."""
    spans = panel.screen.work.view.hatches["motor_teeth"]
    stops = next(field for field in panel.screen.work.view.fields if field["key"] == "motor_teeth")["stops"]
    (first, last, word) = spans[-1]
    assert last == len(stops) - 1
    heron = ridesim.load_build(BUILDS[0])
    good, bad = (
        ridesim.compare(heron.changed({"drive.motor_teeth": stops[place]}), DAY, draws=0).verdicts[0]
        for place in (first - 1, first)
    )
    assert good.level == "yes"
    assert bad.level == "no"
    assert word == "below reserve"
    assert bad.wishes["keeps the reserve"] == 0.0


def test_two_files_of_one_name_are_told_apart(tmp_path):
    mine = tmp_path / "my_float.toml"
    mine.write_text((shipped("data") / "builds" / "heron_36v.toml").read_text(encoding="utf-8"), encoding="utf-8")
    panel = ChooseDrive([mine, "heron_36v"], DAY, tmp_path)
    try:
        assert [build.name for build in panel.builds] == ["Heron, 36 V (my_float)", "Heron, 36 V (heron_36v)"]
    finally:
        panel.close()


def test_of_four_that_nobody_touched_the_surest_is_worked_on(tmp_path):
    panel = ChooseDrive(["heron_36v", "heron_48v", "heron_lithium", "puppet_cart"], "harbour_festival", tmp_path)
    try:
        panel.wait()
        sure = [verdict.chance for verdict in panel.comparison.verdicts]
        chosen = panel.screen.lines.chosen
        assert sure[chosen] == max(sure)
        assert chosen != 0
        panel._choose(0)
        panel.wait()
        assert panel.screen.lines.chosen == 0, "what was chosen by hand stays"
    finally:
        panel.close()


def test_what_would_mend_it_stands_beside_what_to_watch(panel):
    panel.wait()
    verdict = panel.comparison.verdicts[0]
    assert verdict.level == "doubt"
    assert "What would mend it, each change alone (Heron, 36 V):" in panel.screen.findings.html
    assert verdict.remedies[0].what in panel.screen.findings.html
    panel._choose(1)
    panel.wait()
    assert "would do for" not in panel.screen.findings.html, "the other one does its day"


def test_the_sprocket_map_is_gearing_s_and_a_cell_sets_both_sprockets(panel):
    panel._tab_pressed("gears")
    assert panel.wait()
    svg = ET.fromstring(panel.screen.gears.svg)
    found = ridesim.gearing("heron_36v", DAY).set_index(["motor_teeth", "wheel_teeth"])
    cells = {
        (int(each.get("data-small")), int(each.get("data-large"))): each
        for each in svg.iter("{http://www.w3.org/2000/svg}g")
    }
    assert set(cells) == set(found.index)
    for pair, cell in cells.items():
        assert ("ridesim-does" in cell.get("class")) == found.loc[pair, "does"]
        assert found.loc[pair, "fails"] in cell.get("aria-label")
    assert [pair for pair, cell in cells.items() if "ridesim-chosen" in cell.get("class")] == [(11, 55)]
    assert [cell.get("tabindex") for cell in cells.values()].count("0") == 1
    assert f"{found['does'].sum()} of {len(found)} pairs" in panel.screen.gears.sentence
    panel.screen.gears.pressed = [12, 60, 1, 0]
    assert panel.wait()
    drive = panel.builds[0].drive
    assert (drive.motor_teeth, drive.wheel_teeth) == (12, 60)
    assert panel.screen.work.texts["wheel_teeth"] == "60"
    assert 'data-small="12" data-large="60"' in panel.screen.gears.svg.split("ridesim-chosen")[1][:200]
    panel._step_pressed("undo")
    assert panel.wait()
    assert panel.builds[0].drive.motor_teeth == 11


def test_the_sprocket_map_of_another_voltage_sets_the_blocks_too(panel):
    panel._tab_pressed("gears")
    assert panel.wait()
    gears = panel.screen.gears
    assert [(label, shown) for _, label, shown in gears.others] == [
        ("24 V", False),
        ("36 V", True),
        ("48 V", False),
        ("60 V", False),
    ]
    assert "A tooth more or less than 11:55: 10:55 " in gears.note
    gears.other = ["2", 1, 0]
    assert panel.wait()
    found = ridesim.gearing("heron_36v", DAY, {"blocks_in_series": [2]})
    assert f"{found['does'].sum()} of {len(found)} pairs" in gears.sentence
    panel._map_at(4)
    assert panel.wait()
    both = ridesim.gearing("heron_36v", DAY, {"blocks_in_series": [3, 4]})
    assert not both[both["blocks_in_series"] == 4]["does"].any()
    assert "As fast" not in gears.note, "no pair does the day at a voltage that the controller does not stand"
    panel._map_at(2)
    gears.pressed = [12, 60, 2, 0]
    assert panel.wait()
    assert (panel.builds[0].pack.blocks_in_series, panel.builds[0].drive.motor_teeth) == (2, 12)
    assert [shown for _, _, shown in gears.others].count(True) == 1
    panel._step_pressed("undo")
    assert panel.wait()
    assert panel.builds[0].pack.blocks_in_series == 3


def test_a_pair_at_another_voltage_that_is_as_fast_is_told_beside_the_map(panel):
    panel._choose(1)
    panel._tab_pressed("gears")
    assert panel.wait()
    panel.screen.gears.pressed = [11, 72, 1, 0]
    assert panel.wait()
    assert "As fast" not in panel.screen.gears.note
    panel._map_at(3)
    assert panel.wait()
    both = ridesim.gearing("heron_48v", DAY, {"blocks_in_series": [3, 4]})
    own = both[(both["blocks_in_series"] == 4) & (both["motor_teeth"] == 11) & (both["wheel_teeth"] == 72)].iloc[0]
    (other,) = as_fast(both, own.to_dict())
    pair = f"{other['motor_teeth']}:{other['wheel_teeth']}"
    assert (
        f"As fast, {other['top_speed_kmh']:.1f} km/h: {pair} at 36 V; {other['spare_km']:.1f} km to spare"
        in panel.screen.gears.note
    )


def test_sprockets_of_one_s_own_come_first_and_are_marked(panel, tmp_path):
    rows = ("chain,place,teeth,owned", "08B,motor,9 to 12,yes", "08B,wheel,55,yes", "08B,wheel,60 to 62,no")
    (tmp_path / "sprockets.csv").write_text("\n".join(rows), encoding="utf-8")
    panel._tab_pressed("gears")
    assert panel.wait()
    svg = panel.screen.gears.svg
    assert svg.count("ridesim-cell ") == 4 * 4
    assert "9 to 55 teeth: yours, does the day" in svg
    assert svg.count("•") == sum(1 for _ in [n for n in (9, 10, 11, 12) if f"{n} to 55 teeth: yours, does" in svg])


def test_an_answer_that_comes_late_does_not_take_back_a_choice(panel):
    former = panel.answer
    panel.screen.lines.chosen = 1
    with WORK:
        panel.screen.show(former, METRIC)
    assert panel.screen.lines.chosen == 1
    assert panel.wait()
    assert panel.answer.chosen == 1
