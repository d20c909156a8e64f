"""The recovery law on discharges with pauses that a porous-electrode model gave.

Source: data/published/lead_acid_electrochemical.csv, one thin-plate design (Sulzer et al., J. Electrochem. Soc. 166 (2019) A2363). It is
calculated, not measured, so the law's band is wide.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from ridesim.day import load_day
from ridesim.ride.core.pack import charges_at, state_of_charge
from ridesim.ride.pack.block import block_numbers, charges_after
from ridesim.ride.pack.laws import RECOVERY_BAND
from ridesim.ride.simulate import simulate
from ridesim.vehicle import CHEMISTRIES, Pack, load_build
from tests.long import LONG
from tests.published.shared import rows_of
from tests.ride.block_runs import lifetime_seconds

ROWS = rows_of("lead_acid_electrochemical.csv")
STEADY = [(float(row["current_a"]), float(row["charge_ah"])) for row in ROWS if row["off_s"] == "0"]
PAUSED = [
    (float(row["current_a"]), float(row["on_s"]), float(row["off_s"]), float(row["charge_ah"]))
    for row in ROWS
    if row["gain_percent"]
]
LIKELY = CHEMISTRIES["lead-acid-agm"].recovery_share


def block(recovery: float, slowest_a: float = 0.0, fastest_a: float = 100.0) -> Pack:
    """The model's battery, by its own steady discharges; rated by the one of 0.85 A."""
    hours = [[charge / current, charge] for current, charge in STEADY if slowest_a <= current <= fastest_a]
    table = {
        "chemistry": "lead-acid-agm",
        "block_capacity_ah": 21.760,
        "rated_hours": 25.6,
        "capacity_by_temperature": [[0.0, 1.0], [40.0, 1.0]],
    }
    return Pack.model_validate({**table, "capacity_by_hours": hours, "recovery_share": recovery})


def errors(recovery: float, currents: tuple[float, ...] = (17.0, 34.0, 51.0)) -> np.ndarray:
    """Charge by the law over the table's, less one."""
    b = block_numbers(block(recovery))
    found = []
    for current, on, off, printed in PAUSED:
        if current in currents:
            time = lifetime_seconds([(on, current), (off, 0.0)], b, repeat=True)
            whole, part = divmod(time, on + off)
            found.append(current * (whole * on + min(part, on)) / 3600.0 / printed - 1.0)
    return np.array(found)


def rms(recovery: float, currents: tuple[float, ...]) -> float:
    return float(np.sqrt(np.mean(errors(recovery, currents) ** 2)))


def test_the_likely_share_meets_all_twelve():
    assert len(PAUSED) == 12
    assert rms(LIKELY, (17.0, 34.0, 51.0)) < 0.01
    assert rms(0.0, (17.0, 34.0, 51.0)) > 0.06
    assert rms(1.0, (17.0, 34.0, 51.0)) > 0.08


@pytest.mark.parametrize("left_out", [17.0, 34.0, 51.0])
def test_fitted_to_two_currents_it_meets_the_third(left_out):
    """Root of the mean square at most 1.5 %, mean within 1 %."""
    others = tuple(each for each in (17.0, 34.0, 51.0) if each != left_out)
    share = minimize_scalar(
        lambda each: rms(each, others), bounds=(0.0, 1.0), method="bounded", options={"xatol": 0.01}
    ).x
    assert rms(share, (left_out,)) < 0.015
    assert abs(errors(share, (left_out,)).mean()) < 0.01


def test_the_band_holds_all_twelve_and_is_narrow():
    low, high = (errors(share) for share in RECOVERY_BAND)
    assert np.all(low < 0.0)
    assert np.all(high > 0.0)
    assert np.mean(0.5 * (high - low)) < 0.05


def show_day_current() -> tuple[np.ndarray, np.ndarray]:
    """The pack's current on the demo's festival, its charge in the break too: seconds from the start, and amps."""
    ride = simulate(load_build("heron_36v"), load_day("harbour_festival"))
    # Looked at every two seconds: where a phase ends and the next begins there are two rows, and a straight line from the first to the end of
    # a long step would be a current that never flowed.
    time = np.arange(0.0, ride.clock_s[-1] - ride.clock_s[0], 2.0)
    return time, np.interp(time, ride.clock_s - ride.clock_s[0], ride.rows["pack_current_a"])


LASTS_S = 20.0
"""A cell that is below 1.75 V for so long is empty; a launch of some seconds only makes it sag."""


def given_by_the_model(time: np.ndarray, amps: np.ndarray) -> float:
    """Ampere-hours that the porous-electrode model gives until it is empty."""
    pybamm = pytest.importorskip("pybamm")
    model = pybamm.lead_acid.Full()
    values = model.default_parameter_values
    values["Current function [A]"] = pybamm.Interpolant(time, amps, pybamm.t)
    values["Lower voltage cut-off [V]"], values["Upper voltage cut-off [V]"] = 1.5, 3.0
    solver = pybamm.IDAKLUSolver(rtol=1e-5, atol=1e-6, options={"dt_max": 5.0, "max_num_steps": 1_000_000})
    solved = pybamm.Simulation(model, parameter_values=values, solver=solver).solve(
        [0.0, time[-1]], t_interp=np.arange(0.0, time[-1], 0.5)
    )
    above = solved["Voltage [V]"].entries - 1.75
    first = np.flatnonzero(np.diff(above < 0.0))
    crossed = solved.t[first] + above[first] / (above[first] - above[first + 1]) * np.diff(solved.t)[first]
    falls, rises = crossed[::2], crossed[1::2]  # it is full at first, so the first crossing is a fall
    end = falls[int((rises - falls[: len(rises)] >= LASTS_S).argmax())]
    out = np.concatenate([[0.0], np.cumsum(0.5 * np.maximum(0.0, amps[1:] + amps[:-1]) * np.diff(time))])
    return float(np.interp(end, time, out)) / 3600.0


def given_by_the_law(time: np.ndarray, amps: np.ndarray, pack: Pack) -> float:
    """Ampere-hours until the block is empty, in steps of five seconds at most."""
    b, charges, out = block_numbers(pack), charges_at(1.0), 0.0
    for span, current in zip(np.diff(time), 0.5 * (amps[1:] + amps[:-1]), strict=True):
        parts = int(np.ceil(span / 5.0))
        for _ in range(parts):
            charges = charges_after(*charges, float(current), float(span) / parts, b)
            out += max(0.0, current) * span / parts / 3600.0
            if state_of_charge(*charges, b) <= 0.0:
                return out
    return np.inf


@pytest.mark.filterwarnings("ignore")
@pytest.mark.skipif(not LONG, reason="minutes of an electrochemical model; RIDESIM_LONG=1, with PyBaMM installed")
@pytest.mark.parametrize("fastest_a", [68.0, 17.0], ids=["rows to 15 min", "rows to 1 h"])
@pytest.mark.parametrize("times", [1.0, 1.7])
def test_a_show_day_s_current_until_it_is_empty(times, fastest_a):
    """Day after day without a night between, by rows from 20 h on: within 3 %."""
    time, amps = show_day_current()
    days = np.concatenate([time + day * (time[-1] + 1.0) for day in range(2)])
    current = times * np.tile(amps, 2)
    by_law = given_by_the_law(days, current, block(LIKELY, 0.85, fastest_a))
    assert by_law == pytest.approx(given_by_the_model(days, current), rel=0.03)
