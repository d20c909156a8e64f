"""The kit and the assembled panel in Python alone: newest only, nothing lost, errors said, the last good picture kept."""

from __future__ import annotations

import gc
import sys
import threading
import time

import pytest

import ridesim
from ridesim.data import shipped
from ridesim.show.choose_drive.panel import ChooseDrive
from ridesim.show.panel.messages import Status
from ridesim.show.panel.newest import NewestOnly

BUILDS, DAY = ("heron_36v", "heron_48v"), "harbour_festival"


@pytest.fixture
def panel(tmp_path):
    made = ChooseDrive(BUILDS, DAY, tmp_path)
    made.wait()
    yield made
    made.close()


def move(panel, place, **texts):
    row = panel.rows[place]
    row.view.typed = {**row.view.typed, **texts}
    panel.wait()


def test_newest_only_draws_the_last_of_a_burst_one_at_a_time():
    done, inside = [], []

    def work(item):
        inside.append(1)
        assert len(inside) == 1, "two at a time"
        time.sleep(0.002)
        done.append(item)
        inside.pop()

    newest = NewestOnly(work, lambda problem: done.append(problem))
    threads = [threading.Thread(target=lambda k=k: [newest.request(100 * k + i) for i in range(50)]) for k in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    newest.request(999)
    assert newest.wait(10.0)
    newest.close()
    assert done[-1] == 999
    assert len(done) < 201
    assert not any(isinstance(item, BaseException) for item in done)


@pytest.mark.parametrize("problem", [ValueError("one"), KeyboardInterrupt()])
def test_newest_only_survives_what_its_work_raises(problem):
    done, failed = [], []

    def work(item):
        if item == "bad":
            raise problem
        done.append(item)

    newest = NewestOnly(work, failed.append)
    for item in ("bad", "good"):
        newest.request(item)
        assert newest.wait(5.0)
    newest.close()
    assert (done, failed) == (["good"], [problem])


def test_the_rest_of_an_answer_waits_for_the_slider_and_an_answer_is_whole_only_with_it():
    calls = []
    newest = NewestOnly(calls.append, calls.append, lambda item: calls.append(("whole", item)), finish_s=0.15)
    for item in range(5):
        newest.request(item)
        time.sleep(0.01)
    assert newest.wait(5.0)
    newest.close()
    assert [each for each in calls if isinstance(each, tuple)] == [("whole", 4)], "only the last is made whole"
    assert calls[-2:] == [4, ("whole", 4)]


def test_panels_leave_the_kernel_as_it_was():
    """Two at once, and one whose work fails: interval and collector are the user's again."""
    before, seen, frozen = sys.getswitchinterval(), [], gc.get_freeze_count()

    def work(item):
        seen.append((sys.getswitchinterval(), gc.isenabled()))
        time.sleep(0.02)
        if item == 2:
            raise RuntimeError("broken")

    panels = [NewestOnly(work, lambda problem: None) for _ in range(2)]
    for item in range(3):
        for each in panels:
            each.request(item)
        time.sleep(0.03)
    assert all(each.wait() for each in panels)
    for each in panels:
        each.close()
    assert max(interval for interval, _ in seen) == pytest.approx(0.0005)
    assert not any(collects for _, collects in seen)
    assert sys.getswitchinterval() == before
    assert gc.isenabled()
    assert gc.get_freeze_count() == frozen


def test_panel_shows_ridesim_compare(panel):
    expected = ridesim.compare([ridesim.load_build(name) for name in BUILDS], ridesim.load_day(DAY))
    assert panel.comparison.as_json() == expected.as_json()
    assert all(picture.png().startswith(b"\x89PNG") for picture in panel.pictures.values())


def test_a_change_and_back(panel):
    before = {name: picture.png() for name, picture in panel.pictures.items()}
    move(panel, 0, motor_teeth="13")
    assert panel.builds[0].drive.motor_teeth == 13
    assert panel.rows[0].view.marks["motor_teeth"] == "the file says 11"
    assert panel.pictures["pull"].png() != before["pull"]
    move(panel, 0, motor_teeth="11")
    assert {name: picture.png() for name, picture in panel.pictures.items()} == before
    assert panel.rows[0].view.marks == {}


def test_a_wrong_value_keeps_the_last_good_picture_marked_old(panel):
    before = panel.pictures["pull"].png()
    move(panel, 0, wheel_teeth="1000000000")
    assert "of at most 400" in panel.status.text
    assert panel.pictures["pull"].png() == before
    assert all(picture.view.old for picture in panel.pictures.values())
    assert "wheel_teeth" in panel.rows[0].view.problems
    assert panel.rows[0].view.typed["wheel_teeth"] == "1000000000", "left as typed"
    move(panel, 0, wheel_teeth="60")
    assert not any(picture.view.old for picture in panel.pictures.values())
    assert panel.rows[0].view.problems == {}


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
    panel._row_pressed(next(iter(panel._slots)), "copy")
    panel.wait()
    assert panel.builds[3].name == "Heron, 36 V, copy"
    assert "Not saved: Heron, 36 V, copy" in panel.status.text
    panel._row_pressed(next(iter(panel._slots)), "copy")
    assert "four already" in panel.status.text
    for _ in range(3):
        panel._row_pressed(next(iter(panel._slots)), "remove")
    panel.wait()
    assert len(panel.builds) == 1
    panel._row_pressed(next(iter(panel._slots)), "remove")
    assert "one left" in panel.status.text


def test_the_message_for_a_bad_build_is_that_of_check(panel, tmp_path):
    (tmp_path / "bad.toml").write_text("name = 3\n[vehicle]\n", encoding="utf-8")
    with pytest.raises(ridesim.InputProblem) as expected:
        ridesim.load_build(tmp_path / "bad.toml")
    panel.desk_controls.view.typed = {**panel.desk_controls.view.typed, "open": "bad"}
    panel._desk_pressed("add")
    assert str(expected.value) in panel.status.text


def test_unit_switch_changes_no_number_underneath(panel):
    before = panel.comparison.as_json()
    panel.desk_controls.view.typed = {**panel.desk_controls.view.typed, "units": "imperial"}
    panel.wait()
    assert "mph" in panel.pictures["pull"].view.sentence
    assert "lb" in panel.table.html
    assert panel.comparison.as_json() == before


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


def test_changes_from_many_threads_end_right(panel):
    def many(place, key, values):
        for value in values:
            row = panel.rows[place]
            row.view.typed = {**row.view.typed, key: str(value)}

    threads = [
        threading.Thread(target=many, args=(0, "wheel_teeth", range(40, 66))),
        threading.Thread(target=many, args=(1, "wheel_teeth", range(40, 62))),
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    panel.wait()
    assert [build.drive.wheel_teeth for build in panel.builds] == [65, 61]
    expected = ridesim.compare(panel.builds, ridesim.load_day(DAY))
    assert panel.comparison.as_json() == expected.as_json()


def test_status_escapes_what_comes_from_outside():
    status = Status()
    status.say("<img src=x onerror=alert(1)>", "problem")
    assert "<img" not in status.view.html


def test_two_files_of_one_name_are_told_apart(tmp_path):
    mine = tmp_path / "my_float.toml"
    mine.write_text((shipped("data") / "builds" / "heron_36v.toml").read_text(encoding="utf-8"), encoding="utf-8")
    panel = ChooseDrive([mine, "heron_36v"], DAY, tmp_path)
    try:
        assert [build.name for build in panel.builds] == ["Heron, 36 V (my_float)", "Heron, 36 V (heron_36v)"]
    finally:
        panel.close()
