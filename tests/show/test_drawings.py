"""The pictures: static layers kept, the right ink, direct labels that do not lie over each other."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from matplotlib.text import Text

import ridesim
from ridesim.day.day import clock
from ridesim.show import style
from ridesim.show.choose_drive.inputs import Slot, Wish, answer_of
from ridesim.show.choose_drive.saved import as_file, still_picture
from ridesim.show.choose_drive.strip import programme
from ridesim.show.panel.drawing import Canvas
from ridesim.show.pictures import clock as day_clock
from ridesim.show.pictures.charge import ChargeDiagram
from ridesim.show.pictures.heat import HeatDiagram
from ridesim.show.pictures.ledger import LedgerBars
from ridesim.show.pictures.pull import PullDiagram
from ridesim.show.pictures.scales import Places, round_top, text_width
from ridesim.show.sheet import build_sheet
from ridesim.show.units import METRIC
from tests.long import LONG
from tests.show.answers import whole

pytestmark = pytest.mark.pictures
DRAWINGS = [PullDiagram, ChargeDiagram, HeatDiagram, LedgerBars]


@cache
def answer_for(*names, **texts):
    slots = [Slot.of(key, ridesim.load_build(name), name) for key, name in enumerate(names)]
    slots[0] = slots[0].with_texts(**texts)
    return whole(Wish(tuple(slots), ridesim.load_day("harbour_festival")))


@pytest.fixture(scope="module")
def two():
    return answer_for("heron_36v", "heron_48v")


@pytest.fixture(scope="module")
def near():
    return answer_for("heron_36v", "heron_48v", battery_a="41")


@pytest.mark.parametrize("kind", DRAWINGS)
def test_kept_layer_gives_the_same_picture_as_a_fresh_one(kind, two, near):
    kept, fresh = Canvas(kind()), Canvas(kind())
    kept.pixels(two, 420, 260)
    after = np.array(kept.pixels(near, 420, 260))
    assert np.array_equal(after, np.array(fresh.pixels(near, 420, 260)))
    assert np.array_equal(np.array(kept.pixels(two, 420, 260)), np.array(Canvas(kind()).pixels(two, 420, 260))), (
        "nothing is left behind"
    )


@pytest.mark.parametrize("kind", DRAWINGS)
def test_axes_stand_still_for_a_small_step_and_come_back_from_a_large_one(kind, two, near):
    canvas = Canvas(kind())
    canvas.pixels(two, 420, 260)
    canvas.pixels(near, 420, 260)
    assert canvas.full_draws == 1
    far = answer_for("heron_36v", "heron_48v", blocks="8", motor_teeth="25")
    canvas.pixels(far, 420, 260)
    drawn = canvas.full_draws
    canvas.pixels(two, 420, 260)
    assert canvas.full_draws == drawn, "the former layer is found again"


@pytest.mark.parametrize("kind", DRAWINGS)
@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.thorough
def test_every_candidate_leaves_ink_in_its_colour(kind, dark):
    answer = answer_for("heron_36v", "heron_48v", "heron_lithium", "puppet_cart")
    look = style.look(dark)
    pixels = np.array(Canvas(kind()).pixels(answer, 520, 320, 1.0, look))[..., :3].astype(int)
    assert tuple(pixels[0, -1]) == tuple(int(look.paper[i : i + 2], 16) for i in (1, 3, 5))
    for colour in look.candidates:
        wanted = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)])
        assert (np.abs(pixels - wanted).sum(axis=2) < 12).sum() > 12


@pytest.mark.parametrize("kind", DRAWINGS)
def test_words_hold_the_main_numbers(kind, two):
    drawing = kind()
    Canvas(drawing).pixels(two, 420, 260)
    sentence, alt = drawing.sentence(two), drawing.alt(two)
    one = two.each[0].candidate
    number = {
        PullDiagram: f"{one.top_speed_kmh:.1f}", ChargeDiagram: f"{100 * one.left.value:.0f} %",
        HeatDiagram: f"{one.ride.outcome.lowest_pack_voltage_v:.1f}", LedgerBars: f"{one.ride.outcome.energy_wh:.0f} Wh",
    }[kind]  # fmt: skip
    assert number in sentence
    assert sentence in alt
    assert all(each.candidate.name in alt for each in two.each)


def written_in(drawing):
    return [note.get_text() for note in drawing.notes[: drawing.used]]


def test_limits_and_slopes_are_named_for_the_chosen_candidate(two):
    drawing = PullDiagram()
    Canvas(drawing).pixels(two, 700, 420)
    written = written_in(drawing)
    for wanted in (
        "held by the motor's amps",
        "by the pack's amps",
        "full throttle",
        "level",
        "Up the site ramp 8.3 %",
    ):
        assert written.count(wanted) == 1
    assert "24.2 km/h" in written
    assert "Heron, 48 V" in written
    Canvas(drawing).pixels(replace(two, chosen=1), 700, 420)
    assert "32.4 km/h" in written_in(drawing)
    assert "Heron, 36 V" in written_in(drawing)


@pytest.mark.parametrize(("wide", "high"), [(452, 248), (452, 284), (700, 430), (680, 150)])
def test_the_top_speed_stands_beside_its_ring(two, wide, high):
    for chosen, said in enumerate(("24.2 km/h", "32.4 km/h")):
        canvas = Canvas(PullDiagram())
        drawing = canvas.drawing
        canvas.pixels(replace(two, chosen=chosen), wide, high)
        (words,) = (each for each in drawing.notes[: drawing.used] if each.get_text() == said)
        box = words.get_window_extent(canvas._canvas.get_renderer())
        (x,), (y,) = drawing.tops[chosen].get_data()
        x, y = drawing.axes.transData.transform((x, y))
        assert max(box.x0 - x, x - box.x1, box.y0 - y, y - box.y1) < 15.0


@pytest.mark.parametrize("high", [110, 248, 430])
def test_the_reserve_s_line_does_not_strike_its_name_out(two, high):
    canvas = Canvas(ChargeDiagram())
    canvas.pixels(two, 480, high)
    (words,) = (each for each in canvas._figure.findobj(Text) if each.get_text() == "reserve 20 %")
    _, line = canvas.drawing.plot.axes.transData.transform((0.0, 20.0))
    box = words.get_window_extent(canvas._canvas.get_renderer())
    assert box.y1 < line or box.y0 > line


def test_the_lowest_charge_is_named_as_such_at_its_own_minute(two):
    drawing = ChargeDiagram()
    Canvas(drawing).pixels(two, 480, 280)
    ride = two.one.candidate.ride
    place = int(np.argmin(ride.rows["state_of_charge"]))
    assert (
        drawing.dip_words.get_text()
        == f"lowest {100.0 * ride.rows['state_of_charge'][place]:.0f} %, {clock(ride.clock_s[place])}"
    )


def test_the_strip_tells_the_times_of_the_ride(two):
    stages = two.one.candidate.ride.stages
    for act, stage in zip(programme(two)["acts"], stages, strict=True):
        assert f", {clock(stage.start_s)} to {clock(stage.end_s)}, " in act["words"]
    (charging,) = (act for act in two.day.activity if act.name == "On the stand, charging")
    assert clock(charging.start_s) == "17:20"
    assert "On the stand, charging, 17:20 to " in " ".join(act["words"] for act in programme(two)["acts"])


def test_a_long_name_is_cut_and_no_name_breaks_the_picture():
    drawing = PullDiagram()
    odd = answer_for("heron_36v", "heron_48v", name="x" * 60)
    Canvas(drawing).pixels(replace(odd, chosen=1), 700, 420)
    assert "x" * 19 + "…" in written_in(drawing)


def test_the_former_state_and_the_band_are_drawn_behind(two, near):
    bare, with_former = (
        np.array(Canvas(ChargeDiagram()).pixels(each, 420, 260)) for each in (two, replace(two, former=near.each[0]))
    )
    assert (bare != with_former).any()
    assert two.one.reach is not None
    hours, low, high = two.one.reach
    assert (np.diff(hours) >= 0.0).all()
    assert (low <= high).all()
    end = two.one.candidate.end_charge
    assert low[-1] == pytest.approx(end.low, abs=0.05)
    assert high[-1] == pytest.approx(end.high, abs=0.05)
    unbanded = replace(two, each=tuple(replace(one, reach=None) for one in two.each))
    assert (np.array(Canvas(ChargeDiagram()).pixels(unbanded, 420, 260)) != bare).any()


def test_what_the_page_reads_off_is_what_the_ride_says(two):
    drawing = ChargeDiagram()
    Canvas(drawing).pixels(two, 480, 280)
    reads = drawing.reads(two)
    left, top, right, bottom = reads["frame"]
    assert (right - left, bottom - top) == pytest.approx((480 - 30 - 42, 280 - 22 - 24))
    first, last = reads["ends"]
    for place in (0, 60, 150):
        hour = first + (last - first) * place / (len(reads["words"]) - 1)
        row = two.one.candidate.ride.at(hour * 3600.0)
        said = reads["words"][place]
        assert f"{100.0 * row.state_of_charge:.0f} % left" in said
        if row.activity != "between activities":
            assert row.activity in said
    slopes = PullDiagram()
    Canvas(slopes).pixels(two, 480, 280)
    shown = slopes.reads(two)["slopes"]
    ramp = next(n for n, act in enumerate(two.day.activity) if act.name == "Up the site ramp")
    assert len(shown[str(ramp)]) > 0
    stand = next(n for n, act in enumerate(two.day.activity) if act.path is None)
    assert shown[str(stand)] == []


@pytest.mark.parametrize("width", [200.0, 240.0, 320.0, 600.0])
def test_activity_names_never_lie_over_each_other(two, width):
    placed = day_clock.name_rows(two, width, (54.0, 58.0))
    assert len(placed) == len(two.day.activity)
    for (text, left, _, row), (other, start, _, line) in itertools.combinations(placed, 2):
        if row == line:
            assert left + day_clock._name_width(text) <= start or start + day_clock._name_width(other) <= left
    if width >= 320.0:
        assert all("…" not in text for text, *_ in placed), "whole names where there is room"


HERON = ridesim.load_build("heron_36v")
COMPARED = {
    "two": ["heron_36v", "heron_48v"],
    "four": ["heron_36v", "heron_48v", "heron_lithium", "puppet_cart"],
    "long name, small pack": [
        HERON.changed({"drive.motor_teeth": 20}, name="Fast one with a long name indeed"),
        HERON.changed({"pack.block_capacity_ah": 12}, name="small"),
    ],
    "no pull": [HERON.changed({"controller.max_motor_current_a": 10, "controller.max_battery_current_a": 10}, name="weak"), "puppet_cart"],
    "far apart": [HERON.changed({"pack.blocks_in_series": 6}, name="72 V"), HERON.changed({"drive.wheel_teeth": 25}, name="tall")],
}  # fmt: skip


@pytest.mark.parametrize("builds", COMPARED.values(), ids=COMPARED)
@pytest.mark.thorough
def test_no_label_is_cut_or_over_another_at_any_size(builds):
    """By the bounding boxes of all texts that a picture draws; a neighbour's edge may touch."""
    whole = answer_of(ridesim.compare(builds, "harbour_festival", draws=32))
    sizes = ((452, 248), (700, 430), *([(452, 284)] if LONG else []))
    canvases = {(kind, size): Canvas(kind()) for kind in DRAWINGS for size in sizes}
    for chosen, ((kind, (wide, high)), canvas) in itertools.product(range(len(builds)), canvases.items()):
        answer = replace(whole, chosen=chosen)
        canvas.pixels(answer, wide, high)
        drawn, moving = {id(each) for each in canvas.drawing.move(answer)}, {id(each) for each in canvas.drawing.movers}
        texts = [each for each in canvas._figure.findobj(Text) if each.get_visible() and each.get_text().strip()]
        boxes = [
            (each.get_text(), each.get_window_extent(canvas._canvas.get_renderer()))
            for each in texts
            if id(each) in drawn or id(each) not in moving
        ]
        cut = [text for text, b in boxes if b.x0 < -1 or b.y0 < -1 or b.x1 > wide + 1 or b.y1 > high + 1]
        over = [
            (text, other)
            for (text, a), (other, b) in itertools.combinations(boxes, 2)
            if min(a.x1, b.x1) - max(a.x0, b.x0) > 1.5 and min(a.y1, b.y1) - max(a.y0, b.y0) > 2.5
        ]
        assert (cut, over) == ([], []), (kind, chosen, wide, high)


def test_round_top_stands_still_and_holds_the_value():
    for value in np.linspace(0.011, 5000.0, 400):
        top = round_top(value)
        assert value < top <= 1.6 * value * 1.04
    assert round_top(360.0) == round_top(375.0) == 400.0
    assert round_top(0.0) == round_top(-1.0) == round_top(float("nan")) == 1.0


def test_places_never_overlap():
    places = Places(300.0, 200.0, [np.column_stack([np.linspace(0, 300, 50), np.linspace(0, 200, 50)])])
    boxes = []
    for text in ("motor current", "battery current", "full duty", "cut-off"):
        spot = places.best(text, [(150.0, 100.0), (60.0, 40.0)])
        assert spot is not None
        boxes.append((*spot, spot[0] + text_width(text), spot[1] + 14.0))
    for a, b in itertools.combinations(boxes, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


def contrast(one: str, other: str) -> float:
    """Contrast of two colours, 1 to 21.

    References
    ----------
    W3C, Web Content Accessibility Guidelines 2.1, "contrast ratio" and "relative luminance".
    """

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("look", [style.LIGHT, style.DARK], ids=["light", "dark"])
def test_contrast_of_text(look):
    # 4.5 : 1 for text, Web Content Accessibility Guidelines 2.1, criterion 1.4.3.
    for colour in (*look.candidates, look.ink, look.faint, look.warn):
        assert contrast(colour, look.paper) >= 4.5
        assert contrast(colour, look.shade) >= 4.5
    assert (
        len(set(map(str, style.LINES))) == len(set(style.MARKERS)) == len(set(style.HATCHES)) == style.MOST_CANDIDATES
    )


@pytest.mark.thorough
def test_text_of_the_user_is_drawn_as_it_stands():
    """A dollar sign begins no formula, neither in the panel's pictures nor in the saved one."""
    odd = answer_for("heron_36v", "heron_48v", name=r"Heron $\frac{1}{")
    for drawing in DRAWINGS:
        assert Canvas(drawing()).pixels(odd, 420, 260) is not None
    figure = still_picture(odd, METRIC)
    assert as_file(figure, "png")
    assert as_file(figure, "svg")
    texts = [each for each in figure.findobj(Text) if "$" in each.get_text()]
    assert texts
    assert not any(each.get_parse_math() for each in texts)
    assert "$" in build_sheet(odd.comparison).html
