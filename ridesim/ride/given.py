"""What a public function is given: a build or a day, or the name or path of its file."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from ridesim.day import Day, load_day
from ridesim.forms import Part
from ridesim.vehicle import Build, load_build

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
    if isinstance(build, str | Path):
        return load_build(build)
    if not isinstance(build, Build):
        raise TypeError(f"expected a Build, or the name or path of a build file; found {_kind(build)}")
    return build


def given_builds(builds: AnyBuild | Iterable[AnyBuild]) -> list[Build]:
    """One build or several, as a list.

    Raises
    ------
    InputProblem, TypeError
        As :func:`given_build`.
    """
    if isinstance(builds, str | Path | Part) or not isinstance(builds, Iterable):
        builds = [given_build(builds)]
    return [given_build(each) for each in builds]


def given_day(day: AnyDay) -> Day:
    """The day itself, or the one that its name or path stands for.

    Raises
    ------
    InputProblem
        No such file, or not a good day.
    TypeError
        Neither a day nor a name or path.
    """
    if isinstance(day, str | Path):
        return load_day(day)
    if not isinstance(day, Day):
        raise TypeError(f"expected a Day, or the name or path of a day file; found {_kind(day)}")
    return day


def _kind(value: object) -> str:
    name = type(value).__name__
    return f"{'an' if name[0] in 'AEIOUaeiou' else 'a'} {name}"
