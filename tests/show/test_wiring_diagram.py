"""The one-line diagram: every circuit with its figures on it, on one line to the motor, black on white, names as the user wrote them."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest

import ridesim
from ridesim.data import names
from ridesim.show.wiring_diagram import BOX, INCHES

SVG = "{http://www.w3.org/2000/svg}"


def texts(picture: str) -> list[str]:
    return ["".join(each.itertext()).strip() for each in ElementTree.fromstring(picture).iter(f"{SVG}text")]


@pytest.mark.parametrize("name", names("builds"))
def test_every_circuit_is_on_it_with_length_size_fuse_and_loss(name):
    wiring = ridesim.wiring(name, "harbour_festival")
    picture = ridesim.wiring_diagram(wiring)
    written = " | ".join(texts(picture))
    for each in wiring.sized:
        assert each.demand.load in written
        assert f"{each.section_mm2:g} mm², {each.demand.length_m:g} m" in written
        assert f"{each.limits.drop_v:.2f} V, {each.drop_percent:.1f} %" in written
        if each.protection:
            assert f"{each.protection.rating_a:g} A" in written
    assert "isolator" in written
    title = ElementTree.fromstring(picture).find(f"{SVG}title")
    assert title is not None
    assert wiring.verdict in title.text


def test_from_pack_to_motor_is_one_straight_line():
    """Strokes at the height of the battery's leads reach to the motor; only symbols and the controller's box lie between."""
    root = ElementTree.fromstring(ridesim.wiring_diagram(ridesim.wiring("heron_36v")))
    motor = max(float(circle.get("cx")) for circle in root.iter(f"{SVG}circle"))
    strokes = []
    for path in root.iter(f"{SVG}path"):
        for piece in path.get("d", "").split("M")[1:]:
            points = [tuple(map(float, pair.split(","))) for pair in re.findall(r"-?[\d.]+,-?[\d.]+", piece)]
            level = [(a[0], b[0]) for a, b in pairwise(points) if abs(a[1]) < 0.01 and abs(b[1]) < 0.01]
            strokes += [tuple(sorted(each)) for each in level]
    reached = min(strokes)[1]
    widest = BOX * INCHES * 72.0
    for begin, end in sorted(strokes):
        assert begin - reached <= widest + 1.0
        reached = max(reached, end)
    assert reached > motor


def test_black_and_white_only():
    picture = ridesim.wiring_diagram(ridesim.wiring("puppet_cart", "harbour_festival"))
    colours = set(re.findall(r"(?:stroke|fill):\s*([#\w]+)", picture)) | set(
        re.findall(r'(?:fill|stroke)="([^"]+)"', picture)
    )
    assert colours <= {"black", "white", "none"}


def test_names_are_written_as_they_are():
    nasty = 'a & b < "c" $x_1$ \\alpha'
    build = ridesim.load_build("heron_36v").changed({"lighting.load[1].name": nasty, "name": "<script>"})
    picture = ridesim.wiring_diagram(ridesim.wiring(build))
    assert any(each.startswith("a & b <") for each in texts(picture))
    assert "<script" not in picture


def test_lines_that_a_circuit_feeds_hang_on_its_end():
    main = {
        "name": "feeder",
        "role": "main",
        "source": "pack",
        "load": "splitter",
        "length_m": 1.0,
        "section_mm2": 16.0,
        "insulation_c": 105.0,
    }
    branches = [
        {**main, "name": f"branch {number}", "source": "splitter", "load": load}
        for number, load in enumerate(("controller", "heater"))
    ]
    build = ridesim.load_build("heron_36v").changed({"wiring": {"circuit": [main, *branches]}})
    written = texts(ridesim.wiring_diagram(ridesim.wiring(build)))
    assert {"splitter", "controller", "heater", "motor"} <= set(written)
    assert sum("in all" in each for each in written) == len(branches), "the loss of the whole way"
