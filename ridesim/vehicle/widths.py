"""How unsure each number of a build usually is, where its file does not say: one row a key.

The first spread is that of a number in the file: measured, or read off a label. The second is that of the default, where
the file leaves the key out. All are 5th to 95th percentile, as factors (of the loss, where ``zero`` is 1) or amounts.
Keys without a row are counts (teeth, blocks, wheels), limits and ratings on a label, wishes, and rows of a data sheet.
"""

from __future__ import annotations

from collections.abc import Mapping

from ridesim.forms import KeyWidth, plus, times

_SCALE = "bathroom scale; common practice, no source"
_GUESS = "common practice, no source"
_LABEL = "label against what is delivered; common practice, no source"

WIDTHS: Mapping[str, KeyWidth] = {
    "vehicle.mass.mass_kg": KeyWidth(times(0.97, 1.03), times(0.97, 1.03), _SCALE),
    "vehicle.rolling_radius_m": KeyWidth(times(0.985, 1.015), times(0.87, 1.13), "five turns on the ground; wheels of 10 to 19 inch"),
    "vehicle.rolling_coefficient": KeyWidth(
        times(0.80, 1.25), times(0.65, 1.50), "motorcycle tyre 0.018, castors 0.02 and more; 0.013 to 0.030, common practice"
    ),
    "vehicle.breakaway_factor": KeyWidth(times(0.6, 1.6, zero=1.0), times(0.4, 2.0, zero=1.0), _GUESS),
    "vehicle.drag_area_m2": KeyWidth(
        times(0.80, 1.25), times(0.70, 1.60), "upright motorcycle to 0.7, Cossalter (from memory); show figures more"
    ),
    "vehicle.wheels_inertia_kgm2": KeyWidth(times(0.75, 1.30), times(0.5, 2.0), _GUESS),
    **{
        f"vehicle.grip.{ground}": KeyWidth(times(0.75, 1.25), times(0.65, 1.35), "tyre, dirt and water; from memory")
        for ground in ("asphalt", "concrete", "wood", "paving", "gravel", "grass", "wet_asphalt", "wet_grass", "wet_paint")
    },
    "rider.mass_kg": KeyWidth(times(0.97, 1.03), times(0.75, 1.35), f"{_SCALE}; adults of 56 to 101 kg"),
    "motor.torque_constant_nm_per_a": KeyWidth(times(0.95, 1.05), times(0.93, 1.07), "volts of the spun motor; label or curve"),
    "motor.series_constant_nm_per_a2": KeyWidth(times(0.85, 1.18), times(0.85, 1.18), _GUESS),
    "motor.saturation_current_a": KeyWidth(times(0.75, 1.35), times(0.75, 1.35), _GUESS),
    "motor.resistance_ohm": KeyWidth(times(0.90, 1.10), times(0.80, 1.25), "held rotor, volts and amps; curve"),
    "motor.brush_drop_v": KeyWidth(times(0.75, 1.30), times(0.6, 2.0), "metal-graphite 0.6 to 1.0 V, carbon about 2 V, from memory"),
    "motor.friction_torque_nm": KeyWidth(times(0.80, 1.25), times(0.4, 2.5), _GUESS),
    "motor.viscous_nm_per_rad_s": KeyWidth(times(0.7, 1.4), times(0.3, 3.0), _GUESS),
    "motor.rotor_inertia_kgm2": KeyWidth(times(0.75, 1.30), times(0.5, 2.0), _GUESS),
    "motor.rated_speed_rpm": KeyWidth(times(0.92, 1.08), times(0.92, 1.08), "tolerance of speed, d.c. motors, IEC 60034-1 (from memory)"),
    "motor.rated_current_a": KeyWidth(times(0.90, 1.10), times(0.90, 1.10), _LABEL),
    "motor.no_load_speed_rpm": KeyWidth(times(0.98, 1.02), times(0.98, 1.02), "tachometer or tone; common practice, no source"),
    "motor.no_load_current_a": KeyWidth(times(0.90, 1.10), times(0.90, 1.10), "clamp meter; common practice, no source"),
    "motor.no_load_voltage_v": KeyWidth(times(0.98, 1.02), times(0.98, 1.02), "meter; common practice, no source"),
    "motor.resistance_through_brushes_ohm": KeyWidth(
        times(0.85, 1.10), times(0.85, 1.10), "meter's leads, and brushes that add 0 to 30 %, from memory"
    ),
    "motor.winding_heat_j_per_k": KeyWidth(times(0.85, 1.18), times(0.6, 1.6), _GUESS),
    "motor.case_heat_j_per_k": KeyWidth(times(0.85, 1.18), times(0.7, 1.4), _GUESS),
    "motor.winding_to_case_k_per_w": KeyWidth(times(0.85, 1.18), times(0.65, 1.5), f"warm-up; nameplate: {_GUESS}"),
    "motor.case_to_air_k_per_w": KeyWidth(times(0.85, 1.18), times(0.65, 1.5), f"warm-up; nameplate: {_GUESS}"),
    "motor.mass_kg": KeyWidth(times(0.97, 1.03), times(0.97, 1.03), _SCALE),
    "drive.efficiency": KeyWidth(times(0.75, 1.30, zero=1.0), times(0.55, 1.6, zero=1.0), "chain and gears, clean to worn; from memory"),
    "drive.drag_nm": KeyWidth(times(0.7, 1.4), times(0.5, 2.0), _GUESS),
    "drive.stage.efficiency": KeyWidth(
        times(0.75, 1.30, zero=1.0), times(0.55, 1.45, zero=1.0), "worm 0.5 to 0.8; others as the chain; from memory"
    ),
    "drive.stage.drag_nm": KeyWidth(times(0.7, 1.4), times(0.5, 2.0), _GUESS),
    "controller.max_battery_current_a": KeyWidth(times(0.90, 1.10), times(0.85, 1.15), _LABEL),
    "controller.max_motor_current_a": KeyWidth(times(0.90, 1.10), times(0.70, 1.25), f"{_LABEL}; from the battery's: 1.4 to 2.5 times"),
    "controller.cutoff_voltage_v": KeyWidth(times(0.985, 1.015), times(0.96, 1.04), _LABEL),
    "controller.on_resistance_ohm": KeyWidth(times(0.75, 1.30), times(0.5, 2.0), _GUESS),
    "controller.freewheel_drop_v": KeyWidth(times(0.85, 1.20), times(0.85, 1.25), "silicon diode 0.7 to 1.0 V, from memory"),
    "controller.standby_current_a": KeyWidth(times(0.8, 1.25), times(0.4, 2.5), _GUESS),
    "controller.mass_kg": KeyWidth(times(0.97, 1.03), times(0.6, 1.6), _SCALE),
    "pack.block_capacity_ah": KeyWidth(times(0.95, 1.04), times(0.95, 1.04), _LABEL),
    "pack.peukert_exponent": KeyWidth(
        times(0.85, 1.18, zero=1.0), times(0.60, 1.40, zero=1.0), "sealed blocks 1.13 to 1.30 by their makers' sheets; from memory"
    ),
    "pack.recovery_share": KeyWidth(times(0.8, 1.2), plus(-0.25, 0.25), "calculated rows, one source: ridesim/physics/MODEL.md, 6.7"),
    "pack.activation_v_per_cell": KeyWidth(times(0.75, 1.30), times(0.5, 1.6), "two measured blocks: data/published/measured_blocks.csv"),
    "pack.block_resistance_ohm": KeyWidth(times(0.85, 1.18), times(0.6, 1.7), "0.18 to 0.5 ohm Ah a 12 V block, from memory"),
    "pack.label_resistance_ohm": KeyWidth(times(0.80, 1.40), times(0.80, 1.40), "1.5 to 2.5 times the label under load, from memory"),
    "pack.polarisation_resistance_ohm": KeyWidth(times(0.7, 1.4), times(0.5, 2.0), _GUESS),
    "pack.polarisation_time_s": KeyWidth(times(0.7, 1.4), times(0.5, 2.0), _GUESS),
    "pack.resistance_rise": KeyWidth(times(0.7, 1.4), times(0.5, 1.8), _GUESS),
    "pack.capacity_per_k": KeyWidth(times(0.8, 1.25), times(0.7, 1.3), "0.006 to 0.010, practice of IEC 60896-11, from memory"),
    "pack.resistance_per_k": KeyWidth(times(0.7, 1.4), times(0.5, 1.6), _GUESS),
    "pack.absorption_v_per_cell": KeyWidth(times(0.99, 1.01), times(0.98, 1.02), "chargers' tolerance, 1 %; common practice, no source"),
    "pack.absorption_time_h": KeyWidth(times(0.75, 1.30), times(0.6, 1.6), "two measured blocks: data/published/measured_blocks.csv"),
    "pack.coulombic_efficiency": KeyWidth(
        times(0.6, 1.5, zero=1.0), times(0.5, 2.0, zero=1.0), "two measured blocks: data/published/measured_blocks.csv"
    ),
    "pack.energy_efficiency": KeyWidth(times(0.7, 1.4, zero=1.0), times(0.6, 1.5, zero=1.0), _GUESS),
    "pack.block_mass_kg": KeyWidth(times(0.97, 1.03), times(0.80, 1.20), f"{_SCALE}; 25 to 38 Wh/kg lead-acid"),
    "pack.state_of_health": KeyWidth(times(0.93, 1.04), times(0.80, 1.02), "discharge test; blocks called new, some time on the shelf"),
    "pack.self_discharge_per_month": KeyWidth(times(0.6, 1.6), times(0.4, 2.5), _GUESS),
    "pack.stood_c": KeyWidth(plus(-5.0, 5.0), plus(-8.0, 8.0), _GUESS),
    "pack.calendar_years": KeyWidth(times(0.7, 1.3), times(0.6, 1.4), "± 30 % in practice; common practice, no source"),
    "charger.current_a": KeyWidth(times(0.93, 1.05), times(0.93, 1.05), _LABEL),
    "charger.efficiency": KeyWidth(times(0.8, 1.25, zero=1.0), times(0.55, 1.25, zero=1.0), "0.82 to 0.92, from memory"),
    "lighting.battery_capacity_ah": KeyWidth(times(0.95, 1.04), times(0.65, 1.7), f"{_LABEL}; small blocks of 4.5 to 12 Ah"),
    "lighting.battery_mass_kg": KeyWidth(times(0.97, 1.03), times(0.65, 1.6), _SCALE),
    "lighting.peukert_exponent": KeyWidth(times(0.85, 1.18, zero=1.0), times(0.60, 1.40, zero=1.0), "as the pack's"),
    "lighting.battery_state_of_health": KeyWidth(times(0.93, 1.04), times(0.80, 1.02), "as the pack's"),
    "lighting.converter_efficiency": KeyWidth(times(0.7, 1.4, zero=1.0), times(0.5, 1.8, zero=1.0), "0.82 to 0.95, from memory"),
    "lighting.load.power_w": KeyWidth(times(0.90, 1.10), times(0.90, 1.10), _LABEL),
}  # fmt: skip

BY_MASS = times(0.5, 2.0)
"""Of thermal resistances that are guessed from a motor's mass: about the width of the ranges from memory they rest on."""
BY_LABEL = times(0.5, 2.0)
"""Of a motor's resistance where four rounded numbers of its label give it, as a small difference: common practice, no source."""
FOLLOWS = times(1.0, 1.0)
"""Of a value that follows from other keys of the file: it moves with theirs."""
