"""A comparison in tests draws fewer vehicles than a user's, and each only once: what they look at but for bands and levels is not drawn."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from ridesim.choose.how_sure import DRAWS, drawn_rides
from ridesim.choose.remedies import remedies

FEW_DRAWS = DRAWS if os.environ.get("RIDESIM_README_PICTURE") else 32
KEPT = 64
_drawn: dict[Any, Any] = {}
_mended: dict[Any, Any] = {}


def fewer(builds: Any, day: Any, count: int, speeds: Any) -> Any:
    """As :func:`ridesim.choose.how_sure.drawn_rides`, with fewer where a user's comparison asks for its usual number."""
    count = FEW_DRAWS if count == DRAWS else count
    if len(_drawn) > KEPT:  # some megabytes each
        _drawn.clear()
    asked = [(build, day, count, speed) for build, speed in zip(builds, speeds, strict=True)]
    fresh = [each for each in asked if each not in _drawn]
    # The draws of a build do not hang on what it is compared with.
    found = drawn_rides([each[0] for each in fresh], day, count, [each[3] for each in fresh]) if fresh else []
    _drawn.update(zip(fresh, found, strict=True))
    return [_drawn[each] for each in asked]


def mended_once(c: Any) -> Any:
    """As :func:`ridesim.choose.remedies.remedies`, of each candidate once."""
    key = c.build, c.ride.asked, None if c.drawn is None else len(c.drawn.all_hold)
    if key not in _mended:
        _mended[key] = remedies(c)
    return _mended[key]


def in_kernels(ipython: Path) -> Path:
    """An IPYTHONDIR whose kernels draw as few."""
    startup = ipython / "profile_default" / "startup"
    startup.mkdir(parents=True, exist_ok=True)
    (startup / "few_draws.py").write_text(
        "from tests.few_draws import fewer\nfrom ridesim.choose import likely\nlikely.drawn_rides = fewer\n",
        encoding="utf-8",
    )
    return ipython
