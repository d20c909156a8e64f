"""What a chemistry stands and how it wears: charging, standing in the shed, cycles, gas. One row a chemistry.

Sources of the columns
----------------------
self_discharge_per_month: AGM, gel, starter blocks at 20 °C, a marine battery book (section 2.5.10); lithium, the Modelica
    Standard Library's guide to battery parameters (about 1 % a month). All halve every 10 K colder (from the same rows).
months_unattended: sealed lead-acid 6 to 8 months (same book); lithium common practice, no source.
cycle_life: lead-acid sealed, a 12 V 40 Ah block's data sheet; flooded, "cheap types" of a maker's page on ageing; lithium
    at full depth the low end of 2000 to 5000 (LFP) and 500 to 1500 (NMC), and the same charge through the cells at
    shallower depth, from memory. ± 30 % in practice.
calendar_years: sealed lead-acid at 25 °C, the marine book's 8, 6, 4 years at 20, 25, 30 °C; the others from memory.
charge_share: AGM, a maker's charging instructions (0.3 C); gel, another maker's 0.1 to 0.2 C; flooded and lithium common practice.
compensation: makers' charging characteristics, cyclic use (-5 mV a cell and kelvin); none for lithium.
hottest_charge_c: lithium general window (45 to 60 °C); lead-acid from memory.
highest_charge_v_per_cell: LFP, a maker's page on cut-offs (3.6 to 3.65 V); NMC, Chen et al., J. Electrochem. Soc. 167 (2020) 080534 (4.20 V);
    lead-acid, the top of a 12 V block's data sheet in cyclic use (14.7 to 15.0 V at 25 °C), which moves with the compensation above.
gas_a_per_100ah: EN 50272-3 table 1 as quoted by an airflow calculation page, charger with limited voltage (2.4 V a cell).
"""

from __future__ import annotations

from dataclasses import dataclass

CYCLE_SPREAD = 0.3
"""Cycle lives differ by about this share in practice (from memory)."""
AGE_SPREAD = 0.3
"""Calendar lives do so too: the printed years are for float use, and their rows are hard to read (common practice, no source)."""
LONGEST_AGE = 8.0 / 6.0
"""Calendar life at 20 °C over that at 25 °C: the coldest row of the marine book's table, which nothing is carried beyond."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Care:
    """Charging, storing and ageing of one chemistry.

    Attributes
    ----------
    self_discharge_per_month : float
        Share of the charge lost in a month at 20 °C.
    months_unattended : float
        How long it may stand without a charge.
    cycle_life : tuple of (float, float)
        Rows of depth of discharge (share) and cycles to the end of life.
    calendar_years : float
        Life at 25 °C without cycling.
    charge_share : float
        Largest charging current over the capacity. [1/h]
    compensation_v_per_cell_per_k : float
        What the charger's voltage should change by, a cell and kelvin above 25 °C.
    hottest_charge_c : float
        Warmest air to charge in. [°C]
    highest_charge_v_per_cell : float
        Above this at 25 °C a charger is not made for the chemistry. [V]
    gas_a_per_100ah : float
        Gassing current while charging, I_gas; 0 for cells that give off no hydrogen.
    freezes_empty_c : float or None
        About where an empty block's acid freezes (from memory). [°C]
    """

    self_discharge_per_month: float
    months_unattended: float
    cycle_life: tuple[tuple[float, float], ...]
    calendar_years: float
    charge_share: float
    compensation_v_per_cell_per_k: float
    hottest_charge_c: float
    highest_charge_v_per_cell: float
    gas_a_per_100ah: float
    freezes_empty_c: float | None


_SEALED_CYCLES = ((0.3, 1500.0), (0.5, 600.0), (1.0, 200.0))

CARE: dict[str, Care] = {
    "lead-acid-agm": Care(
        self_discharge_per_month=0.03, months_unattended=6.0, cycle_life=_SEALED_CYCLES, calendar_years=6.0, charge_share=0.3,
        compensation_v_per_cell_per_k=-0.005, hottest_charge_c=40.0,
        highest_charge_v_per_cell=2.50, gas_a_per_100ah=1.0, freezes_empty_c=-8.0,
    ),
    "lead-acid-gel": Care(
        self_discharge_per_month=0.02, months_unattended=6.0, cycle_life=_SEALED_CYCLES, calendar_years=6.0, charge_share=0.2,
        compensation_v_per_cell_per_k=-0.005, hottest_charge_c=40.0,
        highest_charge_v_per_cell=2.50, gas_a_per_100ah=1.0, freezes_empty_c=-8.0,
    ),
    "lead-acid-flooded": Care(
        self_discharge_per_month=0.06, months_unattended=3.0, cycle_life=((0.25, 1000.0), (0.8, 200.0)), calendar_years=4.0,
        charge_share=0.2, compensation_v_per_cell_per_k=-0.005, hottest_charge_c=40.0,
        highest_charge_v_per_cell=2.50, gas_a_per_100ah=2.0, freezes_empty_c=-8.0,
    ),
    "lithium-iron-phosphate": Care(
        self_discharge_per_month=0.01, months_unattended=12.0, cycle_life=((0.5, 4000.0), (1.0, 2000.0)), calendar_years=10.0,
        charge_share=0.5, compensation_v_per_cell_per_k=0.0, hottest_charge_c=45.0,
        highest_charge_v_per_cell=3.65, gas_a_per_100ah=0.0, freezes_empty_c=None,
    ),
    "lithium-nmc": Care(
        self_discharge_per_month=0.01, months_unattended=12.0, cycle_life=((0.5, 1000.0), (1.0, 500.0)), calendar_years=8.0,
        charge_share=0.5, compensation_v_per_cell_per_k=0.0, hottest_charge_c=45.0,
        highest_charge_v_per_cell=4.20, gas_a_per_100ah=0.0, freezes_empty_c=None,
    ),
}  # fmt: skip


def worn_resistance_factor(health: float) -> float:
    """Growth of resistance with the capacity lost: 1 + 2.5 (1 - health), none above full health.

    Parameters
    ----------
    health : float
        Present over rated capacity, above 0. [-]

    Returns
    -------
    float
        Resistance over that of a new block: 1.5 at 80 %, the end of life. [-]

    References
    ----------
    1.3 to 2 times at the end of life, alarm at 30 to 50 % more: IEEE 1188 practice (from memory). Straight line through new and
    the middle of that; below 80 % it is carried on, common practice, no source.
    """
    return 1.0 + 2.5 * max(0.0, 1.0 - health)
