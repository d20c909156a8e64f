"""How a swinging arm's travel tightens and slackens the chain."""

from __future__ import annotations

from cmath import rect
from dataclasses import dataclass
from math import asin, cos, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from ridesim.sizing.chain import links_exact, pitch_radius
from ridesim.sizing.chain_fit import SAG, ChainFit, moved
from ridesim.sizing.layout import Layout

POINTS = 31
LOOSE = 2.0 * SAG[1]
"""Sag over the span at which a chain slaps and may jump: twice the usual; common practice, no source."""


@dataclass(frozen=True, eq=False)
class Swing:
    """The chain through the arm's travel.

    Attributes
    ----------
    up_mm : ndarray
        How far the wheel is above where it stands loaded; less than 0 below.
    need_mm : ndarray
        Length of chain that it takes more than where it stands: more is tighter.
    span_mm : float
        Of a straight span where it stands.
    """

    up_mm: NDArray[np.float64]
    need_mm: NDArray[np.float64]
    span_mm: float

    @property
    def spread_mm(self) -> float:
        """Length of chain between the tightest and the slackest place."""
        return float(self.need_mm.max() - self.need_mm.min())

    @property
    def tightest_up_mm(self) -> float:
        """Where the wheel is when the chain is tightest."""
        return float(self.up_mm[int(self.need_mm.argmax())])

    @property
    def set_sag_mm(self) -> float:
        """Sag to set where it stands loaded, so that the least is left at the tightest place."""
        return self._sag(self._least + float(self.need_mm.max()))

    @property
    def most_sag_mm(self) -> float:
        """Sag at the slackest place then."""
        return self._sag(self._least + self.spread_mm)

    @property
    def _least(self) -> float:
        """Slack of the least sag: 8 s²/(3 b) of a flat arc. [mm]"""
        return 8.0 * SAG[0] ** 2 * self.span_mm / 3.0

    def _sag(self, slack: float) -> float:
        return sqrt(3.0 * self.span_mm * slack / 8.0)

    @property
    def loose(self) -> bool:
        """Whether it hangs so much at the slackest place that it may jump."""
        return self.most_sag_mm > LOOSE * self.span_mm

    @property
    def sentence(self) -> str:
        """What the travel does, and what to set."""
        up = self.tightest_up_mm
        where = (
            "where it stands loaded"
            if abs(up) < 2.0
            else f"with the wheel {abs(up):.0f} mm {'up' if up > 0.0 else 'down'}"
        )
        text = (
            f"Through the arm's travel the chain's length changes by {self.spread_mm:.1f} mm; it is tightest {where}. "
            f"Set {self.set_sag_mm:.0f} mm of sag loaded, and it hangs by up to {self.most_sag_mm:.0f} mm"
        )
        return text + (
            ": too slack, it may jump. A sprung idler that takes that up, or another place of the shaft."
            if self.loose
            else "."
        )


def swing_at(fit: ChainFit, place: Layout, shaft: complex) -> Swing | None:
    """What the arm's travel does to a chain that is tight where the vehicle stands.

    Parameters
    ----------
    fit : ChainFit
        Of the chain.
    place : Layout
        With the arm's pivot.
    shaft : complex
        Of the small sprocket. [m]

    Returns
    -------
    Swing or None
        None without a pivot.

    Notes
    -----
    The axle goes round the pivot, the shaft stays with the frame, and the chain's length follows from the exact distance of the centres.
    """
    if place.pivot is None:
        return None
    pitch, n1, n2 = fit.chain.pitch_mm, fit.motor_teeth, fit.wheel_teeth
    move = moved(1000.0 * abs(shaft - place.axle), place.along(shaft), fit.centre_mm)
    arm = place.axle + place.away * move / 1000.0 - place.pivot
    length, down, up = abs(arm), *place.travel_m
    heights = np.linspace(
        arm.imag - min(down, 0.9 * (length + arm.imag)), arm.imag + min(up, 0.9 * (length - arm.imag)), POINTS
    )
    angles = [asin(height / length) for height in heights]
    axles = [place.pivot + rect(length, angle if arm.real > 0.0 else pi - angle) for angle in angles]
    standing = links_exact(1000.0 * abs(shaft - place.pivot - arm) / pitch, n1, n2)
    need = [pitch * (links_exact(1000.0 * abs(shaft - axle) / pitch, n1, n2) - standing) for axle in axles]
    lean = asin(min(1.0, abs(pitch_radius(n2) - pitch_radius(n1)) * pitch / fit.centre_mm))
    return Swing(1000.0 * (heights - arm.imag), np.array(need), fit.centre_mm * cos(lean))
