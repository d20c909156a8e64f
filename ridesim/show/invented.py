"""Demo data is marked as invented wherever its figures are shown."""

from __future__ import annotations

from ridesim.day import Day
from ridesim.vehicle import Build


def invented(*parts: Build | Day) -> str:
    """What follows a name in a line: the mark, where a note says that the build or the day is invented; else nothing."""
    return ", invented demo data" if any("invented" in part.note for part in parts) else ""
