"""The wiring notebook in a real browser: a line is pressed, values are typed, switches answered; nothing lies over anything; the keyboard does."""

from __future__ import annotations

import pytest

import ridesim
from tests.browser.panel import all_reached_by_keyboard, load_axe, press_tab, says, serious_violations

pytestmark = [pytest.mark.browser, pytest.mark.thorough]
NOTEBOOK = "6_wire_and_protect.ipynb"
WORDS = """() => [...document.querySelectorAll('.ridesim-desk .ridesim-diagram text')].map((e) => [e.textContent, e.getBoundingClientRect()])"""
OVERLAPS = f"""() => {{ const texts = ({WORDS})();
  return texts.flatMap(([a, p], i) => texts.slice(i + 1).filter(([, q]) => Math.min(p.right, q.right) - Math.max(p.left, q.left) > 2
    && Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top) > 4).map(([b]) => [a, b])); }}"""
SMALLEST = "() => Math.min(...[...document.querySelectorAll('.ridesim-desk .ridesim-diagram text')].map((e) => e.getBoundingClientRect().height))"
WIDER = """() => { const desk = document.querySelector('.ridesim-desk').getBoundingClientRect();
  return [...document.querySelectorAll('.ridesim-desk *')].filter((e) => e.offsetParent && !e.closest('.ridesim-unseen, .ridesim-diagram > *')
    && e.getBoundingClientRect().right > desk.right + 1).map((e) => e.className); }"""


def verdict_is(page, wiring):
    page.wait_for_function(
        "words => document.querySelector('.ridesim-desk .ridesim-answer').innerText === words",
        arg=wiring.verdict,
    )


def looks_right(page):
    """Every size of window, the keyboard, what axe finds, and every tab."""
    for width, height in ((600, 800), (1280, 720)):
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(400)
        assert page.evaluate(WIDER) == []
        assert page.evaluate(SMALLEST) >= 11.0, "it scrolls sideways and is not shrunk"
    all_reached_by_keyboard(page, "Build")
    load_axe(page)
    assert serious_violations(page) == []
    for tab in ("opens", "warm", "parts"):
        press_tab(page, tab)
        page.wait_for_selector(".ridesim-desk .ridesim-table")
        assert page.evaluate(WIDER) == []


def test_a_line_is_pressed_and_worked_on(opens, shots):
    opened = opens(NOTEBOOK)
    page = opened.page
    opened.run(pictures=0)
    heron = ridesim.load_build("heron_36v")
    page.wait_for_selector(".ridesim-desk .ridesim-findings")
    opened.looked_at()
    verdict_is(page, ridesim.wiring(heron, "harbour_festival"))
    page.screenshot(path=shots / "wiring.png")
    assert page.evaluate(OVERLAPS) == []

    # A slider on its way changes its own value alone, though what is proposed follows it.
    slider = page.get_by_role("slider", name="Length, one way, m, slider").bounding_box()
    page.mouse.move(slider["x"] + 22, slider["y"] + 9)
    page.mouse.down()
    page.mouse.move(slider["x"] + 0.7 * slider["width"], slider["y"] + 9, steps=20)
    page.mouse.up()
    page.wait_for_function("() => document.querySelector('input[data-spoken=\"Cable, mm²\"]').value === '10'")
    changed = "() => [...document.querySelectorAll('.ridesim-changed')].map((e) => e.dataset.key).join()"
    page.wait_for_function(f"() => ({changed})() === 'length_m'")  # the marks come just after the values
    page.keyboard.press("Control+z")
    verdict_is(page, ridesim.wiring(heron, "harbour_festival"))

    # A press on a line works on its circuit; what is typed there counts, and what means nothing is said.
    page.locator('.ridesim-line[data-circuit="1"]').click(position={"x": 120, "y": 20})
    page.wait_for_function("() => document.querySelector('.ridesim-wiring-steps select').value === 'motor'")
    page.wait_for_selector('.ridesim-line.ridesim-chosen[data-circuit="1"]', state="attached")
    section = page.locator('input[data-spoken="Cable, mm²"]')
    section.fill("2.5")
    section.press("Enter")
    thin = {
        "name": "motor", "role": "motor", "source": "controller", "load": "motor", "length_m": 0.7, "section_mm2": 2.5, "insulation_c": 105.0,
    }  # fmt: skip
    bad = ridesim.wiring(heron.changed({"wiring": {"circuit": [thin]}}), "harbour_festival")
    verdict_is(page, bad)
    page.wait_for_function("() => document.querySelector('.ridesim-watch').innerText.includes('STOP')")
    length = page.locator('input[data-spoken="Length, one way, m"]')
    length.fill("0")
    length.press("Enter")
    says(page, "length_m")
    assert length.get_attribute("aria-invalid") == "true"
    page.get_by_role("button", name="Back to proposal").click()
    verdict_is(page, ridesim.wiring(heron, "harbour_festival"))

    # A switch answers what the panel watches for.
    page.locator(".ridesim-tabs [data-key=switches]").click()
    page.get_by_label("A d.c. isolator in the pack's lead, in reach", exact=True).select_option("yes")
    page.wait_for_function("() => !document.querySelector('.ridesim-watch').innerText.includes('has a d.c. isolator')")
    looks_right(page)
