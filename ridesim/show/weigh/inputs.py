"""The weigh-in notebook without widgets: a build, what was moved, what the scales say → an answer. No pictures here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from ridesim.choose.findings.balance import blocks_fit, does_not_stand
from ridesim.show.panel.fields import Choice, Number, Text, number_of
from ridesim.show.panel.files import build_of
from ridesim.sizing.balance import Balance, Handling, balance, bar_force_n, handling
from ridesim.sizing.moving import RAMPS, Push, push
from ridesim.sizing.tray import Arrangement, Upright, arrangements, room_to_grow
from ridesim.sizing.weighing import Weighed, weighed
from ridesim.vehicle import Build
from ridesim.vehicle.ledger import Entry, entries, unplaced
from ridesim.words import Finding, InputProblem

WHICH = (
    Text("build", "Build"), Choice("who", "Aboard", (("rider", "with its rider"), ("alone", "without"))),
    Choice("units", "Units", (("metric", "kg, m"), ("imperial", "lb, ft"))),
)  # fmt: skip
SCALES = {
    "front": Number("front", "Front axle", "kg", 0.0, 200.0, 0.5),
    "rear": Number("rear", "Rear axle", "kg", 0.0, 200.0, 0.5),
    "lifted": Number("lifted", "Front, rear raised", "kg", 0.0, 200.0, 0.5),
    "lift": Number("lift", "Raised by", "m", 0.0, 1.0, 0.01),
}
"""What the scales say; empty boxes are not asked about."""
AT = (Number("x", "Forward", "m", -1.0, 3.0, 0.01), Number("z", "Up", "m", 0.0, 2.5, 0.01))
MASS = Number("kg", "Weighs", "kg", 0.1, 200.0, 0.1)
FIRST_TEXTS = {
    "build": "heron_36v",
    "who": "rider",
    "units": "metric",
    "front": "",
    "rear": "",
    "lifted": "",
    "lift": "",
}
LEAN_DEGREES = 10.0


@dataclass(frozen=True)
class WeighWish:
    """What is asked: the typed texts, and what was moved or weighed anew, by dotted key of the build."""

    texts: Mapping[str, str]
    moved: Mapping[str, float]


@dataclass(frozen=True)
class WeighAnswer:
    """Everything the panel shows.

    Attributes
    ----------
    build : Build
        With what was moved.
    items : tuple of Entry
        Everything that weighs, the rider too where he is aboard.
    lost : list of str
        What has no place yet, or which key is missing; while there is something, there is no balance.
    shown, alone, aboard, donor : Balance or None
        As asked, without and with the rider, and as the donor was.
    allowed : Handling or None
    bar_n : float or None
        Force at the bar at :data:`LEAN_DEGREES`. [N]
    lighter_n : float
        So much less than with everything where the file has it. [N]
    pushes : mapping of str to Push
        On each ramp, chain on.
    tray : tuple of Arrangement
    unfit : tuple of Finding
        What is wrong with tray and blocks.
    weighed : Weighed or None
    """

    build: Build
    items: tuple[Entry, ...]
    lost: list[str]
    shown: Balance | None
    alone: Balance | None
    aboard: Balance | None
    donor: Balance | None
    allowed: Handling | None
    bar_n: float | None
    lighter_n: float
    pushes: Mapping[str, Push]
    tray: tuple[Arrangement, ...]
    unfit: tuple[Finding, ...]
    weighed: Weighed | None

    @property
    def grow(self) -> float:
        """How much larger on every side the blocks that fit may surely be and still fit, as a factor; asked for by the tray's table alone."""
        pack = self.build.pack
        return _grow(pack.tray_mm, pack.block_size_mm, pack.blocks, pack.upright, self.build.beside_blocks_mm)

    @property
    def sentence(self) -> str:
        """The verdict: can it be pushed, held, put where it is meant to go."""
        wrong = (*(does_not_stand(self.build) if self.alone is not None else ()), *self.unfit)
        return " ".join([_pushed(self), *_held(self), *(finding.text for finding in wrong), *_rest(self)])


def _pushed(answer: WeighAnswer) -> str:
    steep = [name for name, needed in answer.pushes.items() if needed.men > 2]
    easy = [name for name in answer.pushes if name not in steep]
    if not steep:
        return f"Two people can push it dead up {easy[-1]}."
    return f"Two people can{f' push it dead up {easy[-1]}, not' if easy else 'not push it dead up'} {steep[0]}."


def _held(answer: WeighAnswer) -> list[str]:
    if answer.bar_n is None:
        return []
    text = f"At {LEAN_DEGREES:g}° of lean {answer.bar_n:.0f} N at the bar hold it"
    if abs(answer.lighter_n) >= 1.0:
        text += (
            f", {abs(answer.lighter_n):.0f} N {'less' if answer.lighter_n > 0.0 else 'more'} than as the file has it"
        )
    return [f"{text}."]


def _rest(answer: WeighAnswer) -> list[str]:
    if answer.lost:
        return [f"Not placed yet: {', '.join(answer.lost)}. Move it in the picture, or type where it is."]
    return []


def answer(wish: WeighWish, folder: Path) -> WeighAnswer:
    """Compute everything the panel shows.

    Raises
    ------
    InputProblem
        A file that is not a good build, a place where nothing can be, scales that say what cannot be.
    """
    file = build_of(wish.texts["build"], folder)
    build = file.changed(dict(wish.moved)) if wish.moved else file
    rider = wish.texts["who"] == "rider"
    lost = unplaced(build)
    known = not lost and build.vehicle.wheelbase_m is not None
    if build.vehicle.wheelbase_m is None:
        lost = [*lost, "vehicle.wheelbase_m"]
    alone, aboard = (balance(build, each) if known else None for each in (False, True))
    return WeighAnswer(
        build=build,
        items=tuple(entries(build, rider)),
        lost=lost,
        shown=aboard if rider else alone,
        alone=alone,
        aboard=aboard,
        donor=balance(build, False, donor=True) if known and not unplaced(build, False, donor=True) else None,
        allowed=handling(build) if known else None,
        bar_n=held_n(build) if known else None,
        lighter_n=_lighter(file, build) if known else 0.0,
        pushes={name: push(build, slope) for name, slope in RAMPS.items()},
        tray=ways_in_tray(build),
        unfit=tuple(blocks_fit(build)),
        weighed=_on_scales(build, wish.texts) if known else None,
    )


def held_n(build: Build) -> float | None:
    """Force at the bar that holds it at :data:`LEAN_DEGREES`; None where it stands by itself, or the bar's place is not stated. [N]"""
    vehicle = build.vehicle
    return bar_force_n(build, LEAN_DEGREES) if vehicle.wheels == 2 and vehicle.handlebar_z_m is not None else None


def _lighter(file: Build, build: Build) -> float:
    """So much less at the bar than as the file has it; 0 where that cannot be said. [N]"""
    if file == build or unplaced(file, False) or held_n(file) is None:
        return 0.0
    return (held_n(file) or 0.0) - (held_n(build) or 0.0)


def ways_in_tray(build: Build) -> tuple[Arrangement, ...]:
    """How the blocks stand in their tray, the lowest first; none where they do not fit or no tray is stated."""
    pack = build.pack
    if pack.tray_mm is None or pack.block_size_mm is None:
        return ()
    try:
        return _ways(pack.tray_mm, pack.block_size_mm, pack.blocks, pack.upright, build.beside_blocks_mm)
    except InputProblem:  # said by the finding
        return ()


@lru_cache(maxsize=32)
def _ways(tray: Any, block: Any, count: int, upright: Upright, odd: Any) -> tuple[Arrangement, ...]:
    """Kept while something else is moved."""
    return arrangements(tray, block, count, upright, odd_mm=odd)


@lru_cache(maxsize=32)
def _grow(tray: Any, block: Any, count: int, upright: Upright, odd: Any) -> float:
    return room_to_grow(tray, block, count, upright, odd_mm=odd)


def _on_scales(build: Build, texts: Mapping[str, str]) -> Weighed | None:
    """What was typed of the scales, if anything."""
    typed = {key: number_of(texts[key], field, "the scales") for key, field in SCALES.items() if texts[key].strip()}
    if not {"front", "rear"} <= set(typed):
        return None
    rider = texts["who"] == "rider"
    return weighed(build, typed["front"], typed["rear"], typed.get("lifted"), typed.get("lift"), rider)
