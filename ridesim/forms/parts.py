"""What every part of a build, a day or a bench log is made of: frozen models with a meaning, a source and limits a field."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import UnionType
from typing import Annotated, Any, ClassVar, Self, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ConfigDict, Field, Strict, ValidationInfo, model_validator
from pydantic.fields import FieldInfo
from pydantic.functional_validators import ModelWrapValidatorHandler


class Part(BaseModel):
    """Base of every part of a build or a day: frozen, unknown keys refused, numbers finite, no silent conversion."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False, validate_default=True)

    former_keys: ClassVar[Mapping[str, str]] = {}
    """Keys that have another name now, units left out: a file that still has one is told the new name."""

    def __eq__(self, other: object) -> bool:
        """Equal in every field; text of the file and notes do not count."""
        return type(self) is type(other) and all(getattr(self, n) == getattr(other, n) for n in type(self).model_fields)

    @classmethod
    def filled(
        cls, handler: ModelWrapValidatorHandler[Self], table: dict[str, Any], missing: Mapping[str, Any]
    ) -> Self:
        """Validate a table with values that it leaves out; they count as defaults, not as the user's word."""
        part = handler({**table, **missing})
        part.model_fields_set.difference_update(missing)
        return part

    def value_of(self, key: str) -> Any:
        """The value that counts for a key: the one stated, else its default."""
        return getattr(self, key)

    def implied(self) -> Iterator[tuple[str, Any, str]]:
        """Key, value and source of what is in force though its key is left out and no field holds it."""
        return iter(())

    def source_of(self, key: str) -> str | None:
        """Where a key's value comes from when it is left out; None: the source its field names."""
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

    def search(annotation: Any) -> Iterator[type[Part]]:
        if isinstance(annotation, type) and issubclass(annotation, Part):
            yield annotation
        elif get_origin(annotation) in (Union, UnionType, tuple):
            for argument in get_args(annotation):
                yield from search(argument)

    return next(search(field.annotation), None)
