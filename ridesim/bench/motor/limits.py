"""What no motor that gave these readings can exceed: highest values of a spin test's numbers, whatever the fit says."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.motor.log import SpinLog
from ridesim.bench.motor.model import (
    BRUSH,
    CHAIN,
    FRICTION,
    LOG_K,
    LOG_R,
    VISCOUS,
    Points,
    gain_sds,
    magnet_coefficient,
)
from ridesim.physics.motor import warm_constant, warm_resistance

FloatArray = NDArray[np.float64]
_SURE = 3.0
"""Standard deviations that a reading is taken to be off at most, to the side that lets the number be larger."""


def highest(points: Points, log: SpinLog, size: int) -> FloatArray:
    """Highest possible parameters: ln K20, ln R20, brush drop, friction, viscous drag[, chain drag].

    Parameters
    ----------
    points : Points
        The measurements, with the standard deviations that their scatter asks for.
    log : SpinLog
        Room, magnets, meters.
    size : int
        Number of parameters.

    Returns
    -------
    ndarray, shape (size,)
        Infinite where no reading bounds a number.

    Notes
    -----
    V = K ω + I R + V_br and K I = τ_f + b ω + τ_chain + τ_load with no term below 0, so that no term is more than the sum:
    K <= V/ω, R <= V/I, V_br <= V, τ_f <= K I - τ_load, b <= (K I - τ_load)/ω, each in every row.
    """
    volts, amps, speed, torque = (
        np.stack([value - off, value + off]) for value, off in zip(points[1:5], _off(points, log), strict=True)
    )  # lowest, highest
    closed, turning = ~points.opened, points.turning
    chained = turning & points.chained
    constant = _least(volts[1], speed[0], speed[0] > 0.0)
    drag = constant * amps[1] - np.maximum(torque[0], 0.0)
    warm = np.array([
        warm_constant(1.0, magnet_coefficient(log.magnet), log.room_c), warm_resistance(1.0, log.room_c),
    ])  # fmt: skip
    found = np.full(CHAIN + 1, np.inf)
    found[[LOG_K, LOG_R]] = np.log(np.array([constant, _least(volts[1], amps[0], closed & (amps[0] > 0.0))]) / warm)
    found[BRUSH] = _least(volts[1], np.ones_like(speed[0]), closed)
    found[FRICTION] = _least(drag, np.ones_like(drag), turning)
    found[VISCOUS] = _least(drag, speed[0], turning & (speed[0] > 0.0))
    found[CHAIN] = _least(drag, np.ones_like(drag), chained)
    found[FRICTION:] = np.maximum(found[FRICTION:], 0.0)
    return found[:size]


def _off(points: Points, log: SpinLog) -> tuple[FloatArray, ...]:
    """How far each reading may be off: volts, amps, speed, torque."""
    own = (points.voltage_sd, points.current_sd, points.speed_sd, points.torque_sd)
    return tuple(
        _SURE * np.hypot(sd, gain * value)
        for sd, gain, value in zip(own, gain_sds(log.meter), points[1:5], strict=True)
    )


def _least(above: FloatArray, below: FloatArray, where: NDArray[np.bool_]) -> float:
    return float(np.min(above[where] / below[where])) if where.any() else float("inf")
