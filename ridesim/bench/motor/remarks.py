"""What a spin test's result says in words: what cannot be told apart, what to watch."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from ridesim.bench.motor.checks import first_voltage, straight_across
from ridesim.bench.motor.model import BRUSH, CHAIN, FRICTION, LOG_R, NAMES, VISCOUS
from ridesim.words import Finding

if TYPE_CHECKING:
    from ridesim.bench.motor.permanent_magnet import SpinResult

FIRST_SPIN_V = 6.0
SILENT = 0.7
"""Own spread over the usual values' spread above which the data have said next to nothing."""
_SMALL = 0.02
"""N m/A below which a motor for a vehicle is more likely a series-wound one running free: common practice, no source."""
_LARGE_SHARE = 0.15
"""No-load current over the held current at one voltage above which the held volts are in doubt: common practice, no source."""
_TIED = 0.95
"""Correlation above which two numbers are known only together."""

BRUSH_NOT_TOLD = "Brush drop: not told by your points; 1.0 ± 0.6 V is the usual range and is used."

_PARTS = {
    (LOG_R, BRUSH): "Held-rotor points at currents further apart (2 A and 9 A) part them.",
    (FRICTION, VISCOUS): "Free spins at voltages further apart part them.",
}


def separation_text(result: SpinResult) -> tuple[str, ...]:
    """Sentences about what the data cannot separate, and what was taken instead."""
    said = []
    if result.shares[LOG_R] > SILENT:
        said.append(
            "Resistance: your points say next to nothing about it; the value is only a usual one (no-load current about 3 % of "
            "the held current). One held-rotor point settles it."
        )
    elif not (result.log.locked or result.log.load):
        said.append(
            "Resistance: no held rotor and no brake; free spins hardly load a motor, so it hangs on small differences between them. "
            "Its band holds but is wide, and so is that of the held torque; believe no value within it. One held-rotor point settles it."
        )
    if result.shares[BRUSH] > SILENT:
        said.append(BRUSH_NOT_TOLD)
    if result.shares[VISCOUS] > SILENT:
        said.append(
            "Friction and viscous drag: not told apart by your points (one speed, or speeds too close); 30 % of the drag is "
            "taken as growing with speed, as is usual. Spin it at a second, higher voltage."
        )
    if result.points.chained.any() and len(result.best) <= CHAIN:
        said.append(
            "Motor drag and chain and wheel drag: not told apart, because chain and wheel turned in every row; friction holds both. "
            "Spin it once with the chain off."
        )
    spread = np.sqrt(np.diag(result.covariance))
    tied = result.covariance / np.outer(spread, spread)
    for one in range(len(spread)):
        for other in range(one + 1, len(spread)):
            silent = max(result.shares[one], result.shares[other]) > SILENT
            if abs(tied[one, other]) > _TIED and not silent:
                said.append(
                    f"{NAMES[one].capitalize()} and {NAMES[other]}: partly told apart only; what one gains the other "
                    f"{'gains too' if tied[one, other] > 0.0 else 'loses'}. {_PARTS.get((one, other), 'Points further apart part them.')}"
                )
    return tuple(said)


def scattering(widening: float, worst: str, hint: str) -> Finding:
    """Points that scatter more than the meters explain, but not so much that they are refused."""
    return Finding(
        "points-scatter", "warning",
        f"The points scatter {widening:.1f} times more than the meters explain, {worst} the most; all bands are wider for that. {hint}",
        {"widening": widening},
    )  # fmt: skip


def findings_for(result: SpinResult) -> Iterator[Finding]:
    """What to watch about the test that was made."""
    log = result.log
    volts = first_voltage(log)
    if volts > 1.08 * FIRST_SPIN_V:
        yield Finding(
            "first-spin-high", "warning",
            f"The first spin was at {volts:.1f} V. Start an unknown motor at {FIRST_SPIN_V:g} V or less, clamped, wheel clear: if "
            "it is not what you think, it tells you gently.",
            {"voltage_v": volts},
        )  # fmt: skip
    for number, row in straight_across(log):
        yield Finding(
            "held-current-high", "warning",
            f"locked[{number}] put {row.current_a:.0f} A through a held rotor. A 12 V 55 W lamp in series keeps it to about 4 A; "
            "straight across a block, over 100 A can flow, melt a lead and burn a groove into the commutator.",
            {"current_a": row.current_a},
        )  # fmt: skip
    spin = max(log.no_load, key=lambda row: row.voltage_v)
    share = spin.current_a * result.resistance_ohm.value / spin.voltage_v
    if log.locked and share > _LARGE_SHARE:
        yield Finding(
            "held-volts-high", "warning",
            f"Spinning free it draws {100.0 * share:.0f} % of what it would draw held, unusually much (1 to 8 % is usual): are the volts of the "
            "held rotor measured at the motor's terminals, not at the battery or over the lamp?",
            {"share": share},
        )  # fmt: skip
    if result.widening > 1.0:
        worst = max(result.residuals, key=lambda each: np.nanmax(np.abs([each.voltage_sds, each.torque_sds])))
        yield scattering(result.widening, worst.row, "Repeat that point.")
    for place, name in ((BRUSH, "brush drop"), (FRICTION, "friction"), (VISCOUS, "viscous drag")):
        if result.free.values[place] < 0.0:
            yield Finding(
                "at-zero", "advice",
                f"The points alone would make the {name} slightly negative, which cannot be: it is set to 0.",
                {},
            )  # fmt: skip
    constant = result.torque_constant_nm_per_a.value
    if constant < _SMALL:
        yield Finding(
            "constant-unusual", "warning",
            f"A torque constant of {constant:.2g} N m/A is unusually low (a 24 V motor of a few hundred watts has 0.05 to 0.3): is it "
            "series-wound? Then stop: without load it speeds up until it flies apart. Look for magnets in the housing before it runs "
            "again, and whether the speed is really in turns a minute.",
            {"torque_constant_nm_per_a": constant},
        )  # fmt: skip
    if constant > 1.0:
        yield Finding(
            "constant-unusual", "warning",
            f"A torque constant of {constant:.2g} N m/A is unusually high (a 24 V motor of a few hundred watts has 0.05 to 0.3): is the "
            "speed really in turns a minute, and counted where the log says?",
            {"torque_constant_nm_per_a": constant},
        )  # fmt: skip
