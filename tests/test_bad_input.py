"""Every bad input gets one clear message, exit status 2, and nothing is written."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from ridesim.command import BAD_INPUT, DONE, main
from ridesim.data import names, shipped
from ridesim.day import load_day, load_route, load_trace
from ridesim.vehicle import load_build, save_build
from ridesim.words import InputProblem

BUILD = (shipped("data") / "builds" / "heron_36v.toml").read_text(encoding="utf-8")
DAY = (shipped("data") / "days" / "harbour_festival.toml").read_text(encoding="utf-8")

WRONG_BUILDS = {
    "misspelt key": ("motor_teeth = 11", "motor_teath = 11", ["drive.motor_teath", "motor_teeth"]),
    "unit of the wrong kind": ("rolling_radius_m = 0.305", "rolling_radius_kg = 0.305", ["vehicle.rolling_radius_kg", "length", "mass"]),
    "two keys for one quantity": ("wheels = 2", "rolling_radius_in = 12", ["rolling_radius_m", "one of the two"]),
    "negative mass": ("mass_kg = 78.0", "mass_kg = -78.0", ["vehicle.mass[1].mass_kg", "-78", "above 0"]),
    "zero teeth": ("wheel_teeth = 55", "wheel_teeth = 0", ["drive.wheel_teeth", "found 0", "at least 1"]),
    "half a tooth": ("wheel_teeth = 55", "wheel_teeth = 55.5", ["drive.wheel_teeth", "55.5", "whole number"]),
    "not a number": ("torque_constant_nm_per_a = 0.105", "torque_constant_nm_per_a = nan", ["motor.torque_constant_nm_per_a", "nan"]),
    "text for a number": ("resistance_ohm = 0.085", 'resistance_ohm = "low"', ["motor.resistance_ohm", "low", "number"]),
    "missing key": ("torque_constant_nm_per_a = 0.105", "", ["motor.torque_constant_nm_per_a", "permanent-magnet"]),
    "unknown chemistry": ('chemistry = "lead-acid-agm"', 'chemistry = "cabbage"', ["pack.chemistry", "cabbage", "lead-acid-agm"]),
    "exponent below 1": ("peukert_exponent = 1.21", "peukert_exponent = 0.9", ["pack.peukert_exponent", "0.9", "at least 1"]),
}  # fmt: skip

WRONG_DAYS = {
    "misspelt section": ("[[activity]]", "[[activty]]", ["activty", "unknown key", "activity"]),
    "missing route": ('route = "site_ramp"', 'route = "sight_ramp"', ["activity[2].route", "sight_ramp", "site_ramp"]),
    "overlapping activities": ("start = 17:20:00", "start = 16:40:00", ["activity[6].start", "16:40", "17:15"]),
    "activities out of order": ("start = 14:00:00", "start = 12:00:00", ["activity[3].start", "12:00"]),
    "too cold a day": ("ambient_c = 14.0", "ambient_c = -60.0", ["ambient_c", "-60"]),
    "charging while moving": ("laps = 4", "laps = 4\ncharge_current_a = 3.0", ["activity[3].charge_current_a"]),
    "neither route nor trace nor time": ("duration_min = 45", "", ["activity[5]", "exactly one of"]),
}

WRONG_ROUTES = {
    "missing column": ("length_m,grade_percent\n100,0\n", ["line 1", "speed_kmh"]),
    "unknown column": ("length_m,speed_kmh,slop\n100,10,1\n", ["line 1", "slop"]),
    "text in a number column": ("length_m,speed_kmh\n100,10\nlong,10\n", ["line 3", "length_m", '"long"']),
    "no length": ("length_m,speed_kmh\n0,10\n", ["line 2", "length_m", "above 0"]),
    "unknown surface": ("length_m,speed_kmh,surface\n10,10,gravle\n", ["line 2", "gravle", "gravel"]),
    "too few cells": ("length_m,speed_kmh\n10\n", ["line 2", "1 cell", "2 cells"]),
    "a wall": ("length_m,speed_kmh,grade_percent\n10,10,90\n", ["line 2", "90"]),
    "no legs": ("length_m,speed_kmh\n", ["no legs"]),
}

WRONG_TRACES = {
    "time running backwards": ("time_s,speed_kmh\n0,0\n5,10\n4,10\n", ["line 4", "time_s", "4"]),
    "negative speed": ("time_s,speed_kmh\n0,0\n5,-3\n", ["line 3", "speed_kmh", "-3"]),
    "missing column": ("time_s,grade_percent\n0,0\n1,0\n", ["line 1", "speed_kmh"]),
    "one row": ("time_s,speed_kmh\n0,0\n", ["1 row"]),
}


def one_message(capsys) -> str:
    """What went to stderr: exactly one line, nothing on stdout."""
    out, err = capsys.readouterr()
    assert out == ""
    lines = err.strip().splitlines()
    assert len(lines) == 1, err
    return lines[0]


@pytest.fixture
def place(tmp_path, monkeypatch) -> Path:
    """A folder of its own, also the working one."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("case", WRONG_BUILDS)
@pytest.mark.parametrize("command", ["check", "compare", "simulate"])
def test_wrong_builds(case, command, place, capsys):
    good, wrong, words = WRONG_BUILDS[case]
    assert good in BUILD
    file = place / "float.toml"
    file.write_text(BUILD.replace(good, wrong, 1), encoding="utf-8")
    arguments = {
        "check": ["check", str(file)],
        "compare": ["compare", str(file), "heron_48v", "--day", "harbour_festival"],
        "simulate": ["simulate", str(file), "--day", "harbour_festival", "--csv", "ride.csv"],
    }[command]
    assert main(arguments) == BAD_INPUT
    message = one_message(capsys)
    assert "float.toml" in message
    for word in words:
        assert word in message
    assert "expected" in message
    assert [path.name for path in place.iterdir()] == ["float.toml"], "nothing is written"


@pytest.mark.parametrize("case", WRONG_DAYS)
def test_wrong_days(case, place, capsys):
    good, wrong, words = WRONG_DAYS[case]
    assert good in DAY
    file = place / "day.toml"
    file.write_text(DAY.replace(good, wrong, 1), encoding="utf-8")
    for arguments in (["check", str(file)], ["compare", "heron_36v", "--day", str(file)]):
        assert main(arguments) == BAD_INPUT
        message = one_message(capsys)
        assert "day.toml" in message
        assert all(word in message for word in words), message


@pytest.mark.parametrize(
    ("load", "text", "words"),
    [
        *((load_route, *case) for case in WRONG_ROUTES.values()),
        *((load_trace, *case) for case in WRONG_TRACES.values()),
    ],
    ids=[*WRONG_ROUTES, *WRONG_TRACES],
)
def test_wrong_routes_and_traces(load, text, words, place):
    (place / "loop.csv").write_text(text, encoding="utf-8")
    with pytest.raises(InputProblem) as caught:
        load(place / "loop.csv")
    assert all(word in str(caught.value) for word in ("loop.csv", *words)), str(caught.value)


def test_missing_files_name_the_nearest_shipped_one(capsys):
    assert main(["compare", "heron_36", "--day", "harbour_festival"]) == BAD_INPUT
    assert "heron_36v" in one_message(capsys)
    assert main(["compare", "heron_36v", "--day", "harbor_festival"]) == BAD_INPUT
    assert "harbour_festival" in one_message(capsys)


def test_other_units_of_the_same_kind_are_welcome(place):
    text = BUILD.replace("rolling_radius_m = 0.305", "rolling_radius_in = 12.0").replace(
        "mass_kg = 78.0", "mass_lb = 172.0", 1
    )
    (place / "float.toml").write_text(text, encoding="utf-8")
    build = load_build(place / "float.toml")
    assert build.vehicle.rolling_radius_m == pytest.approx(0.3048)  # 12 × 25.4 mm
    assert build.vehicle.mass[0].mass_kg == pytest.approx(172.0 * 0.45359237)
    (place / "loop.csv").write_text("length_ft,speed_mph\n1000,10\n", encoding="utf-8")
    leg = load_route(place / "loop.csv").legs[0]
    assert leg.length_m == pytest.approx(304.8)
    assert leg.speed_kmh == pytest.approx(16.09344)
    (place / "day.toml").write_text(DAY.replace("ambient_c = 14.0", "ambient_f = 50.0"), encoding="utf-8")
    assert load_day(place / "day.toml").ambient_c == pytest.approx(10.0)


@pytest.mark.parametrize("name", names("builds"))
def test_saving_unchanged_gives_the_same_bytes(name, place):
    source = shipped("data") / "builds" / f"{name}.toml"
    saved = save_build(load_build(name), place / "copy.toml")
    assert saved.read_bytes() == source.read_bytes()


def test_saving_a_change_keeps_comments_and_units(place):
    (place / "float.toml").write_text(
        BUILD.replace("rolling_radius_m = 0.305 ", "rolling_radius_in = 12.0 "), encoding="utf-8"
    )
    build = load_build(place / "float.toml").changed({"vehicle.rolling_radius_m": 0.3302})
    text = save_build(build, place / "float.toml").read_text(encoding="utf-8")
    assert "rolling_radius_in = 13.0" in text
    assert text.count("#") == BUILD.count("#")


def test_csv_of_the_kept_steps(place, capsys):
    assert main(["simulate", "heron_36v", "--day", "harbour_festival", "--csv", "ride.csv"]) == DONE
    assert "residual" in capsys.readouterr().out
    header = (place / "ride.csv").read_text(encoding="utf-8").splitlines()[0].split(",")
    assert header[:12] == [
        "time_s", "speed_mps", "distance_m", "pull_n", "pack_voltage_v", "pack_current_a", "motor_current_a", "duty",
        "state_of_charge", "winding_c", "case_c", "activity",
    ]  # fmt: skip


def test_schema_describes_every_field(capsys):
    assert main(["check", "--schema"]) == DONE
    schema = json.loads(capsys.readouterr().out)
    assert {"build", "day"} <= set(schema)
    for part in (schema["build"], schema["day"], *schema["build"]["$defs"].values(), *schema["day"]["$defs"].values()):
        for name, field in part.get("properties", {}).items():
            assert field.get("description"), f"{part.get('title')}.{name} says nothing of its meaning"


def test_import_stays_light():
    program = (
        "import sys, ridesim; ridesim.load_build; heavy = {'pandas', 'matplotlib', 'ipywidgets', 'scipy.optimize'} & set(sys.modules);"
        "print(sorted(heavy))"
    )
    assert (
        subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout.strip()
        == "[]"
    )
