"""The unit switch: metric or imperial on the screen, the same numbers underneath."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ridesim.words import convert, symbol


def suffix_of(unit: str) -> str:
    """A unit's suffix, for its symbol: ``"°C"`` gives ``"c"``; a suffix stays as it is."""
    return _METRIC.get(unit, unit)


@dataclass(frozen=True, slots=True)
class System:
    """How one system of units shows numbers, and sentences with numbers in them.

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

    def text(self, number: float, unit: str, digits: int) -> str:
        """A number in a metric unit, as it is shown: ``"203 lb"``."""
        return f"{self.value(number, unit):.{digits}f} {self.label(unit)}"

    def metric(self, number: float, unit: str) -> float:
        """A number that is shown, in the metric unit again."""
        return float(convert(float(number), self.shown.get(unit, unit), unit))

    def said(self, sentence: str, numbers: Iterable[float] = ()) -> str:
        """A sentence with its metric quantities as they are shown; names in “quotes” stay as they are.

        Parameters
        ----------
        sentence : str
            Each number that is meant stands before its unit; two may share it: ``8 to 10 km``.
        numbers : iterable of float
            What the sentence's numbers were before they were rounded: what is found here is converted from its exact value.
        """
        if not self.shown:
            return with_minus(sentence)
        exact = list(numbers)

        def converted(text: str, unit: str) -> str:
            digits = len(text.partition(".")[2])
            whole = next((each for each in exact if f"{each:.{digits}f}" == text), float(text.replace("−", "-")))
            return f"{self.value(whole, unit):.{digits}f}"

        def replaced(found: re.Match[str]) -> str:
            first, between, second, space, symbol_ = found.groups()
            if first is None:
                return found[0]
            unit = _METRIC[symbol_]
            if second is None:
                other = ""
            elif between == " ± ":  # a width has no zero of its own: 5 °C of it are 9 °F
                digits = len(second.partition(".")[2])
                other = f"{between}{self.value(float(second), unit) - self.value(0.0, unit):.{digits}f}"
            else:
                other = between + converted(second, unit)
            return converted(first, unit) + other + space + self.label(unit)

        return with_minus(_QUANTITY.sub(replaced, sentence))


def with_minus(text: str) -> str:
    """A text whose numbers have a true minus sign, as wide as a plus, and not a hyphen."""
    return _HYPHEN.sub("−", text)


UNITS = (("metric", "kg, km, °C"), ("imperial", "lb, mi, °F"))
"""What a box for the units offers."""
_METRIC = {"km/h": "kmh", "km": "km", "kg": "kg", "°C": "c", "Wh/km": "wh_per_km", "N": "n", "m": "m", "m/s²": "mps2"}
_HYPHEN = re.compile(r"(?<![\w.\-\"'=#:])-(?=\d)")
_QUANTITY = re.compile(
    r"“[^”]*”|(?<![\w.,])([-−]?\d+(?:\.\d+)?)(?:( to | of | instead of | ± )([-−]?\d+(?:\.\d+)?))?([ \u00a0])"
    rf"({'|'.join(sorted(_METRIC, key=len, reverse=True))})(?![\w/²]| m\b)"
)
_ENERGY = {"wh_per_km": "Wh/km", "wh_per_mi": "Wh/mi"}
METRIC = System("metric", {})
IMPERIAL = System(
    "imperial",
    {"kmh": "mph", "km": "mi", "kg": "lb", "c": "f", "wh_per_km": "wh_per_mi", "n": "lbf", "m": "ft", "mps2": "ftps2"},
)
SYSTEMS = {system.name: system for system in (METRIC, IMPERIAL)}
