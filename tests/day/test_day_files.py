"""Days, routes and traces as users write them."""

from __future__ import annotations

import numpy as np
import pytest

from ridesim import simulate
from ridesim.command import main
from ridesim.day import load_day, load_route, load_trace
from ridesim.words import InputProblem

DAY = '[[activity]]\nname = "a"\nstart = 10:00:00\nroute = "harbour_loop"\n'


@pytest.fixture
def written(tmp_path):
    """Writes a file and hands back its path."""

    def write(name: str, text: str):
        file = tmp_path / name
        file.write_text(text, encoding="utf-8")
        return file

    return write


def test_a_route_beside_the_day_s_file_comes_before_the_shipped_one(written):
    day = written("d.toml", DAY)
    assert load_day(day).activity[0].route.length_m == 800.0
    written("harbour_loop.csv", "length_m,speed_kmh\n5,5\n")
    assert load_day(day).activity[0].route.length_m == 5.0


def test_a_route_by_its_path_and_full_name(written, tmp_path):
    (tmp_path / "sub").mkdir()
    written("sub/loop.csv", "length_m,speed_kmh\n7,5\n")
    for reference in ("sub/loop", "sub/loop.csv", str(tmp_path / "sub" / "loop.csv")):
        assert load_day(written("d.toml", DAY.replace("harbour_loop", reference))).activity[0].route.length_m == 7.0


def test_columns_in_other_units_and_left_out_columns(written):
    route = load_route(written("r.csv", "# a remark\nspeed_mph,length_yd,stop_min\n10,100,1.5\n"))
    (leg,) = route.legs
    assert leg.speed_kmh == pytest.approx(16.09344)
    assert leg.length_m == pytest.approx(91.44)
    assert leg.stop_s == pytest.approx(90.0)
    assert (leg.grade_percent, leg.surface) == (0.0, "asphalt")
    trace = load_trace(written("t.csv", "time_min,speed_mps\n0,0\n1,5\n"))
    assert trace.duration_s == pytest.approx(60.0)
    assert trace.fastest_kmh == pytest.approx(18.0)


def test_limits_hold_in_the_user_s_own_unit(written):
    assert load_route(written("r.csv", "length_m,speed_mph\n5,186\n")).legs[0].speed_kmh < 300.0
    with pytest.raises(InputProblem, match=r"line 2, speed_mph: found 187; .* at most 300 km/h"):
        load_route(written("r.csv", "length_m,speed_mph\n5,187\n"))


@pytest.mark.parametrize(
    ("cell", "said"),
    [("ten", 'found "ten"'), ("1_0", 'found "1_0"'), ("", "found an empty cell"), ("inf", "a finite number"), ("NaN", "a finite number"),
     ("1e300", "at most"), ("-3", "above 0"), ("0", "above 0"), ('"1,5"', 'found "1,5"')],
)  # fmt: skip
def test_one_message_for_each_bad_cell(cell, said, written):
    with pytest.raises(InputProblem) as caught:
        load_route(written("r.csv", f"length_m,speed_kmh\n10,10\n{cell},10\n"))
    assert caught.value.place == "line 3, length_m"
    assert said in str(caught.value)


def test_the_line_is_the_file_s_own(written):
    """Remarks and empty lines count, as they do in an editor."""
    with pytest.raises(InputProblem, match="line 6"):
        load_route(written("r.csv", "# remark\n\nlength_m,speed_kmh\n10,10\n\nx,10\n"))


def test_a_log_may_count_seconds_from_anywhere(written):
    trace = load_trace(written("t.csv", "time_s,speed_kmh\n1760000000,0\n1760000010,36\n"))
    assert trace.duration_s == 10.0
    assert trace.length_m == pytest.approx(50.0)
    with pytest.raises(InputProblem, match="a week at most"):
        load_trace(written("t.csv", "time_s,speed_kmh\n0,0\n1760000010,36\n"))


def test_an_empty_speed_coasts(written):
    trace = load_trace(written("t.csv", "time_s,speed_kmh,grade_percent\n0,36,0\n10,36,1\n20,,2\n30,18,-4\n"))
    assert np.isnan(trace.speed_kmh).tolist() == [False, False, True, False]
    assert trace.length_m == pytest.approx(100.0)  # coasted intervals count nothing
    assert (trace.steepest_percent, trace.steepest_either_way_percent) == (2.0, 4.0)


def test_a_day_loaded_again_is_the_same_day(written):
    """What is kept of a day is found again: with a trace, which may have empty speeds."""
    day = written("d.toml", DAY.replace("route", "trace").replace("harbour_loop", "t"))
    trace = written("t.csv", "time_s,speed_kmh\n0,36\n10,36\n20,\n30,18\n")
    one, again = load_day(day), load_day(day)
    assert one == again
    assert hash(one) == hash(again)
    trace.write_text("time_s,speed_kmh\n0,36\n10,36\n20,\n30,19\n", encoding="utf-8")
    assert load_day(day) != one


@pytest.mark.parametrize("same", ["5", "4.999"])
def test_time_must_rise(same, written):
    with pytest.raises(InputProblem, match="line 4, time_s") as caught:
        load_trace(written("t.csv", f"time_s,speed_kmh\n0,0\n5,10\n{same},10\n"))
    assert caught.value.found == f"{same} after 5"


def _standing(name: str, start: str, minutes: float, more: str = "") -> str:
    return f'[[activity]]\nname = "{name}"\n{start}duration_min = {minutes}\n{more}'


def test_the_next_day_is_later(written):
    first = _standing("late show", "start = 23:30:00\n", 20)
    later = load_day(written("d.toml", first + _standing("breakfast", "start = 08:00:00\n", 20, "day = 2\n")))
    assert later.activity[1].start_s == 32 * 3600.0
    with pytest.raises(InputProblem, match=r"activity\[2\]\.start"):
        load_day(written("d.toml", first + _standing("breakfast", "start = 08:00:00\n", 20)))


ONE = _standing("one", "start = 10:00:00\n", 60)
CHAIN = _standing("one", "start = 10:00:00\n", 30) + _standing("two", "", 30)
CYCLES = '[[activity]]\nname = "ride"\nstart = 10:00:00\ntrace = "ece15_urban"\nrepeats = 3\n'


@pytest.mark.parametrize(
    ("before", "start", "said"),
    [
        (ONE, "11:00:00", None),
        (ONE, "10:59:59", '"one" ends at 11:00'),
        (CHAIN, "11:00:00", None),  # the second begins when the first ends, 10:30, and takes until 11:00
        (CHAIN, "10:45:00", '"two" ends at 11:00'),
        (CYCLES, "10:09:00", '"ride" ends at 10:09'),  # three rounds of the 195 s urban cycle end at 10:09:45
        (CYCLES, "10:09:45", None),
    ],
)
def test_overlap_is_told_to_the_second(before, start, said, written):
    file = written("d.toml", before + _standing("last", f"start = {start}\n", 5))
    if said is None:
        assert load_day(file).activity[-1].name == "last"
    else:
        with pytest.raises(InputProblem, match=f"before {said}"):
            load_day(file)


@pytest.mark.parametrize(
    ("good", "wrong", "place"),
    [
        ('name = "a"\n', 'name = "a"\nlaps = 0\n', "activity[1].laps"),
        ('name = "a"\n', 'name = "a"\nrepeats = 2\n', "activity[1].repeats"),
        ('name = "a"\n', 'name = "a"\nlightning = 1.0\n', "activity[1].lightning"),
        ('name = "a"\n', 'name = "a"\nduration_kg = 1.0\n', "activity[1].duration_kg"),
        ('"harbour_loop"', "7", "activity[1].route"),
        ('"harbour_loop"', '"nowhere"', "activity[1].route"),
        ('route = "harbour_loop"', 'trace = "nowhere"', "activity[1].trace"),
        ("start = 10:00:00\n", "", "activity[1].start"),
        ("start = 10:00:00", 'start = "10:00"', "activity[1].start"),
        ("[[activity]]", "ambient_c = -60\n[[activity]]", "ambient_c"),
        ("[[activity]]", "ambient_f = 200\n[[activity]]", "ambient_f"),
        ("[[activity]]", "[activity]", "activity"),
    ],
)
def test_the_place_of_what_is_wrong(good, wrong, place, written):
    assert good in DAY
    with pytest.raises(InputProblem) as caught:
        load_day(written("d.toml", DAY.replace(good, wrong)))
    assert caught.value.place == place


@pytest.mark.parametrize(
    ("cell", "percent"), [("1:8", 12.5), ("-1:8", -12.5), ("1 : 12.5", 8.0), ("1:100", 1.0), ("8.3", 8.3)]
)
def test_a_slope_as_one_in_so_many(written, cell, percent):
    """Per cent is rise over run times a hundred, by definition."""
    assert (
        load_route(written("r.csv", f"length_m,speed_kmh,grade_percent\n5,5,{cell}\n")).legs[0].grade_percent == percent
    )
    trace = load_trace(written("t.csv", f"time_s,speed_kmh,grade_percent\n0,5,{cell}\n9,5,{cell}\n"))
    assert list(trace.grade_percent) == [percent, percent]


@pytest.mark.parametrize(
    ("cell", "said"), [("1:0", 'found "1:0"'), ("2:8", 'found "2:8"'), ("1:1.5", "between -60 and 60 %")]
)
def test_a_slope_that_is_none(written, cell, said):
    with pytest.raises(InputProblem, match=f"line 2, grade_percent: .*{said}"):
        load_route(written("r.csv", f"length_m,speed_kmh,grade_percent\n5,5,{cell}\n"))


def test_a_ramp_of_boards_rolls_a_little_harder(written):
    (leg,) = load_route(written("r.csv", "length_m,speed_kmh,surface\n5,5,wood\n")).legs
    assert 1.0 < leg.surface_factor < 1.5


STAND = '[[activity]]\nname = "stand"\nstart = {}\nend = {}\nlighting = 0.5\ncharge_current_a = 2.0\n'


@pytest.mark.parametrize(
    ("start", "end", "minutes"),
    [("17:20:00", "18:50:00", 90.0), ("22:30:00", "00:15:00", 105.0), ("06:00:00", "18:00:00", 720.0)],
)
def test_an_end_in_place_of_a_duration(written, start, end, minutes):
    """Past midnight it is the next morning's; the ride, and the charge on it, take as long."""
    day = load_day(written("d.toml", STAND.format(start, end)))
    assert day.activity[0].duration_s == 60.0 * minutes
    ride = simulate("heron_36v", day)
    assert ride.stages[0].end_s - ride.stages[0].start_s == pytest.approx(60.0 * minutes)
    assert "min standing" in repr(day)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            STAND.format("17:20:00", "17:20:00"),
            r"activity\[1\].end: found 17:20 after a start at 17:20; expected a clock time within 12",
        ),
        (STAND.format("17:20:00", "16:50:00"), "found 16:50 after a start at 17:20"),
        (STAND.format("17:20:00", "16:50:00").replace("start = 17:20:00\n", ""), "end: found 16:50 without a start"),
        (STAND.format("17:20:00", "18:50:00") + "duration_min = 90\n", "found duration_min and end"),
    ],
)
def test_an_end_that_is_none(written, text, said):
    with pytest.raises(InputProblem, match=said):
        load_day(written("d.toml", text))


def test_check_prints_the_timetable(written, capsys):
    """By hand: two laps of 100 m at 10 km/h with a stop of 14 s are 100 s; nothing is sooner at its end."""
    written("short.csv", "length_m,speed_kmh,stop_s\n100,10,14\n")
    ride = '[[activity]]\nname = "ride"\nstart = 17:00:00\nroute = "short"\nlaps = 2\n'
    day = written(
        "d.toml", ride + STAND.format("17:30:00", "18:15:00") + '[[activity]]\nname = "home"\nroute = "short"\n'
    )
    assert main(["check", str(day)]) == 0
    lines = [" ".join(line.split()) for line in capsys.readouterr().out.splitlines()]
    assert "From 17:00 to 18:15 or later, 0.30 km to ride." in lines
    assert "ride 17:00 > 17:01 > 2 0.20" in lines
    assert "(gap, lights off) > 17:01 17:30 < 28" in lines
    assert "stand 17:30 18:15 45 50 2" in lines
    assert "home 18:15 > 18:15 > 1 0.10" in lines


def test_all_faults_of_a_day_and_its_routes_at_once(written):
    """One line each: a route that is missing, three rows of another, a wrong key and a wrong value; nothing that follows from them."""
    written("bad.csv", "length_m,speed_kmh\n5,fast\n5,5\n0,5\n5\n")
    text = DAY.replace("harbour_loop", "harbor_lop") + DAY.replace("harbour_loop", "bad").replace("10:", "11:")
    day = written("d.toml", "ambient_c = 300\nheadwnd_mps = 1\n" + text)
    with pytest.raises(InputProblem) as caught:
        load_day(day)
    places = [line.split(": found")[0].replace(str(day.parent), "") for line in str(caught.value).splitlines()]
    assert places == [
        "/d.toml, activity[1].route", "/bad.csv, line 2, speed_kmh", "/bad.csv, line 4, length_m", "/bad.csv, line 5",
        "/d.toml, headwnd_mps", "/d.toml, ambient_c",
    ]  # fmt: skip
