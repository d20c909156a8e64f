"""Production against an independent fine solution of the same equations (``tests/reference``), written apart from it."""

from __future__ import annotations

from itertools import product
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from ridesim.day import Activity, Day, Trace, load_day, load_trace
from ridesim.ride.outcome import Outcome
from ridesim.ride.pack.laws import TWO_WELL_HOURS, fit_peukert, fit_saturating, fit_two_well
from ridesim.ride.simulate import simulate
from ridesim.vehicle import Build, Pack, load_build
from tests.long import LONG
from tests.reference.plain_solution import ReferenceRide, reference_ride
from tests.ride.machines import SERIES_WOUND, day_of, make_build

BAR = 1e-3
"""0.1 %: of the value, and for voltages and temperatures of their span."""

MEASURED_HEAT = {
    "motor__winding_heat_j_per_k": 250.0, "motor__case_heat_j_per_k": 2700.0, "motor__winding_to_case_k_per_w": 0.4,
    "motor__case_to_air_k_per_w": 0.9,
}  # fmt: skip


class Resolved:
    """A build whose cut-off and return are filled in, as the reference wants it."""

    def __init__(self, build: Build) -> None:
        self._build = build
        values = {name: getattr(build.controller, name) for name in type(build.controller).model_fields}
        resolved = ("cutoff_voltage_v", "restart_voltage_v", "restart_delay_s")
        self.controller = SimpleNamespace(**{**values, **{name: getattr(build, name) for name in resolved}})

    def __getattr__(self, name: str) -> Any:
        return getattr(self._build, name)


def series_wound() -> Build:
    return make_build(name="series-wound", drive__freewheel=True, **SERIES_WOUND, **MEASURED_HEAT)


def two_strings_nmc() -> Build:
    return make_build(
        name="NMC, two strings",
        pack__chemistry="lithium-nmc",
        pack__cells_in_series=10,
        pack__blocks_in_series=1,
        pack__strings_in_parallel=2,
        pack__block_capacity_ah=15.0,
        motor__magnet="neodymium",
        lighting={"supply": "main-pack", "load": [{"name": "lamps", "power_w": 40.0}]},
    )


BUILDS = {
    "heron_36v": lambda: load_build("heron_36v"),
    "heron_48v": lambda: load_build("heron_48v"),
    "heron_lithium": lambda: load_build("heron_lithium"),
    "puppet_cart": lambda: load_build("puppet_cart"),
    "series-wound": series_wound,
    "two strings": two_strings_nmc,
}

DAYS = {
    "two-wheeler cycle": lambda: _cycle("idc_two_three_wheeler", 6 if LONG else 2),
    "urban cycle": lambda: _cycle("ece15_urban", 4 if LONG else 2),
    "festival": lambda: load_day("harbour_festival"),
}


def _cycle(name: str, repeats: int) -> Day:
    activity = Activity(name=name, trace=load_trace(name), repeats=repeats, lighting=1.0)
    return day_of(activity, ambient_c=8.0, altitude_m=300.0, headwind_mps=1.0, start_state_of_charge=0.9)


def assert_alike(found: Outcome, truth: ReferenceRide, build: Build, day: Day) -> None:
    # Of a nearly empty pack a thousandth is nothing: there it is a part of the full one.
    assert found.end_state_of_charge == pytest.approx(truth.end_state_of_charge, rel=BAR, abs=0.03 * BAR)
    for name in ("distance_km", "energy_wh", "highest_pack_current_a", "rms_motor_current_a"):
        assert getattr(found, name) == pytest.approx(getattr(truth, name), rel=BAR, abs=1e-9), name
    sag = build.pack.full_voltage_v - truth.lowest_pack_voltage_v
    assert found.lowest_pack_voltage_v == pytest.approx(truth.lowest_pack_voltage_v, abs=BAR * sag)
    rise = truth.hottest_winding_c - day.ambient_c
    assert found.hottest_winding_c == pytest.approx(truth.hottest_winding_c, abs=BAR * rise)
    assert abs(truth.ledger_residual) < 1e-6
    assert abs(found.ledger_residual) < 1e-6


LAWS = ("recovery", "peukert", "two-well")
RIDES = [
    ("heron_48v", "festival", "recovery"),
    ("heron_36v", "urban cycle", "two-well"),
    ("heron_lithium", "two-wheeler cycle", "recovery"),
    ("series-wound", "urban cycle", "peukert"),
    ("two strings", "urban cycle", "peukert"),
]
CHARGES = [("heron_36v", "two-well"), ("heron_48v", "recovery"), ("heron_lithium", "peukert")]
"""One of each kind; the long form takes all of them."""


def meets_own_law(pack: Pack) -> bool:
    """Whether the two-well law meets the pack's own law; else its parameters are not unique."""
    own, hours = fit_saturating(pack) if pack.capacity_by_hours else fit_peukert(pack), np.array(TWO_WELL_HOURS)
    return bool(np.allclose(fit_two_well(pack).capacity_in(hours), own.capacity_in(hours), rtol=1e-6))


@pytest.mark.parametrize(("build_name", "day_name", "law"), list(product(BUILDS, DAYS, LAWS)) if LONG else RIDES)
def test_within_a_thousandth_of_the_reference(build_name, day_name, law):
    build, day = BUILDS[build_name](), DAYS[day_name]()
    if law == "two-well" and not meets_own_law(build.pack):
        pytest.skip("the two-well parameters of this pack are not unique; each side picks its own")
    found = simulate(build, day, law).outcome
    assert_alike(found, reference_ride(Resolved(build), day, law, compiled_rhs=True), build, day)


@pytest.mark.parametrize(("build_name", "law"), list(product(BUILDS, LAWS)) if LONG else CHARGES)
def test_a_long_charge_is_the_reference_s(build_name, law):
    """Constant current, then the tail, in the cold, lead-acid with a charger that feels it; energies and the end within 0.1 %."""
    build = BUILDS[build_name]()
    if law == "two-well" and not meets_own_law(build.pack):
        pytest.skip("the two-well parameters of this pack are not unique; each side picks its own")
    if not build.pack.kind.is_lithium:
        build = build.changed({"pack.charge_compensation_v_per_cell_per_k": -0.003})
    day = day_of(
        Activity(name="charge", duration_min=420.0, charge_current_a=6.0, lighting=0.5),
        Activity(name="stand", duration_min=20.0),
        ambient_c=8.0, start_state_of_charge=0.35,
    )  # fmt: skip
    found, truth = simulate(build, day, law), reference_ride(Resolved(build), day, law, compiled_rhs=True)
    gain = truth.end_state_of_charge - 0.35
    assert found.outcome.end_state_of_charge == pytest.approx(truth.end_state_of_charge, abs=BAR * gain)
    assert found.ledger_wh["charger"] == pytest.approx(truth.ledger["charger"], rel=BAR)
    assert abs(truth.ledger_residual) < 1e-6
    assert abs(found.outcome.ledger_residual) < 1e-6


def hills() -> Day:
    """Coasting and grades in one trace."""
    trace = Trace(
        "hills",
        np.array([0.0, 10.0, 40.0, 60.0, 90.0, 100.0, 130.0, 150.0]),
        np.array([0.0, 15.0, 18.0, np.nan, np.nan, 12.0, 12.0, 0.0]),
        np.array([0.0, 0.0, 4.0, 4.0, -3.0, -3.0, 7.0, 7.0]),
    )
    return day_of(Activity(name="hills", trace=trace, repeats=5))


def worn() -> Build:
    """The reference knows the block's resistance as it is now; a worn pack's follows from its health before any equation."""
    return make_build(pack__state_of_health=0.75)


@pytest.mark.parametrize(("make", "when"), [(worn, DAYS["urban cycle"]), (BUILDS["heron_36v"], hills)])
def test_a_worn_pack_and_coasting_on_hills_are_the_reference_s(make, when):
    build, day = make(), when()
    found, truth = simulate(build, day).outcome, reference_ride(Resolved(build), day, compiled_rhs=True)
    assert_alike(found, truth, build, day)
