"""A chain laid round sprockets and idlers in a plane: its length, its wraps, its straight spans, by tangents alone."""

from __future__ import annotations

from cmath import phase, rect
from math import asin, hypot, pi, sqrt
from typing import NamedTuple

from ridesim.words import InputProblem


class Round(NamedTuple):
    """A sprocket that the chain goes round: centre, pitch radius, which way the chain turns about it, teeth.

    ``way`` is 1 where the chain turns left about it, counter-clockwise, and -1 where it turns right, as about an idler that presses
    from outside. Lengths in any one unit.
    """

    centre: complex
    radius: float
    way: int
    teeth: float


class Laid(NamedTuple):
    """A chain round some sprockets.

    Attributes
    ----------
    spans : tuple of (complex, complex)
        Begin and end of each straight span; the first leaves the first sprocket.
    wraps : tuple of float
        Angle round each sprocket. [rad]
    links : float
    """

    spans: tuple[tuple[complex, complex], ...]
    wraps: tuple[float, ...]
    links: float


def laid_round(rounds: tuple[Round, ...], pitch: float) -> Laid:
    """The chain round sprockets, in the order in which it runs.

    Parameters
    ----------
    rounds : tuple of Round
        Two or more.
    pitch : float
        In the unit of the lengths.

    Returns
    -------
    Laid
        Links are straight lengths over the pitch, and teeth times wrap over 2π.

    Raises
    ------
    InputProblem
        Two of them overlap.

    Notes
    -----
    The span from one circle to the next is a line that has each centre at its radius to the left, or to the right: its direction is that
    of the centres less asin((r₂ - r₁)/d), radii counted negative to the right.
    """
    spans, turns = [], []
    for one, other in zip(rounds, (*rounds[1:], rounds[0]), strict=True):
        between, step = other.centre - one.centre, other.way * other.radius - one.way * one.radius
        if abs(between) <= abs(step):
            raise InputProblem("the chain", "sprockets", "two that overlap", "each clear of the next")
        turn = rect(1.0, phase(between) - asin(step / abs(between)))
        begin = one.centre - 1j * turn * one.way * one.radius
        spans.append((begin, begin + turn * sqrt(abs(between) ** 2 - step * step)))
        turns.append(turn)
    wraps = tuple(
        phase(turn / turns[place - 1]) * each.way % (2.0 * pi) for place, (each, turn) in enumerate(zip(rounds, turns, strict=True))
    )  # fmt: skip
    straight = sum(hypot((end - begin).real, (end - begin).imag) for begin, end in spans)
    links = straight / pitch + sum(each.teeth * wrap for each, wrap in zip(rounds, wraps, strict=True)) / (2.0 * pi)
    return Laid(tuple(spans), wraps, links)
