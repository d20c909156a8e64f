"""``ridesim open``: what is started is ended, whenever and however the command is stopped, with one line and the shell's exit status."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from tests.long import LONG

pytestmark = pytest.mark.skipif(os.name == "nt", reason="signals of another system")

ROOT = Path(__file__).parent.parent
STATUS = {signal.SIGINT: 130, signal.SIGTERM: 143}


@pytest.fixture
def opened(tmp_path):
    """Starts the command and hands over its process; what it says goes to a file."""
    (tmp_path / "jupyter_server_config.json").write_text('{"ServerApp": {"allow_root": true}}', encoding="utf-8")
    started = []

    def start(*words: str) -> subprocess.Popen:
        paths = {
            "PYTHONPATH": str(ROOT),
            "JUPYTER_CONFIG_DIR": str(tmp_path),
            "JUPYTER_RUNTIME_DIR": str(tmp_path / "runtime"),
        }
        call = [sys.executable, "-m", "ridesim", "open", "--no-browser", *words]
        with (tmp_path / "said").open("w", encoding="utf-8") as said:
            process = subprocess.Popen(call, env={**os.environ, **paths}, stdout=said, stderr=said, cwd=tmp_path)
        process.said = tmp_path / "said"
        started.append(process)
        return process

    yield start
    for process in started:
        process.kill()


def address(process: subprocess.Popen) -> str:
    """The address that is printed, once it is."""
    for _ in range(600):
        found = re.findall(r"http://127\S+token=\w+", process.said.read_text(encoding="utf-8"))
        if found:
            return found[-1]
        time.sleep(0.1)
    raise AssertionError(process.said.read_text(encoding="utf-8"))


def read(what: str | urllib.request.Request) -> str:
    for _ in range(50):  # the address may be printed a moment before anybody listens there
        try:
            with urllib.request.urlopen(what) as answer:
                return answer.read().decode()
        except urllib.error.URLError:
            time.sleep(0.2)
    raise AssertionError(what)


def children(process: subprocess.Popen) -> list[int]:
    """Processes that carry the command's runtime folder in their environment: the server and its kernels."""
    mark = str(process.said.parent / "runtime").encode()
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            if mark in (folder / "environ").read_bytes() and int(folder.name) != process.pid:
                found.append(int(folder.name))
        except OSError:
            continue
    return found


@pytest.mark.parametrize("number", STATUS if LONG else [*STATUS][:1])
@pytest.mark.thorough
def test_server_and_kernel_end_with_the_command(opened, number):
    process = opened("heron_36v", "--day", "harbour_festival")
    url = address(process)
    assert "/lab/tree/3_choose_drive.ipynb?token=" in url
    page = read(url)
    assert "@jupyterlab/apputils-extension:announcements" in page, "no question about news, no look for updates"
    base, token = url.split("/lab")[0], url.split("token=")[1]
    ask = urllib.request.Request(
        f"{base}/api/kernels", data=b"{}", headers={"Authorization": f"token {token}"}, method="POST"
    )
    assert json.loads(read(ask))["id"]
    assert len(children(process)) >= 2
    process.send_signal(number)
    assert process.wait(30) == STATUS[number]
    ours = [line for line in process.said.read_text(encoding="utf-8").splitlines() if line == "Stopped."]
    assert len(ours) == 1
    deadline = time.time() + 20.0
    while children(process) and time.time() < deadline:
        time.sleep(0.2)
    assert children(process) == []


@pytest.mark.parametrize("number", STATUS)
@pytest.mark.parametrize("after", [0.15, 0.4, 0.8, 1.5])
@pytest.mark.thorough
def test_stopped_while_it_starts(opened, number, after):
    process = opened()
    time.sleep(after)
    process.send_signal(number)
    ended = process.wait(30)
    said = process.said.read_text(encoding="utf-8")
    assert "Traceback" not in said
    if ended == -number and not said:
        return  # stopped by the system before Python ran a line of ours; a shell shows the same status
    assert ended == STATUS[number]
    assert said.count("Stopped.") == 1
    time.sleep(0.5)
    assert children(process) == []
