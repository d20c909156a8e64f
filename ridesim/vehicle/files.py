"""Loading and saving of builds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.container import Container
from tomlkit.items import AoT, Item, Table

from ridesim.data import find
from ridesim.forms import Part, as_table, field_for, part_of, read_table, validate, write_beside_then_replace
from ridesim.vehicle.build import Build
from ridesim.words import InputProblem, Uncertain, convert, split_unit


def load_build(path: str | Path) -> Build:
    """Read a build.

    Parameters
    ----------
    path : str or Path
        A path, or the bare name of a shipped build such as ``"heron_36v"``.

    Returns
    -------
    Build

    Raises
    ------
    InputProblem
        File, key path, what was found and what is expected.

    Examples
    --------
    >>> import ridesim
    >>> ridesim.load_build("heron_36v").drive.motor_teeth
    11
    """
    file = find(path, "builds")
    table, text = read_table(file)
    if "activity" in table and "vehicle" not in table:
        raise InputProblem(str(path), "", "a day", "a build, with sections such as [vehicle] and [motor]")
    build = validate(Build, table, str(path), stem=file.stem)
    build._text = text
    return build


def save_build(build: Build, path: str | Path) -> Path:
    """Write a build, keeping the comments, order and units of the file the build was loaded from.

    The file is written beside and then put in place, so a crash leaves the old one whole.

    Parameters
    ----------
    build : Build
        The build.
    path : str or Path
        The file to write; one of that name is replaced.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    InputProblem
        The folder cannot be written.

    Examples
    --------
    >>> import ridesim, tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = ridesim.save_build(ridesim.load_build("heron_36v"), folder + "/mine.toml")
    ...     ridesim.load_build(path) == ridesim.load_build("heron_36v")
    True
    """
    target = Path(path)
    document = tomlkit.parse(build._text)
    _update(document, build)
    text = tomlkit.dumps(document)
    write_beside_then_replace(target, text)
    build._text = text
    return target


def _update(table: Container | Table, part: Part) -> None:
    keys = {field_for(type(part), key, "", key): key for key in table}
    given = part.said()
    for name in [name for name in keys if name not in given]:
        table.remove(keys[name])
    for name, value in given.items():
        key = keys.get(name, name)
        field = type(part).model_fields[name]
        if isinstance(value, Part):
            if key not in table:
                table[key] = tomlkit.table()
            _update(table[key], value)
        elif part_of(field) is not None:
            _update_list(table, key, value)
        elif key not in table or not _same(table[key], key, value, name):
            plain = _plain(value)
            shown = plain if key == name else convert(plain, split_unit(name)[1], split_unit(key)[1])
            new = _item(shown)
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
    _drop_removed(present, parts)
    for index, part in enumerate(parts):
        if index == len(present):
            present.append(tomlkit.table())
        _update(present[index], part)


def _drop_removed(present: AoT, parts: tuple[Part, ...]) -> None:
    """Delete the tables of parts that are gone, told by their label, so that comments stay with their own part."""
    if len(present) > len(parts):
        label = next(iter(type(parts[0]).model_fields)) if parts else ""
        labels = [getattr(part, label) for part in parts]
        for index in reversed(range(len(present))):
            if len(present) > len(parts) and present[index].get(label) not in labels:
                del present[index]
    while len(present) > len(parts):
        del present[-1]


def _same(present: Any, key: str, value: Any, name: str) -> bool:
    raw = present.unwrap() if hasattr(present, "unwrap") else present
    if key != name:
        raw = convert(raw, split_unit(key)[1], split_unit(name)[1])
    return bool(_plain(raw) == _plain(value))


def _item(value: Any) -> Item:
    """A value as an item of the file; a width stays on its line."""
    if isinstance(value, dict):
        inline = tomlkit.inline_table()
        inline.update(value)
        return inline
    item: Item = tomlkit.item(value)
    return item


def _plain(value: Any) -> Any:
    if isinstance(value, Uncertain):
        return as_table(value)
    return [_plain(item) for item in value] if isinstance(value, list | tuple) else value
