"""Changing a part: dotted keys, in any unit of their kind, put into the table of what the user stated."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple, get_origin

from pydantic.fields import FieldInfo

from ridesim.forms.parts import Part, PartType, part_of
from ridesim.forms.validation import field_for
from ridesim.forms.widths import about, as_table, is_width, limits_of
from ridesim.words import InputProblem, Uncertain, convert, is_number, split_unit


def stated_table(part: Part) -> dict[str, Any]:
    """The part as a table of the keys a user set, in the order of the fields."""
    return {name: _as_table(value) for name, value in part.said().items()}


def _as_table(value: Any) -> Any:
    if isinstance(value, Part):
        return stated_table(value)
    if isinstance(value, Uncertain):
        return as_table(value)
    return [_as_table(item) for item in value] if isinstance(value, tuple) else value


class _Step(NamedTuple):
    """One step of a dotted key: the field, the number of a list's item (from 1; 0: none), the unit where another was written."""

    name: str
    number: int
    unit: str


def _steps(kind: type[Part], place: str, what: str) -> list[_Step]:
    """The steps of a dotted key such as ``vehicle.mass[2].mass_lb``."""
    steps: list[_Step] = []
    written = place.split(".")
    for depth, step in enumerate(written, start=1):
        found = re.fullmatch(r"(\w+)(?:\[(\d+)\])?", step)
        if found is None:
            raise InputProblem(what, place, f'"{step}"', "keys with points between, such as vehicle.mass[2].mass_kg")
        name, number = field_for(kind, found[1], what, place), int(found[2] or 0)
        field, last = kind.model_fields[name], depth == len(written)
        inner = part_of(field)
        if inner is None and (number or not last):
            raise InputProblem(what, place, f"a key inside {name}", f"all of {name} as one value")
        if get_origin(field.annotation) is tuple and inner is not None and not number and not last:
            raise InputProblem(what, place, f"{name} without a number", f"which of them, such as {name}[1]")
        steps.append(_Step(name, number, "" if name == found[1] else split_unit(found[1])[1]))
        kind = inner or kind
    return steps


def changed_table(part: Part, values: Mapping[str, Any], what: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """A part's stated keys with others put in.

    Parameters
    ----------
    part : Part
        Stays as it is.
    values : mapping of str to object
        Dotted key, in any unit of its kind, list items numbered from 1 (``"vehicle.mass[2].mass_kg"``), or a whole section,
        to the new value; None removes the key, so that its default applies. A plain number keeps the key's stated width in proportion.
    what : str
        What is changed, for messages.

    Returns
    -------
    table : dict
        To be validated; what is not changed is in it as it is.
    named : dict of str to object
        Dotted key in the field's own unit to the value given; empty where the part has every one of them already.

    Raises
    ------
    InputProblem
        Unknown key, unit of the wrong kind, or a list item that is not there.
    """
    table = {name: as_table(value) if isinstance(value, Uncertain) else value for name, value in part.said().items()}
    named: dict[str, Any] = {}
    differs = False
    for place, given in values.items():
        *path, last = steps = _steps(type(part), place, what)
        value = _as_table(given)
        if last.unit:
            value = convert(value, last.unit, split_unit(last.name)[1])
        named[".".join(f"{step.name}[{step.number}]" if step.number else step.name for step in steps)] = value
        former, width = _former(part, steps)
        if value is not None and value in (former, _as_table(width)):
            continue
        if width is not None and is_number(value):
            value = as_table(about(width, value, limits_of(_field(type(part), steps))))
        holder = table
        for step in path:
            holder = _inside(holder, step, what, place)
        _put(holder, last, value, what, place)
        differs = True
    return table, named if differs else {}


def opened(table: dict[str, Any], name: str) -> dict[str, Any]:
    """A section or list of a table as the keys that can be changed, no longer the part as it was."""
    if name in table:
        table[name] = _as_table(table[name])
    section: dict[str, Any] = table.get(name, {})
    return section


def _former(part: Part, steps: list[_Step]) -> tuple[Any, Uncertain | None]:
    """What stands in the field where steps lead, and its stated width."""
    holder = _value(part, steps[:-1], in_play=False)
    width = holder.stated_widths.get(steps[-1].name) if isinstance(holder, Part) else None
    return _as_table(_value(part, steps, in_play=False)), width


def _field(kind: type[Part], steps: list[_Step]) -> FieldInfo:
    """The field where steps lead."""
    for step in steps[:-1]:
        kind = part_of(kind.model_fields[step.name]) or kind
    return kind.model_fields[steps[-1].name]


def _inside(table: dict[str, Any], step: _Step, what: str, place: str) -> dict[str, Any]:
    """The section, or the list's item, that a step leads into."""
    opened(table, step.name)
    if not step.number:
        section: dict[str, Any] = table.setdefault(step.name, {})
        return section
    items = table.get(step.name, [])
    if step.number > len(items):
        raise InputProblem(what, place, f"{step.name}[{step.number}]", f"1 to {len(items)}")
    item: dict[str, Any] = items[step.number - 1]
    return item


def _put(table: dict[str, Any], step: _Step, value: Any, what: str, place: str) -> None:
    """Put a value, a section or a list's item in; None takes it out. One past a list's end adds an item."""
    if not step.number:
        table.pop(step.name, None)
        if value is not None:
            table[step.name] = value
        return
    opened(table, step.name)
    items = table.setdefault(step.name, [])
    if step.number > len(items) + (value is not None):
        raise InputProblem(what, place, f"{step.name}[{step.number}]", f"1 to {len(items) + (value is not None)}")
    items[step.number - 1 : step.number] = [] if value is None else [value]


def value_at(part: Part, place: str) -> Any:
    """The value that counts for a dotted key such as ``"pack.blocks_in_series"``; None where nothing does.

    Raises
    ------
    InputProblem
        No such key; names the nearest.
    """
    return _value(part, _steps(type(part), place, getattr(part, "name", "the part")))


def _value(part: Part, steps: list[_Step], in_play: bool = True) -> Any:
    """The value that counts, or the one in the field, where steps lead; None where nothing is there."""
    holder: Any = part
    for step in steps:
        if holder is not None:
            holder = holder.value_of(step.name) if in_play else getattr(holder, step.name)
        if step.number and holder is not None:
            holder = holder[step.number - 1] if step.number <= len(holder) else None
    return holder


Puts = dict[str | int, Any]
"""Where values go: field names, numbers of list items from 1, at the ends the place of the value in a row."""


def places_of(part: Part, keys: Sequence[str]) -> tuple[Puts, list[tuple[float, float]]]:
    """Where the values of dotted keys go, for :func:`with_row`, and the limits of each key."""
    puts: Puts = {}
    limits = []
    for place, key in enumerate(keys):
        steps = _steps(type(part), key, key)
        inside = puts
        for step in steps[:-1]:
            inside = inside.setdefault(step.name, {})
            if step.number:
                inside = inside.setdefault(step.number, {})
        inside[steps[-1].name] = place
        limits.append(limits_of(_field(type(part), steps)))
    return puts, limits


def with_row(part: PartType, puts: Puts, row: Sequence[float]) -> PartType:
    """A part with drawn values put in, within the limits of their keys.

    Raises
    ------
    ValueError
        Values that exclude each other.
    """
    values: dict[str, Any] = {}
    for name, inside in puts.items():
        held = getattr(part, str(name))
        if isinstance(inside, int):
            values[str(name)] = row[inside]
        elif isinstance(held, tuple):
            items = enumerate(held, start=1)
            values[str(name)] = tuple(with_row(each, inside[n], row) if n in inside else each for n, each in items)
        else:
            values[str(name)] = with_row(held, inside, row)
    return part.drawn(values)


def differences(before: Part, after: Part) -> list[tuple[str, Any, Any]]:
    """Dotted keys in which the stated values of two parts differ, with both; None where one does not state it."""
    return list(_unlike("", stated_table(before), stated_table(after)))


def _unlike(place: str, before: Any, after: Any) -> Iterator[tuple[str, Any, Any]]:
    if isinstance(before, dict) and isinstance(after, dict) and not is_width(before) and not is_width(after):
        for key in [*before, *(key for key in after if key not in before)]:
            yield from _unlike(f"{place}.{key}" if place else key, before.get(key), after.get(key))
    elif isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        for number, (one, other) in enumerate(zip(before, after, strict=True), start=1):
            yield from _unlike(f"{place}[{number}]", one, other)
    elif before != after:
        yield place, before, after
