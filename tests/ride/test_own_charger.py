"""The vehicle's own charger on the day's sockets, and what a charge brings."""

from __future__ import annotations

import pytest

from ridesim.choose import compare
from ridesim.choose.packs import charge_plan
from ridesim.ride.simulate import simulate
from ridesim.words import InputProblem
from tests.ride.machines import make_build, trace_of

RIDE = {"trace": trace_of((0.0, 0.0), (15.0, 15.0), (1800.0, 15.0), (1815.0, 0.0))}
BREAK = {"duration_min": 60.0, "aboard": False}


def owner(amps: float = 4.0, **keys):
    return make_build(charger={"current_a": amps, **keys}, controller__standby_current_a=0.0)


def test_a_socket_is_the_charger_s_current(make_day):
    plugged = simulate(owner(), make_day(RIDE, {**BREAK, "socket": True}, start_state_of_charge=0.45))
    told = simulate(
        make_build(controller__standby_current_a=0.0),
        make_day(RIDE, {**BREAK, "charge_current_a": 4.0}, start_state_of_charge=0.45),
    )
    assert plugged.outcome == told.outcome
    assert plugged.stages[1].charged_ah == pytest.approx(4.0, rel=1e-6)
    own_current = simulate(
        owner(9.0), make_day(RIDE, {**BREAK, "socket": True, "charge_current_a": 4.0}, start_state_of_charge=0.45)
    )
    assert own_current.outcome == told.outcome


def test_what_it_brings_in_ampere_hours_and_kilometres(make_day):
    outcome = simulate(owner(), make_day(RIDE, {**BREAK, "socket": True}, start_state_of_charge=0.45)).outcome
    assert outcome.charged_ah == pytest.approx(4.0, rel=1e-6)
    assert outcome.charged_km == pytest.approx(4.0 * outcome.distance_km / outcome.out_ah)


def test_a_charge_that_brings_little_is_told_with_its_amps_and_minutes(make_day):
    """Nearly full, the blocks take far less than the charger offers."""
    day = make_day({**BREAK, "duration_min": 45.0, "socket": True}, start_state_of_charge=0.95)
    (one,) = compare([owner()], day).candidates
    told = {finding.code: finding for finding in one.findings}["charge-brings-little"]
    assert 0.0 < told.numbers["charged_ah"] < 1.8
    assert "4 A for 45 min" in told.text
    assert "not 3:" in told.text


def test_a_socket_without_a_charger_is_told(make_day):
    (one,) = compare([make_build()], make_day(RIDE, {**BREAK, "socket": True})).candidates
    assert "no-charger" in {finding.code for finding in one.findings}
    assert one.ride.outcome.charged_ah == 0.0


def test_the_night_uses_it_too(make_day):
    plan = charge_plan(owner(3.0, efficiency=0.9), make_day(RIDE))
    assert plan.night.allowed.current_a == 3.0
    assert plan.night.allowed.set_by == "charger"


def test_no_socket_on_the_move(make_day):
    with pytest.raises(InputProblem, match="a socket while moving"):
        make_day({**RIDE, "socket": True})
