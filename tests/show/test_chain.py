"""The chain panel without a browser: what is moved counts, tables say what the functions say, nothing typed is lost."""

from __future__ import annotations

import csv
import re
import xml.etree.ElementTree as ET

import pytest

import ridesim
from ridesim.show.chain.inputs import FIRST_TEXTS, ChainWish, answer, day_pull_n
from ridesim.show.chain.panel import ChainAndMounting
from ridesim.show.chain.side import chain_svg
from ridesim.show.chain.tables import donor_html, fit_html, strength_html, travel_html, wheel_html
from ridesim.show.units import IMPERIAL, METRIC
from ridesim.sizing.chain import centre_distance_exact
from ridesim.sizing.chain_fit import chain_fit, chain_pull_n
from ridesim.sizing.chain_life import chain_duty
from ridesim.sizing.mounting import idler, mounting
from ridesim.words import InputProblem

HERON = ridesim.load_build("heron_36v")


@pytest.fixture
def panel(tmp_path):
    made = ChainAndMounting(FIRST_TEXTS, tmp_path)
    assert made.wait()
    yield made
    made.close()


def found(tmp_path, moved=None, **texts):
    return answer(ChainWish({**FIRST_TEXTS, **texts}, moved or {}), tmp_path)


def test_the_verdict_is_what_the_functions_say(tmp_path):
    assert found(tmp_path).sentence == chain_fit(HERON).verdict == (
        "The chain 08B with 110 links fits: 1 mm of travel taken of 25, holds the stall pull 18 times."
    )  # fmt: skip
    there = found(tmp_path, {"drive.shaft_x_m": 0.505, "drive.shaft_z_m": 0.414})
    assert "But there the motor touches the swinging arm's pivot by" in there.sentence
    assert "the arm’s travel slackens the chain too far" in there.sentence
    assert {"motor-touches", "chain-slackens", "few-teeth"} <= {each.code for each in there.watch}
    short = found(tmp_path, {"drive.adjuster_travel_mm": 0.5})
    assert "does not fit: 0.7 mm of travel are needed and there are 0.5" in short.sentence
    assert idler(short.mounting.fit) == short.idler is not None
    assert f"press the lower span in by {short.idler.press_mm:.0f} mm" in fit_html(short, METRIC)
    assert "ridesim-short" in chain_svg(short.mounting, "", METRIC)


def test_what_is_not_stated_is_assumed_and_said(tmp_path):
    cart = found(tmp_path, build="puppet_cart")
    assert cart.assumed == ("381 mm between the centres",)
    assert "Not stated, so assumed here: 381 mm between the centres." in cart.sentence
    assert "if it has that travel" in cart.sentence
    assert cart.mounting.swing is None
    assert "State vehicle.pivot_x_m" in travel_html(cart, METRIC)
    placed = found(tmp_path, {"drive.shaft_x_m": 0.36, "drive.shaft_z_m": 0.30}, build="puppet_cart")
    assert placed.assumed == ()
    assert placed.build.drive.centre_distance_mm == pytest.approx(1000.0 * (0.36**2 + 0.10**2) ** 0.5, abs=0.05)


def test_what_is_dragged_typed_and_stepped_back_counts(panel, tmp_path):
    panel._dragged(["shaft", 0.46, 0.36, 1, 0])
    panel._dragged(["nobody", 9.0, 9.0, 2, 0])
    assert panel.wait()
    here = panel.answer.build.drive
    assert (here.shaft_x_m, here.shaft_z_m) == (0.46, 0.36)
    assert here.centre_distance_mm == pytest.approx(1000.0 * abs(complex(0.46, 0.055)), abs=0.05)
    assert panel.item.texts["x"] == "460"
    panel.item.view.typed = {**panel.item.view.texts, "item": "pivot"}
    assert panel.wait()
    assert panel.item.texts["x"] == "580"
    panel.item.view.typed = {**panel.item.view.texts, "z": "400"}
    assert panel.wait()
    assert panel.answer.build.vehicle.pivot_z_m == 0.4
    panel.sizes.view.typed = {**panel.sizes.view.texts, "chain": "428", "motor_teeth": "13"}
    assert panel.wait()
    assert (panel.answer.build.drive.chain, panel.answer.build.drive.motor_teeth) == ("428", 13)
    panel._step_pressed("undo")
    assert panel.wait()
    assert panel.answer.build.drive.chain == "08B"
    panel._step_pressed("redo")
    assert panel.wait()
    again = ChainAndMounting(FIRST_TEXTS, tmp_path)
    assert again.wait()
    assert again.answer.build == panel.answer.build
    assert "Restored from 5_chain_and_mounting.panel.toml" in again.status.text
    again._pressed("afresh")
    assert again.wait()
    assert again.answer.build == HERON
    again.close()


@pytest.mark.parametrize(
    ("row", "typed", "words", "box"),
    [
        ("item", {"x": "far"}, "Forward", None), ("sizes", {"motor_teeth": "11.5"}, "Small sprocket", "motor_teeth"),
        ("sizes", {"chain": "09B"}, "“09B”; expected one of", "chain"), ("sizes", {"wheel_teeth": "500"}, "drive.wheel_teeth", "wheel_teeth"),
        ("sizes", {"motor_teeth": "6"}, "motor_teeth: found 6", None), ("sizes", {"chain": "80", "wheel_teeth": "120"}, "touch", None),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_and_the_last_good_picture_stays(panel, row, typed, words, box):
    before = panel.side.svg
    view = getattr(panel, row).view
    view.typed = {**view.texts, **typed}
    assert panel.wait()
    assert words in panel.status.text
    assert panel.side.svg == before
    if box:
        assert set(view.problems) == {box}


def test_the_donor_s_chain_is_compared_and_its_wear_judged(panel):
    panel._tab_pressed("donor")
    panel.put(donor_chain="428", donor_teeth="38", measured_mm="259.5")
    assert panel.wait()
    assert "2.2 % longer than new; it is replaced at 2.0 %: replace it" in panel.words.html
    assert "428, the donor’s" in panel.words.html
    assert "8 to 38" in panel.words.html
    panel.put(measured_mm="25")
    assert panel.wait()
    assert set(panel.donor.view.problems) == {"measured_mm"}


def test_tables_hold_what_was_asked_for(tmp_path):
    here = found(tmp_path)
    text = fit_html(here, METRIC)
    for count in (108, 110, 112):
        assert f"{12.7 * centre_distance_exact(count, 11, 55):.2f} mm" in text
    rim = day_pull_n(here)
    assert rim == pytest.approx(float(ridesim.simulate(ridesim.exact(HERON), "harbour_festival").frame["pull_n"].max()))
    strong, duty = strength_html(here, METRIC), chain_duty(HERON)
    assert f"{chain_pull_n(HERON, rim, 12.7):.0f} N" in strong
    assert f"{duty.power_w:.0f} W at {duty.rpm:.0f} a minute" in strong
    assert f"{mounting(HERON).swing.spread_mm:.1f} mm" in travel_html(here, METRIC)
    assert "08B, now" in donor_html(here, METRIC)
    assert day_pull_n(found(tmp_path, day="")) is None
    tyred = found(tmp_path, {"vehicle.tyre": "3.00-18", "vehicle.donor_tyre": "2.75-17"})
    assert "reads 6.2 % too low" in wheel_html(tyred, METRIC)
    assert "known by its ratio alone" in wheel_html(here, METRIC)


def test_two_chains_have_a_column_each(tmp_path):
    first = {"kind": "chain", "driver_teeth": 12, "driven_teeth": 36, "chain": "25", "centre_distance_mm": 150.0}
    last = {"kind": "chain", "driver_teeth": 11, "driven_teeth": 55, "chain": "428", "centre_distance_mm": 480.0}
    two = HERON.changed({"drive": {"stage": [first, last]}}, name="two chains")
    ridesim.save_build(two, tmp_path / "two.toml")
    here = found(tmp_path, build="two")
    assert [fit.chain.name for fit in here.fits.values()] == ["25", "428"]
    text, rim = strength_html(here, METRIC), day_pull_n(here)
    assert "25, 12 to 36 teeth" in text
    assert f"{chain_pull_n(two, rim, 6.35, 0):.0f} N" in text
    assert "as the motor, seen from one side" in wheel_html(here, METRIC)
    assert wheel_html(here, METRIC).count("keeps the direction") == 2
    assert f"25, {chain_fit(two, 0).links} links" in " ".join(line.size for line in here.order)
    only_worm = HERON.changed({"drive": {"stage": [{"kind": "worm", "ratio": 20.0}]}}, name="worm")
    ridesim.save_build(only_worm, tmp_path / "worm.toml")
    with pytest.raises(InputProblem, match="no chain with teeth"):
        found(tmp_path, build="worm")


def test_the_order_list_and_the_picture_are_written(panel, tmp_path):
    panel._pressed("csv")
    panel._pressed("svg")
    (file,) = tmp_path.glob("*.csv")
    rows = list(csv.DictReader(file.read_text(encoding="utf-8").splitlines()))
    assert rows[0]["item"] == "chain"
    assert rows[0]["size"] == "08B, 110 links"
    assert {"small sprocket", "large sprocket", "connecting link", "chain guard"} <= {row["item"] for row in rows}
    (drawing,) = tmp_path.glob("*.svg")
    root = ET.fromstring(drawing.read_text(encoding="utf-8"))
    handles = {g.get("data-key"): g for g in root.iter("{http://www.w3.org/2000/svg}g")}
    assert set(handles) == {"shaft", "pivot"}
    # To scale: from the shaft's pin to the pivot's, in metres.
    pins = {key: g[-1] for key, g in handles.items()}
    across, up = (float(pins["pivot"].get(c)) - float(pins["shaft"].get(c)) for c in ("cx", "cy"))
    pixels = float(root.get("data-pixels"))
    assert (across / pixels, -up / pixels) == pytest.approx((0.58 - 0.475, 0.39 - 0.374), abs=1e-3)


def test_a_build_of_ones_own_keeps_the_place_and_the_distance(panel, tmp_path):
    panel._dragged(["shaft", 0.46, 0.36, 1, 0])
    panel.wait()
    panel.files.view.typed = {"file": "mine"}
    panel._pressed("save")
    saved = ridesim.load_build(tmp_path / "mine.toml")
    assert (saved.drive.shaft_x_m, saved.drive.centre_distance_mm) == (0.46, 463.3)
    panel._dragged(["shaft", 0.47, 0.36, 2, 0])
    panel.wait()
    panel._pressed("save")
    assert "would change: drive.centre_distance_mm 463.3 → 473.2" in panel.status.text


def test_imperial_shows_pounds(panel):
    panel._tab_pressed("strength")
    panel.put(units="imperial")
    assert panel.wait()
    assert f"{IMPERIAL.value(chain_fit(HERON).stall_pull_n, 'n'):.0f} lbf" in panel.words.html
    assert not re.search(r"\d N\b", panel.words.html)


def test_what_users_wrote_is_text_not_markup(tmp_path):
    text = (ridesim.data.shipped("data") / "builds" / "heron_36v.toml").read_text(encoding="utf-8")
    (tmp_path / "b.toml").write_text(
        text.replace('name = "Heron, 36 V"', 'name = "<script>x</script>"'), encoding="utf-8"
    )
    panel = ChainAndMounting({**FIRST_TEXTS, "build": "b"}, tmp_path)
    assert panel.wait()
    assert "<script" not in panel._still_html()
    panel.close()
