"""Blocks in a tray: nothing that fits is missed, nothing overlaps, the lowest comes first."""

from __future__ import annotations

from itertools import combinations, permutations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

import ridesim
from ridesim.sizing.tray import arrangements, missing_mm, room_to_grow
from ridesim.words import InputProblem

sides = st.integers(1, 3)


def every_way(tray, block, count, upright, odd=None):
    """Heights of the centre of all fillings on whole millimetres, tried one by one: as slow and as plain as can be."""

    def places(block):
        turned = {block, (block[1], block[0], block[2])} if upright else set(permutations(block))
        return [
            (x, y, z, *size)
            for size in turned
            for x, y, z in product(*(range(room - side + 1) for room, side in zip(tray, size, strict=True)))
        ]

    boxes = places(block)

    def apart(a, b):
        return any(a[i] + a[3 + i] <= b[i] or b[i] + b[3 + i] <= a[i] for i in range(3))

    def more(first, chosen):
        if len(chosen) == count + (odd is not None):
            volumes = [box[3] * box[4] * box[5] for box in chosen]
            yield sum(v * (box[2] + box[5] / 2.0) for v, box in zip(volumes, chosen, strict=True)) / sum(volumes)
            return
        for n in range(first, len(boxes)):
            if all(apart(boxes[n], box) for box in chosen):
                yield from more(n + 1, [*chosen, boxes[n]])

    if odd is None:
        return more(0, [])
    return (height for box in places(odd) for height in more(0, [box]))


@given(
    tray=st.tuples(st.integers(1, 4), st.integers(1, 4), st.integers(1, 3)), block=st.tuples(sides, sides, sides), count=st.integers(1, 3),
    upright=st.booleans(),
)  # fmt: skip
def test_it_finds_what_trying_every_place_finds(tray, block, count, upright):
    how = "upright" if upright else "any-side-but-top"
    ways = list(every_way(tray, block, count, upright))
    try:
        found = arrangements(tray, block, count, how)
    except InputProblem:
        assert not list(every_way(tray, block, 1, upright))
        return
    assert bool(found) == bool(ways)
    if found:
        assert found[0].centre_mm == pytest.approx(min(ways)), "the lowest"
        assert [each.centre_mm for each in found] == sorted(each.centre_mm for each in found)
        assert missing_mm(tray, block, count, how) == {}
    for one in found:
        assert len(one.blocks) == count
        for b in one.blocks:
            assert sorted((b.length, b.width, b.height)) == sorted(block)
            assert not upright or b.height == block[2]
            assert all(0 <= b[i] and b[i] + b[3 + i] <= tray[i] for i in range(3))
        for a, b in combinations(one.blocks, 2):
            assert any(a[i] + a[3 + i] <= b[i] or b[i] + b[3 + i] <= a[i] for i in range(3)), "no two overlap"


@given(
    tray=st.tuples(st.integers(1, 4), st.integers(1, 4), st.integers(1, 3)), block=st.tuples(sides, sides, sides),
    odd=st.tuples(sides, sides, sides), count=st.integers(1, 2), upright=st.booleans(),
)  # fmt: skip
def test_an_odd_block_beside_them_is_placed_as_low_as_trying_every_place_does(tray, block, odd, count, upright):
    how = "upright" if upright else "any-side-but-top"
    try:
        found = arrangements(tray, block, count, how, odd_mm=odd)
    except InputProblem:
        assert not list(every_way(tray, block, 1, upright)) or not list(every_way(tray, odd, 1, upright))
        return
    ways = list(every_way(tray, block, count, upright, odd))
    assert bool(found) == bool(ways)
    if found:
        assert found[0].centre_mm == pytest.approx(min(ways))
    for one in found:
        assert sorted(one.odd[3:]) == sorted(odd)
        for a, b in combinations((*one.blocks, one.odd), 2):
            assert any(a[i] + a[3 + i] <= b[i] or b[i] + b[3 + i] <= a[i] for i in range(3)), "no two overlap"


def test_where_the_terminals_point_and_the_room_before_them():
    """Upright they point up to the tray's height; lying on their broad sides one of them has the free end of the tray before it."""
    upright = arrangements((181, 231, 200), (181, 77, 167), 3, "upright")[0]
    assert [tuple(each) for each in upright.terminals] == [("up", 33.0)] * 3
    lying = arrangements((181, 190, 167), (181, 77, 167), 1)[0]
    assert lying.centre_mm == 38.5
    assert lying.terminals[0] == ("back", 23.0)
    beside = arrangements((400, 240, 200), (181, 77, 167), 3)[0]
    for placed, (side, room) in zip(beside.blocks, beside.terminals, strict=True):
        assert side != "down", "never upside down"
        assert 0.0 <= room <= 400.0
        assert 167 in placed[3:]


def test_many_blocks_and_an_odd_one_in_a_roomy_tray():
    """The odd one goes between the others, and all lie lower than upright in one layer."""
    found = arrangements((600, 400, 300), (181, 77, 167), 6, odd_mm=(151, 65, 94))[0]
    assert found.centre_mm < 40.0
    assert found.odd.z == 0.0


def test_blocks_may_be_larger_by_as_much_as_still_fits():
    assert room_to_grow((181, 231, 167), (181, 77, 167), 3, "upright") == pytest.approx(1.0, abs=2e-3)
    assert room_to_grow((200, 254.1, 183.7), (181, 77, 167), 3, "upright") == pytest.approx(1.1, abs=2e-3)
    assert room_to_grow((181, 220, 167), (181, 77, 167), 3, "upright") < 1.0


@given(
    tray=st.tuples(st.integers(2, 4), st.integers(2, 4), st.integers(1, 3)),
    block=st.tuples(sides, sides, sides),
    count=st.integers(2, 3),
)
def test_what_misses_makes_it_fit_and_a_millimetre_less_does_not(tray, block, count):
    try:
        found = missing_mm(tray, block, count)
    except InputProblem:
        return
    for axis, name in enumerate(("length", "width", "height")):
        if name in found:
            grown = [side + (found[name] if place == axis else 0) for place, side in enumerate(tray)]
            assert arrangements(grown, block, count)
            grown[axis] -= 1
            assert not arrangements(grown, block, count)


def test_a_known_tray():
    """Three blocks side by side take three widths; on their sides they lie lower; with air between them they need two gaps more."""
    assert arrangements((181, 231, 167), (181, 77, 167), 3, "upright")[0].centre_mm == 83.5
    assert arrangements((181, 230, 167), (181, 77, 167), 3, "upright") == ()
    assert missing_mm((181, 230, 167), (181, 77, 167), 3, "upright") == {
        "length": 181 - 181 + 50,
        "width": 1,
        "height": 167,
    }
    lying = arrangements((181, 501, 167), (181, 77, 167), 3)[0]
    assert lying.centre_mm == 38.5
    assert arrangements((181, 240, 167), (181, 77, 167), 3, "upright", clearance_mm=5) == ()
    with_air = arrangements((181, 241, 167), (181, 77, 167), 3, "upright", clearance_mm=5)[0]
    assert [block.y for block in with_air.blocks] == [0, 82, 164]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (
            ((100, 100, 100), (181, 77, 167), 1),
            "tray_mm: found 100 × 100 × 100 mm; expected room for one block of 181 × 77 × 167 mm",
        ),
        (((400, 200), (181, 77, 167), 1), "tray_mm: found 2 sizes; expected three"),
        (((400, 200, 200), (181, -77, 167), 1), "block_mm: found -77 mm"),
        ((None, (181, 77, 167), 1), "tray_mm: found None; expected three"),
        (((400, 200, 200), (181, 77, 167), 0), "count: found 0"),
        (((400, 200, 200), (181, 77, 167), 2.5), "count: found 2.5; expected a whole number"),
        (((400, 200, 200), (181, 77, 167), 2, "sideways"), "“sideways”; expected one of any-side-but-top"),
        (((400, 200, 200), (181, 77, 167), 2, "any", -1), "clearance_mm"),
    ],
)
def test_trays_that_cannot_be(arguments, words):
    with pytest.raises(InputProblem, match=words):
        arrangements(*arguments)


def test_a_pack_that_does_not_fit_its_tray_is_said():
    heron = ridesim.load_build("heron_36v")

    def told(tray):
        build = heron.changed({"pack.tray_mm": tray})
        return [
            each
            for each in ridesim.compare(build, "harbour_festival", draws=0).findings[build.name]
            if each.code == "does-not-fit"
        ]

    assert told([181, 231, 167]) == []
    (narrow,) = told([200, 150, 170])
    assert narrow.severity == "stop"
    assert narrow.text.startswith("3 blocks do not fit the tray of 200 × 150 × 170 mm: ")
    assert narrow.numbers == {
        f"missing_{axis}_mm": size for axis, size in missing_mm((200, 150, 170), (181, 77, 167), 3).items()
    }
    (tiny,) = told([100, 100, 100])
    assert "room for one block of 181 × 77 × 167 mm" in tiny.text
