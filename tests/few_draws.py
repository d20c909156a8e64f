"""A comparison in tests draws fewer vehicles than a user's: what they look at but for bands and levels is not drawn."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from ridesim.choose.how_sure import DRAWS, drawn_rides

FEW_DRAWS = DRAWS if os.environ.get("RIDESIM_README_PICTURE") else 48


def fewer(builds: Any, day: Any, count: int, speeds: Any) -> Any:
    """As :func:`ridesim.choose.how_sure.drawn_rides`, with fewer where a user's comparison asks for its usual number."""
    return drawn_rides(builds, day, FEW_DRAWS if count == DRAWS else count, speeds)


def in_kernels(ipython: Path) -> Path:
    """An IPYTHONDIR whose kernels draw as few."""
    startup = ipython / "profile_default" / "startup"
    startup.mkdir(parents=True, exist_ok=True)
    (startup / "few_draws.py").write_text(
        "from tests.few_draws import fewer\nfrom ridesim.choose import likely\nlikely.drawn_rides = fewer\n",
        encoding="utf-8",
    )
    return ipython
