"""The trade's rule of thumb: a 36 V drive of about 500 W sits behind a breaker of about 50 A (common practice, no source)."""

from __future__ import annotations

import pytest

from ridesim import load_build

CONTINUOUS_FACTOR = 1.25
"""Breaker over continuous current: 125 % practice of NEC 210.20 and 215.3 (memory)."""


def test_a_36_v_500_w_drive_behind_50_a():
    """A plausibility check of the invented Heron, not of a printed figure: "about" is taken as a fifth either way."""
    build = load_build("heron_36v")
    assert build.pack.nominal_voltage_v == 36.0
    assert build.motor.rated_power_w == pytest.approx(500.0, rel=0.2)
    assert CONTINUOUS_FACTOR * build.controller.max_battery_current_a == pytest.approx(50.0, rel=0.2)
