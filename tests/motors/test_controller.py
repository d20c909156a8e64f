"""The controller: one number on the label, reverse, pre-charge, cut-out, soft start; findings about motor and controller."""

from __future__ import annotations

import math
import re
from types import SimpleNamespace

import pytest

from ridesim.choose import compare
from ridesim.choose.findings import controller as found
from ridesim.choose.findings.direction import reversal
from ridesim.choose.findings.heat import stalls_quickly
from ridesim.choose.findings.motor import above_nameplate, magnets
from ridesim.day import load_day
from ridesim.forms import validate
from ridesim.ride.machine import machine
from ridesim.ride.steady import currents_for, resistance_at, steepest_start_percent, top_speed_kmh
from ridesim.ride.steady.cut_out import cut_out, soft_start_hold_s
from ridesim.ride.steady.motor import at_voltage, label_readings, precharge, reverse_top_speed_kmh
from ridesim.show.tables.outcome import lines_for
from ridesim.vehicle import Controller, load_build, save_build
from ridesim.words import InputProblem
from tests.ride.machines import SERIES_WOUND, make_build

LABEL = {
    "controller__max_battery_current_a": None,
    "controller__max_motor_current_a": None,
    "controller__label_current_a": 40.0,
}


def controller(**keys) -> Controller:
    return validate(Controller, keys, "the test's controller")


def codes(findings) -> dict:
    return {each.code: each for each in findings}


@pytest.mark.parametrize(
    ("meaning", "limits"), [("battery", (40.0, 80.0)), ("motor", (40.0, 40.0)), ("unknown", (40.0, 40.0))]
)
def test_a_label_with_one_number(meaning, limits):
    made = controller(label_current_a=40.0, label_current_is=meaning)
    assert (made.max_battery_current_a, made.max_motor_current_a) == limits


BOTH = {"max_battery_current_a": 4.0, "max_motor_current_a": 8.0}


@pytest.mark.parametrize(
    ("keys", "place"),
    [
        ({}, "max_battery_current_a"),
        ({"max_battery_current_a": 40.0}, "max_motor_current_a"),
        ({"label_current_a": 40.0}, "label_current_is"),
        ({"label_current_a": 40.0, "label_current_is": "both"}, "label_current_is"),
        ({"label_current_a": -1.0, "label_current_is": "motor"}, "label_current_a"),
        ({**BOTH, "label_current_is": "motor"}, "label_current_a"),
        ({**BOTH, "label_current_a": 4.0, "label_current_is": "motor"}, "label_current_a"),
        ({**BOTH, "restart_voltage_v": 34.0}, "restart_voltage_v"),
        ({**BOTH, "precharge_ohm": 100.0}, "capacitor_uf"),
    ],
)
def test_wrong_controllers_are_named(keys, place):
    with pytest.raises(InputProblem) as caught:
        controller(**keys)
    assert caught.value.place == place


def test_results_show_both_readings():
    build = make_build(**LABEL, controller__label_current_is="unknown")
    both = label_readings(build)
    finding = codes(found.one_current(build))["label-current-unknown"]
    assert finding.severity == "warning"
    for reading, each in both.items():
        assert finding.numbers[f"steepest_start_{reading}_percent"] == pytest.approx(steepest_start_percent(each))
    assert finding.numbers["steepest_start_battery_percent"] > 1.5 * finding.numbers["steepest_start_motor_percent"]
    assert steepest_start_percent(build) == pytest.approx(steepest_start_percent(both["motor"]))
    assert label_readings(make_build()) == {}


@pytest.mark.parametrize(
    ("share", "said"),
    [(0.3, "Either way it starts"), (0.8, "hangs on it: on its steepest"), (1.2, "Either way it does not start")],
)
def test_the_result_says_whether_the_day_hangs_on_the_reading(share, said):
    """Steepest climb below both, between both (0.8 of the better one), above both."""
    build = make_build(**LABEL, controller__label_current_is="unknown")
    better = steepest_start_percent(label_readings(build)["battery"])
    text = codes(found.one_current(build, SimpleNamespace(steepest_percent=share * better)))[
        "label-current-unknown"
    ].text
    assert said in text
    assert "up to 2 times as much" in text


def test_a_label_survives_saving(tmp_path):
    build = make_build(**LABEL, controller__label_current_is="battery")
    again = load_build(save_build(build, tmp_path / "label.toml"))
    assert again.controller == build.controller
    assert "max_motor_current_a" not in (tmp_path / "label.toml").read_text(encoding="utf-8")


def test_reverse_is_slower_and_at_full_duty_as_fast():
    speeds = [reverse_top_speed_kmh(make_build(controller__reverse_duty=share)) for share in (0.2, 0.4, 0.7, 1.0)]
    assert speeds == sorted(speeds)
    assert speeds[-1] == pytest.approx(top_speed_kmh(make_build()), rel=1e-6)
    with pytest.raises(ValueError, match="no reverse"):
        reverse_top_speed_kmh(make_build())


def test_reverse_speed_and_pull_reach_the_user():
    build = make_build(controller__reverse_duty=0.4)
    finding = codes(reversal(build))["reversal"]
    assert finding.numbers["reverse_top_speed_kmh"] == reverse_top_speed_kmh(build)
    # Held at full duty nothing but the motor's current limit sets the pull: K I less drag, geared, over the wheel.
    full = codes(reversal(make_build(controller__reverse_duty=1.0)))["reversal"]
    assert full.numbers["reverse_pull_n"] == pytest.approx((0.105 * 80.0 - 0.1) * 15.0 * 0.88 / 0.3, rel=1e-6)
    weak = codes(reversal(make_build(controller__reverse_duty=0.05)))["reversal"]
    assert weak.numbers["reverse_pull_n"] < 0.3 * full.numbers["reverse_pull_n"]
    assert f"{reverse_top_speed_kmh(build):.1f} km/h" in finding.text
    assert "interlock" in finding.text

    day = load_day("harbour_festival")
    rows = {line.label: line.cells for line in lines_for(compare([build, load_build("heron_36v")], day))}
    assert list(rows["top speed, reverse"]) == [f"{reverse_top_speed_kmh(build):.1f}", "-"]


def test_a_series_wound_motor_reverses_only_by_its_leads():
    build = make_build(**SERIES_WOUND, controller__reverse_duty=0.4)
    finding = codes(reversal(build))["series-wound-reversal"]
    assert finding.severity == "warning"
    assert "standstill" in finding.text
    assert "interlocked" in finding.text


def test_precharge_is_reckoned_against_the_full_pack():
    figures = precharge(make_build(controller__capacitor_uf=2000.0, controller__precharge_ohm=100.0))
    assert figures is not None
    assert figures.peak_current_a == pytest.approx(0.432)
    assert figures.energy_j == pytest.approx(0.5 * 0.002 * 43.2**2)
    assert figures.to_95_percent_s == pytest.approx(-0.2 * math.log(0.05))
    assert "precharge-missing" in codes(found.capacitors(make_build(controller__capacitor_uf=2000.0)))


def test_a_cut_out_trips_where_the_pack_sags_to_it():
    cuts = {"controller__cutoff_action": "cut-out", "controller__cutoff_voltage_v": 34.0}
    build = make_build(**cuts, controller__restart_voltage_v=35.5)
    answer = cut_out(build, 6.0, 8.0)
    assert 0.0 < answer.trips_below < 1.0

    m = machine(build)
    pull = resistance_at(6.0 / 3.6, build.total_mass_kg(), 0.08, m)
    assert currents_for(pull, 6.0 / 3.6, answer.trips_below, m)[2] == pytest.approx(34.0, abs=1e-6)
    assert answer.off_s > 0.0
    assert cut_out(build, 6.0, 2.0).trips_below < answer.trips_below
    assert cut_out(make_build(**cuts, controller__restart_voltage_v=39.0), 6.0, 8.0).off_s == math.inf
    assert cut_out(make_build(controller__cutoff_voltage_v=10.0), 6.0).trips_below == 0.0


def test_a_soft_start_needs_the_brake_meanwhile():
    build = make_build(controller__ramp_s=2.0)
    limit = steepest_start_percent(build)
    holds = [soft_start_hold_s(build, grade) for grade in (0.0, 4.0, 8.0, limit - 0.01)]
    assert holds == sorted(holds)
    assert holds[-1] == pytest.approx(2.0, rel=0.01)
    assert soft_start_hold_s(build, limit + 0.1) == math.inf
    assert soft_start_hold_s(make_build(), 8.0) == 0.0


def test_above_the_nameplate():
    assert not codes(above_nameplate(make_build()))
    mild = codes(above_nameplate(make_build(motor__rated_voltage_v=30.0)))["above-nameplate-voltage"]
    assert mild.severity == "advice"
    assert mild.numbers["ratio"] == pytest.approx(1.2)
    assert 1.2 < mild.numbers["speed_ratio"] < 1.25
    # From 1.5 times on, as the text says, that itself counts.
    edge = codes(above_nameplate(make_build(motor__rated_voltage_v=24.0, motor__rated_power_w=250.0)))
    assert edge["far-above-nameplate-voltage"].severity == "warning"
    assert "From 1.5 times the nameplate on" in edge["far-above-nameplate-voltage"].text
    strong = make_build(motor__rated_voltage_v=24.0, motor__rated_power_w=250.0, pack__blocks_in_series=4)
    assert codes(above_nameplate(strong))["far-above-nameplate-voltage"].severity == "warning"


BRUSHLESS = {"motor__kind": "electronically-commutated", "motor__brush_drop_v": None}


@pytest.mark.parametrize("rated", [30.0, 20.0])
def test_a_motor_without_brushes_is_never_told_of_them(rated):
    build = make_build(
        **BRUSHLESS, motor__rated_voltage_v=rated, motor__rated_power_w=150.0, controller__reverse_duty=0.4,
        controller__max_motor_current_a=250.0, controller__max_battery_current_a=250.0,
    )  # fmt: skip
    said = [*above_nameplate(build), *reversal(build), *stalls_quickly(build, 20.0)]
    assert len(said) == 3
    for each in said:
        assert not re.search("brush|commutator", each.text), each.text


def test_ferrite_is_at_risk_cold_and_neodymium_hot():
    amps = {"motor__demagnetising_current_a": 82.0}
    assert "magnets-at-risk" in codes(magnets(make_build(**amps), -5.0))
    assert "magnets-at-risk" not in codes(magnets(make_build(**amps), 25.0))
    hot = codes(magnets(make_build(**amps, motor__magnet="neodymium"), 25.0))
    assert hot["magnets-at-risk"].numbers["magnet_c"] == 145.0
    assert "magnets-at-risk" not in codes(magnets(make_build(**{"motor__demagnetising_current_a": 200.0}), -5.0))


def test_a_quick_stall_and_a_reversal():
    quick = make_build(controller__max_motor_current_a=250.0)
    assert "stall-seconds" in codes(stalls_quickly(quick, 20.0))
    assert "stall-seconds" not in codes(stalls_quickly(make_build(), 20.0))
    finding = codes(reversal(make_build(controller__reverse_duty=0.4)))["reversal"]
    stall = 43.2 / (0.085 + 0.006)
    assert stall < finding.numbers["reversal_current_a"] < 2.0 * stall


def test_another_voltage_is_the_same_vehicle_with_other_blocks():
    build = load_build("heron_36v")
    other = at_voltage(build, 48.0)
    assert other.pack.nominal_voltage_v == 48.0
    assert other.cutoff_voltage_v == pytest.approx(42.0)
    assert other.total_mass_kg() == pytest.approx(build.total_mass_kg() + 6.6)
    assert at_voltage(build, 36.0).pack == build.pack
    cuts = make_build(
        controller__cutoff_action="cut-out", controller__cutoff_voltage_v=33.0, controller__restart_voltage_v=36.0
    )
    assert at_voltage(cuts, 48.0).restart_voltage_v == pytest.approx(48.0)


@pytest.mark.parametrize(
    ("volts", "said"),
    [(31.5, "found 31.5 V; expected more than the cut-off's 31.5 V"), (60.0, "expected less than the fully charged")],
)
def test_a_restart_outside_cut_off_and_full_pack_is_named(volts, said):
    with pytest.raises(ValueError, match=rf"controller\.restart_voltage_v: .*{said}"):
        make_build(controller__cutoff_action="cut-out", controller__restart_voltage_v=volts)


def test_a_restart_voltage_is_implied():
    made = make_build(controller__cutoff_action="cut-out")
    assert (made.restart_voltage_v, made.restart_delay_s) == (pytest.approx(31.5 + 18 * 0.15), 2.0)
    assert {place for place, _, _ in made.implied()} >= {"controller.restart_voltage_v", "controller.restart_delay_s"}


def test_findings_reach_the_comparison():
    build = make_build(
        **{**LABEL, "controller__label_current_a": 90.0},
        controller__label_current_is="unknown",
        controller__cutoff_action="cut-out",
        controller__ramp_s=1.0,
    )
    seen = {each.code for each in compare([build], load_day("harbour_festival")).candidates[0].findings}
    assert {"label-current-unknown", "cuts-out-below-the-reserve", "soft-start-hold"} <= seen
