"""Every notebook runs, holds no hidden failure, is thin, and is committed without outputs."""

from __future__ import annotations

from pathlib import Path

import nbformat
import pytest

from tests.notebook_runs import hidden_failures, run

ROOT = Path(__file__).resolve().parents[1]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
LONGEST_CELL = 25


def test_there_are_notebooks():
    assert NOTEBOOKS


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_runs_without_hidden_failures(path, tmp_path, monkeypatch):
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    for name in ("RIDESIM_BUILDS", "RIDESIM_DAY"):
        monkeypatch.delenv(name, raising=False)
    notebook = run(nbformat.read(path, 4), tmp_path)
    assert hidden_failures(notebook) == []
    assert list(tmp_path.iterdir()) == [], "a notebook that is only run writes nothing"


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_committed_without_outputs_and_thin(path):
    notebook = nbformat.read(path, 4)
    nbformat.validate(notebook)
    assert "widgets" not in notebook.metadata
    assert notebook.metadata.kernelspec.name == "python3"
    for cell in notebook.cells:
        if cell.cell_type == "code":
            assert (cell.execution_count, cell.outputs) == (None, [])
            assert len(cell.source.splitlines()) <= LONGEST_CELL
            assert "def " not in cell.source


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_the_check_sees_what_the_runner_does_not(tmp_path):
    """Three ways for a callback to fail that nbclient calls a success, and one status line with a problem."""
    source = """
    import ipywidgets
    def fails(value): raise RuntimeError("hidden")
    button = ipywidgets.Button(); button.on_click(lambda _: fails(1)); button.click()
    """
    interact = (
        "import ipywidgets\ndef fails(value): raise RuntimeError('hidden')\nipywidgets.interact(fails, value=(0, 3));"
    )
    status = (
        "from ridesim.show.panel.messages import Status\nstatus = Status()\nstatus.say('no', 'problem')\nstatus.view"
    )
    import textwrap

    for code in (textwrap.dedent(source), interact, status):
        notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(code)])
        notebook.metadata["kernelspec"] = {"display_name": "Python 3", "language": "python", "name": "python3"}
        assert hidden_failures(run(notebook, tmp_path)) != [], code


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_main_notebook_starts_with_what_the_command_opens(tmp_path, monkeypatch):
    import json

    builds = [str(ROOT / "data" / "builds" / f"{name}.toml") for name in ("puppet_cart", "heron_lithium")]
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    monkeypatch.setenv("RIDESIM_BUILDS", json.dumps(builds))
    monkeypatch.setenv("RIDESIM_DAY", str(ROOT / "data" / "days" / "harbour_festival.toml"))
    notebook = nbformat.read(ROOT / "notebooks" / "3_choose_drive.ipynb", 4)
    notebook.cells.append(
        nbformat.v4.new_code_cell("print([build.name for build in panel.builds], panel.answer.day.name)")
    )
    run(notebook, tmp_path)
    printed = "".join(output.get("text", "") for output in notebook.cells[-1].outputs)
    assert printed.strip() == "['Puppet cart, 24 V', 'Heron, lithium'] Harbour lantern festival"
