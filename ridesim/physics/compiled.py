"""The compiler switch: one decorator for every function of the core, and where its machine code is kept.

Environment variables: ``NUMBA_DISABLE_JIT=1`` runs everything as plain Python; ``RIDESIM_NO_CACHE=1`` compiles anew
in every process; ``NUMBA_CACHE_DIR`` says where machine code is kept.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
import numpy as np
import platformdirs
from numba.core import caching

Function = TypeVar("Function", bound=Callable[..., Any])

FAST = {"contract", "arcp"}
"""Liberties of the compiler: a product and a sum may be one operation, a division a product with the reciprocal. Both round a little otherwise."""

_PACKAGE = Path(__file__).resolve().parent.parent
_SETTINGS: Any = numba.config
_ROOMS = ("physics", "ride", "bench")
_KEPT_FOLDERS, _KEPT_S = 3, 3600.0
"""So many folders of former sources are kept, and those used within this time. [s]"""

_CacheFile: Any = caching.IndexDataCacheFile

compiling: Callable[[], None] = lambda: None  # noqa: E731
"""Called before a function is compiled for want of kept machine code; the terminal command says so to who waits."""


def _fingerprint() -> str:
    """What the machine code follows from: every source of the rooms with compiled code, and the compiler."""
    digest = hashlib.sha256(f"{numba.__version__} {np.__version__} {sys.version}".encode())
    for source in sorted(source for room in _ROOMS for source in (_PACKAGE / room).rglob("*.py")):
        digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


def _folder() -> Path | None:
    """The folder for these sources' machine code, made where one can be written: asked for, beside the package, the user's cache."""
    asked = os.environ.get("NUMBA_CACHE_DIR")
    parents = [Path(asked)] if asked else []
    parents += [_PACKAGE / "__pycache__", platformdirs.user_cache_path("ridesim")]
    for parent in parents:
        folder = parent / f"ridesim-compiled-{_fingerprint()}"
        with contextlib.suppress(OSError):
            folder.mkdir(parents=True, exist_ok=True)
            (folder / "used").write_text("", encoding="utf-8")
            _drop_old(folder)
            return folder
    tried = ", ".join(str(parent) for parent in parents)
    print(
        f"ridesim: no place to keep the compiled equations (tried {tried}): they are compiled anew each time.",
        file=sys.stderr,
    )
    return None


def _drop_old(folder: Path) -> None:
    """Delete the folders of sources that are no longer there."""
    others = [each for each in folder.parent.glob("ridesim-compiled-*") if each != folder]
    used = sorted(((each / "used").stat().st_mtime, each) for each in others if (each / "used").exists())
    for when, each in used[:-_KEPT_FOLDERS]:
        if time.time() - when > _KEPT_S:
            shutil.rmtree(each, ignore_errors=True)


class _Kept(_CacheFile):  # type: ignore[misc]
    """Kept machine code with a checksum beside it: what is damaged, or cannot be written, is compiled anew."""

    def load(self, key: Any) -> Any:
        try:
            found = super().load(key)
        except Exception:  # a damaged file may raise anything that unpickling can
            with contextlib.suppress(OSError):
                self.flush()
            found = None
        if found is None:
            compiling()
        return found

    def save(self, key: Any, data: Any) -> None:
        with contextlib.suppress(OSError):
            super().save(key, data)

    def _load_data(self, name: str) -> Any:
        if self._checksum(name) != self._checksum_path(name).read_bytes():
            raise ValueError("damaged machine code")
        return super()._load_data(name)

    def _save_data(self, name: str, data: Any) -> None:
        super()._save_data(name, data)
        with self._open_for_write(str(self._checksum_path(name))) as file:
            file.write(self._checksum(name))

    def _checksum(self, name: str) -> bytes:
        return hashlib.sha256(Path(self._data_path(name)).read_bytes()).digest()

    def _checksum_path(self, name: str) -> Path:
        return Path(f"{self._data_path(name)}.sha256")


CACHE = None if os.environ.get("RIDESIM_NO_CACHE", "") not in ("", "0") else _folder()
"""Where machine code is kept; None: nowhere."""


@contextlib.contextmanager
def _kept_here() -> Iterator[None]:
    """The compiler's folder is ours while our functions are declared, and the user's otherwise."""
    theirs = _SETTINGS.CACHE_DIR
    _SETTINGS.CACHE_DIR = str(CACHE)
    try:
        yield
    finally:
        _SETTINGS.CACHE_DIR = theirs


def compiled(function: Function, **options: Any) -> Function:
    """Compile a function of plain numbers and arrays; division by zero gives infinity as in numpy."""
    if CACHE is None or _SETTINGS.DISABLE_JIT:
        return cast(Function, numba.njit(nogil=True, error_model="numpy", fastmath=FAST, **options)(function))
    with _kept_here():
        made: Any = numba.njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST, **options)(function)
    cache = made._cache
    cache._cache_file = _Kept(cache.cache_path, cache._impl.filename_base, cache._impl.locator.get_source_stamp())
    return cast(Function, made)


def internal(function: Function) -> Function:
    """Compile a function that only compiled ones call: what Python would need to call it takes long to compile."""
    return compiled(function, no_cpython_wrapper=True, no_cfunc_wrapper=True)


def inlined(function: Function) -> Function:
    """Compile a function inlined into its callers: for short ones that touch arrays at every step."""
    return cast(Function, numba.njit(inline="always", nogil=True, error_model="numpy")(function))
