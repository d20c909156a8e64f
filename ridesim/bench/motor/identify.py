"""From a motor's bench log to its numbers for a build, each with what is known of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import Any

import numpy as np

from ridesim.bench.estimate import CONTRADICTION, Estimate, FloatArray, estimate, least_agreeing, most_likely
from ridesim.bench.motor import remarks
from ridesim.bench.motor.checks import check, contradicting
from ridesim.bench.motor.log import RPM, MotorLog
from ridesim.bench.motor.model import MotorModel, Points
from ridesim.bench.motor.priors import model_of
from ridesim.forms import limits_of
from ridesim.ride.steady.many import Motors
from ridesim.vehicle import Motor
from ridesim.vehicle.motor_read_off import READ_OFF
from ridesim.words import Finding, Uncertain, need_number

_KEYS = {
    "torque_constant_nm_per_a": "constant", "series_constant_nm_per_a2": "series", "saturation_current_a": "saturation",
    "resistance_ohm": "resistance", "brush_drop_v": "brush", "friction_torque_nm": "friction", "viscous_nm_per_rad_s": "viscous",
}  # fmt: skip
"""Keys of a build's [motor], and the motor's numbers behind them."""
_UNKNOWNS = {"brush": "brush drop", "friction": "friction", "viscous": "viscous drag"}
"""Numbers of the motor that are unknowns of the estimate themselves, 0 at least."""
_NOT_OF = {
    "permanent-magnet": ("series_constant_nm_per_a2", "saturation_current_a"),
    "series-wound": ("torque_constant_nm_per_a",),
}
WEAK = 0.1
"""Correlations nearer to 0 are left out of a build."""
_UNSATURATED_A = 10_000.0
"""Saturation current that a build gets where no saturation was seen, far above any current. [A]"""


@dataclass(frozen=True, slots=True)
class Residual:
    """How far one row lies off.

    Attributes
    ----------
    row : str
        Row of the log.
    voltage_v : float
        Measured less modelled terminal voltage. [V]
    voltage_sds, torque_sds : float
        Residuals over what the meters explain; NaN where the row's torque is not known.
    """

    row: str
    voltage_v: float
    voltage_sds: float
    torque_sds: float


@dataclass(frozen=True, eq=False)
class MotorResult:
    """What a bench log says about a motor.

    Attributes
    ----------
    log : MotorLog
    model : MotorModel
        The equations of its rows.
    estimate : Estimate
        Most likely unknowns, and draws.
    """

    log: MotorLog
    model: MotorModel
    estimate: Estimate

    @property
    def points(self) -> Points:
        """The rows side by side, SI."""
        return self.model.points

    @cached_property
    def best(self) -> Motors:
        """The most likely motor."""
        return self.model.motors(self.estimate.best[None, :])

    def number(self, name: str) -> float:
        """A number of the most likely motor, such as ``"brush"``."""
        return float(getattr(self.best, name)[0])

    @cached_property
    def values(self) -> dict[str, Uncertain]:
        """The motor's numbers by their key in a build, with 90 % bands."""
        return {key: self._band(name) for key, name in _KEYS.items() if key not in _NOT_OF[self.log.kind]}

    def _band(self, name: str) -> Uncertain:
        if name in _UNKNOWNS:
            return self.estimate.band_of(_UNKNOWNS[name])
        return self.estimate.band(lambda draws: getattr(self.model.motors(draws), name))

    @cached_property
    def chain_torque_nm(self) -> Uncertain | None:
        """Drag of chain and lifted wheel, seen at the motor's shaft; None where the log does not part it. [N m]"""
        return self.estimate.band_of("chain drag") if "chain drag" in self.estimate.place else None

    def torque_at(self, current_a: float) -> Uncertain:
        """Torque before friction at a current: far better known than constant and saturation apart. [N m]

        Raises
        ------
        InputProblem
            No number, below 0 or above 10 000 A.
        """
        need_number("the torque", "current_a", current_a, 0.0, 1e4, "A")
        return self.estimate.band(lambda draws: self.model.motors(draws).constant_at(current_a) * current_a)

    def unloaded_rpm(self, voltage_v: float) -> Uncertain:
        """Speed of the free shaft at a voltage, held back by the motor's own drag alone. [turns a minute]

        A series-wound motor must never reach it; it is infinite where the rows show no drag.

        Raises
        ------
        InputProblem
            No number, 0 or below, or above 500 V.
        """
        need_number("the unloaded speed", "voltage_v", voltage_v, 0.0, 500.0, "V", above=True)
        band = self.estimate.band(lambda draws: self.model.motors(draws).unloaded_speed(voltage_v) / RPM)
        return Uncertain(band.value, band.low, float("inf")) if self.drag_may_be_nothing else band

    @property
    def drag_may_be_nothing(self) -> bool:
        """Whether the rows do not exclude a series-wound motor without drag: its unloaded speed then has no end."""
        drags = [self.values[key].low for key in ("friction_torque_nm", "viscous_nm_per_rad_s")]
        return self.log.series_wound and max(drags) == 0.0

    @cached_property
    def residuals(self) -> tuple[Residual, ...]:
        """One a row of the log."""
        points, best = self.points, self.estimate.best[None, :]
        sds, off = self.model.residuals(best)[0], self.model.misfits(best, points)[0][0]
        count = len(points.names)
        torque = np.full(count, np.nan)
        torque[points.balanced] = sds[count:]
        rows = zip(points.names, off, sds[:count], torque, strict=True)
        return tuple(Residual(name, *(float(each) for each in rest)) for name, *rest in rows)

    @cached_property
    def not_told(self) -> tuple[str, ...]:
        """Sentences: what the rows cannot tell, and what was taken instead."""
        return tuple(remarks.not_told(self))

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What to watch about this test and this motor."""
        return tuple(remarks.findings(self))

    def motor_keys(self) -> dict[str, Any]:
        """Keys for the [motor] section of a build."""
        values = {key: min(band.value, _UNSATURATED_A) for key, band in self.values.items()}
        keys = {"kind": self.log.kind, **{key: float(f"{value:.6g}") for key, value in values.items()}}
        return keys if self.log.series_wound else {**keys, "magnet": self.log.magnet}

    def motor(self, like: Motor) -> Motor:
        """The identified motor with nameplate, mass and heat of another description.

        Parameters
        ----------
        like : Motor
            Where the numbers that a bench test does not give come from.
        """
        read_off = set(READ_OFF) - {
            "rated_current_a"
        }  # what the label says the motor bears stays; the rest the bench knows better
        replaced = {"curve", "curve_voltage_v", "magnet", "correlations", *read_off, *_KEYS}
        kept = {name: getattr(like, name) for name in like.model_fields_set if name not in replaced}
        motor = Motor.model_validate({**kept, **self.motor_keys(), "correlations": self.correlations() or None})
        widths = {name: width for name, width in like.stated_widths.items() if name in kept}
        return motor.with_widths({**widths, **self._widths(motor)})

    def _widths(self, motor: Motor) -> dict[str, Uncertain]:
        """The bands about the values that a build gets, within the limits of their keys."""
        widths = {}
        for key, band in self.values.items():
            value, (least, most) = getattr(motor, key), limits_of(Motor.model_fields[key])
            low, high = (float(f"{min(max(end, least), most):.4g}") for end in (band.low, band.high))
            widths[key] = Uncertain(value, min(low, value), max(high, value))
        return {key: width for key, width in widths.items() if width.low < width.high}

    def correlations(self) -> list[tuple[str, str, float]]:
        """How the motor's numbers hang together: correlation of their normal scores over the draws, weak ones left out.

        Notes
        -----
        Scores by rank: the draws are put back together with any widths by a Gaussian copula (Nelsen, An Introduction to Copulas,
        from memory).
        """
        from scipy.stats import norm, rankdata  # a second to load, and only a motor that is saved needs it

        keys = [key for key, band in self.values.items() if band.low < band.high]
        motors = self.model.motors(self.estimate.draws)
        columns = np.array([getattr(motors, _KEYS[key]) for key in keys])
        with np.errstate(invalid="ignore"):
            tied = np.corrcoef(norm.ppf((rankdata(columns, axis=1) - 0.5) / columns.shape[1]))
        return [
            (keys[one], keys[other], round(float(tied[one, other]), 3))
            for one, other in combinations(range(len(keys)), 2)
            if abs(tied[one, other]) >= WEAK
        ]


def identify_motor(log: MotorLog, file: str = "the bench log") -> MotorResult:
    """The motor behind a bench log.

    Parameters
    ----------
    log : MotorLog
        Kind test, free spins (never of a series-wound motor), held rotor, brakings, as typed.
    file : str
        What messages call the log.

    Returns
    -------
    MotorResult
        The motor's numbers with 90 % bands, residuals, what cannot be told.

    Raises
    ------
    InputProblem
        A motor of the other kind, too few rows, or rows that cannot be right; names the row.
    TypeError
        No log.

    Notes
    -----
    Total least squares (:meth:`ridesim.bench.motor.model.MotorModel.residuals`) with the meters' accuracy as one standard deviation
    of each reading and weak priors (:mod:`ridesim.bench.motor.priors`); bands from draws (:mod:`ridesim.bench.estimate`).

    Examples
    --------
    >>> import ridesim
    >>> motor = ridesim.identify_motor(ridesim.load_log("heron_motor_bench"))
    >>> band = motor.values["torque_constant_nm_per_a"]
    >>> 0.09 < band.low < band.value < band.high < 0.12
    True
    """
    if not isinstance(log, MotorLog):
        raise TypeError(f"a MotorLog is expected, as load_log reads it, not {log!r}")
    check(log, file)
    model, starts = model_of(log)
    found = estimate(model.residuals, model.unknowns, starts)
    if found.fit.chance < CONTRADICTION:
        raise _contradiction(model, starts, found.fit.misfit, file)
    return MotorResult(log, model, found)


def _contradiction(model: MotorModel, starts: list[FloatArray], misfit: float, file: str) -> Exception:
    """The refusal, with the row without which the others agree best."""
    ease = []
    for index in range(len(model.points.names)):
        rest = model.points.without(index)
        again = most_likely(lambda draws, rest=rest: model.residuals(draws, rest), model.unknowns, starts)  # type: ignore[misc]
        ease.append(again.misfit)
    rows = [model.points.names[place] for place in least_agreeing(ease)]
    return contradicting(rows, misfit, model.log.series_wound, file)
