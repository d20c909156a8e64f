"""Text and TOML files of the user: read with one message where they cannot be, written beside and then put in place."""

from __future__ import annotations

import os
import re
import shutil
import stat
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path
from typing import Any
from uuid import uuid4

import psutil

from ridesim.words import InputProblem

LARGEST_FILE_BYTES = 1_000_000
"""No build, day, route or trace comes near this; a larger file was named by mistake."""

FILES_READ: set[Path] = set()
"""Files of the user that this process has read; see :func:`not_an_input`."""
DEEPEST_KEY = 30
"""No key has more parts between points; thousands of them take the reader of TOML minutes."""
_PART = re.compile(r"\.(\d+)-[0-9a-f]{8}\.part$")


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
    FILES_READ.add(path.resolve())
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
    for number, line in enumerate(text.splitlines(), start=1):
        key = line.partition("=")[0]
        if key.count(".") > DEEPEST_KEY and not any(letter in key for letter in "#\"'"):
            found = f"a key of {key.count('.') + 1} parts"
            raise InputProblem(str(path), f"line {number}", found, "lines like mass_kg = 75.0")
    try:
        return tomllib.loads(text), text
    except tomllib.TOMLDecodeError as problem:
        message = str(problem)
        what, _, place = message.rpartition(" (at ")
        at_line = re.match(r"line (\d+)", place)
        hint = _toml_hint(text.splitlines()[int(at_line[1]) - 1]) if at_line else ""
        found = f"text that is not TOML ({what[:1].lower()}{what[1:]})"
        raise InputProblem(str(path), place.rstrip(")"), found, "lines like mass_kg = 75.0", hint) from None
    except ValueError as problem:  # a whole number of thousands of digits
        raise InputProblem(
            str(path), "", f"a number that cannot be read ({problem})", "lines like mass_kg = 75.0"
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


def write_beside_then_replace(path: Path, content: str | bytes) -> None:
    """Write a file so that a crash leaves the old one whole.

    Raises
    ------
    InputProblem
        The folder cannot be written, or what is there is a folder, a device, a pipe, or read-only.
    """
    target = _target(path)
    temporary = _written_beside(target, path, content)
    with _gone_if_it_fails(temporary):
        if target.exists():
            shutil.copymode(target, temporary)
        temporary.replace(target)


def write_new(folder: Path, stem: str, suffix: str, content: str | bytes) -> Path:
    """Write a file under the first name that is free, ``stem.suffix``, ``stem_2.suffix`` …: nothing is written over, whoever writes at once.

    Raises
    ------
    InputProblem
        The folder cannot be written.
    """
    temporary = _written_beside(folder / f"{stem}.{suffix}", folder, content)
    with _gone_if_it_fails(temporary):
        for number in count(1):
            target = folder / f"{stem}{f'_{number}' if number > 1 else ''}.{suffix}"
            with suppress(FileExistsError):
                target.touch(exist_ok=False)
                break
        temporary.replace(target)
    return target


def not_an_input(path: Path) -> None:
    """Refuse to write over a file that was read, such as the build itself or a route of the day, by whatever name.

    Raises
    ------
    InputProblem
        It was read.
    """
    if path.exists() and any(read.exists() and path.samefile(read) for read in FILES_READ):
        raise InputProblem(str(path), "", "a file that was read", "another name: it would be written over")


def _target(path: Path) -> Path:
    """The file that a path names; a link stays a link: what it points to is replaced."""
    try:
        target = path.resolve()
        there = target.stat() if target.exists() else None
    except (OSError, RuntimeError):  # a loop of links is the one or the other, by Python's version
        raise InputProblem(str(path), "", "links that lead in a circle", "the name of a file to write") from None
    if there is None:
        return target
    if not stat.S_ISREG(there.st_mode):
        found = "a folder" if stat.S_ISDIR(there.st_mode) else "a device or a pipe"
        raise InputProblem(str(path), "", found, "the name of a file to write")
    if not there.st_mode & 0o222:
        raise InputProblem(str(path), "", "a read-only file", "one that may be written over, or another name")
    return target


def _written_beside(target: Path, shown: Path, content: str | bytes) -> Path:
    """The content in a file of its own beside the target; what killed processes left there is cleared away."""
    for left in target.parent.glob("*.part"):
        owner = _PART.search(left.name)
        if owner and not psutil.pid_exists(int(owner[1])):
            left.unlink(missing_ok=True)
    # Hidden: JupyterLab lists the folder every few seconds, and says "Directory not found" where a file in it goes while it does.
    temporary = target.with_name(f".{target.name}.{os.getpid()}-{uuid4().hex[:8]}.part")
    try:
        stream = temporary.open("xb")
    except OSError as problem:
        found = (problem.strerror or str(problem)).lower()
        raise InputProblem(str(shown), "", found, "a folder that can be written") from None
    with _gone_if_it_fails(temporary), stream:
        stream.write(content.encode("utf-8") if isinstance(content, str) else content)
        stream.flush()
        os.fsync(stream.fileno())
    return temporary


@contextmanager
def _gone_if_it_fails(temporary: Path) -> Iterator[None]:
    try:
        yield
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
