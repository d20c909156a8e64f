"""Pictures of a series-wound motor: torque and speed against current with their bands, and pull on the road with its band."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.bench.bands import Curve
from ridesim.bench.motor.log import RPM
from ridesim.bench.motor.series_prediction import currents_tested
from ridesim.show.bench_motor.pictures import OnePair, RoadDiagram, rounded, top_speed_text
from ridesim.show.bench_motor.series_inputs import SeriesAnswer
from ridesim.show.pictures.style import LINES


class _AgainstCurrent(OnePair):
    """A quantity against the motor's current; outside the tested currents its line is broken."""

    x_label = "motor current, A"

    def curve(self, curve: Curve, tested: tuple[float, float], colour: str) -> None:
        """A line with its band."""
        self.drawn.append(self.axes.fill_between(curve.along, curve.low, curve.high, color=colour, alpha=0.25, lw=0))
        inside = (curve.along >= tested[0]) & (curve.along <= tested[1])
        self.line(curve.along, curve.value, color=colour, ls=LINES[3], lw=1.6)
        self.line(curve.along[inside], curve.value[inside], color=colour)

    def span(self, answer: SeriesAnswer) -> None:
        """Where the lightest and the heaviest point lie."""
        light, heavy = currents_tested(answer.result)
        top = self.axes.get_ylim()[1]
        for amps in (light, heavy):
            self.line([amps, amps], [0.0, 0.86 * top], color=self.colours.faint, ls=LINES[3], lw=1.0)
        self.note(0.5 * (light + heavy), 0.03 * top, "currents you tested", ha="center", color=self.colours.faint)


class SeriesTorqueDiagram(_AgainstCurrent):
    """Torque before friction against current: what the flux makes of it."""

    y_label = "torque before friction, N·m"

    def limits(self, answer: SeriesAnswer) -> tuple[float, float]:
        """Right end and top."""
        return float(answer.torque.along[-1]), rounded(float(answer.torque.high.max()))

    def move(self, answer: SeriesAnswer) -> list[Any]:
        """Band, line; points from the brake filled, those from volts and turns alone hollow."""
        self.clear()
        self.span(answer)
        self.curve(answer.torque, currents_tested(answer.result), self.colours.candidates[0])
        points, motor, orange = answer.points, answer.motor, self.colours.candidates[1]
        for i in np.flatnonzero(points.speed > 0.0):
            amps, known = points.current[i], bool(points.turning[i])
            # Volts over turns hold the flux; the winding's warmth in that row is in the residuals, not here.
            flux = (points.voltage[i] - motor.brush - amps * motor.resistance) / points.speed[i]
            torque = points.torque[i] + motor.friction + motor.viscous * points.speed[i] if known else flux * amps
            sd = points.torque_sd[i] if known else torque * np.hypot(
                points.voltage_sd[i] / points.voltage[i], points.speed_sd[i] / points.speed[i]
            )  # fmt: skip
            self.point(amps, torque, 1.96 * points.current_sd[i], 1.96 * sd, orange, known)
        right, top = self.axes.get_xlim()[1], self.axes.get_ylim()[1]
        words = "points: measured, with 95 % of the meters' error" + (
            "" if points.turning[points.speed > 0.0].all() else "; hollow: no torque known, from volts and turns"
        )
        self.note(0.02 * right, 0.95 * top, words, va="top", color=self.colours.faint)
        return self.drawn

    def sentence(self, answer: SeriesAnswer) -> str:
        """Torque at the lightest and heaviest currents."""
        said = []
        for amps in currents_tested(answer.result):
            torque = answer.result.torque_at(amps)
            said.append(f"at {amps:.0f} A {torque.value:.2f} N·m ({torque.low:.2f} to {torque.high:.2f})")
        return f"Torque before friction: {said[0]}, {said[1]}."

    def alt(self, answer: SeriesAnswer) -> str:
        """In words."""
        return "Torque against current, measured points, fitted curve and 95 % band. " + self.sentence(answer)


class SeriesSpeedDiagram(_AgainstCurrent):
    """Shaft speed against current at the volts of the points: the lighter the load, the faster, without an end in sight."""

    y_label = "shaft, turns/min"

    def limits(self, answer: SeriesAnswer) -> tuple[float, float]:
        """Right end and top."""
        return float(answer.torque.along[-1]), rounded(1.12 * max(float(each.high.max()) for each in answer.speeds))

    def move(self, answer: SeriesAnswer) -> list[Any]:
        """A line with its band a voltage, points, and what happens to the left."""
        self.clear()
        self.span(answer)
        tested, points = currents_tested(answer.result), answer.points
        for each in answer.speeds:
            self.curve(each, tested, self.colours.candidates[0])
            self.note(each.along[-1], each.value[-1], f" {each.label}", va="center", ha="left")
        for i in np.flatnonzero(points.speed > 0.0):
            self.point(
                points.current[i], points.speed[i] / RPM, 1.96 * points.current_sd[i], 1.96 * points.speed_sd[i] / RPM,
                self.colours.candidates[1],
            )  # fmt: skip
        right, top = self.axes.get_xlim()[1], self.axes.get_ylim()[1]
        self.note(
            tested[0] + 0.03 * right, 0.96 * top, f"◀ unloaded {_unloaded(answer)}: never",
            va="top", color=self.colours.warn, weight="bold",
        )  # fmt: skip
        return self.drawn

    def sentence(self, answer: SeriesAnswer) -> str:
        """How far it would run away."""
        volts = answer.speeds[-1].label
        return (
            f"On {volts} the lightest point turned {_fastest(answer):.0f} a minute; unloaded it would reach {_unloaded(answer)}. "
            "Never run it unloaded."
        )

    def alt(self, answer: SeriesAnswer) -> str:
        """In words."""
        return "Shaft speed against current, measured points, fitted curve and 95 % band. " + self.sentence(answer)


def _fastest(answer: SeriesAnswer) -> float:
    return float(answer.points.speed.max()) / RPM


def _unloaded(answer: SeriesAnswer) -> str:
    rpm = answer.result.runaway_rpm(max(row.voltage_v for row in answer.log.load))
    return f"about {float(f'{rpm:.2g}'):.0f}" if np.isfinite(rpm) else "a speed without limit"


class SeriesRoadDiagram(RoadDiagram):
    """The road picture with a band on each pull, and where the shaft turns faster than it was tested."""

    def limits(self, answer: SeriesAnswer) -> tuple[float, float]:  # type: ignore[override]
        """Right end and top."""
        return float(answer.pulls[0].along[-1]), super().limits(answer)[1]

    def move(self, answer: SeriesAnswer) -> list[Any]:  # type: ignore[override]
        """Bands, then what the road picture draws, then the tested speed."""
        drawn = super().move(answer)
        for curve, colour in zip(answer.pulls, self.colours.candidates, strict=False):
            drawn.insert(
                0, self.axes.fill_between(curve.along, curve.low, curve.high, color=colour, alpha=0.2, lw=0)
            )  # fmt: skip
        right, top = self.axes.get_xlim()[1], self.axes.get_ylim()[1]
        tested = 3.6 * _fastest(answer) * RPM * answer.build.vehicle.rolling_radius_m / answer.build.drive.ratio
        if tested < right:
            self.line([tested, tested], [0.0, 0.76 * top], color=self.colours.warn, ls=LINES[3], lw=1.2)
            early = tested < 0.4 * right  # else the key in the corner is in the way
            words, side = (
                (" ▶ shaft faster\n than tested", "left") if early else ("shaft faster ▶ \nthan tested ", "right")
            )
            self.note(tested, 0.77 * top, words, va="bottom", ha=side, color=self.colours.warn)
        return self.drawn

    def label(self, place: int, each: Any, pull: float) -> None:
        """In the empty corner: flat curves meet the resistance too near each other for words beside it."""
        right, top = self.axes.get_xlim()[1], self.axes.get_ylim()[1]
        y, colour = (0.87 - 0.08 * place) * top, self.colours.candidates[place]
        if place == 0:
            self.note(0.66 * right, 0.95 * top, "top speed, km/h", va="center")
        self.line([0.66 * right, 0.73 * right], [y, y], color=colour, ls=LINES[place])
        self.note(
            0.75 * right,
            y,
            f"{each.voltage_v:g} V: {top_speed_text(each)}",
            va="center",
            color=colour,
            weight="bold",
        )

    def alt(self, answer: SeriesAnswer) -> str:  # type: ignore[override]
        """In words."""
        return (
            "Pull at the wheel against road speed on 24, 36 and 48 V with 95 % bands, and the resistance on the level. "
            + self.sentence(answer)
        )
