"""A data sheet's torque curve at one voltage → the motor's five numbers, by least squares."""

from __future__ import annotations

from itertools import pairwise
from math import pi
from typing import NamedTuple

import numpy as np

from ridesim.words import InputProblem, percent

Rows = tuple[tuple[float, float, float], ...]

_USUAL_BRUSH_V, _USUAL_BRUSH_SD = 1.0, 0.5
_USUAL_VISCOUS_SHARE, _USUAL_VISCOUS_SD = 0.5, 0.5
_READING = 0.01
"""How exactly a data sheet's rows are taken, as a share of its largest value; only weighs rows against usual values."""
COARSE = 0.05
"""Share of the largest torque or of the voltage by which a row may be missed without a word: common practice, no source."""
GROSS = 0.20
"""The same from which a curve is no motor's: common practice, no source."""
_MOST_BRUSH_V = 5.0
"""More than any pair of brushes drops (carbon about 2 V): what is left over when speeds are too small."""
_SLOW = 0.3
"""Share of the voltage that back EMF at the fastest row must reach; rad/s taken for rpm leaves a tenth of it."""


class CurveFit(NamedTuple):
    """The five numbers that fit a curve best, named as the motor's keys, and what they miss.

    Attributes
    ----------
    torque_constant_nm_per_a, resistance_ohm, brush_drop_v, friction_torque_nm, viscous_nm_per_rad_s : float
        K [N m/A], R [ohm], V_br [V], τ_f [N m], b [N m s/rad].
    worst_row : int
        The row that is missed most, from 1.
    misfit_share : float
        By what share of the curve's largest torque, or of its voltage.
    """

    torque_constant_nm_per_a: float
    resistance_ohm: float
    brush_drop_v: float
    friction_torque_nm: float
    viscous_nm_per_rad_s: float
    worst_row: int
    misfit_share: float


def fit_curve(rows: Rows, voltage: float, brush: float | None = None, viscous: float | None = None) -> CurveFit:
    """Least squares for K, R, V_br, τ_f, b from rows of speed, torque and current at one voltage.

    Parameters
    ----------
    rows : sequence of (rpm, N m, A)
        Two or more.
    voltage : float
        At the terminals, the same for all rows. [V]
    brush, viscous : float, optional
        Held at this value instead of fitted. [V], [N m s/rad]

    Returns
    -------
    CurveFit
        With the row that it misses most.

    Raises
    ------
    InputProblem
        Rows that no permanent-magnet motor gives; names the row, and the likely slip in units or columns.

    Notes
    -----
    V = K ω + I R + V_br and τ = K I - τ_f - b ω are linear in the five. At one voltage speed is a straight line in current,
    so the rows fix four combinations only: brush drop against K and R, and viscous drag against friction, are settled by
    usual values (V_br 1.0 ± 0.5 V; half the no-load drag viscous, ± half), as extra equations of little weight.
    """
    _check_rows(rows, voltage)
    rpm, torque, current = np.array(rows).T
    omega = rpm * pi / 30.0
    largest, fastest = max(float(torque.max()), 1e-9), max(float(omega.max()), 1e-9)
    volt_scale, torque_scale = _READING * voltage, _READING * largest
    brush_mean, brush_sd = (_USUAL_BRUSH_V, _USUAL_BRUSH_SD) if brush is None else (brush, 1e-9)
    constant_guess = max(1e-6, (voltage - brush_mean) / fastest)
    drag = constant_guess * float(current.min())
    slope = drag / fastest
    viscous_mean, viscous_sd = _USUAL_VISCOUS_SHARE * slope, _USUAL_VISCOUS_SD * slope
    if viscous is not None:
        viscous_mean, viscous_sd = viscous, 1e-9 * slope
    # Columns: K, R, V_br, τ_f, b; each scaled so that 1 is a sensible size.
    size = np.array([constant_guess, voltage / float(current.max()), 1.0, drag, slope])
    none, one = np.zeros(len(rows)), np.ones(len(rows))
    electric = np.column_stack([omega, current, one, none, none])
    mechanic = np.column_stack([current, none, none, -one, -omega])
    prior = np.array([[0.0, 0.0, 1.0 / brush_sd, 0.0, 0.0], [0.0, 0.0, 0.0, 0.0, 1.0 / viscous_sd]])
    matrix = np.vstack([electric / volt_scale, mechanic / torque_scale, prior]) * size
    usual = [brush_mean / brush_sd, viscous_mean / viscous_sd]
    target = np.concatenate([one * voltage / volt_scale, torque / torque_scale, usual])
    from scipy.optimize import lsq_linear  # slow to load, and only curves need it

    found = lsq_linear(matrix, target, bounds=(0.0, np.inf), tol=1e-14).x * size
    if found[0] <= 0.0 or found[1] <= 1e-9:
        raise InputProblem(
            "", "curve", "rows that no permanent-magnet motor gives",
            "[rpm, torque_nm, current_a]: speed falling as torque and current rise",
            "Are the columns in this order, and in these units?",
        )  # fmt: skip
    constant, resistance, drop, friction, viscous = found.tolist()
    misses = np.maximum(abs(voltage - electric @ found) / voltage, abs(torque - mechanic @ found) / largest)
    worst = int(misses.argmax())
    fit = CurveFit(constant, resistance, drop, friction, viscous, worst + 1, float(misses[worst]))
    _check_fit(fit, rows, voltage)
    return fit


def _check_rows(rows: Rows, voltage: float) -> None:
    """Refuse a curve that cannot be one: more power out than in, equal currents, current falling or speed rising with torque."""
    for number, (rpm, torque, current) in enumerate(rows, start=1):
        if rpm < 0.0 or torque < 0.0 or current <= 0.0:
            shown = f"[{rpm:g}, {torque:g}, {current:g}]"
            raise InputProblem("", f"curve[{number}]", shown, "speed and torque of 0 or more, current above 0")
        shaft, taken = rpm * pi / 30.0 * torque, voltage * current
        if shaft > taken:
            raise InputProblem(
                "", f"curve[{number}]", f"{shaft:.0f} W at the shaft from {taken:.0f} W at the terminals",
                "less power at the shaft than volts times amps, [rpm, torque_nm, current_a]",
                "Is the torque in N cm, oz in or lb in instead of N m, or are columns changed over?",
            )  # fmt: skip
    ordered = sorted(enumerate(rows, start=1), key=lambda item: item[1][1])
    for (a, low), (b, high) in pairwise(ordered):
        if high[1] > low[1] and high[2] <= low[2]:
            raise InputProblem(
                "", f"curve[{b}]", f"{high[2]:g} A for {high[1]:g} N m, no more than the {low[2]:g} A for {low[1]:g} N m of row {a}",
                "current rising with torque",
            )  # fmt: skip
        if high[1] > low[1] and high[0] > low[0]:
            raise InputProblem(
                "", f"curve[{b}]", f"{high[0]:g} rpm at {high[1]:g} N m, faster than the {low[0]:g} rpm at {low[1]:g} N m of row {a}",
                "speed falling as torque rises, all rows at one voltage",
            )  # fmt: skip
    if ordered[0][1][2] == ordered[-1][1][2]:
        raise InputProblem("", "curve", "rows at one current only", "rows from light load to heavy load")


def _check_fit(fit: CurveFit, rows: Rows, voltage: float) -> None:
    """Refuse rows that no motor's numbers meet: a slip in units or columns, not scatter."""
    row, share = fit.worst_row, fit.misfit_share
    if share <= GROSS and fit.brush_drop_v <= _MOST_BRUSH_V:
        return
    low, high = min(rows, key=lambda each: each[2]), max(rows, key=lambda each: each[2])
    per_ampere = (high[1] - low[1]) / (high[2] - low[2])
    fastest = max(range(len(rows)), key=lambda each: rows[each][0])
    # The torque's slope is the constant; it must account for most of the volts at the fastest row too.
    slow = 0.0 < per_ampere * rows[fastest][0] * pi / 30.0 < _SLOW * voltage
    if share <= GROSS:
        row = fastest + 1
        what = f"whose speed leaves {fit.brush_drop_v:.1f} V to the brushes"
    else:
        what = f"which the fitted motor misses by {percent(share)}"
    raise InputProblem(
        "", f"curve[{row}]", f"[{', '.join(f'{value:g}' for value in rows[row - 1])}], {what}",
        f"rows of one permanent-magnet motor at {voltage:g} V, [rpm, torque_nm, current_a]",
        "Are the speeds in rad/s or in hundreds of rpm instead of rpm?" if slow
        else "Is the torque in another unit than N m, or are columns changed over?",
    )  # fmt: skip
