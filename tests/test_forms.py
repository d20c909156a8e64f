"""Reading what users write: units, hints, one-line messages; and writing that never leaves half a file."""

from __future__ import annotations

import os
import stat
from math import pi

import pytest

from ridesim.day import Day, load_trace
from ridesim.forms import Part, part_of, read_table, read_text, validate, write_beside_then_replace
from ridesim.vehicle import Build, load_build
from ridesim.vehicle.chassis import Item, Vehicle
from ridesim.words import InputProblem, convert, nearest, split_unit


@pytest.mark.parametrize(
    ("value", "unit", "into", "expected"),
    [
        (1.0, "in", "m", 0.0254),  # exact by definition, as the next three
        (1.0, "ft", "m", 0.3048),
        (1.0, "lb", "kg", 0.45359237),
        (1.0, "mph", "kmh", 1.609344),
        (212.0, "f", "c", 100.0),
        (-40.0, "f", "c", -40.0),
        (36.0, "kmh", "mps", 10.0),
        (1.5, "h", "min", 90.0),
        (1500.0, "mah", "ah", 1.5),
        (11.0, "mohm", "ohm", 0.011),
        (1.0, "lbft", "nm", 1.3558179483),  # pound-force foot, exact by its parts
        (10.0, "v_per_krpm", "nm_per_a", 10.0 * 60.0 / (2.0 * pi * 1000.0)),
        (0.1, "v_s_per_rad", "nm_per_a", 0.1),
        (0.6, "kgm2", "kgcm2", 6000.0),
        (7.0, "ft2", "m2", 0.65032128),
    ],
)
def test_units_against_their_definitions(value, unit, into, expected):
    assert convert(value, unit, into) == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize(
    ("key", "parts"),
    [
        ("mass_lb", ("mass", "lb")),
        ("torque_constant_nm_per_a", ("torque_constant", "nm_per_a")),
        ("torque_constant_v_per_krpm", ("torque_constant", "v_per_krpm")),
        ("wheels", ("wheels", "")),
        ("charge", ("charge", "")),
    ],
)
def test_the_longest_suffix_is_the_unit(key, parts):
    assert split_unit(key) == parts


@pytest.mark.parametrize(("word", "found"), [("motor_teath", "motor_teeth"), ("zzz", "")])
def test_nearest_word(word, found):
    assert nearest(word, ["motor_teeth", "wheel_teeth"]) == found


@pytest.mark.parametrize(
    ("line", "hint"),
    [
        ("start = 13:00", "13:00:00"),
        ("start = 9:30:00", "two-digit hours"),
        ("start = 25:00:00", "00 to 23"),
        ("mass_kg = 75,5   # scales", "75.5"),
        ("chain = 08B", ""),
        ("kind = permanent-magnet", '"permanent-magnet"'),
    ],
)
def test_hints_for_what_people_write(line, hint, tmp_path):
    file = tmp_path / "b.toml"
    file.write_text(f'name = "x"\n{line}\n', encoding="utf-8")
    with pytest.raises(InputProblem) as caught:
        read_table(file)
    assert caught.value.place.startswith("line 2")
    assert hint in caught.value.hint
    assert bool(hint) == bool(caught.value.hint)


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (b"", "an empty file"),
        (b"a = 1\x00", "binary content"),
        (b"a = \xff", "bytes that are not UTF-8"),
        (b"#" * 20_000_000, "20.0 MB"),
    ],
)
def test_what_no_file_of_ours_can_be(content, found, tmp_path):
    file = tmp_path / "x.toml"
    file.write_bytes(content)
    with pytest.raises(InputProblem) as caught:
        read_text(file)
    assert caught.value.found == found
    assert caught.value.file == str(file)


def test_a_byte_order_mark_is_no_fault(tmp_path):
    file = tmp_path / "x.toml"
    file.write_bytes(b"\xef\xbb\xbfa = 1\n")
    assert read_table(file)[0] == {"a": 1}


def test_endless_brackets(tmp_path):
    file = tmp_path / "x.toml"
    file.write_text("a = " + "[" * 50_000, encoding="utf-8")
    with pytest.raises(InputProblem, match="brackets"):
        read_table(file)


@pytest.mark.parametrize("name", ["   ", "two\nlines"])
def test_names_fit_on_a_line_of_a_table(name):
    with pytest.raises(InputProblem, match="one line of text in quotes, not blank"):
        validate(Item, {"item": name, "mass_kg": 1.0}, "b.toml")


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ("0.7", 'found "0.7"'),
        (True, "found true"),
        ({"a": 1}, "found a section"),
        ([1, 2], "found [1, 2]"),
        (float("nan"), "found nan"),
    ],
)
def test_what_was_found_is_shown_as_the_file_writes_it(value, shown):
    with pytest.raises(InputProblem) as caught:
        validate(Item, {"item": "frame", "mass_kg": value}, "b.toml")
    assert shown in str(caught.value)
    assert "a finite number" in str(caught.value) or value == value  # nan is told what it is not


def test_all_faults_at_once_a_line_each():
    """A key that is unknown is not also said to be missing under its right name."""
    with pytest.raises(InputProblem) as caught:
        validate(Item, {"item": "two\nlines", "mass_lb": -172.0, "hieght_m": 1.0}, "b.toml")
    first, *others = str(caught.value).splitlines()
    assert first.startswith("b.toml, hieght_m: found an unknown key")
    assert sorted(line.split(":")[0] for line in others) == ["b.toml, item", "b.toml, mass_lb"]
    with pytest.raises(InputProblem) as caught:
        validate(Item, {"item": "frame", "maas_kg": 1.0}, "b.toml")
    assert str(caught.value).count("\n") == 0


def test_of_very_many_faults_twenty_are_told(tmp_path):
    rows = "".join(f"{n},fast\n" for n in range(30))
    (tmp_path / "t.csv").write_text("time_s,speed_kmh\n" + rows, encoding="utf-8")
    with pytest.raises(InputProblem) as caught:
        load_trace(tmp_path / "t.csv")
    lines = str(caught.value).splitlines()
    assert "line 2, speed_kmh" in lines[0]
    assert "line 21, speed_kmh" in lines[19]
    assert lines[20].endswith("10 more faults.")


def test_the_only_item_of_a_list_is_one_fault_not_two():
    """A list of one wrong item is not said to be too short, and what is wrong across keys is told at its own place."""
    with pytest.raises(InputProblem) as caught:
        validate(Vehicle, {"mass": [{"item": "all", "mass_kg": -3.0}]}, "b.toml")
    assert str(caught.value) == (
        "b.toml, mass[1].mass_kg: found -3.0; expected a number above 0 and of at most 20000 kg (mass)."
    )


def _parts(kind: type[Part]) -> set[type[Part]]:
    inner = {part for field in kind.model_fields.values() if (part := part_of(field)) is not None}
    return {kind}.union(*(_parts(part) for part in inner))


DIMENSIONLESS = {
    # numbers that have no unit: counts, ratios, shares
    "activity", "day", "laps", "repeats", "lighting", "start_state_of_charge",
    "wheels", "rolling_coefficient", "breakaway_factor", "gearbox_ratio", "reverse_duty", "motor_teeth", "wheel_teeth", "efficiency",
    "cells_in_series", "blocks_in_series", "strings_in_parallel", "peukert_exponent", "resistance_rise", "coulombic_efficiency",
    "energy_efficiency", "state_of_health", "reserve",
    # rated_hours and the rows of two units name theirs in the word
    "rated_hours", "capacity_by_hours", "capacity_by_temperature", "curve", "self_discharge_per_month", "stood_months",
    "cycle_life", "calendar_years", "recovery_share", "end_voltage_v_per_cell", "correlations", "coast_down",
    "battery_state_of_health", "converter_efficiency", "driver_teeth", "driven_teeth", "ratio", "bolts", "strength_class", "bundled", "awg",
    # coefficients of friction
    "asphalt", "concrete", "wood", "paving", "gravel", "grass", "wet_asphalt", "wet_grass", "wet_paint",
    # in the maker's own money
    "block_price",
}  # fmt: skip


@pytest.mark.parametrize(
    "kind", sorted(_parts(Build) | _parts(Day), key=lambda kind: kind.__name__), ids=lambda kind: kind.__name__
)
def test_every_field_says_what_it_is_and_in_which_unit(kind):
    for name, field in kind.model_fields.items():
        assert field.description, f"{kind.__name__}.{name} has no meaning"
        number = any(word in str(field.annotation) for word in ("int", "float")) and part_of(field) is None
        if number and name not in DIMENSIONLESS:
            assert split_unit(name)[1], f"{kind.__name__}.{name} has no unit"
        extra = field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}
        if number and not field.is_required() and field.default is not None:
            assert extra.get("source"), f"the default of {kind.__name__}.{name} has no source"


def test_writing_keeps_permissions_and_leaves_nothing_beside(tmp_path):
    file = tmp_path / "b.toml"
    file.write_text("old", encoding="utf-8")
    file.chmod(0o664)
    write_beside_then_replace(file, "new")
    assert file.read_text(encoding="utf-8") == "new"
    assert stat.S_IMODE(file.stat().st_mode) == 0o664
    assert os.listdir(tmp_path) == ["b.toml"]


def test_a_link_stays_a_link(tmp_path):
    (tmp_path / "real.toml").write_text("old", encoding="utf-8")
    (tmp_path / "link.toml").symlink_to(tmp_path / "real.toml")
    write_beside_then_replace(tmp_path / "link.toml", "new")
    assert (tmp_path / "link.toml").is_symlink()
    assert (tmp_path / "real.toml").read_text(encoding="utf-8") == "new"


@pytest.mark.parametrize("where", ["", "no/such/folder/b.toml"])
def test_what_cannot_be_written_is_said(where, tmp_path):
    with pytest.raises(InputProblem):
        write_beside_then_replace(tmp_path / where, "new")
    assert os.listdir(tmp_path) == []


def test_a_write_that_fails_half_way_leaves_the_old_file(tmp_path, monkeypatch):
    file = tmp_path / "b.toml"
    file.write_text("old", encoding="utf-8")

    seen = []

    def no_space(_handle):
        seen.extend(name for name in os.listdir(tmp_path) if not name.startswith("."))
        raise OSError("no space left on device")

    monkeypatch.setattr("ridesim.forms.files.os.fsync", no_space)
    with pytest.raises(OSError, match="no space"):
        write_beside_then_replace(file, "new")
    assert file.read_text(encoding="utf-8") == "old"
    assert os.listdir(tmp_path) == ["b.toml"]
    assert seen == ["b.toml"], "JupyterLab complains of a file that it sees and that goes while it lists the folder"


def test_a_build_file_without_a_name_takes_the_file_s(tmp_path, heron_text):
    file = tmp_path / "my_float.toml"
    file.write_text(heron_text.replace('name = "Heron, 36 V"\n', ""), encoding="utf-8")
    assert load_build(file).name == "my_float"
