"""Every value that counts: those the user's file gives, and those left to their defaults, with their widths and sources."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property, reduce
from typing import Any, ClassVar, NamedTuple, Self, TypeVar

from pydantic.fields import FieldInfo

from ridesim.forms.parts import NamedByFile, Part, part_of, quantity
from ridesim.forms.widths import KeyWidth, limits_of, takes_width, usual_width, with_widths
from ridesim.words import Uncertain


class InPlay(NamedTuple):
    """One value that counts: its key path, what it means, the value, whether the user's file gives it, else its default's source; and
    how unsure it is: low and high are equal where the file says that it is exact, None where no width makes sense.
    """

    place: str
    meaning: str
    value: Any
    given: bool
    source: str
    width: Uncertain | None = None

    @property
    def unsure(self) -> bool:
        """Whether its width is more than nothing."""
        return self.width is not None and self.width.low < self.width.high

    @property
    def shown(self) -> str:
        """The value as a line of a file has it, rounded."""
        if isinstance(self.value, bool):
            return str(self.value).lower()
        if isinstance(self.value, tuple):
            flat = all(isinstance(each, int | float) for each in self.value)
            return f"[{', '.join(f'{each:.6g}' for each in self.value)}]" if flat else f"{len(self.value)} rows"
        return f"{self.value:.6g}" if isinstance(self.value, float) else str(self.value)


class Unsure(NamedByFile):
    """A build or a day: numbers that may be ``{low, likely, high}``, or have the usual width of their key."""

    takes_widths = True
    key_widths: ClassVar[Mapping[str, KeyWidth]] = {}
    """Usual widths by dotted key, numbers of list items left out."""

    exact: bool = quantity("true: every number counts as exact", False, source="numbers have their widths")

    @cached_property
    def widths(self) -> Mapping[str, Uncertain]:
        """How unsure each number is that counts: 5th percentile, median and 95th by dotted key; exact ones are left out."""
        return {each.place: each.width for each in self.in_play() if each.width is not None and each.unsure}

    def in_play(self) -> Iterator[InPlay]:
        """Every value, in the order of the file's sections."""
        return _in_play(self, "", "", {} if self.exact else self.key_widths)

    @classmethod
    def model_json_schema(cls, *arguments: Any, **options: Any) -> dict[str, Any]:
        """The schema of the file, in which a measured number may have its width."""
        schema = super().model_json_schema(*arguments, **options)
        return with_widths(schema)

    def changed(self, values: Mapping[str, Any], name: str | None = None) -> Self:
        """The same with other values; see :meth:`ridesim.Build.changed`."""
        raise NotImplementedError


UnsureType = TypeVar("UnsureType", bound=Unsure)


def exact(part: UnsureType) -> UnsureType:
    """A build or a day every number of which counts as exact: for the central estimate alone.

    Parameters
    ----------
    part : Build or Day
        Stays as it is.

    Returns
    -------
    Build or Day
        The same with ``exact = true``; a width that its file states stays in the file.

    Raises
    ------
    InputProblem
        None for a build or a day that was read.

    Examples
    --------
    >>> import ridesim
    >>> heron = ridesim.load_build("heron_36v")
    >>> len(heron.widths) > 20, len(ridesim.exact(heron).widths)
    (True, 0)
    """
    return part.changed({"exact": True})


def _in_play(part: Part, place: str, key: str, usual: Mapping[str, KeyWidth]) -> Iterator[InPlay]:
    for name, field in type(part).model_fields.items():
        value = part.value_of(name)
        if field.exclude is True or value in (None, (), ""):
            continue
        where, inner_key, given = f"{place}{name}", f"{key}{name}", name in part.model_fields_set
        if part_of(field) is None:
            extra = field.json_schema_extra
            source = extra.get("source", "") if isinstance(extra, dict) else ""
            width = _width(part, name, value, field, usual.get(inner_key)) if usual else None
            yield InPlay(
                where,
                field.description or "",
                value,
                given,
                "" if given else part.source_of(name) or str(source),
                width,
            )
            continue
        for index, inner in enumerate(value if isinstance(value, tuple) else (value,), start=1):
            if isinstance(inner, Part):
                item = f"{where}[{index}]." if isinstance(value, tuple) else f"{where}."
                yield from _in_play(inner, item, f"{inner_key}.", usual)
    for name, value, source in part.implied():
        width = usual_width(usual[f"{key}{name}"].default, value) if f"{key}{name}" in usual else None
        *sections, inner = name.split(".")
        meaning = type(reduce(getattr, sections, part)).model_fields[inner].description
        yield InPlay(f"{place}{name}", meaning or "", value, False, source, width)


def _width(part: Part, name: str, value: Any, field: FieldInfo, usual: KeyWidth | None) -> Uncertain | None:
    """The width that a value states, else its key's usual one."""
    stated = part.stated_widths.get(name)
    if stated is not None:
        return stated
    if usual is None or not takes_width(field):
        return None
    spread = usual.stated if name in part.model_fields_set else part.spread_of(name) or usual.default
    return usual_width(spread, value, limits_of(field))
