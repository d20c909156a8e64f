"""Reading and working the panel in a page, as a person does."""

from __future__ import annotations

from typing import Any

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
