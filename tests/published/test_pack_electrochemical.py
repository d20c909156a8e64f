"""The electrochemical table made anew, where the open library it came from is installed (it is large, and no dependency of ours).

PYBAMM_DISABLE_TELEMETRY=true python -m pytest tests/published/test_pack_electrochemical.py
"""

from __future__ import annotations

import os

import pytest

from tests.published.shared import rows_of

os.environ.setdefault("PYBAMM_DISABLE_TELEMETRY", "true")
pybamm = pytest.importorskip("pybamm", reason="the electrochemical library is not installed")

ROWS = [row for row in rows_of("lead_acid_electrochemical.csv") if row["off_s"] == "0"]


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["current_a"])
def test_continuous_discharge(row):
    current, charge = float(row["current_a"]), float(row["charge_ah"])
    values = pybamm.ParameterValues("Sulzer2019")
    values["Current function [A]"] = current
    simulation = pybamm.Simulation(pybamm.lead_acid.Full(), parameter_values=values)
    solution = simulation.solve([0.0, 1.5 * 3600.0 * charge / current])
    delivered = current * float(solution["Time [s]"].entries[-1]) / 3600.0
    assert delivered == pytest.approx(charge, rel=0.005)
