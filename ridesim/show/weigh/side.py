"""The side view: every mass a block to scale, axle loads under the wheels, the slope on which it tips over backwards. SVG text."""

from __future__ import annotations

from math import atan, cos, degrees, hypot, sin

from ridesim.show.panel.side import HIGH, LETTER, LINE, MARGIN, WIDE, Box, Scale, Taken, label, movable, side_view
from ridesim.show.units import System
from ridesim.show.weigh.inputs import WeighAnswer
from ridesim.sizing.balance import Balance
from ridesim.vehicle.ledger import Entry

GROUND = 262.0
"""Height of the ground line, in the picture's units."""
STEP_M = 0.01
"""What a press of an arrow key moves."""
A_KILOGRAM_M3 = 0.0016
"""Volume a kilogram by which a mass is drawn: larger than lead's, so that a block is large enough to be dragged."""


def side_svg(answer: WeighAnswer, chosen: str, system: System, look: str = "") -> str:
    """The side view; ``chosen`` is the block that is worked on, ``look`` its style sheet where it stands by itself."""
    scale = _scale(answer)
    items = sorted(answer.items, key=lambda each: (each.where != "rider", -each.mass_kg))  # the small ones on top
    blocks = {each.where: _block(each, scale) for each in items}
    taken = Taken(list(blocks.values()), _bar(answer, scale))
    marks = _centre(answer, scale, taken) if answer.shown is not None else ""
    labels = "".join(_label(each, blocks[each.where], taken, system) for each in items)
    drawn = "".join(_mass(each, blocks[each.where], each.where == chosen, system) for each in items)
    inner = f"{_vehicle(answer, scale)}{_loads(answer, scale, system)}{drawn}{labels}{marks}"
    return side_view(scale, alt(answer, system), inner, look, STEP_M)


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
    placed = [each for each in answer.items if each.x_m is not None]
    left = min([-radius[0] - 0.25, *((each.x_m or 0.0) - 0.2 for each in placed)])
    right = max([wheelbase + radius[1] + 0.25, *((each.x_m or 0.0) + 0.2 for each in placed)])
    top = max([1.5, *((each.z_m or 0.0) + 0.25 for each in placed)])
    # In steps, so that the picture stands still while a block is moved.
    left, right, top = -_up(-left), _up(right), _up(top)
    pixels = min((WIDE - 2.0 * MARGIN) / (right - left), (GROUND - 8.0) / top)
    return Scale(pixels, left - 0.5 * ((WIDE - 2.0 * MARGIN) / pixels - (right - left)), 0.0, GROUND)


def _up(metres: float) -> float:
    return 0.5 * -(-metres // 0.5)


def _radii(answer: WeighAnswer) -> tuple[float, float]:
    vehicle = answer.build.vehicle
    return vehicle.rolling_radius_m, vehicle.front_radius_m or vehicle.rolling_radius_m


def _at(entry: Entry) -> tuple[float, float]:
    """Where a block is drawn; what has no place yet stands beside the vehicle."""
    return (-0.45 if entry.x_m is None else entry.x_m), (1.2 if entry.z_m is None else entry.z_m)


def _block(entry: Entry, scale: Scale) -> Box:
    side = max(11.0, (A_KILOGRAM_M3 * entry.mass_kg) ** 0.5 * scale.pixels)
    wide, high = (0.8 * side, 1.25 * side) if entry.where == "rider" else (1.3 * side, 0.77 * side)
    x, z = _at(entry)
    return Box(scale.x(x) - 0.5 * wide, scale.z(z) - 0.5 * high, wide, high)


def _mass(entry: Entry, box: Box, chosen: bool, system: System) -> str:
    x, z = _at(entry)
    kg = system.text(entry.mass_kg, "kg", 1)
    rider, placed = entry.where == "rider", None not in (entry.x_m, entry.z_m)
    where = f"{x:.2f} m forward, {z:.2f} m up" if placed else "not placed yet"
    kinds = [*(["ridesim-rider"] if rider else []), *([] if placed else ["ridesim-unplaced"])]
    corners = 0.3 * box.wide if rider else 2.0
    block = f'<rect x="{box.left:.1f}" y="{box.top:.1f}" width="{box.wide:.1f}" height="{box.high:.1f}" rx="{corners:.1f}"/>'
    return movable(entry.where, (x, z), f"{entry.item}, {kg}, {system.said(where)}", chosen, kinds, block)


def _label(entry: Entry, box: Box, taken: Taken, system: System) -> str:
    """A block's name and mass where they cover least."""
    short = entry.item.split(":")[0].split(",")[0]
    text = f"{short}, {system.text(entry.mass_kg, 'kg', 1)}"
    wide, middle = LETTER * len(text), box.top + 0.5 * box.high
    places = [
        Box(box.left + box.wide + 4.0, middle - 0.5 * LINE, wide, LINE), Box(box.left - wide - 4.0, middle - 0.5 * LINE, wide, LINE),
        Box(box.left + 0.5 * (box.wide - wide), box.top - LINE - 2.0, wide, LINE),
        Box(box.left + 0.5 * (box.wide - wide), box.top + box.high + 2.0, wide, LINE),
        Box(box.left + box.wide + 4.0, box.top - LINE, wide, LINE), Box(box.left - wide - 4.0, box.top + box.high - 4.0, wide, LINE),
    ]  # fmt: skip
    return label(taken.best(places, Box(0.0, 0.0, WIDE, GROUND)), text, "ridesim-name")


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
    words = label(best, name, "ridesim-quiet" if hollow else "ridesim-strong")
    return f'<circle class="ridesim-centre" cx="{x:.1f}" cy="{y:.1f}" r="{r:g}"/>{quarters}{words}'
