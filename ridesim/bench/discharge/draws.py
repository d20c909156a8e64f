"""What the draws of an identification become: bands, and what is told beside them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.words import Uncertain

DRAWS = 400
BAND = (0.05, 0.95)
"""Quantiles of the draws that a band reaches from and to: 90 % of them lie within."""
NINE_OF_TEN = 1.645
"""Standard deviations of a normal distribution within which nine of ten lie."""


@dataclass
class Told:
    """What is said beside the numbers: what was put right or left out, and what these data cannot tell."""

    remarks: list[str]
    undetermined: list[str]


def band_of(values: NDArray[np.float64]) -> Uncertain:
    """The value for the readings as they are, which comes first, with the band of the draws."""
    low, high = np.quantile(values[1:], BAND)
    value = float(values[0])
    return Uncertain(value, min(value, float(low)), max(value, float(high)))
