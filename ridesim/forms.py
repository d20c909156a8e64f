"""Reading the files users write: text → TOML table → canonical units → validated part, or one message of what is wrong."""

from __future__ import annotations

import os
import re
import tempfile
import tomllib
from collections.abc import Iterator
from datetime import date, time
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, NamedTuple, Self, TypeVar, Union, get_args, get_origin

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    ModelWrapValidatorHandler,
    Strict,
    ValidationError,
    ValidationInfo,
    model_validator,
)
from pydantic.fields import FieldInfo

from ridesim.words import UNITS, InputProblem, convert, nearest, split_unit, symbol, units_of_kind

LARGEST_FILE_BYTES = 1_000_000
"""No build, day, route or trace comes near this; a larger file was named by mistake."""


class Part(BaseModel):
    """Base of every part of a build or a day: frozen, unknown keys refused, numbers finite, no silent conversion."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False, validate_default=True)

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
        part = handler({**table, "name": stem})
        part.model_fields_set.discard("name")  # a default still, not the user's word
        return part


def quantity(meaning: str, default: Any = ..., *, source: str = "", **limits: Any) -> Any:
    """A field with its meaning, the source of its default, and its limits (``gt``, ``ge``, ``le``, ``lt``).

    The unit is the suffix of the field's name; ``source`` says where the default comes from.
    """
    extra: dict[str, Any] = {"source": source} if source else {}
    return Field(default, description=meaning, json_schema_extra=extra or None, **limits)


def read_text(path: Path) -> str:
    """The text of a user's file, or one message saying why it cannot be one.

    Raises
    ------
    InputProblem
        Missing, a folder, empty, too large, binary, or not UTF-8.
    """
    expected = "a text file in UTF-8"
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE_BYTES:
            raise InputProblem(
                str(path), "", f"{size / 1e6:.1f} MB", f"a text file under {LARGEST_FILE_BYTES / 1e6:.0f} MB"
            )
        content = path.read_bytes()
    except OSError as problem:
        raise InputProblem(str(path), "", (problem.strerror or str(problem)).lower(), "a readable file") from None
    if b"\0" in content:
        raise InputProblem(str(path), f"byte {content.index(0)}", "binary content", expected)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise InputProblem(str(path), f"byte {problem.start}", "bytes that are not UTF-8", expected) from None
    if not text.strip():
        raise InputProblem(str(path), "", "an empty file", "TOML or CSV text")
    return text


def read_table(path: Path) -> tuple[dict[str, Any], str]:
    """A TOML file as a table, and its text.

    Raises
    ------
    InputProblem
        As :func:`read_text`, or not TOML (with line and column).
    """
    text = read_text(path)
    try:
        return tomllib.loads(text), text
    except tomllib.TOMLDecodeError as problem:
        message = str(problem)
        what, _, place = message.rpartition(" (at ")
        line = re.match(r"line (\d+)", place)
        hint = _toml_hint(text.splitlines()[int(line[1]) - 1]) if line else ""
        raise InputProblem(
            str(path),
            place.rstrip(")"),
            f"text that is not TOML ({what[:1].lower()}{what[1:]})",
            "lines like mass_kg = 75.0",
            hint,
        ) from None
    except RecursionError:
        raise InputProblem(str(path), "", "brackets nested without end", "lines like mass_kg = 75.0") from None


def _toml_hint(line: str) -> str:
    """What people write most often where TOML wants something else."""
    value = line.partition("=")[2].partition("#")[0].strip()
    if re.fullmatch(r"\d{1,2}:\d\d(:\d\d)?", value):
        return "A clock time needs two-digit hours from 00 to 23, minutes and seconds: 13:00:00."
    if re.fullmatch(r"[+-]?\d+,\d+", value):
        return f"Decimals take a point: {value.replace(',', '.')}."
    if re.fullmatch(r"[A-Za-z][\w -]*", value):
        return f'Text stands in quotes: "{value}".'
    return ""


Written = dict[str, tuple[str, Any]]
"""Key path in the field's own unit → the key and the value as the user wrote them in another unit."""


def validate(
    kind: type[PartType], table: dict[str, Any], file: str, *, written: Written | None = None, **context: Any
) -> PartType:
    """Turn a raw table into a validated part: units converted first, then names, kinds and limits checked.

    ``written`` holds what an earlier :func:`canonical` of the same table converted, so that messages name the user's keys.

    Raises
    ------
    InputProblem
        The first thing that is wrong, with key path, found, expected and the nearest known key.
    """
    written = {} if written is None else written
    try:
        return kind.model_validate(canonical(kind, table, file, written=written), context={"file": file, **context})
    except ValidationError as failure:
        raise _first_problem(kind, failure, file, written) from None


def canonical(
    kind: type[Part], table: dict[str, Any], file: str, place: str = "", written: Written | None = None
) -> dict[str, Any]:
    """The table with every key in the field's own unit (``mass_lb`` becomes ``mass_kg``).

    Raises
    ------
    InputProblem
        Unknown key, unit of the wrong kind, or two keys for one quantity.
    """
    result: dict[str, Any] = {}
    keys: dict[str, str] = {}
    for key, value in table.items():
        where = f"{place}.{key}" if place else key
        name = field_for(kind, key, file, where)
        if name in keys:
            raise InputProblem(
                file, where, f"a second key for {name} (already given as {keys[name]})", "one of the two"
            )
        keys[name] = key
        if key != name:
            if written is not None:
                written[f"{place}.{name}" if place else name] = (key, value)
            value = convert(value, split_unit(key)[1], split_unit(name)[1])
        result[name] = _inner(kind.model_fields[name], value, file, where, written)
    return result


def _inner(field: FieldInfo, value: Any, file: str, where: str, written: Written | None) -> Any:
    part = part_of(field)
    if part is None:
        return value
    if isinstance(value, dict):
        return canonical(part, value, file, where, written)
    if isinstance(value, list):
        return [
            canonical(part, item, file, f"{where}[{index}]", written) if isinstance(item, dict) else item
            for index, item in enumerate(value, start=1)
        ]
    return value


def part_of(field: FieldInfo) -> type[Part] | None:
    """The part a field holds (alone, optional, or in a tuple), or None for plain values."""

    def search(annotation: Any) -> Iterator[type[Part]]:
        if isinstance(annotation, type) and issubclass(annotation, Part):
            yield annotation
        elif get_origin(annotation) in (Union, UnionType, tuple):
            for argument in get_args(annotation):
                yield from search(argument)

    return next(search(field.annotation), None)


def field_for(kind: type[Part], key: str, file: str, where: str) -> str:
    """The field a written key means, its unit allowed to be another of the same kind."""
    fields = [name for name, field in kind.model_fields.items() if field.exclude is not True]
    if key in fields:
        return key
    stem, unit = split_unit(key)
    for name in fields:
        field_stem, field_unit = split_unit(name)
        if unit and field_unit and field_stem == stem:
            wanted = UNITS[field_unit].kind
            if UNITS[unit].kind == wanted:
                return name
            units = ", ".join(units_of_kind(wanted))
            raise InputProblem(
                file,
                where,
                f"the unit {unit} ({UNITS[unit].kind})",
                f"a unit of {wanted}: {units}",
                f"The usual key is {name}.",
            )
    near = nearest(key, fields) or next((name for name in fields if split_unit(name)[0] in (stem, key)), "")
    hint = f"Nearest known key: {near}." if near else f"Known keys: {', '.join(fields)}."
    raise InputProblem(file, where, "an unknown key", "a known one", hint)


def _first_problem(kind: type[Part], failure: ValidationError, file: str, written: Written) -> InputProblem:
    every = failure.errors(include_url=False)
    # A list whose only item is wrong is called too short as well: that follows from the item and is no fault of its own.
    outer = {item["loc"][:depth] for item in every for depth in range(len(item["loc"]))}
    details = [item for item in every if item["loc"] not in outer]
    # A missing or wrong value explains the rules across keys that then fail too: name it first.
    detail = min(details, key=lambda item: item["type"] == "value_error")
    location = list(detail["loc"])
    place = "".join(f"[{step + 1}]" if isinstance(step, int) else f".{step}" for step in location).lstrip(".")
    others = f"({len(details) - 1} more after this one.)" if len(details) > 1 else ""
    if detail["type"] == "value_error":
        cause = detail["ctx"]["error"]
        if isinstance(cause, InputProblem):
            where = f"{place}.{cause.place}" if place and cause.place else place or cause.place
            return InputProblem(file, where, cause.found, cause.expected, " ".join(filter(None, [cause.hint, others])))
        return InputProblem(file, place, _shown(detail["input"]), str(cause), others)
    field = _field_at(kind, location)
    expected = describe(field, split_unit(_last_name(location))[1]) if field else detail["msg"].lower()
    if isinstance(location[-1], int) and detail["type"] in ("finite_number", "float_type"):
        expected = "a finite number, as every number of this list"
    elif detail["type"] == "finite_number":
        expected = expected.replace("a number", "a finite number", 1)
    value = detail["input"]
    if place in written:
        key, value = written[place]
        place = ".".join([*place.split(".")[:-1], key])
    return InputProblem(file, place, "nothing" if detail["type"] == "missing" else _shown(value), expected, others)


def _last_name(location: list[Any]) -> str:
    return next((step for step in reversed(location) if isinstance(step, str)), "")


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
    else:
        text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _field_at(kind: type[Part], location: list[Any]) -> FieldInfo | None:
    field: FieldInfo | None = None
    part: type[Part] | None = kind
    for step in location:
        if not isinstance(step, str) or part is None:
            continue
        field = part.model_fields.get(step)
        part = part_of(field) if field else None
    return field


_NOUNS = {
    int: "a whole number",
    float: "a number",
    str: "text in quotes",
    bool: "true or false",
    time: "a clock time such as 13:00:00",
}


def describe(field: FieldInfo, unit: str) -> str:
    """What a field expects, in words: ``"a number above 0 kg (mass of the item)"``."""
    limits = {name: value for item in field.metadata for name, value in vars_of(item).items()}
    words = {"gt": "above", "ge": "of at least", "lt": "below", "le": "of at most"}
    range_text = " and ".join(f"{words[name]} {limits[name]:g}" for name in words if limits.get(name) is not None)
    choices = [value for value in get_args(field.annotation) if isinstance(value, str)]
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


def vars_of(item: Any) -> dict[str, Any]:
    """Attributes of a constraint object, slots or not."""
    names = getattr(type(item), "__slots__", ()) or getattr(item, "__dict__", {})
    return {name: getattr(item, name) for name in names if hasattr(item, name)}


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
        value = getattr(part, name)
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


def write_beside_then_replace(path: Path, text: str) -> None:
    """Write a file so that a crash leaves the old one whole.

    Raises
    ------
    InputProblem
        The folder cannot be written, or the path is a folder.
    """
    if path.is_dir():
        raise InputProblem(str(path), "", "a folder", "the name of a file to write")
    target = path.resolve()  # a link stays a link: what it points to is replaced
    try:
        handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=target.name, suffix=".part")
    except OSError as problem:
        raise InputProblem(
            str(path), "", (problem.strerror or str(problem)).lower(), "a folder that can be written"
        ) from None
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(temporary, _mode_for(target))
        os.replace(temporary, target)
    except BaseException:
        os.unlink(temporary)
        raise


def _mode_for(target: Path) -> int:
    """Permissions of the file that is replaced, else those a new file would get (a temporary file is private)."""
    if target.exists():
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
