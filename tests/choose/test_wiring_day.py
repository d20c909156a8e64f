"""What the day, a start on a ramp, a stall and a dead short do to every circuit, and what is said of it."""

from __future__ import annotations

from math import inf, isnan

import numpy as np
import pytest

import ridesim
from ridesim.choose.opening import RAMP, STALLED, THE_DAY
from ridesim.sizing.cable import ampacity_a

DAY = "harbour_festival"
HERON = ridesim.load_build("heron_36v")
MAIN = {"name": "main", "role": "main", "source": "pack", "load": "controller", "length_m": 1.2, "insulation_c": 105.0}
LEADS = {
    "name": "leads",
    "role": "motor",
    "source": "controller",
    "load": "motor",
    "length_m": 0.8,
    "insulation_c": 105.0,
}


def wired(*circuits, day=DAY, build=HERON, **more):
    return ridesim.wiring(build.changed({"wiring": {"circuit": list(circuits), **more}}), day)


def row_of(found, name, case):
    (row,) = (each for each in found.opens.to_dict("records") if (each["circuit"], each["case"]) == (name, case))
    return row


def codes(found):
    return {each.code for each in found.findings}


def test_every_circuit_is_told_of_in_every_case():
    found = ridesim.wiring("heron_36v", DAY)
    cases = found.opens.groupby("circuit", sort=False)["case"].apply(list)
    assert list(cases.index) == [each.demand.name for each in found.sized]
    assert len(cases["main"]) == len(cases["motor"]) == 5
    assert set(cases["charger"]) == {THE_DAY, "weakest dead short", "strongest dead short"}
    assert found.warmth["circuit"].tolist() == list(cases.index)
    assert ridesim.wiring("heron_36v").warmth.empty


def test_a_start_on_a_ramp_takes_the_controller_s_limit_whatever_the_day_needs():
    """A breaker for the day's own mean of a few amperes: 40 A are beyond twice its rating, which every part opens within a minute."""
    known = wired(duty_known=True)
    rating = known.sized[0].protection.rating_a
    assert HERON.controller.max_battery_current_a >= 2.0 * rating
    assert row_of(known, "main", RAMP)["latest_s"] < 60.0
    assert "protection-opens-on-a-ramp" in codes(known)
    assert "protection-opens-on-a-ramp" not in codes(wired())
    assert row_of(wired(), "main", RAMP)["earliest_s"] == inf


def test_a_stall_heats_the_motor_s_leads_by_its_own_current():
    """Ten seconds of 80 A in 4 mm²: heat stored in copper alone, 3.45 J/(mm² m K), from 40 °C; what is given off meanwhile only takes away."""
    found = wired({**LEADS, "section_mm2": 4.0})
    row = row_of(found, "leads", STALLED)
    most = 40.0 + 80.0**2 * 4.95e-3 * 1.34 * 10.0 / (3.45 * 4.0)
    least = 40.0 + 0.7 * 80.0**2 * 4.95e-3 * 1.08 * 10.0 / (3.45 * 4.0)
    assert least < row["cable_c"] < most
    assert row["cable_c"] > row_of(found, "main", STALLED)["cable_c"]


def test_a_cable_that_a_stall_burns_is_said():
    found = wired({**LEADS, "section_mm2": 1.5})
    row = row_of(found, "leads", STALLED)
    assert not row["outlives"]
    said = [each.text for each in found.findings if each.code == "cable-too-warm"]
    assert any("stalled" in text and "“leads”" in text for text in said)


def test_the_hottest_of_the_day_is_where_the_motor_works():
    found = wired({**LEADS, "section_mm2": 4.0})
    leads = found.warmth.set_index("circuit").loc["leads"]
    celsius = found.temperatures(found.sized[1])
    assert leads["hottest_c"] == celsius.max() > 45.0
    stage = next(each for each in found.ride.stages if each.start_s <= leads["clock_s"] <= each.end_s + 60.0)
    assert stage.name in leads["where"]
    assert len(celsius) == len(found.ride.rows)
    idle = np.asarray(found.ride.kept["motor_current_a"]) == 0.0
    assert celsius[idle].mean() < celsius[~idle].mean()


def test_the_charger_s_cable_is_warm_while_it_charges():
    found = ridesim.wiring("heron_36v", DAY)
    where = found.warmth.set_index("circuit").loc["charger", "where"]
    assert "charging" in where
    lights = found.warmth.set_index("circuit").loc["wheel rings", "where"]
    lit = [each.name for each in found.ride.day.activity if each.lighting]
    assert any(name in lights for name in lit)


def test_when_and_where_a_protection_opens_is_told():
    weak = wired({**MAIN, "section_mm2": 6.0, "protection": "cylindrical", "rating_a": 6.0, "current_a": 4.0})
    row = row_of(weak, "main", THE_DAY)
    assert row["says"] != "never"
    assert "in “" in row["where"]
    assert " km" in row["where"]
    motor = row_of(weak, "motor", THE_DAY)
    assert motor["earliest_s"] == row["earliest_s"], "what opens the main circuit stops the motor"
    assert len([each for each in weak.findings if each.code.endswith("on-the-day")]) == 1


def test_air_of_a_hot_day_counts_and_stated_air_is_kept():
    """33 CFR 183.425: 120 A of 105 °C insulation in 30 °C; by the root of what is left in hotter air."""
    hot = ridesim.load_day(DAY).changed({"ambient_c": 48.0})
    found = wired({**MAIN, "section_mm2": 16.0}, {**LEADS, "ambient_c": 30.0, "section_mm2": 16.0}, day=hot)
    main, leads = found.sized[:2]
    assert main.limits.ampacity_a == pytest.approx(120.0 * ((105.0 - 48.0) / 75.0) ** 0.5)
    assert leads.limits.ampacity_a == pytest.approx(120.0)
    assert wired({**MAIN, "section_mm2": 16.0}).sized[0].limits.ampacity_a == ampacity_a(16.0, 105, 40, 2)


def test_a_thermal_breaker_in_warm_air_that_does_not_hold_its_current():
    warm = {**MAIN, "ambient_c": 80.0, "section_mm2": 16.0, "protection": "breaker", "rating_a": 50.0}
    build = HERON.changed({"pack.label_resistance_ohm": 0.02})  # a short circuit that the breaker breaks
    found = wired(warm, build=build)
    assert "protection-in-warm-air" in {each.code for each in found.unmet}
    assert wired({**warm, "ambient_c": 40.0}, build=build).unmet == ()
    proposed = {key: value for key, value in warm.items() if key not in ("protection", "rating_a")}
    assert wired(proposed, build=build).sized[0].protection.kind != "breaker"


def test_a_stated_distance_counts_where_the_kind_is_left_open():
    found = wired({**MAIN, "protection_distance_m": 0.9})
    assert "protection-position" in codes(found)


def test_an_isolator_that_is_done_without_is_neither_drawn_nor_bought():
    for said, there in ((None, True), (True, True), (False, False)):
        found = ridesim.wiring(HERON.changed({"wiring": {"isolator": said}}))
        assert any("isolator" in each for each in found.parts["part"]) is there
        assert (">isolator<" in ridesim.wiring_diagram(found)) is there


def test_guessed_lengths_are_said_until_they_are_described():
    (said,) = (each for each in ridesim.wiring("heron_36v").findings if each.code == "lengths-guessed")
    assert "“wheel rings”" in said.text
    taken = ridesim.wiring(ridesim.wiring("heron_36v").taken_over())
    assert "lengths-guessed" not in codes(taken)


def test_a_proposal_counts_in_no_ride_until_it_is_taken_over():
    """0.004 of 0.006 ohm is the switch's; class 5, out and back, in air of 40 °C takes the place of the rest."""
    assert wired().build.on_resistance_ohm == HERON.on_resistance_ohm == 0.006
    described = wired({**MAIN, "section_mm2": 10.0}, {**LEADS, "section_mm2": 16.0}).build
    cables = 2.0 * 1.08 * (1.2 * 1.91e-3 + 0.8 * 1.21e-3)
    assert described.on_resistance_ohm == pytest.approx(0.004 + cables)
    ends = [ridesim.simulate(each, DAY).outcome.end_state_of_charge for each in (described, HERON)]
    assert ends[0] != ends[1]


def test_no_time_is_missing_where_nothing_opens():
    rows = ridesim.wiring("heron_36v", DAY).opens.to_dict("records")
    assert all(isnan(row["cable_c"]) is row["case"].endswith("short") for row in rows)
    assert all(row["where"] == "" for row in rows if row["says"] == "never" or row["case"] != THE_DAY)
