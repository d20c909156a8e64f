"""The scale drawing: wheel, both sprockets, the chain, the shaft to drag, and the arcs on which a chain of whole links fits. SVG text."""

from __future__ import annotations

from cmath import phase, rect
from itertools import pairwise
from math import radians

from ridesim.show.chain.inputs import NAMES, PIVOT, SHAFT
from ridesim.show.panel.side import HIGH, LETTER, LINE, MARGIN, WIDE, Box, Scale, Taken, label, movable, side_view
from ridesim.show.panel.styles import SIDE_ALONE
from ridesim.show.units import System
from ridesim.sizing.chain import pitch_diameter_mm
from ridesim.sizing.layout import PIVOT_ROOM_MM
from ridesim.sizing.mounting import Arc, Mounting, chain_path

STEP_M = 0.001
"""What a press of an arrow key moves."""
BAR_M = 0.1
"""Length of the bar that says the scale."""
HEAD, FOOT, STEPS_M = 6.0, 304.0, 0.05
"""Upper and lower edge of what is drawn, and the steps in which the window grows."""


def chain_svg(found: Mounting, chosen: str, system: System, look: str = "") -> str:
    """The drawing; ``chosen`` is what is worked on, ``look`` its style sheet where it stands by itself."""
    scale, taken = _scale(found), Taken([], [])
    handles = _pivot(found, scale, chosen, taken) + _shaft(found, scale, chosen, taken)
    drawn = _wheel(found, scale) + _bands(found, scale) + _arm(found, scale) + _chain(found, scale, taken) + handles
    words = "".join(each(found, scale, taken) for each in (_bar, _numbers, _span, _pivot_name, _tyre, _calmest))
    return side_view(scale, alt(found, system), drawn + words, look, STEP_M)


def alone_svg(found: Mounting, system: System) -> str:
    """The drawing by itself, in the colours of a light page."""
    return chain_svg(found, "", system, SIDE_ALONE)


def alt(found: Mounting, system: System) -> str:
    """What the picture shows, for who cannot see it."""
    shaft = found.shaft
    return system.said(
        f"Side view to scale: the small sprocket’s shaft {1000.0 * shaft.real:.0f} mm forward and {1000.0 * shaft.imag:.0f} mm up, "
        f"{found.fit.stated_mm:.0f} mm from the wheel’s axle. {found.fit.verdict}"
    )


def _scale(found: Mounting) -> Scale:
    """A scale that holds both sprockets, motor and pivot; in steps, so that the picture stands still while the shaft is moved."""
    place, large = found.layout, 0.0005 * pitch_diameter_mm(found.fit.chain.pitch_mm, found.fit.wheel_teeth)
    held = [
        (place.axle, large + 0.02),
        (found.shaft, place.room_m + 0.03),
        *([] if place.pivot is None else [(place.pivot, 0.05)]),
    ]
    left, right = min(at.real - room for at, room in held), max(at.real + room for at, room in held)
    low, high = min(at.imag - room for at, room in held), max(at.imag + room for at, room in held)
    left, right, low, high = _step(left, -1), _step(right, 1), _step(low, -1), _step(high, 1)
    pixels = min((WIDE - 2.0 * MARGIN) / (right - left), (FOOT - HEAD) / (high - low))
    spare = (WIDE - 2.0 * MARGIN) / pixels - (right - left), (FOOT - HEAD) / pixels - (high - low)
    return Scale(pixels, left - 0.5 * spare[0], low - 0.5 * spare[1], FOOT)


def _step(metres: float, way: int) -> float:
    """The next twentieth of a metre down or up."""
    return way * STEPS_M * -(-way * metres // STEPS_M)


def _dot(scale: Scale, at: complex) -> tuple[float, float]:
    return scale.x(at.real), scale.z(at.imag)


def _circle(scale: Scale, at: complex, radius_m: float, kind: str) -> str:
    x, y = _dot(scale, at)
    return f'<circle class="{kind}" cx="{x:.1f}" cy="{y:.1f}" r="{radius_m * scale.pixels:.1f}"/>'


def _line(scale: Scale, one: complex, other: complex, kind: str) -> str:
    (x1, y1), (x2, y2) = _dot(scale, one), _dot(scale, other)
    return f'<line class="{kind}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'


def _wheel(found: Mounting, scale: Scale) -> str:
    """Tyre, the ground where it is in the window, and the slot in which the adjuster moves the axle."""
    place, travel = found.layout, (found.fit.travel_mm or 0.0) / 1000.0
    ground = f'<line class="ridesim-ground" x1="0" x2="{WIDE:g}" y1="{scale.z(0.0):.1f}" y2="{scale.z(0.0):.1f}"/>'
    slot = _line(scale, place.axle, place.axle + place.away * travel, "ridesim-slot") if travel else ""
    return ground + _circle(scale, place.axle, place.tyre_m, "ridesim-wheel") + slot


def _bands(found: Mounting, scale: Scale) -> str:
    """Where the shaft may sit, for each number of links."""
    own = found.fit.links
    return "".join(_band(arc, scale, arc.links == own) for arc in found.arcs)


def _band(arc: Arc, scale: Scale, own: bool) -> str:
    kind = "ridesim-fits" if own else "ridesim-fits ridesim-other"
    pieces = "".join("M" + "L".join(_pair(scale, at) for at in piece) + "Z" for piece in arc.band)
    edges = _run(arc.near, scale, "ridesim-near" if own else "ridesim-near ridesim-other")
    return (f'<path class="{kind}" d="{pieces}"/>' if pieces else "") + edges


def _pair(scale: Scale, at: complex) -> str:
    x, y = _dot(scale, at)
    return f"{x:.1f} {y:.1f}"


def _run(places: tuple[complex, ...], scale: Scale, kind: str) -> str:
    """A line through places, broken where some were left out."""
    if len(places) < 2:
        return ""
    usual = min(abs(b - a) for a, b in pairwise(places))
    path = f"M{_pair(scale, places[0])}"
    for before, at in pairwise(places):
        path += f"{'L' if abs(at - before) < 1.5 * usual else 'M'}{_pair(scale, at)}"
    return f'<path class="{kind}" d="{path}"/>'


def _arm(found: Mounting, scale: Scale) -> str:
    pivot = found.layout.pivot
    return "" if pivot is None else _line(scale, found.layout.axle, pivot, "ridesim-arm")


def _chain(found: Mounting, scale: Scale, taken: Taken) -> str:
    """Both sprockets and the chain, tight; dashed where the adjuster does not reach that."""
    fit, laid = found.fit, chain_path(found)
    axle = found.layout.axle + found.layout.away * fit.move_mm / 1000.0
    large, small = (
        0.0005 * pitch_diameter_mm(fit.chain.pitch_mm, teeth) for teeth in (fit.wheel_teeth, fit.motor_teeth)
    )
    (one, two), (three, four) = laid.spans
    points = [
        two,
        *_about(found.shaft, small, two, laid.wraps[1]),
        three,
        four,
        *_about(axle, large, four, laid.wraps[0]),
        one,
    ]
    for begin, end in laid.spans:
        along = (_dot(scale, begin + step / 40.0 * (end - begin)) for step in range(41))
        taken.blocks.extend(Box(x - 5.0, y - 3.0, 10.0, 6.0) for x, y in along)
    path = "M" + "L".join(_pair(scale, at) for at in points) + "Z"
    kind = "ridesim-chain" if fit.fits is not False else "ridesim-chain ridesim-short"
    round_axle = _circle(scale, axle, large, "ridesim-sprocket") + _circle(scale, axle, 0.006, "ridesim-pin")
    return f'{round_axle}<path class="{kind}" d="{path}"/>'


def _about(centre: complex, radius: float, begin: complex, wrap: float) -> list[complex]:
    """Points of the chain round a sprocket, turning left."""
    start, count = phase(begin - centre), max(6, round(wrap / 0.15))
    return [centre + rect(radius, start + wrap * step / count) for step in range(1, count)]


def _handle(key: str, at: complex, chosen: str, inner: str) -> str:
    name = f"{NAMES[key]}, {1000.0 * at.real:.0f} mm forward, {1000.0 * at.imag:.0f} mm up"
    return movable(key, (at.real, at.imag), name, chosen == key, ["ridesim-handle"], inner)


def _shaft(found: Mounting, scale: Scale, chosen: str, taken: Taken) -> str:
    """The small sprocket, with the room of motor or gearbox about it."""
    at, radius = found.shaft, 0.0005 * pitch_diameter_mm(found.fit.chain.pitch_mm, found.fit.motor_teeth)
    x, y, r = *_dot(scale, at), found.layout.room_m * scale.pixels
    taken.blocks.append(Box(x - r, y - r, 2.0 * r, 2.0 * r))
    room = "ridesim-room ridesim-touches" if found.touches else "ridesim-room"
    inner = (
        _circle(scale, at, found.layout.room_m, room)
        + _circle(scale, at, radius, "ridesim-sprocket")
        + _circle(scale, at, 0.005, "ridesim-pin")
    )
    return _handle(SHAFT, at, chosen, inner)


def _pivot(found: Mounting, scale: Scale, chosen: str, taken: Taken) -> str:
    pivot = found.layout.pivot
    if pivot is None:
        return ""
    x, y, r = *_dot(scale, pivot), PIVOT_ROOM_MM / 1000.0 * scale.pixels
    taken.words.append(Box(x - r, y - r, 2.0 * r, 2.0 * r))
    inner = _circle(scale, pivot, PIVOT_ROOM_MM / 1000.0, "ridesim-room") + _circle(scale, pivot, 0.006, "ridesim-pin")
    return _handle(PIVOT, pivot, chosen, inner)


def _pivot_name(found: Mounting, scale: Scale, taken: Taken) -> str:
    pivot, r = found.layout.pivot, PIVOT_ROOM_MM / 1000.0 * scale.pixels
    return "" if pivot is None else _word(scale, pivot, "pivot", taken, r, "ridesim-quiet")


def _word(scale: Scale, at: complex, text: str, taken: Taken, away: float, kind: str) -> str:
    """A word beside a place, where it covers least."""
    x, y, wide = *_dot(scale, at), LETTER * len(text)
    places = [
        Box(x + away + 4.0, y - 0.5 * LINE, wide, LINE), Box(x - 0.5 * wide, y - away - LINE - 2.0, wide, LINE),
        Box(x - 0.5 * wide, y + away + 2.0, wide, LINE), Box(x - wide - away - 4.0, y - 0.5 * LINE, wide, LINE),
    ]  # fmt: skip
    return label(taken.best(places, Box(0.0, 0.0, WIDE, HIGH)), text, kind)


def _numbers(found: Mounting, scale: Scale, taken: Taken) -> str:
    """How many links each arc is for: the shorter chain inside its upper end, the longer one outside, this one's at its lower end."""
    own, drawn = found.fit.links, ""
    outward = 1.0 if found.layout.forward else -1.0
    for arc in found.arcs:
        inside = [
            at
            for at in arc.near
            if HEAD + LINE < scale.z(at.imag) < FOOT - LINE and MARGIN < scale.x(at.real) < WIDE - MARGIN
        ]
        if not inside:
            continue
        at = min(inside, key=lambda at: at.imag) if arc.links == own else max(inside, key=lambda at: at.imag)
        text = f"{arc.links} links"
        right = (outward if arc.links >= own else -outward) > 0.0
        left = scale.x(at.real) + 6.0 if right else scale.x(at.real) - 6.0 - LETTER * len(text)
        taken.words.append(Box(left, scale.z(at.imag) - 0.5 * LINE, LETTER * len(text), LINE))
        kind = "ridesim-strong" if arc.links == own else "ridesim-quiet"
        drawn += f'<text class="{kind}" x="{left:.1f}" y="{scale.z(at.imag) + 4.0:.1f}">{text}</text>'
    return drawn


def _calmest(found: Mounting, scale: Scale, taken: Taken) -> str:
    """Where the arm's travel changes the chain least, if that is somewhere else."""
    if found.calmest is None or found.swing is None or abs(found.calmest[0] - found.shaft) < 0.01:
        return ""
    at = found.calmest[0]
    x, y = _dot(scale, at)
    mark = f'<path class="ridesim-calmest" d="M{x:.1f} {y - 6:.1f}l6 6l-6 6l-6 -6z"/>'
    taken.words.append(Box(x - 6.0, y - 6.0, 12.0, 12.0))
    return mark + _word(scale, at, "least change by the arm", taken, 6.0, "ridesim-name ridesim-quiet")


def _span(found: Mounting, scale: Scale, taken: Taken) -> str:
    """The distance of the centres, between the spans below the line of the centres."""
    x, y = _dot(scale, found.layout.axle + 0.47 * (found.shaft - found.layout.axle))
    text = f"{found.fit.stated_mm:.0f} mm"
    taken.words.append(Box(x - 0.5 * LETTER * len(text), y + 10.0, LETTER * len(text), LINE))
    return f'<text class="ridesim-name" text-anchor="middle" x="{x:.1f}" y="{y + 21:.1f}">{text}</text>'


def _tyre(found: Mounting, scale: Scale, taken: Taken) -> str:
    """The tyre's name, where its edge crosses the window."""
    place = found.layout
    turn = 1.0 if place.forward else -1.0
    edge = [place.axle + rect(place.tyre_m, radians(90.0 - turn * angle)) for angle in range(20, 160, 2)]
    inside = [at for at in edge if HEAD + LINE < scale.z(at.imag) < FOOT - LINE]
    return (
        _word(scale, inside[0] if place.forward else inside[-1], "tyre", taken, 3.0, "ridesim-quiet") if inside else ""
    )


def _bar(found: Mounting, scale: Scale, taken: Taken) -> str:
    """How long a tenth of a metre is, in the lower corner on the wheel's side."""
    long, text = BAR_M * scale.pixels, f"{1000.0 * BAR_M:.0f} mm"
    wide = long + 8.0 + LETTER * len(text)
    x, y = (MARGIN if found.layout.forward else WIDE - MARGIN - wide), FOOT - 8.0
    taken.words.append(Box(x, y - 10.0, wide, LINE))
    return (
        f'<line class="ridesim-ground" x1="{x:.1f}" x2="{x + long:.1f}" y1="{y:g}" y2="{y:g}"/>'
        f'<text class="ridesim-quiet" x="{x + long + 8.0:.1f}" y="{y + 4:g}">{text}</text>'
    )
