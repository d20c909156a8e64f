"""Reading and working the panel in a page, as a person does."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

import pytest

from tests.browser.lab import ROOT

DESK = ".ridesim-desk"
"""Where a page has more than one panel, the helpers are told which: a selector of the panel."""


def serials(page: Any, desk: str = DESK) -> list[int]:
    """How often each picture has been drawn."""
    return page.evaluate(
        "desk => [...document.querySelectorAll(`${desk} .ridesim-picture canvas`)].map((c) => Number(c.dataset.serial))",
        desk,
    )


def line(page: Any, name: str) -> Any:
    """A candidate's verdict line, which is pressed to work on it."""
    return page.locator(
        ".ridesim-choose", has=page.locator(".ridesim-who", has_text=re.compile(f"^{re.escape(name)}$"))
    )


def choose(page: Any, name: str) -> None:
    """Work on a candidate."""
    line(page, name).click()
    page.get_by_role("slider", name=f"Motor teeth, slider, {name}", exact=True).wait_for()


def opened(page: Any, switch: str, is_open: bool = True) -> None:
    """Open, or close, what a switch below the pictures opens."""
    button = page.locator(".ridesim-tabs button", has_text=switch)
    if (button.get_attribute("aria-expanded") == "true") is not is_open:
        button.click()
        page.wait_for_function(
            "([text, state]) => [...document.querySelectorAll('.ridesim-tabs button')].some((b) => b.textContent === text"
            " && b.ariaExpanded === state)",
            arg=[switch, str(is_open).lower()],
        )  # fmt: skip


def menu(page: Any, name: str) -> None:
    """Open a candidate's menu."""
    if not page.locator(".ridesim-menu").is_visible():
        page.get_by_role("button", name=f"Name, file, copy, remove: {name}", exact=True).click()
        page.locator(".ridesim-menu").wait_for()
    if line(page, name).get_attribute("aria-checked") != "true":
        choose(page, name)


def box(page: Any, label: str, name: str) -> Any:
    """A typed value."""
    return page.get_by_role("textbox", name=f"{label}, {name}", exact=True)


def slider(page: Any, label: str, name: str) -> Any:
    """A slider."""
    return page.get_by_role("slider", name=f"{label}, slider, {name}", exact=True)


def status(page: Any, desk: str = DESK) -> str:
    """The status line."""
    return page.locator(f"{desk} .ridesim-status").inner_text()


def says(page: Any, words: str, desk: str = DESK) -> None:
    """Wait until the status line says something."""
    page.wait_for_function(
        "([desk, words]) => document.querySelector(`${desk} .ridesim-status`)?.textContent.includes(words)", arg=[desk, words],
    )  # fmt: skip


def type_value(page: Any, label: str, name: str, text: str) -> None:
    """Type a value and press Enter."""
    field = box(page, label, name)
    field.fill(text)
    field.press("Enter")


def shown_value(page: Any, first: str, desk: str = DESK) -> str:
    """The first figure of a table's row in the panel itself, not in the still copy below it."""
    return page.evaluate(
        "([desk, first]) => [...document.querySelectorAll(`${desk} tr`)].find((r) => r.innerText.startsWith(first)).querySelector('td')"
        ".innerText", [desk, first],
    )  # fmt: skip


def settle(page: Any, quiet_ms: float = 400.0) -> None:
    """Wait until no picture has changed for a while."""
    before, since = None, 0.0
    for _ in range(1200):
        now = serials(page)
        since = since + 50.0 if now == before else 0.0
        if since >= quiet_ms:
            return
        before = now
        page.wait_for_timeout(50)
    raise AssertionError("the panel does not come to rest")


def table(page: Any) -> dict[str, list[str]]:
    """The live outcome table: label with unit to the cells' values with plain minus signs, ticks and differences taken off."""
    return page.evaluate(
        """() => Object.fromEntries([...document.querySelectorAll('.ridesim-desk .ridesim-outcome tbody tr')].map((r, i) => [
             String(i).padStart(2, '0') + ' ' + r.querySelector('th').innerText.trim(),
             [...r.querySelectorAll('td')].map((d) => { const c = d.cloneNode(true); c.querySelectorAll('small, em, [aria-hidden], .ridesim-unseen')
               .forEach((x) => x.remove()); return c.textContent.trim().replaceAll("−", "-"); })]).filter(([, cells]) => cells.some((c) => c)))"""
    )


def shows(page: Any, cells: list[list[str]]) -> None:
    """Wait until the live outcome table shows these cells."""
    for _ in range(1200):
        if list(table(page).values()) == cells:
            return
        page.wait_for_timeout(50)
    assert list(table(page).values()) == cells


def old(page: Any, desk: str = DESK) -> list[bool]:
    """Whether each picture is marked as old."""
    return page.evaluate(
        "desk => [...document.querySelectorAll(`${desk} .ridesim-picture`)].map((f) => f.classList.contains('ridesim-is-old'))",
        desk,
    )


def all_reached_by_keyboard(page: Any, first: Any, desk: str = DESK) -> None:
    """Tab from the first control to the last: every control of the panel gets the focus once, visibly."""
    wanted = page.evaluate(
        "desk => [...document.querySelectorAll(`${desk} :is(input, select, button)`)].filter((e) => e.offsetParent && !e.disabled && e.tabIndex >= 0)"
        ".length", desk,
    )  # fmt: skip
    (page.get_by_label(first, exact=True) if isinstance(first, str) else first).focus()
    reached = 1
    for _ in range(wanted + 20):
        page.keyboard.press("Tab")
        inside = page.evaluate(
            "desk => { const a = document.activeElement; if (!a || !a.closest(desk)) return ''; const o = getComputedStyle(a);"
            " if (!a.matches('input, select, button')) return 'words';"
            " return parseFloat(o.outlineWidth) >= 2 && o.outlineStyle !== 'none' ? 'seen' : 'unseen'; }",
            desk,
        )
        if inside == "":
            break
        assert inside != "unseen"
        reached += inside == "seen"
    assert reached == wanted


def load_axe(page: Any) -> None:
    """axe-core from RIDESIM_AXE or .ci/out/axe (npm pack axe-core); required when CI=true, else the test is skipped."""
    script = Path(os.environ.get("RIDESIM_AXE", ROOT / ".ci" / "out" / "axe" / "package" / "axe.min.js"))
    if not script.is_file():
        if os.environ.get("CI") == "true":
            pytest.fail(f"axe-core is not at {script}")
        pytest.skip("axe-core is not here")
    page.evaluate(script.read_text(encoding="utf-8"))


def serious_violations(page: Any, desk: str = DESK) -> list[Any]:
    """What axe-core finds serious or critical inside the panel: impact, rule, the elements."""
    found = page.evaluate(
        "async desk => (await axe.run(desk)).violations.map((v) => [v.impact, v.id, v.nodes.map((n) => n.html.slice(0, 200))])",
        desk,
    )
    return [violation for violation in found if violation[0] in ("serious", "critical")]


def in_sight(page: Any, selector: str) -> bool:
    """Whether a part of the panel stands whole in the notebook's window."""
    return page.evaluate(
        """(selector) => {
          const outer = document.querySelector('.jp-WindowedPanel-outer').getBoundingClientRect();
          return [...document.querySelectorAll(`.ridesim-desk ${selector}`)].filter((e) => e.offsetParent).every((e) => {
            const b = e.getBoundingClientRect(); return b.top >= outer.top - 1 && b.bottom <= outer.bottom + 1 && b.right <= outer.right + 1; });
        }""",
        selector,
    )


def press_tab(page: Any, key: str) -> None:
    """Press a tab, and wait until it is the one that is open."""
    page.locator(f".ridesim-tabs [data-key={key}]").click()
    page.wait_for_function(
        "key => document.querySelector(`.ridesim-tabs [data-key=${key}]`).ariaPressed === 'true'", arg=key
    )
