"""Chain and mounting on the build sheet: does it fit and hold, where the shaft is, what to order."""

from __future__ import annotations

from collections.abc import Container, Iterator
from typing import Any

from ridesim.show.chain.inputs import fits_of
from ridesim.show.chain.side import alone_svg, alt
from ridesim.show.tables.html import svg_address
from ridesim.show.units import System
from ridesim.sizing.chain_fit import ChainFit
from ridesim.sizing.chain_order import order_list
from ridesim.sizing.mounting import Mounting, mounting
from ridesim.vehicle import Build

CAUTION = (
    "Guard on before the motor turns; sleeves, hair and costume away. Slack set at the tightest spot, wheel turned by hand, isolator off; spring "
    "clip’s closed end first. Batteries out before anything is welded near them."
)
"""Common practice in our own words."""


def chain_part(build: Build, system: System) -> dict[str, Any]:
    """What the sheet says of the chains that can be judged; ``chains`` is empty where there is none."""
    fits = fits_of(build)
    placed = _placed(build, fits)
    return {
        "drawing": None if placed is None else _drawing(placed, system),
        "chains": [
            (system.said(fit.verdict), list(_lines(fit, placed if which == len(build.drive.chains) - 1 else None)))
            for which, fit in fits.items()
        ],
        "order": "; ".join(
            f"{'' if line.number == 1 else f'{line.number} × '}{line.item} {line.size}".rstrip()
            for line in order_list(build)
        ),
        "caution": CAUTION,
    }


def _drawing(placed: Mounting, system: System) -> dict[str, str]:
    """The drawing to scale as an image within the page, with its text alternative."""
    return {"data": svg_address(alone_svg(placed, system)), "alt": alt(placed, system)}


def _placed(build: Build, fits: Container[int]) -> Mounting | None:
    """Where the last chain's shaft is; None where that is not stated or the chain cannot be judged."""
    drive, last = build.drive, len(build.drive.chains) - 1
    if drive.shaft_x_m is None or last not in fits or drive.chains[last].after != 1.0:
        return None
    return mounting(build)


def _lines(fit: ChainFit, placed: Mounting | None) -> Iterator[tuple[str, str]]:
    """What to weld and to set, in the workshop's millimetres; ``placed`` is where the shaft is, of the chain that it drives."""
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
