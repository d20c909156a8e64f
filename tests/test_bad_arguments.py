"""Arguments given in Python that cannot be: one clear InputProblem that names the argument, never a raw error or a number."""

from __future__ import annotations

from math import inf, nan

import pytest

from ridesim.bench.logs import load_log
from ridesim.bench.motor.identify import identify_motor
from ridesim.bench.warm_up import winding_temperature
from ridesim.choose.readings import rested_block_v, steady_state
from ridesim.ride.steady import (
    pull_curve,
    steady_range,
    steepest_start_percent,
    steepest_steady_percent,
    time_to_speed,
    top_speed_kmh,
)
from ridesim.ride.steady.cut_out import soft_start_hold_s
from ridesim.ride.steady.duty import duties
from ridesim.vehicle import load_build
from ridesim.words import InputProblem

BUILD = load_build("heron_36v")


@pytest.mark.parametrize(
    ("asked", "place", "found"),
    [
        (lambda: winding_temperature(0, 20.0, 0.1), "cold_ohm", "0 ohm"),
        (lambda: winding_temperature(0.1, 20.0, "0.1"), "warm_ohm", "“0.1”"),
        (lambda: duties(BUILD, -10), "speed_kmh", "-10 km/h"),
        (lambda: duties(BUILD, 10, nan), "ambient_c", "nan"),
        (lambda: time_to_speed(BUILD, -5), "speed_kmh", "-5 km/h"),
        (lambda: time_to_speed(BUILD, 10, grade_percent=inf), "grade_percent", "inf %"),
        (lambda: top_speed_kmh(BUILD, 5), "state_of_charge", "5"),
        (lambda: top_speed_kmh(BUILD, grade_percent=nan), "grade_percent", "nan"),
        (lambda: steepest_start_percent(BUILD, surface="ice"), "surface", "ice"),
        (lambda: steepest_steady_percent(BUILD, -5), "speed_kmh", "-5 km/h"),
        (lambda: steady_range(BUILD, 10, state_of_charge=5), "state_of_charge", "5"),
        (lambda: pull_curve(BUILD, points=1), "points", "1"),
        (lambda: steady_state(BUILD, 10, charge=5), "state_of_charge", "5"),
        (lambda: rested_block_v(BUILD, 5), "state_of_charge", "5"),
        (lambda: soft_start_hold_s(BUILD, -500), "grade_percent", "-500 %"),
    ],
)
def test_a_wrong_argument_is_named(asked, place, found):
    with pytest.raises(InputProblem) as raised:
        asked()
    assert raised.value.place == place
    assert found in raised.value.found
    assert raised.value.expected


@pytest.mark.parametrize("wrong", [nan, inf, -1, "12"])
def test_no_run_away_speed_and_no_torque_from_what_is_no_number(wrong):
    """A speed of next to nothing would read as safe."""
    winch = identify_motor(load_log("winch_motor_loads"))
    with pytest.raises(InputProblem, match="voltage_v"):
        winch.unloaded_rpm(wrong)
    with pytest.raises(InputProblem, match="current_a"):
        winch.torque_at(wrong)
