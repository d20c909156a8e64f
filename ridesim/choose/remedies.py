"""What would mend a build that does not surely do its day: single changes, each tried on the day and then with its draws."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import groupby
from math import inf
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from ridesim.choose.how_sure import LEAST_DRAWS, drawn_rides
from ridesim.choose.likely import without_bands
from ridesim.choose.measure import deciding_figure
from ridesim.choose.wishes import BRAKES, RATINGS, likely_wishes, share_in_words
from ridesim.day import Day
from ridesim.forms import value_at
from ridesim.ride.result import Ride
from ridesim.ride.simulate import simulate, simulate_many
from ridesim.ride.steady import top_speed_kmh
from ridesim.sizing.sprockets import sprockets_for
from ridesim.vehicle import Build
from ridesim.words import InputProblem

if TYPE_CHECKING:
    from ridesim.choose.candidate import Candidate

BLOCK_AH = (5, 7, 9, 12, 14, 18, 20, 22, 24, 26, 28, 33, 38, 44, 50, 55, 65, 75, 90, 100, 120)
AMPS = (10, 15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 100, 120, 150, 200)
"""Sizes that blocks and controllers are sold in: common practice, no source."""
ENOUGH = 0.90
"""Share of the draws that a change should bring."""
WORTH = 0.5
"""A change that brings fewer is not told."""
TRIES = 4
"""So many changes of a kind are ridden with their draws."""
LIMITS = (
    ("controller.max_motor_current_a", "the controller's motor current of", "A"),
    ("controller.max_battery_current_a", "the controller's battery current of", "A"),
    ("pack.block_capacity_ah", "a block of", "Ah"),
)
"""What is the true limit where no sprocket helps: key, words, unit."""
DRAWS = 2 * LEAST_DRAWS
MOST = 4
"""So many remedies are told."""


@dataclass(frozen=True)
class Remedy:
    """A single change.

    Attributes
    ----------
    what : str
        In words.
    values : mapping of str to object
        What to change: for :meth:`ridesim.Build.changed`, or :meth:`ridesim.Day.changed` where ``of_day``.
    of_day : bool
        Whether it changes the day, not the build.
    chance : float
        Share of its draws that hold every wish; 0 where no such change does.
    """

    what: str
    values: Mapping[str, Any]
    of_day: bool
    chance: float


Try = tuple[str, dict[str, Any]]
"""A change in words, and the values that it changes."""


class _Knob(NamedTuple):
    """One thing that a maker can change.

    Attributes
    ----------
    tries : tuple of Try
        From the least change to the largest.
    none : str
        What is said where none of them would do; empty where nothing is.
    of_day : bool
        Whether the day is changed, not the build.
    """

    tries: tuple[Try, ...]
    none: str = ""
    of_day: bool = False


class _Made(NamedTuple):
    """A change in words and values, and the build and the day with it."""

    words: str
    values: dict[str, Any]
    build: Build
    day: Day


def remedies(c: Candidate) -> tuple[Remedy, ...]:
    """Single changes that would make a build do its day, the surest first; last, kinds of change that would not do.

    Parameters
    ----------
    c : Candidate
        With its draws.

    Notes
    -----
    A change is first tried with the likely values: every wish must hold, and the figure that decides must grow as far as the worst
    tenth of the draws falls short. The least changes that pass are then ridden with their own draws, until nine in ten do the day.
    """
    if c.drawn is None or not all(likely_wishes(c)[wish] for wish in (BRAKES, RATINGS)):
        return ()
    found, vain = [], []
    for knob in _knobs(c):
        remedy = _least(c, knob)
        if remedy is not None:
            found.append(remedy)
        elif knob.none:
            vain.append(knob.none)
    if not found:
        return (Remedy("no single change of sprockets, blocks, limits, mass or laps would do", {}, False, 0.0),)
    enough = _enough(c, found)
    in_vain = [Remedy(f"{words}{enough}", {}, False, 0.0) for words in vain]
    return (*sorted(found, key=lambda each: -each.chance)[:MOST], *in_vain)


def _enough(c: Candidate, found: Sequence[Remedy]) -> str:
    """Why no sprocket helps: the current limit or the block size that is too small, and the one that would do."""
    for key, whose, unit in LIMITS:
        for remedy in found:
            if key in remedy.values:
                now = value_at(c.build, key)
                return f", for {whose} {now:.3g} {unit} is not enough and {remedy.values[key]:.3g} {unit} is"
    return ""


def in_words(remedy: Remedy) -> str:
    """A remedy with what it brings."""
    return f"{remedy.what} (then {share_in_words(remedy.chance)} do)" if remedy.chance else remedy.what


def _least(c: Candidate, knob: _Knob) -> Remedy | None:
    """The least change of a kind that would do; None where none does, or where each makes another wish fail."""
    made = _made(c, knob.tries, knob.of_day)
    holds = _holds_by_likely(c, made) if made else []
    good = [each for each, does in zip(made, holds, strict=True) if does]
    best: Remedy | None = None
    tries = 0
    for each in good:
        if not all(likely_wishes(without_bands(simulate(each.build, each.day))).values()):
            continue
        tries += 1
        (drawn,) = drawn_rides([each.build], each.day, DRAWS, [0.0])
        chance = float(drawn.all_hold.mean())
        if best is None or chance > best.chance:
            best = Remedy(each.words, each.values, knob.of_day, chance)
        if chance >= ENOUGH or tries == TRIES:
            break
    return best if best is not None and best.chance >= WORTH else None


def _made(c: Candidate, tries: Sequence[Try], of_day: bool = False) -> list[_Made]:
    """Changes made; those that a file could not have either are left out."""
    build, day = c.build, c.ride.asked
    made = []
    for words, values in tries:
        with suppress(InputProblem):
            changed = (build, day.changed(values)) if of_day else (build.changed(values, build.name), day)
            made.append(_Made(words, values, *changed))
    return made


def _holds_by_likely(c: Candidate, made: Sequence[_Made]) -> list[bool]:
    """Whether the figure that decides is far enough with each change, by the likely values."""
    assert c.drawn is not None
    name, figures = deciding_figure(c.drawn)
    wanted = _figure(c.ride, name) + _lacking(figures, c)
    found = []
    for day, on_it in groupby(made, key=lambda each: each.day):
        rides = simulate_many([each.build for each in on_it], day)
        found += [ride.outcome.finished and _figure(ride, name) >= wanted for ride in rides]
    return found


def _figure(ride: Ride, name: str) -> float:
    """A ride's figure, of which more is better; see :func:`ridesim.choose.measure.deciding_figure`.

    What it starts on is judged by the wish alone.
    """
    if name == "pull_to_start":
        return inf
    if name == "hottest_winding_c":
        return -ride.outcome.hottest_winding_c
    if name == "top_speed_at_reserve_kmh":
        return top_speed_kmh(ride.build, ride.build.pack.reserve)
    km = ride.outcome.spare_to_empty_km
    return -inf if km is None else km


def _lacking(figures: np.ndarray[Any, np.dtype[np.float64]], c: Candidate) -> float:
    """By how much the figure must grow so that nine in ten draws hold every wish.

    Draws above some value of the figure hold them now: that value is the line. The worst tenth of the draws must come up to it.
    """
    assert c.drawn is not None
    share = float(c.drawn.all_hold.mean())
    finite = figures[np.isfinite(figures)]
    if not len(finite):
        return 0.0
    line = float(np.quantile(finite, 1.0 - share))
    return max(0.0, line - float(np.quantile(finite, 1.0 - ENOUGH)))


def _knobs(c: Candidate) -> Iterator[_Knob]:
    """What a maker can change."""
    build, drive, pack, control = c.build, c.build.drive, c.build.pack, c.build.controller

    def larger(key: str, what: str, now: float, unit: str, sold: Sequence[int]) -> _Knob:
        return _Knob(
            tuple((f"{what} {size} {unit} instead of {now:.3g}", {key: float(size)}) for size in sold if size > now)
        )

    # Where none is sold for its chain there is nothing to try; what is wrong in a list of one's own is said by `gearing`.
    with suppress(InputProblem):
        for key, sold in sprockets_for(drive.chain).items():
            yield _sprocket(key, getattr(drive, key), sold)
    blocks = pack.blocks_in_series
    yield _Knob(
        tuple(
            (f"{n} blocks in series instead of {blocks}", {"pack.blocks_in_series": n})
            for n in (blocks + 1, blocks + 2)
        )
    )
    yield larger("pack.block_capacity_ah", "blocks of", pack.block_capacity_ah, "Ah", BLOCK_AH)
    most, drawn = control.max_motor_current_a, control.max_battery_current_a
    yield larger("controller.max_motor_current_a", "a controller that gives the motor", most, "A", AMPS)
    yield larger("controller.max_battery_current_a", "a controller that takes from the pack", drawn, "A", AMPS)
    place, item = max(enumerate(build.vehicle.mass, start=1), key=lambda each: each[1].mass_kg)
    yield _Knob(
        tuple(
            (f"{share * item.mass_kg:.0f} kg off “{item.item}”", {f"vehicle.mass[{place}].mass_kg": (1.0 - share) * item.mass_kg})
            for share in np.arange(0.05, 0.65, 0.05).tolist()
        )
    )  # fmt: skip
    yield from _of_the_day(c.ride.asked)


def _sprocket(key: str, now: int, sold: Collection[int]) -> _Knob:
    """Another sprocket for its chain, the nearest first."""
    name = key.removesuffix("_teeth")
    near = sorted(set(sold) - {now}, key=lambda teeth: abs(teeth - now))
    tries = tuple((f"{n} teeth on the {name} sprocket instead of {now}", {f"drive.{key}": n}) for n in near)
    return _Knob(tries, f"no {name} sprocket of {min(sold)} to {max(sold)} teeth would do")


def _of_the_day(day: Day) -> Iterator[_Knob]:
    """A rider who walks on the steepest climb; fewer laps of the last route that is ridden several times."""
    ridden = [(n, each) for n, each in enumerate(day.activity, start=1) if each.path is not None]
    aboard = [(n, each) for n, each in ridden if each.aboard]
    if aboard:
        n, steep = max(aboard, key=lambda each: each[1].path.steepest_percent if each[1].path else 0.0)
        yield _Knob(((f"the rider walks in “{steep.name}”", {f"activity[{n}].aboard": False}),), of_day=True)
    laps = [(n, each) for n, each in ridden if each.route is not None and each.laps > 1]
    if laps:
        n, last = laps[-1]
        tries = tuple(
            (f"{fewer} lap{'s' if fewer > 1 else ''} less in “{last.name}”", {f"activity[{n}].laps": last.laps - fewer})
            for fewer in range(1, last.laps)
        )
        yield _Knob(tries, of_day=True)
