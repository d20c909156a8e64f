"""What is usual of a motor before its bench test is read: weak priors, for what the readings leave open."""

from __future__ import annotations

import numpy as np

from ridesim.bench.estimate import FloatArray, Unknown
from ridesim.bench.motor.log import Meter, MotorLog
from ridesim.bench.motor.model import QUANTITIES, MotorModel, Points, points_of, rows_of

USUAL_BRUSH_V, _BRUSH_SD = 1.0, 0.6
"""Brush drop, metal-graphite 0.6 to 1.0 V, carbon up to 2 V (from memory)."""
_FREE_SHARE = 0.03
"""Current spinning free over the current of the held rotor at the same voltage: 1 to 8 %; common practice, no source."""
_SATURATION_SHARE = 0.8
"""Largest current over the saturation current of a series-wound motor, as uncertain as it is large: common practice, no source."""
_SATURATION_STARTS = (0.2, 0.8, 2.5)
"""First guesses of the same share: the misfit has more than one valley."""


def model_of(log: MotorLog) -> tuple[MotorModel, list[FloatArray]]:
    """The equations of a checked log, and where the search for its unknowns begins (nothing: at the usual values)."""
    points = points_of(log, rows_of(log))
    unknowns = _series_wound(points) if log.series_wound else _permanent_magnet(points)
    gains = _gains(log.meter)
    starts = _series_starts(unknowns, len(gains)) if log.series_wound else []
    return MotorModel(log, points, (*unknowns, *gains)), starts


def _gains(meter: Meter) -> list[Unknown]:
    """The gain error of each meter that states one."""
    percents = {name: getattr(meter, f"{name}_gain_percent") for name in QUANTITIES}
    return [Unknown(f"{name} gain", 0.0, 0.01 * percent) for name, percent in percents.items() if percent > 0.0]


def _drags(drag: float, sd: float, fastest: float) -> list[Unknown]:
    """Friction and viscous drag: 70 and 30 % of a drag at the fastest speed. [N m], [N m s/rad]"""
    return [
        Unknown("friction", 0.7 * drag, sd, 0.0),
        Unknown("viscous drag", 0.3 * drag / fastest, 0.4 * drag / fastest, 0.0),
    ]


def _permanent_magnet(points: Points) -> list[Unknown]:
    volts, amps, speed, _ = points.values[:, points.free]
    constant = float(np.max((volts - 0.5) / speed)) if (volts > 1.0).all() else float(np.max(volts / speed))
    drag = constant * float(np.mean(amps))
    unknowns = [
        Unknown("constant", float(np.log(constant)), 1.0),
        Unknown("resistance", float(np.log(np.mean(_FREE_SHARE * volts / amps))), 1.0),
        Unknown("brush drop", USUAL_BRUSH_V, _BRUSH_SD, 0.0),
        *_drags(drag, drag, float(speed.max())),
    ]
    if points.chained.any() and (points.balanced & ~points.chained).any():  # some rows with the chain, some without
        unknowns.append(Unknown("chain drag", 0.3 * drag, drag, 0.0))
    return unknowns


def _series_wound(points: Points) -> list[Unknown]:
    held, turning = points.values[:, points.held], points.values[:, ~points.held]
    volts, amps, speed, _ = turning
    top = int(np.argmax(held[1]))
    ohms = max(held[0, top] - USUAL_BRUSH_V, 0.4 * held[0, top]) / held[1, top]
    constant = np.maximum(volts - USUAL_BRUSH_V - amps * ohms, 0.2 * volts) / speed
    most = float(amps.max())
    series = float(np.median(constant / amps * (1.0 + _SATURATION_SHARE / most * amps)))
    drag = 0.05 * float(np.median(constant * amps))
    return [
        Unknown("constant", float(np.log(series)), 1.5),
        Unknown("resistance", float(np.log(ohms)), 1.5),
        Unknown("brush drop", USUAL_BRUSH_V, _BRUSH_SD, 0.0),
        *_drags(drag, drag, float(speed.max())),
        Unknown("saturation", _SATURATION_SHARE / most, 1.0 / most, 0.0),
    ]


def _series_starts(unknowns: list[Unknown], gains: int) -> list[FloatArray]:
    """The usual values with other saturations, the constant along with them; gain errors 0."""
    starts = []
    for share in _SATURATION_STARTS:
        start = np.array([unknown.usual for unknown in unknowns] + gains * [0.0])
        start[5] *= share / _SATURATION_SHARE
        start[0] += np.log((1.0 + share) / (1.0 + _SATURATION_SHARE))
        starts.append(start)
    return starts
