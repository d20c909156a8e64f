"""The main notebook as it is first run, and, after all that other tests do with it, as its kernel ends."""

from __future__ import annotations

import pytest

from tests.browser.lab import NOTEBOOK
from tests.browser.panel import status

pytestmark = [pytest.mark.browser, pytest.mark.thorough]


def test_it_says_at_once_that_it_works(page, notebook):
    assert notebook.came == ["Working: loading the panel", "to spare"]
    assert "Working: loading" not in page.inner_text(".jp-Notebook")
    assert page.evaluate("() => document.querySelector('.ridesim-desk').getBoundingClientRect().top < 700")


def test_within_three_seconds_it_says_that_its_kernel_has_ended(page, lab, shots):
    """The last with this page: the kernel's end ends the panel."""
    kernel = next(each["kernel"]["id"] for each in lab.ask("/api/sessions") if each["path"] == NOTEBOOK)
    page.evaluate(
        """() => { const kernel = window.jupyterapp.shell.currentWidget.sessionContext.session.kernel;
          const close = () => { window.closedAt ??= performance.now(); };
          kernel.statusChanged.connect(close); kernel.connectionStatusChanged.connect(close); kernel.disposed.connect(close);
          new MutationObserver(() => { if (document.querySelector('.ridesim-desk.ridesim-lost')) window.lostAt ??= performance.now(); })
            .observe(document.body, { subtree: true, attributes: true, attributeFilter: ['class'] }); }"""
    )
    lab.ask(f"/api/kernels/{kernel}/restart", data=b"{}", method="POST")
    # The page itself may hear of it late on a busy machine; from then on three seconds count.
    page.wait_for_function("() => window.lostAt")
    assert page.evaluate("() => window.lostAt - window.closedAt") < 3_000.0
    assert "The kernel has ended." in status(page)
    page.screenshot(path=shots / "choose_drive_without_kernel.png")
