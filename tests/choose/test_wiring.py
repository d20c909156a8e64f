"""The wiring of drawn builds keeps every rule or says which it cannot; described circuits; switches; the ride with its cable."""

from __future__ import annotations

import random
from math import isnan

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

import ridesim
from ridesim.choose.circuits import largest_mean
from ridesim.show.tables.text import WIDEST
from ridesim.sizing.cable import ampacity_a, resistance_ohm
from ridesim.sizing.protection import kinds
from ridesim.vehicle.cable import cable_sizes
from ridesim.words import InputProblem
from tests.long import LONG

DAY = "harbour_festival"
HERON = ridesim.load_build("heron_36v")
MAIN = {
    "name": "main",
    "role": "main",
    "source": "pack",
    "load": "controller",
    "length_m": 1.2,
    "section_mm2": 10.0,
    "insulation_c": 105.0,
}
MOTOR = {
    "name": "motor leads",
    "role": "motor",
    "source": "controller",
    "load": "motor",
    "length_m": 0.8,
    "section_mm2": 16.0,
    "insulation_c": 105.0,
}
ALL_SWITCHES = dict.fromkeys(
    (
        "isolator", "breaker", "key_switch", "lights_apart", "direction_switch", "failsafe_throttle", "brake_cutoff", "emergency_stop",
    ),
    True,
)  # fmt: skip


def with_circuits(*circuits, build=HERON, **more):
    return build.changed({"wiring": {"circuit": list(circuits), **more}})


def drawn_build(draw: random.Random) -> ridesim.Build:
    """A vehicle such as somebody might describe, sane or not."""
    limit = draw.choice([10, 20, 40, 60, 100, 150, 250, 400]) * draw.uniform(0.7, 1.3)
    values = {
        "pack.blocks_in_series": draw.randint(1, 6),
        "pack.strings_in_parallel": draw.choice([1, 1, 1, 2, 3]),
        "pack.block_capacity_ah": draw.choice([7.0, 12.0, 22.0, 33.0, 55.0, 100.0, 200.0]),
        "pack.block_resistance_ohm": draw.choice([None, 0.003, 0.01, 0.03]),
        "pack.block_size_mm": None,
        "pack.tray_mm": None,
        "controller.max_battery_current_a": limit,
        "controller.max_motor_current_a": limit * draw.uniform(1.0, 2.5),
        "controller.cutoff_voltage_v": None,
        "controller.x_m": draw.uniform(-1.0, 3.0),
        "lighting.supply": draw.choice(["own-battery", "main-pack"]),
        "lighting.load[1].power_w": draw.choice([1.0, 20.0, 120.0, 600.0]),
        "charger": draw.choice([None, {"current_a": draw.uniform(1.0, 80.0)}]),
    }
    if draw.random() < 0.25:
        values["wiring"] = {"circuit": drawn_splitter(draw)}
    elif draw.random() < 0.6:
        values["wiring"] = {
            "circuit": [drawn_circuit(draw, draw.choice([MAIN, MOTOR]))],
            "duty_known": draw.random() < 0.3,
        }
    return HERON.changed(values)


def drawn_splitter(draw: random.Random) -> list[dict]:
    """A feeder, and behind it the controller, a key and sometimes the lights' converter."""
    feeder = drawn_circuit(draw, MAIN) | {"name": "feeder", "load": "splitter"}
    ends = {"main": "controller", "control": "key switch"}
    if draw.random() < 0.5:
        ends["lighting"] = "converter"
    branches = [{"name": f"to {load}", "role": role, "source": "splitter", "load": load} for role, load in ends.items()]
    return [{**drawn_circuit(draw, MOTOR), **each} for each in branches] + [feeder]


def drawn_circuit(draw: random.Random, like: dict) -> dict:
    insulation = draw.choice([60.0, 70.0, 75.0, 80.0, 90.0, 105.0, 125.0, 200.0])
    circuit = {
        **like,
        "length_m": draw.uniform(0.1, 8.0),
        "insulation_c": insulation,
        "bundled": draw.choice([2, 2, 3, 6, 12]),
    }
    circuit["ambient_c"] = draw.uniform(10.0, min(120.0, insulation - 5.0))
    circuit["section_mm2"] = draw.choice([1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0, 70.0])
    if draw.random() < 0.5:
        del circuit["section_mm2"]
    if draw.random() < 0.5 and like is MAIN:
        circuit |= {
            "protection": draw.choice(sorted(kinds())),
            "rating_a": float(draw.choice([5, 10, 30, 50, 80, 150])),
        }
    return circuit


def least_drop_v(found, circuit) -> float:
    """Of the whole way from the source, its copper no warmer than its air."""
    d = circuit.demand
    own = 2.0 * resistance_ohm(circuit.section_mm2, d.length_m, d.ambient_c) * d.continuous_a
    if d.role == "motor" or d.source == "converter":
        return own
    return own + sum(least_drop_v(found, each) for each in found.sized if each.demand.load == d.source)


def broken_rules(found, circuit) -> set[str]:
    """Rules that a circuit breaks, judged anew from tables and law."""
    d, broken = circuit.demand, set()
    amps = ampacity_a(circuit.section_mm2, d.insulation_c, d.ambient_c, d.bundled)
    if least_drop_v(found, circuit) > d.drop_limit * d.volts * (1 + 1e-9):
        broken.add("drop")
    if circuit.protection is None:
        if d.kinds:
            broken.add("protection")
        elif d.continuous_a > amps * (1 + 1e-9):
            broken.add("ampacity")
        return broken
    part, rating = kinds()[circuit.protection.kind], circuit.protection.rating_a
    if rating < 1.25 * d.continuous_a * (1 - 1e-9):
        broken.add("rating")
    if rating > amps * (1 + 1e-9):
        broken.add("ampacity")
    if part.rated_voltage_v < d.full_volts:
        broken.add("voltage")
    if part.breaking_a < d.strongest_a:
        broken.add("breaking")
    return broken


SAID_BY = {
    "drop": {"cable-drop"},
    "rating": {"protection-stated"},
    "ampacity": {"cable-ampacity", "protection-above-cable", "protection-stated"},
    "voltage": {"protection-voltage"},
    "breaking": {"protection-breaking"},
    "protection": {
        "protection-voltage",
        "protection-breaking",
        "protection-rating",
        "protection-above-cable",
        "protection-in-warm-air",
    },
}


@pytest.mark.parametrize("hundred", range(100 if LONG else 1))
def test_every_rule_is_kept_or_a_finding_says_which_cannot_be(hundred):
    for seed in range(100 * hundred, 100 * hundred + 100):
        found = ridesim.wiring(drawn_build(random.Random(seed)))
        for circuit in found.sized:
            mine = {each.code for each in found.findings if each.text.startswith(f"“{circuit.demand.name}”")}
            for rule in broken_rules(found, circuit):
                assert mine & SAID_BY[rule], (seed, circuit, rule, mine)
        frame = found.circuits
        named = {each.text.split("“")[1].split("”")[0] for each in found.unmet}
        for row in frame[~frame["circuit"].isin(named)].itertuples():
            assert isnan(row.fuse_a) or 1.25 * row.continuous_a <= row.fuse_a * (1 + 1e-9), seed
            assert isnan(row.fuse_a) or row.fuse_a <= row.ampacity_a * (1 + 1e-9), seed


SANE = {
    f"{name}, {changed}": (name, values)
    for name in ("heron_36v", "heron_48v", "heron_lithium", "puppet_cart")
    for changed, values in {
        "as shipped": {},
        "lights on the pack": {"lighting.supply": "main-pack"},
        "30 A controller": {"controller.max_battery_current_a": 30.0, "controller.max_motor_current_a": 60.0},
        "larger blocks": {"pack.block_capacity_ah": 33.0, "pack.block_size_mm": None, "pack.tray_mm": None},
        "own charger": {"charger": {"current_a": 5.0}},
    }.items()
}


@pytest.mark.parametrize("name", SANE)
def test_sane_builds_can_be_wired(name):
    build, values = SANE[name]
    found = ridesim.wiring(ridesim.load_build(build).changed(values), DAY)
    assert found.unmet == ()
    assert found.verdict.startswith("It can be wired so")
    assert not found.circuits.drop(columns="fuse_a").isna().any().any()


def test_the_verdict_says_what_is_still_missing(heron):
    """What stops a runaway vehicle is not left to the end of the list: the first line a person reads names it."""
    keys = ("isolator", "key_switch", "failsafe_throttle", "brake_cutoff", "emergency_stop")
    bare = ridesim.wiring(heron, DAY)
    assert bare.verdict.startswith(
        "It can be wired so; still missing in the build: isolator, key switch, fail-safe throttle, brake cut-off, emergency stop. "
    )
    partly = ridesim.wiring(heron.changed({f"wiring.{key}": key != "isolator" for key in keys[:-1]}), DAY)
    assert partly.missing == ["emergency stop"], "what is done without on purpose is not missing"
    whole = ridesim.wiring(heron.changed({f"wiring.{key}": True for key in keys}), DAY)
    assert whole.missing == []
    assert whole.verdict.startswith("It can be wired so: ")


def test_the_trade_s_breaker():
    """A 36 V drive of 450 to 500 W takes a breaker of about 50 A: common practice, no source."""
    found = ridesim.wiring("heron_36v", DAY)
    assert found.circuits.loc[0, "fuse_a"] == pytest.approx(50.0, rel=0.2)
    assert "breaker" in found.sized[0].protection.kind


def test_the_motor_carries_more_than_the_pack():
    frame = ridesim.wiring("heron_36v", DAY).circuits.set_index("circuit")
    assert frame.loc["motor", "continuous_a"] > frame.loc["main", "continuous_a"]
    assert frame.loc["motor", "section_mm2"] > frame.loc["main", "section_mm2"]
    assert list(frame.reset_index()) == [
        "circuit", "continuous_a", "peak_a", "section_mm2", "awg", "ampacity_a", "drop_v", "drop_percent", "fuse_a", "reason",
    ]  # fmt: skip


def test_the_duty_of_the_day_counts_where_it_is_known():
    limit = ridesim.wiring("heron_36v", DAY).circuits.loc[0, "continuous_a"]
    known = ridesim.wiring(HERON.changed({"wiring": {"duty_known": True}}), DAY).circuits.loc[0]
    assert limit == HERON.controller.max_battery_current_a
    assert known["continuous_a"] < known["peak_a"] <= limit + 1.0
    assert ridesim.wiring(HERON.changed({"wiring": {"duty_known": True}})).circuits.loc[0, "continuous_a"] == limit


@given(
    st.lists(st.tuples(st.floats(0.1, 900.0), st.floats(0.0, 90.0)), min_size=2, max_size=12),
    st.sampled_from([1.0, 600.0]),
)
def test_the_largest_mean_over_a_window(rows, window):
    """Against the same current on a fine grid, summed up."""
    clock = np.cumsum([seconds for seconds, _ in rows])
    current = np.array([amps for _, amps in rows])
    fine = np.linspace(clock[0], clock[-1], 20_001)
    step = fine[1] - fine[0]
    charge = np.append(0.0, np.cumsum(np.interp(fine[1:] - step / 2, clock, current) * step))
    span = min(window, clock[-1] - clock[0])
    ends = np.interp(np.minimum(fine + span, clock[-1]), fine, charge)
    coarse = ((ends - charge)[fine <= clock[-1] - span + 1e-9] / span).max()
    assert largest_mean(clock, current, window) == pytest.approx(coarse, rel=0.05, abs=0.05 * current.max())


def test_a_described_cable_counts_in_the_ride_and_a_proposal_does_not():
    """It replaces the wires' share: the same day with the sum stated as the controller's resistance."""
    both = with_circuits(MAIN, MOTOR)
    cables = 2 * resistance_ohm(10, 1.2, 40) + 2 * resistance_ohm(16, 0.8, 40)
    by_hand = HERON.changed({"controller.on_resistance_ohm": 0.004 + cables})
    rides = [ridesim.simulate(each, DAY).outcome.energy_wh for each in (both, by_hand, HERON)]
    assert rides[0] == pytest.approx(rides[1], rel=1e-12)
    assert rides[0] != rides[2]
    assert HERON.on_resistance_ohm == both.controller.on_resistance_ohm == 0.006
    assert both.changed({"wiring": None}).on_resistance_ohm == 0.006
    assert with_circuits({**MAIN, "section_mm2": None}).on_resistance_ohm == 0.006


def test_a_described_circuit_is_judged_as_it_stands():
    thin = ridesim.wiring(with_circuits({**MAIN, "section_mm2": 2.5, "protection": "breaker", "rating_a": 40.0}), DAY)
    codes = {each.code for each in thin.findings}
    assert {"protection-breaking", "protection-stated", "breaker-as-a-switch"} <= codes
    assert "“main” needs a change" in thin.verdict
    good = {**MAIN, "protection": "magnetic-breaker", "rating_a": 50.0, "protection_distance_m": 0.1}
    assert ridesim.wiring(with_circuits(good), DAY).unmet == ()
    far = ridesim.wiring(with_circuits({**good, "protection_distance_m": 0.5}), DAY)
    assert [each.code for each in far.unmet] == ["protection-position"]
    blade = ridesim.wiring(with_circuits({**good, "protection": "blade", "rating_a": 40.0}), DAY)
    assert "protection-voltage" in {each.code for each in blade.unmet}
    small = ridesim.wiring(with_circuits({**good, "rating_a": 30.0}), DAY)
    (stated,) = [each for each in small.unmet if each.code == "protection-stated"]
    assert "50 A would do" in stated.text


def test_a_protection_below_the_day_s_current_opens_on_the_way():
    weak = {**MAIN, "protection": "cylindrical", "rating_a": 6.0, "current_a": 4.0, "protection_distance_m": 0.0}
    found = ridesim.wiring(with_circuits(weak), DAY)
    (opens,) = [each for each in found.findings if each.code.endswith("on-the-day")]
    assert "in “" in opens.text
    row = found.opens[(found.opens["circuit"] == "main") & (found.opens["case"] == "the day")].iloc[0]
    assert row["says"] in ("may", "opens")
    assert found.ride.day.first_start_s < row["earliest_s"]


def test_switches_are_asked_for_once_each_and_may_be_declined():
    asked = {each.code for each in ridesim.wiring(HERON).findings if each.code.startswith("switch-")}
    assert asked == {
        "switch-isolator", "switch-breaker", "switch-key-switch", "switch-lights-apart", "switch-failsafe-throttle", "switch-brake-cutoff",
        "switch-emergency-stop",
    }  # fmt: skip
    reverse = ridesim.wiring(HERON.changed({"controller.reverse_duty": 0.3}))
    assert "switch-direction-switch" in {each.code for each in reverse.findings}
    for said in (True, False):
        build = HERON.changed({"wiring": dict.fromkeys(ALL_SWITCHES, said)})
        assert not [each for each in ridesim.wiring(build).findings if each.code.startswith("switch-")]
    fused = with_circuits({**MAIN, "protection": "magnetic-breaker", "rating_a": 50.0})
    assert "switch-breaker" not in {each.code for each in ridesim.wiring(fused).findings}


def test_cable_by_gauge_and_a_fuse_in_the_motor_s_leads():
    gauge = {**MAIN, "section_mm2": None, "awg": "6"}
    codes = {each.code for each in ridesim.wiring(with_circuits(gauge)).findings}
    assert "sae-gauge" in codes
    found = ridesim.wiring(with_circuits({**MOTOR, "protection": "strip", "rating_a": 100.0}))
    assert "motor-lead-opened" in {each.code for each in found.findings}


@pytest.mark.parametrize(
    ("changed", "place", "found"),
    [
        ({"length_m": 0.0}, "length_m", "0.0"),
        ({"insulation_c": None}, "insulation_c", "nothing"),
        ({"insulation_c": 77.0}, "insulation_c", "77 °C"),
        ({"protection_at": "load"}, "protection_at", '"load"'),
        ({"source": "nowhere"}, "source", "“nowhere”"),
        ({"awg": "6"}, "awg", "“6” beside 10 mm²"),
        ({"awg": "30", "section_mm2": None}, "awg", "“30”"),
        ({"ambient_c": 110.0}, "ambient_c", "110 °C"),
        ({"rating_a": 50.0}, "protection", "nothing"),
        ({"protection": "fuse", "rating_a": 50.0}, "protection", '"fuse"'),
        ({"section_mm2": 1.0, "insulation_c": 70.0}, "section_mm2", "1 mm²"),
    ],
)
def test_a_circuit_that_cannot_be_is_named(changed, place, found):
    circuit = {key: value for key, value in {**MAIN, **changed}.items() if value is not None}
    with pytest.raises(InputProblem) as raised:
        with_circuits(circuit)
    assert (raised.value.place, raised.value.found) == (f"wiring.circuit[1].{place}", found)


def test_circuits_that_feed_each_other_and_lights_without_their_block():
    with pytest.raises(InputProblem, match=r"circuit\[1\].source: found “b”"):
        with_circuits({**MAIN, "source": "b", "load": "a"}, {**MAIN, "name": "other", "source": "a", "load": "b"})
    with pytest.raises(
        InputProblem, match=r"circuit\[2\].load: found “a”; expected something that does not lie before b"
    ):
        with_circuits(
            {**MAIN, "load": "a"},
            {**MAIN, "name": "back", "source": "b", "load": "a"},
            {**MAIN, "name": "on", "source": "a", "load": "b"},
        )
    with pytest.raises(InputProblem, match=r"circuit\[1\].load: found “pack”"):
        with_circuits({**MAIN, "role": "charger", "source": "controller", "load": "pack"})
    with pytest.raises(InputProblem, match=r"circuit\[2\].name|circuit\[1\].name: found “main” twice"):
        with_circuits(MAIN, MAIN)
    lamp = {**MAIN, "name": "lamp", "role": "lighting", "source": "lights-battery", "load": "wheel rings"}
    cart = ridesim.load_build("puppet_cart")
    with pytest.raises(InputProblem, match="lights-battery"):
        with_circuits(lamp, build=cart)
    frame = ridesim.wiring(with_circuits(lamp)).circuits
    assert frame["circuit"].tolist().count("lamp") == 1
    assert "wheel rings" not in frame["circuit"].tolist()
    assert "feathers and eyes" in frame["circuit"].tolist()


def test_every_circuit_has_a_name_of_its_own():
    """Two lights of one name, and a described circuit that is called as a proposed one would be."""
    lamps = [{"name": "lamp", "power_w": 5.0}, {"name": "lamp", "power_w": 8.0}]
    build = with_circuits({**MAIN, "name": "motor"}, build=HERON.changed({"lighting.load": lamps}))
    found = ridesim.wiring(build)
    assert found.circuits["circuit"].tolist() == ["motor", "motor 2", "lamp", "lamp 2", "charger", "control"]
    assert ridesim.wiring(found.taken_over()).circuits["circuit"].tolist() == found.circuits["circuit"].tolist()


def test_a_build_with_wiring_comes_back_from_its_file(tmp_path):
    build = with_circuits(MAIN, {**MOTOR, "section_mm2": None, "awg": "4"}, isolator=True, emergency_stop=False)
    file = tmp_path / "wired.toml"
    ridesim.save_build(build, file)
    assert ridesim.load_build(file).wiring == build.wiring


def test_what_is_taken_over_is_what_was_proposed(tmp_path):
    found = ridesim.wiring("heron_36v", DAY)
    taken = found.taken_over()
    again = ridesim.wiring(taken, DAY)
    same = ["circuit", "continuous_a", "section_mm2", "ampacity_a", "drop_v", "fuse_a"]
    pd.testing.assert_frame_equal(again.circuits[same], found.circuits[same])
    assert taken.on_resistance_ohm > HERON.on_resistance_ohm
    assert again.taken_over().wiring == taken.wiring
    ridesim.save_build(taken, tmp_path / "taken.toml")
    assert ridesim.load_build(tmp_path / "taken.toml").wiring == taken.wiring
    gauge = with_circuits({**MAIN, "section_mm2": None, "awg": "6"})
    assert ridesim.wiring(gauge).taken_over().wiring.circuit[0].awg == "6"


def test_the_schedule_and_the_cautions():
    found = ridesim.wiring(HERON.changed({"wiring": {"positive_colour": "brown"}}), DAY)
    assert set(found.schedule["colour"]) == {"brown +, black -"}
    assert found.schedule["from"].tolist()[0] == "pack"
    codes = {each.code for each in found.cautions}
    assert {
        "wiring-checked",
        "direct-current-arcs",
        "protection-place",
        "protection-from-memory",
        "precharge-practice",
    } <= codes
    assert all(each in found.findings for each in found.cautions)


def test_parts_cover_the_schedule():
    found = ridesim.wiring("heron_36v", DAY)
    assert isinstance(found.parts, pd.DataFrame)
    text = " ".join(found.parts["part"])
    for each in found.sized:
        assert f"cable {each.section_mm2:g} mm²" in text
        if each.protection:
            assert f"{each.protection.rating_a:g} A" in text
    assert "isolator" in text
    assert {each.section_mm2 for each in found.sized} <= {each.section_mm2 for each in cable_sizes()}


def test_the_command(call, tmp_path):
    status, out, _ = call("wiring", "heron_36v", "--day", DAY, "--csv", tmp_path / "wires.csv")
    assert status == 0
    assert out.startswith("Heron, 36 V, “Harbour lantern festival”: It can be wired so")
    assert max(len(line) for line in out.splitlines()) <= WIDEST
    assert out.index("competent person") < out.index("What to watch")
    assert "from memory" in out
    assert len(pd.read_csv(tmp_path / "wires.csv")) == len(ridesim.wiring("heron_36v", DAY).circuits)
    assert call("wiring", "heron_36v").status == 0
    assert call("wiring", "heron_63v").status == 2


def test_what_stops_a_described_wiring_reaches_the_comparison_and_a_proposal_does_not():
    build = ridesim.load_build("heron_48v")
    fuse = {**MAIN, "section_mm2": 4.0, "protection": "maxi", "rating_a": 60.0}
    light = {
        "name": "rings", "role": "lighting", "source": "lights-battery", "load": "wheel rings", "length_m": 2.0, "section_mm2": 1.0,
        "insulation_c": 105.0, "protection": "blade", "rating_a": 30.0,
    }  # fmt: skip
    bad = with_circuits(fuse, light, {**light, "name": "eyes", "load": "feathers and eyes"}, build=build)
    only_switches = build.changed({"wiring": ALL_SWITCHES})
    for each, expected in ((bad, {"protection-voltage", "protection-stated"}), (only_switches, set()), (build, set())):
        found = ridesim.compare([each], DAY, 0).findings[each.name]
        of_wiring = [finding for finding in found if finding.text.startswith("Wiring, ")]
        assert {finding.severity for finding in of_wiring} <= {"stop"}
        codes = [finding.code for finding in of_wiring]
        assert len(codes) == len(set(codes))
        assert expected <= set(codes)
        assert bool(codes) is bool(expected)
    (stated,) = (each for each in ridesim.compare([bad], DAY, 0).findings[bad.name] if each.code == "protection-stated")
    assert "Likewise “rings” and “eyes”" in stated.text


def test_a_described_converter_feeds_all_lights_and_hides_none():
    build = HERON.changed({"lighting.supply": "main-pack", "lighting.converter_efficiency": 0.85})
    proposed = ridesim.wiring(build)
    feeder = {
        "name": "converter", "role": "lighting", "source": "pack", "load": "converter", "length_m": 2.0, "insulation_c": 105.0,
    }  # fmt: skip
    found = ridesim.wiring(with_circuits(feeder, build=build))
    assert found.circuits["circuit"].tolist() == proposed.circuits["circuit"].tolist()
    assert found.circuits["continuous_a"].tolist() == proposed.circuits["continuous_a"].tolist()
    taken = ridesim.wiring(proposed.taken_over())
    assert taken.circuits["continuous_a"].tolist() == proposed.circuits["continuous_a"].tolist()
    assert taken.unmet == ()
