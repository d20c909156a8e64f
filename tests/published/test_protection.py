"""Fuses, breakers, lights and pre-charge against printed facts; each source stands beside its check. Times from memory are tested for shape only."""

from __future__ import annotations

from math import inf, isfinite

import pytest

from ridesim import load_build, wiring
from ridesim.choose.findings.safety import TOUCH_LIMIT_V
from ridesim.choose.findings.wiring import PRECHARGE
from ridesim.data import find
from ridesim.forms import csv_rows
from ridesim.physics.capacitors import precharge_energy, precharge_voltage
from ridesim.sizing.cable import ampacity_a
from ridesim.sizing.lighting import STRIPS_W_PER_M, strip_w_per_m
from ridesim.sizing.protection import (
    BARE_M,
    SHEATHED_M,
    Protection,
    choose,
    kinds,
    opening_s,
    position,
)
from ridesim.vehicle.cable import awg_mm2
from ridesim.words import convert

TIMES = [
    row.cells
    for row in csv_rows(
        find("opening_times", "parts"),
        dict.fromkeys(("curve", "current_percent", "earliest_s", "latest_s", "from", "read")),
    )
]


@pytest.mark.parametrize(("percent", "latest"), [(100, inf), (135, 3600.0), (200, 120.0)])
def test_small_fuses(percent, latest):
    """UL 248-14, two makers' sheets: carries 100 %, opens 135 % within an hour, 200 % within two minutes (up to 30 A)."""
    for rating in (1.0, 10.0, 30.0):
        assert opening_s(Protection("glass", rating), rating * percent / 100.0)[1] == pytest.approx(latest)


def test_the_data_say_which_times_were_read():
    """A row counts as read only where its latest time was: of small fuses."""
    assert {row["curve"] for row in TIMES if row["read"] == "yes"} == {"glass"}


@pytest.mark.parametrize("kind", kinds())
def test_shape_of_every_curve(kind):
    """Quicker with more current, the quick part before the slow one; the table's own points come back."""
    rows = [row for row in TIMES if row["curve"] == kinds()[kind].curve]
    carried, *opening = rows
    share = float(carried["current_percent"]) / 100.0
    assert opening_s(Protection(kind, 10.0), 10.0 * share) == (inf, inf)
    for row in opening:
        found = opening_s(Protection(kind, 10.0), float(row["current_percent"]) / 10.0)
        assert found == pytest.approx((float(row["earliest_s"]), float(row["latest_s"])))
    before = (inf, inf)
    for step in range(60):
        amps = 10.0 * 1.06**step
        quick, slow = opening_s(Protection(kind, 10.0), amps)
        assert quick <= before[0] * (1.0 + 1e-9)
        assert slow <= before[1] * (1.0 + 1e-9)
        assert kinds()[kind].least_s * (1.0 - 1e-9) <= quick <= slow
        before = quick, slow
    assert all(isfinite(each) for each in before)


@pytest.mark.parametrize(
    ("kind", "volts"), [("blade", 32), ("blade-58", 58), ("maxi", 32), ("maxi-58", 58), ("strip", 32)]
)
def test_voltages_that_fuses_are_sold_for(kind, volts):
    """A maker's catalogue: blades and strips for 32 V beside look-alikes for 58 V."""
    assert kinds()[kind].rated_voltage_v == volts


@pytest.mark.parametrize(("full_v", "fits"), [(28.8, True), (31.0, True), (43.2, False), (57.6, False)])
def test_blades_of_32_volts_suit_24_volt_packs_only(full_v, fits):
    """Lead-acid on its charger, 2.40 V a cell of 24, 36 and 48 V, and 24 V equalised; a rating not below the circuit's: 33 CFR 183.455(d)."""
    choice = choose(4.0, 20.0, full_v, 500.0, "blade")
    assert (choice.rating_a == 5.0) is fits
    if not fits:
        assert choice.finding.code == "protection-voltage"
        assert "blade-58" in choice.finding.text


def test_the_distances_of_the_regulation():
    """33 CFR 183.455(b): 7 inches along the wire, 40 inches sheathed; printed in inches."""
    assert convert(7.0, "in", "m") == pytest.approx(BARE_M, abs=5e-4)
    assert convert(40.0, "in", "m") == pytest.approx(SHEATHED_M, abs=5e-4)
    assert not list(position("main", 0.17, False))
    assert [each.code for each in position("main", 0.2, False)] == ["protection-position"]
    assert not list(position("main", 1.0, True))
    assert [each.code for each in position("main", 1.1, True)] == ["protection-position"]


def test_the_worked_example_of_60_amperes():
    """60 A, cable of 105 °C in 50 °C: 75 A or more, so 80 A; AWG 8 carries too little, AWG 6 enough (33 CFR table, the 1.25 from memory)."""
    small, large = (ampacity_a(awg_mm2(gauge), 105, 50, 2) for gauge in (8, 6))
    assert choose(60.0, small, 57.6, 3000.0, "class-t").finding.code == "protection-above-cable"
    assert choose(60.0, large, 57.6, 3000.0, "class-t").rating_a == 80.0


def test_breaking_capacity():
    """It must be at least the prospective current: fuse makers."""
    assert choose(20.0, 80.0, 12.0, 900.0, "blade").rating_a == 25.0
    assert choose(20.0, 80.0, 12.0, 1100.0, "blade").finding.code == "protection-breaking"


@pytest.mark.parametrize(("blocks", "over"), [(4, False), (5, True)])
def test_the_limit_of_high_voltage(blocks, over):
    """FMVSS 305: above 60 V d.c. a vehicle's circuit is high voltage; a lead-acid pack of 48 V on its charger is below it, one of 60 V above."""
    assert TOUCH_LIMIT_V == 60.0
    build = load_build("heron_36v").changed({"pack.blocks_in_series": blocks, "controller.max_voltage_v": None})
    codes = {each.code for each in wiring(build).findings}
    assert ("above-60-volts" in codes) is over


def test_led_strips():
    """A maker's table: SMD5050, 60 a metre, three a group of 60 mA at 12 V is 14.4 W/m; 30 a metre 7.2; SMD3528 4.8."""
    assert strip_w_per_m(60, 3, 0.06, 12.0) == pytest.approx(14.4)
    assert strip_w_per_m(30, 3, 0.06, 12.0) == pytest.approx(7.2)
    assert list(STRIPS_W_PER_M.values()) == [14.4, 7.2, 4.8]
    assert all(4.8 <= each <= 24.0 for each in STRIPS_W_PER_M.values())
    assert choose(6.0, 25.0, 14.4, 400.0, "blade").rating_a == 7.5


@pytest.mark.parametrize(
    ("volts", "full_v", "ohm", "watts"), [(24.0, 28.8, 220.0, 5.0), (36.0, 43.2, 220.0, 10.0), (48.0, 58.8, 470.0, 10.0), (72.0, 86.4, 1000.0, 10.0)]
)  # fmt: skip
def test_precharge_resistors(volts, full_v, ohm, watts):
    """A controller maker's wiring page: resistor and watts by voltage; left across the full pack it stays below its watts."""
    assert next(usual for most, *usual in PRECHARGE if volts <= most) == [ohm, watts]
    assert full_v**2 / ohm < watts


@pytest.mark.parametrize(("constants", "percent"), [(1, 63.2), (2, 86.5), (3, 95.0), (4, 98.2), (5, 99.3)])
def test_precharge_by_time_constants(constants, percent):
    """The usual table of a capacitor's charge after one to five time constants."""
    assert 100.0 * precharge_voltage(constants * 4.7, 1.0, 470.0, 0.01) == pytest.approx(percent, abs=0.06)
    assert precharge_energy(2.0, 1.0) == 2.0
