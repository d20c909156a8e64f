"""What the notebooks with a side view share: where a dragged part comes to rest, nothing cut or over another at any size."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tests.browser.panel import load_axe, press_tab, serious_violations
from tests.browser.test_choose_pack import clean

OVERLAPS = """() => { const seen = [...document.querySelectorAll('.ridesim-desk .ridesim-side text')];
  const texts = seen.map((e) => [e.textContent, e.getBoundingClientRect()]);
  return texts.flatMap(([a, p], i) => texts.slice(i + 1).filter(([, q]) => Math.min(p.right, q.right) - Math.max(p.left, q.left) > 2
    && Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top) > 4).map(([b]) => [a, b])); }"""
OUTSIDE = """() => { const box = document.querySelector('.ridesim-desk .ridesim-side').getBoundingClientRect();
  return [...document.querySelectorAll('.ridesim-desk .ridesim-side text')].filter((e) => { const b = e.getBoundingClientRect();
    return b.left < box.left - 1 || b.right > box.right + 1 || b.top < box.top - 1 || b.bottom > box.bottom + 1; }).map((e) => e.textContent); }"""


def at_rest(page: Any, unit: str) -> list[float]:
    """Where the part that is worked on stands, by its boxes in this unit, once they stand still."""
    before = None
    for _ in range(40):
        now = [float(page.locator(f'input[data-spoken="{name}, {unit}"]').input_value()) for name in ("Forward", "Up")]
        if now == before:
            return now
        before = now
        page.wait_for_timeout(500)
    raise AssertionError("the boxes do not come to rest")


def looks_right(page: Any, shots: Path, name: str, tabs: Sequence[str]) -> None:
    """Every tab, every size of window, and what axe finds."""
    for tab in tabs:
        press_tab(page, tab)
        page.wait_for_timeout(700)
        page.screenshot(path=shots / f"{name}_{tab}.png")
        clean(page)
    for width, height in ((600, 800), (1024, 768), (1280, 720), (1920, 1080)):
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(400)
        clean(page)
        assert page.evaluate(OUTSIDE) == []
    load_axe(page)
    assert serious_violations(page) == []
