"""Discharge tests made from known numbers are read back; what is odd in a log is named with its line and refused."""

from __future__ import annotations

import doctest

import numpy as np
import pytest
from scipy.stats import binom

from ridesim.bench.discharge import discharge_log, identify, identify_block, load_discharge
from ridesim.words import InputProblem
from tests.bench.made_logs import BLOCK, discharge, lamp, write
from tests.long import LONG


def log(rows: np.ndarray, name: str = "log"):
    return discharge_log(rows[:, 0], rows[:, 1], rows[:, 2], name=name)


def refused(rows: np.ndarray, **settings) -> InputProblem:
    """The problem that a log is refused with."""
    with pytest.raises(InputProblem) as problem:
        identify_block(log(rows), **settings)
    return problem.value


@pytest.fixture(scope="module")
def slow() -> np.ndarray:
    return lamp(2.0, interval=10.0)


@pytest.fixture(scope="module")
def fast() -> np.ndarray:
    return lamp(8.0, interval=5.0, seed=2)


@pytest.mark.parametrize("interval", [2.0, 5.0, 10.0] if LONG else [5.0, 10.0])
def test_known_numbers_are_read_back(interval):
    result = identify_block(log(lamp(2.0, interval=interval)), log(lamp(8.0, interval=interval, seed=2)), label_ah=22.0)
    assert result.rated_capacity_ah.value == pytest.approx(BLOCK["block_capacity_ah"], rel=0.015)
    assert result.peukert_exponent.value == pytest.approx(BLOCK["peukert_exponent"], abs=0.01)
    assert result.resistance_ohm.low <= BLOCK["block_resistance_ohm"] <= result.resistance_ohm.high
    assert result.resistance_ohm.value == pytest.approx(BLOCK["block_resistance_ohm"], rel=0.02 + 0.015 * interval)
    assert result.activation_v_per_cell.value == pytest.approx(BLOCK["activation_v_per_cell"], rel=0.1)
    assert result.polarisation_time_s.value == pytest.approx(BLOCK["polarisation_time_s"], rel=0.2)
    assert result.state_of_health == pytest.approx(1.0, abs=0.015)


def test_a_tired_block_shows_its_health():
    tired = {"state_of_health": 0.7}
    result = identify_block(log(lamp(2.0, **tired)), log(lamp(8.0, **tired)), label_ah=22.0)
    assert result.state_of_health == pytest.approx(0.7, abs=0.02)
    assert result.pack_keys["block_capacity_ah"] == 22.0
    assert "state_of_health = 0." in result.toml


def test_one_discharge_says_that_it_cannot_tell_k(slow):
    result = identify_block(log(slow))
    assert result.peukert_exponent is None
    assert "peukert_exponent" not in result.pack_keys
    assert any(text.startswith("Peukert's k: one discharge") for text in result.undetermined)
    near = identify_block(log(slow), log(lamp(2.4, interval=10.0)))
    assert near.peukert_exponent is None
    assert any("2.00 A and 2.40 A are too near" in text for text in near.undetermined)


@pytest.mark.parametrize("held", [8.0, 12.0, 15.0, 16.5])
@pytest.mark.parametrize("label", [None, 22.0])
def test_the_capacity_is_never_less_than_what_came_out(held, label):
    short = discharge([(300.0, 0.0), (0.0, 2.0)], interval=10.0, block_capacity_ah=held)
    result = identify_block(log(short, "first"), log(lamp(8.0, interval=10.0), "second"), label_ah=label)
    assert result.peukert_exponent is None
    assert any("second gave" in text and "k would be below 1" in text for text in result.undetermined)
    most = max(each.charge_ah for each in result.discharges)
    assert result.rated_capacity_ah.value >= most
    assert result.rated_capacity_ah.low >= 0.97 * most


def test_an_unfinished_discharge_that_gave_more_sets_the_least_capacity(slow):
    """The slow test broken off after 15 Ah, the finished one from a block that was half full."""
    broken = slow[: int(0.8 * len(slow))]
    half = discharge([(0.0, 8.0)], interval=10.0, block_capacity_ah=8.0)
    result = identify_block(log(broken, "broken"), log(half, "half"))
    assert not result.discharges[0].complete
    assert result.rated_capacity_ah.value >= result.discharges[0].charge_ah


def test_charges_alike_within_the_meter_s_error_say_k_is_one():
    """A lithium-like block: 22 Ah at either current, one meter reading 1 % high."""
    flat = {"peukert_exponent": 1.0, "interval": 10.0}
    quick = lamp(8.0, **flat)
    quick[:, 2] *= 1.015
    result = identify_block(log(lamp(2.0, **flat), "first"), log(quick, "second"))
    assert result.discharges[1].charge_ah > result.discharges[0].charge_ah
    assert (result.peukert_exponent.value, result.peukert_exponent.low) == (1.0, 1.0)
    assert any("Within a meter's error" in text for text in result.remarks)
    assert result.rated_capacity_ah.value >= result.discharges[1].charge_ah


def test_a_discharge_slower_than_the_rating_is_the_capacity():
    """Below the rated current nothing is gained: what came out in thirty hours is what the model calls the capacity."""
    result = identify_block(log(lamp(0.7, interval=30.0)))
    assert result.discharges[0].hours > 25.0
    assert result.rated_capacity_ah.value == pytest.approx(result.discharges[0].charge_ah)


def test_a_negative_resistance_is_named_with_its_line(fast):
    rows = fast.copy()
    on = np.flatnonzero(rows[:, 2] > 1.0)[0]
    rows[on : on + 240, 1] += 0.5  # a loose clamp: more volts while the lamp is on
    result = identify_block(log(rows, "loose"))
    assert any(f"line {on + 1}: the voltage does not follow the current" in text for text in result.remarks)
    assert result.resistance_ohm.value == pytest.approx(0.014, rel=0.2), "the other steps are used"


def test_steps_that_all_go_the_wrong_way_are_said_to_be_there(fast):
    """A loose clamp in every load: the current does step."""
    rows = fast.copy()
    rows[rows[:, 2] > 1.0, 1] += 1.5
    result = identify_block(log(rows, "loose"), end_voltage_v=11.0)
    assert result.resistance_ohm is None
    for name in ("Resistance", "Slow part"):
        assert any(text.startswith(f"{name}: the voltage goes the wrong way") for text in result.undetermined)


def test_without_a_step_there_is_no_resistance_and_with_rows_far_apart_no_slow_part():
    rows = discharge([(0.0, 8.0)], interval=10.0)
    result = identify_block(log(rows[rows[:, 2] > 1.0]))
    assert result.resistance_ohm is None
    assert result.polarisation_time_s is None
    assert any(text.startswith("Resistance: the current never steps") for text in result.undetermined)
    coarse = identify_block(log(lamp(8.0, interval=120.0)))
    assert coarse.polarisation_time_s is None
    assert any(text.startswith("Slow part") for text in coarse.undetermined)


def test_a_coarse_log_does_not_spoil_a_fine_one(fast):
    result = identify_block(log(lamp(2.0, interval=30.0)), log(fast))
    assert result.polarisation_time_s.low <= BLOCK["polarisation_time_s"] <= result.polarisation_time_s.high
    assert result.polarisation_time_s.value == pytest.approx(BLOCK["polarisation_time_s"], rel=0.2)


def test_end_voltage_not_reached(slow):
    half = slow[: len(slow) // 2]
    result = identify_block(log(half, "half"))
    assert result.rated_capacity_ah is None
    assert "block_capacity_ah" not in result.pack_keys
    assert any("never reached" in text for text in result.remarks)
    assert any("at least" in text for text in result.undetermined)


def test_a_gap_is_bridged_and_said(slow):
    whole = identify_block(log(slow)).discharges[0]
    start = len(slow) // 2
    rows = np.delete(slow, np.arange(start, start + 60), axis=0)
    result = identify_block(log(rows, "gap"))
    assert any(f"line {start + 1}: no rows for 610 s" in text for text in result.remarks)
    assert result.discharges[0].charge_ah == pytest.approx(whole.charge_ah, rel=1e-3)
    assert result.discharges[0].complete


def test_too_much_charge_in_gaps_is_refused(slow):
    start = len(slow) // 2
    problem = refused(np.delete(slow, np.arange(start, start + 900), axis=0))
    assert (problem.place, "of the charge in gaps" in problem.found) == (f"line {start + 1}", True)


def test_rows_out_of_order_are_sorted(slow):
    whole = identify_block(log(slow)).discharges[0]
    for order in (np.arange(len(slow))[::-1], np.r_[0:99, 100, 99, 101 : len(slow)], np.r_[900 : len(slow), 0:900]):
        result = identify_block(log(slow[order]))
        assert any("the rows were sorted by time" in text for text in result.remarks)
        assert result.discharges[0].charge_ah == pytest.approx(whole.charge_ah, rel=1e-9)


@pytest.mark.parametrize(("shift", "found"), [(-3600.0, "a time 3590 s before the row above"), (3600.0, "a gap, and")])
def test_a_clock_that_was_set_is_refused(slow, shift, found):
    rows, at = slow.copy(), len(slow) // 2
    rows[at:, 0] += shift
    problem = refused(rows)
    assert problem.place == f"line {at + 1}"
    assert found in problem.found
    assert "clock" in problem.hint


def test_a_rest_that_is_not_written_down_is_refused(fast):
    """The lamp was off for a quarter of an hour and so was the logger: the voltage is back under the same load."""
    at = int(0.8 * len(fast))
    rows = fast.copy()
    rows[at:, 0] += 900.0
    rows[at : at + 200, 1] += 0.3
    problem = refused(rows)
    assert problem.place == f"line {at + 1}"
    assert "under the same load" in problem.found


def test_two_discharges_in_one_file_are_refused(slow, fast):
    second = fast.copy()
    second[:, 0] += slow[-1, 0] + 5.0
    assert "Two discharges" in refused(np.vstack([slow, second])).hint


def test_a_meter_turned_round(slow):
    rows = slow.copy()
    rows[:, 2] *= -1.0
    result = identify_block(log(rows, "turned"))
    assert result.remarks[0].startswith("turned: the current is negative: the meter")
    assert result.discharges[0].charge_ah == pytest.approx(identify_block(log(slow)).discharges[0].charge_ah)


def test_current_the_other_way_is_refused(slow):
    """A meter turned round for a while, a charge at the end, a charge before the discharge: the first such line is named."""
    turned, charged = slow.copy(), slow.copy()
    turned[800:1100, 2] *= -1.0
    charged[-200:, 1:] = 13.5, -3.0
    before = np.column_stack([10.0 * np.arange(300) - 3000.0, 12.0 + 0.008 * np.arange(300), np.full(300, -3.0)])
    for rows, line in ((turned, 801), (charged, len(slow) - 199), (np.vstack([before, slow]), 1)):
        problem = refused(rows)
        assert problem.place == f"line {line}"
        assert "against the other rows" in problem.found
    assert refused(before).hint == "A charge?"


def test_double_rows(slow):
    rows = np.insert(slow, 100, slow[100], axis=0)
    result = identify_block(log(rows, "double"))
    assert any("line 102: a second row" in text for text in result.remarks)


def test_files(tmp_path, slow):
    path = write(slow, tmp_path / "slow.csv", "my block")
    assert identify_block(path).discharges[0].charge_ah == pytest.approx(
        identify_block(log(slow)).discharges[0].charge_ah, rel=1e-3
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
    other.write_text("\n".join([f"{lines[1]},remark,case_c", *(f"{row},fine,20" for row in lines[2:])]))
    assert np.array_equal(load_discharge(other).voltage_v, one.voltage_v), "other columns are passed over"
    lines[50] = "470,,2.0"
    path.write_text("\n".join(lines))
    with pytest.raises(InputProblem, match="line 51, voltage_v: found an empty cell"):
        load_discharge(path)


@pytest.mark.parametrize(
    ("change", "place", "found"),
    [
        (lambda t: t.replace("current_a", "amps"), "line 2", "columns time_s, voltage_v, amps"),
        (lambda t: t.replace("current_a", "current_v"), "line 2, current_v", "the unit v (voltage)"),
        (lambda t: t.replace(",", ";"), "line 2", "semicolons"),
        (lambda t: "\n".join(t.splitlines()[:6]), "", "4 rows"),
        (lambda t: "# only this", "", "no column names"),
    ],
)
def test_files_that_are_no_log(tmp_path, slow, change, place, found):
    path = write(slow, tmp_path / "bad.csv", "my block")
    path.write_text(change(path.read_text()))
    with pytest.raises(InputProblem) as problem:
        load_discharge(path)
    assert found in problem.value.found
    assert problem.value.place == place


def test_all_that_is_wrong_with_the_rows_is_told_at_once(tmp_path, slow):
    path = write(slow, tmp_path / "bad.csv", "my block")
    lines = path.read_text().splitlines()
    lines[49], lines[59], lines[69] = "470,,2.0", "570,12.0", "670,12.0,two"
    path.write_text("\n".join(lines))
    with pytest.raises(InputProblem) as problem:
        load_discharge(path)
    told = str(problem.value).split("\n")
    assert [line.removeprefix(str(path)).split(": found")[0] for line in told] == [
        ", line 50, voltage_v",
        ", line 60",
        ", line 70, current_a",
    ]
    rows = slow.copy()
    rows[100, 1], rows[200, 2] = 0.0, 900.0
    assert [
        f"line {number}" in line for number, line in zip((101, 201), str(refused(rows)).split("\n"), strict=True)
    ] == [True, True]


def test_wrong_number_of_cells(slow):
    for cells, found in ((12, "as soon as the load is on"), (3, "12.8")):
        assert found in refused(slow, cells=cells).found


@pytest.mark.parametrize(
    ("settings", "key"),
    [
        ({"chemistry": "lead-acid"}, "chemistry"),
        ({"cells": 0}, "cells"),
        ({"end_voltage_v": "10,5"}, "end_voltage_v"),
        ({"label_ah": -5.0}, "label_ah"),
        ({"rated_hours": float("inf")}, "rated_hours"),
        ({"temperature_c": float("nan")}, "temperature_c"),
    ],
)
def test_bad_settings(slow, settings, key):
    with pytest.raises(InputProblem) as problem:
        identify_block(log(slow), **settings)
    assert problem.value.place == key


def test_no_current_and_no_logs(slow):
    rows = slow.copy()
    rows[:, 2] = 0.0
    with pytest.raises(InputProblem, match="no current in any row"):
        log(rows)
    rows[-2:, 2] = 2.0
    with pytest.raises(InputProblem, match="a load in 2 rows"):
        log(rows)
    with pytest.raises(InputProblem, match="0 logs"):
        identify_block()
    time, voltage, current = slow.T
    with pytest.raises(InputProblem, match="not of one length, or hold no numbers"):
        discharge_log(time, voltage[:-1], current)


def test_the_shipped_logs():
    result = identify_block("heron_block_slow", "heron_block_fast", label_ah=22.0)
    assert result.state_of_health == pytest.approx(0.86, abs=0.02)
    assert result.peukert_exponent.value == pytest.approx(1.23, abs=0.015)
    assert result.resistance_ohm.value == pytest.approx(0.014, rel=0.06)


@pytest.fixture(scope="module")
def sparse() -> np.ndarray:
    return lamp(4.0, interval=15.0)


@pytest.mark.parametrize(
    ("column", "value", "said"), [(1, 16.0, "16 V"), (1, 0.0, "0 V"), (2, 60.0, "60 A beside a load of 4 A")]
)
def test_a_reading_no_block_gives_is_refused(sparse, column, value, said):
    rows = sparse.copy()
    rows[900, column] = value
    problem = refused(rows)
    assert (problem.place, problem.found) == ("line 901", said)


@pytest.mark.parametrize(("at", "count"), [(150, 1), (900, 1), (400, 2), (700, 9), (41, 2)])
def test_low_rows_do_not_end_a_log(sparse, at, count):
    """A dip from which the voltage recovers at the same load: the rows are named and left out, and the capacity is the good log's."""
    good = identify_block(log(sparse))
    rows = sparse.copy()
    assert np.all(rows[at : at + count + 3, 2] > 1.0)
    rows[at : at + count, 1] = np.linspace(9.0, 9.3, count)
    result = identify_block(log(rows, "bad"))
    assert result.discharges[0].complete
    assert result.discharges[0].charge_ah == pytest.approx(good.discharges[0].charge_ah, rel=2e-3)
    assert result.resistance_ohm.value == pytest.approx(good.resistance_ohm.value, rel=2e-2)
    (remark,) = [text for text in result.remarks if "a dip, not the end" in text]
    assert remark.startswith(f"bad: line {at + 1}" if count == 1 else f"bad: lines {at + 1}, {at + 2}")


def test_a_row_without_current_changes_nothing(sparse):
    rows = sparse.copy()
    rows[400, 2] = 0.0
    told, good = identify_block(log(rows)), identify_block(log(sparse))
    assert told.discharges[0].charge_ah == pytest.approx(good.discharges[0].charge_ah, rel=2e-3)
    assert told.resistance_ohm.value == pytest.approx(good.resistance_ohm.value, rel=2e-2)


def test_low_rows_as_the_lamp_is_switched_off_are_refused(sparse):
    """The clamp slips at the switch: after the rest the block gives far more than a rest gives back."""
    off = int(np.flatnonzero((sparse[:-1, 2] > 1.0) & (sparse[1:, 2] < 1.0))[0])
    rows = sparse.copy()
    rows[off - 1 : off + 1, 1] = 9.0
    problem = refused(rows)
    assert problem.place == f"line {off}"
    assert "wrong reading" in problem.hint


def test_a_true_end_stays_the_end():
    """A rest, or less load, lets a block come back: neither moves the end; nor does scatter about the end voltage."""
    first = discharge([(0.0, 8.0)], interval=10.0)
    for amps, rested in ((8.0, True), (1.0, False)):
        ended = first[: int(np.flatnonzero(first[:, 2] < 0.5)[0])]
        low = np.column_stack([ended[-1, 0] + 10.0 * np.arange(1, 4), [10.4, 10.3, 10.2], [8.0] * 3])
        rest = (
            np.column_stack([low[-1, 0] + 10.0 * np.arange(1, 31), np.full(30, 12.0), np.zeros(30)])
            if rested
            else low[:0]
        )
        start = np.vstack([low, rest])[-1, 0]
        more = np.column_stack([start + 10.0 * np.arange(1, 61), np.full(60, 11.2), np.full(60, amps)])
        result = identify_block(log(np.vstack([ended, low, rest, more])))
        assert result.discharges[0].charge_ah == pytest.approx(
            identify_block(log(first)).discharges[0].charge_ah, rel=5e-3
        )
        assert not [text for text in result.remarks if "a dip, not the end" in text]
    for seed in range(5):
        noisy = identify_block(log(lamp(2.0, interval=10.0, noise_v=0.03, seed=seed)))
        assert not [text for text in noisy.remarks if "a dip, not the end" in text]


def test_no_row_of_a_good_log_is_left_out(slow, fast, sparse):
    single = sparse.copy()  # the load on for single rows
    loaded = np.flatnonzero(single[:, 2] > 1.0)
    single[loaded[loaded % 6 != 0], 2] = 0.0
    for rows in (slow, fast, sparse, single, lamp(8.0, interval=30.0, noise_v=0.02)):
        assert len(log(rows).time_s) == len(rows)


@pytest.mark.parametrize(("column", "factor"), [(2, 1000.0), (0, 60.0)])
def test_a_slipped_unit_is_refused(sparse, column, factor):
    rows = sparse.copy()
    rows[:, column] *= factor
    problem = refused(rows, label_ah=20.0)
    assert "times the label's 20 Ah" in problem.found
    assert "in the unit its name says" in problem.hint


@pytest.mark.parametrize("seed", range(1, 7 if LONG else 3))
def test_rows_that_cannot_tell_the_slow_part_do_not_claim_it(seed):
    """30 s rows, 60 s, 20 mV of scatter: two rows lie within one time constant."""
    block = {"polarisation_time_s": 60.0, "interval": 30.0, "noise_v": 0.02}
    result = identify_block(log(lamp(8.0, seed=seed, **block)))
    for told, truth in (
        (result.activation_v_per_cell, BLOCK["activation_v_per_cell"]),
        (result.polarisation_time_s, 60.0),
    ):
        assert told is None or told.low <= truth <= told.high
    if result.polarisation_time_s is None:
        assert any(text.startswith("Slow part: ") for text in result.undetermined)
        assert any(text.startswith("Resistance less the usual slow part") for text in result.remarks)
    assert result.resistance_ohm.low <= BLOCK["block_resistance_ohm"] <= result.resistance_ohm.high


@pytest.mark.parametrize("amps", [2.0, 8.0])
@pytest.mark.parametrize("interval", [5.0, 10.0, 30.0, 120.0])
def test_the_resistance_s_band_holds_the_block_s_own(amps, interval):
    held, count = 0, 6 if LONG else 2
    for seed in range(count):
        told = identify_block(log(lamp(amps, seed=seed, interval=interval, noise_v=0.02))).resistance_ohm
        held += told is None or told.low <= BLOCK["block_resistance_ohm"] <= told.high
        if told is not None:
            assert told.high < 1.8 * told.value
        assert told is not None or amps < 8.0 or interval > 10.0, "a large step and close rows tell it"
    assert held >= binom.ppf(1e-3, count, 0.9)


@pytest.fixture(scope="module")
def quiet() -> dict[float, np.ndarray]:
    """Two tests without scatter, a row every 2 s, the load left on a little beyond the end voltage."""
    still = {"interval": 2.0, "noise_v": 0.0, "noise_a": 0.0, "end_v": 10.2}
    return {amps: lamp(amps, **still) for amps in (2.0, 8.0)}


def metered(rows: np.ndarray, rng: np.random.Generator, noise_v: float):
    """Every fifth row from a random one on, as another meter would write them: its error of 3 % (90 %), its scatter."""
    rows = rows[rng.integers(5) :: 5].copy()
    rows[:, 1] += noise_v * rng.standard_normal(len(rows))
    rows[:, 2] *= 1.0 + 0.03 / 1.645 * rng.standard_normal()
    return log(rows)


@pytest.mark.parametrize("noise_v", [0.002, 0.005] if LONG else [0.005])
@pytest.mark.thorough
def test_nine_of_ten_bands_hold_the_block_s_own_numbers(quiet, noise_v):
    """Every band's share of hits is 90 % or more, within the binomial error; those of capacity and k are no wider than that."""
    count = 120 if LONG else 10
    # The end voltage is met before the block is quite empty: what a perfect meter would find is the capacity to be held.
    perfect = identify_block(*(log(rows) for rows in quiet.values()))
    assert perfect.rated_capacity_ah.value == pytest.approx(BLOCK["block_capacity_ah"], rel=0.015)
    truths = {
        "rated_capacity_ah": perfect.rated_capacity_ah.value, "peukert_exponent": BLOCK["peukert_exponent"],
        "resistance_ohm": BLOCK["block_resistance_ohm"], "polarisation_time_s": BLOCK["polarisation_time_s"],
        "activation_v_per_cell": BLOCK["activation_v_per_cell"],
    }  # fmt: skip
    hits = dict.fromkeys(truths, 0)
    for seed in range(count):
        rng = np.random.default_rng(seed)
        result = identify_block(*(metered(rows, rng, noise_v) for rows in quiet.values()))
        for name, truth in truths.items():
            band = getattr(result, name)
            hits[name] += band.low <= truth <= band.high
    for name, held in hits.items():
        assert held >= binom.ppf(1e-3, count, 0.9), name
    if LONG:
        for name in ("rated_capacity_ah", "peukert_exponent"):
            assert hits[name] <= binom.ppf(1.0 - 1e-3, count, 0.9), name


def test_the_example_in_the_docstring_is_true():
    assert doctest.testmod(identify).failed == 0
    assert doctest.testmod(identify).attempted > 0
