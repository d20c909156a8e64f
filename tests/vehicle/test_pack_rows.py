"""Rows in a pack's file that no block can have: one message, with the row as it stands in the file; exit status 2."""

from __future__ import annotations

import pytest

from ridesim.command import main
from ridesim.data import shipped
from ridesim.ride.machine import capacity_factor_at
from ridesim.vehicle import Pack, load_build

GOOD = (shipped("data") / "builds" / "heron_36v.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("end_voltage_v_per_cell = [[20, 1.8], [1, 0.1]]", "row 2 [1, 0.1]"),
        ("end_voltage_v_per_cell = [[20, 18], [1, 1.6]]", "row 1 [20, 18]"),
        ("end_voltage_v_per_cell = [[20, 1.6], [1, 1.8]]", "row 1 [20, 1.6] below the faster row 2"),
        ("capacity_by_hours = [[20, 22], [10, 24], [1, 13]]", "row 2 [10, 24] with far more ampere-hours"),
        ("capacity_by_hours = [[1, 13], [10, 22], [20, 20]]", "row 2 [10, 22] with far more ampere-hours"),
        ("capacity_by_hours = [[20, 22], [20, 21], [1, 13]]", "rows 1 and 2, both for 20 h"),
        ("capacity_by_hours = [[20, 22], [10, -3], [1, 13]]", "row 2 [10, -3]"),
        ("capacity_by_hours = [[20, 22], [10, 10], [1, 1]]", "row 2 [10, 10] with no less current"),
        (
            "capacity_by_hours = [[20, 40], [10, 37.2], [5, 34], [1, 24]]",
            "rows that give 40 Ah at 20 h beside block_capacity_ah = 22",
        ),
        (
            "capacity_by_hours = [[10, 37.2], [5, 34], [1, 24]]",
            "rows that give 37.2 to 40.7 Ah at 20 h beside block_capacity_ah = 22",
        ),
        (
            "capacity_by_hours = [[100, 22], [50, 20], [25, 18]]",
            "rows that give 14.4 to 17.4 Ah at 20 h beside block_capacity_ah = 22",
        ),
        ("peukert_exponent = 0.9", "0.9"),
        ("block_resistance_ohm = -0.01", "-0.01"),
        ("cycle_life = [[0.5, 600], [1.0, 900]]", "row 2 [1, 900]"),
        ("cycle_life = [[50, 600], [100, 200]]", "row 1 [50, 600]"),
        ("capacity_by_temperature = [[25, 1.0], [0, 1.1]]", "row 1 [25, 1] beside row 2 [0, 1.1]"),
        ("capacity_by_temperature = [[25, 1.0], [10, -0.9]]", "row 2 [10, -0.9]"),
        ("capacity_by_temperature = [[25, 100], [10, 90]]", "row 1 [25, 100]"),
        ("capacity_by_temperature = [[25, 1.0], [10, 0.0]]", "row 2 [10, 0]"),
        ("capacity_by_temperature = [[10, 0.9], [10, 0.95]]", "row 2 [10, 0.95] beside row 1"),
        ("open_circuit_v_per_cell = [[0, 0], [1, 30]]", "row 1 [0, 0]"),
        ("open_circuit_v_per_cell = [[0, 1.95], [1, 12.8]]", "row 2 [1, 12.8]"),
        ("cells_in_series = 5", "5 cells in a block of 12 V, 2.40 V a cell"),
        ("cells_in_series = 7", "6 cells?"),
        ("stood_months = -1.0", "-1.0"),
        ("block_price = 0.0", "0.0"),
        ("self_discharge_per_month = 1.5", "1.5"),
        ("charge_compensation_v_per_cell_per_k = 0.005", "0.005"),
        ("max_charge_curent_a = 5.0", "Nearest known key: max_charge_current_a"),
    ],
)
def test_one_message_names_the_row(tmp_path, capsys, line, found):
    key = line.split(" =")[0]
    kept = [each for each in GOOD.splitlines() if each.split(" =")[0] != key]
    at = kept.index("[pack]") + 1
    path = tmp_path / "mine.toml"
    path.write_text("\n".join([*kept[:at], line, *kept[at:]]), encoding="utf-8")
    assert main(["check", str(path)]) == 2
    message = capsys.readouterr().err
    assert f"pack.{key}" in message
    assert found in message
    assert len(message.strip().splitlines()) == 1


def test_good_rows_in_any_order(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(
        GOOD.replace("[pack]", "[pack]\ncapacity_by_hours = [[1, 13.2], [20, 22], [5, 18.7]]\n"),
        encoding="utf-8",
    )
    pack = load_build(path).pack
    assert pack.capacity_by_hours == ((1.0, 13.2), (20.0, 22.0), (5.0, 18.7))
    assert pack.block_price == 55.0
    assert pack.in_force.max_charge_current_a == pytest.approx(6.6)


def test_rows_that_do_not_reach_25_degrees_stand_as_they_are(tmp_path, capsys):
    table = {"chemistry": "lead-acid-agm", "block_capacity_ah": 22.0}
    cold = Pack.model_validate({**table, "capacity_by_temperature": [[10, 0.9], [0, 0.8]]})
    assert [capacity_factor_at(cold, each) for each in (-10.0, 0.0, 10.0, 25.0, 40.0)] == [0.8, 0.8, 0.9, 1.0, 1.0]
    hot = Pack.model_validate({**table, "capacity_by_temperature": [[30, 1.03], [40, 1.06]]})
    assert [capacity_factor_at(hot, each) for each in (20.0, 25.0, 30.0, 50.0)] == [1.0, 1.0, 1.03, 1.06]
    path = tmp_path / "cold.toml"
    path.write_text(
        GOOD.replace("[pack]", "[pack]\ncapacity_by_temperature = [[10, 0.9], [0, 0.8]]\n"), encoding="utf-8"
    )
    assert main(["check", str(path)]) == 0
    assert "no row of pack.capacity_by_temperature reaches 25 °C, which counts as 1" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("rows", "hours"),
    [
        ([[20, 21.0], [10, 19.5], [1, 13]], 20.0),  # 4.5 % below the label
        ([[20, 23.0], [10, 20], [1, 13]], 20.0),
        ([[10, 20.2], [5, 18.7], [1, 13.2]], 20.0),  # a sheet that ends before the label's hours
        ([[40, 24.0], [10, 20.2], [5, 18.7]], 20.0),  # between two rows
        ([[20, 22.0], [10, 20.2], [5, 18.7]], 4.0),
    ],
)
def test_a_label_near_its_sheet_is_good(rows, hours):
    capacity = 18.0 if hours < 5.0 else 22.0
    table = {"chemistry": "lead-acid-agm", "block_capacity_ah": capacity, "rated_hours": hours}
    assert Pack.model_validate({**table, "capacity_by_hours": rows}).block_capacity_ah == capacity


@pytest.mark.parametrize(
    ("chemistry", "volts", "cells"),
    [
        ("lead-acid-agm", 12.0, 6),
        ("lead-acid-flooded", 6.0, 3),
        ("lithium-iron-phosphate", 12.0, 4),
        ("lithium-iron-phosphate", 12.8, 4),
        ("lithium-iron-phosphate", 48.0, 16),
        ("lithium-nmc", 24.0, 7),
        ("lithium-nmc", 36.0, 10),
        ("lithium-nmc", 48.0, 13),
    ],
)
def test_names_of_the_trade_fit_their_cells(chemistry, volts, cells):
    table = {"chemistry": chemistry, "block_capacity_ah": 20.0, "block_voltage_v": volts, "cells_in_series": cells}
    assert Pack.model_validate(table).cells == cells
