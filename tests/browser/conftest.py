"""One JupyterLab and one Chromium for all browser tests; skipped where there is no Chromium, unless CI=true."""

from __future__ import annotations

import contextlib
import os
import shutil
from pathlib import Path

import pytest

from tests.browser.lab import (
    HARMLESS,
    NOTEBOOK,
    ROOT,
    browser,
    chromium,
    open_notebook,
    run_all,
    running_lab,
    wait_for_pictures,
)

OUT = ROOT / ".ci" / "out"


def pytest_collection_modifyitems(items):
    if chromium() or os.environ.get("CI") == "true":
        return
    for item in items:
        if "browser" in Path(str(item.fspath)).parts:
            item.add_marker(pytest.mark.skip(reason="no Chromium here"))


@pytest.fixture(scope="session")
def lab(tmp_path_factory):
    with running_lab(tmp_path_factory.mktemp("lab")) as running:
        yield running


@pytest.fixture(scope="session")
def chrome():
    with browser() as started:
        yield started


@pytest.fixture
def page(chrome, lab):
    """A page of 1440 × 900 with the main notebook run; console errors and page errors fail the test in the end."""
    shutil.copyfile(ROOT / "notebooks" / NOTEBOOK, lab.folder / NOTEBOOK)
    opened = chrome.new_page(viewport={"width": 1440, "height": 900})
    complaints: list[str] = []
    opened.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    opened.on("pageerror", lambda e: complaints.append(str(e)))
    open_notebook(opened, lab)
    run_all(opened)
    wait_for_pictures(opened)
    yield opened
    opened.close()
    for session in lab.ask("/api/sessions"):
        with contextlib.suppress(OSError):
            lab.ask(f"/api/sessions/{session['id']}", method="DELETE")
    real = [text for text in complaints if not any(word in text for word in HARMLESS)]
    assert real == []


@pytest.fixture
def shots():
    OUT.mkdir(parents=True, exist_ok=True)
    return OUT
