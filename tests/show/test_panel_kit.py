"""What every panel is made of, in Python alone: the newest wish only, whole answers, steps back, the status line."""

from __future__ import annotations

import gc
import sys
import threading
import time

import pytest

from ridesim.show.panel.files import day_of
from ridesim.show.panel.keep import Steps
from ridesim.show.panel.messages import Status
from ridesim.show.panel.newest import NewestOnly


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

    def whole(item):
        calls.append(("begun", item))
        yield
        calls.append(("whole", item))

    newest = NewestOnly(calls.append, calls.append, whole, finish_s=0.15)
    for item in range(5):
        newest.request(item)
        time.sleep(0.01)
    assert newest.wait(5.0)
    newest.close()
    assert [each for each in calls if isinstance(each, tuple)] == [("begun", 4), ("whole", 4)], (
        "only the last is made whole"
    )


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
    assert gc.get_freeze_count() <= frozen


def test_steps_join_what_is_changed_together():
    now = [0.0]
    steps = Steps(clock=lambda: now[0])
    assert steps.note("a", "x")
    now[0] = 1.0
    assert not steps.note("b", "x")
    now[0] = 2.0
    assert steps.note("c", "y")
    assert steps.back("d") == "c"
    assert steps.back("c") == "a"
    assert steps.back("a") is None
    assert steps.forth("a") == "c"
    assert steps.note("c", "z")
    assert steps.forth("e") is None


def test_a_day_is_read_with_its_route_as_it_is_now(tmp_path):
    (tmp_path / "fair.toml").write_text('[[activity]]\nname = "lap"\nstart = 13:00:00\nroute = "lap.csv"\n')
    for metres in (200.0, 900.0):
        (tmp_path / "lap.csv").write_text(f"length_m,speed_kmh,grade_percent,surface,stop_s\n{metres},10,0,asphalt,0\n")
        assert day_of("fair", tmp_path).activity[0].planned_m == metres


def test_status_escapes_what_comes_from_outside():
    status = Status()
    status.say("<img src=x onerror=alert(1)>", "problem")
    assert "<img" not in status.view.html
