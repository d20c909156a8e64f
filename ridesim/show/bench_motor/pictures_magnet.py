"""Pictures of a permanent-magnet motor on the bench: free speed against voltage with its band, and its own drag."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.bench.estimate import NORMAL
from ridesim.bench.motor.log import RPM
from ridesim.bench.motor.prediction import plus_minus
from ridesim.show.bench_motor.inputs import MOST_V, Answer
from ridesim.show.bench_motor.pictures import OnePair, rounded
from ridesim.show.style import LINES


class SpeedDiagram(OnePair):
    """Speed spinning freely against terminal voltage: points, line, band to 48 V."""

    x_label, y_label = "voltage at the motor, V", "shaft spinning freely, turns/min"
    shows = "Speed spinning freely against voltage, measured points, fitted line and 90 % band up to 48 V."

    def limits(self, answer: Answer) -> tuple[float, float]:
        """Right end and top."""
        return MOST_V, rounded(float(answer.speeds[0].high.max()))

    def draw(self, answer: Answer) -> None:
        """Band, line, points, and the speeds at 24, 36, 48 V."""
        speeds, points = answer.speeds[0], answer.result.points
        self.band(speeds, self.colours.candidates[0])
        self.line(speeds.along, speeds.value)
        for i in np.flatnonzero(points.free):
            self.reading(answer, i, "voltage", "speed", not points.chained[i])
        top = self.axes.get_ylim()[1]
        for each in answer.predictions:
            words = f"{each.voltage_v:g} V: {plus_minus(each.unloaded_rpm, 0)}"
            self.note(each.voltage_v - 0.6, each.unloaded_rpm.value + 0.02 * top, words, ha="right")
        words = "points: measured, with 90 % of the meters'\nerror; hollow: chain on"
        self.note(14.0, 0.06 * top, words, color=self.colours.faint)

    def sentence(self, answer: Answer) -> str:
        """The plain sentence."""
        return answer.said(self.system)


class DragDiagram(OnePair):
    """The motor's own drag against speed, with the fit."""

    x_label, y_label = "shaft, turns/min", "drag at the shaft, N·m"
    shows = "The motor's own drag against speed from the currents spinning freely, and the fitted line."

    def _torque(self, answer: Answer, rpm: Any) -> Any:
        return answer.result.number("friction") + answer.result.number("viscous") * np.asarray(rpm) * RPM

    def _points(self, answer: Answer) -> list[tuple[float, float, float, bool]]:
        points, constant = answer.result.points, answer.result.number("constant")
        amps, speed = points.values[1], points.values[2] / RPM
        return [
            (speed[i], constant * amps[i], constant * points.sds[1, i], bool(points.chained[i]))
            for i in np.flatnonzero(points.free)
        ]

    def limits(self, answer: Answer) -> tuple[float, float]:
        """Right end and top."""
        spun = self._points(answer)
        return rounded(1.1 * max(p[0] for p in spun)), rounded(1.2 * max(p[1] for p in spun))

    def draw(self, answer: Answer) -> None:
        """Fit and points."""
        right = self.axes.get_xlim()[1]
        self.line([0.0, right], self._torque(answer, [0.0, right]))
        chain = answer.result.chain_torque_nm
        if chain is not None:
            extra = chain.value
            self.line(
                [0.0, right], self._torque(answer, [0.0, right]) + extra, ls=LINES[1], color=self.colours.candidates[2]
            )
            at = float(self._torque(answer, 0.4 * right)) + extra + 0.03 * self.axes.get_ylim()[1]
            self.note(0.4 * right, at, "with chain and wheel", va="bottom", ha="right")
        for rpm, torque, sd, chained in self._points(answer):
            self.point(rpm, torque, 0.0, NORMAL * sd, not chained)

    def sentence(self, answer: Answer) -> str:
        """Friction, viscous drag, chain."""
        values, chain = answer.result.values, answer.result.chain_torque_nm
        still, slope = values["friction_torque_nm"], values["viscous_nm_per_rad_s"]
        more = f" Chain and lifted wheel add {chain.value:.3f} N·m." if chain is not None else ""
        return (
            f"Friction {still.value:.3f} N·m ({still.low:.3f} to {still.high:.3f}) and {1000 * slope.value:.2f} mN·m for every rad/s "
            f"({1000 * slope.low:.2f} to {1000 * slope.high:.2f}).{more}"
        )
