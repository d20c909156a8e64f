"""How the main notebook looks: nothing blank, cut or over another, at every size and in both themes, and what axe finds."""

from __future__ import annotations

import pytest

import ridesim
from tests.browser.lab import wait_for_pictures
from tests.browser.panel import in_sight, load_axe, menu, opened, says, serious_violations, settle, slider, type_value
from tests.long import LONG

pytestmark = pytest.mark.browser
FIRST = "Heron, 36 V"


def axes(page):
    """Width and height of the plotting area of each picture in sight. [px]"""
    return page.evaluate(
        """() => [...document.querySelectorAll('.ridesim-desk .ridesim-pair canvas')].filter((c) => c.offsetParent)
             .map((c) => { const b = c.getBoundingClientRect(); return [b.width, b.height]; })"""
    )


def file_list(page, shown):
    """Open or close JupyterLab's file list."""
    page.evaluate(
        """(shown) => { const name = 'application:toggle-left-area', commands = window.jupyterapp.commands;
          return commands.isToggled(name) === shown ? null : commands.execute(name); }""",
        shown,
    )


CUT = """() => {
  const kinds = ['label', 'who', 'words-of', 'why', 'share', 'hour', 'press', 'fails', 'tabs button'];
  const parts = kinds.flatMap((each) => [...document.querySelectorAll('.ridesim-desk .ridesim-' + each)]).filter((e) => e.offsetParent);
  return parts.filter((e) => {
    const desk = e.closest('.ridesim-desk').getBoundingClientRect(); const b = e.getBoundingClientRect();
    return e.scrollWidth > e.clientWidth + 1 || b.height > e.parentElement.getBoundingClientRect().height + 1
      || b.right > desk.right + 1 || b.left < desk.left - 1; }).map((e) => e.textContent); }"""
OVER = """(selector) => { const seen = [...document.querySelectorAll(`.ridesim-desk ${selector}`)].filter((e) => e.offsetParent && !e.hidden)
  .map((e) => [e.textContent, e.getBoundingClientRect()]); const found = [];
  seen.forEach(([text, a], i) => seen.slice(i + 1).forEach(([other, b]) => {
    if (a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 1 && b.top < a.bottom - 1) found.push([text, other]); }));
  return found; }"""


@pytest.mark.thorough
def test_no_blank_frame_and_nothing_moves_while_dragging(page):
    """Every frame of a drag: the canvases hold ink, and no box of the panel changes place or size."""
    page.evaluate(
        """() => {
          const state = { frames: 0, blank: 0, moved: [], going: true };
          window.ridesimWatch = state;
          const parts = [...document.querySelectorAll(
            '.ridesim-desk, .ridesim-desk canvas, .ridesim-strip, .ridesim-controls, .ridesim-verdict, .ridesim-tabs')].filter((e) => e.offsetParent);
          const places = () => parts.map((e) => { const b = e.getBoundingClientRect(); return [e.className, b.x, b.y, b.width].join(); });
          const before = places();
          const look = () => {
            state.frames += 1;
            for (const c of document.querySelectorAll('.ridesim-pair canvas')) {
              if (!c.offsetParent) continue;
              const ink = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
              let dark = 0;
              for (let i = 0; i < ink.length; i += 4 * 37) if (ink[i + 3] === 255 && ink[i] + ink[i + 1] + ink[i + 2] < 600) dark += 1;
              if (dark < 20) state.blank += 1;
            }
            places().forEach((place, i) => { if (place !== before[i] && parts[i].isConnected) state.moved.push([before[i], place]); });
            if (state.going) requestAnimationFrame(look);
          };
          requestAnimationFrame(look);
        }"""
    )
    place = slider(page, "Motor teeth", FIRST).bounding_box()
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
    assert seen["moved"] == []


@pytest.mark.thorough
def test_axe_finds_nothing_serious(page):
    load_axe(page)
    opened(page, "more values")
    opened(page, "day, files, units")
    menu(page, FIRST)
    for text, words in (("12", "motor teeth 12"), ("NaN", "Not done.")):
        type_value(page, "Motor teeth", FIRST, text)
        says(page, words)
        assert serious_violations(page) == []


DARK = """(dark) => [...document.querySelectorAll('.ridesim-pair canvas')].filter((c) => c.offsetParent).every((c) => {
  const [r, g, b] = c.getContext('2d').getImageData(1, 1, 1, 1).data; return (r + g + b < 250) === dark; })"""


@pytest.mark.parametrize(("many", "theme"), [("two", "Light"), ("four", "Dark"), *([("one", "Dark")] if LONG else [])])
@pytest.mark.thorough
def test_at_every_size_of_window(page, notebook, shots, many, theme):
    """Verdicts, controls and both pictures in sight at 1280 × 720; nothing cut, nothing over another anywhere.

    One of four has no brakes in its file, and a long reason; one of two has changed values, which their labels mark.
    """
    four = many == "four"
    if many == "two":
        for name, value in (("Blocks in series", "4"), ("Battery limit, A", "50")):
            type_value(page, name, FIRST, value)
        settle(page)
    page.evaluate(
        "(theme) => window.jupyterapp.commands.execute('apputils:change-theme', { theme })", f"JupyterLab {theme}"
    )
    if many == "one":
        page.get_by_label("Name, file, copy, remove: Heron, 48 V").click()
        page.get_by_role("button", name="Remove, Heron, 48 V", exact=True).click()
        page.wait_for_function("() => document.querySelectorAll('.ridesim-lines [role=radio]').length === 1")
    if four:
        menu(page, FIRST)
        slow = ridesim.load_build("heron_lithium").changed({"vehicle.brakes": [], "drive.wheel_teeth": 11}, name="Slow")
        ridesim.save_build(slow, notebook.lab.folder / "slow.toml")
        for name in ("puppet_cart", "slow.toml"):
            page.get_by_label("Another build").fill(name)
            page.get_by_label("Another build").press("Enter")
            page.locator(f".ridesim-lines [role=radio]:nth-of-type({1})").first.wait_for()
            page.wait_for_timeout(300)
        page.get_by_label("Name, file, copy, remove: Heron, 36 V").click()
        page.wait_for_function("() => document.querySelectorAll('.ridesim-lines [role=radio]').length === 4")
    try:
        sizes = ((1024, 768), (1280, 720), (1440, 900), (1920, 1080)) if four or LONG else ((1280, 720),)
        for wide, high in sizes:
            page.set_viewport_size({"width": wide, "height": high})
            wait_for_pictures(page)
            settle(page)
            page.evaluate("() => document.querySelector('.ridesim-desk').scrollIntoView()")
            page.wait_for_timeout(300)
            assert page.evaluate(CUT) == []
            for kind in (".ridesim-act-name", ".ridesim-hour", ".ridesim-tabs button", ".ridesim-choose > *"):
                assert page.evaluate(OVER, kind) == [], kind
            if wide >= 1280:
                for part in (".ridesim-verdict", ".ridesim-work", ".ridesim-pair canvas", ".ridesim-unjudged"):
                    assert in_sight(page, part), (wide, part)
                for width, height in axes(page):  # less the margins of the pictures
                    assert width - 72 >= 379
                    assert height - 46 >= (190 if four else 230)
            page.screenshot(path=shots / f"choose_drive_{many}_{wide}.png")
        file_list(page, shown=False)
        page.set_viewport_size({"width": 600, "height": 800})
        wait_for_pictures(page)
        settle(page)
        assert page.evaluate(CUT) == []
        for kind in (".ridesim-act-name", ".ridesim-hour", ".ridesim-tabs button", ".ridesim-choose > *"):
            assert page.evaluate(OVER, kind) == [], kind
        page.screenshot(path=shots / f"choose_drive_{many}_600.png")
    finally:
        page.set_viewport_size({"width": 1440, "height": 900})
        file_list(page, shown=True)
        page.evaluate(
            "() => window.jupyterapp.commands.execute('apputils:change-theme', { theme: 'JupyterLab Light' })"
        )
    wait_for_pictures(page)


@pytest.mark.thorough
def test_pictures_follow_the_theme_even_while_nothing_is_laid_out(page, shots):
    def change(theme):
        page.evaluate("(theme) => window.jupyterapp.commands.execute('apputils:change-theme', { theme })", theme)

    desk = page.locator(".ridesim-desk")
    try:
        # While a theme loads, and outside the lab's window on the notebook, the panel has no size.
        desk.evaluate("(e) => { e.style.display = 'none'; }")
        change("JupyterLab Dark")
        page.wait_for_timeout(1500)
        desk.evaluate("(e) => { e.style.display = ''; }")
        page.wait_for_function(DARK, arg=True)
        wait_for_pictures(page)
        settle(page)
        assert page.evaluate(DARK, True)
        page.screenshot(path=shots / "choose_drive_1440_dark.png")
    finally:
        change("JupyterLab Light")
    page.wait_for_function(DARK, arg=False)
