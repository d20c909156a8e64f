"""The chain notebook in a real browser: the shaft is dragged, moved by keys, typed; nothing is cut; words do not lie over each other."""

from __future__ import annotations

import pytest

import ridesim
from ridesim.sizing.chain_fit import chain_fit
from tests.browser.side_view import OVERLAPS, at_rest, looks_right
from tests.browser.test_choose_pack import clean

pytestmark = [pytest.mark.browser, pytest.mark.thorough]
NOTEBOOK = "5_chain_and_mounting.ipynb"
HERON = ridesim.load_build("heron_36v")


def says(page, words):
    """Wait until the verdict has these words."""
    page.wait_for_function("words => document.querySelector('.ridesim-answer').innerText.includes(words)", arg=words)


def shaft(page):
    return page.locator('.ridesim-desk .ridesim-mass[data-key="shaft"]')


def box(page, name):
    return page.locator(f'input[data-spoken="{name}"]')


def test_the_shaft_is_moved_and_the_chain_is_judged_anew(opens, shots):
    opened = opens(NOTEBOOK)
    page = opened.page
    opened.run(pictures=0)
    shaft(page).wait_for()
    opened.looked_at()
    says(page, chain_fit(HERON).verdict)
    page.wait_for_function("() => document.querySelector('.ridesim-desk .ridesim-table')")
    page.screenshot(path=shots / "chain_and_mounting.png")
    clean(page)
    assert page.evaluate(OVERLAPS) == []

    # By mouse: the sprocket stands under the pointer at once, and is judged where it is left.
    where = shaft(page).bounding_box()
    middle = where["x"] + where["width"] / 2, where["y"] + where["height"] / 2
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(middle[0] - 12, middle[1] + 20, steps=6)
    page.mouse.up()
    page.wait_for_function("() => document.querySelector('input[data-spoken=\"Forward, mm\"]').value !== '475'")
    x, z = at_rest(page, "mm")
    assert x < 475.0
    assert z < 374.0
    moved = {"drive.shaft_x_m": x / 1000.0, "drive.shaft_z_m": z / 1000.0, "drive.centre_distance_mm": None}
    says(page, chain_fit(HERON.changed(moved)).verdict)

    # By keys: a millimetre a press, ten with Shift; the focus stays.
    page.wait_for_timeout(500)  # a drawing that comes in now would replace the sprocket that is about to get the focus
    shaft(page).focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowUp")
    page.wait_for_function(
        "([x, z]) => Math.abs(document.querySelector('input[data-spoken=\"Forward, mm\"]').value - x) < 0.2"
        " && Math.abs(document.querySelector('input[data-spoken=\"Up, mm\"]').value - z) < 0.2",
        arg=[x + 3.0, z + 10.0],
    )  # fmt: skip
    assert page.evaluate("() => document.activeElement.dataset.key") == "shaft"

    # Typed, wrongly and rightly, and all of it back.
    box(page, "Up, mm").fill("high")
    box(page, "Up, mm").press("Enter")
    page.wait_for_function("() => document.querySelector('.ridesim-status').innerText.includes('“high”')")
    assert box(page, "Up, mm").get_attribute("aria-invalid") == "true"
    page.get_by_role("button", name="Back to file").click()
    typed_meanwhile(page)
    looks_right(page, shots, "chain", ("travel", "strength", "donor", "wheel", "order"))


def typed_meanwhile(page):
    """What is typed while an answer comes in stays, in boxes that get a value and in boxes that are made anew; so does what is marked."""
    chain = page.locator('.ridesim-chain-sizes [data-key="chain"] input')
    chain.fill("09B")
    says(page, chain_fit(HERON).verdict)
    page.wait_for_timeout(500)
    assert chain.input_value() == "09B"
    chain.press("Enter")
    page.wait_for_function("() => document.querySelector('.ridesim-status').innerText.includes('“09B”')")
    chain.fill("428")
    chain.press("Enter")
    box(page, "Up, mm").press("Control+a")
    says(page, "The chain 428 with 110 links fits")
    page.wait_for_timeout(500)
    page.keyboard.type("372")
    assert box(page, "Up, mm").input_value() == "372"
    page.keyboard.press("Tab")
    box(page, "Up, mm").fill("371")
    page.wait_for_timeout(500)
    page.keyboard.press("Tab")
    assert at_rest(page, "mm")[1] == 371.0
