"""The unit switch: metric or imperial on the screen, the same numbers underneath."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ridesim.words import convert, symbol


@dataclass(frozen=True, slots=True)
class System:
    """How one system of units shows speed, distance, mass and temperature. Newton metres and newtons are kept in both.

    Attributes
    ----------
    name : str
        ``"metric"`` or ``"imperial"``.
    shown : mapping of str to str
        Metric unit's suffix to that of the unit shown.
    """

    name: str
    shown: Mapping[str, str]

    def label(self, unit: str) -> str:
        """Label of what is shown for a metric unit: ``"kmh"`` gives ``"mph"``."""
        unit = self.shown.get(unit, unit)
        return _ENERGY.get(unit) or symbol(unit)

    def value(self, number: float, unit: str) -> float:
        """A number in a metric unit as the number that is shown."""
        if unit not in self.shown:
            return number
        if unit == "wh_per_km":
            return number * float(convert(1.0, "mi", "km"))
        return float(convert(float(number), unit, self.shown[unit]))


_ENERGY = {"wh_per_km": "Wh/km", "wh_per_mi": "Wh/mi"}
METRIC = System("metric", {})
IMPERIAL = System("imperial", {"kmh": "mph", "km": "mi", "kg": "lb", "c": "f", "wh_per_km": "wh_per_mi"})
SYSTEMS = {system.name: system for system in (METRIC, IMPERIAL)}
