"""Chain and mounting on the build sheet: does it fit and hold, where the shaft is, what to order."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from typing import Any

from ridesim.show.chain.side import alone_svg, alt
from ridesim.show.units import System
from ridesim.sizing.chain_fit import ChainFit, chain_fit
from ridesim.sizing.chain_order import order_list
from ridesim.sizing.mounting import Mounting, mounting
from ridesim.vehicle import Build
from ridesim.words import InputProblem

CAUTION = (
    "Guard on before the motor turns; sleeves, hair and costume away. Slack set at the tightest spot, wheel turned by hand, isolator off; spring "
    "clip’s closed end first. Batteries out before anything is welded near them."
)
"""Common practice in our own words."""


def chain_part(build: Build, system: System) -> dict[str, Any]:
    """What the sheet says of the chains that can be judged; ``chains`` is empty where there is none."""
    fits = [fit for which in range(len(build.drive.chains)) if (fit := _fit(build, which)) is not None]
    placed = _placed(build)
    return {
        "drawing": None if placed is None else _drawing(placed, system),
        "chains": [(system.said(fit.verdict), list(_lines(build, fit))) for fit in fits],
        "order": "; ".join(
            f"{'' if line.number == 1 else f'{line.number} × '}{line.item} {line.size}".rstrip()
            for line in order_list(build)
        ),
        "caution": CAUTION,
    }


def _drawing(placed: Mounting, system: System) -> dict[str, str]:
    """The drawing to scale as an image within the page, with its text alternative."""
    picture = base64.b64encode(alone_svg(placed, system).encode()).decode("ascii")
    return {"data": f"data:image/svg+xml;base64,{picture}", "alt": alt(placed, system)}


def _fit(build: Build, which: int) -> ChainFit | None:
    try:
        return chain_fit(build, which)
    except InputProblem:  # said by the finding
        return None


def _placed(build: Build) -> Mounting | None:
    """Where the last chain's shaft is; None where that is not stated or the chain cannot be judged."""
    drive = build.drive
    if drive.shaft_x_m is None or not drive.chains or drive.chains[-1].after != 1.0 or _fit(build, -1) is None:
        return None
    return mounting(build)


def _lines(build: Build, fit: ChainFit) -> Iterator[tuple[str, str]]:
    """What to weld and to set, in the workshop's millimetres."""
    placed = _placed(build) if fit.where == build.drive.chains[-1].where else None
    yield "tight at, between the centres", f"{fit.centre_mm:.1f} mm"
    if placed is not None:
        at = 1000.0 * placed.shaft
        yield "shaft forward of the rear axle", f"{at.real:.0f} mm"
        yield "shaft above ground", f"{at.imag:.0f} mm"
    if fit.fits:
        yield "travel left", f"{fit.left_mm:.0f} mm"
        yield "travel that wear takes", f"{fit.wear_mm:.0f} mm"
    yield "slack span’s sag at the tightest spot", f"{fit.sag_mm[0]:.0f} to {fit.sag_mm[1]:.0f} mm"
    if placed is not None and placed.swing is not None:
        yield "sag to set loaded, for the arm’s travel", f"{placed.swing.set_sag_mm:.0f} mm"
