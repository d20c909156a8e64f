"""Fit: in which ways so many equal blocks stand in a tray, lowest first, and what is missing where they do not."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, islice, permutations, product
from typing import Literal, NamedTuple

import numpy as np

from ridesim.words import InputProblem, InShort, Rows, need_number

Upright = Literal["any-side-but-top", "upright", "any"]
UPRIGHT: dict[str, str] = {
    "any-side-but-top": "sealed blocks: on any side, never upside down",
    "upright": "flooded blocks: as they are marked",
    "any": "cells that may lie as they like",
}
MOST = 24
"""More blocks than this are not searched."""
TRIES = 45_000
"""Partial fillings that are looked at, once for the lowest, once for the others: a large tray has more ways than anybody wants to read."""
HEAVY = 500
"""With so many places more, a partial filling counts once more: it takes that much longer to look at."""
BESIDE = 300
"""Fillings of the equal blocks alone between which the odd block is tried first."""
MANY = 15_000
"""Where there are more places than this, plain rows are tried where they are enough."""
AXES = ("length", "width", "height")
SIDES = (("left", "right"), ("front", "back"), ("down", "up"))
"""Sides of the tray in plan and from the side, by axis."""
TERMINAL_ROOM_MM = 25.0
"""Room that lugs, their covers and the cables' bend want before the terminals: common practice, no source."""
Size = tuple[float, ...]


Filling = tuple[tuple["Placed", ...], "Placed | None"]
"""Where the equal blocks stand, and the odd one."""


class Placed(NamedTuple):
    """A block in the tray: its lower left rear corner, and its sizes along the tray. [mm]"""

    x: float
    y: float
    z: float
    length: float
    width: float
    height: float


class Terminals(NamedTuple):
    """The side of the tray to which a block's terminals point, one of :data:`SIDES`, and the room before them. [mm]"""

    side: str
    room_mm: float


@dataclass(frozen=True, repr=False)
class Arrangement(InShort):
    """One way in which the blocks stand.

    Attributes
    ----------
    blocks : tuple of Placed
        The equal ones, from the floor up.
    centre_mm : float
        Height of the centre of gravity of all of them above the tray's floor, the odd one too, as heavy as it is large. [mm]
    odd : Placed or None
        The odd block beside them.
    terminals : tuple of Terminals
        Where the terminals of each of the equal blocks point, and the room before them.
    """

    blocks: tuple[Placed, ...]
    centre_mm: float
    odd: Placed | None = None
    terminals: tuple[Terminals, ...] = ()

    @property
    def terminal_room_mm(self) -> float:
        """The least room before any block's terminals, everything pushed together. [mm]"""
        return min((each.room_mm for each in self.terminals), default=0.0)

    @property
    def layers(self) -> tuple[tuple[float, float], ...]:
        """Height of each block's underside, and how tall it stands there, sorted. [mm]"""
        return tuple(sorted((block.z, block.height) for block in self.blocks))

    def _short(self) -> tuple[str, Rows]:
        rows = [
            (f"at {b.x:g}, {b.y:g}, {b.z:g} mm", f"{b.length:g} along, {b.width:g} across, {b.height:g} tall")
            for b in self.blocks
        ]
        if self.odd is not None:
            odd = self.odd
            rows.append(
                (
                    f"the odd one at {odd.x:g}, {odd.y:g}, {odd.z:g} mm",
                    f"{odd.length:g} along, {odd.width:g} across, {odd.height:g} tall",
                )
            )
        if self.terminals:
            rows.append(("before the terminals", f"{self.terminal_room_mm:g} mm"))
        return f"{len(self.blocks)} blocks, centre {self.centre_mm:.0f} mm above the floor", rows


def arrangements(
    tray_mm: Sequence[float], block_mm: Sequence[float], count: int, upright: Upright = "any-side-but-top", clearance_mm: float = 0.0,
    odd_mm: Sequence[float] | None = None,
) -> tuple[Arrangement, ...]:  # fmt: skip
    """Ways in which equal blocks stand in a tray, the lowest centre of gravity first.

    Parameters
    ----------
    tray_mm : sequence of float
        Inner length, width and height of the tray.
    block_mm : sequence of float
        Length, width and height of a block as it stands.
    count : int
        How many blocks.
    upright : {"any-side-but-top", "upright", "any"}
        How they may lie: sealed lead-acid never upside down, flooded only upright.
    clearance_mm : float
        Air between neighbours.
    odd_mm : sequence of float, optional
        One block of another size that must stand there too, such as the lights'.

    Returns
    -------
    tuple of Arrangement
        One for each way of standing in layers, that with the most room before the terminals; empty where they do not fit.

    Raises
    ------
    InputProblem
        Sizes that are no sizes, a block that does not fit alone.

    Notes
    -----
    Any filling can be pushed down, back and to the left until every block touches; each coordinate is then a sum of block sizes (normal patterns,
    Herz 1972, Christofides and Whitlock 1977, both from memory), so none that fits is missed by trying these alone.

    Examples
    --------
    >>> best, *_ = arrangements((400, 240, 200), (181, 77, 167), 6)
    >>> best.centre_mm
    83.5
    """
    tray, block = _checked(tray_mm, block_mm, count, upright, clearance_mm)
    odd = None if odd_mm is None else _checked(tray_mm, odd_mm, 1, upright, clearance_mm)[1]
    found: dict[object, Arrangement] = {}
    search = _Search(tray, _turned(block, upright), count, _turned(odd, upright) if odd else [])

    def bare(b: Placed) -> Placed:
        return Placed(b.x, b.y, b.z, *(round(side - clearance_mm, 6) for side in b[3:]))

    for blocks, beside in search.every_filling():
        one = _arrangement(
            tuple(map(bare, blocks)), bare(beside) if beside else None, tuple(tray_mm), tuple(block_mm), upright
        )
        way = (one.layers, one.odd and (one.odd.z, one.odd.height))
        if way not in found or found[way].terminal_room_mm < one.terminal_room_mm:
            found[way] = one
    return tuple(sorted(found.values(), key=lambda each: (each.centre_mm, each.layers)))


def _arrangement(
    blocks: tuple[Placed, ...], odd: Placed | None, tray: Size, block: Size, upright: Upright
) -> Arrangement:
    every = [*blocks, *([odd] if odd else [])]
    sizes = [_volume(b[3:]) for b in every]
    centre = sum(size * (b.z + 0.5 * b.height) for size, b in zip(sizes, every, strict=True)) / sum(sizes)
    return Arrangement(blocks, centre, odd, tuple(_terminals(b, every, tray, block, upright) for b in blocks))


def _terminals(placed: Placed, every: Sequence[Placed], tray: Size, block: Size, upright: Upright) -> Terminals:
    """Where the top of a block points as it lies: of the sides that are possible the one with the most room."""
    sides = placed[3:]
    axes = [2] if upright == "upright" else [
        axis for axis in range(3) if sides[axis] == block[2] and sorted((*sides[:axis], *sides[axis + 1 :])) == sorted(block[:2])
    ]  # fmt: skip
    found = [
        Terminals(SIDES[axis][end], _room(placed, every, tray, axis, end))
        for axis in axes
        for end in (0, 1)
        if upright == "any" or (axis, end) != (2, 0)
    ]
    return max(found, key=lambda each: each.room_mm)


def _room(placed: Placed, every: Sequence[Placed], tray: Size, axis: int, end: int) -> float:
    """Free room before one side of a block, up to its neighbour or the tray. [mm]"""
    across = [each for each in range(3) if each != axis]
    over = [
        b for b in every
        if all(b[i] < placed[i] + placed[3 + i] - 1e-6 and placed[i] < b[i] + b[3 + i] - 1e-6 for i in across)
    ]  # fmt: skip
    if end:
        top = placed[axis] + placed[3 + axis]
        return min([b[axis] - top for b in over if b[axis] >= top - 1e-6] + [tray[axis] - top])
    return placed[axis] - max(
        [b[axis] + b[3 + axis] for b in over if b[axis] + b[3 + axis] <= placed[axis] + 1e-6] + [0.0]
    )


def missing_mm(
    tray_mm: Sequence[float], block_mm: Sequence[float], count: int, upright: Upright = "any-side-but-top", clearance_mm: float = 0.0,
    odd_mm: Sequence[float] | None = None,
) -> dict[str, float]:  # fmt: skip
    """By how much one side of the tray must grow so that the blocks fit; parameters as in :func:`arrangements`.

    Returns
    -------
    dict of str to float
        For ``"length"``, ``"width"`` and ``"height"``, whichever helps alone; empty where they fit already. [mm]

    Raises
    ------
    InputProblem
        As :func:`arrangements`.
    """
    tray, block = _checked(tray_mm, block_mm, count, upright, clearance_mm)
    turned = _turned(block, upright)
    odd = [] if odd_mm is None else _turned(_checked(tray_mm, odd_mm, 1, upright, clearance_mm)[1], upright)
    if _Search(tray, turned, count, odd).fits():
        return {}
    found = {}
    for axis, name in enumerate(AXES):
        for size in _with_odd(_sums([each[axis] for each in turned], count, count * max(block)), odd, axis, 1e6):
            larger = tuple(size if place == axis else side for place, side in enumerate(tray))
            if size > tray[axis] and _Search(larger, turned, count, odd).fits():
                found[name] = round(size - tray[axis], 6)
                break
    return found


def room_to_grow(
    tray_mm: Sequence[float], block_mm: Sequence[float], count: int, upright: Upright = "any-side-but-top", clearance_mm: float = 0.0,
    odd_mm: Sequence[float] | None = None,
) -> float:  # fmt: skip
    """How much larger on every side the equal blocks may surely be and still fit, as a factor; below 1 where they do not fit as they are.

    Parameters as in :func:`arrangements`.

    Raises
    ------
    InputProblem
        As :func:`arrangements`.
    """
    tray, block = _checked(tray_mm, block_mm, count, upright, clearance_mm)
    odd = [] if odd_mm is None else _turned(_checked(tray_mm, odd_mm, 1, upright, clearance_mm)[1], upright)
    low, high = 0.0, max(tray) / min(block)
    for _ in range(12):
        middle = 0.5 * (low + high)
        size = tuple(round((side - clearance_mm) * middle + clearance_mm, 3) for side in block)
        low, high = (middle, high) if _surely_fits(tray, _turned(size, upright), count, odd) else (low, middle)
    return low


def _surely_fits(tray: Size, turned: list[Size], count: int, odd: list[Size]) -> bool:
    """Whether a filling is found; not so where the search would take too long."""
    try:
        return _Search(tray, turned, count, odd).fits()
    except InputProblem:
        return False


def _checked(
    tray_mm: Sequence[float], block_mm: Sequence[float], count: int, upright: str, clearance_mm: float
) -> tuple[Size, Size]:
    """Tray and block with the clearance of a neighbour on each side."""
    file = "the tray"
    if upright not in UPRIGHT:
        raise InputProblem(file, "upright", f"“{upright}”", "one of " + ", ".join(UPRIGHT))
    need_number(file, "count", count, 1, MOST)
    if count != int(count):
        raise InputProblem(file, "count", f"{count:g}", "a whole number of blocks")
    need_number(file, "clearance_mm", clearance_mm, 0.0, 1e3, "mm")
    sizes = []
    for name, given in (("tray_mm", tray_mm), ("block_mm", block_mm)):
        if not isinstance(given, Iterable) or len(given) != 3:
            found = f"{len(given)} sizes" if isinstance(given, Iterable) else f"{given!r}"
            raise InputProblem(file, name, found, "three: length, width, height")
        for side in given:
            need_number(file, name, side, 0.0, 1e5, "mm", above=True)
        sizes.append(tuple(float(side) + clearance_mm for side in given))
    tray, block = sizes
    if not any(_fits(turned, tray) for turned in _turned(block, upright)):
        said = " × ".join(f"{side:g}" for side in tray_mm)
        raise InputProblem(
            file,
            "tray_mm",
            f"{said} mm",
            f"room for one block of {' × '.join(f'{side:g}' for side in block_mm)} mm at least",
        )
    return tray, block


def _turned(block: Size, upright: str) -> list[Size]:
    """Sizes of a block along the tray in every way that it may lie."""
    length, width, height = block
    if upright == "upright":
        return list(dict.fromkeys([(length, width, height), (width, length, height)]))
    return list(dict.fromkeys(permutations(block)))


def _fits(block: Size, tray: Size) -> bool:
    return all(side <= room + 1e-9 for side, room in zip(block, tray, strict=True))


def _sums(sides: list[float], count: int, most: float) -> list[float]:
    """Sums of up to so many sides, no more than a size."""
    found = {0.0}
    for _ in range(count):
        found |= {round(total + side, 6) for total in found for side in set(sides) if total + side <= most + 1e-9}
    return sorted(found)


class _Search:
    """Fillings of a tray in which every block is pushed down, back and to the left; with one of another size, ``odd``."""

    def __init__(self, tray: Size, turned: list[Size], count: int, odd: list[Size]) -> None:
        self._tray, self._turned, self._odd_turned, self._count = tray, turned, odd, count
        self._each, self._odd_volume = _volume(turned[0]), _volume(odd[0]) if odd else 0.0
        roomy = count * self._each + self._odd_volume <= _volume(tray) + 1e-6
        self._places = _places(tray, turned, count, odd) if roomy else []
        self._odd = (_odd_places(tray, turned, count, odd) if odd else [None]) if roomy else []
        self._cost = 1 + len(self._places) // HEAVY
        self._corners = np.array(self._places).reshape(-1, 6)
        self._rows: dict[int, int] = {}
        self._flattest = min(each[2] for each in turned)

    def _apart(self, n: int) -> int:
        """The places after one that do not overlap with it, as bits."""
        if n not in self._rows:
            low, high = self._corners[:, :3], self._corners[:, :3] + self._corners[:, 3:]
            apart = np.any((high[n] <= low + 1e-9) | (low[n] >= high - 1e-9), axis=1)
            apart[: n + 1] = False
            self._rows[n] = int.from_bytes(np.packbits(apart, bitorder="little").tobytes(), "little")
        return self._rows[n]

    def _apart_from(self, block: Placed) -> int:
        """All places that do not overlap with a block of another size, as bits."""
        at, end = np.array(block[:3]), np.array(block[:3]) + np.array(block[3:])
        low, high = self._corners[:, :3], self._corners[:, :3] + self._corners[:, 3:]
        apart = np.any((end <= low + 1e-9) | (at >= high - 1e-9), axis=1)
        return int.from_bytes(np.packbits(apart, bitorder="little").tobytes(), "little")

    def fits(self) -> bool:
        """Whether there is one."""
        return next(self.every_filling(), None) is not None

    def every_filling(self) -> Iterator[Filling]:
        """Fillings that lie lower and lower, then all others, as far as they are looked at.

        Raises
        ------
        InputProblem
            None found within the tries that are made.
        """
        lowest = float("inf")
        for each in islice(self._odd_put_between(), BESIDE) if self._odd_turned else ():
            lowest = min(lowest, self._moment(*each))
            yield each
        for each in self._by_depth(lowest):
            lowest = self._moment(*each)
            yield each
        if lowest < float("inf"):
            yield from self._by_depth()
        elif self._tries >= TRIES:
            raise InputProblem(
                "the tray",
                "count",
                f"{self._count} blocks, which would take too long to search",
                "fewer blocks at a time",
            )

    def _odd_put_between(self) -> Iterator[Filling]:
        """Fillings of the equal blocks alone, with the odd one as low as they leave it room."""
        alone = _Search(self._tray, self._turned, self._count, [])
        for blocks, _ in chain(alone._by_depth(float("inf")), alone._by_depth()):
            if (odd := _lowest_free(self._tray, blocks, self._odd_turned)) is not None:
                yield blocks, odd

    def _moment(self, blocks: Sequence[Placed], odd: Placed | None) -> float:
        """Volume times height of the centre."""
        beside = 0.0 if odd is None else self._odd_volume * (odd.z + 0.5 * odd.height)
        return beside + self._each * sum(block.z + 0.5 * block.height for block in blocks)

    def _by_depth(self, below: float | None = None) -> Iterator[Filling]:
        """Fillings by depth first, blocks from the floor up; each lower than ``below`` and than the one before, where that is given."""
        self._tries, self._lowest = 0, float("inf")
        for odd in self._odd:
            if odd is not None:
                self._tries += self._cost
                if self._tries >= TRIES:
                    return
            if below is not None:
                self._lowest = (below - self._moment((), odd)) / self._each
                if self._lowest <= 0.5 * self._count * self._flattest:  # and no lower beside what comes later
                    return
            open_ = (1 << len(self._places)) - 1 if odd is None else self._apart_from(odd)
            self._beside = [] if odd is None else [odd]
            for blocks in self._deeper([], open_, 0.0, below is not None):
                below = None if below is None else self._moment(blocks, odd)
                yield blocks, odd

    def _deeper(self, chosen: list[int], open_: int, centres: float, lower_only: bool) -> Iterator[tuple[Placed, ...]]:
        if len(chosen) == self._count:
            blocks = tuple(self._places[n] for n in chosen)
            every = (*blocks, *self._beside)
            held = all(_held(block, every, axis) for block in every for axis in (0, 1))
            if held and all(_held(block, every, 2) for block in every):
                self._lowest = centres
                yield blocks
            return
        left = self._count - len(chosen)
        while open_ and self._tries < TRIES:
            self._tries += self._cost
            if open_.bit_count() < left:
                return
            lowest = open_ & -open_
            n = lowest.bit_length() - 1
            open_ ^= lowest
            block = self._places[n]
            # What comes later stands no lower than this one.
            if lower_only and centres + left * (block.z + 0.5 * self._flattest) >= self._lowest - 1e-9:
                return
            if _held(block, [*self._beside, *(self._places[m] for m in chosen)], 2):
                centre = centres + block.z + 0.5 * block.height
                yield from self._deeper([*chosen, n], open_ & self._apart(n), centre, lower_only)


def _volume(size: Size) -> float:
    return size[0] * size[1] * size[2]


def _odd_places(tray: Size, turned: list[Size], count: int, odd: list[Size]) -> list[Placed]:
    """Every place that the odd block may have among pushed ones, from the floor up."""
    every = [_sums([each[axis] for each in turned], count, tray[axis]) for axis in range(3)]
    found = [
        Placed(x, y, z, *size)
        for size in odd
        for x, y, z in product(*every)
        if all(at + side <= room + 1e-9 for at, side, room in zip((x, y, z), size, tray, strict=True))
    ]
    return sorted(found, key=lambda p: (p.z + 0.5 * p.height, p.y, p.x))


def _lowest_free(tray: Size, blocks: Sequence[Placed], odd: list[Size]) -> Placed | None:
    """The lowest place that some blocks leave to another one; None where there is none."""
    low = np.array([block[:3] for block in blocks])
    high = low + np.array([block[3:] for block in blocks])
    at = np.array(list(product(*({0.0, *high[:, axis]} for axis in range(3)))))
    best: Placed | None = None
    for size in odd:
        inside = np.all(at + size <= np.array(tray) + 1e-9, axis=1)
        apart = np.any((at[:, None] + size <= low + 1e-9) | (at[:, None] >= high - 1e-9), axis=2).all(axis=1)
        free = at[inside & apart]
        if len(free):
            one = Placed(*(float(side) for side in free[np.argmin(free[:, 2])]), *size)
            if best is None or one.z + 0.5 * one.height < best.z + 0.5 * best.height:
                best = one
    return best


def _with_odd(sums: list[float], odd: list[Size], axis: int, most: float) -> list[float]:
    """The same sums, with and without the odd block's side."""
    more = {round(total + each[axis], 6) for total in sums for each in odd if total + each[axis] <= most + 1e-9}
    return sorted({*sums, *more})


def _places(tray: Size, turned: list[Size], count: int, odd: list[Size]) -> list[Placed]:
    """Every place that a pushed block may have, from the floor up; in a tray with very many those in plain rows, where those are enough."""
    every = [
        _with_odd(_sums([each[axis] for each in turned], count - 1, tray[axis]), odd, axis, tray[axis])
        for axis in range(3)
    ]
    if not odd and len(turned) * len(every[0]) * len(every[1]) * len(every[2]) > MANY:
        rows = [
            sorted({n * each[axis] for each in turned for n in range(count) if n * each[axis] <= tray[axis]})
            for axis in range(3)
        ]
        in_a_row = max(_in_rows(tray, each) for each in turned)
        every = rows if in_a_row >= count else every
    found = [
        Placed(x, y, z, *size)
        for size in turned
        for x, y, z in product(*every)
        if all(at + side <= room + 1e-9 for at, side, room in zip((x, y, z), size, tray, strict=True))
    ]
    return sorted(found, key=lambda p: (p.z, p.height, p.y, p.x, p.length))


def _in_rows(tray: Size, block: Size) -> int:
    """How many blocks that all lie alike fit in plain rows."""
    along, across, up = (int((room + 1e-9) // side) for room, side in zip(tray, block, strict=True))
    return along * across * up


def _held(block: Placed, others: Sequence[Placed], axis: int) -> bool:
    """Whether a block pushed along an axis touches the tray or another one."""
    if block[axis] == 0.0:
        return True
    across = [each for each in range(3) if each != axis]
    return any(
        abs(other[axis] + other[3 + axis] - block[axis]) < 1e-6
        and all(other[i] < block[i] + block[3 + i] - 1e-6 and block[i] < other[i] + other[3 + i] - 1e-6 for i in across)
        for other in others
    )
