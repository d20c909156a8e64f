"""Logs of few rows: one row more never opens the bands, and no band reaches what no motor with these readings can have."""

from __future__ import annotations

import numpy as np
import pytest

from ridesim.bench.logs import load_log
from ridesim.bench.motor.identify import identify_motor
from ridesim.bench.motor.log import RPM

WHOLE = load_log("heron_motor_bench")
FREE, CHAINED = WHOLE.free_spin[2:3], WHOLE.free_spin[3:]


def of(rows, **changes):
    return identify_motor(WHOLE.model_copy(update={"free_spin": rows, **changes}))


def test_a_row_with_the_chain_does_not_open_the_bands():
    """It brings a parameter of its own; its scatter must not speak for the meters alone."""
    one, two = of(FREE), of(FREE + CHAINED)
    for key, band in two.values.items():
        before = one.values[key]
        assert band.high - band.low <= 1.25 * (before.high - before.low), key


@pytest.mark.parametrize("rpm", [334.0, 330.0, 345.0, 355.0])
def test_scatter_of_two_rows_leaves_the_held_rotor_s_resistance(rpm):
    """Two spins that agree badly say little of the meters: the resistance stays where the held rotor has it."""
    chained = CHAINED[0].model_copy(update={"speed_rpm": rpm})
    ohms = of((*FREE, chained)).values["resistance_ohm"]
    assert 0.04 < ohms.low < ohms.high < 0.15


@pytest.mark.parametrize("held", [WHOLE.held, WHOLE.held[:1], ()])
@pytest.mark.parametrize("rows", [FREE, FREE + CHAINED, CHAINED])
def test_no_drag_beyond_the_torque_of_the_free_current(rows, held):
    """K <= V/ω, τ_f <= K I and b <= K I/ω of every free spin, R <= V/I: each with a fifth more for the meters."""
    result = of(rows, held=held)
    spins = [(row.voltage_v, row.current_a, 3.0 * row.speed_rpm * RPM) for row in rows]
    volts, amps, speed = np.array(spins).T
    constant = 1.2 * float(np.min(volts / speed))
    assert result.values["torque_constant_nm_per_a"].high <= constant
    assert result.values["friction_torque_nm"].high <= 1.2 * constant * float(amps.min())
    assert result.values["viscous_nm_per_rad_s"].high <= 1.3 * constant * float(np.min(amps / speed))
    for row in held:
        assert result.values["resistance_ohm"].high <= 1.2 * row.voltage_v / row.current_a
