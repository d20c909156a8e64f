"""The tractive-effort diagram: pull against road speed, resistance lines, and the limit that sets each stretch of a curve."""

from __future__ import annotations

from collections.abc import Hashable
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.collections import LineCollection

from ridesim.day import Activity
from ridesim.physics.controller import LIMIT_NAMES
from ridesim.show.choose_drive.inputs import Answer, Reckoned
from ridesim.show.panel.drawing import Drawing
from ridesim.show.panel.note import note
from ridesim.show.pictures.furniture import Plot, even_ticks
from ridesim.show.pictures.scales import LINE_PX, Places, round_top, spread, text_width
from ridesim.show.style import MOST_CANDIDATES, NOTE_PT, Look

LEFT, RIGHT, TOP, BOTTOM = 38.0, 26.0, 22.0, 24.0
STRETCHES = 6
GRADES = 6
HELD_BY = {
    "motor current": "held by the motor's amps",
    "battery current": "by the pack's amps",
    "full duty": "full throttle",
}
"""What sets a stretch of a curve, as the picture says it."""
LONGEST_NAME = 20
BESIDE = ((0.0, 8.0), (0.0, -8.0), (-14.0, 8.0), (-14.0, -8.0), (0.0, 16.0))
"""Steps from a ring to where its top speed may stand when there is no room at the ring itself. [px]"""


class PullDiagram(Drawing):
    """Pull against road speed: the chosen candidate with what resists it, the others faint."""

    def build(self, figure: Any, colours: Look, width: float, height: float) -> None:
        """Axes, curves and notes."""
        self.colours = colours
        self.plot = Plot(figure, colours, (width, height), (LEFT, RIGHT, TOP, BOTTOM))
        self.axes, self.wide, self.high = self.plot.axes, self.plot.width, self.plot.height
        # One collection for all grades: a line each would slow every drag.
        self.resist = self.axes.add_collection(
            LineCollection([], colors=colours.faint, linewidths=1.1, capstyle="butt"), autolim=False
        )
        self.former = self.axes.plot([], [], lw=1.4, alpha=0.5)[0]
        self.curves, self.tops = self.plot.lines(), self.plot.marks()
        self.joints = self.axes.plot([], [], ls="", marker="|", ms=9, mew=1.8)[0]
        self.notes = [
            note(self.axes, size=NOTE_PT, transform=self.axes.transAxes, paper=colours.paper)
            for _ in range(GRADES + STRETCHES + MOST_CANDIDATES)
        ]
        self.movers = [self.resist, self.former, *self.curves, self.joints, *self.tops, *self.notes]

    def _limits(self, answer: Answer) -> tuple[float, float]:
        fastest = max(_last(one) for one in answer.each)
        strongest = max(float(one.pulls_n.max(initial=1.0)) for one in answer.each)
        return round_top(self.system.value(fastest, "kmh"), 1.1), round_top(self.system.value(strongest, "n"), 1.12)

    def frame_key(self, answer: Answer) -> Hashable:
        """Limits and units."""
        return (*self._limits(answer), self.system.name)

    def set_frame(self, answer: Answer) -> None:
        """Limits and axis titles."""
        right, top = self._limits(answer)
        self.axes.set_xlim(0.0, right)
        self.axes.set_ylim(0.0, top)
        *speeds, (last, text) = even_ticks(0.0, right, max(3, int(self.wide / 60.0)))
        self.plot.set(
            [*speeds, (last, f"{text} {self.system.label('kmh')}")],
            even_ticks(0.0, top, max(3, int(self.high / 44.0))),
        )
        self.still.append(self.plot.title(f"pull at the wheel, {self.system.label('n')}"))

    def move(self, answer: Answer) -> list[Any]:
        """Curves, resistance lines, notes."""
        self.used = 0
        right, top = self.axes.get_xlim()[1], self.axes.get_ylim()[1]
        self.kmh, self.newton = self.system.value(1.0, "kmh"), self.system.value(1.0, "n")
        self.scale = np.array([self.wide / right, self.high / top])
        self._shown = [
            np.column_stack([self.kmh * one.speeds_kmh, self.newton * one.pulls_n]) * self.scale for one in answer.each
        ]
        lines, names = self._slopes(answer)
        places = Places(self.wide, self.high, [*self._shown, *lines])
        for text, x, y in names:
            self._note(text, x, y, self.colours.faint)
            places.block(x, y, self.wide, y + LINE_PX)
        self.resist.set_segments([line / self.scale for line in lines])
        order = [*(i for i in range(len(answer.each)) if i != answer.chosen), answer.chosen]
        for i in order:
            one, mine = answer.each[i], i == answer.chosen
            self.curves[i].set_data(*(self._shown[i] / self.scale).T)
            self.curves[i].set(alpha=1.0 if mine else 0.6, lw=2.4 if mine else 1.4)
            x, y = self._top(one)
            self.tops[i].set_data([x / self.scale[0]], [y / self.scale[1]])
            places.block(x - 7.0, y - 7.0, x + 7.0, y + 7.0)
        for i in reversed(order):
            self._name(i, answer, places)
        self._stretches(answer, places)
        behind = self._former(answer)
        return [
            self.resist,
            *behind,
            *(self.curves[i] for i in order),
            self.joints,
            *self.notes[: self.used],
            *(self.tops[i] for i in order),
        ]

    def _former(self, answer: Answer) -> list[Any]:
        """The chosen candidate before the change at hand."""
        if answer.former is None:
            return []
        self.former.set_data(self.kmh * answer.former.speeds_kmh, self.newton * answer.former.pulls_n)
        self.former.set_color(self.colours.candidates[answer.chosen])
        return [self.former]

    def _top(self, one: Reckoned) -> Any:
        """Where a curve meets the resistance on the level. [px]"""
        speed, (still, grows) = one.candidate.top_speed_kmh, one.resistance[0]
        return np.array([self.kmh * speed, self.newton * (still + grows * speed**2)]) * self.scale

    def _note(self, text: str, x: float, y: float, colour: str, weight: str = "normal") -> None:
        """A note whose lower left corner is at a place of the plotting area. [px]"""
        words = self.notes[self.used]
        self.used += 1
        words.set_position((x / self.wide, (y + 3.0) / self.high))
        words.set(text=text, color=colour, weight=weight)

    def _slopes(self, answer: Answer) -> tuple[list[Any], list[tuple[str, float, float]]]:
        """What resists the chosen candidate on the level and on each slope of its day: a line that ends where its name begins. [px]"""
        texts = slope_names(answer)
        forces = [
            self.newton * (still + grows * np.linspace(0.0, 1.0, 30) ** 2 * self._end(text) ** 2)
            for text, (still, grows) in zip(texts, answer.one.resistance, strict=True)
        ]
        highest = self.high - LINE_PX
        wanted = [min(force[-1] * self.scale[1] - 0.5 * LINE_PX, highest) for force in forces]
        heights = spread(wanted, LINE_PX, 0.0, highest)
        lines, names = [], []
        for text, force, y in zip(texts, forces, heights, strict=True):
            end = self.kmh * self._end(text) * self.scale[0]
            lines.append(np.column_stack([np.linspace(0.0, end, len(force)), force * self.scale[1]]))
            names.append((text, end + 4.0, y))
        return [line for line in lines if line[0, 1] < self.high], names

    def _end(self, text: str) -> float:
        """Speed at which a line ends so that its name has room. [km/h]"""
        return float(max(0.3 * self.wide, self.wide - text_width(text)) / self.scale[0] / self.kmh)

    def _name(self, i: int, answer: Answer, places: Places) -> None:
        """The top speed at the chosen candidate's marker; another's name beside its curve."""
        one, colour = answer.each[i], self.colours.candidates[i]
        name, speed = _cut(one.candidate.name), one.candidate.top_speed_kmh
        if speed <= 0.0:
            self._note(f"{name}: will not move", 8.0, self.high * (0.5 - 0.09 * i), colour, "bold")
            return
        top, pixels = self._top(one), self._shown[i]
        falling = pixels[pixels[:, 1] > top[1]][-60::12]
        said = f"{self.kmh * speed:.1f} {self.system.label('kmh')}"
        if i == answer.chosen:
            # Beside its ring, whatever it covers there: elsewhere on the curve it would be read at another speed.
            near = [top], [top + step for step in BESIDE], [*falling[::-1]]
            any(self._note_near(said, anchors, places, colour, "bold") for anchors in near)
        else:
            self._note_near(name, [*falling[::-1], top], places, colour)

    def _note_near(
        self, text: str, anchors: list[Any], places: Places, colour: str, weight: str = "normal", clear: bool = False
    ) -> bool:
        """A note near one of some points, where there is room; ``clear`` of every curve; whether there is. [px]"""
        spot = places.best(text, anchors, clear, weight == "bold")
        if spot:
            self._note(text, *spot, colour, weight)
        return spot is not None

    def _stretches(self, answer: Answer, places: Places) -> None:
        """Name the limit on each stretch of the chosen candidate's curve."""
        one, pixels = answer.one, self._shown[answer.chosen]
        starts = _starts(one)
        self.joints.set_data(*(pixels[starts[1:]] / self.scale).T)
        self.joints.set_color(self.colours.candidates[answer.chosen])
        for first, after in list(pairwise([*starts, len(one.limits)]))[:STRETCHES]:
            steps = [(first + after - 1) // 2, first + (after - first) // 4, first + 3 * (after - first) // 4]
            name = LIMIT_NAMES[int(one.limits[first])]
            self._note_near(
                HELD_BY.get(name, name), [pixels[step] for step in steps], places, self.colours.faint, clear=True
            )

    def reads(self, answer: Answer) -> dict[str, Any]:
        """Lines of each activity's slopes, which the page marks where the activity is pointed at. [px]"""
        lines, _ = self._slopes(answer)
        left, top, *_ = self.plot.frame
        shown = {}
        for place, act in enumerate(answer.day.activity):
            steep = slopes_of(act)
            shown[str(place)] = [
                [round(float(v), 1) for pair in ends for v in (left + pair[0], top + self.high - pair[1])]
                for grade, line in zip(answer.grades, lines, strict=False)
                if grade in steep
                for ends in pairwise(line[::10].tolist())
            ]
        return {"slopes": shown}

    def sentence(self, answer: Answer) -> str:
        """Top speeds on the level."""
        unit = self.system.label("kmh")
        each = "; ".join(
            f"{one.candidate.name} {self.system.value(one.candidate.top_speed_kmh, 'kmh'):.1f} {unit}"
            for one in answer.each
        )
        return f"Top speed on the level: {each}."

    def alt(self, answer: Answer) -> str:
        """Curves, stretches and resistance lines in words."""
        parts = ["Pull at the wheel against road speed, with resistance lines for " + _and([
            "level ground" if grade == 0.0 else f"{grade:g} % up" for grade in answer.grades])]  # fmt: skip
        for one in answer.each:
            limits = ", then ".join(LIMIT_NAMES[int(one.limits[start])] for start in _starts(one))
            pull = f"{self.system.value(float(one.pulls_n[0]), 'n'):.0f} {self.system.label('n')}"
            parts.append(f"{one.candidate.name}: {pull} at standstill, limited by {limits}")
        return ". ".join(parts) + ". " + self.sentence(answer)


def slopes_of(act: Activity) -> set[float]:
    """Slopes of an activity, as the picture's grades have them. [%]"""
    if act.route is not None:
        return {round(max(leg.grade_percent, 0.0), 1) for leg in act.route.legs}
    if act.trace is not None:
        return {round(max(float(grade), 0.0), 1) for grade in act.trace.grade_percent}
    return set()


def slope_names(answer: Answer) -> list[str]:
    """Each slope of the day by the activity that it first comes in."""
    return ["level" if grade == 0.0 else _on(answer, grade) for grade in answer.grades]


def _on(answer: Answer, grade: float) -> str:
    first = next((act.name for act in answer.day.activity if grade in slopes_of(act)), "slope")
    return f"{_cut(first)} {grade:g} %"


def _cut(name: str) -> str:
    """A name that leaves room for the picture."""
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1].rstrip()}…"


def _last(one: Reckoned) -> float:
    """Speed at which the pull ends; a series-wound motor's is cut where the picture would lose its use. [km/h]"""
    return max(1.0, min(float(one.speeds_kmh[-1]), 1.6 * max(one.candidate.top_speed_kmh, 5.0)))


def _starts(one: Reckoned) -> list[int]:
    """Places of a curve from which another limit sets it."""
    return [0, *(np.flatnonzero(np.diff(one.limits)) + 1)]


def _and(words: list[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]
