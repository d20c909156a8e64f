"""The main notebook in a real JupyterLab and a real Chromium."""

from __future__ import annotations

import json
import os

import pytest

import ridesim
from ridesim.show.tables.outcome import lines_for
from ridesim.show.units import IMPERIAL, METRIC
from tests.browser.conftest import Opened
from tests.browser.lab import NOTEBOOK, ROOT, save_and_reload, wait_for_pictures
from tests.browser.panel import (
    all_reached_by_keyboard,
    box,
    load_axe,
    old,
    row,
    says,
    serious_violations,
    settle,
    shows,
    slider,
    status,
    table,
    type_value,
)

pytestmark = pytest.mark.browser
DAY = "harbour_festival"


def expected(builds, system=METRIC):
    """The table's cells from ridesim.compare, by the same places."""
    comparison = ridesim.compare(builds, ridesim.load_day(DAY))
    return [list(line.cells) for line in lines_for(comparison, system)]


def shipped():
    return [ridesim.load_build("heron_36v"), ridesim.load_build("heron_48v")]


@pytest.fixture(scope="module")
def opened(chrome, lab):
    """The main notebook beside some files of a user's, one page and one kernel for all tests."""
    day = (ROOT / "data" / "days" / f"{DAY}.toml").read_text(encoding="utf-8")
    laps = 'laps = 4\n\n[[activity]]\nname = "First'
    assert laps in day
    files = {
        "endless.toml": day.replace(laps, laps.replace("4", "10000", 1)),
        "broken.toml": 'name = "x"\n[vehicle]\nrolling_radius_m = -1.0\n',
        "my_cart.toml": (ROOT / "data" / "builds" / "puppet_cart.toml").read_text(encoding="utf-8"),
    }
    for name, text in files.items():
        (lab.folder / name).write_text(text, encoding="utf-8")
    notebook = Opened(chrome, lab)
    yield notebook
    notebook.close()
    for name in files:
        (lab.folder / name).unlink()


@pytest.fixture
def page(opened):
    """The page with the panel as it opens; an error in the console fails the test."""
    opened.fresh()
    yield opened.page
    assert opened.complained() == []


def test_shows_the_terminal_s_numbers_on_one_screen(page, shots):
    shows(page, expected(shipped()))
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


def test_saved_it_reads_without_a_kernel_and_reloaded_it_shows_what_is_reckoned_with(page, lab):
    """Early in this file: a reloaded page asks the kernel for every panel it has had, and each test may add one."""
    type_value(page, "Wheel teeth", "Heron, 36 V", "60")
    page.get_by_label("Units").select_option("imperial")
    first, second = shipped()
    changed = [first.changed({"drive.wheel_teeth": 60}), second]
    cells = expected(changed, IMPERIAL)
    shows(page, cells)
    speed = cells[0][0]
    page.wait_for_function(
        "speed => [...document.querySelectorAll('.jp-OutputArea-output')].some((e) => !e.querySelector('.ridesim-desk')"
        " && e.innerText.includes('Still copy') && e.innerText.includes(speed))", arg=speed, timeout=20_000,
    )  # fmt: skip
    save_and_reload(page)
    outputs = json.loads((lab.folder / NOTEBOOK).read_text(encoding="utf-8"))["cells"][-1]["outputs"]
    assert any("image/png" in output.get("data", {}) for output in outputs)
    words = "".join("".join(output.get("data", {}).get("text/html", "")) for output in outputs)
    assert speed in words, "the still copy follows the panel"

    wait_for_pictures(page)
    shows(page, cells)
    assert box(page, "Wheel teeth", "Heron, 36 V").input_value() == "60"
    assert slider(page, "Wheel teeth", "Heron, 36 V").input_value() == "60"
    assert page.get_by_label("Units").input_value() == "imperial"


def test_everything_is_reached_by_keyboard(page):
    all_reached_by_keyboard(page, "Day")


def test_slider_by_keyboard_and_mouse(page):
    handle = slider(page, "Motor teeth", "Heron, 36 V")
    handle.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    first, second = shipped()
    thirteen = first.changed({"drive.motor_teeth": 13})
    shows(page, expected([thirteen, second]))
    assert box(page, "Motor teeth", "Heron, 36 V").input_value() == "13"
    assert "Not saved: Heron, 36 V" in status(page)

    place = slider(page, "Wheel teeth", "Heron, 48 V").bounding_box()
    page.mouse.move(place["x"] + place["width"] / 2, place["y"] + place["height"] / 2)
    page.mouse.down()
    page.mouse.move(place["x"] + 0.75 * place["width"], place["y"] + place["height"] / 2, steps=8)
    page.mouse.up()
    teeth = int(box(page, "Wheel teeth", "Heron, 48 V").input_value())
    assert 60 < teeth < 85
    shows(page, expected([thirteen, second.changed({"drive.wheel_teeth": teeth})]))


def test_typed_values_count_and_bad_ones_are_said(page):
    """What each wrong value is called is tested without a browser; here that the page says it and keeps the last good picture."""
    first, second = shipped()
    type_value(page, "Block capacity, Ah", "Heron, 36 V", "33")
    shows(page, expected([first.changed({"pack.block_capacity_ah": 33.0}), second]))
    assert "11 mΩ to 7.33 mΩ" in page.locator(".ridesim-desk .ridesim-findings").inner_text()
    type_value(page, "Block capacity, Ah", "Heron, 36 V", "22")
    good = expected([first, second])
    shows(page, good)
    for label, text, said, right in (
        ("Wheel teeth", "1000000000", "of at most 400", "55"),
        ("Motor teeth", "many", "“many”", "11"),
        ("Motor teeth", "NaN", "a whole number", "11"),
        ("Battery limit, A", "", "nothing", "40"),
    ):
        type_value(page, label, "Heron, 36 V", text)
        says(page, said)
        assert "Not done." in status(page)
        assert all(old(page))
        assert list(table(page).values()) == good
        assert box(page, label, "Heron, 36 V").get_attribute("aria-invalid") == "true"
        assert box(page, label, "Heron, 36 V").input_value() == text, "what was typed is left as it is, not clamped"
        type_value(page, label, "Heron, 36 V", right)
        page.wait_for_function("() => !document.querySelector('.ridesim-is-old')", timeout=20_000)
        shows(page, good)


def test_a_build_that_cannot_move_and_a_day_that_never_ends(page):
    type_value(page, "Wheel teeth", "Heron, 36 V", "1")
    first, second = shipped()
    stuck = expected([first.changed({"drive.wheel_teeth": 1}), second])
    shows(page, stuck)
    text = page.locator(".ridesim-desk .ridesim-findings").inner_text()
    assert "Will not start" in text
    assert "The day is not finished" in text
    assert not any(old(page))

    page.get_by_label("Day", exact=True).select_option("endless.toml")
    says(page, "a day that ends")
    assert all(old(page))
    assert list(table(page).values()) == stuck


def test_add_copy_rename_save_reopen(page, opened, lab, shots):
    page.get_by_label("Open a build").fill("brokn")
    page.get_by_role("button", name="Add candidate").click()
    says(page, "no such file")
    page.get_by_label("Open a build").fill("broken")
    page.get_by_role("button", name="Add candidate").click()
    with pytest.raises(ridesim.InputProblem) as complaint:
        ridesim.load_build(lab.folder / "broken.toml")
    says(page, str(complaint.value))  # the message is that of ridesim check
    page.get_by_label("Open a build").fill("my_cart")
    page.get_by_role("button", name="Add candidate").click()
    cart = ridesim.load_build(lab.folder / "my_cart.toml")
    row(page, cart.name).wait_for()
    shows(page, expected([*shipped(), cart]))

    name = box(page, "Name", cart.name)
    name.fill("Cart with 12 teeth")
    name.press("Enter")
    type_value(page, "Motor teeth", "Cart with 12 teeth", "12")
    says(page, "Not saved: Cart with 12 teeth")
    save = page.get_by_role("button", name="Save to file, Cart with 12 teeth")
    save.click()
    says(page, "my_cart.toml is there already and would change")
    assert "drive.motor_teeth" in status(page)
    assert ridesim.load_build(lab.folder / "my_cart.toml").name == cart.name, "the first press writes nothing"
    save.click()
    says(page, "Saved Cart with 12 teeth as")
    saved = ridesim.load_build(lab.folder / "my_cart.toml")
    assert (saved.name, saved.drive.motor_teeth) == ("Cart with 12 teeth", 12)
    assert "#" in (lab.folder / "my_cart.toml").read_text(encoding="utf-8"), "comments are kept"

    page.get_by_role("button", name="Copy, Heron, 36 V").click()
    row(page, "Heron, 36 V, copy").wait_for()
    first, second = shipped()
    shows(page, expected([first, second, saved, first.changed({"name": "Heron, 36 V, copy"})]))
    page.screenshot(path=shots / "choose_drive_four.png")
    page.get_by_role("button", name="Copy, Heron, 36 V", exact=True).click()
    says(page, "four already")
    page.get_by_role("button", name="Remove, Heron, 36 V, copy").click()
    row(page, "Heron, 36 V, copy").wait_for(state="detached")

    opened.fresh()
    page.get_by_label("Open a build").fill("my_cart.toml")
    page.get_by_role("button", name="Add candidate").click()
    row(page, "Cart with 12 teeth").wait_for()
    shows(page, expected([*shipped(), saved]))


def test_units_and_exports(page, lab):
    page.get_by_label("Units").select_option("imperial")
    shows(page, expected(shipped(), IMPERIAL))
    page.locator("figcaption", has_text="mph").first.wait_for()  # the table may come before the pictures
    for button, file, start in (
        ("Picture PNG", "choose_drive.png", b"\x89PNG"),
        ("SVG", "choose_drive.svg", b"<?xml"),
        ("Table CSV", "choose_drive.csv", b"figure,unit"),
        ("Build sheet", "build_sheet.html", b"<!doctype html>"),
    ):
        page.get_by_role("button", name=button, exact=True).click()
        says(page, file)
        assert (lab.folder / file).read_bytes().startswith(start)
        (lab.folder / file).unlink()


def test_an_interrupted_kernel_during_a_drag(page, lab):
    handle = slider(page, "Wheel teeth", "Heron, 36 V")
    handle.focus()
    for step in range(10):
        page.keyboard.press("ArrowRight")
        if step == 4:
            kernel = next(each["kernel"]["id"] for each in lab.ask("/api/sessions") if each["path"] == NOTEBOOK)
            lab.ask(f"/api/kernels/{kernel}/interrupt", data=b"{}", method="POST")
    first, second = shipped()
    shows(page, expected([first.changed({"drive.wheel_teeth": 65}), second]))


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
        page.wait_for_timeout(25)  # the speed of a hand
    page.mouse.up()
    settle(page)
    seen = page.evaluate("() => { window.ridesimWatch.going = false; return window.ridesimWatch; }")
    assert seen["frames"] > 10
    assert seen["blank"] == 0
    assert seen["moved"] == 0


def test_axe_finds_nothing_serious(page):
    load_axe(page)
    for text, words in (("12", "Not saved"), ("NaN", "Not done.")):
        type_value(page, "Motor teeth", "Heron, 36 V", text)
        says(page, words)
        assert serious_violations(page) == []


DARK = """(dark) => [...document.querySelectorAll('.ridesim-picture canvas')].every((c) => {
  const [r, g, b] = c.getContext('2d').getImageData(1, 1, 1, 1).data; return (r + g + b < 200) === dark; })"""


def test_a_smaller_screen(page, shots):
    page.set_viewport_size({"width": 1280, "height": 720})
    try:
        wait_for_pictures(page)
        settle(page)
        assert page.evaluate(DARK, False)
        page.screenshot(path=shots / "choose_drive_1280_light.png")
    finally:
        page.set_viewport_size({"width": 1440, "height": 900})
    wait_for_pictures(page)


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
