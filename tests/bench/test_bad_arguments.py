"""Arguments given in Python that cannot be: one clear InputProblem that names the argument, never a raw error or a number."""

from __future__ import annotations

from math import inf, nan

import pytest

from ridesim.bench.motor.identify import identify_motor
from ridesim.bench.motor.log import load_motor_log, read_motor_log
from ridesim.bench.motor.prediction import sensible_voltage
from ridesim.bench.warm_up import identify_warm_up, winding_temperature
from ridesim.bench.warm_up_log import load_warm_up, read_warm_up
from ridesim.ride.steady.duty import (
    duties,
)
from ridesim.vehicle import load_build
from ridesim.words import InputProblem

BUILD = load_build("heron_36v")
MOTOR = BUILD.motor


@pytest.fixture(scope="module")
def winch():
    return identify_motor(load_motor_log("winch_motor_loads"))


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
        (lambda: sensible_voltage("36"), "voltages", "“36”"),
        (lambda: identify_motor("heron_motor_bench"), "log", "“heron_motor_bench”"),
        (lambda: identify_motor({"free_spin": []}), "log", "dict"),
        (lambda: identify_warm_up(None), "log", "“None”"),
        (lambda: read_motor_log(None), "table", "“None”"),
        (lambda: read_warm_up([]), "table", "list"),
        (lambda: load_motor_log(None), "path", "“None”"),
        (lambda: load_motor_log({}), "path", "dict"),
        (lambda: load_warm_up(3), "path", "int"),
    ],
)
def test_a_wrong_argument_is_named(asked, place, found):
    with pytest.raises(InputProblem) as raised:
        asked()
    assert raised.value.place == place
    assert found in raised.value.found
    assert raised.value.expected


@pytest.mark.parametrize("volts", [nan, inf, 0, -1, "12"])
def test_no_run_away_speed_where_no_voltage_is(winch, volts):
    """A speed of next to nothing would read as safe."""
    with pytest.raises(InputProblem, match="voltage_v"):
        winch.unloaded_rpm(volts)


@pytest.mark.parametrize("amps", [nan, inf, -1, "40", None])
def test_no_torque_where_no_current_is(winch, amps):
    with pytest.raises(InputProblem, match="current_a"):
        winch.torque_at(amps)
