"""The side view: every mass a block to scale, axle loads under the wheels, the slope on which it tips over backwards. SVG text."""

from __future__ import annotations

from html import escape
from math import atan, cos, degrees, hypot, sin
from typing import NamedTuple

from ridesim.show.units import System
from ridesim.show.weigh.inputs import WeighAnswer, short_name
from ridesim.sizing.balance import Balance
from ridesim.vehicle.ledger import Entry

WIDE, HIGH, GROUND, MARGIN = 920.0, 310.0, 262.0, 20.0
"""Size of the picture, height of the ground line, room at the sides, in its own units."""
A_KILOGRAM_M3 = 0.0016
"""A block's area on the picture grows as if it were this roomy a kilogram: blocks of lead show larger than they are, so that they can be held."""
UNPLACED_TOP_M = 1.5
"""Top of the column of blocks that have no place yet."""
LETTER, LINE = 6.7, 14.0
"""Width of a letter and height of a line of the labels, in the picture's units."""


Spot = tuple[float, float]
"""Forward of the rear axle, and above ground. [m]"""


class Scale(NamedTuple):
    """From metres to the picture."""

    pixels: float  # a metre
    left: float  # x of the picture's left margin [m]

    def x(self, metres: float) -> float:
        """Across."""
        return MARGIN + (metres - self.left) * self.pixels

    def z(self, metres: float) -> float:
        """Up."""
        return GROUND - metres * self.pixels


class Box(NamedTuple):
    """A block or a label on the picture."""

    left: float
    top: float
    wide: float
    high: float

    def over(self, other: Box) -> float:
        """Area in common with another."""
        across = min(self.left + self.wide, other.left + other.wide) - max(self.left, other.left)
        down = min(self.top + self.high, other.top + other.high) - max(self.top, other.top)
        return max(0.0, across) * max(0.0, down)


class Taken(NamedTuple):
    """What is drawn already: blocks, which a label may lie over if it must, and words, which it must not."""

    blocks: list[Box]
    words: list[Box]

    def over(self, label: Box) -> float:
        """How bad a place for a label is."""
        return sum(map(label.over, self.blocks)) + 8.0 * sum(map(label.over, self.words))


def side_svg(answer: WeighAnswer, chosen: str, system: System, look: str = "") -> str:
    """The side view; ``chosen`` is the block that is worked on, ``look`` its style sheet where it stands by itself."""
    scale = _scale(answer)
    items = sorted(answer.items, key=lambda each: (each.where != "rider", -each.mass_kg))  # the small ones on top
    spots = _spots(answer)
    blocks = {each.where: _block(each, spots[each.where], scale) for each in items}
    taken = Taken(list(blocks.values()), _bar(answer, scale))
    marks = _centre(answer, scale, taken) if answer.shown is not None else ""
    labels = "".join(_label(each, blocks[each.where], taken, system) for each in items)
    style = f"<style>{look}</style>" if look else ""
    drawn = "".join(_mass(each, spots[each.where], blocks[each.where], each.where == chosen, system) for each in items)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="ridesim-side" viewBox="0 0 {WIDE:g} {HIGH:g}" data-pixels="{scale.pixels:.4f}" role="group" '
        f'aria-label="{escape(alt(answer, system))}">{style}{_vehicle(answer, scale)}{_loads(answer, scale, system)}{drawn}{labels}{marks}</svg>'
    )


def alt(answer: WeighAnswer, system: System) -> str:
    """What the picture shows, for who cannot see it."""
    found = answer.shown
    if found is None:
        return "Side view of the vehicle with the masses that have a place."
    said = (
        f"Side view to scale: {found.mass_kg.value:.0f} kg, {found.front_kg.value:.0f} kg on the front axle and {found.rear_kg.value:.0f} kg "
        f"on the rear one, centre of gravity {found.z_m.value:.2f} m above ground."
    )
    return system.said(said)


def _scale(answer: WeighAnswer) -> Scale:
    wheelbase, radius = answer.build.vehicle.wheelbase_m or 1.4, _radii(answer)
    spots = _spots(answer).values()
    left = min([-radius[0] - 0.25, *(x - 0.2 for x, _ in spots)])
    right = max([wheelbase + radius[1] + 0.25, *(x + 0.2 for x, _ in spots)])
    top = max([1.5, *(z + 0.25 for _, z in spots)])
    # In steps, so that the picture stands still while a block is moved.
    left, right, top = -_up(-left), _up(right), _up(top)
    pixels = min((WIDE - 2.0 * MARGIN) / (right - left), (GROUND - 8.0) / top)
    return Scale(pixels, left - 0.5 * ((WIDE - 2.0 * MARGIN) / pixels - (right - left)))


def _up(metres: float) -> float:
    return 0.5 * -(-metres // 0.5)


def _radii(answer: WeighAnswer) -> tuple[float, float]:
    vehicle = answer.build.vehicle
    return vehicle.rolling_radius_m, vehicle.front_radius_m or vehicle.rolling_radius_m


def _spots(answer: WeighAnswer) -> dict[str, Spot]:
    """Where each block is drawn; what has no place yet stands behind the vehicle, one below the other."""
    column, below = -_radii(answer)[0] - 0.45, UNPLACED_TOP_M
    spots = {}
    for each in answer.items:
        x, z = each.x_m, each.z_m
        if x is None or z is None:
            high = max(0.12, _size(each)[1] + 0.03)
            if below < high:
                column, below = column - 0.9, UNPLACED_TOP_M
            x, z = (column if x is None else x), (below - 0.5 * high if z is None else z)
            below -= high
        spots[each.where] = (x, z)
    return spots


def _size(entry: Entry, least: float = 0.0) -> tuple[float, float]:
    """A block's width and height. [m]"""
    side = max(least, (A_KILOGRAM_M3 * entry.mass_kg) ** 0.5)
    return (0.8 * side, 1.25 * side) if entry.where == "rider" else (1.3 * side, 0.77 * side)


def _block(entry: Entry, spot: Spot, scale: Scale) -> Box:
    wide, high = (metres * scale.pixels for metres in _size(entry, 11.0 / scale.pixels))
    return Box(scale.x(spot[0]) - 0.5 * wide, scale.z(spot[1]) - 0.5 * high, wide, high)


def _mass(entry: Entry, spot: Spot, box: Box, chosen: bool, system: System) -> str:
    x, z = spot
    kg = system.text(entry.mass_kg, "kg", 1)
    where = "not placed yet" if None in (entry.x_m, entry.z_m) else f"{x:.2f} m forward, {z:.2f} m up"
    name = escape(f"{entry.item}, {kg}, {system.said(where)}: drag it, or move it with the arrow keys")
    kind = " ridesim-chosen" if chosen else ""
    kind += " ridesim-rider" if entry.where == "rider" else ""
    kind += " ridesim-unplaced" if None in (entry.x_m, entry.z_m) else ""
    round_ = 0.3 * box.wide if entry.where == "rider" else 2.0
    return (
        f'<g class="ridesim-mass{kind}" data-key="{escape(entry.where)}" data-x="{x:.4f}" data-z="{z:.4f}" tabindex="0" role="button" '
        f'aria-pressed="{str(chosen).lower()}" aria-label="{name}"><title>{name}</title><rect x="{box.left:.1f}" y="{box.top:.1f}" '
        f'width="{box.wide:.1f}" height="{box.high:.1f}" rx="{round_:.1f}"/></g>'
    )


def _label(entry: Entry, box: Box, taken: Taken, system: System) -> str:
    """A block's name and mass where they cover least."""
    text = f"{short_name(entry)}, {system.text(entry.mass_kg, 'kg', 1)}"
    wide, middle = LETTER * len(text), box.top + 0.5 * box.high
    places = [
        Box(box.left + box.wide + 4.0, middle - 0.5 * LINE, wide, LINE), Box(box.left - wide - 4.0, middle - 0.5 * LINE, wide, LINE),
        Box(box.left + 0.5 * (box.wide - wide), box.top - LINE - 2.0, wide, LINE),
        Box(box.left + 0.5 * (box.wide - wide), box.top + box.high + 2.0, wide, LINE),
        Box(box.left + box.wide + 4.0, box.top - LINE, wide, LINE), Box(box.left - wide - 4.0, box.top + box.high - 4.0, wide, LINE),
    ]  # fmt: skip
    inside = Box(0.0, 0.0, WIDE, GROUND)
    best = min(places, key=lambda p: taken.over(p) + 4.0 * (wide * LINE - p.over(inside)))
    taken.words.append(best)
    return f'<text class="ridesim-name" x="{best.left:.1f}" y="{best.top + 11.0:.1f}">{escape(text)}</text>'


def _vehicle(answer: WeighAnswer, scale: Scale) -> str:
    """Ground, wheels, handlebar, and the slope on which it tips over backwards."""
    vehicle = answer.build.vehicle
    wheelbase, radii = vehicle.wheelbase_m or 1.4, _radii(answer)
    wheels = "".join(
        f'<circle class="ridesim-wheel" cx="{scale.x(x):.1f}" cy="{scale.z(r):.1f}" r="{r * scale.pixels:.1f}"/>'
        for x, r in zip((0.0, wheelbase), radii, strict=True)
    )
    bar = "".join(
        f'<line class="ridesim-wheel" x1="{box.left:.1f}" x2="{box.left + 18:.1f}" y1="{box.top + 7:.1f}" y2="{box.top + 7:.1f}"/>'
        f'<text class="ridesim-quiet" x="{box.left + 21:.1f}" y="{box.top + 11:.1f}">bar</text>'
        for box in _bar(answer, scale)
    )
    ground = f'<line class="ridesim-ground" x1="0" x2="{WIDE:g}" y1="{GROUND}" y2="{GROUND}"/>'
    return ground + _tipping(answer, scale) + wheels + bar


def _bar(answer: WeighAnswer, scale: Scale) -> list[Box]:
    """Room of the handlebar and its name, where its place is known."""
    x, z = answer.build.vehicle.handlebar_x_m, answer.build.vehicle.handlebar_z_m
    return [] if x is None or z is None else [Box(scale.x(x) - 9.0, scale.z(z) - 7.0, 42.0, LINE)]


def _tipping(answer: WeighAnswer, scale: Scale) -> str:
    """The ground as it would lie when it tips over backwards, turned about the rear contact."""
    if answer.aboard is None or answer.shown is None:
        return ""
    slope = answer.shown.x_m.value / answer.shown.z_m.value
    if slope <= 0.0:
        return '<text class="ridesim-tips" x="12" y="20">tips over backwards standing on the level</text>'
    angle, x, y = atan(slope), scale.x(0.0), scale.z(0.0)
    # Uphill is to the right: that ground falls away to the left of the rear contact.
    length = hypot(WIDE, HIGH)
    up = min(length, (y - 18.0) / max(sin(angle), 1e-6), (WIDE - x) / max(cos(angle), 1e-6))
    end = x + up * cos(angle), y - up * sin(angle)
    text = f"{100.0 * slope:.0f} %, {degrees(angle):.0f}°: tips over backwards"
    at = min(end[0] + 6.0, WIDE - LETTER * len(text)), max(14.0, end[1] + 4.0)
    return (
        f'<line class="ridesim-tip" x1="{x:.1f}" y1="{y:.1f}" x2="{end[0]:.1f}" y2="{end[1]:.1f}"/>'
        f'<text class="ridesim-tips" x="{at[0]:.1f}" y="{at[1]:.1f}">{text}</text>'
    )


def _loads(answer: WeighAnswer, scale: Scale, system: System) -> str:
    """Both axle loads under the wheels."""
    if answer.shown is None:
        return ""
    found, drawn = answer.shown, ""
    for name, load, x in (("rear", found.rear_kg, 0.0), ("front", found.front_kg, found.wheelbase_m)):
        share = 100.0 * load.value / found.mass_kg.value
        kg = system.text(load.value, "kg", 0)
        between = f"{system.value(load.low, 'kg'):.0f} to {system.text(load.high, 'kg', 0)}"
        drawn += (
            f'<text class="ridesim-load" text-anchor="middle" x="{scale.x(x):.1f}" y="{GROUND + 20:g}">{kg}</text>'
            f'<text class="ridesim-quiet" text-anchor="middle" x="{scale.x(x):.1f}" y="{GROUND + 37:g}">'
            f"{name}, {share:.0f} % ({between})</text>"
        )
    return drawn


def _centre(answer: WeighAnswer, scale: Scale, taken: Taken) -> str:
    """Centre of gravity as shown, and hollow as the donor's was."""
    marks = ""
    if answer.donor is not None and _took_off(answer):
        marks += _mark(answer.donor, scale, taken, "donor’s centre", hollow=True)
    assert answer.shown is not None
    return marks + _mark(answer.shown, scale, taken, "centre of gravity")


def _took_off(answer: WeighAnswer) -> bool:
    return any(item.removed for item in answer.build.vehicle.mass)


def _mark(found: Balance, scale: Scale, taken: Taken, name: str, hollow: bool = False) -> str:
    """The usual mark of a centre of gravity: a circle, two of its quarters filled; hollow: the circle alone."""
    x, y, r = scale.x(found.x_m.value), scale.z(found.z_m.value), 8.0
    quarters = "" if hollow else (
        f'<path class="ridesim-quarters" d="M{x:.1f} {y:.1f} h{r:g} a{r:g} {r:g} 0 0 0 -{r:g} -{r:g} z M{x:.1f} {y:.1f} h-{r:g} '
        f'a{r:g} {r:g} 0 0 0 {r:g} {r:g} z"/>'
    )  # fmt: skip
    wide = LETTER * len(name)
    places = [Box(x + 11.0, y - 6.0, wide, LINE), Box(x - wide - 11.0, y - 6.0, wide, LINE), Box(x - 0.5 * wide, y - 24.0, wide, LINE),
              Box(x - 0.5 * wide, y + 11.0, wide, LINE)]  # fmt: skip
    best = min(places, key=taken.over)
    taken.words.extend([best, Box(x - r, y - r, 2 * r, 2 * r)])
    kind = "ridesim-quiet" if hollow else "ridesim-strong"
    return (
        f'<circle class="ridesim-centre" cx="{x:.1f}" cy="{y:.1f}" r="{r:g}"/>{quarters}'
        f'<text class="{kind}" x="{best.left:.1f}" y="{best.top + 11:.1f}">{name}</text>'
    )
