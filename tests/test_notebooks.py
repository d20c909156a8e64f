"""Every notebook runs, holds no hidden failure, is thin, and is committed without outputs."""

from __future__ import annotations

import base64
import json
from pathlib import Path

import nbformat
import pytest

from ridesim.show.choose_drive.panel import choose_drive
from tests.browser.lab import chromium
from tests.few_draws import in_kernels
from tests.long import THOROUGH
from tests.notebook_runs import HOLDS, hidden_failures, run, wanting
from tests.show.answers import quick_panels

ROOT = Path(__file__).resolve().parents[1]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
LONGEST_CELL = 25
LONGEST_LINE = 100
"""Letters of a line that a cell shows without a scroll bar in a window of 1280, the file list open."""
each_notebook = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)


def test_there_are_notebooks():
    assert [path.stem for path in NOTEBOOKS] == sorted(HOLDS)


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    """The notebooks that the browser's tests do not run and look at, by name: in one kernel, each from an empty namespace."""
    seen = {path.stem for path in NOTEBOOKS if chromium() and (THOROUGH or path.stem == "3_choose_drive")}
    books = {path.stem: nbformat.read(path, 4) for path in NOTEBOOKS if path.stem not in seen}
    for name, book in books.items():
        for cell in book.cells:
            cell.id = f"{name}_{cell.id}"
    whole = nbformat.v4.new_notebook(
        cells=[cell for book in books.values() for cell in (*book.cells, nbformat.v4.new_code_cell("%reset -f"))]
    )
    folder = tmp_path_factory.mktemp("notebooks")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", str(ROOT))
        patch.setenv("IPYTHONDIR", str(in_kernels(tmp_path_factory.mktemp("ipython"))))
        for name in ("RIDESIM_BUILDS", "RIDESIM_DAY"):
            patch.delenv(name, raising=False)
        if books:
            run(whole, folder)
    assert hidden_failures(whole) == []
    assert list(folder.iterdir()) == [], "a notebook that is only run writes nothing"
    return books


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@each_notebook
def test_runs_without_hidden_failures(path, ran):
    if path.stem not in ran:
        pytest.skip("run and looked at in tests/browser")
    assert wanting(ran[path.stem], path.stem) == []


@each_notebook
def test_committed_without_outputs_and_thin(path):
    notebook = nbformat.read(path, 4)
    nbformat.validate(notebook)
    assert "widgets" not in notebook.metadata
    assert notebook.metadata.kernelspec.name == "python3"
    assert notebook.cells[0].cell_type == "markdown"
    assert "?" in notebook.cells[0].source, "it opens with what it answers"
    for cell in notebook.cells:
        if cell.cell_type == "code":
            assert (cell.execution_count, cell.outputs) == (None, [])
            assert len(cell.source.splitlines()) <= LONGEST_CELL
            assert max(map(len, cell.source.splitlines())) <= LONGEST_LINE
            assert "def " not in cell.source


def test_the_main_notebook_shows_something_before_it_is_run():
    """The README's picture, which a browser test makes, in a text cell."""
    cell = nbformat.read(ROOT / "notebooks" / "3_choose_drive.ipynb", 4).cells[-1]
    picture = ROOT / "notebooks" / "pictures" / "choose_drive.png"
    assert f"attachment:{picture.name}" in cell.source
    assert base64.b64decode(cell.attachments[picture.name]["image/png"]) == picture.read_bytes()


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_the_check_sees_what_the_runner_does_not(tmp_path):
    """Two ways for a callback to fail that nbclient calls a success, and one status line with a problem."""
    fails = "import ipywidgets\ndef fails(value): raise RuntimeError('hidden')\n"
    cells = [
        f"{fails}button = ipywidgets.Button(); button.on_click(fails); button.click()",
        f"{fails}ipywidgets.interact(fails, value=(0, 3));",
        "from ridesim.show.panel.messages import Status\nstatus = Status()\nstatus.say('no', 'problem')\nstatus.view",
    ]
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(cell) for cell in cells])
    notebook.metadata["kernelspec"] = {"display_name": "Python 3", "language": "python", "name": "python3"}
    found = hidden_failures(run(notebook, tmp_path))
    assert [place.split()[0] for place in found] == ["cell", "output", "status"]
    assert found[0] == "cell 0"


def test_main_notebook_starts_with_what_the_command_opens(monkeypatch):
    builds = [str(ROOT / "data" / "builds" / f"{name}.toml") for name in ("puppet_cart", "heron_lithium")]
    monkeypatch.setenv("RIDESIM_BUILDS", json.dumps(builds))
    monkeypatch.setenv("RIDESIM_DAY", str(ROOT / "data" / "days" / "harbour_festival.toml"))
    quick_panels(monkeypatch)
    panel = choose_drive()
    panel.wait()
    try:
        assert [build.name for build in panel.builds] == ["Puppet cart, 24 V", "Heron, lithium"]
        assert panel.answer.day.name == "Harbour lantern festival"
    finally:
        panel.close()
