"""The small types and the units that every room may use: Finding, Uncertain, InputProblem, units."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import lru_cache
from html import escape
from math import isfinite, nan, pi
from numbers import Real
from typing import Any, Literal, NamedTuple, TypeGuard
from unicodedata import category

from scipy import constants

Severity = Literal["stop", "warning", "advice"]


@dataclass(frozen=True, slots=True)
class Finding:
    """A sentence of warning or advice, with its numbers.

    Attributes
    ----------
    code : str
        Stable name of the kind of finding, such as ``"will-not-start"``.
    severity : {"stop", "warning", "advice"}
        ``stop``: the day or the hardware fails; ``warning``: it works at a price or a risk; ``advice``: worth knowing.
    text : str
        The sentence, numbers and units included.
    numbers : mapping of str to float
        The numbers in the sentence, units in the names.
    """

    code: str
    severity: Severity
    text: str
    numbers: Mapping[str, float] = field(default_factory=dict)

    def __repr__(self) -> str:
        return f"{self.severity.upper()}: {self.text} ({self.code})"

    def _repr_html_(self) -> str:
        return f"<p><b>{self.severity.upper()}</b> {escape(self.text)}</p>"


@dataclass(frozen=True, slots=True)
class Uncertain:
    """A value with the lowest and the highest it may be.

    Attributes
    ----------
    value, low, high : float
        In one unit, named by whoever holds the object; ``low <= value <= high``.
    """

    value: float
    low: float
    high: float

    @classmethod
    def over(cls, values: Sequence[float]) -> Uncertain:
        """The first of some values, between the lowest and the highest of all."""
        return cls(values[0], min(values), max(values))

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise ValueError(f"a band must hold its value: low {self.low}, value {self.value}, high {self.high}")

    def __repr__(self) -> str:
        return f"{self.value:.4g} ({self.low:.4g} to {self.high:.4g})"

    def _repr_html_(self) -> str:
        return f"<b>{self.value:.4g}</b> ({self.low:.4g} to {self.high:.4g})"


def band(values: Sequence[float | None]) -> Uncertain | None:
    """The first of some values between the lowest and the highest of those that there are; None where the first is missing."""
    return None if values[0] is None else Uncertain.over([each for each in values if each is not None])


def ends(band: Uncertain | None) -> tuple[float, float, float]:
    """Value, lowest and highest; NaN where there is no band."""
    return (nan, nan, nan) if band is None else (band.value, band.low, band.high)


Rows = Sequence[tuple[str, ...]]


def in_short(title: str, rows: Rows, most: int = 16) -> str:
    """An object's short form for a console: a title and one line a row, twenty lines at most."""
    lines = [", ".join(cell for cell in row if cell) for row in rows[:most]]
    more = [f"and {len(rows) - most} more"] if len(rows) > most else []
    return "\n  ".join([title, *lines, *more])


def in_short_html(title: str, rows: Rows, most: int = 16) -> str:
    """The same for a notebook, as a table."""
    cells = ["".join(f"<td>{escape(cell)}</td>" for cell in row) for row in rows[:most]]
    more = [f"<td>and {len(rows) - most} more</td>"] if len(rows) > most else []
    lines = "".join(f"<tr>{line}</tr>" for line in [*cells, *more])
    return f"<table><caption>{escape(title)}</caption>{lines}</table>"


class InShort:
    """An object with short forms for console and notebook, both from its title and rows."""

    def _short(self) -> tuple[str, Rows]:
        raise NotImplementedError

    def __repr__(self) -> str:
        return in_short(*self._short())

    __str__ = __repr__

    def _repr_html_(self) -> str:
        return in_short_html(*self._short())


def unseen(text: str) -> str:
    """The first sign of a text that cannot be seen, or changes how others are, by its number; empty where there is none."""
    odd = (sign for sign in text if category(sign) in ("Cc", "Cf", "Cs", "Zl", "Zp"))
    return next((f"U+{ord(sign):04X}" for sign in odd), "")


def in_brief(text: str, most: int = 80) -> str:
    """Text of the user for a message, its middle left out where it is long."""
    return text if len(text) <= most else f"{text[: most - 20]} … {text[-17:]}"


MOST_TOLD = 20


class InputProblem(ValueError):
    """Something in the user's input is wrong: says file, place, what was found and what is expected.

    Parameters
    ----------
    file : str
        File, or what stands for it (``"the day"``).
    place : str
        Key path, line or row; empty where the whole file is meant.
    found, expected : str
        What is there, and what should be.
    hint : str
        One more short sentence, such as the nearest known key.
    """

    def __init__(self, file: str, place: str, found: str, expected: str, hint: str = "") -> None:
        self.file, self.place, self.found, self.expected, self.hint = file, place, found, expected, hint
        self._parts: tuple[InputProblem, ...] = ()
        where = f"{file}, {place}" if place else file
        where, found = in_brief(where, 200), in_brief(found, 200)
        sentence = f"{where}: found {found}; expected {expected}." + (f" {hint}" if hint else "")
        # One message is one line, whatever stands in the user's keys and texts.
        super().__init__("".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in sentence))

    @property
    def every(self) -> tuple[InputProblem, ...]:
        """Each thing that is wrong as a problem of its own."""
        return self._parts or (self,)

    @classmethod
    def all_of(cls, problems: Sequence[InputProblem]) -> InputProblem:
        """All that is wrong with a file as one problem: a line each, at most twenty; its parts are the first one's."""
        first = problems[0]
        whole = cls(first.file, first.place, first.found, first.expected, first.hint)
        whole._parts = tuple(problems)
        more = len(problems) - MOST_TOLD
        rest = [f"{first.file}: {more} more faults."] if more > 0 else []
        whole.args = ("\n".join([*map(str, problems[:MOST_TOLD]), *rest]),)
        return whole


class Unit(NamedTuple):
    """One unit: its kind, and value in the kind's base = number × factor + offset."""

    kind: str
    factor: float
    offset: float = 0.0


_FACTORS: dict[str, dict[str, float]] = {
    "length": {
        "m": 1.0,
        "mm": constants.milli,
        "cm": constants.centi,
        "km": constants.kilo,
        "in": constants.inch,
        "ft": constants.foot,
        "yd": constants.yard,
        "mi": constants.mile,
    },
    "mass": {"kg": 1.0, "g": constants.gram, "lb": constants.pound},
    "speed": {"mps": 1.0, "kmh": constants.kmh, "mph": constants.mph},
    "acceleration": {"mps2": 1.0, "ftps2": constants.foot},
    "temperature": {"c": 1.0, "f": constants.degree_Fahrenheit},
    "time": {"s": 1.0, "min": constants.minute, "h": constants.hour},
    "charge": {"ah": 1.0, "mah": constants.milli},
    "voltage": {"v": 1.0, "mv": constants.milli},
    "voltage a cell": {"v_per_cell": 1.0},
    "current": {"a": 1.0, "ma": constants.milli},
    "resistance": {"ohm": 1.0, "mohm": constants.milli},
    "power": {"w": 1.0, "kw": constants.kilo, "hp": constants.hp},
    "energy": {"wh": 1.0, "kwh": constants.kilo},
    "torque": {"nm": 1.0, "lbft": constants.lbf * constants.foot},
    "force": {"n": 1.0, "lbf": constants.lbf},
    "resistance a length": {"ohm_per_km": 1.0},
    "power a length": {"w_per_m": 1.0, "w_per_ft": 1.0 / constants.foot},
    "area": {"m2": 1.0, "cm2": constants.centi**2, "mm2": constants.milli**2, "ft2": constants.foot**2},
    "capacitance": {"uf": 1.0, "mf": 1000.0},
    "moment of inertia": {"kgm2": 1.0, "kgcm2": constants.centi**2},
    "torque constant": {"nm_per_a": 1.0, "v_s_per_rad": 1.0, "v_per_krpm": 60.0 / (2.0 * pi * 1000.0)},
    "series torque constant": {"nm_per_a2": 1.0},
    "viscous torque": {"nm_per_rad_s": 1.0},
    "heat capacity": {"j_per_k": 1.0},
    "thermal resistance": {"k_per_w": 1.0},
    "temperature coefficient": {"per_k": 1.0},
    "share or slope": {"percent": 1.0},
    "speed of rotation": {"rpm": 1.0, "rad_per_s": 30.0 / pi},
}
"""Kind of quantity → its units, the base unit first, each with its size in the base unit."""
_ZERO_AT = {"f": -32.0 * constants.degree_Fahrenheit}  # 0 °F in °C

UNITS: dict[str, Unit] = {
    suffix: Unit(kind, factor, _ZERO_AT.get(suffix, 0.0))
    for kind, units in _FACTORS.items()
    for suffix, factor in units.items()
}


@lru_cache(maxsize=1024)
def split_unit(key: str) -> tuple[str, str]:
    """Split ``"mass_lb"`` into ``("mass", "lb")``; the unit is empty where the key has none.

    Parameters
    ----------
    key : str
        A key of a file, such as ``"rolling_radius_in"``.

    Returns
    -------
    tuple of str
        Stem and unit suffix; the longest known suffix wins (``torque_constant_nm_per_a``).
    """
    parts = key.split("_")
    for start in range(1, len(parts)):
        unit = "_".join(parts[start:])
        if unit in UNITS:
            return "_".join(parts[:start]), unit
    return key, ""


def convert(value: Any, unit: str, into: str) -> Any:
    """Convert a number, or numbers inside lists and tables, from one unit to another of the same kind.

    Anything that is not a number is handed back as it is, for the validation to name.
    """
    if isinstance(value, list | tuple):
        return [convert(item, unit, into) for item in value]
    if isinstance(value, dict):
        return {key: convert(item, unit, into) for key, item in value.items()}
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    source, target = UNITS[unit], UNITS[into]
    converted = (value * source.factor + source.offset - target.offset) / target.factor
    return float(f"{converted:.12g}")


_SYMBOLS = {
    "c": "°C", "f": "°F", "ah": "Ah", "mah": "mAh", "v": "V", "mv": "mV", "v_per_cell": "V a cell", "a": "A", "ma": "mA",
    "mohm": "milliohm", "w": "W", "kw": "kW", "wh": "Wh", "kwh": "kWh", "nm": "N m", "n": "N", "mps": "m/s", "kmh": "km/h",
    "mps2": "m/s²", "ftps2": "ft/s²", "m2": "m²", "cm2": "cm²", "mm2": "mm²", "ft2": "ft²",
    "ohm_per_km": "ohm/km", "w_per_m": "W/m", "w_per_ft": "W/ft",
    "kgm2": "kg m²", "kgcm2": "kg cm²", "nm_per_a": "N m/A",
    "v_s_per_rad": "V s/rad", "v_per_krpm": "V a 1000 rpm", "nm_per_a2": "N m/A²", "nm_per_rad_s": "N m s/rad",
    "j_per_k": "J/K", "k_per_w": "K/W", "per_k": "a kelvin", "percent": "%",
}  # fmt: skip


def symbol(suffix: str) -> str:
    """How a unit is written for people: ``"kgm2"`` as ``"kg m²"``."""
    return _SYMBOLS.get(suffix, suffix)


def units_of_kind(kind: str) -> list[str]:
    """Suffixes of all units of a kind, the base unit first."""
    return list(_FACTORS[kind])


def degrees(celsius: float) -> str:
    """A temperature for a sentence: no more digits than were given, and never a zero with a minus."""
    return f"{round(celsius, 6) + 0.0:g}"


def percent(share: float) -> str:
    """A share as it stands in a sentence: ``20 %``."""
    return f"{100.0 * share:.0f} %"


def first_sentence(text: str) -> str:
    """A text up to the end of its first sentence, without the stop; that of d.c. ends none."""
    return re.split(r"(?<!d\.c)\. ", text)[0].rstrip(".")


MEASURABLE = "a number large enough to measure"


def unmeasurable(value: float) -> bool:
    """Whether a number is smaller than anything that is measured or reckoned with here, and yet not 0."""
    return 0.0 < abs(value) < 1e-12


def is_number(value: Any) -> TypeGuard[float]:
    """Whether something can be reckoned with: a finite number, and not a truth value."""
    return isinstance(value, Real) and not isinstance(value, bool) and isfinite(value)


def shown(value: Any, unit: str = "") -> str:
    """How a value that is wrong stands in a message: ``-3 V``, ``nan``, ``“twenty”``."""
    if isinstance(value, Real) and not isinstance(value, bool):
        return f"{float(value):g}{' ' + unit if unit else ''}"
    return f"“{value}”"


def need_number(
    what: str, name: str, value: Any, least: float, most: float, unit: str = "", *, above: bool = False
) -> None:
    """Refuse an argument that is no finite number within limits.

    Parameters
    ----------
    what, name : str
        What was asked for, and the argument, as the message calls them.
    value : object
        As given.
    least, most : float
        Limits, both allowed.
    unit : str
        Of value and limits.
    above : bool
        The lower limit itself is not allowed.

    Raises
    ------
    InputProblem
        Names the argument.
    """
    if not (is_number(value) and least <= value <= most) or (above and value == least):
        begin = f"a number above {least:g}, at most" if above else f"a number from {least:g} to"
        raise InputProblem(what, name, shown(value, unit), f"{begin} {most:g}{' ' + unit if unit else ''}")


def nearest(word: str, known: Iterable[str]) -> str:
    """The known word nearest to a misspelt one, or an empty string where none is near."""
    matches = get_close_matches(word, list(known), n=1, cutoff=0.6)
    return matches[0] if matches else ""
