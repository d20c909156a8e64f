"""Charging until full: by hand, after any discharge, in cold and heat, and what cannot be."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ridesim.day import Activity, load_day
from ridesim.physics.capacity_laws import LAW_NAMES
from ridesim.ride.pack.block import block_numbers
from ridesim.ride.pack.charge import FULL, charge_until_full, missing_ah
from ridesim.ride.pack.day_charges import DEFAULT_BREAK_MIN, charges_of
from ridesim.ride.pack.laws import fit_two_well
from ridesim.ride.pack.refusal import uncharged
from ridesim.ride.pack.supply import SOCKETS, Charger, Socket, allowed_current
from ridesim.ride.pack.unlike_blocks import RealBlock
from ridesim.ride.simulate import simulate
from ridesim.vehicle import Build, load_build
from ridesim.words import InputProblem
from tests.long import LONG
from tests.ride.block_runs import after_a_fast_discharge
from tests.ride.machines import builds, day_of, make_build, trace_of

every = settings(deadline=None, max_examples=60 if LONG else 10)
every_law = pytest.mark.parametrize("law", ["peukert", "two-well", "saturating"])


def drawn_ah(ride):
    """Ampere-hours out of the pack, from the ride's rows."""
    return np.trapezoid(np.maximum(0.0, ride.rows["pack_current_a"]), ride.clock_s) / 3600.0


def bare(**changes) -> Build:
    """A 36 V, 22 Ah AGM pack whose resistances say nothing, so that the charge can be integrated by hand."""
    plain = {"pack__absorption_time_h": 2.0, "pack__coulombic_efficiency": 0.9, "pack__activation_v_per_cell": 0.0}
    return make_build(
        **{"pack__block_resistance_ohm": 1e-7, "pack__polarisation_resistance_ohm": 0.0, **plain, **changes}
    )


def hours_by_hand(
    start: float, end: float, current: float, slope: float, volts: float = 2.40, warmer: float = 0.0
) -> float:
    """Hours of constant current, then constant voltage, for E = 2.142 - slope (1 - z) volts a cell, no resistances.

    With u = 1 - z: I = (V - 2.142 + slope u)/(W - 2.142) exp(max(0, V - W)/0.112) u C/tau, so du/dt = -(eta/tau) (a + k u) u, where the cells
    want W = 2.40 V at 25 degC and 5 mV less a kelvin ``warmer`` (makers' charging characteristics, cyclic use: -30 mV/K on 12 V).
    """
    capacity, tail, eta = 22.0, 2.0, 0.9
    wanted_over = 2.40 - 0.005 * warmer - 2.142
    faster = np.exp(max(0.0, volts - 2.142 - wanted_over) / 0.112)
    a, k = faster * (volts - 2.142) / wanted_over, faster * slope / wanted_over
    wanted = current * tail / capacity  # (a + k u) u at the knee
    knee = wanted / a if k == 0.0 else (np.sqrt(a * a + 4.0 * k * wanted) - a) / (2.0 * k)
    room, left = 1.0 - start, 1.0 - end
    first = max(0.0, room - max(knee, left)) * capacity / (eta * current)
    if left >= knee:
        return float(first)
    room = min(room, knee)
    return float(first + tail / (eta * a) * np.log(room / (a + k * room) * (a + k * left) / left))


@pytest.mark.parametrize("volts", [2.35, 2.40, 2.45])
@pytest.mark.parametrize("slope", [0.0, 0.2])
def test_a_plan_against_its_closed_form(slope, volts):
    """Both phases by hand, within 0.1 %; with a level rested voltage this is the published tail I = I_c exp(-t/tau) itself."""
    table = ((0.0, 2.142 - slope), (1.0, 2.142))
    build = bare(pack__open_circuit_v_per_cell=table, pack__absorption_v_per_cell=volts)
    plan = charge_until_full(build, 0.3, Charger(6.0), ambient_c=25.0)
    for mark in (0.80, 0.95, FULL):
        assert plan.hours_to[mark] == pytest.approx(hours_by_hand(0.3, mark, 6.0, slope, volts), rel=1e-3)


@every_law
def test_the_published_tail_after_a_fast_discharge(law):
    """I = I_c exp(-t/tau), Q2 = tau (I_c - I_end), t2 = tau ln(I_c/I_end) (battery_motor, A6), tau over the coulombic efficiency.

    They go by the ampere-hours that are missing, not by a state of charge that counts what the rate put out of reach. Two
    wells are slower: behind the first one the second is still filling.
    """
    tau = 2.0 / 0.9
    level = bare(pack__open_circuit_v_per_cell=((0.0, 2.142), (1.0, 2.142)))
    start, missing = after_a_fast_discharge(level, law)
    assert missing < 0.9 * (1.0 - start) * 22.0
    plan = charge_until_full(level, start, Charger(4.0), ambient_c=25.0, battery_model=law, missing_ah=missing)
    hours, amps = plan.hours, plan.current_a
    first = int(np.flatnonzero(amps < 0.999 * amps[0])[0])
    last = int(np.searchsorted(-amps, -0.3))
    into = np.concatenate([[0.0], np.cumsum(0.5 * (amps[1:] + amps[:-1]) * np.diff(hours))])
    left = (missing - 0.9 * into)[first:last]
    assert np.all(amps[first:last] * 2.0 < 1.002 * left), "never faster than the published tail"
    assert plan.state_of_charge.max() <= 1.0 + 1e-9
    assert amps[0] == pytest.approx(4.0)
    if law != "two-well":
        assert amps[first:last] * 2.0 == pytest.approx(left, rel=4e-3)
        assert (hours[last] - hours[first]) / np.log(amps[first] / amps[last]) == pytest.approx(tau, rel=4e-3)


@every_law
def test_the_night_goes_on_where_the_day_stopped(heron, law):
    """State of charge and missing ampere-hours are every law's full state: a plan is the same charge ridden on, within 0.1 %."""
    quiet = heron.changed({"controller.standby_current_a": 0.0})
    climb = trace_of((0.0, 0.0), (10.0, 14.0), (1500.0, 14.0), (1505.0, 0.0), grades=(3.0, 3.0, 3.0, 3.0))
    ride_then = Activity(name="climb", trace=climb)
    on = Activity(name="charge", duration_min=150.0, charge_current_a=5.0)
    day, alone = day_of(ride_then, on, ambient_c=25.0), day_of(ride_then, ambient_c=25.0)
    whole, ride = simulate(quiet, day, law), simulate(quiet, alone, law)
    end = ride.outcome.end_state_of_charge
    missing = float(missing_ah(ride, ride.clock_s[-1]))
    assert missing == pytest.approx(drawn_ah(ride), rel=1e-3)
    plan = charge_until_full(quiet, end, Charger(5.0), ambient_c=25.0, battery_model=law, missing_ah=missing)
    charge, wall = plan.after(2.5)
    assert charge - end == pytest.approx(whole.outcome.end_state_of_charge - end, rel=1e-3)
    assert wall == pytest.approx(-whole.ledger_wh["charger"] / 0.85, rel=2e-3)
    (broken,) = charges_of(whole, Charger(5.0), SOCKETS[0]).breaks
    assert broken.end_charge - end == pytest.approx(whole.outcome.end_state_of_charge - end, rel=1e-3)
    back = missing - float(missing_ah(whole, whole.clock_s[-1]))
    assert back * 36.0 / (0.80 * 0.85) == pytest.approx(broken.wall_wh.low, rel=2e-3)


@pytest.mark.parametrize(
    ("chemistry", "rates", "least", "most"),
    [("lead-acid-agm", (0.2, 0.25, 0.3), 2.0, 4.0), ("lithium-iron-phosphate", (0.2, 0.3, 0.4, 0.5), 0.3, 0.7)],
)
def test_hours_of_absorption(chemistry, rates, least, most):
    """From the charger's voltage to C/20: lead-acid 2 to 4 h, LFP 0.3 to 0.7 h (battery_motor, E)."""
    lithium = chemistry.startswith("lithium")
    kind = {"pack__cells_in_series": 12, "pack__blocks_in_series": 1} if lithium else {}
    build = make_build(pack__chemistry=chemistry, pack__block_capacity_ah=40.0, **kind)
    for rate in rates:
        plan = charge_until_full(build, 0.2, Charger(40.0 * rate), Socket("strong", 400.0, 32.0), ambient_c=25.0)
        falling = plan.current_a[1:]
        ended = float(np.interp(-0.05 * 40.0, -falling, plan.hours[1:]))
        assert least < ended - plan.constant_current_until[0] < most


def test_nmc_is_as_full_as_its_charger_s_voltage():
    """E = 4.124 V at 95 %, 4.182 V at 99 % (Chen 2020): 4.15 V a cell stops at 96.8 %, for the cells' good; 4.20 V, its full voltage, fills them."""
    kind = {"pack__chemistry": "lithium-nmc", "pack__cells_in_series": 10, "pack__blocks_in_series": 1}
    low, high = (
        charge_until_full(make_build(**kind, pack__absorption_v_per_cell=volts), 0.3, Charger(6.0), ambient_c=25.0)
        for volts in (4.15, 4.20)
    )
    assert low.state_of_charge[-1] == pytest.approx(0.95 + 0.04 * (4.15 - 4.124) / (4.182 - 4.124), abs=5e-4)
    assert low.hours_to[FULL] == np.inf
    assert high.hours_to[FULL] < 6.0


@pytest.mark.parametrize("name", ["heron_36v", "heron_lithium"])
def test_the_terminals_rise_to_the_charger_s_voltage_and_stay(name):
    plan = charge_until_full(load_build(name), 0.3, Charger(6.0), ambient_c=25.0)
    bulk = plan.current_a >= 6.0 - 1e-9
    assert 0.2 < plan.constant_current_until[1] < 0.97
    assert np.all(np.diff(plan.terminal_v[bulk]) > 0.0), "a rising curve"
    assert np.all(plan.terminal_v[bulk] < plan.voltage_v)
    assert plan.terminal_v[~bulk] == pytest.approx(plan.voltage_v, abs=1e-9)
    assert plan.terminal_v[0] < plan.voltage_v - 1.0


def test_too_low_a_voltage_stops_early():
    """The charge ends where the rested voltage meets the charger's: 2.09 = 1.942 + 0.2 z."""
    plan = charge_until_full(make_build(pack__absorption_v_per_cell=2.09), 0.3, Charger(6.0), ambient_c=25.0)
    assert plan.hours_to[FULL] == np.inf
    assert plan.state_of_charge[-1] == pytest.approx(0.74, abs=1e-3)
    assert plan.state_of_charge.max() <= 0.74 + 1e-6
    above = charge_until_full(make_build(pack__absorption_v_per_cell=2.09), 0.9, Charger(6.0), ambient_c=25.0)
    assert above.wall_wh[-1] == 0.0


@pytest.mark.parametrize("start", [0.995, 0.99999, 1.0])
def test_a_full_pack_takes_nothing(start):
    for build in (make_build(), load_build("heron_lithium")):
        plan = charge_until_full(build, start, Charger(5.0))
        assert set(plan.hours_to.values()) == {0.0}
        assert np.all(np.isfinite(plan.wall_wh))
        assert plan.wall_wh_to_full == 0.0
        assert np.isfinite(plan.rule_wh)


@every
@given(builds(), st.floats(0.05, 0.9), st.floats(0.5, 20.0), st.floats(-15.0, 40.0))
def test_a_plan_gives_no_more_than_was_put_in(build, start, current, ambient):
    """Ampere-hours: what is stored is the coulombic share of what went in. Watt-hours: more goes in than a rested pack could give."""
    assume(not build.pack.kind.is_lithium or ambient >= 0.0)
    plan = charge_until_full(build, start, Charger(current, efficiency=1.0), Socket("strong", 400.0, 32.0), ambient)
    b = block_numbers(build.pack, ambient)
    stored = (plan.state_of_charge[-1] - start) * b.capacity / 3600.0 * build.pack.strings_in_parallel
    put_in = np.trapezoid(plan.current_a, plan.hours)
    assert stored == pytest.approx(build.pack.in_force.coulombic_efficiency * put_in, rel=5e-3, abs=1e-3)
    rested = (
        np.interp(plan.state_of_charge, *np.array(build.pack.in_force.open_circuit_v_per_cell).T) * build.pack.cells
    )
    steps = np.diff(plan.state_of_charge) * b.capacity / 3600.0 * build.pack.strings_in_parallel
    assert plan.wall_wh[-1] >= 0.999 * np.sum(0.5 * (rested[1:] + rested[:-1]) * steps)


@every
@given(
    builds(),
    st.floats(0.02, 0.95),
    st.floats(0.0, 0.98),
    st.floats(0.5, 30.0),
    st.floats(60.0, 900.0),
    st.floats(0.97, 1.03),
)
def test_a_charge_after_any_discharge(build, start, share, current, minutes, voltage):
    """From any full state of each law: the step changes nothing, the ledger closes, no more is put back than went in, full is full."""
    build = build.changed({"pack.absorption_v_per_cell": voltage * build.pack.in_force.absorption_v_per_cell})
    day = day_of(Activity(name="charge", duration_min=minutes, charge_current_a=current), start_state_of_charge=start)
    for law in LAW_NAMES:
        b = block_numbers(build.pack, day.ambient_c, law)
        whole = b.capacity / 3600.0 * build.pack.strings_in_parallel
        least = b.well_share * (1.0 - start) if law == "two-well" else 0.4 * (1.0 - start)
        missing = whole * (1.0 - start - share * (1.0 - start - least))
        coarse, fine = (simulate(build, day, law, fineness=each, missing_ah=missing) for each in (1.0, 2.0))
        assert coarse.outcome.end_state_of_charge == pytest.approx(fine.outcome.end_state_of_charge, abs=3e-4)
        assert coarse.ledger_wh["charger"] == pytest.approx(fine.ledger_wh["charger"], rel=3e-4, abs=1e-3)
        assert abs(coarse.outcome.ledger_residual) < 1e-6
        assert len(coarse.rows) < 200 + minutes, "no crawling near full"
        assert coarse.rows["state_of_charge"].max() <= 1.0 + 1e-9
        # A full pack may stand above a charger that is set low.
        volts = coarse.rows["pack_voltage_v"]
        assert volts.max() <= max(build.pack.full_voltage_v, volts[0]) + 5e-3
        back = missing - float(missing_ah(coarse, coarse.clock_s[-1]))
        into = np.trapezoid(-coarse.rows["pack_current_a"], coarse.clock_s) / 3600.0
        assert back == pytest.approx(build.pack.in_force.coulombic_efficiency * into, rel=5e-3, abs=2e-3 * whole)


def test_the_night_puts_back_what_the_day_took(heron):
    """The recharge factor of 1.05 to 1.15 (J. Power Sources 113 (2003) 388-395) counts the ampere-hours that left the pack.

    What the rate put out of reach is not charged again.
    """
    ride = simulate(heron, uncharged(load_day("harbour_festival")), "peukert")
    missing = float(missing_ah(ride, ride.clock_s[-1]))
    assert missing == pytest.approx(drawn_ah(ride), rel=1e-3)
    end, whole = ride.outcome.end_state_of_charge, (1.0 - ride.outcome.end_state_of_charge) * 22.0 * 0.96
    assert missing < 0.9 * whole
    counted, by_charge = (
        charge_until_full(heron, end, Charger(5.0), battery_model="peukert", missing_ah=each)
        for each in (missing, None)
    )
    assert 1.05 * missing < np.trapezoid(counted.current_a, counted.hours) < 1.15 * missing
    assert counted.rule_wh == pytest.approx(missing * 36.0 / (0.80 * 0.85), rel=2e-3)
    assert counted.hours_to[FULL] < by_charge.hours_to[FULL]


@pytest.mark.parametrize("hours", [0.01, 1.0, 12.0, 70.0])
@pytest.mark.parametrize("name", ["heron_36v", "heron_lithium"])
def test_a_day_that_ends_on_the_charger_has_a_night(name, hours):
    """However full: rounding in what is missing must not refuse the plan."""
    build = load_build(name)
    day = day_of(Activity(name="charge", duration_min=60.0 * hours, charge_current_a=6.0), start_state_of_charge=0.9)
    ride = simulate(build, day, "peukert")
    missing = float(missing_ah(ride, ride.clock_s[-1]))
    end = min(1.0, ride.outcome.end_state_of_charge)
    plan = charge_until_full(
        build, end, Charger(5.0), ambient_c=day.ambient_c, battery_model="peukert", missing_ah=missing
    )
    assert plan.hours_to[0.80] == 0.0
    assert np.isfinite(plan.rule_wh)
    assert charges_of(ride, Charger(5.0), SOCKETS[0]).breaks[0].start_charge == pytest.approx(0.9)


@every_law
@pytest.mark.parametrize("bad", [0.0, -1.0, 50.0, float("nan"), "ten", True])
def test_missing_ampere_hours_that_cannot_be(heron, bad, law):
    with pytest.raises(InputProblem) as problem:
        charge_until_full(heron, 0.5, Charger(5.0), battery_model=law, missing_ah=bad)
    assert problem.value.place == "missing_ah"


def test_wells_miss_what_is_out_of_both(heron):
    """Half full in the first well, and the second full: c/2 of the whole is missing, and no less can be."""
    wells = fit_two_well(heron.pack)
    least = 0.5 * wells.share * wells.whole_ah

    def plan(missing):
        charge_until_full(heron, 0.5, Charger(5.0), ambient_c=25.0, battery_model="two-well", missing_ah=missing)

    plan(1.01 * least)
    with pytest.raises(InputProblem, match=f"from {least:.2f} up to"):
        plan(0.99 * least)


def test_what_sets_the_charging_current(heron):
    assert allowed_current(heron.pack, Charger(30.0), SOCKETS[0]).set_by == "blocks"
    assert allowed_current(heron.pack, Charger(30.0), SOCKETS[0]).current_a == pytest.approx(0.3 * 22.0)
    assert allowed_current(heron.pack, Charger(2.0), SOCKETS[0]).set_by == "charger"
    weak = Socket("generator", 230.0, 0.5)
    assert allowed_current(heron.pack, Charger(5.0), weak).set_by == "socket"
    assert allowed_current(heron.pack, Charger(5.0), weak).current_a == pytest.approx(115.0 * 0.85 / 43.2)


@pytest.mark.parametrize(
    ("air", "said"),
    [(-1.0, "too cold to charge"), (-0.04, "-0.04 °C is too cold"), (0.0, ""), (48.0, "too hot")],
)
def test_lithium_is_charged_only_above_freezing_and_not_in_the_heat(air, said):
    plan = charge_until_full(load_build("heron_lithium"), 0.3, Charger(6.0), ambient_c=air)
    assert said in plan.refused
    assert bool(plan.refused) == bool(said)
    if said:
        assert all(np.isinf(hours) for hours in plan.hours_to.values())
        assert plan.wall_wh_to_full == 0.0


@pytest.mark.parametrize("air", [-10.0, 5.0, 25.0, 38.0])
def test_a_compensated_charger_keeps_its_hours(air):
    """Within 0.1 % by hand, where nothing but the voltage feels the temperature: a plain charger is slow in the cold and too strong in the heat.

    18 cells want 5 mV/K each more in the cold: 1.8 V at 5 °C.
    """
    level = {"pack__open_circuit_v_per_cell": ((0.0, 2.142), (1.0, 2.142)), "pack__capacity_per_k": 0.0}
    felt = bare(**level, pack__charge_compensation_v_per_cell_per_k=-0.005)
    kept, plain = (charge_until_full(build, 0.3, Charger(6.0), ambient_c=air) for build in (felt, bare(**level)))
    assert (kept.voltage_v, plain.voltage_v) == pytest.approx((43.2 - 18 * 0.005 * (air - 25.0), 43.2))
    for mark in (0.80, 0.95, FULL):
        assert kept.hours_to[mark] == pytest.approx(hours_by_hand(0.3, mark, 6.0, 0.0), rel=1e-3)
        assert plain.hours_to[mark] == pytest.approx(hours_by_hand(0.3, mark, 6.0, 0.0, warmer=air - 25.0), rel=1e-3)


TWELVE_CELLS = {"pack__cells_in_series": 12, "pack__blocks_in_series": 1}


def refused(volts: float, ambient: float = 25.0, per_k: float = 0.0, **pack) -> str:
    changes = {**pack, "pack__absorption_v_per_cell": volts, "pack__charge_compensation_v_per_cell_per_k": per_k}
    return charge_until_full(make_build(**changes), 0.3, Charger(6.0), ambient_c=ambient).refused


@pytest.mark.parametrize(
    ("kind", "most"),
    [
        ({"pack__chemistry": "lithium-iron-phosphate", **TWELVE_CELLS}, 3.65),
        ({"pack__chemistry": "lithium-nmc", **TWELVE_CELLS}, 4.20),
        ({}, 2.50),
    ],
    ids=["lfp", "nmc", "agm"],
)
def test_a_voltage_the_cells_do_not_stand_is_refused(kind, most):
    """The limits are the makers': 3.65 V, 4.20 V, 15.0 V a 12 V block."""
    assert f"{most + 0.01:.2f} V a cell is more than" in refused(most + 0.01, **kind)
    assert f"({most:.2f} V at most)" in refused(most + 0.01, **kind)
    assert not refused(most, **kind)


def test_lead_acid_stands_more_volts_in_the_cold():
    assert not refused(2.55, 15.0)
    assert not refused(2.50, -5.0, -0.005)
    assert refused(2.50, 35.0)


def test_the_day_s_own_charge_is_planned(heron):
    quiet = heron.changed({"controller.standby_current_a": 0.0})
    ride = simulate(quiet, load_day("harbour_festival"))
    (only,) = charges_of(ride, Charger(5.0), SOCKETS[0]).breaks
    assert (only.name, only.minutes, only.charge.allowed.current_a) == ("On the stand, charging", 90.0, 4.0)
    stage = next(each for each in ride.stages if each.name == only.name)
    assert only.start_charge == pytest.approx(stage.start_charge, abs=1e-6)
    assert only.end_charge == pytest.approx(stage.end_charge, abs=5e-4), "the lamps have a battery of their own"
    assert only.wall_wh.value == pytest.approx(-ride.ledger_wh["charger"] / 0.85, rel=0.02)
    assert only.wall_wh.low <= only.wall_wh.value <= only.wall_wh.high


def test_a_day_without_a_charge_is_shown_a_default_break(heron):
    (only,) = charges_of(simulate(heron, uncharged(load_day("harbour_festival"))), Charger(5.0), SOCKETS[0]).breaks
    assert only.name == ""
    assert only.minutes == DEFAULT_BREAK_MIN
    assert only.end_charge > only.start_charge


NAN = float("nan")


@pytest.mark.parametrize(
    ("make", "values", "place"),
    [
        (Charger, (0.0,), "current_a"),
        (Charger, (NAN,), "current_a"),
        (Charger, ("x",), "current_a"),
        (Charger, (5.0, 1.2), "efficiency"),
        (Charger, (5.0, NAN), "efficiency"),
        (Socket, ("s", -1, 3), "volts"),
        (Socket, ("s", "230", 3.0), "volts"),
        (Socket, ("s", 230.0, 0.0), "amps"),
        (lambda value: RealBlock("x", health=value), (0.0,), "health"),
        (lambda value: RealBlock("x", health=value), (1.3,), "health"),
        (lambda value: RealBlock("x", health=value), ("good",), "health"),
        (lambda value: RealBlock("x", resistance_factor=value), (0.0,), "resistance_factor"),
        (lambda value: RealBlock("x", start_charge=value), (1.5,), "start_charge"),
        (lambda value: RealBlock("x", start_charge=value), (NAN,), "start_charge"),
    ],
)
def test_chargers_sockets_and_blocks_that_cannot_be(make, values, place):
    with pytest.raises(InputProblem) as problem:
        make(*values)
    assert problem.value.place == place
