"""The build sheet in a real browser: opens without the network, prints on A4 without anything cut, passes axe-core."""

from __future__ import annotations

import re

import pytest

import ridesim
from ridesim.show.sheet import build_sheet
from tests.browser.panel import load_axe

pytestmark = [pytest.mark.browser, pytest.mark.thorough]
BUILDS = ("heron_36v", "heron_48v", "heron_lithium", "puppet_cart")
PAPER = {"width": 703, "height": 1032}
"""A4 between margins of 12 mm, at 96 dots an inch."""


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    comparison = ridesim.compare(BUILDS, "harbour_festival")
    return build_sheet(comparison).save(tmp_path_factory.mktemp("sheet") / "sheet.html")


@pytest.fixture
def page(chrome, file):
    opened = chrome.new_page(viewport=PAPER)
    asked: list[str] = []
    opened.on("request", lambda request: asked.append(request.url))
    opened.goto(file.as_uri())
    yield opened
    opened.close()
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []


def test_nothing_is_cut_on_paper(page, shots):
    page.emulate_media(media="print")
    assert page.evaluate("() => document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    wide = page.evaluate(
        "() => [...document.querySelectorAll('table, img, p, li, th, td')].filter((e) => !e.closest('.unseen') && "
        "(e.scrollWidth > e.clientWidth + 1 || e.getBoundingClientRect().right > innerWidth)).map((e) => e.outerHTML.slice(0, 120))"
    )
    assert wide == []
    sizes = page.evaluate(
        "() => [...document.querySelectorAll('.build-sheet :is(p, li, th, td, small, code, span)')].map((e) => parseFloat(getComputedStyle(e)"
        ".fontSize))"
    )
    assert min(sizes) >= 9.0, "nothing smaller than 6.75 points"
    assert page.evaluate(
        "() => [...document.images].every((i) => i.complete && i.naturalWidth > 0 && i.alt.length > 20)"
    )
    page.screenshot(path=shots / "build_sheet.png", full_page=True)


def pages_of(page):
    return len(re.findall(rb"/Type\s*/Page[^s]", page.pdf(prefer_css_page_size=True)))


def test_the_yard_s_page_is_one_page_and_few_are_printed(page):
    """The page with the blanks to fill in goes to the yard alone; a build takes five pages, one more compares, one traces leads."""
    height = page.locator(".first-day").first.bounding_box()["height"]
    assert height <= PAPER["height"]
    assert pages_of(page) <= 22


@pytest.mark.all_draws
def test_two_builds_take_twelve_pages(chrome, tmp_path):
    file = build_sheet(ridesim.compare(BUILDS[:2], "harbour_festival")).save(tmp_path / "two.html")
    page = chrome.new_page(viewport=PAPER)
    page.goto(file.as_uri())
    assert pages_of(page) <= 12
    page.close()


def test_axe_finds_nothing_serious(page):
    load_axe(page)
    found = page.evaluate(
        "async () => (await axe.run()).violations.map((v) => [v.impact, v.id, v.nodes.map((n) => n.html.slice(0, 150))])"
    )
    assert [each for each in found if each[0] in ("serious", "critical")] == []
