"""Peukert's law and the saturating law against published examples, sheets and traps.

"Memory" marks a source recalled and then reproduced by calculation; "READ, inputs" a source whose inputs were read and whose answer
was calculated by another hand.
"""

from __future__ import annotations

import pytest

from ridesim import simulate
from ridesim.physics.capacity_laws import peukert_factor, saturating_capacity
from ridesim.ride.pack.laws import fit_peukert
from tests.published.shared import peukert_hours

SHEET = [[20.0, 40.0], [10.0, 37.2], [5.0, 34.0], [1.0, 24.0]]
"""Hours and ampere-hours of a 12 V 40 Ah sealed block at 25 °C: data sheet on vinachem.com.vn, ".../12V-40AH.htm" (READ)."""
LIGHT_CONVERTER = 0.90


def _hours_to_empty(ideal_build, make_day, current_a: float, pack: dict, law: str | None = None) -> float:
    """Run time at a constant current through ``simulate``: lights on the main pack at a constant rested voltage. [h]"""
    build = ideal_build(
        150.0,
        pack={"blocks_in_series": 1, **pack},
        lighting={"supply": "main-pack", "load": [{"name": "load", "power_w": current_a * LIGHT_CONVERTER * 12.0}]},
    )
    day = make_day({"duration_min": 40.0 * 60.0, "lighting": 1.0}, ambient_c=25.0)
    moment = simulate(build, day, law).moments.empty_s
    assert moment is not None
    return moment / 3600.0


def test_peukert_worked_example():
    """100 Ah at 20 h, k = 1.2, 10 A: 8.7055 h, 87.06 Ah. Encyclopedia article "Peukert's law" (memory, reproduced)."""
    hours = peukert_hours(10.0, 100.0, 20.0, 1.2)
    assert hours == pytest.approx(8.7055, abs=5e-5)
    assert 10.0 * hours == pytest.approx(87.06, abs=0.0051)


def test_peukert_worked_example_through_a_ride(ideal_build, make_day):
    """The same example as a pack that stands and lights its lamps: 8.7055 h, to the 0.1 s of a ride's empty pack."""
    pack = {"block_capacity_ah": 100.0, "peukert_exponent": 1.2}
    assert _hours_to_empty(ideal_build, make_day, 10.0, pack) == pytest.approx(8.7055, abs=8e-5)


def test_peukert_trap_of_dividing_by_the_current_s_power(ideal_build, make_day):
    """electrotechnik.net, Peukert page of 2010-01 (READ), gives 14.5 h for "100 Ah", k = 1.2, 5 A by C/I^k.

    5 A is the rated current of a 20 h block: it lasts 20 h, for every exponent.
    """
    pack = {"block_capacity_ah": 100.0, "peukert_exponent": 1.2}
    assert 100.0 / 5.0**1.2 == pytest.approx(14.4956, abs=5e-5)  # the trap
    assert peukert_hours(5.0, 100.0, 20.0, 1.2) == pytest.approx(20.0, abs=1e-9)
    assert _hours_to_empty(ideal_build, make_day, 5.0, pack) == pytest.approx(20.0, abs=1e-3)


def test_peukert_trap_of_the_second_tutorial(ideal_build, make_day):
    """250 Ah, k = 1.3, 20 A: a general web tutorial (READ) says 5.0886 h; at a 20 h rating it is 10.856 h (calculated)."""
    pack = {"block_capacity_ah": 250.0, "peukert_exponent": 1.3}
    assert 250.0 / 20.0**1.3 == pytest.approx(5.0886, abs=5e-5)  # the trap
    assert peukert_hours(20.0, 250.0, 20.0, 1.3) == pytest.approx(10.856, abs=5e-4)
    assert _hours_to_empty(ideal_build, make_day, 20.0, pack) == pytest.approx(10.856, abs=1e-3)


@pytest.mark.parametrize(
    ("current_a", "law_ah", "web_table_ah"),
    [(10.0, 93.3, 89.0), (20.0, 87.1, 79.0), (50.0, 79.4, 65.0), (100.0, 74.1, 58.0)],
)
def test_peukert_trap_of_a_web_table(current_a, law_ah, web_table_ah):
    """A general web reference (READ) lists 89/79/65/58 Ah for k = 1.1, 100 Ah at 20 h; the law itself gives 93.3/87.1/79.4/74.1."""
    charge = current_a * peukert_hours(current_a, 100.0, 20.0, 1.1)
    assert charge == pytest.approx(law_ah, abs=0.05)
    assert charge > web_table_ah + 4.0


@pytest.mark.parametrize("exponent", [1.0, 1.05, 1.21, 1.3, 1.6])
def test_peukert_gives_nothing_extra_below_the_rated_current(exponent):
    """The rating holds at the rated current for every exponent, and below it charge is plain ampere-hours (model page)."""
    assert peukert_factor(5.0, 5.0, exponent) == 1.0
    assert peukert_factor(0.5, 5.0, exponent) == 1.0
    assert 1.0 / peukert_factor(10.0, 5.0, exponent) == pytest.approx(2.0 ** (1.0 - exponent), rel=1e-12)


@pytest.mark.parametrize(
    ("current_a", "capacity_ah"),
    [(2.5, 45.54), (5.0, 44.05), (10.0, 41.78), (15.0, 40.00), (25.0, 37.20), (50.0, 32.40), (100.0, 26.68)],
)
def test_jackey_starter_battery(current_a, capacity_ah):
    """50 Ah, K_c 1.2, I_0 15 A, d 0.73, K_t 0.80 at 25 °C: Jackey, SAE 2007-01-0778, initialisation file in
    mathworks/Simscape-Aircraft-Power-Network (READ, inputs)."""
    assert saturating_capacity(current_a, 0.80 * 50.0, 1.2, 15.0, 0.73) == pytest.approx(capacity_ah, abs=0.005)


def test_peukert_exponents_of_the_40_ah_sheet(ideal_build):
    """From 20 h to 1 h the sheet's k is 1.206, between its local 1.117 (20 to 10 h) and 1.276 (5 to 1 h), all calculated from READ figures.

    A least-squares line with a free capacity gives 1.209; the project's is held at the rated capacity and must lie between the local ones.
    """
    assert peukert_hours(24.0, 40.0, 20.0, 1.206) == pytest.approx(
        1.0, abs=0.002
    )  # k's half digit moves it by 0.0012 h
    assert peukert_hours(3.72, 40.0, 20.0, 1.117) == pytest.approx(10.0, abs=0.01)
    assert peukert_hours(24.0, 34.0, 5.0, 1.276) == pytest.approx(1.0, abs=0.002)
    pack = ideal_build(150.0, pack={"block_capacity_ah": 40.0, "capacity_by_hours": SHEET}).pack
    assert 1.117 < fit_peukert(pack).exponent < 1.276


@pytest.mark.parametrize(("hours", "printed_ah"), SHEET)
def test_40_ah_sheet_through_a_ride(hours, printed_ah, ideal_build, make_day):
    """A day under the sheet's own current empties the pack at the sheet's hour: 0.4 % of the fit, and 0.1 % for the first minutes,
    in which the filtered current is still rising."""
    pack = {"block_capacity_ah": 40.0, "capacity_by_hours": SHEET}
    assert _hours_to_empty(ideal_build, make_day, printed_ah / hours, pack) == pytest.approx(hours, rel=0.005)
