"""The main notebook in a real JupyterLab and a real Chromium."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import pytest

import ridesim
from ridesim.show.tables.outcome import cell, rows_for
from ridesim.show.units import IMPERIAL, METRIC
from tests.browser.lab import ROOT, open_notebook, run_all, save_and_reload, wait_for_pictures
from tests.browser.panel import (
    all_reached_by_keyboard,
    box,
    load_axe,
    old,
    row,
    serious_violations,
    settle,
    slider,
    status,
    table,
)

pytestmark = pytest.mark.browser
DAY = "harbour_festival"


def expected(builds, system=METRIC):
    """The table's cells from ridesim.compare, by the same places."""
    comparison = ridesim.compare(builds, ridesim.load_day(DAY))
    return [[cell(line, c, system) for c in comparison.candidates] for line in rows_for(comparison)]


def shipped():
    return [ridesim.load_build("heron_36v"), ridesim.load_build("heron_48v")]


def type_value(page, label, name, text):
    field = box(page, label, name)
    field.fill(text)
    field.press("Enter")
    settle(page)


def test_shows_the_terminal_s_numbers_on_one_screen(own_page, shots):
    page = own_page
    settle(page)
    assert list(table(page).values()) == expected(shipped())
    area = page.locator(".ridesim-desk").bounding_box()
    assert area["y"] + area["height"] <= 900 - 24, "the panel ends above the status bar without scrolling"
    assert page.evaluate(
        "() => { const d = document.querySelector('.ridesim-desk'); return d.scrollHeight <= d.clientHeight + 1; }"
    )
    assert status(page).startswith("Harbour lantern festival")
    page.screenshot(path=shots / "choose_drive_1440.png")
    if os.environ.get("RIDESIM_README_PICTURE"):
        picture = ROOT / "notebooks" / "pictures" / "choose_drive.png"
        picture.parent.mkdir(exist_ok=True)
        page.locator(".ridesim-desk").screenshot(path=picture)
        assert picture.stat().st_size < 300_000


def test_slider_by_keyboard_and_mouse(page):
    handle = slider(page, "Motor teeth", "Heron, 36 V")
    handle.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    settle(page)
    first, second = shipped()
    assert box(page, "Motor teeth", "Heron, 36 V").input_value() == "13"
    thirteen = first.changed({"drive.motor_teeth": 13})
    assert list(table(page).values()) == expected([thirteen, second])
    assert "Not saved: Heron, 36 V" in status(page)

    place = slider(page, "Wheel teeth", "Heron, 48 V").bounding_box()
    page.mouse.move(place["x"] + place["width"] / 2, place["y"] + place["height"] / 2)
    page.mouse.down()
    page.mouse.move(place["x"] + 0.75 * place["width"], place["y"] + place["height"] / 2, steps=8)
    page.mouse.up()
    settle(page)
    teeth = int(box(page, "Wheel teeth", "Heron, 48 V").input_value())
    assert 60 < teeth < 85
    assert list(table(page).values()) == expected([thirteen, second.changed({"drive.wheel_teeth": teeth})])


def test_typed_values_scale_the_block_and_say_so(page):
    type_value(page, "Block capacity, Ah", "Heron, 36 V", "33")
    first, second = shipped()
    assert list(table(page).values()) == expected([first.changed({"pack.block_capacity_ah": 33.0}), second])
    assert "11 mΩ to 7.33 mΩ" in page.locator(".ridesim-desk .ridesim-findings").inner_text()


@pytest.mark.parametrize(
    ("label", "text", "said"),
    [
        ("Wheel teeth", "1000000000", "of at most 400"),
        ("Wheel teeth", "NaN", "a whole number"),
        ("Motor teeth", "many", "“many”"),
        ("Motor teeth", "11.5", "“11.5”"),
        ("Blocks in series", "0", "of at least 1"),
        ("Block capacity, Ah", "-3", "above 0"),
        ("Battery limit, A", "", "nothing"),
    ],
)
def test_bad_values_are_said_and_the_last_good_picture_stays(page, label, text, said):
    settle(page)
    good = table(page)
    type_value(page, label, "Heron, 36 V", text)
    assert said in status(page)
    assert "Not done." in status(page)
    assert all(old(page))
    assert table(page) == good
    assert box(page, label, "Heron, 36 V").get_attribute("aria-invalid") == "true"
    assert box(page, label, "Heron, 36 V").input_value() == text, "what was typed is left as it is, not clamped"
    type_value(
        page,
        label,
        "Heron, 36 V",
        {"Block capacity, Ah": "22", "Battery limit, A": "40", "Wheel teeth": "55", "Blocks in series": "3"}.get(
            label, "11"
        ),
    )
    assert not any(old(page))
    assert table(page) == good


def test_a_build_that_cannot_move(page):
    type_value(page, "Wheel teeth", "Heron, 36 V", "1")
    text = page.locator(".ridesim-desk .ridesim-findings").inner_text()
    assert "Will not start" in text
    assert "The day is not finished" in text
    assert not any(old(page))


def test_a_day_that_never_ends(own_page, lab):
    page = own_page
    text = (ROOT / "data" / "days" / f"{DAY}.toml").read_text(encoding="utf-8")
    (lab.folder / "endless.toml").write_text(
        text.replace('laps = 4\n\n[[activity]]\nname = "First', 'laps = 10000\n\n[[activity]]\nname = "First'),
        encoding="utf-8",
    )
    try:
        page.reload()
        wait_for_notebook(page, lab)
        settle(page)
        good = table(page)
        page.get_by_label("Day", exact=True).select_option("endless.toml")
        settle(page)
        assert "a day that ends" in status(page)
        assert all(old(page))
        assert table(page) == good
    finally:
        (lab.folder / "endless.toml").unlink()


def wait_for_notebook(page, lab):
    open_notebook(page, lab)
    run_all(page)
    wait_for_pictures(page)


def says(page, words: str) -> None:
    """Wait until the status line holds these words."""
    page.wait_for_function(
        "words => document.querySelector('.ridesim-status').innerText.includes(words)", arg=words, timeout=20_000
    )


def test_add_copy_rename_save_reopen(own_page, lab):
    page = own_page
    source = ROOT / "data" / "builds" / "puppet_cart.toml"
    shutil.copyfile(source, lab.folder / "my_cart.toml")
    (lab.folder / "broken.toml").write_text('name = "x"\n[vehicle]\nrolling_radius_m = -1.0\n', encoding="utf-8")
    page.get_by_label("Build file").fill("brokn")
    page.get_by_role("button", name="Add candidate").click()
    says(page, "no such file")
    page.get_by_label("Build file").fill("broken")
    page.get_by_role("button", name="Add candidate").click()
    with pytest.raises(ridesim.InputProblem) as complaint:
        ridesim.load_build(lab.folder / "broken.toml")
    says(page, str(complaint.value))  # the message is that of ridesim check
    page.get_by_label("Build file").fill("my_cart")
    page.get_by_role("button", name="Add candidate").click()
    cart = ridesim.load_build(source)
    row(page, cart.name).wait_for()
    settle(page)
    assert list(table(page).values()) == expected([*shipped(), cart])

    name = box(page, "Name", cart.name)
    name.fill("Cart with 12 teeth")
    name.press("Enter")
    settle(page)
    type_value(page, "Motor teeth", "Cart with 12 teeth", "12")
    assert "Not saved: Cart with 12 teeth" in status(page)
    save = page.get_by_role("button", name="Save to file, Cart with 12 teeth")
    save.click()
    page.wait_for_timeout(400)
    assert "my_cart.toml is there already and would change" in status(page)
    assert "drive.motor_teeth" in status(page)
    assert ridesim.load_build(lab.folder / "my_cart.toml").name == cart.name, "the first press writes nothing"
    save.click()
    page.wait_for_timeout(400)
    settle(page)
    assert "Saved Cart with 12 teeth as" in status(page)
    saved = ridesim.load_build(lab.folder / "my_cart.toml")
    assert (saved.name, saved.drive.motor_teeth) == ("Cart with 12 teeth", 12)
    assert "#" in (lab.folder / "my_cart.toml").read_text(encoding="utf-8"), "comments are kept"

    page.get_by_role("button", name="Copy, Heron, 36 V").click()
    row(page, "Heron, 36 V, copy").wait_for()
    settle(page)
    page.screenshot(path=Path(ROOT / ".ci" / "out" / "choose_drive_four.png"))
    page.get_by_role("button", name="Copy, Heron, 36 V", exact=True).click()
    page.wait_for_timeout(300)
    assert "four already" in status(page)
    page.get_by_role("button", name="Remove, Heron, 36 V, copy").click()
    row(page, "Heron, 36 V, copy").wait_for(state="detached")

    page.reload()
    wait_for_notebook(page, lab)
    page.get_by_label("Build file").fill("my_cart.toml")
    page.get_by_role("button", name="Add candidate").click()
    row(page, "Cart with 12 teeth").wait_for()
    settle(page)
    assert list(table(page).values()) == expected([*shipped(), saved])
    for left in ("my_cart.toml", "broken.toml"):
        (lab.folder / left).unlink()


def test_a_reloaded_page_shows_what_is_reckoned_with(own_page):
    page = own_page
    type_value(page, "Wheel teeth", "Heron, 36 V", "60")
    page.get_by_label("Units").select_option("imperial")
    settle(page)
    save_and_reload(page)
    wait_for_pictures(page)
    first, second = shipped()
    assert list(table(page).values()) == expected([first.changed({"drive.wheel_teeth": 60}), second], IMPERIAL)
    assert box(page, "Wheel teeth", "Heron, 36 V").input_value() == "60"
    assert slider(page, "Wheel teeth", "Heron, 36 V").input_value() == "60"
    assert page.get_by_label("Units").input_value() == "imperial"


def test_units_and_exports(page, lab):
    page.get_by_label("Units").select_option("imperial")
    settle(page)
    assert list(table(page).values()) == expected(shipped(), IMPERIAL)
    assert "mph" in page.locator(".ridesim-picture figcaption").first.inner_text()
    for button, file, start in (
        ("Picture PNG", "choose_drive.png", b"\x89PNG"),
        ("SVG", "choose_drive.svg", b"<?xml"),
        ("Table CSV", "choose_drive.csv", b"figure,unit"),
        ("Build sheet", "build_sheet.html", b"<!doctype html>"),
    ):
        page.get_by_role("button", name=button, exact=True).click()
        page.wait_for_function(
            f"() => document.querySelector('.ridesim-status').textContent.includes('{file}')", timeout=20_000
        )
        assert (lab.folder / file).read_bytes().startswith(start)
        (lab.folder / file).unlink()


def test_everything_is_reached_by_keyboard(page):
    all_reached_by_keyboard(page, "Day")


def test_an_interrupted_kernel_during_a_drag(own_page, lab):
    page = own_page
    handle = slider(page, "Wheel teeth", "Heron, 36 V")
    handle.focus()
    for step in range(10):
        page.keyboard.press("ArrowRight")
        if step == 4:
            kernel = lab.ask("/api/kernels")[0]["id"]
            lab.ask(f"/api/kernels/{kernel}/interrupt", data=b"{}", method="POST")
    settle(page)
    first, second = shipped()
    assert list(table(page).values()) == expected([first.changed({"drive.wheel_teeth": 65}), second])


def test_no_blank_frame_and_nothing_moves_while_dragging(page):
    """Every frame of a drag: the canvases hold ink, and no box of the panel changes place or size."""
    page.evaluate(
        """() => {
          const state = { frames: 0, blank: 0, moved: 0, going: true };
          window.ridesimWatch = state;
          const parts = [...document.querySelectorAll(
            '.ridesim-desk, .ridesim-desk canvas, .ridesim-desk figcaption, .ridesim-status, .ridesim-watch, .ridesim-controls')];
          const places = () => parts.map((e) => { const b = e.getBoundingClientRect(); return [b.x, b.y, b.width, b.height].join(); }).join(';');
          const before = places();
          const look = () => {
            state.frames += 1;
            for (const c of document.querySelectorAll('.ridesim-picture canvas')) {
              const ink = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
              let dark = 0;
              for (let i = 0; i < ink.length; i += 4 * 37) if (ink[i + 3] === 255 && ink[i] + ink[i + 1] + ink[i + 2] < 600) dark += 1;
              if (dark < 20) state.blank += 1;
            }
            if (places() !== before) state.moved += 1;
            if (state.going) requestAnimationFrame(look);
          };
          requestAnimationFrame(look);
        }"""
    )
    place = slider(page, "Motor teeth", "Heron, 36 V").bounding_box()
    middle = place["y"] + place["height"] / 2
    page.mouse.move(place["x"] + 10, middle)
    page.mouse.down()
    for step in range(40):
        page.mouse.move(place["x"] + 10 + (step % 20) * (place["width"] - 20) / 20, middle)
        page.wait_for_timeout(25)
    page.mouse.up()
    settle(page)
    seen = page.evaluate("() => { window.ridesimWatch.going = false; return window.ridesimWatch; }")
    assert seen["frames"] > 10
    assert seen["blank"] == 0
    assert seen["moved"] == 0


def test_saved_notebook_reads_without_a_kernel(own_page, lab):
    page = own_page
    type_value(page, "Motor teeth", "Heron, 36 V", "12")
    page.wait_for_timeout(2500)
    page.keyboard.press("Control+s")
    page.wait_for_timeout(2500)
    saved = json.loads((lab.folder / "3_choose_drive.ipynb").read_text(encoding="utf-8"))
    outputs = saved["cells"][-1]["outputs"]
    assert any("image/png" in output.get("data", {}) for output in outputs)
    words = "".join("".join(output.get("data", {}).get("text/html", "")) for output in outputs)
    first, second = shipped()
    comparison = ridesim.compare([first.changed({"drive.motor_teeth": 12}), second], ridesim.load_day(DAY))
    assert f"{comparison.candidates[0].top_speed_kmh:.1f}" in words, "the still copy follows the panel"
    shutil.copyfile(ROOT / "notebooks" / "3_choose_drive.ipynb", lab.folder / "3_choose_drive.ipynb")


def test_axe_finds_nothing_serious(page):
    load_axe(page)
    for text in ("11", "NaN"):
        type_value(page, "Motor teeth", "Heron, 36 V", text)
        assert serious_violations(page) == []


DARK = """(dark) => [...document.querySelectorAll('.ridesim-picture canvas')].every((c) => {
  const [r, g, b] = c.getContext('2d').getImageData(1, 1, 1, 1).data; return (r + g + b < 200) === dark; })"""


def test_a_smaller_screen(page, shots):
    page.set_viewport_size({"width": 1280, "height": 720})
    page.wait_for_timeout(500)
    wait_for_pictures(page)
    settle(page)
    assert page.evaluate(DARK, False)
    page.screenshot(path=shots / "choose_drive_1280_light.png")


def test_pictures_follow_the_theme_even_while_nothing_is_laid_out(page, shots):
    def change(theme):
        page.evaluate("(theme) => window.jupyterapp.commands.execute('apputils:change-theme', { theme })", theme)

    desk = page.locator(".ridesim-desk")
    try:
        # While a theme loads, and outside the lab's window on the notebook, the panel has no size.
        desk.evaluate("(e) => { e.style.display = 'none'; }")
        change("JupyterLab Dark")
        page.wait_for_function(DARK, arg=True, timeout=20_000)
        desk.evaluate("(e) => { e.style.display = ''; }")
        wait_for_pictures(page)
        settle(page)
        assert page.evaluate(DARK, True)
        page.screenshot(path=shots / "choose_drive_1440_dark.png")
    finally:
        change("JupyterLab Light")
    page.wait_for_function(DARK, arg=False, timeout=20_000)
