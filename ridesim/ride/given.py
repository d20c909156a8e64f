"""What a public function is given: a build or a day, or the name or path of its file."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TypeVar

from ridesim.day import Day, load_day
from ridesim.forms import Part
from ridesim.vehicle import Build, load_build

Thing = TypeVar("Thing", Build, Day)
AnyBuild = Build | str | Path
"""A build, the path of its file, or the bare name of a shipped one such as ``"heron_36v"``."""
AnyDay = Day | str | Path
"""A day, the path of its file, or the bare name of a shipped one such as ``"harbour_festival"``."""


def given_build(build: AnyBuild) -> Build:
    """The build itself, or the one that its name or path stands for.

    Raises
    ------
    InputProblem
        No such file, or not a good build.
    TypeError
        Neither a build nor a name or path.
    """
    return _given(Build, load_build, build)


def given_builds(builds: AnyBuild | Iterable[AnyBuild]) -> list[Build]:
    """One build or several, as a list; those of one name are told apart by their files.

    Raises
    ------
    InputProblem, TypeError
        As :func:`given_build`.
    """
    if isinstance(builds, str | Path | Part) or not isinstance(builds, Iterable):
        builds = [builds]
    given = list(builds)
    read = [_given(Build, load_build, each, f"builds[{number}]: ") for number, each in enumerate(given, start=1)]
    return told_apart(read, given)


def told_apart(builds: Sequence[Build], given: Sequence[AnyBuild]) -> list[Build]:
    """Builds that share a name and come from files get the file's name behind it: ``Heron, 36 V (my_float)``."""
    names = [build.name for build in builds]
    return [
        build.changed({}, name=f"{build.name} ({Path(one).stem})")
        if names.count(build.name) > 1 and not isinstance(one, Build)
        else build
        for build, one in zip(builds, given, strict=True)
    ]


def given_day(day: AnyDay) -> Day:
    """The day itself, or the one that its name or path stands for.

    Raises
    ------
    InputProblem
        No such file, or not a good day.
    TypeError
        Neither a day nor a name or path.
    """
    return _given(Day, load_day, day)


def _given(kind: type[Thing], load: Callable[[str | Path], Thing], value: Thing | str | Path, place: str = "") -> Thing:
    """The thing itself, or loaded from its file; ``place`` says which of several it is."""
    if isinstance(value, str | Path):
        return load(value)
    if not isinstance(value, kind):
        name, found = kind.__name__, type(value).__name__
        raise TypeError(f"{place}expected a {name}, or the name or path of a {name.lower()}; found {found}")
    return value
