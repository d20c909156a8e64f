"""Notebook 4 in a real browser: runs, follows what is typed, says what is wrong, leaves no error in the console."""

from __future__ import annotations

import pytest

from ridesim.show.choose_pack.inputs import DEFAULT_TEXTS, answer, wish_of
from tests.browser.lab import save_and_reload
from tests.browser.panel import press_tab

NOTEBOOK = "4_choose_pack.ipynb"

pytestmark = [pytest.mark.browser, pytest.mark.thorough]


def _box(page, label: str):
    return page.locator(f'input[data-spoken="{label}"]')


def test_the_pack_notebook_in_a_browser(opens, shots):
    opened = opens(NOTEBOOK)
    page = opened.page
    opened.run(pictures=1)
    expected = answer(wish_of(DEFAULT_TEXTS))
    page.wait_for_function("() => document.body.innerText.includes('are usable')")
    assert f"{expected.lead.usable_wh.value:.0f} are usable" in page.inner_text("body")
    top = page.locator(".ridesim-desk").bounding_box()["y"]
    assert 0 <= top < 600, "running all cells leaves the answer in sight"
    page.wait_for_function("() => !document.querySelector('.ridesim-lines').innerText.includes('reckoning')")
    page.screenshot(path=shots / "choose_pack.png")
    clean(page)
    opened.looked_at()

    for tab in ("charging", "weak", "sheet"):
        press_tab(page, tab)
        page.wait_for_function(
            "() => [...document.querySelectorAll('.ridesim-picture canvas')].some((c) => c.offsetParent && c.ariaLabel)"
        )
        page.wait_for_timeout(300)
        page.screenshot(path=shots / f"choose_pack_{tab}.png")
        clean(page)
    cut = page.locator(".ridesim-pack-sheet").evaluate("(e) => e.scrollWidth - e.clientWidth")
    assert cut <= 0, "every box of the data sheet is whole"

    rows = _box(page, "Hours, row 2")
    rows.fill("ten")
    rows.press("Enter")
    page.wait_for_selector(".ridesim-problem")
    assert "row 2" in page.inner_text(".ridesim-problem")
    assert rows.get_attribute("aria-invalid") == "true"
    rows.fill("10")
    rows.press("Enter")
    page.wait_for_function("() => ![...document.querySelectorAll('.ridesim-is-old')].some((e) => e.offsetParent)")

    page.locator(".ridesim-tabs [data-key=charging]").click()
    charger = _box(page, "Charger, A")
    charger.fill("2")
    charger.press("Enter")
    slow = answer(wish_of({**DEFAULT_TEXTS, "charger": "2"}))
    hours = slow.lead.charging.night.hours_to[0.95]
    page.wait_for_function(f"() => document.body.innerText.includes('95 % {hours:.1f} h')")
    save_and_reload(page)
    page.locator(".ridesim-tabs [data-key=charging]").click()
    charger.wait_for()
    assert charger.input_value() == "2", "what is reckoned with, not what stood there at first"


def clean(page) -> None:
    """Nothing is wider than the panel."""
    wide = page.evaluate(
        """() => { const desk = document.querySelector('.ridesim-desk').getBoundingClientRect();
        return [...document.querySelectorAll('.ridesim-desk *')].filter((e) => e.offsetParent && !e.closest('.ridesim-unseen')
          && (e.getBoundingClientRect().right > desk.right + 1)).map((e) => e.className); }"""
    )
    assert wide == []
