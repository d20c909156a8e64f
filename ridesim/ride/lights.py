"""The lights' own battery over a day: when it is empty, what is left of it, and which size would do."""

from __future__ import annotations

from dataclasses import dataclass, field

from ridesim.day import Day
from ridesim.day.day import DAY_S
from ridesim.physics.capacity_laws import peukert_factor
from ridesim.physics.pack import capacity_temperature_factor
from ridesim.vehicle import CHEMISTRIES, Lighting

RATED_H = 20.0
"""Hours of a small block's rating."""
KEPT = 0.2
"""Share of its charge that should be left in the evening; common practice, no source."""


@dataclass
class LightsBattery:
    """A small sealed block that feeds the lights alone, full at the start of the day.

    Attributes
    ----------
    lighting : Lighting
    day : Day
        Its air, in which the block gives less where it is cold, and its clock of the lights.
    runs : list of (float, float)
        Currents and for how long they flowed. [A, h]
    used : float
        Share of its charge that they took; more than 1 where it ran out.
    """

    lighting: Lighting
    day: Day
    runs: list[tuple[float, float]] = field(default_factory=list)
    used: float = 0.0

    @property
    def left(self) -> float:
        """State of charge now, 0 or more."""
        return max(0.0, 1.0 - self.used)

    @property
    def enough_ah(self) -> float:
        """Ampere-hours on the label of a block, as old and as cold, that would have KEPT left. [Ah]"""
        from scipy.optimize import brentq

        def too_much(label_ah: float) -> float:
            return sum(self._rate(amps, label_ah) * hours for amps, hours in self.runs) - (1.0 - KEPT)

        small = sum(
            amps * hours for amps, hours in self.runs
        )  # given in many hours, warm and new, and then quite empty
        if small == 0.0:
            return 0.0
        small *= 0.1
        large = small
        while too_much(large) > 0.0:
            large *= 2.0
        return float(brentq(too_much, small, large, xtol=1e-6 * small))

    def drain(self, share: float | None, start: float, end: float) -> float | None:
        """Light a share of the lights, or all by the clock where there is none, between two moments [s]; says when the block ran out."""
        if share == 0.0 or (share is None and self.day.lights_on is None):
            return None
        amps = (1.0 if share is None else share) * self.lighting.power_w / self.lighting.battery_voltage_v
        per_h = self._rate(amps, self.lighting.battery_capacity_ah)
        ran_out = None
        for begin, over in self._lit(start, end) if share is None else [(start, end)]:
            hours, before = (over - begin) / 3600.0, self.left
            self.runs.append((amps, hours))
            self.used += per_h * hours
            if before > 0.0 and self.left == 0.0:
                ran_out = begin + 3600.0 * before / per_h
        return ran_out

    def _rate(self, amps: float, label_ah: float) -> float:
        """Share of a block's charge an hour, by Peukert's law; its rated current is the label's, however old or cold. [1/h]"""
        sealed = CHEMISTRIES["lead-acid-agm"]
        holds = label_ah * self.lighting.battery_state_of_health
        holds *= capacity_temperature_factor(self.day.ambient_c, sealed.capacity_per_k)
        return amps / holds * float(peukert_factor(amps, label_ah / RATED_H, self.lighting.peukert_exponent))

    def _lit(self, start: float, end: float) -> list[tuple[float, float]]:
        """When, between two moments, the lights are on by the clock. [s]"""
        on, off = self.day.lit_s
        days = range(int(start // DAY_S) - 1, int(end // DAY_S) + 1)
        spans = [(max(start, on + day * DAY_S), min(end, off + day * DAY_S)) for day in days]
        return [(begin, over) for begin, over in spans if over > begin]
