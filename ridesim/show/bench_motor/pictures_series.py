"""Pictures of a series-wound motor on the bench: torque and speed against current with their bands."""

from __future__ import annotations

import numpy as np

from ridesim.bench.estimate import NORMAL
from ridesim.show.bench_motor.inputs import Answer, Curve
from ridesim.show.bench_motor.pictures import OnePair, fastest_rpm, rounded
from ridesim.show.style import LINES


class _AgainstCurrent(OnePair):
    """A quantity against the motor's current; outside the tested currents its line is broken."""

    x_label = "motor current, A"

    def curve(self, curve: Curve, tested: tuple[float, float], colour: str) -> None:
        """A line with its band."""
        self.band(curve, colour)
        inside = (curve.along >= tested[0]) & (curve.along <= tested[1])
        self.line(curve.along, curve.value, color=colour, ls=LINES[3], lw=1.6)
        self.line(curve.along[inside], curve.value[inside], color=colour)

    def span(self, answer: Answer) -> None:
        """Where the lightest and the heaviest point lie."""
        light, heavy = answer.log.currents_braked
        top = self.axes.get_ylim()[1]
        for amps in (light, heavy):
            self.line([amps, amps], [0.0, 0.86 * top], color=self.colours.faint, ls=LINES[3], lw=1.0)
        self.note(0.5 * (light + heavy), 0.03 * top, "currents you tested", ha="center", color=self.colours.faint)


class TorqueDiagram(_AgainstCurrent):
    """Torque before friction against current: what the flux makes of it."""

    y_label = "torque before friction, N·m"
    shows = "Torque against current, measured points, fitted curve and 90 % band."

    def limits(self, answer: Answer) -> tuple[float, float]:
        """Right end and top."""
        return float(answer.torques[0].along[-1]), rounded(float(answer.torques[0].high.max()))

    def draw(self, answer: Answer) -> None:
        """Band, line; points from the brake filled, those from volts and turns alone hollow."""
        self.span(answer)
        self.curve(answer.torques[0], answer.log.currents_braked, self.colours.candidates[0])
        points, number = answer.result.points, answer.result.number
        volts, amps, speed, brake = points.values
        turning = ~points.held
        # Volts over turns hold the flux; the winding's warmth in that row is in the residuals, not here.
        from_volts = (volts - number("brush") - amps * number("resistance")) / np.where(turning, speed, np.inf) * amps
        from_brake = brake + number("friction") + number("viscous") * speed
        volts_sd = from_volts * np.hypot(points.sds[0] / volts, points.sds[2] / np.where(turning, speed, np.inf))
        torque, sd = np.where(points.balanced, (from_brake, points.sds[3]), (from_volts, volts_sd))
        for i in np.flatnonzero(turning):
            self.point(amps[i], torque[i], NORMAL * points.sds[1, i], NORMAL * sd[i], bool(points.balanced[i]))
        right, top = self.axes.get_xlim()[1], self.axes.get_ylim()[1]
        words = "points: measured, with 90 % of the meters' error" + (
            "" if points.balanced[turning].all() else "; hollow: no torque known, from volts and turns"
        )
        self.note(0.02 * right, 0.95 * top, words, va="top", color=self.colours.faint)

    def sentence(self, answer: Answer) -> str:
        """Torque at the lightest and heaviest currents."""
        said = []
        for amps in answer.log.currents_braked:
            torque = answer.result.torque_at(amps)
            said.append(f"at {amps:.0f} A {torque.value:.2f} N·m ({torque.low:.2f} to {torque.high:.2f})")
        return f"Torque before friction: {said[0]}, {said[1]}."


class BrakedSpeedDiagram(_AgainstCurrent):
    """Shaft speed against current at the volts of the points: the lighter the load, the faster, without an end in sight."""

    y_label = "shaft, turns/min"
    shows = "Shaft speed against current, measured points, fitted curve and 90 % band."

    def limits(self, answer: Answer) -> tuple[float, float]:
        """Right end and top."""
        return float(answer.torques[0].along[-1]), rounded(1.12 * max(float(each.high.max()) for each in answer.speeds))

    def draw(self, answer: Answer) -> None:
        """A line with its band a voltage, points, and what happens to the left."""
        self.span(answer)
        tested, points = answer.log.currents_braked, answer.result.points
        for each in answer.speeds:
            self.curve(each, tested, self.colours.candidates[0])
            self.note(each.along[-1], each.value[-1], f" {each.label}", va="center", ha="left")
        for i in np.flatnonzero(~points.held):
            self.reading(answer, i, "current", "speed")
        right, top = self.axes.get_xlim()[1], self.axes.get_ylim()[1]
        self.note(
            tested[0] + 0.03 * right, 0.96 * top, f"◀ unloaded {_unloaded(answer)}: never",
            va="top", color=self.colours.warn, weight="bold",
        )  # fmt: skip

    def sentence(self, answer: Answer) -> str:
        """How far it would run away."""
        volts = answer.speeds[-1].label
        return (
            f"On {volts} the lightest point turned {fastest_rpm(answer):.0f} a minute; unloaded it would reach {_unloaded(answer)}. "
            "Never run it unloaded."
        )


def _unloaded(answer: Answer) -> str:
    rpm = answer.result.unloaded_rpm(max(row.voltage_v for row in answer.log.braked)).value
    return f"about {float(f'{rpm:.2g}'):.0f}" if np.isfinite(rpm) else "a speed without limit"
