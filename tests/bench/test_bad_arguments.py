"""Arguments given in Python that cannot be: one clear InputProblem that names the argument, never a raw error or a number."""

from __future__ import annotations

from math import inf, nan

import pytest

from ridesim.bench.logs import load_log
from ridesim.bench.motor.identify import identify_motor
from ridesim.bench.warm_up import identify_warm_up, winding_temperature
from ridesim.ride.steady.duty import (
    duties,
)
from ridesim.vehicle import load_build
from ridesim.words import InputProblem

BUILD = load_build("heron_36v")
MOTOR = BUILD.motor


@pytest.fixture(scope="module")
def winch():
    return identify_motor(load_log("winch_motor_loads"))


@pytest.mark.parametrize(
    ("asked", "place", "found"),
    [
        (lambda: winding_temperature(0, 20.0, 0.1), "cold_ohm", "0 ohm"),
        (lambda: winding_temperature(0.1, nan, 0.1), "cold_c", "nan"),
        (lambda: winding_temperature(0.1, 20.0, -0.1), "warm_ohm", "-0.1 ohm"),
        (lambda: winding_temperature(0.1, 20.0, "0.1"), "warm_ohm", "“0.1”"),
        (lambda: duties(BUILD, nan), "speed_kmh", "nan"),
        (lambda: duties(BUILD, -10), "speed_kmh", "-10 km/h"),
        (lambda: duties(BUILD, "10"), "speed_kmh", "“10”"),
        (lambda: duties(BUILD, 10, nan), "ambient_c", "nan"),
    ],
)
def test_a_wrong_argument_is_named(asked, place, found):
    with pytest.raises(InputProblem) as raised:
        asked()
    assert raised.value.place == place
    assert found in raised.value.found
    assert raised.value.expected


@pytest.mark.parametrize(
    "asked",
    [
        lambda: identify_motor("heron_motor_bench"),
        lambda: identify_motor({"free_spin": []}),
        lambda: identify_warm_up(None),
        lambda: load_log(None),
    ],
)
def test_what_is_no_log_is_a_wrong_type(asked):
    with pytest.raises(TypeError):
        asked()


@pytest.mark.parametrize("volts", [nan, inf, 0, -1, "12"])
def test_no_run_away_speed_where_no_voltage_is(winch, volts):
    """A speed of next to nothing would read as safe."""
    with pytest.raises(InputProblem, match="voltage_v"):
        winch.unloaded_rpm(volts)


@pytest.mark.parametrize("amps", [nan, inf, -1, "40", None])
def test_no_torque_where_no_current_is(winch, amps):
    with pytest.raises(InputProblem, match="current_a"):
        winch.torque_at(amps)
