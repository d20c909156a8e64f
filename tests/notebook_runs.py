"""Running a notebook in a test, and finding the errors that the runner does not report."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from nbclient import NotebookClient
from nbclient.exceptions import CellTimeoutError


def run(notebook: Any, folder: Path) -> Any:
    """Run all cells with a folder as the current one; widget states are kept in the notebook.

    Now and then a kernel's answer is not heard, or comes only when the wait for it ends: a short wait first, then another kernel.
    """
    resources = {"metadata": {"path": str(folder)}}
    for seconds in (60, 300):
        client = NotebookClient(
            notebook, timeout=seconds, kernel_name="python3", store_widget_state=True, resources=resources
        )
        try:
            client.execute()
            break
        except CellTimeoutError:
            if seconds == 300:
                raise
    return notebook


def hidden_failures(notebook: Any) -> list[str]:
    """Places in a run notebook that hold an error the runner did not report."""
    found = [
        f"cell {number}"
        for number, cell in enumerate(notebook.cells)
        if any(output.output_type == "error" for output in cell.get("outputs", []))
    ]
    saved = notebook.metadata.get("widgets", {}).get("application/vnd.jupyter.widget-state+json", {})
    for name, model in saved.get("state", {}).items():
        if any(output.get("output_type") == "error" for output in model["state"].get("outputs", [])):
            found.append(f"output widget {name[:8]}")
        text = str(model["state"].get("html", ""))
        if "ridesim-problem" in text:
            found.append(f"status line {name[:8]}: {text}")
    return found
