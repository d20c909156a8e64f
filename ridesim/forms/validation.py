"""A raw table becomes a validated part: units converted, then names, kinds and limits checked."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from ridesim.forms.messages import describe, problems_of
from ridesim.forms.parts import Part, PartType, part_of
from ridesim.forms.widths import limits_of, read_width
from ridesim.words import (
    MEASURABLE,
    UNITS,
    InputProblem,
    Uncertain,
    convert,
    nearest,
    split_unit,
    symbol,
    units_of_kind,
    unmeasurable,
    unseen,
)

Written = dict[str, tuple[str, Any]]
"""Key path in the field's own unit → the key and the value as the user wrote them in another unit."""

FOLLOWING = ("missing", "value_error")
"""Pydantic's words for what may only follow from a key that was refused before: no value, and rules across keys."""


def validate(
    kind: type[PartType], table: dict[str, Any], file: str, stem: str = "", earlier: Iterable[InputProblem] = ()
) -> PartType:
    """Turn a raw table into a validated part: units converted first, then names, kinds and limits checked.

    ``file`` is how messages call the file; ``stem`` becomes the name of a part that says none; ``earlier`` is what was found
    wrong before, in keys that the table does not hold any more.

    Raises
    ------
    InputProblem
        All that is wrong, a line each, with key path, found, expected and the nearest known key.
    """
    reading = _Reading(file, kind.takes_widths, list(earlier))
    canonical = _canonical(kind, table, reading)
    problems = reading.problems
    try:
        part = kind.model_validate(canonical, context={"stem": stem})
    except ValidationError as failure:
        follow = FOLLOWING if problems else ()
        problems += [
            problem for what, problem in problems_of(kind, failure, file, reading.written) if what not in follow
        ]
    if problems:
        raise InputProblem.all_of(problems)
    for place, width in reading.widths.items():
        holder, key = _holder(part, place)
        holder._stated_widths[key] = width
    try:
        return part.measured()
    except InputProblem as problem:
        raise InputProblem(file, problem.place, problem.found, problem.expected, problem.hint) from None


@dataclass(slots=True)
class _Reading:
    """What is found while a table is read: faults, values written in another unit, widths by key path."""

    file: str
    takes_widths: bool
    problems: list[InputProblem]
    written: Written = field(default_factory=dict)
    widths: dict[str, Uncertain] = field(default_factory=dict)


def _holder(part: Part, place: str) -> tuple[Part, str]:
    """The part that holds a dotted key, and the key's name in it."""
    *path, key = place.split(".")
    for step in path:
        name, _, number = step.partition("[")
        inner = getattr(part, name)
        part = inner[int(number[:-1]) - 1] if number else inner
    return part, key


def _canonical(kind: type[Part], table: dict[str, Any], reading: _Reading, place: str = "") -> dict[str, Any]:
    """The table with every key in the field's own unit (``mass_lb`` becomes ``mass_kg``); unknown and doubled keys go to the problems."""
    file = reading.file
    result: dict[str, Any] = {}
    keys: dict[str, str] = {}
    for key, value in table.items():
        where = f"{place}.{key}" if place else key
        try:
            name = field_for(kind, key, file, where)
            if name in keys:
                found = f"a second key for {name} (already given as {keys[name]})"
                raise InputProblem(file, where, found, "one of the two")
            keys[name] = key
            canonical = f"{place}.{name}" if place else name
            if key != name:
                reading.written[canonical] = (key, value)
                value = convert(value, split_unit(key)[1], split_unit(name)[1])
            if reading.takes_widths and isinstance(value, dict) and part_of(kind.model_fields[name]) is None:
                value = _likely(kind.model_fields[name], name, value, reading, where, canonical)
            result[name] = _inner(kind.model_fields[name], value, reading, where)
        except InputProblem as problem:
            reading.problems.append(problem)
    return result


def _likely(field: FieldInfo, name: str, table: dict[str, Any], reading: _Reading, where: str, canonical: str) -> float:
    """The likely value of a width, which is kept for the part that is to come."""
    width = read_width(field, table, reading.file, where)
    least, most = limits_of(field)
    for end in (width.low, width.high):
        if not least <= end <= most:
            unit = split_unit(name)[1]
            found = f"{end:g} {symbol(unit)}".rstrip() + " inside a width"
            raise InputProblem(reading.file, where, found, describe(field, unit))
    reading.widths[canonical] = width
    return width.value


def _inner(field: FieldInfo, value: Any, reading: _Reading, where: str) -> Any:
    part, file = part_of(field), reading.file
    if part is None:
        if (
            isinstance(value, float)
            and unmeasurable(value)
            and any(getattr(limit, "gt", None) == 0.0 for limit in field.metadata)
        ):
            raise InputProblem(file, where, f"{value:g}", MEASURABLE)
        if isinstance(value, str) and (sign := unseen(value.replace("\n", "").replace("\t", ""))):
            raise InputProblem(file, where, f"a sign that cannot be seen ({sign})", "text without such signs")
        return value
    if isinstance(value, dict):
        return _canonical(part, value, reading, where)
    if isinstance(value, list):
        return [
            _canonical(part, item, reading, f"{where}[{index}]") if isinstance(item, dict) else item
            for index, item in enumerate(value, start=1)
        ]
    return value


def field_for(kind: type[Part], key: str, file: str, where: str) -> str:
    """The field a written key means, its unit allowed to be another of the same kind.

    Raises
    ------
    InputProblem
        A former key, an unknown one, or a unit of the wrong kind.
    """
    stem, unit = split_unit(key)
    if stem in kind.former_keys:
        now = "_".join(filter(None, [kind.former_keys[stem], unit]))
        raise InputProblem(file, where, "a former key", f"its new name, {now}")
    return own_name(key, [name for name, field in kind.model_fields.items() if field.exclude is not True], file, where)


def own_name(key: str, known: Collection[str], file: str, where: str, what: str = "key") -> str:
    """The known name that a written key or column means, its unit allowed to be another of the same kind."""
    if key in known:
        return key
    stem, unit = split_unit(key)
    for name in known:
        own_stem, own_unit = split_unit(name)
        if unit and own_unit and own_stem == stem:
            wanted, units = UNITS[own_unit].kind, ", ".join(units_of_kind(UNITS[own_unit].kind))
            if UNITS[unit].kind == wanted:
                return name
            found = f"the unit {unit} ({UNITS[unit].kind})"
            raise InputProblem(file, where, found, f"a unit of {wanted}: {units}", f"The usual {what} is {name}.")
    near = nearest(key, known) or next((name for name in known if split_unit(name)[0] in (stem, key)), "")
    hint = f"Nearest known {what}: {near}." if near else f"Known {what}s: {', '.join(known)}."
    raise InputProblem(file, where, f"an unknown {what}", "a known one", hint)
