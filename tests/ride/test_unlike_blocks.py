"""A ride on blocks that are not alike."""

from __future__ import annotations

from datetime import time

import numpy as np
import pytest

from ridesim.day import Activity, load_day
from ridesim.physics.capacity_laws import LAW_NAMES
from ridesim.ride.pack.block import block_numbers
from ridesim.ride.pack.unlike_blocks import RealBlock, _blocks, _move, connecting_current, ride_on_blocks
from ridesim.ride.simulate import simulate
from ridesim.vehicle import load_build
from ridesim.words import InputProblem
from tests.ride.block_runs import after_a_fast_discharge
from tests.ride.machines import day_of, make_build

every_law = pytest.mark.parametrize("law", ["peukert", "two-well", "saturating"])


@pytest.fixture(scope="module")
def festival_ride(heron):
    return {law: simulate(heron, load_day("harbour_festival"), law) for law in LAW_NAMES}


NEW = [[RealBlock("A"), RealBlock("B"), RealBlock("C")]]


@every_law
@pytest.mark.parametrize(
    "pack",
    [{}, {"pack__state_of_health": 0.7}, {"pack__state_of_health": 0.7, "pack__block_resistance_ohm": 0.02}],
    ids=["new", "worn", "worn, resistance stated"],
)
def test_alike_blocks_are_the_ride(law, pack):
    """Charge and voltages are the ride's; while charging the blocks' voltages add up to it within half a per cent.

    The charge within a quarter of a per cent: between a ride's kept rows the power is taken as a straight line.
    """
    build, day = make_build(**pack), load_day("harbour_festival")
    if pack:  # worn blocks do not last the whole day
        day = day.changed({"activity": day.activity[:4]})
    ride = simulate(build, day, law)
    outcome = ride_on_blocks(ride, [[RealBlock(name, health=build.pack.state_of_health) for name in "ABC"]])
    for each in outcome.blocks:
        assert each.end_charge == pytest.approx(ride.outcome.end_state_of_charge, abs=2.5e-3)
    lowest = sum(each.lowest_voltage_v for each in outcome.blocks)
    assert lowest == pytest.approx(ride.outcome.lowest_pack_voltage_v, rel=2e-3)
    assert outcome.first_to_collapse is None
    assert outcome.connecting_current_a == 0.0
    charging = ride.rows["pack_current_a"] < 0.0
    assert bool(pack) or charging.sum() > 10
    total = outcome.block_voltage_v.sum(axis=1)
    assert total[charging] == pytest.approx(ride.rows["pack_voltage_v"][charging], rel=5e-3)


@every_law
def test_blocks_begin_in_the_ride_s_full_state(heron, law):
    """A day that begins with a fast discharge behind it: the blocks begin with its missing ampere-hours, not with its z alone."""
    start, missing = after_a_fast_discharge(heron, law)
    day = day_of(
        Activity(name="charge", duration_min=60.0, charge_current_a=4.0), ambient_c=25.0, start_state_of_charge=start
    )
    ride = simulate(heron, day, law, missing_ah=missing)
    for each in ride_on_blocks(ride, NEW).blocks:
        assert each.end_charge == pytest.approx(ride.outcome.end_state_of_charge, abs=2e-3)


@every_law
def test_a_block_held_at_full_makes_no_charge(heron, law):
    """What goes in is stored or overcharge, also while a bound well fills behind a full one."""
    b = block_numbers(heron.pack, battery_model=law)
    before = 0.3 * (1.0 - b.well_share) if law == "two-well" else 0.02
    blocks = _blocks(np.array([[1.0 if law == "two-well" else 0.98, before, 0.0]]), [1.0], np.ones(1))
    for step in range(120):
        _move(blocks, 0, -4.0, 30.0, 30.0 * step, b, 10.5)
    stored = (before - blocks.missing[0]) * b.capacity
    assert stored > 0.01 * b.capacity
    assert stored + b.coulombic * blocks.overcharge[0] == pytest.approx(b.coulombic * 4.0 * 3600.0, rel=1e-9)


@every_law
def test_a_tired_block_collapses_early_and_is_named(festival_ride, law):
    outcome = ride_on_blocks(
        festival_ride[law], [[RealBlock("A"), RealBlock("the tired one", health=0.45), RealBlock("C")]]
    )
    first = outcome.first_to_collapse
    assert first is not None
    assert first.block.name == "the tired one"
    others = [each for each in outcome.blocks if each is not first]
    assert all(each.collapse_s is None for each in others)
    assert min(each.end_charge for each in others) > first.lowest_charge + 0.1
    assert first.lowest_voltage_v < 10.5


@every_law
def test_a_block_driven_empty_recovers_while_the_vehicle_stands(heron, law):
    """An exhausted lead-acid cell rests at 1.9 V or more (common practice, no source): a voltmeter on a standing float never shows 0."""
    day = load_day("harbour_festival")
    ride = simulate(
        heron, day.changed({"activity": day.activity[:5]}), law
    )  # to the display on the quay, before the charge
    outcome = ride_on_blocks(ride, [[RealBlock("A"), RealBlock("the tired one", health=0.3), RealBlock("C")]])
    tired, stands = outcome.block_voltage_v[:, 1], ride.stages[-1].start_s + 1200.0
    assert outcome.blocks[1].empty_s < ride.stages[-1].start_s
    assert tired.min() < 0.0, "driven backwards under load"
    assert tired.min() >= outcome.blocks[1].lowest_voltage_v, "what is drawn is what is told"
    assert tired[ride.clock_s > stands].min() > 6 * 1.8


def test_a_smaller_block_is_overcharged_in_the_break(festival_ride):
    outcome = ride_on_blocks(
        festival_ride["peukert"],
        [[RealBlock("A", start_charge=0.6), RealBlock("small", health=0.9), RealBlock("C", start_charge=0.6)]],
    )
    assert all(each.overcharge_ah >= 0.0 for each in outcome.blocks)
    assert outcome.blocks[1].overcharge_ah >= max(outcome.blocks[0].overcharge_ah, outcome.blocks[2].overcharge_ah)


@pytest.fixture(scope="module")
def double_ride():
    heron = load_build("heron_36v")
    return simulate(heron.changed({"pack.strings_in_parallel": 2}), load_day("harbour_festival"))


def test_equal_strings_share_equally(double_ride):
    outcome = ride_on_blocks(double_ride, NEW * 2)
    assert outcome.string_share == pytest.approx((0.5, 0.5))
    assert all(
        each.end_charge == pytest.approx(double_ride.outcome.end_state_of_charge, abs=1e-3) for each in outcome.blocks
    )


def test_old_beside_new_gives_less(double_ride):
    old = [[RealBlock(f"old {i}", health=0.5) for i in range(3)]]
    outcome = ride_on_blocks(double_ride, NEW + old)
    assert sum(outcome.string_share) == pytest.approx(1.0)
    assert outcome.string_share[0] > 0.6
    new_end = outcome.blocks[0].end_charge
    assert new_end < double_ride.outcome.end_state_of_charge, "the new string pays for the old one"


@pytest.mark.parametrize(("health", "ohm"), [(1.0, 0.011), (0.7, 0.02)])
def test_joining_a_full_string_with_an_empty_one(health, ohm):
    """The connecting current is ΔE over the strings' own resistance, as it is now: 6 cells a block, 2.142 - 1.942 V each."""
    pack = make_build(pack__state_of_health=health, pack__block_resistance_ohm=ohm, pack__strings_in_parallel=2).pack
    full, empty = ([RealBlock("x", health=health, start_charge=charge)] * 3 for charge in (1.0, 0.0))
    assert connecting_current(pack, [full, empty]) == pytest.approx(6 * 0.2 / (ohm * (1.0 + 2.2)))
    assert connecting_current(pack, [full, full]) == 0.0


def test_blocks_that_do_not_fit(festival_ride):
    ride = festival_ride["peukert"]
    with pytest.raises(InputProblem, match="2 blocks in 1 string; expected 1 of 3 in series"):
        ride_on_blocks(ride, [NEW[0][:2]])
    with pytest.raises(InputProblem, match="rows"):
        ride_on_blocks(simulate(ride.build, ride.day, keep_rows=False), NEW)


def test_blocks_on_a_day_that_begins_late():
    """Clock times are those of the ride."""
    build = make_build()
    day = day_of(Activity(name="lights", start=time(20), duration_min=60.0))
    outcome = ride_on_blocks(simulate(build, day), NEW)
    assert outcome.clock_s[0] == 20 * 3600.0
