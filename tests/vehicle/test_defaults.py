"""Defaults that follow from other keys, against the model page's section 9 (the project's own rules, sources named there)."""

from __future__ import annotations

import json
import tomllib

import jsonschema
import pytest

from ridesim.data import names, shipped
from ridesim.day import Day
from ridesim.forms import validate
from ridesim.vehicle import CHEMISTRIES, Build, Drive, Pack, load_build
from ridesim.words import InputProblem


def _pack(**keys) -> Pack:
    return validate(Pack, {"chemistry": "lead-acid-agm", "block_capacity_ah": 17.0, **keys}, "pack.toml")


def test_a_12_v_lead_block_left_alone():
    """0.30/Ah ohm (17 Ah: 17.6 milliohm), six cells, 60 % of the resistance slow in 60 s, 30 Wh/kg."""
    pack = _pack()
    assert pack.in_force.block_voltage_v == 12.0
    assert pack.in_force.cells_in_series == 6
    assert pack.in_force.block_resistance_ohm == pytest.approx(0.01765, abs=5e-5)
    assert pack.in_force.polarisation_resistance_ohm == pytest.approx(0.6 * pack.in_force.block_resistance_ohm)
    assert pack.in_force.polarisation_time_s == 60.0
    assert pack.in_force.block_mass_kg == pytest.approx(12.0 * 17.0 / 30.0)
    assert pack.in_force.peukert_exponent == 1.21
    assert pack.full_voltage_v == pytest.approx(14.4)


def test_a_6_v_lead_block():
    """Half the cells, so half the resistance of a 12 V block of the same capacity."""
    pack = _pack(block_voltage_v=6.0)
    assert pack.in_force.cells_in_series == 3
    assert pack.in_force.block_resistance_ohm == pytest.approx(0.5 * 0.30 / 17.0)


def test_the_label_s_resistance_is_taken_times_1_6():
    pack = _pack(label_resistance_ohm=0.010)
    assert pack.in_force.block_resistance_ohm == pytest.approx(0.016)
    assert pack.in_force.polarisation_resistance_ohm == pytest.approx(0.6 * 0.016)


def test_a_lithium_block():
    """0.30/Ah ohm a 12.8 V block; four cells of LFP are 12.8 V, and the number of cells must be said."""
    pack = _pack(chemistry="lithium-iron-phosphate", cells_in_series=4, block_capacity_ah=30.0)
    assert pack.in_force.block_voltage_v == 12.8
    assert pack.in_force.block_resistance_ohm == pytest.approx(0.010)
    assert pack.full_voltage_v == pytest.approx(4 * 3.60)
    twelve = _pack(chemistry="lithium-iron-phosphate", cells_in_series=12, block_capacity_ah=30.0)
    assert twelve.in_force.block_resistance_ohm == pytest.approx(0.030)
    with pytest.raises(InputProblem, match="cells_in_series"):
        _pack(chemistry="lithium-nmc", block_voltage_v=36.0)


FIELDS = (
    "peukert_exponent", "resistance_rise", "polarisation_share", "polarisation_time_s", "capacity_per_k",
    "resistance_per_k", "cutoff_v_per_cell", "absorption_v_per_cell", "coulombic_efficiency", "energy_efficiency",
    "harsh_above_c", "coldest_charge_c",
)  # fmt: skip


@pytest.mark.parametrize(
    ("name", "row"),
    [
        ("lead-acid-agm", (1.21, 1.2, 0.6, 60, 0.008, -0.013, 1.75, 2.40, 0.94, 0.80, 1.0, -15)),
        ("lead-acid-gel", (1.22, 1.2, 0.6, 60, 0.008, -0.013, 1.75, 2.35, 0.94, 0.80, 0.7, -15)),
        ("lead-acid-flooded", (1.28, 1.5, 0.8, 90, 0.010, -0.013, 1.75, 2.40, 0.85, 0.75, 0.5, -15)),
        ("lithium-iron-phosphate", (1.04, 0.5, 0.4, 60, 0.006, -0.03, 2.7, 3.60, 0.99, 0.95, 1.0, 0)),
        ("lithium-nmc", (1.02, 0.5, 0.4, 60, 0.006, -0.03, 3.0, 4.15, 0.99, 0.95, 1.0, 0)),
    ],
)
def test_the_model_page_s_row_of_a_chemistry(name, row):
    assert tuple(getattr(CHEMISTRIES[name], field) for field in FIELDS) == row


@pytest.mark.parametrize(
    ("keys", "efficiency"),
    [({}, 0.95), ({"gearbox_ratio": 3.0}, 0.88), ({"gearbox_ratio": 3.0, "efficiency": 0.8}, 0.8)],
)
def test_a_gearbox_costs(keys, efficiency):
    drive = validate(Drive, {"motor_teeth": 11, "wheel_teeth": 55, **keys}, "drive.toml")
    assert drive.efficiency == efficiency
    assert ("efficiency" in drive.model_fields_set) == ("efficiency" in keys)


@pytest.mark.parametrize(
    ("name", "volts"), [("heron_36v", 31.5), ("heron_48v", 42.0), ("heron_lithium", 12 * 2.7), ("puppet_cart", 21.0)]
)
def test_cut_off_in_force(name, volts):
    """Stated for two of them, by chemistry for the others: 1.75 V a lead cell, 2.7 V an LFP one."""
    build = load_build(name)
    assert build.cutoff_voltage_v == pytest.approx(volts)
    listed = {each.place: each.value for each in build.in_play() if not each.given}
    stated = build.controller.cutoff_voltage_v is not None
    assert ("controller.cutoff_voltage_v" in listed) != stated


def test_defaults_in_play_are_those_the_file_leaves_out(heron_text):
    """Never a key that the file states, always one that it does not, each number with its source."""
    build = load_build("heron_36v")
    stated = tomllib.loads(heron_text)
    listed = {each.place: each.source for each in build.in_play() if not each.given}
    for place, source in listed.items():
        section, _, key = place.partition(".")
        assert key.partition("[")[0] not in stated.get(section, {}) or "[" in key, place
        assert source or place.startswith(("vehicle.mass[", "note")), place
    assert {
        "vehicle.breakaway_factor",
        "pack.coulombic_efficiency",
        "pack.open_circuit_v_per_cell",
        "lighting.peukert_exponent",
    } <= set(listed)


FILES = [(Build, "builds", name) for name in names("builds")] + [(Day, "days", name) for name in names("days")]


@pytest.mark.parametrize(("model", "folder", "name"), FILES)
def test_the_schema_knows_the_shipped_files(model, folder, name):
    schema = model.model_json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    text = (shipped("data") / folder / f"{name}.toml").read_text(encoding="utf-8")
    table = json.loads(json.dumps(tomllib.loads(text), default=str))  # JSON writes a clock time as text
    jsonschema.validate(table, schema)
    table["colour"] = "red"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(table, schema)
