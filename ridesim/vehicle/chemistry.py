"""What a pack's chemistry settles when the file does not: one row a chemistry, one source a column.

Sources of the columns
----------------------
open_circuit: lead-acid, a straight line through common rested voltages, from memory; LFP: Prada et al.,
    J. Electrochem. Soc. 160 (2013) A616, and NMC: Chen et al., J. Electrochem. Soc. 167 (2020) 080534, both evaluated
    at 25 °C from their open parameter sets.
peukert_exponent: lead-acid AGM, a 12 V 40 Ah block's data sheet from 20 h to 1 h gives 1.21; gel, flooded from memory;
    LFP and NMC within 1.02 to 1.05, bracketed by porous-electrode runs of the two sets above.
resistance_rise, polarisation_*, resistance_per_k, efficiencies, absorption_time_h, block resistances: from memory.
capacity_per_k: IEC 60896-11 correction practice (0.006 to 0.010), from memory; LFP 0.85 at 0 °C where one maker's page says about 0.8.
cutoff_v_per_cell, absorption_v_per_cell: makers' charging instructions and common practice.
tail_rested_at: full for lead-acid; lithium 0.9, before the last climb of the rested-voltage tables above.
harsh_above_c, coldest_charge_c: common practice; lithium never below 0 °C (makers' sheets).
"""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True, kw_only=True)
class Chemistry:
    """Default values of one chemistry."""

    cell_v: float
    open_circuit_v_per_cell: tuple[tuple[float, float], ...]
    peukert_exponent: float
    resistance_rise: float
    polarisation_share: float
    polarisation_time_s: float
    capacity_per_k: float
    resistance_per_k: float
    cutoff_v_per_cell: float
    absorption_v_per_cell: float
    coulombic_efficiency: float
    energy_efficiency: float
    absorption_time_h: float
    tail_rested_at: float
    """State of charge whose rested voltage the charging tail's overvoltage is reckoned from."""
    harsh_above_c: float
    coldest_charge_c: float
    ohm_ah: float
    """Block resistance × capacity of a block of ``reference_v``."""
    reference_v: float
    wh_per_kg: float

    @property
    def is_lithium(self) -> bool:
        """Whether the cells are lithium-ion of any kind."""
        return self.cell_v > 3.0


_LEAD_LINE = ((0.0, 1.942), (0.25, 1.992), (0.5, 2.042), (0.75, 2.092), (1.0, 2.142))

_AGM = Chemistry(
    cell_v=2.0,
    open_circuit_v_per_cell=_LEAD_LINE,
    peukert_exponent=1.21,
    resistance_rise=1.2,
    polarisation_share=0.6,
    polarisation_time_s=60.0,
    capacity_per_k=0.008,
    resistance_per_k=-0.013,
    cutoff_v_per_cell=1.75,
    absorption_v_per_cell=2.40,
    coulombic_efficiency=0.90,
    energy_efficiency=0.80,
    absorption_time_h=2.0,
    tail_rested_at=1.0,
    harsh_above_c=1.0,
    coldest_charge_c=-15.0,
    ohm_ah=0.18,
    reference_v=12.0,
    wh_per_kg=30.0,
)

_GEL = replace(_AGM, peukert_exponent=1.22, absorption_v_per_cell=2.35, harsh_above_c=0.7)

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
)

_LFP = Chemistry(
    cell_v=3.2,
    open_circuit_v_per_cell=(
        (0.0, 2.000), (0.05, 2.785), (0.10, 2.978), (0.20, 3.169), (0.30, 3.206), (0.40, 3.253), (0.50, 3.266),
        (0.60, 3.269), (0.70, 3.274), (0.80, 3.310), (0.90, 3.314), (0.95, 3.316), (0.99, 3.415), (1.0, 3.600),
    ),
    peukert_exponent=1.04,
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
    ohm_ah=0.30,
    reference_v=12.8,
    wh_per_kg=100.0,
)  # fmt: skip

_NMC = replace(
    _LFP,
    cell_v=3.6,
    open_circuit_v_per_cell=(
        (0.0, 2.500), (0.05, 3.109), (0.10, 3.296), (0.20, 3.485), (0.30, 3.581), (0.40, 3.667), (0.50, 3.751),
        (0.60, 3.841), (0.70, 3.948), (0.80, 4.042), (0.90, 4.097), (0.95, 4.124), (0.99, 4.182), (1.0, 4.200),
    ),
    peukert_exponent=1.02,
    cutoff_v_per_cell=3.0,
    absorption_v_per_cell=4.15,
    wh_per_kg=150.0,
)  # fmt: skip

CHEMISTRIES: dict[str, Chemistry] = {
    "lead-acid-agm": _AGM,
    "lead-acid-gel": _GEL,
    "lead-acid-flooded": _FLOODED,
    "lithium-iron-phosphate": _LFP,
    "lithium-nmc": _NMC,
}
