"""Running a notebook in a test, and finding the errors that the runner does not report."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from nbclient import NotebookClient
from nbclient.exceptions import CellTimeoutError

HOLDS = {
    "0_start": ["what is known already", "3_choose_drive"],
    "1_weigh_and_balance": ["can push it dead", "data:image/svg"],
    "2_bench_test_motor": ["12 V on the stand turns the wheel", "image/png"],
    "3_choose_drive": ["Top speed", "image/png"],
    "4_choose_pack": ["usable", "image/png"],
    "5_chain_and_mounting": ["with 110 links fits", "data:image/svg"],
    "6_wire_and_protect": ["It can be wired so", "data:image/svg"],
}
"""What stands in a notebook that has been run, as it is saved: it reads without a kernel."""


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


def wanting(notebook: Any, stem: str) -> list[str]:
    """What of :data:`HOLDS` does not stand in a notebook as it is saved, and names of objects, which say nothing where no kernel runs."""
    text = "".join(str(output) for cell in notebook.cells for output in cell.get("outputs", []))
    return [words for words in HOLDS[stem] if words not in text] + ["VBox("] * ("VBox(" in text)


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
