"""Text and TOML files of the user: read with one message where they cannot be, written beside and then put in place."""

from __future__ import annotations

import os
import re
import shutil
import tomllib
from pathlib import Path
from typing import Any

from ridesim.words import InputProblem

LARGEST_FILE_BYTES = 1_000_000
"""No build, day, route or trace comes near this; a larger file was named by mistake."""


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
            wanted = f"a text file under {LARGEST_FILE_BYTES / 1e6:.0f} MB"
            raise InputProblem(str(path), "", f"{size / 1e6:.1f} MB", wanted)
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
        found = f"text that is not TOML ({what[:1].lower()}{what[1:]})"
        raise InputProblem(str(path), place.rstrip(")"), found, "lines like mass_kg = 75.0", hint) from None
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
    temporary = target.with_name(f"{target.name}.{os.getpid()}.part")
    try:
        stream = temporary.open("w", encoding="utf-8", newline="\n")
    except OSError as problem:
        found = (problem.strerror or str(problem)).lower()
        raise InputProblem(str(path), "", found, "a folder that can be written") from None
    try:
        with stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        if target.exists():
            shutil.copymode(target, temporary)
        temporary.replace(target)
    except BaseException:
        temporary.unlink()
        raise
