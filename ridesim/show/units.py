"""The unit switch: metric or imperial on the screen, the same numbers underneath."""

from __future__ import annotations

from dataclasses import dataclass

from ridesim.words import convert


@dataclass(frozen=True, slots=True)
class System:
    """How one system of units shows speed, distance, mass and temperature. Newton metres and newtons are kept in both.

    Attributes
    ----------
    name : str
        ``"metric"`` or ``"imperial"``.
    shown : mapping of str to (suffix, label)
        Metric unit's suffix to the suffix and the label of the one shown.
    """

    name: str
    shown: dict[str, tuple[str, str]]

    def label(self, unit: str) -> str:
        """Label of what is shown for a metric unit (``"kmh"`` gives ``"mph"``); other units by their own label."""
        return self.shown.get(unit, (unit, _PLAIN.get(unit, unit)))[1]

    def value(self, number: float, unit: str) -> float:
        """A number in a metric unit as the number that is shown."""
        if unit == "wh_per_km" and unit in self.shown:
            return number * float(convert(1.0, "mi", "km"))
        if unit not in self.shown or number != number or number in (float("inf"), float("-inf")):
            return number
        return float(convert(float(number), unit, self.shown[unit][0]))


_PLAIN = {
    "kmh": "km/h",
    "km": "km",
    "kg": "kg",
    "c": "°C",
    "percent": "%",
    "v": "V",
    "a": "A",
    "wh": "Wh",
    "wh_per_km": "Wh/km",
    "n": "N",
}

METRIC = System("metric", {})
IMPERIAL = System(
    "imperial",
    {
        "kmh": ("mph", "mph"),
        "km": ("mi", "mi"),
        "kg": ("lb", "lb"),
        "c": ("f", "°F"),
        "wh_per_km": ("wh_per_mi", "Wh/mi"),
    },
)
SYSTEMS = {system.name: system for system in (METRIC, IMPERIAL)}
