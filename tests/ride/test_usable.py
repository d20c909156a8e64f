"""Watt-hours at a day's currents down to the reserve: against sums by hand, and without jumps."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest
from ridesim.ride.pack.usable import usable_by_law

from ridesim.day import Activity
from ridesim.ride.pack.block import block_numbers
from ridesim.ride.pack.laws import available_laws
from ridesim.ride.simulate import simulate
from ridesim.vehicle import load_build
from tests.long import LONG
from tests.ride.block_runs import run_seconds
from tests.ride.machines import day_of, make_build

LAWS = ("peukert", "two-well", "saturating")


def with_pack(build, **changes):
    return build.changed({f"pack.{key}": value for key, value in changes.items()})


def lamps(power_w: float, **pack):
    """A pack of one 12 V block that only lights lamps: one current, whatever it is asked for."""
    level = [[0.0, 12.0 / 6.0], [1.0, 12.0 / 6.0]]
    keys = {"open_circuit_v_per_cell": level, "block_resistance_ohm": 1e-6, "polarisation_resistance_ohm": 0.0, **pack}
    return make_build(
        pack__blocks_in_series=1,
        controller__standby_current_a=0.0,
        lighting={"supply": "main-pack", "load": [{"name": "lamp", "power_w": 0.90 * power_w}]},
        **{f"pack__{key}": value for key, value in keys.items()},
    )


@pytest.mark.parametrize("hours", [0.5, 3.0, 11.0])
def test_one_current_under_peukert_is_the_law_s_own_sum(hours):
    """22 Ah at 20 h, k = 1.21, 10 A: 22 x (1.1/10)^0.21 Ah, 80 % of it, at 12 V; however long the day is."""
    day = day_of(Activity(name="lamps", duration_min=60.0 * hours, lighting=1.0), ambient_c=25.0)
    wanted = 12.0 * 0.8 * 22.0 * (1.1 / 10.0) ** 0.21
    assert usable_by_law(lamps(120.0), day, ["peukert"])["peukert"] == pytest.approx(wanted, rel=1e-4)


@pytest.mark.parametrize("share", [0.1, 0.9, 1.5])
@pytest.mark.parametrize("law", LAWS)
def test_one_current_is_the_block_s_own_run(law, share):
    """A day at one current, however it is cut, is the closed form's run down to the reserve."""
    build = lamps(60.0)
    b = block_numbers(build.pack, 25.0, law)
    seconds = run_seconds(5.0, b, floor=0.2)
    day = day_of(Activity(name="lamps", duration_min=share * seconds / 60.0, lighting=1.0), ambient_c=25.0)
    by_run = 12.0 * 5.0 * seconds / 3600.0
    assert usable_by_law(build, day, [law])[law] == pytest.approx(by_run, rel=1e-4)


def test_peukert_meets_the_reserve_where_the_day_does(festival):
    """Under Peukert, which remembers nothing, the ride itself says how much came out when the reserve was met."""
    build = load_build("heron_36v")
    flat = festival.changed(
        {"activity": tuple(each.model_copy(update={"charge_current_a": 0.0}) for each in festival.activity)}
    )
    ride = simulate(build, flat, "peukert")
    power = ride.rows["pack_voltage_v"] * np.maximum(0.0, ride.rows["pack_current_a"])
    energy = np.concatenate([[0.0], np.cumsum(0.5 * (power[1:] + power[:-1]) * np.diff(ride.clock_s))]) / 3600.0
    wanted = float(np.interp(ride.moments.reserve_s, ride.clock_s, energy))
    assert usable_by_law(build, festival, ["peukert"])["peukert"] == pytest.approx(wanted, rel=0.01)


def again(day, offset_s):
    """The same activities once more, so many seconds later."""
    later = []
    for each in day.activity:
        days, clock = divmod(each.start_s + offset_s, 86_400.0)
        start = (datetime.min + timedelta(seconds=clock)).time()
        later.append(each.model_copy(update={"start": start, "day": 1 + int(days)}))
    return day.changed({"activity": (*day.activity, *later)})


@pytest.mark.parametrize("name", ["heron_36v", "heron_lithium", "puppet_cart"])
def test_two_days_are_one_day_twice(name, festival):
    build = load_build(name)
    laws = available_laws(build.pack)
    ride = simulate(build, festival)
    span = ride.clock_s[-1] - ride.clock_s[0]
    one, at_once, rested = (
        usable_by_law(build, day, laws) for day in (festival, again(festival, span), again(festival, 86_400.0))
    )
    for law in laws:
        assert at_once[law] == pytest.approx(one[law], rel=1e-3), law
        assert one[law] * 0.999 <= rested[law] < 1.1 * one[law], "a night between them gives a little back"


@pytest.mark.parametrize("key", ["state_of_health", "block_capacity_ah"])
@pytest.mark.parametrize("part", ["whole", "half"])
@pytest.mark.parametrize("law", LAWS)
def test_a_little_more_capacity_gives_a_little_more(law, part, key, festival):
    """From 40 to 120 %, in steps of 2 % (short form: 5 %): always more, and never more than twice the mean step."""
    day = festival if part == "whole" else festival.changed({"activity": festival.activity[:4]})
    build = load_build("heron_36v")
    shares = np.arange(0.40, 1.201, 0.02 if LONG else 0.05)
    whole = getattr(build.pack, key)
    found = np.array([usable_by_law(with_pack(build, **{key: whole * s}), day, [law])[law] for s in shares])
    steps = np.diff(found)
    assert (steps > 0.0).all()
    assert steps.max() < 2.0 * steps.mean()


def test_nothing_drawn_and_nothing_left(festival):
    still = make_build(controller__standby_current_a=0.0)
    stand = day_of(Activity(name="stand", duration_min=60.0))
    assert usable_by_law(still, stand, LAWS) == dict.fromkeys(LAWS, 0.0)
    forgotten = with_pack(load_build("heron_36v"), stood_months=60.0, stood_c=40.0)
    assert usable_by_law(forgotten, festival, LAWS) == dict.fromkeys(LAWS, 0.0)
