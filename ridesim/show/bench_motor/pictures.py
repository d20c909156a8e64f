"""Pictures of a spin test: speed against voltage with its band, the fit of the held rotor and of the drag, pull on the road."""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from typing import Any

import numpy as np

from ridesim.bench.motor.log import RPM
from ridesim.bench.motor.model import CHAIN
from ridesim.bench.motor.prediction import Prediction
from ridesim.bench.motor.series_prediction import LoadPrediction
from ridesim.physics.motor import warm_resistance
from ridesim.ride.steady import STILL_AIR_C, pull_at, resistance_at
from ridesim.ride.steady.motor import MotorCarrier, at_voltage
from ridesim.show.bench_motor.inputs import BenchAnswer
from ridesim.show.bench_motor.series_inputs import SeriesAnswer
from ridesim.show.panel.drawing import Drawing
from ridesim.show.pictures.style import LINES, NOTE_PT, Look, dress

LEFT, RIGHT, TOP, BOTTOM = 62.0, 16.0, 12.0, 38.0


def rounded(value: float) -> float:
    """The next rounder number above."""
    size = 10.0 ** math.floor(math.log10(max(value, 1e-9)))
    return next(size * step for step in (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0) if size * step >= value)


class OnePair(Drawing):
    """One pair of axes, everything moving: the panel draws on typing, not while sliding."""

    x_label, y_label = "", ""

    def build(self, figure: Any, colours: Look, width: float, height: float) -> None:
        """Axes with room for their labels."""
        self.colours = colours
        self.axes = figure.add_axes(
            [LEFT / width, BOTTOM / height, (width - LEFT - RIGHT) / width, (height - TOP - BOTTOM) / height]
        )
        dress(self.axes, colours)
        self.axes.set_xlabel(self.x_label, labelpad=2)
        self.axes.set_ylabel(self.y_label, labelpad=3)
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

    def clear(self) -> None:
        """Take the last answer's artists away."""
        for artist in self.drawn:
            artist.remove()
        self.drawn = []

    def line(self, x: Any, y: Any, **style: Any) -> None:
        """A line in the look's first colour unless told otherwise."""
        self.drawn += self.axes.plot(x, y, **{"color": self.colours.candidates[0], "lw": 2.0, **style})

    def note(self, x: float, y: float, words: str, **style: Any) -> None:
        """A direct label."""
        self.drawn.append(self.axes.text(x, y, words, **{"size": NOTE_PT, "color": self.colours.ink, **style}))

    def point(self, x: float, y: float, dx: float, dy: float, colour: str, filled: bool = True) -> None:
        """A measured point with its 95 % error bars."""
        self.drawn += self.axes.plot([x - dx, x + dx], [y, y], color=colour, lw=1.2)
        self.drawn += self.axes.plot([x, x], [y - dy, y + dy], color=colour, lw=1.2)
        face = colour if filled else self.colours.paper
        self.drawn += self.axes.plot([x], [y], marker="o", ms=5.5, mfc=face, mec=colour, ls="none")


class SpeedDiagram(OnePair):
    """No-load speed against terminal voltage: points, line, band to 48 V."""

    x_label, y_label = "voltage at the motor, V", "shaft, turns/min, no load"

    def limits(self, answer: BenchAnswer) -> tuple[float, float]:
        """Right end and top."""
        return 50.0, rounded(float(answer.speeds.high.max()))

    def move(self, answer: BenchAnswer) -> list[Any]:
        """Band, line, points, and the speeds at 24, 36, 48 V."""
        self.clear()
        speeds, points, blue = answer.speeds, answer.result.points, self.colours.candidates[0]
        self.drawn.append(self.axes.fill_between(speeds.along, speeds.low, speeds.high, color=blue, alpha=0.25, lw=0))
        self.line(speeds.along, speeds.value)
        for i in np.flatnonzero(points.turning & (points.torque == 0.0)):
            self.point(
                points.voltage[i], points.speed[i] / RPM, 1.96 * points.voltage_sd[i], 1.96 * points.speed_sd[i] / RPM,
                self.colours.candidates[1], not points.chained[i],
            )  # fmt: skip
        top = self.axes.get_ylim()[1]
        for each in answer.predictions:
            half = 0.5 * (each.no_load_rpm.high - each.no_load_rpm.low)
            self.note(
                each.voltage_v - 0.6, each.no_load_rpm.value + 0.02 * top,
                f"{each.voltage_v:g} V: {each.no_load_rpm.value:.0f} ± {half:.0f}", ha="right",
            )  # fmt: skip
        self.note(
            14.0,
            0.06 * top,
            "points: measured, with 95 % of the meters'\nerror; hollow: chain on",
            color=self.colours.faint,
        )
        return self.drawn

    def sentence(self, answer: BenchAnswer) -> str:
        """The plain sentence."""
        return answer.sentence

    def alt(self, answer: BenchAnswer) -> str:
        """In words."""
        return (
            "No-load speed against voltage, measured points, fitted line and 95 % band up to 48 V. " + answer.sentence
        )


class HeldDiagram(OnePair):
    """Held rotor: volts against amps, with the fit."""

    x_label, y_label = "current, rotor held, A", "voltage at the motor, V"

    def limits(self, answer: BenchAnswer | SeriesAnswer) -> tuple[float, float]:
        """Right end and top."""
        held = self._held(answer)
        amps = float(answer.points.current[held].max()) if held.any() else 5.0
        return rounded(1.15 * amps), rounded(1.15 * self._volts(answer, 1.15 * amps))

    @staticmethod
    def _held(answer: BenchAnswer | SeriesAnswer) -> Any:
        return (answer.points.speed == 0.0) & ~answer.points.opened

    @staticmethod
    def _volts(answer: BenchAnswer | SeriesAnswer, amps: float) -> float:
        motor = answer.motor
        return motor.brush + amps * warm_resistance(motor.resistance, answer.log.room_c)

    def move(self, answer: BenchAnswer | SeriesAnswer) -> list[Any]:
        """Fit and points."""
        self.clear()
        points = answer.points
        right = self.axes.get_xlim()[1]
        self.line([0.0, right], [self._volts(answer, 0.0), self._volts(answer, right)])
        for i in np.flatnonzero(self._held(answer)):
            self.point(
                points.current[i], points.voltage[i], 1.96 * points.current_sd[i], 1.96 * points.voltage_sd[i],
                self.colours.candidates[1],
            )  # fmt: skip
        brush = answer.motor.brush
        self.note(0.03 * right, brush * 0.9, f"brush drop {brush:.2f} V; the slope is the resistance", va="top")
        return self.drawn

    def sentence(self, answer: BenchAnswer | SeriesAnswer) -> str:
        """Resistance and brush drop."""
        ohms, drop = answer.result.values["resistance_ohm"], answer.result.values["brush_drop_v"]
        return (
            f"Resistance {1000 * ohms.value:.0f} mΩ at 20 °C ({1000 * ohms.low:.0f} to {1000 * ohms.high:.0f}), brush drop "
            f"{drop.value:.2f} V ({drop.low:.2f} to {drop.high:.2f})."
        )

    def alt(self, answer: BenchAnswer | SeriesAnswer) -> str:
        """In words."""
        return "Voltage against current with the rotor held, measured points and fitted line. " + self.sentence(answer)


class DragDiagram(OnePair):
    """The motor's own drag against speed, with the fit."""

    x_label, y_label = "shaft, turns/min", "drag at the shaft, N·m"

    def _torque(self, answer: BenchAnswer, rpm: Any) -> Any:
        motor = answer.motor
        return motor.friction + motor.viscous * np.asarray(rpm) * RPM

    def _points(self, answer: BenchAnswer) -> list[tuple[float, float, float, bool]]:
        points, motor = answer.result.points, answer.motor
        free = np.flatnonzero(points.turning & (points.torque == 0.0))
        return [
            (
                points.speed[i] / RPM,
                motor.constant * points.current[i],
                motor.constant * points.current_sd[i],
                bool(points.chained[i]),
            )
            for i in free
        ]

    def limits(self, answer: BenchAnswer) -> tuple[float, float]:
        """Right end and top."""
        spun = self._points(answer)
        return rounded(1.1 * max(p[0] for p in spun)), rounded(1.2 * max(p[1] for p in spun))

    def move(self, answer: BenchAnswer) -> list[Any]:
        """Fit and points."""
        self.clear()
        right = self.axes.get_xlim()[1]
        self.line([0.0, right], self._torque(answer, [0.0, right]))
        if len(answer.result.best) > CHAIN:
            extra = float(answer.result.best[CHAIN])
            self.line(
                [0.0, right], self._torque(answer, [0.0, right]) + extra, ls=LINES[1], color=self.colours.candidates[2]
            )
            at = float(self._torque(answer, 0.4 * right)) + extra + 0.03 * self.axes.get_ylim()[1]
            self.note(0.4 * right, at, "with chain and wheel", va="bottom", ha="right")
        for rpm, torque, sd, chained in self._points(answer):
            self.point(rpm, torque, 0.0, 1.96 * sd, self.colours.candidates[1], not chained)
        return self.drawn

    def sentence(self, answer: BenchAnswer) -> str:
        """Friction, viscous drag, chain."""
        still, slope, chain = (
            answer.result.friction_torque_nm, answer.result.viscous_nm_per_rad_s, answer.result.chain_torque_nm,
        )  # fmt: skip
        more = f" Chain and lifted wheel add {chain.value:.3f} N·m." if chain is not None else ""
        return (
            f"Friction {still.value:.3f} N·m ({still.low:.3f} to {still.high:.3f}) and {1000 * slope.value:.2f} mN·m for every rad/s "
            f"({1000 * slope.low:.2f} to {1000 * slope.high:.2f}).{more}"
        )

    def alt(self, answer: BenchAnswer) -> str:
        """In words."""
        return "The motor's own drag against speed from the no-load currents, and the fitted line. " + self.sentence(
            answer
        )


def top_speed_text(each: Prediction | LoadPrediction) -> str:
    return f"{each.top_speed_kmh.value:.1f} ± {0.5 * (each.top_speed_kmh.high - each.top_speed_kmh.low):.1f}"


def _predictions(answer: BenchAnswer | SeriesAnswer) -> Sequence[Prediction | LoadPrediction]:
    return answer.predictions


class RoadDiagram(OnePair):
    """Pull at the wheel against road speed on 24, 36 and 48 V, with the resistance on the level."""

    x_label, y_label = "road speed, km/h", "pull at the wheel, N"

    def limits(self, answer: BenchAnswer | SeriesAnswer) -> tuple[float, float]:
        """Right end and top."""
        fastest = max(each.top_speed_kmh.high for each in _predictions(answer))
        return rounded(1.1 * fastest), rounded(1.08 * max(each.pull_n.high for each in _predictions(answer)))

    def move(self, answer: BenchAnswer | SeriesAnswer) -> list[Any]:
        """A curve a voltage, the resistance, the top speeds with their bands."""
        self.clear()
        speeds = np.linspace(0.0, self.axes.get_xlim()[1], 120)
        for i, each in enumerate(_predictions(answer)):
            vehicle = MotorCarrier.of(at_voltage(answer.build, each.voltage_v))
            numbers = vehicle.with_motor(answer.motor)
            pulls = [pull_at(v / 3.6, 1.0, STILL_AIR_C, STILL_AIR_C, numbers)[0] for v in speeds]
            needs = [resistance_at(v / 3.6, vehicle.mass, 0.0, vehicle.density, numbers) for v in speeds]
            colour = self.colours.candidates[i]
            self.line(speeds, np.maximum(pulls, 0.0), color=colour, ls=LINES[i])
            if i == 1:
                self.line(speeds, needs, color=self.colours.faint, lw=1.4)
            there = float(np.interp(each.top_speed_kmh.value, speeds, needs))
            self.drawn += self.axes.plot(
                [each.top_speed_kmh.low, each.top_speed_kmh.high],
                [there] * 2,
                color=colour,
                lw=6.0,
                solid_capstyle="butt",
            )
            self.label(i, each, there)
        self.note(0.3, needs[0] + 0.03 * self.axes.get_ylim()[1], "level asphalt takes", color=self.colours.faint)
        return self.drawn

    def label(self, place: int, each: Prediction | LoadPrediction, pull: float) -> None:
        """Pack voltage and top speed, beside where the curve meets the resistance."""
        right, top = self.axes.get_xlim()[1], self.axes.get_ylim()[1]
        self.note(
            each.top_speed_kmh.value + 0.012 * right, pull + 0.035 * top, f"{each.voltage_v:g} V\n{top_speed_text(each)}",
            ha="left", color=self.colours.candidates[place], weight="bold",
        )  # fmt: skip

    def sentence(self, answer: BenchAnswer | SeriesAnswer) -> str:
        """Top speeds and pulls."""
        each = "; ".join(
            f"{p.voltage_v:g} V {p.top_speed_kmh.value:.1f} km/h ({p.top_speed_kmh.low:.1f} to {p.top_speed_kmh.high:.1f}), "
            f"pull {p.pull_n.value:.0f} N"
            for p in _predictions(answer)
        )
        return f"{answer.build.name} with this motor, pack full, level: {each}."

    def alt(self, answer: BenchAnswer | SeriesAnswer) -> str:
        """In words."""
        return (
            "Pull at the wheel against road speed on 24, 36 and 48 V, with the resistance on the level. "
            + self.sentence(answer)
        )
