"""Circuits behind a splitter: what a feeder carries, and how much is lost on the whole way from the pack."""

from __future__ import annotations

import itertools
from math import isnan

import pytest

import ridesim
from tests.choose.test_wiring import HERON, MAIN, with_circuits

LIMIT_A = HERON.controller.max_battery_current_a
FEEDER = {
    "name": "feeder",
    "role": "main",
    "source": "pack",
    "load": "splitter",
    "length_m": 3.0,
    "insulation_c": 105.0,
}
GUARDED = {
    **MAIN,
    "name": "feeder",
    "load": "splitter",
    "protection": "magnetic-breaker",
    "rating_a": 50.0,
    "protection_distance_m": 0.0,
}
TO_CONTROLLER = {**FEEDER, "name": "to controller", "source": "splitter", "load": "controller"}
KEY = {**FEEDER, "name": "key", "role": "control", "source": "splitter", "load": "key switch", "length_m": 1.0}
RINGS, EYES = (each.name for each in HERON.lighting.load)
OHM_PER_M = {6.0: 3.30e-3, 10.0: 1.91e-3}
"""IEC 60228, class 5 at 20 °C; times 1.08 at 40 °C and 1.34 at 105 °C, by its own 0.004 a kelvin."""


def wired(*circuits, build=HERON, day=None, **more):
    return ridesim.wiring(build.changed({"wiring": {"circuit": list(circuits), **more}}), day)


def named(found, name):
    return next(each for each in found.sized if each.demand.name == name)


def between_cold_and_hot(section, metres, amps):
    """The drop of a cable out and back, by Ohm's law, as warm as its air and as its insulation stands: its middle and half its width."""
    cold, hot = (2.0 * metres * OHM_PER_M[section] * factor * amps for factor in (1.08, 1.34))
    return pytest.approx(0.5 * (cold + hot), abs=0.5 * (hot - cold))


def test_the_drop_of_a_branch_is_that_of_the_whole_way():
    found = wired({**FEEDER, "section_mm2": 10.0}, {**TO_CONTROLLER, "section_mm2": 6.0})
    feeder, branch = named(found, "feeder").limits.drop_v, named(found, "to controller").limits.drop_v
    assert feeder == between_cold_and_hot(10.0, 3.0, LIMIT_A)
    assert branch - feeder == between_cold_and_hot(6.0, 3.0, LIMIT_A)


def test_two_halves_within_the_limit_are_beyond_it_together():
    """6 mm² over 3 m drops 2.7 % of 36 V; the way of 6 m more than the 3 % of ABYC E-11."""
    found = wired({**FEEDER, "section_mm2": 6.0}, {**TO_CONTROLLER, "section_mm2": 6.0})
    (said,) = (each for each in found.unmet if each.code == "cable-drop")
    assert "“to controller”" in said.text
    assert "before splitter" in said.text


def test_proposed_cables_share_the_drop():
    for circuits in itertools.permutations((FEEDER, TO_CONTROLLER, KEY)):
        found = wired(*circuits)
        assert found.unmet == ()
        assert named(found, "to controller").drop_percent <= 3.0
        assert named(found, "to controller").section_mm2 <= 16.0, "the feeder left something for it"


def test_a_feeder_carries_the_sum_of_its_branches_and_a_charger_is_not_ridden_with():
    build = HERON.changed({"lighting.supply": "main-pack"})
    lights = {**TO_CONTROLLER, "name": "lights", "role": "lighting", "load": "converter"}
    charger = {**TO_CONTROLLER, "name": "charger", "role": "charger", "load": "charger socket"}
    found = wired(FEEDER, TO_CONTROLLER, lights, charger, KEY, build=build)
    lights_a = named(found, "lights").demand.continuous_a
    assert lights_a == pytest.approx(
        build.lighting.power_w / build.lighting.converter_efficiency / build.cutoff_voltage_v
    )
    assert named(found, "feeder").demand.continuous_a == pytest.approx(LIMIT_A + lights_a)


def test_a_feeder_of_branches_that_leave_the_drive_out_still_carries_the_drive():
    found = wired(FEEDER, {**KEY, "current_a": 3.0})
    assert named(found, "feeder").demand.continuous_a == pytest.approx(LIMIT_A + 3.0)


def test_less_than_its_branches_take_cannot_be_stated_of_a_feeder():
    found = wired({**FEEDER, "current_a": 5.0}, TO_CONTROLLER)
    assert named(found, "feeder").demand.continuous_a == LIMIT_A


def test_lights_in_a_row_add_up():
    """From lamp to lamp: the first cable carries both, and the second lamp has what both cables lose."""
    first = {**FEEDER, "name": "first", "role": "lighting", "source": "lights-battery", "load": RINGS}
    second = {**first, "name": "second", "source": RINGS, "load": EYES}
    found = wired(second, first)
    watts = [each.power_w for each in HERON.lighting.load]
    assert named(found, "first").demand.continuous_a == pytest.approx(sum(watts) / 12.0)
    assert named(found, "second").demand.continuous_a == pytest.approx(watts[1] / 12.0)
    assert named(found, "second").limits.drop_v > named(found, "first").limits.drop_v
    assert named(found, "second").demand.guarded_by == named(found, "first").protection


def test_lights_behind_the_key_are_behind_it_though_the_key_stands_last():
    build = HERON.changed({"lighting.supply": "main-pack"})
    key = {**KEY, "source": "pack", "section_mm2": 1.5}
    lights = {**KEY, "name": "lights", "role": "lighting", "source": "key switch", "load": "converter"}
    found = wired(key, lights, build=build)
    assert found.circuits["circuit"].tolist().index("lights") < found.circuits["circuit"].tolist().index("key")
    assert named(found, "lights").demand.feeder_drop_v == named(found, "key").limits.drop_v
    assert named(found, "key").demand.continuous_a > named(found, "lights").demand.continuous_a


def test_behind_the_converter_the_drop_begins_anew():
    build = HERON.changed({"lighting.supply": "main-pack"})
    found = wired({**FEEDER, "role": "lighting", "load": "converter"}, build=build)
    assert named(found, RINGS).demand.feeder_drop_v == 0.0


def test_a_dead_short_at_the_far_end_has_the_feeder_in_its_way():
    found = wired({**FEEDER, "section_mm2": 10.0}, {**TO_CONTROLLER, "section_mm2": 6.0})
    loop = 2.0 * 3.0 * OHM_PER_M[10.0] * 1.34
    feeder, branch = (named(found, name).demand for name in ("feeder", "to controller"))
    assert branch.source_ohm == pytest.approx(feeder.source_ohm + loop, rel=1e-6)


def test_a_thin_wire_behind_a_splitter_is_given_a_fuse_and_not_a_thick_cable():
    key = named(wired(FEEDER, TO_CONTROLLER, KEY), "key")
    assert key.section_mm2 == 1.0
    assert key.protection.rating_a <= 3.0
    thick = named(wired(FEEDER, TO_CONTROLLER, {**KEY, "section_mm2": 16.0}), "key")
    assert thick.protection is None


def test_behind_a_splitter_a_thin_cable_needs_its_own_fuse():
    thick, thin = (
        {**MAIN, "source": "splitter", "section_mm2": section, "name": f"to controller {section:g}"}
        for section in (16.0, 4.0)
    )
    assert ridesim.wiring(with_circuits(GUARDED, thick)).unmet == ()
    found = ridesim.wiring(with_circuits(GUARDED, thin))
    assert "branch-unprotected" in {each.code for each in found.unmet}


def test_a_long_chain_of_circuits_is_answered_soon():
    chain = [
        {
            **MAIN,
            "name": f"part {number}",
            "source": f"joint {number + 1}" if number < 99 else "pack",
            "load": f"joint {number}",
        }
        for number in range(100)
    ]
    found = ridesim.wiring(with_circuits(*chain))
    assert found.circuits["circuit"].tolist()[:2] == ["part 99", "part 98"]
    assert len(found.circuits) > 100


def test_feeders_count_before_what_they_feed_however_they_are_listed():
    branch = {**MAIN, "source": "splitter"}
    for listed in ((GUARDED, branch), (branch, GUARDED)):
        found = ridesim.wiring(with_circuits(*listed))
        assert found.circuits["circuit"].tolist()[:2] == ["feeder", "main"]
        assert isnan(found.circuits["fuse_a"][1])
        assert found.unmet == ()


def test_a_feeder_carries_what_hangs_on_its_end():
    feeder = {
        "name": "feeder", "role": "lighting", "source": "lights-battery", "load": "splitter", "length_m": 1.0, "insulation_c": 105.0,
    }  # fmt: skip
    lights = HERON.lighting.load
    branches = [{**feeder, "name": each.name, "source": "splitter", "load": each.name} for each in lights]
    found = ridesim.wiring(with_circuits(feeder, *branches))
    amps = found.circuits.set_index("circuit")["continuous_a"]
    assert amps["feeder"] == pytest.approx(sum(each.power_w for each in lights) / HERON.lighting.battery_voltage_v)
    horn = {**feeder, "name": "horn", "source": "splitter", "load": "horn", "current_a": 5.0}
    more = ridesim.wiring(with_circuits(feeder, *branches, horn)).circuits.set_index("circuit")["continuous_a"]
    assert more["feeder"] == pytest.approx(amps["feeder"] + 5.0)
