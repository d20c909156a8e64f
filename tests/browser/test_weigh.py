"""The weigh-in notebook in a real browser: blocks are dragged, moved by keys, typed; nothing is cut; it reads without a kernel."""

from __future__ import annotations

import pytest

import ridesim
from tests.browser.side_view import OVERLAPS, at_rest, looks_right
from tests.browser.test_choose_pack import clean

pytestmark = [pytest.mark.browser, pytest.mark.thorough]
NOTEBOOK = "1_weigh_and_balance.ipynb"
LOADS = "() => [...document.querySelectorAll('.ridesim-desk .ridesim-load')].map((e) => e.textContent)"


def shows(page, build):
    """Wait until both axle loads are those of a build."""
    found = ridesim.balance(build)
    loads = [f"{found.rear_kg.value:.0f} kg", f"{found.front_kg.value:.0f} kg"]
    page.wait_for_function(f"loads => JSON.stringify(({LOADS})()) === JSON.stringify(loads)", arg=loads)


def block(page, key):
    return page.locator(f'.ridesim-desk .ridesim-mass[data-key="{key}"]')


def test_blocks_are_moved_and_the_axle_loads_follow(opens, shots):
    opened = opens(NOTEBOOK)
    page = opened.page
    opened.run(pictures=0)
    heron = ridesim.load_build("heron_36v")
    block(page, "pack").wait_for()
    opened.looked_at()
    shows(page, heron)
    page.wait_for_function("() => document.querySelector('.ridesim-desk .ridesim-table')")
    assert "Two people can push it dead" in page.inner_text(".ridesim-answer")
    page.screenshot(path=shots / "weigh_and_balance.png")
    clean(page)
    assert page.evaluate(OVERLAPS) == []

    # By mouse: the block stands under the pointer at once, and where the kernel has it in the end.
    box = block(page, "pack").bounding_box()
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(middle[0] - 70, middle[1] - 40, steps=8)
    carried = page.evaluate("() => document.querySelector('.ridesim-desk [data-key=pack]').getBoundingClientRect().x")
    assert carried == pytest.approx(box["x"] - 70, abs=3)
    page.mouse.up()
    page.wait_for_function(
        "() => document.querySelector('.ridesim-answer').innerText.includes('than as the file has it')"
    )
    x, z = at_rest(page, "m")
    assert x < heron.pack.x_m
    assert z > heron.pack.z_m
    shows(page, heron.changed({"pack.x_m": x, "pack.z_m": z}))

    # By keys: a centimetre a press, the focus stays on the block.
    page.wait_for_timeout(500)  # a drawing that comes in now would replace the block that is about to get the focus
    block(page, "motor").focus()
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowUp")
    moved = {"pack.x_m": x, "pack.z_m": z, "motor.x_m": heron.motor.x_m + 0.05, "motor.z_m": heron.motor.z_m + 0.10}
    page.wait_for_function(
        "([x, z]) => document.querySelector('input[data-spoken=\"Forward, m\"]').value === x"
        " && document.querySelector('input[data-spoken=\"Up, m\"]').value === z", arg=["0.27", "0.46"],
    )  # fmt: skip
    shows(page, heron.changed(moved))
    assert page.evaluate("() => document.activeElement.dataset.key") == "motor"

    # Typed, and all of it back.
    up = page.locator('input[data-spoken="Up, m"]')
    up.fill("high")
    up.press("Enter")
    page.wait_for_function("() => document.querySelector('.ridesim-status').innerText.includes('“high”')")
    assert up.get_attribute("aria-invalid") == "true"
    page.get_by_role("button", name="Back to file").click()
    shows(page, heron)

    looks_right(page, shots, "weigh", ("moving", "tray", "scales"))
