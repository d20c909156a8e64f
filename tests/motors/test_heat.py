"""How long a motor may do something, and what a measured warm-up says."""

from __future__ import annotations

import math
import tomllib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.stats import binom

from ridesim.bench import warm_up
from ridesim.bench.logs import load_log, read_log
from ridesim.bench.warm_up import identify_warm_up
from ridesim.bench.warm_up_log import WarmUpLog
from ridesim.choose import compare
from ridesim.choose.findings.heat import guessed_heat
from ridesim.data import shipped
from ridesim.day import load_day
from ridesim.physics.motor import FERRITE_PER_K, warm_constant, warm_resistance
from ridesim.physics.motor_heat import S2_MINUTES, S3_SHARES, steady_temperatures, temperatures_after
from ridesim.ride.steady.duty import (
    balance_at,
    continuous_current_a,
    duties,
    intermittent_current_a,
    short_time_current_a,
    time_to_limit_s,
)
from ridesim.vehicle import load_build
from ridesim.vehicle.motor_heat import rated_point, thermal_values
from ridesim.words import InputProblem
from tests.bench.benches import motor_of
from tests.long import LONG
from tests.ride.machines import make_build


def integrated(motor, current, omega, ambient, span, start):
    """The model's section 3 by a general integrator."""
    winding_heat, case_heat, to_case, to_air = thermal_values(motor)
    drag = motor.friction_torque_nm * omega + motor.viscous_nm_per_rad_s * omega**2

    def rates(_time, state):
        winding, case = state
        heat = current**2 * motor.resistance_ohm * (1.0 + 0.00393 * (winding - 20.0)) + motor.brush_drop_v * current
        flow = (winding - case) / to_case
        return [(heat - flow) / winding_heat, (drag + flow - (case - ambient) / to_air) / case_heat]

    return solve_ivp(rates, (0.0, span), start, rtol=1e-10, atol=1e-9).y[:, -1]


@settings(max_examples=40, deadline=None)
@given(
    st.floats(0.0, 120.0), st.floats(0.0, 400.0), st.floats(-10.0, 40.0), st.floats(1.0, 7200.0), st.floats(20.0, 140.0),
    st.floats(20.0, 90.0),
)  # fmt: skip
def test_closed_form_agrees_with_the_integrator(current, omega, ambient, span, winding, case):
    motor = motor_of()
    exact = temperatures_after(span, winding, case, balance_at(motor, current, omega, ambient))
    numeric = integrated(motor, current, omega, ambient, span, [winding, case])
    assert exact == pytest.approx(tuple(numeric), rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("plate_a", [None, 16.5])
def test_a_motor_that_loses_what_its_nameplate_says_bears_its_nameplate_s_current(plate_a):
    """S1 at 40 °C and rated speed: P/(0.79 V) where it states no current. Half of V I - P is the winding's, the other half its friction's."""
    power, volts, omega = 450.0, 36.0, 300.0
    amps = plate_a or power / (0.79 * volts)
    lost = volts * amps - power
    limit = motor_of().winding_limit_c
    case = limit - 0.2 * (limit - 40.0)
    motor = make_build(
        motor__rated_power_w=power, motor__rated_voltage_v=volts, motor__rated_current_a=plate_a, motor__brush_drop_v=0.0,
        motor__resistance_ohm=0.5 * lost / amps**2 / warm_resistance(1.0, limit),
        motor__friction_torque_nm=0.5 * lost / omega, motor__viscous_nm_per_rad_s=0.0,
        motor__torque_constant_nm_per_a=(volts - 0.5 * lost / amps) / omega / warm_constant(1.0, FERRITE_PER_K, case),
    ).motor  # fmt: skip
    rated = rated_point(motor)
    assert rated is not None
    assert (rated.current_a, rated.omega) == pytest.approx((amps, omega), rel=1e-6)
    assert continuous_current_a(motor, omega) == pytest.approx(amps, rel=1e-6)


def test_duties_are_in_the_order_they_must_be():
    motor = motor_of()
    s1 = continuous_current_a(motor)
    short = [short_time_current_a(motor, minutes) for minutes in S2_MINUTES]
    shares = [intermittent_current_a(motor, share) for share in S3_SHARES]
    assert short == sorted(short, reverse=True)
    assert shares == sorted(shares, reverse=True)
    assert min(*short, *shares) > s1
    assert short_time_current_a(motor, 1e5) == pytest.approx(s1, rel=1e-3)
    assert intermittent_current_a(motor, 1.0) == pytest.approx(s1, rel=1e-6)


def test_s2_and_s3_end_at_the_limit():
    motor = motor_of()
    amps = short_time_current_a(motor, 30.0)
    assert integrated(motor, amps, 0.0, 40.0, 1800.0, [40.0, 40.0])[0] == pytest.approx(motor.winding_limit_c, abs=1e-3)
    amps = intermittent_current_a(motor, 0.25)
    state, hottest = [40.0, 40.0], 0.0
    for _ in range(60):
        state = integrated(motor, amps, 0.0, 40.0, 150.0, state)
        hottest = state[0]
        state = integrated(motor, 0.0, 0.0, 40.0, 450.0, state)
    assert hottest == pytest.approx(motor.winding_limit_c, abs=0.02)


def test_time_to_limit():
    motor = motor_of()
    assert time_to_limit_s(motor, continuous_current_a(motor, ambient_c=20.0) * 0.999) == math.inf
    seconds = time_to_limit_s(motor, 60.0)
    assert integrated(motor, 60.0, 0.0, 20.0, seconds, [20.0, 20.0])[0] == pytest.approx(
        motor.winding_limit_c, abs=1e-3
    )
    assert time_to_limit_s(motor, 60.0, winding_c=motor.winding_limit_c) == 0.0
    assert time_to_limit_s(motor, 80.0) < seconds
    assert time_to_limit_s(motor, 60.0, winding_c=90.0, case_c=60.0) < seconds
    # A current that runs away has no steady temperature, but a time.
    assert steady_temperatures(balance_at(motor, 100.0, 0.0, 20.0))[0] == math.inf
    assert 0.0 < time_to_limit_s(motor, 100.0) < 120.0


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 60.0), st.floats(20.0, 144.0), st.floats(20.0, 190.0))
def test_no_time_to_the_limit_hides_a_passing_of_it(current, winding, case):
    """Until the time told the winding stays below the limit, also where it passes it beside a hot case and cools again."""
    motor = motor_of()
    limit, numbers = motor.winding_limit_c, balance_at(motor, current, 0.0, 20.0)
    told = time_to_limit_s(motor, current, winding_c=winding, case_c=case)
    for moment in np.geomspace(1e-3, min(told, 1e6), 300):
        assert temperatures_after(moment, winding, case, numbers)[0] <= limit + 1e-6
    if math.isfinite(told):
        assert temperatures_after(told, winding, case, numbers)[0] == pytest.approx(limit, abs=1e-6)


UNLABELLED = {"rated_power_w": None, "rated_voltage_v": None}


def test_cooling_follows_from_the_mass_where_there_is_no_nameplate():
    """At the anchor, in the middle of 0.3 to 1 and of 0.5 to 2 K/W (200 to 1000 W, from memory); surface as mass^(2/3)."""
    to_case, to_air = thermal_values(motor_of(**UNLABELLED))[2:]
    assert to_case == pytest.approx(math.sqrt(0.3 * 1.0), rel=0.01)
    assert to_air == pytest.approx(math.sqrt(0.5 * 2.0), rel=0.01)
    eight = thermal_values(motor_of(**UNLABELLED, mass_kg=8.0 * 6.5))
    assert eight[2:] == pytest.approx((to_case / 4.0, to_air / 4.0))
    # What is given stays, and a nameplate goes before the mass.
    assert thermal_values(motor_of(**UNLABELLED, case_to_air_k_per_w=0.7))[2:] == pytest.approx((to_case, 0.7))
    assert not motor_of().cools_by_mass
    nameplate = thermal_values(motor_of())[2:]
    assert nameplate != pytest.approx((to_case, to_air), rel=0.01)
    # The guess and the nameplate of the same motor agree within the band that is told.
    assert all(0.5 < guess / rule < 2.0 for guess, rule in zip((to_case, to_air), nameplate, strict=True))


def test_an_unlabelled_motor_is_simulated_and_its_wide_band_told():
    build = make_build(motor__rated_power_w=None, motor__rated_voltage_v=None)
    (finding,) = guessed_heat(build)
    low, high = finding.numbers["continuous_low_a"], finding.numbers["continuous_high_a"]
    # Resistances four times apart: four times the heat, twice the current; the brushes' share goes with it straight.
    assert low < continuous_current_a(build.motor) < high
    assert high / low == pytest.approx(2.0, rel=0.15)
    assert not list(guessed_heat(make_build()))
    found = compare([build], load_day("harbour_festival")).candidates[0].findings
    assert "heat-from-mass" in {each.code for each in found}


@pytest.mark.parametrize(
    ("key", "value"), [("winding_heat_j_per_k", 1e-6), ("case_heat_j_per_k", 0.5), ("mass_kg", 0.001)]
)
def test_a_heat_capacity_of_nothing_is_refused(key, value):
    with pytest.raises(ValueError, match=key):
        motor_of(**{key: value})


def test_duties_of_a_vehicle():
    lines = duties(load_build("heron_36v"))
    assert [line.code for line in lines[:2]] == ["S1", "S2 10 min"]
    assert len(lines) == 9
    assert all(line.pull_n > 0.0 for line in lines)


# Measured warm-up


def warm_table(motor, current=30.0, minutes=25.0, omega=165.0, generator=None):
    run = balance_at(motor, current, omega, 15.0)
    rest = balance_at(motor, 0.0, 0.0, 15.0)
    end = temperatures_after(60.0 * minutes, 15.0, 15.0, run)

    def ohms(celsius):
        return warm_resistance(motor.resistance_ohm, celsius) * (
            1.0 + (0.01 * generator.standard_normal() if generator else 0.0)
        )

    def warm(seconds):
        return temperatures_after(seconds, *end, rest)[0]

    def case(at):
        return temperatures_after(60.0 * at, 15.0, 15.0, run)[1] + (
            2.0 * generator.standard_normal() if generator else 0.0
        )

    return {
        "ambient_c": 15.0, "mass_kg": 6.5, "brush_drop_v": 1.0, "friction_torque_nm": 0.1, "viscous_nm_per_rad_s": 0.0002,
        "cold": {"resistance_ohm": ohms(15.0)},
        "run": {"current_a": current, "minutes": minutes, "speed_rpm": omega * 30.0 / math.pi},
        "after": [{"seconds": s, "resistance_ohm": ohms(warm(s))} for s in (20.0, 45.0, 90.0, 180.0, 420.0)],
        "case": [{"minutes": at, "celsius": case(at)} for at in (5.0, 15.0, 25.0)],
    }, end[0]  # fmt: skip


def random_warm_motor(generator, least=385.0, most=900.0):
    """A motor of 6.5 kg within the usual values' spread and two specific heats [J/(kg K)]; its heat, and the current it stands for ever."""
    heat = np.zeros(4)
    while not least <= heat[:2].sum() / 6.5 <= most:
        spread = np.exp(generator.standard_normal(4) * np.log([1.5, 1.3, 2.0, 2.0]))
        heat = np.array([0.10 * 6.5 * 390.0, 0.90 * 6.5 * 460.0, 0.55, 1.0]) * spread
    motor = motor_of(**dict(zip(warm_up.KEYS, (float(value) for value in heat), strict=True)))
    return motor, heat, max(15.0, continuous_current_a(motor, 165.0, 15.0))


@pytest.mark.parametrize(("factor", "caught"), [(2.0, 0.9), (0.5, 0.8)])
def test_a_current_off_by_two_is_seen(factor, caught):
    """A meter's range, or the battery's current for the motor's: it fits as well as the true one, with heat off by 3 to 4."""
    generator = np.random.default_rng(23)
    trials, seen = 200 if LONG else 20, 0
    for _ in range(trials):
        motor, _, limit = random_warm_motor(generator)
        table, _ = warm_table(motor, current=limit, generator=generator)
        table["run"]["current_a"] *= factor
        try:
            findings = identify_warm_up(read_log(WarmUpLog, table)).findings
            seen += any(finding.code == "heat-unlikely" for finding in findings)
        except InputProblem:
            seen += 1
    assert seen >= caught * trials


@pytest.mark.parametrize("case", [True, False], ids=["case read", "winding alone"])
def test_the_current_that_would_agree_is_named(case):
    table, _ = warm_table(motor_of())
    table["run"]["current_a"] = 50.0
    table["case"] = table["case"] if case else []
    (finding,) = identify_warm_up(read_log(WarmUpLog, table)).findings
    assert finding.code == "heat-unlikely"
    assert finding.numbers["agreeing_current_a"] == pytest.approx(30.0, abs=4.0)
    assert "the motor's current, not the battery's" in finding.text


def test_a_warm_up_gives_the_heat_back():
    motor = motor_of()
    table, hot = warm_table(motor)
    table["resistance_percent"], table["case_sd_k"] = 0.05, 0.05
    result = identify_warm_up(read_log(WarmUpLog, table))
    for name, truth in zip(warm_up.KEYS, thermal_values(motor), strict=True):
        assert result.values[name].value == pytest.approx(truth, rel=0.02), name
    assert result.winding_c.value == pytest.approx(hot, abs=0.5)


def test_a_warm_up_s_bands_hold_the_truth():
    """Motors drawn from the usual values' own spread, as the bands assume."""
    generator = np.random.default_rng(17)
    held = dict.fromkeys([*warm_up.KEYS, "winding_c"], 0)
    trials, warned, refused = 400 if LONG else 40, 0, 0
    for _ in range(trials):
        motor, heat, limit = random_warm_motor(generator, 1.0, 1e9)
        table, hot = warm_table(motor, current=limit, generator=generator)
        try:
            result = identify_warm_up(read_log(WarmUpLog, table))
        except InputProblem:
            refused += 1
            continue
        for name, truth in zip(warm_up.KEYS, heat, strict=True):
            held[name] += result.values[name].low <= truth <= result.values[name].high
        held["winding_c"] += result.winding_c.low <= hot <= result.winding_c.high
        warned += any(each.code == "heat-unlikely" for each in result.findings)
    assert warned <= binom.ppf(0.9999, trials, 0.06)
    assert refused <= 0.03 * trials
    for name, count in held.items():
        assert count >= binom.ppf(1e-4, trials - refused, 0.89), (name, count / trials)


@pytest.mark.parametrize(
    ("change", "place", "said"),
    [
        ({"run__current_a": 150.0}, "run", "contradict each other"),
        ({"run__current_a": 5000.0}, "run", "nothing can be computed"),
        ({"run__minutes": 0.01}, "run", "contradict each other"),
        ({"cold": {"voltage_v": 0.5, "current_a": 3.0}}, "cold", ""),
        ({"cold": {}}, "cold.resistance_ohm", ""),
        ({"after": []}, "after", ""),
        ({"after": [{"seconds": 300.0, "resistance_ohm": 0.11}]}, "after[1].seconds", ""),
        ({"after__1__seconds": 1.0}, "after[2].seconds", ""),
        ({"after__2__resistance_ohm": 0.15}, "after[3] against after[2]", "after switching off"),
        ({"after__2__resistance_ohm": 0.03}, "after[3]", "less than the cold"),
        ({"after__4__resistance_ohm": 0.0838}, "after[5]", "contradicts the others"),
        ({"after__0__resistance_ohm": 0.336}, "after[1]", "a winding at 766 °C"),
        ({"case__2__celsius": 250.0}, "case[3]", "contradicts the others"),
        ({"case__2__celsius": 2.0}, "case[3].celsius", ""),
        ({"after__1": {"seconds": 45.0, "voltage_v": 0.9, "current_a": 9.0}}, "after[2]", "less than the cold"),
    ],
)
def test_warm_ups_that_cannot_be_are_refused(change, place, said):
    problem = refused_warm_up(change)
    assert problem.place == place
    assert said in str(problem)
    assert "\n" not in str(problem)


def refused_warm_up(change) -> InputProblem:
    table = tomllib.loads((shipped("data") / "logs" / "heron_motor_warm_up.toml").read_text(encoding="utf-8"))
    for path, value in change.items():
        at = table
        *way, last = (int(step) if step.isdigit() else step for step in path.split("__"))
        for step in way:
            at = at[step]
        at[last] = value
    with pytest.raises(InputProblem) as caught:
        identify_warm_up(read_log(WarmUpLog, table))
    return caught.value


def test_all_that_is_wrong_with_a_warm_up_is_told_at_once():
    lines = str(refused_warm_up({"after__2__resistance_ohm": 0.03, "case__2__celsius": 2.0})).split("\n")
    assert [", after[3]: found" in lines[0], ", case[3].celsius: found" in lines[1]] == [True, True]


def test_the_shipped_warm_up_is_good():
    result = identify_warm_up(load_log("heron_motor_warm_up", WarmUpLog))
    motor = load_build("heron_36v").motor
    for name, truth in zip(warm_up.KEYS, thermal_values(motor), strict=True):
        assert result.values[name].low <= truth <= result.values[name].high
