"""The main notebook in a real JupyterLab and a real Chromium."""

from __future__ import annotations

import base64
import json
import os
from functools import cache

import pytest

import ridesim
from ridesim.show.tables.outcome import short_lines
from ridesim.show.units import IMPERIAL, METRIC
from tests.browser.lab import NOTEBOOK, ROOT, save_and_reload, wait_for_pictures
from tests.browser.panel import (
    all_reached_by_keyboard,
    box,
    choose,
    in_sight,
    line,
    menu,
    old,
    opened,
    says,
    settle,
    shows,
    slider,
    status,
    table,
    type_value,
)

pytestmark = pytest.mark.browser
DAY = "harbour_festival"
FIRST, SECOND = "Heron, 36 V", "Heron, 48 V"


@cache
def compared(builds):
    return ridesim.compare(builds, ridesim.load_day(DAY))


def expected(builds, system=METRIC):
    """The table's cells from ridesim.compare, by the same places."""
    return [list(line.cells) for line in short_lines(compared(tuple(builds)), system)]


def shipped():
    return [ridesim.load_build("heron_36v"), ridesim.load_build("heron_48v")]


def attach(picture):
    """Put the picture into the notebook, which shows it before it is run."""
    path = ROOT / "notebooks" / NOTEBOOK
    notebook = json.loads(path.read_text(encoding="utf-8"))
    data = base64.b64encode(picture.read_bytes()).decode("ascii")
    notebook["cells"][-1]["attachments"] = {picture.name: {"image/png": data}}
    path.write_text(json.dumps(notebook, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def test_verdicts_first_and_the_terminal_s_numbers(page, notebook, shots):
    shows(page, expected(shipped()))
    notebook.looked_at()
    for verdict in compared(tuple(shipped())).verdicts:
        said = line(page, verdict.name).get_attribute("aria-label")
        assert said.startswith(f"{verdict.name}. {verdict.words}: ")
    assert status(page).startswith("Harbour lantern festival")
    assert in_sight(page, ".ridesim-pair canvas")
    page.screenshot(path=shots / "choose_drive_1440.png")
    if os.environ.get("RIDESIM_README_PICTURE"):
        picture = ROOT / "notebooks" / "pictures" / "choose_drive.png"
        picture.parent.mkdir(exist_ok=True)
        top, bottom = (page.locator(f".ridesim-{part}").bounding_box() for part in ("lines", "pair"))
        high = bottom["y"] + bottom["height"] + 4 - top["y"]
        page.screenshot(
            path=picture, clip={"x": top["x"] - 4, "y": top["y"] - 4, "width": top["width"] + 8, "height": high}
        )
        assert picture.stat().st_size < 300_000
        attach(picture)


@pytest.mark.thorough
def test_saved_it_reads_without_a_kernel_and_reloaded_it_shows_what_is_reckoned_with(page, lab):
    """Early in this file: a reloaded page asks the kernel for every panel it has had, and each test may add one."""
    type_value(page, "Wheel teeth", FIRST, "60")
    opened(page, "day, files, units")
    page.get_by_label("Units").select_option("imperial")
    first, second = shipped()
    changed = [first.changed({"drive.wheel_teeth": 60}), second]
    cells = expected(changed, IMPERIAL)
    shows(page, cells)
    speed = cells[2][0]
    page.wait_for_function(
        "speed => [...document.querySelectorAll('.jp-OutputArea-output')].some((e) => !e.querySelector('.ridesim-desk')"
        " && e.innerText.includes('Still copy') && e.innerText.includes(speed))", arg=speed,
    )  # fmt: skip
    save_and_reload(page)
    outputs = json.loads((lab.folder / NOTEBOOK).read_text(encoding="utf-8"))["cells"][2]["outputs"]
    assert any("image/png" in output.get("data", {}) for output in outputs)
    words = "".join("".join(output.get("data", {}).get("text/html", "")) for output in outputs)
    assert speed in words, "the still copy follows the panel"

    wait_for_pictures(page)
    shows(page, cells)
    assert box(page, "Wheel teeth", FIRST).input_value() == "60"
    assert slider(page, "Wheel teeth", FIRST).get_attribute("aria-valuetext") == "60"
    assert page.get_by_label("Units").input_value() == "imperial"


@pytest.mark.thorough
def test_run_again_it_shows_what_was_set(page, notebook, lab):
    type_value(page, "Motor teeth", FIRST, "12")
    says(page, "motor teeth 12 instead of 11")
    kept = lab.folder / "3_choose_drive.panel.toml"
    for _ in range(600):
        if kept.exists() and 'motor_teeth = "12"' in kept.read_text(encoding="utf-8"):
            break
        page.wait_for_timeout(50)
    else:
        raise AssertionError("what was set is kept as it goes")
    notebook.run()
    says(page, "Restored from 3_choose_drive.panel.toml")
    assert box(page, "Motor teeth", FIRST).input_value() == "12"
    opened(page, "day, files, units")
    page.get_by_role("button", name="Start afresh").click()
    shows(page, expected(shipped()))
    assert not kept.exists() or "motor_teeth" not in kept.read_text(encoding="utf-8")


@pytest.mark.thorough
def test_everything_is_reached_by_keyboard(page):
    opened(page, "more values")
    opened(page, "day, files, units")
    menu(page, FIRST)
    all_reached_by_keyboard(page, line(page, FIRST))


def test_slider_by_keyboard_and_mouse_and_steps_back(page):
    slider(page, "Motor teeth", FIRST).focus()
    page.keyboard.press("ArrowRight")
    first, second = shipped()
    twelve = first.changed({"drive.motor_teeth": 12})
    shows(page, expected([twelve, second]))
    assert box(page, "Motor teeth", FIRST).input_value() == "12"
    says(page, "motor teeth 12 instead of 11: top speed")

    choose(page, SECOND)
    place = slider(page, "Wheel teeth", SECOND).bounding_box()
    page.mouse.move(place["x"] + place["width"] / 2, place["y"] + place["height"] / 2)
    page.mouse.down()
    page.mouse.move(place["x"] + 0.75 * place["width"], place["y"] + place["height"] / 2, steps=8)
    page.mouse.up()
    teeth = int(box(page, "Wheel teeth", SECOND).input_value())
    assert 60 < teeth < 85
    moved = second.changed({"drive.wheel_teeth": teeth})
    shows(page, expected([twelve, moved]))
    page.keyboard.press("Control+z")
    says(page, f"wheel teeth 55 instead of {teeth}")
    shows(page, expected([twelve, second]))
    page.get_by_role("button", name="Undo").click()
    shows(page, expected([first, second]))
    for cells in (expected([twelve, second]), expected([twelve, moved])):
        page.locator(".ridesim-work input[type=range]").first.focus()
        page.keyboard.press("Control+y")
        shows(page, cells)


@pytest.mark.thorough
def test_the_whole_job_by_keyboard_alone(page, lab):
    """Choose a candidate, change a sprocket, read why, save the build: no mouse, nothing focused but by Tab."""

    def tab_to(words):
        for _ in range(120):
            page.keyboard.press("Tab")
            if page.evaluate(
                "() => document.activeElement.getAttribute('aria-label') || document.activeElement.textContent"
            ).startswith(words):
                return
        raise AssertionError(f"Tab never comes to {words}")

    line(page, FIRST).focus()
    page.keyboard.press("ArrowDown")
    slider(page, "Motor teeth", SECOND).wait_for()
    tab_to("Name, file, copy, remove: " + SECOND)
    page.keyboard.press("Enter")
    page.locator(".ridesim-menu").wait_for()
    tab_to("File")
    page.keyboard.press("Control+a")
    page.keyboard.type("by_keyboard.toml")
    page.keyboard.press("Enter")
    tab_to("Motor teeth, slider")
    page.keyboard.press("ArrowRight")
    says(page, "motor teeth 12 instead of 11")
    tab_to("how sure")
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.querySelector('.ridesim-sure')?.offsetParent")
    line(page, SECOND).focus()
    tab_to("Save to file")
    page.keyboard.press("Space")
    says(page, "Saved Heron, 48 V as")
    saved = ridesim.load_build(lab.folder / "by_keyboard.toml")
    assert saved.drive.motor_teeth == 12
    (lab.folder / "by_keyboard.toml").unlink()


@pytest.mark.thorough
def test_lines_are_chosen_by_arrow_keys(page):
    line(page, FIRST).focus()
    page.keyboard.press("ArrowDown")
    slider(page, "Motor teeth", SECOND).wait_for()
    assert line(page, SECOND).get_attribute("aria-checked") == "true"
    assert page.evaluate("() => document.activeElement.getAttribute('aria-label')").startswith(SECOND)


@pytest.mark.thorough
def test_typed_values_count_and_bad_ones_are_said(page):
    """What each wrong value is called is tested without a browser; here that the page says it and keeps the last good picture."""
    first, second = shipped()
    type_value(page, "Capacity, Ah", FIRST, "33")
    shows(page, expected([first.changed({"pack.block_capacity_ah": 33.0}), second]))
    type_value(page, "Capacity, Ah", FIRST, "22")
    good = expected([first, second])
    shows(page, good)
    for label, text, said, right in (
        ("Wheel teeth", "1000000000", "of at most 400", "55"),
        ("Motor teeth", "many", "“many”", "11"),
        ("Battery limit, A", "", "nothing", "40"),
    ):
        type_value(page, label, FIRST, text)
        says(page, said)
        assert "Not done." in status(page)
        assert all(old(page))
        assert list(table(page).values()) == good
        assert box(page, label, FIRST).get_attribute("aria-invalid") == "true"
        assert box(page, label, FIRST).input_value() == text, "what was typed is left as it is, not clamped"
        assert page.locator(".ridesim-desk [aria-invalid=true]").count() == 1, "the one box that is wrong is marked"
        type_value(page, label, FIRST, right)
        page.wait_for_function("() => !document.querySelector('.ridesim-pair > :not(.ridesim-hidden) .ridesim-is-old')")
        shows(page, good)


@pytest.mark.thorough
def test_a_build_that_cannot_move_and_a_day_that_never_ends(page):
    type_value(page, "Wheel teeth", FIRST, "1")
    first, second = shipped()
    stuck = expected([first.changed({"drive.wheel_teeth": 1}), second])
    shows(page, stuck)
    page.wait_for_function(
        "() => document.querySelector('.ridesim-verdict .ridesim-words-of').textContent === 'Does not do it'",
    )
    assert "it will not move" in line(page, FIRST).inner_text()
    assert line(page, FIRST).locator("svg.ridesim-bar").count() == 0
    text = page.locator(".ridesim-desk .ridesim-findings").inner_text()
    assert "Will not start" in text
    assert "The day is not finished" in text

    opened(page, "day, files, units")
    page.get_by_label("Day", exact=True).select_option("endless.toml")
    says(page, "a day that ends")
    assert all(old(page))
    assert list(table(page).values()) == stuck


@pytest.mark.thorough
def test_add_copy_rename_save_reopen(page, notebook, lab, shots):
    menu(page, FIRST)
    page.get_by_label("Another build").fill("brokn")
    page.get_by_role("button", name="Add candidate").click()
    says(page, "no such file")
    page.get_by_label("Another build").fill("broken")
    page.get_by_role("button", name="Add candidate").click()
    with pytest.raises(ridesim.InputProblem) as complaint:
        ridesim.load_build(lab.folder / "broken.toml")
    says(page, str(complaint.value))  # the message is that of ridesim check
    page.get_by_label("Another build").fill("my_cart")
    page.get_by_label("Another build").press("Enter")
    cart = ridesim.load_build(lab.folder / "my_cart.toml")
    slider(page, "Motor teeth", cart.name).wait_for()
    shows(page, expected([*shipped(), cart]))

    menu(page, cart.name)
    name = box(page, "Name", cart.name)
    name.fill("Cart with 12 teeth")
    name.press("Enter")
    type_value(page, "Motor teeth", "Cart with 12 teeth", "12")
    says(page, "motor teeth 12 instead of")
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

    menu(page, FIRST)
    page.get_by_role("button", name=f"Copy, {FIRST}", exact=True).click()
    copied = f"{FIRST}, copy"
    slider(page, "Motor teeth", copied).wait_for()
    first, second = shipped()
    shows(page, expected([first, second, saved, first.changed({"name": copied})]))
    page.get_by_role("button", name=f"Copy, {copied}", exact=True).click()
    says(page, "four already")
    page.get_by_role("button", name=f"Remove, {copied}", exact=True).click()
    line(page, copied).wait_for(state="detached")


@pytest.mark.thorough
def test_units_and_exports(page, lab):
    opened(page, "day, files, units")
    page.get_by_label("Units").select_option("imperial")
    shows(page, expected(shipped(), IMPERIAL))
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


@pytest.mark.thorough
def test_tabs_and_the_moment_under_the_pointer(page, shots):
    canvas = page.locator(".ridesim-pair canvas").nth(1)
    page.wait_for_function("() => document.querySelectorAll('.ridesim-pair canvas')[1].tabIndex === 0")
    canvas.focus()
    for _ in range(3):
        page.keyboard.press("PageDown")
    said = page.locator(".ridesim-moment").nth(1).inner_text()
    hour, minute = (int(part) for part in said.split()[0].split(":"))
    row = ridesim.simulate(shipped()[0], ridesim.load_day(DAY)).at(f"{hour:02d}:{minute:02d}")
    assert abs(int(said.split("\n")[1].split()[0]) - 100.0 * row.state_of_charge) < 2.0
    place = canvas.bounding_box()
    page.mouse.move(place["x"] + 0.4 * place["width"], place["y"] + 0.5 * place["height"])
    page.locator(".ridesim-moment", has_text="% left").wait_for()
    page.locator(".ridesim-act", has=page.locator("svg")).nth(2).hover()
    page.locator(".ridesim-span").wait_for()
    page.locator(".ridesim-slope").first.wait_for()
    for tab, words in (("how sure", "starts on every slope"), ("heat and volts", ""), ("what uses the energy", "")):
        page.get_by_role("button", name=tab, exact=True).click()
        if words:
            page.locator(".ridesim-sure", has_text=words).wait_for()
            page.locator(".ridesim-sure", has_text="instead of 22").wait_for()
        settle(page)
        page.screenshot(path=shots / f"choose_drive_{tab.split()[0]}.png")
    page.get_by_role("button", name="pull and charge", exact=True).click()


@pytest.mark.thorough
def test_a_cell_of_the_sprocket_map_sets_both_sprockets(page, shots):
    page.locator(".ridesim-tabs button", has_text="sprockets").click()
    page.locator(".ridesim-cell").first.wait_for()
    page.screenshot(path=shots / "choose_drive_sprockets.png")
    page.locator('.ridesim-cell[data-small="12"][data-large="60"]').click()
    says(page, "motor teeth 12 instead of 11, wheel teeth 60 instead of 55")
    assert box(page, "Wheel teeth", FIRST).input_value() == "60"
    chosen = page.locator(".ridesim-cell.ridesim-chosen[data-small='12'][data-large='60']")
    chosen.wait_for()
    chosen.focus()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    says(page, "motor teeth 11 instead of 12, wheel teeth 59 instead of 60")
    assert box(page, "Motor teeth", FIRST).input_value() == "11"


@pytest.mark.thorough
def test_an_interrupted_kernel_during_a_drag(page, lab):
    slider(page, "Wheel teeth", FIRST).focus()
    for step in range(10):
        page.keyboard.press("ArrowRight")
        if step == 4:
            kernel = next(each["kernel"]["id"] for each in lab.ask("/api/sessions") if each["path"] == NOTEBOOK)
            lab.ask(f"/api/kernels/{kernel}/interrupt", data=b"{}", method="POST")
    first, second = shipped()
    shows(page, expected([first.changed({"drive.wheel_teeth": 65}), second]))
