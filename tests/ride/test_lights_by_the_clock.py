"""``lights_on`` of a day: the lights are switched at the minute, in gaps, stands and on the move, and nowhere else."""

from __future__ import annotations

from datetime import time

import numpy as np
import pytest

from ridesim.choose import compare
from ridesim.day import Activity, Day, Trace, load_day
from ridesim.ride.simulate import simulate
from ridesim.words import InputProblem
from tests.reference.plain_solution import reference_ride
from tests.ride.machines import make_build
from tests.ride.test_against_reference import Resolved, assert_alike

LAMPS = [{"name": "lamps", "power_w": 40.0}]


def lit(**lighting):
    return make_build(lighting={"supply": "main-pack", "load": LAMPS, **lighting})


def day(lights_on: str | None, *activities: dict) -> Day:
    timed = [{**each, "start": time.fromisoformat(each["start"])} if "start" in each else each for each in activities]
    return Day.model_validate({"name": "d", "lights_on": lights_on, "activity": timed})


def stand(start: str, minutes: float, **more) -> dict:
    return {"name": f"stand {start}", "start": f"{start}:00", "duration_min": minutes, **more}


STANDS = (stand("17:00", 90.0), stand("19:30", 60.0, lighting=0.0), stand("21:00", 120.0))


def test_energy_is_power_times_the_hours_that_are_lit():
    """18:00 to 22:00 without the hour that says none: 3 h; behind a converter, whose loss the ledger shows with the lights."""
    ledger = simulate(lit(), day("18:00-22:00", *STANDS)).ledger_wh
    always = simulate(lit(), day(None, stand("18:00", 180.0, lighting=1.0))).ledger_wh
    assert ledger["lights"] == pytest.approx(always["lights"], rel=2e-3)  # the pack's voltage differs a little
    assert simulate(lit(), day(None, *STANDS)).ledger_wh["lights"] == 0.0


def test_past_midnight_and_on_the_second_day():
    two = (stand("23:00", 120.0), {**stand("23:00", 30.0), "day": 2})
    long = simulate(lit(), day("22:00-00:30", *two)).ledger_wh["lights"]
    # From 23:00 to 0:30, then from 22:00, in the gap, to 23:30.
    parts = (stand("20:00", 90.0, lighting=1.0), stand("21:30", 90.0, lighting=1.0))
    assert long == pytest.approx(simulate(lit(), day(None, *parts)).ledger_wh["lights"], rel=2e-3)


def halves() -> tuple[Trace, Trace, Trace]:
    times, speeds = np.array([0.0, 20.0, 120.0, 240.0, 260.0]), np.array([0.0, 15.0, 15.0, 15.0, 0.0])
    level = np.zeros(3)
    whole = Trace("whole", times, speeds, np.zeros(5))
    return whole, Trace("a", times[:3], speeds[:3], level), Trace("b", times[2:] - 120.0, speeds[2:], level)


def test_switched_on_the_move_as_the_reference_rides_it_in_two():
    """Every figure within 0.1 % of the independent solution of two activities, the second one lit."""
    whole, dark, bright = halves()
    build = lit()
    asked = day("18:00-19:00", {"name": "whole", "start": "17:58:00", "trace": whole})
    apart = day(
        None,
        {"name": "a", "start": "17:58:00", "trace": dark, "lighting": 0.0},
        {"name": "b", "trace": bright, "lighting": 1.0},
    )
    found = simulate(build, asked).outcome
    assert_alike(found, reference_ride(Resolved(build), apart, compiled_rhs=True), build, apart)


def test_their_own_battery_empties_in_a_gap_and_the_finding_says_so():
    """12 V, 7 Ah at the 20 h rate, 40 W (3.3 A): by Peukert's law with k = 1.2 (7 Ah / 3.33 A) (0.35/3.33)^0.2, 1.34 h after 18:00."""
    own = make_build(
        lighting={
            "supply": "own-battery", "load": LAMPS, "battery_voltage_v": 12.0, "battery_capacity_ah": 7.0, "peukert_exponent": 1.2
        }
    )  # fmt: skip
    asked = day("18:00-22:00", stand("17:00", 90.0), stand("21:00", 30.0)).changed({"ambient_c": 25.0})
    comparison = compare(own, asked)
    (finding,) = [each for each in comparison.candidates[0].findings if each.code == "lights-out"]
    hours = 7.0 / (40.0 / 12.0) * (0.35 / (40.0 / 12.0)) ** 0.2
    assert finding.numbers["clock_s"] == pytest.approx(3600.0 * (18.0 + hours), abs=1.0)
    assert "before “stand 21:00”" in finding.text


def test_the_lights_block_ages_and_cools_and_the_size_that_would_do_does(make_day):
    """A block of the size that is named, as old and in the same air, has a fifth left; the colder and the older, the larger."""
    keys = {"supply": "own-battery", "load": LAMPS, "battery_capacity_ah": 7.0}

    def evening(air: float, **changes):
        build = make_build(lighting={**keys, **changes})
        return simulate(build, make_day({"duration_min": 240.0, "lighting": 1.0}, ambient_c=air)).outcome

    warm, cold, old = evening(25.0), evening(5.0), evening(5.0, battery_state_of_health=0.7)
    assert warm.lights_left == cold.lights_left == 0.0
    assert warm.lights_enough_ah < cold.lights_enough_ah < old.lights_enough_ah
    assert evening(5.0, battery_state_of_health=0.005).lights_enough_ah > 100.0 * cold.lights_enough_ah
    large = evening(5.0, battery_state_of_health=0.7, battery_capacity_ah=old.lights_enough_ah)
    assert large.lights_left == pytest.approx(0.2, abs=1e-5)
    # 40 W for four hours at 12 V is 13.3 Ah; at a fifth left, 5 °C (0.8 %/K) and 70 %: 13.3/(0.8 × 0.84 × 0.7) = 28.3 Ah, and more by rate.
    assert 28.3 < old.lights_enough_ah < 40.0


@pytest.mark.parametrize("window", ["22:30-18:00", "18:00", "18-22", "25:00-26:00", "18:00-18:00", "18:60-19:00"])
def test_a_window_that_is_none(tmp_path, window):
    file = tmp_path / "d.toml"
    file.write_text(
        f'lights_on = "{window}"\n[[activity]]\nname = "a"\nstart = 10:00:00\nduration_min = 5\n', encoding="utf-8"
    )
    with pytest.raises(InputProblem, match=f'lights_on: found "{window}"; expected two clock times'):
        load_day(file)


def test_a_share_that_is_given_wins():
    assert Activity(name="a", duration_min=1.0).lighting is None
    dark = simulate(lit(), day("18:00-22:00", stand("18:00", 60.0, lighting=0.0)))
    assert dark.ledger_wh["lights"] == 0.0
