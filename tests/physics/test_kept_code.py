"""Machine code that is kept never outlives its sources, and never stands in the way where it is damaged or cannot be kept."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import ridesim
from tests.long import LONG

PROGRAM = """
from ridesim.physics import compiled
said = []
compiled.compiling = lambda: said.append(1)
from ridesim.physics.controller import motor_power
print(motor_power(10.0, 100.0, 0.1, 0.0, 1.0, 1.0, 0.2), len(said))
"""
"""10 A at 100 rad/s, K 0.1, 1 V, 0.2 ohm: 10 (10 + 1 + 2) = 130 W; with K doubled 230 W. Its back EMF stands in another file."""


@pytest.fixture
def copy(tmp_path):
    """A copy of the package alone, without machine code; ``__pycache__`` is no folder, so that nothing can be kept beside it."""
    package = tmp_path / "site" / "ridesim"
    for room in ("physics",):
        shutil.copytree(
            Path(ridesim.__file__).parent / room, package / room, ignore=shutil.ignore_patterns("__pycache__")
        )
    for name in ("__init__.py", "words.py"):
        shutil.copy2(Path(ridesim.__file__).parent / name, package / name)
    (package / "__pycache__").touch()
    return package


def run(package: Path, **environment: str) -> tuple[float, int, str]:
    """The power, how often something was compiled, and what was said."""
    kept = {name: value for name, value in os.environ.items() if name not in ("NUMBA_CACHE_DIR", "XDG_CACHE_HOME")}
    env = {**kept, "PYTHONPATH": str(package.parent), "PYTHONDONTWRITEBYTECODE": "1", **environment}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], env=env, cwd=package.parent, capture_output=True, text=True, check=True
    )
    power, said = done.stdout.split()
    return float(power), int(said), done.stderr


def double_the_constant(package: Path) -> None:
    """A changed equation in a file that looks as old as before."""
    file = package / "physics" / "motor.py"
    before = file.stat()
    text = file.read_text(encoding="utf-8")
    assert text.count("\n    return constant\n") == 1
    file.write_text(text.replace("\n    return constant\n", "\n    return 2.0 * constant\n"), encoding="utf-8")
    os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))


def damaged(data: bytes, how: str) -> bytes:
    """What a file of kept code may look like after an accident."""
    half = len(data) // 2
    return {
        "cut": data[:half], "flipped": data[:half] + bytes([data[half] ^ 0xFF]) + data[half + 1 :], "emptied": b"",
        "garbage": os.urandom(len(data)),
    }[how]  # fmt: skip


@pytest.mark.parametrize("place", ["XDG_CACHE_HOME", *(["NUMBA_CACHE_DIR"] if LONG else [])])
@pytest.mark.thorough
def test_a_changed_equation_changes_the_answer_and_damaged_code_is_made_anew(copy, tmp_path, place):
    """Where the folder is asked for, and where the package's own cannot be written and the user's cache stands in."""
    where = {place: str(tmp_path / "kept")}
    power, compiled_first, said = run(copy, **where)
    assert (power, said) == (pytest.approx(130.0), "")
    assert compiled_first >= 1
    assert run(copy, **where)[:2] == (pytest.approx(130.0), 0)
    for how in ("flipped", *(("cut", "emptied", "garbage") if LONG else ())):
        files = list((tmp_path / "kept").rglob("*.nb[ic]"))
        assert files
        for file in files:
            file.write_bytes(damaged(file.read_bytes(), how))
        power, again, said = run(copy, **where)
        assert (power, said) == (pytest.approx(130.0), "")
        assert again >= 1, "damaged code is made anew"
    double_the_constant(copy)
    assert run(copy, **where)[0] == pytest.approx(230.0)


def test_no_place_to_keep_it_is_said_once_and_computes(copy, tmp_path):
    (tmp_path / "file").touch()
    power, _, said = run(copy, XDG_CACHE_HOME=str(tmp_path / "file"), NUMBA_CACHE_DIR=str(tmp_path / "file" / "deep"))
    assert power == pytest.approx(130.0)
    assert said.count("no place to keep the compiled equations") == 1
    assert "Traceback" not in said
