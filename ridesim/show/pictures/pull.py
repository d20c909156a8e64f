"""The tractive-effort diagram: pull against road speed, resistance lines, and the limit that sets each stretch of a curve."""

from __future__ import annotations

from collections.abc import Hashable
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.collections import LineCollection, PolyCollection

from ridesim.physics.controller import LIMIT_NAMES
from ridesim.show.choose_drive.inputs import Answer, Reckoned
from ridesim.show.panel.drawing import Drawing
from ridesim.show.panel.note import note
from ridesim.show.pictures.furniture import Plot, even_ticks
from ridesim.show.pictures.scales import LINE_PX, Places, round_top, spread, text_width
from ridesim.show.pictures.style import MOST_CANDIDATES, NOTE_PT, Look

LEFT, RIGHT, TOP, BOTTOM = 54.0, 10.0, 10.0, 40.0
STRETCHES = 6
GRADES = 6


class PullDiagram(Drawing):
    """Pull against road speed."""

    def build(self, figure: Any, colours: Look, width: float, height: float) -> None:
        """Axes, curves and notes."""
        self.colours = colours
        self.plot = Plot(figure, colours, (width, height), (LEFT, RIGHT, TOP, BOTTOM))
        self.axes, self.wide, self.high = self.plot.axes, self.plot.width, self.plot.height
        # One collection for all grades: a line and a patch each would cost 0.3 ms apiece.
        self.bands = self.axes.add_collection(
            PolyCollection([], facecolors=colours.faint, alpha=0.25, linewidths=0), autolim=False
        )
        self.resist = self.axes.add_collection(
            LineCollection([], colors=colours.faint, linewidths=1.1, capstyle="butt"), autolim=False
        )
        self.curves, self.tops = self.plot.lines(), self.plot.marks()
        self.joints = self.plot.lines(ls="", marker="|", ms=9, mew=1.8)
        self.notes = [
            note(self.axes, size=NOTE_PT, transform=self.axes.transAxes, paper=colours.paper)
            for _ in range(GRADES + MOST_CANDIDATES * (STRETCHES + 2))
        ]
        self.movers = [self.bands, self.resist, *self.curves, *self.joints, *self.tops, *self.notes]

    def _limits(self, answer: Answer) -> tuple[float, float]:
        fastest = max(_last(one) for one in answer.each)
        strongest = max(float(one.pulls_n.max(initial=1.0)) for one in answer.each)
        return round_top(self.system.value(fastest, "kmh"), 1.1), round_top(strongest, 1.12)

    def frame_key(self, answer: Answer) -> Hashable:
        """Limits and units."""
        return (*self._limits(answer), self.system.name)

    def set_frame(self, answer: Answer) -> None:
        """Limits and axis titles."""
        right, top = self._limits(answer)
        self.axes.set_xlim(0.0, right)
        self.axes.set_ylim(0.0, top)
        self.plot.set(
            even_ticks(0.0, right, max(3, int(self.wide / 44.0))), even_ticks(0.0, top, max(3, int(self.high / 30.0))),
            below=f"road speed, {self.system.label('kmh')}", beside="pull at the wheel, N",
        )  # fmt: skip

    def move(self, answer: Answer) -> list[Any]:
        """Curves, resistance lines, notes."""
        self.used = 0
        right, top = self.axes.get_xlim()[1], self.axes.get_ylim()[1]
        self.kmh, self.scale = self.system.value(1.0, "kmh"), np.array([self.wide / right, self.high / top])
        self._shown = [np.column_stack([self.kmh * one.speeds_kmh, one.pulls_n]) * self.scale for one in answer.each]
        places = Places(self.wide, self.high, self._shown)
        drawn = self._resistances(answer, np.linspace(0.0, right / self.kmh, 40), places)
        for i, (one, pixels) in enumerate(zip(answer.each, self._shown, strict=True)):
            self.curves[i].set_data(*(pixels / self.scale).T)
            x, y = self._top(one)
            self.tops[i].set_data([x / self.scale[0]], [y / self.scale[1]])
            drawn += [self.curves[i], self.joints[i]]
            places.block(x - 7.0, y - 7.0, x + 7.0, y + 7.0)
        for i, one in enumerate(answer.each):
            self._name(i, one, places)
        for i in range(len(answer.each)):
            self._stretches(i, answer, places)
        return [*drawn, *self.notes[: self.used], *self.tops[: len(answer.each)]]

    def _top(self, one: Reckoned) -> Any:
        """Where a curve meets the resistance on the level. [px]"""
        speed, (still, grows) = one.candidate.top_speed_kmh, one.resistance[0]
        return np.array([self.kmh * speed, still + grows * speed**2]) * self.scale

    def _note(self, text: str, x: float, y: float, colour: str, weight: str = "normal") -> None:
        """A note whose lower left corner is at a place of the plotting area. [px]"""
        words = self.notes[self.used]
        self.used += 1
        words.set_position((x / self.wide, (y + 3.0) / self.high))
        words.set(text=text, color=colour, weight=weight)

    def _resistances(self, answer: Answer, speeds: Any, places: Places) -> list[Any]:
        """Resistance of the heaviest candidate, a band down to the lightest; names at the right end."""
        still, grows = np.array([one.resistance for one in answer.each])[..., None].transpose(2, 0, 1, 3)
        forces = still + grows * speeds**2  # candidates × grades × speeds
        shown, highs, lows = self.kmh * speeds, forces.max(axis=0), forces.min(axis=0)
        self.resist.set_segments([np.column_stack([shown, high]) for high in highs])
        there_and_back = np.r_[shown, shown[::-1]]
        bands = [
            np.column_stack([there_and_back, np.r_[high, low[::-1]]]) for high, low in zip(highs, lows, strict=True)
        ]
        self.bands.set_verts(bands if len(answer.each) > 1 else [])
        highest = self.high - LINE_PX
        wanted = np.minimum(highs[:, -1] * self.scale[1] + 1.0, highest)
        for grade, y in zip(answer.grades, spread(list(wanted), LINE_PX - 1.0, 0.0, highest), strict=True):
            name = "level" if grade == 0.0 else f"{grade:g} % up"
            left = self.wide - text_width(name)
            self._note(name, left, y, self.colours.faint)
            places.block(left, y, self.wide, y + LINE_PX)
        return [self.bands, self.resist]

    def _name(self, i: int, one: Reckoned, places: Places) -> None:
        """The candidate's name near the falling end of its curve, with its top speed."""
        name, colour, speed = one.candidate.name, self.colours.candidates[i], one.candidate.top_speed_kmh
        if speed <= 0.0:
            self._note(f"{name}: does not move", 8.0, self.high * (0.5 - 0.09 * i), colour, "bold")
            return
        top, pixels = self._top(one), self._shown[i]
        falling = pixels[pixels[:, 1] > top[1]][-60::12]
        text = f"{name if len(name) <= 22 else name[:21] + '…'}  {self.kmh * speed:.1f}"
        self._note_near(text, [top, *falling[::-1]], places, colour, "bold")

    def _note_near(self, text: str, anchors: list[Any], places: Places, colour: str, weight: str = "normal") -> None:
        """A note near one of some points, where there is room. [px]"""
        if spot := places.best(text, anchors):
            self._note(text, *spot, colour, weight)

    def _stretches(self, i: int, answer: Answer, places: Places) -> None:
        """Name the limit on each stretch of a curve; once where two curves run together."""
        one, pixels = answer.each[i], self._shown[i]
        starts = _starts(one)
        self.joints[i].set_data(*(pixels[starts[1:]] / self.scale).T)
        for first, after in list(pairwise([*starts, len(one.limits)]))[:STRETCHES]:
            middle = (first + after - 1) // 2
            if not any(self._runs_with(answer.each[j], one, middle) for j in range(i)):
                steps = [middle, first + (after - first) // 4, first + 3 * (after - first) // 4]
                text = LIMIT_NAMES[int(one.limits[first])]
                self._note_near(text, [pixels[step] for step in steps], places, self.colours.candidates[i])

    @staticmethod
    def _runs_with(other: Reckoned, one: Reckoned, middle: int) -> bool:
        """Whether another curve has the same pull from the same limit there."""
        speed = one.speeds_kmh[middle]
        if speed > other.speeds_kmh[-1]:
            return False
        near = min(int(np.searchsorted(other.speeds_kmh, speed)), len(other.limits) - 1)
        pull = float(np.interp(speed, other.speeds_kmh, other.pulls_n))
        return bool(
            other.limits[near] == one.limits[middle] and abs(pull - one.pulls_n[middle]) < 0.01 * max(1.0, pull)
        )

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
            parts.append(f"{one.candidate.name}: {one.pulls_n[0]:.0f} N at standstill, limited by {limits}")
        return ". ".join(parts) + ". " + self.sentence(answer)


def _last(one: Reckoned) -> float:
    """Speed at which the pull ends; a series-wound motor's is cut where the picture would lose its use. [km/h]"""
    return max(1.0, min(float(one.speeds_kmh[-1]), 1.6 * max(one.candidate.top_speed_kmh, 5.0)))


def _starts(one: Reckoned) -> list[int]:
    """Places of a curve from which another limit sets it."""
    return [0, *(np.flatnonzero(np.diff(one.limits)) + 1)]


def _and(words: list[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]
