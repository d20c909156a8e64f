"""One discharge in figures, the draws of its meter's error, and the bands that draws become."""

from __future__ import annotations

from dataclasses import dataclass, field

from ridesim.bench.discharge.log import DischargeLog, FloatArray
from ridesim.bench.estimate import band_about
from ridesim.words import Uncertain


@dataclass(frozen=True, slots=True)
class Discharge:
    """One discharge in figures.

    Attributes
    ----------
    name : str
        The log.
    charge_ah : float
        Delivered down to the end voltage, or to the last row. [Ah]
    complete : bool
        Whether the end voltage was reached, so that the charge is the capacity.
    current_a, hours : float
        Mean current while the load was on, and charge over it. [A, h]
    log : DischargeLog
        The rows used.
    gain : ndarray
        The true current over the one read: 1 for the readings as they are, then draws of the meter's error.
    """

    name: str
    charge_ah: float
    complete: bool
    current_a: float
    hours: float
    log: DischargeLog = field(repr=False, compare=False)
    gain: FloatArray = field(repr=False, compare=False)

    @property
    def drawn_ah(self) -> FloatArray:
        """Charge delivered, for the readings and for the draws. [Ah]"""
        return self.charge_ah * self.gain


@dataclass
class Told:
    """What is said beside the numbers: what was put right or left out, and what these data cannot tell."""

    remarks: list[str]
    undetermined: list[str]


def band_of(values: FloatArray) -> Uncertain:
    """The value for the readings as they are, which comes first, with the band of the draws."""
    low, high = band_about(values[0], values[1:])
    return Uncertain(float(values[0]), float(low), float(high))
