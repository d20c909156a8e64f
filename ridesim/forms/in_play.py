"""Every value that counts: those the user's file gives, and those left to their defaults, with their sources."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from ridesim.forms.parts import Part, part_of


class InPlay(NamedTuple):
    """One value that counts: its key path, what it means, the value, whether the user's file gives it, else its default's source."""

    place: str
    meaning: str
    value: Any
    given: bool
    source: str

    @property
    def shown(self) -> str:
        """The value as a line of a file has it, rounded."""
        if isinstance(self.value, bool):
            return str(self.value).lower()
        if isinstance(self.value, tuple):
            flat = all(isinstance(each, int | float) for each in self.value)
            return f"[{', '.join(f'{each:.6g}' for each in self.value)}]" if flat else f"{len(self.value)} rows"
        return f"{self.value:.6g}" if isinstance(self.value, float) else str(self.value)


def values_in_play(part: Part, place: str = "") -> Iterator[InPlay]:
    """Every value of a part and of the parts within: those that the user's file gives, and those left to their defaults."""
    for name, field in type(part).model_fields.items():
        value = part.value_of(name)
        if field.exclude is True or value in (None, (), ""):
            continue
        where, given = f"{place}.{name}" if place else name, name in part.model_fields_set
        if part_of(field) is None:
            extra = field.json_schema_extra
            source = extra.get("source", "") if isinstance(extra, dict) else ""
            yield InPlay(
                where, field.description or "", value, given, "" if given else part.source_of(name) or str(source)
            )
            continue
        for index, inner in enumerate(value if isinstance(value, tuple) else (value,), start=1):
            if isinstance(inner, Part):
                yield from values_in_play(inner, f"{where}[{index}]" if isinstance(value, tuple) else where)
    for name, value, source in part.implied():
        yield InPlay(f"{place}.{name}" if place else name, "", value, False, source)
