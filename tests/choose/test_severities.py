"""One finding code has one severity, whichever page says it."""

from __future__ import annotations

import ast
from collections import defaultdict
from pathlib import Path

import ridesim

SOURCES = sorted(Path(ridesim.__file__).parent.rglob("*.py"))


def written() -> list[tuple[str, str]]:
    """Code and severity of every finding in the sources, as they are written there."""
    calls = [node for source in SOURCES for node in ast.walk(ast.parse(source.read_text(encoding="utf-8")))]
    found = [node for node in calls if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Finding"]
    return [(ast.unparse(call.args[0]), ast.unparse(call.args[1])) for call in found]


def test_every_code_has_one_severity():
    severities = defaultdict(set)
    for code, severity in written():
        severities[code].add(severity)
    assert len(severities) > 50
    assert {code: found for code, found in severities.items() if len(found) > 1} == {}
    assert set().union(*severities.values()) == {"'stop'", "'warning'", "'advice'"}
