"""Slips of the pen in a build: told with what was perhaps meant, before anything else; the shipped builds have none."""

from __future__ import annotations

import pytest

import ridesim
from ridesim import data
from ridesim.vehicle.doubtful import doubtful_values

HERON = ridesim.load_build("heron_36v")


@pytest.mark.parametrize(
    ("values", "code", "words"),
    [
        ({"motor.resistance_ohm": 85.0}, "resistance-doubtful", "milliohms, 0.085 Ω"),
        ({"motor.torque_constant_nm_per_a": 1.05}, "torque-constant-doubtful", "318 rpm without load at 36 V"),
        ({"drive.motor_teeth": 55, "drive.wheel_teeth": 11}, "sprockets-doubtful", "the other way round"),
        ({"vehicle.mass[1].mass_kg": 7800.0}, "mass-doubtful", "7800 kg: is a point missing"),
        ({"controller.cutoff_voltage_v": 42.0}, "cut-off-above-pack", "never lets a current through"),
    ],
)
def test_a_slip_is_told(values, code, words):
    (found,) = doubtful_values(HERON.changed(values))
    assert found.code == code
    assert words in found.text


@pytest.mark.parametrize("name", data.names("builds"))
def test_a_shipped_build_has_none(name):
    assert list(doubtful_values(ridesim.load_build(name))) == []


def test_check_and_comparison_begin_with_it(tmp_path, call):
    file = tmp_path / "float.toml"
    file.write_text(
        data.find("heron_36v", "builds")
        .read_text(encoding="utf-8")
        .replace("resistance_ohm = 0.085", "resistance_ohm = 85")
    )
    first = " ".join(call("check", file).out.split("From the file")[0].split())
    assert first.startswith(f"{file}: can be read, but look at this first: The motor's 85 Ω")
    (verdict,) = ridesim.compare(str(file), "harbour_festival", draws=32).verdicts
    assert verdict.sentence.startswith("Does not do it: it will not move: the motor's 85 Ω")
