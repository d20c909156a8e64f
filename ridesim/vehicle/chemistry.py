"""What a pack's chemistry settles when the file does not, what it stands and how it wears: one row a chemistry.

Sources of the columns
----------------------
open_circuit_v_per_cell: lead-acid, a straight line through common rested voltages, from memory; LFP: Prada et al.,
    J. Electrochem. Soc. 160 (2013) A616, and NMC: Chen et al., J. Electrochem. Soc. 167 (2020) 080534, both evaluated
    at 25 °C from their open parameter sets.
peukert_exponent: lead-acid AGM, a 12 V 40 Ah block's data sheet from 20 h to 1 h gives 1.21; gel, flooded from memory;
    LFP and NMC within 1.02 to 1.05, bracketed by porous-electrode runs of the two sets above.
recovery_share: twelve calculated discharges with pauses and a show day's current, one source (ridesim/physics/MODEL.md, 6.7);
    lithium the same, for want of any.
activation_v_per_cell, coulombic_efficiency of AGM and gel, absorption_time_h of lead-acid: the logs of two measured sealed blocks
    (data/published/measured_blocks.csv).
end_voltage_v_per_cell: lead-acid, a 12 V 40 Ah block's data sheet (vinachem.com.vn); lithium from memory.
resistance_rise, polarisation_*, resistance_per_k, the other efficiencies and tails, block resistances: from memory.
capacity_per_k: IEC 60896-11 correction practice (0.006 to 0.010), from memory; LFP 0.85 at 0 °C where one maker's page says about 0.8.
cutoff_v_per_cell, absorption_v_per_cell: makers' charging instructions and common practice.
tail_rested_at: full for lead-acid; lithium 0.9, before the last climb of the rested-voltage tables above.
harsh_above_c, coldest_charge_c: common practice; lithium never below 0 °C (makers' sheets).
self_discharge_per_month: AGM, gel, starter blocks at 20 °C, a marine battery book (section 2.5.10); lithium, the Modelica
    Standard Library's guide to battery parameters (about 1 % a month). All halve every 10 K colder (from the same rows).
months_unattended: sealed lead-acid 6 to 8 months (same book); lithium common practice, no source.
cycle_life: lead-acid sealed, a 12 V 40 Ah block's data sheet; flooded, "cheap types" of a maker's page on ageing; lithium
    at full depth the low end of 2000 to 5000 (LFP) and 500 to 1500 (NMC), and the same charge through the cells at
    shallower depth, from memory. ± 30 % in practice.
calendar_years: sealed lead-acid at 25 °C, the marine book's 8, 6, 4 years at 20, 25, 30 °C; the others from memory.
charge_share: AGM, a maker's charging instructions (0.3 C); gel, another maker's 0.1 to 0.2 C; flooded and lithium common practice.
compensation_v_per_cell_per_k: makers' charging characteristics, cyclic use (-5 mV a cell and kelvin); none for lithium.
hottest_charge_c: lithium general window (45 to 60 °C); lead-acid from memory.
highest_charge_v_per_cell: LFP, a maker's page on cut-offs (3.6 to 3.65 V); NMC, Chen et al., as above (4.20 V);
    lead-acid, the top of a 12 V block's data sheet in cyclic use (14.7 to 15.0 V at 25 °C), which moves with the compensation above.
gas_a_per_100ah: EN 50272-3 table 1 as quoted by an airflow calculation page, charger with limited voltage (2.4 V a cell).
freezes_empty_c: from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

Rows = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chemistry:
    """One chemistry; the values that stand here are those of sealed lead-acid with glass mats (AGM).

    Attributes
    ----------
    cell_v : float
        Nominal volts of a cell. [V]
    open_circuit_v_per_cell : tuple of (float, float)
        Rows of state of charge and rested volts a cell.
    polarisation_share : float
        Slow part of a block's resistance over the fast part.
    tail_rested_at : float
        State of charge whose rested voltage the charging tail's overvoltage is reckoned from.
    harsh_above_c : float
        Current over capacity beyond which a minute of it wears the pack. [1/h]
    coldest_charge_c, hottest_charge_c : float
        Coldest and warmest air to charge in. [°C]
    ohm_ah : float
        Block resistance × capacity of a block of ``reference_v``. [ohm Ah]
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
    highest_charge_v_per_cell : float
        Above this at 25 °C a charger is not made for the chemistry. [V]
    gas_a_per_100ah : float
        Gassing current while charging, I_gas; 0 for cells that give off no hydrogen.
    freezes_empty_c : float or None
        About where an empty block's acid freezes. [°C]
    """

    cell_v: float = 2.0
    open_circuit_v_per_cell: Rows = ((0.0, 1.942), (0.25, 1.992), (0.5, 2.042), (0.75, 2.092), (1.0, 2.142))
    peukert_exponent: float = 1.21
    recovery_share: float = 0.45
    activation_v_per_cell: float = 0.0055
    end_voltage_v_per_cell: Rows = ((20.0, 1.80), (10.0, 1.75), (5.0, 1.70), (1.0, 1.60))
    resistance_rise: float = 1.2
    polarisation_share: float = 0.6
    polarisation_time_s: float = 60.0
    capacity_per_k: float = 0.008
    resistance_per_k: float = -0.013
    cutoff_v_per_cell: float = 1.75
    absorption_v_per_cell: float = 2.40
    coulombic_efficiency: float = 0.94
    energy_efficiency: float = 0.80
    absorption_time_h: float = 2.3
    tail_rested_at: float = 1.0
    harsh_above_c: float = 1.0
    coldest_charge_c: float = -15.0
    hottest_charge_c: float = 40.0
    ohm_ah: float = 0.30
    reference_v: float = 12.0
    wh_per_kg: float = 30.0
    self_discharge_per_month: float = 0.03
    months_unattended: float = 6.0
    cycle_life: Rows = ((0.3, 1500.0), (0.5, 600.0), (1.0, 200.0))
    calendar_years: float = 6.0
    charge_share: float = 0.3
    compensation_v_per_cell_per_k: float = -0.005
    highest_charge_v_per_cell: float = 2.50
    gas_a_per_100ah: float = 1.0
    freezes_empty_c: float | None = -8.0

    @property
    def is_lithium(self) -> bool:
        """Whether the cells are lithium-ion of any kind."""
        return self.cell_v > 3.0


_AGM = Chemistry()

_GEL = replace(
    _AGM,
    peukert_exponent=1.22,
    absorption_v_per_cell=2.35,
    harsh_above_c=0.7,
    self_discharge_per_month=0.02,
    charge_share=0.2,
)

_FLOODED = replace(
    _AGM,
    open_circuit_v_per_cell=((0.0, 1.95), (0.25, 2.00), (0.5, 2.033), (0.75, 2.067), (1.0, 2.10)),
    peukert_exponent=1.28,
    resistance_rise=1.5,
    polarisation_share=0.8,
    polarisation_time_s=90.0,
    capacity_per_k=0.010,
    coulombic_efficiency=0.85,
    energy_efficiency=0.75,
    harsh_above_c=0.5,
    self_discharge_per_month=0.06,
    months_unattended=3.0,
    cycle_life=((0.25, 1000.0), (0.8, 200.0)),
    calendar_years=4.0,
    charge_share=0.2,
    gas_a_per_100ah=2.0,
)

_LFP = Chemistry(
    cell_v=3.2,
    open_circuit_v_per_cell=(
        (0.0, 2.000), (0.05, 2.785), (0.10, 2.978), (0.20, 3.169), (0.30, 3.206), (0.40, 3.253), (0.50, 3.266),
        (0.60, 3.269), (0.70, 3.274), (0.80, 3.310), (0.90, 3.314), (0.95, 3.316), (0.99, 3.415), (1.0, 3.600),
    ),
    peukert_exponent=1.04,
    activation_v_per_cell=0.0,
    end_voltage_v_per_cell=((20.0, 2.5),),
    resistance_rise=0.5,
    polarisation_share=0.4,
    polarisation_time_s=60.0,
    capacity_per_k=0.006,
    resistance_per_k=-0.03,
    cutoff_v_per_cell=2.7,
    absorption_v_per_cell=3.60,
    coulombic_efficiency=0.99,
    energy_efficiency=0.95,
    absorption_time_h=0.3,
    tail_rested_at=0.9,
    harsh_above_c=1.0,
    coldest_charge_c=0.0,
    hottest_charge_c=45.0,
    ohm_ah=0.30,
    reference_v=12.8,
    wh_per_kg=100.0,
    self_discharge_per_month=0.01,
    months_unattended=12.0,
    cycle_life=((0.5, 4000.0), (1.0, 2000.0)),
    calendar_years=10.0,
    charge_share=0.5,
    compensation_v_per_cell_per_k=0.0,
    highest_charge_v_per_cell=3.65,
    gas_a_per_100ah=0.0,
    freezes_empty_c=None,
)  # fmt: skip

_NMC = replace(
    _LFP,
    cell_v=3.6,
    open_circuit_v_per_cell=(
        (0.0, 2.500), (0.05, 3.109), (0.10, 3.296), (0.20, 3.485), (0.30, 3.581), (0.40, 3.667), (0.50, 3.751),
        (0.60, 3.841), (0.70, 3.948), (0.80, 4.042), (0.90, 4.097), (0.95, 4.124), (0.99, 4.182), (1.0, 4.200),
    ),
    peukert_exponent=1.02,
    end_voltage_v_per_cell=((20.0, 3.0),),
    cutoff_v_per_cell=3.0,
    absorption_v_per_cell=4.15,
    wh_per_kg=150.0,
    cycle_life=((0.5, 1000.0), (1.0, 500.0)),
    calendar_years=8.0,
    highest_charge_v_per_cell=4.20,
)  # fmt: skip

CHEMISTRIES: dict[str, Chemistry] = {
    "lead-acid-agm": _AGM,
    "lead-acid-gel": _GEL,
    "lead-acid-flooded": _FLOODED,
    "lithium-iron-phosphate": _LFP,
    "lithium-nmc": _NMC,
}
