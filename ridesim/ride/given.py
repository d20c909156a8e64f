"""What a public function is given: a build or a day, or the name or path of its file."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from ridesim.day import Day, load_day
from ridesim.forms import Part
from ridesim.vehicle import Build, load_build
from ridesim.words import InputProblem

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
    """One build or several, as a list in which every build has a name of its own.

    Raises
    ------
    InputProblem
        None at all, two of one name, or as :func:`given_build`.
    TypeError
        As :func:`given_build`.
    """
    if isinstance(builds, str | Path | Part) or not isinstance(builds, Iterable):
        builds = [given_build(builds)]
    found = [given_build(each) for each in builds]
    if not found:
        raise InputProblem("the builds", "", "none", "one at least")
    names = [build.name for build in found]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise InputProblem("the builds", "name", f"“{twice}” twice", "a name of its own for each")
    return found


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
