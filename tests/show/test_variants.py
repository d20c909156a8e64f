"""The same build with other values: re-validated, what must follow follows, and it is said."""

from __future__ import annotations

import pytest

import ridesim
from ridesim.choose.variants import differences, value_at, with_values
from ridesim.forms import validate
from ridesim.vehicle.files import stated_table
from ridesim.words import InputProblem


@pytest.fixture
def heron():
    return ridesim.load_build("heron_36v")


@pytest.mark.parametrize("name", ["heron_36v", "heron_48v", "heron_lithium", "puppet_cart"])
def test_a_build_survives_the_way_through_its_table(name):
    build = ridesim.load_build(name)
    again = validate(ridesim.Build, stated_table(build), name)
    assert again.model_dump() == build.model_dump()


def test_nothing_changed_is_the_same_object(heron):
    assert with_values(heron, {"drive.motor_teeth": heron.drive.motor_teeth}).build is heron


def test_capacity_carries_resistance_and_mass_along(heron):
    variant = with_values(heron, {"pack.block_capacity_ah": 44.0})
    pack = variant.build.pack
    assert pack.block_resistance_ohm == pytest.approx(heron.pack.block_resistance_ohm / 2.0)
    assert pack.block_mass_kg == pytest.approx(heron.pack.block_mass_kg * 2.0)
    # The slow part follows from the block's resistance by the chemistry's share, so it halves too.
    assert pack.polarisation_resistance_ohm == pytest.approx(heron.pack.polarisation_resistance_ohm / 2.0)
    assert pack.block_size_mm is None
    (remark,) = variant.remarks
    assert "11 mΩ to 5.5 mΩ" in remark.text
    assert "6.6 kg to 13.2 kg" in remark.text


def test_data_sheet_rows_go_with_the_capacity(heron):
    rows = ((20.0, 22.0), (5.0, 18.0), (1.0, 13.0))
    sheet = with_values(heron, {"pack.capacity_by_hours": rows}).build
    half = with_values(sheet, {"pack.block_capacity_ah": 11.0}).build
    assert half.pack.capacity_by_hours == ((20.0, 11.0), (5.0, 9.0), (1.0, 6.5))


def test_cut_off_keeps_its_volts_a_block(heron):
    variant = with_values(heron, {"pack.blocks_in_series": 4})
    assert variant.build.cutoff_voltage_v == pytest.approx(42.0)
    assert "31.5 V moved to 42 V" in variant.remarks[0].text
    cuts = with_values(heron, {"controller.cutoff_action": "cut-out", "controller.restart_voltage_v": 36.0}).build
    assert with_values(cuts, {"pack.blocks_in_series": 4}).build.restart_voltage_v == pytest.approx(48.0)
    given = with_values(heron, {"pack.blocks_in_series": 4, "controller.cutoff_voltage_v": 40.0})
    assert (given.build.cutoff_voltage_v, given.remarks) == (40.0, ())


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"drive.wheel_teeth": 10**9}, "of at most 400"),
        ({"pack.block_capacity_ah": -3.0}, "above 0"),
        ({"pack.block_capacity_ah": float("nan")}, "found nan"),
        ({"pack.blocks_in_series": "three"}, "a whole number"),
        ({"drive.moter_teeth": 3}, "Nearest known key: motor_teeth"),
        ({"pack.blocks_in_series": 0}, "of at least 1"),
    ],
)
def test_bad_values_give_the_message_of_a_file(heron, values, said):
    with pytest.raises(InputProblem, match="found") as complaint:
        with_values(heron, values)
    assert said in str(complaint.value)


def test_saved_variant_keeps_comments_and_differs_only_where_it_should(heron, tmp_path):
    build = with_values(heron, {"drive.motor_teeth": 12}, name="Heron with 12").build
    ridesim.save_build(build, tmp_path / "twelve.toml")
    there = ridesim.load_build(tmp_path / "twelve.toml")
    assert there.model_dump() == build.model_dump()
    assert "# rolling radius of the driven wheel" in (tmp_path / "twelve.toml").read_text(encoding="utf-8")
    assert [place for place, _, _ in differences(heron, there)] == ["name", "drive.motor_teeth"]
    assert value_at(there, "drive.motor_teeth") == 12
