"""Rested voltage against state of charge, as the default tables and the interpolation give it."""

from __future__ import annotations

import numpy as np
import pytest

from ridesim.physics.pack import open_circuit
from ridesim.vehicle.chemistry import CHEMISTRIES

CHARGES = (1.0, 0.99, 0.95, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.05, 0.0)
LFP = (3.600, 3.415, 3.316, 3.314, 3.310, 3.274, 3.269, 3.266, 3.253, 3.206, 3.169, 2.978, 2.785, 2.000)
"""Prada et al., J. Electrochem. Soc. 160 (2013) A616: evaluated at 25 °C by another hand from its coded parameters (READ, inputs)."""
NMC = (4.200, 4.182, 4.124, 4.097, 4.042, 3.948, 3.841, 3.751, 3.667, 3.581, 3.485, 3.296, 3.109, 2.500)
"""Chen et al., J. Electrochem. Soc. 167 (2020) 080534 (NMC811): the same."""


def _cell_volts(chemistry: str, charge: float) -> float:
    z, volts = np.array(CHEMISTRIES[chemistry].open_circuit_v_per_cell).T.copy()
    return open_circuit(charge, z, volts)


QUARTERS = (1.0, 0.75, 0.5, 0.25, 0.0)
AGM_BLOCK = (12.85, 12.55, 12.25, 11.95, 11.65)
"""Usual rested volts of a 12 V sealed block (memory), printed to 0.05 V; the table's cells carry 3 decimals."""
FLOODED_BLOCK = (12.6, 12.4, 12.2, 12.0)
"""A flooded-battery mailing list's table and voltagebasics.com (READ)."""
PRINTED = [
    ("lithium-iron-phosphate", 1, CHARGES, LFP, 0.005),
    ("lithium-nmc", 1, CHARGES, NMC, 0.005),
    ("lead-acid-agm", 6, QUARTERS, AGM_BLOCK, 0.005),
    ("lead-acid-flooded", 6, QUARTERS[:4], FLOODED_BLOCK, 0.05),
]


@pytest.mark.parametrize(("chemistry", "cells", "charges", "printed_v", "digit"), PRINTED, ids=lambda v: str(v)[:20])
def test_printed_rested_voltages(chemistry, cells, charges, printed_v, digit):
    assert [cells * _cell_volts(chemistry, z) for z in charges] == pytest.approx(printed_v, abs=digit)


def test_flooded_block_rested_empty():
    """11.6 V in the list's table, "12.0 or less" on the other page (READ): the default lies between."""
    assert 11.6 <= 6.0 * _cell_volts("lead-acid-flooded", 0.0) <= 12.0


def test_lfp_is_flat():
    """100 mV between 20 and 70 % (same source): the voltage cannot tell the charge."""
    spread = _cell_volts("lithium-iron-phosphate", 0.7) - _cell_volts("lithium-iron-phosphate", 0.2)
    assert spread == pytest.approx(0.100, abs=0.006)


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
def test_rested_voltage_never_falls_with_charge(chemistry):
    """And it is linear between the table's points, constant beyond its ends."""
    charges = np.linspace(0.0, 1.0, 1001)
    volts = np.array([_cell_volts(chemistry, z) for z in charges])
    assert (np.diff(volts) > 0.0).all()
    z, table = np.array(CHEMISTRIES[chemistry].open_circuit_v_per_cell).T
    assert volts == pytest.approx(np.interp(charges, z, table), abs=1e-12)
    assert _cell_volts(chemistry, -0.1) == table[0]
    assert _cell_volts(chemistry, 1.1) == table[-1]
