"""Loading and saving of build files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.container import Container
from tomlkit.items import AoT, Item, Table

from ridesim.build.build import Build
from ridesim.data import find
from ridesim.forms import Part, field_for, part_of, read_table, validate, write_beside_then_replace
from ridesim.words import convert, split_unit


def load_build(path: str | Path) -> Build:
    """Read a build file.

    Parameters
    ----------
    path : str or Path
        A path, or the bare name of a shipped build such as ``"heron_36v"``.

    Raises
    ------
    InputProblem
        File, key path, what was found and what is expected.
    """
    file = find(path, "builds")
    table, text = read_table(file)
    build = validate(Build, table, str(path), stem=file.stem)
    build._text = text
    return build


def save_build(build: Build, path: str | Path) -> Path:
    """Write a build file, keeping the comments, order and units of the file the build was loaded from.

    The file is written beside and then put in place, so a crash leaves the old one whole.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    InputProblem
        The folder cannot be written.
    """
    target = Path(path)
    document = tomlkit.parse(build._text)
    _update(document, build)
    text = tomlkit.dumps(document)
    write_beside_then_replace(target, text)
    build._text = text
    return target


def _stated(part: Part) -> dict[str, Any]:
    """Keys worth writing: those a user set, not those filled in from defaults."""
    filled = set(getattr(part, "filled_in", ()))
    return {
        name: getattr(part, name)
        for name, field in type(part).model_fields.items()
        if name in part.model_fields_set
        and name not in filled
        and field.exclude is not True
        and getattr(part, name) is not None
    }


def _update(table: Container | Table, part: Part) -> None:
    keys = {field_for(type(part), key, "", key): key for key in table}
    stated = _stated(part)
    for name in [name for name in keys if name not in stated]:
        table.remove(keys[name])
    for name, value in stated.items():
        key = keys.get(name, name)
        field = type(part).model_fields[name]
        if isinstance(value, Part):
            if key not in table:
                table[key] = tomlkit.table()
            _update(table[key], value)
        elif part_of(field) is not None:
            _update_list(table, key, value)
        elif key not in table or not _same(table[key], key, value, name):
            shown = value if key == name else convert(value, split_unit(name)[1], split_unit(key)[1])
            new = tomlkit.item(_plain(shown))
            if key in table and isinstance(table[key], Item):
                new.trivia.comment_ws = table[key].trivia.comment_ws
                new.trivia.comment = table[key].trivia.comment
            table[key] = new


def _update_list(table: Container | Table, key: str, parts: tuple[Part, ...]) -> None:
    present = table.get(key)
    if not isinstance(present, AoT):
        if not parts:
            return
        present = tomlkit.aot()
        table[key] = present
        present = table[key]
    while len(present) > len(parts):
        del present[-1]
    for index, part in enumerate(parts):
        if index == len(present):
            present.append(tomlkit.table())
        _update(present[index], part)


def _same(present: Any, key: str, value: Any, name: str) -> bool:
    raw = present.unwrap() if hasattr(present, "unwrap") else present
    if key != name:
        raw = convert(raw, split_unit(key)[1], split_unit(name)[1])
    return bool(_plain(raw) == _plain(value))


def _plain(value: Any) -> Any:
    return [_plain(item) for item in value] if isinstance(value, list | tuple) else value
