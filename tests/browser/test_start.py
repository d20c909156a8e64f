"""The start page in a real browser: the stages of the job, of an invented build where there is none of one's own."""

from __future__ import annotations

import pytest

from ridesim.show.start import start
from tests.browser.lab import run_all

pytestmark = [pytest.mark.browser, pytest.mark.thorough]


def test_the_start_page_lists_the_stages_of_the_job(opens, shots, tmp_path):
    opened = opens("0_start.ipynb")
    page = opened.page
    run_all(page)
    page.locator(".ridesim-start").wait_for()
    text = page.inner_text(".ridesim-start")
    for stage in start(tmp_path).stages:
        assert stage.notebook in text
        assert stage.question in text
    page.screenshot(path=shots / "start.png")
    opened.looked_at()
