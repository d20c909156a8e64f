"""The terminal command: exit status, what goes to which stream, and that bad input writes nothing."""

from __future__ import annotations

import json
import re
import shlex
import sys
import tomllib

import pytest

import ridesim
from ridesim.data import names, shipped
from ridesim.show.choose_drive.panel import ChooseDrive

BAD_ROUTES = {
    "missing column": "length_m,grade_percent\n100,0\n",
    "infinity": "length_m,speed_kmh\ninf,10\n",
    "empty": "",
}
BAD_TRACES = {
    "missing column": "time_s,grade_percent\n0,0\n1,0\n",
    "time running backwards": "time_s,speed_kmh\n0,0\n5,10\n4,10\n",
}


@pytest.mark.parametrize("kind", ["route", "trace"])
@pytest.mark.parametrize("way", ["check the CSV", "check the day", "compare", "simulate"])
def test_a_bad_csv_is_named_whichever_way_it_comes(kind, way, call, tmp_path, monkeypatch):
    """Each gives the same one line and status 2, and the folder holds no file more than before."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "d.toml").write_text(f'[[activity]]\nname = "a"\nstart = 10:00:00\n{kind} = "c"\n', encoding="utf-8")
    words = {
        "check the CSV": ["check", "c.csv"],
        "check the day": ["check", "d.toml"],
        "compare": ["compare", "heron_36v", "--day", "d.toml"],
        "simulate": ["simulate", "heron_36v", "--day", "d.toml", "--csv", "out.csv"],
    }[way]
    for name, text in (BAD_ROUTES if kind == "route" else BAD_TRACES).items():
        (tmp_path / "c.csv").write_text(text, encoding="utf-8")
        status, out, err = call(*words)
        assert (status, out, err.count("\n")) == (2, "", 1), name
        assert "c.csv" in err, name
        other = "time_s" if kind == "route" else "length_m"
        assert other not in err, f"{name}: a {kind} is measured by its own columns"
        assert sorted(path.name for path in tmp_path.iterdir()) == ["c.csv", "d.toml"], name


@pytest.mark.parametrize(
    ("called", "words"),
    [
        (".venv/bin/ridesim", [".venv/bin/ridesim"]),
        ("ridesim", ["ridesim"]),
        ("x/__main__.py", [sys.executable, "-m", "ridesim"]),
    ],
)
@pytest.mark.thorough
def test_compare_ends_with_the_command_that_opens_the_same(called, words, call, monkeypatch, tmp_path, heron_text):
    """It can be pasted, however the first was called, and names with spaces are quoted."""
    monkeypatch.setattr(sys, "argv", [called])
    file = tmp_path / "my float.toml"
    file.write_text(heron_text, encoding="utf-8")
    status, out, err = call("compare", file, "puppet_cart", "--day", "harbour_festival")
    assert status == 0
    assert err == "" or err.startswith("Compiling the equations"), "the first run may say that it compiles"
    assert shlex.split(out.splitlines()[-1]) == [*words, "open", str(file), "puppet_cart", "--day", "harbour_festival"]
    verdicts = out.split("\n\n")[0]
    assert verdicts.startswith("Heron, 36 V. ")
    assert "\nPuppet cart, 24 V. " in verdicts


FIXED = {
    "name",
    "verdict",
    "top_speed_kmh",
    "steepest_start_percent",
    "steady_range_km",
    "mass_kg",
    "pack_mass_kg",
    "outcome",
    "findings",
}
OUTCOME = {
    "end_state_of_charge", "lowest_pack_voltage_v", "highest_pack_current_a", "rms_motor_current_a", "hottest_winding_c",
    "distance_km", "planned_distance_km", "finished", "seconds_below_command", "energy_wh", "energy_wh_per_km", "ledger_residual",
    "out_ah", "charged_ah", "charged_km", "missing_ah", "rested_block_v", "lights_left", "lights_enough_ah",
    "lost_by_pack", "spare_to_empty_km", "spare_km", "left_at_this_load",
}  # fmt: skip


@pytest.mark.parametrize("words", [("compare", "heron_36v", "puppet_cart"), ("simulate", "heron_lithium")])
def test_json_has_the_fixed_keys_and_no_others(words, call):
    status, out, err = call(*words, "--day", "harbour_festival", "--json")
    assert (status, err) == (0, "")
    builds = json.loads(out)["builds"]
    assert len(builds) == len(words) - 1
    for build in builds:
        assert set(build) == FIXED
        assert set(build["outcome"]) == OUTCOME
        assert build["findings"]
        for finding in build["findings"]:
            assert set(finding) == {"code", "severity", "text"}
            assert finding["severity"] in ("stop", "warning", "advice")


def test_json_is_json_even_where_nothing_moves(call, tmp_path):
    """Nothing covered means no watt-hours a kilometre: null, not NaN, which JSON does not know."""
    (tmp_path / "d.toml").write_text(
        '[[activity]]\nname = "stand"\nstart = 10:00:00\nduration_min = 5\n', encoding="utf-8"
    )
    out = call("simulate", "heron_36v", "--day", tmp_path / "d.toml", "--json").out
    (build,) = json.loads(out, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))["builds"]
    assert build["outcome"]["energy_wh_per_km"] is None
    assert build["outcome"]["distance_km"] == 0.0


def test_the_ride_in_text(call):
    status, out, err = call("simulate", "heron_36v", "--day", "harbour_festival")
    assert (status, err) == (0, "")
    for word in (
        "Heron, 36 V on Harbour lantern festival",
        "Lantern parade",
        "energy ledger",
        "motor copper",
        "What to watch",
    ):
        assert word in out


@pytest.mark.thorough
def test_two_builds_of_one_name(call, tmp_path):
    """A copy with another number is told apart by its file; one file twice is a slip."""
    status, out, err = call("compare", "heron_36v", "heron_36v", "--day", "harbour_festival")
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert "“Heron, 36 V (heron_36v)” twice; expected a name of its own for each" in err
    mine = tmp_path / "my_float.toml"
    mine.write_text((shipped("data") / "builds" / "heron_36v.toml").read_text(encoding="utf-8"), encoding="utf-8")
    status, out, err = call("compare", mine, "heron_36v", "--day", "harbour_festival")
    assert (status, err) == (0, "")
    for name in ("Heron, 36 V (my_float)", "Heron, 36 V (heron_36v)"):
        assert f"{name}. In doubt: " in out
    assert ridesim.compare([mine, "heron_36v"], "harbour_festival").table.index[0] == "Heron, 36 V (my_float)"


@pytest.mark.parametrize("target", [".", "no/such/folder/x.csv"])
def test_rows_that_cannot_be_written(target, call, tmp_path):
    status, out, err = call("simulate", "heron_36v", "--day", "harbour_festival", "--csv", tmp_path / target)
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["compare", "harbour_festival.toml", "--day", "harbour_festival"], "no such file"),
        (["compare", str(shipped("data") / "days" / "harbour_festival.toml"), "--day", "harbour_festival"], "found a day; expected a build"),
        (["compare", "heron_36v", "--day", str(shipped("data") / "builds" / "heron_36v.toml")], "found a build; expected a day"),
        (["compare", "heron_36v", "--day", ""], "no such file"),
        (["check"], "one or more files"),
        (["check", "."], "no such file"),
        (["open", "heron_63v"], "heron_36v"),
    ],
)  # fmt: skip
def test_what_is_named_wrongly(words, said, call):
    status, out, err = call(*words)
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert said in err


def test_check_goes_on_after_a_bad_file(call, tmp_path):
    (tmp_path / "bad.toml").write_text("x", encoding="utf-8")
    status, out, err = call("check", tmp_path / "bad.toml", "heron_36v", "ece15_urban")
    assert (status, err.count("\n")) == (2, 1)
    assert 'a good build, "Heron, 36 V"' in out
    assert "a good trace, 195 s, 1.015 km" in out


@pytest.mark.parametrize("kind", ["builds", "days", "routes", "traces"])
def test_every_shipped_file_is_good(kind, call):
    for name in names(kind):
        status, out, err = call("check", name)
        assert (status, err) == (0, ""), name
        assert f"a good {kind[:-1]}" in out


def test_check_says_what_a_spin_test_leaves_open_and_what_to_measure_next(call, tmp_path):
    text = (shipped("data") / "logs" / "heron_motor_bench.toml").read_text(encoding="utf-8")
    free = tmp_path / "free.toml"
    free.write_text(text[: text.index("[[held]]")], encoding="utf-8")
    out = call("check", free).out
    assert "Left open: Resistance: no held rotor" in out
    assert "resistance_ohm =" not in out, "no line to copy where no value is to be believed"
    assert re.search(r"resistance_ohm: between 0\.\d+ and 1\.\d+; the log does not tell", out)
    assert "torque_constant_nm_per_a = { low = 0." in out
    assert "Measure next: " in out
    assert "hold the rotor at" in " ".join(out.split()), "where a line ends hangs on how long the folder's name is"
    unbraked = (shipped("data") / "logs" / "winch_motor_loads.toml").read_text(encoding="utf-8")
    loads = tmp_path / "loads.toml"
    loads.write_text("\n".join(line for line in unbraked.splitlines() if "torque_nm" not in line), encoding="utf-8")
    assert "Left open: Friction and viscous drag" in call("check", loads).out


def test_no_shipped_log_is_forgotten(call):
    for file in (shipped("data") / "logs").iterdir():
        status, out, err = call("check", file)
        assert (status, err) == (0, ""), file.name
        assert ": a good " in out


@pytest.mark.parametrize(
    ("name", "old", "new", "said"),
    [
        ("heron_motor_bench.toml", "voltage_v = 0.9", "voltage_v = 0.02", "Never run it unloaded"),
        ("heron_motor_bench.toml", "[[free_spin]]", "[[no_load]]", "its new name, free_spin"),
        ("winch_motor_loads.toml", "[[held]]", "[[locked]]", "its new name, held"),
        ("winch_motor_loads.toml", "speed_rpm = 998", "speed_rpm = 0", "a standing shaft with 57.8 A"),
        ("winch_motor_loads.toml", 'kind = "series-wound"', 'kind = "series"', "series-wound"),
        ("heron_motor_warm_up.toml", "minutes = ", "minuts = ", "minutes"),
        ("heron_block_fast.csv", "time_s,voltage_v,current_a", "time_s,voltage_v,curent_a", "current_a"),
    ],
)
def test_a_bad_log_is_named_as_its_loader_names_it(name, old, new, said, call, tmp_path):
    text = (shipped("data") / "logs" / name).read_text(encoding="utf-8")
    assert old in text
    (tmp_path / name).write_text(text.replace(old, new), encoding="utf-8")
    status, out, err = call("check", tmp_path / name)
    assert (status, out) == (2, "")
    assert said in err
    assert all(name in line for line in err.splitlines())


def test_check_lists_a_value_that_is_said_to_be_exact(call, tmp_path, heron_text):
    file = tmp_path / "heron.toml"
    file.write_text(
        heron_text.replace("peukert_exponent = 1.21", "peukert_exponent = { exact = 1.21 }"), encoding="utf-8"
    )
    assert "  pack.peukert_exponent = 1.21   exact" in call("check", file).out.splitlines()


def test_check_lists_what_follows_from_the_nameplate_and_the_chemistry(call):
    out = call("check", "puppet_cart").out
    assert "controller.cutoff_voltage_v = 21   20.16 to 21.84   (1.75 V a cell" in out
    assert "motor.winding_to_case_k_per_w = " in out
    assert "pack.block_resistance_ohm = 0.006   0.0036 to 0.0102   (0.30/Ah" in out


def test_nothing_the_file_states_is_listed_as_a_default(call, heron_text):
    """Of the section [pack] each stated key is absent from the list and each absent one that has a value is on it."""
    said, _, left_out = call("check", "heron_36v").out.partition("Defaults in play:")
    own, listed = (
        {line.split(" = ")[0].strip() for line in part.splitlines() if " = " in line} for part in (said, left_out)
    )
    stated = {f"pack.{key}" for key in tomllib.loads(heron_text)["pack"]}
    assert not listed & stated
    assert {"pack.block_capacity_ah", "pack.block_resistance_ohm"} <= own & stated
    assert {
        "pack.resistance_rise",
        "pack.polarisation_time_s",
        "pack.absorption_v_per_cell",
        "pack.energy_efficiency",
    } <= listed


def test_open_hands_the_absolute_paths_to_the_notebook(call, monkeypatch, tmp_path, heron_text):
    """Nothing is started here: the call that would start JupyterLab is caught."""
    (tmp_path / "mine.toml").write_text(heron_text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    seen = {}
    monkeypatch.setattr("ridesim.command._until_it_ends", lambda words, env: seen.update(words=words, env=env) or 0)
    assert call("open", "mine.toml", "heron_48v", "--day", "harbour_festival", "--no-browser").status == 0
    assert json.loads(seen["env"]["RIDESIM_BUILDS"])[0] == str((tmp_path / "mine.toml").resolve())
    assert seen["env"]["RIDESIM_DAY"].endswith("harbour_festival.toml")
    assert "--ServerApp.ip=127.0.0.1" in seen["words"]
    assert "--no-browser" in seen["words"]
    assert not any("token" in word for word in seen["words"]), "the token stays on"


@pytest.mark.thorough
def test_one_name_is_one_vehicle_in_terminal_python_and_panel(call, tmp_path, monkeypatch):
    """A build of one's own counts before the shipped one of its name, everywhere, and that is said."""
    own = (
        (shipped("data") / "builds" / "heron_36v.toml").read_text(encoding="utf-8").replace('"Heron, 36 V"', '"My own"')
    )
    (tmp_path / "heron_36v.toml").write_text(own, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    said = f"heron_36v is {(tmp_path / 'heron_36v.toml').resolve()}, not the shipped one."
    status, out, err = call("compare", "heron_36v", "--day", "harbour_festival", "--draws", "0")
    assert status == 0
    assert "My own" in out
    assert said in err
    assert ridesim.load_build("heron_36v").name == "My own"
    panel = ChooseDrive(["heron_36v", "heron_48v"], "harbour_festival", tmp_path)
    try:
        panel.wait()
        assert panel.builds[0].name == "My own"
        assert said in panel.status.text
    finally:
        panel.close()
