"""Fields of a panel, and the judging of what is typed in them. No widgets here; nothing is clamped."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from ridesim.show.units import System, suffix_of
from ridesim.words import InputProblem


@dataclass(frozen=True, slots=True)
class Number:
    """A number: typed in a box, or moved by a slider that reaches from ``low`` to ``high``.

    The slider's reach is for comfort; a typed value beyond it counts as long as the build allows it. With ``stops`` it stops at these
    only, and those ``owned`` are shown filled.
    """

    key: str
    label: str
    unit: str
    low: float
    high: float
    step: float
    whole: bool = False
    stops: tuple[float, ...] = ()
    owned: tuple[float, ...] = ()
    kind: str = "number"


@dataclass(frozen=True, slots=True)
class Text:
    """A line of text, with suggestions where there are some; Enter presses the button named ``enter``."""

    key: str
    label: str
    options: tuple[str, ...] = ()
    enter: str = ""
    kind: str = "text"


@dataclass(frozen=True, slots=True)
class Choice:
    """One of several, each a value and what is read."""

    key: str
    label: str
    options: tuple[tuple[str, str], ...]
    kind: str = "choice"


@dataclass(frozen=True, slots=True)
class Press:
    """A button; ``ctrl`` is the key that presses it together with Ctrl anywhere in the panel."""

    key: str
    label: str
    tip: str = ""
    off: bool = False
    ctrl: str = ""
    kind: str = "press"


Field = Number | Text | Choice | Press


def undo_and_redo(can_undo: bool, can_redo: bool) -> tuple[Press, Press]:
    """The two buttons that step back and forth, pale where there is nothing to step to."""
    return Press("undo", "Undo", "Ctrl+Z", not can_undo, "z"), Press("redo", "Redo", "Ctrl+Y", not can_redo, "y")


def number_of(text: str, field: Number, name: str) -> float | int:
    """The number a person typed, or one message of what is wrong.

    Parameters
    ----------
    text : str
        What stands in the box; a comma counts as a decimal point.
    field : Number
        Whose range is named in the message.
    name : str
        Whose value it is, for the message.

    Raises
    ------
    InputProblem
        Empty, not a number, NaN or infinity, a fraction where only a whole number makes sense.
    """
    kind = "a whole number" if field.whole else "a number"
    expected = f"{kind} such as {field.low:g} to {field.high:g} {field.unit}".rstrip()
    shown = text.strip()
    try:
        value = float(shown.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or (field.whole and value != int(value)):
        raise InputProblem(name, field.label, f"“{shown}”" if shown else "nothing", expected)
    return int(value) if field.whole else value


def in_units(field: Number, system: System) -> Number:
    """The field as it is shown in a system of units."""
    unit = suffix_of(field.unit)
    if unit not in system.shown:
        return field
    low, high = (round(system.value(end, unit)) for end in (field.low, field.high))
    return replace(field, unit=system.label(unit), low=low, high=high)


def text_shown(text: str, field: Number, system: System) -> str:
    """What stands in a box in a system of units, for what stands there in metric ones; what is no number stays as it is."""
    return _converted(text, field, system, lambda number: round(system.value(number, suffix_of(field.unit)), 1))


def text_meant(text: str, field: Number, system: System) -> str:
    """The other way round: a box's text in metric units."""
    return _converted(text, field, system, lambda number: round(system.metric(number, suffix_of(field.unit)), 3))


def texts_shown(texts: Mapping[str, str], numbers: Mapping[str, Number], system: System) -> dict[str, str]:
    """What stands in boxes in a system of units, by key; ``numbers`` are those that hold one."""
    return {key: text_shown(text, numbers[key], system) if key in numbers else text for key, text in texts.items()}


def texts_typed(
    typed: Mapping[str, str], before: Mapping[str, str], numbers: Mapping[str, Number], system: System
) -> dict[str, str]:
    """Which boxes were changed, in metric units again; one that shows what it did before keeps its number to the last digit."""
    shown = texts_shown(before, numbers, system)
    return {
        key: text_meant(text, numbers[key], system) if key in numbers else text
        for key, text in typed.items() if text != shown.get(key)
    }  # fmt: skip


def _converted(text: str, field: Number, system: System, convert: Callable[[float], float]) -> str:
    if suffix_of(field.unit) not in system.shown:
        return text
    try:
        return text_of(convert(float(text.replace(",", "."))))
    except ValueError:
        return text


def text_of(value: float | int) -> str:
    """A number as it stands in a box."""
    return f"{value:.10g}"
