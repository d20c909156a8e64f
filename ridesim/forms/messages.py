"""A message for each value of a table that does not fit: place, what was found, what is expected."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, time
from typing import Any, get_args, get_origin

from pydantic import ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from ridesim.forms.parts import Part, part_of
from ridesim.words import InputProblem, in_brief, split_unit, symbol


def problems_of(
    kind: type[Part], failure: ValidationError, file: str, written: dict[str, tuple[str, Any]]
) -> Iterator[tuple[str, InputProblem]]:
    """What is wrong, in the user's own keys, each with pydantic's word for its kind; ``written`` is
    :data:`ridesim.forms.validation.Written`."""
    every = failure.errors(include_url=False)
    # A list whose only item is wrong is called too short as well: that follows from the item and is no fault of its own.
    outer = {item["loc"][:depth] for item in every for depth in range(len(item["loc"]))}
    for detail in every:
        if detail["loc"] not in outer:
            yield detail["type"], _problem(kind, detail, file, written)


def _problem(kind: type[Part], detail: ErrorDetails, file: str, written: dict[str, tuple[str, Any]]) -> InputProblem:
    location = list(detail["loc"])
    place = "".join(f"[{step + 1}]" if isinstance(step, int) else f".{step}" for step in location).lstrip(".")
    if detail["type"] == "value_error":
        cause = detail["ctx"]["error"]
        return InputProblem(file, ".".join(filter(None, [place, cause.place])), cause.found, cause.expected, cause.hint)
    names = [step for step in location if isinstance(step, str)]
    for name in names[:-1]:
        kind = part_of(kind.model_fields[name]) or kind
    expected = describe(kind.model_fields[names[-1]], split_unit(names[-1])[1])
    if isinstance(location[-1], int) and detail["type"] in ("finite_number", "float_type"):
        expected = "a finite number, as every number of this list"
    elif detail["type"] == "finite_number":
        expected = expected.replace("a number", "a finite number", 1)
    value = detail["input"]
    if place in written:
        key, value = written[place]
        place = ".".join([*place.split(".")[:-1], key])
    return InputProblem(file, place, "nothing" if detail["type"] == "missing" else _shown(value), expected)


def _shown(value: Any) -> str:
    """A value as the user's file writes it, cut where it is long."""
    if isinstance(value, dict):
        return "a section with keys"
    if isinstance(value, list | tuple):
        if any(isinstance(item, dict) for item in value):
            return "a list of sections"
        text = f"[{', '.join(_shown(item) for item in value[:9])}]"
    elif isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, date | time):
        text = value.isoformat()
    elif isinstance(value, int) and value.bit_length() > 1000:
        text = "a whole number of hundreds of digits"
    else:
        text = repr(value)
    return in_brief(text)


_NOUNS = {
    int: "a whole number",
    float: "a number",
    str: "text in quotes",
    bool: "true or false",
    time: "a clock time such as 13:00:00",
}


def describe(field: FieldInfo, unit: str) -> str:
    """What a field expects, in words: ``"a number above 0 kg (mass of the item)"``."""
    names = ("gt", "ge", "lt", "le", "min_length", "pattern")
    limits = {name: getattr(item, name) for item in field.metadata for name in names if hasattr(item, name)}
    words = {"gt": "above", "ge": "of at least", "lt": "below", "le": "of at most"}
    range_text = " and ".join(f"{words[name]} {limits[name]:g}" for name in words if limits.get(name) is not None)
    kinds = (field.annotation, *get_args(field.annotation))
    choices = [value for kind in kinds for value in get_args(kind) if isinstance(value, str)]
    meaning = f" ({field.description})" if field.description else ""
    if choices:
        return "one of " + ", ".join(choices) + meaning
    types = [field.annotation, *get_args(field.annotation)]
    base = next((_NOUNS[kind] for kind in types if isinstance(kind, type) and kind in _NOUNS), "a value")
    if part_of(field) is not None:
        base = "a section with keys" if get_origin(field.annotation) is not tuple else "one or more sections [[...]]"
    elif any(get_origin(kind) is tuple for kind in types):
        rows = f" with at least {limits['min_length']} rows" if limits.get("min_length") else ""
        base = f"a list of numbers{rows}"
    elif limits.get("pattern"):
        base = "one line of text in quotes, not blank"
    return " ".join(filter(None, [base, range_text, symbol(unit) if base.endswith("number") else ""])) + meaning
