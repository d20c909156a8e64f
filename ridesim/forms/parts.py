"""What every part of a build, a day or a bench log is made of: frozen models with a meaning, a source and limits a field."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property
from types import UnionType
from typing import Annotated, Any, ClassVar, Self, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ConfigDict, Field, PrivateAttr, Strict, ValidationInfo, model_validator
from pydantic.fields import FieldInfo
from pydantic.functional_validators import ModelWrapValidatorHandler

from ridesim.forms.widths import Spread
from ridesim.words import Uncertain


class Part(BaseModel):
    """Base of every part of a build or a day: frozen, unknown keys refused, numbers finite, no silent conversion."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False, validate_default=True)

    former_keys: ClassVar[Mapping[str, str]] = {}
    """Keys that have another name now, units left out: a file that still has one is told the new name."""

    _stated_widths: dict[str, Uncertain] = PrivateAttr(default_factory=dict)
    _said: dict[str, Any] = PrivateAttr(default_factory=dict)

    def __eq__(self, other: object) -> bool:
        """Equal in every field and stated width; text of the file and notes do not count."""
        return (
            isinstance(other, Part)
            and type(self) is type(other)
            and self.field_values == other.field_values
            and self._stated_widths == other._stated_widths
        )

    def __hash__(self) -> int:
        """Of all fields, reckoned once: what is kept of a part is looked up by it."""
        return self.hash_of_fields

    @cached_property
    def hash_of_fields(self) -> int:
        """The hash; a copy with other values reckons its own."""
        return hash(self.field_values)

    @cached_property
    def field_values(self) -> tuple[Any, ...]:
        """The values of all fields, in their order."""
        return tuple([getattr(self, name) for name in type(self).model_fields])

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """A copy with other values, which are not checked; what was kept of the former values is dropped."""
        part = super().model_copy(update=update, deep=deep)
        for name in set(part.__dict__) - set(type(self).model_fields):
            del part.__dict__[name]
        return part

    def drawn(self, values: Mapping[str, Any]) -> Self:
        """A copy with values of a draw, each within its key's limits: not checked again, unless other values follow from them.

        Raises
        ------
        ValueError
            Values that exclude each other.
        """
        return self.model_copy(update=values)

    def checked_draw(self, values: Mapping[str, Any]) -> Self:
        """The same, checked as a file is, so that what the file leaves out follows anew."""
        stated = {name: getattr(self, name) for name in self.model_fields_set}
        return type(self).model_validate({**stated, **values})

    @property
    def stated_widths(self) -> Mapping[str, Uncertain]:
        """Keys to which the file, or the bench, gives a width of their own; low and high are equal where it says ``exact``."""
        return self._stated_widths

    def with_widths(self, widths: Mapping[str, Uncertain]) -> Self:
        """This part with such widths beside those it has."""
        part = self.model_copy()
        part._stated_widths = {**self._stated_widths, **widths}
        return part

    def fitted(self, values: Mapping[str, Uncertain]) -> Self:
        """This part with values that measurements in its file give; what the file itself says of them is kept for saving."""
        part = self.model_copy(update={name: width.value for name, width in values.items()}).with_widths(values)
        part._said = {name: value for name, value in self.said().items() if name in values}
        part.model_fields_set.difference_update(values)
        return part

    def said(self) -> dict[str, Any]:
        """The keys that the user set and their values, widths where they have their own, in the order of the fields."""
        return {
            name: self._said.get(name, self._stated_widths.get(name, getattr(self, name)))
            for name in type(self).model_fields
            if name in self._said or (name in self.model_fields_set and getattr(self, name) is not None)
        }

    def measured(self) -> Self:
        """This part with what measurements in its file give, once it is read with its widths."""
        return self

    @classmethod
    def filled(
        cls, handler: ModelWrapValidatorHandler[Self], table: dict[str, Any], missing: Mapping[str, Any]
    ) -> Self:
        """Validate a table with values that it leaves out; they count as defaults, not as the user's word."""
        part = handler({**table, **missing})
        part.model_fields_set.difference_update(missing)
        return part

    takes_widths: ClassVar[bool] = False
    """Whether numbers of this file may be ``{low, likely, high}``."""

    def value_of(self, key: str) -> Any:
        """The value that counts for a key: the one stated, else its default."""
        return getattr(self, key)

    def implied(self) -> Iterator[tuple[str, Any, str]]:
        """Key, value and source of what is in force though its key is left out and no field holds it."""
        return iter(())

    def source_of(self, key: str) -> str | None:
        """Where a key's value comes from when it is left out; None: the source its field names."""
        return None

    def spread_of(self, key: str) -> Spread | None:
        """How unsure the value of a key that is left out is, where that is not the key's usual default width."""
        return None


PartType = TypeVar("PartType", bound=Part)

Name = Annotated[str, Field(pattern=r"^[^\x00-\x1f\x7f]*[^\s\x00-\x1f\x7f][^\x00-\x1f\x7f]*$")]
"""A name that a table can show: one line, not blank."""
Row = Annotated[tuple[float, float], Strict(False)]
"""A row of two numbers; TOML knows lists only, so the tuple must not be strict (its numbers still are)."""


class NamedByFile(Part):
    """A part that takes its name from the file where the file gives none."""

    @model_validator(mode="wrap")
    @classmethod
    def _name_of_file(cls, table: Any, handler: ModelWrapValidatorHandler[Self], info: ValidationInfo) -> Self:
        stem = (info.context or {}).get("stem")
        if not isinstance(table, dict) or "name" in table or not stem:
            return handler(table)
        return cls.filled(handler, table, {"name": stem})


def quantity(meaning: str, default: Any = ..., *, source: str = "", **limits: Any) -> Any:
    """A field with its meaning, the source of its default, and its limits (``gt``, ``ge``, ``le``, ``lt``).

    The unit is the suffix of the field's name; ``source`` says where the default comes from.
    """
    extra: dict[str, Any] = {"source": source} if source else {}
    return Field(default, description=meaning, json_schema_extra=extra or None, **limits)


def part_of(field: FieldInfo) -> type[Part] | None:
    """The part a field holds (alone, optional, or in a tuple), or None for plain values."""
    return _part_in(field.annotation)


def _part_in(annotation: Any) -> type[Part] | None:
    if isinstance(annotation, type) and issubclass(annotation, Part):
        return annotation
    if get_origin(annotation) in (Union, UnionType, tuple):
        return next(filter(None, map(_part_in, get_args(annotation))), None)
    return None
