"""The same build with other values: re-validated, what must follow follows, and it is said."""

from __future__ import annotations

import pytest

import ridesim
from ridesim.forms import differences, value_at
from ridesim.words import InputProblem


def test_nothing_changed_is_the_same_object(heron):
    assert heron.changed({"drive.motor_teeth": heron.drive.motor_teeth}) is heron


def test_capacity_carries_resistance_and_mass_along(heron):
    variant = heron.changed({"pack.block_capacity_ah": 44.0})
    pack = variant.pack
    assert pack.in_force.block_resistance_ohm == pytest.approx(heron.pack.in_force.block_resistance_ohm / 2.0)
    assert pack.in_force.block_mass_kg == pytest.approx(heron.pack.in_force.block_mass_kg * 2.0)
    # The slow part follows from the block's resistance by the chemistry's share, so it halves too.
    slow, before = pack.in_force.polarisation_resistance_ohm, heron.pack.in_force.polarisation_resistance_ohm
    assert slow == pytest.approx(before / 2.0)
    assert pack.block_size_mm is None
    (remark,) = variant.notes
    assert "11 mΩ to 5.5 mΩ" in remark.text
    assert "6.6 kg to 13.2 kg" in remark.text


def test_data_sheet_rows_go_with_the_capacity(heron):
    rows = ((20.0, 22.0), (5.0, 18.0), (1.0, 13.0))
    sheet = heron.changed({"pack.capacity_by_hours": rows})
    half = sheet.changed({"pack.block_capacity_ah": 11.0})
    assert half.pack.capacity_by_hours == ((20.0, 11.0), (5.0, 9.0), (1.0, 6.5))


def test_cut_off_keeps_its_volts_a_block(heron):
    variant = heron.changed({"pack.blocks_in_series": 4})
    assert variant.cutoff_voltage_v == pytest.approx(42.0)
    assert "31.5 V moved to 42 V" in variant.notes[0].text
    cuts = heron.changed({"controller.cutoff_action": "cut-out", "controller.restart_voltage_v": 36.0})
    assert cuts.changed({"pack.blocks_in_series": 4}).restart_voltage_v == pytest.approx(48.0)
    given = heron.changed({"pack.blocks_in_series": 4, "controller.cutoff_voltage_v": 40.0})
    assert (given.cutoff_voltage_v, given.notes) == (40.0, ())


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
        heron.changed(values)
    assert said in str(complaint.value)


def test_saved_variant_keeps_comments_and_differs_only_where_it_should(heron, tmp_path):
    build = heron.changed({"drive.motor_teeth": 12}, name="Heron with 12")
    ridesim.save_build(build, tmp_path / "twelve.toml")
    there = ridesim.load_build(tmp_path / "twelve.toml")
    assert there.model_dump() == build.model_dump()
    assert "# rolling radius of the driven wheel" in (tmp_path / "twelve.toml").read_text(encoding="utf-8")
    assert [place for place, _, _ in differences(heron, there)] == ["name", "drive.motor_teeth"]
    assert value_at(there, "drive.motor_teeth") == 12


def test_price_and_charging_limit_go_with_the_capacity_where_they_are_stated(heron):
    priced = heron.changed({"pack.block_price": 55.0, "pack.max_charge_current_a": 6.0})
    double = priced.changed({"pack.block_capacity_ah": 44.0})
    assert (double.pack.block_price, double.pack.in_force.max_charge_current_a) == (110.0, 12.0)
    own = priced.changed({"pack.block_capacity_ah": 44.0, "pack.block_price": 90.0})
    assert own.pack.block_price == 90.0, "what the user says follows nothing"


def test_items_are_numbered_as_in_messages(heron):
    lighter = heron.changed({"vehicle.mass[2].mass_lb": 10})
    assert lighter.vehicle.mass[1].mass_kg == pytest.approx(4.5359237)
    assert lighter.vehicle.mass[0] == heron.vehicle.mass[0]
    count = len(heron.vehicle.mass)
    more = heron.changed({f"vehicle.mass[{count + 1}]": {"item": "flag", "mass_kg": 0.5}})
    assert more.vehicle.mass[-1].item == "flag"
    assert more.changed({f"vehicle.mass[{count + 1}]": None}) == heron


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("vehicle.mass.mass_kg", "which of them"),
        ("vehicle.mass[99].mass_kg", "expected 1 to"),
        ("vehicle.wheel_radius_in", "rolling_radius_in"),
        ("drive.motor_teeth[1]", "as one value"),
        ("drive motor_teeth", "keys with points between"),
    ],
)
def test_a_key_that_leads_nowhere_is_named(heron, key, said):
    with pytest.raises(InputProblem) as complaint:
        heron.changed({key: 1.0})
    assert said in str(complaint.value)


def test_a_day_is_changed_alike():
    day = ridesim.load_day("harbour_festival")
    more = day.changed({"activity[3].laps": 9, "ambient_c": 20.0}, name="warm")
    assert (more.activity[2].laps, more.ambient_c, more.name) == (9, 20.0, "warm")
    assert more.activity[2].route is day.activity[2].route
    assert day.changed({"ambient_c": day.ambient_c}) is day
    with pytest.raises(InputProblem, match="ambient_c"):
        day.changed({"ambient_c": 99.0})
