"""One JupyterLab and one Chromium for all browser tests; skipped where there is no Chromium, unless CI=true."""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import nbformat
import pytest
from playwright.sync_api import Error as PlaywrightError

import ridesim
from tests.browser.lab import (
    HARMLESS,
    NOTEBOOK,
    ROOT,
    Lab,
    browser,
    chromium,
    open_notebook,
    run_all,
    running_lab,
    wait_for_pictures,
)
from tests.browser.panel import opened, settle
from tests.few_draws import in_kernels
from tests.notebook_runs import hidden_failures, wanting

OUT = ROOT / ".ci" / "out"
WORDS = """() => { const d = document.querySelector('.ridesim-desk');
  return d.innerText + [...d.querySelectorAll('input, select')].map((e) => e.value).join('|'); }"""
"""All that stands in the panel, what is typed in its boxes too."""
FAILED = """() => [...document.querySelectorAll('.jp-Notebook .jp-OutputArea-output[data-mime-type$=error],'
  + '.jp-Notebook .jp-OutputArea-output[data-mime-type$=stderr], .jp-Notebook .ridesim-problem')].map((e) => e.textContent)"""
"""What cells and callbacks raised, and status lines that tell of a problem."""
NOTED = """() => { window.came = []; new MutationObserver(() => { for (const text of ['Working: loading the panel', 'to spare']) {
  if (!window.came.includes(text) && document.body.textContent.includes(text)) window.came.push(text); } })
  .observe(document.body, { subtree: true, childList: true, characterData: true }); }"""
"""What the page shows from now on of what it says first and of what its answer says, in the order in which they come."""


def pytest_collection_modifyitems(items):
    if chromium() or os.environ.get("CI") == "true":
        return
    for item in items:
        if "browser" in Path(str(item.fspath)).parts:
            item.add_marker(pytest.mark.skip(reason="no Chromium here"))


@pytest.fixture(scope="session")
def lab(tmp_path_factory):
    # Compiled here and kept on disk for the kernels: no wait for a page has to be as long as the compiler takes.
    ridesim.compare("heron_36v", "harbour_festival", draws=32)
    folder = tmp_path_factory.mktemp("lab")
    with running_lab(folder, {"IPYTHONDIR": str(in_kernels(folder / "ipython"))}) as running:
        yield running


@pytest.fixture(scope="session")
def chrome():
    with browser() as started:
        yield started


class Opened:
    """A notebook and a page of its own, 1440 × 900, in which :func:`opened_once` opens it; console and page errors are collected."""

    def __init__(self, chrome: Any, lab: Lab, notebook: str = NOTEBOOK) -> None:
        self.lab, self.notebook = lab, notebook
        shutil.copyfile(ROOT / "notebooks" / notebook, lab.folder / notebook)
        self.page = chrome.new_page(viewport={"width": 1440, "height": 900})
        self.first: str | None = None
        self.came: list[str] = []
        self.complaints: list[str] = []
        self.page.on("console", lambda m: self.complaints.append(m.text) if m.type == "error" else None)
        self.page.on("pageerror", lambda e: self.complaints.append(str(e)))

    def run(self, pictures: int = 2) -> None:
        """Run all cells; the panel of an earlier run goes; so many pictures are in sight."""
        self.page.set_viewport_size({"width": 1440, "height": 900})
        self.page.evaluate(
            "() => document.querySelectorAll('.ridesim-desk').forEach((e) => { e.dataset.former = 'yes'; })"
        )
        run_all(self.page)
        self.page.wait_for_function("() => !document.querySelector('.ridesim-desk[data-former]')")
        wait_for_pictures(self.page, least=pictures)

    def looked_at(self) -> None:
        """After a first run nothing has failed, shown or not, nothing is written, and what is saved reads without a kernel."""
        assert self.page.evaluate(FAILED) == []
        stem, missing = Path(self.notebook).stem, [""]
        for _ in range(80):  # the still copies come a moment later
            self.page.evaluate("() => window.jupyterapp.commands.execute('docmanager:save')")
            saved = nbformat.read(self.lab.folder / self.notebook, 4)
            assert hidden_failures(saved) == []
            if not (missing := wanting(saved, stem)):
                break
            self.page.wait_for_timeout(250)
        assert missing == []
        assert not (self.lab.folder / f"{stem}.panel.toml").exists(), "a notebook that is only run writes nothing"

    def fresh(self) -> None:
        """The panel as it opens: as it stands, or started afresh; a new one where that does not bring back what it showed at first."""
        if self.first is not None and self.words() != self.first:
            with contextlib.suppress(PlaywrightError):
                self._start_afresh()
        if self.first is None or self.words() != self.first:
            (self.lab.folder / f"{Path(self.notebook).stem}.panel.toml").unlink(missing_ok=True)
            self.run()
            settle(self.page)
            self.first = self.words()

    def _start_afresh(self) -> None:
        """Close what is open, and press Start afresh."""
        page, short = self.page, 15_000
        page.set_viewport_size({"width": 1440, "height": 900})
        if page.locator(".ridesim-menu").is_visible():
            page.locator(".ridesim-dots").first.click(timeout=short)
        page.locator(".ridesim-tabs button", has_text="pull and charge").click(timeout=short)
        opened(page, "day, files, units")
        page.get_by_role("button", name="Start afresh").click(timeout=short)
        for switch in ("day, files, units", "more values", "all figures and notes"):
            opened(page, switch, is_open=False)
        page.wait_for_function(f"first => ({WORDS})() === first", arg=self.first, timeout=30_000)

    def words(self) -> str:
        """All that stands in the panel, what is typed in its boxes too."""
        return self.page.evaluate(WORDS)

    def complained(self) -> list[str]:
        """What the console said since the last look, without what is harmless."""
        said, self.complaints[:] = list(self.complaints), []
        return [text for text in said if not any(word in text for word in HARMLESS)]

    def close(self) -> None:
        """Close the page and end its kernel."""
        self.page.close()
        for session in self.lab.ask("/api/sessions"):
            with contextlib.suppress(OSError):
                if session["path"] == self.notebook:
                    self.lab.ask(f"/api/sessions/{session['id']}", method="DELETE")


@contextlib.contextmanager
def opened_once(chrome: Any, lab: Lab, notebook: str = NOTEBOOK) -> Iterator[Opened]:
    """A notebook in a page of its own, closed in any case: a page left open would be found again in the next one."""
    made = Opened(chrome, lab, notebook)
    try:
        open_notebook(made.page, lab, notebook)
        yield made
    finally:
        made.close()


@pytest.fixture
def opens(chrome: Any, lab: Lab) -> Iterator[Callable[..., Opened]]:
    """Opens notebooks for one test; an error in the console fails it."""
    with contextlib.ExitStack() as stack:
        made: list[Opened] = []

        def open_one(notebook: str) -> Opened:
            made.append(stack.enter_context(opened_once(chrome, lab, notebook)))
            return made[-1]

        yield open_one
        said = [each.complained() for each in made]
    assert not any(said), said


@pytest.fixture
def shots():
    OUT.mkdir(parents=True, exist_ok=True)
    return OUT


@pytest.fixture(scope="session")
def notebook(chrome, lab):
    """The main notebook beside some files of a user's, one page and one kernel for all tests."""
    day = (ROOT / "data" / "days" / "harbour_festival.toml").read_text(encoding="utf-8")
    laps = 'laps = 4\n\n[[activity]]\nname = "First'
    assert laps in day
    files = {
        "endless.toml": day.replace(laps, laps.replace("4", "10000", 1)),
        "broken.toml": 'name = "x"\n[vehicle]\nrolling_radius_m = -1.0\n',
        "my_cart.toml": (ROOT / "data" / "builds" / "puppet_cart.toml").read_text(encoding="utf-8"),
    }
    for name, text in files.items():
        (lab.folder / name).write_text(text, encoding="utf-8")
    with opened_once(chrome, lab) as made:
        made.page.evaluate(NOTED)
        made.fresh()
        made.came = made.page.evaluate("() => window.came")
        yield made
    for name in files:
        (lab.folder / name).unlink()


@pytest.fixture
def page(notebook, lab):
    """The page with the panel as it opens; an error in the console fails the test."""
    (lab.folder / "3_choose_drive.panel.toml").unlink(missing_ok=True)
    notebook.fresh()
    yield notebook.page
    assert notebook.complained() == []
