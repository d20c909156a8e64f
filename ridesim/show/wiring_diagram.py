"""The wiring as a one-line diagram: trade symbols on straight lines, what to wire written on them; black on white."""

from __future__ import annotations

from dataclasses import dataclass, field
from html import escape
from typing import Any, Literal

from ridesim.choose.wiring import Wiring
from ridesim.show.units import METRIC, System
from ridesim.sizing.circuit import Circuit
from ridesim.sizing.protection import kind_of
from ridesim.vehicle.cable import next_gauge
from ridesim.vehicle.wiring import CONVERTER, LIGHTS_BATTERY, PACK

COLUMN, ROW = 15.4, 2.8
"""A circuit's length and the distance between two lines, in the drawing's units."""
SYMBOL, BOX, LEFT = 2.8, 4.0, 5.2
"""Lengths of a symbol, of a box, and of what stands left of the first circuit."""
MOTOR, LAMP, BESIDE, LETTER = 1.6, 1.2, 0.3, 0.32
"""Widths of a motor's and a lamp's symbol, between a symbol and its name, and of a letter."""
FONT, SMALL = 12, 11
LONGEST = 20
"""Letters of a name at most."""
INCHES = 0.34
"""Of a drawing's unit, at 72 points an inch; the picture's own unit is a point."""
ABOVE, BELOW = 1.4, 1.3
"""How far what is written on a line reaches above and below it, in the drawing's units."""


@dataclass
class _Place:
    """Where a line is drawn: its circuit, the column it begins in, its row."""

    circuit: Circuit
    column: int
    row: int


@dataclass
class _Layout:
    """Circuits by what they hang on, each on a line of its own, a feeder on the line of the first that it feeds."""

    wiring: Wiring
    rows: int = 0
    places: list[_Place] = field(default_factory=list)

    def __post_init__(self) -> None:
        fed = {each.demand.load for each in self.wiring.sized}
        self.sources = list(
            dict.fromkeys(each.demand.source for each in self.wiring.sized if each.demand.source not in fed)
        )
        for source in self.sources:
            self._below(source, 0)

    def _below(self, source: str, column: int) -> None:
        for number, circuit in enumerate(each for each in self.wiring.sized if each.demand.source == source):
            if number:
                self.rows += 1
            self.places.append(_Place(circuit, column, self.rows))
            self._below(circuit.demand.load, column + 1)
        if column == 0:
            self.rows += 1

    def of(self, source: str) -> list[_Place]:
        """Lines that begin at a source."""
        return [each for each in self.places if each.circuit.demand.source == source]


def wiring_diagram(wiring: Wiring, system: System = METRIC) -> str:
    """The wiring as a one-line diagram.

    Parameters
    ----------
    wiring : Wiring
        From :func:`ridesim.wiring`.
    system : System
        Units of the lengths; ``ridesim.show.units.METRIC`` or ``IMPERIAL``.

    Returns
    -------
    str
        An SVG picture: from the pack to the motor on one straight line, every other circuit on its own; on each its length, size, fuse
        and loss.

    Raises
    ------
    InputProblem
        None for a wiring that was found.

    Examples
    --------
    >>> import ridesim
    >>> picture = ridesim.wiring_diagram(ridesim.wiring("heron_36v", "harbour_festival"))
    >>> picture.startswith("<svg"), "6 mm²" in picture
    (True, True)
    """
    import schemdraw
    import schemdraw.elements as elm

    schemdraw.svgconfig.text = "text"  # letters stay letters: they can be searched and are read aloud
    drawing = schemdraw.Drawing(canvas="svg", show=False)
    drawing.config(fontsize=FONT, font="sans-serif", color="black", lw=1.6, bgcolor="white", inches_per_unit=INCHES)
    layout = _Layout(wiring)
    wide = max(_reach(each) for each in layout.places)
    paper = elm.Rect(corner1=(-LEFT, -ROW * (layout.rows - 1) - 1.6), corner2=(wide, 2.0))
    drawing.add(paper.at((0, 0)).theta(0).color("white"))
    for source in layout.sources:
        _draw_source(drawing, wiring, source, layout.of(source))
    for place in layout.places:
        _draw_circuit(drawing, wiring, place, layout.of(place.circuit.demand.load), system)
    title = f"Wiring of {wiring.build.name}: {wiring.verdict}"
    picture = str(drawing.get_imagedata("svg").decode())
    begin, rest = picture[picture.index("<svg") :].split(">", 1)
    return f'{begin} role="img"><title>{escape(title)}</title>{_lines(layout)}{rest}'


def _lines(layout: _Layout) -> str:
    """A clear rectangle a circuit, behind all that is drawn: what a page takes presses with, by the circuit's place in the schedule."""
    places = {each.demand.name: number for number, each in enumerate(layout.wiring.sized)}
    points = 72.0 * INCHES
    return "".join(
        f'<rect class="ridesim-line" data-circuit="{places[each.circuit.demand.name]}" fill="none" x="{points * each.column * COLUMN:.1f}" '
        f'y="{points * (ROW * each.row - ABOVE):.1f}" width="{points * COLUMN:.1f}" height="{points * (ABOVE + BELOW):.1f}" />'
        for each in layout.places
    )


def _draw_source(drawing: Any, wiring: Wiring, source: str, lines: list[_Place]) -> None:
    """A battery, or a box, and the bar from which its circuits begin."""
    import schemdraw.elements as elm

    feeds = wiring.needs.source_of(source)
    top, bottom = -ROW * lines[0].row, -ROW * lines[-1].row
    if source in (PACK, LIGHTS_BATTERY):
        drawing.add(elm.Battery().at((0, top)).to((-LEFT + 1.0, top)))
        for height, words in ((1.35, _name(source)), (0.75, f"{feeds.volts:g} V, full {feeds.full_volts:.1f} V")):
            drawing.add(_words((-0.5 * LEFT, top + height), words))
    else:
        _box(drawing, -BOX, top, source)
    if bottom < top:
        drawing.add(elm.Line().at((0, top)).to((0, bottom)))
        for each in lines:
            drawing.add(elm.Dot().at((0, -ROW * each.row)))


def _draw_circuit(drawing: Any, wiring: Wiring, place: _Place, fed: list[_Place], system: System) -> None:
    """Protection, for the main line the isolator unless it is done without, cable and load, from left to right."""
    import schemdraw.elements as elm

    circuit, y = place.circuit, -ROW * place.row
    d, part = circuit.demand, circuit.protection
    x = place.column * COLUMN
    end = x + COLUMN - BOX
    if d.role == "main" and d.source == PACK and wiring.needs.wiring.isolator is not False:
        drawing.add(elm.Switch().at((x, y)).to((x + SYMBOL, y)))
        drawing.add(_words((x + SYMBOL / 2, y - 1.0), "isolator", SMALL))
        x += SYMBOL
    if part is not None:
        symbol = elm.Breaker if kind_of(part.kind).resets else elm.FuseIEC
        drawing.add(symbol().at((x, y)).to((x + SYMBOL, y)))
        drawing.add(_words((x + SYMBOL / 2, y + 0.6), f"{part.rating_a:g} A"))
        drawing.add(_words((x + SYMBOL / 2, y - 1.0), part.kind.replace("-breaker", "").replace("-", " "), SMALL))
        x += SYMBOL
    drawing.add(elm.Line().at((x, y)).to((end, y)))
    middle = 0.5 * (x + end)
    gauge = next_gauge(circuit.section_mm2)
    length = f"{round(system.value(d.length_m, 'm'), 2):g} {system.label('m')}"
    whole = "in all " if d.feeder_drop_v else ""
    loss = f"{whole}{circuit.limits.drop_v:.2f} V, {circuit.drop_percent:.1f} %"
    drawing.add(_words((middle, y + 0.35), f"{circuit.section_mm2:.3g} mm², {length}"))
    drawing.add(_words((middle, y - 1.0), f"AWG {gauge}, {loss}" if gauge else loss, SMALL))
    _draw_load(drawing, circuit, end, y)
    if len(fed) > 1:
        right = end + BOX
        drawing.add(elm.Line().at((right, y)).to((right, -ROW * fed[-1].row)))


def _draw_load(drawing: Any, circuit: Circuit, x: float, y: float) -> None:
    """What a circuit feeds, by its trade symbol where it has one."""
    import schemdraw.elements as elm

    d = circuit.demand
    wide = _symbol(circuit)
    if wide == BOX:
        _box(drawing, x, y, d.load)
        return
    symbol = elm.Motor if d.role == "motor" else elm.Lamp2
    drawing.add(symbol().at((x, y)).theta(0).length(wide))
    if d.role == "motor":
        drawing.add(_words((x + wide / 2, y - 0.24), "M", SMALL))
    drawing.add(_words((x + wide + BESIDE, y - 0.2), _name(d.load), beside="left"))


def _symbol(circuit: Circuit) -> float:
    """How wide the symbol of what a circuit feeds is: a motor, a lamp, else a box."""
    d = circuit.demand
    return MOTOR if d.role == "motor" else LAMP if d.role == "lighting" and d.load != CONVERTER else BOX


def _reach(place: _Place) -> float:
    """How far to the right a circuit's load with its name reaches."""
    end, wide = COLUMN * (place.column + 1), _symbol(place.circuit)
    return end + 0.5 if wide == BOX else end - BOX + wide + BESIDE + LETTER * len(_name(place.circuit.demand.load))


def _box(drawing: Any, x: float, y: float, name: str) -> None:
    import schemdraw.elements as elm

    drawing.add(elm.Rect(corner1=(0, -0.7), corner2=(BOX, 0.7)).at((x, y)).theta(0))
    drawing.add(_words((x + BOX / 2, y - 0.22), _name(name), SMALL))


def _words(at: tuple[float, float], text: str, size: float = FONT, beside: Literal["center", "left"] = "center") -> Any:
    """Words at a place, their middle or their left end there."""
    import schemdraw.elements as elm

    # The drawing takes $ for mathematics, and & for the begin of an entity.
    clean = text.replace("&", "&amp;").replace("$", "&#36;")
    return elm.Label().at(at).label(clean, fontsize=size, halign=beside, valign="bottom", ofst=(0, 0))


def _name(text: str) -> str:
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"
