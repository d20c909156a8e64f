"""Saving and changing builds: nothing of the user's is lost, nothing is stated that the user did not state."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ridesim.data import names
from ridesim.vehicle import load_build, save_build


def _written(text: str, tmp_path, name: str = "b.toml"):
    file = tmp_path / name
    file.write_text(text, encoding="utf-8")
    return load_build(file)


def test_stating_a_default_is_kept(heron_text, tmp_path):
    """The file says ``efficiency = 0.88``, which is the default beside a gearbox: saving must not take it away."""
    assert "efficiency = 0.88" in heron_text
    saved = save_build(_written(heron_text, tmp_path), tmp_path / "c.toml")
    assert saved.read_text(encoding="utf-8") == heron_text


def test_no_default_is_written_as_if_stated(heron_text, tmp_path):
    """Not the name from the file, not the efficiency, not what the chemistry gives."""
    bare = heron_text.replace('name = "Heron, 36 V"\n', "").replace(
        "efficiency = 0.88                 # gearbox and chain together\n", ""
    )
    bare = bare.replace("peukert_exponent = 1.21\n", "").replace("block_resistance_ohm = 0.011\n", "")
    saved = save_build(_written(bare, tmp_path), tmp_path / "c.toml")
    assert saved.read_text(encoding="utf-8") == bare


def test_a_changed_default_is_written(heron_text, tmp_path):
    build = _written(heron_text, tmp_path)
    saved = save_build(build.changed({"pack.coulombic_efficiency": 0.8}), tmp_path / "c.toml")
    assert tomllib.loads(saved.read_text(encoding="utf-8"))["pack"]["coulombic_efficiency"] == 0.8


def test_a_change_derives_anew_what_follows(heron_text, tmp_path):
    build = _written(
        heron_text.replace("block_resistance_ohm = 0.011\n", "").replace("block_mass_kg = 6.6\n", ""), tmp_path
    )
    larger = build.changed({"pack.block_capacity_ah": 44.0})
    now, then = larger.pack.in_force, build.pack.in_force
    assert now.block_resistance_ohm == pytest.approx(0.5 * then.block_resistance_ohm)
    assert now.block_mass_kg == pytest.approx(2.0 * then.block_mass_kg)
    assert "block size left out" in larger.notes[0].text, "rules of the chemistry need no note, a dropped size does"
    assert build.pack.block_capacity_ah == 22.0


def test_a_change_may_be_in_another_unit_and_may_take_a_key_away(heron_text, tmp_path):
    build = _written(heron_text, tmp_path)
    changed = build.changed(
        {"vehicle.rolling_radius_in": 12.0, "controller.cutoff_voltage_v": None, "rider.mass_lb": 200}
    )
    assert changed.vehicle.rolling_radius_m == pytest.approx(0.3048)
    assert changed.cutoff_voltage_v == pytest.approx(1.75 * 18)
    assert changed.rider.mass_kg == pytest.approx(90.718474)
    text = save_build(changed, tmp_path / "c.toml").read_text(encoding="utf-8")
    assert "cutoff_voltage_v" not in text


def test_an_item_taken_away_takes_its_own_comments_along(heron_text, tmp_path):
    marked = heron_text.replace('item = "bird: bamboo', '# glued, not screwed\nitem = "bird: bamboo').replace(
        "mass_kg = 9.4", "mass_kg = 9.4   # scales, wet"
    )
    build = _written(marked, tmp_path)
    fewer = build.changed({"vehicle.mass[2]": None})
    text = save_build(fewer, tmp_path / "c.toml").read_text(encoding="utf-8")
    assert "bird: bamboo" not in text
    assert "glued" not in text
    assert "mass_kg = 9.4   # scales, wet" in text
    assert [item.item for item in load_build(tmp_path / "c.toml").vehicle.mass] == [
        item.item for item in fewer.vehicle.mass
    ]


def test_items_and_sections_can_be_added(tmp_path, ideal_build):
    """A build that never came from a file is written whole, and a section that the file did not have is added."""
    made = ideal_build(150.0, lighting={"supply": "main-pack", "load": [{"name": "ring", "power_w": 6.0}]})
    assert load_build(save_build(made, tmp_path / "made.toml")) == made
    heron = load_build("heron_36v").changed({"lighting": None})
    assert heron.lighting is None
    assert "lighting]" not in save_build(heron, tmp_path / "dark.toml").read_text(encoding="utf-8")
    lit = load_build(tmp_path / "dark.toml").changed(
        {"lighting": {"supply": "main-pack", "load": [{"name": "ring", "power_w": 6.0}]}},
    )
    assert load_build(save_build(lit, tmp_path / "lit.toml")).lighting == lit.lighting


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    name=st.sampled_from(names("builds")),
    changes=st.fixed_dictionaries(
        {},
        optional={
            "vehicle.rolling_radius_m": st.floats(0.1, 1.0),
            "drive.motor_teeth": st.integers(1, 60),
            "pack.block_capacity_ah": st.floats(1.0, 300.0),
            "pack.blocks_in_series": st.integers(2, 5),
            "pack.reserve": st.floats(0.0, 0.9),
            "rider.mass_lb": st.floats(50.0, 300.0),
        },
    ),
)
def test_what_is_saved_is_what_is_loaded(name, changes, tmp_path):
    """Any change, saved and loaded, is the build it was; saving once more changes no byte."""
    if name == "heron_48v" or name == "heron_36v":
        changes = {"controller.cutoff_voltage_v": None, **changes}
    changed = load_build(name).changed(changes)
    file = save_build(changed, tmp_path / "c.toml")
    again = load_build(file)
    assert again == changed
    before = file.read_bytes()
    assert save_build(again, file).read_bytes() == before
