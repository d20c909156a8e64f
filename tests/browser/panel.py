"""Reading and working the panel in a page, as a person does."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from tests.browser.lab import ROOT

SERIALS = "() => [...document.querySelectorAll('.ridesim-picture canvas')].map((c) => Number(c.dataset.serial))"


def row(page: Any, name: str) -> Any:
    """A candidate's row of controls."""
    return page.get_by_role("group", name=name, exact=True)


def box(page: Any, label: str, name: str) -> Any:
    """A typed value."""
    return page.get_by_role("textbox", name=f"{label}, {name}", exact=True)


def slider(page: Any, label: str, name: str) -> Any:
    """A slider."""
    return page.get_by_role("slider", name=f"{label}, slider, {name}", exact=True)


def status(page: Any) -> str:
    """The status line."""
    return page.locator(".ridesim-status").inner_text()


def settle(page: Any, quiet_ms: float = 400.0) -> None:
    """Wait until no picture has changed for a while."""
    before, since = None, 0.0
    for _ in range(200):
        now = page.evaluate(SERIALS)
        since = since + 50.0 if now == before else 0.0
        if since >= quiet_ms:
            return
        before = now
        page.wait_for_timeout(50)
    raise AssertionError("the panel does not come to rest")


def table(page: Any) -> dict[str, list[str]]:
    """The live outcome table: label with unit to the cells' values, ticks and differences taken off."""
    return page.evaluate(
        """() => Object.fromEntries([...document.querySelectorAll('.ridesim-desk .ridesim-table tbody tr')].map((r, i) => [
             String(i).padStart(2, '0') + ' ' + r.querySelector('th').innerText.trim(),
             [...r.querySelectorAll('td')].map((d) => { const c = d.cloneNode(true); c.querySelectorAll('small, [aria-hidden], .ridesim-unseen')
               .forEach((x) => x.remove()); return c.textContent.trim(); })]))"""
    )


def old(page: Any) -> list[bool]:
    """Whether each picture is marked as old."""
    return page.evaluate(
        "() => [...document.querySelectorAll('.ridesim-picture')].map((f) => f.classList.contains('ridesim-is-old'))"
    )


def all_reached_by_keyboard(page: Any, first: str) -> None:
    """Tab from the first control to the last: every control of the panel gets the focus once, visibly."""
    wanted = page.locator(".ridesim-desk :is(input, select, button)").count()
    page.get_by_label(first, exact=True).focus()
    reached = 1
    for _ in range(wanted + 20):
        page.keyboard.press("Tab")
        inside = page.evaluate(
            "() => { const a = document.activeElement; if (!a || !a.closest('.ridesim-desk')) return ''; const o = getComputedStyle(a);"
            " if (!a.matches('input, select, button')) return 'words';"
            " return parseFloat(o.outlineWidth) >= 2 && o.outlineStyle !== 'none' ? 'seen' : 'unseen'; }"
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


def serious_violations(page: Any) -> list[Any]:
    """What axe-core finds serious or critical inside the panel: impact, rule, the elements."""
    found = page.evaluate(
        "async () => (await axe.run('.ridesim-desk')).violations.map((v) => [v.impact, v.id, v.nodes.map((n) => n.html.slice(0, 200))])"
    )
    return [violation for violation in found if violation[0] in ("serious", "critical")]
