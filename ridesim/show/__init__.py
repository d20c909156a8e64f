"""What people see: tables, pictures, panels, the printed sheet."""

from __future__ import annotations

from importlib import import_module
from typing import Any

PANELS = {
    "weigh_and_balance": ("weigh", "WeighAndBalance"), "choose_drive": ("choose_drive", "choose_drive"),
    "bench_motor": ("bench_motor", "bench_motor"), "series_motor": ("bench_motor", "series_motor"),
    "choose_pack": ("choose_pack", "ChoosePack"), "chain_and_mounting": ("chain", "ChainAndMounting"),
    "wire_and_protect": ("wiring", "WireAndProtect"),
}  # fmt: skip
"""The panels: the folder of each, and what in its ``panel.py`` makes it."""


def open_panel(name: str, *arguments: Any) -> Any:
    """A notebook's panel; what it needs takes seconds to load, so the page says at once that it is being worked on.

    Parameters
    ----------
    name : {"weigh_and_balance", "choose_drive", "bench_motor", "series_motor", "choose_pack", "chain_and_mounting", "wire_and_protect"}
        Which panel.
    *arguments : object
        What that panel is made from, instead of its invented example.

    Returns
    -------
    Desk
        Shows itself as the last expression of a cell.
    """
    from IPython.display import HTML, display

    said: Any = display(HTML("<p>Working: loading the panel …</p>"), display_id=True)  # type: ignore[no-untyped-call]
    folder, maker = PANELS[name]
    made = getattr(import_module(f"ridesim.show.{folder}.panel"), maker)(*arguments)
    if said is not None:
        said.update(HTML(""))
    return made
