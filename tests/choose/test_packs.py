"""Packs side by side, and what is said about them."""

from __future__ import annotations

import doctest

import pytest

from ridesim.choose import packs
from ridesim.choose.compare import compare
from ridesim.choose.findings.blocks import strings_findings
from ridesim.choose.findings.charging import charging_findings
from ridesim.choose.findings.places import where
from ridesim.choose.findings.safety import cautions
from ridesim.choose.likely import with_bands
from ridesim.choose.other_pack import refitted, with_pack_of
from ridesim.choose.packs import charge_plan, made_equal, pack_answers, wear_of
from ridesim.day import Activity
from ridesim.physics.life import cycles_at
from ridesim.ride.pack.charge import charge_until_full, missing_ah
from ridesim.ride.pack.refusal import uncharged
from ridesim.ride.pack.supply import Charger, Socket
from ridesim.ride.pack.unlike_blocks import RealBlock, ride_on_blocks
from ridesim.ride.simulate import simulate
from ridesim.show.choose_drive.inputs import reckon
from ridesim.vehicle import load_build
from ridesim.words import InputProblem, percent
from tests.ride.machines import day_of, make_build


def priced(name: str, price: float | None):
    build = load_build(name)
    return build.changed({"pack.block_price": price})


@pytest.fixture(scope="module")
def options(festival):
    return {
        each.name: each
        for each in (
            pack_answers(build, festival) for build in (priced("heron_36v", 60.0), priced("heron_lithium", 700.0))
        )
    }


def test_usable_is_less_than_the_label(options):
    for each in options.values():
        assert 0.0 < each.usable_wh.low <= each.usable_wh.value <= each.usable_wh.high < each.label_wh
    lead, lithium = options["Heron, 36 V"], options["Heron, lithium"]
    assert lead.usable_wh.value / lead.label_wh < lithium.usable_wh.value / lithium.label_wh
    assert lead.kg_per_usable_kwh > 2.0 * lithium.kg_per_usable_kwh


@pytest.mark.thorough
def test_usable_watt_hours_do_not_jump_with_the_day_s_length(festival):
    """A heavy day passes the reserve, half of it does not: the two must tell about the same, under every law."""
    build = load_build("heron_36v")
    half = festival.changed({"activity": festival.activity[:4]})
    short, long = pack_answers(build, half, draws=512).usable_wh, pack_answers(build, festival, draws=512).usable_wh
    for key in ("value", "low", "high"):
        assert getattr(short, key) == pytest.approx(getattr(long, key), rel=0.1)


def test_life_and_cost_of_a_show_day(options, festival):
    lead = options["Heron, 36 V"]
    assert lead.charging.wall_wh.low > lead.ride.outcome.energy_wh
    unpriced = pack_answers(priced("heron_36v", None), festival, draws=0)
    assert (unpriced.price, unpriced.price_per_show_day, unpriced.price_per_usable_kwh) == (None, None, None)
    assert lead.price == 180.0
    assert lead.worn_by == "age"
    assert lead.price_per_show_day.value == pytest.approx(180.0 / lead.show_days.value)
    busy = pack_answers(priced("heron_36v", 60.0), festival, show_days_per_year=300.0, draws=0)
    assert busy.worn_by == "cycles"
    assert busy.show_days.low < busy.show_days.value < busy.show_days.high
    depth, wear = wear_of(busy.ride)
    assert busy.show_days.value == pytest.approx(1.0 / wear)
    assert wear > 1.0 / cycles_at(depth, busy.build.pack.in_force.cycle_life), (
        "the charge in the break is a cycle of its own"
    )


def test_age_has_a_band_and_stays_within_the_printed_table(festival):
    """Sealed lead-acid lasts 8 years at 20 degC, the most that is printed (a marine battery book): 96 show days at 12 a year."""
    option = pack_answers(priced("heron_36v", 60.0), festival, mean_c=15.0, draws=0)
    assert option.worn_by == "age"
    assert option.show_days.value == pytest.approx(8.0 * 12.0)
    assert (option.show_days.low, option.show_days.high) == pytest.approx((0.7 * 96.0, 1.3 * 96.0))
    band = option.price_per_show_day
    assert (band.low, band.value, band.high) == pytest.approx((180.0 / 124.8, 180.0 / 96.0, 180.0 / 67.2))
    at_25 = pack_answers(priced("heron_36v", 60.0), festival, mean_c=25.0, draws=0)
    assert at_25.show_days.value == pytest.approx(6.0 * 12.0)
    stated = load_build("heron_36v").changed({"pack.calendar_years": 6.0})
    assert pack_answers(stated, festival, mean_c=15.0, draws=0).show_days.value == pytest.approx(12.0 * 12.0)


def test_equal_mass_and_equal_price():
    lead, lithium = priced("heron_36v", 60.0), priced("heron_lithium", 700.0)
    by_mass, by_price = (made_equal(lithium, lead, by) for by in ("mass", "price"))
    assert by_mass.pack.mass_kg == pytest.approx(lead.pack.mass_kg)
    assert by_price.pack.block_price == pytest.approx(3 * 60.0)
    assert by_price.pack.block_capacity_ah == pytest.approx(30.0 * 180.0 / 700.0)
    with pytest.raises(InputProblem, match=r"Heron, 36 V, pack.block_price: found nothing"):
        made_equal(lithium, priced("heron_36v", None), "price")


def test_a_pack_in_another_vehicle_stands_where_that_one_s_stood(heron):
    """Ten nickel-manganese-cobalt cells for 36 V, seven for 24 V (common practice, no source); mass and price go with the cells."""
    pack = {
        "pack": {"chemistry": "lithium-nmc", "cells_in_series": 10, "block_capacity_ah": 20.0, "block_mass_kg": 8.0}
    }
    other = load_build("heron_lithium").changed(pack | {"pack.block_price": 400.0})
    cart = with_pack_of(load_build("puppet_cart"), other).pack
    assert (cart.cells, cart.block_capacity_ah) == (7, 20.0)
    assert (cart.mass_kg, cart.block_price) == (pytest.approx(5.6), pytest.approx(280.0))
    placed = heron.changed({
        "pack.x_m": None, "pack.z_m": None, "pack.place": [{"x_m": x, "z_m": 0.4} for x in (0.4, 0.5, 0.9)],
    })  # fmt: skip
    inside = with_pack_of(placed, other)
    assert (inside.pack.cells, inside.pack.x_m, inside.pack.z_m, inside.pack.tray_mm) == (
        10,
        0.6,
        0.4,
        heron.pack.tray_mm,
    )
    assert [note.code for note in inside.notes] == ["cut-off-dropped"]
    assert inside.cutoff_voltage_v == pytest.approx(10 * other.pack.kind.cutoff_v_per_cell)
    assert refitted(other, placed) == ""
    quarters = other.changed({"pack": {"chemistry": "lithium-iron-phosphate", "cells_in_series": 4, "blocks_in_series": 3,
                                       "block_capacity_ah": 20.0, "block_mass_kg": 3.0}})  # fmt: skip
    assert with_pack_of(load_build("puppet_cart"), quarters).pack.mass_kg == 6.0, "two of the three blocks"


@pytest.mark.parametrize(
    ("settings", "key"),
    [
        ({"show_days_per_year": 0.0}, "show_days_per_year"),
        ({"show_days_per_year": float("nan")}, "show_days_per_year"),
        ({"show_days_per_year": "twelve"}, "show_days_per_year"),
        ({"mean_c": 500.0}, "mean_c"),
    ],
)
def test_years_that_cannot_be(festival, settings, key):
    with pytest.raises(InputProblem) as problem:
        pack_answers(load_build("heron_36v"), festival, **settings)
    assert problem.value.place == key


def codes(build, day):
    return {each.code: each for each in compare([build], day).candidates[0].findings}


def test_charging_harder_than_the_blocks_stand():
    charge = Activity(name="charge", duration_min=60.0, charge_current_a=9.0)
    found = codes(make_build(), day_of(charge, start_state_of_charge=0.5))["charge-current-high"]
    assert found.numbers == {"charge_current_a": 9.0, "max_charge_current_a": pytest.approx(6.6)}
    gentle = Activity(name="charge", duration_min=60.0, charge_current_a=6.0)
    assert "charge-current-high" not in codes(make_build(), day_of(gentle, start_state_of_charge=0.5))


def test_hot_and_cold_chargers():
    charge = Activity(name="charge", duration_min=60.0, charge_current_a=4.0)
    assert "too-hot-to-charge" in codes(make_build(), day_of(charge, ambient_c=45.0, start_state_of_charge=0.5))
    cold = day_of(charge, ambient_c=2.0, start_state_of_charge=0.5)
    found = codes(make_build(), cold)["charger-voltage"]
    assert found.numbers == {"wanted_v": pytest.approx(43.2 + 18 * 0.005 * 23.0), "given_v": pytest.approx(43.2)}
    assert "charger-voltage" not in codes(make_build(pack__charge_compensation_v_per_cell_per_k=-0.005), cold)


def test_stood_and_cold_and_freezing():
    stand = Activity(name="stand", duration_min=10.0)
    shed = codes(make_build(pack__stood_months=8.0), day_of(stand))["stood-too-long"]
    assert shed.severity == "warning"
    assert codes(make_build(pack__stood_months=2.0), day_of(stand))["stood-in-the-shed"].severity == "advice"
    frost = codes(make_build(), day_of(stand, ambient_c=-12.0, start_state_of_charge=0.2))
    assert {"cold-pack", "may-freeze"} <= frost.keys()
    assert not {"cold-pack", "may-freeze", "stood-in-the-shed"} & codes(make_build(), day_of(stand)).keys()


def test_cautions_carry_this_pack_s_numbers():
    found = {each.code: each for each in cautions(load_build("heron_48v").pack)}
    assert found["short-circuit"].numbers["short_circuit_current_a"] == pytest.approx(4 * 6 * 2.142 / (4 * 0.011))
    assert found["charging-place"].numbers["air_m3_h"] == pytest.approx(0.05 * 24 * 1.0 * 22.0 / 100.0)
    assert "hydrogen" in found["charging-place"].text
    assert "flame" in found["charging-place"].text
    assert "Rings" in found["short-circuit"].text
    assert found["equalising-above-60-volts"].numbers["equalise_v"] == pytest.approx(61.9, abs=0.05)
    lithium = {each.code: each for each in cautions(load_build("heron_lithium").pack)}
    assert "never below 0 °C" in lithium["charging-place"].text
    high = {each.code for each in cautions(make_build(pack__blocks_in_series=5).pack)}
    assert "above-60-volts" in high
    heavy = {each.code: each for each in cautions(make_build(pack__block_mass_kg=30.0).pack)}
    assert "two people or a hoist" in heavy["lifting"].text


def test_a_dangerous_voltage_is_a_stop_in_the_day_and_in_the_cautions(festival):
    for name, volts, words in (
        ("heron_lithium", 4.2, "may burn, hours later too"),
        ("heron_36v", 4.0, "hydrogen and acid mist"),
    ):
        build = load_build(name)
        assert "charger-voltage-dangerous" not in codes(build, festival)
        assert "charger-voltage-dangerous" not in {each.code for each in cautions(build.pack)}
        wrong = build.changed({"pack.absorption_v_per_cell": volts})
        for found in (codes(wrong, festival), {each.code: each for each in cautions(wrong.pack)}):
            danger = found["charger-voltage-dangerous"]
            assert danger.severity == "stop"
            assert danger.numbers["given_v_per_cell"] == pytest.approx(volts)
            for each in (words, "charger made for this chemistry", "licensed person"):
                assert each in danger.text


@pytest.fixture(scope="module")
def on_blocks(festival):
    """Rides the festival on three blocks that are not alike; hands back the outcome and its findings by code."""
    ride = simulate(load_build("heron_36v"), festival, "peukert")

    def ride_it(*blocks):
        outcome = ride_on_blocks(ride, [list(blocks)])
        return outcome, {each.code: each for each in strings_findings(outcome)}

    return ride_it


@pytest.mark.thorough
def test_a_tired_block_is_named_in_words(on_blocks):
    _, found = on_blocks(RealBlock("A"), RealBlock("the old one", health=0.4), RealBlock("C"))
    weak = found["weak-block"]
    assert weak.severity == "stop"
    assert "“the old one” (40 % of its rated capacity)" in weak.text
    assert "heats and vents gas and acid" in weak.text
    assert not on_blocks(RealBlock("A"), RealBlock("B"), RealBlock("C"))[1]


def test_a_block_that_began_low_is_named_when_it_is_empty(on_blocks):
    """The cut-off stops the current when the block is empty: that moment is the collapse. A low block is not a worn one."""
    outcome, found = on_blocks(RealBlock("a"), RealBlock("b"), RealBlock("c", start_charge=0.3))
    low, weak = outcome.blocks[2], found["weak-block"]
    assert low.collapse_s is not None
    assert low.collapse_s <= low.empty_s
    assert where(outcome.ride, low.collapse_s) in weak.text
    assert weak.numbers["collapse_s"] <= found["short-of-power"].numbers["power_short_s"]
    assert "begun at 30 %" in weak.text
    assert "replace" not in weak.text
    _, found = on_blocks(RealBlock("a"), RealBlock("b"), RealBlock("c", health=0.4, start_charge=0.6))
    assert "replace it" in found["weak-block"].text


def test_blocks_that_are_all_alike_do_not_drive_one_backwards(on_blocks):
    _, found = on_blocks(*(RealBlock(name, start_charge=0.25) for name in "abc"))
    assert "weak-block" not in found
    assert "All blocks are alike" in found["blocks-run-down"].text
    assert "backwards" not in found["blocks-run-down"].text


def test_a_weak_lithium_block_has_its_own_caution(festival):
    heron = load_build("heron_lithium")
    two = heron.changed({"pack.cells_in_series": 6, "pack.block_voltage_v": 19.2, "pack.blocks_in_series": 2})
    tired = ride_on_blocks(simulate(two, festival), [[RealBlock("A"), RealBlock("B", health=0.3)]])
    text = {each.code: each.text for each in strings_findings(tired)}["weak-block"]
    assert "never bridge its protection" in text
    assert "may burn, hours later too" in text
    assert "acid" not in text


def test_blocks_that_cannot_give_the_power_say_when(on_blocks):
    outcome, found = on_blocks(RealBlock("A"), RealBlock("B", health=0.3), RealBlock("C"))
    short = found["short-of-power"]
    assert short.numbers == {"power_short_s": outcome.power_short_s, "cutoff_v": 31.5}
    assert where(outcome.ride, outcome.power_short_s) in short.text


def test_old_beside_new_in_words(festival):
    heron = load_build("heron_36v")
    double = heron.changed({"pack.strings_in_parallel": 2})
    new = [RealBlock(name) for name in "ABC"]
    old = [RealBlock(f"old {name}", health=0.5, start_charge=0.3) for name in "ABC"]
    found = {each.code for each in strings_findings(ride_on_blocks(simulate(double, festival), [new, old]))}
    assert {"joining-strings", "unequal-strings"} <= found


def test_the_day_without_a_refused_charge_is_told(festival):
    """AGM at -20 degC: too cold to charge."""
    ride = simulate(load_build("heron_36v"), festival.changed({"ambient_c": -20.0}))
    found = {each.code: each.text for each in charging_findings(ride)}
    assert "Nothing is charged in “On the stand, charging”" in found["day-without-charge"]
    assert f"ends at {percent(ride.outcome.end_state_of_charge)}" in found["day-without-charge"]


@pytest.mark.parametrize(
    ("name", "chemistry", "volts", "severity", "share"),
    [
        ("heron_36v", None, 1.6, "warning", "0 %"),  # a charger for 24 V
        ("heron_36v", None, 2.042, "warning", "50 %"),
        ("heron_36v", None, None, None, ""),
        ("heron_lithium", None, None, None, ""),
        ("heron_lithium", None, 3.266, "warning", "50 %"),
        ("heron_lithium", "lithium-nmc", None, "advice", "97 %"),
    ],
)
def test_a_charger_too_weak_in_volts_is_said_so(festival, name, chemistry, volts, severity, share):
    """A charger brings no more in once the rested voltage is its own: AGM 2.042 V, LFP 3.266 V at 50 %."""
    build, day = load_build(name), festival.changed({"ambient_c": 25.0})
    if chemistry is not None:
        kind = {"pack__chemistry": chemistry, "pack__cells_in_series": 10, "pack__blocks_in_series": 1}
        build = make_build(**kind, pack__block_voltage_v=36.0)
    if volts is not None:
        build = build.changed({"pack.absorption_v_per_cell": volts, "controller.cutoff_voltage_v": None})
    found = codes(build, day).get("charger-fills-in-part" if severity == "advice" else "charger-voltage-low")
    if severity is None:
        assert found is None
    else:
        assert found.severity == severity
        assert f"brings this pack to {share} and no further" in found.text


@pytest.mark.parametrize(
    ("name", "air", "volts"), [("heron_lithium", -3.0, None), ("heron_lithium", 14.0, 3.9), ("heron_36v", 14.0, 2.8)]
)
def test_a_refused_charge_is_ridden_nowhere(festival, name, air, volts):
    """In frost, or with too high a voltage: terminal, notebook 3 and notebook 4 say the same end of the day."""
    build, day = load_build(name), festival.changed({"ambient_c": air})
    if volts is not None:
        build = build.changed({"pack.absorption_v_per_cell": volts})
    option, compared = pack_answers(build, day, draws=64), compare([build], day).candidates[0]
    panel = with_bands([reckon(build, day, (0.0,)).candidate], day)[0]
    assert (
        option.ride.ledger_wh["charger"] == compared.ride.ledger_wh["charger"] == panel.ride.ledger_wh["charger"] == 0.0
    )
    for each in (compared, panel):
        assert (each.left.value, each.spare_km.value) == (option.candidate.left.value, option.candidate.spare_km.value)
        told = next(finding for finding in each.findings if finding.code == "day-without-charge")
        assert told.severity == "stop"
        assert told.numbers["end_state_of_charge"] == pytest.approx(option.ride.outcome.end_state_of_charge)
        assert {"too-cold-to-charge", "charger-voltage-dangerous"} & {finding.code for finding in each.findings}
    without = simulate(build, uncharged(day)).outcome.end_state_of_charge
    assert compared.ride.outcome.end_state_of_charge == pytest.approx(without)
    alone = simulate(build, day)
    assert alone.outcome == compared.ride.outcome
    assert list(alone.refused) == ["On the stand, charging"]
    assert "On the stand, charging" in repr(alone)
    assert simulate(load_build("heron_36v"), festival).refused == {}
    assert option.charging.wall_wh is None
    assert option.charging.night.refused
    assert "day-without-charge" not in codes(load_build(name), festival)


def test_the_night_and_the_wall_energy_share_one_air(festival):
    """The night in the wall energy is the night that is shown: in the day's air."""
    for air in (5.0, 30.0):
        option = pack_answers(
            load_build("heron_36v"), festival.changed({"ambient_c": air}), charger=Charger(5.0), draws=0
        )
        ride = option.ride
        missing = float(missing_ah(ride, ride.clock_s[-1]))
        alone = charge_until_full(
            option.build, ride.outcome.end_state_of_charge, Charger(5.0), ambient_c=air, missing_ah=missing
        )
        assert option.charging.night.hours_to == alone.hours_to
        day = -option.ride.ledger_wh["charger"] / 0.85
        assert option.charging.wall_wh.value == pytest.approx(day + alone.wall_wh_to_full)


def test_more_amps_than_the_socket_feeds():
    charge = Activity(name="lunch", duration_min=60.0, charge_current_a=6.0)
    day = day_of(charge, start_state_of_charge=0.5)
    ride = simulate(make_build(), day)
    weak = Socket("generator", 230.0, 1.0)
    found = {each.code: each for each in charging_findings(ride, weak)}["charge-current-not-fed"]
    assert found.numbers == {"charge_current_a": 6.0, "socket_a": pytest.approx(230.0 * 0.85 / 43.2)}
    assert "“lunch” asks for 6 A" in found.text
    assert "charge-current-not-fed" not in codes(make_build(), day)
    strong = Activity(name="lunch", duration_min=60.0, charge_current_a=60.0)
    assert "charge-current-not-fed" in codes(make_build(), day_of(strong, start_state_of_charge=0.5))


def test_the_charge_plan_is_the_answers_own(festival):
    build = load_build("heron_36v")
    answers, plan = pack_answers(build, festival, charger=Charger(5.0)), charge_plan(build, festival, Charger(5.0))
    assert plan.night.hours_to == answers.charging.night.hours_to
    assert plan.wall_wh == answers.charging.wall_wh
    frost = charge_plan(load_build("heron_lithium"), festival.changed({"ambient_c": -4.0}))
    assert "too cold to charge" in repr(frost)
    assert frost.wall_wh is None
    for shown in (answers, plan, frost):
        assert len(repr(shown).splitlines()) <= 20


def test_examples_in_docstrings_are_true():
    result = doctest.testmod(packs)
    assert (result.failed, result.attempted > 0) == (0, True)
