"""What a motor's bench test says in words: what the rows do not tell, what to watch."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from ridesim.bench.motor.log import NEVER_UNLOADED
from ridesim.words import Finding

if TYPE_CHECKING:
    from ridesim.bench.motor.identify import MotorResult

FIRST_SPIN_V = 6.0
_MOST_HELD_A = 20.0
"""More current than a lamp in series lets through a held rotor: common practice, no source."""
_SMALL, _LARGE = 0.02, 1.0
"""N m/A below which a motor for a vehicle is more likely a series-wound one running free, and above which the speed is in doubt:
common practice, no source."""
_NEARLY_FREE = 0.2
"""Share of the heaviest row's current below which a series-wound motor is nearly unloaded: common practice, no source."""
_TIED = 0.95
"""Correlation above which two numbers are known only together."""
_PARTED_BY = {
    ("resistance", "brush drop"): "Held rows at currents further apart (2 A and 9 A) part them.",
    ("friction", "viscous drag"): "Rows at speeds further apart part them.",
    ("constant", "saturation"): "The torque at the measured currents is well known, either number alone is not.",
}


def not_told(result: MotorResult) -> Iterator[str]:
    """Sentences about what the rows cannot tell, and what was taken instead."""
    yield from _not_told_of_series(result) if result.log.series_wound else _not_told_of_magnets(result)
    if result.estimate.silent("brush drop"):
        yield "Brush drop: not told by your points; 1.0 ± 0.6 V is the usual range and is used."
    yield from _tied(result)


def _not_told_of_magnets(result: MotorResult) -> Iterator[str]:
    log, silent = result.log, result.estimate.silent
    if silent("resistance"):
        yield (
            "Resistance: your points say next to nothing about it; the value is only a usual one (free current about 3 % of the held "
            "current). One held row settles it."
        )
    elif not (log.held or log.braked):
        yield (
            "Resistance: no held rotor and no brake; free spins hardly load a motor, so it hangs on small differences between them. "
            "Its band holds but is wide, and so is that of the held torque; believe no value within it. One held row settles it."
        )
    if silent("viscous drag"):
        yield (
            "Friction and viscous drag: not told apart by your points (one speed, or speeds too close); 30 % of the drag is "
            "taken as growing with speed, as is usual. Spin it at a second, higher voltage."
        )
    if result.points.chained.any() and result.chain_torque_nm is None:
        yield (
            "Motor drag and chain and wheel drag: not told apart, because chain and wheel turned in every row; friction holds both. "
            "Spin it once with the chain off."
        )


def _not_told_of_series(result: MotorResult) -> Iterator[str]:
    silent, balanced = result.estimate.silent, result.points.balanced.any()
    if not balanced:
        yield (
            "Friction and viscous drag: no torque was measured, so your points say nothing about them; 5 % of the torque is taken. "
            "One row with a brake of known torque settles their sum."
        )
    elif silent("friction"):
        yield "Friction: hidden under the brake's own error; 5 % of the torque is the usual value and is used."
    if balanced and silent("viscous drag"):
        yield "Friction and viscous drag: not told apart by your points; 30 % of the drag is taken as growing with speed."
    if silent("saturation"):
        yield (
            "Saturation: your currents lie too close together or too low to show it. The torque between them is known, beyond them it "
            "is a guess: take a row at a higher current."
        )


def _tied(result: MotorResult) -> Iterator[str]:
    """Pairs of numbers that are known only together."""
    estimate = result.estimate
    spread = np.sqrt(np.diag(estimate.fit.covariance))
    correlation = estimate.fit.covariance / np.outer(spread, spread)
    for one, other in combinations((name for name in estimate.place if not name.endswith("gain")), 2):
        tie = correlation[estimate.place[one], estimate.place[other]]
        if abs(tie) > _TIED and not (estimate.silent(one) or estimate.silent(other)):
            way = "gains too" if tie > 0.0 else "loses"
            parted = _PARTED_BY.get((one, other), "Points further apart part them.")
            yield f"{one.capitalize()} and {other}: partly told apart only; what one gains the other {way}. {parted}"


def findings(result: MotorResult) -> Iterator[Finding]:
    """What to watch about the test that was made and the motor it shows."""
    for place, row in result.log.rows("held"):
        if row.current_a > _MOST_HELD_A:
            yield Finding(
                "held-current-high", "warning",
                f"{place} put {row.current_a:.0f} A through a held rotor. A 12 V 55 W lamp in series keeps it to about 4 A; "
                "straight across a block, over 100 A can flow, melt a lead and burn a groove into the commutator.",
                {"current_a": row.current_a},
            )  # fmt: skip
    yield from _series_findings(result) if result.log.series_wound else _magnet_findings(result)
    if result.estimate.scatter > 1.0:
        worst = max(result.residuals, key=lambda each: np.nanmax(np.abs([each.voltage_sds, each.torque_sds])))
        yield Finding(
            "points-scatter", "warning",
            f"The points scatter {result.estimate.scatter:.1f} times more than the meters explain, {worst.row} the most; all bands are "
            "wider for that. Repeat that row. A winding that warmed from row to row does this: let it cool.",
            {"scatter": result.estimate.scatter},
        )  # fmt: skip


def _magnet_findings(result: MotorResult) -> Iterator[Finding]:
    volts = result.log.free_spin[0].voltage_v
    if volts > 1.08 * FIRST_SPIN_V:
        yield Finding(
            "first-spin-high", "warning",
            f"The first spin was at {volts:.1f} V. Start an unknown motor at {FIRST_SPIN_V:g} V or less, clamped, wheel clear: if "
            "it is not what you think, it tells you gently.",
            {"voltage_v": volts},
        )  # fmt: skip
    constant = result.number("constant")
    if not _SMALL <= constant <= _LARGE:
        series = (
            " Is it series-wound? Then stop: without load it speeds up until it flies apart. Look for magnets in the housing before it "
            "runs again."
        )
        yield Finding(
            "constant-unusual", "warning",
            f"A torque constant of {constant:.2g} N m/A is unusual (a 24 V motor of a few hundred watts has 0.05 to 0.3): is the speed "
            f"really in turns a minute, and counted where the log says?{series if constant < _SMALL else ''}",
            {"torque_constant_nm_per_a": constant},
        )  # fmt: skip


def _series_findings(result: MotorResult) -> Iterator[Finding]:
    volts = max(row.voltage_v for row in result.log.braked)
    rpm = result.unloaded_rpm(volts).value
    turns = f"about {rpm:.0f} turns a minute" if np.isfinite(rpm) else "a speed without limit"
    yield Finding(
        "runs-away-unloaded", "warning",
        f"Unloaded at {volts:.0f} V this motor would reach {turns}. {NEVER_UNLOADED} A chain that breaks unloads it too: fit a cut-out switch "
        "within reach and a guard around motor and chain.",
        {"voltage_v": volts, "unloaded_rpm": rpm},
    )  # fmt: skip
    heaviest = result.log.currents_braked[1]
    for place, row in result.log.rows("braked"):
        if row.current_a < _NEARLY_FREE * heaviest:
            yield Finding(
                "nearly-unloaded", "warning",
                f"{place} drew only {row.current_a:g} A: nearly unloaded, close to running away. Do not go lower.",
                {"current_a": row.current_a},
            )  # fmt: skip
