"""Inputs that once destroyed a file, hung, took gigabytes or ended in a traceback: one clear message each, in a moment."""

from __future__ import annotations

import csv
import os
import stat
import subprocess
import sys
import threading
import time

import pytest

from ridesim.bench.logs import load_log
from ridesim.bench.motor.identify import identify_motor
from ridesim.data import shipped
from ridesim.day import load_day, load_route, load_trace
from ridesim.forms import write_beside_then_replace, write_new
from ridesim.show.tables.outcome import harmless
from ridesim.vehicle import load_build
from ridesim.words import InputProblem
from tests.long import LONG

HANGS_S = 30.0
"""No measure of speed: what once hung took minutes."""


def refused(load, *words) -> str:
    """The message of what is refused, in brief and without hanging."""
    begin = time.perf_counter()
    with pytest.raises(InputProblem) as raised:
        load(*words)
    assert time.perf_counter() - begin < HANGS_S
    assert len(str(raised.value)) < 1000
    return str(raised.value)


@pytest.fixture
def spoilt(tmp_path, heron_text):
    """The Heron's file with a line replaced."""

    def make(old: str, new: str):
        assert old in heron_text
        file = tmp_path / "spoilt.toml"
        file.write_text(heron_text.replace(old, new), encoding="utf-8")
        return file

    return make


# What is read is not written over


@pytest.fixture
def own(tmp_path, heron_text, festival_text):
    """A build, a day and its routes in the user's folder."""
    (tmp_path / "b.toml").write_text(heron_text, encoding="utf-8")
    (tmp_path / "d.toml").write_text(festival_text, encoding="utf-8")
    for name in ("harbour_loop", "site_ramp", "truck_ramp"):
        (tmp_path / f"{name}.csv").write_bytes((shipped("data") / "routes" / f"{name}.csv").read_bytes())
    (tmp_path / "soft.csv").symlink_to(tmp_path / "b.toml")
    (tmp_path / "hard.csv").hardlink_to(tmp_path / "b.toml")
    (tmp_path / "page.html").hardlink_to(tmp_path / "d.toml")
    return tmp_path


@pytest.mark.parametrize("name", ["b.toml", "d.toml", "harbour_loop.csv", "soft.csv", "hard.csv"])
def test_the_steps_are_not_written_over_what_was_read(own, call, name):
    before = (own / name).read_bytes()
    status, _, err = call("simulate", own / "b.toml", "--day", own / "d.toml", "--csv", own / name)
    assert status == 2
    assert "a file that was read" in err
    assert (own / name).read_bytes() == before
    assert not list(own.glob("*.part"))


def test_nor_is_the_sheet(own, call):
    before = (own / "page.html").read_bytes()
    status, _, err = call("compare", own / "b.toml", "--day", own / "d.toml", "--sheet", own / "page.html")
    assert (status, "a file that was read" in err) == (2, True)
    assert (own / "page.html").read_bytes() == before


@pytest.mark.skipif(os.name == "nt", reason="devices of another system")
def test_devices_pipes_loops_and_read_only_files_stay_what_they_are(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "one").symlink_to(tmp_path / "two")
    (tmp_path / "two").symlink_to(tmp_path / "one")
    (tmp_path / "kept.csv").write_text("kept", encoding="utf-8")
    (tmp_path / "kept.csv").chmod(0o444)
    for name, found in {
        "/dev/null": "a device or a pipe", tmp_path / "pipe": "a device or a pipe", tmp_path / "one": "in a circle",
        tmp_path / "kept.csv": "read-only",
    }.items():  # fmt: skip
        assert found in refused(write_beside_then_replace, tmp_path / name, "new")
    assert stat.S_ISCHR(os.stat("/dev/null").st_mode)
    assert (tmp_path / "kept.csv").read_text(encoding="utf-8") == "kept"
    assert refused(load_build, tmp_path / "one")


def test_parts_of_a_killed_save_go_and_those_of_a_living_one_stay(tmp_path):
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    names = {
        f".b.toml.{dead.pid}-0123abcd.part": False,
        f".b.toml.{os.getpid()}-0123abcd.part": True,
        "mine.part": True,
    }
    for name in names:
        (tmp_path / name).touch()
    write_beside_then_replace(tmp_path / "c.csv", "new")
    assert {name: (tmp_path / name).exists() for name in names} == names


def test_exporters_at_once_lose_nothing(tmp_path):
    """Twenty threads write under one name: twenty files."""
    threads = [threading.Thread(target=write_new, args=(tmp_path, "table", "csv", f"{n}")) for n in range(20)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert sorted(int(file.read_text(encoding="utf-8")) for file in tmp_path.iterdir()) == list(range(20))


def test_writing_leaves_the_umask_alone(tmp_path):
    before = os.umask(0o027)
    try:
        write_beside_then_replace(tmp_path / "new.csv", "new")
        assert os.umask(0o027) == 0o027
    finally:
        os.umask(before)


# Numbers, keys and files that are too much


MASS = "rolling_radius_m = "


@pytest.mark.parametrize(
    "value",
    [
        "inf",
        "-inf",
        "nan",
        "1e310",
        "1" + 400 * "0",
        "1" + 5000 * "0",
        "5e-324",
        "1e-300",
        '"' + 5000 * "x" + '"',
        3000 * "[",
    ],
)
def test_absurd_numbers_of_a_build(spoilt, heron_text, value):
    line = next(line for line in heron_text.splitlines() if line.startswith("block_capacity_ah"))
    message = refused(load_build, spoilt(line, f"block_capacity_ah = {value}"))
    assert "spoilt.toml" in message


@pytest.mark.parametrize("key", ["a" + 30_000 * ".b" + " = 1", "[" + "a." * 30_000 + "a]", "x" * 100_000 + " = 1"])
def test_absurd_keys(spoilt, key):
    assert refused(load_build, spoilt("[vehicle]", key + "\n[vehicle]"))


@pytest.mark.parametrize(
    "line", ["braking_mps2 = 5e-324", "rider_acceleration_mps2 = 1e310", "ambient_c = -inf", "headwind_mps = nan"]
)
def test_absurd_numbers_of_a_day(tmp_path, festival_text, line):
    (tmp_path / "d.toml").write_text(f"{line}\n{festival_text}", encoding="utf-8")
    assert "d.toml" in refused(load_day, tmp_path / "d.toml")


@pytest.mark.parametrize("cell", ["1e300", "1e310", "-inf", "nan", "5e-324", "9" * 5000, "x" * 5000, "\x1b[31m"])
def test_absurd_cells(tmp_path, cell):
    (tmp_path / "t.csv").write_text(f"time_s,speed_kmh\n{cell},0\n1e301,5\n", encoding="utf-8")
    (tmp_path / "r.csv").write_text(f"length_m,speed_kmh\n{cell},5\n", encoding="utf-8")
    rows = "".join(f"{n},12.5,3\n" for n in range(20))
    (tmp_path / "l.csv").write_text(f"time_s,voltage_v,current_a\n{rows}{cell},12,3\n", encoding="utf-8")
    for load, name in ((load_trace, "t.csv"), (load_route, "r.csv"), (load_log, "l.csv")):
        message = refused(load, tmp_path / name)
        assert "line" in message
        assert all(line.isprintable() for line in message.split("\n"))
        assert cell[:100] not in message or len(cell) <= 80


def test_tiny_volts_in_a_bench_log(tmp_path):
    text = (shipped("data") / "logs" / "heron_motor_bench.toml").read_text(encoding="utf-8")
    for line in [line for line in text.splitlines() if line.startswith("voltage_v")]:
        (tmp_path / "l.toml").write_text(text.replace(line, "voltage_v = 5e-324", 1), encoding="utf-8")
        assert refused(lambda: identify_motor(load_log(tmp_path / "l.toml")))


PLAIN_READINGS = 25.0
"""Loading may take so many times what the bare CSV reader and float() take on the same text, which is a tenth of a second a megabyte."""


@pytest.mark.skipif(not LONG, reason="compares two clocks; RIDESIM_LONG=1")
def test_a_megabyte_loads_in_a_moment(tmp_path):
    """As a ratio within one run, without what a coverage measurement adds to each of our lines."""
    rows = "".join(f"{n},{10 + n % 7},{n % 5 - 2}\n" for n in range(1, 80_000))[:990_000].rpartition("\n")[0]
    for load, head in (
        (load_trace, "time_s,speed_kmh,grade_percent\n"),
        (load_route, "length_m,speed_kmh,grade_percent\n"),
    ):
        (tmp_path / "big.csv").write_text(head + rows, encoding="utf-8")
        tracer = sys.gettrace()
        sys.settrace(None)
        try:
            spans = [time.thread_time()]
            load(tmp_path / "big.csv")
            spans.append(time.thread_time())
            assert len([[float(cell) for cell in row] for row in csv.reader(rows.splitlines())]) > 50_000
            spans.append(time.thread_time())
        finally:
            sys.settrace(tracer)
        assert spans[1] - spans[0] < PLAIN_READINGS * (spans[2] - spans[1])


# Text that is drawn, printed, or opened in a spreadsheet


@pytest.mark.parametrize("sign", ["\\u001b[2J", "\\u0085", "\\u2028", "\\u202e", "\\u0007", "\\u200b"])
def test_names_with_signs_that_cannot_be_seen_are_refused(spoilt, sign):
    """In the build's name, in an item's, in a lamp's: the message shows the sign's number."""
    for old in ('name = "Heron, 36 V"', 'item = "'):
        where = spoilt(old, f'{old[:-1]}{sign}x"' if old.endswith('V"') else f"{old}{sign}")
        message = refused(load_build, where)
        assert "cannot be seen" in message
        assert all(line.isprintable() for line in message.split("\n"))


@pytest.mark.parametrize(
    ("cell", "written"),
    [
        ("=1+2", "'=1+2"), ("@SUM(A1)", "'@SUM(A1)"), ("+cmd", "'+cmd"), ("-2+3", "'-2+3"), ("\tx", "'\tx"),
        ("+1.5", "+1.5"), ("-3", "-3"), ("-", "-"), ("Heron", "Heron"),
    ],
)  # fmt: skip
def test_no_spreadsheet_takes_a_name_for_a_formula(cell, written):
    assert harmless(cell) == written


def test_the_saved_steps_carry_no_formula(tmp_path, call, festival_text):
    (tmp_path / "d.toml").write_text(festival_text.replace('"Rehearsal"', '"=HYPERLINK(1)"'), encoding="utf-8")
    assert call("simulate", "heron_36v", "--day", tmp_path / "d.toml", "--csv", tmp_path / "s.csv").status == 0
    saved = (tmp_path / "s.csv").read_text(encoding="utf-8")
    assert ",'=HYPERLINK(1)," in saved
    assert ",=HYPERLINK" not in saved


@pytest.mark.parametrize("encoding", ["ascii", *(["latin-1"] if LONG else [])])
@pytest.mark.thorough
def test_terminals_without_our_signs(encoding):
    words = [sys.executable, "-m", "ridesim"]
    for rest in (
        ["compare", "heron_36v", "--day", "harbour_festival", "--draws", "32"],
        ["check", "heron_36v"],
        ["check", "no such file"],
    ):
        env = {**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}
        done = subprocess.run([*words, *rest], env=env, capture_output=True, check=False)
        assert b"Traceback" not in done.stderr
        assert done.returncode in (0, 2)
        assert (done.stdout + done.stderr).decode(encoding)


@pytest.mark.parametrize(
    "words",
    [
        ["compare", "heron_36v", "heron_48v", "heron_lithium", "puppet_cart", "--day", "harbour_festival"],
        ["simulate", "heron_36v", "--day", "harbour_festival"],
        ["check", "heron_36v", "harbour_festival", "heron_motor_bench"],
    ],
)
@pytest.mark.thorough
def test_eighty_columns_are_enough(words, call, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    lines = call(*words).out.splitlines()
    pasteable = lines[-1] if " open heron" in lines[-1] else None
    assert [line for line in lines if len(line) > 80 and line != pasteable] == []
