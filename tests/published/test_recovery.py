"""The recovery law on discharges with pauses that a porous-electrode model gave.

Source: data/published/lead_acid_electrochemical.csv, one thin-plate design (Sulzer et al., J. Electrochem. Soc. 166 (2019) A2363). It is
calculated, not measured, so the law's band is wide.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from ridesim.ride.pack.block import block_numbers
from ridesim.ride.pack.laws import RECOVERY_BAND
from ridesim.vehicle import CHEMISTRIES, Pack
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


def block(recovery: float) -> Pack:
    """The model's battery, by its own steady discharges; rated by the one of 0.85 A."""
    hours = [[charge / current, charge] for current, charge in STEADY if current <= 68.0]
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
    share = minimize_scalar(lambda each: rms(each, others), bounds=(0.0, 1.0), method="bounded").x
    assert rms(share, (left_out,)) < 0.015
    assert abs(errors(share, (left_out,)).mean()) < 0.01


def test_the_band_holds_all_twelve_and_is_narrow():
    low, high = (errors(share) for share in RECOVERY_BAND)
    assert np.all(low < 0.0)
    assert np.all(high > 0.0)
    assert np.mean(0.5 * (high - low)) < 0.05
