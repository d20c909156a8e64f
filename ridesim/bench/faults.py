"""Refuses a bench log for all that is wrong with it at once."""

from __future__ import annotations

import re
from collections.abc import Iterable

from ridesim.words import InputProblem


def refuse(faults: Iterable[InputProblem]) -> None:
    """Refuse a log for its faults, a line each; a row is blamed once, since one slip breaks several rules.

    Raises
    ------
    InputProblem
        All of them, where there are any.
    """
    told: set[str] = set()
    problems = []
    for problem in faults:
        rows = set(re.findall(r"\w+\[\d+\]", problem.place))
        if not rows & told:
            problems.append(problem)
        told |= rows
    if problems:
        raise InputProblem.all_of(problems)
