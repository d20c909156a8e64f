"""A real JupyterLab on 127.0.0.1 with a token, in folders of its own, and a headless Chromium beside it."""

from __future__ import annotations

import contextlib
import json
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
NOTEBOOK = "3_choose_drive.ipynb"
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
PATIENCE_MS = 60_000.0
"""How long a test waits for what must come, on a busy machine too."""
HARMLESS = (
    "favicon", "/api/contents/.jupyter", "Failed to load resource: the server responded with a status of 404 (Not Found)",
    "net::ERR_UNKNOWN_URL_SCHEME", "widget model not found",
)  # fmt: skip
"""Console messages of JupyterLab's own looking for files that need not be there, for a text cell's picture before it has found it, and for a
widget that a busy kernel has not told of yet, though the panel stands; each test lists what is left."""


def chromium() -> str | None:
    """Where a Chromium is, or None."""
    named = os.environ.get("RIDESIM_CHROMIUM")
    return named or shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


@dataclass
class Lab:
    """A running JupyterLab."""

    url: str
    token: str
    folder: Path
    process: Any
    kernel_environment: dict[str, str] = field(default_factory=dict)

    def address(self, notebook: str = NOTEBOOK, mode: str = "lab") -> str:
        """Address of a notebook; mode "lab" is the usual page, "doc" shows one document alone."""
        return f"{self.url}/{mode}/tree/{notebook}?token={self.token}&reset"

    def ask(self, path: str, data: bytes | None = None, method: str | None = None) -> Any:
        """Ask the server's REST interface."""
        request = urllib.request.Request(
            f"{self.url}{path}", data=data, method=method, headers={"Authorization": f"token {self.token}"}
        )
        for again in (True, True, True, False):
            try:
                with urllib.request.urlopen(request, timeout=20) as reply:
                    text = reply.read()
                break
            except urllib.error.HTTPError as problem:
                # The server stumbles over a kernel that goes away while it lists them.
                if problem.code != 500 or method is not None or not again:
                    raise
                time.sleep(0.5)
        return json.loads(text) if text else None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextlib.contextmanager
def running_lab(
    folder: Path, environment: dict[str, str] | None = None, theme: str = "JupyterLab Light"
) -> Iterator[Lab]:
    """Start a JupyterLab whose root is ``folder/work`` with the notebooks in it; stop it and its kernels in the end."""
    work, home = folder / "work", folder / "home"
    work.mkdir(parents=True, exist_ok=True)
    for notebook in (ROOT / "notebooks").glob("*.ipynb"):
        if not (work / notebook.name).exists():
            shutil.copyfile(notebook, work / notebook.name)
    settings = home / "settings" / "@jupyterlab" / "apputils-extension"
    settings.mkdir(parents=True, exist_ok=True)
    quiet = {"fetchNews": "false", "checkForUpdates": False}
    (settings / "notification.jupyterlab-settings").write_text(json.dumps(quiet), encoding="utf-8")
    (settings / "themes.jupyterlab-settings").write_text(json.dumps({"theme": theme}), encoding="utf-8")
    # Saving on its own, it may ask in the middle of a test whether a file that the test has written is to be replaced.
    keeper = settings.parent / "docmanager-extension"
    keeper.mkdir(parents=True, exist_ok=True)
    (keeper / "plugin.jupyterlab-settings").write_text(json.dumps({"autosave": False}), encoding="utf-8")
    pages = home / "config" / "labconfig"
    pages.mkdir(parents=True, exist_ok=True)
    # Without this the server starts node at each page, to ask whether the page's scripts want building.
    (pages / "page_config.json").write_text(json.dumps({"buildCheck": False}), encoding="utf-8")
    port, token = _free_port(), secrets.token_hex(16)
    variables = {
        **os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep),
        "JUPYTER_CONFIG_DIR": str(home / "config"), "JUPYTER_DATA_DIR": str(home / "data"), "JUPYTER_RUNTIME_DIR": str(home / "runtime"),
        "JUPYTERLAB_SETTINGS_DIR": str(home / "settings"), "JUPYTERLAB_WORKSPACES_DIR": str(home / "workspaces"),
        "IPYTHONDIR": str(home / "ipython"), **(environment or {}),
    }  # fmt: skip
    call = [
        sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", "--ServerApp.ip=127.0.0.1", f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0", f"--IdentityProvider.token={token}", f"--ServerApp.root_dir={work}", "--LabApp.expose_app_in_browser=True",
        # It ends by itself where the tests were broken off and nobody stopped it.
        "--ServerApp.shutdown_no_activity_timeout=900", "--MappingKernelManager.cull_idle_timeout=900",
    ]  # fmt: skip
    with (folder / "jupyterlab.log").open("wb") as log:
        process = subprocess.Popen(call, env=variables, stdout=log, stderr=log, start_new_session=True)
    lab = Lab(f"http://127.0.0.1:{port}", token, work, process)
    try:
        _wait_until_up(lab)
        yield lab
    finally:
        with contextlib.suppress(Exception):
            for kernel in lab.ask("/api/kernels"):
                lab.ask(f"/api/kernels/{kernel['id']}", method="DELETE")
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGTERM)
        try:
            process.wait(15)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait(5)


def _wait_until_up(lab: Lab) -> None:
    for _ in range(240):
        if lab.process.poll() is not None:
            raise RuntimeError("JupyterLab ended at once; see jupyterlab.log beside its folder")
        with contextlib.suppress(OSError):
            lab.ask("/api/status")
            return
        time.sleep(0.25)
    raise RuntimeError("JupyterLab did not answer within a minute")


@contextlib.contextmanager
def browser() -> Iterator[Any]:
    """A headless Chromium."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=chromium(), args=FLAGS, headless=True)
        try:
            yield started
        finally:
            started.close()


def open_notebook(page: Any, lab: Lab, notebook: str = NOTEBOOK, mode: str = "lab") -> None:
    """Open a notebook and wait until its kernel is idle."""
    page.set_default_timeout(PATIENCE_MS)
    # JupyterLab says so where a test takes a file away while it lists the folder; it would lie over all that is pressed next.
    listing = page.locator(".jp-Dialog", has_text="Directory not found")
    page.add_locator_handler(listing, lambda dialog: dialog.get_by_role("button").last.click())
    page.goto(lab.address(notebook, mode), wait_until="domcontentloaded")
    page.wait_for_selector(".jp-Notebook .jp-Cell")
    # The page's own indicator says idle before there is a kernel: ask the server, and for this notebook's, since another's may be going away.
    for _ in range(240):
        kernels = [session["kernel"] for session in lab.ask("/api/sessions") if session["path"] == notebook]
        if any(kernel["execution_state"] == "idle" and kernel["connections"] > 0 for kernel in kernels):
            break
        page.wait_for_timeout(250)
    else:
        raise RuntimeError("the notebook's kernel did not become idle within a minute")
    page.wait_for_selector('.jp-Notebook-ExecutionIndicator[data-status="idle"]')


def run_all(page: Any) -> None:
    """Run all cells through the menu, as a person does."""
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name="Run All Cells", exact=True).click()


def save_and_reload(page: Any) -> None:
    """Save the notebook and load the page anew, the kernel living on."""
    page.keyboard.press("Control+s")
    page.wait_for_function("() => !document.querySelector('.jp-mod-dirty')")
    page.reload(wait_until="domcontentloaded")


def wait_for_pictures(page: Any, seconds: float = 180.0, least: int = 2) -> None:
    """Wait until all pictures that are in sight are drawn at the size of the page."""
    page.wait_for_function(
        """(least) => { const c = [...document.querySelectorAll('.ridesim-picture canvas')]
          .filter((x) => x.offsetParent);
          return c.length >= least && c.every((x) => x.dataset.serial && (x.getBoundingClientRect().top >= innerHeight
            || Math.abs(x.width / devicePixelRatio - x.parentElement.getBoundingClientRect().width) < 2)); }""",
        arg=least,
        timeout=seconds * 1000.0,
    )
