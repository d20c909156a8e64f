"""Notebook 4 in a real browser: runs, follows what is typed, says what is wrong, leaves no error in the console."""

from __future__ import annotations

import pytest

from ridesim.show.choose_pack.inputs import DEFAULT_TEXTS, answer, wish_of
from tests.browser.conftest import Opened
from tests.browser.lab import save_and_reload

NOTEBOOK = "4_choose_pack.ipynb"

pytestmark = pytest.mark.browser


def _box(page, label: str):
    return page.locator(f'input[data-spoken="{label}"]')


def test_the_pack_notebook_in_a_browser(chrome, lab, shots):
    opened = Opened(chrome, lab, NOTEBOOK)
    page = opened.page
    opened.run()
    expected = answer(wish_of(DEFAULT_TEXTS))
    page.wait_for_function("() => document.body.innerText.includes('are usable')", timeout=60_000)
    text = page.inner_text("body")
    assert f"{expected.lead.usable_wh.value:.0f} are usable" in text
    assert f"{100 * expected.lead.left.low:.0f} to {100 * expected.lead.left.high:.0f}" in text

    charger = _box(page, "Charger, A")
    charger.fill("2")
    charger.press("Enter")
    slow = answer(wish_of({**DEFAULT_TEXTS, "charger": "2"}))
    hours = slow.lead.charging.night.hours_to[0.95]
    page.wait_for_function(f"() => document.body.innerText.includes('95 % {hours:.1f} h')", timeout=20_000)

    rows = _box(page, "Data sheet, hours: Ah; hours: Ah; ...")
    rows.fill("20: 22; ten: 3")
    rows.press("Enter")
    page.wait_for_selector(".ridesim-problem", timeout=20_000)
    assert "row 2" in page.inner_text(".ridesim-problem")
    assert page.locator(".ridesim-is-old").count() == 4
    rows.fill(DEFAULT_TEXTS["rows"])
    rows.press("Enter")
    page.wait_for_function("() => !document.querySelector('.ridesim-is-old')", timeout=20_000)

    for canvas in page.locator(".ridesim-picture canvas").all():
        assert canvas.get_attribute("aria-label")
    page.screenshot(path=shots / "choose_pack.png")
    save_and_reload(page)
    charger.wait_for()
    assert charger.input_value() == "2", "what is reckoned with, not what stood there at first"
    opened.close()
    assert opened.complained() == []
