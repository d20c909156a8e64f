"""Notebook 2 in a real browser: the answer on the first screen, typing, wrong entries, keyboard, accessibility, a quiet console."""

from __future__ import annotations

import os

import pytest

from ridesim.bench.spin_log import load_spin_log
from ridesim.build import load_build
from ridesim.show import bench_state
from ridesim.show.bench_words import CAUTIONS
from tests.browser.lab import HARMLESS, open_notebook, run_all, wait_for_pictures
from tests.browser.panel import SERIALS, all_reached_by_keyboard, box, load_axe, old, serious_violations, settle, status

pytestmark = pytest.mark.browser
NOTEBOOK = "2_bench_test_motor.ipynb"
SPIN = "Free spin 3"
THIRD = 2
"""Place of that row in the log."""


@pytest.fixture(scope="module")
def bench(chrome, lab):
    """A page of 1440 × 900 with the bench notebook run; console errors and page errors fail the module in the end."""
    page = chrome.new_page(viewport={"width": 1440, "height": 900})
    complaints: list[str] = []
    page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda e: complaints.append(str(e)))
    open_notebook(page, lab, NOTEBOOK)
    run_all(page)
    wait_for_pictures(page)
    for _ in range(9):  # from the last cell back up: a page keeps only the cells near the one in sight
        page.keyboard.press("k")
    says(page, "12 V on the stand")
    yield page
    page.close()
    for session in lab.ask("/api/sessions"):
        lab.ask(f"/api/sessions/{session['id']}", method="DELETE")
    assert [text for text in complaints if not any(word in text for word in HARMLESS)] == []


def says(page, words: str) -> None:
    page.wait_for_function(
        "words => document.querySelector('.ridesim-status').innerText.includes(words)", arg=words, timeout=60_000
    )


def type_value(page, label: str, group: str, text: str) -> None:
    field = box(page, label, group)
    field.fill(text)
    field.press("Enter")


def expected(**third) -> bench_state.BenchAnswer:
    """What Python makes of the shipped log, its third free spin changed."""
    log = load_spin_log("heron_motor_bench")
    spins = list(log.no_load)
    spins[THIRD] = spins[THIRD].model_copy(update=third)
    return bench_state.answer(log.model_copy(update={"no_load": tuple(spins)}), load_build("heron_36v"))


def shown_constant(page) -> str:
    """The torque constant in the panel's own table, not in the still copy below it."""
    return page.evaluate(
        "() => [...document.querySelectorAll('.ridesim-desk tr')].find((r) => r.innerText.startsWith('torque constant'))"
        ".querySelector('td').innerText"
    )


def test_cautions_entries_and_the_answer_stand_on_the_first_screen(bench):
    bench.evaluate("() => document.querySelector('.jp-WindowedPanel-outer').scrollTo(0, 0)")
    bench.wait_for_timeout(300)
    text = bench.locator(".ridesim-desk").inner_text()
    assert all(caution in text for caution in CAUTIONS)
    line = bench.locator(".ridesim-status").bounding_box()
    assert line["y"] + line["height"] <= 900 - 24, "above the status bar without scrolling"
    assert status(bench) == expected().sentence
    kept = os.environ.get("RIDESIM_SCREENSHOTS")
    if kept:
        bench.screenshot(path=os.path.join(kept, "bench_motor.png"))


def test_a_measurement_typed_changes_fit_and_prediction_to_what_python_says(bench):
    settle(bench)
    before = bench.evaluate(SERIALS)
    type_value(bench, "turns/min", SPIN, "330")
    answer = expected(speed_rpm=330.0)
    says(bench, answer.sentence)
    settle(bench)
    assert answer.sentence != expected().sentence
    assert shown_constant(bench) == f"{answer.result.torque_constant_nm_per_a.value:.4f}"
    top = answer.predictions[1].top_speed_kmh
    assert f"{top.value:.1f} ({top.low:.1f} to {top.high:.1f})" in bench.locator(".ridesim-desk").inner_text()
    after = bench.evaluate(SERIALS)
    assert all(new > was for was, new in zip(before, after, strict=True)), "all four pictures are drawn anew"
    type_value(bench, "turns/min", SPIN, "336")
    says(bench, expected().sentence)


@pytest.mark.parametrize(
    ("label", "group", "wrong", "good", "said"),
    [
        ("turns/min", SPIN, "fast", "336", "no_load[3].speed_rpm"),
        ("turns/min", SPIN, "0", "336", "parking brake"),
        ("amps", SPIN, "0.7", "1.14", "current falling"),
        ("volts", "Shaft turned, leads open 1", "0", "0.9", "Never run it unloaded"),
        ("volts", "Rotor held, lamp in series 2", "1245", "1.245", "locked[2].voltage_v"),
    ],
)
def test_a_wrong_value_is_said_and_the_last_good_picture_stays(bench, label, group, wrong, good, said):
    settle(bench)
    constant, serials = shown_constant(bench), bench.evaluate(SERIALS)
    type_value(bench, label, group, wrong)
    says(bench, said)
    assert all(old(bench)), "marked as old"
    assert bench.evaluate(SERIALS) == serials, "and not drawn anew"
    assert shown_constant(bench) == constant
    assert box(bench, label, group).input_value() == wrong, "what was typed is left as it is"
    assert bench.locator(f'.ridesim-desk [role="group"][aria-label="{group}"] [aria-invalid="true"]').count() == 1
    type_value(bench, label, group, good)
    says(bench, expected().sentence)
    settle(bench)
    assert not any(old(bench))
    assert bench.locator('.ridesim-desk [aria-invalid="true"]').count() == 0


def test_everything_is_reached_by_keyboard(bench):
    all_reached_by_keyboard(bench, "Vehicle, Bench")


def test_axe_finds_nothing_serious(bench):
    load_axe(bench)
    for text, words in (("fast", "no_load[3].speed_rpm"), ("336", "12 V on the stand")):
        type_value(bench, "turns/min", SPIN, text)
        says(bench, words)
        settle(bench)
        assert serious_violations(bench) == []
