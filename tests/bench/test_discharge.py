"""Discharge tests made from known numbers are read back; what is wrong with a log is named, and the rest used."""

from __future__ import annotations

import numpy as np
import pytest

from ridesim.bench.discharge import discharge_test
from ridesim.bench.discharge_log import clean, load_discharge
from ridesim.words import InputProblem
from tests.bench.made_logs import BLOCK, discharge, lamp, write


def log(rows: np.ndarray, name: str = "log"):
    return clean(rows[:, 0], rows[:, 1], rows[:, 2], name=name)


@pytest.fixture(scope="module")
def slow() -> np.ndarray:
    return lamp(2.0, interval=10.0)


@pytest.fixture(scope="module")
def fast() -> np.ndarray:
    return lamp(8.0, interval=5.0, seed=2)


@pytest.mark.parametrize("interval", [2.0, 5.0, 10.0])
def test_known_numbers_are_read_back(interval):
    result = discharge_test(log(lamp(2.0, interval=interval)), log(lamp(8.0, interval=interval, seed=2)), label_ah=22.0)
    assert result.rated_capacity_ah.value == pytest.approx(BLOCK["block_capacity_ah"], rel=0.015)
    assert result.peukert_exponent.value == pytest.approx(BLOCK["peukert_exponent"], abs=0.01)
    assert result.resistance_ohm.low <= BLOCK["block_resistance_ohm"] <= result.resistance_ohm.high
    assert result.resistance_ohm.value == pytest.approx(BLOCK["block_resistance_ohm"], rel=0.02 + 0.015 * interval)
    assert result.polarisation_resistance_ohm.value == pytest.approx(BLOCK["polarisation_resistance_ohm"], rel=0.1)
    assert result.polarisation_time_s.value == pytest.approx(BLOCK["polarisation_time_s"], rel=0.1)
    assert result.state_of_health == pytest.approx(1.0, abs=0.015)


def test_without_noise_the_capacity_is_exact():
    quiet = {"noise_v": 0.0, "noise_a": 0.0}
    result = discharge_test(log(lamp(2.0, **quiet)), log(lamp(8.0, **quiet)))
    k = BLOCK["peukert_exponent"]
    for each in result.discharges:
        # The end voltage is met a little before the block is empty.
        exact = 22.0 * (22.0 / (each.current_a * 20.0)) ** (k - 1.0)
        assert exact * 0.985 < each.charge_ah < exact


def test_a_tired_block_shows_its_health():
    tired = {"state_of_health": 0.7}
    result = discharge_test(log(lamp(2.0, **tired)), log(lamp(8.0, **tired)), label_ah=22.0)
    assert result.state_of_health == pytest.approx(0.7, abs=0.02)
    assert result.pack_keys["block_capacity_ah"] == 22.0
    assert "state_of_health = 0." in result.toml


def test_one_discharge_says_that_it_cannot_tell_k(slow):
    result = discharge_test(log(slow))
    assert result.peukert_exponent is None
    assert "peukert_exponent" not in result.pack_keys
    assert any(text.startswith("Peukert's k: one discharge") for text in result.undetermined)
    assert any("carried over" in text and "usual k of 1.21" in text for text in result.undetermined)
    assert any("full at the start" in text for text in result.undetermined)


def test_two_discharges_too_near_each_other(slow):
    result = discharge_test(log(slow), log(lamp(2.4, interval=10.0)))
    assert result.peukert_exponent is None
    assert any("2.00 A and 2.40 A are too near" in text for text in result.undetermined)


def test_k_below_one_is_named_and_not_used(slow):
    short = discharge([(300.0, 0.0), (0.0, 2.0)], interval=10.0, block_capacity_ah=12.0)
    result = discharge_test(log(short, "first"), log(lamp(8.0, interval=10.0), "second"))
    assert result.peukert_exponent is None
    assert any(text.startswith("second: ") and "k would be below 1" in text for text in result.remarks)
    assert result.rated_capacity_ah is not None, "the capacity is still used"


def test_a_negative_resistance_is_named_with_its_line(fast):
    rows = fast.copy()
    on = np.flatnonzero(rows[:, 2] > 1.0)[0]
    rows[on : on + 240, 1] += 0.5  # a loose clamp: more volts while the lamp is on
    result = discharge_test(log(rows, "loose"))
    assert any(f"line {on + 1}: the voltage does not follow the current" in text for text in result.remarks)
    assert result.resistance_ohm.value == pytest.approx(0.014, rel=0.2), "the other steps are used"


def test_no_steps_no_resistance():
    rows = discharge([(0.0, 8.0)], interval=10.0)
    rows = rows[rows[:, 2] > 1.0]
    result = discharge_test(log(rows))
    assert result.resistance_ohm is None
    assert result.polarisation_time_s is None
    assert any(text.startswith("Resistance: the current never steps") for text in result.undetermined)
    assert any(text.startswith("Polarisation") for text in result.undetermined)


def test_rows_too_far_apart_for_the_slow_part():
    result = discharge_test(log(lamp(8.0, interval=120.0)))
    assert result.polarisation_time_s is None
    assert any(text.startswith("Polarisation") for text in result.undetermined)


def test_end_voltage_not_reached(slow):
    half = slow[: len(slow) // 2]
    result = discharge_test(log(half, "half"))
    assert result.rated_capacity_ah is None
    assert "block_capacity_ah" not in result.pack_keys
    assert any("never reached" in text for text in result.remarks)
    assert any("at least" in text for text in result.undetermined)


def test_a_gap_is_bridged_and_said(slow):
    whole = discharge_test(log(slow)).discharges[0]
    start = len(slow) // 2
    rows = np.delete(slow, np.arange(start, start + 60), axis=0)
    result = discharge_test(log(rows, "gap"))
    assert any(f"line {start + 1}: no rows for 610 s" in text for text in result.remarks)
    assert result.discharges[0].charge_ah == pytest.approx(whole.charge_ah, rel=1e-3)
    assert result.discharges[0].complete


def test_a_large_gap_takes_the_capacity_away(slow):
    start = len(slow) // 2
    rows = np.delete(slow, np.arange(start, start + 900), axis=0)
    result = discharge_test(log(rows, "gap"))
    assert not result.discharges[0].complete
    assert any("lies in gaps" in text for text in result.remarks)


def test_the_clock_set_back(slow):
    rows = slow.copy()
    at = len(rows) // 2
    rows[at:, 0] -= 3600.0
    whole, result = discharge_test(log(slow)), discharge_test(log(rows, "back"))
    assert any(f"line {at + 1}: the clock goes back by 3590 s" in text for text in result.remarks)
    assert result.discharges[0].charge_ah == pytest.approx(whole.discharges[0].charge_ah, rel=1e-6)


def test_the_clock_set_ahead(slow):
    rows = slow.copy()
    at = len(rows) // 2
    rows[at:, 0] += 3600.0
    whole, result = discharge_test(log(slow)), discharge_test(log(rows, "ahead"))
    assert any(f"line {at + 1}: the clock jumps ahead by 3610 s" in text for text in result.remarks)
    assert result.discharges[0].charge_ah == pytest.approx(whole.discharges[0].charge_ah, rel=1e-6)


def test_a_meter_turned_round(slow):
    rows = slow.copy()
    rows[:, 2] *= -1.0
    result = discharge_test(log(rows, "turned"))
    assert result.remarks[0].startswith("turned: the current is negative: the meter")
    assert result.discharges[0].charge_ah == pytest.approx(discharge_test(log(slow)).discharges[0].charge_ah)


def test_a_meter_turned_round_for_a_while(slow):
    rows = slow.copy()
    start, stop = 800, 1100
    rows[start:stop, 2] *= -1.0
    result = discharge_test(log(rows, "swapped"))
    assert any(f"lines {start + 1} to {stop}: the current changes sign" in text for text in result.remarks)
    assert result.discharges[0].charge_ah == pytest.approx(discharge_test(log(slow)).discharges[0].charge_ah)


def test_a_real_charge_ends_the_log(slow):
    rows = slow.copy()
    start = 800
    rows[start:, 2] *= -1.0
    rows[start:, 1] += 2 * 2.0 * 0.014 + 0.5
    result = discharge_test(log(rows, "charged"))
    assert any(f"line {start + 1}: a charge begins" in text for text in result.remarks)
    assert not result.discharges[0].complete


def test_a_charge_before_the_discharge_is_left_out(slow):
    charge = np.column_stack([10.0 * np.arange(300), 12.0 + 0.008 * np.arange(300), np.full(300, -3.0)])
    rows = slow.copy()
    rows[:, 0] += 3000.0
    result = discharge_test(log(np.vstack([charge, rows]), "cycle"))
    assert any("lines 1 to 300: a charge; not used" in text for text in result.remarks)
    assert result.discharges[0].charge_ah == pytest.approx(discharge_test(log(slow)).discharges[0].charge_ah)


def test_double_rows(slow):
    rows = np.insert(slow, 100, slow[100], axis=0)
    result = discharge_test(log(rows, "double"))
    assert any("line 102: a second row" in text for text in result.remarks)


def test_files(tmp_path, slow):
    path = write(slow, tmp_path / "slow.csv", "my block")
    assert discharge_test(path).discharges[0].charge_ah == pytest.approx(
        discharge_test(log(slow)).discharges[0].charge_ah, rel=1e-3
    )
    lines = path.read_text().splitlines()
    minutes = [lines[0], "time_min,voltage_mv,current_ma"]
    for text in lines[2:]:
        t, v, i = map(float, text.split(","))
        minutes.append(f"{t / 60:.6f},{1000 * v:.1f},{1000 * i:.1f}")
    other = tmp_path / "minutes.csv"
    other.write_text("\n".join(minutes))
    one, two = load_discharge(path), load_discharge(other)
    assert np.allclose(one.time_s, two.time_s, atol=1e-3)
    assert np.allclose(one.current_a, two.current_a)
    lines[50] = "470,,2.0"
    path.write_text("\n".join(lines))
    assert "line 51: a cell is missing" in load_discharge(path).remarks[0]


@pytest.mark.parametrize(
    ("change", "place", "found"),
    [
        (lambda t: t.replace("current_a", "amps"), "line 2", "columns time_s, voltage_v, amps"),
        (lambda t: t.replace("current_a", "current_v"), "line 2", 'the column "current_v"'),
        (lambda t: t.replace(",", ";"), "line 2", "semicolons"),
        (lambda t: "\n".join(t.splitlines()[:6]), "", "4 whole rows"),
        (lambda t: "# only this", "", "only remarks"),
    ],
)
def test_files_that_are_no_log(tmp_path, slow, change, place, found):
    path = write(slow, tmp_path / "bad.csv", "my block")
    path.write_text(change(path.read_text()))
    with pytest.raises(InputProblem) as problem:
        load_discharge(path)
    assert found in problem.value.found
    assert problem.value.place == place


def test_text_in_a_number_column(tmp_path, slow):
    path = write(slow, tmp_path / "bad.csv", "my block")
    lines = path.read_text().splitlines()
    for bad in ("abc", "nan", "inf"):
        lines[20] = f"180,12.1,{bad}"
        path.write_text("\n".join(lines))
        with pytest.raises(InputProblem, match=f'line 21, current_a: found "{bad}"; expected a number'):
            load_discharge(path)


def test_wrong_number_of_cells(slow):
    with pytest.raises(InputProblem, match="as soon as the load is on"):
        discharge_test(log(slow), cells=12)


@pytest.mark.parametrize(
    ("settings", "key"),
    [
        ({"chemistry": "lead-acid"}, "chemistry"),
        ({"cells": 0}, "cells"),
        ({"label_ah": -5.0}, "label_ah"),
        ({"temperature_c": 80.0}, "temperature_c"),
    ],
)
def test_bad_settings(slow, settings, key):
    with pytest.raises(InputProblem) as problem:
        discharge_test(log(slow), **settings)
    assert problem.value.place == key


def test_no_current_and_no_logs(slow):
    rows = slow.copy()
    rows[:, 2] = 0.0
    with pytest.raises(InputProblem, match="no current in any row"):
        log(rows)
    with pytest.raises(InputProblem, match="0 logs"):
        discharge_test()


def test_the_shipped_logs():
    result = discharge_test("heron_block_slow", "heron_block_fast", label_ah=22.0)
    assert result.state_of_health == pytest.approx(0.86, abs=0.02)
    assert result.peukert_exponent.value == pytest.approx(1.23, abs=0.015)
    assert result.resistance_ohm.low <= 0.014 <= result.resistance_ohm.high
