"""How unsure a number is: what a file may say, the usual width of its key, and what becomes of both."""

from __future__ import annotations

import json
import tomllib

import jsonschema
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

import ridesim
from ridesim.data import names
from ridesim.day import Day
from ridesim.forms import part_of, takes_width
from ridesim.vehicle import Build, load_build, save_build
from ridesim.words import InputProblem, Uncertain

EXACT_BY_NATURE = {
    # limits, ratings and one-off figures of a label
    "motor.curve_voltage_v", "motor.rated_power_w", "motor.rated_voltage_v", "motor.demagnetising_current_a",
    "controller.max_voltage_v", "controller.reverse_duty", "controller.capacitor_uf", "controller.precharge_ohm",
    "controller.label_current_a", "controller.restart_voltage_v", "controller.restart_delay_s", "controller.ramp_s",
    "pack.block_voltage_v", "pack.rated_hours", "pack.max_charge_current_a", "pack.protection_current_a", "pack.protection_s",
    "pack.charge_compensation_v_per_cell_per_k", "pack.block_price", "lighting.battery_voltage_v",
    # ratios are counted by turning the shaft
    "drive.gearbox_ratio", "drive.stage.ratio", "drive.centre_distance_mm", "drive.adjuster_travel_mm",
    # printed on the cable, the fuse or the label, or measured by a tape well enough
    *(f"wiring.circuit.{key}" for key in (
        "length_m", "section_mm2", "insulation_c", "ambient_c", "current_a", "rating_a", "protection_distance_m",
    )),
    "lighting.load.strip_length_m", "lighting.load.strip_w_per_m",
    "drive.stage.centre_distance_mm", "drive.stage.adjuster_travel_mm", "drive.shaft_x_m", "drive.shaft_z_m", "drive.shaft_room_mm",
    "vehicle.pivot_x_m", "vehicle.pivot_z_m", "vehicle.wheel_travel_mm",
    # wishes
    "pack.reserve", "pack.stood_months", "activity.duration_min", "activity.lighting", "altitude_m",
    # a tape measures them well enough
    "vehicle.wheelbase_m", "vehicle.track_m", "vehicle.front_radius_m", "vehicle.clearance_mm", "vehicle.stand_offset_m",
    "vehicle.handlebar_x_m", "vehicle.handlebar_z_m", "vehicle.handlebar_width_m", "vehicle.mass.y_m", "pack.place.y_m",
    *(
        f"{part}.{key}"
        for part in ("vehicle.mass", "rider", "motor", "controller", "pack", "pack.place", "lighting") for key in ("x_m", "z_m")
    ),
    "motor.mount.circle_mm", "motor.mount.overhang_mm",
    # measured runs: fitted, with what is unsure about them
    "vehicle.coast_down_mass_kg",
    "vehicle.brakes.deceleration_mps2", "vehicle.brakes.holds_percent",
}  # fmt: skip


def numbers_of(part, key=""):
    for name, field in part.model_fields.items():
        inner = part_of(field)
        if inner is not None:
            yield from numbers_of(inner, f"{key}{name}.")
        elif takes_width(field):
            yield f"{key}{name}"


@pytest.mark.parametrize("kind", [Build, Day])
def test_every_number_has_a_usual_width_or_is_exact_by_nature(kind):
    numbers = set(numbers_of(kind))
    assert set(kind.key_widths) <= numbers
    assert numbers - set(kind.key_widths) <= EXACT_BY_NATURE
    assert not EXACT_BY_NATURE & set(kind.key_widths)


@pytest.mark.parametrize("kind", [Build, Day])
def test_a_default_is_no_surer_than_what_a_file_states(kind):
    """Both spreads hold the value itself, each row says where it is from, and a guess is at least as wide as a measurement."""
    for key, row in kind.key_widths.items():
        assert row.source, key
        for value in (0.3, 0.9):
            (low, high), (wide_low, wide_high) = row.stated.about(value), row.default.about(value)
            assert low <= value <= high, key
            assert wide_low <= value <= wide_high, key
            assert wide_high - wide_low >= (high - low) * (1.0 - 1e-9), key


@pytest.mark.parametrize("name", names("builds"))
def test_every_width_of_a_build_holds_its_value_within_the_limits_of_its_key(name):
    build = load_build(name)
    values = {each.place: each.value for each in build.in_play()}
    for place, width in build.widths.items():
        assert width.low <= width.value == values[place] <= width.high
        for end in (width.low, width.high):
            build.changed({place: {"exact": end}})


def written(heron_text, line, other):
    assert heron_text.count(line) == 1
    return heron_text.replace(line, other)


def read(tmp_path, text):
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    return load_build(path)


ROLLING = "rolling_coefficient = 0.018"


def test_a_file_states_a_width_and_the_value_stays_a_number(tmp_path, heron_text):
    text = written(heron_text, ROLLING, "rolling_coefficient = { low = 0.015, likely = 0.018, high = 0.024 }")
    build = read(tmp_path, text)
    assert build.vehicle.rolling_coefficient == 0.018
    assert build.widths["vehicle.rolling_coefficient"] == Uncertain(0.018, 0.015, 0.024)
    assert build != load_build("heron_36v")
    assert "vehicle.rolling_coefficient" not in read(tmp_path, text.replace("low = 0.015, likely", "exact")
                                                     .replace(", high = 0.024", "")).widths  # fmt: skip


def test_another_unit_and_an_item_of_a_list(tmp_path, heron_text):
    text = written(heron_text, "mass_kg = 78.0", "mass_lb = { low = 160, likely = 170, high = 190 }")
    width = read(tmp_path, text).widths["vehicle.mass[1].mass_kg"]
    assert (width.low, width.value, width.high) == pytest.approx((72.5748, 77.1107, 86.1826), rel=1e-6)


def test_saving_keeps_the_width_its_unit_and_its_comment(tmp_path, heron_text):
    text = written(heron_text, "mass_kg = 78.0", "mass_lb = { low = 160, likely = 170, high = 190 } # guessed")
    build = read(tmp_path, text)
    assert (tmp_path / "mine.toml").read_text(encoding="utf-8") == text
    save_build(build, tmp_path / "mine.toml")
    assert (tmp_path / "mine.toml").read_text(encoding="utf-8") == text
    heavier = build.changed({"vehicle.mass[1].mass_lb": 187.0})
    save_build(heavier, tmp_path / "mine.toml")
    saved = (tmp_path / "mine.toml").read_text(encoding="utf-8")
    assert "mass_lb = {low = 176.0, likely = 187.0, high = 209.0} # guessed" in saved
    assert load_build(tmp_path / "mine.toml") == heavier


@given(likely=st.floats(0.5, 0.97), share=st.floats(0.5, 1.0), new=st.floats(0.2, 1.0))
@example(likely=0.5, share=1.0, new=1.0)
def test_a_changed_value_keeps_its_width_in_proportion(likely, share, new):
    """Cut at the key's limit: an efficiency above 1 there is none."""
    build = load_build("heron_36v").changed(
        {"drive.efficiency": {"low": share * likely, "likely": likely, "high": 0.98}}
    )
    exactly = Uncertain.over([new])  # where nothing is left of the width, the value counts as exact
    width = build.changed({"drive.efficiency": new}).widths.get("drive.efficiency", exactly)
    assert width.value == new
    assert width.low == pytest.approx(new * share)
    assert width.high == pytest.approx(max(new, min(1.0, new * 0.98 / likely)))


def test_exact_has_no_widths_and_loses_none():
    build = load_build("heron_36v").changed({"motor.resistance_ohm": {"low": 0.08, "likely": 0.085, "high": 0.1}})
    assert not ridesim.exact(build).widths
    assert ridesim.exact(build).changed({"exact": False}).widths == build.widths
    assert not ridesim.exact(ridesim.load_day("harbour_festival")).widths


def test_a_block_s_width_goes_with_its_capacity():
    stated = {"low": 0.009, "likely": 0.011, "high": 0.014}
    build = load_build("heron_36v").changed({"pack.block_resistance_ohm": stated})
    width = build.changed({"pack.block_capacity_ah": 44.0}).widths["pack.block_resistance_ohm"]
    assert (width.low, width.value, width.high) == pytest.approx((0.0045, 0.0055, 0.007))


def test_what_was_read_off_has_the_width_and_what_follows_has_none():
    build = load_build("heron_36v")
    free = {"no_load_speed_rpm": 3000.0, "no_load_current_a": 1.4, "no_load_voltage_v": 36.0}
    build = build.changed({"motor.torque_constant_nm_per_a": None, "motor.friction_torque_nm": None,
                           **{f"motor.{key}": value for key, value in free.items()}})  # fmt: skip
    assert {f"motor.{key}" for key in free} <= set(build.widths)
    assert not {"motor.torque_constant_nm_per_a", "motor.friction_torque_nm"} & set(build.widths)


def test_stages_have_the_width_and_their_sum_has_none():
    build = load_build("heron_36v")
    stages = [{"kind": "worm", "ratio": 10.0}, {"kind": "chain", "driver_teeth": 11, "driven_teeth": 33}]
    build = build.changed({"drive": {"stage": stages}})
    low, high = build.widths["drive.stage[1].efficiency"].low, build.widths["drive.stage[1].efficiency"].high
    assert 0.45 < low < 0.55 < 0.75 < high < 0.85
    assert "drive.efficiency" not in build.widths


def test_cooling_from_the_mass_is_wider_than_from_the_nameplate():
    """Half to twice, as the finding says it."""
    build = load_build("heron_36v")
    plate = build.widths["motor.case_to_air_k_per_w"]
    guessed = build.changed({"motor.rated_power_w": None}).widths["motor.case_to_air_k_per_w"]
    assert (guessed.low / guessed.value, guessed.high / guessed.value) == pytest.approx((0.5, 2.0))
    assert plate.high / plate.low < guessed.high / guessed.low


@pytest.mark.parametrize(
    ("line", "other", "place", "found", "expected"),
    [
        (ROLLING, "rolling_coefficient = { low = 0.03, likely = 0.018, high = 0.04 }", "vehicle.rolling_coefficient",
         "low 0.03, likely 0.018, high 0.04", "low at most likely, likely at most high"),
        (ROLLING, "rolling_coefficient = { low = 0.03, high = 0.04 }", "vehicle.rolling_coefficient",
         "keys low, high", "{low = …, likely = …, high = …} or {exact = …}"),
        (ROLLING, 'rolling_coefficient = { exact = "soft" }', "vehicle.rolling_coefficient", "'soft' inside a width", "a number"),
        (ROLLING, "rolling_coefficient = { low = -0.01, likely = 0.018, high = 0.04 }", "vehicle.rolling_coefficient",
         "-0.01 inside a width", "of at least 0"),
        ("motor_teeth = 11", "motor_teeth = { low = 10, likely = 11, high = 12 }", "drive.motor_teeth", "a width", "one plain value"),
        ("mass_kg = 78.0", "mass_lb = { low = 0, likely = 170, high = 190 }", "vehicle.mass[1].mass_lb",
         "0 kg inside a width", "above 0"),
        (ROLLING, "rolling_coefficient = { low = 0.01, likely = nan, high = 0.04 }", "vehicle.rolling_coefficient",
         "nan inside a width", "a number"),
    ],
)  # fmt: skip
def test_a_wrong_width_gets_one_clear_message(tmp_path, heron_text, line, other, place, found, expected):
    with pytest.raises(InputProblem) as caught:
        read(tmp_path, written(heron_text, line, other))
    assert len(str(caught.value).splitlines()) == 1
    for words in ("mine.toml", place, found, expected):
        assert words in str(caught.value)


@pytest.mark.parametrize(
    ("rows", "found"),
    [
        ([["resistance_ohm", "colour", 0.5]], '"colour"'),
        ([["resistance_ohm", "brush_drop_v", 1.5]], "1.5 between"),
        ([["resistance_ohm", "brush_drop_v", 0.9], ["resistance_ohm", "friction_torque_nm", 0.9],
          ["brush_drop_v", "friction_torque_nm", -0.9]], "exclude each other"),
    ],
)  # fmt: skip
def test_correlations_that_cannot_be(rows, found):
    with pytest.raises(InputProblem, match=found):
        load_build("heron_36v").changed({"motor.correlations": rows})


def test_the_schema_knows_widths(heron_text):
    schema = Build.model_json_schema()
    table = json.loads(json.dumps(tomllib.loads(heron_text), default=str))
    table["vehicle"]["rolling_coefficient"] = {"low": 0.01, "likely": 0.018, "high": 0.02}
    jsonschema.validate(table, schema)
    table["drive"]["motor_teeth"] = {"low": 10, "likely": 11, "high": 12}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(table, schema)
