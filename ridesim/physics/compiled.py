"""The compiler switch: one decorator for every function of the core.

Environment variables: ``NUMBA_DISABLE_JIT=1`` runs everything as plain Python; ``RIDESIM_NO_CACHE=1`` compiles anew
in every process instead of keeping the machine code beside the sources.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba

Function = TypeVar("Function", bound=Callable[..., Any])

_ROOMS = ("physics", "ride", "bench")


def _drop_stale_cache(package: Path) -> None:
    """Delete all cached machine code once any source of the core is newer.

    Numba checks only the file of the cached function itself, not the files of the functions that it calls.
    """
    folders = [package / room for room in _ROOMS]
    newest = max(source.stat().st_mtime for folder in folders for source in folder.rglob("*.py"))
    for folder in folders:
        for kept in folder.rglob("__pycache__/*.nb[ic]"):
            with contextlib.suppress(FileNotFoundError):  # another process is clearing away the same files
                if kept.stat().st_mtime < newest:
                    kept.unlink()


CACHE = os.environ.get("RIDESIM_NO_CACHE", "") in ("", "0")
if CACHE:
    _drop_stale_cache(Path(__file__).resolve().parent.parent)


def compiled(function: Function) -> Function:
    """Compile a function of plain numbers and arrays; division by zero gives infinity as in numpy."""
    return cast(Function, numba.njit(cache=CACHE, nogil=True, error_model="numpy")(function))


def inlined(function: Function) -> Function:
    """Compile a function inlined into its callers: for short ones that touch arrays at every step."""
    return cast(Function, numba.njit(inline="always", nogil=True, error_model="numpy")(function))
