"""Notebook 2's two panels in a real browser, on one page: the answer on one screen, typing, wrong entries, keyboard, accessibility."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pytest

from ridesim.show.bench_motor.inputs import answer
from ridesim.show.bench_motor.panel import MAGNET
from ridesim.show.bench_motor.panel import SERIES as SERIES_PLAN
from ridesim.show.bench_motor.tables import CAUTIONS, ROWS, SERIES_CAUTIONS
from ridesim.vehicle import load_build
from tests.browser.conftest import opened_once
from tests.browser.lab import save_and_reload
from tests.browser.panel import (
    all_reached_by_keyboard,
    box,
    load_axe,
    old,
    says,
    serials,
    serious_violations,
    settle,
    shown_value,
    status,
    type_value,
)
from tests.long import LONG

pytestmark = [pytest.mark.browser, pytest.mark.thorough]


@dataclass(frozen=True)
class Bench:
    """A panel of the page, and the row of its shipped log that the tests change."""

    desk: str
    plan: Any
    log: str
    cautions: tuple[str, ...]
    kind: str
    place: int
    good: str
    other: str
    constant: str
    shown: str

    @property
    def row(self) -> str:
        """The row's name on the page."""
        return f"{self.plan.titles[self.kind]} {self.place + 1}"

    @property
    def named(self) -> str:
        """The row's speed as messages name it."""
        return f"{self.row}, turns/min"

    def expected(self, **changes: float) -> Any:
        """What Python makes of the shipped log, that row changed."""
        log = self.plan.load(self.log)
        rows = list(getattr(log, self.kind))
        rows[self.place] = rows[self.place].model_copy(update=changes)
        return answer(log.model_copy(update={self.kind: tuple(rows)}), load_build("heron_36v"), self.log)


SPIN = Bench(
    ".ridesim-spin", MAGNET, "heron_motor_bench", CAUTIONS, "free_spin", 2, "336", "330", "torque constant",
    "torque_constant_nm_per_a",
)  # fmt: skip
SERIES = Bench(
    ".ridesim-series", SERIES_PLAN, "winch_motor_loads", SERIES_CAUTIONS, "braked", 3, "664", "655", "series constant",
    "series_constant_nm_per_a2",
)  # fmt: skip
BOTH = pytest.mark.parametrize("bench", [SPIN, SERIES], ids=["spin test", "series-wound"])
FACTOR = {key: (factor, digits) for key, (_, _, factor, digits) in ROWS.items()}


@pytest.fixture(scope="module")
def page(chrome, lab):
    """The notebook run, for all tests; an error in the console fails the module in the end."""
    with opened_once(chrome, lab, "2_bench_test_motor.ipynb") as opened:
        opened.run()
        for each in (SPIN, SERIES):
            says(opened.page, each.expected().sentence, each.desk)
        opened.looked_at()
        yield opened.page
        said = opened.complained()
    assert said == []


TOP = 91.0
"""Where a notebook begins below JupyterLab's bars. [px]"""


def bring_up(page, bench: Bench) -> None:
    """Scroll the panel's first line to the top, and wait until nothing moves."""
    for _ in range(8):  # cells on the way get their size as they come into sight, and push the panel down
        page.evaluate("desk => document.querySelector(desk).scrollIntoView({ block: 'start' })", bench.desk)
        settle(page, 800.0)  # pictures that come into sight, or pass, are drawn at their size
        if page.locator(bench.desk).inner_text() and abs(page.locator(bench.desk).bounding_box()["y"] - TOP) < 60.0:
            return
    raise AssertionError(f"{bench.desk} does not come to the top: {page.locator(bench.desk).bounding_box()}")


def test_the_first_panel_answers_on_the_first_screen(page):
    page.evaluate("() => document.querySelector('.jp-WindowedPanel-outer').scrollTo(0, 0)")
    page.wait_for_timeout(300)
    line = page.locator(f"{SPIN.desk} .ridesim-status").bounding_box()
    assert line["y"] + line["height"] <= 900 - 24, "above the status bar without scrolling"


@BOTH
def test_cautions_entries_and_the_answer_stand_on_one_screen(page, shots, bench):
    bring_up(page, bench)
    text = page.locator(bench.desk).inner_text()
    assert all(caution in text for caution in bench.cautions)
    line = page.locator(f"{bench.desk} .ridesim-status").bounding_box()
    assert line["y"] + line["height"] <= 900 - 24
    # The boxes, the answer and what to measure next are on one screen.
    boxes = page.locator(f"{bench.desk} .ridesim-bench-row").last.bounding_box()
    further = page.locator(f"{bench.desk} .ridesim-words", has_text="Measure next").first.bounding_box()
    assert max(boxes["y"] + boxes["height"], further["y"] + further["height"]) <= 900 - 24
    assert status(page, bench.desk).startswith(bench.expected().sentence)
    assert page.evaluate(
        "desk => { const d = document.querySelector(desk).getBoundingClientRect(); return [...document.querySelectorAll("
        "`${desk} :is(input, select, button, canvas)`)].every((e) => e.getBoundingClientRect().right <= d.right + 1); }", bench.desk,
    ), "nothing runs out of the panel to the right"  # fmt: skip
    for canvas in page.locator(f"{bench.desk} .ridesim-picture canvas").all():
        assert canvas.get_attribute("aria-label")
    page.screenshot(path=shots / f"{bench.desk.removeprefix('.ridesim-')}_bench.png")


@BOTH
def test_a_measurement_typed_changes_fit_and_prediction_to_what_python_says(page, bench):
    bring_up(page, bench)
    neighbour = SERIES if bench is SPIN else SPIN
    before, beside = serials(page, bench.desk), serials(page, neighbour.desk)
    type_value(page, "turns/min", bench.row, bench.other)
    answer = bench.expected(speed_rpm=float(bench.other))
    says(page, answer.sentence, bench.desk)
    settle(page, 150.0)
    assert answer.sentence != bench.expected().sentence
    factor, digits = FACTOR[bench.shown]
    assert (
        shown_value(page, bench.constant, bench.desk)
        == f"{factor * answer.result.values[bench.shown].value:.{digits}f}"
    )
    top = answer.predictions[1].top_speed_kmh
    assert f"{top.value:.1f} ({top.low:.1f} to {top.high:.1f})" in page.locator(bench.desk).inner_text()
    assert all(new > was for was, new in zip(before, serials(page, bench.desk), strict=True)), "all four drawn anew"
    assert serials(page, neighbour.desk) == beside, "the other panel has no part in it"
    type_value(page, "turns/min", bench.row, bench.good)
    says(page, bench.expected().sentence, bench.desk)


MORE_WRONG = [
    (SPIN, "turns/min", SPIN.row, "0", "336", "parking brake"),
    (SPIN, "amps", SPIN.row, "0.7", "1.14", "current falling"),
    (SPIN, "volts", "Turned, leads open 1", "0", "0.9", "Never run it unloaded"),
    (SERIES, "turns/min", SERIES.row, "fast", "664", SERIES.named),
]


@pytest.mark.parametrize(
    ("bench", "label", "group", "wrong", "good", "said"),
    [
        (SPIN, "turns/min", SPIN.row, "fast", "336", SPIN.named),
        (SPIN, "volts", "Held, lamp in series 2", "1245", "1.245", "Held, lamp in series 2, volts"),
        (SERIES, "amps", SERIES.row, "10", "84.8", "525 W at the shaft from 121 W"),
        (SERIES, "volts", "Turned by hand, leads open 1", "9", "0.1", "magnets, or a field of its own"),
        *(MORE_WRONG if LONG else []),
    ],
)
def test_a_wrong_value_is_said_and_the_last_good_picture_stays(page, bench, label, group, wrong, good, said):
    bring_up(page, bench)
    desk = bench.desk
    constant, drawn = shown_value(page, bench.constant, desk), serials(page, desk)
    type_value(page, label, group, wrong)
    says(page, said, desk)
    assert all(old(page, desk)), "marked as old"
    assert not any(old(page, (SERIES if bench is SPIN else SPIN).desk))
    assert serials(page, desk) == drawn, "and not drawn anew"
    assert shown_value(page, bench.constant, desk) == constant
    assert box(page, label, group).input_value() == wrong, "what was typed is left as it is"
    assert page.locator(f'{desk} [role="group"][aria-label="{group}"] [aria-invalid="true"]').count() == 1
    assert page.locator(f"{desk} .ridesim-status").evaluate("e => e.scrollHeight <= e.clientHeight + 1"), "said in full"
    type_value(page, label, group, good)
    says(page, bench.expected().sentence, desk)
    assert not any(old(page, desk))
    assert page.locator(f'{desk} [aria-invalid="true"]').count() == 0


@BOTH
def test_everything_is_reached_by_keyboard(page, bench):
    bring_up(page, bench)
    all_reached_by_keyboard(page, f"Build, {bench.plan.name}", bench.desk)


@BOTH
def test_axe_finds_nothing_serious(page, bench):
    bring_up(page, bench)
    load_axe(page)
    for text, words in (("fast", bench.named), (bench.good, bench.expected().sentence)):
        type_value(page, "turns/min", bench.row, text)
        says(page, words, bench.desk)
        assert serious_violations(page, bench.desk) == []


def test_a_reloaded_page_shows_what_is_reckoned_with(page):
    """The kernel lives on: boxes, sentence and pictures come from it, not from the log as it was opened."""
    said = {bench.desk: bench.expected(speed_rpm=float(bench.other)).sentence for bench in (SPIN, SERIES)}
    for bench in (SPIN, SERIES):
        bring_up(page, bench)
        type_value(page, "turns/min", bench.row, bench.other)
        says(page, said[bench.desk], bench.desk)
    save_and_reload(page)
    for bench in (SPIN, SERIES):
        says(page, said[bench.desk], bench.desk)
        assert box(page, "turns/min", bench.row).input_value() == bench.other
