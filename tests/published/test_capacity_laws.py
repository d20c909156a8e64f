"""Peukert's law and the saturating law against published examples, sheets and traps.

"Memory" marks a source recalled and then reproduced by calculation; "READ, inputs" a source whose inputs were read and whose answer
was calculated by another hand.
"""

from __future__ import annotations

import pytest

from ridesim import simulate
from ridesim.physics.capacity_laws import peukert_factor, saturating_capacity
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


@pytest.mark.parametrize(
    ("capacity", "exponent", "current", "printed", "digit", "ride_digit"),
    [
        # Encyclopedia article "Peukert's law" (memory, reproduced); the ride's empty pack is known to 0.1 s.
        (100.0, 1.2, 10.0, 8.7055, 5e-5, 8e-5),
        # 5 A is the rated current of a 20 h block: it lasts 20 h. electrotechnik.net, Peukert page of 2010-01 (READ), says
        # 14.5 h by C/I^k.
        (100.0, 1.2, 5.0, 20.0, 1e-9, 1e-3),
        # Calculated; a general web tutorial (READ) says 5.0886 h by C/I^k.
        (250.0, 1.3, 20.0, 10.856, 5e-4, 1e-3),
    ],
)
def test_peukert_by_the_law_and_through_a_ride(
    capacity, exponent, current, printed, digit, ride_digit, ideal_build, make_day
):
    """Hours that a block rated at 20 h lasts, as a formula and as a pack that stands and lights its lamps."""
    assert peukert_hours(current, capacity, 20.0, exponent) == pytest.approx(printed, abs=digit)
    pack = {"block_capacity_ah": capacity, "peukert_exponent": exponent}
    assert _hours_to_empty(ideal_build, make_day, current, pack, "peukert") == pytest.approx(printed, abs=ride_digit)


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


@pytest.mark.parametrize(("hours", "printed_ah"), SHEET)
def test_40_ah_sheet_through_a_ride(hours, printed_ah, ideal_build, make_day):
    """A day under the sheet's own current empties the pack at the sheet's hour: 0.4 % of the fit, and 0.1 % for the first minutes,
    in which the filtered current is still rising: the recovery law, as every build has it."""
    pack = {"block_capacity_ah": 40.0, "capacity_by_hours": SHEET}
    assert _hours_to_empty(ideal_build, make_day, printed_ah / hours, pack) == pytest.approx(hours, rel=0.005)
