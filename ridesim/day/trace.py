"""A speed trace: what speed when, linear between its points; an empty speed means coasting."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Trace:
    """Commanded speed over time.

    Attributes
    ----------
    name : str
        Name of the trace.
    time_s : ndarray, shape (n,)
        Rising. [s]
    speed_kmh : ndarray, shape (n,)
        Commanded speed; NaN: no motor and no brake. An interval is driven only where both its ends have a speed. [km/h]
    grade_percent : ndarray, shape (n,)
        Linear between points. [%]
    """

    name: str
    time_s: FloatArray
    speed_kmh: FloatArray
    grade_percent: FloatArray

    def __eq__(self, other: object) -> bool:
        """Equal in name and points, so that what is kept of a day is found again when its file is read anew."""
        return isinstance(other, Trace) and self._values == other._values

    def __hash__(self) -> int:
        return hash(self._values)

    @cached_property
    def _values(self) -> tuple[str, bytes, bytes, bytes]:
        return self.name, self.time_s.tobytes(), self.speed_kmh.tobytes(), self.grade_percent.tobytes()

    @cached_property
    def duration_s(self) -> float:
        """From the first to the last point. [s]"""
        return float(self.time_s[-1] - self.time_s[0])

    @cached_property
    def length_m(self) -> float:
        """Distance under the commanded speed, trapezoid rule; coasted intervals count nothing. [m]"""
        mean = 0.5 * (self.speed_kmh[1:] + self.speed_kmh[:-1]) / 3.6
        return float(np.nansum(mean * np.diff(self.time_s)))

    @property
    def mean_kmh(self) -> float:
        """Mean speed. [km/h]"""
        return 3.6 * self.length_m / self.duration_s

    @property
    def steepest_percent(self) -> float:
        """Steepest climb. [%]"""
        return max(0.0, float(self.grade_percent.max()))

    @property
    def steepest_either_way_percent(self) -> float:
        """Steepest slope, up or down. [%]"""
        return float(np.abs(self.grade_percent).max())

    @property
    def fastest_kmh(self) -> float:
        """Highest commanded speed. [km/h]"""
        return float(np.nanmax(self.speed_kmh)) if np.isfinite(self.speed_kmh).any() else 0.0
