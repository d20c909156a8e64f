"""The public names as a scientist in a notebook meets them: documented, their examples run, names or objects in, short forms out."""

from __future__ import annotations

import doctest
import inspect
from pathlib import Path

import pytest

import ridesim
from ridesim.words import InputProblem, in_short

FUNCTIONS = [name for name in ridesim.__all__ if inspect.isfunction(getattr(ridesim, name))]
ARGUMENTS = {"steady_range": (15.0,), "time_to_speed": (10.0,)}
"""What a function asks for beside a build and a day."""


def takes(name: str, argument: str) -> bool:
    return argument in inspect.signature(getattr(ridesim, name)).parameters


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_public_function_says_what_goes_in_what_comes_out_and_what_is_refused(name):
    function = getattr(ridesim, name)
    text = inspect.getdoc(function)
    for section in ("Parameters", "Returns", "Raises", "Examples"):
        assert f"{section}\n{'-' * len(section)}" in text, f"{name} has no {section}"
    for argument in inspect.signature(function).parameters:
        assert argument in text, f"{name} does not say what {argument} is"


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_example_runs(name):
    found = [test for test in doctest.DocTestFinder(recurse=False).find(getattr(ridesim, name), name) if test.examples]
    assert found
    for test in found:
        assert doctest.DocTestRunner().run(test).failed == 0


@pytest.mark.parametrize("name", [name for name in FUNCTIONS if takes(name, "build") and name != "save_build"])
def test_a_name_gives_what_its_object_gives_and_anything_else_is_refused_by_name(name, festival):
    given, heron = getattr(ridesim, name), ridesim.load_build("heron_36v")
    function = given if name != "steady_range" else lambda build, day, speed: given(build, speed, day)
    days = ([festival], ["harbour_festival"]) if takes(name, "day") else ([], [])
    more = ARGUMENTS.get(name, ())
    assert repr(function(heron, *days[0], *more)) == repr(function("heron_36v", *days[1], *more))
    with pytest.raises(TypeError, match="expected a Build, or the name or path of a build; found Day"):
        function(festival, *days[0], *more)
    with pytest.raises(InputProblem, match="Nearest shipped name: heron_36v"):
        function("heron_63v", *days[0], *more)
    if days[0]:
        with pytest.raises(TypeError, match="expected a Day, or the name or path of a day; found Build"):
            function(heron, heron, *more)


def test_one_build_or_several_by_name_or_as_they_are(festival):
    heron = ridesim.load_build("heron_36v")
    several = ridesim.compare((each for each in (heron, "heron_48v")), "harbour_festival")
    alone = ridesim.compare(Path("heron_36v"), festival)
    assert list(several.table.index) == ["Heron, 36 V", "Heron, 48 V"]
    assert alone.candidates[0].findings == several.candidates[0].findings
    assert len(ridesim.simulate_many(heron, festival)) == 1
    for wrong in (festival, 36, [36]):
        with pytest.raises(TypeError, match="expected a Build"):
            ridesim.compare(wrong, festival)


def test_short_forms_are_short_and_escape_what_users_write(festival):
    nasty = ridesim.load_build("heron_36v").changed({"name": "<script>"})
    comparison = ridesim.compare(nasty, festival)
    finding = ridesim.Finding("code", "stop", "a < b")
    for each in (nasty, festival, comparison, comparison.candidates[0], finding, ridesim.Uncertain(1.0, 0.5, 2.0)):
        assert len(repr(each).splitlines()) <= 20, type(each)
        assert len(repr(each)) < 2000, type(each)
        html = each._repr_html_() if hasattr(each, "_repr_html_") else ""
        assert "<script" not in html
        assert "a < b" not in html
    assert len(in_short("many", [(str(row),) for row in range(500)]).splitlines()) <= 20
    assert repr(ridesim.Uncertain(1.0, 0.5, 2.0)) == "1 (0.5 to 2)"


def test_ten_lines_sweep_the_sprockets_and_draw_the_sweep(tmp_path):
    """Fewer motor teeth: slower, and steeper starts; the same figures whether asked one by one or side by side."""
    from matplotlib.figure import Figure

    heron = ridesim.load_build("heron_36v")
    sweep = [heron.changed({"drive.motor_teeth": teeth}, name=f"{teeth} teeth") for teeth in range(9, 16, 2)]
    table = ridesim.compare(sweep, "harbour_festival").table
    axes = Figure().add_subplot()
    table.plot(x="gear_ratio", y=["top_speed_kmh", "steepest_start_percent"], ax=axes)
    axes.figure.savefig(tmp_path / "sprockets.png")

    assert table["top_speed_kmh"].is_monotonic_increasing
    assert table["steepest_start_percent"].is_monotonic_decreasing
    assert list(table["top_speed_kmh"]) == [ridesim.top_speed_kmh(build) for build in sweep]
    assert (tmp_path / "sprockets.png").stat().st_size > 0
