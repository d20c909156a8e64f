"""Resistance of the full block at 25 °C, and the slow part of its sag, from all steps of the current together.

The slow part is the polarisation's, taken by rule from the resistance, and that of activation (ridesim/physics/MODEL.md, 5.11), which is
by far the larger at a lamp's current: so activation is what a test with lamps can tell.
"""

from __future__ import annotations

import numpy as np

from ridesim.bench.discharge.log import FloatArray
from ridesim.bench.discharge.measured import Discharge, Told, band_of
from ridesim.bench.discharge.steps import Step, find_steps
from ridesim.bench.estimate import DRAWS
from ridesim.forms import usual_width, value_at_score
from ridesim.physics.pack import resistance_factor
from ridesim.ride.core.pack import ACTIVATION_PER_H
from ridesim.vehicle import Chemistry
from ridesim.vehicle.widths import WIDTHS
from ridesim.words import Uncertain

MOST_DOUBT = 0.75
"""A resistance in doubt by more than this share is not determined."""
ALIKE = 0.03
"""Steps of one block differ by this share whatever the readings say: the growth towards empty is the usual one, not measured."""
LEAST_WEIGHT = 0.05
"""Weight of a step in an empty block, where the growth of resistance is least sure, over that in a full one."""
MOST_GIVEN = 0.75
"""Later than this in a discharge the voltage bends down for other reasons, and a step does not tell the slow part. [share]"""
FEWEST_ROWS = 12
"""Fewer rows than this after a step do not tell the slow part."""
ROWS_IN_A_TIME = 4.0
"""With fewer rows than this within one time constant, the slow part is not told from the resistance."""
ALSO_FINE = 2.0
"""Steps with rows further apart than this many times the closest do not help to tell the slow part."""
TIMES = 60
"""Time constants tried."""


def resistances(
    tests: list[Discharge],
    whole: float,
    kind: Chemistry,
    cold: float,
    cells: int,
    rated_ah: float,
    told: Told,
    rng: np.random.Generator,
) -> tuple[Uncertain | None, Uncertain | None, Uncertain | None]:
    """Resistance, activation's volts a cell, and the slow part's time constant; None for what the steps do not tell.

    Parameters
    ----------
    tests : list of Discharge
        Their logs, and their meters' draws.
    whole : float
        Capacity of the block as it was. [Ah]
    kind : Chemistry
        Gives the growth of resistance towards empty and the usual slow part.
    cold : float
        Resistance at the test's temperature over that at 25 °C.
    cells : int
        In series in the block.
    rated_ah : float
        The label's ampere-hours, or the block's own.
    told : Told
        Takes what is said about them.
    rng : Generator
        Draws the readings' scatter.
    """
    steps, why = _usable(tests, told, rng)
    if not steps:
        told.undetermined += [
            f"Resistance: {why} Switch the lamp off for ten minutes once, near the start.",
            f"Slow part: {why} Rows every few seconds for ten minutes after switching tell it.",
        ]
        return None, None, None
    well_charged = [step for step in steps if step.charge_ah <= MOST_GIVEN * whole and len(step.since_s) >= FEWEST_ROWS]
    slow = _slow_part(well_charged, rng)
    if slow is not None:
        steps, values, volts, time = slow
    else:
        values = _less_the_usual_slow_part(steps, kind, cells, rated_ah, rng)
        told.undetermined.append(
            "Slow part: no stretch after a step is long and close enough to tell the slow part from the resistance. Rows every few "
            "seconds for ten minutes after switching tell it."
        )
    charge = np.array([max(0.0, 1.0 - step.charge_ah / whole) for step in steps])
    growth = cold * np.array([[resistance_factor(z, kind.resistance_rise)] for z in charge])
    size = np.array([abs(step.change_a[0]) for step in steps]) * np.maximum(LEAST_WEIGHT, charge)
    drawn = _together(values / growth, size, _choices(len(steps), rng))
    resistance = _resistance(drawn, slow is None, told)
    if slow is None:
        return resistance, None, None
    step_a = np.array([abs(step.change_a[0]) for step in steps])[:, None]
    settled = volts - kind.polarisation_share * values * step_a
    scales = settled / (cells * np.arcsinh(step_a / (ACTIVATION_PER_H * rated_ah)))
    scale = np.maximum(0.0, _together(scales, np.ones(len(steps)), _choices(len(steps), rng)))
    return resistance, band_of(scale), band_of(time)


def _usable(tests: list[Discharge], told: Told, rng: np.random.Generator) -> tuple[list[Step], str]:
    """Steps whose voltage follows the current; and why there are none."""
    used: list[Step] = []
    why = "the current never steps with rows enough on both sides."
    for test in tests:
        for step in find_steps(test.log, test.gain, rng):
            if step.resistance_ohm[0] > 0.0:
                used.append(step)
                continue
            told.remarks.append(
                f"{test.log.name}: line {step.line}: the voltage does not follow the current, as if the resistance were negative; "
                "this step is left out."
            )
            why = "the voltage goes the wrong way wherever the current steps. A loose clamp?"
    return used, why


def _slow_part(
    steps: list[Step], rng: np.random.Generator
) -> tuple[list[Step], FloatArray, FloatArray, FloatArray] | None:
    """Steps, their resistances and settled slow volts, and one time constant for all; None where the slow part is not told.

    For each τ the fits are linear. The best τ lies at the bottom of a parabola through the three smallest sums of squares.
    """
    if not steps:
        return None
    finest = min(step.interval_s for step in steps)
    steps = [step for step in steps if step.interval_s <= ALSO_FINE * finest]
    rows = max(step.interval_s for step in steps)
    longest = max(float(step.since_s[-1]) for step in steps) / 2.5
    if longest <= 2.0 * ROWS_IN_A_TIME * rows:
        return None
    times = np.geomspace(rows, longest, TIMES)
    choice, every = _choices(len(steps), rng), np.arange(DRAWS + 1)
    fits = [step.fits(times) for step in steps]
    error = sum(
        chosen * errors / (step.sigma_v**2 + 1e-12)
        for chosen, (errors, _), step in zip(choice, fits, steps, strict=True)
    )
    best = np.clip(np.argmin(error, axis=0), 1, TIMES - 2)
    left, bottom, right = (error[best + side, every] for side in (-1, 0, 1))
    place = best + np.clip(0.5 * (left - right) / np.maximum(left - 2.0 * bottom + right, 1e-300), -1.0, 1.0)
    low = np.minimum(place.astype(int), TIMES - 2)
    constant = times[0] * (times[1] / times[0]) ** place
    values, volts = [], []
    for step, (_, table) in zip(steps, fits, strict=True):
        below, above = table[low, :, every], table[low + 1, :, every]
        level, slope, height = (below + (place - low)[:, None] * (above - below)).T
        height = height * np.exp(-step.shift_s / constant)
        values.append((step.before_v - level - slope * step.shift_s - height) / step.change_a)
        signed = height / np.maximum(0.1, 1.0 - np.exp(-step.lasted_s / constant))
        volts.append(signed * np.sign(step.change_a))
    told = band_of(constant)
    if (
        band_of(_together(np.array(volts), np.ones(len(steps)), choice)).low <= 0.0
        or told.low < ROWS_IN_A_TIME * rows
        or told.high > 0.99 * longest
    ):
        return None
    return steps, np.array(values), np.array(volts), constant


def _less_the_usual_slow_part(
    steps: list[Step], kind: Chemistry, cells: int, rated_ah: float, rng: np.random.Generator
) -> FloatArray:
    """The steps' resistances where the rows do not tell the slow part: what the usual one adds to them is taken off. [ohm]

    Of what is read, R + s (p R + A/I), with s the share of the slow part that has come by the rows after the switch, p the usual
    polarisation's share of R, and A the usual activation (ridesim/physics/MODEL.md, 5.11) under the step's current I.
    """
    share, volts, time = (
        _usual(key, likely, rng)
        for key, likely in (
            ("pack.polarisation_resistance_ohm", kind.polarisation_share),
            ("pack.activation_v_per_cell", kind.activation_v_per_cell),
            ("pack.polarisation_time_s", kind.polarisation_time_s),
        )
    )
    values = []
    for step in steps:
        seen, size = step.seen_of_slow(time), np.abs(step.change_a)
        activation = cells * volts * np.arcsinh(size / (ACTIVATION_PER_H * rated_ah)) / size
        values.append((step.resistance_ohm - seen * activation) / (1.0 + seen * share))
    return np.array(values)


def _usual(key: str, likely: float, rng: np.random.Generator) -> FloatArray:
    """The default of a key and draws of how unsure it is; as it is where it leaves nothing open."""
    width = usual_width(WIDTHS[key].default, likely)
    score = np.append(0.0, rng.standard_normal(DRAWS))
    return np.full(1 + DRAWS, likely) if width is None else value_at_score(width, score)


def _resistance(drawn: FloatArray, less_usual: bool, told: Told) -> Uncertain | None:
    """The band, or why there is none."""
    band = band_of(drawn)
    if band.high - band.low >= 2.0 * MOST_DOUBT * band.value:
        told.undetermined.append(
            f"Resistance: the readings leave {1000.0 * max(0.0, band.low):.3g} to {1000.0 * max(0.0, band.high):.3g} mohm. "
            "A larger step of the current, or rows closer together, tell it."
        )
        return None
    if less_usual:
        told.remarks.append(
            "Resistance less the usual slow part: the rows do not tell the two apart; what is usual for this chemistry is taken off, "
            "and the band holds how unsure that is."
        )
    return band


def _choices(count: int, rng: np.random.Generator) -> FloatArray:
    """How often each draw takes each step, so that what the steps differ by shows in the bands; the first takes each once."""
    drawn = rng.multinomial(count, np.full(count, 1.0 / count), size=DRAWS).T
    return np.column_stack([np.ones(count), drawn]).astype(float)


def _together(values: FloatArray, size: FloatArray, choice: FloatArray) -> FloatArray:
    """Mean of the steps, draw by draw: large steps and those that the draws move little count most."""
    spread = np.var(values[:, 1:], axis=1) + (ALIKE * values[:, 0]) ** 2
    weight = (size / spread)[:, None] * choice
    return np.asarray(np.sum(weight * values, axis=0) / np.sum(weight, axis=0))
