"""The pack against two measured sealed blocks: charge by rate, volts rested and under load, amps accepted (data/published/measured_blocks.csv).

Activation, depletion and acceptance were fitted to these rows, so what stands here is how near one set of defaults comes to all of them.
"""

from __future__ import annotations

import numpy as np
import pytest

from ridesim.physics.charging import charge_current
from ridesim.ride.core.pack import beyond_resistance, rested_source
from ridesim.ride.pack.block import block_numbers, charges_after
from ridesim.vehicle import CHEMISTRIES, Pack
from tests.published.shared import rows_of
from tests.ride.block_runs import run_seconds

ROWS = rows_of("measured_blocks.csv")
CAPACITY = {"17Ah": 19.3, "100Ah": 96.0}
"""What the blocks gave at about their rated hours: a block is known by its own test. [Ah]"""


def rows(what: str) -> list[dict[str, str]]:
    return [row for row in ROWS if row["what"] == what]


def block(name: str, **changes: object) -> Pack:
    """A block with every default but its capacity."""
    return Pack.model_validate({"chemistry": "lead-acid-agm", "block_capacity_ah": CAPACITY[name], **changes})


@pytest.mark.parametrize("row", rows("loaded"), ids=lambda row: f"{row['block']} {row['current_a']} A {row['share']}")
def test_volts_under_load(row):
    """At a quarter, a half and three quarters of what each discharge gave: within 0.10 V."""
    b = block_numbers(block(row["block"], block_capacity_ah=float(row["charge_ah"])))
    amps, left = float(row["current_a"]), 1.0 - float(row["share"])
    rested, inner = rested_source(1.0 - left, b)
    volts = rested - (inner + b.polarisation_resistance) * amps - beyond_resistance(left, rested, inner, amps, b)
    assert volts == pytest.approx(float(row["value"]), abs=0.10)


def test_rested_volts_follow_the_ampere_hours():
    """8.57 of 19.3 Ah out, two hours of rest: 12.37 V, within 0.06."""
    (row,) = rows("rested")
    b = block_numbers(block("17Ah"))
    out = float(row["charge_ah"])
    _, missing, _ = charges_after(1.0, 0.0, 0.0, float(row["current_a"]), out / float(row["current_a"]) * 3600.0, b)
    assert rested_source(missing, b)[0] == pytest.approx(float(row["value"]), abs=0.06)


@pytest.mark.parametrize("row", rows("accepted"), ids=lambda row: f"{row['block']} {row['charge_ah']} Ah")
def test_amps_accepted_in_the_tail(row):
    """At 14.4 V and 28 °C within 15 %, at 14.95 V and 24 °C within 25 %."""
    volts = float(row["volts"])
    warmth, within = {14.4: (28.0, 0.15), 14.95: (24.0, 0.25)}[volts]
    b = block_numbers(block(row["block"], absorption_v_per_cell=volts / 6.0), warmth)
    missing = float(row["charge_ah"]) * 3600.0 / b.capacity
    rested, inner = rested_source(missing, b)
    slow, amps = 0.0, 0.0
    for _ in range(100):  # until the polarisation has settled
        amps, _ = charge_current(100.0, missing, b.acceptance, volts, rested, -slow, inner, b.polarisation_resistance)
        slow = b.polarisation_resistance * amps
    assert amps == pytest.approx(float(row["value"]), rel=within)


def test_charge_put_in_over_charge_taken_out():
    measured = [float(row["value"]) for row in rows("in_over_out")]
    assert 1.0 / CHEMISTRIES["lead-acid-agm"].coulombic_efficiency == pytest.approx(np.mean(measured), abs=0.02)


@pytest.mark.parametrize("known", [(0, 3), (1, 4), (0, 1, 2)])
def test_the_law_is_level_at_slow_rates(known):
    """By some of the measured rows the law gives the others within 7 %, ageing over ten days included: from 6.5 to 35 hours the charge does not grow.

    Peukert's law with k = 1.21 from the row at 18 hours gives 15.8 Ah in 6.5 hours, where 19.7 were measured.
    """
    measured = [(float(row["hours"]), float(row["charge_ah"]), float(row["current_a"])) for row in rows("discharge")]
    given = [[hours, charge] for hours, charge, _ in (measured[i] for i in known)]
    hours, charge = given[-1]
    given.append([hours * 0.02, charge * 0.45])  # and a fast one, as a sheet has it
    pack = block("17Ah", capacity_by_hours=given, block_capacity_ah=charge, rated_hours=hours)
    for _, charge, amps in measured:
        assert run_seconds(amps, block_numbers(pack)) * amps / 3600.0 == pytest.approx(charge, rel=0.07)
