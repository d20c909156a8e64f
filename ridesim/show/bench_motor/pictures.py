"""Pictures of a motor on the bench that both kinds share: the fit of the held rotor, pull on the road."""

from __future__ import annotations

import math
from collections.abc import Hashable
from typing import Any

import numpy as np

from ridesim.bench.estimate import NORMAL
from ridesim.bench.motor.log import RPM
from ridesim.bench.motor.model import QUANTITIES
from ridesim.bench.motor.prediction import plus_minus
from ridesim.physics.motor import warm_resistance
from ridesim.show.bench_motor.inputs import Answer, Curve
from ridesim.show.panel.drawing import Drawing
from ridesim.show.style import LINES, NOTE_PT, Look, plain_axes
from ridesim.words import Uncertain, ends

MARGINS = 62.0, 16.0, 12.0, 38.0
"""Left, right, above and below. [px]"""


def rounded(value: float) -> float:
    """The next rounder number above."""
    size = 10.0 ** math.floor(math.log10(max(value, 1e-9)))
    return next(size * step for step in (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0) if size * step >= value)


class OnePair(Drawing):
    """One pair of axes, everything moving: the panel draws on typing, not while sliding."""

    x_label, y_label, shows = "", "", ""

    def build(self, figure: Any, colours: Look, width: float, height: float) -> None:
        """Axes with room for their labels."""
        self.colours = colours
        self.axes = plain_axes(figure, colours, (width, height), MARGINS)
        self.axes.set_xlabel(self.x_label)
        self.axes.set_ylabel(self.y_label)
        self.drawn: list[Any] = []

    def limits(self, answer: Any) -> tuple[float, float]:
        """Right end and top of the axes."""
        raise NotImplementedError

    def frame_key(self, answer: Any) -> Hashable:
        """The limits are all that stands still."""
        return self.limits(answer)

    def set_frame(self, answer: Any) -> None:
        """Limits."""
        right, top = self.limits(answer)
        self.axes.set_xlim(0.0, right)
        self.axes.set_ylim(0.0, top)

    def move(self, answer: Any) -> list[Any]:
        """The last answer's artists go, this one's come."""
        for artist in self.drawn:
            artist.remove()
        self.drawn = []
        self.draw(answer)
        return self.drawn

    def draw(self, answer: Any) -> None:
        """Make the artists of an answer."""
        raise NotImplementedError

    def alt(self, answer: Any) -> str:
        """What the picture shows, and its sentence."""
        return f"{self.shows} {self.sentence(answer)}"

    def line(self, x: Any, y: Any, **style: Any) -> None:
        """A line in the look's first colour unless told otherwise."""
        self.drawn += self.axes.plot(x, y, **{"color": self.colours.candidates[0], "lw": 2.0, **style})

    def band(self, curve: Curve, colour: str) -> None:
        """The band of a curve."""
        self.drawn.append(self.axes.fill_between(curve.along, curve.low, curve.high, color=colour, alpha=0.25, lw=0))

    def note(self, x: float, y: float, words: str, **style: Any) -> None:
        """A direct label."""
        self.drawn.append(
            self.axes.text(x, y, words, **{"size": NOTE_PT, "color": self.colours.ink, "parse_math": False, **style})
        )

    def reading(self, answer: Answer, row: Any, x: str, y: str, filled: bool = True) -> None:
        """A row of the log, two of its readings against each other, speeds in turns a minute."""
        points, (across, up) = answer.result.points, (QUANTITIES.index(x), QUANTITIES.index(y))
        unit = np.array([1.0, 1.0, 1.0 / RPM, 1.0])
        value, off = points.values[:, row] * unit, NORMAL * points.sds[:, row] * unit
        self.point(value[across], value[up], off[across], off[up], filled)

    def point(self, x: float, y: float, dx: float, dy: float, filled: bool = True) -> None:
        """A measured point with its 90 % error bars."""
        colour = self.colours.candidates[1]
        self.drawn += self.axes.plot([x - dx, x + dx], [y, y], color=colour, lw=1.2)
        self.drawn += self.axes.plot([x, x], [y - dy, y + dy], color=colour, lw=1.2)
        face = colour if filled else self.colours.paper
        self.drawn += self.axes.plot([x], [y], marker="o", ms=5.5, mfc=face, mec=colour, ls="none")


class HeldDiagram(OnePair):
    """Held rotor: volts against amps, with the fit."""

    x_label, y_label = "current, rotor held, A", "voltage at the motor, V"
    shows = "Voltage against current with the rotor held, measured points and fitted line."

    def limits(self, answer: Answer) -> tuple[float, float]:
        """Right end and top."""
        points = answer.result.points
        amps = float(points.values[1, points.held].max()) if points.held.any() else 5.0
        return rounded(1.15 * amps), rounded(1.15 * self._volts(answer, 1.15 * amps))

    @staticmethod
    def _volts(answer: Answer, amps: float) -> float:
        ohms = warm_resistance(answer.result.number("resistance"), answer.log.room_c)
        return answer.result.number("brush") + amps * ohms

    def draw(self, answer: Answer) -> None:
        """Fit and points."""
        points, right = answer.result.points, self.axes.get_xlim()[1]
        self.line([0.0, right], [self._volts(answer, 0.0), self._volts(answer, right)])
        for i in np.flatnonzero(points.held):
            self.reading(answer, i, "current", "voltage")
        brush = answer.result.number("brush")
        self.note(0.03 * right, brush * 0.9, f"brush drop {brush:.2f} V; the slope is the resistance", va="top")

    def sentence(self, answer: Answer) -> str:
        """Resistance and brush drop."""
        ohms, drop = answer.result.values["resistance_ohm"], answer.result.values["brush_drop_v"]
        return (
            f"Resistance {1000 * ohms.value:.0f} mΩ at 20 °C ({1000 * ohms.low:.0f} to {1000 * ohms.high:.0f}), brush drop "
            f"{drop.value:.2f} V ({drop.low:.2f} to {drop.high:.2f})."
        )


class RoadDiagram(OnePair):
    """Pull at the wheel against road speed on 24, 36 and 48 V with its band, the resistance on the level, and the tested speed."""

    shows = "Pull at the wheel against road speed on a pack of each voltage with 90 % bands, and the resistance on the level."

    def limits(self, answer: Answer) -> tuple[float, float]:
        """Right end and top; above the curves there is room for the key."""
        kmh, newton = (self.system.value(1.0, unit) for unit in ("kmh", "n"))
        return kmh * float(answer.pulls[0].along[-1]), rounded(
            1.4 * newton * max(each.pull_n.high for each in answer.predictions)
        )

    def set_frame(self, answer: Answer) -> None:
        """Limits, and the labels in the units that are shown."""
        super().set_frame(answer)
        self.axes.set_xlabel(f"road speed, {self.system.label('kmh')}")
        self.axes.set_ylabel(f"pull at the wheel, {self.system.label('n')}")

    def frame_key(self, answer: Answer) -> Hashable:
        """Limits and units."""
        return self.limits(answer), self.system.name

    def draw(self, answer: Answer) -> None:
        """A curve with its band a voltage, the resistance, the top speeds with their bands, the tested speed."""
        right, top = self.axes.get_xlim()[1], self.axes.get_ylim()[1]
        kmh, newton = (self.system.value(1.0, unit) for unit in ("kmh", "n"))
        level = newton * answer.level_n
        self.note(0.66 * right, 0.95 * top, f"top speed, {self.system.label('kmh')}", va="center")
        for place, (metric, each) in enumerate(zip(answer.pulls, answer.predictions, strict=True)):
            colour, style = self.colours.ink, LINES[place]
            curve = Curve(
                metric.label, kmh * metric.along, *(newton * side for side in (metric.value, metric.low, metric.high))
            )
            speed = Uncertain(*(kmh * end for end in ends(each.top_speed_kmh)))
            self.band(curve, colour)
            self.line(curve.along, curve.value, color=colour, ls=style)
            there = float(np.interp(speed.value, curve.along, level))
            self.line([speed.low, speed.high], [there, there], color=colour, lw=6.0, solid_capstyle="butt")
            y = (0.87 - 0.08 * place) * top
            self.line([0.66 * right, 0.73 * right], [y, y], color=colour, ls=style)
            words = f"{each.voltage_v:g} V: {plus_minus(speed, 1)}"
            self.note(0.75 * right, y, words, va="center", color=colour, weight="bold")
        self.line(kmh * answer.pulls[0].along, level, color=self.colours.faint, lw=1.4)
        self.note(0.01 * right, level[0] + 0.03 * top, "level asphalt takes", color=self.colours.faint)
        self._tested(answer, right, top)

    def _tested(self, answer: Answer, right: float, top: float) -> None:
        """Where the shaft turns faster than it was tested."""
        rim_kmh = 3.6 * fastest_rpm(answer) * RPM * answer.build.vehicle.rolling_radius_m / answer.build.drive.ratio
        tested = self.system.value(rim_kmh, "kmh")
        if tested < right:
            self.line([tested, tested], [0.0, 0.76 * top], color=self.colours.warn, ls=LINES[3], lw=1.2)
            early = tested < 0.4 * right  # else the key in the corner is in the way
            words = " ▶ shaft faster\n than tested" if early else "shaft faster ▶ \nthan tested "
            self.note(tested, 0.77 * top, words, va="bottom", ha="left" if early else "right", color=self.colours.warn)

    def sentence(self, answer: Answer) -> str:
        """Top speeds and pulls."""
        each = "; ".join(
            f"{p.voltage_v:g} V {p.top_speed_kmh.value:.1f} km/h ({p.top_speed_kmh.low:.1f} to {p.top_speed_kmh.high:.1f} km/h), "
            f"pull {p.pull_n.value:.0f} N"
            for p in answer.predictions
        )
        exact = [end for p in answer.predictions for end in (*ends(p.top_speed_kmh), p.pull_n.value)]
        return f"{answer.build.name} with this motor, pack full, level: {self.system.said(each, exact)}."


def fastest_rpm(answer: Answer) -> float:
    """Fastest that the shaft was tested. [turns a minute]"""
    return float(answer.result.points.values[2].max()) / RPM
