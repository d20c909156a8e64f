"""What must hold for packs: capacity laws, cold, standing, data sheets, wear."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from ridesim.day import Activity, load_day
from ridesim.physics.capacity_laws import LAW_NAMES
from ridesim.ride.core.pack import charges_at, state_of_charge
from ridesim.ride.pack.block import block_numbers, charges_after
from ridesim.ride.pack.data_sheet import fit_sheet
from ridesim.ride.simulate import simulate
from ridesim.ride.start import start_charge
from ridesim.vehicle import Pack
from ridesim.vehicle.care import worn_resistance_factor
from ridesim.words import InputProblem
from tests.long import LONG
from tests.ride.block_runs import run_seconds
from tests.ride.machines import day_of, make_build

every = settings(deadline=None, max_examples=60 if LONG else 10)
LAWS = st.sampled_from(LAW_NAMES)


SHEET = [[20.0, 40.0], [10.0, 37.2], [5.0, 34.0], [1.0, 24.0]]


@st.composite
def sealed_packs(draw: st.DrawFn) -> Pack:
    table = {
        "chemistry": draw(st.sampled_from(["lead-acid-agm", "lead-acid-gel"])),
        "block_capacity_ah": draw(st.floats(5.0, 100.0)),
    }
    if draw(st.booleans()):
        scale = table["block_capacity_ah"] / 40.0
        table["capacity_by_hours"] = [[hours, charge * scale] for hours, charge in SHEET]
    return Pack.model_validate(table)


PIECES = st.lists(st.tuples(st.floats(60.0, 7200.0), st.floats(-0.3, 2.0)), min_size=1, max_size=12)


@every
@given(sealed_packs(), LAWS, PIECES, st.floats(0.05, 1.0))
def test_charge_drawn_never_exceeds_what_was_put_in(pack, law, pieces, start):
    b = block_numbers(pack, battery_model=law)
    q = charges_at(start)
    stored, out = start * b.capacity, 0.0
    for seconds, rate in pieces:
        current = rate * pack.block_capacity_ah
        if state_of_charge(*q, b) >= 1.0 and current < 0.0:
            continue

        def left(time, q=q, current=current):
            return state_of_charge(*charges_after(*q, current, time, b), b)

        if left(seconds) <= 0.0:
            out += current * (brentq(left, 0.0, seconds) if left(0.0) > 0.0 else 0.0)
            break
        q = charges_after(*q, current, seconds, b)
        out += max(0.0, current) * seconds
        stored += b.coulombic * max(0.0, -current) * seconds
    assert out <= stored * (1.0 + 1e-9)


@every
@given(sealed_packs(), LAWS, st.floats(0.05, 2.0), st.floats(-20.0, 50.0), st.floats(-20.0, 50.0))
def test_colder_is_never_more(pack, law, rate, one, other):
    current = rate * pack.block_capacity_ah
    cold, warm = (run_seconds(current, block_numbers(pack, each, law)) for each in sorted((one, other)))
    assert cold <= warm * (1.0 + 1e-12)


def test_standing_in_the_shed_lowers_the_start(heron):
    day = load_day("harbour_festival")
    assert start_charge(heron.pack, day) == day.start_state_of_charge, "charged last night"
    build = make_build(pack__stood_months=4.0, pack__stood_c=10.0)
    ride = simulate(build, day_of(Activity(name="stand", duration_min=1.0)))
    assert ride.rows["state_of_charge"][0] == pytest.approx(0.97 ** (4.0 * 0.5))
    warmer = make_build(pack__stood_months=4.0, pack__stood_c=30.0)
    assert start_charge(warmer.pack, ride.day) < start_charge(build.pack, ride.day)


GOOD_ROWS = [(20, 40.0), (10, 37.2), (5, 34.0)]


@pytest.mark.parametrize(
    ("rows", "settings_", "place"),
    [
        ([(20, 40_000.0), (10, 37_200.0), (5, 34_000.0)], {}, "block_capacity_ah"),
        ([(20, 40.0), (10, 37.2), (5, float("nan"))], {}, "capacity_by_hours[3][2]"),
        ([(20, 40.0), (10, "37"), (5, 34.0)], {}, "capacity_by_hours[2][2]"),
        (GOOD_ROWS[:2], {}, "capacity_by_hours"),
        ([(20, 40.0), (10, 44.0), (5, 30.0)], {}, "capacity_by_hours"),
        ([*GOOD_ROWS, (1e-9, 20.0)], {}, "capacity_by_hours"),
        (GOOD_ROWS, {"rated_hours": -1.0}, "rated_hours"),
        (GOOD_ROWS, {"rated_hours": float("nan")}, "rated_hours"),
        ([(20, 0.0), *GOOD_ROWS[1:]], {}, "block_capacity_ah"),
        ([(20, "forty"), *GOOD_ROWS[1:]], {}, "block_capacity_ah"),
    ],
)
def test_sheets_that_no_block_can_have(rows, settings_, place):
    with pytest.raises(InputProblem) as problem:
        fit_sheet(rows, **settings_)
    assert (problem.value.file, problem.value.place) == ("the data sheet", place)


def test_a_sheet_without_the_rated_hours_is_refused():
    with pytest.raises(InputProblem, match="20 h, which no row has"):
        fit_sheet([(10, 40.0), (5, 37.0), (1, 30.0)])


@every
@given(st.lists(st.floats(0.05, 0.95), min_size=2, max_size=5), st.floats(0.001, 10.0), st.floats(0.5, 500.0))
def test_any_falling_sheet_is_fitted(shares, shortest, most):
    """Sheets made so that hours, ampere-hours and currents run the right way; however bent, a fit comes out."""
    rows, hours, charge = [(20.0, most)], 20.0, most
    for share in shares:
        faster = max(shortest, hours * share)
        less = charge * (faster / hours) ** (0.9 * (1.0 - share))
        if faster >= 0.99 * hours or less < 0.001:
            break
        hours, charge = faster, less
        rows.append((hours, charge))
    assume(len(rows) >= 3)
    fit = fit_sheet(rows)
    assert all(np.isfinite(law.misfit_percent) for law in fit.laws.values())
    assert all(np.isfinite(law.fit.capacity_in(fit.hours)).all() for law in fit.laws.values())


def test_a_worn_block_s_resistance_where_none_is_stated():
    """Twice at 60 %: the rule and the label speak of a new block. A stated resistance is the block's own, as it is."""
    new, worn = (make_build(pack__state_of_health=health).pack.in_force for health in (1.0, 0.6))
    assert worn.block_resistance_ohm == pytest.approx(2.0 * new.block_resistance_ohm)
    assert worn.polarisation_resistance_ohm == pytest.approx(2.0 * new.polarisation_resistance_ohm)
    label = make_build(pack__state_of_health=0.6, pack__label_resistance_ohm=0.006).pack.in_force
    assert label.block_resistance_ohm == pytest.approx(2.0 * 1.6 * 0.006)
    stated = make_build(pack__state_of_health=0.6, pack__block_resistance_ohm=0.02).pack.in_force
    assert stated.block_resistance_ohm == 0.02
    assert make_build(pack__state_of_health=1.1).pack.in_force.block_resistance_ohm == new.block_resistance_ohm


def test_worn_resistance_lies_where_practice_says():
    """1.3 to 2 times at the end of life (80 %): IEEE 1188 practice, from memory."""
    assert 1.3 <= worn_resistance_factor(0.8) <= 2.0
    assert worn_resistance_factor(1.0) == worn_resistance_factor(1.2) == 1.0
