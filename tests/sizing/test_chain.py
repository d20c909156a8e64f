"""Chains round drawn circles; what fits with an adjuster and what does not; names, teeth and distances that cannot be."""

from __future__ import annotations

from math import acos, cos, isnan, pi, sin

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

import ridesim
from ridesim.choose.findings.sprockets import power_findings
from ridesim.data import shipped
from ridesim.ride.steady.pull import pull_arrays
from ridesim.show.tables.checked import check_text
from ridesim.sizing.chain import (
    centre_distance,
    centre_distance_exact,
    chain_of,
    links,
    pitch_diameter_mm,
    rated_power_w,
)
from ridesim.sizing.chain_fit import chain_fit, stall_pull_n
from ridesim.sizing.chain_life import by_size, chain_duty
from ridesim.sizing.chain_order import order_list
from ridesim.sizing.tyre import diameter_mm, rolling_radius_m, speedometer_error_percent
from ridesim.words import InputProblem

HERON = ridesim.load_build("heron_36v")
teeth = st.integers(9, 90)


@given(n1=teeth, n2=teeth, centre=st.floats(30.0, 50.0))
def test_the_length_formula_and_its_inverse(n1, n2, centre):
    assert links(centre_distance(links(centre, n1, n2), n1, n2), n1, n2) == pytest.approx(
        links(centre, n1, n2), abs=1e-9
    )


@given(n1=st.integers(9, 25), n2=st.integers(25, 70), centre=st.floats(30.0, 50.0))
def test_tangents_and_the_formula_agree_within_a_thousandth(n1, n2, centre):
    count = links(centre, n1, n2)
    assert centre_distance_exact(count, n1, n2) == pytest.approx(centre_distance(count, n1, n2), rel=1e-3)


@given(n1=teeth, n2=teeth, count=st.integers(60, 160))
def test_the_exact_distance_is_that_of_drawn_tangents(n1, n2, count):
    """Two pitch circles drawn apart by it: tangent points found by the angle at which the radii are parallel."""
    assume(count > 0.8 * (n1 + n2))
    try:
        centre = centre_distance_exact(count, n1, n2)
    except InputProblem:
        return
    r1, r2 = 0.5 / sin(pi / n1), 0.5 / sin(pi / n2)
    angle = acos((r1 - r2) / centre)  # of the first circle's tangent point, from the line of centres
    first, second = (r1 * cos(angle), r1 * sin(angle)), (centre + r2 * cos(angle), r2 * sin(angle))
    span = ((second[0] - first[0]) ** 2 + (second[1] - first[1]) ** 2) ** 0.5
    round_first, round_second = 2.0 * (pi - angle), 2.0 * angle
    assert 2.0 * span + n1 * round_first / (2.0 * pi) + n2 * round_second / (2.0 * pi) == pytest.approx(count, abs=1e-6)


def test_a_chain_that_fits_that_is_too_long_by_half_a_link_and_one_without_travel_left():
    fit = chain_fit(HERON)
    assert fit.fits
    assert fit.links % 2 == 0
    assert links(fit.centre_mm / 12.7, 11, 55) == pytest.approx(fit.links, abs=0.05)
    assert fit.sentence.startswith(f"It fits: {fit.links} links of 08B")
    # Half a pitch further off, the next pair of links is just beyond the adjuster.
    short = HERON.changed({"drive.centre_distance_mm": fit.centre_mm + 1.0, "drive.adjuster_travel_mm": 11.0})
    assert chain_fit(short).links == fit.links + 2
    further = 12.7 * (centre_distance(fit.links + 2, 11, 55) - centre_distance(fit.links, 11, 55))
    assert chain_fit(short).move_mm == pytest.approx(further - 1.0, abs=0.05)
    assert chain_fit(short).sentence.startswith("No even number of links fits")
    little = HERON.changed({"drive.centre_distance_mm": fit.centre_mm - 5.0, "drive.adjuster_travel_mm": 6.0})
    assert "1.0 mm of travel are left, less than the" in chain_fit(little).sentence
    assert "5 mm of travel taken of 6, too little left for wear" in chain_fit(little).verdict
    unknown = HERON.changed({"drive.adjuster_travel_mm": None})
    assert chain_fit(unknown).fits is None
    codes = [
        {f.code for f in ridesim.compare(b, "harbour_festival", draws=0).findings[b.name]}
        for b in (HERON, short, little)
    ]
    assert ["chain-does-not-fit" in each for each in codes] == [False, True, False]
    assert ["chain-little-travel" in each for each in codes] == [False, False, True]


def test_the_stalled_motor_s_pull_is_moment_over_radius():
    """From the pull at the rim: the same torque on the sprocket's pitch circle."""
    rim = float(pull_arrays(HERON, points=2)[1][0])
    radius = 0.5 * pitch_diameter_mm(12.7, 55) / 1000.0
    assert stall_pull_n(HERON, 12.7) == pytest.approx(rim * 0.305 / radius)
    assert chain_fit(HERON).safety == pytest.approx(17800.0 / stall_pull_n(HERON, 12.7))
    weak = HERON.changed({"drive.chain": "25", "drive.centre_distance_mm": 300.0})
    found = {f.code: f for f in ridesim.compare(weak, "harbour_festival", draws=0).findings[weak.name]}
    assert found["chain-weak"].numbers["strength_n"] == 3470.0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: links(40.0, 6, 40), "motor_teeth: found 6"),
        (lambda: links(3.0, 20, 40), "centre_pitches: found 3"),
        (lambda: centre_distance(20, 20, 40), "enough to go round 20 and 40 teeth"),
        (lambda: centre_distance_exact(20, 20, 40), "enough to go round"),
        (lambda: chain_of("09B"), "“09B”; expected one of 25, 35"),
        (lambda: rated_power_w("520", 15, 1000), "a chain with a rating"),
        (lambda: rated_power_w("40", 15, 0), "rpm"),
        (lambda: chain_fit(HERON.changed({"drive.chain": None})), r"drive\.chain"),
        (
            lambda: chain_fit(HERON.changed({"drive.centre_distance_mm": 100.0})),
            "or the sprockets of 11 and 55 teeth touch",
        ),
        (lambda: diameter_mm("16 inch"), "a size such as 120/80-16"),
    ],
)
def test_what_cannot_be_is_named(call, words):
    with pytest.raises(InputProblem, match=words):
        call()


def test_names_with_a_letter_and_tyres():
    assert rated_power_w("08B", 15, 1000) == rated_power_w("428", 15, 1000) == rated_power_w("40", 15, 1000)
    assert chain_of("428h") == chain_of("428")
    radius = rolling_radius_m("120/80-16")
    assert radius.low < radius.value < radius.high < diameter_mm("120/80-16") / 2000.0
    assert speedometer_error_percent("3.00-18", "2.75-17") == pytest.approx(100.0 * (609.6 / 571.5 - 1.0))


def test_a_chain_that_is_not_known_is_said_in_the_comparison():
    odd = HERON.changed({"drive.chain": "bicycle"})
    found = {f.code: f for f in ridesim.compare(odd, "harbour_festival", draws=0).findings[odd.name]}
    assert "“bicycle”" in found["chain-not-judged"].text


def test_a_chain_in_use_by_hand():
    """Top speed over the wheel's circumference, times teeth and pitch; the power is pull times speed at its most."""
    duty = chain_duty(HERON, day_at_rim_n=200.0)
    speeds, pulls, _ = pull_arrays(HERON)
    wheel = speeds[-1] / 3.6 / (2.0 * pi * 0.305)
    assert duty.speed_mps == pytest.approx(wheel * 55 * 0.0127)
    assert duty.power_w == pytest.approx(float((speeds / 3.6 * pulls).max()))
    most = speeds[int((speeds * pulls).argmax())] / 3.6 / (2.0 * pi * 0.305)
    assert duty.rpm == pytest.approx(60.0 * most * 5.0)
    assert duty.rated_w == rated_power_w("08B", 11, duty.rpm)
    assert duty.power_share == pytest.approx(1.3 * duty.power_w / duty.rated_w)
    assert duty.day_pull_n == pytest.approx(200.0 * 0.305 / (0.0005 * pitch_diameter_mm(12.7, 55)))
    assert "no power rating" in chain_duty(HERON.changed({"drive.chain": "525"})).sentence
    weak = HERON.changed({"drive.chain": "25", "drive.centre_distance_mm": 300.0})
    assert [f.code for f in power_findings([duty])] == []
    assert [f.code for f in power_findings([chain_duty(weak)])] == ["chain-power"]


def test_every_chain_is_judged_with_its_own_pull_and_speed():
    """Three to one between the chains: a third of the pull at the same pitch radius, less what the second one loses."""
    first = {"kind": "chain", "driver_teeth": 11, "driven_teeth": 33, "chain": "428", "centre_distance_mm": 300.0}
    last = {**first, "driven_teeth": 55, "centre_distance_mm": 480.0}
    two = HERON.changed({"drive": {"stage": [first, last]}})
    radii = [0.0005 * pitch_diameter_mm(12.7, teeth) for teeth in (33, 55)]
    assert stall_pull_n(two, 12.7, 0) == pytest.approx(stall_pull_n(two, 12.7) * radii[1] / (radii[0] * 5.0 * 0.95))
    assert chain_duty(two, 0).rpm == pytest.approx(3.0 * chain_duty(two).rpm)
    weak = HERON.changed({"drive": {"stage": [{**first, "chain": "25", "centre_distance_mm": 150.0}, last]}})
    (found,) = [
        f for f in ridesim.compare(weak, "harbour_festival", draws=0).findings[weak.name] if f.code == "chain-weak"
    ]
    assert found.text.startswith("The chain of drive.stage[1]: Stalled")


def test_other_sizes_and_the_donor_s_sprocket():
    rows = by_size(HERON, "428", 38)
    assert (rows[0].chain.name, rows[0].motor_teeth, rows[0].wheel_teeth) == ("428", 8, 38)
    by_name = {row.chain.name: row for row in rows[1:]}
    assert by_name["530"].safety == pytest.approx(21700.0 / stall_pull_n(HERON, 15.875))
    assert by_name["08B"].mass_kg == pytest.approx(110 * 0.0127 * 0.70)
    assert not by_name["25"].holds
    with pytest.raises(InputProblem, match="“bicycle”"):
        by_size(HERON, "bicycle", 38)
    # At 300 mm the sprockets of the large pitches would touch.
    assert "80" not in {row.chain.name for row in by_size(HERON.changed({"drive.centre_distance_mm": 250.0}))}


def test_half_a_link_too_long_is_said_and_what_to_do():
    fit = chain_fit(HERON)
    half = HERON.changed({"drive.centre_distance_mm": fit.centre_mm + 1.0, "drive.adjuster_travel_mm": 8.0})
    said = chain_fit(half).sentence
    assert "too long by half a link: 111 would fit" in said
    assert "An idler" not in said
    assert "Better an idler" in said
    assert "offset link" in [line.item for line in order_list(half)]
    assert "idler sprocket" in [line.item for line in order_list(half)]


def test_what_is_stated_and_what_is_asked_for_decides_which_chain():
    with pytest.raises(InputProblem, match="1 chain with teeth"):
        chain_fit(HERON, 3)
    assert order_list("puppet_cart") == ()
    against = HERON.changed(
        {
            "drive": {
                "stage": [{"kind": "spur", "ratio": 3.0}, {"kind": "chain", "driver_teeth": 11, "driven_teeth": 55}]
            }
        }
    )
    codes = {f.code for f in ridesim.compare(against, "harbour_festival", draws=0).findings[against.name]}
    assert "turns-against" in codes
    back = HERON.changed({"controller.reverse_duty": 0.4, "drive.freewheel": True})
    comparison = ridesim.compare(back, "harbour_festival", draws=0)
    assert "freewheel-no-reverse" in {f.code for f in comparison.findings[back.name]}
    assert isnan(comparison.candidates[0].top_speed_in_reverse_kmh)


def test_check_names_a_chain_that_there_is_not(tmp_path):
    text = (shipped("data") / "builds" / "heron_36v.toml").read_text(encoding="utf-8")
    (tmp_path / "mine.toml").write_text(text.replace('chain = "08B"', 'chain = "09B"'), encoding="utf-8")
    with pytest.raises(InputProblem, match=r"drive\.chain: found “09B”; expected one of 25, .* Nearest: "):
        check_text(str(tmp_path / "mine.toml"))
